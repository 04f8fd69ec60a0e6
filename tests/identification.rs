//! Unnamed contacts on the sample coast: is the answer right, and is what cannot be told refused?
//!
//! The landfalls are simulated here: which marks show is asked of the careful prediction, not of the
//! quick one that identity uses; ranges are to the nearest of the shore's own vertices near the
//! mark, by geodesics; ships are strewn over the sea. The printed seed makes them again.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::sync::LazyLock;

use foreland::chart::{Chart, Mark, MarkKind};
use foreland::contact::{Belief, Contact, Own, Part, Radar, Reckoning, Sightings};
use foreland::fix::{Fix, Options, Verdict, fix};
use foreland::geodesy::{Covariance, Position, course, destination};
use foreland::paint::{Conditions, Vantage, expect};
use foreland::radar::Set;
use foreland::units::{Angle, Bearing, GroundRange, Height, SlantRange, True};
use jiff::Timestamp;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use rayon::prelude::*;

const SEED: u64 = 20_310_311;
const RANGE_NM: f64 = 0.15;
const BEARING_DEG: f64 = 1.0;
const BIAS_DEG: f64 = 1.0;
const REACH_NM: f64 = 30.0;
const HEIGHT_FT: f64 = 2_000.0;

static CHART: LazyLock<Chart> = LazyLock::new(|| {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
    Chart::open(&[folder]).unwrap()
});

fn miles(nm: f64) -> GroundRange {
    GroundRange::clamped_metres(nm * 1852.0)
}

fn normal(random: &mut ChaCha8Rng) -> f64 {
    random.sample(StandardNormal)
}

fn moved(from: Position, east: f64, north: f64) -> Position {
    destination(from, Bearing::<True>::wrapped(east.atan2(north)), miles(east.hypot(north)))
}

/// A place at sea off the west coast, within sight of some of it.
fn at_sea(random: &mut ChaCha8Rng) -> Position {
    loop {
        let middle = Position::new(-38.05, -21.42).unwrap();
        let place = moved(middle, random.random_range(-9.0..6.0), random.random_range(-30.0..30.0));
        if CHART.coast().is_land(place) == Some(false) {
            return place;
        }
    }
}

/// Every vertex of the shore.
static SHORE: LazyLock<Vec<Position>> = LazyLock::new(|| {
    let lines = CHART.coast().lines();
    lines
        .flat_map(|(_, line)| line.points.iter().map(|p| p.position()).collect::<Vec<_>>())
        .collect()
});

/// Where the leading edge of a mark's echo lies: the vertex nearest to own place of the shore that
/// is about the mark.
fn edge(from: Position, mark: &Mark) -> Position {
    let about = match mark.kind {
        MarkKind::Headland => 1.0,
        MarkKind::Islet => mark.extent.nautical_miles() + 0.2,
        _ => return mark.position,
    };
    let near = |p: &&Position| {
        (p.latitude() - mark.position.latitude()).abs() < 0.1
            && course(mark.position, **p).distance.nautical_miles() <= about
    };
    let far = |p: &Position| course(from, *p).distance.metres();
    let nearest = SHORE.iter().filter(near).min_by(|a, b| far(a).total_cmp(&far(b)));
    nearest.copied().unwrap_or(mark.position)
}

struct Trial {
    sightings: Sightings,
    truth: Position,
}

fn reading(random: &mut ChaCha8Rng, from: Position, to: Position, bias: f64) -> (f64, f64) {
    let line = course(from, to);
    let up = HEIGHT_FT * 0.3048 / 1852.0;
    let slant = line.distance.nautical_miles().hypot(up);
    let range = slant + RANGE_NM * normal(random);
    (range.max(0.1), line.initial.degrees() + bias + BEARING_DEG * normal(random))
}

fn contact(label: usize, (range, bearing): (f64, f64), part: Part, name: Option<&str>) -> Contact {
    Contact {
        label: format!("{label}"),
        time: start(),
        range: Some(SlantRange::from_nautical_miles(range).unwrap()),
        range_sigma: miles(RANGE_NM),
        bearing: Some(Bearing::wrapped_degrees(bearing)),
        as_read: None,
        bearing_sigma: Angle::from_degrees(BEARING_DEG),
        part,
        belief: name.map(|mark| Belief { mark: mark.to_owned(), confidence: 0.95 }),
    }
}

fn start() -> Timestamp {
    "2031-03-09T03:40:00Z".parse().unwrap()
}

/// Marks that show from a place, each picked with a chance in proportion to how it stands out.
fn picked(random: &mut ChaCha8Rng, from: Position, count: usize) -> Vec<Mark> {
    let set = Set::builtin("patrol").unwrap();
    let height = Height::from_feet(HEIGHT_FT).unwrap();
    let vantage = Vantage { position: from, height, heading: None };
    let shown = expect(&CHART, &vantage, &set, &Conditions::default(), miles(REACH_NM), 1.0);
    let mut marks: Vec<(f64, Mark)> = shown
        .marks
        .iter()
        .filter(|m| random.random_range(0.0..1.0) < m.paint_probability)
        .filter_map(|m| CHART.marks().get(m.mark))
        .map(|mark| (mark.salience.max(0.05), mark.clone()))
        .collect();
    let mut chosen: Vec<Mark> = Vec::new();
    while chosen.len() < count && !marks.is_empty() {
        let total: f64 = marks.iter().map(|m| m.0).sum();
        let mut at = random.random_range(0.0..total);
        let index = marks.iter().position(|m| {
            at -= m.0;
            at <= 0.0
        });
        let (_, mark) = marks.swap_remove(index.unwrap_or(0));
        // An operator does not give two echoes for what is one.
        let apart = |m: &Mark| course(m.position, mark.position).distance.nautical_miles() > 1.5;
        if chosen.iter().all(apart) {
            chosen.push(mark);
        }
    }
    chosen
}

fn ship(random: &mut ChaCha8Rng, from: Position) -> Position {
    loop {
        let far = REACH_NM * random.random_range(0.01f64..1.0).sqrt();
        let towards = Bearing::wrapped_degrees(random.random_range(0.0..360.0));
        let place = destination(from, towards, miles(far));
        if CHART.coast().is_land(place) == Some(false) {
            return place;
        }
    }
}

fn sightings(
    random: &mut ChaCha8Rng,
    truth: Position,
    sigma: f64,
    contacts: Vec<Contact>,
) -> Sightings {
    let reckoning = Reckoning {
        time: start(),
        position: moved(truth, sigma * normal(random), sigma * normal(random)),
        covariance: Covariance::circular(miles(sigma)),
        track: None,
        speed: None,
        track_sigma: Angle::from_degrees(2.0),
        speed_sigma: foreland::units::Speed::ZERO,
    };
    let mut own = Own::at_height(Height::from_feet(HEIGHT_FT).unwrap());
    own.heading_sigma = Angle::from_degrees(BIAS_DEG);
    let radar = Radar {
        set: Set::builtin("patrol").unwrap(),
        set_name: "patrol".to_owned(),
        range_sigma_nm: Some(RANGE_NM),
        bearing_sigma_deg: Some(BEARING_DEG),
    };
    Sightings::new(reckoning, own, radar).with_contacts(contacts)
}

fn stream(index: u64) -> ChaCha8Rng {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    random.set_stream(index);
    random
}

/// Contacts on marks, some of them ships, none of them named.
fn landfall(index: u64, count: usize, sigma: f64, ships: f64) -> Trial {
    let mut random = stream(index);
    let truth = at_sea(&mut random);
    let bias = BIAS_DEG * normal(&mut random);
    let marks = picked(&mut random, truth, count);
    let contacts = (0..count)
        .map(|label| {
            let mark = marks.get(label).filter(|_| random.random_range(0.0..1.0) >= ships);
            let (place, part) = match mark {
                Some(mark) if matches!(mark.kind, MarkKind::Headland | MarkKind::Islet) => {
                    (edge(truth, mark), Part::Near)
                }
                Some(mark) => (mark.position, Part::Centre),
                None => (ship(&mut random, truth), Part::Centre),
            };
            contact(label, reading(&mut random, truth, place, bias), part, None)
        })
        .collect();
    Trial { sightings: sightings(&mut random, truth, sigma, contacts), truth }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Outcome {
    Right,
    Refused,
    Wrong,
}

/// Right: the truth is where the stated ellipse, at 99.9 %, and half a mile would have it.
fn outcome(trial: &Trial) -> (Outcome, Fix) {
    let found = fix(&CHART, &trial.sightings, &Options::default());
    let (Some(position), Some(covariance)) = (found.position, found.covariance) else {
        return (Outcome::Refused, found);
    };
    let line = course(position, trial.truth);
    let (sin, cos) = line.initial.sin_cos();
    let metres = line.distance.metres();
    let squared = covariance.mahalanobis_squared(metres * sin, metres * cos);
    let right = squared < 13.8 || line.distance.nautical_miles() < 0.5;
    (if right { Outcome::Right } else { Outcome::Wrong }, found)
}

fn count(outcomes: &[Outcome], which: Outcome) -> usize {
    outcomes.iter().filter(|o| **o == which).count()
}

#[test]
fn unnamed_contacts_are_named_rightly_or_refused() {
    println!("seed {SEED}");
    let mut all = Vec::new();
    for (contacts, sigma) in [(4, 5.0), (5, 5.0), (6, 10.0)] {
        let outcomes: Vec<Outcome> = (0..60u64)
            .into_par_iter()
            .map(|i| outcome(&landfall(1_000 * contacts as u64 + i, contacts, sigma, 0.15)).0)
            .collect();
        println!(
            "{contacts} contacts, reckoning {sigma} NM: right {}, refused {}, wrong {}",
            count(&outcomes, Outcome::Right),
            count(&outcomes, Outcome::Refused),
            count(&outcomes, Outcome::Wrong)
        );
        all.extend(outcomes);
    }
    // Of 180 at most 1.8 wrong are promised; four or more would come of that one time in ten.
    assert!(count(&all, Outcome::Wrong) <= 3);
    assert!(count(&all, Outcome::Right) >= 135);
}

#[test]
fn a_set_of_ships_is_refused() {
    let fixed: usize = (0..60u64)
        .into_par_iter()
        .map(|i| {
            let trial = landfall(50_000 + i, 5, 5.0, 1.0);
            usize::from(outcome(&trial).1.verdict == Verdict::Fixed)
        })
        .sum();
    println!("sets of ships fixed: {fixed} of 60");
    assert!(fixed <= 1, "{fixed}");
}

#[test]
fn a_wrong_name_never_drags_the_fix() {
    let outcomes: Vec<(Outcome, bool)> = (0..60u64)
        .into_par_iter()
        .filter_map(|i| {
            let mut random = stream(90_000 + i);
            let truth = at_sea(&mut random);
            let bias = BIAS_DEG * normal(&mut random);
            let mut marks = picked(&mut random, truth, 5);
            // The name of the last is given to the first.
            let other = (marks.len() == 5).then(|| marks.pop()).flatten()?;
            let contacts = marks
                .iter()
                .enumerate()
                .map(|(label, mark)| {
                    let shaped = matches!(mark.kind, MarkKind::Headland | MarkKind::Islet);
                    let part = if shaped { Part::Near } else { Part::Centre };
                    let name = if label == 0 { &other.name } else { &mark.name };
                    let read = reading(&mut random, truth, edge(truth, mark), bias);
                    contact(label, read, part, Some(name))
                })
                .collect();
            let trial = Trial { sightings: sightings(&mut random, truth, 4.0, contacts), truth };
            let (outcome, found) = outcome(&trial);
            let told = found.cautions.iter().any(|c| c.contains(&other.name));
            Some((outcome, told))
        })
        .collect();
    let wrong = outcomes.iter().filter(|o| o.0 == Outcome::Wrong).count();
    let right = outcomes.iter().filter(|o| o.0 == Outcome::Right).count();
    let told = outcomes.iter().filter(|o| o.1).count();
    println!(
        "one wrong name in four: {right} right, {wrong} wrong of {}, told {told}",
        outcomes.len()
    );
    assert!(wrong == 0);
    assert!(right * 10 >= outcomes.len() * 8);
    assert!(told * 100 >= outcomes.len() * 95);
}
