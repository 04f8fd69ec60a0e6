use super::rows::rows_from;
use super::{
    ACROSS, ALONG, BEARING_BIAS, Factor, HEIGHT, LEAST_SIGMA, RANGE_BIAS, Row, SHIFT_EAST,
    SHIFT_NORTH, STATES, Square, State,
};
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::identity::problem::{Answering, Problem};
use crate::units::Angle;

/// Own position is never taken to be known better than to a metre before any contact.
const LEAST_PRIOR_M: f64 = 1.0;

/// The normal equations of one set of identities at one place.
pub(super) struct Normal {
    pub information: Square,
    pub gradient: State,
    pub cost: f64,
    pub rows: Vec<Row>,
}

impl Normal {
    /// Of the information the lower half alone: see [`Normal::complete`].
    fn take(&mut self, row: &Row) {
        let weight = 1.0 / row.variance;
        // Most slopes of a row are nought.
        let mut known = [(0, 0.0); STATES];
        let mut count = 0;
        for (index, slope) in row.slope.iter().enumerate().filter(|(_, slope)| **slope != 0.0) {
            known[count] = (index, *slope);
            count += 1;
        }
        let known = &known[..count];
        for (number, &(index, slope)) in known.iter().enumerate() {
            let weighed = weight * slope;
            for &(other, by_other) in &known[..=number] {
                self.information[(index, other)] += weighed * by_other;
            }
            self.gradient[index] += weighed * row.residual;
        }
        self.cost += row.residual * row.residual * weight;
    }

    /// Mirrors what the rows brought.
    fn complete(&mut self) {
        self.information.fill_upper_triangle_with_lower_triangle();
    }

    /// The step to the least cost with the diagonal raised by a share; none where it is singular.
    pub fn step(&self, damping: f64) -> Option<State> {
        let mut damped = self.information;
        for i in 0..STATES {
            damped[(i, i)] *= 1.0 + damping;
        }
        Some(Factor::of(&damped)?.solve(&self.gradient))
    }

    /// Takes a step on the straight line: residuals and cost follow their slopes.
    pub fn go_straight(&mut self, step: &State) {
        let by_step = self.information * step;
        self.cost -= 2.0 * step.dot(&self.gradient) - step.dot(&by_step);
        self.gradient -= by_step;
        for row in &mut self.rows {
            row.residual -= row.slope.dot(step);
        }
    }
}

pub(super) fn normal(
    problem: &Problem,
    answering: &dyn Answering,
    targets: &[Option<usize>],
    position: Position,
    state: &State,
    reckoning: bool,
) -> Normal {
    let plane = LocalPlane::new(position);
    let rows = rows_from(problem, answering, targets, &plane, state);
    let mut sum = Normal {
        information: Square::zeros(),
        gradient: State::zeros(),
        cost: 0.0,
        rows: Vec::new(),
    };
    for row in &rows {
        sum.take(row);
    }
    sum.complete();
    sum.rows = rows;
    for (index, sigma) in shared_sigmas(problem) {
        let weight = 1.0 / (sigma * sigma);
        sum.information[(index, index)] += weight;
        sum.gradient[index] -= weight * state[index];
        sum.cost += weight * state[index] * state[index];
    }
    if reckoning {
        take_reckoning(problem, &plane, state, &mut sum);
    }
    sum
}

/// Half the logarithm of the determinant of what is known beforehand. Turning the reckoning's axes
/// changes nothing of it.
pub(super) fn prior_half_log_det(problem: &Problem, reckoning: bool) -> f64 {
    let shared: f64 = shared_sigmas(problem).iter().map(|(_, sigma)| sigma.ln()).sum();
    let position = if reckoning {
        let [ee, en, nn] = known_axes(problem, 0.0);
        0.5 * (ee * nn - en * en).ln()
    } else {
        0.0
    };
    -shared - position
}

fn shared_sigmas(problem: &Problem) -> [(usize, f64); 7] {
    let shared = &problem.shared;
    [
        (BEARING_BIAS, shared.bearing_bias_sigma),
        (RANGE_BIAS, shared.range_bias_sigma),
        (ALONG, problem.prior.along_sigma),
        (ACROSS, problem.prior.across_sigma),
        (SHIFT_EAST, shared.chart_shift_sigma),
        (SHIFT_NORTH, shared.chart_shift_sigma),
        (HEIGHT, shared.own_height_sigma),
    ]
    .map(|(index, sigma)| (index, sigma.max(LEAST_SIGMA)))
}

/// The reckoning's own position as two measurements, the error of the run since taken out.
fn take_reckoning(problem: &Problem, plane: &LocalPlane, state: &State, sum: &mut Normal) {
    let prior = &problem.prior;
    let reckoned = plane.to_plane(prior.position);
    let [ee, en, nn] = reckoning_axes(problem, plane.centre(), reckoned);
    let determinant = ee * nn - en * en;
    let [iee, ien, inn] = [nn / determinant, -en / determinant, ee / determinant];
    let (sin, cos) = prior.track.sin_cos();
    let t = prior.elapsed_s;
    // Position less reckoning, less the run's error, should be nothing.
    let residual = [
        reckoned.east + t * (sin * state[ALONG] + cos * state[ACROSS]),
        reckoned.north + t * (cos * state[ALONG] - sin * state[ACROSS]),
    ];
    // The states that these two depend on, and how; they depend on no other.
    let slopes =
        [(0, 1.0, 0.0), (1, 0.0, 1.0), (ALONG, -t * sin, -t * cos), (ACROSS, -t * cos, t * sin)];
    let pull = [iee * residual[0] + ien * residual[1], ien * residual[0] + inn * residual[1]];
    for (index, east, north) in slopes {
        let (by_east, by_north) = (iee * east + ien * north, ien * east + inn * north);
        for (other, other_east, other_north) in slopes {
            sum.information[(index, other)] += by_east * other_east + by_north * other_north;
        }
        sum.gradient[index] += east * pull[0] + north * pull[1];
    }
    sum.cost += iee * residual[0] * residual[0]
        + 2.0 * ien * residual[0] * residual[1]
        + inn * residual[1] * residual[1];
}

/// The reckoning's covariance, its axes turned to true north at `position`, which sees the reckoning
/// at `reckoned`.
fn reckoning_axes(problem: &Problem, position: Position, reckoned: PlanePoint) -> [f64; 3] {
    let [ee, en, nn] = problem.prior.covariance.square_metres();
    let is_round = (ee - nn).abs() + en.abs() <= 1e-9 * ee;
    let turn = if is_round { 0.0 } else { turn_since(problem.prior.position, position, reckoned) };
    known_axes(problem, turn)
}

/// The reckoning's covariance in axes turned by so much.
fn known_axes(problem: &Problem, turn: f64) -> [f64; 3] {
    let [ee, en, nn] = problem.prior.covariance.square_metres();
    let (sin, cos) = turn.sin_cos();
    // A direction of azimuth A at the reckoning has azimuth A + turn here.
    let (e1, n1) = (cos, -sin);
    let (e2, n2) = (sin, cos);
    let least = LEAST_PRIOR_M * LEAST_PRIOR_M;
    [
        ee * e1 * e1 + 2.0 * en * e1 * e2 + nn * e2 * e2 + least,
        ee * e1 * n1 + en * (e1 * n2 + e2 * n1) + nn * e2 * n2,
        ee * n1 * n1 + 2.0 * en * n1 * n2 + nn * n2 * n2 + least,
    ]
}

/// How much greater the azimuth of one and the same direction is at `to` than at `from`, which `to`
/// sees at `back`.
fn turn_since(from: Position, to: Position, back: PlanePoint) -> f64 {
    let out = LocalPlane::new(from).to_plane(to);
    if out.east.hypot(out.north) < 1.0 {
        return 0.0;
    }
    let leaving = out.east.atan2(out.north);
    let arriving = (-back.east).atan2(-back.north);
    Angle::from_radians(arriving - leaving).radians()
}
