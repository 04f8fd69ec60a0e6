//! Fixes by the two deflections of a set with fixed lobes.
//!
//! The ratio that each mark gives is worked out here, by a spherical triangle of its own: nothing of
//! the patterns' code is used.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod towers;

use foreland::contact::{
    Belief, Contact, Deflections, LobeReading, Own, Part, Radar, Reckoning, Sightings,
};
use foreland::fix::{Fix, Options, Verdict, fix};
use foreland::geodesy::{Covariance, Position, course, distance};
use foreland::radar::Set;
use foreland::units::{Angle, Bearing, Height, SlantRange, Speed};
use jiff::Timestamp;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use towers::{centre, chart_of, distance_squared, miles, moved, name, normal};

const SEED: u64 = 20_310_310;
const TRIALS: u64 = 1_500;
const POINT_NM: f64 = 0.10;
const SHIFT_NM: f64 = 0.05;
const RANGE_NM: f64 = 0.30;
const RANGE_BIAS_NM: f64 = 0.05;
const BIAS_DEG: f64 = 1.5;
const RATIO_DB: f64 = 1.0;
const OWN_FEET: f64 = 4_000.0;
const MARKS: usize = 60;
const UNNAMED: u64 = 200;

fn radians(degrees: f64) -> f64 {
    Angle::from_degrees(degrees).radians()
}

/// The chord between own height and the sea over `ground` metres of a sphere of 6371 km.
fn chord(ground: f64, own: f64) -> f64 {
    let (radius, angle) = (6_371_000.0, ground / 6_371_000.0);
    let (a, b) = (radius + own, radius);
    (a * a + b * b - 2.0 * a * b * angle.cos()).sqrt()
}

/// The ratio of `metric`'s lobes (22° off the bow, 60° wide, floor at -20 dB) for a target so far
/// off the bow and under the horizon, in degrees, banked: by the cosine of each axis' angle.
fn ratio_db(relative: f64, down: f64, bank: f64) -> f64 {
    let gain = |side: f64| {
        let (squint, bank) = (radians(22.0), radians(bank));
        let (azimuth, down) = (radians(relative), radians(down));
        let cosine = squint.cos() * down.cos() * azimuth.cos()
            + side
                * squint.sin()
                * (bank.cos() * down.cos() * azimuth.sin() + bank.sin() * down.sin());
        let off = Angle::from_radians(cosine.clamp(-1.0, 1.0).acos()).degrees();
        (-12.0412 * (off / 60.0).powi(2)).max(-20.0)
    };
    gain(-1.0) - gain(1.0)
}

/// The depression of the sea `ground` metres off, over an Earth of 4/3.
fn down_deg(ground: f64, own: f64) -> f64 {
    Angle::from_radians((own / ground).atan() + ground / (2.0 * 4.0 / 3.0 * 6_371_000.0)).degrees()
}

fn start() -> Timestamp {
    "2031-03-09T03:40:00Z".parse().unwrap()
}

fn own_on(heading_deg: f64, bank_deg: f64) -> Own {
    let mut own = Own::at_height(Height::from_feet(OWN_FEET).unwrap());
    own.heading = Some(Bearing::wrapped_degrees(heading_deg));
    own.heading_sigma = Angle::from_degrees(BIAS_DEG);
    own.bank = Angle::from_degrees(bank_deg);
    own
}

fn radar() -> Radar {
    Radar {
        set: Set::builtin("metric").unwrap(),
        set_name: "metric".to_owned(),
        range_sigma_nm: Some(RANGE_NM),
        bearing_sigma_deg: None,
    }
}

fn reckoned(position: Position, sigma: f64) -> Reckoning {
    Reckoning {
        time: start(),
        position,
        covariance: Covariance::circular(miles(sigma)),
        track: None,
        speed: None,
        track_sigma: Angle::from_degrees(3.0),
        speed_sigma: Speed::ZERO,
        earlier: Vec::new(),
        flow: None,
    }
}

/// A contact of this range and ratio, its deflections at some gain.
fn contact(label: &str, range_nm: f64, ratio: f64, own: &Own, mark: Option<String>) -> Contact {
    let lobes = Set::builtin("metric").unwrap().lobes.unwrap();
    let range = SlantRange::from_nautical_miles(range_nm).unwrap();
    let deflections = Deflections { port: 7.0 * 10f64.powf(ratio / 20.0), starboard: 7.0 };
    Contact {
        label: label.to_owned(),
        time: start(),
        own_height: own.height,
        range: Some(range),
        range_sigma: miles(RANGE_NM),
        bearing: None,
        as_read: None,
        heading_as_read: None,
        lobes: Some(LobeReading::new(deflections, lobes, own, own.heading.unwrap(), Some(range))),
        bearing_sigma: Angle::ZERO,
        part: Part::Centre,
        belief: mark.map(|mark| Belief { mark, confidence: 0.95 }),
    }
}

/// What a place gives without error: slant range in miles, ratio in decibels.
fn exact(from: Position, to: Position, heading: f64, bank: f64) -> (f64, f64) {
    let own = OWN_FEET * 0.3048;
    let line = course(from, to);
    let ground = line.distance.metres();
    let ratio = ratio_db(line.initial.degrees() - heading, down_deg(ground, own), bank);
    (chord(ground, own) / 1852.0, ratio)
}

struct Trial {
    sightings: Sightings,
    truth: Position,
}

fn trial(places: &[Position], index: u64, count: usize, named: bool) -> Option<Trial> {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    random.set_stream(index + 1);
    let truth = moved(centre(), random.random_range(-10.0..10.0), random.random_range(-10.0..10.0));
    let sigma = [1.5, 4.0, 8.0][(index % 3) as usize];
    let heading: f64 = random.random_range(0.0..360.0);
    let bank = [0.0, 0.0, 15.0, -25.0][(index % 4) as usize];
    let shift = (SHIFT_NM * normal(&mut random), SHIFT_NM * normal(&mut random));
    let bias = BIAS_DEG * normal(&mut random);
    let range_bias = RANGE_BIAS_NM * normal(&mut random);
    let own = own_on((heading + bias).rem_euclid(360.0), bank);
    // Marks up to 85° off the bow, not right below: some past the turn of the curve.
    let mut seen: Vec<usize> = (0..places.len())
        .filter(|&mark| {
            let line = course(truth, places[mark]);
            let off = Angle::from_degrees(line.initial.degrees() - heading).degrees();
            off.abs() < 85.0 && (4.0..28.0).contains(&line.distance.nautical_miles())
        })
        .collect();
    let mut contacts = Vec::new();
    for number in 0..count {
        if seen.is_empty() {
            return None;
        }
        let mark = seen.remove(random.random_range(0..seen.len()));
        let there = moved(
            places[mark],
            shift.0 + POINT_NM * normal(&mut random),
            shift.1 + POINT_NM * normal(&mut random),
        );
        let (range, ratio) = exact(truth, there, heading, bank);
        let range = range + range_bias + RANGE_NM * normal(&mut random);
        let ratio = ratio + RATIO_DB * normal(&mut random);
        contacts.push(contact(&number.to_string(), range, ratio, &own, named.then(|| name(mark))));
    }
    let position = moved(truth, sigma * normal(&mut random), sigma * normal(&mut random));
    let sightings = Sightings::new(reckoned(position, sigma), own, radar()).with_contacts(contacts);
    Some(Trial { sightings, truth })
}

/// Marks strewn over 76 miles square.
fn strewn() -> Vec<Position> {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    (0..MARKS)
        .map(|_| {
            let mut coordinate = || random.random_range(-38.0..38.0);
            moved(centre(), coordinate(), coordinate())
        })
        .collect()
}

#[test]
fn the_ellipse_of_ranges_and_deflections_holds_the_truth() {
    println!("seed {SEED}");
    let places = strewn();
    let folder = tempfile::tempdir().unwrap();
    let chart = chart_of(folder.path(), &places);
    let found: Vec<Option<f64>> = (0..TRIALS)
        .into_par_iter()
        .filter_map(|index| trial(&places, index, 3, true))
        .map(|trial| distance_squared(&chart, &trial.sightings, trial.truth))
        .collect();
    let tried = found.len();
    let fixed: Vec<f64> = found.into_iter().flatten().collect();
    let share = |p: f64| {
        let limit = -2.0 * (1.0 - p).ln();
        100.0 * fixed.iter().filter(|d| **d <= limit).count() as f64 / fixed.len() as f64
    };
    let nees = fixed.iter().sum::<f64>() / (2.0 * fixed.len() as f64);
    println!(
        "fixed {} of {tried}: 50 % ellipse {:.1}, 95 % {:.1}, 99 % {:.1}; NEES/2 {nees:.3}",
        fixed.len(),
        share(0.5),
        share(0.95),
        share(0.99)
    );
    // Binomial sigma at 95 % of some 1,200 is 0.63 points: the band is three of them.
    assert!(fixed.len() * 10 >= tried * 6, "{} of {tried}", fixed.len());
    assert!((93.1..=96.9).contains(&share(0.95)), "{}", share(0.95));
    assert!((45.6..=54.4).contains(&share(0.5)), "{}", share(0.5));
}

#[test]
fn unnamed_echoes_claimed_at_99_percent_are_right() {
    println!("seed {SEED}");
    let places = strewn();
    let folder = tempfile::tempdir().unwrap();
    let chart = chart_of(folder.path(), &places);
    for count in [5, 7] {
        let found: Vec<Option<f64>> = (0..UNNAMED)
            .into_par_iter()
            .filter_map(|index| trial(&places, index, count, false))
            .map(|trial| distance_squared(&chart, &trial.sightings, trial.truth))
            .collect();
        let tried = found.len();
        let fixed: Vec<f64> = found.into_iter().flatten().collect();
        // Beyond this the truth is in another place altogether: one right fix in 20,000.
        let wrong = fixed.iter().filter(|d| **d > 20.0).count();
        println!("{count} unnamed echoes: fixed {} of {tried}, wrong {wrong}", fixed.len());
        // One in a hundred, and three binomial sigmas of it.
        let most = 0.01 * fixed.len() as f64;
        assert!((wrong as f64) <= most + 3.0 * most.max(1.0).sqrt(), "{wrong} of {}", fixed.len());
        assert!(fixed.len() * 8 >= tried, "{} of {tried}", fixed.len());
    }
}

/// Two towers, the aircraft heading north, and what `from` gives of them.
fn two_towers(from: Position, named: usize, extra: bool) -> (Fix, Position) {
    let places = [moved(centre(), -6.0, 18.0), moved(centre(), 9.0, 14.0)];
    let folder = tempfile::tempdir().unwrap();
    let chart = chart_of(folder.path(), &places);
    let own = own_on(0.0, 0.0);
    let (range, ratio) = exact(from, places[named], 0.0, 0.0);
    let mut contacts = vec![contact("A", range, ratio, &own, Some(name(named)))];
    if extra {
        let (range, ratio) = exact(from, places[1 - named], 0.0, 0.0);
        contacts.push(contact("B", range, ratio, &own, Some(name(1 - named))));
    }
    // A reckoning that does not split the two values.
    let reckoning = reckoned(moved(from, 4.0, -4.0), 12.0);
    let sightings = Sightings::new(reckoning, own, radar()).with_contacts(contacts);
    (fix(&chart, &sightings, &Options::default()), places[named])
}

#[test]
fn a_double_value_is_told_as_two_places() {
    let (found, tower) = two_towers(centre(), 0, false);
    assert_eq!(found.verdict, Verdict::Ambiguous, "{found:#?}");
    assert!(found.position.is_none());
    let likely: Vec<_> = found.rivals.iter().filter(|r| r.probability > 0.1).collect();
    assert_eq!(likely.len(), 2, "{:#?}", found.rivals);
    for rival in &likely {
        assert_eq!(rival.identities[0].mark, name(0));
    }
    let truly = |place: Position| distance(place, centre()).nautical_miles() < 1.5;
    assert!(likely.iter().any(|r| truly(r.estimate.position)));
    // The other one sees the tower past the turn of the curve, to port.
    let other = likely.iter().find(|r| !truly(r.estimate.position)).unwrap();
    let bears = course(other.estimate.position, tower).initial.degrees();
    assert!((255.0..285.0).contains(&bears), "{bears}");
}

#[test]
fn a_second_mark_splits_a_double_value() {
    let (found, _) = two_towers(centre(), 0, true);
    assert_eq!(found.verdict, Verdict::Fixed, "{found:#?}");
    assert!(distance(found.position.unwrap(), centre()).nautical_miles() < 0.5);
    // The residual stands in decibels, and as the bearing that it is worth.
    assert!(found.residuals.iter().all(|r| r.ratio_db.is_some() && r.bearing.is_some()));
}
