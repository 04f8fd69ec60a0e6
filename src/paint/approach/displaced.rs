//! When something happens on tracks displaced by the reckoning's error, of many things at once.

use rayon::prelude::*;

use super::first::{CLOSE_M, COARSE_STEP_M, Search};
use super::glance::{Glance, Stand};
use super::marks::places;
use super::passage::{Stage, Watched, passage};
use super::plan::Plan;
use super::spread::ACROSS;
use crate::geodesy::Position;

/// The runs, metres, at which up to two things first hold on each displaced track.
pub(super) type Runs = [[Option<f64>; 2]; 5];

/// Something that happens on the planned track.
pub(super) struct Known<'a> {
    pub at: Position,
    /// How far behind it ground counts, metres.
    pub behind_m: f64,
    /// The run at which the first thing holds on the planned track, metres.
    pub run_m: f64,
    /// How many of the two things are asked for.
    pub asked: usize,
    /// From which run on it can be looked for on a track so far across; `None` for not at all.
    pub entry_m: Box<dyn Fn((f64, f64), f64) -> Option<f64> + Sync + 'a>,
}

impl Known<'_> {
    /// The numbers of the stages from which it can be looked for, and from which it is: a little before the
    /// run that is known from a track close by. That is seldom too late, and saves most of the way.
    fn starts(&self, span: (f64, f64), across: f64) -> Option<(usize, usize)> {
        // Only where it holds from the start is the place before it wanted.
        if self.asked == 0 || (across.abs() < 1e-9 && self.run_m > 0.0) {
            return None;
        }
        let stage = |run_m: f64| ((run_m - span.0) / COARSE_STEP_M).max(0.0) as usize;
        let entry = stage((self.entry_m)(span, across)?);
        Some((entry, stage(self.run_m - CLOSE_M).max(entry)))
    }
}

/// On each displaced track, the runs at which what is known from the planned track first holds: on the
/// planned one only where it holds there from the start, so that the place before is wanted.
///
/// - `look`: a thing of a number from a place.
/// - `holds`: whether the first or the second of two things holds; the second never before the first.
pub(super) fn displaced<T: Copy + Send + Sync>(
    glance: &Glance<'_>,
    (plan, length_m): (&Plan, f64),
    known: &[Known<'_>],
    look: impl Fn(&Stand<'_>, usize) -> T + Sync,
    holds: impl Fn(usize, &T) -> bool + Sync,
) -> Vec<Runs> {
    let track =
        |across: &f64| Track { glance, plan, length_m, across: *across }.runs(known, &look, &holds);
    let tracks: Vec<Vec<[Option<f64>; 2]>> = ACROSS.par_iter().map(track).collect();
    let of = |thing: usize| {
        let mut runs: Runs = [[None; 2]; 5];
        for (runs, track) in runs.iter_mut().zip(&tracks) {
            *runs = track.get(thing).copied().unwrap_or_default();
        }
        runs
    };
    (0..known.len()).map(of).collect()
}

struct Track<'a, 'b> {
    glance: &'a Glance<'b>,
    plan: &'a Plan,
    length_m: f64,
    across: f64,
}

impl Track<'_, '_> {
    fn runs<T: Copy + Send + Sync>(
        &self,
        known: &[Known<'_>],
        look: &(impl Fn(&Stand<'_>, usize) -> T + Sync),
        holds: &(impl Fn(usize, &T) -> bool + Sync),
    ) -> Vec<[Option<f64>; 2]> {
        let span = self.plan.longer_m(self.length_m);
        let place = |run_m: f64| self.plan.displaced(run_m, self.across);
        let stages: Vec<Stage> =
            places(span.0, span.1, COARSE_STEP_M).map(|run_m| (run_m, place(run_m))).collect();
        let starts: Vec<Option<(usize, usize)>> =
            known.par_iter().map(|known| known.starts(span, self.across)).collect();
        let asked = |thing: usize| known.get(thing).map_or(0, |known| known.asked);
        let enough = |thing: usize, seen: &T| holds(asked(thing).saturating_sub(1), seen);
        let watched = |between: &dyn Fn(usize) -> (usize, usize)| -> Vec<Watched> {
            let watched = |(thing, known): (usize, &Known<'_>)| Watched {
                at: known.at,
                behind_m: known.behind_m,
                stages: between(thing),
            };
            known.iter().enumerate().map(watched).collect()
        };
        let start = |thing: usize| starts.get(thing).copied().flatten();
        let late = watched(&|thing| start(thing).map_or((0, 0), |start| (start.1, stages.len())));
        let late = passage(self.glance, &stages, &late, look, enough);
        // What holds there already began before.
        let began = |thing: usize| {
            let first = late.get(thing).and_then(|seen| seen.first());
            first.is_some_and(|(_, seen)| holds(0, seen))
        };
        let early = watched(&|thing| start(thing).filter(|_| began(thing)).unwrap_or_default());
        let early = passage(self.glance, &stages, &early, look, enough);
        let seen: Vec<Vec<(f64, T)>> = early
            .into_iter()
            .zip(late)
            .enumerate()
            .map(|(thing, (mut seen, late))| {
                if !seen.last().is_some_and(|(_, seen)| enough(thing, seen)) {
                    seen.extend(late);
                }
                seen
            })
            .collect();
        let speed = self.plan.speed.metres_per_second();
        let first = |(thing, seen): (usize, Vec<(f64, T)>)| {
            let mut runs = [None; 2];
            let Some(from_m) = seen.first().map(|seen| seen.0) else { return runs };
            let look = |run_m: f64| look(&Stand::bare(place(run_m)), thing);
            let mut search = Search::new(look, speed, (from_m, span.1), false).having(seen);
            for (number, run) in runs.iter_mut().enumerate().take(asked(thing)) {
                *run = search.first(|seen| holds(number, seen)).map(|it| it.0);
            }
            runs
        };
        seen.into_par_iter().enumerate().map(first).collect()
    }
}
