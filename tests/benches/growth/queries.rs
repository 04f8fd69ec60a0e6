//! Which segments of shore touch a box, against shapely's `STRtree` over the same segments and boxes.

use std::fs;
use std::path::Path;

use foreland::chart::{Chart, GeoBox, LonLat, Opening};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::islands::{self, Islands};
use crate::took::{fastest, load, seconds};
use crate::{Growth, python};

const SEED: u64 = 20_310_522;
/// Boxes asked for.
const BOXES: usize = 1_000;
/// Up to so many vertices shapely is asked the same: each segment is a geometry of its own there.
const ASKED_OF_SHAPELY: usize = 1_000_000;

/// A thousand boxes held against coasts of more and more islands.
pub fn asked(most: usize) -> Growth {
    println!(
        "{BOXES} boxes, from a hundredth of a degree to one: which segments touch each (seed {SEED})"
    );
    let mut growth = Growth::new("1,000 boxes asked for", "vertices");
    for vertices in [10_000, 100_000, 1_000_000, 10_000_000].into_iter().filter(|n| *n <= most) {
        let made = Islands::of(vertices);
        let opening = Opening::new(&made.chart).around(Islands::about()).whole_up_to(0);
        let chart = opening.open().unwrap();
        let boxes = boxes(vertices);
        let taken = fastest(20, || boxes.iter().map(|area| counted(&chart, area)).sum::<usize>());
        let counts: Vec<usize> = boxes.iter().map(|area| counted(&chart, area)).collect();
        println!(
            "  {vertices:>8} vertices: {taken}, {:.2} µs a box, {} segments found; {}",
            taken.clock / BOXES as f64 * 1e6,
            counts.iter().sum::<usize>(),
            load()
        );
        if vertices <= ASKED_OF_SHAPELY {
            against_shapely(&chart, &boxes, &counts, taken.clock);
        }
        growth.points.push((vertices as f64, taken.clock));
    }
    growth
}

/// Beside islands drawn from all of them, so that a box holds as much whatever their number.
fn boxes(vertices: usize) -> Vec<GeoBox> {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let one = |_| {
        let (lat, lon) = islands::middle(random.random_range(0..islands::count(vertices)));
        let side = 10f64.powf(random.random_range(-2.0..0.0));
        let (south, west) =
            (lat + random.random_range(-0.4..0.4), lon + random.random_range(-0.4..0.4));
        GeoBox::new(south, west, south + side, west + side)
    };
    (0..BOXES).map(one).collect()
}

/// How many segments have a box that touches this one.
fn counted(chart: &Chart, area: &GeoBox) -> usize {
    let touches = |a: LonLat, b: LonLat| {
        a.lon.min(b.lon) <= area.east
            && a.lon.max(b.lon) >= area.west
            && a.lat.min(b.lat) <= area.north
            && a.lat.max(b.lat) >= area.south
    };
    let runs = chart.coast().runs_in(area);
    runs.map(|run| run.points().zip(run.points().skip(1)).filter(|(a, b)| touches(*a, *b)).count())
        .sum()
}

/// The same by shapely, one box after the other and all at once; it must find the same.
fn against_shapely(chart: &Chart, boxes: &[GeoBox], counts: &[usize], taken: f64) {
    let folder = tempfile::tempdir().unwrap();
    let segments = chart.coast().lines().flat_map(|(_, line)| {
        line.points
            .iter()
            .zip(line.points.iter().skip(1))
            .flat_map(|(a, b)| [a.lon, a.lat, b.lon, b.lat])
    });
    write(&folder.path().join("segments"), segments);
    let sides = boxes.iter().flat_map(|area| [area.west, area.south, area.east, area.north]);
    write(&folder.path().join("boxes"), sides);
    let args = ["query".as_ref(), folder.path().as_os_str()];
    let Some(told) = python::told("tree-queries/time.py", &args) else { return };
    let theirs: Vec<u64> =
        told["counts"].as_array().unwrap().iter().map(|count| count.as_u64().unwrap()).collect();
    let ours: Vec<u64> = counts.iter().map(|count| *count as u64).collect();
    assert_eq!(ours, theirs, "the two find the same segments");
    let of = |what: &str| told[what].as_f64().unwrap();
    println!(
        "    shapely: {} one by one: {:.1} times; {} all at once: {:.1} times; its tree made in {}; \
         the counts are the same",
        seconds(of("one_by_one")),
        of("one_by_one") / taken,
        seconds(of("at_once")),
        of("at_once") / taken,
        seconds(of("tree"))
    );
}

fn write(path: &Path, numbers: impl Iterator<Item = f64>) {
    fs::write(path, numbers.flat_map(f64::to_le_bytes).collect::<Vec<u8>>()).unwrap();
}
