//! Makes the sample chart again from its seed and holds the committed files to it, byte for byte.
//!
//! With `FORELAND_WRITE_SAMPLE=1` in the environment the files are written instead:
//! `FORELAND_WRITE_SAMPLE=1 cargo test --test sample_chart`.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test
#![allow(clippy::cast_possible_wrap)] // file formats count in signed words

mod cast;
mod contours;
mod draw;
mod files;
mod land;
mod marks;
mod relief;
mod sightings;

use std::path::PathBuf;

use contours::contours;
use files::{Field, Named, Shape};
use land::{Ring, degrees, rings};

/// The whole folder must stay small: it is built into the program.
const MOST_BYTES: usize = 1_500_000;

const CHART: &str = r#"# An invented coast: it is nowhere, and no chart to navigate by.
name = "Harrow and the Ember Isles (invented)"

[layers]
coast = ["coast.shp"]
relief = ["contours.shp"]
marks = ["marks.shp"]

[attributes]
height = "ELEV_M"
name = "NAME"
kind = "KIND"

[grids]
elevation = ["dem/relief.tif"]

[accuracy]
point_sigma_nm = 0.05
shift_sigma_nm = 0.05
"#;

struct Sample {
    files: Vec<Named>,
    stories: Vec<sightings::Story>,
}

fn sample() -> Sample {
    let rings = rings();
    let grid = relief::heights(&rings);
    let mut files = coast(&rings);
    files.extend(marks::layer(&rings, &grid));
    files.extend(relief_layer(&grid));
    files.push(("dem/relief.tif".into(), files::grid(&grid)));
    files.push(("chart.toml".into(), CHART.into()));
    let stories = sightings::stories(&rings);
    files.extend(stories.iter().map(|story| (story.file.to_owned(), story.text.clone().into())));
    Sample { files, stories }
}

fn coast(rings: &[Ring]) -> Vec<Named> {
    let shapes: Vec<Shape> = rings
        .iter()
        .map(|ring| Shape::Ring(ring.iter().map(|shore| degrees(shore.x, shore.y)).collect()))
        .collect();
    let names = ["Harrow", "Great Ember", "Little Ember", "Saddle Isle"];
    let rows: Vec<Vec<String>> = (0..rings.len())
        .map(|number| vec![(*names.get(number).unwrap_or(&"The Cinders")).to_owned()])
        .collect();
    files::layer("coast", &shapes, &[Field::Text("NAME", 24)], &rows)
}

fn relief_layer(grid: &[i16]) -> Vec<Named> {
    let lines = contours(grid);
    let rows: Vec<Vec<String>> = lines.iter().map(|line| vec![line.metres.to_string()]).collect();
    let shapes: Vec<Shape> = lines.into_iter().map(|line| Shape::Line(line.points)).collect();
    files::layer("contours", &shapes, &[Field::Number("ELEV_M", 6, 0)], &rows)
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("charts-sample")
}

#[test]
fn the_committed_sample_is_what_its_seed_makes() {
    let sample = sample();
    let total: usize = sample.files.iter().map(|(_, bytes)| bytes.len()).sum();
    assert!(total < MOST_BYTES, "{total} bytes");
    let write = std::env::var_os("FORELAND_WRITE_SAMPLE").is_some();
    for (name, bytes) in &sample.files {
        let path = folder().join(name);
        if write {
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(&path, bytes).unwrap();
        }
        let committed = std::fs::read(&path).unwrap_or_default();
        assert!(committed == *bytes, "{name} is not what the seed {} makes", draw::SEED);
    }
}

#[test]
fn the_story_told_beside_the_sample_is_the_one_made() {
    let told = std::fs::read_to_string(folder().join("README.md")).unwrap();
    for story in sample().stories {
        for line in &story.truth {
            assert!(told.contains(line), "{}: the README lacks \"{line}\"", story.file);
        }
    }
}

#[test]
fn no_shore_crosses_itself() {
    for ring in rings() {
        let points: Vec<(f64, f64)> = ring.iter().map(|shore| (shore.x, shore.y)).collect();
        let pieces: Vec<_> = points.iter().zip(points.iter().cycle().skip(1)).collect();
        for (i, (a, b)) in pieces.iter().enumerate() {
            for (c, d) in pieces.iter().skip(i + 2) {
                if i == 0 && **d == points[0] {
                    continue; // neighbours round the end
                }
                assert!(!cast::cross((**a, **b), (**c, **d)), "{a:?} to {b:?} meets {c:?}");
            }
        }
    }
}

#[test]
fn the_twin_heads_are_twins() {
    let mainland = &rings()[0];
    let index = |y: f64| mainland.iter().position(|s| (s.x, s.y) == (-3.2, y)).unwrap();
    let (first, second) = (index(35.0), index(35.0 - land::PERIOD));
    for (a, b) in mainland[first..second].iter().zip(&mainland[second..]) {
        assert!((a.x - b.x).abs() < 1e-9 && (a.y - land::PERIOD - b.y).abs() < 1e-9);
        assert!((a.cliff - b.cliff).abs() < 1e-9);
    }
}
