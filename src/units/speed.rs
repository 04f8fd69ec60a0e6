use super::error::{UnitError, within};
use super::length::METRES_PER_NAUTICAL_MILE;

/// One knot in metres per second (exact by definition).
pub const KNOT: f64 = METRES_PER_NAUTICAL_MILE / 3600.0;

/// A speed without direction. Metres per second inside, knots at the edges; never negative.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Speed {
    metres_per_second: f64,
}

impl Speed {
    /// At rest.
    pub const ZERO: Self = Self { metres_per_second: 0.0 };

    /// The greatest speed taken, in knots.
    pub const MOST_KNOTS: f64 = 2000.0;

    /// # Errors
    /// Not finite, negative, or above [`Speed::MOST_KNOTS`].
    pub fn from_knots(knots: f64) -> Result<Self, UnitError> {
        within("speed", "kn", knots, 0.0, Self::MOST_KNOTS)
            .map(|knots| Self { metres_per_second: knots * METRES_PER_NAUTICAL_MILE / 3600.0 })
    }

    /// Of metres per second; nothing below zero and nothing above [`Speed::MOST_KNOTS`].
    pub fn clamped_metres_per_second(metres_per_second: f64) -> Self {
        let most = Self::MOST_KNOTS * METRES_PER_NAUTICAL_MILE / 3600.0;
        let held = if metres_per_second.is_nan() { 0.0 } else { metres_per_second };
        Self { metres_per_second: held.clamp(0.0, most) }
    }

    /// In knots.
    pub fn knots(self) -> f64 {
        self.metres_per_second * 3600.0 / METRES_PER_NAUTICAL_MILE
    }

    /// In metres per second.
    pub fn metres_per_second(self) -> f64 {
        self.metres_per_second
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_miles_a_minute_is_180_knots() {
        let speed = Speed::from_knots(180.0).unwrap();
        assert!((speed.metres_per_second() * 60.0 - 3.0 * METRES_PER_NAUTICAL_MILE).abs() < 1e-9);
        assert!(Speed::from_knots(-1.0).is_err());
    }
}
