//! Figures as JSON has them: rounded to what they are worth, so that the same answer is the same bytes.

use serde::Serialize;

use crate::geodesy::{Covariance, Position};
use crate::units::Bearing;

/// Places after the point of a position that was fixed or reckoned: of a degree of latitude 1 cm.
pub(super) const POSITION_PLACES: i32 = 7;
/// Of a mile 2 mm.
pub(super) const LENGTH_PLACES: i32 = 6;
/// Of a square mile 3 m².
const AREA_PLACES: i32 = 9;
/// Of a degree.
pub(super) const ANGLE_PLACES: i32 = 4;

/// To so many places after the point; never a negative zero.
pub(in crate::command) fn rounded(value: f64, places: i32) -> f64 {
    let scale = 10f64.powi(places);
    let rounded = (value * scale).round() / scale;
    // Beyond what has places after the point, the value is its own rounding.
    if rounded.is_finite() { rounded + 0.0 } else { value }
}

/// A direction to a thousandth of a degree, below 360.
pub(super) fn in_turn<F>(bearing: Bearing<F>) -> f64 {
    let rounded = rounded(bearing.degrees(), 3);
    if rounded >= 360.0 { 0.0 } else { rounded }
}

/// `[[ee, en], [en, nn]]` in square nautical miles.
pub(super) fn square_miles(covariance: Covariance) -> [[f64; 2]; 2] {
    covariance.square_miles().map(|row| row.map(|value| rounded(value, AREA_PLACES)))
}

/// A place of a chart or of a plan, to some 10 cm.
#[derive(Serialize)]
pub(super) struct Place {
    lat_deg: f64,
    lon_deg: f64,
}

impl Place {
    pub(super) fn of(at: Position) -> Self {
        Self { lat_deg: rounded(at.latitude(), 6), lon_deg: rounded(at.longitude(), 6) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_rounded_and_never_minus_nothing() {
        assert_eq!(rounded(0.123_456_789, 4).to_string(), "0.1235");
        assert_eq!(rounded(-1e-12, 4).to_string(), "0");
        assert!(rounded(f64::INFINITY, 4).is_infinite());
    }
}
