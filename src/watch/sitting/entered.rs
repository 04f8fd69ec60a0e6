//! What an entry would change: labels, times and names settled, and all that it could be refused for.

use jiff::{SignedDuration, Timestamp};

use super::{ASSUMED_SIGMA_NM, DOUBTFUL_CONFIDENCE, Watch};
use crate::chart::Marks;
use crate::contact::{BearingKind, Part, Reckoning};
use crate::geodesy::{Covariance, Position};
use crate::units::{Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, Speed, True};
use crate::watch::entry::{Entry, EntryError, Measured, spoken_bearing, understood};
use crate::watch::held::entry_of_pair;
use crate::watch::log::{ContactEntry, What};
use crate::watch::{names, words};

impl Watch {
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
                let entry = self.known(label)?.clone();
                let mark = mark.as_deref().map(|m| self.mark(m, *doubtful, None, now, marks));
                let (mark, mark_confidence) = mark.transpose()?.unzip();
                let mark_confidence = mark_confidence.flatten();
                What::Contact(ContactEntry { mark, mark_confidence, ..entry })
            }
            Entry::Height { height, all } => What::Height { height_ft: height.feet(), all: *all },
            Entry::Heading { degrees, kind } => {
                What::Heading { degrees: *degrees, kind: kind.as_str().to_owned() }
            }
            Entry::Bank(bank) => What::Bank { bank_deg: bank.degrees() },
            Entry::Reckoning { position, sigma, when } => {
                self.reckoned_at(when.map_or(now, |when| when.resolve(now)), *position, *sigma)
            }
            Entry::Track { track, speed, when } => {
                let time = when.map_or(now, |when| when.resolve(now));
                self.track_from(time, *track, *speed)?
            }
            Entry::Air(speed) => What::Air { speed_kn: speed.knots() },
            Entry::Accept => return Err(EntryError::NothingToAccept),
            Entry::Drift => What::Drift(self.drift_entry(now)?),
            Entry::Again { label, measured } => {
                What::Contact(self.again(label, measured, now, marks)?)
            }
            Entry::Call { label, name } => What::Call { label: label.clone(), name: name.clone() },
            Entry::Undo => What::Undo,
            Entry::Redo => What::Redo,
            Entry::Note(text) => What::Note { text: text.clone() },
        };
        // What cannot be applied is no change.
        self.check(&what)?;
        Ok(what)
    }

    /// What is said of a line. Where that begins with the label of a contact and reads as something else, how
    /// the contact is named is said first.
    pub fn said_of(&self, line: &str, said: String) -> String {
        let mut labels = self.held.iter().map(|held| held.contact.label.as_str());
        match labels.find(|label| begins(line.trim_start(), label) && !stands_bare(label)) {
            Some(label) => format!("begin with \"{label}\": for contact {label}; else {said}"),
            None => said,
        }
    }

    /// A reckoning entered; where no error is stated it keeps the one that the reckoning has grown to by then.
    fn reckoned_at(&self, time: Timestamp, position: Position, sigma: Option<GroundRange>) -> What {
        let stated = sigma.map(Covariance::circular);
        let grown = self.reckoning.as_ref().map(|reckoning| grown_by(reckoning, time));
        let covariance = stated.or(grown).unwrap_or_else(assumed_covariance);
        What::Reckoning {
            time,
            lat_deg: position.latitude(),
            lon_deg: position.longitude(),
            covariance_nm2: covariance.square_miles(),
        }
    }

    /// Track and speed from a time on. From before the leg in force they would not hold from then on, but
    /// would change that leg alone: they are refused.
    fn track_from(
        &self,
        time: Timestamp,
        track: Bearing<True>,
        speed: Speed,
    ) -> Result<What, EntryError> {
        let (track_deg, speed_kn) = (track.degrees(), speed.knots());
        let stands = self.reckoning.as_ref().filter(|r| time < r.time && !r.earlier.is_empty());
        let Some(reckoning) = stands else {
            return Ok(What::Track { track_deg, speed_kn, time: Some(time) });
        };
        let last = self.last_change();
        let altered = matches!(last, Some(What::Track { .. }));
        let fixed = self.base.is_some_and(|base| base.time == reckoning.time);
        let (why, undo) = match (fixed, altered) {
            (true, _) => ("the reckoning starts", ""),
            (false, true) => ("track or speed was altered", ", or undo that first"),
            (false, false) => ("track or speed was altered", ""),
        };
        let spoken = spoken_bearing(track_deg);
        let (track, since) = (spoken.trim_end_matches('°'), words::clock(reckoning.time));
        Err(EntryError::TrackBefore {
            asked: words::clock(time),
            why,
            retype: format!("trk {track} {speed_kn:.0} @{since}"),
            since,
            undo,
        })
    }

    fn known(&self, label: &str) -> Result<&ContactEntry, EntryError> {
        let held = self.find(label).and_then(|at| self.held.get(at));
        held.map(|h| &h.entry).ok_or_else(|| EntryError::UnknownContact {
            label: label.to_owned(),
            known: words::labels(self),
        })
    }

    /// A new contact, or an old one with what was typed in place of what it had.
    pub(super) fn measured(
        &self,
        measured: &Measured,
        now: Timestamp,
        marks: &Marks,
    ) -> Result<ContactEntry, EntryError> {
        self.refuse_kind_or_label(measured)?;
        let old = measured.label.as_ref().and_then(|l| self.known(l).ok());
        if old.is_none() {
            self.check_new(measured)?;
        }
        let mut entry = old.cloned().unwrap_or_else(|| ContactEntry {
            label: measured.label.clone().unwrap_or_else(|| self.next_label()),
            time: Some(now),
            ..ContactEntry::default()
        });
        take_readings(&mut entry, measured);
        if let Some(mark) = &measured.mark {
            let (doubtful, slip) = (measured.doubtful, measured.slip);
            let (mark, confidence) = self.mark(mark, doubtful, slip, now, marks)?;
            (entry.mark, entry.mark_confidence) = (Some(mark), confidence);
        }
        if let Some(when) = measured.when {
            entry.time = Some(when.resolve(now));
        }
        Ok(entry)
    }

    /// Refuses a last capital that is the kind of the bearing, and the label of a contact that stands.
    fn refuse_kind_or_label(&self, measured: &Measured) -> Result<(), EntryError> {
        let Some(last) = &measured.last else { return Ok(()) };
        let kind = measured.bearing.and_then(|(_, kind)| kind);
        match kind.filter(|_| self.known(&last.label).is_ok()) {
            Some(kind) => Err(EntryError::KindOrLabel {
                label: last.label.clone(),
                correction: last.correction.clone(),
                bearing: last.bearing.clone(),
                kind: kind.as_str(),
            }),
            None => Ok(()),
        }
    }

    /// Whether a contact that is not in yet can be put in.
    ///
    /// # Errors
    /// A label that stands for something else; nothing measured.
    fn check_new(&self, measured: &Measured) -> Result<(), EntryError> {
        let label = measured.label.clone().unwrap_or_default();
        let is_it = |other: &str| measured.label.is_some() && other.eq_ignore_ascii_case(&label);
        if self.outlines.iter().any(|outline| is_it(&outline.label)) {
            Err(EntryError::Outline { label })
        } else if self.done_with.iter().any(|held| is_it(&held.contact.label)) {
            Err(EntryError::DoneWith { label })
        } else if measured.is_measured() {
            Ok(())
        } else {
            Err(EntryError::UnknownContact { label, known: words::labels(self) })
        }
    }

    /// The chart's own spelling of a mark's name that was typed, and how sure it is where that is doubtful;
    /// `slip`: the command whose word it may be.
    fn mark(
        &self,
        typed: &str,
        doubtful: bool,
        slip: Option<&'static str>,
        now: Timestamp,
        marks: &Marks,
    ) -> Result<(String, Option<f64>), EntryError> {
        let here = self.carried(None, now).map(|(position, _)| position);
        let about = here.or(self.reckoning.as_ref().map(|reckoning| reckoning.position));
        let (name, doubtful) = names::meant(typed, doubtful, slip, marks, about)?;
        Ok((name, doubtful.then_some(DOUBTFUL_CONFIDENCE)))
    }
}

/// Whether a line begins with this label, capitals or not, and more follows.
fn begins(line: &str, label: &str) -> bool {
    let rest = line.get(label.len()..).unwrap_or_default();
    line.get(..label.len()).is_some_and(|first| first.eq_ignore_ascii_case(label))
        && rest.starts_with([' ', '/', ',', ';'])
}

/// Whether the entry line takes it for a label without quotes: no word of its own, no name.
pub(super) fn stands_bare(label: &str) -> bool {
    let read = understood(&format!("{label} 9"));
    matches!(read, Ok(Entry::Measured(measured)) if measured.label.is_some())
}

/// What was measured takes the place of what a contact had. A bearing without a letter is counted from what
/// the contact's own was: a figure put right does not turn it.
fn take_readings(entry: &mut ContactEntry, measured: &Measured) {
    if let Some(range) = measured.range_nm {
        entry.range_nm = Some(range);
    }
    if let Some((degrees, kind)) = measured.bearing {
        entry.bearing_deg = Some(degrees);
        entry.deflection = None;
        if let Some(kind) = kind {
            entry.bearing_kind = (kind != BearingKind::True).then(|| kind.as_str().to_owned());
        }
    }
    if let Some(read) = measured.deflections {
        entry.deflection = Some(entry_of_pair(read));
        (entry.bearing_deg, entry.bearing_kind, entry.bearing_sigma_deg) = (None, None, None);
    }
    if let Some(part) = measured.part {
        entry.part = (part != Part::Near).then(|| part.as_str().to_owned());
    }
}

/// The error of a reckoning at a time, on the leg of then; farther off than it is carried, where that ends.
fn grown_by(reckoning: &Reckoning, time: Timestamp) -> Covariance {
    let leg = reckoning.in_force(time);
    let most = SignedDuration::from_hours(Reckoning::MOST_HOURS);
    let run = time.duration_since(leg.time).clamp(-most, most);
    let until = leg.time.checked_add(run).unwrap_or(time);
    // Without track and speed there is nothing that it grows by.
    leg.carried_to(until).map_or(leg.covariance, |(_, error)| error)
}

fn assumed_covariance() -> Covariance {
    Covariance::circular(GroundRange::clamped_metres(ASSUMED_SIGMA_NM * METRES_PER_NAUTICAL_MILE))
}
