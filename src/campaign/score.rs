//! How far an answer is from the truth, and when it is right.

use crate::geodesy::{Covariance, Position, course};

/// A position this near the truth is right, in nautical miles.
pub const NEAR_NM: f64 = 1.0;

/// And so is one whose own 99.9 % ellipse holds the truth: chi-square, two degrees of freedom.
pub const ELLIPSE_999: f64 = 13.816;
/// See [`ELLIPSE_999`]: 95 %.
pub const ELLIPSE_95: f64 = 5.991;
/// See [`ELLIPSE_999`]: 50 %.
pub const ELLIPSE_50: f64 = 1.386;

/// How far a position is from the truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Off {
    /// Along the ground.
    pub error_nm: f64,
    /// Squared statistical distance, by its own covariance.
    pub squared: f64,
    /// Half axes of its 95 % ellipse, nautical miles.
    pub axes_nm: [f64; 2],
}

impl Off {
    /// Of a position and its covariance.
    pub fn new(truth: Position, position: Position, covariance: Covariance) -> Self {
        let line = course(position, truth);
        let (sin, cos) = line.initial.sin_cos();
        let metres = line.distance.metres();
        let ellipse = covariance.ellipse(0.95);
        Self {
            error_nm: line.distance.nautical_miles(),
            squared: covariance.mahalanobis_squared(metres * sin, metres * cos),
            axes_nm: [ellipse.semi_major.nautical_miles(), ellipse.semi_minor.nautical_miles()],
        }
    }

    /// Near enough, or within what it states of itself.
    pub fn is_right(self) -> bool {
        self.error_nm <= NEAR_NM || self.squared <= ELLIPSE_999
    }
}
