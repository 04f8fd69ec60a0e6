use crate::identity::{Problem, Row, Solution};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// Position lines that cross at less than this leave a direction as good as free.
const LEAST_CUT_DEG: f64 = 15.0;
/// Below this the trade warns: the error along the lines doubles.
pub(super) const POOR_CUT_DEG: f64 = 30.0;
/// An ellipse this large against the distance of what it was measured on is no position: the
/// lines can no longer be taken for straight.
const MOST_SHARE: f64 = 0.35;
/// Nearer marks than this are judged as if at it.
const LEAST_DISTANCE_M: f64 = METRES_PER_NAUTICAL_MILE;

/// The widest angle, in degrees up to 90, at which any two of the position lines cross.
pub(super) fn cut(rows: &[Row]) -> f64 {
    let normals: Vec<(f64, f64)> = rows
        .iter()
        .filter_map(|row| {
            let (east, north) = (row.slope[0], row.slope[1]);
            let length = east.hypot(north);
            (length > 0.0).then(|| (east / length, north / length))
        })
        .collect();
    let mut widest = 0.0f64;
    for (i, a) in normals.iter().enumerate() {
        for b in normals.iter().skip(i + 1) {
            let sine = (a.0 * b.1 - a.1 * b.0).abs().min(1.0);
            widest = widest.max(sine);
        }
    }
    crate::units::Angle::from_radians(widest.asin()).degrees()
}

/// Whether the contacts, without the reckoning, leave a direction free or nearly.
pub(super) fn leaves_a_direction_free(problem: &Problem, alone: Option<&Solution>) -> bool {
    let Some(alone) = alone else { return true };
    if cut(&alone.rows) < LEAST_CUT_DEG {
        return true;
    }
    let (long, _, _) = alone.position_covariance().axes();
    let far = alone
        .rows
        .iter()
        .map(|row| {
            let sight = problem.sights.get(row.sight);
            let traced = sight.and_then(|s| s.traced.as_ref());
            match (sight.and_then(|s| s.range), traced) {
                (Some(range), _) => range.value,
                (None, Some(traced)) => traced.range,
                (None, None) => row.distance_of_direction().unwrap_or(0.0),
            }
        })
        .fold(LEAST_DISTANCE_M, f64::max);
    2.447_7 * long.sqrt() > MOST_SHARE * far
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::identity::{Quantity, State};

    fn row(east: f64, north: f64) -> Row {
        let mut slope = State::zeros();
        (slope[0], slope[1]) = (east, north);
        Row { sight: 0, quantity: Quantity::Range, residual: 0.0, variance: 1.0, slope }
    }

    #[test]
    fn the_cut_is_the_angle_between_lines() {
        // Circles of 5 NM about (0, 0) and (8, 0) meet at (4, 3): cut 73.74° (computed).
        let circles = [row(0.8, 0.6), row(-0.8, 0.6)];
        assert!((cut(&circles) - 73.74).abs() < 0.01);
        // Touching circles do not cut.
        assert!(cut(&[row(1.0, 0.0), row(-1.0, 0.0)]) < 1e-6);
        assert!(cut(&[row(1.0, 0.0)]) < 1e-6);
    }
}
