//! How place and velocity go wrong between two instants.

use nalgebra::{Matrix2, Matrix4};

use crate::reckon::{Craft, ErrorModel, GaussMarkov};
use crate::units::KNOT;

/// No velocity is known better than this beforehand, one standard deviation on each axis, knots.
const LEAST_SPREAD_KN: f64 = 0.1;

/// The first-order Gauss-Markov error of velocity that a run is reckoned with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Model {
    /// Its steady spread: east and north, (m/s)².
    pub spread: Matrix2<f64>,
    /// Seconds in which it forgets itself to 1/e.
    pub seconds: f64,
    /// What helm and gusts add: square metres in a second on each axis.
    pub wander: f64,
}

impl Model {
    /// Of a track and speed made good with their errors as stated.
    ///
    /// How fast a wind or stream changes, and what helm and gusts add, is that of an aircraft or a
    /// vessel ([`ErrorModel`]).
    ///
    /// - `along`, `across`: one standard deviation of the velocity along the track and across it, m/s.
    pub fn stated(craft: Craft, (sin, cos): (f64, f64), along: f64, across: f64) -> Self {
        let least = LEAST_SPREAD_KN * KNOT;
        let turned = Matrix2::new(sin, cos, cos, -sin);
        let (a, c) = (along.max(least), across.abs().max(least));
        let spread = turned * Matrix2::new(a * a, 0.0, 0.0, c * c) * turned.transpose();
        let usual = ErrorModel::of(craft);
        Self { spread, seconds: usual.flow_seconds, wander: usual.wander * usual.wander }
    }

    /// How the state carries over a time, and the error that comes in: [`GaussMarkov`] on both axes,
    /// whose errors go together as the spread says.
    pub fn over(&self, seconds: f64) -> (Matrix4<f64>, Matrix4<f64>) {
        let seconds = seconds.max(0.0);
        let unit = GaussMarkov::over(seconds, 1.0, self.seconds);
        let mut carry = Matrix4::identity();
        let mut noise = Matrix4::zeros();
        for row in 0..2 {
            carry[(row, row + 2)] = unit.gain;
            carry[(row + 2, row + 2)] = unit.decay;
            noise[(row, row)] += self.wander * seconds;
            for column in 0..2 {
                let s = self.spread[(row, column)];
                noise[(row, column)] += s * unit.position;
                noise[(row, column + 2)] = s * unit.mixed;
                noise[(row + 2, column)] = s * unit.mixed;
                noise[(row + 2, column + 2)] = s * unit.velocity;
            }
        }
        (carry, noise)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::METRES_PER_NAUTICAL_MILE;

    #[test]
    fn two_steps_are_one() {
        let model = Model::stated(Craft::Aircraft, (0.6, 0.8), 5.0 * KNOT, 8.0 * KNOT);
        for (first, second) in [(300.0, 900.0), (10.0, 30.0), (4000.0, 20_000.0)] {
            let ((a, qa), (b, qb)) = (model.over(first), model.over(second));
            let (whole, q) = model.over(first + second);
            assert!((b * a - whole).norm() < 1e-9 * whole.norm());
            let both = b * qa * b.transpose() + qb;
            for row in 0..4 {
                for column in 0..4 {
                    let (x, y) = (both[(row, column)], q[(row, column)]);
                    assert!((x - y).abs() <= 1e-6 * y.abs() + 1e-9, "{first} {row} {column}");
                }
            }
        }
    }

    #[test]
    fn a_wind_of_fifteen_knots_over_twenty_minutes() {
        // s 15 kn, τ 1.5 h, 20 min: 1.77 NM (computed from the formula above).
        let model = Model {
            wander: 0.0,
            ..Model::stated(Craft::Aircraft, (0.0, 1.0), 15.0 * KNOT, 15.0 * KNOT)
        };
        let (_, noise) = model.over(1200.0);
        let miles = noise[(0, 0)].sqrt() / METRES_PER_NAUTICAL_MILE;
        assert!((miles - 1.77).abs() < 0.02, "{miles}");
    }
}
