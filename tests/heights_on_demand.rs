//! Heights that are read when they are asked for: the answers are those of heights that are held, no more are
//! ever held than the limit, and what is found wrong late is told.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use std::fs::{self, File};
use std::io::{Cursor, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::thread;

use foreland::chart::{Chart, ChartError, GeoBox, HeightSource, Opening};
use foreland::command::report::{Asked, expect_json};
use foreland::geodesy::Position;
use foreland::paint::{Conditions, Vantage, expect};
use foreland::radar::Set;
use foreland::units::{GroundRange, Height};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};
use tiff::decoder::Decoder;
use tiff::tags::Tag;

/// Printed, so that a failure can be run again.
const SEED: u64 = 20_260_614;

/// A tile of 3 seconds of arc: its heights at two bytes, and a bit each for what is missing.
const TILE_BYTES: u64 = 2 * 1201 * 1201 + (1201 * 1201_u64).div_ceil(64) * 8;

fn miles(miles: f64) -> GroundRange {
    GroundRange::from_nautical_miles(miles).unwrap()
}

fn place(lat: f64, lon: f64) -> Position {
    Position::new(lat, lon).unwrap()
}

/// A chart folder with one island, crooked, about a middle.
fn island(lat: f64, lon: f64, size: (f64, f64)) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let mut ring: Vec<Point> = (0..400)
        .map(|i| {
            let along = -std::f64::consts::TAU * f64::from(i) / 400.0;
            let reach = 1.0 + 0.1 * (7.0 * along).sin() + 0.04 * (23.0 * along).cos();
            Point::new(lon + size.1 * reach * along.cos(), lat + size.0 * reach * along.sin())
        })
        .collect();
    ring.push(ring[0]);
    let mut writer = ShapeWriter::from_path(folder.path().join("coast.shp")).unwrap();
    writer.write_shape(&Polygon::new(PolygonRing::Outer(ring))).unwrap();
    drop(writer);
    fs::create_dir(folder.path().join("dem")).unwrap();
    folder
}

fn tile(folder: &Path, lat: u32, lon: u32) -> PathBuf {
    folder.join(format!("dem/N{lat:02}E{lon:03}.hgt"))
}

/// A tile of nothing but sea, of which the disk keeps no more than its length.
fn sparse_tile(folder: &Path, lat: u32, lon: u32) {
    File::create(tile(folder, lat, lon)).unwrap().set_len(2 * 1201 * 1201).unwrap();
}

/// Hills by a rule, the same on the edges of adjoining tiles; a hole of missing heights in each.
fn hilly_tile(folder: &Path, lat: u32, lon: u32) {
    let mut bytes = Vec::with_capacity(2 * 1201 * 1201);
    for row in 0..1201_u32 {
        for column in 0..1201_u32 {
            let north = f64::from(lat + 1) - f64::from(row) / 1200.0;
            let east = f64::from(lon) + f64::from(column) / 1200.0;
            let hills =
                300.0 * (9.0 * north).sin() * (7.0 * east).cos() + 80.0 * (60.0 * east).sin();
            let void = (500..512).contains(&row) && (600..620 + lon).contains(&column);
            let height = if void { i16::MIN } else { hills.max(0.0) as i16 };
            bytes.extend(height.to_be_bytes());
        }
    }
    fs::write(tile(folder, lat, lon), bytes).unwrap();
}

/// Six hilly tiles under an island over all of them.
fn hilly() -> (tempfile::TempDir, Vec<PathBuf>) {
    let folder = island(45.0, 7.5, (0.8, 1.2));
    for (lat, lon) in [(44, 6), (44, 7), (44, 8), (45, 6), (45, 7), (45, 8)] {
        hilly_tile(folder.path(), lat, lon);
    }
    let chart = vec![folder.path().to_path_buf()];
    (folder, chart)
}

/// The report of what should paint, its cautions in the order of the alphabet: missing heights are told where they
/// are read.
fn report(chart: &Chart, at: Position, reach_nm: f64) -> String {
    let height = Height::from_feet(3_000.0).unwrap();
    let vantage = Vantage { position: at, height, heading: None };
    let (set, conditions) = (Set::builtin("patrol").unwrap(), Conditions::default());
    let reach = miles(reach_nm);
    let mut found = expect(chart, &vantage, &set, &conditions, reach, 2.0);
    found.cautions.sort();
    let asked = Asked {
        chart,
        vantage: &vantage,
        set: &set,
        conditions: &conditions,
        reach,
        step_deg: 2.0,
    };
    expect_json(&asked, &found).unwrap()
}

fn sorted(cautions: &[String]) -> Vec<String> {
    let mut cautions = cautions.to_vec();
    cautions.sort();
    cautions
}

#[test]
fn heights_that_are_let_go_give_the_answers_of_those_that_are_held() {
    println!("seed {SEED}");
    let (_folder, folders) = hilly();
    let held = Chart::open(&folders).unwrap();
    let fetched = Opening::new(&folders).heights_limit(2 * TILE_BYTES).open().unwrap();
    assert!(held.ground().held().is_none() && fetched.ground().is_fetched());
    assert!(held.marks().len() > 10 && held.marks().iter().eq(fetched.marks().iter()));
    assert_eq!(held.accuracy(), fetched.accuracy());
    assert_eq!(held.survey(), fetched.survey());
    assert_eq!(sorted(held.cautions()), sorted(fetched.cautions()));
    assert_eq!(held.cautions().iter().filter(|told| told.contains("are missing")).count(), 6);
    thread::scope(|scope| {
        for number in 0..4 {
            let (held, fetched) = (held.ground(), fetched.ground());
            scope.spawn(move || {
                let mut rng = ChaCha8Rng::seed_from_u64(SEED);
                rng.set_stream(number);
                for _ in 0..50 {
                    // A place, and some beside it: else nearly every question reads a tile.
                    let lat = 43.9 + 2.2 * rng.random::<f64>();
                    let lon = 5.9 + 3.2 * rng.random::<f64>();
                    for step in 0..40 {
                        let at = place(lat + 0.0007 * f64::from(step), lon);
                        assert_eq!(held.at(at), fetched.at(at), "{at}");
                        assert_eq!(held.charted(at), fetched.charted(at), "{at}");
                        let on = place(at.latitude(), lon + 0.02);
                        let ceilings = (held.ceiling_m(at, on), fetched.ceiling_m(at, on));
                        assert_eq!(ceilings.0.to_bits(), ceilings.1.to_bits(), "{at}");
                    }
                }
            });
        }
    });
    let at = place(44.9, 5.6);
    assert_eq!(report(&held, at, 70.0), report(&fetched, at, 70.0));
    let area = GeoBox::new(44.2, 6.3, 45.9, 8.8);
    let highest = |chart: &Chart| chart.ground().highest(&area, &|at| area.contains(at));
    assert_eq!(highest(&held), highest(&fetched));
    assert!(highest(&held).voids > 0);
    let now = fetched.ground().held().unwrap();
    assert!(now.most <= now.limit && now.limit == 2 * TILE_BYTES && now.reads > 6, "{now:?}");
    assert!(fetched.late_cautions().is_empty() && fetched.ground().faults().is_empty());
}

#[test]
fn about_a_place_marks_are_those_of_the_whole_chart() {
    let (_folder, folders) = hilly();
    let held = Chart::open(&folders).unwrap();
    let near = GeoBox::new(44.3, 6.1, 44.8, 6.8);
    let opening = Opening::new(&folders).heights_limit(2 * TILE_BYTES);
    let fetched = opening.around(near).open().unwrap();
    let marks = |chart: &Chart| {
        let here = chart.marks().iter().filter(|(_, mark)| near.contains(mark.position));
        here.map(|(_, mark)| (mark.kind, mark.position, mark.height, mark.extent))
            .collect::<Vec<_>>()
    };
    assert!(!marks(&held).is_empty());
    assert_eq!(marks(&held), marks(&fetched));
    assert_eq!(fetched.ground().held().unwrap().reads, 1, "one tile reaches into the area");
    let known = fetched.survey().grids.iter().filter(|grid| grid.heights.is_some());
    assert_eq!(known.count(), 1);
}

#[test]
fn every_kind_of_geotiff_is_read_late_as_it_is_at_once() {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/geotiff");
    let mut kinds = 0;
    for entry in fs::read_dir(kept).unwrap().map(Result::unwrap) {
        if entry.path().extension().is_none_or(|ending| ending != "tif") {
            continue;
        }
        let folder = island(-37.5, -20.5, (0.5, 0.5));
        fs::copy(entry.path(), folder.path().join("dem/relief.tif")).unwrap();
        let folders = [folder.path().to_path_buf()];
        let Ok(held) = Chart::open(&folders) else { continue };
        let fetched = Opening::new(&folders).heights_limit(1).open().unwrap();
        assert!(fetched.ground().is_fetched());
        assert_eq!(held.survey(), fetched.survey(), "{entry:?}");
        for i in 0..200 {
            let at = place(-36.9 - 0.0027 * f64::from(i), -21.1 + 0.0041 * f64::from(i));
            assert_eq!(held.ground().charted(at), fetched.ground().charted(at), "{entry:?} {at}");
        }
        kinds += 1;
    }
    assert!(kinds > 8, "{kinds}");
}

/// About a place far from everything: nothing is read for marks.
fn far_from(folders: &[PathBuf], limit: u64) -> Chart {
    let at_sea = GeoBox::new(-1.0, -31.0, 1.0, -29.0);
    let opening = Opening::new(folders).heights_limit(limit).whole_up_to(0);
    let chart = opening.around(at_sea).open().unwrap();
    assert_eq!(chart.ground().held().unwrap().reads, 0);
    chart
}

#[test]
fn no_more_is_ever_held_than_the_limit() {
    println!("seed {SEED}");
    let folder = island(45.5, 2.5, (0.2, 0.2));
    for i in 0..30 {
        sparse_tile(folder.path(), 44 + i / 10, i % 10);
    }
    let limit = 2 * TILE_BYTES + 100;
    let chart = far_from(&[folder.path().to_path_buf()], limit);
    let ground = chart.ground();
    // One after the other, the first one again while the others come: it stays.
    for i in 0..30 {
        let at = place(f64::from(44 + i / 10) + 0.3, f64::from(i % 10) + 0.4);
        for at in [at, place(44.3, 0.4)] {
            assert_eq!(ground.grid_height(at), Some(0.0));
            let held = ground.held().unwrap();
            assert!(held.bytes <= limit && held.bytes.is_multiple_of(TILE_BYTES), "{held:?}");
        }
    }
    assert_eq!(ground.held().unwrap().reads, 30);
    // Any from anywhere, on more threads than there is room for.
    thread::scope(|scope| {
        for number in 0..6 {
            scope.spawn(move || {
                let mut rng = ChaCha8Rng::seed_from_u64(SEED);
                rng.set_stream(number);
                for _ in 0..40 {
                    let at = place(44.0 + 3.0 * rng.random::<f64>(), 10.0 * rng.random::<f64>());
                    assert_eq!(ground.grid_height(at), Some(0.0));
                    assert!(ground.held().unwrap().bytes <= limit);
                }
            });
        }
    });
    let held = ground.held().unwrap();
    assert_eq!((held.most, held.limit), (2 * TILE_BYTES, limit));
}

#[test]
fn what_is_found_wrong_late_tells_nothing_and_is_told() {
    let (folder, folders) = hilly();
    let chart = far_from(&folders, 2 * TILE_BYTES);
    let path = |lat, lon| tile(folder.path(), lat, lon);
    // Cut short, taken away, and written over with as many bytes.
    File::options().write(true).open(path(44, 6)).unwrap().set_len(1_000_000).unwrap();
    fs::remove_file(path(44, 7)).unwrap();
    let mut changed = File::options().write(true).open(path(44, 8)).unwrap();
    changed.seek(SeekFrom::Start(5_000)).unwrap();
    changed.write_all(&[1; 64]).unwrap();
    changed.set_modified(std::time::UNIX_EPOCH).unwrap();
    drop(changed);
    for lon in [6.7, 7.5, 8.3] {
        let at = place(44.6, lon);
        assert_eq!(chart.ground().at(at).source, HeightSource::Assumed, "{lon}");
        assert_eq!(chart.ground().grid_height(at), None);
    }
    assert!(chart.ground().grid_height(place(45.3, 7.3)).is_some());
    let named = |lat, lon| path(lat, lon).display().to_string();
    let told: Vec<String> = chart.ground().faults().iter().map(ToString::to_string).collect();
    let short = "it holds 1000000 bytes and held 2884802 when the chart was opened";
    assert_eq!(told[0], format!("{}: cannot be read: {short}", named(44, 6)));
    assert!(told[1].starts_with(&format!("{}: cannot be read: ", named(44, 7))), "{told:?}");
    let changed = "it has been changed since the chart was opened";
    assert_eq!(told[2], format!("{}: cannot be read: {changed}", named(44, 8)));
    assert_eq!(told.len(), 3);
    let late = chart.late_cautions();
    let what = "it tells no heights, and ground there is taken from the rest of the chart";
    assert!(late.contains(&format!("{}: {what}", told[0])), "{late:?}");
    // Read late, and whole but for a hole.
    assert!(
        late.iter().any(|told| told.contains("N45E007.hgt: 324 heights are missing")),
        "{late:?}"
    );
    assert!(report(&chart, place(44.4, 5.2), 40.0).contains("cannot be read"));
    // The rest answers as a chart without those files does.
    for lon in 6..9 {
        let _ = fs::remove_file(path(44, lon));
    }
    let without = Chart::open(&folders).unwrap();
    for i in 0..300 {
        let at = place(44.01 + 0.006 * f64::from(i), 6.02 + 0.0095 * f64::from(i));
        assert_eq!(chart.ground().at(at), without.ground().at(at), "{at}");
    }
}

/// The chart folder of a grid whose packed heights are damaged in the middle; its tags are whole.
fn damaged_stream() -> (tempfile::TempDir, PathBuf) {
    let folder = island(-37.5, -20.5, (0.5, 0.5));
    let kept = "tests/reference/geotiff/deflate-int16-predictor.tif";
    let mut bytes = fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(kept)).unwrap();
    let mut tags = Decoder::new(Cursor::new(bytes.clone())).unwrap();
    let pieces = tags.find_tag_unsigned_vec::<usize>(Tag::StripOffsets).unwrap().unwrap();
    // Behind the stream's own head, a block of a kind that there is none of.
    for byte in &mut bytes[pieces[0] + 2..pieces[0] + 12] {
        *byte = 0xff;
    }
    let path = folder.path().join("dem/relief.tif");
    fs::write(&path, bytes).unwrap();
    (folder, path)
}

#[test]
fn a_damaged_stream_is_told_by_the_survey() {
    let (folder, damaged) = damaged_stream();
    let folders = [folder.path().to_path_buf()];
    let at_once = Chart::open(&folders).unwrap_err();
    assert!(matches!(at_once, ChartError::GeoTiff { .. }), "{at_once}");
    // So many heights beside it that all are read late: eleven tiles of a second of arc, all sea.
    for lon in 0..11 {
        let tile = File::create(tile(folder.path(), 10, lon)).unwrap();
        tile.set_len(2 * 3601 * 3601).unwrap();
    }
    let program = env!("CARGO_BIN_EXE_foreland");
    let run = |args: &[&str]| {
        let chart = folder.path().as_os_str();
        Command::new(program).args(args).arg("--chart").arg(chart).output().unwrap()
    };
    let checked = run(&["chart", "check"]);
    let text = String::from_utf8(checked.stdout).unwrap();
    let caution = format!("caution: {at_once}: it tells no heights");
    assert!(text.contains(&caution), "{text}");
    assert!(text.contains("heights not known: see the cautions"), "{text}");
    assert_eq!(checked.status.code(), Some(2));
    assert!(damaged.exists());
    let at = ["expect", "--at", "38 30 S, 20 30 W", "--height-ft", "2000", "--set", "patrol"];
    let expected = run(&at);
    let text = String::from_utf8(expected.stdout).unwrap();
    assert!(text.contains("it tells no heights, and"), "{text}");
    assert_eq!(expected.status.code(), Some(0));
    let prepared = run(&["chart", "prepare", "--beside"]);
    assert_eq!(prepared.status.code(), Some(2));
}

#[test]
fn a_folder_of_two_hundred_tiles_is_opened_without_their_heights() {
    let folder = island(45.5, 10.5, (0.25, 0.25));
    for i in 0..200 {
        sparse_tile(folder.path(), 40 + i / 20, i % 20);
    }
    let folders = [folder.path().to_path_buf()];
    // The limit is the program's own.
    far_from(&folders, foreland::chart::HEIGHTS_LIMIT);
    let at = place(45.5, 10.5);
    let (area, near) = (GeoBox::around(at, miles(140.0)), GeoBox::around(at, miles(25.0)));
    let chart = Opening::new(&folders).around(area).marks_within(near).open().unwrap();
    report(&chart, at, 20.0);
    let held = chart.ground().held().unwrap();
    // 25 miles reach into the tiles to the west and east, and into none to the north and south.
    assert!((1..=3).contains(&held.reads), "{held:?}");
    assert!(chart.cautions().iter().any(|told| told.contains("than the 256 MB kept in memory")));
}

#[test]
fn an_index_reads_no_heights() {
    let (folder, folders) = hilly();
    let index = vec![folder.path().join("chart.index")];
    let opening = Opening::new(&folders).heights_limit(2 * TILE_BYTES).indexed(&index);
    opening.prepare(&index[0]).unwrap();
    let chart = opening.open().unwrap();
    assert_eq!(chart.ground().held().unwrap().reads, 0);
    let raw = Chart::open(&folders).unwrap();
    assert!(chart.marks().iter().eq(raw.marks().iter()));
    assert_eq!(chart.survey(), raw.survey());
    let at = place(44.4, 5.2);
    assert_eq!(report(&chart, at, 60.0), report(&raw, at, 60.0));
    let held = chart.ground().held().unwrap();
    assert!(held.reads > 0 && held.most <= held.limit, "{held:?}");
}
