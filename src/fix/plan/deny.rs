use rayon::prelude::*;

use super::Asked;
use crate::chart::{Mark, MarkId, MarkKind};
use crate::geodesy::{Position, course, destination, distance};
use crate::paint::approach::{EventKind, Landward};
use crate::units::{Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, SlantRange, True};

/// The most of each kind that are told.
const MOST: usize = 3;

/// A mark less likely than this to paint from anywhere that the reckoning allows should not.
const HIDDEN: f64 = 0.05;

/// How far before the landfall the open water about it is looked at, metres; half the run where
/// that is less.
const BEFORE_M: f64 = 10.0 * METRES_PER_NAUTICAL_MILE;

/// Open water is looked for to this distance, metres, or the set's largest scale.
const OPEN_WITHIN_M: f64 = 30.0 * METRES_PER_NAUTICAL_MILE;

/// Metres between the places of a bearing that are looked at.
const STEP_M: f64 = 0.2 * METRES_PER_NAUTICAL_MILE;

/// The narrowest sector worth telling, degrees.
const LEAST_SECTOR: usize = 15;

/// Sectors farther off the bow than this are astern of the coast whatever is ahead, degrees.
const OFF_BOW_DEG: f64 = 100.0;

/// Standard deviations by which own place is tried out, along and across.
const TRIED: [(f64, f64); 5] = [(0.0, 0.0), (-2.0, 0.0), (2.0, 0.0), (0.0, -2.0), (0.0, 2.0)];

/// Something that must not be, if the landfall is right.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Denial {
    /// A mark is due, and not seen by this time.
    Late {
        /// Which.
        mark: MarkId,
        /// From the start, seconds: nine in ten even by the latest of the reckoning's 95 %.
        by_s: f64,
        /// How far off it is then, by the plan.
        range: SlantRange,
        /// And in which direction.
        bearing: Bearing<True>,
    },
    /// Land shows in a sector of open water.
    OpenWater {
        /// From the start, seconds.
        at_s: f64,
        /// Its first bearing, clockwise.
        from: Bearing<True>,
        /// Its last.
        to: Bearing<True>,
        /// To which distance.
        within: GroundRange,
    },
    /// A mark shows that should not from anywhere near the track.
    Hidden {
        /// Which.
        mark: MarkId,
        /// From the start, seconds, where the track comes closest.
        at_s: f64,
        /// How far off it is then.
        range: SlantRange,
        /// And in which direction.
        bearing: Bearing<True>,
    },
}

impl Denial {
    /// The word used in every report.
    pub fn as_str(&self) -> &'static str {
        match self {
            Self::Late { .. } => "not-seen-by",
            Self::OpenWater { .. } => "land-in-open-water",
            Self::Hidden { .. } => "seen",
        }
    }

    /// When it speaks, seconds from the start.
    pub fn seconds(&self) -> f64 {
        match self {
            Self::Late { by_s, .. } => *by_s,
            Self::OpenWater { at_s, .. } | Self::Hidden { at_s, .. } => *at_s,
        }
    }
}

/// What would deny the landfall, in order of time.
pub(super) fn denials(asked: &Asked<'_>) -> Vec<Denial> {
    let Some(landfall) = asked.found.landfall else { return Vec::new() };
    let mut found = late(asked, landfall.planned);
    found.extend(open_water(asked));
    found.extend(hidden(asked));
    found.sort_by(|a, b| a.seconds().total_cmp(&b.seconds()));
    found
}

/// The marks nearest to the landfall that must have shown before it.
fn late(asked: &Asked<'_>, planned: Position) -> Vec<Denial> {
    let end_s = asked.plan.seconds(asked.end_m());
    let mut due: Vec<(f64, Denial)> = asked
        .sure()
        .filter(|(event, mark)| event.kind == EventKind::FirstPaint90 && mark.is_of_weight())
        .filter_map(|(event, mark)| {
            let by_s = event.spread.latest_s.filter(|by_s| (1.0..end_s).contains(by_s))?;
            let then = asked.plan.at(by_s * asked.plan.speed.metres_per_second());
            let line = course(then, mark.position);
            let range = SlantRange::clamped_metres(line.distance.metres());
            let late = Denial::Late { mark: event.seen.mark, by_s, range, bearing: line.initial };
            Some((distance(planned, mark.position).metres(), late))
        })
        .collect();
    due.sort_by(|a, b| a.0.total_cmp(&b.0));
    due.into_iter().take(MOST).map(|(_, late)| late).collect()
}

/// Own place so many standard deviations off the plan.
fn tried<'a>(asked: &'a Asked<'a>, run_m: f64) -> impl Iterator<Item = Position> + 'a {
    let plan = asked.plan;
    TRIED.iter().map(move |(along, across)| {
        plan.displaced(run_m + along * plan.sigma_along_m(run_m), *across)
    })
}

/// Land that comes near, has a name and is hidden, from wherever the reckoning may have us.
fn hidden(asked: &Asked<'_>) -> Vec<Denial> {
    let (plan, towards) = (asked.plan, asked.plan.track);
    let landward = Landward::new(
        asked.chart,
        plan.height,
        Some(towards),
        towards,
        asked.set,
        asked.conditions,
    );
    let marks = asked.chart.marks();
    let land = |mark: &Mark| {
        mark.named && matches!(mark.kind, MarkKind::Headland | MarkKind::Islet | MarkKind::Peak)
    };
    let never = asked.found.never.iter().filter(|never| {
        never.best_chance < HIDDEN
            && never.closest.range.metres() <= OPEN_WITHIN_M
            && marks.get(never.closest.mark).is_some_and(land)
    });
    never
        .filter(|never| {
            tried(asked, never.run.metres())
                .all(|from| landward.mark(from, never.closest.mark) < HIDDEN)
        })
        .take(MOST)
        .map(|never| Denial::Hidden {
            mark: never.closest.mark,
            at_s: plan.seconds(never.run.metres()),
            range: never.closest.range,
            bearing: never.closest.bearing,
        })
        .collect()
}

/// The widest sector before the beam in which the chart has no land, from wherever the reckoning
/// may have us, a little before the landfall: whatever the weather and the gain, none can show.
fn open_water(asked: &Asked<'_>) -> Option<Denial> {
    let (plan, end_m) = (asked.plan, asked.end_m());
    let run_m = (end_m - BEFORE_M).max(0.5 * end_m);
    let within_m = OPEN_WITHIN_M.min(asked.set.greatest_scale().metres());
    let places: Vec<Position> = tried(asked, run_m).collect();
    let mut open: Vec<bool> = (0..360_u32)
        .into_par_iter()
        .map(|degrees| {
            let bearing = Bearing::<True>::wrapped_degrees(f64::from(degrees));
            bearing.minus(plan.track).degrees().abs() <= OFF_BOW_DEG
                && places.iter().all(|from| is_open(asked, *from, bearing, within_m))
        })
        .collect();
    close_at_marks(asked, &places, within_m, &mut open);
    let (first, count) = widest(open.len(), |degrees| open.get(degrees) == Some(&true))?;
    let at = |degrees: usize| Bearing::wrapped_degrees(degrees as f64);
    (count >= LEAST_SECTOR).then(|| Denial::OpenWater {
        at_s: plan.seconds(run_m),
        from: at(first),
        to: at(first + count - 1),
        within: GroundRange::clamped_metres(within_m),
    })
}

/// Bearings as read are this far out, degrees: heading and reading.
const READ_DEG: f64 = 3.0;

/// A rock is in sight on every bearing between those that it has from the places tried: wherever the
/// reckoning may have us among them, none of these is open water.
fn close_at_marks(asked: &Asked<'_>, places: &[Position], within_m: f64, open: &mut [bool]) {
    let marks = asked.chart.marks();
    let reach = GroundRange::clamped_metres(within_m);
    let mut near: Vec<_> = places.iter().flat_map(|from| marks.within(*from, reach)).collect();
    near.sort_unstable();
    near.dedup();
    for mark in near.into_iter().filter_map(|id| marks.get(id)) {
        let bearings = || places.iter().map(|from| course(*from, mark.position).initial);
        let Some(first) = bearings().next() else { continue };
        let turns = || bearings().map(|bearing| bearing.minus(first).degrees());
        let from = turns().fold(0.0, f64::min) - READ_DEG;
        let to = turns().fold(0.0, f64::max) + READ_DEG;
        for (degrees, open) in open.iter_mut().enumerate() {
            let turn = Bearing::<True>::wrapped_degrees(degrees as f64).minus(first).degrees();
            // Where it may lie to either side, it may lie anywhere.
            if to - from >= 180.0 || (from..=to).contains(&turn) {
                *open = false;
            }
        }
    }
}

/// Whether the chart has sea all along a degree of bearing.
fn is_open(asked: &Asked<'_>, from: Position, bearing: Bearing<True>, within_m: f64) -> bool {
    let steps = (within_m / STEP_M).ceil() as usize;
    let at =
        |step: usize| destination(from, bearing, GroundRange::clamped_metres(step as f64 * STEP_M));
    (0..=steps).all(|step| asked.chart.ground().is_land(at(step)) == Some(false))
}

/// The first of the longest run of places round a circle for which something holds, and its length.
fn widest(places: usize, holds: impl Fn(usize) -> bool) -> Option<(usize, usize)> {
    let starts = (0..places).filter(|at| holds(*at) && !holds((at + places - 1) % places));
    starts
        .map(|at| (at, (0..places).take_while(|on| holds((at + on) % places)).count()))
        .max_by(|a, b| a.1.cmp(&b.1).then(b.0.cmp(&a.0)))
}
