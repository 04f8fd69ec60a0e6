//! What is not known of the wind or current in a track and speed, and how it goes on.

use std::f64::consts::PI;

use nalgebra::{Matrix2, Matrix4, SymmetricEigen, Vector2};

use super::process::GaussMarkov;
use crate::geodesy::Covariance;
use crate::units::{Angle, Bearing, Speed, True};

/// How fast a wind or current changes, and what else moves the craft about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowChange {
    /// The steady spread on each axis that its error grows to, metres per second.
    pub spread: f64,
    /// Seconds in which it forgets itself to 1/e; above nought.
    pub seconds: f64,
    /// What helm and gusts add, metres in the root of a second on each axis.
    pub wander: f64,
}

/// The error of a velocity over the ground that a wind or current was put into, and what it shares
/// with the error of the position.
///
/// On each axis a first-order Gauss-Markov process ([`GaussMarkov`]) that starts from how well the
/// flow was known and grows to its steady spread: right after it was found it is known best. East
/// first, then north; errors are reckoned less true.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowError {
    /// Of the velocity, (m/s)².
    velocity: Matrix2<f64>,
    /// Position by row, velocity by column, m²/s.
    with_position: Matrix2<f64>,
    change: FlowChange,
    /// Seconds over which the mean was taken that it was found as, and gone by since then.
    over: f64,
    age: f64,
    /// Seconds that the position has run on with it.
    ran: f64,
}

impl FlowError {
    /// From how well its mean over a time was found, at the end of that time: what it has changed by
    /// since the mean comes to it.
    ///
    /// A flow that was found worse than it spreads keeps its error: it is not known better for being
    /// old.
    ///
    /// - `velocity`: of the mean; east, covariance, north, (m/s)².
    /// - `over`: seconds; nought for a flow found as of a moment.
    /// - `with_position`: covariance of position (rows) and velocity (columns), east first, m²/s; what is
    ///   more than the two errors can share, of `position`, is held to what they can.
    pub fn found(
        velocity: [f64; 3],
        over: f64,
        with_position: [[f64; 2]; 2],
        position: Covariance,
        change: FlowChange,
    ) -> Self {
        let [ee, en, nn] = velocity;
        let since = GaussMarkov::since_mean(over, change.spread, change.seconds);
        let velocity = Matrix2::new(ee + since, en, en, nn + since);
        let [[a, b], [c, d]] = with_position;
        let worst = SymmetricEigen::new(velocity).eigenvalues.max().max(0.0).sqrt();
        let change = FlowChange { spread: change.spread.max(worst), ..change };
        let with_position = Matrix2::new(a, b, c, d);
        Self { velocity, with_position, change, over, age: 0.0, ran: 0.0 }.within(position)
    }

    /// The same where track and speed are stated anew: no surer than the errors stated, nor than the
    /// flow was known. The least that is neither is S + (V − S)₊, the part of V − S that is above
    /// nought; stated twice it comes to the same.
    ///
    /// - `along`, `across`: one standard deviation of the velocity stated.
    #[must_use]
    pub fn no_surer_than(self, track: Bearing<True>, along: Speed, across: Speed) -> Self {
        let (sin, cos) = track.sin_cos();
        let turned = Matrix2::new(sin, cos, cos, -sin);
        let squared = |speed: Speed| speed.metres_per_second().powi(2);
        let diagonal = Vector2::new(squared(along), squared(across));
        let stated = turned * Matrix2::from_diagonal(&diagonal) * turned;
        let above = Roots::of(self.velocity - stated).root;
        let velocity = stated + above * above;
        let worst = SymmetricEigen::new(velocity).eigenvalues.max().max(0.0).sqrt();
        let change = FlowChange { spread: self.change.spread.max(worst), ..self.change };
        Self { velocity, change, ..self }
    }

    /// Position and flow where it comes to be known that the flow changes more than was taken: with
    /// what that makes of the time gone by. One that is said to change less stays as it is: what stood
    /// is not known better for it.
    #[must_use]
    pub fn changing(self, position: Covariance, change: FlowChange) -> (Covariance, Self) {
        if change.spread <= self.change.spread && change.wander <= self.change.wander {
            return (position, self);
        }
        let wander = change.wander.max(self.change.wander);
        let wider = if change.spread > self.change.spread { change } else { self.change };
        let change = FlowChange { wander, ..wider };
        let (was, is) = (self.own_change(self.change), self.own_change(change));
        let [place, both, velocity] = [is[0] - was[0], is[1] - was[1], is[2] - was[2]];
        let (place, velocity) = (place.max(0.0), velocity.max(0.0));
        // No more in common than the two can have.
        let most = (place * velocity).sqrt();
        let both = both.max(-most).min(most);
        let one = Matrix2::identity();
        let flow = Self {
            velocity: self.velocity + one * velocity,
            with_position: self.with_position + one * both,
            change,
            ..self
        };
        (covariance(position.matrix() + one * place), flow)
    }

    /// What a way of changing has made since the mean: position, what both share, velocity, on each axis.
    fn own_change(&self, FlowChange { spread, seconds: tau, wander }: FlowChange) -> [f64; 3] {
        let since = GaussMarkov::since_mean(self.over, spread, tau);
        let before = GaussMarkov::over((self.age - self.ran).max(0.0), spread, tau);
        let start = since * before.decay.powi(2) + before.velocity;
        let run = GaussMarkov::over(self.ran, spread, tau);
        [
            start * run.gain.powi(2) + run.position + wander * wander * self.ran,
            start * run.gain * run.decay + run.mixed,
            start * run.decay.powi(2) + run.velocity,
        ]
    }

    /// Position and flow after `seconds` of running on, not below nought.
    ///
    /// For short times P + t²W + t(C + Cᵀ), C being what position and velocity share; the process adds
    /// what the flow has changed by since.
    pub fn carried(&self, position: Covariance, seconds: f64) -> (Covariance, Self) {
        let FlowChange { spread, seconds: tau, wander } = self.change;
        let grown = GaussMarkov::over(seconds, spread, tau);
        let (shared, velocity, one) = (self.with_position, self.velocity, Matrix2::identity());
        let moved = position.matrix()
            + (shared + shared.transpose()) * grown.gain
            + velocity * grown.gain.powi(2)
            + one * (grown.position + wander * wander * seconds);
        let flow = Self {
            velocity: velocity * grown.decay.powi(2) + one * grown.velocity,
            with_position: (shared + velocity * grown.gain) * grown.decay + one * grown.mixed,
            age: self.age + seconds,
            ran: self.ran + seconds,
            ..*self
        };
        (covariance(moved), flow)
    }

    /// The same beside a position that owes nothing to it.
    #[must_use]
    pub fn apart(self) -> Self {
        Self { with_position: Matrix2::zeros(), ran: 0.0, ..self }
    }

    /// The same after a fix that has the carried position in it: the fix takes from what position and
    /// velocity share as much as from the position's error, C' = P' P⁻¹ C.
    #[must_use]
    pub fn after_fix(self, before: Covariance, after: Covariance) -> Self {
        let Some(inverse) = before.matrix().try_inverse() else { return self.apart() };
        let with_position = after.matrix() * inverse * self.with_position;
        Self { with_position, ran: 0.0, ..self }.within(after)
    }

    /// The same with what another one, gone on to the same moment, shares with a position: held to what
    /// this one can.
    #[must_use]
    pub fn sharing(self, gone_on: Self, position: Covariance) -> Self {
        Self { with_position: gone_on.with_position, ran: gone_on.ran, ..self }.within(position)
    }

    /// One standard deviation of the velocity now: along a track and across it.
    pub fn sigmas(&self, track: Bearing<True>) -> (Speed, Speed) {
        split(self.velocity, track)
    }

    /// The constant errors of track and speed that come to as much after a run of `seconds`; of less than
    /// a second as of one.
    ///
    /// - returns: of the track, none where the speed is nought; of the speed.
    pub fn mean_over(
        &self,
        seconds: f64,
        track: Bearing<True>,
        speed: Speed,
    ) -> (Option<Angle>, Speed) {
        let seconds = seconds.max(1.0);
        let (grown, _) = self.apart().carried(Covariance::default(), seconds);
        let (along, across) = split(grown.matrix() / (seconds * seconds), track);
        (angle_of(across, speed), along)
    }

    /// Holds what is shared with a position to what the two can share: a correlation of one, and
    /// nothing where either has no error.
    fn within(self, position: Covariance) -> Self {
        let (of_position, of_velocity) = (Roots::of(position.matrix()), Roots::of(self.velocity));
        let share = of_position.inverse * self.with_position * of_velocity.inverse;
        let greatest = share.singular_values().max();
        if !greatest.is_finite() {
            return self.apart();
        }
        let with_position = of_position.root * share * of_velocity.root / greatest.max(1.0);
        Self { with_position, ..self }
    }

    /// The joint error: position east and north, velocity east and north.
    pub fn joint(&self, position: Covariance) -> Matrix4<f64> {
        let mut joint = Matrix4::zeros();
        joint.fixed_view_mut::<2, 2>(0, 0).copy_from(&position.matrix());
        joint.fixed_view_mut::<2, 2>(0, 2).copy_from(&self.with_position);
        joint.fixed_view_mut::<2, 2>(2, 0).copy_from(&self.with_position.transpose());
        joint.fixed_view_mut::<2, 2>(2, 2).copy_from(&self.velocity);
        joint
    }
}

/// The root of a covariance and its inverse, nought where there is no error.
struct Roots {
    root: Matrix2<f64>,
    inverse: Matrix2<f64>,
}

impl Roots {
    fn of(covariance: Matrix2<f64>) -> Self {
        let split = SymmetricEigen::new(covariance);
        let axes = split.eigenvectors;
        let root = split.eigenvalues.map(|v| v.max(0.0).sqrt());
        let inverse = root.map(|v| if v > 0.0 { v.recip() } else { 0.0 });
        let turned = |diagonal| axes * Matrix2::from_diagonal(&diagonal) * axes.transpose();
        Self { root: turned(root), inverse: turned(inverse) }
    }
}

/// An error of velocity across a track as one of its direction, of no more than half a turn: it then
/// goes any way. None at rest.
pub(super) fn angle_of(across: Speed, speed: Speed) -> Option<Angle> {
    let own = speed.metres_per_second();
    (own > 0.0).then(|| Angle::from_radians((across.metres_per_second() / own).min(PI)))
}

fn split(of: Matrix2<f64>, track: Bearing<True>) -> (Speed, Speed) {
    let (sin, cos) = track.sin_cos();
    let sigma = |east: f64, north: f64| {
        let variance =
            of[(0, 0)] * east * east + 2.0 * of[(0, 1)] * east * north + of[(1, 1)] * north * north;
        Speed::clamped_metres_per_second(variance.max(0.0).sqrt())
    };
    (sigma(sin, cos), sigma(cos, -sin))
}

/// What is no number says nothing of where we are.
pub(super) fn covariance(of: Matrix2<f64>) -> Covariance {
    let en = 0.5 * (of[(0, 1)] + of[(1, 0)]);
    Covariance::nearest(of[(0, 0)], en, of[(1, 1)]).unwrap_or_else(Covariance::unknown)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{GroundRange, KNOT, METRES_PER_NAUTICAL_MILE};

    fn steady(spread: f64) -> FlowChange {
        FlowChange { spread: spread * KNOT, seconds: 1e9, wander: 0.0 }
    }

    fn circle(miles: f64) -> Covariance {
        Covariance::circular(GroundRange::from_nautical_miles(miles).unwrap())
    }

    fn sigma(of: Covariance) -> f64 {
        of.sigma_towards(Bearing::ZERO) / METRES_PER_NAUTICAL_MILE
    }

    /// Found by two fixes of 0.3 and 0.4 NM half an hour apart, the second where we are.
    fn between_fixes() -> FlowError {
        let (a, b) = (circle(0.4).square_metres()[0], circle(0.3).square_metres()[0]);
        let t = 1800.0;
        let w = (a + b) / (t * t);
        let shared = [[a / t, 0.0], [0.0, a / t]];
        FlowError::found([w, 0.0, w], 0.0, shared, circle(0.4), steady(0.0))
    }

    #[test]
    fn a_flow_that_does_not_change_goes_on_as_the_line_through_two_fixes() {
        // The line through two points, sigma b at −T and a at nought, at t: a(1 + t/T) and b t/T
        // together; after half an hour 0.8 and 0.3: 0.854 NM (computed).
        let (later, _) = between_fixes().carried(circle(0.4), 1800.0);
        assert!((sigma(later) - 0.8f64.hypot(0.3)).abs() < 1e-4, "{}", sigma(later));
        // Taken for independent it would be 0.4 and 0.5: 0.640, a quarter too small.
        let (apart, _) = between_fixes().apart().carried(circle(0.4), 1800.0);
        assert!((sigma(apart) - 0.4f64.hypot(0.5)).abs() < 1e-4);
    }

    #[test]
    fn a_change_known_late_comes_to_what_it_would_have_known_at_once() {
        let slow = FlowChange { spread: KNOT, seconds: 10_800.0, wander: 3.0 };
        let fast = FlowChange { spread: 15.0 * KNOT, seconds: 5400.0, wander: 9.0 };
        let w = KNOT * KNOT;
        let found =
            |change| FlowError::found([w, 0.0, w], 1800.0, [[0.0; 2]; 2], circle(0.4), change);
        let (late, at_once) = (found(slow).carried(circle(0.4), 900.0), found(fast));
        let (late, flow) = late.1.changing(late.0, fast);
        let (known, of_known) = at_once.carried(circle(0.4), 900.0);
        assert!(
            (sigma(late) / sigma(known) - 1.0).abs() < 0.01,
            "{} {}",
            sigma(late),
            sigma(known)
        );
        let (a, b) = (flow.sigmas(Bearing::ZERO).0, of_known.sigmas(Bearing::ZERO).0);
        assert!((a.knots() / b.knots() - 1.0).abs() < 0.01, "{a:?} {b:?}");
        let ahead = [flow.carried(late, 1800.0).0, of_known.carried(known, 1800.0).0].map(sigma);
        assert!((ahead[0] / ahead[1] - 1.0).abs() < 0.01, "{ahead:?}");
        // What is said to change less is not known better for it; and a fix in between is kept.
        assert_eq!(of_known.changing(known, slow), (known, of_known));
        let (_, fixed) = found(slow).carried(circle(0.4), 900.0);
        let (place, _) = fixed.after_fix(circle(1.0), circle(0.3)).changing(circle(0.3), fast);
        assert!((sigma(place) - 0.3).abs() < 1e-9);
    }

    #[test]
    fn a_track_stated_anew_is_no_surer_than_the_flow_was_known() {
        let kn = |value| Speed::from_knots(value).unwrap();
        let w = |knots: f64| (knots * KNOT).powi(2);
        let flow =
            FlowError::found([w(2.0), 0.0, w(8.0)], 0.0, [[0.0; 2]; 2], circle(0.4), steady(9.0));
        let anew = flow.no_surer_than(Bearing::ZERO, kn(3.0), kn(4.0));
        let (along, across) = anew.sigmas(Bearing::ZERO);
        assert!((along.knots() - 8.0).abs() < 1e-9 && (across.knots() - 4.0).abs() < 1e-9);
        let again = anew.no_surer_than(Bearing::ZERO, kn(3.0), kn(4.0));
        assert!((again.velocity - anew.velocity).abs().max() < 1e-9);
        // On a slant it is above both in every direction.
        let track = Bearing::wrapped_degrees(30.0);
        let slant = flow.no_surer_than(track, kn(9.0), kn(1.0));
        for degrees in 0..180 {
            let towards =
                |of: &FlowError| of.sigmas(Bearing::wrapped_degrees(f64::from(degrees))).0;
            assert!(towards(&slant).knots() >= towards(&flow).knots() - 1e-9, "{degrees}");
        }
        assert!(slant.sigmas(track).0.knots() >= 9.0 - 1e-9);
    }

    #[test]
    fn what_is_no_angle_and_no_covariance_is_the_greater_error() {
        let kn = |value| Speed::from_knots(value).unwrap();
        let half_a_turn = angle_of(kn(1.0), kn(0.3)).unwrap();
        assert!((half_a_turn.radians() - PI).abs() < 1e-12);
        assert!((angle_of(kn(2.0), kn(0.3)).unwrap().radians() - PI).abs() < 1e-12);
        assert_eq!(angle_of(kn(1.0), kn(0.0)), None);
        for of in [f64::NAN, f64::INFINITY] {
            let wide = covariance(Matrix2::new(of, 0.0, 0.0, 0.0));
            assert!(wide.square_metres()[2] > 1e13);
        }
        // The mean over no time at all is the error of now, and not nought.
        let (_, along) = between_fixes().mean_over(0.0, Bearing::ZERO, kn(100.0));
        assert!(
            along.metres_per_second()
                >= 0.999 * between_fixes().sigmas(Bearing::ZERO).0.metres_per_second()
        );
    }

    #[test]
    fn two_runs_are_one() {
        let change = FlowChange { spread: 15.0 * KNOT, seconds: 5400.0, wander: 0.8 };
        let flow = FlowError { change, ..between_fixes() };
        let (half, on) = flow.carried(circle(0.4), 700.0);
        let (two, left) = on.carried(half, 1100.0);
        let (one, whole) = flow.carried(circle(0.4), 1800.0);
        assert!((sigma(two) / sigma(one) - 1.0).abs() < 1e-9);
        assert!((left.joint(two) - whole.joint(one)).abs().max() < 1e-6 * whole.joint(one).max());
    }

    #[test]
    fn no_more_is_shared_than_can_be() {
        let w = KNOT * KNOT;
        let flow =
            FlowError::found([w, 0.0, w], 0.0, [[1e9, 0.0], [0.0, 1e9]], circle(0.2), steady(1.0));
        let least = SymmetricEigen::new(flow.joint(circle(0.2))).eigenvalues.min();
        assert!(least > -1e-6, "{least}");
        // Fully shared, the errors add: 0.2 NM and 1 kn for half an hour.
        assert!((sigma(flow.carried(circle(0.2), 1800.0).0) - 0.7).abs() < 1e-3);
        let nothing = Covariance::default();
        let shared = [[1.0, 0.0], [0.0, 1.0]];
        let flow = FlowError::found([w, 0.0, w], 0.0, shared, nothing, steady(1.0));
        assert_eq!(flow, flow.apart());
    }

    #[test]
    fn a_fix_takes_from_what_is_shared() {
        let (carried, flow) = between_fixes().carried(circle(0.4), 1800.0);
        // A fix that owes nothing to us, as good as what we know: half the variance, half of what is
        // shared.
        let [ee, ..] = carried.square_metres();
        let after = Covariance::from_square_metres(0.5 * ee, 0.0, 0.5 * ee).unwrap();
        let put = flow.after_fix(carried, after);
        assert!((put.with_position - flow.with_position * 0.5).abs().max() < 1e-6);
        assert_eq!(put.velocity, flow.velocity);
    }

    #[test]
    fn what_was_found_badly_is_not_known_better_for_being_old() {
        let w = (20.0 * KNOT).powi(2);
        let change = FlowChange { spread: 15.0 * KNOT, seconds: 5400.0, wander: 0.0 };
        let flow = FlowError::found([w, 0.0, w], 0.0, [[0.0; 2]; 2], circle(0.2), change);
        let (_, old) = flow.carried(circle(0.2), 20_000.0);
        let (along, across) = old.sigmas(Bearing::ZERO);
        assert!((along.knots() - 20.0).abs() < 1e-6 && (across.knots() - 20.0).abs() < 1e-6);
        // Over an hour it comes to less than 20 kn throughout: it changes, and evens out.
        let (track, speed) =
            flow.mean_over(3600.0, Bearing::ZERO, Speed::from_knots(100.0).unwrap());
        assert!(speed.knots() < 20.0 && speed.knots() > 15.0, "{speed:?}");
        let by_track = track.unwrap().radians() * 100.0;
        assert!((by_track - speed.knots()).abs() < 1e-9);
    }
}
