use std::ops::Range;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::super::budget::Budget;
use super::super::fan::Fan;
use super::super::relief::LandSpan;
use super::super::sweep::{Glint, RangeTable};
use super::Frame;
use crate::radar::geometry::{EarthRadius, ground_range};
use crate::units::{GroundRange, Height, SlantRange};

/// What comes back along one ray, for each radian of bearing, in cells of range: amplitude over the
/// noise of one pulse, with its phase, and the mean of its power.
#[derive(Debug, Clone)]
pub(super) struct Field {
    re: Vec<f32>,
    im: Vec<f32>,
    pub mean: Vec<f32>,
}

impl Field {
    /// Nothing in so many cells.
    pub fn none(bins: usize) -> Self {
        let none = vec![0.0; bins];
        Self { re: none.clone(), im: none.clone(), mean: none }
    }

    /// Adds so much of the power of another in some cells.
    pub fn add(&mut self, of: &Self, bins: Range<usize>, weight: f32) {
        let amplitude = weight.sqrt();
        let pairs = [
            (&mut self.re, &of.re, amplitude),
            (&mut self.im, &of.im, amplitude),
            (&mut self.mean, &of.mean, weight),
        ];
        for (sum, of, weight) in pairs {
            if let Some((sum, of)) = sum.get_mut(bins.clone()).zip(of.get(bins.clone())) {
                sum.iter_mut().zip(of).for_each(|(sum, of)| *sum += weight * of);
            }
        }
    }

    /// Power as it comes in each cell, and its mean.
    pub fn powers(&self) -> impl Iterator<Item = (f32, f32)> {
        let echoes = self.re.iter().zip(&self.im).map(|(re, im)| re * re + im * im);
        echoes.zip(self.mean.iter().copied())
    }
}

/// Something that stands up by itself on a ray: a tower, a light, a town's front.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    pub ground_m: f64,
    pub height: Height,
    /// For each radian of bearing.
    pub m2_per_rad: f64,
}

/// Where an echo stands, in cells of range.
#[derive(Debug, Clone, Copy)]
struct Extent {
    from: f64,
    to: f64,
    /// What a cell that it fills has of its power.
    weight: f64,
}

impl Extent {
    /// Of many pieces that follow on each other: a cell has the mean of what lies in it.
    fn spread(from_m: f64, length_m: f64, bin_m: f64) -> Self {
        Self { from: from_m / bin_m, to: (from_m + length_m) / bin_m, weight: 1.0 }
    }

    /// Of one thing: a cell longer than the pulse has all of it.
    fn of_one(from_m: f64, length_m: f64, bin_m: f64) -> Self {
        let weight = (bin_m / length_m).max(1.0);
        Self { weight, ..Self::spread(from_m, length_m, bin_m) }
    }
}

/// The sea under one cell of range.
#[derive(Debug, Clone, Copy)]
struct Water {
    ground_m: f64,
    /// The slope at which it is seen.
    slope: f64,
    /// Over the noise of one pulse, for each radian.
    power: f32,
}

/// The cells of range, and what depends on range alone.
pub(super) struct Screen<'a> {
    budget: &'a Budget,
    bins: usize,
    bin_m: f64,
    seed: u64,
    water: Vec<Option<Water>>,
    rain: Vec<f32>,
}

fn ratio(db: f64) -> f64 {
    10f64.powf(db / 10.0)
}

impl<'a> Screen<'a> {
    pub fn new(budget: &'a Budget, frame: &Frame) -> Self {
        let bin_m = frame.bin_m();
        let ground = |bin: usize| {
            let slant = SlantRange::clamped_metres((bin as f64 + 0.5) * bin_m);
            ground_range(slant, budget.own(), Height::SEA_LEVEL, EarthRadius::MEAN).ok()
        };
        let water = |along: GroundRange| {
            let ground_m = along.metres().max(1.0);
            let share = ground_m / budget.across_m(ground_m);
            let power = budget.sea_m2(ground_m) * share * ratio(budget.base_db(ground_m));
            Water { ground_m, slope: budget.sea_slope(ground_m), power: power as f32 }
        };
        let rain = |along: GroundRange| {
            let ground_m = along.metres().max(1.0);
            (budget.rain_m2(ground_m) * ratio(budget.base_db(ground_m))) as f32
        };
        let along: Vec<Option<GroundRange>> = (0..frame.bins).map(ground).collect();
        Self {
            budget,
            bins: frame.bins,
            bin_m,
            seed: frame.seed,
            water: along.iter().map(|along| along.map(water)).collect(),
            rain: along.iter().map(|along| along.map_or(0.0, rain)).collect(),
        }
    }

    /// Rain in each cell of range within one beam, over the noise of one pulse.
    pub fn rain(&self) -> Vec<f32> {
        self.rain.clone()
    }

    /// What comes back along the ray of this number.
    pub fn field(
        &self,
        ray: usize,
        (spans, glints, points): (&[LandSpan], &[Glint], &[Point]),
        fan: &Fan,
        table: &RangeTable,
    ) -> Field {
        let mut field = Field::none(self.bins);
        let mut draw = ChaCha8Rng::seed_from_u64(self.seed);
        draw.set_stream(ray as u64);
        let set = self.budget.set();
        let pulse_m = set.pulse_length_m();
        // Ground across the edge of the chart is not known to begin where it is charted.
        for glint in glints.iter().filter(|glint| glint.m2_per_rad > 0.0 && !glint.across_cut) {
            let sample = glint.sample as usize;
            let Some(base_db) = table.base_db.get(sample) else { continue };
            let height = Height::from_metres(f64::from(glint.height)).unwrap_or_default();
            let power = f64::from(glint.m2_per_rad) * ratio(*base_db);
            // The ground of a sample lies in the step before it.
            let near_m = (fan.distance_m(sample) - fan.step_m).max(1.0);
            let from_m = set.appears_at(self.budget.slant(near_m, height)).metres();
            let along_m = f64::from(glint.along_m);
            let echo = if along_m > 0.0 {
                Extent::spread(from_m, pulse_m.max(along_m), self.bin_m)
            } else {
                Extent::of_one(from_m, pulse_m, self.bin_m)
            };
            self.answer(&mut field, echo, power as f32, &mut draw);
        }
        for point in points {
            let slant = self.budget.slant(point.ground_m, point.height);
            let power = point.m2_per_rad * ratio(self.budget.base_db(point.ground_m));
            let from_m = set.appears_at(slant).metres();
            let echo = Extent::of_one(from_m, pulse_m, self.bin_m);
            self.answer(&mut field, echo, power as f32, &mut draw);
        }
        self.sea(&mut field, spans, fan, &mut draw);
        field
    }

    /// Lays an echo of a random phase into the cells that it fills.
    fn answer(&self, field: &mut Field, echo: Extent, power: f32, draw: &mut ChaCha8Rng) {
        let half = (0.5 * power).sqrt();
        let re: f32 = StandardNormal.sample(draw);
        let im: f32 = StandardNormal.sample(draw);
        let last = (echo.to.ceil() as usize).min(self.bins);
        for bin in echo.from as usize..last {
            let overlap = echo.to.min(bin as f64 + 1.0) - echo.from.max(bin as f64);
            let filled = (overlap * echo.weight) as f32;
            let cells =
                field.re.get_mut(bin).zip(field.im.get_mut(bin)).zip(field.mean.get_mut(bin));
            if let Some(((in_re, in_im), mean)) = cells {
                let share = filled.sqrt() * half;
                *in_re += share * re;
                *in_im += share * im;
                *mean += filled * power;
            }
        }
    }

    /// The sea's return where it is in sight and not land.
    fn sea(&self, field: &mut Field, spans: &[LandSpan], fan: &Fan, draw: &mut ChaCha8Rng) {
        let mut steepest = f64::NEG_INFINITY;
        let mut heights = spans.iter().flat_map(|span| {
            let samples = span.heights.iter().enumerate();
            samples.map(|(i, height)| (fan.distance_m(span.first + i), f64::from(*height)))
        });
        let mut next = heights.next();
        let mut ahead = spans;
        // What a pulse holds, from each cell of the pulse.
        let pulse_m = self.budget.set().pulse_length_m().max(self.bin_m);
        let share = (self.bin_m / pulse_m) as f32;
        for (bin, water) in self.water.iter().enumerate() {
            let Some(water) = water else { continue };
            while let Some((ground_m, height)) = next.filter(|(at, _)| *at < water.ground_m) {
                steepest = steepest.max(self.budget.sea_slope(ground_m) + height / ground_m);
                next = heights.next();
            }
            while let Some((_, beyond)) =
                ahead.split_first().filter(|(span, _)| span.end_m <= water.ground_m)
            {
                ahead = beyond;
            }
            let land = ahead.first().is_some_and(|span| span.start_m <= water.ground_m);
            if land || water.slope < steepest || water.power <= 0.0 {
                continue;
            }
            let echo = Extent::spread(bin as f64 * self.bin_m, pulse_m, self.bin_m);
            self.answer(field, echo, water.power * share, draw);
        }
    }
}

/// The picture of one cell of range as noise, rain and pulses make it.
pub(super) struct Receiver {
    pulses: f32,
    /// Where the receiver is open again, in cells of range.
    pub open_from: usize,
}

/// Streams of chance of the receivers begin here; those below are the rays'.
pub(super) const RECEIVER_STREAM: u64 = 1 << 32;

/// How far a cell in which the receiver is shut lies under the noise.
pub(super) const SHUT_DB: f32 = f32::NEG_INFINITY;

impl Receiver {
    pub fn new(budget: &Budget, frame: &Frame) -> Self {
        let set = budget.set();
        Self {
            pulses: set.pulses_on_target() as f32,
            open_from: (set.blind_range().metres() / frame.bin_m()) as usize,
        }
    }

    /// What the eye is shown of an echo of this power and of noise and rain of mean `weak`, both
    /// over the noise of one pulse: the mean of the squares of so many pulses.
    ///
    /// That mean has the expectation S + w and the variance (w² + 2 S w)/N, and very nearly a
    /// gamma law; drawn by the cube-root rule of Wilson and Hilferty (1931, from memory).
    pub fn shown(&self, echo: f32, weak: f32, draw: &mut ChaCha8Rng) -> f32 {
        let mean = echo + weak;
        let variance = weak * (weak + 2.0 * echo) / self.pulses;
        let ninth = variance / (9.0 * mean * mean).max(f32::MIN_POSITIVE);
        let normal: f32 = StandardNormal.sample(draw);
        mean * (1.0 - ninth + normal * ninth.sqrt()).max(0.0).powi(3)
    }
}

/// Decibels of a power over the noise.
pub(super) fn level(power: f32) -> f32 {
    10.0 * power.max(1e-6).log10()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn added_pulses_have_the_mean_and_scatter_of_a_square_law_receiver() {
        // The outside here is the definition: pulses with and without an echo drawn one by one,
        // squared and added. Seed 3; 20,000 trials are good to 2 % in both.
        let mut draw = ChaCha8Rng::seed_from_u64(3);
        for (pulses, echo, weak) in [(5u16, 0.0f32, 1.0f32), (13, 4.0, 1.0), (20, 2.0, 6.0)] {
            let receiver = Receiver { pulses: f32::from(pulses), open_from: 0 };
            let one_by_one = |draw: &mut ChaCha8Rng| {
                let half = (0.5 * weak).sqrt();
                let each = (0..pulses).map(|_| {
                    let (u, v): (f32, f32) =
                        (StandardNormal.sample(draw), StandardNormal.sample(draw));
                    (echo.sqrt() + half * u).powi(2) + (half * v).powi(2)
                });
                each.sum::<f32>() / f32::from(pulses)
            };
            let moments = |values: &[f32]| {
                let count = values.len() as f64;
                let mean = values.iter().map(|v| f64::from(*v)).sum::<f64>() / count;
                let spread = values.iter().map(|v| (f64::from(*v) - mean).powi(2)).sum::<f64>();
                (mean, (spread / count).sqrt())
            };
            let drawn: Vec<f32> = (0..20_000).map(|_| one_by_one(&mut draw)).collect();
            let ours: Vec<f32> =
                (0..20_000).map(|_| receiver.shown(echo, weak, &mut draw)).collect();
            let ((m1, s1), (m2, s2)) = (moments(&drawn), moments(&ours));
            assert!((m2 / m1 - 1.0).abs() < 0.02, "{pulses}: {m1} {m2}");
            assert!((s2 / s1 - 1.0).abs() < 0.03, "{pulses}: {s1} {s2}");
        }
    }
}
