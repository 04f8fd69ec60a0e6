//! How the work grows with what it is given, and against what others take for the same: `cargo bench
//! --bench growth`, with `-- --plot FILE` the same as a picture.
//!
//! Each figure is the fastest of some runs: what else the machine does only adds.

#![allow(clippy::unwrap_used, clippy::panic)] // a bench that cannot start has nothing to measure

#[path = "../great_coast/mod.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod great_coast;
#[path = "../strewn/mod.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod strewn;
#[path = "../towers/mod.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod towers;

use std::fs::{File, OpenOptions};
use std::hint::black_box;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use clap::Parser;
use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::fix::{Options, fix};
use foreland::geodesy::Position;
use foreland::watch::Keeper;
use foreland::watch::log::What;
use jiff::Timestamp;
use svg::Document;
use svg::node::element::{Circle, Line, Polyline, Text};

/// How the work grows.
#[derive(Parser)]
struct Args {
    /// Draws what was measured
    #[arg(long, value_name = "FILE")]
    plot: Option<PathBuf>,
    /// The most vertices of one coast
    #[arg(long, value_name = "N", default_value_t = 10_000_000)]
    most: usize,
    /// Given by cargo
    #[arg(long, hide = true)]
    bench: bool,
}

/// One kind of work: how much of it, and how many seconds that takes.
struct Growth {
    name: &'static str,
    unit: &'static str,
    points: Vec<(f64, f64)>,
}

fn main() {
    let args = Args::parse();
    let measured = vec![opened(args.most), identified(), appended()];
    against_scipy();
    for growth in &measured {
        println!("\n{} ({})", growth.name, growth.unit);
        for pair in growth.points.windows(2) {
            let [(few, short), (many, long)] = [pair[0], pair[1]];
            let power = (long / short).log10() / (many / few).log10();
            println!("  from {few:.0} to {many:.0}: as the number to the power {power:.2}");
        }
    }
    if let Some(path) = args.plot {
        svg::save(&path, &plot(&measured)).unwrap();
        println!("drawn in {}", path.display());
    }
}

/// The fastest of some runs, in seconds.
fn fastest<T>(runs: usize, mut work: impl FnMut() -> T) -> f64 {
    let time = |_| {
        let start = Instant::now();
        black_box(work());
        start.elapsed().as_secs_f64()
    };
    (0..runs).map(time).fold(f64::INFINITY, f64::min)
}

/// A chart of one island read from memory: its index made, its headlands found.
fn opened(most: usize) -> Growth {
    println!("open a coast: read, index, headlands");
    let mut points = Vec::new();
    for vertices in [10_000, 100_000, 1_000_000, 10_000_000] {
        if vertices > most {
            break;
        }
        let shp = great_coast::shp(vertices);
        let runs = (3_000_000 / vertices).clamp(1, 10);
        let taken = fastest(runs, || Chart::from_files("great", &[("coast.shp", &shp)]).unwrap());
        println!(
            "  {vertices:>9} vertices {taken:9.3} s, {:.0} ns each",
            taken / vertices as f64 * 1e9
        );
        points.push((vertices as f64, taken));
    }
    Growth { name: "open a coast", unit: "vertices", points }
}

/// Eight unnamed contacts among so many marks, the reckoning known to 20 NM. Of ten marks all but a few
/// lie out of reach: four contacts.
fn identified() -> Growth {
    const SEED: u64 = 20_310_318;
    println!("fix, unnamed contacts, reckoning 20 NM");
    let mut points = Vec::new();
    for marks in [10, 100, 1_000, 10_000, 100_000] {
        let folder = tempfile::tempdir().unwrap();
        // The ten nearest of a hundred: ten over all of the area are a desert.
        let mut places = strewn::places(marks.max(100), SEED);
        let off = |place: &Position| foreland::geodesy::distance(towers::centre(), *place).metres();
        places.sort_by(|a, b| off(a).total_cmp(&off(b)));
        places.truncate(marks);
        let chart = towers::chart_of(folder.path(), &places);
        let contacts = if marks < 1_000 { 4 } else { 8 };
        let (sightings, _) = strewn::landfall(&places, contacts, 20.0, SEED);
        let taken = fastest(10, || fix(&chart, &sightings, &Options::default()));
        println!("  {marks:>7} marks, {contacts} contacts {:9.2} ms", taken * 1e3);
        points.push((marks as f64, taken));
    }
    Growth { name: "fix, unnamed contacts", unit: "marks", points }
}

/// Entries kept one by one, each on the disk before the next; beside it the same bytes written and
/// flushed to the disk with nothing else done: what the disk allows.
fn appended() -> Growth {
    println!("keep entries in the log, each on the disk");
    let mut points = Vec::new();
    for entries in [10_usize, 100, 1_000] {
        let folder = tempfile::tempdir().unwrap();
        let time: Timestamp = "2031-03-09T03:40:00Z".parse().unwrap();
        let mut number = 0;
        let taken = fastest(3, || {
            number += 1;
            let path = folder.path().join(format!("{number}.log"));
            let mut keeper = Keeper::later(path, Vec::new());
            for entry in 0..entries {
                let text = format!("entry {entry}");
                let typed = Some(format!("# {text}"));
                keeper.keep(time, What::Note { text }, typed).unwrap();
            }
        });
        let line = vec![b'x'; bytes(&folder.path().join("1.log")) / entries];
        let bare = fastest(3, || bare(&folder.path().join("bare"), &line, entries));
        println!(
            "  {entries:>5} entries {:9.1} ms, {:.0} µs each; bare writes {:.0} µs each, ratio {:.2}",
            taken * 1e3,
            taken / entries as f64 * 1e6,
            bare / entries as f64 * 1e6,
            taken / bare
        );
        points.push((entries as f64, taken));
    }
    Growth { name: "keep entries in the log", unit: "entries", points }
}

fn bytes(path: &Path) -> usize {
    usize::try_from(std::fs::metadata(path).unwrap().len()).unwrap()
}

fn bare(path: &Path, line: &[u8], times: usize) {
    drop(File::create(path).unwrap());
    let mut file = OpenOptions::new().append(true).open(path).unwrap();
    for _ in 0..times {
        file.write_all(line).unwrap();
        file.sync_data().unwrap();
    }
}

/// The fifty named fixes of `tests/reference/scipy-fixes`, against one call of `SciPy`'s least squares.
fn against_scipy() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/scipy-fixes");
    let told = Command::new("python3")
        .arg(folder.join("make.py"))
        .args(["--time"])
        .arg(folder.join("cases.json"))
        .output();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
    let chart = Chart::sample().unwrap();
    let all = Sightings::read(&sample.join("landfall.toml")).unwrap();
    let four = all.with_contacts(all.contacts.iter().take(4).cloned().collect());
    let taken = fastest(40, || fix(&chart, &four, &Options::default())) * 1e3;
    println!("\na whole fix of four unnamed contacts {taken:.2} ms");
    match told.ok().filter(|done| done.status.success()) {
        Some(done) => {
            let text = String::from_utf8_lossy(&done.stdout).trim().to_owned();
            let scipy: f64 = text.parse().unwrap();
            println!(
                "one least squares of SciPy, names given, {scipy:.2} ms: {:.1} times as long",
                scipy / taken
            );
        }
        None => println!("SciPy is not here: not compared"),
    }
}

const SIZE: (f64, f64) = (640.0, 420.0);
const EDGE: f64 = 60.0;

/// Seconds over number, both by powers of ten.
fn plot(measured: &[Growth]) -> Document {
    let all = || measured.iter().flat_map(|growth| &growth.points);
    let span = |value: fn(&(f64, f64)) -> f64| {
        let (low, high) =
            all().map(value).fold((f64::INFINITY, 0.0_f64), |(l, h), v| (l.min(v), h.max(v)));
        (low.log10().floor(), high.log10().ceil())
    };
    let (across, up) = (span(|point| point.0), span(|point| point.1));
    let place = |(number, seconds): (f64, f64)| {
        let x = EDGE + (number.log10() - across.0) / (across.1 - across.0) * (SIZE.0 - 2.0 * EDGE);
        let y = SIZE.1 - EDGE - (seconds.log10() - up.0) / (up.1 - up.0) * (SIZE.1 - 2.0 * EDGE);
        (x, y)
    };
    let text = |x: f64, y: f64, words: String| {
        Text::new(words)
            .set("x", x)
            .set("y", y)
            .set("font-size", 12)
            .set("font-family", "sans-serif")
    };
    let mut document =
        Document::new().set("viewBox", (0.0, 0.0, SIZE.0, SIZE.1)).set("role", "img");
    let whole = |(from, to): (f64, f64)| (from as i32..=to as i32).map(f64::from);
    for power in whole(across) {
        let (x, y) = place((10f64.powf(power), 10f64.powf(up.0)));
        document = document.add(text(x - 8.0, y + 18.0, format!("1e{power}")));
        document = document.add(line((x, EDGE), (x, SIZE.1 - EDGE)));
    }
    for power in whole(up) {
        let (x, y) = place((10f64.powf(across.0), 10f64.powf(power)));
        document = document.add(text(x - 46.0, y + 4.0, format!("1e{power} s")));
        document = document.add(line((EDGE, y), (SIZE.0 - EDGE, y)));
    }
    // Okabe and Ito, as on the display.
    for (growth, colour) in measured.iter().zip(["#0072b2", "#d55e00", "#009e73"]) {
        let places: Vec<(f64, f64)> = growth.points.iter().map(|point| place(*point)).collect();
        let path: Vec<String> = places.iter().map(|(x, y)| format!("{x:.1},{y:.1}")).collect();
        document = document.add(
            Polyline::new().set("points", path.join(" ")).set("fill", "none").set("stroke", colour),
        );
        for (x, y) in &places {
            document = document
                .add(Circle::new().set("cx", *x).set("cy", *y).set("r", 3).set("fill", colour));
        }
        let (x, y) = *places.last().unwrap();
        let words = format!("{} ({})", growth.name, growth.unit);
        let left = (x - 7.0 * words.len() as f64).max(EDGE);
        document = document.add(text(left, y - 8.0, words).set("fill", colour));
    }
    document
}

fn line(from: (f64, f64), to: (f64, f64)) -> Line {
    Line::new()
        .set("x1", from.0)
        .set("y1", from.1)
        .set("x2", to.0)
        .set("y2", to.1)
        .set("stroke", "#cccccc")
        .set("stroke-width", 0.5)
}
