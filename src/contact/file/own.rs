//! `[own]`.

use super::Wrong;
use super::contacts::kinds_used;
use super::section::Section;
use crate::contact::{
    BearingKind, MOST_BANK_DEG, MOST_BEARING_SIGMA_DEG, Own, Radar, ReadBearing, Reckoning,
};
use crate::units::{Angle, Deviation, GyroError, Height, Variation};

/// The greatest own height taken, in feet.
const MOST_FEET: f64 = 100_000.0;

/// The largest error taken for own height, in feet.
const MOST_HEIGHT_SIGMA_FT: f64 = 10_000.0;

/// Every key of it.
const KEYS: &[&str] = &[
    "height_ft",
    "height_sigma_ft",
    "heading_deg",
    "heading_kind",
    "heading_sigma_deg",
    "variation",
    "deviation",
    "gyro_error",
    "bank_deg",
];

pub(super) fn read(
    section: &Section<'_>,
    reckoning: Option<&Reckoning>,
    root: &Section<'_>,
    cautions: &mut Vec<String>,
) -> Option<Own> {
    section.only(KEYS);
    let height = height(section);
    let heading = heading(section);
    let own = stated(section);
    // What was stated and could not be read is noted: nothing is worked out in its place.
    if (section.has("variation") && own.variation.is_none())
        || (section.has("heading_deg") && heading.is_none())
    {
        return None;
    }
    let mut own = Own { height: height?, ..own };
    let kinds = kinds_used(root, heading.map(|read| read.kind));
    if own.variation.is_none() {
        let reckoning = reckoning?;
        own.take_model(reckoning.position, reckoning.time);
        own.say_model(&kinds, cautions);
    }
    own.say_what_is_not_stated(&kinds, cautions);
    if let Some(read) = heading {
        own.head(read);
    }
    Some(own)
}

fn height(section: &Section<'_>) -> Option<Height> {
    section.needed(
        "height_ft",
        height_of(section, "height_ft"),
        "write height_ft = 2000, above the sea",
    )
}

/// The height of own antenna under a key.
pub(super) fn height_of(section: &Section<'_>, key: &'static str) -> Option<Height> {
    let right = "the antenna above mean sea level, in feet";
    let feet = section.within(key, 0.0, MOST_FEET, right);
    feet.and_then(|feet| Height::from_feet(feet).ok())
}

/// All that is stated of own compasses, errors and bank: at the sea's level, and with no heading yet.
fn stated(section: &Section<'_>) -> Own {
    let variation = section.correction("variation", Variation::parse);
    let sigma = section.sigma("heading_sigma_deg", MOST_BEARING_SIGMA_DEG);
    let height_sigma = section.sigma("height_sigma_ft", MOST_HEIGHT_SIGMA_FT);
    Own {
        stated_height_sigma: height_sigma.and_then(|feet| Height::from_feet(feet).ok()),
        heading_sigma: Angle::from_degrees(sigma.unwrap_or(Own::HEADING_SIGMA_DEG)),
        variation,
        deviation: section.correction("deviation", Deviation::parse),
        gyro_error: section.correction("gyro_error", GyroError::parse),
        bank: Angle::from_degrees(bank(section).unwrap_or(0.0)),
        ..Own::at_height(Height::SEA_LEVEL)
    }
}

fn heading(section: &Section<'_>) -> Option<ReadBearing> {
    let kind = section.heading_kind();
    if section.has("heading_kind") && !section.has("heading_deg") {
        let wrong = Wrong::Missing { who: section.who.clone(), key: "heading_deg".to_owned() };
        section.fault("heading_deg", wrong, "heading_kind is of no use without it");
    }
    let degrees = section.within("heading_deg", 0.0, 360.0, "from 0 to 360, clockwise")?;
    let kind = if section.has("heading_kind") { kind? } else { BearingKind::True };
    Some(ReadBearing { kind, degrees })
}

/// How far the wings were off level.
fn bank(section: &Section<'_>) -> Option<f64> {
    let right = "right wing down positive; a range trace is not read in a steeper turn";
    section.within("bank_deg", -MOST_BANK_DEG, MOST_BANK_DEG, right)
}

/// Bank matters to a set with two fixed lobes alone: on another it would be passed over.
pub(super) fn refuse_bank(section: &Section<'_>, radar: &Radar) {
    if section.has("bank_deg") && radar.set.lobes.is_none() {
        let why =
            format!("bank_deg tilts fixed lobes, and the set \"{}\" turns a beam", radar.set_name);
        let wrong = Wrong::Reading { who: section.who.clone(), why };
        let mend = "leave it out, or give a set of kind \"lobes\" under [radar], like \"metric\"";
        section.fault("bank_deg", wrong, mend);
    }
}

impl Own {
    /// Takes the heading that was read, turned to true.
    fn head(&mut self, read: ReadBearing) {
        self.heading = self.to_true(read).ok();
        self.heading_as_read = Some(read);
        let chain = self.chain(read).unwrap_or_default();
        if !chain.is_empty() {
            self.conversion.push(format!("heading: {chain}"));
        }
    }

    /// Says what the magnetic model gave, where anything that the file reads is turned by it.
    fn say_model(&mut self, kinds: &[BearingKind], cautions: &mut Vec<String>) {
        let Some(field) = self.model_behind(kinds.iter().copied()).cloned() else { return };
        self.conversion.push(format!(
            "variation {} by the World Magnetic Model at the reckoning, sigma {:.1}°",
            field.variation,
            field.sigma.degrees()
        ));
        cautions.extend(field.caution);
    }

    fn say_what_is_not_stated(&self, kinds: &[BearingKind], cautions: &mut Vec<String>) {
        if kinds.contains(&BearingKind::Compass) && self.deviation.is_none() {
            cautions.push("no deviation stated: the compass is taken to have none".to_owned());
        }
        if kinds.contains(&BearingKind::Gyro) && self.gyro_error.is_none() {
            cautions.push("no gyro error stated: the gyro is taken to have none".to_owned());
        }
    }
}
