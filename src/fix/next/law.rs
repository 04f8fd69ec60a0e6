use nalgebra::{Matrix2, Vector2};

use crate::identity::{Mode, Row, Solution};
use crate::units::Angle;

/// What a measurement of one or two numbers would read from one place: a normal law.
#[derive(Debug, Clone, Copy)]
pub(super) struct Law {
    mean: Vector2<f64>,
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
        let log_scale =
            root[(0, 0)].ln() + root[(1, 1)].ln() + 0.5 * count as f64 * std::f64::consts::TAU.ln();
        Some(Self { mean, root, inverse: factor.inverse(), log_scale, count, turns })
    }

    /// How many numbers are read.
    pub fn count(&self) -> usize {
        self.count
    }

    /// The first number expected.
    pub fn first(&self) -> f64 {
        self.mean[0]
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
        let mut off = reading - self.mean;
        for (off, turns) in off.iter_mut().zip(self.turns) {
            if turns {
                *off = Angle::from_radians(*off).radians();
            }
        }
        (-0.5 * (off.transpose() * self.inverse * off)[(0, 0)] - self.log_scale).exp()
    }
}

/// Standard normal readings and their weights: what a sum over them comes to.
pub(super) fn nodes(count: usize, fine: bool) -> Vec<(Vector2<f64>, f64)> {
    let one: Vec<(f64, f64)> = if fine { quantiles() } else { GAUSS_HERMITE.to_vec() };
    if count == 1 {
        return one.into_iter().map(|(x, w)| (Vector2::new(x, 0.0), w)).collect();
    }
    one.iter()
        .flat_map(|(x, w)| one.iter().map(move |(y, v)| (Vector2::new(*x, *y), w * v)))
        .collect()
}

/// Five nodes of Gauss and Hermite for the standard normal law (published in any table; weights
/// over √π, nodes times √2).
const GAUSS_HERMITE: [(f64, f64); 5] = [
    (-2.856_970_013_872_806, 0.011_257_411_327_720_69),
    (-1.355_626_179_974_266, 0.222_075_922_005_612_6),
    (0.0, 0.533_333_333_333_333_3),
    (1.355_626_179_974_266, 0.222_075_922_005_612_6),
    (2.856_970_013_872_806, 0.011_257_411_327_720_69),
];

/// Eleven equally likely values: for a share of cases, which has a step in it.
fn quantiles() -> Vec<(f64, f64)> {
    use statrs::distribution::{ContinuousCDF, Normal};
    const PARTS: u32 = 11;
    let normal = Normal::standard();
    (0..PARTS)
        .map(|i| {
            (normal.inverse_cdf((f64::from(i) + 0.5) / f64::from(PARTS)), 1.0 / f64::from(PARTS))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nodes_have_the_moments_of_the_normal_law() {
        for (fine, tolerance) in [(false, 1e-12), (true, 0.12)] {
            for count in [1, 2] {
                let all = nodes(count, fine);
                let sum = |of: &dyn Fn(Vector2<f64>) -> f64| {
                    all.iter().map(|(at, w)| w * of(*at)).sum::<f64>()
                };
                assert!((sum(&|_| 1.0) - 1.0).abs() < 1e-12);
                assert!(sum(&|at| at[0]).abs() < 1e-12);
                assert!((sum(&|at| at[0] * at[0]) - 1.0).abs() < tolerance, "{fine} {count}");
            }
        }
    }
}
