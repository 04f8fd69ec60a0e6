//! How long the engine's main questions take on the sample coast.
//!
//! `cargo bench --bench engine`; figures, machine and what they are held against stand in
//! `docs/performance.md`.

#![allow(clippy::expect_used, clippy::unwrap_used)] // a bench that cannot start has nothing to measure

#[path = "../strewn/mod.rs"]
mod strewn;
#[path = "../towers/mod.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod towers;

use std::hint::black_box;
use std::path::Path;

use divan::Bencher;
use foreland::chart::Chart;
use foreland::contact::{Belief, Sightings};
use foreland::fix::{self, Options};
use foreland::geodesy::{LocalPlane, Position, course};
use foreland::paint::approach::{Plan, approach, first_paints};
use foreland::paint::{Conditions, Frame, Vantage, expect, picture};
use foreland::radar::Set;
use foreland::units::{Angle, Bearing, GroundRange, Height, SlantRange, Speed};

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

/// In to the sample coast from the south-west, 105 NM at 2,000 ft with the set `patrol`.
fn run_in() -> (Plan, GroundRange) {
    let plan = Plan {
        from: Position::wrapped(-38.75, -22.6),
        track: Bearing::wrapped_degrees(60.0),
        speed: Speed::from_knots(165.0).expect("a speed"),
        height: Height::from_feet(2000.0).expect("a height"),
        sigma: GroundRange::from_nautical_miles(2.0).expect("a range"),
        track_sigma: Angle::from_degrees(2.0),
        speed_sigma: Speed::from_knots(5.0).expect("a speed"),
    };
    (plan, GroundRange::from_nautical_miles(105.0).expect("a range"))
}

#[divan::bench(sample_count = 10)]
fn approach_of_105_nm(bencher: Bencher) {
    let chart = Chart::sample().expect("the sample chart is sound");
    let set = Set::builtin("patrol").expect("a built-in set");
    let (plan, length) = run_in();
    bencher.bench(|| approach(&chart, &plan, &set, &Conditions::default(), Some(length), None));
}

/// What a watch has due: first paints alone.
#[divan::bench(sample_count = 10)]
fn due_in_105_nm(bencher: Bencher) {
    let chart = Chart::sample().expect("the sample chart is sound");
    let set = Set::builtin("patrol").expect("a built-in set");
    let (plan, length) = run_in();
    bencher.bench(|| first_paints(&chart, &plan, &set, &Conditions::default(), length));
}

#[divan::bench(args = ["patrol", "boat", "metric"])]
fn picture_of_1024_ranges_to_50_nm(bencher: Bencher, set: &str) {
    let chart = Chart::sample().expect("the sample chart is sound");
    let set = Set::builtin(set).expect("a built-in set");
    let vantage = Vantage {
        position: offing(),
        height: Height::from_feet(2000.0).expect("a height"),
        heading: Some(Bearing::wrapped_degrees(70.0)),
    };
    let frame = Frame::to(SlantRange::from_nautical_miles(50.0).expect("a range"));
    let weather = Conditions::default();
    bencher.bench(|| picture(&chart, &vantage, &set, &weather, &frame));
}

#[divan::bench(args = ["landfall.toml", "lookalike.toml"])]
fn fix_with_no_names_given(bencher: Bencher, file: &str) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
    let chart = Chart::sample().expect("the sample chart is sound");
    let sightings = Sightings::read(&folder.join(file)).expect("sound sightings");
    bencher.bench(|| fix::fix(&chart, &sightings, &Options::default()));
}

/// Four contacts of the landfall that the sample comes with, one of them of a tower.
#[divan::bench]
fn fix_of_four_typical(bencher: Bencher) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
    let chart = Chart::sample().expect("the sample chart is sound");
    let all = Sightings::read(&folder.join("landfall.toml")).expect("sound sightings");
    let sightings = all.with_contacts(all.contacts.iter().take(4).cloned().collect());
    bencher.bench(|| fix::fix(&chart, &sightings, &Options::default()));
}

/// The same four, so many of them with the name that they turn out to have.
#[divan::bench(args = [1, 2, 4])]
fn fix_of_four_with_names(bencher: Bencher, named: usize) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
    let chart = Chart::sample().expect("the sample chart is sound");
    let all = Sightings::read(&folder.join("landfall.toml")).expect("sound sightings");
    let mut contacts: Vec<_> = all.contacts.iter().take(4).cloned().collect();
    let found = fix::fix(&chart, &all.with_contacts(contacts.clone()), &Options::default());
    for contact in contacts.iter_mut().take(named) {
        let known = found.identities.iter().find(|identity| identity.contact == contact.label);
        let mark = known.expect("a likely mark").mark.clone();
        contact.belief = Some(Belief { mark, confidence: 0.95 });
    }
    let sightings = all.with_contacts(contacts);
    bencher.bench(|| fix::fix(&chart, &sightings, &Options::default()));
}

#[divan::bench(args = [8, 12])]
fn fix_of_unnamed_among_10_000_marks_dr_20_nm(bencher: Bencher, contacts: usize) {
    const SEED: u64 = 20_310_318;
    let folder = tempfile::tempdir().expect("a folder");
    let places = strewn::places(10_000, SEED);
    let chart = towers::chart_of(folder.path(), &places);
    let (sightings, _) = strewn::landfall(&places, contacts, 20.0, SEED);
    bencher.bench(|| fix::fix(&chart, &sightings, &Options::default()));
}
