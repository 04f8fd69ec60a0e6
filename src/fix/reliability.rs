//! What the contacts would not show: errors too small for the tests, and what they do to the fix.
//!
//! W. Baarda, "A testing procedure for use in geodetic networks" (1968, from memory): a measurement
//! of which the share q is checked by the others shows an error of σ·√(λ₀/q) four times in five,
//! where the test raises a false alarm once in a thousand. λ₀ = 17.07 (computed from the normal
//! law: (3.2905 + 0.8416)²).

use nalgebra::{Matrix2, SMatrix, Vector2};

use crate::identity::{Quantity, Row, STATES, Solution, Square};

/// Non-centrality of a test at one in a thousand, two-sided, that finds four errors of five.
pub(super) const NON_CENTRALITY: f64 = 17.07;
/// A share checked that is less than this is none.
const LEAST_CHECKED: f64 = 1e-9;

/// The greatest error of one measurement that may well go unnoticed, and how far it moves the fix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Unnoticed {
    pub sight: usize,
    pub quantity: Quantity,
    /// In the unit of the quantity; infinite where nothing checks it.
    pub error: f64,
    /// Metres; infinite likewise.
    pub moves: f64,
}

/// For one measurement of a solution.
pub(super) fn unnoticed(row: &Row, solution: &Solution) -> Unnoticed {
    let gain = solution.covariance * row.slope;
    let checked = 1.0 - row.slope.dot(&gain) / row.variance;
    let error = if checked < LEAST_CHECKED {
        f64::INFINITY
    } else {
        (NON_CENTRALITY * row.variance / checked).sqrt()
    };
    let moves = error * gain[0].hypot(gain[1]) / row.variance;
    Unnoticed { sight: row.sight, quantity: row.quantity, error, moves }
}

/// How far the fix moves, in metres, by the worst displacement of one mark that may well go
/// unnoticed: the mark taken for another. `rows` are all measurements of that mark.
pub(super) fn unnoticed_mark<'a>(rows: impl Iterator<Item = &'a Row>, covariance: &Square) -> f64 {
    let mut by_place = Matrix2::<f64>::zeros();
    let mut by_state = SMatrix::<f64, STATES, 2>::zeros();
    for row in rows {
        let place = Vector2::new(row.slope[0], row.slope[1]);
        by_place += place * place.transpose() / row.variance;
        by_state += row.slope * place.transpose() / row.variance;
    }
    let moved = covariance.fixed_rows::<2>(0) * by_state;
    let shown = by_place - by_state.transpose() * covariance * by_state;
    // A direction in which the mark's place is not measured shows nothing, and moves nothing.
    let least = LEAST_CHECKED * by_place.trace();
    let shown = 0.5 * (shown + shown.transpose()) + Matrix2::identity() * least;
    let Some(root) = shown.cholesky().map(|c| c.l()) else { return f64::INFINITY };
    let Some(inverse) = root.try_inverse() else { return f64::INFINITY };
    let unseen = moved * inverse.transpose();
    let most = (unseen.transpose() * unseen).symmetric_eigenvalues().max();
    (NON_CENTRALITY * most.max(0.0)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::Position;
    use crate::identity::State;

    fn row(slope: [f64; 2], sigma: f64) -> Row {
        let mut all = State::zeros();
        (all[0], all[1]) = (slope[0], slope[1]);
        let variance = sigma * sigma;
        Row { sight: 0, quantity: Quantity::Range, residual: 0.0, variance, slope: all }
    }

    /// A position from rows alone, the shared errors known.
    fn solution(rows: Vec<Row>) -> Solution {
        let mut information = Square::identity();
        (information[(0, 0)], information[(1, 1)]) = (1e-12, 1e-12);
        for row in &rows {
            information += row.slope * row.slope.transpose() / row.variance;
        }
        Solution {
            position: Position::new(0.0, 0.0).unwrap(),
            state: State::zeros(),
            cost: 0.0,
            information,
            covariance: information.try_inverse().unwrap(),
            half_log_det: 0.0,
            prior_half_log_det: 0.0,
            rows,
            settled: true,
        }
    }

    #[test]
    fn the_non_centrality_is_that_of_the_normal_law() {
        // Normal quantiles: 3.290527 (1/2000 in a tail) and 0.841621 (1/5).
        assert!((NON_CENTRALITY - (3.290_527f64 + 0.841_621).powi(2)).abs() < 0.01);
    }

    #[test]
    fn of_four_equal_measurements_of_one_line_a_quarter_of_an_error_is_hidden() {
        // The mean of four: each is checked to 3/4, an error e moves it by e/4 (computed).
        let east = row([1.0, 0.0], 100.0);
        let found = solution(vec![east, east, east, east, row([0.0, 1.0], 100.0)]);
        let told = unnoticed(&found.rows[0], &found);
        assert!((told.error - 100.0 * (17.07f64 / 0.75).sqrt()).abs() < 0.1, "{told:?}");
        assert!((told.moves - told.error / 4.0).abs() < 0.1, "{told:?}");
        // The lone northern one is checked by nothing.
        let alone = unnoticed(&found.rows[4], &found);
        assert!(alone.error > 1e5 && alone.moves > 1e5, "{alone:?}");
        // The same by the mark that the one row is of.
        let mark = unnoticed_mark(found.rows[..1].iter(), &found.covariance);
        assert!((mark - told.moves).abs() < 0.1, "{mark}");
    }
}
