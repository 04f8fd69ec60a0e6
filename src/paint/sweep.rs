//! Which ground is lit, and what the set makes of it.

use std::sync::Arc;

use rayon::prelude::*;

use super::budget::{Budget, Cell, Heard, Light, SHOWS};
use super::echo::{Echo, join};
use super::fan::Fan;
use super::kind::{Gammas, Kind, STEEP_RISE};
use super::mask::Mask;
use super::relief::{LandSpan, Relief};
use super::way::{Land, Walker, Way};
use crate::chart::Terrain;
use crate::units::{Bearing, Height, True};

/// How far inland the return of the sea is still held against the land's, in metres: a beach that
/// is no brighter than the sea before it shows no edge.
const SHORE_M: f64 = 500.0;

/// What one sample of land sends back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Glint {
    /// Its number on the ray.
    pub sample: u32,
    /// Square metres for each radian of bearing, with [`Budget::rise_gain`] in them; zero where it is hidden.
    pub m2_per_rad: f32,
    /// Its height above the sea, metres.
    pub height: f32,
    /// Near enough to the sea for the sea's return to count.
    pub shore: bool,
    /// Some of it is in plain sight; else only what bends over an edge reaches it.
    pub clear: bool,
    /// How much of its ray answers piece by piece, metres: the step of a slope, nothing of a face,
    /// which answers at once.
    pub along_m: f32,
    /// What the ground is taken as.
    pub kind: Kind,
    /// It is seen across an edge at which the chart was cut: what lies before it is not known.
    pub across_cut: bool,
}

/// One cell of a look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Strong {
    pub sample: usize,
    /// Its cross-section.
    pub m2: f64,
    /// Whether the sea's return is held against it.
    pub shore: bool,
    /// Some of it is in plain sight.
    pub clear: bool,
}

/// The lit ground along one ray.
///
/// Constant γ: a piece of ground answers as γ times its area across the line of sight, so that a
/// cliff counts by its face and a beach by almost nothing; γ goes by what the ground is taken as ([`Kind`]). A
/// piece in shadow counts by what bends over the edge that hides it ([`Mask`]), and each by the upright
/// beam's gain towards it.
pub(super) fn glints(spans: &[LandSpan], fan: &Fan, budget: &Budget) -> Vec<Glint> {
    glints_from(0.0, spans, fan, budget)
}

/// The same from a distance on: what lies nearer hides, and is not asked what it answers.
pub(super) fn glints_from(
    from_m: f64,
    spans: &[LandSpan],
    fan: &Fan,
    budget: &Budget,
) -> Vec<Glint> {
    let mut walk = Lit::new(from_m, fan, budget);
    walk.glints.reserve(spans.iter().map(|span| span.heights.len()).sum());
    for span in spans {
        let first = span.heights.first().filter(|_| span.from_cut);
        walk.onto(
            &Land::new(span.start_m, span.end_m, span.from_cut),
            first.map(|height| f64::from(*height)),
        );
        for (i, &height) in span.heights.iter().enumerate() {
            let terrain = span.terrain.get(i).copied().flatten();
            walk.sample(span.first + i, f64::from(height), terrain);
        }
        walk.off(span.end_m);
    }
    walk.glints
}

/// The same of ground that is looked up as it is asked for: what is surely dark, and hides nothing
/// more, is passed over.
pub(super) fn glints_along(from_m: f64, way: &Way<'_>, fan: &Fan, budget: &Budget) -> Vec<Glint> {
    let mut walk = Lit::new(from_m, fan, budget);
    way.walk(fan, &mut walk);
    walk.glints
}

/// Goes along a ray and notes what sends something back.
struct Lit<'a> {
    from_m: f64,
    fan: &'a Fan,
    budget: &'a Budget,
    mask: Mask<'a>,
    gammas: Gammas,
    across_cut: bool,
    /// Where the land began that it is on.
    start_m: f64,
    from_cut: bool,
    /// The last place: how far, how high, and at which slope it is seen.
    before_m: f64,
    before_height: f64,
    foot: f64,
    glints: Vec<Glint>,
}

impl<'a> Lit<'a> {
    fn new(from_m: f64, fan: &'a Fan, budget: &'a Budget) -> Self {
        Self {
            from_m,
            fan,
            budget,
            mask: Mask::new(budget),
            gammas: Gammas::new(),
            across_cut: false,
            start_m: 0.0,
            from_cut: false,
            before_m: 0.0,
            before_height: 0.0,
            foot: 0.0,
            glints: Vec::new(),
        }
    }

    /// What a piece of ground sends back; nothing for what lies too near to be asked.
    fn glint(
        &self,
        (sample, ground_m): (usize, f64),
        (height, top): (f64, f64),
        terrain: Option<(Terrain, bool)>,
    ) -> Option<Glint> {
        if ground_m < self.from_m {
            return None;
        }
        let face = self.mask.face(ground_m, self.foot, top);
        // The first sample of a shore may lie anywhere in its step; its rise is no cliff for
        // being close.
        let run = (ground_m - self.before_m).max(0.5 * self.fan.step_m);
        let rise = (height - self.before_height) / run;
        // A slope longer than the pulse answers piece by piece; a face answers at once.
        let pulse = self.budget.set().pulse_length_m();
        let at_once = if rise > STEEP_RISE { 1.0 } else { (pulse / run).min(1.0) };
        let kind = Kind::of(terrain, rise);
        let light = self.budget.light();
        let gamma = if light == Light::Bare { 1.0 } else { self.gammas.of(kind.terrain) };
        let level = matches!(light, Light::Level | Light::Bare) || face.shown_m <= 0.0;
        let middle_m = 0.5 * (self.before_height + height);
        let gain = if level { 1.0 } else { self.budget.rise_gain(ground_m, middle_m) };
        Some(Glint {
            sample: sample as u32,
            m2_per_rad: (gamma * gain * at_once * face.shown_m * ground_m) as f32,
            height: height as f32,
            shore: !self.from_cut && ground_m - self.start_m < SHORE_M,
            clear: face.clear,
            along_m: if rise > STEEP_RISE { 0.0 } else { self.fan.step_m as f32 },
            kind,
            across_cut: self.across_cut,
        })
    }
}

impl Walker for Lit<'_> {
    fn near_m(&self) -> f64 {
        self.from_m
    }

    fn mask(&self) -> &Mask<'_> {
        &self.mask
    }

    fn before(&mut self, _: usize, sample: usize, height_m: f32) {
        self.mask.land(self.fan.distance_m(sample), f64::from(height_m));
    }

    /// At a shore land begins with the sea; where the chart was cut it goes on as it is, and no face
    /// stands there.
    fn onto(&mut self, land: &Land, cut_height_m: Option<f64>) {
        self.across_cut |= land.from_cut;
        (self.start_m, self.from_cut) = (land.start_m, land.from_cut);
        // Straight below there is no sea to pass over, or none that counts.
        if land.start_m > self.fan.step_m {
            self.mask.sea_to(land.start_m);
        }
        (self.before_m, self.before_height) = (land.start_m, cut_height_m.unwrap_or(0.0));
        self.foot = self.mask.slope_of(self.before_m, self.before_height);
    }

    fn sample(&mut self, sample: usize, height: f64, terrain: Option<(Terrain, bool)>) {
        let ground_m = self.fan.distance_m(sample).max(self.start_m);
        let top = self.mask.slope_of(ground_m, height);
        let glint = self.glint((sample, ground_m), (height, top), terrain);
        self.glints.extend(glint);
        self.mask.land(ground_m, height);
        (self.before_m, self.before_height, self.foot) = (ground_m, height, top);
    }

    fn passes(&self, between_m: (f64, f64), most_m: f64) -> bool {
        self.mask.darkens(between_m, most_m)
    }

    fn off(&mut self, end_m: f64) {
        self.mask.sea_to(end_m);
    }
}

/// Everything that depends on range alone, worked out once for each sample.
#[derive(Debug, Clone)]
pub(super) struct RangeTable {
    pub base_db: Vec<f64>,
    pub sea_m2: Vec<f64>,
    pub rain_m2: Vec<f64>,
}

/// Distances that one thread works out at a time.
const AT_ONCE: usize = 64;

impl RangeTable {
    pub fn new(fan: &Fan, budget: &Budget) -> Self {
        let samples = || (0..fan.samples).into_par_iter().with_min_len(AT_ONCE);
        let distances = || samples().map(|sample| fan.distance_m(sample));
        Self {
            base_db: distances().map(|distance| budget.base_db(distance)).collect(),
            sea_m2: distances().map(|distance| budget.sea_m2(distance)).collect(),
            rain_m2: distances().map(|distance| budget.rain_m2(distance)).collect(),
        }
    }

    /// The cell of a sample, with these shares of the sea's and of the rain's return in it.
    pub fn cell(&self, sample: usize, land_m2: f64, sea_share: f64, rain_share: f64) -> Cell {
        let base_db = self.base_db.get(sample).copied().unwrap_or(f64::NEG_INFINITY);
        let sea_m2 = self.sea_m2.get(sample).copied().unwrap_or_default() * sea_share;
        let rain_m2 = self.rain_m2.get(sample).copied().unwrap_or_default() * rain_share;
        Cell { base_db, land_m2, sea_m2, rain_m2 }
    }
}

/// What the beam sees when it points along one ray: cross-section and share of shore by sample.
#[derive(Debug, Clone, Default)]
pub(super) struct Look {
    /// Square metres within one pulse, by sample; empty from the last lit one on.
    pub m2: Vec<f32>,
    shore: Vec<bool>,
    clear: Vec<bool>,
    across_cut: Vec<bool>,
    height: Vec<f32>,
}

impl Look {
    /// The strongest cells between two distances, a pulse apart, strongest first.
    pub fn strongest(&self, from: usize, to: usize, apart: usize) -> Vec<Strong> {
        /// More cells of one mark hardly make it surer.
        const MOST: usize = 4;
        let mut lit: Vec<(usize, f64)> = (from..to.min(self.m2.len()))
            .filter_map(|i| self.m2.get(i).map(|m2| (i, f64::from(*m2))))
            .filter(|(_, m2)| *m2 > 0.0)
            .collect();
        lit.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        let mut chosen: Vec<Strong> = Vec::with_capacity(MOST);
        for (sample, m2) in lit {
            if chosen.iter().all(|other| sample.abs_diff(other.sample) >= apart) {
                let told = |flags: &[bool]| flags.get(sample).copied().unwrap_or_default();
                let (shore, clear) = (told(&self.shore), told(&self.clear));
                chosen.push(Strong { sample, m2, shore, clear });
            }
            if chosen.len() == MOST {
                break;
            }
        }
        chosen
    }
}

/// A cell of land that shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shown {
    /// Its far end, metres along the ground.
    pub end_m: f64,
    /// Of the highest ground in it.
    pub height: Height,
    /// Some of it is near enough to the sea for the sea's return to count.
    pub shore: bool,
    pub heard: Heard,
}

/// How many rays to each side the beam takes in.
fn side(fan: &Fan, budget: &Budget) -> usize {
    let count = fan.len().max(1);
    let spacing = std::f64::consts::TAU / count as f64;
    ((1.2 * budget.beam_rad() / spacing) as usize).min((count - 1) / 2)
}

/// The lit ground all round, as a beam sees it.
pub(super) struct Sweep<'a> {
    pub fan: Fan,
    pub budget: &'a Budget,
    pub table: Arc<RangeTable>,
    glints: Vec<Vec<Glint>>,
}

impl<'a> Sweep<'a> {
    pub fn new(fan: Fan, relief: &Relief, budget: &'a Budget) -> Self {
        let table = Arc::new(RangeTable::new(&fan, budget));
        let glints = relief.rays.par_iter().map(|spans| glints(spans, &fan, budget)).collect();
        Self { fan, budget, table, glints }
    }

    /// The same, with ground in the beam alone when it points along `bearing`.
    pub fn towards(fan: Fan, relief: &Relief, budget: &'a Budget, bearing: Bearing<True>) -> Self {
        let table = Arc::new(RangeTable::new(&fan, budget));
        let (ray, count) = (fan.nearest(bearing), fan.len());
        let side = side(&fan, budget);
        let glints = relief.rays.par_iter().enumerate().map(|(other, spans)| {
            let off = other.abs_diff(ray);
            let within = off.min(count - off) <= side;
            if within { glints(spans, &fan, budget) } else { Vec::new() }
        });
        let glints = glints.collect();
        Self { fan, budget, table, glints }
    }

    /// The rays that count when the beam points along `bearing`, by number.
    pub fn taken_in(fan: &Fan, budget: &Budget, bearing: Bearing<True>) -> Vec<usize> {
        let (ray, count) = (fan.nearest(bearing), fan.len());
        let side = side(fan, budget);
        (0..=2 * side).map(|off| (ray + count + off - side) % count.max(1)).collect()
    }

    /// Ground under some rays of a fan alone; all other rays are bare sea.
    pub fn of_rays(
        fan: Fan,
        table: Arc<RangeTable>,
        budget: &'a Budget,
        rays: impl Iterator<Item = (usize, Vec<Glint>)>,
    ) -> Self {
        let mut all = vec![Vec::new(); fan.len()];
        for (ray, glints) in rays {
            if let Some(place) = all.get_mut(ray) {
                *place = glints;
            }
        }
        Self { fan, budget, table, glints: all }
    }

    /// Gathers the ground within the beam, weighted by its two-way pattern, and within one pulse.
    pub fn look(&self, ray: usize) -> Look {
        let count = self.fan.len();
        let spacing = std::f64::consts::TAU / count.max(1) as f64;
        let side = side(&self.fan, self.budget);
        let mut look = Look::default();
        for off in 0..=2 * side {
            let other = (ray + count + off - side) % count.max(1);
            let Some(glints) = self.glints.get(other) else { continue };
            let angle = (off as f64 - side as f64) * spacing;
            Self::gather(&mut look, glints, self.budget.pattern(angle) * spacing);
        }
        self.over_pulse(&mut look);
        look
    }

    /// What most of the answer of a cell comes from, when the beam points along a ray.
    pub fn kind_of(&self, ray: usize, sample: usize) -> Option<Kind> {
        let (count, side) = (self.fan.len(), side(&self.fan, self.budget));
        let spacing = std::f64::consts::TAU / count.max(1) as f64;
        let steps = (self.budget.set().pulse_length_m() / self.fan.step_m).ceil().max(1.0) as usize;
        let mut sums: Vec<(Kind, f64)> = Vec::new();
        for off in 0..=2 * side {
            let Some(glints) = self.glints.get((ray + count + off - side) % count.max(1)) else {
                continue;
            };
            let weight = self.budget.pattern((off as f64 - side as f64) * spacing);
            for glint in glints {
                if (sample..sample + steps).contains(&(glint.sample as usize)) {
                    let m2 = weight * f64::from(glint.m2_per_rad);
                    match sums.iter_mut().find(|(kind, _)| *kind == glint.kind) {
                        Some((_, sum)) => *sum += m2,
                        None => sums.push((glint.kind, m2)),
                    }
                }
            }
        }
        sums.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(kind, _)| kind)
    }

    /// The strongest cells of the ground between two distances on a bearing: none where they meet.
    pub fn own_ground(&self, bearing: Bearing<True>, from_m: f64, to_m: f64) -> Vec<Strong> {
        if to_m <= from_m {
            return Vec::new();
        }
        let step_m = self.fan.step_m;
        let from = ((from_m / step_m).floor() - 1.0).max(0.0) as usize;
        let to = (to_m / step_m).ceil().max(0.0) as usize;
        let apart = (self.budget.set().pulse_length_m() / step_m).ceil().max(1.0) as usize;
        self.look(self.fan.nearest(bearing)).strongest(from, to, apart)
    }

    fn gather(look: &mut Look, glints: &[Glint], weight: f64) {
        let Some(last) = glints.last() else { return };
        let needed = last.sample as usize + 1;
        if look.m2.len() < needed {
            look.m2.resize(needed, 0.0);
            look.shore.resize(needed, false);
            look.clear.resize(needed, false);
            look.across_cut.resize(needed, false);
            look.height.resize(needed, 0.0);
        }
        for glint in glints.iter().filter(|glint| glint.m2_per_rad > 0.0) {
            let sample = glint.sample as usize;
            if let Some(m2) = look.m2.get_mut(sample) {
                *m2 += (weight * f64::from(glint.m2_per_rad)) as f32;
            }
            if let Some(shore) = look.shore.get_mut(sample) {
                *shore |= glint.shore;
            }
            if let Some(clear) = look.clear.get_mut(sample) {
                *clear |= glint.clear;
            }
            if let Some(across_cut) = look.across_cut.get_mut(sample) {
                *across_cut |= glint.across_cut;
            }
            if let Some(height) = look.height.get_mut(sample) {
                *height = height.max(glint.height);
            }
        }
    }

    /// A pulse longer than a step answers from several samples at once.
    fn over_pulse(&self, look: &mut Look) {
        let steps = self.budget.set().pulse_length_m() / self.fan.step_m;
        if steps <= 1.0 {
            return;
        }
        let (whole, part) = (steps as usize, steps.fract() as f32);
        let single = look.m2.clone();
        for (i, m2) in look.m2.iter_mut().enumerate() {
            let within = single.get(i..(i + whole).min(single.len())).unwrap_or_default();
            let beyond = single.get(i + whole).copied().unwrap_or_default();
            *m2 = within.iter().sum::<f32>() + part * beyond;
        }
        // Past the first lit sample only: the echo does not begin before the land does.
        for (m2, alone) in look.m2.iter_mut().zip(&single) {
            if *alone <= 0.0 {
                *m2 = 0.0;
            }
        }
    }

    /// The cells of land that show when the beam points along a ray, `bow_loss_db` down. Land seen
    /// across an edge at which the chart was cut is left out: where its echo begins is not known.
    pub fn shown(&self, ray: usize, bow_loss_db: f64) -> Vec<Shown> {
        let look = self.look(ray);
        let loss = 10f64.powf(-bow_loss_db / 10.0);
        let mut cells: Vec<Shown> = Vec::new();
        for (sample, m2) in look.m2.iter().enumerate().filter(|(_, m2)| **m2 > 0.0) {
            if look.across_cut.get(sample) == Some(&true) {
                continue;
            }
            let shore = look.shore.get(sample).copied().unwrap_or_default();
            let sea_share = if shore { loss } else { 0.0 };
            let cell = self.table.cell(sample, f64::from(*m2) * loss, sea_share, loss);
            let heard = self.budget.heard(cell);
            if heard.chance < SHOWS {
                continue;
            }
            let end_m = self.fan.distance_m(sample);
            let height = look.height.get(sample).copied().unwrap_or_default();
            let height = Height::from_metres(f64::from(height)).unwrap_or_default();
            if self.budget.shows_at(self.budget.slant(end_m, height)) {
                cells.push(Shown { end_m, height, shore, heard });
            }
        }
        cells
    }

    /// The land that shows when the beam points along a ray, `bow_loss_db` down.
    pub fn echoes(&self, ray: usize, bow_loss_db: f64) -> Vec<Echo> {
        let mut echoes: Vec<Echo> = Vec::new();
        for cell in self.shown(ray, bow_loss_db) {
            let echo = Echo {
                start_m: cell.end_m - self.fan.step_m,
                end_m: cell.end_m,
                height: cell.height,
                signal_to_noise_db: cell.heard.signal_to_noise_db,
                chance: cell.heard.chance,
            };
            join(&mut echoes, echo);
        }
        echoes
    }
}

#[cfg(test)]
mod tests;
