//! When something happens on tracks displaced by the reckoning's error, of many things at once.

use std::ops::Range;

use rayon::prelude::*;

use super::glance::{Glance, Stand};
use super::passage::{COARSE, Firsts, Passage, Showing, Watched};
use super::plan::Plan;
use super::spread::ACROSS;
use crate::geodesy::Position;
use crate::units::METRES_PER_NAUTICAL_MILE;

/// The first run is found to this on displaced tracks, in seconds.
const WITHIN_S: f64 = 10.0;

/// How far before the planned track's event one is looked for on displaced tracks, in metres.
const CLOSE_M: f64 = 9.0 * METRES_PER_NAUTICAL_MILE;

/// So far to either side of where it first shows by the first measure, metres, each mile is looked from, so
/// that a short spell seen on the planned track is seldom missed. Elsewhere each third mile.
const FINE_M: f64 = 6.0 * METRES_PER_NAUTICAL_MILE;

/// The runs, metres, at which a thing first shows by either measure on each displaced track.
pub(super) type Runs = [[Option<f64>; 2]; 5];

/// The run, metres, from which on a thing can be looked for between two runs, on a track so many standard
/// deviations across; `None` for not at all.
type Entry<'a> = Box<dyn Fn((f64, f64), f64) -> Option<f64> + Sync + 'a>;

/// Something that shows on the planned track.
pub(super) struct Known<'a> {
    pub at: Position,
    /// How far behind it ground counts, metres.
    pub behind_m: f64,
    /// The run at which it first shows there by the first measure, metres.
    pub run_m: f64,
    /// How many of the two measures are asked for.
    pub asked: usize,
    pub entry_m: Entry<'a>,
}

/// On each displaced track, the runs at which what shows on the planned one first shows: on the planned
/// one itself only where it shows from the start, so that the place before is wanted.
///
/// - `look`: a thing of a number from a place.
pub(super) fn displaced<T: Showing>(
    glance: &Glance<'_>,
    (plan, length_m): (&Plan, f64),
    known: &[Known<'_>],
    look: impl Fn(&Stand<'_>, usize) -> T + Sync,
) -> Vec<Runs> {
    let on_track = |across: f64| {
        let passage = Passage {
            glance,
            span: plan.longer_m(length_m),
            place: |run_m| plan.displaced(run_m, across),
            within_m: WITHIN_S * plan.speed.metres_per_second(),
        };
        on_track(&passage, across, known, &look)
    };
    // Along one track each place waits for the one before it: the tracks are gone along side by side.
    let tracks: Vec<Vec<[Option<f64>; 2]>> = ACROSS.into_par_iter().map(on_track).collect();
    let mut runs: Vec<Runs> = known.iter().map(|_| Runs::default()).collect();
    for (number, track) in tracks.into_iter().enumerate() {
        for (runs, found) in runs.iter_mut().zip(track) {
            if let Some(place) = runs.get_mut(number) {
                *place = found;
            }
        }
    }
    runs
}

/// The runs on one of the tracks.
fn on_track<T: Showing, P: Fn(f64) -> Position + Sync>(
    passage: &Passage<'_, '_, P>,
    across: f64,
    known: &[Known<'_>],
    look: &(impl Fn(&Stand<'_>, usize) -> T + Sync),
) -> Vec<[Option<f64>; 2]> {
    let sought: Vec<Sought> =
        known.par_iter().map(|known| Sought::new(passage, across, known)).collect();
    let watched = |stages: &dyn Fn(usize, &Sought) -> Range<usize>| -> Vec<Watched> {
        let watched = |(thing, (known, sought)): (usize, (&Known<'_>, &Sought))| Watched {
            at: known.at,
            behind_m: known.behind_m,
            asked: known.asked,
            stages: stages(thing, sought),
            fine: sought.fine.clone(),
        };
        known.iter().zip(&sought).enumerate().map(watched).collect()
    };
    let late = passage.firsts(&watched(&|_, sought| sought.close.clone()), look);
    // What shows there at once began before: up to there, and from there once more.
    let began = |thing: usize| late.get(thing).is_some_and(|late: &Firsts<T>| late.began);
    let before = |thing: usize, sought: &Sought| {
        if began(thing) { sought.entry..sought.close.start + 1 } else { 0..0 }
    };
    let early = passage.firsts(&watched(&before), look);
    let first = |(early, late): (Firsts<T>, &Firsts<T>)| {
        let mut runs = [None; 2];
        for (run, (early, late)) in runs.iter_mut().zip(early.shown.iter().zip(&late.shown)) {
            *run = early.or(*late).map(|shown| shown.0);
        }
        runs
    };
    early.into_iter().zip(&late).map(first).collect()
}

/// The numbers of the stages from which a thing is looked for on one track.
struct Sought {
    /// It could show from here on.
    entry: usize,
    /// From a little before the run that is known from a track close by: seldom too late, and saves most of
    /// the way. None where it is not looked for.
    close: Range<usize>,
    /// From each of these.
    fine: Range<usize>,
}

impl Sought {
    fn new<P: Fn(f64) -> Position + Sync>(
        passage: &Passage<'_, '_, P>,
        across: f64,
        known: &Known<'_>,
    ) -> Self {
        // On the planned track itself, only where it shows from the start is the place before wanted.
        let wanted = known.asked > 0 && (across.abs() > 1e-9 || known.run_m <= 0.0);
        let entry_m = wanted.then(|| (known.entry_m)(passage.span, across)).flatten();
        let Some(entry_m) = entry_m else { return Self { entry: 0, close: 0..0, fine: 0..0 } };
        let stage = |run_m: f64| passage.stage_before(run_m);
        let coarse = |run_m: f64| stage(run_m) / COARSE * COARSE;
        let entry = coarse(entry_m);
        let start = coarse(known.run_m - CLOSE_M).max(entry);
        Self {
            entry,
            close: start..passage.stages().end,
            fine: stage(known.run_m - FINE_M)..stage(known.run_m + FINE_M) + 1,
        }
    }
}
