use std::ops::{Add, Sub};

use super::error::{UnitError, within};

/// Metres in one international nautical mile (exact by definition).
pub const METRES_PER_NAUTICAL_MILE: f64 = 1852.0;

/// Metres in one international foot (exact by definition).
pub const METRES_PER_FOOT: f64 = 0.3048;

/// A height above mean sea level. Metres inside, feet at the edges; may be negative.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Height {
    metres: f64,
}

impl Height {
    /// The sea itself.
    pub const SEA_LEVEL: Self = Self { metres: 0.0 };

    /// The least height taken: below any ground on Earth.
    pub const LEAST_METRES: f64 = -12_000.0;

    /// The greatest height taken: above any aircraft that reads a coast.
    pub const MOST_METRES: f64 = 40_000.0;

    /// # Errors
    /// Not finite, or outside -12,000 m to 40,000 m.
    pub fn from_metres(metres: f64) -> Result<Self, UnitError> {
        within("height", "m", metres, Self::LEAST_METRES, Self::MOST_METRES)
            .map(|metres| Self { metres })
    }

    /// # Errors
    /// As [`Height::from_metres`], told in feet.
    pub fn from_feet(feet: f64) -> Result<Self, UnitError> {
        let edge = |metres: f64| (metres / METRES_PER_FOOT).round();
        within("height", "ft", feet, edge(Self::LEAST_METRES), edge(Self::MOST_METRES))
            .map(|feet| Self { metres: feet * METRES_PER_FOOT })
    }

    /// Metres above mean sea level.
    pub fn metres(self) -> f64 {
        self.metres
    }

    /// Feet above mean sea level.
    pub fn feet(self) -> f64 {
        self.metres / METRES_PER_FOOT
    }
}

/// Makes a length newtype that is never negative and never longer than half way round the Earth.
macro_rules! range_type {
    ($(#[$about:meta])* $name:ident, $quantity:literal) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name {
            metres: f64,
        }

        impl $name {
            /// No distance at all.
            pub const ZERO: Self = Self { metres: 0.0 };

            /// The greatest value: a little over half the way round the Earth.
            pub const MOST_METRES: f64 = 20_100_000.0;

            /// # Errors
            /// Not finite, negative, or more than half way round the Earth.
            pub fn from_metres(metres: f64) -> Result<Self, UnitError> {
                within($quantity, "m", metres, 0.0, Self::MOST_METRES)
                    .map(|metres| Self { metres })
            }

            /// # Errors
            /// As `from_metres`, told in nautical miles.
            pub fn from_nautical_miles(miles: f64) -> Result<Self, UnitError> {
                let most = (Self::MOST_METRES / METRES_PER_NAUTICAL_MILE).floor();
                within($quantity, "NM", miles, 0.0, most)
                    .map(|miles| Self { metres: miles * METRES_PER_NAUTICAL_MILE })
            }

            /// The nearest value that is one: negative and not-a-number become zero.
            pub fn clamped_metres(metres: f64) -> Self {
                Self { metres: metres.max(0.0).min(Self::MOST_METRES) }
            }

            /// In metres.
            pub fn metres(self) -> f64 {
                self.metres
            }

            /// In nautical miles of 1852 m.
            pub fn nautical_miles(self) -> f64 {
                self.metres / METRES_PER_NAUTICAL_MILE
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self::clamped_metres(self.metres + other.metres)
            }
        }

        /// The difference in metres, with its sign: no range is negative, a difference may be.
        impl Sub for $name {
            type Output = f64;
            fn sub(self, other: Self) -> f64 {
                self.metres - other.metres
            }
        }
    };
}

range_type! {
    /// The straight line from the antenna to the target: what a radar measures.
    ///
    /// It is no distance on the chart until both heights are known:
    /// ```compile_fail,E0308
    /// # use foreland::units::{GroundRange, SlantRange};
    /// fn plot(_: GroundRange) {}
    /// plot(SlantRange::from_nautical_miles(17.3).unwrap());
    /// ```
    SlantRange, "slant range"
}

range_type! {
    /// A distance along the surface of the Earth: what a chart shows.
    GroundRange, "distance"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn feet_and_miles_are_the_international_ones() {
        // Source: international foot and nautical mile, exact by definition.
        assert!((Height::from_feet(1000.0).unwrap().metres() - 304.8).abs() < 1e-9);
        assert!((GroundRange::from_nautical_miles(1.0).unwrap().metres() - 1852.0).abs() < 1e-9);
    }

    #[test]
    fn what_is_no_length_does_not_construct() {
        assert!(SlantRange::from_nautical_miles(-2.0).is_err());
        assert!(SlantRange::from_nautical_miles(f64::NAN).is_err());
        assert!(Height::from_feet(f64::INFINITY).is_err());
        let told = SlantRange::from_nautical_miles(-2.0).unwrap_err().to_string();
        assert_eq!(told, "slant range -2 NM is outside 0 to 10853 NM");
    }
}
