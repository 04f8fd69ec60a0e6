use nalgebra::{Matrix2, Vector2};

use crate::identity::{Row, Solution, Square, State};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// However well it fits, an echo is taken to be something that is on no list, or misread, this often.
const FAULT: f64 = 0.02;
/// How far off such an echo lies, in miles: any distance between these, each doubling alike.
const FAULT_NM: [f64; 2] = [0.5, 8.0];
/// No odds are reckoned beyond the exponential of this.
const MOST_NATS: f64 = 60.0;

/// Everything that was measured on one mark: if it is not that mark, all of it is wrong together.
#[derive(Debug, Clone)]
pub(super) struct Echo {
    /// Its first sight.
    pub sight: usize,
    /// The chance that it is not what it is taken for, nor anything on the list.
    pub chance: f64,
    /// What it adds to the normal matrix.
    pub information: Square,
    /// And to the gradient, at the solution.
    pub pull: State,
}

/// The echoes of one set of identities; sights of `any_shore` are of as many pieces of it.
pub(super) fn echoes(
    solution: &Solution,
    targets: &[Option<usize>],
    any_shore: Option<usize>,
) -> Vec<Echo> {
    let mut found: Vec<((usize, usize), Echo)> = Vec::new();
    for row in &solution.rows {
        let Some(target) = targets.get(row.sight).copied().flatten() else { continue };
        let apart = if Some(target) == any_shore { row.sight } else { 0 };
        let known = found.iter_mut().find(|(known, _)| *known == (target, apart));
        if let Some((_, echo)) = known {
            echo.take(row);
            continue;
        }
        let mut echo = Echo {
            sight: row.sight,
            chance: FAULT,
            information: Square::zeros(),
            pull: State::zeros(),
        };
        echo.take(row);
        found.push(((target, apart), echo));
    }
    let odds: Vec<f64> = found.iter().map(|(_, echo)| FAULT * echo.likelier(solution)).collect();
    let all = 1.0 + odds.iter().sum::<f64>();
    for ((_, echo), odds) in found.iter_mut().zip(odds) {
        echo.chance = echo.chance.max(odds / all);
    }
    found.into_iter().map(|(_, echo)| echo).collect()
}

impl Echo {
    fn take(&mut self, row: &Row) {
        self.information += row.slope * row.slope.transpose() / row.variance;
        self.pull += row.slope * (row.residual / row.variance);
    }

    /// How much likelier what was read of all echoes is if this one lies anywhere about its mark
    /// than if it is the mark.
    ///
    /// Its displacement b is two unknowns more. What the residuals say of them is normal, with the
    /// information S = D - Bᵀ C B (D the echo's own, B what it shares with the other unknowns, C
    /// their covariance) and the mean S⁻¹ g; the ratio is that normal law over its value at nought,
    /// integrated over the density of displacements, which is taken where the law has its mean. A
    /// direction in which nothing tells of b is left out of it.
    fn likelier(&self, solution: &Solution) -> f64 {
        // A mark moved is own place moved the other way.
        let shared = self.information.fixed_columns::<2>(0);
        let own: Matrix2<f64> = self.information.fixed_view::<2, 2>(0, 0).into();
        let told = own - shared.transpose() * solution.covariance * shared;
        let pull = Vector2::new(-self.pull[0], -self.pull[1]);
        let eigen = told.symmetric_eigen();
        let [nearest, farthest] = FAULT_NM.map(|nm| nm * METRES_PER_NAUTICAL_MILE);
        // Along each direction that is told: sigma, and where the echo would lie.
        let known: Vec<(f64, f64)> = (0..2)
            .filter_map(|i| {
                let value = eigen.eigenvalues[i];
                let along = eigen.eigenvectors.column(i).dot(&pull);
                (value * farthest * farthest > 1.0).then(|| (value.sqrt().recip(), along / value))
            })
            .collect();
        let span = (farthest / nearest).ln();
        let gain: f64 = known.iter().map(|(sigma, at)| 0.5 * (at / sigma).powi(2)).sum();
        let gain = gain.min(MOST_NATS).exp();
        match known.as_slice() {
            [] => 1.0,
            [(sigma, at)] => {
                let far = at.abs().max(nearest).max(*sigma);
                gain * std::f64::consts::TAU.sqrt() * sigma / (2.0 * far * span)
            }
            [(sigma, at), (other, aside), ..] => {
                let far = at.hypot(*aside).max(nearest).max(sigma.max(*other));
                gain * sigma * other / (far * far * span)
            }
        }
    }
}
