use super::carried::Carried;
use super::traced;
use super::{BEARING_BIAS, HEIGHT, LEAST_SIGMA, RANGE_BIAS, SHIFT_EAST, SHIFT_NORTH, State};
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::identity::problem::{Answering, Problem, RatioReading, Reading, Sight};
use crate::identity::slant::{Slant, slant};
use crate::radar::geometry;
use crate::units::Angle;

/// Nearer than this the direction of a mark means nothing.
const LEAST_GROUND_M: f64 = 1.0;

/// What a row measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Quantity {
    /// Metres.
    Range,
    /// Radians.
    Bearing,
    /// Of two deflections, decibels.
    Ratio,
    /// A sum of place and biases that a traced outline tells, metres.
    Outline,
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
        matches!(self.quantity, Quantity::Bearing | Quantity::Ratio)
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

/// What each matched sight measured against what is expected from one place.
pub(crate) fn rows(
    problem: &Problem,
    answering: &dyn Answering,
    targets: &[Option<usize>],
    position: Position,
    state: &State,
) -> Vec<Row> {
    rows_from(problem, answering, targets, &LocalPlane::new(position), state)
}

/// The same from the middle of a plane.
pub(super) fn rows_from(
    problem: &Problem,
    answering: &dyn Answering,
    targets: &[Option<usize>],
    plane: &LocalPlane,
    state: &State,
) -> Vec<Row> {
    let mut rows = Vec::with_capacity(2 * targets.len());
    for (sight, target) in targets.iter().enumerate() {
        let Some(candidate) = *target else { continue };
        if traced::take(problem, plane, (sight, candidate), state, &mut rows) {
            continue;
        }
        let Some(seen) = line_to(problem, answering, plane, sight, candidate, state) else {
            continue;
        };
        let Some(measured) = problem.sights.get(sight) else { continue };
        if let Some(range) = measured.range {
            rows.push(seen.range_row(sight, range.value, range.sigma, state));
        }
        let Some(aim) = seen.aim else { continue };
        if let Some(bearing) = measured.bearing {
            rows.push(seen.bearing_row(aim, sight, bearing, state));
        }
        if let Some(ratio) = &measured.ratio {
            rows.push(seen.ratio_row(aim, sight, ratio, state));
        }
    }
    rows
}

/// A candidate as seen from own place at the moment of one sight.
struct Line {
    /// Metres east and north from own place to where the echo begins, in the axes of then.
    to: PlanePoint,
    /// And to what the bearing was taken of, where it was of anything.
    aim: Option<PlanePoint>,
    range_by: Option<[f64; 2]>,
    ground: f64,
    slant: Slant,
    sigma: f64,
    face: f64,
    depth: f64,
    late: f64,
    /// Own height over the mark's, metres.
    drop: f64,
    carried: Carried,
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
    let track = problem.prior.track.sin_cos();
    let carried = Carried::new(measured, plane.centre(), track, state);
    let back = carried.back();
    let answer = if answering.is_as_charted() {
        None
    } else {
        let there = where_measured(plane, measured, back);
        answering.point(sight, candidate, there, state[BEARING_BIAS])
    };
    let from_then = |place: Position| {
        let at = plane.to_plane(place);
        let to = PlanePoint {
            east: at.east + back.east + state[SHIFT_EAST],
            north: at.north + back.north + state[SHIFT_NORTH],
        };
        // A bearing was read from the true north of then.
        carried.in_axes_of_then(to)
    };
    let to = from_then(answer.map_or(mark.position, |a| a.position));
    let ground = to.east.hypot(to.north).max(LEAST_GROUND_M);
    let own_height = measured.own_height_m + state[HEIGHT];
    Some(Line {
        to,
        aim: answer.map_or(Some(to), |a| a.aim.map(from_then)),
        range_by: answer.and_then(|a| a.range_by),
        ground,
        slant: slant(ground, own_height, mark.height_m),
        late: answer.map_or(0.0, |a| a.late_m),
        sigma: mark.sigma_m,
        face: answer.map_or(0.0, |a| a.face_m),
        depth: answer.map_or(0.0, |a| a.depth_m),
        drop: own_height - mark.height_m,
        carried,
    })
}

/// Own place at the moment of a sight.
fn where_measured(plane: &LocalPlane, measured: &Sight, back: PlanePoint) -> Position {
    if measured.elapsed_s == 0.0 {
        return plane.centre();
    }
    plane.to_position(PlanePoint { east: -back.east, north: -back.north })
}

impl Line {
    /// The derivative by every state of something with this derivative by the mark's place, in the axes of then.
    /// How true north turns under a bearing as own place goes east is left out: tan φ / R, at 38° a two hundredth of
    /// the slope of one of a mark 20 NM off.
    fn slope(&self, by_east: f64, by_north: f64) -> State {
        self.carried.slope(PlanePoint { east: -by_east, north: -by_north })
    }

    fn range_row(&self, sight: usize, measured: f64, sigma: f64, state: &State) -> Row {
        let (east, north) = (self.to.east / self.ground, self.to.north / self.ground);
        let [by_east, by_north] = self.range_by.unwrap_or([-east, -north]);
        let mut slope =
            self.slope(-self.slant.by_ground * by_east, -self.slant.by_ground * by_north);
        slope[RANGE_BIAS] = 1.0;
        slope[HEIGHT] = self.slant.by_own;
        // A beam that turns slides along a slanting shore just as one that is shifted does.
        slope[BEARING_BIAS] =
            -self.slant.by_ground * self.ground * (by_east * north - by_north * east);
        let sigma = sigma.max(LEAST_SIGMA);
        Row {
            sight,
            quantity: Quantity::Range,
            residual: measured - self.slant.range - self.late - state[RANGE_BIAS],
            variance: sigma * sigma + (self.sigma.hypot(self.depth) * self.slant.by_ground).powi(2),
            slope,
        }
    }

    fn bearing_row(&self, aim: PlanePoint, sight: usize, read: Reading, state: &State) -> Row {
        let ground = aim.east.hypot(aim.north).max(LEAST_GROUND_M);
        let squared = ground * ground;
        let mut slope = self.slope(aim.north / squared, -aim.east / squared);
        slope[BEARING_BIAS] = 1.0;
        let expected = aim.east.atan2(aim.north) + state[BEARING_BIAS];
        let sigma = read.sigma.max(LEAST_SIGMA);
        Row {
            sight,
            quantity: Quantity::Bearing,
            residual: Angle::from_radians(read.value - expected).radians(),
            variance: sigma * sigma + (self.sigma.hypot(self.face) / ground).powi(2),
            slope,
        }
    }

    /// The ratio as it was read, against the curve at the bearing and depression expected: not
    /// turned to a bearing first, so that its error is that of the reading wherever the curve goes.
    fn ratio_row(
        &self,
        aim: PlanePoint,
        sight: usize,
        measured: &RatioReading,
        state: &State,
    ) -> Row {
        let (east, north) = (aim.east, aim.north);
        let ground = east.hypot(north).max(LEAST_GROUND_M);
        let (down, down_by) = geometry::depression_of(self.drop, ground);
        let told = measured.at(east.atan2(north) + state[BEARING_BIAS], down);
        let (along, across) = (told.by_depression * down_by, told.by_relative / ground);
        let mut slope = self.slope(
            (along * east + across * north) / ground,
            (along * north - across * east) / ground,
        );
        slope[BEARING_BIAS] = told.by_relative;
        // The angle down grows by ground/slant² for each metre higher.
        slope[HEIGHT] = told.by_depression * ground / (ground * ground + self.drop * self.drop);
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
