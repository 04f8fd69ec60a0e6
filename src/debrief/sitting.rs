//! The records that stand, played again: runs of the reckoning, fixes as they were accepted, and
//! contacts with what they were taken for.

use std::collections::HashMap;

use jiff::Timestamp;

use super::history::blank;
use super::smooth::{Event, Flow, Going, Model, Run};
use crate::contact::{Contact, Own, ReadBearing, Reckoning, Sightings};
use crate::fix::Estimate;
use crate::geodesy::{Covariance, Position};
use crate::radar::Set;
use crate::units::{Angle, Bearing, Height, KNOT, Speed, True};
use crate::watch::log::{
    AcceptEntry, DriftEntry, IdentityEntry, PlaceEntry, Record, SaidEntry, What,
};
use crate::watch::{Offer, Watch, resume};

/// A fix as it was accepted, and what was reckoned then.
#[derive(Debug, Clone)]
pub struct Taken {
    /// The record's number.
    pub number: u64,
    /// When it was accepted, by the watch's own clock.
    pub at: Timestamp,
    /// As the log has it.
    pub entry: AcceptEntry,
    /// Where, by contacts and reckoning together.
    pub place: Estimate,
    /// By the contacts alone.
    pub alone: Option<Estimate>,
    /// Where the reckoning had it.
    pub reckoned: Option<Estimate>,
    /// Track and speed made good that it was reckoned with.
    pub going: Option<(Bearing<True>, Speed)>,
    /// What it found beside that.
    pub offer: Option<Offer>,
    /// When that was taken into use, if it was.
    pub used: Option<Timestamp>,
    /// The sightings that it rests on.
    pub sightings: Option<Sightings>,
    /// Places of its contacts in [`Sitting::contacts`].
    pub contacts: Vec<usize>,
}

/// A name given to a contact.
#[derive(Debug, Clone, PartialEq)]
pub struct Naming {
    /// When, by the watch's own clock.
    pub at: Timestamp,
    /// The mark.
    pub mark: String,
    /// By the operator; else by the program.
    pub by_operator: bool,
}

/// A contact, and what it was taken for.
#[derive(Debug, Clone)]
pub struct Seen {
    /// As it last was.
    pub contact: Contact,
    /// When it was put in, by the watch's own clock.
    pub entered: Timestamp,
    /// How often it was corrected.
    pub corrections: usize,
    /// Names given to it, each when it changed.
    pub namings: Vec<Naming>,
    /// It was taken out again.
    pub deleted: bool,
    /// The contact of which it is a later sight.
    pub again: Option<String>,
    /// The fix that rests on it, by its place in [`Sitting::fixes`].
    pub fix: Option<usize>,
}

/// Own antenna height, heading and set from a time on.
#[derive(Debug, Clone)]
pub struct Aboard {
    /// By the watch's own clock; of a start, the time of its reckoning where that is earlier.
    pub from: Timestamp,
    /// Above mean sea level.
    pub height: Height,
    /// True, where it is known.
    pub heading: Option<Bearing<True>>,
    /// The same as it was read, where that is known.
    pub heading_as_read: Option<ReadBearing>,
    /// The set in use.
    pub set: Set,
}

/// All that stands in the end.
#[derive(Debug, Clone)]
pub struct Sitting {
    /// As it was left.
    pub watch: Watch,
    /// The chart it was last kept on.
    pub chart: Option<String>,
    /// One for each reckoning stated.
    pub runs: Vec<Run>,
    /// In the order they were accepted.
    pub fixes: Vec<Taken>,
    /// In the order they were put in.
    pub contacts: Vec<Seen>,
    /// What was said on the screen, and when.
    pub said: Vec<(Timestamp, SaidEntry)>,
    /// Winds and streams taken into use.
    pub drifts: Vec<(Timestamp, DriftEntry)>,
    /// Own height, heading and set as they were, in the order they were stated.
    pub aboard: Vec<Aboard>,
    /// What could not be smoothed.
    pub notices: Vec<String>,
    open: HashMap<String, usize>,
    run: Option<Run>,
    sigmas: Sigmas,
}

/// Errors of track and speed as stated, not as a fix has narrowed them since.
#[derive(Debug, Clone, Copy, Default)]
struct Sigmas {
    track: Angle,
    speed: Speed,
}

/// Plays the records that stand.
///
/// None where the program's own sets cannot be read.
pub fn played(standing: &[Record]) -> Option<Sitting> {
    let blank = blank()?;
    let mut sitting = Sitting {
        watch: blank.clone(),
        chart: None,
        runs: Vec::new(),
        fixes: Vec::new(),
        contacts: Vec::new(),
        said: Vec::new(),
        drifts: Vec::new(),
        aboard: Vec::new(),
        notices: Vec::new(),
        open: HashMap::new(),
        run: None,
        sigmas: Sigmas::default(),
    };
    for record in standing {
        sitting.play(record, &blank);
    }
    sitting.end_run(None);
    Some(sitting)
}

impl Sitting {
    fn play(&mut self, record: &Record, blank: &Watch) {
        match &record.what {
            What::Open { chart, .. } => self.chart = Some(chart.clone()),
            What::Start { .. } | What::Blank { .. } => {
                if let Some(begun) = resume(std::slice::from_ref(record), blank).watch {
                    self.watch = begun;
                    self.open.clear();
                    self.board(record);
                    self.start_run(true);
                    for held in self.watch.contacts().to_vec() {
                        self.put(record, &held.contact, held.entry.again.clone());
                    }
                }
            }
            What::Said(said) => {
                self.said.push((record.time, said.clone()));
                self.named(record.time, &said.identities);
            }
            What::Accept(entry) => self.accept(record, entry),
            what => {
                let before = self.watch.reckoning().cloned();
                if self.watch.apply(what).is_err() {
                    return;
                }
                self.changed(record, before.as_ref());
                self.take_bearings();
            }
        }
    }

    fn changed(&mut self, record: &Record, before: Option<&Reckoning>) {
        match &record.what {
            What::Contact(entry) => {
                let held =
                    self.watch.find(&entry.label).and_then(|at| self.watch.contacts().get(at));
                if let Some(contact) = held.map(|held| held.contact.clone()) {
                    self.put(record, &contact, entry.again.clone());
                }
            }
            What::Delete { label } => {
                if let Some(seen) = self.open.remove(label).and_then(|at| self.contacts.get_mut(at))
                {
                    seen.deleted = true;
                }
            }
            What::Height { all, .. } => {
                if *all {
                    self.put_height_right();
                }
                self.board(record);
            }
            What::Heading { .. } => self.board(record),
            What::Reckoning { .. } => {
                self.head_again();
                self.start_run(before.is_none());
            }
            What::Track { .. } => {
                if let Some(now) = self.watch.reckoning() {
                    self.sigmas.speed = now.speed_sigma;
                }
                self.alter(Flow::Anew);
            }
            What::Drift(entry) => {
                self.drifts.push((record.time, *entry));
                if let Some(fix) = self.fixes.last_mut() {
                    fix.used = Some(record.time);
                }
                self.alter(Flow::Used([entry.east_kn * KNOT, entry.north_kn * KNOT]));
            }
            _ => {}
        }
    }

    fn board(&mut self, record: &Record) {
        let own = self.watch.own();
        let begun = matches!(record.what, What::Start { .. } | What::Blank { .. });
        let reckoned = self.watch.reckoning().filter(|_| begun).map(|reckoning| reckoning.time);
        self.aboard.push(Aboard {
            from: reckoned.map_or(record.time, |time| time.min(record.time)),
            height: own.height,
            heading: own.heading,
            heading_as_read: own.heading_as_read,
            set: self.watch.radar().set.clone(),
        });
    }

    /// Takes own height for that since the first contact that stands: so it was put right.
    fn put_height_right(&mut self) {
        let height = self.watch.own().height;
        let Some(first) = self.watch.contacts().iter().map(|held| held.contact.time).min() else {
            return;
        };
        for aboard in self.aboard.iter_mut().rev() {
            aboard.height = height;
            if aboard.from <= first {
                break;
            }
        }
    }

    /// Turns headings read by magnetic or compass by the variation of where a reckoning stated since has
    /// us then.
    fn head_again(&mut self) {
        let Some(reckoning) = self.watch.reckoning() else { return };
        for aboard in &mut self.aboard {
            let Aboard { heading, heading_as_read, .. } = *aboard;
            let own = Own { heading, heading_as_read, ..self.watch.own().clone() };
            let kind = heading_as_read.map(|read| read.kind);
            if let Some(then) = own.as_of((reckoning, aboard.from), kind) {
                aboard.heading = then.heading;
            }
        }
    }

    /// Takes the contacts that stand as the watch has them: bearings are turned again where it becomes
    /// known better where they were read, and own height is put right.
    fn take_bearings(&mut self) {
        for held in self.watch.contacts() {
            let at = self.open.get(&held.contact.label);
            let Some(seen) = at.and_then(|at| self.contacts.get_mut(*at)) else { continue };
            if seen.contact != held.contact {
                seen.contact.clone_from(&held.contact);
            }
        }
    }

    fn put(&mut self, record: &Record, contact: &Contact, again: Option<String>) {
        let at = if let Some(at) = self.open.get(&contact.label) {
            if let Some(seen) = self.contacts.get_mut(*at) {
                seen.contact = contact.clone();
                seen.corrections += 1;
            }
            *at
        } else {
            self.contacts.push(Seen {
                contact: contact.clone(),
                entered: record.time,
                corrections: 0,
                namings: Vec::new(),
                deleted: false,
                again,
                fix: None,
            });
            let at = self.contacts.len() - 1;
            self.open.insert(contact.label.clone(), at);
            at
        };
        if let Some((seen, belief)) = self.contacts.get_mut(at).zip(contact.belief.as_ref()) {
            seen.name(record.time, &belief.mark, true);
        }
    }

    fn named(&mut self, at: Timestamp, identities: &[IdentityEntry]) {
        for identity in identities {
            let open = self.open.get(&identity.contact);
            if let Some(seen) = open.and_then(|place| self.contacts.get_mut(*place)) {
                seen.name(at, &identity.mark, false);
            }
        }
    }

    fn accept(&mut self, record: &Record, entry: &AcceptEntry) {
        let Some(place) = estimate(&entry.place) else { return };
        let sightings = self.watch.sightings();
        let before = self.watch.reckoning().cloned();
        if self.watch.apply(&record.what).is_err() {
            return;
        }
        self.named(record.time, &entry.identities);
        let number = self.fixes.len();
        let mut contacts: Vec<usize> = self
            .open
            .values()
            .copied()
            .filter(|at| self.contacts.get(*at).is_some_and(|s| s.contact.time <= entry.time))
            .collect();
        contacts.sort_unstable();
        for at in &contacts {
            if let Some(seen) = self.contacts.get_mut(*at) {
                seen.fix = Some(number);
            }
        }
        self.open.retain(|_, at| !contacts.contains(at));
        self.take_bearings();
        let carried = before.as_ref().and_then(|r| r.carried_to(entry.time).ok());
        let reckoned = carried.map(|(position, covariance)| Estimate { position, covariance });
        let alone = entry.alone.as_ref().and_then(estimate);
        let going = before.as_ref().and_then(|r| r.track.zip(r.speed));
        self.fixes.push(Taken {
            number: record.number,
            at: record.time,
            entry: entry.clone(),
            place,
            alone,
            reckoned,
            going,
            offer: self.watch.offer().copied(),
            used: None,
            sightings,
            contacts,
        });
        self.fix_run(number, entry.time, place, alone, reckoned);
    }

    /// A fix on the run that it falls in; a run of its own where there is none.
    fn fix_run(
        &mut self,
        number: usize,
        time: Timestamp,
        place: Estimate,
        alone: Option<Estimate>,
        reckoned: Option<Estimate>,
    ) {
        let carries = |run: &&mut Run| {
            let latest = run.events.iter().map(|(t, _)| *t).max().unwrap_or(run.start);
            let hours = time.duration_since(latest).as_hours();
            time >= run.start
                && (run.going.is_some() || time == run.start)
                && hours.abs() < Reckoning::MOST_HOURS
        };
        let Some(run) = self.run.as_mut().filter(carries) else {
            self.start_run(false);
            return;
        };
        let event = match (alone, reckoned) {
            (Some(alone), _) => Event::fix(number, &alone, place),
            (None, Some(reckoned)) => Event::fix_with_reckoning(number, place, &reckoned),
            (None, None) => Event::Fix { number, measured: None, from: place },
        };
        if matches!(&event, Event::Fix { measured: None, .. }) {
            self.notices.push(format!(
                "the fix of record {} tells nothing that the reckoning did not: it is not in the \
                 smoothed track",
                self.fixes.last().map_or(0, |fix| fix.number)
            ));
        }
        run.events.push((time, event));
    }

    fn start_run(&mut self, stated: bool) {
        let Some(reckoning) = self.watch.reckoning().cloned() else { return };
        self.end_run(Some(reckoning.time));
        if stated {
            self.sigmas = Sigmas { track: reckoning.track_sigma, speed: reckoning.speed_sigma };
        }
        let from = Estimate { position: reckoning.position, covariance: reckoning.covariance };
        self.run = Some(Run {
            start: reckoning.time,
            from,
            going: self.going(),
            events: Vec::new(),
            until: reckoning.time,
        });
    }

    fn end_run(&mut self, next: Option<Timestamp>) {
        let Some(mut run) = self.run.take() else { return };
        // A fix before an alteration made from it on.
        run.events.sort_by_key(|(time, event)| (*time, matches!(event, Event::Altered { .. })));
        let latest = run.events.last().map_or(run.start, |(time, _)| *time);
        let seen = self.contacts.iter().filter(|seen| !seen.deleted).map(|seen| seen.contact.time);
        let until = next.or_else(|| seen.max()).unwrap_or(run.start);
        let hours = until.duration_since(latest).as_hours();
        run.until = if hours < Reckoning::MOST_HOURS { until.max(latest) } else { latest };
        let replaced = next.is_some() && run.until == run.start && run.events.is_empty();
        if !replaced {
            self.runs.push(run);
        }
    }

    fn alter(&mut self, flow: Flow) {
        let (Some(going), Some(now)) = (self.going(), self.watch.reckoning()) else { return };
        let time = now.time;
        let Some(run) = self.run.as_mut() else { return };
        if run.going.is_none() {
            run.going = Some(going);
        } else {
            run.events.push((time.max(run.start), Event::Altered { going, flow }));
        }
    }

    /// What is made good from now on, with its errors as they were stated.
    fn going(&self) -> Option<Going> {
        let reckoning = self.watch.reckoning()?;
        let (track, speed) = reckoning.track.zip(reckoning.speed)?;
        let across = speed.metres_per_second() * self.sigmas.track.radians();
        let along = self.sigmas.speed.metres_per_second();
        let model = Model::stated(self.watch.craft(), track.sin_cos(), along, across);
        Some(Going { track, speed, model })
    }
}

impl Sitting {
    /// What was aboard at a time: as last stated before it, else as first stated.
    pub fn aboard_at(&self, time: Timestamp) -> Option<&Aboard> {
        let before = self.aboard.iter().rev().find(|aboard| aboard.from <= time);
        before.or(self.aboard.first())
    }
}

impl Seen {
    fn name(&mut self, at: Timestamp, mark: &str, by_operator: bool) {
        let last = self.namings.iter().rev().find(|naming| naming.by_operator == by_operator);
        if last.is_none_or(|last| last.mark != mark) {
            self.namings.push(Naming { at, mark: mark.to_owned(), by_operator });
        }
    }
}

/// A place of the log; none where its figures are no place.
pub fn estimate(place: &PlaceEntry) -> Option<Estimate> {
    let position = Position::new(place.lat_deg, place.lon_deg).ok()?;
    let [[ee, en], [_, nn]] = place.covariance_nm2;
    let covariance = Covariance::from_square_miles(ee, en, nn).ok()?;
    Some(Estimate { position, covariance })
}

#[cfg(test)]
mod tests;
