//! Which contact was a mark, as far as is known afterwards.

use jiff::Timestamp;

use super::super::account::ContactAccount;
use super::super::sitting::{Seen, Sitting};
use super::super::smooth::TrackPoint;
use crate::chart::Mark;
use crate::contact::Contact;
use crate::fix::Estimate;
use crate::geodesy::{LocalPlane, PlanePoint, course};
use crate::radar::geometry::{EarthRadius, slant_range};
use crate::watch::Echo;

/// A contact without a name may have been a mark within so many standard deviations of it.
const GATE: f64 = 3.0;

/// The first contact that was a mark.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// Its label.
    pub contact: String,
    /// When it was measured.
    pub time: Timestamp,
}

/// All contacts, and where they were taken from.
pub struct Sights<'a> {
    pub track: &'a [TrackPoint],
    pub sitting: &'a Sitting,
    pub contacts: &'a [ContactAccount],
    pub echoes: &'a [Echo],
}

impl Sights<'_> {
    /// The first that hindsight takes for the mark: by the name found anew, else by that in the end.
    pub fn first_of(&self, name: &str) -> Option<Report> {
        let standing = self.contacts.iter().filter(|contact| !contact.deleted);
        let is = |contact: &&ContactAccount| {
            in_the_end(contact).is_some_and(|mark| mark.eq_ignore_ascii_case(name))
        };
        let first = standing.filter(is).min_by_key(|contact| contact.time)?;
        Some(Report { contact: first.label.clone(), time: first.time })
    }

    /// A contact that bore the mark's name once, or has none and lies where the mark would.
    pub fn perhaps(&self, mark: &Mark) -> Option<String> {
        let once = |contact: &ContactAccount| {
            let names = contact.namings.iter().map(|naming| &naming.mark);
            names.chain(&contact.taken_for).any(|named| named.eq_ignore_ascii_case(&mark.name))
        };
        let mut each = self.contacts.iter().zip(&self.sitting.contacts);
        each.find(|(told, seen)| {
            !told.deleted && once(told) || (self.is_open(told) && self.lies_at(seen, mark))
        })
        .map(|(told, _)| told.label.clone())
    }

    /// It has no name, and is no echo that was found to be none of the chart's.
    fn is_open(&self, told: &ContactAccount) -> bool {
        in_the_end(told).is_none()
            && !told.deleted
            && told.again.is_none()
            && !self.echoes.iter().any(|echo| echo.label == told.label)
    }

    fn lies_at(&self, seen: &Seen, mark: &Mark) -> bool {
        let Contact { range: Some(range), bearing: Some(bearing), .. } = seen.contact else {
            return false;
        };
        let Some(own) = self.place_at(seen.contact.time) else { return false };
        let line = course(own.position, mark.position);
        let radius = EarthRadius::towards(own.position, line.initial);
        let expected =
            slant_range(seen.contact.own_height, mark.height, line.distance, radius).metres();
        // What the mark's edge lies before its middle counts as an error of the range.
        let place_m = own.covariance.axes().0.sqrt();
        let range_m = seen.contact.range_sigma.metres().hypot(mark.extent.metres()).hypot(place_m);
        let bias = self.sitting.watch.own().bearing_bias_sigma(seen.contact.turned_from());
        let turn = seen.contact.bearing_sigma.radians().hypot(bias.radians());
        let turn = turn.hypot(place_m.hypot(mark.extent.metres()) / expected.max(1.0));
        (range.metres() - expected).abs() <= GATE * range_m
            && bearing.minus(line.initial).radians().abs() <= GATE * turn
    }

    /// Own place at a time, between the places of the track.
    fn place_at(&self, time: Timestamp) -> Option<Estimate> {
        // The track is in order of time.
        let after = self.track.partition_point(|point| point.time < time);
        let to = self.track.get(after)?;
        let Some(from) = after.checked_sub(1).and_then(|before| self.track.get(before)) else {
            return (to.time == time).then_some(to.place);
        };
        let whole = to.time.duration_since(from.time).as_secs_f64();
        let share = time.duration_since(from.time).as_secs_f64() / whole.max(1e-3);
        let plane = LocalPlane::new(from.place.position);
        let run = plane.to_plane(to.place.position);
        let at = PlanePoint { east: run.east * share, north: run.north * share };
        Some(Estimate { position: plane.to_position(at), covariance: to.place.covariance })
    }
}

/// What a contact is taken for in the end.
fn in_the_end(contact: &ContactAccount) -> Option<&str> {
    let anew = contact.anew.as_ref().map(|(mark, _)| mark.as_str());
    anew.or(contact.taken_for.as_deref())
}
