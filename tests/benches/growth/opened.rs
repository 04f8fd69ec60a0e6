//! Charts opened raw and from their index, and the marks of a whole coast found, beside a bare read
//! of the same bytes.

use std::cell::RefCell;
use std::env;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use foreland::chart::{Chart, Doing, GeoBox, Opening, Progress};
use foreland::geodesy::Position;
use foreland::units::GroundRange;

use crate::islands::Islands;
use crate::took::{Took, bytes_read, fastest, load, most_memory, processor, seconds};
use crate::{Growth, python};

/// Up to so many vertices the libraries of Python are asked to read the same.
const READ_BY_PYTHON: usize = 1_000_000;

/// Off the west of Ireland, in the Norwegian fjords, on the date line and in mid-ocean.
const PLACES: [(&str, f64, f64); 4] = [
    ("Ireland", 53.0, -10.5),
    ("Norway", 62.0, 4.5),
    ("Fiji", -17.0, 180.0),
    ("Pacific", 0.0, -140.0),
];

/// Opened about a place, raw and prepared, and all marks found.
pub fn opened(most: usize) -> [Growth; 3] {
    println!("open a chart of islands about a place; find all its marks once");
    let mut raw = Growth::new("open raw", "vertices");
    let mut prepared = Growth::new("open prepared", "vertices");
    let mut heads = Growth::new("find headlands", "vertices");
    for vertices in [10_000, 100_000, 1_000_000, 10_000_000].into_iter().filter(|n| *n <= most) {
        let made = Islands::of(vertices);
        let n = vertices as f64;
        println!("  {vertices} vertices");
        raw.points.push((n, opened_raw(&made.chart, Islands::about(), n).clock));
        if vertices <= READ_BY_PYTHON {
            read_by_python(&made.chart[0].join("coast.shp"));
        }
        heads.points.push((n, all_found(&made.chart, &made.index, n)));
        prepared
            .points
            .push((n, opened_prepared(&made.chart, &made.index, Islands::about()).clock));
    }
    [raw, prepared, heads]
}

/// The coastline of the world in `FORELAND_WORLD`.
pub fn world() {
    let Some(folder) = env::var_os("FORELAND_WORLD").map(PathBuf::from) else {
        return println!("no chart of the world in FORELAND_WORLD: not measured");
    };
    let (chart, kept) = (vec![folder], tempfile::tempdir().unwrap());
    let index = kept.path().join("world.index");
    let points = Opening::new(&chart).around(about(&PLACES[3])).open().unwrap();
    let points = points.coast().point_count() as f64;
    println!("the world, {points:.0} vertices");
    all_found(&chart, &index, points);
    for place in &PLACES {
        println!("  about {}", place.0);
        opened_raw(&chart, about(place), points);
        opened_prepared(&chart, &index, about(place));
    }
}

fn about((_, lat, lon): &(&str, f64, f64)) -> GeoBox {
    let radius = GroundRange::from_nautical_miles(180.0).unwrap();
    GeoBox::around(Position::wrapped(*lat, *lon), radius)
}

fn open(chart: &[PathBuf], index: Option<&PathBuf>, area: GeoBox) -> Chart {
    let opening = Opening::new(chart).around(area).whole_up_to(0);
    index.map_or(opening, |index| opening.indexed(std::slice::from_ref(index))).open().unwrap()
}

fn opened_raw(chart: &[PathBuf], area: GeoBox, points: f64) -> Took {
    let runs = ((3e6 / points) as usize).clamp(3, 20);
    let taken = fastest(runs, || open(chart, None, area));
    let shapes = shapes_in(&chart[0]);
    let bare =
        fastest(runs, || shapes.iter().map(|shp| fs::read(shp).unwrap().len()).sum::<usize>());
    println!(
        "    raw {taken}, {:.0} ns each, {}; a bare read of its bytes {}: {:.1} times; {}",
        taken.clock / points * 1e9,
        memory(chart, None, area),
        seconds(bare.clock),
        taken.clock / bare.clock,
        load()
    );
    taken
}

fn shapes_in(folder: &Path) -> Vec<PathBuf> {
    let files = fs::read_dir(folder).unwrap().flatten().map(|entry| entry.path());
    files.filter(|path| path.extension().is_some_and(|end| end == "shp")).collect()
}

fn opened_prepared(chart: &[PathBuf], index: &PathBuf, area: GeoBox) -> Took {
    let before = bytes_read();
    drop(open(chart, Some(index), area));
    let read = bytes_read().zip(before).map_or(0, |(after, before)| after - before);
    let taken = fastest(20, || open(chart, Some(index), area));
    let bare = fastest(20, || {
        let mut bytes = Vec::with_capacity(read);
        fs::File::open(index).unwrap().take(read as u64).read_to_end(&mut bytes).unwrap()
    });
    println!(
        "    prepared {taken}, {}; a bare read of as many bytes ({:.2} MB) {}: {:.1} times; {}",
        memory(chart, Some(index), area),
        read as f64 / 1e6,
        seconds(bare.clock),
        taken.clock / bare.clock,
        load()
    );
    taken
}

/// Prepares an index, and tells stage by stage what that took; returns how long the marks were sought.
fn all_found(chart: &[PathBuf], index: &Path, points: f64) -> f64 {
    let stages: RefCell<Vec<(&str, Instant, f64)>> = RefCell::default();
    let note =
        |stage| stages.borrow_mut().push((stage, Instant::now(), processor().unwrap_or(0.0)));
    let tell = |progress: Progress<'_>| {
        let stage = match progress.doing {
            Doing::Reading(_) => "reading",
            Doing::Indexing => "indexing",
            Doing::SeekingMarks => "seeking marks",
            Doing::Writing => "writing",
        };
        if stages.borrow().last().is_none_or(|last| last.0 != stage) {
            note(stage);
        }
    };
    let written = Opening::new(chart).telling(&tell).prepare(index).unwrap();
    note("done");
    let stages = stages.into_inner();
    let mut sought = 0.0;
    for pair in stages.windows(2) {
        let [(stage, start, used), (_, end, used_then)] = [pair[0], pair[1]];
        let taken = end.duration_since(start).as_secs_f64();
        let used = used_then - used;
        print!("    prepare, {stage}: {} (processor {})", seconds(taken), seconds(used));
        if stage == "seeking marks" {
            sought = taken;
            let by = points * points.log2();
            print!(
                ", {} marks, {:.0} ns each vertex, {:.1} ns by n log2 n (processor {:.1})",
                written.marks,
                taken / points * 1e9,
                taken / by * 1e9,
                used / by * 1e9
            );
        }
        println!("; {}", load());
    }
    sought
}

/// The same file by pyshp, its segments into shapely's tree.
fn read_by_python(shp: &Path) {
    let Some(told) = python::told("tree-queries/time.py", &["read".as_ref(), shp.as_os_str()])
    else {
        return;
    };
    let of = |what: &str| seconds(told[what].as_f64().unwrap());
    println!(
        "    pyshp reads it in {}, shapely's STRtree of its segments takes {} to make",
        of("read"),
        of("tree")
    );
}

/// What a process needs at most that opens it once and does nothing else.
fn memory(chart: &[PathBuf], index: Option<&PathBuf>, area: GeoBox) -> String {
    let middle = [area.south, area.west, area.north, area.east].map(|side| side.to_string());
    let mut child = Command::new(env::current_exe().unwrap());
    child.arg("--once").arg(&chart[0]).arg("--about").arg(middle.join(","));
    if let Some(index) = index {
        child.arg("--index").arg(index);
    }
    let told = child.output().ok().and_then(|done| String::from_utf8(done.stdout).ok());
    match told.and_then(|told| told.trim().parse::<f64>().ok()) {
        Some(bytes) => format!("{:.0} MB at the most", bytes / 1e6),
        None => "memory not known".to_owned(),
    }
}

/// Opens a chart once and says how much memory that took.
pub fn once(chart: PathBuf, index: Option<&PathBuf>, about: &str) {
    let sides: Vec<f64> = about.split(',').map(|side| side.parse().unwrap()).collect();
    let area = GeoBox::new(sides[0], sides[1], sides[2], sides[3]);
    let opened = open(&[chart], index, area);
    assert!(opened.coast().point_count() > 0);
    println!("{}", most_memory().unwrap_or(f64::NAN));
}
