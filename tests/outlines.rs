//! Traced outlines: does the ellipse hold the truth as often as it says, on a ragged coast, on a
//! straight one, and with contacts beside the outline?
//!
//! `cargo test --test outlines -- --nocapture` prints what the documents tell of it.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

#[allow(dead_code, reason = "other tests use more of it")]
mod towers;
mod traced;

use std::path::Path;
use std::time::{Duration, Instant};

use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::fix::{Fix, Options, Verdict, fix};
use foreland::geodesy::{Covariance, LocalPlane, Position};
use rayon::prelude::*;
use statrs::distribution::{Binomial, ChiSquared, ContinuousCDF, DiscreteCDF};
use towers::{centre, moved};
use traced::{Coast, SEED, sightings, trial};

const TRIALS: u64 = 320;
/// Trials on each ragged coast.
const ON_EACH: u64 = 20;
/// A bound that a sound program fails once in a thousand runs, were the seed another.
const ONCE_IN_A_THOUSAND: f64 = 1e-3;
/// The tests that put measurements at odds raise a false alarm this often.
const ALARM: f64 = 1e-3;
/// Truth outside the ellipse of this probability is a wrong fix.
const WRONG: f64 = 0.9999;

/// One answer against the truth.
struct Answer {
    fix: Fix,
    /// Squared statistical distance of the truth from the place stated or most probable.
    squared: Option<f64>,
    drawn: [f64; 3],
    took: Duration,
}

fn answers(coasts: &[Coast], with_contacts: bool) -> Vec<Answer> {
    let each = TRIALS.div_ceil(coasts.len() as u64);
    (0..TRIALS)
        .into_par_iter()
        .map(|index| {
            let coast = &coasts[(index / each) as usize];
            let trial = trial(coast, index, with_contacts);
            let start = Instant::now();
            let fix = fix(&coast.chart, &trial.sightings, &Options::default());
            let took = start.elapsed();
            let stated = fix.position.zip(fix.covariance);
            let probable = fix.most_probable.map(|at| (at.position, at.covariance));
            let squared = stated.or(probable).map(|(at, error)| squared(at, error, trial.truth));
            Answer { fix, squared, drawn: trial.drawn, took }
        })
        .collect()
}

fn squared(position: Position, covariance: Covariance, truth: Position) -> f64 {
    let off = LocalPlane::new(position).to_plane(truth);
    covariance.mahalanobis_squared(off.east, off.north)
}

/// Squared distances of the truth over all answers of one verdict.
fn of(answers: &[Answer], verdict: Verdict) -> Vec<f64> {
    let told = answers.iter().filter(|answer| answer.fix.verdict == verdict);
    told.map(|answer| answer.squared.unwrap()).collect()
}

/// How many squared distances lie within the ellipse of this probability.
fn within(found: &[f64], probability: f64) -> u64 {
    let limit = -2.0 * (1.0 - probability).ln();
    found.iter().filter(|squared| **squared <= limit).count() as u64
}

/// The fewest that a sound program finds of so many, each with this chance.
fn fewest(chance: f64, of: usize) -> u64 {
    Binomial::new(chance, of as u64).unwrap().inverse_cdf(ONCE_IN_A_THOUSAND)
}

/// The most of them.
fn most(chance: f64, of: usize) -> u64 {
    Binomial::new(chance, of as u64).unwrap().inverse_cdf(1.0 - ONCE_IN_A_THOUSAND)
}

/// Prints what came of it, and holds the ellipses to what they say.
fn hold(what: &str, answers: &[Answer], found: &[f64]) {
    let mut took: Vec<Duration> = answers.iter().map(|answer| answer.took).collect();
    took.sort();
    let share = |probability| 100.0 * within(found, probability) as f64 / found.len() as f64;
    println!(
        "seed {SEED}, {what}: {} of {TRIALS}; 50 % ellipse {:.1}, 95 % {:.1}, 99 % {:.1}; NEES/2 \
         {:.3}; median {:.1} ms",
        found.len(),
        share(0.5),
        share(0.95),
        share(0.99),
        found.iter().sum::<f64>() / (2.0 * found.len() as f64),
        1e3 * took[took.len() / 2].as_secs_f64()
    );
    for probability in [0.5, 0.95, 0.99] {
        let least = fewest(probability, found.len());
        assert!(within(found, probability) >= least, "{what}: {probability}: {least}");
    }
    assert!((93.0..=97.0).contains(&share(0.95)), "{what}: {}", share(0.95));
    assert_eq!(within(found, WRONG), found.len() as u64, "{what}: a wrong fix");
}

fn ragged(make: fn(u64) -> Coast) -> Vec<Coast> {
    (0..TRIALS / ON_EACH).into_par_iter().map(make).collect()
}

#[test]
fn on_a_ragged_coast_an_outline_fixes_as_well_as_it_says() {
    let answers = answers(&ragged(Coast::ragged), false);
    let fixed = of(&answers, Verdict::Fixed);
    hold("ragged coast", &answers, &fixed);
    assert!(fixed.len() as u64 >= TRIALS * 9 / 10, "{}", fixed.len());
}

#[test]
fn on_a_straight_coast_an_outline_says_that_it_leaves_the_place_along_it_free() {
    let answers = answers(&[Coast::straight()], false);
    for Answer { fix, drawn, .. } in &answers {
        if fix.verdict == Verdict::AtOdds {
            println!("at odds, drawn {drawn:.2?}: {:?} {:?}", fix.consistency, fix.cautions);
            let squares = drawn.iter().map(|sigmas| sigmas * sigmas).sum();
            let chance = ChiSquared::new(3.0).unwrap().sf(squares);
            assert!(chance < 0.01, "{chance}: {drawn:?}: {fix:#?}");
            continue;
        }
        assert_eq!(fix.verdict, Verdict::TooFew, "{fix:#?}");
        assert!(fix.position.is_none());
        let ellipse = fix.most_probable.unwrap().ellipse();
        // Long along the shore, which runs north and south.
        assert!(ellipse.major_axis.sin_cos().0.abs() < 0.1, "{ellipse:?}");
        let (long, short) = (ellipse.semi_major, ellipse.semi_minor);
        assert!(long.nautical_miles() > 6.0 && short.nautical_miles() < 0.6, "{ellipse:?}");
        assert!(fix.cautions.iter().any(|c| c.contains("across the shore only")), "{fix:#?}");
    }
    let free = of(&answers, Verdict::TooFew);
    hold("straight coast", &answers, &free);
    // One test alone can put them at odds: all that was measured against the reckoning, which
    // alarms once in a thousand whatever the coast.
    let odds = answers.len() - free.len();
    assert!(odds as u64 <= most(ALARM, answers.len()), "{odds}");
}

#[test]
fn with_contacts_beside_it_an_outline_fixes_as_well_as_it_says() {
    let answers = answers(&ragged(Coast::with_towers), true);
    for verdict in [Verdict::Fixed, Verdict::Ambiguous, Verdict::AtOdds, Verdict::TooFew] {
        let count = answers.iter().filter(|answer| answer.fix.verdict == verdict).count();
        println!("seed {SEED}, with contacts: {count} {verdict:?}");
    }
    let fixed = of(&answers, Verdict::Fixed);
    hold("with contacts", &answers, &fixed);
    assert!(fixed.len() as u64 >= TRIALS * 9 / 10, "{}", fixed.len());
}

#[test]
fn the_outline_of_the_sample_fixes() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
    let chart = Chart::sample().unwrap();
    let sightings = Sightings::read(&folder.join("outline.toml")).unwrap();
    let fix = fix(&chart, &sightings, &Options::default());
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    // The truth is the generator's, told in the sample's own README.
    let told = std::fs::read_to_string(folder.join("README.md")).unwrap();
    let line = told.lines().find(|line| line.contains("at the last outline")).unwrap();
    let truth: Position = line.split("Z: ").nth(1).unwrap().parse().unwrap();
    let found = squared(fix.position.unwrap(), fix.covariance.unwrap(), truth);
    assert!(found < 5.991, "{found}: {fix:#?}");
    assert!(fix.identities.is_empty() && fix.residuals.is_empty());
    let told = &fix.outlines[0];
    assert_eq!((told.outline.as_str(), told.used), ("K", true));
    assert!(told.effective < told.points as f64);
}

#[test]
fn an_outline_of_nothing_charted_is_not_fixed_by() {
    // A ring of rain ten miles off, all round the bow.
    let points: Vec<(f64, f64)> =
        (0..40).map(|i| (50.0 + 2.0 * f64::from(i), 10.0 + 0.3 * f64::from(i % 3))).collect();
    let coast = Coast::ragged(0);
    let at = moved(centre(), -60.0, 0.0);
    let fix = fix(&coast.chart, &sightings(&points, at), &Options::default());
    assert_eq!(fix.verdict, Verdict::AtOdds, "{fix:#?}");
    assert!(fix.position.is_none() && !fix.outlines[0].used);
    assert!(fix.unmatched[0].why.contains("no charted shore"), "{:?}", fix.unmatched);
}
