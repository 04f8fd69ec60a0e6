//! Does the 95 % ellipse hold the truth 95 % of the time?
//!
//! Simulated fixes of named marks. Where the marks really are, what was really read and where the
//! reckoning really was are worked out here, by geodesics and a chord of its own: nothing of the
//! estimator's geometry is used.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod towers;

use std::path::Path;

use foreland::chart::Chart;
use foreland::contact::{Belief, Contact, Own, Part, Radar, Reckoning, Sightings};
use foreland::geodesy::{Covariance, Position, course, destination};
use foreland::radar::Set;
use foreland::units::{Angle, Bearing, Height, SlantRange, Speed};
use jiff::{SignedDuration, Timestamp};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use towers::{centre, chart_of, distance_squared, miles, moved, name, normal};

const SEED: u64 = 20_310_309;
const TRIALS: u64 = 2_000;
const POINT_NM: f64 = 0.10;
const SHIFT_NM: f64 = 0.05;
const RANGE_NM: f64 = 0.15;
const BEARING_DEG: f64 = 1.0;
const BIAS_DEG: f64 = 1.0;
const RANGE_BIAS_NM: f64 = 0.05;
const MARKS: usize = 24;

/// Marks strewn over an area of 60 by 40 miles, and the chart that holds them.
fn chart(folder: &Path) -> (Chart, Vec<Position>) {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let places: Vec<Position> = (0..MARKS)
        .map(|_| {
            let (east, north) =
                (random.random_range(-30.0..30.0), random.random_range(-20.0..20.0));
            moved(centre(), east, north)
        })
        .collect();
    (chart_of(folder, &places), places)
}

/// The chord between two heights over `ground` metres of a sphere of 6371 km.
fn chord(ground: f64, own: f64, target: f64) -> f64 {
    let radius = 6_371_000.0;
    let angle = ground / radius;
    let (a, b) = (radius + own, radius + target);
    (a * a + b * b - 2.0 * a * b * angle.cos()).sqrt()
}

struct Trial {
    sightings: Sightings,
    truth: Position,
}

fn trial(places: &[Position], index: u64) -> Trial {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    random.set_stream(index + 1);
    let start: Timestamp = "2031-03-09T03:40:00Z".parse().unwrap();
    let truth_at_start =
        moved(centre(), random.random_range(-25.0..25.0), random.random_range(-15.0..15.0));
    let sigma = [1.5, 4.0, 10.0][(index % 3) as usize];
    let (track, speed) = (random.random_range(0.0..360.0), 165.0);
    let (track_sigma, speed_sigma) = (3.0, 5.0);
    let height = Height::from_feet([0.0, 2_000.0, 9_000.0][(index / 3 % 3) as usize]).unwrap();
    let mut own = Own::at_height(height);
    own.heading_sigma = Angle::from_degrees(BIAS_DEG);
    let true_height_m = height.metres() + own.height_sigma().metres() * normal(&mut random);
    let (true_track, true_speed) =
        (track + track_sigma * normal(&mut random), speed + speed_sigma * normal(&mut random));
    let carried = |seconds: f64| {
        let towards = Bearing::wrapped_degrees(true_track);
        destination(truth_at_start, towards, miles((true_speed * seconds / 3600.0).max(0.0)))
    };
    let shift = (SHIFT_NM * normal(&mut random), SHIFT_NM * normal(&mut random));
    let bias = BIAS_DEG * normal(&mut random);
    let range_bias = RANGE_BIAS_NM * normal(&mut random);
    let count = 2 + (index % 4) as usize;
    let mut near: Vec<usize> = (0..places.len()).collect();
    near.sort_by(|a, b| {
        let far = |m: usize| course(truth_at_start, places[m]).distance.metres();
        far(*a).total_cmp(&far(*b))
    });
    let mut contacts = Vec::new();
    for number in 0..count {
        // Not the nearest: straight over a mark no ellipse is one.
        let mark = near[2 + 2 * number + random.random_range(0..2)];
        let seconds = 45.0 * number as f64;
        let there = moved(
            places[mark],
            shift.0 + POINT_NM * normal(&mut random),
            shift.1 + POINT_NM * normal(&mut random),
        );
        let line = course(carried(seconds), there);
        let slant = chord(line.distance.metres(), true_height_m, 0.0) / 1852.0;
        let range = slant + range_bias + RANGE_NM * normal(&mut random);
        let bearing = line.initial.degrees() + bias + BEARING_DEG * normal(&mut random);
        // The third has its range only, the fourth its bearing only.
        contacts.push(Contact {
            label: format!("{number}"),
            time: start + SignedDuration::from_secs(seconds as i64),
            own_height: height,
            range: (number != 3).then(|| SlantRange::from_nautical_miles(range.max(0.0)).unwrap()),
            range_sigma: miles(RANGE_NM),
            bearing: (number != 2).then(|| Bearing::wrapped_degrees(bearing)),
            as_read: None,
            heading_as_read: None,
            lobes: None,
            bearing_sigma: Angle::from_degrees(BEARING_DEG),
            part: Part::Centre,
            belief: Some(Belief { mark: name(mark), confidence: 0.95 }),
        });
    }
    let last = 45.0 * (count - 1) as f64;
    let reckoning = Reckoning {
        time: start,
        position: moved(truth_at_start, sigma * normal(&mut random), sigma * normal(&mut random)),
        covariance: Covariance::circular(miles(sigma)),
        track: Some(Bearing::wrapped_degrees(track)),
        speed: Some(Speed::from_knots(speed).unwrap()),
        track_sigma: Angle::from_degrees(track_sigma),
        speed_sigma: Speed::from_knots(speed_sigma).unwrap(),
        earlier: Vec::new(),
        flow: None,
    };
    let radar = Radar {
        set: Set::builtin("patrol").unwrap(),
        set_name: "patrol".to_owned(),
        range_sigma_nm: Some(RANGE_NM),
        bearing_sigma_deg: Some(BEARING_DEG),
    };
    let sightings = Sightings::new(reckoning, own, radar).with_contacts(contacts);
    Trial { sightings, truth: carried(last) }
}

#[test]
fn the_ellipse_holds_the_truth_as_often_as_it_says() {
    println!("seed {SEED}");
    let folder = tempfile::tempdir().unwrap();
    let (chart, places) = chart(folder.path());
    let found: Vec<Option<f64>> = (0..TRIALS)
        .into_par_iter()
        .map(|index| {
            let trial = trial(&places, index);
            distance_squared(&chart, &trial.sightings, trial.truth)
        })
        .collect();
    let fixed: Vec<f64> = found.into_iter().flatten().collect();
    let share = |p: f64| {
        let limit = -2.0 * (1.0 - p).ln();
        100.0 * fixed.iter().filter(|d| **d <= limit).count() as f64 / fixed.len() as f64
    };
    let nees = fixed.iter().sum::<f64>() / (2.0 * fixed.len() as f64);
    println!(
        "fixed {} of {TRIALS}: 50 % ellipse {:.1}, 95 % {:.1}, 99 % {:.1}; NEES/2 {nees:.3}",
        fixed.len(),
        share(0.5),
        share(0.95),
        share(0.99)
    );
    // Named marks, good cuts: nearly all are fixed. Binomial sigma at 95 % of 2,000 is 0.5 points:
    // the band is three of them.
    assert!(fixed.len() as u64 >= TRIALS * 9 / 10);
    assert!((93.5..=96.5).contains(&share(0.95)), "{}", share(0.95));
    assert!((46.5..=53.5).contains(&share(0.5)), "{}", share(0.5));
    assert!(share(0.99) >= 98.3, "{}", share(0.99));
}
