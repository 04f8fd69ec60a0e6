//! Own heading and the turns of own track: of which side of a turn the heading is that a contact is laid on.

use jiff::Timestamp;

use super::{Course, Held, Watch};
use crate::contact::BearingKind;
use crate::units::{Bearing, True};
use crate::watch::entry::spoken_bearing;
use crate::watch::log::{ContactEntry, What};
use crate::watch::words::clock;

/// An alteration of track by less than this is no turn, in degrees: a heading that was not said anew is then
/// out by little more than wind and stream may change it. Our own figure, no published source.
const LEAST_TURN_DEG: f64 = 5.0;

/// Turns of own track, as they stand to the heading in force.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Turn {
    /// The first that the heading was not said anew after; the last, where it was.
    first: Timestamp,
    last: Timestamp,
    /// Whether the heading is that of after the last.
    is_headed: bool,
}

/// Of which side of a turn the heading is that a contact is laid on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::watch) enum Headed {
    /// Of the contact's own.
    OnItsLeg,
    /// The contact was read after a turn, and the heading is still that of before it.
    BeforeTurn(Timestamp),
    /// The contact was read before a turn, and the heading is that of after it.
    AfterTurn(Timestamp),
}

impl Headed {
    /// `heading of before the turn at 03:43:00Z`; nothing where it is of the contact's own leg.
    fn words(self) -> Option<String> {
        match self {
            Self::OnItsLeg => None,
            Self::BeforeTurn(at) => Some(format!("heading of before the turn at {}Z", clock(at))),
            Self::AfterTurn(at) => Some(format!("heading of after the turn at {}Z", clock(at))),
        }
    }
}

impl Course {
    /// Takes an alteration of track at a time into what is known of turns.
    pub(super) fn note_turn(&mut self, at: Timestamp, old: Bearing<True>, new: Bearing<True>) {
        if apart_deg(old, new) < LEAST_TURN_DEG {
            return;
        }
        // Who says the heading first and the track behind it has turned already.
        let nearer = |heading| apart_deg(heading, new) < apart_deg(heading, old);
        let is_headed = self.own.heading.is_none_or(nearer);
        let open = self.turn.filter(|turn| !turn.is_headed && !is_headed);
        let first = open.map_or(at, |turn| turn.first);
        self.turn = Some(Turn { first, last: at, is_headed });
    }

    /// Takes the track of the leg in force put right: the turn into it may be none.
    pub(super) fn put_turn_right(&mut self, track: Bearing<True>) {
        let Some(reckoning) = &self.reckoning else { return };
        let into = |turn: &Turn| turn.first == turn.last && turn.last == reckoning.time;
        let before = reckoning.earlier.first().map(|leg| leg.track);
        let is_none = before.is_some_and(|before| apart_deg(before, track) < LEAST_TURN_DEG);
        if is_none && self.turn.as_ref().is_some_and(into) {
            self.turn = None;
        }
    }

    /// Takes a heading that was said: it is that of after the last turn.
    pub(super) fn note_heading(&mut self) {
        if let Some(turn) = &mut self.turn {
            (turn.first, turn.is_headed) = (turn.last, true);
        }
    }

    /// Whether own heading was not said since a turn of own track.
    pub(super) fn is_heading_behind(&self) -> bool {
        self.own.heading.is_some() && self.turn.is_some_and(|turn| !turn.is_headed)
    }
}

impl Held {
    /// Whether its bearing is laid on a heading of the other side of a turn of own track.
    pub fn is_off_another_heading(&self) -> bool {
        is_off_the_bow(&self.entry) && self.headed != Headed::OnItsLeg
    }
}

impl Watch {
    /// Of which side of a turn the heading is that the contact of an entry is laid on.
    pub(super) fn headed(&self, entry: &ContactEntry) -> Headed {
        if let Some(old) = self.read_before(entry) {
            return old.headed;
        }
        let time = entry.time.or(self.reckoning.as_ref().map(|reckoning| reckoning.time));
        match (self.turn, time) {
            (Some(turn), Some(time)) if turn.is_headed && time < turn.last => {
                Headed::AfterTurn(turn.last)
            }
            (Some(turn), Some(time)) if !turn.is_headed && time >= turn.first => {
                Headed::BeforeTurn(turn.first)
            }
            _ => Headed::OnItsLeg,
        }
    }

    /// `, CAUTION: heading of before the turn at 03:43:00Z`, of an entry that goes by the heading.
    pub(in crate::watch) fn say_headed(&self, entry: &ContactEntry) -> String {
        let words = self.headed(entry).words().filter(|_| is_off_the_bow(entry));
        words.map_or_else(String::new, |words| format!(", CAUTION: {words}"))
    }

    /// `; heading stays 070° true until "hdg" says another`, where a turn leaves the heading in force behind.
    pub(in crate::watch) fn say_heading_behind(&self, track: &What) -> String {
        let course = self.course_by_change(track).filter(Course::is_heading_behind);
        let Some(own) = course.map(|course| course.own) else { return String::new() };
        let truly = |heading: Bearing<True>| (heading.degrees(), BearingKind::True);
        let read = own.heading_as_read.map(|read| (read.degrees, read.kind));
        read.or(own.heading.map(truly)).map_or_else(String::new, |(degrees, kind)| {
            let spoken = spoken_bearing(degrees);
            format!("; heading stays {spoken} {} until \"hdg\" says another", kind.as_str())
        })
    }

    /// What is cautioned of the contacts that count and are laid on a heading of the other side of a turn.
    pub fn cautions_of_heading(&self) -> Vec<String> {
        let counts = |held: &&Held| held.is_off_another_heading() && self.left_out(held).is_none();
        let doubtful = self.held.iter().filter(counts).filter_map(|held| {
            let (label, words) = (&held.contact.label, held.headed.words()?);
            Some(format!(
                "{label} is laid on a {words}: take it out, say the heading of then, and type it again"
            ))
        });
        doubtful.collect()
    }
}

/// Whether an entry's bearing goes by own heading.
fn is_off_the_bow(entry: &ContactEntry) -> bool {
    let relative = entry.bearing_kind.as_deref() == Some(BearingKind::Relative.as_str());
    relative || entry.deflection.is_some()
}

fn apart_deg(one: Bearing<True>, other: Bearing<True>) -> f64 {
    one.minus(other).degrees().abs()
}
