use std::borrow::Cow;

use jiff::Timestamp;
use thiserror::Error;

use super::kinds::BearingKind;
use super::reckoning::Reckoning;
use crate::geodesy::{MagneticField, Position, magnetic_variation};
use crate::units::{
    Angle, Bearing, Compass, Deviation, Gyro, GyroError, Height, Magnetic, Relative, True,
    UnitError, Variation,
};

/// The steepest bank taken, in degrees: no range trace is read in a steeper turn.
pub const MOST_BANK_DEG: f64 = 60.0;

/// The largest error taken for a bearing, in degrees.
pub(crate) const MOST_BEARING_SIGMA_DEG: f64 = 45.0;

/// Own ship or aircraft: how high the antenna is, where the bow points, what the compasses do.
#[derive(Debug, Clone, PartialEq)]
pub struct Own {
    /// The antenna above mean sea level.
    pub height: Height,
    /// One standard deviation of the height, where it was stated.
    pub stated_height_sigma: Option<Height>,
    /// True heading.
    pub heading: Option<Bearing<True>>,
    /// The heading as it was read, where that is known.
    pub heading_as_read: Option<ReadBearing>,
    /// One standard deviation of the heading's own error, which every bearing of the set shares: as
    /// stated, or the usual. What the variation adds to it is in [`Own::bearing_bias_sigma`].
    pub heading_sigma: Angle,
    /// Magnetic variation, as stated or by the World Magnetic Model.
    pub variation: Option<Variation>,
    /// What the model gave, where the variation is the model's; none where it was stated.
    pub modelled: Option<MagneticField>,
    /// Deviation of the magnetic compass on this heading.
    pub deviation: Option<Deviation>,
    /// Error of the gyro compass.
    pub gyro_error: Option<GyroError>,
    /// How far the wings were off level when deflections were read, right wing down positive.
    pub bank: Angle,
    /// The chain from what was read to true, in words, a line each.
    pub conversion: Vec<String>,
}

/// A direction as read, before it is turned to true.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadBearing {
    /// What it was counted from.
    pub kind: BearingKind,
    /// In `[0, 360]`.
    pub degrees: f64,
}

/// Why a direction cannot be turned to true.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum OwnError {
    /// Outside 0 to 360, or no number.
    #[error(transparent)]
    Unit(#[from] UnitError),
    /// A relative bearing, and no heading to add it to.
    #[error("a relative bearing needs own heading")]
    NoHeading,
    /// A magnetic or compass bearing, and no variation.
    #[error("a {0} bearing needs the variation")]
    NoVariation(BearingKind),
}

impl Own {
    /// The shared bearing bias where none is stated, one standard deviation in degrees.
    pub const HEADING_SIGMA_DEG: f64 = 1.5;

    /// Own at a height, with no heading and no compass corrections.
    pub fn at_height(height: Height) -> Self {
        Self {
            height,
            stated_height_sigma: None,
            heading: None,
            heading_as_read: None,
            heading_sigma: Angle::from_degrees(Self::HEADING_SIGMA_DEG),
            variation: None,
            modelled: None,
            deviation: None,
            gyro_error: None,
            bank: Angle::ZERO,
            conversion: Vec::new(),
        }
    }

    /// The same from another height.
    pub fn at(&self, height: Height) -> Cow<'_, Self> {
        if height == self.height {
            Cow::Borrowed(self)
        } else {
            Cow::Owned(Self { height, ..self.clone() })
        }
    }

    /// One standard deviation of the height: as stated, or what is common.
    ///
    /// An altimeter above 500 ft: 50 ft, or 2 % of the height where that is more (its own error and
    /// that of the pressure set). Below, a mast: 3 ft, for tide and draught. Common practice, no
    /// published source.
    pub fn height_sigma(&self) -> Height {
        const AIRBORNE_FT: f64 = 500.0;
        let feet = self.height.feet();
        let common = if feet > AIRBORNE_FT { (0.02 * feet).max(50.0) } else { 3.0 };
        self.stated_height_sigma
            .or_else(|| Height::from_feet(common).ok())
            .unwrap_or(Height::SEA_LEVEL)
    }

    /// The least that own height may be: less than is told by what the altimeter errs.
    pub fn least_height(&self) -> Height {
        let metres = self.height.metres() - self.height_sigma().metres();
        Height::from_metres(metres).unwrap_or(Height::SEA_LEVEL)
    }

    /// Whether somebody stated the variation: else it is the magnetic model's, or not known yet.
    pub fn is_variation_stated(&self) -> bool {
        self.variation.is_some() && self.modelled.is_none()
    }

    /// Takes the variation of a place and time from the magnetic model, at own height; a heading that
    /// was read by magnetic or compass is turned by it.
    pub fn take_model(&mut self, place: Position, time: Timestamp) {
        let field = magnetic_variation(place, self.height, time);
        self.variation = Some(field.variation);
        self.modelled = Some(field);
        let heading = self.turned_heading(self.heading_as_read);
        self.heading = heading.or(self.heading);
    }

    /// Own as it was at a time, for directions read so: where they go by a variation that is the
    /// magnetic model's, with that of the place where the reckoning has us then, and with own heading
    /// turned by it.
    ///
    /// None where the reckoning is not carried so far: it then knows nothing of that place.
    ///
    /// - `kinds`: what each direction was counted from, and the heading behind it where that was the bow.
    pub fn as_of(
        &self,
        (reckoning, time): (&Reckoning, Timestamp),
        kinds: impl IntoIterator<Item = BearingKind>,
    ) -> Option<Cow<'_, Self>> {
        let mut kinds = kinds.into_iter();
        if self.modelled.is_none() || !kinds.any(BearingKind::is_turned_by_variation) {
            return Some(Cow::Borrowed(self));
        }
        let mut then = self.clone();
        then.take_model(reckoning.place_at(time)?, time);
        Some(Cow::Owned(then))
    }

    /// The same on a heading that was read so, where the variation turns it; else on its own.
    pub(super) fn headed(&self, read: Option<ReadBearing>) -> Cow<'_, Self> {
        match self.turned_heading(read) {
            Some(heading) => Cow::Owned(Self { heading: Some(heading), ..self.clone() }),
            None => Cow::Borrowed(self),
        }
    }

    /// The same with a variation of nought.
    pub(super) fn without_variation(&self) -> Self {
        let variation = Some(Variation::from_east(Angle::ZERO));
        Self { variation, modelled: None, ..self.clone() }
    }

    /// A heading that was read, turned to true; none where the variation does not turn it.
    fn turned_heading(&self, read: Option<ReadBearing>) -> Option<Bearing<True>> {
        let read = read.filter(|read| read.kind.is_turned_by_variation())?;
        self.to_true(read).ok()
    }

    /// One standard deviation of the bias that bearings read so all share.
    ///
    /// The heading's own error; where one of them, or own heading, was turned by a variation that is
    /// the magnetic model's, with the model's error: the root of the sum of their squares, 45° at most.
    ///
    /// - `kinds`: what each of the bearings in use was counted from, and each heading that bearings off
    ///   the bow were laid on.
    pub fn bearing_bias_sigma(&self, kinds: impl IntoIterator<Item = BearingKind>) -> Angle {
        let Some(field) = self.model_behind(kinds) else { return self.heading_sigma };
        let both = self.heading_sigma.degrees().hypot(field.sigma.degrees());
        Angle::from_degrees(both.min(MOST_BEARING_SIGMA_DEG))
    }

    /// One standard deviation of the true heading: with the model's error where the heading was turned
    /// by the model's variation, whatever bearings were read.
    pub fn true_heading_sigma(&self) -> Angle {
        self.bearing_bias_sigma(None)
    }

    /// The magnetic model's answer, where bearings read so, or own heading, were turned by it.
    pub(super) fn model_behind(
        &self,
        kinds: impl IntoIterator<Item = BearingKind>,
    ) -> Option<&MagneticField> {
        let own = self.heading_as_read.map(|read| read.kind);
        let mut read = kinds.into_iter().chain(own);
        let is_behind = read.any(BearingKind::is_turned_by_variation);
        self.modelled.as_ref().filter(|_| is_behind)
    }

    /// The true direction of one that was read.
    ///
    /// "Correcting, add east": compass by the deviation to magnetic, by the variation to true;
    /// gyro by its error; relative by the heading. A deviation or gyro error not stated is none.
    ///
    /// # Errors
    /// Outside 0 to 360; relative without a heading; magnetic or compass without the variation.
    pub fn to_true(&self, read: ReadBearing) -> Result<Bearing<True>, OwnError> {
        let ReadBearing { kind, degrees } = read;
        let variation = || self.variation.ok_or(OwnError::NoVariation(kind));
        Ok(match kind {
            BearingKind::True => Bearing::from_degrees(degrees)?,
            BearingKind::Magnetic => {
                Bearing::<Magnetic>::from_degrees(degrees)?.to_true(variation()?)
            }
            BearingKind::Compass => Bearing::<Compass>::from_degrees(degrees)?
                .to_magnetic(self.deviation_or_none())
                .to_true(variation()?),
            BearingKind::Gyro => Bearing::<Gyro>::from_degrees(degrees)?
                .to_true(self.gyro_error.unwrap_or_else(|| GyroError::from_east(Angle::ZERO))),
            BearingKind::Relative => {
                let heading = self.heading.ok_or(OwnError::NoHeading)?;
                Bearing::<Relative>::from_degrees(degrees)?.to_true(heading)
            }
        })
    }

    /// How a direction that was read came to be true: `C 286.1, dev 2.0 W, M 284.1, var 10.3 E, T 294.4`.
    ///
    /// Empty where it was true already.
    ///
    /// # Errors
    /// As [`Own::to_true`].
    pub fn chain(&self, read: ReadBearing) -> Result<String, OwnError> {
        let ReadBearing { kind, degrees } = read;
        let truly = self.to_true(read)?;
        let variation = || self.variation.map_or_else(String::new, |v| format!("var {v}, "));
        Ok(match kind {
            BearingKind::True => String::new(),
            BearingKind::Magnetic => format!("M {degrees:05.1}, {}T {truly}", variation()),
            BearingKind::Compass => {
                let deviation = self.deviation_or_none();
                let magnetic = Bearing::<Compass>::from_degrees(degrees)?.to_magnetic(deviation);
                format!("C {degrees:05.1}, dev {deviation}, M {magnetic}, {}T {truly}", variation())
            }
            BearingKind::Gyro => {
                let error = self.gyro_error.unwrap_or_else(|| GyroError::from_east(Angle::ZERO));
                format!("G {degrees:05.1}, error {error}, T {truly}")
            }
            BearingKind::Relative => {
                let heading = self.heading.ok_or(OwnError::NoHeading)?;
                format!("R {degrees:05.1}, heading T {heading}, T {truly}")
            }
        })
    }

    fn deviation_or_none(&self) -> Deviation {
        self.deviation.unwrap_or_else(|| Deviation::from_east(Angle::ZERO))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn own() -> Own {
        Own::at_height(Height::from_feet(2000.0).unwrap())
    }

    fn read(kind: BearingKind, degrees: f64) -> ReadBearing {
        ReadBearing { kind, degrees }
    }

    #[test]
    fn the_chain_from_compass_to_true() {
        // Rule "correcting, add east": US Navy training manual (seen); the figures computed.
        let mut own = own();
        own.variation = Variation::parse("10.3 E");
        own.deviation = Deviation::parse("2.0 W");
        let heading = read(BearingKind::Compass, 286.1);
        own.heading = Some(own.to_true(heading).unwrap());
        assert_eq!(own.chain(heading).unwrap(), "C 286.1, dev 2.0 W, M 284.1, var 10.3 E, T 294.4");
        let relative = read(BearingKind::Relative, 33.1);
        assert_eq!(own.chain(relative).unwrap(), "R 033.1, heading T 294.4, T 327.5");
    }

    #[test]
    fn a_heading_by_magnetic_compass_and_a_relative_cursor() {
        // Heading 071 M, variation 15 W, cursor 324 R: 020 T. A published worked exercise, seen
        // second-hand.
        let mut own = own();
        own.variation = Variation::parse("15 W");
        own.heading = Some(own.to_true(read(BearingKind::Magnetic, 71.0)).unwrap());
        let truly = own.to_true(read(BearingKind::Relative, 324.0)).unwrap();
        assert!((truly.degrees() - 20.0).abs() < 1e-9);
    }

    #[test]
    fn a_gyro_course() {
        // Gyro course 281, gyro error 2 W, variation and deviation as distractors: 279 T. Question
        // of a US deck examination, seen second-hand; answer computed.
        let mut own = own();
        own.variation = Variation::parse("10 E");
        own.deviation = Deviation::parse("4 W");
        own.gyro_error = GyroError::parse("2 W");
        let truly = own.to_true(read(BearingKind::Gyro, 281.0)).unwrap();
        assert!((truly.degrees() - 279.0).abs() < 1e-9);
        assert_eq!(
            own.chain(read(BearingKind::Gyro, 281.0)).unwrap(),
            "G 281.0, error 2.0 W, T 279.0"
        );
    }

    #[test]
    fn the_models_error_is_shared_where_its_variation_was_used() {
        use BearingKind::{Compass, Gyro, Magnetic, Relative, True};
        let place = Position::new(-38.215, -21.508).unwrap();
        let time: Timestamp = "2026-03-09T03:40:00Z".parse().unwrap();
        let mut own = own();
        own.take_model(place, time);
        let field = magnetic_variation(place, own.height, time);
        assert_eq!(own.variation, Some(field.variation));
        let plain = Own::HEADING_SIGMA_DEG;
        let both = plain.hypot(field.sigma.degrees());
        assert!(both > plain + 0.01, "{both}");
        let told = |own: &Own, kinds: &[BearingKind]| {
            own.bearing_bias_sigma(kinds.iter().copied()).degrees()
        };
        for (kinds, expected) in [
            (&[True, Gyro, Relative][..], plain),
            (&[][..], plain),
            (&[True, Magnetic][..], both),
            // However many went through it, it is one error.
            (&[Compass, Magnetic, Magnetic][..], both),
        ] {
            assert!((told(&own, kinds) - expected).abs() < 1e-9, "{kinds:?}");
        }
        // A heading counts, whatever bearings are in use.
        for (kind, expected) in [(Magnetic, both), (Compass, both), (Gyro, plain), (True, plain)] {
            own.heading_as_read = Some(read(kind, 70.0));
            assert!((told(&own, &[True]) - expected).abs() < 1e-9, "{kind}");
            assert!((own.true_heading_sigma().degrees() - expected).abs() < 1e-9, "{kind}");
        }
        // Of no use where nobody knows it, and no worse than any error that is taken.
        own.modelled = Some(MagneticField { sigma: Angle::from_degrees(180.0), ..field });
        assert!((told(&own, &[Magnetic]) - MOST_BEARING_SIGMA_DEG).abs() < 1e-9);
        assert!(!own.is_variation_stated());
        own.modelled = None;
        assert!(own.is_variation_stated());
        assert!((told(&own, &[Magnetic, Compass]) - plain).abs() < 1e-9);
    }

    #[test]
    fn how_sure_own_height_is() {
        let sigma = |feet| Own::at_height(Height::from_feet(feet).unwrap()).height_sigma().feet();
        for (feet, expected) in [(60.0, 3.0), (500.0, 3.0), (2_000.0, 50.0), (10_000.0, 200.0)] {
            assert!((sigma(feet) - expected).abs() < 1e-9, "{feet}");
        }
        let stated = Own { stated_height_sigma: Height::from_feet(20.0).ok(), ..own() };
        assert!((stated.height_sigma().feet() - 20.0).abs() < 1e-9);
    }

    #[test]
    fn what_is_missing_is_said() {
        assert_eq!(own().to_true(read(BearingKind::Relative, 5.0)), Err(OwnError::NoHeading));
        let refused = own().to_true(read(BearingKind::Magnetic, 5.0)).unwrap_err();
        assert_eq!(refused.to_string(), "a magnetic bearing needs the variation");
        assert!(own().to_true(read(BearingKind::True, 361.0)).is_err());
    }
}
