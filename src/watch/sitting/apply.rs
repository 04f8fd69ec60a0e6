//! Records made so: the one place where a watch changes.

use jiff::Timestamp;

use super::{Base, Before, EntryError, Held, Watch, refused, share_of};
use crate::contact::{BearingKind, Contact, LobeReading, ReadBearing, Reckoning, Sightings};
use crate::geodesy::{Covariance, Position, magnetic_variation};
use crate::units::{Angle, Bearing, Height, Speed};
use crate::watch::held::reading_of;
use crate::watch::log::{ContactEntry, What};
use crate::watch::words;

impl Watch {
    /// Makes a record so.
    ///
    /// # Errors
    /// A record that does not fit this watch: an unknown label, nothing to undo, a bearing that
    /// cannot be turned to true. The watch is then as it was.
    pub fn apply(&mut self, what: &What) -> Result<(), EntryError> {
        match what {
            What::Undo => self.undo(),
            What::Redo => {
                let what = self.undone.last().cloned().ok_or(EntryError::NothingToRedo)?;
                let before = self.replace(&what)?;
                self.undone.pop();
                self.done.push((what, before));
                Ok(())
            }
            What::Open { .. }
            | What::Start { .. }
            | What::Blank { .. }
            | What::Note { .. }
            | What::Said(_)
            | What::Clock { .. } => Ok(()),
            // Part of how the sitting was begun: no entry, and nothing to take back.
            What::Landfall { lat_deg, lon_deg } => {
                self.landfall = Some(Position::new(*lat_deg, *lon_deg).map_err(refused)?);
                Ok(())
            }
            change => {
                let before = self.replace(change)?;
                self.done.push((change.clone(), before));
                self.undone.clear();
                Ok(())
            }
        }
    }

    fn undo(&mut self) -> Result<(), EntryError> {
        let (what, before) = self.done.pop().ok_or(EntryError::NothingToUndo)?;
        match before {
            Before::Contact(label, was) => {
                if let Some(at) = self.find(&label) {
                    self.held.remove(at);
                }
                match was {
                    Some((at, held)) => self.held.insert(at.min(self.held.len()), *held),
                    // It was never there: its label is free again.
                    None => self.labels.retain(|l| *l != label),
                }
            }
            Before::Own(own) => self.own = *own,
            Before::Course(course) => self.set_course(*course),
            Before::Accepted(before) => {
                self.set_course(before.course);
                self.held = before.held;
                self.outlines = before.outlines;
                self.done_with.truncate(before.done_with);
                self.accepted.pop();
            }
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

    /// The change that `undo` would take back.
    pub fn last_change(&self) -> Option<&What> {
        self.done.last().map(|(what, _)| what)
    }

    /// The change that `redo` would put back.
    pub fn next_redo(&self) -> Option<&What> {
        self.undone.last()
    }

    fn replace(&mut self, what: &What) -> Result<Before, EntryError> {
        match what {
            What::Contact(entry) => self.put(entry),
            What::Delete { label } => {
                let at = self.find(label).ok_or_else(|| EntryError::UnknownContact {
                    label: label.clone(),
                    known: words::labels(self),
                })?;
                let held = self.held.remove(at);
                Ok(Before::Contact(label.clone(), Some((at, Box::new(held)))))
            }
            What::Height { height_ft } => {
                let height = Height::from_feet(*height_ft).map_err(refused)?;
                let before = self.own.clone();
                self.own.height = height;
                Ok(Before::Own(Box::new(before)))
            }
            What::Heading { degrees, kind } => {
                let kind = BearingKind::parse(kind).unwrap_or(BearingKind::True);
                let read = ReadBearing { kind, degrees: *degrees };
                let heading = self.own.to_true(read).map_err(refused)?;
                let before = self.course();
                self.own.heading = Some(heading);
                self.steady = true;
                Ok(Before::Course(Box::new(before)))
            }
            What::Air { speed_kn } => {
                let speed = Speed::from_knots(*speed_kn).map_err(refused)?;
                let before = self.course();
                self.air_speed = Some(speed);
                Ok(Before::Course(Box::new(before)))
            }
            What::Accept(entry) => self.restart(entry),
            What::Drift(entry) => self.drift(entry),
            What::Call { label, name } => {
                let root = self.root_of(label).ok_or_else(|| EntryError::UnknownContact {
                    label: label.clone(),
                    known: words::labels(self),
                })?;
                let before = self.called.insert(root.clone(), name.clone());
                Ok(Before::Called(root, before))
            }
            What::Bank { bank_deg } => {
                if self.radar.set.lobes.is_none() {
                    let set = &self.radar.set_name;
                    return Err(refused(format!("bank tilts fixed lobes; {set} turns a beam")));
                }
                let before = self.own.clone();
                self.own.bank = Angle::from_degrees(*bank_deg);
                Ok(Before::Own(Box::new(before)))
            }
            What::Reckoning { time, lat_deg, lon_deg, covariance_nm2 } => {
                let position = Position::new(*lat_deg, *lon_deg).map_err(refused)?;
                let [[ee, en], [_, nn]] = *covariance_nm2;
                let covariance = Covariance::from_square_miles(ee, en, nn).map_err(refused)?;
                Ok(self.reckon(*time, position, covariance))
            }
            What::Track { track_deg, speed_kn, time } => {
                let track = Bearing::from_degrees(*track_deg).map_err(refused)?;
                let speed = Speed::from_knots(*speed_kn).map_err(refused)?;
                let before = self.course();
                let track_sigma = self.track_sigma;
                let reckoning = self.reckoning.as_mut().ok_or(EntryError::NoReckoning)?;
                let from = time.filter(|time| *time > reckoning.time && reckoning.track.is_some());
                if let Some(from) = from {
                    *reckoning = reckoning.altered(from, track, speed).map_err(refused)?;
                }
                (reckoning.track, reckoning.speed) = (Some(track), Some(speed));
                (reckoning.speed_sigma, reckoning.track_sigma) = (share_of(speed), track_sigma);
                // A track stated anew has its own error: that of the wind found was another's.
                reckoning.flow = None;
                // The heading was another's, and what a fix found was found on another track.
                (self.steady, self.offer) = (from.is_none(), None);
                Ok(Before::Course(Box::new(before)))
            }
            _ => Err(EntryError::NothingToRedo),
        }
    }

    fn reckon(&mut self, time: Timestamp, position: Position, covariance: Covariance) -> Before {
        let before = self.course();
        let reckoning = match &self.reckoning {
            Some(old) => match old.restarted(time, position, covariance) {
                Ok(restarted) => restarted,
                // Too far off to have anything to do with it.
                Err(_) => Reckoning {
                    time,
                    position,
                    covariance,
                    earlier: Vec::new(),
                    flow: None,
                    ..old.clone()
                },
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
        (self.offer, self.base) = (None, Some(Base { time, covariance }));
        self.reckoning = Some(reckoning);
        self.origin.get_or_insert(position);
        if self.own.variation.is_none() {
            let field = magnetic_variation(position, self.own.height, time);
            self.own.variation = Some(field.variation);
        }
        Before::Course(Box::new(before))
    }

    /// What the two deflections of an entry tell, with own heading and bank as they are.
    pub(in crate::watch) fn lobe_reading(&self, entry: &ContactEntry) -> Option<LobeReading> {
        let reckoning = self.reckoning.as_ref()?;
        let reading = reading_of(entry);
        let label = entry.label.clone();
        Contact::from_reading(&reading, label, reckoning, &self.own, &self.radar).ok()?.lobes
    }

    fn put(&mut self, entry: &ContactEntry) -> Result<Before, EntryError> {
        let at = self.find(&entry.label);
        if at.is_none() && self.held.len() >= Sightings::MOST_CONTACTS {
            return Err(EntryError::Full { most: Sightings::MOST_CONTACTS });
        }
        let reckoning = self.reckoning.as_ref().ok_or(EntryError::NoReckoning)?;
        let reading = reading_of(entry);
        let contact =
            Contact::from_reading(&reading, entry.label.clone(), reckoning, &self.own, &self.radar)
                .map_err(|error| EntryError::Refused(words::refusal(&error)))?;
        let held = Held { entry: entry.clone(), contact };
        let label = entry.label.clone();
        if !self.labels.contains(&label) {
            self.labels.push(label.clone());
        }
        let was = if let Some((at, place)) = at.and_then(|at| Some((at, self.held.get_mut(at)?))) {
            Some((at, Box::new(std::mem::replace(place, held))))
        } else {
            self.held.push(held);
            None
        };
        Ok(Before::Contact(label, was))
    }
}
