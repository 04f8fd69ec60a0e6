//! The reckoning as it runs, with the joint error of all that it rests on.

use jiff::{SignedDuration, Timestamp};
use nalgebra::{Matrix2, SMatrix, SVector, Vector2};

use super::combined::Agreement;
use super::course::Course;
use super::found::FlowFound;
use super::growth::ErrorModel;
use super::triangle::{MadeGood, Velocity, speed, track};
use crate::contact::GaussMarkov;
use crate::geodesy::{Covariance, LocalPlane, MEAN_EARTH_RADIUS_M, Position, along_track};
use crate::units::Angle;

/// East and north of the position in metres; of the flow's error in metres per second; heading bias in
/// radians; speed scale as a share.
pub(super) type State = SVector<f64, 6>;
/// The errors of all six together.
pub(super) type Square = SMatrix<f64, 6, 6>;

const FLOW: usize = 2;
const BIAS: usize = 4;
const SCALE: usize = 5;

/// The longest step: a flow that is found decays in it by under 6 %, and a track stays a rhumb line.
const STEP_S: f64 = 300.0;

/// Nearer to a pole than this share of the radius the narrowing of the parallels is not followed.
const NEAR_POLE: f64 = 0.02;

/// A position by dead reckoning, and the joint error of position, flow, heading and speed.
///
/// Each leg states a flow; its error is a first-order Gauss-Markov process on each axis, the same from
/// leg to leg. The heading's bias and the speed's scale are the same on every heading: out and home
/// again they cancel, as they do in truth. Errors of position are carried with the meridians, which
/// close up toward the pole.
#[derive(Debug, Clone, PartialEq)]
pub struct Reckoner {
    time: Timestamp,
    position: Position,
    model: ErrorModel,
    /// What the flow is believed to be over what is stated.
    flow_error: Velocity,
    /// True heading less stated, radians.
    bias: f64,
    /// True speed over stated, less one.
    scale: f64,
    covariance: Square,
    /// The steady spread of the flow; none before the first course.
    spread: Option<Spread>,
    /// Whether a fix has told of the flow.
    found: bool,
    /// The flow that the last course stated.
    stated: Option<Velocity>,
}

/// A fix whose errors are its own, but for the bias of own heading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TakenFix {
    /// Where it puts us.
    pub position: Position,
    /// Its error, the heading's bias left out.
    pub covariance: Covariance,
    /// Metres east and north that it moves by for a radian of heading bias: its bearings were taken
    /// from the same compass. Noughts where it owes nothing to own heading.
    pub heading_share: [f64; 2],
}

/// The steady spread of a flow's error, and what it is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Spread {
    /// Metres per second.
    whole: f64,
    /// The variance of what was stated, without leeway.
    forecast: f64,
    /// The variance of leeway.
    leeway: f64,
}

impl Spread {
    /// Of a course; where nothing carries that, leeway is as it was.
    fn of(course: &Course, before: Option<Self>) -> Self {
        let whole = course.spread().metres_per_second();
        let own = course.leeway().metres_per_second().powi(2);
        let leeway = before.filter(|_| !course.is_carried()).map_or(own, |before| before.leeway);
        Self { whole, forecast: (whole * whole - own).max(0.0), leeway }
    }
}

/// One step: how errors go on, and what is added to them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Growth {
    pub phi: Square,
    pub q: Square,
}

impl Reckoner {
    /// From a position of known error; nothing yet found of flow, heading and speed.
    pub fn new(
        time: Timestamp,
        position: Position,
        covariance: Covariance,
        model: ErrorModel,
    ) -> Self {
        let mut joint = Square::zeros();
        set_position(&mut joint, covariance);
        joint[(BIAS, BIAS)] = model.heading_sigma.radians().powi(2);
        joint[(SCALE, SCALE)] = model.speed_share.powi(2);
        Self {
            time,
            position,
            model,
            flow_error: Velocity::default(),
            bias: 0.0,
            scale: 0.0,
            covariance: joint,
            spread: None,
            found: false,
            stated: None,
        }
    }

    /// The time it stands at.
    pub fn time(&self) -> Timestamp {
        self.time
    }

    /// The reckoned position.
    pub fn position(&self) -> Position {
        self.position
    }

    /// The errors taken.
    pub fn model(&self) -> &ErrorModel {
        &self.model
    }

    /// The error of the position.
    pub fn covariance(&self) -> Covariance {
        covariance_of(&self.covariance)
    }

    /// The joint covariance: position east and north (metres), flow east and north (m/s), heading
    /// (radians), speed (share).
    pub fn joint_covariance(&self) -> &SMatrix<f64, 6, 6> {
        &self.covariance
    }

    /// The flow on a course: as stated, with what fixes have shown, and its error.
    pub fn flow(&self, course: &Course) -> FlowFound {
        let p = &self.covariance;
        FlowFound {
            velocity: course.flow().plus(self.flow_error),
            covariance: [p[(FLOW, FLOW)], p[(FLOW, FLOW + 1)], p[(FLOW + 1, FLOW + 1)]],
        }
    }

    /// What is made good on a course with all that is known now.
    pub fn made_good(&self, course: &Course) -> MadeGood {
        let over = self.over_ground(course, 1.0);
        let stated = course.made_good();
        MadeGood {
            heading: stated.heading,
            through: stated.through,
            track: track(over),
            speed: speed(over),
        }
    }

    /// Holds a course for a time.
    ///
    /// A course over the ground states what is made good: what was found of the flow before is let go
    /// of, and a new error of the flow taken.
    pub fn advance(&mut self, course: &Course, seconds: f64) {
        self.advance_telling(course, seconds, |_| ());
    }

    /// The same, telling each step.
    pub(super) fn advance_telling(
        &mut self,
        course: &Course,
        seconds: f64,
        mut tell: impl FnMut(&Growth),
    ) {
        tell(&self.meet(course));
        let mut left = if seconds.is_finite() { seconds.max(0.0) } else { 0.0 };
        let end =
            self.time.checked_add(SignedDuration::try_from_secs_f64(left).unwrap_or_default());
        while left > 0.0 {
            // No last step of a millisecond.
            let step = if left > 1.5 * STEP_S { STEP_S } else { left };
            tell(&self.step(course, step));
            left -= step;
        }
        self.time = end.unwrap_or(self.time);
    }

    /// Takes up the flow that a course states, and its spread.
    ///
    /// What a fix found over a stated flow is the error of a forecast, and goes on with the next forecast.
    /// What it found where none was stated is the flow itself: a flow stated after it takes its place,
    /// and would count twice beside it. Where nothing is stated any more, the flow found goes on whole.
    /// What another spread does to what was found: [`Self::restated`].
    fn meet(&mut self, course: &Course) -> Growth {
        let spread = Spread::of(course, self.spread);
        let s = spread.whole;
        let replaced = self.stated.is_none() && course.stated_flow().is_some();
        let forget = self.found && (course.is_over_ground() || replaced);
        let before = self.spread.map_or(0.0, |before| before.whole);
        let one = Matrix2::<f64>::identity();
        let whole = |kept: f64, more: f64| (one * kept, one * more);
        // A wider spread adds an error of its own; a narrower is a better forecast of the same flow.
        let (kept, more) = match (self.spread, forget) {
            (_, true) => whole(0.0, s * s),
            (Some(before), false) if self.found => self.restated(before, spread, course),
            _ if s > before => whole(1.0, s * s - before * before),
            _ if before > 0.0 => whole(s / before, 0.0),
            _ => whole(1.0, 0.0),
        };
        let mut phi = Square::identity();
        let mut q = Square::zeros();
        phi.fixed_view_mut::<2, 2>(FLOW, FLOW).copy_from(&kept);
        q.fixed_view_mut::<2, 2>(FLOW, FLOW).copy_from(&more);
        let error = kept * Vector2::new(self.flow_error.east, self.flow_error.north);
        self.flow_error = Velocity { east: error[0], north: error[1] };
        if let Some(before) = self.stated.filter(|_| self.found && course.stated_flow().is_none())
            && !course.is_over_ground()
            && course.is_carried()
        {
            self.flow_error = self.flow_error.plus(before);
        }
        self.stated = course.stated_flow();
        self.found &= !forget;
        self.spread = Some(spread);
        self.covariance = symmetric(&(phi * self.covariance * phi.transpose() + q));
        Growth { phi, q }
    }

    /// What is kept of a flow's error that fixes have told of, and what is added, where another spread
    /// is stated.
    ///
    /// A narrower forecast is a measurement of that error, at nought, with the variance
    /// s²s'²/(s² − s'²): what takes the old spread to the new where nothing was found, and takes from
    /// what was found no more than it outweighs (weights by the inverse of the variance; least squares).
    /// A wider one adds an error of its own. Leeway that comes is new; leeway that goes may have been
    /// part of what was found. None of these makes the error wider than the new spread. Where nothing is
    /// stated any more, nothing is measured.
    fn restated(
        &self,
        before: Spread,
        now: Spread,
        course: &Course,
    ) -> (Matrix2<f64>, Matrix2<f64>) {
        let flow: Matrix2<f64> = self.covariance.fixed_view::<2, 2>(FLOW, FLOW).into_owned();
        let one = Matrix2::<f64>::identity();
        let silent = self.stated.is_some() && course.stated_flow().is_none();
        let old = before.forecast;
        let new = if silent { now.forecast.max(old) } else { now.forecast };
        let told = (new < old).then(|| old * new / (old - new));
        let inverse = told.and_then(|told| (flow + one * told).try_inverse());
        let gain = inverse.map_or_else(Matrix2::zeros, |inverse| flow * inverse);
        let kept = one - gain;
        let left = kept * flow;
        let mut more = left * gain.transpose();
        let wider = (new - old).max(0.0) + (now.leeway - before.leeway).abs();
        for axis in [0, 1] {
            let room = new + now.leeway - left[(axis, axis)];
            more[(axis, axis)] += wider.min(room.max(0.0));
        }
        (kept, more)
    }

    fn step(&mut self, course: &Course, seconds: f64) -> Growth {
        let model = &self.model;
        let grown =
            GaussMarkov::over(seconds, course.spread().metres_per_second(), model.flow_seconds);
        let held = course.held().turned(self.bias, 1.0);
        let run = self.over_ground(course, grown.gain / seconds);
        let metres = run.metres_per_second() * seconds;
        let from = self.position;
        if metres > 0.0 {
            self.position = along_track(from, run.direction(), metres);
        }

        let mut phi = parallels(from, self.position, run.east * seconds);
        let mut q = Square::zeros();
        let wander =
            if held.metres_per_second() > 0.0 { model.wander.powi(2) * seconds } else { 0.0 };
        for axis in [0, 1] {
            let flow = axis + FLOW;
            phi[(flow, flow)] = grown.decay;
            q[(flow, flow)] = grown.velocity;
            q[(axis, axis)] = wander;
            if course.is_carried() {
                phi[(axis, flow)] = grown.gain;
                q[(axis, axis)] += grown.position;
                q[(axis, flow)] = grown.mixed;
                q[(flow, axis)] = grown.mixed;
            }
        }
        let stretched = 1.0 + self.scale;
        phi[(0, BIAS)] = seconds * stretched * held.north;
        phi[(1, BIAS)] = -seconds * stretched * held.east;
        phi[(0, SCALE)] = seconds * held.east;
        phi[(1, SCALE)] = seconds * held.north;
        self.flow_error = self.flow_error.turned(0.0, grown.decay);
        self.covariance = symmetric(&(phi * self.covariance * phi.transpose() + q));
        Growth { phi, q }
    }

    /// Velocity over the ground, with what is known of the flow's error weighed by `share`.
    fn over_ground(&self, course: &Course, share: f64) -> Velocity {
        let held = course.held();
        let own = held.turned(self.bias, 1.0 + self.scale);
        if course.is_over_ground() || !course.is_carried() {
            return own;
        }
        own.plus(course.flow()).plus(self.flow_error.turned(0.0, share))
    }

    /// The fix against the reckoning, shared errors counted once.
    pub fn agreement(&self, fix: &TakenFix) -> Agreement {
        let (off, sum, _) = self.against(fix);
        let both = Covariance::from_square_metres(sum[(0, 0)], sum[(0, 1)], sum[(1, 1)]);
        let point = crate::geodesy::PlanePoint { east: off[0], north: off[1] };
        Agreement::of(point, both.unwrap_or_default())
    }

    /// Innovation, its covariance, and the joint covariance times the fix's own design.
    fn against(&self, fix: &TakenFix) -> (Vector2<f64>, Matrix2<f64>, SMatrix<f64, 6, 2>) {
        let off = LocalPlane::new(self.position).to_plane(fix.position);
        let [east, north] = fix.heading_share;
        let off = Vector2::new(off.east - east * self.bias, off.north - north * self.bias);
        let design = design_of(fix);
        let spread = self.covariance * design.transpose();
        (off, design * spread + fix.covariance.matrix(), spread)
    }

    /// Takes a fix that owes nothing to this reckoning: position, flow, heading and speed are put right
    /// together, by what they share.
    ///
    /// Kalman's update in Joseph's form.
    ///
    /// # Errors
    /// The two are at odds, at one chance in a thousand: nothing is changed, and nothing averaged.
    pub fn take_fix(&mut self, fix: &TakenFix) -> Result<Agreement, Agreement> {
        let agreement = self.agreement(fix);
        let (off, sum, spread) = self.against(fix);
        let Some(inverse) = sum.try_inverse().filter(|_| agreement.agrees()) else {
            return Err(agreement);
        };
        let gain = spread * inverse;
        let moved: State = gain * off;
        let left = Square::identity() - gain * design_of(fix);
        let joseph = left * self.covariance * left.transpose()
            + gain * fix.covariance.matrix() * gain.transpose();
        self.covariance = symmetric(&joseph);
        self.shift(&moved);
        self.found = true;
        Ok(agreement)
    }

    /// Goes on from a position that already has this reckoning in it.
    ///
    /// The stated position and error take the place of the reckoned ones; flow, heading and speed
    /// follow as far as they go with the position: x' = x + G(p' − p), P' = P + G(C' − C)Gᵀ, G being
    /// `P_xp` C⁻¹, as a smoother does (H. E. Rauch, F. Tung and C. T. Striebel, AIAA Journal 3, 1965,
    /// from memory).
    pub fn restart(&mut self, position: Position, covariance: Covariance) {
        let off = LocalPlane::new(self.position).to_plane(position);
        let before = self.covariance.fixed_view::<2, 2>(0, 0).into_owned();
        let Some(inverse) = before.try_inverse() else {
            return self.begin_again(position, covariance);
        };
        let gain = self.covariance.fixed_view::<6, 2>(0, 0) * inverse;
        let change = covariance.matrix() - before;
        self.covariance = symmetric(&(self.covariance + gain * change * gain.transpose()));
        self.shift(&(gain * Vector2::new(off.east, off.north)));
        // Exactly as stated, whatever the rounding.
        self.position = position;
        self.found = true;
    }

    /// Goes on from a position that owes nothing to this reckoning, and that the reckoning is not to
    /// be weighed against: where it was in error.
    ///
    /// What was found of the flow is let go of; heading and speed stay as they were believed.
    pub fn begin_again(&mut self, position: Position, covariance: Covariance) {
        let mut again = Self::new(self.time, position, covariance, self.model);
        for index in [BIAS, SCALE] {
            again.covariance[(index, index)] = self.covariance[(index, index)];
        }
        (again.bias, again.scale) = (self.bias, self.scale);
        *self = again;
    }

    /// The same with all six moved, and another covariance: what a batch of lines leaves.
    pub(super) fn put_right(&self, by: &State, covariance: &Square) -> Self {
        let mut right = Self { covariance: symmetric(covariance), found: true, ..self.clone() };
        right.shift(by);
        right
    }

    fn shift(&mut self, by: &State) {
        let point = crate::geodesy::PlanePoint { east: by[0], north: by[1] };
        self.position = LocalPlane::new(self.position).to_position(point);
        self.flow_error = self.flow_error.plus(Velocity { east: by[FLOW], north: by[FLOW + 1] });
        self.bias += by[BIAS];
        self.scale += by[SCALE];
    }
}

/// How errors of position go with the meridians and parallels along a run.
fn parallels(from: Position, to: Position, east: f64) -> Square {
    let mut phi = Square::identity();
    let radians = |p: Position| Angle::from_degrees(p.latitude()).radians();
    let (before, after) = (radians(from).cos(), radians(to).cos());
    if before.min(after) > NEAR_POLE {
        let middle = 0.5 * (radians(from) + radians(to));
        phi[(0, 0)] = after / before;
        phi[(0, 1)] = east * middle.tan() / MEAN_EARTH_RADIUS_M;
    }
    phi
}

fn design_of(fix: &TakenFix) -> SMatrix<f64, 2, 6> {
    let mut design = SMatrix::<f64, 2, 6>::zeros();
    let [east, north] = fix.heading_share;
    (design[(0, 0)], design[(1, 1)]) = (1.0, 1.0);
    (design[(0, BIAS)], design[(1, BIAS)]) = (east, north);
    design
}

fn set_position(joint: &mut Square, covariance: Covariance) {
    joint.fixed_view_mut::<2, 2>(0, 0).copy_from(&covariance.matrix());
}

/// The position's part of a joint covariance.
pub(super) fn covariance_of(joint: &Square) -> Covariance {
    Covariance::nearest(joint[(0, 0)], joint[(0, 1)], joint[(1, 1)])
        .unwrap_or_else(Covariance::unknown)
}

fn symmetric(square: &Square) -> Square {
    (square + square.transpose()) * 0.5
}

#[cfg(test)]
mod tests;
