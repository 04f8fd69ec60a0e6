use jiff::{SignedDuration, Timestamp};

use super::entry::{Entry, EntryError, Measured};
use super::held::{Held, entry_of, entry_of_pair, reading_of};
use super::log::{ContactEntry, What};
use super::names;
use super::words;
use crate::chart::Marks;
use crate::contact::{
    BearingKind, Contact, LobeReading, Outline, Own, Part, Radar, ReadBearing, Reckoning,
    Sightings, StatedAccuracy,
};
use crate::geodesy::{Covariance, Position, magnetic_variation};
use crate::units::{Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, Speed};

/// How sure an operator is who puts a question mark after a name.
pub const DOUBTFUL_CONFIDENCE: f64 = 0.7;

/// The reckoning's error where none was ever stated, one standard deviation on each axis, in
/// nautical miles: four hours' run by dead reckoning at a few per cent. Said aloud when taken.
pub const ASSUMED_SIGMA_NM: f64 = 4.0;

/// The watch runs on the wall clock while that is within this of the latest thing known; else on
/// the time of the latest thing known (a landfall worked afterwards, or for practice).
const LIVE_WITHIN: SignedDuration = SignedDuration::from_hours(12);

/// What a change replaced, so that it can be taken back.
#[derive(Debug, Clone)]
enum Before {
    /// The contact of this label, and where it stood.
    Contact(String, Option<(usize, Box<Held>)>),
    Own(Box<Own>),
    Reckoning(Box<Option<Reckoning>>, Box<Own>),
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
    cautions: Vec<String>,
    held: Vec<Held>,
    /// Edges of coast that the sightings held: kept as they are.
    outlines: Vec<Outline>,
    done: Vec<(What, Before)>,
    undone: Vec<What>,
    /// Every label ever given: one that was deleted is not given again.
    labels: Vec<String>,
}

impl Watch {
    /// A sitting that starts from sightings.
    pub fn from_sightings(sightings: &Sightings) -> Self {
        let radar = sightings.radar.clone();
        let held: Vec<Held> = sightings
            .contacts
            .iter()
            .map(|contact| Held { entry: entry_of(contact, sightings), contact: contact.clone() })
            .collect();
        Self {
            reckoning: Some(sightings.reckoning.clone()),
            own: sightings.own.clone(),
            radar,
            accuracy: sightings.accuracy,
            landfall: sightings.landfall,
            cautions: sightings.cautions.clone(),
            labels: held
                .iter()
                .map(|h| &h.contact.label)
                .chain(sightings.outlines.iter().map(|o| &o.label))
                .cloned()
                .collect(),
            held,
            outlines: sightings.outlines.clone(),
            done: Vec::new(),
            undone: Vec::new(),
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
            cautions: Vec::new(),
            held: Vec::new(),
            outlines: Vec::new(),
            done: Vec::new(),
            undone: Vec::new(),
            labels: Vec::new(),
        }
    }

    /// The sightings as they stand; none until there is a reckoning.
    pub fn sightings(&self) -> Option<Sightings> {
        let reckoning = self.reckoning.clone()?;
        let mut sightings = Sightings::new(reckoning, self.own.clone(), self.radar.clone());
        sightings.accuracy = self.accuracy;
        sightings.landfall = self.landfall;
        sightings.cautions.clone_from(&self.cautions);
        sightings.contacts = self.held.iter().map(|h| h.contact.clone()).collect();
        sightings.outlines.clone_from(&self.outlines);
        Some(sightings)
    }

    /// Where we thought we were.
    pub fn reckoning(&self) -> Option<&Reckoning> {
        self.reckoning.as_ref()
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
        let carried =
            self.reckoning.as_ref().is_none_or(|r| r.track.is_some() && r.speed.is_some());
        match self.latest() {
            None => wall,
            Some(latest) if carried && wall.duration_since(latest).abs() <= LIVE_WITHIN => wall,
            Some(latest) => latest,
        }
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
    /// then AA and on.
    pub fn next_label(&self) -> String {
        (0..=self.labels.len())
            .map(label_number)
            .find(|label| !self.labels.contains(label))
            .unwrap_or_default()
    }

    /// What an entry would change, told in full: labels, times and names settled. `wall` is the
    /// wall clock.
    ///
    /// # Errors
    /// What is wrong with it on this watch; see [`EntryError`].
    pub fn change(
        &self,
        entry: &Entry,
        wall: Timestamp,
        marks: &Marks,
    ) -> Result<What, EntryError> {
        let now = self.own_time(wall);
        let what = match entry {
            Entry::Measured(measured) => What::Contact(self.measured(measured, now, marks)?),
            Entry::Delete { label } => What::Delete { label: self.known(label)?.label.clone() },
            Entry::Name { label, mark, doubtful } => {
                let mut entry = self.known(label)?.clone();
                let mark = mark.as_deref().map(|m| names::resolve(m, marks)).transpose()?;
                entry.mark_confidence = doubtful.then_some(DOUBTFUL_CONFIDENCE);
                entry.mark = mark;
                What::Contact(entry)
            }
            Entry::Height(height) => What::Height { height_ft: height.feet() },
            Entry::Heading { degrees, kind } => {
                What::Heading { degrees: *degrees, kind: kind.as_str().to_owned() }
            }
            Entry::Bank(bank) => What::Bank { bank_deg: bank.degrees() },
            Entry::Reckoning { position, sigma, when } => {
                let stated = sigma.map(Covariance::circular);
                let kept = self.reckoning.as_ref().map(|r| r.covariance);
                let covariance = stated.or(kept).unwrap_or_else(assumed_covariance);
                What::Reckoning {
                    time: when.map_or(now, |w| w.resolve(now)),
                    lat_deg: position.latitude(),
                    lon_deg: position.longitude(),
                    covariance_nm2: covariance.square_miles(),
                }
            }
            Entry::Track { track, speed } => {
                What::Track { track_deg: track.degrees(), speed_kn: speed.knots() }
            }
            Entry::Undo => What::Undo,
            Entry::Redo => What::Redo,
            Entry::Note(text) => What::Note { text: text.clone() },
        };
        // What cannot be applied is no change; a copy is tried.
        self.clone().apply(&what)?;
        Ok(what)
    }

    fn known(&self, label: &str) -> Result<&ContactEntry, EntryError> {
        let held = self.find(label).and_then(|at| self.held.get(at));
        held.map(|h| &h.entry).ok_or_else(|| EntryError::UnknownContact {
            label: label.to_owned(),
            known: words::labels(self),
        })
    }

    /// A new contact, or an old one with what was typed in place of what it had.
    fn measured(
        &self,
        measured: &Measured,
        now: Timestamp,
        marks: &Marks,
    ) -> Result<ContactEntry, EntryError> {
        let old = measured.label.as_ref().and_then(|l| self.known(l).ok());
        let unmeasured = !measured.is_measured();
        let taken =
            |label: &String| self.outlines.iter().any(|o| o.label.eq_ignore_ascii_case(label));
        if let Some(label) = measured.label.as_ref().filter(|label| taken(label)) {
            return Err(EntryError::Outline { label: label.clone() });
        }
        if old.is_none() && unmeasured {
            return Err(EntryError::UnknownContact {
                label: measured.label.clone().unwrap_or_default(),
                known: words::labels(self),
            });
        }
        let mut entry = old.cloned().unwrap_or_else(|| ContactEntry {
            label: measured.label.clone().unwrap_or_else(|| self.next_label()),
            time: Some(now),
            ..ContactEntry::default()
        });
        if let Some(range) = measured.range_nm {
            entry.range_nm = Some(range);
        }
        if let Some((degrees, kind)) = measured.bearing {
            entry.bearing_deg = Some(degrees);
            entry.deflection = None;
            entry.bearing_kind = (kind != BearingKind::True).then(|| kind.as_str().to_owned());
        }
        if let Some(read) = measured.deflections {
            entry.deflection = Some(entry_of_pair(read));
            (entry.bearing_deg, entry.bearing_kind, entry.bearing_sigma_deg) = (None, None, None);
        }
        if let Some(part) = measured.part {
            entry.part = (part != Part::Near).then(|| part.as_str().to_owned());
        }
        if let Some(mark) = &measured.mark {
            entry.mark = Some(names::resolve(mark, marks)?);
            entry.mark_confidence = measured.doubtful.then_some(DOUBTFUL_CONFIDENCE);
        }
        if let Some(when) = measured.when {
            entry.time = Some(when.resolve(now));
        }
        Ok(entry)
    }

    /// Makes a record so.
    ///
    /// # Errors
    /// A record that does not fit this watch: an unknown label, nothing to undo, a bearing that
    /// cannot be turned to true. The watch is then as it was.
    pub fn apply(&mut self, what: &What) -> Result<(), EntryError> {
        match what {
            What::Undo => self.undo(),
            What::Redo => {
                let what = self.undone.pop().ok_or(EntryError::NothingToRedo)?;
                let before = self.replace(&what)?;
                self.done.push((what, before));
                Ok(())
            }
            What::Open { .. } | What::Start { .. } | What::Blank { .. } | What::Note { .. } => {
                Ok(())
            }
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
            Before::Reckoning(reckoning, own) => {
                self.reckoning = *reckoning;
                self.own = *own;
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
                let before = self.own.clone();
                self.own.heading = Some(heading);
                Ok(Before::Own(Box::new(before)))
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
            What::Track { track_deg, speed_kn } => {
                let track = Bearing::from_degrees(*track_deg).map_err(refused)?;
                let speed = Speed::from_knots(*speed_kn).map_err(refused)?;
                let before = self.reckoning.clone();
                let reckoning = self.reckoning.as_mut().ok_or(EntryError::NoReckoning)?;
                reckoning.track = Some(track);
                reckoning.speed = Some(speed);
                reckoning.speed_sigma = share_of(speed);
                Ok(Before::Reckoning(Box::new(before), Box::new(self.own.clone())))
            }
            _ => Err(EntryError::NothingToRedo),
        }
    }

    fn reckon(&mut self, time: Timestamp, position: Position, covariance: Covariance) -> Before {
        let before =
            Before::Reckoning(Box::new(self.reckoning.clone()), Box::new(self.own.clone()));
        let reckoning = match self.reckoning.take() {
            Some(old) => Reckoning { time, position, covariance, ..old },
            None => Reckoning {
                time,
                position,
                covariance,
                track: None,
                speed: None,
                track_sigma: Angle::from_degrees(Reckoning::TRACK_SIGMA_DEG),
                speed_sigma: Speed::ZERO,
            },
        };
        self.reckoning = Some(reckoning);
        if self.own.variation.is_none() {
            let field = magnetic_variation(position, self.own.height, time);
            self.own.variation = Some(field.variation);
        }
        before
    }

    /// What the two deflections of an entry tell, with own heading and bank as they are.
    pub(super) fn lobe_reading(&self, entry: &ContactEntry) -> Option<LobeReading> {
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

fn refused(error: impl std::fmt::Display) -> EntryError {
    EntryError::Refused(error.to_string())
}

fn share_of(speed: Speed) -> Speed {
    Speed::from_knots(speed.knots() * Reckoning::SPEED_SIGMA_SHARE).unwrap_or(Speed::ZERO)
}

fn assumed_covariance() -> Covariance {
    Covariance::circular(GroundRange::clamped_metres(ASSUMED_SIGMA_NM * METRES_PER_NAUTICAL_MILE))
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
