//! The radius against simulated faults, by linear algebra alone: what a fix is made of is drawn from
//! the very normal laws that it states, so that only the reckoning of the radius is on trial.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use rayon::prelude::*;

use super::*;
use crate::geodesy::Position;
use crate::identity::{Quantity, Row, Square, State};
use crate::units::Angle;

const NM: f64 = 1852.0;
const SEED: u64 = 20_310_402;
const RISK: f64 = 1e-3;
/// What is simulated: one echo in fifty wrong by any distance from half a mile to eight, each
/// doubling alike, whichever way; ranges good to 0.2 NM, bearings to 1° with 1.5° in common.
const FAULT: f64 = 0.02;
const RANGE_NM: f64 = 0.2;
const BEARING_DEG: f64 = 1.0;
const BIAS_DEG: f64 = 1.5;
const RECKONING_NM: f64 = 20.0;
const RANGE_BIAS_NM: f64 = 0.05;

fn normal(random: &mut ChaCha8Rng) -> f64 {
    random.sample(StandardNormal)
}

/// One simulated fix, its true place at nought.
struct Trial {
    solution: Solution,
    targets: Vec<Option<usize>>,
    faults: usize,
    /// East and north of the truth, metres.
    error: [f64; 2],
}

impl Trial {
    fn draw(index: u64, echoes: usize) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(SEED);
        random.set_stream(index * 16 + echoes as u64);
        let radians = |degrees: f64| Angle::from_degrees(degrees).radians();
        // Every state beforehand: what it is, and how uncertain.
        let mut sigmas = State::repeat(1e-3);
        (sigmas[0], sigmas[1]) = (RECKONING_NM * NM, RECKONING_NM * NM);
        (sigmas[2], sigmas[3]) = (radians(BIAS_DEG), RANGE_BIAS_NM * NM);
        let truth = State::from_fn(|state, _| sigmas[state] * normal(&mut random));
        let (mut rows, mut faults) = (Vec::new(), 0);
        let first = random.random_range(0.0..360.0);
        for sight in 0..echoes {
            let range = random.random_range(8.0..40.0) * NM;
            let (sin, cos) = radians(first + random.random_range(0.0..180.0)).sin_cos();
            let mut moved = [0.0; 2];
            if random.random_range(0.0..1.0) < FAULT {
                let far = 0.5 * NM * 16f64.powf(random.random_range(0.0..1.0));
                let (s, c) = radians(random.random_range(0.0..360.0)).sin_cos();
                (moved, faults) = ([far * s, far * c], faults + 1);
            }
            let mut along = State::zeros();
            (along[0], along[1], along[3]) = (-sin, -cos, 1.0);
            let mut across = State::zeros();
            (across[0], across[1], across[2]) = (-cos / range, sin / range, 1.0);
            let sigma = radians(BEARING_DEG);
            for (slope, sigma, quantity) in
                [(along, RANGE_NM * NM, Quantity::Range), (across, sigma, Quantity::Bearing)]
            {
                let by_mark = -slope[0] * moved[0] - slope[1] * moved[1];
                let measured = slope.dot(&truth) + by_mark + sigma * normal(&mut random);
                rows.push(Row {
                    sight,
                    quantity,
                    residual: measured,
                    variance: sigma * sigma,
                    slope,
                });
            }
        }
        let (solution, found) = solve(rows, sigmas);
        let error = [found[0] - truth[0], found[1] - truth[1]];
        Self { solution, targets: (0..echoes).map(Some).collect(), faults, error }
    }

    fn ways(&self, risk: f64) -> Ways {
        let mut ways = Ways::new(risk, None);
        let place = Place { off: [0.0; 2], chance: 1.0, here: true };
        ways.take(&[(&self.solution, &self.targets, place)]);
        ways
    }

    /// Whether the error is beyond the radius: where the chances still sum to more than the risk
    /// there. Most trials are settled by the first of them.
    fn is_beyond(&self, risk: f64) -> bool {
        let error = self.error[0].hypot(self.error[1]);
        let stated = self.solution.position_covariance();
        if stated.chance_beyond(error, [0.0; 2]) > risk {
            return false;
        }
        let ways = self.ways(risk);
        !ways.is_over(risk - ways.left_out(), error)
    }
}

/// Least squares of rows and a prior about nought: the residuals left, and the unknowns.
fn solve(mut rows: Vec<Row>, sigmas: State) -> (Solution, State) {
    let prior = State::from_fn(|state, _| sigmas[state].powi(-2));
    let mut information = Square::from_diagonal(&prior);
    let mut gradient = State::zeros();
    for row in &rows {
        information += row.slope * row.slope.transpose() / row.variance;
        gradient += row.slope * (row.residual / row.variance);
    }
    let covariance = information.cholesky().unwrap().inverse();
    let found = covariance * gradient;
    for row in &mut rows {
        row.residual -= row.slope.dot(&found);
    }
    let solution = Solution {
        position: Position::new(0.0, 0.0).unwrap(),
        state: State::zeros(),
        cost: 0.0,
        information,
        covariance,
        half_log_det: 0.0,
        prior_half_log_det: 0.0,
        rows,
        settled: true,
    };
    (solution, found)
}

fn trials() -> u64 {
    std::env::var("FORELAND_TRIALS").ok().and_then(|n| n.parse().ok()).unwrap_or(20_000)
}

/// A line for whoever runs the tests with `--nocapture`.
fn tell(line: &str) {
    use std::io::Write as _;
    let _ = writeln!(std::io::stderr(), "{line}");
}

#[test]
fn the_error_is_beyond_the_radius_no_more_often_than_stated() {
    let each = trials() / 5;
    let (mut beyond, mut drawn) = (0, 0);
    tell(&format!("seed {SEED}, {each} trials each, risk {RISK}"));
    for echoes in [3, 4, 5, 6, 8] {
        let found: Vec<(usize, bool)> = (0..each)
            .into_par_iter()
            .map(|index| Trial::draw(index, echoes))
            .map(|trial| (trial.faults, trial.is_beyond(RISK)))
            .collect();
        let rate = |faults: std::ops::Range<usize>| {
            let of: Vec<bool> =
                found.iter().filter(|(f, _)| faults.contains(f)).map(|(_, b)| *b).collect();
            of.iter().filter(|b| **b).count() as f64 / of.len().max(1) as f64
        };
        let mut radii: Vec<f64> = (0..400)
            .into_par_iter()
            .filter_map(|index| Trial::draw(index, echoes).ways(RISK).least_radius(RISK))
            .collect();
        radii.sort_by(f64::total_cmp);
        tell(&format!(
            "{echoes} echoes: beyond {:.1e} (no fault {:.1e}, one {:.1e}, more {:.1e}); median radius \
             {:.2} NM",
            rate(0..99),
            rate(0..1),
            rate(1..2),
            rate(2..99),
            radii.get(radii.len() / 2).map_or(f64::INFINITY, |r| r / NM)
        ));
        let count = found.iter().filter(|(_, b)| *b).count();
        assert!(count as f64 <= most(RISK * each as f64), "{echoes} echoes: {count} of {each}");
        (beyond, drawn) = (beyond + count, drawn + each);
    }
    tell(&format!("in all {beyond} of {drawn}"));
    assert!(beyond as f64 <= RISK * drawn as f64, "{beyond} of {drawn}");
    // A radius that is never exceeded is no use: not under one in a hundred thousand, where so many
    // are drawn that it would show.
    assert!(drawn < 200_000 || beyond as f64 >= 1e-5 * drawn as f64, "{beyond} of {drawn}");
}

/// What 999 repeats of 1,000 stay under where `mean` are expected (Poisson's law, roundly).
fn most(mean: f64) -> f64 {
    mean + 3.1 * mean.sqrt() + 1.0
}

#[test]
fn a_risk_so_small_that_several_wrong_at_once_exceed_it_needs_more_echoes() {
    // Both of two wrong come four times in ten thousand: then the reckoning is all there is.
    let radius = |echoes, risk| {
        let ways = Trial::draw(1, echoes).ways(risk);
        ways.least_radius(risk).unwrap_or(f64::INFINITY) / NM
    };
    assert!(radius(2, 1e-3) < 4.0, "{}", radius(2, 1e-3));
    assert!(radius(2, 1e-5) > RECKONING_NM, "{}", radius(2, 1e-5));
    assert!(radius(8, 1e-5) < 2.0, "{}", radius(8, 1e-5));
}

#[test]
fn sights_of_one_mark_are_no_check_on_each_other() {
    let mut trial = Trial::draw(2, 4);
    let apart = trial.ways(RISK).least_radius(RISK).unwrap();
    trial.targets = vec![Some(0); 4];
    let together = trial.ways(RISK).least_radius(RISK).unwrap();
    let mut shore = Ways::new(RISK, Some(0));
    let place = Place { off: [0.0; 2], chance: 1.0, here: true };
    shore.take(&[(&trial.solution, &trial.targets, place)]);
    // Of shore that is no mark each sight is its own.
    assert!((shore.least_radius(RISK).unwrap() - apart).abs() < 1.0);
    assert!(together > 10.0 * apart && together > 20.0 * NM, "{apart} {together}");
}

#[test]
fn the_radius_is_that_of_the_normal_law_where_nothing_is_wrong() {
    // A needle: two-sided normal, 3.2905 sigma exceeded once in a thousand (normal table).
    let mut ways = Ways::new(RISK, None);
    ways.push(Way {
        chance: 1.0,
        off: [0.0; 2],
        covariance: crate::geodesy::Covariance::from_square_metres(1e4, 0.0, 1e-2).unwrap(),
        cause: Cause::Errors,
    });
    assert!((ways.least_radius(RISK).unwrap() - 329.05).abs() < 0.02);
    ways.leave_out(RISK);
    assert!(ways.least_radius(RISK).is_none());
}
