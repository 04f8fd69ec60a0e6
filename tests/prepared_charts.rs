//! Prepared charts: what an index gives is what the chart gives raw, to the byte, and an index that is
//! not what it should be is never believed.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod rough_coast;

use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};
use std::process::Command;

use foreland::chart::{Chart, GeoBox, Opening, Run};
use foreland::command::report::{Asked, expect_json, expect_text, fix_json, fix_text};
use foreland::contact::Sightings;
use foreland::fix;
use foreland::geodesy::{LocalPlane, Position};
use foreland::paint::{Conditions, Vantage, expect};
use foreland::radar::Set;
use foreland::units::{GroundRange, Height};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rough_coast::coast;
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

/// Printed, so that a failure can be run again.
const SEED: u64 = 20_260_311;

fn miles(miles: f64) -> GroundRange {
    GroundRange::from_nautical_miles(miles).unwrap()
}

fn place(lat: f64, lon: f64) -> Position {
    Position::new(lat, lon).unwrap()
}

/// Natural Earth coast (public domain): see `SOURCE.md` beside it.
fn natural_earth(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/natural-earth-coasts").join(name)
}

/// A folder with one coast, and where its index is to be.
struct Prepared {
    _folder: tempfile::TempDir,
    chart: Vec<PathBuf>,
    index: Vec<PathBuf>,
}

impl Prepared {
    fn of(coast: &[u8]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let chart = folder.path().join("chart");
        fs::create_dir(&chart).unwrap();
        fs::write(chart.join("coast.shp"), coast).unwrap();
        let index = folder.path().join("chart.index");
        Opening::new(std::slice::from_ref(&chart)).prepare(&index).unwrap();
        Self { _folder: folder, chart: vec![chart], index: vec![index] }
    }

    fn raw(&self) -> Chart {
        Chart::open(&self.chart).unwrap()
    }

    fn whole(&self) -> Chart {
        let chart = Opening::new(&self.chart).indexed(&self.index).open().unwrap();
        assert_eq!(untrusted(&chart), None);
        chart
    }

    /// A part alone, however small the chart.
    fn part(&self, area: GeoBox) -> Chart {
        let opening = Opening::new(&self.chart).indexed(&self.index);
        let chart = opening.around(area).whole_up_to(0).open().unwrap();
        assert_eq!(untrusted(&chart), None);
        chart
    }
}

/// The caution that the index was not used, if there is one.
fn untrusted(chart: &Chart) -> Option<&String> {
    chart.cautions().iter().find(|caution| caution.contains("index"))
}

/// A run, to be compared from chart to chart: the numbers of lines are each chart's own.
fn told(run: &Run<'_>) -> String {
    format!("{:?} {:?}", run.points().collect::<Vec<_>>(), run.land_side)
}

fn runs(chart: &Chart, area: &GeoBox) -> Vec<String> {
    let mut runs: Vec<String> = chart.coast().runs_in(area).map(|run| told(&run)).collect();
    runs.sort();
    runs
}

/// Whatever is asked in an area, both charts answer alike.
fn alike(raw: &Chart, other: &Chart, area: &GeoBox, rng: &mut ChaCha8Rng, asked: usize) {
    assert_eq!(raw.coast().extent(), other.coast().extent());
    assert_eq!(raw.coast().line_count(), other.coast().line_count());
    assert_eq!(runs(raw, area), runs(other, area));
    let marks = |chart: &Chart| -> Vec<_> {
        let here = chart.marks().iter().filter(|(_, mark)| area.contains(mark.position));
        here.map(|(_, mark)| mark.clone()).collect()
    };
    assert_eq!(marks(raw), marks(other));
    for i in 0..asked {
        let at = Position::wrapped(
            area.south + rng.random::<f64>() * (area.north - area.south),
            area.west + rng.random::<f64>() * (area.east - area.west),
        );
        assert_eq!(raw.coast().is_land(at), other.coast().is_land(at), "{at}");
        assert_eq!(raw.ground().is_land(at), other.ground().is_land(at), "{at}");
        // What the ground keeps of each tile without heights takes some megabytes.
        if i % 10 == 0 {
            assert_eq!(raw.ground().at(at), other.ground().at(at), "{at}");
        }
        let near = miles(2.0);
        assert_eq!(raw.coast().nearest(at, near), other.coast().nearest(at, near), "{at}");
        let plane = LocalPlane::new(at);
        let flat = |chart: &Chart| -> Vec<_> {
            let stretches = chart.coast().stretches(&plane, near);
            stretches.into_iter().map(|stretch| (stretch.points, stretch.land_side)).collect()
        };
        assert_eq!(flat(raw), flat(other), "{at}");
    }
}

#[test]
fn a_prepared_real_coast_answers_as_it_does_raw() {
    println!("seed {SEED}");
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    for name in ["aegean.shp"] {
        let prepared = Prepared::of(&fs::read(natural_earth(name)).unwrap());
        let (raw, whole) = (prepared.raw(), prepared.whole());
        let extent = raw.coast().extent().unwrap();
        assert!(raw.marks().iter().eq(whole.marks().iter()));
        assert_eq!((raw.name(), raw.accuracy()), (whole.name(), whole.accuracy()));
        assert_eq!((raw.survey(), raw.cautions()), (whole.survey(), whole.cautions()));
        assert_eq!(whole.coast().taken_in(), None);
        alike(&raw, &whole, &extent, &mut rng, 300);
        for _ in 0..6 {
            let at = Position::wrapped(
                extent.south + rng.random::<f64>() * (extent.north - extent.south),
                extent.west + rng.random::<f64>() * (extent.east - extent.west),
            );
            let area = GeoBox::around(at, miles(45.0));
            let part = prepared.part(area);
            alike(&raw, &part, &area, &mut rng, 100);
        }
    }
}

#[test]
fn parts_of_odd_coasts_know_land_from_sea() {
    println!("seed {SEED}");
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    // Over the date line, one in the other's shadow to the north, and about both poles.
    let middles = [
        (40.0, 179.0, 12.0),
        (62.0, 178.0, 9.0),
        (63.0, -179.5, 4.0),
        (20.0, 181.0, 3.0),
        (10.0, -30.0, 25.0),
        (48.0, -20.0, 25.0),
    ];
    let prepared = Prepared::of(&coast(&mut rng, &middles, 3_000));
    let raw = prepared.raw();
    for (lat, lon) in [
        (40.0, 180.0),
        (35.0, -179.0),
        (46.0, 175.0),
        (20.0, 179.0),
        (62.0, -180.0),
        (10.0, -30.0),
        (0.0, -12.0),
        (30.0, -30.0),
        (75.0, -20.0),
        (-60.0, 20.0),
        (89.5, 0.0),
        (-89.5, 0.0),
        (45.0, 170.0),
        (48.0, -42.0),
    ] {
        let area = GeoBox::around(place(lat, lon), miles(100.0));
        alike(&raw, &prepared.part(area), &area, &mut rng, 60);
    }
}

#[test]
fn a_cap_round_a_pole_is_land_in_its_parts() {
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let mut shp = Cursor::new(Vec::new());
    let mut writer = ShapeWriter::new(&mut shp);
    let ring: Vec<Point> = (0..=3_600)
        .map(|i| {
            let lon = -180.0 + 0.1 * f64::from(i);
            Point::new(lon, -70.0 + 3.0 * (0.2 * f64::from(i % 3_600)).sin())
        })
        .collect();
    writer.write_shape(&Polygon::new(PolygonRing::Outer(ring))).unwrap();
    writer.finalize().unwrap();
    drop(writer);
    let prepared = Prepared::of(&shp.into_inner());
    let raw = prepared.raw();
    for (lat, lon) in [(-70.0, 180.0), (-70.0, 33.0), (-80.0, 100.0), (-89.9, 0.0), (-60.0, 0.0)] {
        let area = GeoBox::around(place(lat, lon), miles(80.0));
        alike(&raw, &prepared.part(area), &area, &mut rng, 80);
    }
}

/// Contacts of these ranges in NM and bearings in degrees.
fn sightings(position: &str, contacts: &[(f64, f64)]) -> String {
    let start = format!(
        "[reckoning]\ntime = \"2031-03-09T03:40:00Z\"\nposition = \"{position}\"\nsigma_nm = 2.0\n\
         [own]\nheight_ft = 2000\n[radar]\nset = \"patrol\"\n"
    );
    let contact = |(label, (range_nm, bearing_deg)): (char, &(f64, f64))| {
        format!(
            "[[contact]]\nlabel = \"{label}\"\ntime = \"2031-03-09T03:40:00Z\"\n\
             range_nm = {range_nm:.1}\nbearing_deg = {bearing_deg:.1}\npart = \"near\"\n"
        )
    };
    start + &('A'..).zip(contacts).map(contact).collect::<String>()
}

fn foreland(folder: &Path, arguments: &[&str]) -> (String, String, Option<i32>) {
    let done = Command::new(env!("CARGO_BIN_EXE_foreland"))
        .args(arguments)
        .current_dir(folder)
        .env("XDG_CACHE_HOME", folder.join("cache"))
        .output()
        .unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (text(&done.stdout), text(&done.stderr), done.status.code())
}

#[test]
fn reports_on_a_prepared_coast_are_those_on_it_raw() {
    let folder = tempfile::tempdir().unwrap();
    let chart = folder.path().join("aegean");
    fs::create_dir(&chart).unwrap();
    fs::copy(natural_earth("aegean.shp"), chart.join("coast.shp")).unwrap();
    let extent = Chart::open(&[chart]).unwrap().coast().extent().unwrap();
    let at = extent.centre();
    let position = format!("{:.4},{:.4}", at.latitude(), at.longitude());
    let sightings = sightings(&position, &[(22.0, 40.0), (31.0, 160.0), (26.0, 290.0)]);
    fs::write(folder.path().join("sightings.toml"), sightings).unwrap();
    let expect = ["expect", "--chart", "aegean", "--at", &position, "--height-ft", "2000", "--set"];
    let expect: Vec<&str> = expect.into_iter().chain(["patrol", "--step-deg", "2"]).collect();
    let json: Vec<&str> = expect.iter().copied().chain(["--format", "json"]).collect();
    let fix = ["fix", "--chart", "aegean", "sightings.toml"];
    let asked = [expect.as_slice(), json.as_slice(), fix.as_slice()];
    let raw = asked.map(|arguments| foreland(folder.path(), arguments));
    assert!(raw.iter().all(|(out, ..)| out.len() > 500), "{raw:?}");
    let (said, _, status) = foreland(folder.path(), &["chart", "prepare", "aegean"]);
    assert_eq!(status, Some(0));
    let index = folder.path().join("cache/foreland");
    assert!(said.contains(&index.display().to_string()) && index.is_dir(), "{said}");
    for (arguments, raw) in asked.iter().zip(&raw) {
        assert_eq!(&foreland(folder.path(), arguments), raw, "{arguments:?}");
    }
    // An index beside the folder is found first, and a stale one is said and not used.
    let (said, _, _) = foreland(folder.path(), &["chart", "prepare", "aegean", "--beside"]);
    assert!(said.contains("aegean.foreland-index"), "{said}");
    fs::write(folder.path().join("aegean/chart.toml"), "name = \"Aegean\"\n").unwrap();
    let (out, _, _) = foreland(folder.path(), &expect);
    assert_eq!(out.matches("is out of date (chart.toml is new)").count(), 2, "{out}");
}

/// The same contacts and the same place on a part of a coast, and on the whole of it raw.
#[test]
fn reports_on_a_part_are_those_on_the_whole() {
    let prepared = Prepared::of(&fs::read(natural_earth("aegean.shp")).unwrap());
    let raw = prepared.raw();
    let set = Set::builtin("patrol").unwrap();
    let (conditions, reach) = (Conditions::default(), miles(40.0));
    for (lat, lon) in [(37.2, 25.9), (39.4, 24.6), (36.2, 27.1)] {
        let at = place(lat, lon);
        let part = prepared.part(GeoBox::around(at, miles(150.0)));
        assert!(part.coast().taken_in().is_some());
        let position = format!("{lat:.4},{lon:.4}");
        let text = sightings(&position, &[(22.0, 40.0), (31.0, 160.0), (26.0, 290.0)]);
        let sightings = Sightings::parse(&text, "test", Path::new("")).unwrap();
        let height = Height::from_feet(2_000.0).unwrap();
        let vantage = Vantage { position: at, height, heading: None };
        let told = [&raw, &part].map(|chart| {
            let (set, conditions) = (&set, &conditions);
            let found = expect(chart, &vantage, set, conditions, reach, 2.0);
            let asked = Asked { chart, vantage: &vantage, set, conditions, reach, step_deg: 2.0 };
            let fixed = fix::fix(chart, &sightings, &fix::Options::default());
            [
                expect_text(&asked, &found),
                expect_json(&asked, &found).unwrap(),
                fix_text(chart, &sightings, &fixed),
                fix_json(&fixed),
            ]
        });
        assert!(told[0].iter().all(|report| report.len() > 500));
        assert_eq!(told[0], told[1], "{at}");
    }
}

/// A small chart of two islands, its index, and what a chart of it says.
fn small() -> (Prepared, Vec<u8>) {
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let prepared = Prepared::of(&coast(&mut rng, &[(50.0, 3.0, 0.5), (51.0, 4.0, 0.3)], 400));
    let index = fs::read(&prepared.index[0]).unwrap();
    (prepared, index)
}

#[test]
fn a_damaged_index_is_never_believed() {
    println!("seed {SEED}");
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let (prepared, index) = small();
    let raw = prepared.raw();
    let area = raw.coast().extent().unwrap();
    // Whether it was seen; what nobody reads may be damaged unseen, and harms nobody.
    let damaged = |bytes: &[u8]| {
        fs::write(&prepared.index[0], bytes).unwrap();
        let opening = Opening::new(&prepared.chart).indexed(&prepared.index);
        let charts = [opening, opening.around(area).whole_up_to(0)].map(|o| o.open().unwrap());
        for chart in &charts {
            assert_eq!(runs(chart, &area), runs(&raw, &area));
            assert!(chart.marks().iter().eq(raw.marks().iter()));
            let said = untrusted(chart);
            assert!(said.is_none_or(|said| said.contains("is damaged (")), "{said:?}");
        }
        charts.iter().any(|chart| untrusted(chart).is_some())
    };
    for cut in 0..50 {
        assert!(damaged(&index[..index.len() * cut / 50]), "cut {cut}");
    }
    assert!(damaged(&[index.as_slice(), b"more"].concat()));
    let mut seen = 0;
    for _ in 0..200 {
        let mut flipped = index.clone();
        let at = rng.random_range(0..flipped.len());
        flipped[at] ^= 1 << rng.random_range(0..8);
        seen += usize::from(damaged(&flipped));
    }
    // All but those in the rings that hold other corners.
    assert!(seen > 150, "{seen} of 200");
    for at in 0..48 {
        let mut huge = index.clone();
        huge[at] = 0xff;
        assert!(huge == index || damaged(&huge), "head {at}");
    }
    fs::write(&prepared.index[0], &index).unwrap();
    assert_eq!(untrusted(&prepared.whole()), None);
}

#[test]
fn an_index_of_another_chart_is_never_believed() {
    let (prepared, index) = small();
    let coast = prepared.chart[0].join("coast.shp");
    let said = |what: &str| {
        let chart = Opening::new(&prepared.chart).indexed(&prepared.index).open().unwrap();
        let said = untrusted(&chart).cloned().unwrap_or_default();
        assert!(said.contains(what), "{said}");
    };
    let as_it_was = fs::metadata(&coast).unwrap().modified().unwrap();
    let file = fs::File::options().append(true).open(&coast).unwrap();
    file.set_modified(as_it_was + std::time::Duration::from_secs(1)).unwrap();
    said("is out of date (coast.shp has changed since)");
    file.set_modified(as_it_was).unwrap();
    assert_eq!(untrusted(&prepared.whole()), None);
    fs::write(prepared.chart[0].join("marks.prj"), "").unwrap();
    said("is out of date (marks.prj is new)");
    fs::remove_file(prepared.chart[0].join("marks.prj")).unwrap();
    // What cannot be read and is not needed keeps nobody from the chart.
    #[cfg(unix)]
    {
        let link = prepared.chart[0].join("old.prj");
        std::os::unix::fs::symlink("nowhere", &link).unwrap();
        said("is out of date (");
        fs::remove_file(&link).unwrap();
    }
    // The form's number follows the sixteen bytes it begins with; the checksum stands at the end.
    let mut other = index.clone();
    other[16] += 1;
    let crc = crc32fast::hash(&other[..44]);
    other[44..48].copy_from_slice(&crc.to_le_bytes());
    fs::write(&prepared.index[0], &other).unwrap();
    said("was made by another version of the program");
    // Nothing there is no fault.
    fs::remove_file(&prepared.index[0]).unwrap();
    said("");
}

#[test]
fn an_index_is_replaced_in_one_step() {
    let (prepared, _) = small();
    let (chart, index) = (&prepared.chart, &prepared.index[0]);
    std::thread::scope(|scope| {
        let writers: Vec<_> =
            (0..3).map(|_| scope.spawn(|| Opening::new(chart).prepare(index).unwrap())).collect();
        while writers.iter().any(|writer| !writer.is_finished()) {
            assert_eq!(untrusted(&prepared.whole()), None);
        }
    });
    let folder = index.parent().unwrap();
    let left: Vec<_> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(left.len(), 2, "{left:?}");
    let nowhere = chart[0].join("coast.shp").join("index");
    let error = Opening::new(chart).prepare(&nowhere).unwrap_err().to_string();
    assert!(error.contains("the index cannot be written"), "{error}");
}

/// Against shapely's `STRtree`: see `tests/reference/tree-queries/make.py`.
#[test]
fn queries_by_box_find_what_another_tree_finds() {
    let table = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/tree-queries");
    let table = fs::read_to_string(table.join("queries.csv")).unwrap();
    let rows: Vec<Vec<&str>> = table
        .lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(|line| line.split(',').collect())
        .collect();
    for rows in rows.chunk_by(|a, b| a[0] == b[0]) {
        let coast = fs::read(natural_earth(&format!("{}.shp", rows[0][0]))).unwrap();
        let prepared = Prepared::of(&coast);
        let raw = prepared.raw();
        for (i, row) in rows.iter().enumerate() {
            let number = |column: usize| -> f64 { row[column].parse().unwrap() };
            let area = GeoBox::new(number(1), number(2), number(3), number(4));
            let counted = |chart: &Chart| -> usize {
                let touches = |run: &Run<'_>| {
                    let points: Vec<_> = run.points().collect();
                    let near = |pair: &[foreland::chart::LonLat]| {
                        let (a, b) = (pair[0], pair[1]);
                        a.lon.min(b.lon) <= area.east
                            && a.lon.max(b.lon) >= area.west
                            && a.lat.min(b.lat) <= area.north
                            && a.lat.max(b.lat) >= area.south
                    };
                    points.windows(2).filter(|pair| near(pair)).count()
                };
                chart.coast().runs_in(&area).map(|run| touches(&run)).sum()
            };
            let middle =
                Position::wrapped(0.5 * (number(1) + number(3)), 0.5 * (number(2) + number(4)));
            let land = Some(row[6] == "1");
            assert_eq!(counted(&raw), number(5) as usize, "{row:?}");
            assert_eq!(raw.coast().is_land(middle), land, "{row:?}");
            if i % 8 == 0 {
                let part = prepared.part(area);
                assert_eq!(counted(&part), number(5) as usize, "{row:?}");
                assert_eq!(part.coast().is_land(middle), land, "{row:?}");
            }
        }
    }
}
