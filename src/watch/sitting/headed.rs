//! Own heading and the alterations of own track: from which turn to which a heading holds that a contact is
//! laid on.

use jiff::Timestamp;

use super::{Course, Held, Watch};
use crate::contact::{BearingKind, Reckoning};
use crate::units::{Bearing, Speed, True};
use crate::watch::entry::spoken_bearing;
use crate::watch::log::{ContactEntry, What};
use crate::watch::words::{clock, named};

/// An alteration of track by less than this is no turn, in degrees: a heading that was not said anew is then
/// out by little more than wind and stream may change it. Our own figure, no published source.
const LEAST_TURN_DEG: f64 = 5.0;

/// Figures nearer than this are the same said again, in degrees and in knots: they lose no more on the way
/// through entry and log.
const SAME: f64 = 1e-6;

/// What was said of track and heading. When a heading holds is worked out from it whenever it is asked for,
/// so that the order in which turns, headings and contacts were entered makes no difference.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Steered {
    /// Oldest first, one for a time.
    alterations: Vec<Alteration>,
    /// What own heading was said for; none where it is not known.
    pub(super) said: Option<Said>,
    /// Whether heading and track are of the same leg.
    pub(super) is_steady: bool,
}

/// Another track or speed from a time on: a turn, or less than one.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Alteration {
    at: Timestamp,
    before: Bearing<True>,
    after: Bearing<True>,
}

/// What a heading was said for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::watch) struct Said {
    /// When the leg began that it was said on; none for the first.
    leg: Option<Timestamp>,
    /// The track of that leg, as it was known then.
    track: Option<Bearing<True>>,
    /// The heading that the leg had, where this one is off it by a turn and the track is not: the turn may be
    /// entered next.
    instead_of: Option<Bearing<True>>,
}

/// From which turn to which a heading holds; open where there is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Span {
    from: Option<Timestamp>,
    until: Option<Timestamp>,
}

/// Of which side of a turn the heading is that a contact is laid on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Headed {
    /// Of the contact's own.
    OnItsLeg,
    /// The contact was read after the turn that ends what the heading holds for.
    BeforeTurn(Timestamp),
    /// The contact was read before the turn that begins it.
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

impl Alteration {
    fn is_turn(&self) -> bool {
        is_turn(self.before, self.after)
    }
}

impl Said {
    /// Whether a heading said so was that of after a turn, entered before the turn was: of the two that the
    /// craft may have had then, it is nearer the old one turned as the track was.
    fn is_ahead_of(&self, turn: &Alteration, heading: Bearing<True>) -> bool {
        let on_that_track = self.track.is_some_and(|track| !is_turn(track, turn.before));
        let turned_with_it = |old: Bearing<True>| {
            let new = old.turned(turn.after.minus(turn.before));
            apart_deg(heading, new) < apart_deg(heading, old)
        };
        on_that_track && self.instead_of.is_some_and(turned_with_it)
    }

    /// Whether it was said for a track that its leg has no more, and does not go with the one it has.
    fn is_overtaken_by(&self, track: Bearing<True>, heading: Bearing<True>) -> bool {
        self.track.is_some_and(|old| {
            is_turn(old, track) && apart_deg(heading, old) <= apart_deg(heading, track)
        })
    }
}

impl Steered {
    /// What sightings say: one leg, and perhaps a heading.
    pub(super) fn on_one_leg(track: Option<Bearing<True>>, heading: Option<Bearing<True>>) -> Self {
        let said = heading.map(|_| Said { leg: None, track, instead_of: None });
        Self { alterations: Vec::new(), said, is_steady: true }
    }

    /// When the leg in force began; none for the first.
    fn leg(&self) -> Option<Timestamp> {
        self.alterations.last().map(|last| last.at)
    }

    /// Takes an alteration in. One for the same time as another puts that right.
    fn alter(&mut self, at: Timestamp, old: Bearing<True>, new: Bearing<True>) {
        let put_right = self.alterations.iter().find(|other| other.at == at);
        let before = put_right.map_or(old, |other| other.before);
        self.alterations.retain(|other| other.at < at);
        self.alterations.push(Alteration { at, before, after: new });
        let too_many = self.alterations.len().saturating_sub(Reckoning::MOST_LEGS);
        self.alterations.drain(..too_many);
    }

    /// When the leg began that a heading is of.
    fn leg_of(&self, said: Said, heading: Bearing<True>) -> Option<Timestamp> {
        let after = |turn: &&Alteration| turn.is_turn() && Some(turn.at) > said.leg;
        let next = self.alterations.iter().find(after);
        let ahead_of = next.filter(|turn| said.is_ahead_of(turn, heading));
        ahead_of.map_or(said.leg, |turn| Some(turn.at))
    }

    fn span(&self, said: Said, heading: Bearing<True>) -> Span {
        let turns = || self.alterations.iter().filter(|other| other.is_turn()).map(|turn| turn.at);
        let began = self.alterations.iter().find(|alteration| Some(alteration.at) == said.leg);
        if let Some(began) = began.filter(|began| said.is_overtaken_by(began.after, heading)) {
            // It holds up to there; for no time at all where it was said for a turn already.
            let turned = said.track.is_some_and(|track| is_turn(began.before, track));
            let before = || turns().take_while(|at| *at < began.at).last();
            let from = if turned { Some(began.at) } else { before() };
            return Span { from, until: Some(began.at) };
        }
        let leg = self.leg_of(said, heading);
        Span {
            from: turns().take_while(|at| Some(*at) <= leg).last(),
            until: turns().find(|at| Some(*at) > leg),
        }
    }

    /// Whether a turn was made after the leg that own heading holds for.
    fn is_heading_behind(&self, heading: Bearing<True>) -> bool {
        self.said.is_some_and(|said| self.span(said, heading).until.is_some())
    }

    /// Whether own heading is of the leg in force.
    fn is_of_this_leg(&self, heading: Bearing<True>) -> bool {
        let leg = self.said.and_then(|said| self.leg_of(said, heading));
        leg == self.leg() && !self.is_heading_behind(heading)
    }

    /// Of which side of a turn a heading is, for what was read on it at a time.
    fn headed(&self, said: Said, heading: Bearing<True>, time: Timestamp) -> Headed {
        match self.span(said, heading) {
            Span { until: Some(turn), .. } if time >= turn => Headed::BeforeTurn(turn),
            Span { from: Some(turn), .. } if time < turn => Headed::AfterTurn(turn),
            _ => Headed::OnItsLeg,
        }
    }
}

impl Course {
    /// Takes a track that was said for the leg in force.
    ///
    /// - `old`: the one that was steered before, where this is an alteration; one that is said for the whole
    ///   run alters nothing.
    pub(super) fn note_track(&mut self, old: Option<Bearing<True>>) {
        let Some(reckoning) = &self.reckoning else { return };
        if let (Some(old), Some(new)) = (old, reckoning.track) {
            self.steered.alter(reckoning.time, old, new);
        }
        let steered = &self.steered;
        let is_steady = self.own.heading.is_none_or(|heading| steered.is_of_this_leg(heading));
        self.steered.is_steady = is_steady;
    }

    /// Takes own heading that was said in place of another.
    pub(super) fn note_heading(&mut self, old: Option<Bearing<True>>) {
        let Some(heading) = self.own.heading else { return };
        let said = Said {
            leg: self.steered.leg(),
            track: self.reckoning.as_ref().and_then(|reckoning| reckoning.track),
            instead_of: None,
        };
        let instead_of = old.and_then(|old| self.heading_left(said, heading, old));
        self.steered.said = Some(Said { instead_of, ..said });
        // Own heading that turned alone tells no wind, until the track is said or the heading once more.
        let once_more = old.is_some_and(|old| !is_turn(old, heading));
        self.steered.is_steady = instead_of.is_none() || once_more;
    }

    /// The heading that the leg in force had, where a new one is off it by a turn; none where the track was
    /// said otherwise since, and the new one only follows it.
    fn heading_left(
        &self,
        now: Said,
        heading: Bearing<True>,
        old: Bearing<True>,
    ) -> Option<Bearing<True>> {
        let then = self.steered.said.filter(|then| then.leg == now.leg)?;
        let is_track_same = then.track == now.track;
        let had = then.instead_of.filter(|_| is_track_same).unwrap_or(old);
        let nearer = |track| apart_deg(heading, track) < apart_deg(had, track);
        let follows = !is_track_same && now.track.is_some_and(nearer);
        (is_turn(had, heading) && !follows).then_some(had)
    }
}

impl Watch {
    /// The track in force, where one that is said for the leg in force or from a later time alters it.
    ///
    /// None where it is the same said again. None where nothing was run before it: it is then that of the
    /// whole run. After a fix something was, be it of the reckoning's own time.
    pub(super) fn steered_before(
        &self,
        reckoning: &Reckoning,
        from: Option<Timestamp>,
        (track, speed): (Bearing<True>, Speed),
    ) -> Option<Bearing<True>> {
        let is_under_way =
            from.is_some() || !reckoning.earlier.is_empty() || !self.accepted.is_empty();
        let faster_kn = reckoning.speed.map(|old| speed.knots() - old.knots());
        let is_as_fast = faster_kn.is_some_and(|by| by.abs() < SAME);
        let is_other = |old: &Bearing<True>| !is_as_fast || apart_deg(*old, track) >= SAME;
        reckoning.track.filter(|_| is_under_way).filter(is_other)
    }

    /// What the heading was said for that the contact of an entry is laid on.
    pub(super) fn said_at_reading(&self, entry: &ContactEntry) -> Option<Said> {
        // Where no heading was known then, it is the one now.
        self.read_before(entry).and_then(|old| old.said).or(self.steered.said)
    }

    /// Whether the bearing of a contact is laid on a heading of the other side of a turn of own track.
    pub fn is_off_another_heading(&self, held: &Held) -> bool {
        self.headed(held, &self.steered) != Headed::OnItsLeg
    }

    fn headed(&self, held: &Held, steered: &Steered) -> Headed {
        let laid = held.said.filter(|_| is_off_the_bow(&held.entry));
        match laid.zip(self.own.lying(held.attitude).heading) {
            Some((said, heading)) => steered.headed(said, heading, held.contact.time),
            None => Headed::OnItsLeg,
        }
    }

    /// `, CAUTION: heading of before the turn at 03:43:00Z`, of an entry that goes by the heading.
    pub(in crate::watch) fn say_headed(&self, entry: &ContactEntry) -> String {
        let laid = self.said_at_reading(entry).filter(|_| is_off_the_bow(entry));
        let time = entry.time.or(self.reckoning.as_ref().map(|reckoning| reckoning.time));
        let headed = laid.zip(self.own_at_reading(entry).heading).zip(time);
        let words = headed
            .and_then(|((said, heading), time)| self.steered.headed(said, heading, time).words());
        words.map_or_else(String::new, |words| format!(", CAUTION: {words}"))
    }

    /// What a track that is said leaves behind: own heading, and contacts that are laid on one of the other
    /// side of the turn.
    pub(in crate::watch) fn say_left_by_turn(&self, track: &What) -> String {
        let course = self.course_by_change(track);
        course.map_or_else(String::new, |course| {
            say_heading_behind(&course) + &self.say_laid_across(&course)
        })
    }

    /// `; B, C are laid on the heading of before it`, of contacts that count, and of the last turn of a course.
    fn say_laid_across(&self, course: &Course) -> String {
        let Some(turn) = course.steered.leg() else { return String::new() };
        let sides = [(Headed::BeforeTurn(turn), "before"), (Headed::AfterTurn(turn), "after")];
        let said = sides.into_iter().map(|(headed, side)| {
            let laid = self.held.iter().filter(|held| {
                self.headed(held, &course.steered) == headed && self.left_out(held).is_none()
            });
            let labels: Vec<&str> = laid.map(|held| held.contact.label.as_str()).collect();
            match labels.as_slice() {
                [] => String::new(),
                [one] => format!("; {one} is laid on the heading of {side} it"),
                more => format!("; {} are laid on the heading of {side} it", named(more)),
            }
        });
        said.collect()
    }

    /// What is cautioned of the contacts that count and are laid on a heading of the other side of a turn.
    pub fn cautions_of_heading(&self) -> Vec<String> {
        let doubtful = self.held.iter().filter_map(|held| {
            let words = self.headed(held, &self.steered).words()?;
            let label = &held.contact.label;
            self.left_out(held).is_none().then(|| {
                format!(
                    "{label} is laid on a {words}: take it out, say the heading of then, and type it again"
                )
            })
        });
        doubtful.collect()
    }
}

/// `; heading stays 070° true until "hdg" says another`, where a turn leaves own heading behind.
fn say_heading_behind(course: &Course) -> String {
    let own = &course.own;
    let behind = own.heading.filter(|heading| course.steered.is_heading_behind(*heading));
    behind.map_or_else(String::new, |heading| {
        let truly = (heading.degrees(), BearingKind::True);
        let (degrees, kind) = own.heading_as_read.map_or(truly, |read| (read.degrees, read.kind));
        let spoken = spoken_bearing(degrees);
        format!("; heading stays {spoken} {} until \"hdg\" says another", kind.as_str())
    })
}

/// Whether an entry's bearing goes by own heading.
fn is_off_the_bow(entry: &ContactEntry) -> bool {
    let relative = entry.bearing_kind.as_deref() == Some(BearingKind::Relative.as_str());
    relative || entry.deflection.is_some()
}

fn is_turn(one: Bearing<True>, other: Bearing<True>) -> bool {
    apart_deg(one, other) >= LEAST_TURN_DEG
}

fn apart_deg(one: Bearing<True>, other: Bearing<True>) -> f64 {
    one.minus(other).degrees().abs()
}
