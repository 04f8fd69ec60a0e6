mod normal;
mod rows;
mod traced;

use nalgebra::{SMatrix, SVector};

use self::normal::{Normal, normal, prior_half_log_det};
pub(crate) use self::rows::{Quantity, Row, rows};
use super::problem::{Answering, Problem};
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position};

/// East, north, bearing bias, range bias, speed error along and across the track, chart shift
/// east and north, error of own height.
pub(crate) const STATES: usize = 9;
const BEARING_BIAS: usize = 2;
const RANGE_BIAS: usize = 3;
const ALONG: usize = 4;
const ACROSS: usize = 5;
const SHIFT_EAST: usize = 6;
const SHIFT_NORTH: usize = 7;
const HEIGHT: usize = 8;

pub(crate) type State = SVector<f64, STATES>;
pub(crate) type Square = SMatrix<f64, STATES, STATES>;

/// No error is taken to be smaller than this share of its unit: it keeps the algebra sound.
const LEAST_SIGMA: f64 = 1e-6;
/// Steps of a search to the end, and of one that only has to tell likely sets from unlikely ones:
/// from a proposal's own place the second step is of a metre.
pub(crate) const STEPS: usize = 30;
pub(crate) const ROUGH_STEPS: usize = 2;
/// Steps of a full solution in the search: what answers moves a little with own place, so that the
/// last metres would take as many again.
pub(crate) const SEARCH_STEPS: usize = 6;
/// A step under a tenth of a metre ends the search.
const STILL_M: f64 = 0.1;

/// A least-squares position for one set of identities.
#[derive(Debug, Clone)]
pub(crate) struct Solution {
    /// Where, at the common time.
    pub position: Position,
    /// The nuisance states; its first two entries are zero.
    pub state: State,
    /// Sum of squared standardised residuals, the priors' included.
    pub cost: f64,
    /// The normal matrix.
    pub information: Square,
    /// Its inverse.
    pub covariance: Square,
    /// Half the logarithm of the normal matrix's determinant.
    pub half_log_det: f64,
    /// Logarithm of the prior density's scale: half log det of the prior information.
    pub prior_half_log_det: f64,
    /// What was measured against what is expected here.
    pub rows: Vec<Row>,
}

impl Solution {
    /// East and north error of the position.
    pub fn position_covariance(&self) -> Covariance {
        covariance_of(&self.covariance)
    }

    /// Logarithm of the probability density of what was measured, given these identities: Laplace's
    /// approximation, exact where the problem is linear.
    pub fn log_evidence(&self) -> f64 {
        let normalisers: f64 =
            self.rows.iter().map(|row| 0.5 * (std::f64::consts::TAU * row.variance).ln()).sum();
        self.prior_half_log_det - self.half_log_det - 0.5 * self.cost - normalisers
    }

    /// The shared bearing error, measured less true, and its sigma, in radians.
    pub fn bearing_bias(&self) -> (f64, f64) {
        let variance = self.covariance[(BEARING_BIAS, BEARING_BIAS)];
        (self.state[BEARING_BIAS], variance.max(0.0).sqrt())
    }
}

/// The position block of a covariance of all states.
pub(crate) fn covariance_of(full: &Square) -> Covariance {
    let (ee, en, nn) = (full[(0, 0)].max(0.0), full[(0, 1)], full[(1, 1)].max(0.0));
    let limit = (ee * nn).sqrt();
    Covariance::from_square_metres(ee, en.clamp(-limit, limit), nn).unwrap_or_default()
}

/// The most probable position and shared errors for these identities, from one starting place.
///
/// Gauss-Newton with Levenberg damping over east, north, a bias of all bearings, one of all ranges,
/// the error of track and speed, the shift of the whole chart and the error of own height; a new
/// local plane at each estimate, so that distances and directions from it are those of the
/// ellipsoid. `reckoning` false leaves out what is known of the position beforehand, and the priors
/// of the shared errors stay. None where nothing holds the position in some direction.
pub(crate) fn solve(
    problem: &Problem,
    answering: &dyn Answering,
    targets: &[Option<usize>],
    start: Position,
    start_bias: f64,
    reckoning: bool,
) -> Option<Solution> {
    solve_within(problem, answering, targets, start, start_bias, reckoning, STEPS)
}

/// [`solve`] in no more than so many steps.
pub(crate) fn solve_within(
    problem: &Problem,
    answering: &dyn Answering,
    targets: &[Option<usize>],
    start: Position,
    start_bias: f64,
    reckoning: bool,
    steps: usize,
) -> Option<Solution> {
    let mut position = start;
    let mut state = State::zeros();
    state[BEARING_BIAS] = start_bias;
    let mut current = normal(problem, answering, targets, position, &state, reckoning);
    let mut damping = 1e-3;
    for _ in 0..steps {
        let mut damped = current.information;
        for i in 0..STATES {
            damped[(i, i)] *= 1.0 + damping;
        }
        let Some(step) = damped.cholesky().map(|c| c.solve(&current.gradient)) else {
            damping *= 10.0;
            if damping > 1e9 {
                return None;
            }
            continue;
        };
        let there = PlanePoint { east: step[0], north: step[1] };
        let tried = LocalPlane::new(position).to_position(there);
        let mut tried_state = state + step;
        tried_state[0] = 0.0;
        tried_state[1] = 0.0;
        let next = normal(problem, answering, targets, tried, &tried_state, reckoning);
        let moved = step[0].hypot(step[1]);
        if next.cost.is_finite() && next.cost <= current.cost + 1e-9 {
            (position, state, current) = (tried, tried_state, next);
            damping = (damping * 0.1).max(1e-12);
            if moved < STILL_M && step[BEARING_BIAS].abs() < 1e-7 {
                break;
            }
        } else {
            damping *= 10.0;
            if moved < STILL_M || damping > 1e9 {
                break;
            }
        }
    }
    let prior_half_log_det = prior_half_log_det(problem, reckoning);
    finish(position, state, current, prior_half_log_det)
}

fn finish(
    position: Position,
    state: State,
    normal: Normal,
    prior_half_log_det: f64,
) -> Option<Solution> {
    let factor = normal.information.cholesky()?;
    let half_log_det: f64 = factor.l_dirty().diagonal().iter().map(|d| d.ln()).sum();
    let covariance = factor.inverse();
    let sound = half_log_det.is_finite()
        && normal.cost.is_finite()
        && covariance.iter().all(|v| v.is_finite())
        // A variance beyond half the Earth is no position.
        && covariance[(0, 0)].max(covariance[(1, 1)]) < 4e13;
    sound.then_some(Solution {
        position,
        state,
        cost: normal.cost,
        information: normal.information,
        covariance,
        half_log_det,
        prior_half_log_det,
        rows: normal.rows,
    })
}
#[cfg(test)]
mod tests;
