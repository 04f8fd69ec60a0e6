use std::borrow::Cow;

use jiff::Timestamp;
use thiserror::Error;

use super::deflection::{Deflections, LobeReading, greatest_ratio_db};
use super::kinds::{BearingKind, Part};
use super::own::{Own, OwnError, ReadBearing};
use super::reckoning::{Reckoning, ReckoningError};
use super::sightings::Radar;
use crate::units::{
    Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, SlantRange, True, UnitError,
};

/// One echo that the operator measured, turned to true and given its errors.
///
/// The errors are the reading's own, one standard deviation each: the bias that all bearings
/// share, the chart's errors and the reckoning's stand elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct Contact {
    /// What the operator calls it.
    pub label: String,
    /// When it was measured.
    pub time: Timestamp,
    /// Own antenna when it was measured.
    pub own_height: Height,
    /// Slant range as measured.
    pub range: Option<SlantRange>,
    /// Error of the range.
    pub range_sigma: GroundRange,
    /// True bearing.
    pub bearing: Option<Bearing<True>>,
    /// The bearing as it was read.
    pub as_read: Option<ReadBearing>,
    /// Own heading as it was read, where the bearing was counted from the bow and that is known.
    pub heading_as_read: Option<ReadBearing>,
    /// What its two deflections measured, in place of a bearing.
    pub lobes: Option<LobeReading>,
    /// Error of the bearing, without the bias shared by the set.
    pub bearing_sigma: Angle,
    /// Which part of the echo was measured.
    pub part: Part,
    /// What the operator takes it for.
    pub belief: Option<Belief>,
}

/// The operator's own identification of a contact: a belief, not a fact.
#[derive(Debug, Clone, PartialEq)]
pub struct Belief {
    /// The mark's name, as given.
    pub mark: String,
    /// How sure the operator is of it, from 0 to 1.
    pub confidence: f64,
}

impl Belief {
    /// The confidence where none is stated.
    pub const CONFIDENCE: f64 = 0.95;
}

/// A contact as a person or a file gives it, before it is turned to true and given its errors.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Reading {
    /// What to call it.
    pub label: Option<String>,
    /// When it was measured; the reckoning's time where not given.
    pub time: Option<Timestamp>,
    /// Own antenna then, where that was not as it is now.
    pub own_height: Option<Height>,
    /// Slant range in nautical miles.
    pub range_nm: Option<f64>,
    /// Bearing in degrees, and what it was counted from.
    pub bearing: Option<(f64, BearingKind)>,
    /// The two deflections, in place of a bearing, on a set with two fixed lobes.
    pub deflections: Option<Deflections>,
    /// Error of the range, in place of the set's own.
    pub range_sigma_nm: Option<f64>,
    /// Error of the bearing, in place of the set's own.
    pub bearing_sigma_deg: Option<f64>,
    /// Which part of the echo was measured.
    pub part: Part,
    /// The mark that the operator takes it for.
    pub mark: Option<String>,
    /// How sure the operator is of it; [`Belief::CONFIDENCE`] where not given.
    pub mark_confidence: Option<f64>,
}

/// Why a reading is no contact.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ReadingError {
    /// Neither range nor bearing.
    #[error("neither range nor bearing")]
    NothingMeasured,
    /// A shore is the nearest land in any direction.
    #[error("a shore is measured by range alone, whatever its bearing")]
    ShoreWithBearing,
    /// The nearest land in any direction is no mark that could be told.
    #[error("a shore is the nearest land in any direction, and of no mark")]
    ShoreWithMark,
    /// An edge is a bearing.
    #[error("the {0} edge of an echo is measured by bearing")]
    EdgeWithoutBearing(Part),
    /// A slant range that no echo at sea level can have.
    #[error("range {range_nm} NM is less than own height of {:.0} ft ({:.2} NM)",
        own_nm * METRES_PER_NAUTICAL_MILE / crate::units::METRES_PER_FOOT, own_nm)]
    UnderHeight {
        /// Slant range as given.
        range_nm: f64,
        /// Own height in nautical miles.
        own_nm: f64,
    },
    /// A bearing that cannot be turned to true.
    #[error(transparent)]
    Bearing(#[from] OwnError),
    /// A time that the reckoning cannot be carried to.
    #[error(transparent)]
    Time(#[from] ReckoningError),
    /// A value outside what it can be.
    #[error(transparent)]
    Unit(#[from] UnitError),
    /// An error of nothing, or no number.
    #[error("{what} is {value}, and must be above 0")]
    NotAboveZero {
        /// Which figure.
        what: &'static str,
        /// As given.
        value: f64,
    },
    /// The bearing of one echo twice over.
    #[error("a bearing and two deflections measure the same thing")]
    BearingAndDeflections,
    /// Deflections, and a set that shows none.
    #[error("two deflections are read on fixed lobes, and the set \"{0}\" turns a beam")]
    DeflectionsOfScan(String),
    /// A bearing from the bow, and no heading to add it to.
    #[error("two deflections need own heading")]
    DeflectionsWithoutHeading,
    /// A deflection that is not above zero.
    #[error("its {side} deflection is {value}, and must be above 0")]
    NoDeflection {
        /// The side it was read on.
        side: &'static str,
        /// As given.
        value: f64,
    },
    /// A ratio greater than any the lobes give.
    #[error(
        "its deflections are {ratio_db:.1} dB apart, and the lobes of the set differ by no more than {most_db:.1} dB"
    )]
    TooFarApart {
        /// As read, decibels.
        ratio_db: f64,
        /// The greatest, decibels.
        most_db: f64,
    },
    /// A bearing's error, where deflections have their own.
    #[error("bearing_sigma_deg is no error of two deflections")]
    SigmaOfDeflections,
    /// A confidence that is no probability.
    #[error("mark_confidence is {0}, outside 0 to 1")]
    Confidence(f64),
}

impl ReadingError {
    /// What would be right.
    pub fn mend(&self) -> &'static str {
        match self {
            Self::NothingMeasured => "give range_nm, bearing_deg or both",
            Self::ShoreWithBearing => {
                "leave the bearing out, or take part = \"near\" for the leading edge on a bearing"
            }
            Self::ShoreWithMark => {
                "leave the mark out, or take part = \"near\" where the range is that of the mark itself"
            }
            Self::EdgeWithoutBearing(_) => "give bearing_deg, as read off the edge of the echo",
            Self::UnderHeight { .. } => {
                "range_nm is the slant range as measured, height_ft the antenna above the sea: \
                 near the nadir only the surface right below answers"
            }
            Self::Bearing(OwnError::NoHeading) => {
                "give heading_deg under [own], or the bearing from north with its bearing_kind"
            }
            Self::Bearing(OwnError::NoVariation(_)) => "give variation = \"18.2 W\" under [own]",
            Self::Bearing(OwnError::Unit(_)) => "from 0 to 360, clockwise",
            Self::Time(ReckoningError::NoTrack { .. }) => {
                "give track_deg and speed_kn under [reckoning], or leave the contact's time out"
            }
            Self::Time(ReckoningError::TooFar { .. }) => {
                "carry the reckoning forward first, and give the position it comes to"
            }
            Self::Unit(_) => "in the unit of the key",
            Self::NotAboveZero { .. } => "one standard deviation: leave it out for the set's own",
            Self::BearingAndDeflections => {
                "leave bearing_deg out: the deflections are what was measured"
            }
            Self::DeflectionsOfScan(_) => {
                "give the bearing as read, or a set of kind \"lobes\" under [radar], like \"metric\""
            }
            Self::DeflectionsWithoutHeading => {
                "give heading_deg under [own]: they tell a bearing from the bow"
            }
            Self::NoDeflection { .. } => {
                "where a side shows nothing, give the smallest deflection that could be read there: \
                 the echo lies on the other side"
            }
            Self::TooFarApart { .. } => {
                "read the smaller deflection again, or give the range alone"
            }
            Self::SigmaOfDeflections => {
                "leave it out: ratio_sigma_db of the set is their reading error"
            }
            Self::Confidence(_) => "from 0, a guess, to 1, certain",
        }
    }
}

impl Reading {
    /// Everything wrong with what was measured, whoever measured it.
    pub(super) fn wrong_alone(&self) -> Vec<ReadingError> {
        let mut wrong = Vec::new();
        let bears = self.bearing.is_some() || self.deflections.is_some();
        match (self.part, self.range_nm, self.bearing) {
            (_, None, None) if !bears => wrong.push(ReadingError::NothingMeasured),
            (Part::Shore, ..) if bears => wrong.push(ReadingError::ShoreWithBearing),
            (Part::Shore, ..) if self.mark.is_some() => wrong.push(ReadingError::ShoreWithMark),
            (Part::Left | Part::Right, _, None) => {
                wrong.push(ReadingError::EdgeWithoutBearing(self.part));
            }
            _ => {}
        }
        if let Some(deflections) = self.deflections {
            if self.bearing.is_some() {
                wrong.push(ReadingError::BearingAndDeflections);
            }
            if self.bearing_sigma_deg.is_some() {
                wrong.push(ReadingError::SigmaOfDeflections);
            }
            let unread = deflections.unread();
            wrong.extend(unread.map(|(side, value)| ReadingError::NoDeflection { side, value }));
        }
        for (what, sigma) in
            [("range_sigma_nm", self.range_sigma_nm), ("bearing_sigma_deg", self.bearing_sigma_deg)]
        {
            if let Some(value) = sigma.filter(|value| !(value.is_finite() && *value > 0.0)) {
                wrong.push(ReadingError::NotAboveZero { what, value });
            }
        }
        wrong.extend(
            self.mark_confidence
                .filter(|confidence| !(0.0..=1.0).contains(confidence))
                .map(ReadingError::Confidence),
        );
        wrong
    }

    /// Own as it was when this was measured.
    pub(super) fn own_then<'o>(&self, own: &'o Own) -> Cow<'o, Own> {
        own.at(self.own_height.unwrap_or(own.height))
    }

    /// Whether the range can be one from own height.
    pub(super) fn wrong_for_height(&self, own: &Own) -> Option<ReadingError> {
        let own_nm = own.height.metres() / METRES_PER_NAUTICAL_MILE;
        self.range_nm
            .filter(|range_nm| *range_nm >= 0.0 && *range_nm < own_nm)
            .map(|range_nm| ReadingError::UnderHeight { range_nm, own_nm })
    }

    /// Whether the deflections can be those of this set, on this heading and bank.
    pub(super) fn wrong_for_lobes(&self, own: &Own, radar: &Radar) -> Option<ReadingError> {
        let deflections = self.deflections.filter(|read| read.unread().is_none())?;
        let Some(lobes) = radar.set.lobes else {
            return Some(ReadingError::DeflectionsOfScan(radar.set_name.clone()));
        };
        let Some(heading) = own.heading else {
            return Some(ReadingError::DeflectionsWithoutHeading);
        };
        let range = self.range().ok().flatten();
        let told = LobeReading::new(deflections, lobes, own, heading, range);
        told.bearings.is_empty().then(|| ReadingError::TooFarApart {
            ratio_db: deflections.ratio_db().abs(),
            most_db: greatest_ratio_db(&lobes, own, self.range_nm),
        })
    }

    /// The bearing as it was read.
    pub fn as_read(&self) -> Option<ReadBearing> {
        self.bearing.map(|(degrees, kind)| ReadBearing { kind, degrees })
    }

    /// The slant range.
    fn range(&self) -> Result<Option<SlantRange>, UnitError> {
        self.range_nm.map(SlantRange::from_nautical_miles).transpose()
    }
}

impl Contact {
    /// What its bearing was counted from, and the heading behind it where that was the bow.
    pub fn turned_from(&self) -> impl Iterator<Item = BearingKind> + '_ {
        self.as_read.iter().chain(&self.heading_as_read).map(|read| read.kind)
    }

    /// Every true bearing it may have, with its own error: one as read, or each that its two
    /// deflections allow.
    pub fn bearings(&self) -> Vec<(Bearing<True>, Angle)> {
        let read = self.bearing.map(|bearing| (bearing, self.bearing_sigma));
        let told = self.lobes.iter().flat_map(LobeReading::true_bearings);
        read.into_iter().chain(told).collect()
    }

    /// A contact from a reading: its bearing turned to true, its errors filled in.
    ///
    /// A range takes its error from the reading, else from what is stated for the radar, else from
    /// the set (fixed part and share of the smallest scale that holds it); a bearing likewise. How
    /// many digits were typed says nothing: the figures are whole reading errors. A variation that is
    /// the magnetic model's is that of the place reckoned for the reading's own time.
    ///
    /// # Errors
    /// What [`ReadingError`] lists; the first of them.
    pub fn from_reading(
        reading: &Reading,
        label: String,
        reckoning: &Reckoning,
        own: &Own,
        radar: &Radar,
    ) -> Result<Self, ReadingError> {
        if let Some(wrong) = reading.wrong_alone().into_iter().next() {
            return Err(wrong);
        }
        let own = &*reading.own_then(own);
        if let Some(wrong) = reading.wrong_for_height(own) {
            return Err(wrong);
        }
        if let Some(wrong) = reading.wrong_for_lobes(own, radar) {
            return Err(wrong);
        }
        let time = reading.time.unwrap_or(reckoning.time);
        reckoning.carried_to(time)?;
        let range = reading.range()?;
        let as_read = reading.as_read();
        let from_bow = reading.deflections.is_some()
            || as_read.is_some_and(|read| read.kind == BearingKind::Relative);
        let heading_as_read = own.heading_as_read.filter(|_| from_bow);
        let kinds = as_read.iter().chain(&heading_as_read).map(|read| read.kind);
        let own = own.as_of((reckoning, time), kinds).unwrap_or(Cow::Borrowed(own));
        Ok(Self {
            label,
            time,
            own_height: own.height,
            range,
            range_sigma: range_sigma(reading, range, radar)?,
            bearing: as_read.map(|read| own.to_true(read)).transpose()?,
            as_read,
            heading_as_read,
            lobes: reading.deflections.zip(radar.set.lobes).zip(own.heading).map(
                |((read, lobes), heading)| LobeReading::new(read, lobes, &own, heading, range),
            ),
            bearing_sigma: Angle::from_degrees(
                reading
                    .bearing_sigma_deg
                    .or(radar.bearing_sigma_deg)
                    .unwrap_or(radar.set.bearing_sigma_deg),
            ),
            part: reading.part,
            belief: reading.mark.clone().map(|mark| Belief {
                mark,
                confidence: reading.mark_confidence.unwrap_or(Belief::CONFIDENCE),
            }),
        })
    }
}

fn range_sigma(
    reading: &Reading,
    range: Option<SlantRange>,
    radar: &Radar,
) -> Result<GroundRange, UnitError> {
    match (reading.range_sigma_nm.or(radar.range_sigma_nm), range) {
        (Some(miles), _) => GroundRange::from_nautical_miles(miles),
        (None, Some(range)) => Ok(GroundRange::clamped_metres(radar.set.range_sigma(range))),
        (None, None) => Ok(GroundRange::ZERO),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::{Covariance, Position};
    use crate::radar::Set;
    use crate::units::{Height, Speed};

    fn scene() -> (Reckoning, Own, Radar) {
        let reckoning = Reckoning {
            time: "2031-03-09T03:40:00Z".parse().unwrap(),
            position: Position::new(-38.215, -21.508).unwrap(),
            covariance: Covariance::circular(GroundRange::from_nautical_miles(4.0).unwrap()),
            track: None,
            speed: None,
            track_sigma: Angle::from_degrees(2.0),
            speed_sigma: Speed::ZERO,
            earlier: Vec::new(),
            flow: None,
        };
        let own = Own::at_height(Height::from_feet(2000.0).unwrap());
        let radar = Radar {
            set: Set::builtin("patrol").unwrap(),
            set_name: "patrol".into(),
            range_sigma_nm: None,
            bearing_sigma_deg: None,
        };
        (reckoning, own, radar)
    }

    fn made(reading: &Reading) -> Result<Contact, ReadingError> {
        let (reckoning, own, radar) = scene();
        Contact::from_reading(reading, "A".into(), &reckoning, &own, &radar)
    }

    fn reading(range_nm: Option<f64>, bearing: Option<(f64, BearingKind)>) -> Reading {
        Reading { range_nm, bearing, ..Reading::default() }
    }

    #[test]
    fn errors_come_from_the_reading_then_the_file_then_the_set() {
        let (reckoning, own, mut radar) = scene();
        let plain = reading(Some(17.3), Some((42.5, BearingKind::True)));
        let made = |reading: &Reading, radar: &Radar| {
            Contact::from_reading(reading, "A".into(), &reckoning, &own, radar).unwrap()
        };
        let by_set = made(&plain, &radar);
        let of_set = radar.set.range_sigma(by_set.range.unwrap());
        assert!((by_set.range_sigma.metres() - of_set).abs() < 1e-9);
        assert!((by_set.bearing_sigma.degrees() - radar.set.bearing_sigma_deg).abs() < 1e-9);
        radar.range_sigma_nm = Some(0.15);
        radar.bearing_sigma_deg = Some(1.5);
        let by_file = made(&plain, &radar);
        assert!((by_file.range_sigma.nautical_miles() - 0.15).abs() < 1e-12);
        assert!((by_file.bearing_sigma.degrees() - 1.5).abs() < 1e-9);
        let own_words =
            Reading { range_sigma_nm: Some(0.4), bearing_sigma_deg: Some(3.0), ..plain };
        let by_reading = made(&own_words, &radar);
        assert!((by_reading.range_sigma.nautical_miles() - 0.4).abs() < 1e-12);
        assert!((by_reading.bearing_sigma.degrees() - 3.0).abs() < 1e-9);
    }

    #[test]
    fn what_is_no_contact_is_refused_in_words() {
        let told = |reading: &Reading| made(reading).unwrap_err().to_string();
        assert_eq!(told(&reading(None, None)), "neither range nor bearing");
        assert_eq!(
            told(&reading(Some(0.2), None)),
            "range 0.2 NM is less than own height of 2000 ft (0.33 NM)"
        );
        let relative = reading(Some(9.0), Some((10.0, BearingKind::Relative)));
        assert_eq!(told(&relative), "a relative bearing needs own heading");
        let shore =
            Reading { part: Part::Shore, ..reading(Some(9.0), Some((1.0, BearingKind::True))) };
        assert_eq!(told(&shore), "a shore is measured by range alone, whatever its bearing");
        let named = Reading { bearing: None, mark: Some("Gannet Head".into()), ..shore };
        assert_eq!(told(&named), "a shore is the nearest land in any direction, and of no mark");
        let late = Reading {
            time: Some("2031-03-09T03:41:00Z".parse().unwrap()),
            ..reading(Some(9.0), None)
        };
        assert!(matches!(made(&late), Err(ReadingError::Time(ReckoningError::NoTrack { .. }))));
        assert!(matches!(made(&reading(Some(-2.0), None)), Err(ReadingError::Unit(_))));
        assert!(matches!(made(&reading(Some(f64::NAN), None)), Err(ReadingError::Unit(_))));
        let unsure = Reading { mark_confidence: Some(1.5), ..reading(Some(9.0), None) };
        assert_eq!(made(&unsure), Err(ReadingError::Confidence(1.5)));
    }

    #[test]
    fn a_name_is_believed_at_95_percent_unless_said() {
        let named = Reading { mark: Some("Gannet Head".into()), ..reading(Some(9.0), None) };
        let belief = made(&named).unwrap().belief.unwrap();
        assert!((belief.confidence - 0.95).abs() < 1e-12);
    }
}
