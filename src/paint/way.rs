//! The land under one ray, its heights looked up as they are asked for.

use std::cell::LazyCell;
use std::ops::Range;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};

use super::budget::Budget;
use super::fan::Fan;
use super::mask::Mask;
use super::ray_line::RayLine;
use super::relief::LandSpan;
use crate::chart::{Ground, GroundHeight, Terrain};
use crate::geodesy::LocalPlane;
use crate::units::{Bearing, True};

/// Samples that are passed over together where no ground among them can matter: many, else few.
const MANY: usize = 64;
const FEW: usize = 16;

/// Land along a ray, as its crossings of the shore have it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Land {
    /// Where the ray comes upon it, metres along the ground.
    pub start_m: f64,
    /// Where the ray leaves it, or the chart ends.
    pub end_m: f64,
    /// It starts where the chart was cut out of a larger one: what lies before it is not known.
    pub from_cut: bool,
    /// Whether all of it surely is land, once that was asked or is known.
    sure: OnceLock<bool>,
}

impl Land {
    pub fn new(start_m: f64, end_m: f64, from_cut: bool) -> Self {
        Self { start_m, end_m, from_cut, sure: OnceLock::new() }
    }

    /// The same, known to be land all over.
    pub fn surely(self) -> Self {
        Self { sure: OnceLock::from(true), ..self }
    }

    #[cfg(test)]
    pub fn is_known(&self) -> bool {
        self.sure.get() == Some(&true)
    }

    /// Where the ray leaves it, as far as a fan goes.
    fn end_in(&self, fan: &Fan) -> f64 {
        self.end_m.min(fan.reach_m())
    }

    /// Its first sample, and the one after its last. Land narrower than a step has one, at the
    /// sample nearest beyond its middle.
    fn samples(&self, fan: &Fan) -> (usize, usize) {
        let first = ((self.start_m / fan.step_m).ceil() - 1.0).max(0.0) as usize;
        (first, self.whole(fan).max(first + 1))
    }

    /// The sample after the last that lies on it.
    fn whole(&self, fan: &Fan) -> usize {
        (self.end_in(fan) / fan.step_m).floor().max(0.0) as usize
    }

    /// Where the height of a sample is taken.
    fn place_m(&self, sample: usize, fan: &Fan) -> f64 {
        let on_it = sample < self.whole(fan);
        if on_it { fan.distance_m(sample) } else { 0.5 * (self.start_m + self.end_in(fan)) }
    }
}

/// What goes along a way and asks for heights.
pub(super) trait Walker {
    /// Ground nearer than this, metres, only hides.
    fn near_m(&self) -> f64;
    /// What hides so far.
    fn mask(&self) -> &Mask<'_>;
    /// It comes upon land, which begins at this height where the chart was cut there.
    fn onto(&mut self, land: &Land, cut_height_m: Option<f64>);
    /// A sample of ground that only hides, and its height, metres; of the land of this number.
    fn before(&mut self, land: usize, sample: usize, height_m: f32);
    /// The height of a sample, metres, and what its ground is.
    fn sample(&mut self, sample: usize, height_m: f64, terrain: Option<(Terrain, bool)>);
    /// Whether ground no higher than `most_m` between two distances can be passed over.
    fn passes(&self, between_m: (f64, f64), most_m: f64) -> bool;
    /// It leaves the land.
    fn off(&mut self, end_m: f64);
}

/// A height that was not asked for yet: no number.
const UNKNOWN: u32 = f32::NAN.to_bits();

/// The land under one ray of a fan: as far as the fan goes that it was made for, or any fan of the same step
/// that goes less far.
pub(super) struct Way<'a> {
    ground: &'a Ground,
    line: RayLine,
    /// Nearest first.
    land: Vec<Land>,
    /// Heights that were asked for, by sample; none are kept where this is empty.
    kept: Box<[AtomicU32]>,
    /// The most that ground may stand high, of each few samples, where that was asked for.
    kept_most: Box<[AtomicU32]>,
}

impl<'a> Way<'a> {
    pub fn new(
        ground: &'a Ground,
        plane: &LocalPlane,
        bearing: Bearing<True>,
        fan: &Fan,
        land: Vec<Land>,
    ) -> Self {
        // Only as far as there is land.
        let farthest_m = land.last().map_or(0.0, |land| land.end_m.min(fan.reach_m()));
        let line = RayLine::new(plane, bearing, farthest_m + fan.step_m);
        Self { ground, line, land, kept: Box::default(), kept_most: Box::default() }
    }

    /// The same, for who goes along it many times: heights are kept, but of land narrower than a step.
    pub fn keeping(self, fan: &Fan) -> Self {
        let samples = self.land.last().map_or(0, |land| land.whole(fan));
        let none = |count: usize| (0..count).map(|_| AtomicU32::new(UNKNOWN)).collect();
        Self { kept: none(samples), kept_most: none(samples.div_ceil(FEW)), ..self }
    }

    /// The land within a fan's reach, each with its number.
    fn within<'s>(&'s self, fan: &Fan) -> impl Iterator<Item = (usize, &'s Land)> + use<'s, 'a> {
        let reach_m = fan.reach_m();
        self.land.iter().enumerate().take_while(move |(_, land)| land.start_m <= reach_m)
    }

    /// Whether the ray lies on land between two crossings of the shore, by three places of it: then no
    /// more of it need be asked of the coast. One crossing missed would turn sea into land.
    fn is_surely_land(&self, land: &Land) -> bool {
        *land.sure.get_or_init(|| {
            [0.25, 0.5, 0.75]
                .into_iter()
                .map(|share| self.line.at(land.start_m + share * (land.end_m - land.start_m)))
                .all(|at| self.ground.is_land(at) == Some(true))
        })
    }

    fn height_m(&self, land: &Land, sample: usize, fan: &Fan) -> f32 {
        self.kept_m(land, sample, fan, || self.looked_up_m(land, sample, fan))
    }

    /// The heights of a few samples in their order, each with its number. Far inland nothing may tell them
    /// apart: then the ground is asked once for all of them.
    fn heights_m(
        &self,
        land: &Land,
        samples: Range<usize>,
        fan: &Fan,
    ) -> impl Iterator<Item = (usize, f32)> {
        let all = samples.clone();
        let level_m = LazyCell::new(move || self.level_m(land, &all, fan));
        samples.map(move |sample| {
            let one = || level_m.unwrap_or_else(|| self.looked_up_m(land, sample, fan));
            (sample, self.kept_m(land, sample, fan, one))
        })
    }

    /// The height of a sample, found by `find` where it is not kept.
    fn kept_m(&self, land: &Land, sample: usize, fan: &Fan, find: impl FnOnce() -> f32) -> f32 {
        // Where land is narrower than a step, the place of its one sample is its own.
        once(self.kept.get(sample).filter(|_| sample < land.whole(fan)), find)
    }

    fn looked_up_m(&self, land: &Land, sample: usize, fan: &Fan) -> f32 {
        let at = self.line.at(land.place_m(sample, fan));
        metres(if self.is_surely_land(land) { self.ground.of_land(at) } else { self.ground.at(at) })
    }

    /// The height of all of some samples, where it is surely one and the same; none of one alone.
    fn level_m(&self, land: &Land, samples: &Range<usize>, fan: &Fan) -> Option<f32> {
        let several = samples.len() > 1 && samples.end <= land.whole(fan);
        if !several || !self.is_surely_land(land) {
            return None;
        }
        let at = |sample: usize| self.line.at(fan.distance_m(sample));
        self.ground.level_of_land(at(samples.start), at(samples.end - 1)).map(metres)
    }

    fn terrain(&self, land: &Land, sample: usize, fan: &Fan) -> Option<(Terrain, bool)> {
        let place_m = fan.distance_m(sample).min(land.end_in(fan)).max(land.start_m);
        self.ground.terrain(self.line.at(place_m))
    }

    /// All of it at once.
    pub fn spans(&self, fan: &Fan) -> Vec<LandSpan> {
        let is_classed = self.ground.has_terrain();
        let span = |land: &Land| {
            let (first, after) = land.samples(fan);
            let heights_m = (first..after)
                .step_by(FEW)
                .flat_map(|few| self.heights_m(land, few..(few + FEW).min(after), fan));
            let classed = (first..after).filter(|_| is_classed);
            LandSpan {
                heights: heights_m.map(|(_, height_m)| height_m).collect(),
                terrain: classed.map(|sample| self.terrain(land, sample, fan)).collect(),
                ..bare(land, fan)
            }
        };
        self.within(fan).map(|(_, land)| span(land)).collect()
    }

    /// Where it begins and ends, without heights.
    pub fn outline(&self, fan: &Fan) -> Vec<LandSpan> {
        self.within(fan).map(|(_, land)| bare(land, fan)).collect()
    }

    /// As [`Way::spans`], for what a thing at `from_m` or beyond has before it: nearer heights stand
    /// where they may hide, zero elsewhere, and no terrain.
    pub fn spans_before(&self, fan: &Fan, budget: &Budget, from_m: f64) -> Vec<LandSpan> {
        let (spans, mask) = (self.outline(fan), Mask::new(budget));
        let mut before = Before { spans, on: 0, mask, from_m, step_m: fan.step_m };
        self.walk(fan, &mut before);
        before.spans
    }

    /// Goes along it, and passes over what its walker can do without.
    ///
    /// Of the ground that only hides the steepest counts alone: what may be the steepest is looked at
    /// first, and what cannot be steeper than that is not looked at. The rest comes in its order.
    pub fn walk(&self, fan: &Fan, walker: &mut impl Walker) {
        let from_m = walker.near_m();
        self.walk_before(from_m, fan, walker);
        for (_, land) in self.within(fan).filter(|(_, land)| land.end_in(fan) >= from_m) {
            let (first, after) = land.samples(fan);
            let cut = land.from_cut.then(|| f64::from(self.height_m(land, first, fan)));
            walker.onto(land, cut);
            // What follows is measured from the last sample before.
            let mut sample = nearer(from_m, fan).saturating_sub(1).clamp(first, after - 1);
            while sample < after {
                let passed = self.passed(land, (sample, after), fan, walker);
                let next = passed.map_or(sample..(sample + FEW).min(after), |last| last..last + 1);
                sample = next.end;
                for (i, height_m) in self.heights_m(land, next, fan) {
                    let classed = self.ground.has_terrain();
                    let terrain = if classed { self.terrain(land, i, fan) } else { None };
                    walker.sample(i, f64::from(height_m), terrain);
                }
            }
            walker.off(land.end_in(fan));
        }
    }

    /// The ground nearer than `from_m`, steepest first.
    fn walk_before(&self, from_m: f64, fan: &Fan, walker: &mut impl Walker) {
        let mut parts: Vec<(f64, Part)> = Vec::new();
        let near = self.within(fan).take_while(|(_, land)| land.start_m < from_m);
        for (number, land) in near {
            walker.onto(land, None);
            if land.end_in(fan) < from_m {
                walker.off(land.end_in(fan));
            }
            let (first, after) = land.samples(fan);
            let after = after.min(nearer(from_m, fan));
            for first in (first..after).step_by(MANY) {
                let part = Part { number, first, after: (first + MANY).min(after) };
                parts.push((self.steepest(land, &part, fan, walker.mask()), part));
            }
        }
        parts.sort_by(|a, b| b.0.total_cmp(&a.0));
        for (steepest, part) in parts {
            if walker.mask().hides(steepest) {
                break;
            }
            let Some(land) = self.land.get(part.number) else { continue };
            for first in (part.first..part.after).step_by(FEW) {
                let few = Part { first, after: (first + FEW).min(part.after), ..part };
                if walker.mask().hides(self.steepest(land, &few, fan, walker.mask())) {
                    continue;
                }
                for (sample, height_m) in self.heights_m(land, few.first..few.after, fan) {
                    walker.before(part.number, sample, height_m);
                }
            }
        }
    }

    /// No sample of a part is seen at a steeper slope.
    fn steepest(&self, land: &Land, part: &Part, fan: &Fan, mask: &Mask<'_>) -> f64 {
        let most_m = self.most_m(land, (part.first, part.after - 1), fan);
        let distance_m = |sample: usize| fan.distance_m(sample).max(land.start_m);
        mask.steepest((distance_m(part.first), distance_m(part.after - 1)), most_m)
    }

    /// No sample from one to another is higher, metres.
    fn most_m(&self, land: &Land, (first, last): (usize, usize), fan: &Fan) -> f64 {
        if let Some(kept) = self.kept_most.get(first / FEW..=last / FEW) {
            let each = kept.iter().zip(first / FEW..);
            let most = each.map(|(kept, few)| once(Some(kept), || self.most_of_few_m(few, fan)));
            return f64::from(most.fold(f32::NEG_INFINITY, f32::max));
        }
        let at = |sample: usize| self.line.at(land.place_m(sample, fan));
        self.ground.ceiling_m(at(first), at(last))
    }

    /// No sample of the few of a number is higher, metres. Where land is narrower than a step its one
    /// sample lies nearer than it is counted at.
    fn most_of_few_m(&self, few: usize, fan: &Fan) -> f32 {
        let at = |samples: usize| self.line.at(samples as f64 * fan.step_m);
        let most = self.ground.ceiling_m(at(few * FEW), at((few + 1) * FEW));
        // Rounded to what can be kept, and never down.
        (most as f32).next_up()
    }

    /// The last of the next samples that can be passed over together.
    fn passed(
        &self,
        land: &Land,
        (sample, after): (usize, usize),
        fan: &Fan,
        walker: &impl Walker,
    ) -> Option<usize> {
        [MANY, FEW].into_iter().find_map(|count| {
            let last = (sample + count - 1).min(after - 1);
            if last < sample + 2 {
                return None;
            }
            let between_m = (fan.distance_m(sample), fan.distance_m(last));
            let most_m = self.most_m(land, (sample, last), fan);
            walker.passes(between_m, most_m).then_some(last)
        })
    }
}

/// As it is kept, metres.
fn metres(height: GroundHeight) -> f32 {
    height.height.metres().max(0.0) as f32
}

/// What is kept at a place, worked out where it was not yet.
fn once(kept: Option<&AtomicU32>, work_out: impl FnOnce() -> f32) -> f32 {
    let known = kept.map(|kept| f32::from_bits(kept.load(Ordering::Relaxed)));
    known.filter(|known| !known.is_nan()).unwrap_or_else(|| {
        let found = work_out();
        if let Some(kept) = kept {
            kept.store(found.to_bits(), Ordering::Relaxed);
        }
        found
    })
}

/// Some samples of the land of a number.
#[derive(Debug, Clone, Copy)]
struct Part {
    number: usize,
    first: usize,
    after: usize,
}

/// How many samples of a fan's rays lie nearer than a distance.
fn nearer(from_m: f64, fan: &Fan) -> usize {
    let about = (from_m / fan.step_m).ceil().max(1.0) as usize;
    (about.saturating_sub(2)..about + 2).find(|i| fan.distance_m(*i) >= from_m).unwrap_or(about)
}

/// Land without heights.
fn bare(land: &Land, fan: &Fan) -> LandSpan {
    LandSpan {
        start_m: land.start_m,
        from_cut: land.from_cut,
        end_m: land.end_in(fan),
        first: land.samples(fan).0,
        heights: Vec::new(),
        terrain: Vec::new(),
    }
}

/// Takes down what stands before a distance, as [`super::in_front::in_front`] looks at it.
struct Before<'a> {
    spans: Vec<LandSpan>,
    /// The land it is on.
    on: usize,
    mask: Mask<'a>,
    from_m: f64,
    step_m: f64,
}

impl Before<'_> {
    fn put(&mut self, land: usize, sample: usize, height_m: f32) {
        let Some(span) = self.spans.get_mut(land) else { return };
        let place = sample.saturating_sub(span.first);
        if span.heights.len() <= place {
            span.heights.resize(place + 1, 0.0);
        }
        if let Some(height) = span.heights.get_mut(place) {
            *height = height_m;
        }
    }
}

impl Walker for Before<'_> {
    fn near_m(&self) -> f64 {
        self.from_m
    }

    fn mask(&self) -> &Mask<'_> {
        &self.mask
    }

    fn onto(&mut self, land: &Land, _: Option<f64>) {
        if land.start_m > self.step_m {
            self.mask.sea_to(land.start_m.min(self.from_m).max(1.0));
        }
        self.on = self.spans.iter().take_while(|span| span.start_m < land.start_m).count();
    }

    fn before(&mut self, land: usize, sample: usize, height_m: f32) {
        self.mask.land((sample as f64 + 1.0) * self.step_m, f64::from(height_m));
        self.put(land, sample, height_m);
    }

    fn sample(&mut self, sample: usize, height_m: f64, _: Option<(Terrain, bool)>) {
        self.put(self.on, sample, height_m as f32);
    }

    fn passes(&self, _: (f64, f64), _: f64) -> bool {
        false
    }

    fn off(&mut self, _: f64) {}
}

#[cfg(test)]
mod tests;
