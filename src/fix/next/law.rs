use std::f64::consts::TAU;

use nalgebra::{Matrix2, Vector2};
use statrs::distribution::{ContinuousCDF, Normal};

use crate::identity::{Mode, Row, Solution};
use crate::units::Angle;

/// What a measurement of one or two numbers would read from one place: a normal law.
#[derive(Debug, Clone, Copy)]
pub(super) struct Law {
    mean: Vector2<f64>,
    spread: Matrix2<f64>,
    root: Matrix2<f64>,
    inverse: Matrix2<f64>,
    log_scale: f64,
    count: usize,
    /// Which of the two is an angle, and comes round.
    turns: [bool; 2],
}

impl Law {
    /// Of rows whose residual is the negative of what is expected, seen from a place found by one
    /// solution; `mode` is the place with all the identities that lead to it, whose wider error
    /// counts. None for no rows or more than two.
    pub fn new(
        rows: &[Row],
        solution: &Solution,
        mode: &Mode,
        measured_angle: bool,
    ) -> Option<Self> {
        let count = rows.len();
        if count == 0 || count > 2 {
            return None;
        }
        let own = solution.position_covariance().square_metres();
        let [ee, en, nn] = mode.covariance.square_metres();
        let wider = [ee - own[0], en - own[1], nn - own[2]];
        let mut mean = Vector2::zeros();
        let mut spread = Matrix2::identity();
        let mut turns = [false; 2];
        for (i, row) in rows.iter().enumerate() {
            mean[i] = -row.residual;
            turns[i] = row.is_direction() && measured_angle;
            for (k, other) in rows.iter().enumerate() {
                spread[(i, k)] =
                    (row.slope.transpose() * solution.covariance * other.slope)[(0, 0)];
            }
            let (east, north) = (row.slope[0], row.slope[1]);
            let more =
                east * east * wider[0] + 2.0 * east * north * wider[1] + north * north * wider[2];
            spread[(i, i)] += row.variance + more.max(0.0);
        }
        let factor = spread.cholesky()?;
        let root = factor.l();
        let log_scale = root[(0, 0)].ln() + root[(1, 1)].ln() + 0.5 * count as f64 * TAU.ln();
        Some(Self { mean, root, spread, inverse: factor.inverse(), log_scale, count, turns })
    }

    /// How many numbers are read.
    pub fn count(&self) -> usize {
        self.count
    }

    /// The first number expected.
    pub fn first(&self) -> f64 {
        self.mean[0]
    }

    /// The variance of the first number, own place's error in it.
    pub fn variance(&self) -> f64 {
        self.spread[(0, 0)]
    }

    /// The last number expected.
    pub fn last(&self) -> f64 {
        self.mean[self.count.saturating_sub(1).min(1)]
    }

    /// A reading so many standard deviations off.
    pub fn at(&self, off: Vector2<f64>) -> Vector2<f64> {
        let off = if self.count == 1 { Vector2::new(off[0], 0.0) } else { off };
        self.mean + self.root * off
    }

    /// The probability density of a reading.
    pub fn density(&self, reading: Vector2<f64>) -> f64 {
        let off = self.off(reading);
        (-0.5 * off.dot(&(self.inverse * off)) - self.log_scale).exp()
    }

    /// The least sum of squared deviations that any one reading has from both laws.
    pub fn apart(&self, other: &Self) -> f64 {
        let off = self.off(other.mean);
        let spread = self.spread + other.spread;
        spread.cholesky().map_or(0.0, |factor| off.dot(&factor.solve(&off)))
    }

    /// A reading less what is expected; angles the short way round.
    fn off(&self, reading: Vector2<f64>) -> Vector2<f64> {
        let mut off = reading - self.mean;
        for (off, turns) in off.iter_mut().zip(self.turns) {
            if turns {
                *off = Angle::from_radians(*off).radians();
            }
        }
        off
    }
}

/// Equally likely standard normal readings of one number and of two.
///
/// Of two, the squared lengths are equally likely values of χ² with two degrees of freedom, the
/// directions turn by the golden angle: whatever fails beyond some distance from what is expected
/// is counted to within one of so many. A square of quantiles would leave its corners out, where
/// one reading of twenty lies.
pub(super) struct Nodes {
    one: Vec<Vector2<f64>>,
    two: Vec<Vector2<f64>>,
}

impl Nodes {
    pub fn new(count: u32) -> Self {
        let normal = Normal::standard();
        let shares = || (0..count).map(|i| (f64::from(i), (f64::from(i) + 0.5) / f64::from(count)));
        let golden = TAU / (0.5 * (1.0 + 5f64.sqrt())).powi(2);
        Self {
            one: shares().map(|(_, share)| Vector2::new(normal.inverse_cdf(share), 0.0)).collect(),
            two: shares()
                .map(|(i, share)| {
                    let (sin, cos) = (i * golden).sin_cos();
                    Vector2::new(sin, cos) * (-2.0 * (1.0 - share).ln()).sqrt()
                })
                .collect(),
        }
    }

    /// For a law of so many numbers.
    pub fn of(&self, count: usize) -> &[Vector2<f64>] {
        if count == 1 { &self.one } else { &self.two }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nodes_have_the_moments_of_the_normal_law() {
        let nodes = Nodes::new(55);
        for count in [1, 2] {
            let all = nodes.of(count);
            let mean = |of: &dyn Fn(&Vector2<f64>) -> f64| {
                all.iter().map(of).sum::<f64>() / all.len() as f64
            };
            assert!(mean(&|at| at[0]).abs() < 0.03);
            assert!((mean(&|at| at[0] * at[0]) - 1.0).abs() < 0.06, "{count}");
        }
        let beyond = nodes.two.iter().filter(|at| at.norm_squared() > 5.991).count() as f64;
        // One of twenty lies beyond the 95 % point of χ² with two degrees of freedom (published).
        assert!((beyond / 55.0 - 0.05).abs() < 1.0 / 55.0);
    }
}
