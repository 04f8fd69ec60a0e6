//! Where we are by now: on which leg, from where, since when, and what legs come next.

use std::borrow::Cow;

use jiff::Timestamp;

use super::Watch;
use super::accept::read;
use crate::contact::Reckoning;
use crate::geodesy::{Covariance, Position};
use crate::units::{Bearing, GroundRange, Speed, True};
use crate::watch::ahead::FOR_NOW;

/// What own place was last known by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KnownBy {
    /// A reckoning: that of the start, or one entered.
    Reckoning,
    /// A fix accepted.
    Fix,
    /// The most probable place, accepted.
    MostProbable,
}

impl KnownBy {
    /// `fix accepted`.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Reckoning => "reckoning",
            Self::Fix => "fix accepted",
            Self::MostProbable => "most probable position accepted",
        }
    }
}

/// When own place was last known, and by what.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Known {
    /// When it was ours.
    pub time: Timestamp,
    /// By what it was known.
    pub by: KnownBy,
}

/// A part of the run on one track, from now on or from a turn to come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Where it begins, and how well that is known.
    pub place: (Position, Covariance),
    /// Track and speed made good on it.
    pub over: (Bearing<True>, Speed),
    /// From now until it begins, in seconds.
    pub wait_s: f64,
    /// The run to there.
    pub before: GroundRange,
}

impl Watch {
    /// The reckoning on the leg that we are on by now, without what is altered for later.
    pub fn in_force(&self, now: Timestamp) -> Option<Cow<'_, Reckoning>> {
        // A fix of the next full minute is one of now.
        let at =
            self.base.map(|base| base.time).filter(|time| *time > now && is_for_now(*time, now));
        Some(self.reckoning.as_ref()?.in_force(at.unwrap_or(now)))
    }

    /// Track and speed made good by now.
    pub fn over(&self, now: Timestamp) -> Option<(Bearing<True>, Speed)> {
        let reckoning = self.in_force(now)?;
        reckoning.track.zip(reckoning.speed)
    }

    /// A place carried on to another time, by the track and speed made good; the reckoning where no
    /// place stands, or one of later than that. None where it cannot be carried so far.
    pub fn carried(
        &self,
        stands: Option<(Timestamp, Position, Covariance)>,
        now: Timestamp,
    ) -> Option<(Position, Covariance)> {
        let Some((time, position, covariance)) = stands.filter(|(time, ..)| is_for_now(*time, now))
        else {
            return self.in_force(now)?.carried_to(now).ok();
        };
        let reckoning = self.in_force(now.max(time))?;
        reckoning.put_right(time, position, covariance).ok()?.carried_to(now).ok()
    }

    /// A place, or the reckoning where none stands, as it was at its own time: what is left where it
    /// cannot be carried on.
    pub fn as_it_stood(
        &self,
        stands: Option<(Timestamp, Position, Covariance)>,
    ) -> Option<(Timestamp, Position, Covariance)> {
        stands.or_else(|| self.reckoning().map(|r| (r.time, r.position, r.covariance)))
    }

    /// When own place was last known by now: the start, a reckoning entered, a fix accepted. A turn makes
    /// it no better known.
    pub fn last_known(&self, now: Timestamp) -> Option<Known> {
        let base = self.base?;
        if !is_for_now(base.time, now) {
            // A reckoning for later: until then the one of before it goes on.
            let time = self.in_force(now)?.time;
            return Some(Known { time, by: KnownBy::Reckoning });
        }
        let is_it = |fix: &&crate::watch::log::AcceptEntry| {
            let covariance = read(&fix.place).map(|(_, covariance)| covariance);
            fix.time == base.time
                && covariance.is_ok_and(|covariance| covariance == base.covariance)
        };
        let by = match self.accepted.last().filter(is_it) {
            Some(fix) if fix.verdict == "fixed" => KnownBy::Fix,
            Some(_) => KnownBy::MostProbable,
            None => KnownBy::Reckoning,
        };
        Some(Known { time: base.time, by })
    }

    /// Whether a place of a time is one that is known by now: a minute's difference is the typing's.
    pub fn is_known_by(&self, time: Timestamp, now: Timestamp) -> bool {
        is_for_now(time, now)
    }

    /// How well own place was known when it was last known by now; before a reckoning for later, where the
    /// leg in force began.
    pub fn known_within(&self, now: Timestamp) -> Option<Covariance> {
        let base = self.base?;
        if is_for_now(base.time, now) {
            return Some(base.covariance);
        }
        self.in_force(now).map(|reckoning| reckoning.covariance)
    }

    /// The run from a place by now: on the leg in force, and on each that begins within so many seconds, from
    /// where it begins. None without track and speed.
    pub fn stretches(
        &self,
        here: (Position, Covariance),
        now: Timestamp,
        within_s: f64,
    ) -> Vec<Stretch> {
        let (Some(over), Some(in_force)) = (self.over(now), self.in_force(now)) else {
            return Vec::new();
        };
        let first = Stretch { place: here, over, wait_s: 0.0, before: GroundRange::ZERO };
        let mut all = vec![first];
        let later = now.max(in_force.time);
        let coming = self.reckoning.as_ref().map(|reckoning| reckoning.altered_after(later));
        let Ok(mut run) = in_force.restarted(now, here.0, here.1) else { return all };
        let mut last = first;
        for (from, track, speed) in coming.unwrap_or_default() {
            let wait_s = from.duration_since(now).as_secs_f64();
            if wait_s > within_s {
                break;
            }
            let Ok(altered) = run.altered(from, track, speed) else { break };
            let metres = last.over.1.metres_per_second() * (wait_s - last.wait_s);
            last = Stretch {
                place: (altered.position, altered.covariance),
                over: (track, speed),
                wait_s,
                before: last.before + GroundRange::clamped_metres(metres),
            };
            all.push(last);
            run = altered;
        }
        all
    }
}

fn is_for_now(time: Timestamp, now: Timestamp) -> bool {
    time.duration_since(now) <= FOR_NOW
}
