use jiff::{SignedDuration, Timestamp};

use super::entry::{Entry, EntryError, Measured};
use super::log::{ContactEntry, What};
use super::names;
use super::words;
use crate::chart::Marks;
use crate::contact::{
    BearingKind, Belief, Contact, Own, Part, Radar, ReadBearing, Reading, Reckoning, Sightings,
    StatedAccuracy,
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

/// A contact as it was read, and as it counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// As read: what the log keeps.
    pub entry: ContactEntry,
    /// Turned to true and given its errors.
    pub contact: Contact,
}

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
            labels: held.iter().map(|h| h.contact.label.clone()).collect(),
            held,
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

    /// The latest time that anything here is known for.
    fn latest(&self) -> Option<Timestamp> {
        let contacts = self.held.iter().map(|h| h.contact.time);
        contacts.chain(self.reckoning.iter().map(|r| r.time)).max()
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
        let unmeasured = measured.range_nm.is_none() && measured.bearing.is_none();
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
            entry.bearing_kind = (kind != BearingKind::True).then(|| kind.as_str().to_owned());
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

fn reading_of(entry: &ContactEntry) -> Reading {
    let kind = entry.bearing_kind.as_deref().and_then(BearingKind::parse);
    Reading {
        label: Some(entry.label.clone()),
        time: entry.time,
        range_nm: entry.range_nm,
        bearing: entry.bearing_deg.map(|degrees| (degrees, kind.unwrap_or(BearingKind::True))),
        range_sigma_nm: entry.range_sigma_nm,
        bearing_sigma_deg: entry.bearing_sigma_deg,
        part: entry.part.as_deref().and_then(Part::parse).unwrap_or(Part::Near),
        mark: entry.mark.clone(),
        mark_confidence: entry.mark_confidence,
    }
}

/// A contact of a file as an entry; errors are kept only where the file states other than the
/// radar's own.
fn entry_of(contact: &Contact, sightings: &Sightings) -> ContactEntry {
    let kind = contact.as_read.map(|read| read.kind).filter(|kind| *kind != BearingKind::True);
    let mut entry = ContactEntry {
        label: contact.label.clone(),
        time: Some(contact.time),
        range_nm: contact.range.map(|range| tidy(range.nautical_miles())),
        bearing_deg: contact.as_read.map(|read| read.degrees),
        bearing_kind: kind.map(|kind| kind.as_str().to_owned()),
        part: (contact.part != Part::Near).then(|| contact.part.as_str().to_owned()),
        mark: contact.belief.as_ref().map(|b| b.mark.clone()),
        mark_confidence: contact
            .belief
            .as_ref()
            .map(|b| b.confidence)
            .filter(|c| (c - Belief::CONFIDENCE).abs() > 1e-9),
        ..ContactEntry::default()
    };
    let (reckoning, own, radar) = (&sightings.reckoning, &sightings.own, &sightings.radar);
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

/// A figure that came from a file in miles and went through metres, as it was.
fn tidy(miles: f64) -> f64 {
    (miles * 1e6).round() / 1e6
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::{Mark, MarkKind};
    use crate::watch::entry::understood;
    use std::path::Path;

    const TEXT: &str = r#"
        [reckoning]
        time = "2031-03-09T03:40:00Z"
        position = "38 12.9 S, 21 30.5 W"
        sigma_nm = 4.0
        track_deg = 74.0
        speed_kn = 165.0
        [own]
        height_ft = 2000
        heading_deg = 70.0
        [radar]
        set = "patrol"
        [[contact]]
        label = "A"
        range_nm = 17.3
        bearing_deg = 42.5
        range_sigma_nm = 0.3
        mark = "Gannet Head"
    "#;

    fn wall() -> Timestamp {
        "2026-06-01T12:00:00Z".parse().unwrap()
    }

    fn watch() -> Watch {
        Watch::from_sightings(&Sightings::parse(TEXT, "test", Path::new("")).unwrap())
    }

    fn marks() -> Marks {
        let mark = |name: &str| Mark {
            name: name.to_owned(),
            named: true,
            kind: MarkKind::Headland,
            position: Position::new(-38.0, -21.0).unwrap(),
            height: Height::SEA_LEVEL,
            extent: GroundRange::ZERO,
            sigma: GroundRange::ZERO,
            salience: 1.0,
        };
        Marks::new(vec![mark("Gannet Head"), mark("Tern Rock"), mark("Tern Island")])
    }

    /// Enters lines as the display does; returns what was said of each.
    fn enter(watch: &mut Watch, lines: &[&str]) -> Vec<String> {
        let said = lines.iter().map(|line| {
            let entry = understood(line).unwrap();
            match watch.change(&entry, wall(), &marks()) {
                Ok(what) => {
                    let said = watch.say(&what);
                    watch.apply(&what).unwrap();
                    said
                }
                Err(error) => format!("! {error}"),
            }
        });
        said.collect()
    }

    fn labels(watch: &Watch) -> String {
        watch.contacts().iter().map(|h| h.contact.label.as_str()).collect()
    }

    #[test]
    fn a_landfall_is_entered_corrected_and_taken_back() {
        let mut watch = watch();
        let said = enter(
            &mut watch,
            &["18.1 042", "a 17.4", "b 318 rel", "mark B tern r", "del B", "undo", "undo", "redo"],
        );
        assert_eq!(
            said,
            [
                "contact B: 18.1 NM, 042° true, at 03:40:00Z",
                "A corrected: 17.4 NM, 042.5° true, Gannet Head, at 03:40:00Z",
                "contact C: 318° relative (= 028° true), at 03:40:00Z",
                "B corrected: 18.1 NM, 042° true, Tern Rock, at 03:40:00Z",
                "out: contact B: 18.1 NM, 042° true, Tern Rock",
                "undo: contact B taken out",
                "undo: contact B: 18.1 NM, 042° true, Tern Rock",
                "redo: contact B: 18.1 NM, 042° true, Tern Rock",
            ]
        );
        assert_eq!(labels(&watch), "ABC");
        let sightings = watch.sightings().unwrap();
        let a = &sightings.contacts[0];
        assert!((a.range.unwrap().nautical_miles() - 17.4).abs() < 1e-9);
        // The file's own error of the contact outlives the correction.
        assert!((a.range_sigma.nautical_miles() - 0.3).abs() < 1e-6);
        assert_eq!(a.belief.as_ref().unwrap().mark, "Gannet Head");
        assert!((sightings.contacts[2].bearing.unwrap().degrees() - 28.0).abs() < 1e-9);
    }

    #[test]
    fn undo_goes_all_the_way_back_and_redo_all_the_way_forth() {
        let mut watch = watch();
        let start = watch.sightings().unwrap().contacts;
        let lines =
            ["18.1 042", "a 17.4", "del a", "h 3000", "hdg 080", "dr -38,-21", "trk 90 100"];
        enter(&mut watch, &lines);
        let end = watch.sightings().unwrap();
        for _ in &lines {
            watch.apply(&What::Undo).unwrap();
        }
        assert_eq!(watch.apply(&What::Undo), Err(EntryError::NothingToUndo));
        assert_eq!(watch.sightings().unwrap().contacts, start);
        assert!((watch.own().height.feet() - 2000.0).abs() < 1e-9);
        for _ in &lines {
            watch.apply(&What::Redo).unwrap();
        }
        assert_eq!(watch.apply(&What::Redo), Err(EntryError::NothingToRedo));
        let again = watch.sightings().unwrap();
        assert_eq!((again.contacts, again.own), (end.contacts, end.own));
        assert_eq!(again.reckoning, end.reckoning);
        // A label once given is not given again; one taken back is free.
        watch.apply(&What::Undo).unwrap();
        assert_eq!(watch.next_label(), "C");
    }

    #[test]
    fn a_line_that_does_not_fit_this_watch_is_refused_and_changes_nothing() {
        let mut watch = watch();
        let said = enter(
            &mut watch,
            &["del Z", "17 042 Nowhere", "17 042 tern", "0.1 042", "redo", "left Z", "042 shore"],
        );
        for (said, told) in said.iter().zip([
            "! no contact Z: there is only A",
            "! no mark \"Nowhere\" on this chart",
            "did you mean Tern Rock, Tern Island?",
            "less than own height of 2000 ft (0.33 NM)",
            "nothing to redo",
            "! no contact Z",
            "range alone",
        ]) {
            assert!(said.contains(told), "{said}");
        }
        assert_eq!(labels(&watch), "A");
    }

    #[test]
    fn a_blank_watch_asks_for_a_reckoning_first() {
        let radar = Sightings::parse(TEXT, "test", Path::new("")).unwrap().radar;
        let mut watch = Watch::blank(radar, Height::from_feet(500.0).unwrap());
        assert!(watch.sightings().is_none());
        let said = enter(&mut watch, &["17.3 042", "dr 38 12.9 S, 21 30.5 W", "17.3 042m"]);
        assert!(said[0].contains("no reckoning yet"), "{}", said[0]);
        assert!(said[1].ends_with("at 12:00:00Z, sigma 4.0 NM"), "{}", said[1]);
        assert!(said[2].contains("° true), at 12:00:00Z"), "{}", said[2]);
        assert_eq!(watch.sightings().unwrap().contacts.len(), 1);
    }

    #[test]
    fn the_clock_is_the_walls_only_near_the_wall() {
        let watch = watch();
        let at = |text: &str| text.parse::<Timestamp>().unwrap();
        assert_eq!(watch.own_time(wall()), at("2031-03-09T03:40:00Z"));
        assert_eq!(watch.own_time(at("2031-03-09T03:55:00Z")), at("2031-03-09T03:55:00Z"));
    }

    #[test]
    fn labels_go_past_the_alphabet() {
        assert_eq!([0, 7, 8, 23, 24, 47].map(label_number), ["A", "H", "J", "Z", "AA", "AZ"]);
    }
}
