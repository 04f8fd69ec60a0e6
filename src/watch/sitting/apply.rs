//! Records made so: the one place where a watch changes.

use std::sync::OnceLock;

use jiff::Timestamp;

use super::{
    Base, Before, Course, EntryError, FIRST_WITHIN, Held, Origin, Watch, refused, share_of,
};
use crate::contact::{BearingKind, Contact, LobeReading, Own, ReadBearing, Reckoning, Sightings};
use crate::geodesy::{Covariance, Position};
use crate::units::{Angle, Bearing, Height, Speed};
use crate::watch::held::reading_of;
use crate::watch::log::{AcceptEntry, ContactEntry, What};
use crate::watch::words;

/// A change made ready: all that it could be refused for has been looked at.
enum Step {
    /// A contact put in or corrected.
    Contact(Box<Held>),
    /// The contact at a place taken out, by the label it was asked for.
    Out(usize, String),
    Own(Box<Own>),
    Course(Box<Course>),
    /// Own height put right, and the contacts as measured from there.
    Height(Box<Course>, Vec<Held>),
    /// A fix accepted, and the course from it.
    Accepted(Box<Course>, Box<AcceptEntry>),
    /// The echo of a label, and its name.
    Called(String, String),
    Landfall(Position),
    /// Nothing of the watch changes.
    Nothing,
}

impl Watch {
    /// Makes a record so.
    ///
    /// # Errors
    /// A record that does not fit this watch: an unknown label, nothing to undo, a bearing that
    /// cannot be turned to true. The watch is then as it was.
    pub fn apply(&mut self, what: &What) -> Result<(), EntryError> {
        match what {
            What::Undo => self.undo()?,
            What::Redo => {
                let what = self.undone.last().cloned().ok_or(EntryError::NothingToRedo)?;
                let step = self.made(&what)?;
                self.undone.pop();
                let before = self.take(step);
                self.done.extend(before.map(|before| (what, before)));
            }
            change => {
                let step = self.made(change)?;
                // How the sitting was begun, and what is only said, are nothing to take back.
                if let Some(before) = self.take(step) {
                    self.done.push((change.clone(), before));
                    self.undone.clear();
                }
            }
        }
        self.seen = OnceLock::new();
        Ok(())
    }

    /// Makes a record so that says how the sitting begins: nothing that can be taken back.
    ///
    /// # Errors
    /// As [`Watch::apply`].
    pub fn begin(&mut self, what: &What) -> Result<(), EntryError> {
        let step = self.made(what)?;
        self.take(step);
        self.seen = OnceLock::new();
        Ok(())
    }

    /// Whether a record can be made so; nothing is changed, and nothing of the watch is copied but
    /// what the record would change.
    ///
    /// # Errors
    /// As [`Watch::apply`].
    pub(super) fn check(&self, what: &What) -> Result<(), EntryError> {
        match what {
            What::Undo if self.done.is_empty() => Err(EntryError::NothingToUndo),
            What::Undo => Ok(()),
            What::Redo => {
                let what = self.undone.last().ok_or(EntryError::NothingToRedo)?;
                self.made(what).map(drop)
            }
            change => self.made(change).map(drop),
        }
    }

    fn undo(&mut self) -> Result<(), EntryError> {
        let (what, before) = self.done.pop().ok_or(EntryError::NothingToUndo)?;
        match before {
            Before::Contact(label, was) => {
                self.lift(&label);
                if let Some((at, held)) = was {
                    self.held.insert(at.min(self.held.len()), *held);
                }
            }
            Before::First(label) => {
                self.lift(&label);
                self.labels.retain(|l| *l != label);
            }
            Before::Own(own) => self.own = *own,
            Before::Course(course, mut turned) => {
                self.set_course(*course);
                self.exchange(&mut turned);
            }
            Before::Accepted(before) => {
                self.set_measured(before.measured);
                self.done_with.truncate(before.done_with);
                self.accepted.pop();
            }
            Before::Measured(measured) => self.set_measured(*measured),
            Before::Called(label, name) => {
                match name {
                    Some(name) => self.called.insert(label, name),
                    None => self.called.remove(&label),
                };
            }
        }
        self.undone.push(what);
        Ok(())
    }

    /// Takes the contact of a label out, where it stands.
    fn lift(&mut self, label: &str) {
        if let Some(at) = self.find(label) {
            self.held.remove(at);
        }
    }

    /// The change that `undo` would take back.
    pub fn last_change(&self) -> Option<&What> {
        self.done.last().map(|(what, _)| what)
    }

    /// The change that `redo` would put back.
    pub fn next_redo(&self) -> Option<&What> {
        self.undone.last()
    }

    fn made(&self, what: &What) -> Result<Step, EntryError> {
        Ok(match what {
            What::Open { .. }
            | What::Start { .. }
            | What::Blank { .. }
            | What::Note { .. }
            | What::Said(_)
            | What::Alarm { .. }
            | What::Acknowledged { .. }
            | What::Clock { .. } => Step::Nothing,
            What::Undo | What::Redo => return Err(EntryError::NothingToRedo),
            What::Landfall { lat_deg, lon_deg } => {
                Step::Landfall(Position::new(*lat_deg, *lon_deg).map_err(refused)?)
            }
            What::Contact(entry) => Step::Contact(Box::new(self.held_of(entry)?)),
            What::Delete { label } => {
                Step::Out(self.find(label).ok_or_else(|| self.unknown(label))?, label.clone())
            }
            What::Bank { bank_deg } => Step::Own(Box::new(self.banked(*bank_deg)?)),
            What::Call { label, name } => {
                let root = self.root_of(label).ok_or_else(|| self.unknown(label))?;
                Step::Called(root, name.clone())
            }
            What::Accept(entry) => {
                Step::Accepted(Box::new(self.restarted(entry)?), Box::new(entry.clone()))
            }
            What::Height { all: true, .. } => {
                let course = self.course_by(what)?;
                let held = self.measured_from(course.own.height)?;
                Step::Height(Box::new(course), held)
            }
            What::Height { .. }
            | What::Heading { .. }
            | What::Air { .. }
            | What::Drift(_)
            | What::Reckoning { .. }
            | What::Track { .. } => Step::Course(Box::new(self.course_by(what)?)),
        })
    }

    /// The course that a record would come to; none where it is no record of it.
    pub(super) fn course_by_change(&self, what: &What) -> Option<Course> {
        match self.made(what).ok()? {
            Step::Course(course) | Step::Height(course, _) | Step::Accepted(course, _) => {
                Some(*course)
            }
            _ => None,
        }
    }

    fn banked(&self, bank_deg: f64) -> Result<Own, EntryError> {
        if self.radar.set.lobes.is_none() {
            let set = &self.radar.set_name;
            return Err(refused(format!("bank tilts fixed lobes; {set} turns a beam")));
        }
        Ok(Own { bank: Angle::from_degrees(bank_deg), ..self.own.clone() })
    }

    fn unknown(&self, label: &str) -> EntryError {
        EntryError::UnknownContact { label: label.to_owned(), known: words::labels(self) }
    }

    /// The course that a record of it comes to.
    fn course_by(&self, what: &What) -> Result<Course, EntryError> {
        let mut course = self.course();
        match what {
            What::Height { height_ft, .. } => {
                course.own.height = Height::from_feet(*height_ft).map_err(refused)?;
                self.flow_anew(&mut course);
            }
            What::Heading { degrees, kind } => {
                let kind = BearingKind::parse(kind).unwrap_or(BearingKind::True);
                let read = ReadBearing { kind, degrees: *degrees };
                course.own.heading = Some(self.own.to_true(read).map_err(refused)?);
                course.own.heading_as_read = Some(read);
                course.note_heading(self.own.heading);
            }
            What::Air { speed_kn } => {
                course.air_speed = Some(Speed::from_knots(*speed_kn).map_err(refused)?);
                self.flow_anew(&mut course);
            }
            What::Drift(entry) => self.drift(entry, &mut course)?,
            What::Reckoning { time, lat_deg, lon_deg, covariance_nm2 } => {
                let position = Position::new(*lat_deg, *lon_deg).map_err(refused)?;
                let [[ee, en], [_, nn]] = *covariance_nm2;
                let covariance = Covariance::from_square_miles(ee, en, nn).map_err(refused)?;
                self.reckon((*time, position, covariance), &mut course);
            }
            What::Track { track_deg, speed_kn, time } => {
                let track = Bearing::from_degrees(*track_deg).map_err(refused)?;
                let speed = Speed::from_knots(*speed_kn).map_err(refused)?;
                let reckoning = course.reckoning.as_mut().ok_or(EntryError::NoReckoning)?;
                let from = time.filter(|time| *time > reckoning.time && reckoning.track.is_some());
                let steered_before = self.steered_before(reckoning, from, (track, speed));
                if let Some(from) = from {
                    *reckoning = reckoning.altered(from, track, speed).map_err(refused)?;
                }
                (reckoning.track, reckoning.speed) = (Some(track), Some(speed));
                (reckoning.speed_sigma, reckoning.track_sigma) =
                    (share_of(speed), self.track_sigma);
                // What is not known of the wind in use is the air's, whatever the track.
                if let Some(flow) = reckoning.flow {
                    let across = self.track_sigma.radians().abs() * speed.metres_per_second();
                    let across = Speed::clamped_metres_per_second(across);
                    reckoning.with_flow(flow.no_surer_than(track, share_of(speed), across));
                }
                // What a fix found was found on another track.
                course.offer = None;
                course.note_track(steered_before);
            }
            _ => {}
        }
        Ok(course)
    }

    fn reckon(
        &self,
        (time, position, covariance): (Timestamp, Position, Covariance),
        course: &mut Course,
    ) {
        let anew = |old: Option<&Reckoning>| match old {
            // Too far off to have anything to do with it.
            Some(old) => Reckoning {
                time,
                position,
                covariance,
                earlier: Vec::new(),
                flow: None,
                ..old.clone()
            },
            None => Reckoning {
                time,
                position,
                covariance,
                track: None,
                speed: None,
                track_sigma: self.track_sigma,
                speed_sigma: Speed::ZERO,
                earlier: Vec::new(),
                flow: None,
            },
        };
        let old = course.reckoning.as_ref();
        let restarted = old.and_then(|old| old.restarted(time, position, covariance).ok());
        course.reckoning = Some(restarted.unwrap_or_else(|| anew(old)));
        (course.offer, course.base) = (None, Some(Base { time, covariance }));
        course.origin = Some(self.origin_with(time, position));
        // Of another place, a sign put right perhaps, variation and error are others.
        if !course.own.is_variation_stated() {
            course.own.take_model(position, time);
        }
    }

    /// Where the first reckoning was, once one is entered.
    ///
    /// Only the time tells a slip put right from a reckoning of later on: a place far off the first's run
    /// may be the slip itself. A fix accepted has ended what the first reckoning was good for.
    fn origin_with(&self, time: Timestamp, position: Position) -> Origin {
        let Some(first) = self.origin else { return Origin { time, position } };
        if self.accepted.is_empty() && time.duration_since(first.time) <= FIRST_WITHIN {
            Origin { time: time.min(first.time), position }
        } else {
            first
        }
    }

    /// What the two deflections of an entry tell, on the heading and bank that it is laid on.
    pub(in crate::watch) fn lobe_reading(&self, entry: &ContactEntry) -> Option<LobeReading> {
        let reckoning = self.reckoning.as_ref()?;
        let reading = reading_of(entry);
        let (label, own) = (entry.label.clone(), self.own_at_reading(entry));
        Contact::from_reading(&reading, label, reckoning, &own, &self.radar).ok()?.lobes
    }

    fn held_of(&self, entry: &ContactEntry) -> Result<Held, EntryError> {
        if self.find(&entry.label).is_none() && self.held.len() >= Sightings::MOST_CONTACTS {
            return Err(EntryError::Full { most: Sightings::MOST_CONTACTS });
        }
        let reckoning = self.reckoning.as_ref().ok_or(EntryError::NoReckoning)?;
        let (reading, own) = (reading_of(entry), self.own_at_reading(entry));
        let contact =
            Contact::from_reading(&reading, entry.label.clone(), reckoning, &own, &self.radar)
                .map_err(|error| EntryError::Refused(words::refusal(&error)))?;
        let (attitude, said) = (own.attitude(), self.said_at_reading(entry));
        Ok(Held { entry: entry.clone(), contact, attitude, said })
    }

    /// Takes a change that was made ready; what it replaced, where it can be taken back.
    fn take(&mut self, step: Step) -> Option<Before> {
        match step {
            Step::Nothing => None,
            Step::Landfall(position) => {
                if self.landfall.replace(position) != Some(position) {
                    self.planned_after = self.accepted.len();
                }
                None
            }
            Step::Contact(held) => Some(self.put(*held)),
            Step::Out(at, label) => {
                // The place was found for this very watch.
                let was = (at < self.held.len()).then(|| (at, Box::new(self.held.remove(at))));
                Some(Before::Contact(label, was))
            }
            Step::Own(own) => Some(Before::Own(Box::new(std::mem::replace(&mut self.own, *own)))),
            Step::Course(course) => {
                let before = self.course();
                self.set_course(*course);
                Some(Before::Course(Box::new(before), self.turn_again()))
            }
            Step::Height(course, held) => Some(self.put_height_right(*course, held)),
            Step::Accepted(course, entry) => Some(self.restart(*course, *entry)),
            Step::Called(root, name) => {
                let before = self.called.insert(root.clone(), name);
                Some(Before::Called(root, before))
            }
        }
    }

    fn put(&mut self, held: Held) -> Before {
        let label = held.contact.label.clone();
        let at = self.find(&label);
        let is_first = !self.labels.contains(&label);
        if is_first {
            self.labels.push(label.clone());
        }
        if let Some((at, place)) = at.and_then(|at| Some((at, self.held.get_mut(at)?))) {
            let was = std::mem::replace(place, held);
            return Before::Contact(label, Some((at, Box::new(was))));
        }
        self.held.push(held);
        if is_first { Before::First(label) } else { Before::Contact(label, None) }
    }
}
