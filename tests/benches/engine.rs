//! How long the engine's main questions take on the sample coast.
//!
//! `cargo bench --bench engine`; figures, machine and what they are held against stand in
//! `docs/performance.md`.

#![allow(clippy::expect_used)] // a bench that cannot start has nothing to measure

use std::hint::black_box;
use std::path::Path;

use divan::Bencher;
use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::fix::{self, Options};
use foreland::geodesy::{LocalPlane, Position, course};
use foreland::paint::{Conditions, Vantage, expect};
use foreland::radar::Set;
use foreland::units::{GroundRange, Height};

fn main() {
    divan::main();
}

/// Off the sample coast, where the worked landfall begins.
fn offing() -> Position {
    Position::wrapped(-38.25, -21.41)
}

#[divan::bench]
fn geodesic_between_two_positions(bencher: Bencher) {
    let there = Position::wrapped(-37.5, -20.9);
    bencher.bench(|| course(black_box(offing()), black_box(there)));
}

#[divan::bench]
fn position_laid_in_a_local_plane(bencher: Bencher) {
    let plane = LocalPlane::new(offing());
    let there = Position::wrapped(-37.5, -20.9);
    bencher.bench(|| plane.to_plane(black_box(there)));
}

#[divan::bench]
fn chart_opened_marks_found(bencher: Bencher) {
    bencher.bench(Chart::sample);
}

#[divan::bench(args = [24.0, 60.0])]
fn expect_all_round_every_half_degree(bencher: Bencher, reach_nm: f64) {
    let chart = Chart::sample().expect("the sample chart is sound");
    let set = Set::builtin("patrol").expect("a built-in set");
    let vantage = Vantage {
        position: offing(),
        height: Height::from_feet(2000.0).expect("a height"),
        heading: None,
    };
    let reach = GroundRange::from_nautical_miles(reach_nm).expect("a range");
    bencher.bench(|| expect(&chart, &vantage, &set, &Conditions::default(), reach, 0.5));
}

#[divan::bench(args = ["landfall.toml", "lookalike.toml"])]
fn fix_with_no_names_given(bencher: Bencher, file: &str) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
    let chart = Chart::sample().expect("the sample chart is sound");
    let sightings = Sightings::read(&folder.join(file)).expect("sound sightings");
    bencher.bench(|| fix::fix(&chart, &sightings, &Options::default()));
}
