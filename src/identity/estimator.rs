use nalgebra::{SMatrix, SVector};

use super::problem::{Answering, Problem, RatioReading};
use super::slant::slant;
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position};
use crate::radar::geometry;
use crate::units::Angle;

/// East, north, bearing bias, range bias, speed error along and across the track, chart shift
/// east and north.
pub(crate) const STATES: usize = 8;
const BEARING_BIAS: usize = 2;
const RANGE_BIAS: usize = 3;
const ALONG: usize = 4;
const ACROSS: usize = 5;
const SHIFT_EAST: usize = 6;
const SHIFT_NORTH: usize = 7;

pub(crate) type State = SVector<f64, STATES>;
pub(crate) type Square = SMatrix<f64, STATES, STATES>;

/// No error is taken to be smaller than this share of its unit: it keeps the algebra sound.
const LEAST_SIGMA: f64 = 1e-6;
/// Own position is never taken to be known better than to a metre before any contact.
const LEAST_PRIOR_M: f64 = 1.0;
/// Nearer than this the direction of a mark means nothing.
const LEAST_GROUND_M: f64 = 1.0;
const STEPS: usize = 30;
/// A step under a tenth of a metre ends the search.
const STILL_M: f64 = 0.1;

/// What a row measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Quantity {
    /// Metres.
    Range,
    /// Radians.
    Bearing,
    /// Of two deflections, decibels.
    Ratio,
}

/// One measured number against what was expected, ready for the normal equations.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row {
    /// Index of the sight.
    pub sight: usize,
    /// What was measured, and in which unit the numbers are.
    pub quantity: Quantity,
    /// Measured less expected.
    pub residual: f64,
    /// Variance of the measurement, the mark's own error included.
    pub variance: f64,
    /// Derivative of the expected value by each state.
    pub slope: State,
}

impl Row {
    /// Whether it is a direction: a bearing, or a ratio that tells one.
    pub fn is_direction(&self) -> bool {
        self.quantity != Quantity::Range
    }

    /// The residual as an angle in radians: of a ratio, by the slope of its curve here; none where
    /// that is flat, and for a range.
    pub fn as_angle(&self) -> Option<f64> {
        // Every direction reads as much higher as the bias that all bearings share.
        let slope = self.slope[BEARING_BIAS];
        (self.is_direction() && slope != 0.0).then(|| self.residual / slope)
    }

    /// How far off what it was measured on lies, in metres, by how fast own motion changes a
    /// direction; none for a range.
    pub fn distance_of_direction(&self) -> Option<f64> {
        let by_own = self.slope[0].hypot(self.slope[1]).max(1e-12);
        self.is_direction().then(|| self.slope[BEARING_BIAS].abs() / by_own)
    }
}

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
/// the error of track and speed, and the shift of the whole chart; a new local plane at each
/// estimate, so that distances and directions from it are those of the ellipsoid. `reckoning`
/// false leaves out what is known of the position beforehand, and the priors of the shared errors
/// stay. None where nothing holds the position in some direction.
pub(crate) fn solve(
    problem: &Problem,
    answering: &dyn Answering,
    targets: &[Option<usize>],
    start: Position,
    start_bias: f64,
    reckoning: bool,
) -> Option<Solution> {
    let mut position = start;
    let mut state = State::zeros();
    state[BEARING_BIAS] = start_bias;
    let mut current = normal(problem, answering, targets, position, &state, reckoning);
    let mut damping = 1e-3;
    for _ in 0..STEPS {
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
    finish(position, state, current)
}

fn finish(position: Position, state: State, normal: Normal) -> Option<Solution> {
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
        prior_half_log_det: normal.prior_half_log_det,
        rows: normal.rows,
    })
}

struct Normal {
    information: Square,
    gradient: State,
    cost: f64,
    prior_half_log_det: f64,
    rows: Vec<Row>,
}

impl Normal {
    fn take(&mut self, slope: &State, residual: f64, variance: f64) {
        let weight = 1.0 / variance;
        self.information += slope * slope.transpose() * weight;
        self.gradient += slope * (residual * weight);
        self.cost += residual * residual * weight;
    }
}

fn normal(
    problem: &Problem,
    answering: &dyn Answering,
    targets: &[Option<usize>],
    position: Position,
    state: &State,
    reckoning: bool,
) -> Normal {
    let rows = rows(problem, answering, targets, position, state);
    let mut sum = Normal {
        information: Square::zeros(),
        gradient: State::zeros(),
        cost: 0.0,
        prior_half_log_det: 0.0,
        rows: Vec::new(),
    };
    for row in &rows {
        sum.take(&row.slope, row.residual, row.variance);
    }
    sum.rows = rows;
    for (index, sigma) in shared_sigmas(problem) {
        let mut slope = State::zeros();
        slope[index] = 1.0;
        sum.take(&slope, -state[index], sigma * sigma);
        sum.prior_half_log_det -= sigma.ln();
    }
    if reckoning {
        take_reckoning(problem, position, state, &mut sum);
    }
    sum
}

fn shared_sigmas(problem: &Problem) -> [(usize, f64); 6] {
    let shared = &problem.shared;
    [
        (BEARING_BIAS, shared.bearing_bias_sigma),
        (RANGE_BIAS, shared.range_bias_sigma),
        (ALONG, problem.prior.along_sigma),
        (ACROSS, problem.prior.across_sigma),
        (SHIFT_EAST, shared.chart_shift_sigma),
        (SHIFT_NORTH, shared.chart_shift_sigma),
    ]
    .map(|(index, sigma)| (index, sigma.max(LEAST_SIGMA)))
}

/// The reckoning's own position as two measurements, the error of the run since taken out.
fn take_reckoning(problem: &Problem, position: Position, state: &State, sum: &mut Normal) {
    let prior = &problem.prior;
    let [ee, en, nn] = reckoning_axes(problem, position);
    let determinant = ee * nn - en * en;
    let [iee, ien, inn] = [nn / determinant, -en / determinant, ee / determinant];
    let reckoned = LocalPlane::new(position).to_plane(prior.position);
    let (sin, cos) = prior.track.sin_cos();
    let t = prior.elapsed_s;
    // Position less reckoning, less the run's error, should be nothing.
    let residual = [
        reckoned.east + t * (sin * state[ALONG] + cos * state[ACROSS]),
        reckoned.north + t * (cos * state[ALONG] - sin * state[ACROSS]),
    ];
    let (mut east, mut north) = (State::zeros(), State::zeros());
    (east[0], east[ALONG], east[ACROSS]) = (1.0, -t * sin, -t * cos);
    (north[1], north[ALONG], north[ACROSS]) = (1.0, -t * cos, t * sin);
    sum.information += east * east.transpose() * iee
        + (east * north.transpose() + north * east.transpose()) * ien
        + north * north.transpose() * inn;
    sum.gradient += east * (iee * residual[0] + ien * residual[1])
        + north * (ien * residual[0] + inn * residual[1]);
    sum.cost += iee * residual[0] * residual[0]
        + 2.0 * ien * residual[0] * residual[1]
        + inn * residual[1] * residual[1];
    sum.prior_half_log_det -= 0.5 * determinant.ln();
}

/// The reckoning's covariance, its axes turned to true north at `position`.
fn reckoning_axes(problem: &Problem, position: Position) -> [f64; 3] {
    let prior = &problem.prior;
    let [ee, en, nn] = prior.covariance.square_metres();
    let turn = turn_between(prior.position, position);
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

/// How much greater the azimuth of one and the same direction is at `to` than at `from`.
fn turn_between(from: Position, to: Position) -> f64 {
    let out = LocalPlane::new(from).to_plane(to);
    let back = LocalPlane::new(to).to_plane(from);
    if out.east.hypot(out.north) < 1.0 {
        return 0.0;
    }
    let leaving = out.east.atan2(out.north);
    let arriving = (-back.east).atan2(-back.north);
    Angle::from_radians(arriving - leaving).radians()
}

/// What each matched sight measured against what is expected from one place.
pub(crate) fn rows(
    problem: &Problem,
    answering: &dyn Answering,
    targets: &[Option<usize>],
    position: Position,
    state: &State,
) -> Vec<Row> {
    let plane = LocalPlane::new(position);
    let mut rows = Vec::with_capacity(2 * targets.len());
    for (sight, target) in targets.iter().enumerate() {
        let Some(candidate) = *target else { continue };
        let Some(seen) = line_to(problem, answering, &plane, sight, candidate, state) else {
            continue;
        };
        let Some(measured) = problem.sights.get(sight) else { continue };
        if let Some(range) = measured.range {
            rows.push(seen.range_row(sight, range.value, range.sigma, state));
        }
        if let Some(bearing) = measured.bearing {
            rows.push(seen.bearing_row(sight, bearing.value, bearing.sigma, state));
        }
        if let Some(ratio) = &measured.ratio {
            rows.push(seen.ratio_row(sight, ratio, state));
        }
    }
    rows
}

/// A candidate as seen from own place at the moment of one sight.
struct Line {
    /// Metres east and north from own place to where the echo begins.
    to: PlanePoint,
    /// And to what the bearing was taken of.
    aim: PlanePoint,
    range_by: Option<[f64; 2]>,
    ground: f64,
    slant: f64,
    slant_slope: f64,
    sigma: f64,
    face: f64,
    depth: f64,
    /// Own height over the mark's, metres.
    drop: f64,
    elapsed: f64,
    track: (f64, f64),
}

fn line_to(
    problem: &Problem,
    answering: &dyn Answering,
    plane: &LocalPlane,
    sight: usize,
    candidate: usize,
    state: &State,
) -> Option<Line> {
    let measured = problem.sights.get(sight)?;
    let mark = problem.candidates.get(candidate)?;
    let t = measured.elapsed_s;
    let (sin, cos) = problem.prior.track.sin_cos();
    let back = PlanePoint {
        east: measured.run.east + t * (sin * state[ALONG] + cos * state[ACROSS]),
        north: measured.run.north + t * (cos * state[ALONG] - sin * state[ACROSS]),
    };
    let there = if t == 0.0 {
        plane.centre()
    } else {
        plane.to_position(PlanePoint { east: -back.east, north: -back.north })
    };
    let answer = answering.point(sight, candidate, there, state[BEARING_BIAS]);
    let from_then = |place: Position| {
        let at = plane.to_plane(place);
        PlanePoint {
            east: at.east + back.east + state[SHIFT_EAST],
            north: at.north + back.north + state[SHIFT_NORTH],
        }
    };
    let to = from_then(answer.map_or(mark.position, |a| a.position));
    let ground = to.east.hypot(to.north).max(LEAST_GROUND_M);
    let (slant, slant_slope) = slant(ground, problem.own_height_m, mark.height_m);
    Some(Line {
        to,
        aim: answer.map_or(to, |a| from_then(a.aim)),
        range_by: answer.and_then(|a| a.range_by),
        ground,
        slant,
        slant_slope,
        sigma: mark.sigma_m,
        face: answer.map_or(0.0, |a| a.face_m),
        depth: answer.map_or(0.0, |a| a.depth_m),
        drop: problem.own_height_m - mark.height_m,
        elapsed: t,
        track: (sin, cos),
    })
}

impl Line {
    /// The derivative by every state of something with this derivative by the mark's place.
    fn slope(&self, by_east: f64, by_north: f64) -> State {
        let (sin, cos) = self.track;
        let mut slope = State::zeros();
        slope[0] = -by_east;
        slope[1] = -by_north;
        slope[ALONG] = self.elapsed * (by_east * sin + by_north * cos);
        slope[ACROSS] = self.elapsed * (by_east * cos - by_north * sin);
        slope[SHIFT_EAST] = by_east;
        slope[SHIFT_NORTH] = by_north;
        slope
    }

    fn range_row(&self, sight: usize, measured: f64, sigma: f64, state: &State) -> Row {
        let (east, north) = (self.to.east / self.ground, self.to.north / self.ground);
        let [by_east, by_north] = self.range_by.unwrap_or([-east, -north]);
        let mut slope = self.slope(-self.slant_slope * by_east, -self.slant_slope * by_north);
        slope[RANGE_BIAS] = 1.0;
        // A beam that turns slides along a slanting shore just as one that is shifted does.
        slope[BEARING_BIAS] = -self.slant_slope * self.ground * (by_east * north - by_north * east);
        let sigma = sigma.max(LEAST_SIGMA);
        Row {
            sight,
            quantity: Quantity::Range,
            residual: measured - self.slant - state[RANGE_BIAS],
            variance: sigma * sigma + (self.sigma.hypot(self.depth) * self.slant_slope).powi(2),
            slope,
        }
    }

    fn bearing_row(&self, sight: usize, measured: f64, sigma: f64, state: &State) -> Row {
        let ground = self.aim.east.hypot(self.aim.north).max(LEAST_GROUND_M);
        let squared = ground * ground;
        let mut slope = self.slope(self.aim.north / squared, -self.aim.east / squared);
        slope[BEARING_BIAS] = 1.0;
        let expected = self.aim.east.atan2(self.aim.north) + state[BEARING_BIAS];
        let sigma = sigma.max(LEAST_SIGMA);
        Row {
            sight,
            quantity: Quantity::Bearing,
            residual: Angle::from_radians(measured - expected).radians(),
            variance: sigma * sigma + (self.sigma.hypot(self.face) / ground).powi(2),
            slope,
        }
    }

    /// The ratio as it was read, against the curve at the bearing and depression expected: not
    /// turned to a bearing first, so that its error is that of the reading wherever the curve goes.
    fn ratio_row(&self, sight: usize, measured: &RatioReading, state: &State) -> Row {
        let (east, north) = (self.aim.east, self.aim.north);
        let ground = east.hypot(north).max(LEAST_GROUND_M);
        let (down, down_by) = geometry::depression_of(self.drop, ground);
        let told = measured.at(east.atan2(north) + state[BEARING_BIAS], down);
        let (along, across) = (told.by_depression * down_by, told.by_relative / ground);
        let mut slope = self.slope(
            (along * east + across * north) / ground,
            (along * north - across * east) / ground,
        );
        slope[BEARING_BIAS] = told.by_relative;
        let sigma = measured.lobes.ratio_sigma_db.max(LEAST_SIGMA);
        let aside = across * self.sigma.hypot(self.face);
        Row {
            sight,
            quantity: Quantity::Ratio,
            residual: measured.db - told.db,
            variance: sigma * sigma + aside * aside,
            slope,
        }
    }
}

#[cfg(test)]
mod tests;
