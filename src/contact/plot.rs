use crate::geodesy::{Covariance, PlanePoint};
use crate::units::{Angle, Bearing, GroundRange, Height, SlantRange, True};

/// Where an echo lies from own place by its range and bearing, and the error of that: of the range along
/// the line, of the bearing across it.
///
/// Laid flat: along the ground √(r² − h²), what height the echo has being small beside what it is read
/// to; the Earth's curve is left out.
///
/// - `range`, `range_sigma`: slant; `height`: of own antenna.
/// - returns: from own place when it was read.
pub fn plot(
    (range, range_sigma): (SlantRange, GroundRange),
    (bearing, bearing_sigma): (Bearing<True>, Angle),
    height: Height,
) -> (PlanePoint, Covariance) {
    let (slant, up) = (range.metres(), height.metres());
    let along = GroundRange::clamped_metres((slant * slant - up * up).max(0.0).sqrt());
    let across = GroundRange::clamped_metres(along.metres() * bearing_sigma.radians().abs());
    let error = Covariance::along_across(range_sigma, across, bearing);
    (PlanePoint::at(along, bearing), error)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slant_range_is_laid_off_along_the_ground() {
        // The 3-4-5 triangle: 5 km away and 3 km up is 4 km along the ground; 0.01 rad there is 40 m.
        let range = (SlantRange::clamped_metres(5_000.0), GroundRange::clamped_metres(30.0));
        let bearing = (Bearing::wrapped_degrees(90.0), Angle::from_radians(-0.01));
        let (at, error) = plot(range, bearing, Height::from_metres(3_000.0).unwrap());
        assert!((at.east - 4_000.0).abs() < 1e-6 && at.north.abs() < 1e-6, "{at:?}");
        let [ee, en, nn] = error.square_metres();
        assert!((ee - 900.0).abs() < 1e-6 && en.abs() < 1e-6 && (nn - 1_600.0).abs() < 1e-6);
        // Nearer than own height it is below.
        let under = (SlantRange::clamped_metres(2_000.0), GroundRange::ZERO);
        let (at, _) = plot(under, bearing, Height::from_metres(3_000.0).unwrap());
        assert!(at.east.abs() < 1e-9 && at.north.abs() < 1e-9);
    }
}
