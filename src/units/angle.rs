use std::f64::consts::{PI, TAU};
use std::fmt;
use std::marker::PhantomData;
use std::ops::{Add, Neg, Sub};

use super::error::{UnitError, within};

/// Degrees to radians; the only place that does it.
fn radians_of(degrees: f64) -> f64 {
    degrees * (PI / 180.0)
}

/// Radians to degrees; the only place that does it.
fn degrees_of(radians: f64) -> f64 {
    radians * (180.0 / PI)
}

/// The same direction in `[0, 2π)`; the only place that wraps a direction.
fn wrap_turn(radians: f64) -> f64 {
    if (0.0..TAU).contains(&radians) {
        return radians;
    }
    let wrapped = radians.rem_euclid(TAU);
    // `rem_euclid` of a tiny negative angle returns the full turn.
    if wrapped >= TAU { 0.0 } else { wrapped }
}

/// The same difference in `(-π, π]`; the only place that wraps a difference.
fn wrap_difference(radians: f64) -> f64 {
    if radians > -PI && radians <= PI {
        return radians;
    }
    let wrapped = wrap_turn(radians);
    if wrapped > PI { wrapped - TAU } else { wrapped }
}

/// A turn, a difference of directions or an error of one: clockwise positive, in `(-π, π]`.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Angle {
    radians: f64,
}

impl Angle {
    /// No turn.
    pub const ZERO: Self = Self { radians: 0.0 };

    /// Any finite angle, wrapped to `(-180°, 180°]`; not-a-number becomes zero.
    pub fn from_degrees(degrees: f64) -> Self {
        Self::from_radians(radians_of(degrees))
    }

    /// Any finite angle, wrapped to `(-π, π]`; not-a-number becomes zero.
    pub fn from_radians(radians: f64) -> Self {
        let radians = if radians.is_finite() { wrap_difference(radians) } else { 0.0 };
        Self { radians }
    }

    /// In `(-180, 180]`.
    pub fn degrees(self) -> f64 {
        degrees_of(self.radians)
    }

    /// In `(-π, π]`.
    pub fn radians(self) -> f64 {
        self.radians
    }
}

impl Add for Angle {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::from_radians(self.radians + other.radians)
    }
}

impl Sub for Angle {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::from_radians(self.radians - other.radians)
    }
}

impl Neg for Angle {
    type Output = Self;
    fn neg(self) -> Self {
        Self::from_radians(-self.radians)
    }
}

/// The frame of a direction counted from true north.
#[derive(Debug)]
pub struct True;

/// The frame of a direction counted from magnetic north.
#[derive(Debug)]
pub struct Magnetic;

/// The frame of a direction read off a magnetic compass, its deviation not yet taken out.
#[derive(Debug)]
pub struct Compass;

/// The frame of a direction read off a gyro compass, its error not yet taken out.
#[derive(Debug)]
pub struct Gyro;

/// The frame of a direction counted clockwise from own bow.
#[derive(Debug)]
pub struct Relative;

/// A direction in the horizontal plane, clockwise from the zero of frame `F`.
///
/// Radians in `[0, 2π)`. A magnetic bearing is no true one until the variation is known:
/// ```compile_fail,E0308
/// # use foreland::units::{Bearing, Magnetic, True};
/// fn plot(_: Bearing<True>) {}
/// plot(Bearing::<Magnetic>::from_degrees(42.5).unwrap());
/// ```
pub struct Bearing<F> {
    radians: f64,
    // A function pointer type, so that the bearing is `Send` and `Sync` whatever `F` is.
    frame: PhantomData<fn() -> F>,
}

// By hand: derived, these would ask the same of `F`.
impl<F> Clone for Bearing<F> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<F> Copy for Bearing<F> {}

impl<F> PartialEq for Bearing<F> {
    fn eq(&self, other: &Self) -> bool {
        self.radians == other.radians
    }
}

impl<F> fmt::Debug for Bearing<F> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Bearing({:.4}°)", self.degrees())
    }
}

impl<F> Bearing<F> {
    /// Along the zero of the frame.
    pub const ZERO: Self = Self { radians: 0.0, frame: PhantomData };

    /// # Errors
    /// Not finite, or outside 0° to 360°. 360° is 000°.
    pub fn from_degrees(degrees: f64) -> Result<Self, UnitError> {
        within("bearing", "°", degrees, 0.0, 360.0).map(|d| Self::wrapped(radians_of(d)))
    }

    /// Any finite direction, wrapped; not-a-number becomes zero. For computed directions: what a
    /// person typed goes through [`Bearing::from_degrees`].
    pub fn wrapped_degrees(degrees: f64) -> Self {
        Self::wrapped(radians_of(degrees))
    }

    /// Any finite direction in radians, wrapped; not-a-number becomes zero.
    pub fn wrapped(radians: f64) -> Self {
        let radians = if radians.is_finite() { wrap_turn(radians) } else { 0.0 };
        Self { radians, frame: PhantomData }
    }

    /// In `[0, 360)`.
    pub fn degrees(self) -> f64 {
        degrees_of(self.radians)
    }

    /// In `[0, 2π)`.
    pub fn radians(self) -> f64 {
        self.radians
    }

    /// To the whole degree in three figures: `042`. What rounds up to a full turn is `000`.
    pub fn whole_degrees(self) -> String {
        format!("{:03.0}", self.degrees().round().rem_euclid(360.0))
    }

    /// This direction turned by `turn`, in the same frame.
    #[must_use]
    pub fn turned(self, turn: Angle) -> Self {
        Self::wrapped(self.radians + turn.radians)
    }

    /// The opposite direction.
    #[must_use]
    pub fn reciprocal(self) -> Self {
        Self::wrapped(self.radians + PI)
    }

    /// The turn from `other` to this, the short way: clockwise positive.
    pub fn minus(self, other: Self) -> Angle {
        Angle::from_radians(self.radians - other.radians)
    }

    /// Sine and cosine: the east and north parts of a unit step in a frame counted from north.
    pub fn sin_cos(self) -> (f64, f64) {
        self.radians.sin_cos()
    }
}

/// Whole degrees and tenths in three digits, as spoken: `042.5`.
impl<F> fmt::Display for Bearing<F> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenths = (self.degrees() * 10.0).round();
        let tenths = if tenths >= 3600.0 { 0.0 } else { tenths };
        write!(f, "{:05.1}", tenths / 10.0)
    }
}

impl Bearing<True> {
    /// The bearing from own bow, for a ship or aircraft heading `heading`.
    pub fn to_relative(self, heading: Bearing<True>) -> Bearing<Relative> {
        Bearing::wrapped(self.radians - heading.radians)
    }

    /// The magnetic bearing: easterly variation is taken away.
    pub fn to_magnetic(self, variation: Variation) -> Bearing<Magnetic> {
        Bearing::wrapped(self.radians - variation.east().radians)
    }
}

impl Bearing<Relative> {
    /// The true bearing: own heading is added.
    pub fn to_true(self, heading: Bearing<True>) -> Bearing<True> {
        Bearing::wrapped(self.radians + heading.radians)
    }
}

impl Bearing<Magnetic> {
    /// The true bearing: easterly variation is added.
    pub fn to_true(self, variation: Variation) -> Bearing<True> {
        Bearing::wrapped(self.radians + variation.east().radians)
    }
}

impl Bearing<Compass> {
    /// The magnetic bearing: easterly deviation is added.
    pub fn to_magnetic(self, deviation: Deviation) -> Bearing<Magnetic> {
        Bearing::wrapped(self.radians + deviation.east().radians)
    }
}

impl Bearing<Gyro> {
    /// The true bearing: easterly gyro error is added.
    pub fn to_true(self, error: GyroError) -> Bearing<True> {
        Bearing::wrapped(self.radians + error.east().radians)
    }
}

/// The side of a correction to a compass. A bare sign is never taken for one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EastWest {
    /// The reading is less than it should be.
    East,
    /// The reading is more than it should be.
    West,
}

/// Makes a correction that carries its side, read and written as `18.2 W`.
macro_rules! correction {
    ($(#[$about:meta])* $name:ident, $quantity:literal) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq)]
        pub struct $name {
            east: Angle,
        }

        impl $name {
            /// # Errors
            /// Not finite, negative, or above 180°.
            pub fn new(degrees: f64, side: EastWest) -> Result<Self, UnitError> {
                within($quantity, "°", degrees, 0.0, 180.0).map(|degrees| Self {
                    east: Angle::from_degrees(match side {
                        EastWest::East => degrees,
                        EastWest::West => -degrees,
                    }),
                })
            }

            /// From a computed value, east positive.
            pub fn from_east(east: Angle) -> Self {
                Self { east }
            }

            /// The correction, east positive.
            pub fn east(self) -> Angle {
                self.east
            }

            /// Reads `18.2 W`, `18.2W` or `2 e`. A number without a letter is refused: its sign
            /// would have to be guessed.
            pub fn parse(text: &str) -> Option<Self> {
                let text = text.trim();
                let letter = text.chars().last()?;
                let side = match letter.to_ascii_uppercase() {
                    'E' => EastWest::East,
                    'W' => EastWest::West,
                    _ => return None,
                };
                let number = text[..text.len() - letter.len_utf8()].trim_end().trim_end_matches('°');
                Self::new(number.parse().ok()?, side).ok()
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let degrees = self.east.degrees();
                let side = if degrees < 0.0 { 'W' } else { 'E' };
                write!(f, "{:.1} {side}", degrees.abs())
            }
        }
    };
}

correction! {
    /// Magnetic variation (declination): the angle from true north to magnetic north.
    Variation, "variation"
}

correction! {
    /// Compass deviation: the angle from magnetic north to where the compass points.
    Deviation, "deviation"
}

correction! {
    /// Gyro error: the angle from true north to where the gyro points.
    GyroError, "gyro error"
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Exact arithmetic on whole degrees; what is left is rounding in radians.
    const TOLERANCE_DEG: f64 = 1e-9;

    fn close(left: f64, right: f64) -> bool {
        Angle::from_degrees(left - right).degrees().abs() < TOLERANCE_DEG
    }

    #[test]
    fn whole_degrees_have_three_figures() {
        for (degrees, told) in [(0.0, "000"), (-0.2, "000"), (7.2, "007"), (359.7, "000")] {
            assert_eq!(Bearing::<True>::wrapped_degrees(degrees).whole_degrees(), told);
        }
    }

    #[test]
    fn correcting_adds_east() {
        // Rule "correcting, add east": US Navy training manual (seen).
        // 286.1 by compass, deviation 2.0 W, variation 10.3 E: 284.1 magnetic, 294.4 true (computed).
        let compass = Bearing::<Compass>::from_degrees(286.1).unwrap();
        let magnetic = compass.to_magnetic(Deviation::new(2.0, EastWest::West).unwrap());
        assert!(close(magnetic.degrees(), 284.1));
        let truly = magnetic.to_true(Variation::parse("10.3 E").unwrap());
        assert!(close(truly.degrees(), 294.4));
        let cursor = Bearing::<Relative>::from_degrees(33.1).unwrap();
        assert!(close(cursor.to_true(truly).degrees(), 327.5));
    }

    #[test]
    fn a_relative_bearing_needs_the_true_heading() {
        // Heading 071 magnetic, variation 15 W, cursor 324 relative: heading 056 true, cursor 020
        // true. Source: a published worked exercise, seen second-hand.
        let heading = Bearing::<Magnetic>::from_degrees(71.0)
            .unwrap()
            .to_true(Variation::new(15.0, EastWest::West).unwrap());
        assert!(close(heading.degrees(), 56.0));
        let cursor = Bearing::<Relative>::from_degrees(324.0).unwrap().to_true(heading);
        assert!(close(cursor.degrees(), 20.0));
    }

    #[test]
    fn gyro_error_east_is_added() {
        // Gyro course 281, gyro error 2 W: true 279. Question from a US deck examination, seen
        // second-hand; answer computed.
        let gyro = Bearing::<Gyro>::from_degrees(281.0).unwrap();
        let truly = gyro.to_true(GyroError::new(2.0, EastWest::West).unwrap());
        assert!(close(truly.degrees(), 279.0));
    }

    #[test]
    fn a_correction_without_its_letter_is_refused() {
        assert!(Variation::parse("-18.2").is_none());
        assert!(Variation::parse("18.2").is_none());
        assert!(Variation::parse("").is_none());
        assert!(Variation::parse("W").is_none());
        assert_eq!(Variation::parse("18.2w").unwrap().to_string(), "18.2 W");
    }

    #[test]
    fn bearings_are_spoken_in_three_digits() {
        assert_eq!(Bearing::<True>::from_degrees(4.0).unwrap().to_string(), "004.0");
        assert_eq!(Bearing::<True>::from_degrees(359.97).unwrap().to_string(), "000.0");
        assert!(Bearing::<True>::from_degrees(361.0).is_err());
        assert!(Bearing::<True>::from_degrees(-1.0).is_err());
    }

    proptest! {
        #[test]
        fn every_direction_is_in_its_turn(degrees in -1e6f64..1e6) {
            let bearing = Bearing::<True>::wrapped_degrees(degrees);
            prop_assert!((0.0..360.0).contains(&bearing.degrees()));
            prop_assert!(bearing.reciprocal().minus(bearing).degrees().abs() > 179.999);
        }

        #[test]
        fn relative_and_true_go_there_and_back(bearing in 0.0f64..360.0, heading in 0.0f64..360.0) {
            let heading = Bearing::<True>::from_degrees(heading).unwrap();
            let truly = Bearing::<True>::from_degrees(bearing).unwrap();
            let back = truly.to_relative(heading).to_true(heading);
            prop_assert!(back.minus(truly).degrees().abs() < TOLERANCE_DEG);
        }
    }
}
