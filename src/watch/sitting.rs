mod accept;
mod apply;
mod drift;
mod echoes;
mod entered;
mod headed;
mod height;
mod laid;
mod now;
mod turned;

use std::collections::BTreeMap;
use std::sync::OnceLock;

use jiff::{SignedDuration, Timestamp};

use super::entry::{Entry, EntryError};
use super::held::{Held, entry_of};
use super::log::{AcceptEntry, What};
use crate::contact::{Outline, Own, Radar, Reckoning, Sightings, StatedAccuracy};
use crate::geodesy::{Covariance, Position};
use crate::units::{Angle, Height, Speed};
use entered::stands_bare;

pub use drift::Offer;
pub use echoes::{Echo, LeftOut};
pub(super) use headed::Said;
use headed::Steered;
pub use now::{Known, KnownBy, Stretch};
pub(super) use turned::Far;
use turned::Turned;

/// How sure an operator is who puts a question mark after a name.
pub const DOUBTFUL_CONFIDENCE: f64 = 0.7;

/// The reckoning's error where none was ever stated, one standard deviation on each axis, in
/// nautical miles: four hours' run by dead reckoning at a few per cent. Said aloud when taken.
pub const ASSUMED_SIGMA_NM: f64 = 4.0;

/// The watch runs on the wall clock while that is within this of the latest thing known; else on
/// the time of the latest thing known (a landfall worked afterwards, or for practice).
const LIVE_WITHIN: SignedDuration = SignedDuration::from_hours(12);

/// Until a fix is accepted, a reckoning entered for a time no later than so long after the first's is the
/// first put right, or one of before it. A run of so few minutes hardly leaves the line that it began.
const FIRST_WITHIN: SignedDuration = SignedDuration::from_mins(5);

/// What a change replaced, so that it can be taken back.
#[derive(Debug, Clone)]
enum Before {
    /// The contact of this label, and where it stood.
    Contact(String, Option<(usize, Box<Held>)>),
    /// Nothing: the contact is the first of its label, which is free again without it.
    First(String),
    Own(Box<Own>),
    /// How own craft went, and the bearings that were turned with it.
    Course(Box<Course>, Turned),
    Accepted(Box<BeforeAccepted>),
    Measured(Box<Measurements>),
    /// What the echo of this label was called.
    Called(String, Option<String>),
}

/// How own ship or aircraft goes, as reckoned.
#[derive(Debug, Clone)]
struct Course {
    reckoning: Option<Reckoning>,
    base: Option<Base>,
    origin: Option<Origin>,
    own: Own,
    air_speed: Option<Speed>,
    steered: Steered,
    offer: Option<Offer>,
}

/// When it was last known where we were, and how well.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Base {
    time: Timestamp,
    covariance: Covariance,
}

/// Where the first reckoning was, as it was last stated.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Origin {
    /// The earliest that it was stated for.
    time: Timestamp,
    position: Position,
}

/// The course, and all that was measured.
#[derive(Debug, Clone)]
struct Measurements {
    course: Course,
    held: Vec<Held>,
    outlines: Vec<Outline>,
}

/// What a fix that was accepted replaced.
#[derive(Debug, Clone)]
struct BeforeAccepted {
    measured: Measurements,
    done_with: usize,
}

/// One sitting: what it started from, what was entered, and what can be taken back.
///
/// [`Watch::change`] turns an entry into the record that says it in full; [`Watch::apply`] makes a
/// record so. Both are pure: the same records give the same watch, which is how a log is taken up
/// again.
#[derive(Debug, Clone)]
pub struct Watch {
    reckoning: Option<Reckoning>,
    own: Own,
    radar: Radar,
    accuracy: StatedAccuracy,
    landfall: Option<Position>,
    /// How many fixes were accepted before that landfall was planned.
    planned_after: usize,
    cautions: Vec<String>,
    held: Vec<Held>,
    /// Edges of coast that the sightings held: kept as they are.
    outlines: Vec<Outline>,
    /// Where its first reckoning was.
    origin: Option<Origin>,
    /// True airspeed, or speed through the water.
    air_speed: Option<Speed>,
    /// What was said of track and heading.
    steered: Steered,
    /// When it was last known where we were: the start, a reckoning entered, a fix accepted.
    base: Option<Base>,
    /// One standard deviation of a track that is entered.
    track_sigma: Angle,
    /// What the last fix accepted found beside the motion reckoned with.
    offer: Option<Offer>,
    /// Contacts that accepted fixes rest on, oldest first.
    done_with: Vec<Held>,
    /// The fixes accepted, oldest first.
    accepted: Vec<AcceptEntry>,
    /// What echoes that no chart explains are called, by label.
    called: BTreeMap<String, String>,
    done: Vec<(What, Before)>,
    undone: Vec<What>,
    /// Every label ever given: one that was deleted is not given again.
    labels: Vec<String>,
    /// The echoes that it keeps, worked out once after a change and only where they are asked for.
    seen: OnceLock<Vec<Echo>>,
}

impl Watch {
    /// A sitting that starts from sightings.
    pub fn from_sightings(sightings: &Sightings) -> Self {
        let radar = sightings.radar.clone();
        let attitude = sightings.own.attitude();
        let steered = Steered::on_one_leg(sightings.reckoning.track, sightings.own.heading);
        let held: Vec<Held> = sightings
            .contacts
            .iter()
            .map(|contact| Held {
                entry: entry_of(contact, sightings),
                contact: contact.clone(),
                attitude,
                said: steered.said,
            })
            .collect();
        Self {
            reckoning: Some(sightings.reckoning.clone()),
            own: sightings.own.clone(),
            radar,
            accuracy: sightings.accuracy,
            landfall: sightings.landfall,
            planned_after: 0,
            cautions: without_the_model_s(sightings),
            labels: held
                .iter()
                .map(|h| &h.contact.label)
                .chain(sightings.outlines.iter().map(|o| &o.label))
                .cloned()
                .collect(),
            held,
            outlines: sightings.outlines.clone(),
            origin: Some(Origin {
                time: sightings.reckoning.time,
                position: sightings.reckoning.position,
            }),
            steered,
            base: Some(Base {
                time: sightings.reckoning.time,
                covariance: sightings.reckoning.covariance,
            }),
            track_sigma: sightings.reckoning.track_sigma,
            air_speed: None,
            offer: None,
            done_with: Vec::new(),
            accepted: Vec::new(),
            called: BTreeMap::new(),
            done: Vec::new(),
            undone: Vec::new(),
            seen: OnceLock::new(),
        }
    }

    /// A sitting that knows the radar and own height, and not yet where it is.
    pub fn blank(radar: Radar, height: Height) -> Self {
        Self {
            reckoning: None,
            own: Own::at_height(height),
            radar,
            accuracy: StatedAccuracy::default(),
            landfall: None,
            planned_after: 0,
            cautions: Vec::new(),
            held: Vec::new(),
            outlines: Vec::new(),
            origin: None,
            steered: Steered::on_one_leg(None, None),
            base: None,
            track_sigma: Angle::from_degrees(Reckoning::TRACK_SIGMA_DEG),
            air_speed: None,
            offer: None,
            done_with: Vec::new(),
            accepted: Vec::new(),
            called: BTreeMap::new(),
            done: Vec::new(),
            undone: Vec::new(),
            labels: Vec::new(),
            seen: OnceLock::new(),
        }
    }

    /// The sightings as they stand; none until there is a reckoning. Later sights of an echo, and an
    /// echo that these show to move, are not in them: neither may feed a fix.
    pub fn sightings(&self) -> Option<Sightings> {
        let reckoning = self.reckoning.clone()?;
        let mut sightings = Sightings::new(reckoning, self.own.clone(), self.radar.clone());
        sightings.accuracy = self.accuracy;
        sightings.landfall = self.landfall;
        sightings.cautions.clone_from(&self.cautions);
        sightings.contacts = self
            .held
            .iter()
            .filter(|held| self.left_out(held).is_none())
            .map(|held| held.contact.clone())
            .collect();
        sightings.cautions.extend(self.cautions_of_heading());
        sightings.outlines.clone_from(&self.outlines);
        if let Some(caution) = sightings.model_caution().map(str::to_owned) {
            sightings.cautions.insert(0, caution);
        }
        Some(sightings)
    }

    /// Where we thought we were.
    pub fn reckoning(&self) -> Option<&Reckoning> {
        self.reckoning.as_ref()
    }

    /// Where the sitting's first reckoning was, as it was put right since.
    pub fn origin(&self) -> Option<Position> {
        self.origin.map(|origin| origin.position)
    }

    /// Whether heading and track are of the same leg.
    pub fn is_steady(&self) -> bool {
        self.steered.is_steady
    }

    /// True airspeed, or speed through the water, where it was said.
    pub fn through(&self) -> Option<Speed> {
        self.air_speed
    }

    /// Own height, heading and compasses.
    pub fn own(&self) -> &Own {
        &self.own
    }

    /// The radar in use.
    pub fn radar(&self) -> &Radar {
        &self.radar
    }

    /// The place of a planned landfall.
    pub fn landfall(&self) -> Option<Position> {
        self.landfall
    }

    /// The contacts, in the order they were entered.
    pub fn contacts(&self) -> &[Held] {
        &self.held
    }

    /// The outlines of the sightings it started from.
    pub fn outlines(&self) -> &[Outline] {
        &self.outlines
    }

    /// Whether anything was measured.
    pub fn has_measured(&self) -> bool {
        !self.held.is_empty() || !self.outlines.is_empty()
    }

    /// The latest time that anything here is known for.
    fn latest(&self) -> Option<Timestamp> {
        let contacts = self.held.iter().map(|h| h.contact.time);
        let outlines = self.outlines.iter().map(|o| o.time);
        contacts.chain(outlines).chain(self.reckoning.iter().map(|r| r.time)).max()
    }

    /// The watch's own time: the wall clock's while that is near the latest thing known, else the
    /// time of the latest thing known. A reckoning that cannot be carried holds its own time.
    pub fn own_time(&self, wall: Timestamp) -> Timestamp {
        match self.latest() {
            None => wall,
            Some(latest)
                if self.is_carried() && wall.duration_since(latest).abs() <= LIVE_WITHIN =>
            {
                wall
            }
            Some(latest) => latest,
        }
    }

    /// Whether nothing keeps the reckoning from being carried on; so too while there is none.
    fn is_carried(&self) -> bool {
        self.reckoning.as_ref().is_none_or(|r| r.track.is_some() && r.speed.is_some())
    }

    /// Whether an entry is a new contact of the time that is held, for want of track and speed.
    pub fn holds_time_of(&self, entry: &Entry) -> bool {
        let (Entry::Measured(measured) | Entry::Again { measured, .. }) = entry else {
            return false;
        };
        let new = measured.label.as_ref().is_none_or(|label| self.find(label).is_none());
        new && measured.when.is_none() && !self.is_carried()
    }

    /// Whether the watch runs on the wall clock.
    pub fn is_live(&self, wall: Timestamp) -> bool {
        self.own_time(wall) == wall
    }

    /// The place of a contact by its label, capitals or not.
    pub fn find(&self, label: &str) -> Option<usize> {
        let exact = self.held.iter().position(|h| h.contact.label == label);
        exact.or_else(|| self.held.iter().position(|h| h.contact.label.eq_ignore_ascii_case(label)))
    }

    /// The label the next new contact gets: A to Z without I and O, which are taken for 1 and 0,
    /// then AA and on, without DR, which is a word of the entry line.
    pub fn next_label(&self) -> String {
        (0..=self.labels.len() + 1)
            .map(label_number)
            .find(|label| !self.was_given(label) && (label.len() > 2 || stands_bare(label)))
            .unwrap_or_default()
    }

    /// Whether a label was ever given, capitals or not: `a` is said and typed like `A`.
    fn was_given(&self, label: &str) -> bool {
        self.labels.iter().any(|given| given.eq_ignore_ascii_case(label))
    }
}

/// What is cautioned of sightings, but what the magnetic model cautions: that is told for as long as something
/// goes by it.
fn without_the_model_s(sightings: &Sightings) -> Vec<String> {
    let of_model = sightings.model_caution();
    let others = sightings.cautions.iter().filter(|told| Some(told.as_str()) != of_model);
    others.cloned().collect()
}

fn refused(error: impl std::fmt::Display) -> EntryError {
    EntryError::Refused(error.to_string())
}

fn share_of(speed: Speed) -> Speed {
    Speed::from_knots(speed.knots() * Reckoning::SPEED_SIGMA_SHARE).unwrap_or(Speed::ZERO)
}

fn label_number(number: usize) -> String {
    const LETTERS: &[u8] = b"ABCDEFGHJKLMNPQRSTUVWXYZ";
    let letter = |at: usize| LETTERS.get(at % LETTERS.len()).map_or('A', |l| char::from(*l));
    match number / LETTERS.len() {
        0 => letter(number).to_string(),
        round => format!("{}{}", label_number(round - 1), letter(number)),
    }
}

#[cfg(test)]
mod tests;
