use rayon::prelude::*;

use super::super::expectation::ExpectedMark;
use super::super::mark_echo::own_ground_m;
use super::displaced::{Known, Runs, displaced};
use super::glance::{Glance, Stand};
use super::passage::{Firsts, Showing, Watched, planned};
use super::plan::Plan;
use super::spread::{Spread, spread};
use crate::chart::{Mark, MarkId};
use crate::geodesy::{Position, destination, distance};
use crate::units::{Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE};

/// Metres between the places of a track that are measured from.
const MEASURE_M: f64 = METRES_PER_NAUTICAL_MILE;

/// Past the two horizons nothing is tried any more: this much more of them, and these metres.
const PAST_HORIZON: f64 = 1.1;
const PAST_HORIZON_M: f64 = 3.0 * METRES_PER_NAUTICAL_MILE;

/// Waves longer than this, in metres, bend farther: then these metres.
const LONG_WAVE_M: f64 = 0.5;
const PAST_HORIZON_LONG_M: f64 = 25.0 * METRES_PER_NAUTICAL_MILE;

/// The chances that count as painting.
pub(super) const HALF: f64 = 0.5;
const NINE_IN_TEN: f64 = 0.9;

/// What happens to a mark on the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EventKind {
    /// Its chance to show first reaches one in two.
    FirstPaint,
    /// Its chance to show first reaches nine in ten.
    FirstPaint90,
}

impl EventKind {
    /// As reports write it.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::FirstPaint => "first-paint",
            Self::FirstPaint90 => "first-paint-90",
        }
    }

    /// The chance that it stands for.
    pub fn chance(self) -> f64 {
        match self {
            Self::FirstPaint => HALF,
            Self::FirstPaint90 => NINE_IN_TEN,
        }
    }
}

/// A mark begins to show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Event {
    /// What.
    pub kind: EventKind,
    /// It did so already where the run starts.
    pub at_start: bool,
    /// Along the track.
    pub run: GroundRange,
    /// From the start.
    pub seconds: f64,
    /// The mark as [`crate::paint::expect`] has it there, heading along the track.
    pub seen: ExpectedMark,
    /// When it may be, by the reckoning's error.
    pub spread: Spread,
}

/// A mark that comes within the set's reach and does not paint on the run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Never {
    /// As it is where the track comes closest, and why it does not show there.
    pub closest: ExpectedMark,
    /// Along the track to there.
    pub run: GroundRange,
    /// The best chance that it had at any place tried.
    pub best_chance: f64,
}

/// All marks along a run: what paints, in order of time, and what does not, nearest first.
pub(super) fn marks(glance: &Glance<'_>, plan: &Plan, length_m: f64) -> (Vec<Event>, Vec<Never>) {
    let watcher = Watcher { glance, plan, length_m };
    let (shown, unshown): (Vec<Shown<'_>>, Vec<Shown<'_>>) =
        watcher.watch(2).into_iter().partition(|shown| shown.half().is_some());
    let mut events: Vec<Event> = watcher.events(&shown).into_iter().flatten().collect();
    events.sort_by(by_time);
    let mut never: Vec<Never> = unshown.par_iter().map(|shown| watcher.never(shown)).collect();
    never.sort_by(|a, b| {
        let nearer = a.closest.range.metres().total_cmp(&b.closest.range.metres());
        nearer.then(a.closest.mark.cmp(&b.closest.mark))
    });
    (events, never)
}

/// In order of time; at one time the nearest first.
fn by_time(a: &Event, b: &Event) -> std::cmp::Ordering {
    let order = a.seconds.total_cmp(&b.seconds);
    let nearer = a.seen.range.metres().total_cmp(&b.seen.range.metres());
    order.then(nearer).then(a.seen.mark.cmp(&b.seen.mark)).then((a.kind as u8).cmp(&(b.kind as u8)))
}

/// Only when marks first show that do not show where the run starts, in order of time.
pub(super) fn coming(glance: &Glance<'_>, plan: &Plan, length_m: f64) -> Vec<Event> {
    let watcher = Watcher { glance, plan, length_m };
    let mut shown = watcher.watch(1);
    shown.retain(|shown| shown.half().is_some_and(|(run_m, _)| run_m > 0.0));
    let mut events: Vec<Event> = watcher.events(&shown).into_iter().flatten().collect();
    events.sort_by(by_time);
    events
}

struct Watcher<'a> {
    glance: &'a Glance<'a>,
    plan: &'a Plan,
    length_m: f64,
}

/// How a mark shows along the planned track.
struct Shown<'a> {
    id: MarkId,
    mark: &'a Mark,
    /// Farther off it is not tried, metres.
    reach_m: f64,
    /// When it first has even chances, and nine in ten where those are asked for.
    firsts: Firsts<ExpectedMark>,
}

impl Shown<'_> {
    fn half(&self) -> Option<(f64, ExpectedMark)> {
        let [half, _] = self.firsts.shown;
        half
    }
}

/// By even chances, and by nine in ten.
impl Showing for ExpectedMark {
    fn shows(&self, measure: usize) -> bool {
        self.paint_probability >= if measure == 0 { HALF } else { NINE_IN_TEN }
    }

    fn chance(&self) -> f64 {
        self.paint_probability
    }
}

impl<'a> Watcher<'a> {
    /// Marks that come within the set's reach of the track itself.
    fn within_reach(&self) -> Vec<(MarkId, &'a Mark)> {
        let marks = self.glance.chart.marks();
        let reach = GroundRange::clamped_metres(self.glance.reach_m());
        let mut ids: Vec<MarkId> = places(0.0, self.length_m, 5.0 * MEASURE_M)
            .flat_map(|run_m| marks.within(self.plan.at(run_m), reach))
            .collect();
        ids.sort_unstable();
        ids.dedup();
        ids.into_iter().filter_map(|id| marks.get(id).map(|mark| (id, mark))).collect()
    }

    /// How every mark within reach shows along the planned track.
    ///
    /// - `asked`: for 1, as far as even chances alone.
    fn watch(&self, asked: usize) -> Vec<Shown<'a>> {
        let passage = planned(self.glance, self.plan, self.length_m);
        let (within, stages) = (self.within_reach(), passage.stages());
        let tried = |(_, mark): &(MarkId, &Mark)| {
            let reach_m = self.tried_within_m(mark);
            let entry_m = self.entry_m(passage.span, 0.0, mark.position, reach_m);
            let first = entry_m.map_or(stages.end, |entry_m| passage.stage_before(entry_m));
            let watched = Watched {
                at: mark.position,
                behind_m: self.glance.behind_mark_m(mark),
                asked,
                stages: first..stages.end,
                fine: stages.clone(),
            };
            (reach_m, watched)
        };
        let (reaches, watched): (Vec<f64>, Vec<Watched>) = within.par_iter().map(tried).unzip();
        let firsts = passage.firsts(&watched, |stand, thing| {
            let (id, mark) = within[thing];
            self.glance.mark_from(stand, id, mark)
        });
        let shown = |(((id, mark), reach_m), firsts)| Shown { id, mark, reach_m, firsts };
        within.iter().copied().zip(reaches).zip(firsts).map(shown).collect()
    }

    /// What happens to each of the marks that show.
    fn events(&self, shown: &[Shown<'_>]) -> Vec<Vec<Event>> {
        let known = |it: &Shown<'_>| {
            let (at, reach_m) = (it.mark.position, it.reach_m);
            let shown = it.firsts.shown;
            Known {
                at,
                behind_m: self.glance.behind_mark_m(it.mark),
                run_m: it.half().map_or(0.0, |half| half.0),
                asked: shown.iter().flatten().count(),
                entry_m: Box::new(move |span, across| self.entry_m(span, across, at, reach_m)),
            }
        };
        let known: Vec<Known<'_>> = shown.iter().map(known).collect();
        let look = |stand: &Stand<'_>, thing: usize| {
            self.glance.mark_from(stand, shown[thing].id, shown[thing].mark)
        };
        let others = displaced(self.glance, (self.plan, self.length_m), &known, look);
        shown.iter().zip(others).map(|(shown, runs)| self.events_of(shown, &runs)).collect()
    }

    fn events_of(&self, shown: &Shown<'_>, others: &Runs) -> Vec<Event> {
        let event = |kind: EventKind, (run_m, seen): (f64, ExpectedMark), which: usize| {
            let mut runs = others.map(|runs| runs[which]);
            let at_start = run_m <= 0.0;
            if !at_start {
                runs[2] = Some(run_m);
            }
            Event {
                kind,
                at_start,
                run: GroundRange::clamped_metres(run_m),
                seconds: self.plan.seconds(run_m),
                seen,
                spread: spread(self.plan, &runs, self.length_m),
            }
        };
        let [half, nine] = shown.firsts.shown;
        let half = half.map(|half| event(EventKind::FirstPaint, half, 0));
        let nine = nine.map(|nine| event(EventKind::FirstPaint90, nine, 1));
        half.into_iter().chain(nine).collect()
    }

    /// The first run from which a place lies within reach.
    fn entry_m(&self, span: (f64, f64), across: f64, at: Position, reach_m: f64) -> Option<f64> {
        places(span.0, span.1, MEASURE_M)
            .find(|run_m| distance(self.plan.displaced(*run_m, across), at).metres() <= reach_m)
            .map(|run_m| (run_m - MEASURE_M).max(span.0))
    }

    /// Farther off than this a mark is not tried: off the set's scales, or well past the horizon.
    fn tried_within_m(&self, mark: &Mark) -> f64 {
        let budget = &self.glance.budget;
        let horizon = budget.conditions().earth.horizon(budget.own(), self.top(mark)).metres();
        let long = budget.wavelength_m() > LONG_WAVE_M;
        let past_m = if long { PAST_HORIZON_LONG_M } else { PAST_HORIZON_M };
        (PAST_HORIZON * horizon + past_m).min(self.glance.reach_m())
    }

    /// The highest of a mark and the ground about it.
    fn top(&self, mark: &Mark) -> Height {
        let (before, behind) = own_ground_m(mark);
        let ground = self.glance.chart.ground();
        let mut top = mark.height;
        for share in [0.25, 0.5, 0.75, 1.0] {
            for turn in 0..12 {
                let away = GroundRange::clamped_metres(share * before.max(behind));
                let towards = Bearing::wrapped_degrees(f64::from(turn) * 30.0);
                let height = ground.at(destination(mark.position, towards, away)).height;
                if height > top {
                    top = height;
                }
            }
        }
        top
    }

    fn never(&self, shown: &Shown<'_>) -> Never {
        let off = |run_m: f64| distance(self.plan.at(run_m), shown.mark.position).metres();
        let run_m = places(0.0, self.length_m, 0.25 * MEASURE_M)
            .min_by(|a, b| off(*a).total_cmp(&off(*b)))
            .unwrap_or(0.0);
        let closest = self.glance.mark(self.plan.at(run_m), shown.id, shown.mark);
        Never {
            closest,
            run: GroundRange::clamped_metres(run_m),
            best_chance: shown.firsts.best_chance.max(closest.paint_probability),
        }
    }
}

/// Evenly spaced places from one run to another, both ends among them.
pub(super) fn places(from_m: f64, to_m: f64, step_m: f64) -> impl Iterator<Item = f64> {
    let steps = ((to_m - from_m).max(0.0) / step_m).ceil() as usize;
    (0..=steps).map(move |step| (from_m + step as f64 * step_m).min(to_m))
}
