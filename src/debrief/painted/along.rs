//! When marks paint along a track: a quick look at every mark, then a careful one at those that would
//! have helped most.

use std::collections::BTreeMap;
use std::ops::Range;

use jiff::{SignedDuration, Timestamp};
use rayon::prelude::*;

use super::super::sitting::Aboard;
use crate::chart::{Chart, Mark, MarkId};
use crate::geodesy::{LocalPlane, PlanePoint, Position, course, distance};
use crate::paint::approach::Look;
use crate::paint::{Conditions, Lookout};
use crate::radar::geometry::{EarthRadius, slant_range};
use crate::units::{Bearing, GroundRange, SlantRange, True};

/// A mark paints where its chance is at least one in two.
pub const PAINTS: f64 = 0.5;

/// Below this by the quick look a mark is not looked at again.
const MAY: f64 = 0.2;

/// The most marks that are looked at carefully.
const MOST_CAREFUL: usize = 60;

/// The most places at which one of them is looked at to learn for how long it paints.
const SAMPLES: usize = 8;

/// The most places passed over at once on the way to the first.
const MOST_PASSED: usize = 4;

/// The first paint is found to this.
const WITHIN: SignedDuration = SignedDuration::from_secs(4);

/// The most that one quick look reaches along the track, in metres: over more its cells grow coarse.
const STRETCH_M: f64 = 110_000.0;

/// Salience is worth half as much at this range, in nautical miles.
const HALF_WORTH_NM: f64 = 10.0;

/// One place of the track.
#[derive(Debug, Clone, Copy)]
pub struct Place<'a> {
    /// When.
    pub time: Timestamp,
    /// Where.
    pub position: Position,
    /// Own height, heading and set then.
    pub aboard: &'a Aboard,
    /// Nothing is known of the time just before.
    pub fresh: bool,
    /// A fix was taken here.
    pub fix: bool,
}

/// A mark at the place and time at which it first paints.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct First {
    /// When.
    pub time: Timestamp,
    /// It painted already as the track begins, or begins again: since when is not known.
    pub at_start: bool,
    /// Straight to its top.
    pub range: SlantRange,
    /// From own place.
    pub bearing: Bearing<True>,
    /// The chance there.
    pub chance: f64,
}

/// A mark that paints on the way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paints {
    /// Which.
    pub mark: MarkId,
    /// When first.
    pub first: First,
    /// For how long in all, in minutes.
    pub minutes: f64,
    /// The best chance found.
    pub best: f64,
    /// Where the track comes closest while it paints: when, and how far off.
    pub nearest: (Timestamp, SlantRange),
    /// At how many fixes it paints.
    pub fixes: usize,
    /// Found as [`crate::paint::expect`] has it; else by the quick look alone.
    pub careful: bool,
    /// How much it would have helped: its salience, less with its range.
    pub worth: f64,
}

/// Marks that paint along the places, those that would have helped most first.
pub fn along(chart: &Chart, places: &[Place<'_>]) -> Vec<Paints> {
    let conditions = Conditions::default();
    let stretches: Vec<Stretch<'_>> = parts(places)
        .into_iter()
        .filter_map(|part| Stretch::new(chart, places, part, &conditions))
        .collect();
    let mut ids: Vec<MarkId> =
        stretches.iter().flat_map(|stretch| stretch.marks.iter().copied()).collect();
    ids.sort_unstable();
    ids.dedup();
    let way = Way { chart, places, stretches };
    let mut quick: Vec<Quick<'_>> = ids.into_par_iter().filter_map(|id| way.quick(id)).collect();
    quick.sort_by(|a, b| b.worth.total_cmp(&a.worth).then(a.id.cmp(&b.id)));
    let each = quick.par_iter().enumerate();
    each.filter_map(
        |(rank, quick)| {
            if rank < MOST_CAREFUL { way.careful(quick) } else { way.rough(quick) }
        },
    )
    .collect()
}

/// The places in parts: of one height and set, and not too long.
fn parts(places: &[Place<'_>]) -> Vec<Range<usize>> {
    let mut parts: Vec<Range<usize>> = Vec::new();
    for (at, place) in places.iter().enumerate() {
        let goes_on = parts.last().and_then(|part| places.get(part.start)).is_some_and(|first| {
            std::ptr::eq(first.aboard, place.aboard)
                && distance(first.position, place.position).metres() < STRETCH_M
        });
        match parts.last_mut().filter(|_| goes_on) {
            Some(part) => part.end = at + 1,
            None => parts.push(at..at + 1),
        }
    }
    parts
}

/// A part of the track, and what looks out from it.
struct Stretch<'a> {
    part: Range<usize>,
    lookout: Lookout<'a>,
    look: Look<'a>,
    marks: Vec<MarkId>,
}

impl<'a> Stretch<'a> {
    fn new(
        chart: &'a Chart,
        places: &[Place<'_>],
        part: Range<usize>,
        conditions: &Conditions,
    ) -> Option<Self> {
        let within = places.get(part.clone())?;
        let middle = within.get(within.len() / 2)?;
        let Aboard { height, heading, set, .. } = middle.aboard;
        let off = within.iter().map(|place| distance(middle.position, place.position).metres());
        let radius_m = off.fold(0.0, f64::max) + 1_000.0;
        let scale_m = set.greatest_scale().metres();
        let centre = middle.position;
        let radius = GroundRange::clamped_metres(radius_m);
        Some(Self {
            part,
            lookout: Lookout::new(chart, centre, radius, *height, set, conditions),
            look: Look::new(chart, (*height, *heading), set, conditions),
            marks: chart.marks().within(centre, GroundRange::clamped_metres(radius_m + scale_m)),
        })
    }
}

/// The whole track.
struct Way<'a> {
    chart: &'a Chart,
    places: &'a [Place<'a>],
    stretches: Vec<Stretch<'a>>,
}

/// A mark by the quick look.
struct Quick<'a> {
    id: MarkId,
    mark: &'a Mark,
    /// One for each place.
    chances: Vec<f64>,
    /// The place closest to it of those where it paints, or may.
    nearest: usize,
    worth: f64,
}

impl<'a> Way<'a> {
    fn quick(&self, id: MarkId) -> Option<Quick<'a>> {
        let mark = self.chart.marks().get(id)?;
        let chance = |stretch: &Stretch<'_>, at: usize| {
            let place = self.places.get(at);
            place.map_or(0.0, |place| stretch.lookout.paint_probability(place.position, id))
        };
        let chances: Vec<f64> = self
            .stretches
            .iter()
            .flat_map(|stretch| stretch.part.clone().map(move |at| chance(stretch, at)))
            .collect();
        let best = chances.iter().copied().fold(0.0, f64::max);
        if best < MAY {
            return None;
        }
        let least = best.min(PAINTS);
        let likely = chances.iter().enumerate().filter(|(_, chance)| **chance >= least);
        let off = likely.filter_map(|(at, _)| Some((at, self.slant(at, mark)?)));
        let (nearest, range) = off.min_by(|a, b| a.1.metres().total_cmp(&b.1.metres()))?;
        let worth = mark.salience / (1.0 + range.nautical_miles() / HALF_WORTH_NM);
        Some(Quick { id, mark, chances, nearest, worth })
    }

    fn slant(&self, at: usize, mark: &Mark) -> Option<SlantRange> {
        let place = self.places.get(at)?;
        let line = course(place.position, mark.position);
        let radius = EarthRadius::towards(place.position, line.initial);
        Some(slant_range(place.aboard.height, mark.height, line.distance, radius))
    }

    /// By the quick look alone.
    fn rough(&self, quick: &Quick<'_>) -> Option<Paints> {
        let at = quick.chances.iter().position(|chance| *chance >= PAINTS)?;
        let place = self.places.get(at)?;
        let first = First {
            time: place.time,
            at_start: place.fresh,
            range: self.slant(at, quick.mark)?,
            bearing: course(place.position, quick.mark.position).initial,
            chance: quick.chances.get(at).copied()?,
        };
        let best = quick.chances.iter().copied().fold(0.0, f64::max);
        self.told(quick, at, first, (1.0, best, false))
    }

    /// As the careful prediction has it.
    fn careful(&self, quick: &Quick<'_>) -> Option<Paints> {
        let mut closer = Closer { way: self, quick, seen: BTreeMap::new() };
        let at = closer.first_place()?;
        let first = closer.first(at)?;
        let likely = likely(quick, at, MAY);
        let step = likely.len().div_ceil(SAMPLES).max(1);
        let tried: Vec<f64> = likely.iter().step_by(step).map(|at| closer.chance(*at)).collect();
        let holds = tried.iter().filter(|chance| **chance >= PAINTS).count();
        let share = holds as f64 / tried.len().max(1) as f64;
        closer.chance(quick.nearest);
        let best = closer.seen.values().copied().fold(first.chance, f64::max);
        self.told(quick, at, first, (share, best, true))
    }

    fn told(
        &self,
        quick: &Quick<'_>,
        at: usize,
        first: First,
        (share, best, careful): (f64, f64, bool),
    ) -> Option<Paints> {
        // A careful look has told what share of those that may paint do.
        let likely = likely(quick, at, if careful { MAY } else { PAINTS });
        let spell = |at: &usize| {
            let next = self.places.get(at + 1).filter(|next| !next.fresh)?;
            Some(next.time.duration_since(self.places.get(*at)?.time).as_secs_f64())
        };
        let seconds: f64 = likely.iter().filter_map(spell).sum();
        let before = self.places.get(at)?.time.duration_since(first.time).as_secs_f64();
        let fixes = likely.iter().filter(|at| self.places.get(**at).is_some_and(|p| p.fix));
        Some(Paints {
            mark: quick.id,
            first,
            minutes: share * (seconds + before) / 60.0,
            best,
            nearest: (self.places.get(quick.nearest)?.time, self.slant(quick.nearest, quick.mark)?),
            fixes: fixes.count(),
            careful,
            worth: quick.worth,
        })
    }
}

/// One mark, looked at carefully at a few places.
struct Closer<'w, 'a> {
    way: &'w Way<'a>,
    quick: &'w Quick<'a>,
    seen: BTreeMap<usize, f64>,
}

impl Closer<'_, '_> {
    fn look(&self, at: usize) -> Option<&Look<'_>> {
        let stretch = self.way.stretches.iter().find(|stretch| stretch.part.contains(&at));
        stretch.map(|stretch| &stretch.look)
    }

    fn chance(&mut self, at: usize) -> f64 {
        if let Some(known) = self.seen.get(&at) {
            return *known;
        }
        let place = self.way.places.get(at);
        let seen =
            place.zip(self.look(at)).and_then(|(p, look)| look.mark(p.position, self.quick.id));
        let chance = seen.map_or(0.0, |seen| seen.paint_probability);
        self.seen.insert(at, chance);
        chance
    }

    fn holds(&mut self, at: usize) -> bool {
        self.chance(at) >= PAINTS
    }

    /// The first place at which it paints, beginning where the quick look has it; a spell of a few
    /// places may be passed over.
    fn first_place(&mut self) -> Option<usize> {
        let chances = &self.quick.chances;
        let best = chances.iter().copied().fold(0.0, f64::max).min(PAINTS);
        let start = chances.iter().position(|chance| *chance >= best)?;
        let last = chances.iter().rposition(|chance| *chance >= MAY)?.max(start);
        let (mut low, mut high) = (start, start);
        let mut step = 1;
        if self.holds(start) {
            loop {
                if high == 0 {
                    return Some(0);
                }
                low = high.saturating_sub(step);
                if !self.holds(low) {
                    break;
                }
                high = low;
                step = (2 * step).min(MOST_PASSED);
            }
        } else {
            loop {
                if low >= last {
                    return None;
                }
                high = (low + step).min(last);
                if self.holds(high) {
                    break;
                }
                low = high;
                step = (2 * step).min(MOST_PASSED);
            }
        }
        while high - low > 1 {
            let middle = low.midpoint(high);
            if self.holds(middle) { high = middle } else { low = middle }
        }
        Some(high)
    }

    /// Between that place and the one before it, by halving.
    fn first(&self, at: usize) -> Option<First> {
        let (place, look) = (self.way.places.get(at)?, self.look(at)?);
        let id = self.quick.id;
        let mut seen = look.mark(place.position, id)?;
        let mut time = place.time;
        let before = at.checked_sub(1).and_then(|at| self.way.places.get(at));
        let at_start = place.fresh || before.is_none();
        if let Some(before) = before.filter(|_| !at_start) {
            let plane = LocalPlane::new(before.position);
            let to = plane.to_plane(place.position);
            let whole = place.time.duration_since(before.time).as_secs_f64();
            let (mut low, mut high) = (0.0, 1.0);
            while (high - low) * whole > WITHIN.as_secs_f64() {
                let share = f64::midpoint(low, high);
                let between = PlanePoint { east: to.east * share, north: to.north * share };
                let tried = look.mark(plane.to_position(between), id)?;
                if tried.paint_probability >= PAINTS {
                    (high, seen) = (share, tried);
                } else {
                    low = share;
                }
            }
            let after = SignedDuration::try_from_secs_f64(high * whole).ok()?;
            time = before.time.checked_add(after).ok()?;
        }
        let (range, bearing, chance) = (seen.range, seen.bearing, seen.paint_probability);
        Some(First { time, at_start, range, bearing, chance })
    }
}

/// The places from one on at which a mark has a chance to paint by the quick look, and that one.
fn likely(quick: &Quick<'_>, from: usize, least: f64) -> Vec<usize> {
    let each = quick.chances.iter().enumerate().skip(from);
    each.filter(|(at, chance)| *at == from || **chance >= least).map(|(at, _)| at).collect()
}
