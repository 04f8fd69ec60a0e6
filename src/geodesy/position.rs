use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use super::position_text;

/// A place on the WGS84 ellipsoid.
///
/// Latitude in `[-90, 90]`, longitude in `[-180, 180)`, both in degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position {
    latitude: f64,
    longitude: f64,
}

/// What was given is no position.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PositionError {
    /// A latitude beyond a pole, or no number.
    #[error("latitude {0} is outside -90 to 90 degrees")]
    Latitude(f64),
    /// A longitude further than once round, or no number.
    #[error("longitude {0} is outside -180 to 360 degrees")]
    Longitude(f64),
    /// Text that does not read as a position.
    #[error("\"{0}\" is no position: write \"38 12.9 S, 21 30.5 W\" or \"-38.2150,-21.5080\"")]
    Text(String),
}

impl Position {
    /// # Errors
    /// Not finite, latitude beyond a pole, or longitude outside -180° to 360°.
    pub fn new(latitude: f64, longitude: f64) -> Result<Self, PositionError> {
        if !(-90.0..=90.0).contains(&latitude) {
            return Err(PositionError::Latitude(latitude));
        }
        if !(-180.0..=360.0).contains(&longitude) {
            return Err(PositionError::Longitude(longitude));
        }
        Ok(Self::wrapped(latitude, longitude))
    }

    /// For computed coordinates: longitude is wrapped, latitude held to the poles, and
    /// not-a-number becomes zero.
    pub fn wrapped(latitude: f64, longitude: f64) -> Self {
        let latitude = if latitude.is_nan() { 0.0 } else { latitude.clamp(-90.0, 90.0) };
        let longitude = if longitude.is_finite() { longitude } else { 0.0 };
        let longitude = if (-180.0..180.0).contains(&longitude) {
            longitude
        } else {
            let wrapped = (longitude + 180.0).rem_euclid(360.0) - 180.0;
            if wrapped >= 180.0 { -180.0 } else { wrapped }
        };
        Self { latitude, longitude }
    }

    /// Degrees north, south negative.
    pub fn latitude(self) -> f64 {
        self.latitude
    }

    /// Degrees east, west negative.
    pub fn longitude(self) -> f64 {
        self.longitude
    }
}

impl FromStr for Position {
    type Err = PositionError;

    /// Reads `-38.2150,-21.5080`, `38 12.9 S, 21 30.5 W`, `38°12.9'S 021°30.5'W`, `3812.9S02130.5W`.
    fn from_str(text: &str) -> Result<Self, PositionError> {
        position_text::read(text)
    }
}

/// Degrees and decimal minutes, `38°12.90'S 021°30.48'W`: a hundredth of a minute is 19 m.
impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        position_text::write(*self, f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_position_is_on_the_earth() {
        assert_eq!(Position::new(95.0, 0.0), Err(PositionError::Latitude(95.0)));
        assert!(Position::new(f64::NAN, 0.0).is_err());
        assert!(Position::new(0.0, f64::NAN).is_err());
        let wrapped = Position::new(-80.0, 240.0).unwrap();
        assert!((wrapped.longitude() - -120.0).abs() < 1e-12);
        assert!((Position::new(0.0, 180.0).unwrap().longitude() - -180.0).abs() < 1e-12);
    }
}
