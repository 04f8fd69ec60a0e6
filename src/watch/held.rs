use super::log::{ContactEntry, DeflectionEntry};
use super::sitting::Said;
use crate::contact::{
    Attitude, BearingKind, Belief, Contact, Deflections, Part, Reading, Sightings,
};

/// A contact as it was read, and as it counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// As read: what the log keeps.
    pub entry: ContactEntry,
    /// Turned to true and given its errors.
    pub contact: Contact,
    /// How own ship or aircraft lay when it was read.
    pub(super) attitude: Attitude,
    /// What the heading was said for; none where none was known.
    pub(super) said: Option<Said>,
}

/// An entry as the reading that it is.
pub(super) fn reading_of(entry: &ContactEntry) -> Reading {
    let kind = entry.bearing_kind.as_deref().and_then(BearingKind::parse);
    Reading {
        label: Some(entry.label.clone()),
        time: entry.time,
        own_height: None,
        range_nm: entry.range_nm,
        bearing: entry.bearing_deg.map(|degrees| (degrees, kind.unwrap_or(BearingKind::True))),
        deflections: entry
            .deflection
            .map(|read| Deflections { port: read.port, starboard: read.starboard }),
        range_sigma_nm: entry.range_sigma_nm,
        bearing_sigma_deg: entry.bearing_sigma_deg,
        part: entry.part.as_deref().and_then(Part::parse).unwrap_or(Part::Near),
        mark: entry.mark.clone(),
        mark_confidence: entry.mark_confidence,
    }
}

/// A contact of a file as an entry; errors are kept only where the file states other than the
/// radar's own.
pub(super) fn entry_of(contact: &Contact, sightings: &Sightings) -> ContactEntry {
    let kind = contact.as_read.map(|read| read.kind).filter(|kind| *kind != BearingKind::True);
    let mut entry = ContactEntry {
        label: contact.label.clone(),
        time: Some(contact.time),
        range_nm: contact.range.map(|range| tidy(range.nautical_miles())),
        bearing_deg: contact.as_read.map(|read| read.degrees),
        bearing_kind: kind.map(|kind| kind.as_str().to_owned()),
        deflection: contact.lobes.as_ref().map(|read| entry_of_pair(read.deflections)),
        part: (contact.part != Part::Near).then(|| contact.part.as_str().to_owned()),
        mark: contact.belief.as_ref().map(|b| b.mark.clone()),
        mark_confidence: contact
            .belief
            .as_ref()
            .map(|b| b.confidence)
            .filter(|c| (c - Belief::CONFIDENCE).abs() > 1e-9),
        ..ContactEntry::default()
    };
    let (reckoning, radar) = (&sightings.reckoning, &sightings.radar);
    let own = &*sightings.own.at(contact.own_height);
    let plain =
        Contact::from_reading(&reading_of(&entry), entry.label.clone(), reckoning, own, radar);
    let plain = plain.ok();
    if plain.as_ref().is_none_or(|p| (p.range_sigma - contact.range_sigma).abs() > 1e-6) {
        entry.range_sigma_nm = contact.range.map(|_| contact.range_sigma.nautical_miles());
    }
    let same_bearing_sigma = plain
        .as_ref()
        .is_some_and(|p| (p.bearing_sigma - contact.bearing_sigma).degrees().abs() < 1e-9);
    if !same_bearing_sigma {
        entry.bearing_sigma_deg = contact.as_read.map(|_| contact.bearing_sigma.degrees());
    }
    entry
}

/// Two deflections as the log keeps them.
pub(super) fn entry_of_pair(read: Deflections) -> DeflectionEntry {
    DeflectionEntry { port: read.port, starboard: read.starboard }
}

/// A figure that came from a file in miles and went through metres, as it was.
fn tidy(miles: f64) -> f64 {
    (miles * 1e6).round() / 1e6
}
