//! When things first show along a track: all are looked at from one place of it after another, each place
//! laid out once for all; between two places the run is then found by halving.

use std::ops::Range;

use rayon::prelude::*;

use super::glance::{Glance, Stand};
use super::marks::places;
use super::plan::Plan;
use crate::geodesy::Position;
use crate::units::METRES_PER_NAUTICAL_MILE;

/// Metres from one stage of a track to the next: a mile.
const STAGE_M: f64 = METRES_PER_NAUTICAL_MILE;

/// The first place on the planned track is found to this, in seconds of the run.
const WITHIN_S: f64 = 2.0;

/// Where not every stage counts, each third does.
pub(super) const COARSE: usize = 3;

/// What is seen of a thing: it shows by two measures, the second never before the first.
pub(super) trait Showing: Copy + Send + Sync {
    /// Whether it shows by the first measure, or the second.
    fn shows(&self, measure: usize) -> bool;

    /// The chance that it shows.
    fn chance(&self) -> f64;
}

/// A track that is gone along from one run to another, metres.
pub(super) struct Passage<'a, 'b, P: Fn(f64) -> Position> {
    pub glance: &'a Glance<'b>,
    pub span: (f64, f64),
    /// Where a run is.
    pub place: P,
    /// So near together, metres, two runs are one.
    pub within_m: f64,
}

/// A planned track from its start.
pub(super) fn planned<'a, 'b>(
    glance: &'a Glance<'b>,
    plan: &'a Plan,
    length_m: f64,
) -> Passage<'a, 'b, impl Fn(f64) -> Position + Sync + use<'a>> {
    let within_m = WITHIN_S * plan.speed.metres_per_second();
    Passage { glance, span: (0.0, length_m), place: |run_m| plan.at(run_m), within_m }
}

/// Something that is looked at.
#[derive(Debug, Clone)]
pub(super) struct Watched {
    pub at: Position,
    /// How far behind it ground counts, metres.
    pub behind_m: f64,
    /// How many of the two measures are asked for.
    pub asked: usize,
    /// The numbers of the stages that it is looked at from: of these each [`COARSE`] one and the last of all.
    pub stages: Range<usize>,
    /// The numbers of those that count each.
    pub fine: Range<usize>,
}

impl Watched {
    fn is_looked_at_from(&self, stage: usize, last: usize) -> bool {
        let counts = self.fine.contains(&stage) || stage.is_multiple_of(COARSE) || stage == last;
        counts && self.stages.contains(&stage)
    }
}

/// When a thing first shows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Firsts<T> {
    /// By each measure: the run in metres, and what is seen there.
    pub shown: [Option<(f64, T)>; 2],
    /// It did so by the first already at the first stage that it was looked at from.
    pub began: bool,
    /// The best chance that it had at any stage.
    pub best_chance: f64,
}

/// The stages on either side of where a thing begins to show.
#[derive(Debug, Clone, Copy)]
struct Between<T> {
    /// The last at which it does not show, metres; none where it does at once.
    before_m: Option<f64>,
    /// The first at which it does, and what is seen there.
    after: (f64, T),
}

/// What has been seen of a thing so far.
struct Trail<T> {
    /// The last stage that it was looked at from, metres.
    before_m: Option<f64>,
    /// By each measure.
    shown: [Option<Between<T>>; 2],
    best_chance: f64,
}

impl<T: Showing> Trail<T> {
    const NONE: Self = Self { before_m: None, shown: [None; 2], best_chance: 0.0 };

    fn add(&mut self, run_m: f64, seen: T) {
        for (measure, shown) in self.shown.iter_mut().enumerate() {
            if shown.is_none() && seen.shows(measure) {
                *shown = Some(Between { before_m: self.before_m, after: (run_m, seen) });
            }
        }
        self.best_chance = self.best_chance.max(seen.chance());
        self.before_m = Some(run_m);
    }

    fn is_enough(&self, asked: usize) -> bool {
        self.shown.iter().take(asked).all(Option::is_some)
    }
}

/// Looks at one thing from between two stages. Both measures often begin between the same two: what is seen
/// from a place is kept for the other one.
struct Looked<T, L> {
    look: L,
    /// By runs, metres.
    seen: Vec<(f64, T)>,
}

impl<T: Copy, L: Fn(f64) -> T> Looked<T, L> {
    fn new(look: L) -> Self {
        Self { look, seen: Vec::new() }
    }

    fn at(&mut self, run_m: f64) -> T {
        let same = |(other_m, _): &&(f64, T)| other_m.total_cmp(&run_m).is_eq();
        if let Some((_, seen)) = self.seen.iter().find(same) {
            return *seen;
        }
        let seen = (self.look)(run_m);
        self.seen.push((run_m, seen));
        seen
    }
}

impl<P: Fn(f64) -> Position + Sync> Passage<'_, '_, P> {
    /// The numbers of all stages.
    pub fn stages(&self) -> Range<usize> {
        0..self.runs_m().count()
    }

    /// The number of the last stage no farther than a run, by whole miles; of the first where there is none. It
    /// may lie past the last stage.
    pub fn stage_before(&self, run_m: f64) -> usize {
        ((run_m - self.span.0) / STAGE_M).max(0.0) as usize
    }

    fn runs_m(&self) -> impl Iterator<Item = f64> + use<P> {
        places(self.span.0, self.span.1, STAGE_M)
    }

    /// When each thing first shows. What shows at the first stage that it is looked at from shows there; a
    /// spell shorter than the way from one to the next may be passed over.
    ///
    /// - `look`: a thing of a number from a place.
    pub fn firsts<T: Showing>(
        &self,
        things: &[Watched],
        look: impl Fn(&Stand<'_>, usize) -> T + Sync,
    ) -> Vec<Firsts<T>> {
        let found = |((thing, it), trail): ((usize, &Watched), Trail<T>)| {
            let mut looked =
                Looked::new(|run_m: f64| look(&Stand::bare((self.place)(run_m)), thing));
            let mut shown = [None; 2];
            for (measure, (shown, stage)) in shown.iter_mut().zip(trail.shown).enumerate() {
                let Some(stages) = stage.filter(|_| measure < it.asked) else { continue };
                *shown = Some(self.halved(stages, &mut looked, measure));
            }
            let began = trail.shown[0].is_some_and(|between| between.before_m.is_none());
            Firsts { shown, began, best_chance: trail.best_chance }
        };
        let trails = self.trails(things, &look).into_par_iter();
        things.par_iter().enumerate().zip(trails).map(found).collect()
    }

    /// Every thing from every stage that it is looked at from, until there is enough of it.
    fn trails<T: Showing>(
        &self,
        things: &[Watched],
        look: &(impl Fn(&Stand<'_>, usize) -> T + Sync),
    ) -> Vec<Trail<T>> {
        let mut trails: Vec<Trail<T>> = things.iter().map(|_| Trail::NONE).collect();
        let last = self.stages().end.saturating_sub(1);
        for (stage, run_m) in self.runs_m().enumerate() {
            let wanted: Vec<(usize, &Watched)> = things
                .iter()
                .enumerate()
                .zip(&trails)
                .filter(|((_, it), trail)| {
                    it.is_looked_at_from(stage, last) && !trail.is_enough(it.asked)
                })
                .map(|(numbered, _)| numbered)
                .collect();
            let places = wanted.iter().map(|(_, it)| (it.at, it.behind_m));
            let stand = self.glance.stand_for((self.place)(run_m), places);
            let looks: Vec<(usize, T)> =
                wanted.par_iter().map(|(thing, _)| (*thing, look(&stand, *thing))).collect();
            for (thing, seen) in looks {
                if let Some(trail) = trails.get_mut(thing) {
                    trail.add(run_m, seen);
                }
            }
        }
        trails
    }

    fn halved<T: Showing>(
        &self,
        Between { before_m, after: mut high }: Between<T>,
        looked: &mut Looked<T, impl Fn(f64) -> T>,
        measure: usize,
    ) -> (f64, T) {
        let Some(mut low_m) = before_m else { return high };
        while high.0 - low_m > self.within_m {
            let middle_m = 0.5 * (low_m + high.0);
            let seen = looked.at(middle_m);
            if seen.shows(measure) { high = (middle_m, seen) } else { low_m = middle_m }
        }
        high
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;

    use super::*;
    use crate::chart::Chart;
    use crate::geodesy::destination;
    use crate::paint::Conditions;
    use crate::radar::Set;
    use crate::units::{Bearing, GroundRange, Height};

    /// A thing that shows by each measure from a run on.
    #[derive(Debug, Clone, Copy)]
    struct Since(f64, [f64; 2]);

    impl Showing for Since {
        fn shows(&self, measure: usize) -> bool {
            self.0 >= self.1[measure]
        }

        fn chance(&self) -> f64 {
            0.5 + self.0 / 1e6
        }
    }

    #[test]
    fn each_is_found_as_near_as_asked_and_no_farther_than_it_is_asked_for() {
        let chart = Chart::sample().unwrap();
        let set = Set::builtin("patrol").unwrap();
        let own = (Height::from_feet(2_000.0).unwrap(), None);
        let glance = Glance::from_height(&chart, own, &set, &Conditions::default());
        let start = "38 12.9 S, 21 30.5 W".parse().unwrap();
        let off = |run_m: f64| GroundRange::clamped_metres(run_m + 1e4);
        let place = |run_m: f64| destination(start, Bearing::wrapped_degrees(70.0), off(run_m));
        let passage = Passage { glance: &glance, span: (-1e4, 1e5), place, within_m: 170.0 };
        let stages = passage.stages();
        let watched = |asked: usize, stages: Range<usize>, fine: Range<usize>| Watched {
            at: start,
            behind_m: 0.0,
            asked,
            stages,
            fine,
        };
        let all = || stages.clone();
        let cases = [
            (watched(2, all(), all()), [43_210.0, 61_234.0], [true, true]),
            (watched(1, all(), all()), [43_210.0, 61_234.0], [true, false]),
            (watched(2, all(), 0..0), [43_210.0, 61_234.0], [true, true]),
            (watched(2, all(), all()), [43_210.0, 2e5], [true, false]),
            // The end itself is looked from, and the start.
            (watched(2, all(), 0..0), [99_999.0, 1e5], [true, true]),
            (watched(2, all(), all()), [-2e4, -1e4], [true, true]),
            (watched(2, 30..stages.end, 0..0), [0.0, 61_234.0], [true, true]),
            (watched(2, 0..0, 0..0), [0.0, 0.0], [false, false]),
        ];
        let things: Vec<Watched> = cases.iter().map(|case| case.0.clone()).collect();
        // Where a run is, told from the place looked from.
        let look = |stand: &Stand<'_>, thing: usize| {
            let run_m = crate::geodesy::distance(start, stand.position).metres() - 1e4;
            Since(run_m, cases[thing].1)
        };
        let found = passage.firsts(&things, look);
        for (case, firsts) in cases.iter().zip(&found) {
            for ((shown, since), told) in firsts.shown.iter().zip(case.1).zip(case.2) {
                assert_eq!(shown.is_some(), told, "{case:?}");
                let Some((run_m, _)) = shown else { continue };
                let first_m = case.0.stages.start as f64 * STAGE_M - 1e4;
                let since = since.max(first_m);
                assert!((since - 0.1..since + 170.1).contains(run_m), "{case:?} {run_m}");
            }
        }
        let began: Vec<bool> = found.iter().map(|firsts| firsts.began).collect();
        assert_eq!(began, [false, false, false, false, false, true, true, false]);
        // What does not show is looked at to the end; what is not asked for is not sought.
        assert!((found[3].best_chance - 0.6).abs() < 1e-6, "{:?}", found[3]);
        assert!(found[1].best_chance < 0.55, "{:?}", found[1]);
    }

    #[test]
    fn nothing_is_looked_at_twice_from_one_place() {
        let chart = Chart::sample().unwrap();
        let set = Set::builtin("patrol").unwrap();
        let own = (Height::from_feet(2_000.0).unwrap(), None);
        let glance = Glance::from_height(&chart, own, &set, &Conditions::default());
        let start: Position = "38 12.9 S, 21 30.5 W".parse().unwrap();
        let place = |run_m: f64| {
            destination(start, Bearing::wrapped_degrees(70.0), GroundRange::clamped_metres(run_m))
        };
        let passage = Passage { glance: &glance, span: (0.0, 1e5), place, within_m: 170.0 };
        let watched = Watched {
            at: start,
            behind_m: 0.0,
            asked: 2,
            stages: passage.stages(),
            fine: passage.stages(),
        };
        // Both between the same stages, never parted, parted by a late look and by the first; and by stages.
        for since in [[43e3, 43e3], [43_210.0, 43_400.0], [42_700.0, 44e3], [4e4, 6e4]] {
            let runs = Mutex::new(Vec::new());
            let look = |stand: &Stand<'_>, _: usize| {
                let run_m = crate::geodesy::distance(start, stand.position).metres();
                runs.lock().unwrap().push((10.0 * run_m).round() as i64);
                Since(run_m, since)
            };
            let found = passage.firsts(std::slice::from_ref(&watched), look);
            for (shown, since) in found[0].shown.iter().zip(since) {
                let run_m = shown.unwrap().0;
                assert!((since - 0.1..since + 170.1).contains(&run_m), "{since} {run_m}");
            }
            let mut runs = runs.into_inner().unwrap();
            let all = runs.len();
            runs.sort_unstable();
            runs.dedup();
            assert_eq!(runs.len(), all, "{since:?}");
        }
    }
}
