use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::case::Case;
use super::report::{Consistency, Residual};
use crate::identity::{Quantity, Row, Solution};
use crate::units::Angle;

/// The chance that a sum of `dof` squared standard normal errors exceeds `chi2`.
pub(super) fn tail(chi2: f64, dof: usize) -> f64 {
    if dof == 0 {
        return 1.0;
    }
    ChiSquared::new(dof as f64).map_or(1.0, |law| law.sf(chi2.max(0.0)).clamp(0.0, 1.0))
}

/// The global test: the priors' residuals are in the sum, so that its degrees of freedom are the
/// number of values measured.
pub(super) fn consistency(solution: &Solution) -> Consistency {
    let (chi2, dof) = (solution.cost, solution.rows.len());
    Consistency { chi2, dof, p: tail(chi2, dof) }
}

/// A residual over its own standard deviation: Baarda's w.
///
/// w = v / √(σ² - a C aᵀ), a being the row of the design and C the covariance of the unknowns
/// (W. Baarda, "A testing procedure for use in geodetic networks", 1968, from memory). Where the
/// measurement is not checked by any other, nothing is left of it and w is zero.
pub(super) fn standardised(row: &Row, solution: &Solution, used: bool) -> f64 {
    let taken = (row.slope.transpose() * solution.covariance * row.slope)[(0, 0)];
    let variance = if used { row.variance - taken } else { row.variance + taken };
    if variance <= 1e-9 * row.variance { 0.0 } else { row.residual / variance.sqrt() }
}

/// The residuals of every sight that `used` or `unused` gives rows for, in the order of the sights.
pub(super) fn residuals(case: &Case<'_>, solution: &Solution, unused: &[Row]) -> Vec<Residual> {
    (0..case.labels.len())
        .filter_map(|sight| {
            let of = |rows: &[Row], used| one(case, solution, rows, sight, used);
            of(&solution.rows, true).or_else(|| of(unused, false))
        })
        .collect()
}

fn one(
    case: &Case<'_>,
    solution: &Solution,
    rows: &[Row],
    sight: usize,
    used: bool,
) -> Option<Residual> {
    let mine: Vec<&Row> = rows.iter().filter(|row| row.sight == sight).collect();
    if mine.is_empty() {
        return None;
    }
    let value = |quantity| mine.iter().find(|r| r.quantity == quantity).map(|r| r.residual);
    Some(Residual {
        contact: case.label(sight).to_owned(),
        range_m: value(Quantity::Range),
        bearing: mine.iter().find_map(|r| r.as_angle()).map(Angle::from_radians),
        ratio_db: value(Quantity::Ratio),
        standardised: mine.iter().map(|row| standardised(row, solution, used)).collect(),
        used,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gates_are_those_of_the_tables() {
        // χ² tables: 95 and 99 % for one to four numbers.
        for (dof, p95, p99) in
            [(1, 3.841, 6.635), (2, 5.991, 9.210), (3, 7.815, 11.345), (4, 9.488, 13.277)]
        {
            assert!((tail(p95, dof) - 0.05).abs() < 2e-5);
            assert!((tail(p99, dof) - 0.01).abs() < 1e-5);
        }
        assert!((tail(3.0, 0) - 1.0).abs() < 1e-12);
    }
}
