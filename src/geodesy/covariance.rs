use nalgebra::Matrix2;
use thiserror::Error;

use crate::units::{Angle, Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, True};

/// A quarter of the Earth's meridian, metres: farther off nobody is.
const QUARTER_EARTH_M: f64 = 1e7;

/// How uncertain a position is: variances and covariance of its east and north errors.
///
/// Square metres inside; symmetric and positive semi-definite by construction.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Covariance {
    ee: f64,
    en: f64,
    nn: f64,
}

/// The figures given are no covariance.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error(
    "[[{ee}, {en}], [{en}, {nn}]] is no covariance: its variances must be positive and its determinant not negative"
)]
pub struct CovarianceError {
    ee: f64,
    en: f64,
    nn: f64,
}

/// The contour that holds the truth with a stated probability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipse {
    /// The probability that the truth lies inside.
    pub probability: f64,
    /// Half of the long axis.
    pub semi_major: GroundRange,
    /// Half of the short axis.
    pub semi_minor: GroundRange,
    /// Direction of the long axis, in `[0°, 180°)`.
    pub major_axis: Bearing<True>,
}

impl Covariance {
    /// From square metres.
    ///
    /// # Errors
    /// Not finite, a negative variance, or a correlation beyond one.
    pub fn from_square_metres(ee: f64, en: f64, nn: f64) -> Result<Self, CovarianceError> {
        let sound = [ee, en, nn].iter().all(|v| v.is_finite()) && ee >= 0.0 && nn >= 0.0;
        // Rounding may leave the determinant of a needle a hair below zero.
        if sound && en * en <= ee * nn * (1.0 + 1e-9) {
            Ok(Self { ee, en, nn })
        } else {
            Err(CovarianceError { ee, en, nn })
        }
    }

    /// From square metres that rounding may have left a hair from sound: no variance is below nought
    /// then, and no correlation beyond one. None of what is no number.
    pub fn nearest(ee: f64, en: f64, nn: f64) -> Option<Self> {
        if ![ee, en, nn].iter().all(|v| v.is_finite()) {
            return None;
        }
        let (ee, nn) = (ee.max(0.0), nn.max(0.0));
        let most = (ee * nn).sqrt();
        Self::from_square_metres(ee, en.clamp(-most, most), nn).ok()
    }

    /// Of a place that may be anywhere, in place of what is no number, which must never read as no error.
    pub fn unknown() -> Self {
        Self::circular(GroundRange::clamped_metres(QUARTER_EARTH_M))
    }

    /// From square nautical miles.
    ///
    /// # Errors
    /// As [`Covariance::from_square_metres`].
    pub fn from_square_miles(ee: f64, en: f64, nn: f64) -> Result<Self, CovarianceError> {
        let square = METRES_PER_NAUTICAL_MILE * METRES_PER_NAUTICAL_MILE;
        Self::from_square_metres(ee * square, en * square, nn * square)
            .map_err(|_| CovarianceError { ee, en, nn })
    }

    /// The same error in every direction: one standard deviation on each axis.
    pub fn circular(sigma: GroundRange) -> Self {
        let variance = sigma.metres() * sigma.metres();
        Self { ee: variance, en: 0.0, nn: variance }
    }

    /// One standard deviation along a direction and one across it.
    pub fn along_across(along: GroundRange, across: GroundRange, axis: Bearing<True>) -> Self {
        let (sin, cos) = axis.sin_cos();
        let (a2, c2) = (along.metres().powi(2), across.metres().powi(2));
        Self {
            ee: a2 * sin * sin + c2 * cos * cos,
            en: (a2 - c2) * sin * cos,
            nn: a2 * cos * cos + c2 * sin * sin,
        }
    }

    /// East variance, covariance, north variance, in square metres.
    pub fn square_metres(self) -> [f64; 3] {
        [self.ee, self.en, self.nn]
    }

    /// East first, in square metres.
    pub fn matrix(self) -> Matrix2<f64> {
        Matrix2::new(self.ee, self.en, self.en, self.nn)
    }

    /// `[[ee, en], [en, nn]]` in square nautical miles.
    pub fn square_miles(self) -> [[f64; 2]; 2] {
        let square = METRES_PER_NAUTICAL_MILE * METRES_PER_NAUTICAL_MILE;
        [[self.ee / square, self.en / square], [self.en / square, self.nn / square]]
    }

    /// The sum of two independent errors.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self { ee: self.ee + other.ee, en: self.en + other.en, nn: self.nn + other.nn }
    }

    /// Standard deviation along one direction, in metres.
    pub fn sigma_towards(self, direction: Bearing<True>) -> f64 {
        let (sin, cos) = direction.sin_cos();
        (self.ee * sin * sin + 2.0 * self.en * sin * cos + self.nn * cos * cos).max(0.0).sqrt()
    }

    /// Variances along the long and the short axis in square metres, and the long axis.
    pub fn axes(self) -> (f64, f64, Bearing<True>) {
        let middle = 0.5 * (self.ee + self.nn);
        let spread = (0.5 * (self.ee - self.nn)).hypot(self.en);
        // The long axis is half the angle of (nn - ee, 2 en), counted from north to east.
        let axis = 0.5 * (2.0 * self.en).atan2(self.nn - self.ee);
        let degrees = Angle::from_radians(axis).degrees().rem_euclid(180.0);
        let degrees = if degrees >= 180.0 { 0.0 } else { degrees };
        (middle + spread, (middle - spread).max(0.0), Bearing::wrapped_degrees(degrees))
    }

    /// The ellipse that holds the truth with `probability`, for a normal error.
    ///
    /// Semi-axes are `√(-2 ln(1 - p))` standard deviations (χ² of two degrees of freedom in closed
    /// form): 2.4477 at 95 %. `probability` is held to `[0, 0.999999]`.
    pub fn ellipse(self, probability: f64) -> Ellipse {
        let probability = probability.clamp(0.0, 0.999_999);
        let scale = circle_scale(probability);
        let (long, short, major_axis) = self.axes();
        Ellipse {
            probability,
            semi_major: GroundRange::clamped_metres(scale * long.sqrt()),
            semi_minor: GroundRange::clamped_metres(scale * short.sqrt()),
            major_axis,
        }
    }

    /// Squared statistical distance of an error of `east` and `north` metres.
    ///
    /// Infinite where the covariance is flat in a direction that the error has a part in.
    pub fn mahalanobis_squared(self, east: f64, north: f64) -> f64 {
        let determinant = self.ee * self.nn - self.en * self.en;
        if determinant <= 0.0 {
            return if east == 0.0 && north == 0.0 { 0.0 } else { f64::INFINITY };
        }
        (self.nn * east * east - 2.0 * self.en * east * north + self.ee * north * north)
            / determinant
    }
}

/// How many standard deviations of a circular (or elliptical) normal error hold `probability`.
///
/// `√(-2 ln(1 - p))`: 1.1774 for 50 %, 2.4477 for 95 %, 3.0349 for 99 %.
pub fn circle_scale(probability: f64) -> f64 {
    (-2.0 * (1.0 - probability).ln()).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn miles(value: f64) -> GroundRange {
        GroundRange::from_nautical_miles(value).unwrap()
    }

    #[test]
    fn scales_are_those_of_the_published_table() {
        // Circular normal table as quoted from Bowditch 1977, table Q6c (seen second-hand), to its
        // printed digits; four-digit values computed.
        for (probability, scale) in [
            (0.393_469, 1.0),
            (0.5, 1.1774),
            (0.90, 2.1460),
            (0.95, 2.4477),
            (0.99, 3.0349),
            (0.999, 3.7169),
        ] {
            assert!((circle_scale(probability) - scale).abs() < 5e-5, "{probability}");
        }
        // One, two and three sigma ellipses hold 39.35, 86.47 and 98.89 % (computed).
        for (scale, held) in [(1.0, 0.3935), (2.0, 0.8647), (3.0, 0.9889)] {
            assert!((circle_scale(held) - scale).abs() < 1e-3, "{held}");
        }
        // The 95 % ellipse is √5.991 standard deviations: χ² table, two degrees of freedom.
        assert!((circle_scale(0.95).powi(2) - 5.991).abs() < 5e-4);
    }

    #[test]
    fn rounding_is_mended_and_what_is_no_number_is_not() {
        let of = |ee, en, nn| Covariance::nearest(ee, en, nn).map(Covariance::square_metres);
        assert_eq!(of(4.0, 1.0, 9.0), Some([4.0, 1.0, 9.0]));
        assert_eq!(of(4.0, -6.000_1, 9.0), Some([4.0, -6.0, 9.0]));
        assert_eq!(of(-1e-9, 1e-9, 9.0), Some([0.0, 0.0, 9.0]));
        assert_eq!(of(f64::INFINITY, 1.0, 0.0), None);
        assert_eq!(of(f64::NAN, 0.0, 9.0), None);
        assert_eq!(of(4.0, f64::NAN, 9.0), None);
    }

    #[test]
    fn two_equal_lines_give_the_tabled_axes() {
        // Two position lines, sigma 1 each, crossing at 60°: axes 1.4142 and 0.8165, drms 1.6330
        // (formula from memory, values computed). The long axis halves the acute angle.
        let information = |normal_deg: f64| {
            let (sin, cos) = Bearing::<True>::wrapped_degrees(normal_deg).sin_cos();
            [sin * sin, sin * cos, cos * cos]
        };
        let sum: Vec<f64> = (0..3).map(|i| information(0.0)[i] + information(60.0)[i]).collect();
        let determinant = sum[0] * sum[2] - sum[1] * sum[1];
        let covariance = Covariance::from_square_metres(
            sum[2] / determinant,
            -sum[1] / determinant,
            sum[0] / determinant,
        )
        .unwrap();
        let (long, short, axis) = covariance.axes();
        assert!((long - 2.0).abs() < 1e-9); // 1.4142 squared
        assert!((short.sqrt() - 0.8165).abs() < 5e-5);
        assert!(((long + short).sqrt() - 1.6330).abs() < 5e-5);
        assert!((axis.degrees() - 120.0).abs() < 1e-9);
    }

    #[test]
    fn a_line_sharpens_one_direction_only() {
        // Reckoning circular sigma 4, line sigma 1 toward 060: ellipse 4.000 by 0.970, long axis
        // 150° (computed).
        let covariance = Covariance::along_across(
            miles(4.0),
            miles((16.0f64 / 17.0).sqrt()),
            Bearing::wrapped_degrees(150.0),
        );
        let ellipse = covariance.ellipse(1.0 - (-0.5f64).exp());
        assert!((ellipse.semi_major.nautical_miles() - 4.0).abs() < 1e-9);
        assert!((ellipse.semi_minor.nautical_miles() - 0.970).abs() < 5e-4);
        assert!((ellipse.major_axis.degrees() - 150.0).abs() < 1e-9);
        assert!(
            (covariance.sigma_towards(Bearing::wrapped_degrees(60.0)) / 1852.0 - 0.970).abs()
                < 5e-4
        );
    }

    #[test]
    fn what_is_no_covariance_does_not_construct() {
        assert!(Covariance::from_square_miles(1.0, 2.0, 1.0).is_err());
        assert!(Covariance::from_square_miles(-1.0, 0.0, 1.0).is_err());
        assert!(Covariance::from_square_miles(f64::NAN, 0.0, 1.0).is_err());
        assert!(Covariance::from_square_miles(1.0, 1.0, 1.0).is_ok());
    }
}
