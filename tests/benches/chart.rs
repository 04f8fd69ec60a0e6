//! How long a coast takes to open raw and prepared, and to ask, as it grows.
//!
//! `cargo bench --bench chart`; figures and machine stand in `docs/performance.md`. With
//! `FORELAND_WORLD=DIR` the chart of that folder is measured as well: a coastline of the world, which
//! must have been prepared (`foreland chart prepare DIR`).

#![allow(clippy::expect_used, clippy::unwrap_used)] // a bench that cannot start has nothing to measure

use std::collections::HashMap;
use std::env;
use std::fs;
use std::hint::black_box;
use std::io::Cursor;
use std::path::PathBuf;
use std::sync::{Arc, LazyLock, Mutex};

use divan::Bencher;
use foreland::chart::{Chart, GeoBox, Opening};
use foreland::command::index_places;
use foreland::geodesy::Position;
use foreland::units::GroundRange;
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

fn main() {
    divan::main();
}

/// Vertices of one island.
const ISLAND: usize = 2_000;

/// A chart of islands of [`ISLAND`] vertices, a degree apart, and its index.
struct Strewn {
    _folder: tempfile::TempDir,
    chart: Vec<PathBuf>,
    index: Vec<PathBuf>,
}

/// Islands in rows over the globe, so that a part holds as many whatever the whole.
fn strewn(vertices: usize) -> Strewn {
    let mut shp = Cursor::new(Vec::new());
    let mut writer = ShapeWriter::new(&mut shp);
    for island in 0..vertices / ISLAND {
        let (row, column) = (island / 300, island % 300);
        let (lat, lon) = (-60.0 + 4.0 * row as f64, -170.0 + 1.1 * column as f64);
        let mut ring: Vec<Point> = (0..ISLAND)
            .map(|i| {
                let along = -std::f64::consts::TAU * i as f64 / ISLAND as f64;
                let reach = 0.3 + 0.06 * (5.0 * along).sin() + 0.02 * (37.0 * along).sin();
                Point::new(lon + reach * along.cos(), lat + reach * along.sin())
            })
            .collect();
        ring.push(ring[0]);
        writer.write_shape(&Polygon::new(PolygonRing::Outer(ring))).expect("a shape");
    }
    writer.finalize().expect("a file");
    drop(writer);
    let folder = tempfile::tempdir().expect("a folder");
    let chart = folder.path().join("chart");
    fs::create_dir(&chart).expect("a folder");
    fs::write(chart.join("coast.shp"), shp.into_inner()).expect("a file");
    let index = folder.path().join("chart.index");
    Strewn { _folder: folder, chart: vec![chart], index: vec![index] }
}

/// Made once for each size.
fn of_size(vertices: usize, prepared: bool) -> Arc<Strewn> {
    static MADE: LazyLock<Mutex<HashMap<usize, Arc<Strewn>>>> = LazyLock::new(Mutex::default);
    let mut made = MADE.lock().expect("no bench has failed");
    let made = made.entry(vertices).or_insert_with(|| Arc::new(strewn(vertices)));
    if prepared && !made.index[0].exists() {
        Opening::new(&made.chart).prepare(&made.index[0]).expect("an index");
    }
    Arc::clone(made)
}

/// Among the first islands, whatever the size.
fn about() -> GeoBox {
    GeoBox::around(Position::wrapped(-60.0, -168.0), miles(200.0))
}

fn miles(miles: f64) -> GroundRange {
    GroundRange::from_nautical_miles(miles).expect("a distance")
}

#[divan::bench(args = [10_000, 100_000, 1_000_000], sample_count = 5)]
fn raw_about_a_place(bencher: Bencher, vertices: usize) {
    let made = of_size(vertices, false);
    bencher.bench(|| Opening::new(&made.chart).around(about()).whole_up_to(0).open());
}

#[divan::bench(args = [10_000, 100_000, 1_000_000], sample_count = 20)]
fn prepared_about_a_place(bencher: Bencher, vertices: usize) {
    let made = of_size(vertices, true);
    bencher.bench(|| {
        let opening = Opening::new(&made.chart).indexed(&made.index);
        opening.around(about()).whole_up_to(0).open()
    });
}

#[divan::bench(args = [10_000, 100_000, 1_000_000])]
fn runs_within_twenty_miles(bencher: Bencher, vertices: usize) {
    let made = of_size(vertices, true);
    let chart = Opening::new(&made.chart).indexed(&made.index).open().expect("a chart");
    let area = GeoBox::around(Position::wrapped(-60.0, -168.0), miles(20.0));
    bencher.bench(|| chart.coast().runs_in(black_box(&area)).count());
}

/// Off the west of Ireland, in the Norwegian fjords, on the date line and in mid-ocean.
const PLACES: [(&str, f64, f64); 4] = [
    ("Ireland", 53.0, -10.5),
    ("Norway", 62.0, 4.5),
    ("Fiji", -17.0, 180.0),
    ("Pacific", 0.0, -140.0),
];

fn world() -> Option<Vec<PathBuf>> {
    env::var_os("FORELAND_WORLD").map(|folder| vec![PathBuf::from(folder)])
}

#[divan::bench(args = PLACES.map(|place| place.0), sample_count = 3)]
fn world_raw(bencher: Bencher, place: &str) {
    bench_world(bencher, place, false);
}

#[divan::bench(args = PLACES.map(|place| place.0), sample_count = 20)]
fn world_prepared(bencher: Bencher, place: &str) {
    bench_world(bencher, place, true);
}

fn bench_world(bencher: Bencher, place: &str, prepared: bool) {
    let Some(folders) = world() else { return };
    let (_, lat, lon) = PLACES.iter().find(|known| known.0 == place).expect("a place");
    let area = GeoBox::around(Position::wrapped(*lat, *lon), miles(180.0));
    let indexes = if prepared { index_places(&folders) } else { Vec::new() };
    bencher.bench(|| -> Chart {
        Opening::new(&folders).indexed(&indexes).around(area).open().expect("a chart")
    });
}
