//! Position lines on the way, carried forward and crossed as the legs are worked.

use jiff::Timestamp;

use super::combined::Agreement;
use super::course::Course;
use super::found::FlowFound;
use super::legs::StatedLine;
use super::reckoner::Reckoner;
use super::running_fix::{Crossing, MOST_LINES, RunningFix, Standing};
use crate::geodesy::{Covariance, LocalPlane, Position, course};
use crate::units::{Angle, Bearing, Clock, GroundRange, True};

/// A line that was taken, beside what the reckoning had.
#[derive(Debug, Clone, PartialEq)]
pub struct LineTold {
    /// The leg it was taken on, from one.
    pub leg: usize,
    /// As the file states it.
    pub line: StatedLine,
    /// How far off the mark the reckoning had us.
    pub reckoned_range: GroundRange,
    /// The mark's true bearing from there.
    pub reckoned_bearing: Bearing<True>,
}

/// The lines so far, crossed where the last of them was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct RunningFixTold {
    /// When: the time of the last of its lines.
    pub time: Timestamp,
    /// The leg it is on, from one.
    pub leg: usize,
    /// Which of the lines it is of, numbered from one in the order of their times.
    pub lines: Vec<usize>,
    /// How many position lines they make: a range and a bearing at once are two.
    pub crossed: usize,
    /// What it comes to.
    pub standing: Standing,
    /// Where the lines cross, the likeliest first.
    pub places: Vec<Crossing>,
    /// The reckoning just before it.
    pub reckoned: Position,
    /// The error of that.
    pub reckoned_covariance: Covariance,
    /// Whether the file asks to go on from it.
    pub asked: bool,
    /// Whether the reckoning goes on from it.
    pub went_on: bool,
    /// The flow that it leaves; none where it was not gone on from, or the leg states what is made good.
    pub flow: Option<FlowFound>,
}

impl RunningFixTold {
    /// The one place that it states; none where several fit, or none.
    pub fn place(&self) -> Option<&Crossing> {
        let one = matches!(self.standing, Standing::Fixed | Standing::MostProbable);
        self.places.first().filter(|_| one)
    }

    /// The place from the reckoning: how far and which way.
    pub fn off(&self) -> Option<(GroundRange, Bearing<True>)> {
        let place = self.place()?.reckoner.position();
        Some(LocalPlane::new(self.reckoned).to_plane(place).polar())
    }

    /// Whether it is a fix, and its lines cross too flat.
    pub fn is_flat(&self) -> bool {
        self.place().is_some_and(Crossing::is_flat)
    }
}

/// Lines that are being carried forward.
///
/// All from one reckoning, also where the reckoning has gone on from a running fix of them: what the
/// lines of one mark or chart share, its error, then stays one error, however often it goes on.
#[derive(Debug, Default)]
pub(super) struct Carried {
    running: Option<RunningFix>,
    numbers: Vec<usize>,
}

impl Carried {
    /// Runs on with the reckoning.
    pub fn advance(&mut self, course: &Course, seconds: f64) {
        if let Some(running) = &mut self.running {
            running.advance(course, seconds);
        }
    }

    /// Carries nothing any more: the reckoning was put right by something that is not in them.
    ///
    /// - returns: the numbers of the lines let go of.
    pub fn let_go(&mut self) -> Vec<usize> {
        std::mem::take(self).numbers
    }

    /// Lets go of them where there is no room for those of another line.
    pub fn make_room(&mut self, line: &StatedLine) -> Vec<usize> {
        let count = self.running.as_ref().map_or(0, RunningFix::count);
        if count + line.seen.len() > MOST_LINES { self.let_go() } else { Vec::new() }
    }

    /// Takes a line and crosses it with those before; where it makes one place and the file asks it, the
    /// reckoning goes on from there.
    pub fn take(
        &mut self,
        reckoner: &mut Reckoner,
        (leg, on): (usize, &Course),
        (number, line): (usize, &StatedLine),
    ) -> RunningFixTold {
        let before = (self.running.clone(), self.numbers.clone());
        let running = self.running.get_or_insert_with(|| RunningFix::new(reckoner.clone()));
        for seen in &line.seen {
            // There is room: see `make_room`.
            running.take(line.charted, *seen);
        }
        self.numbers.push(number);
        let (standing, places) = running.cross();
        let mut told = RunningFixTold {
            time: line.time,
            leg,
            lines: self.numbers.clone(),
            crossed: running.count(),
            standing,
            places,
            reckoned: reckoner.position(),
            reckoned_covariance: reckoner.covariance(),
            asked: line.go_on,
            went_on: false,
            flow: None,
        };
        if let Some(place) = told.place().filter(|_| line.go_on) {
            *reckoner = place.reckoner.clone();
            told.went_on = true;
            let found = !on.is_over_ground() && on.is_carried();
            told.flow = found.then(|| reckoner.flow(on));
        }
        // What is at odds would spoil every line after it: it is left out of those.
        if told.standing == Standing::AtOdds {
            (self.running, self.numbers) = before;
        }
        told
    }
}

/// A line beside what the reckoning had.
pub(super) fn beside(reckoner: &Reckoner, leg: usize, line: &StatedLine) -> LineTold {
    let to = course(reckoner.position(), line.charted.position);
    LineTold { leg, line: line.clone(), reckoned_range: to.distance, reckoned_bearing: to.initial }
}

/// What an operator must know of the running fixes, with the time of each. What the next line mended is
/// not said again.
pub(super) fn cautions(told: &[RunningFixTold], times: Clock) -> Vec<(Timestamp, String)> {
    let next = told.iter().skip(1).map(Some).chain([None]);
    told.iter()
        .zip(next)
        .filter(|(fix, next)| {
            fix.standing == Standing::AtOdds
                || next.is_none_or(|next| !next.lines.starts_with(&fix.lines))
        })
        .filter_map(|(fix, _)| Some((fix.time, caution(fix, times)?)))
        .collect()
}

/// In one sentence; none where there is nothing.
fn caution(told: &RunningFixTold, times: Clock) -> Option<String> {
    let at = times.tell(told.time);
    let of = if told.crossed == 1 { "the line" } else { "the lines" };
    let left = if told.asked { "; the reckoning does not go on from it" } else { "" };
    match told.standing {
        Standing::AtOdds => Some(format!(
            "{of} up to {at} and the reckoning are at odds, and nothing is averaged: a mark, a range, a \
             bearing or the run is wrong{left}"
        )),
        Standing::Ambiguous => Some(format!(
            "the lines up to {at} cross at {} places that the reckoning allows: no fix{left}",
            told.places.len()
        )),
        Standing::Nothing => Some(format!(
            "{of} up to {at} come to no place: look at each again; of a mark passed overhead give the place \
             as a [[fix]], not a range of nought{left}"
        )),
        Standing::MostProbable if told.went_on => Some(format!(
            "the reckoning goes on from {at} by a place that is no fix: a direction is left free"
        )),
        Standing::Fixed if told.is_flat() => {
            let cut = told.place().and_then(|place| place.cut).map_or(0.0, Angle::degrees);
            Some(format!(
                "the lines of the running fix at {at} cross too flat, at {cut:.0}°: along them a small \
                 error is a large one"
            ))
        }
        Standing::Fixed | Standing::MostProbable => None,
    }
}

/// What an operator must know of lines that were let go of.
pub(super) fn let_go(at: &str, numbers: &[usize], why: &str) -> Option<String> {
    let lines = match numbers {
        [] => return None,
        [one] => format!("line {one} is"),
        [first, .., last] => format!("lines {first} to {last} are"),
    };
    Some(format!(
        "{lines} let go of at {at}, {why}: not crossed with those that follow, which take the error of \
         mark and chart for a new one"
    ))
}

/// What an operator must know of a fix that was not taken.
pub(super) fn refused(at: &str, agreement: Agreement) -> String {
    format!(
        "the fix at {at} is at odds with the reckoning, {:.2} NM {}° from it, and was not taken: one \
         of the two is wrong",
        agreement.offset.nautical_miles(),
        agreement.bearing.whole_degrees()
    )
}
