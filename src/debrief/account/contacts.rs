//! Contacts in hindsight: what each was named first, what it was in the end, and what is left over.

use jiff::Timestamp;

use super::super::hindsight::Anew;
use super::super::sitting::{Naming, Seen, Sitting};
use super::FixAccount;
use crate::contact::{Contact, Part, plot};
use crate::fix::Estimate;
use crate::geodesy::{LocalPlane, Position, course};
use crate::radar::geometry::{EarthRadius, slant_range};
use crate::units::{Angle, Bearing, Height, SlantRange, True};

/// A contact in hindsight.
#[derive(Debug, Clone, PartialEq)]
pub struct ContactAccount {
    /// Its label.
    pub label: String,
    /// When it was measured.
    pub time: Timestamp,
    /// When it was put in, by the watch's own clock.
    pub entered: Timestamp,
    /// How often it was corrected.
    pub corrections: usize,
    /// Slant range as it last was.
    pub range: Option<SlantRange>,
    /// True bearing as it last was.
    pub bearing: Option<Bearing<True>>,
    /// Which part of the echo.
    pub part: Part,
    /// It was taken out again.
    pub deleted: bool,
    /// The contact of which it is a later sight.
    pub again: Option<String>,
    /// The record of the fix that rests on it.
    pub fix: Option<u64>,
    /// Every name that it was given, in order.
    pub namings: Vec<Naming>,
    /// What it was taken for in the end: by the fix accepted, else by the last name given.
    pub taken_for: Option<String>,
    /// Where the chart has that, as the log says.
    pub mark_position: Option<Position>,
    /// When that name was first given.
    pub right_from: Option<Timestamp>,
    /// By a fix from what all other fixes tell, on the chart given.
    pub anew: Option<(String, f64)>,
    /// Range measured less expected, metres.
    pub range_left_m: Option<f64>,
    /// Bearing measured less expected.
    pub bearing_left: Option<Angle>,
    /// Each over its own standard deviation; where the chart was given.
    pub standardised: Vec<f64>,
    /// Where it lies from the smoothed place, where both range and bearing were measured.
    pub plotted: Option<Position>,
}

pub(super) fn contacts(
    sitting: &Sitting,
    fixes: &[FixAccount],
    anew: &[Option<Anew>],
) -> Vec<ContactAccount> {
    let told = |seen: &Seen| {
        let number = seen.fix;
        let fix = number.and_then(|number| fixes.get(number));
        let again = number.and_then(|number| anew.get(number)).and_then(Option::as_ref);
        account(sitting, seen, fix, again)
    };
    sitting.contacts.iter().map(told).collect()
}

fn account(
    sitting: &Sitting,
    seen: &Seen,
    fix: Option<&FixAccount>,
    anew: Option<&Anew>,
) -> ContactAccount {
    let contact = &seen.contact;
    let label = &contact.label;
    let identity = fix.and_then(|fix| fix.identities.iter().find(|i| &i.contact == label));
    let named = seen.namings.last().map(|naming| naming.mark.clone());
    let taken_for = identity.map(|identity| identity.mark.clone()).or(named);
    let mark_position =
        identity.and_then(|identity| Position::new(identity.lat_deg, identity.lon_deg).ok());
    let right = |mark: &String| seen.namings.iter().find(|naming| &naming.mark == mark);
    let own = fix.and_then(|fix| own_at(sitting, seen, fix));
    let mut left = own
        .zip(mark_position)
        .map_or((None, None), |(own, mark)| left_over(contact, own.position, mark));
    let mut standardised = Vec::new();
    if let Some(residual) = anew.and_then(|a| a.fix.residuals.iter().find(|r| &r.contact == label))
    {
        left = (residual.range_m, residual.bearing);
        standardised.clone_from(&residual.standardised);
    }
    let again = anew.and_then(|a| a.fix.identities.iter().find(|i| &i.contact == label));
    ContactAccount {
        label: label.clone(),
        time: contact.time,
        entered: seen.entered,
        corrections: seen.corrections,
        range: contact.range,
        bearing: contact.bearing,
        part: contact.part,
        deleted: seen.deleted,
        again: seen.again.clone(),
        fix: fix.map(|fix| fix.number),
        namings: seen.namings.clone(),
        right_from: taken_for.as_ref().and_then(right).map(|naming| naming.at),
        taken_for,
        mark_position,
        anew: again.map(|identity| (identity.mark.clone(), identity.probability)),
        range_left_m: left.0,
        bearing_left: left.1,
        standardised,
        plotted: own.and_then(|own| plotted(contact, own.position)),
    }
}

/// Own place when a contact was measured: the smoothed place of its fix, carried by the run reckoned.
fn own_at(sitting: &Sitting, seen: &Seen, fix: &FixAccount) -> Option<Estimate> {
    let taken = seen.fix.and_then(|number| sitting.fixes.get(number))?;
    let place = fix.smoothed.unwrap_or(fix.place);
    let reckoning = &taken.sightings.as_ref()?.reckoning;
    let run = reckoning.displacement(fix.time, seen.contact.time);
    let position = LocalPlane::new(place.position).to_position(run);
    Some(Estimate { position, covariance: place.covariance })
}

/// What is left of a contact at a charted point: the point itself, not the edge that answered.
fn left_over(contact: &Contact, own: Position, mark: Position) -> (Option<f64>, Option<Angle>) {
    let line = course(own, mark);
    let slant =
        slant_range(contact.own_height, Height::SEA_LEVEL, line.distance, EarthRadius::MEAN);
    let range = contact.range.map(|range| range.metres() - slant.metres());
    (range, contact.bearing.map(|bearing| bearing.minus(line.initial)))
}

/// Where a contact lies, seen from own place.
fn plotted(contact: &Contact, own: Position) -> Option<Position> {
    let (range, bearing) = (contact.range?, contact.bearing?);
    let borne = (bearing, contact.bearing_sigma);
    let (at, _) = plot((range, contact.range_sigma), borne, contact.own_height);
    Some(LocalPlane::new(own).to_position(at))
}
