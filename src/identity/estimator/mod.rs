mod carried;
mod factor;
mod normal;
mod rows;
mod traced;

use nalgebra::{SMatrix, SVector};

use self::carried::Carried;
pub(crate) use self::factor::Factor;
use self::normal::{Normal, normal, prior_half_log_det};
pub(crate) use self::rows::{Quantity, Row, rows};
use super::problem::{Answering, Problem, Sight};
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

/// How far a search for the most probable place is carried.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Effort {
    /// Steps at most.
    steps: u32,
    /// A step that would lower the cost by less than this is taken along the straight line, and is
    /// the last. The cost is in squared sigmas.
    still: f64,
}

impl Effort {
    /// To the end.
    pub const THOROUGH: Self = Self { steps: 30, still: 1e-9 };
    /// What tells one set from another to a hundredth of a nat.
    pub const SEARCH: Self = Self { steps: 6, still: 0.01 };
    /// What brings a start that is miles off into its hollow.
    pub const BEGUN: Self = Self { steps: 4, still: 0.05 };
    /// What tells likely sets from unlikely ones: a proposal's own place is a step or two off.
    pub const ROUGH: Self = Self { steps: 2, still: 0.05 };
}

/// Levenberg damping to begin with, and where a search is given up.
const DAMPING: f64 = 1e-3;
const MOST_DAMPING: f64 = 1e9;
/// A step under a tenth of a metre that makes nothing better ends the search.
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
    /// Whether the search came to rest before its steps were used up.
    pub settled: bool,
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

    /// Own run from the moment of a sight to the common time, as it is known here, in the axes of own place.
    pub fn run_since(&self, measured: &Sight, track: f64) -> PlanePoint {
        Carried::new(measured, self.position, track.sin_cos(), &self.state).back()
    }

    /// The shared range error, measured less true, metres.
    pub fn range_bias(&self) -> f64 {
        self.state[RANGE_BIAS]
    }

    /// The error of a place plotted from here, but for that of its own reading: of own place, and of the bearing
    /// bias, the range bias and the run since, all of which own place shares.
    ///
    /// - `out`: from own place when it was measured to what was plotted, in the axes of own place here.
    pub fn plotted_covariance(
        &self,
        (elapsed_s, track): (f64, f64),
        out: PlanePoint,
    ) -> Covariance {
        let along = out.east.hypot(out.north).max(1.0);
        let (sin, cos) = track.sin_cos();
        let mut by = SMatrix::<f64, 2, STATES>::zeros();
        (by[(0, 0)], by[(1, 1)]) = (1.0, 1.0);
        (by[(0, BEARING_BIAS)], by[(1, BEARING_BIAS)]) = (-out.north, out.east);
        (by[(0, RANGE_BIAS)], by[(1, RANGE_BIAS)]) = (-out.east / along, -out.north / along);
        (by[(0, ALONG)], by[(1, ALONG)]) = (-elapsed_s * sin, -elapsed_s * cos);
        (by[(0, ACROSS)], by[(1, ACROSS)]) = (-elapsed_s * cos, elapsed_s * sin);
        let error = by * self.covariance * by.transpose();
        Covariance::nearest(error[(0, 0)], error[(0, 1)], error[(1, 1)])
            .unwrap_or_else(Covariance::unknown)
    }

    /// The shared bearing error, measured less true, and its sigma, in radians.
    pub fn bearing_bias(&self) -> (f64, f64) {
        let variance = self.covariance[(BEARING_BIAS, BEARING_BIAS)];
        (self.state[BEARING_BIAS], variance.max(0.0).sqrt())
    }
}

/// The position block of a covariance of all states.
pub(crate) fn covariance_of(full: &Square) -> Covariance {
    Covariance::nearest(full[(0, 0)], full[(0, 1)], full[(1, 1)])
        .unwrap_or_else(Covariance::unknown)
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
    solve_within(problem, answering, targets, start, start_bias, reckoning, Effort::THOROUGH)
}

/// [`solve`] with no more than so much effort.
pub(crate) fn solve_within(
    problem: &Problem,
    answering: &dyn Answering,
    targets: &[Option<usize>],
    start: Position,
    start_bias: f64,
    reckoning: bool,
    effort: Effort,
) -> Option<Solution> {
    let mut position = start;
    let mut state = State::zeros();
    state[BEARING_BIAS] = start_bias;
    let mut current = normal(problem, answering, targets, position, &state, reckoning);
    let mut damping = DAMPING;
    let mut settled = false;
    for _ in 0..=effort.steps {
        let Some(step) = current.step(damping) else {
            damping *= 10.0;
            if damping > MOST_DAMPING {
                return None;
            }
            continue;
        };
        let there = PlanePoint { east: step[0], north: step[1] };
        let tried = LocalPlane::new(position).to_position(there);
        let mut tried_state = state + step;
        tried_state[0] = 0.0;
        tried_state[1] = 0.0;
        if damping <= DAMPING && step.dot(&current.gradient) < effort.still {
            current.go_straight(&step);
            (position, state, settled) = (tried, tried_state, true);
            break;
        }
        let next = normal(problem, answering, targets, tried, &tried_state, reckoning);
        if next.cost.is_finite() && next.cost <= current.cost + 1e-9 {
            (position, state, current) = (tried, tried_state, next);
            damping = (damping * 0.1).max(1e-12);
        } else {
            damping *= 10.0;
            settled = step[0].hypot(step[1]) < STILL_M || damping > MOST_DAMPING;
            if settled {
                break;
            }
        }
    }
    let prior_half_log_det = prior_half_log_det(problem, reckoning);
    Some(Solution { settled, ..finish(position, state, current, prior_half_log_det)? })
}

fn finish(
    position: Position,
    state: State,
    normal: Normal,
    prior_half_log_det: f64,
) -> Option<Solution> {
    let factor = Factor::of(&normal.information)?;
    let half_log_det = factor.half_log_det();
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
        settled: false,
    })
}

#[cfg(test)]
mod tests;
