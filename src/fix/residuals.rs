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
    // What is left of an outline is told by itself.
    let traced =
        |sight: &usize| case.problem.sights.get(*sight).is_some_and(|s| s.traced.is_some());
    (0..case.labels.len())
        .filter(|sight| !traced(sight))
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
    use crate::geodesy::Position;
    use crate::identity::{Square, State};

    #[test]
    fn gates_are_those_of_the_tables() {
        let table = include_str!("../../tests/reference/chi-square.csv");
        for line in table.lines().filter(|line| !line.starts_with('#')).skip(1) {
            let row: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
            let [dof, gates @ ..] = row.as_slice() else { panic!("{line}") };
            for (gate, chance) in gates.iter().zip([0.05, 0.01, 0.001]) {
                // Three decimals of the gate: its density there is under 0.06 of the chance.
                let found = tail(*gate, *dof as usize);
                assert!((found / chance - 1.0).abs() < 1e-3, "{dof}: {found}");
            }
        }
        assert!((tail(3.0, 0) - 1.0).abs() < 1e-12);
    }

    /// A line levelled forth and back, in millimetres, sigma 5 each: 1a to 4, 3, 2 and home again.
    ///
    /// The sample "1D vertical least square adjustment" of GNU Gama, a general program for geodetic
    /// networks, version 1.5.09, with its printed answer (published, at vrmapper.com/gama).
    const LEVELLED: [(Option<usize>, Option<usize>, f64); 8] = [
        (None, Some(0), -1_225.0),
        (Some(0), Some(1), -848.0),
        (Some(1), Some(2), 1_342.0),
        (Some(2), None, 720.0),
        (None, Some(2), -724.0),
        (Some(2), Some(1), -1_335.0),
        (Some(1), Some(0), 842.0),
        (Some(0), None, 1_231.0),
    ];
    const SIGMA_MM: f64 = 5.0;

    /// Heights of points 4, 3 and 2 over 1a, the other unknowns held at nought.
    fn levelled(errors: [f64; 8]) -> (Solution, State) {
        let mut information = Square::identity() * 1e6;
        for height in 0..3 {
            information[(height, height)] = 0.0;
        }
        let mut gradient = State::zeros();
        let mut rows = Vec::new();
        for (sight, ((from, to, read), error)) in LEVELLED.into_iter().zip(errors).enumerate() {
            let mut slope = State::zeros();
            if let Some(from) = from {
                slope[from] = -1.0;
            }
            if let Some(to) = to {
                slope[to] = 1.0;
            }
            let (residual, variance) = (read + error, SIGMA_MM * SIGMA_MM);
            information += slope * slope.transpose() / variance;
            gradient += slope * (residual / variance);
            rows.push(Row { sight, quantity: Quantity::Range, residual, variance, slope });
        }
        let covariance = information.cholesky().unwrap().inverse();
        let heights = covariance * gradient;
        for row in &mut rows {
            row.residual -= row.slope.dot(&heights);
        }
        let cost = rows.iter().map(|row| row.residual * row.residual / row.variance).sum();
        let solution = Solution {
            position: Position::new(0.0, 0.0).unwrap(),
            state: State::zeros(),
            cost,
            information,
            covariance,
            half_log_det: 0.0,
            prior_half_log_det: 0.0,
            rows,
            settled: true,
        };
        (solution, heights)
    }

    #[test]
    fn residuals_of_a_levelled_line_are_those_printed() {
        let (solution, heights) = levelled([0.0; 8]);
        for (index, (height, sigma)) in
            [(998.775_13, 3.1), (997.933_25, 3.5), (999.274_87, 3.1)].into_iter().enumerate()
        {
            assert!((1_000.0 + heights[index] / 1_000.0 - height).abs() < 6e-6, "{heights}");
            assert!((solution.covariance[(index, index)].sqrt() - sigma).abs() < 0.05);
        }
        // The sum of squares, in square millimetres, and the largest normalised residual: the sixth.
        assert!((solution.cost * SIGMA_MM * SIGMA_MM - 146.625).abs() < 1e-3, "{}", solution.cost);
        let w: Vec<f64> =
            solution.rows.iter().map(|row| standardised(row, &solution, true).abs()).collect();
        let w_most = w[5];
        assert!((w_most - 1.68).abs() < 5e-3, "{w:?}");
        assert!(w.iter().all(|w| *w <= w_most), "{w:?}");
    }

    #[test]
    fn an_error_as_large_as_the_least_to_be_found_moves_w_by_as_much() {
        // Redundancy numbers, 1 - aCaᵀ/σ²: 5/8 for each of eight levellings of a ring of four legs,
        // twice over, with three unknowns (by hand: all eight are alike and sum to five). The least
        // error to be found, σ √(λ/r) with λ = 17.07 for one false alarm in a thousand and four
        // finds in five (W. Baarda 1968, from memory), is 5 mm × 5.226 = 26.1 mm, and moves its own
        // w by √17.07 = 4.13.
        let (clean, _) = levelled([0.0; 8]);
        for found in 0..8 {
            let row = &clean.rows[found];
            let taken = (row.slope.transpose() * clean.covariance * row.slope)[(0, 0)];
            assert!((1.0 - taken / row.variance - 0.625).abs() < 1e-6);
            let mut errors = [0.0; 8];
            errors[found] = SIGMA_MM * (17.07f64 / 0.625).sqrt();
            assert!((errors[found] - 26.13).abs() < 5e-3);
            let (moved, _) = levelled(errors);
            let w = |solution: &Solution| standardised(&solution.rows[found], solution, true);
            assert!((w(&moved) - w(&clean) - 4.13).abs() < 5e-3);
        }
    }
}
