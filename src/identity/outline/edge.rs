use std::cell::RefCell;
use std::collections::HashMap;
use std::f64::consts::PI;

use crate::geodesy::PlanePoint;
use crate::units::Angle;

/// Points of a chunk of shore that is passed over as one.
const CHUNK: usize = 16;
/// Bins of the fan for each half beam.
const BINS_A_HALF_BEAM: f64 = 4.0;
/// The finest and the coarsest step of the fan, radians.
const STEPS_RAD: [f64; 2] = [0.001_5, 0.01];
/// After so many chunks it is asked whether the rest is hidden.
const LOOKED_AT: usize = 8;
/// How far behind a shore below the horizon the land that does show is looked for, metres, and in
/// steps of how much.
const INLAND_M: f64 = 5_000.0;
const INLAND_STEP_M: f64 = 200.0;
/// Heights are looked up once for each cell of this size, metres.
const HEIGHT_CELL_M: f64 = 250.0;

/// Shore laid flat, ready to be looked at from many places.
pub(super) struct Shore<'a> {
    chunks: Vec<Chunk>,
    sight: Sightline<'a>,
}

/// What hides below the curve of the Earth.
pub(super) struct Sightline<'a> {
    /// How far the sea is in sight, metres.
    pub horizon: f64,
    /// Effective radius of the Earth, metres.
    pub radius: f64,
    /// Height of the ground at a point of the plane, metres.
    pub height: &'a dyn Fn(PlanePoint) -> f64,
    pub known: RefCell<HashMap<(i32, i32), f64>>,
}

/// What of a shore may be seen in a fan from about one place, nearest first.
pub(super) struct View<'v> {
    /// With how near to that place each may come, metres.
    chunks: Vec<(f64, &'v Chunk)>,
    about: PlanePoint,
    sight: &'v Sightline<'v>,
    fan: &'v Fan,
}

struct Chunk {
    points: Vec<PlanePoint>,
    middle: PlanePoint,
    radius: f64,
}

/// The bearings that a trace spans, with room to both sides.
pub(super) struct Fan {
    centre: f64,
    /// East and north of its middle.
    middle: (f64, f64),
    half: f64,
    step: f64,
    /// Bins on each side that lie within half a beam.
    beam: usize,
    /// Across the fan's middle and along it, of each bin's direction.
    directions: Vec<(f64, f64)>,
    /// Nothing farther is looked for, metres.
    reach: f64,
}

/// The range of the first shore that can paint, by bearing, as seen from one place.
pub(super) struct Edge<'f> {
    fan: &'f Fan,
    ranges: Vec<f64>,
}

impl Fan {
    /// A fan over these bearings and `margin` radians to both sides.
    pub fn over(
        bearings: impl Iterator<Item = f64> + Clone,
        margin: f64,
        half_beam: f64,
        reach: f64,
    ) -> Self {
        let (east, north) =
            bearings.clone().fold((0.0, 0.0), |(e, n), b| (e + b.sin(), n + b.cos()));
        let centre = f64::atan2(east, north);
        let widest = bearings.map(|b| turn(b - centre).abs()).fold(0.0, f64::max);
        let half = (widest + margin + half_beam).min(PI);
        let step = (half_beam / BINS_A_HALF_BEAM).clamp(STEPS_RAD[0], STEPS_RAD[1]);
        let count = (2.0 * half / step).ceil() as usize + 1;
        let directions = (0..count).map(|bin| (step * bin as f64 - half).sin_cos()).collect();
        let beam = (half_beam / step).round() as usize;
        Self { centre, middle: centre.sin_cos(), half, step, beam, directions, reach }
    }

    /// Nothing farther is looked for, metres.
    pub fn reach(&self) -> f64 {
        self.reach
    }

    /// How far a bearing lies off the middle, radians.
    pub fn aside(&self, bearing: f64) -> f64 {
        turn(bearing - self.centre)
    }

    /// Across the middle and along it, of something so far east and north.
    fn across_along(&self, (east, north): (f64, f64)) -> (f64, f64) {
        let (sin, cos) = self.middle;
        (east * cos - north * sin, east * sin + north * cos)
    }

    /// East and north of something so far across the middle and along it.
    fn east_north(&self, (across, along): (f64, f64)) -> (f64, f64) {
        let (sin, cos) = self.middle;
        (across * cos + along * sin, along * cos - across * sin)
    }
}

impl<'a> Shore<'a> {
    pub fn new(lines: &[Vec<PlanePoint>], sight: Sightline<'a>) -> Self {
        let mut chunks = Vec::new();
        for line in lines {
            let mut rest = line.as_slice();
            while rest.len() >= 2 {
                let (points, _) = rest.split_at(rest.len().min(CHUNK + 1));
                chunks.push(Chunk::of(points.to_vec()));
                rest = rest.get(CHUNK..).unwrap_or_default();
            }
        }
        Self { chunks, sight }
    }

    /// The part of it that may be seen in a fan from places within so many metres of one.
    pub fn view<'v>(&'v self, about: PlanePoint, within: f64, fan: &'v Fan) -> View<'v> {
        let mut chunks: Vec<(f64, &Chunk)> = self
            .chunks
            .iter()
            .filter(|chunk| chunk.touches(about, within, fan))
            .map(|chunk| (chunk.middle.distance(about) - chunk.radius, chunk))
            .collect();
        chunks.sort_by(|a, b| a.0.total_cmp(&b.0));
        View { chunks, about, sight: &self.sight, fan }
    }
}

impl<'v> View<'v> {
    /// The first shore that can paint on each bearing of the fan, within half a beam of it.
    pub fn edge(&self, own: PlanePoint) -> Edge<'v> {
        let fan = self.fan;
        let moved = own.distance(self.about);
        let mut first = vec![f64::INFINITY; fan.directions.len()];
        for (number, (near, chunk)) in self.chunks.iter().enumerate() {
            // The rest lies behind what is drawn already.
            if number % LOOKED_AT == 0 && first.iter().all(|range| *range < near - moved) {
                break;
            }
            chunk.draw(own, fan, &mut first);
        }
        for (range, direction) in first.iter_mut().zip(&fan.directions) {
            if *range > self.sight.horizon && range.is_finite() {
                *range = self.sight.shows(own, fan.east_north(*direction), *range);
            }
        }
        Edge { fan, ranges: nearest_within(&first, fan.beam) }
    }
}

impl Edge<'_> {
    /// The range so far off the fan's middle, metres; none where no shore paints there, or outside
    /// the fan.
    pub fn at(&self, aside: f64) -> Option<f64> {
        let bin = (turn(aside) + self.fan.half) / self.fan.step;
        if bin < 0.0 {
            return None;
        }
        let (low, share) = (bin.floor() as usize, bin.fract());
        let a = self.ranges.get(low).copied()?;
        let b = self.ranges.get(low + 1).copied().unwrap_or(a);
        let range = match (a.is_finite(), b.is_finite()) {
            (true, true) => a + share * (b - a),
            (true, false) => a,
            (false, true) => b,
            (false, false) => return None,
        };
        Some(range)
    }
}

impl Sightline<'_> {
    /// Where land that stands above the horizon first shows, from a shore that lies below it.
    fn shows(&self, own: PlanePoint, (east, north): (f64, f64), shore: f64) -> f64 {
        let steps = (INLAND_M / INLAND_STEP_M) as usize;
        (0..=steps)
            .map(|step| shore + INLAND_STEP_M * step as f64)
            .find(|range| {
                let hidden = (range - self.horizon).powi(2) / (2.0 * self.radius);
                let at =
                    PlanePoint { east: own.east + east * range, north: own.north + north * range };
                self.height_at(at) >= hidden
            })
            .unwrap_or(f64::INFINITY)
    }

    fn height_at(&self, at: PlanePoint) -> f64 {
        let key =
            ((at.east / HEIGHT_CELL_M).round() as i32, (at.north / HEIGHT_CELL_M).round() as i32);
        let known = self.known.borrow().get(&key).copied();
        known.unwrap_or_else(|| {
            let middle = PlanePoint {
                east: f64::from(key.0) * HEIGHT_CELL_M,
                north: f64::from(key.1) * HEIGHT_CELL_M,
            };
            let height = (self.height)(middle);
            self.known.borrow_mut().insert(key, height);
            height
        })
    }
}

impl Chunk {
    fn of(points: Vec<PlanePoint>) -> Self {
        let count = points.len().max(1) as f64;
        let sum = points.iter().fold((0.0, 0.0), |(e, n), p| (e + p.east, n + p.north));
        let middle = PlanePoint { east: sum.0 / count, north: sum.1 / count };
        let radius = points.iter().map(|p| p.distance(middle)).fold(0.0, f64::max);
        Self { points, middle, radius }
    }

    /// Whether any of it may lie in the fan from a place within so many metres of one.
    fn touches(&self, about: PlanePoint, within: f64, fan: &Fan) -> bool {
        let (east, north) = (self.middle.east - about.east, self.middle.north - about.north);
        let (far, radius) = (east.hypot(north), self.radius + within);
        if far - radius > fan.reach {
            return false;
        }
        if far <= radius || fan.half >= PI {
            return true;
        }
        let aside = turn(east.atan2(north) - fan.centre).abs();
        aside - (radius / far).asin() <= fan.half + fan.step
    }

    /// Marks the range of each of its pieces on every bearing that it spans.
    fn draw(&self, own: PlanePoint, fan: &Fan, first: &mut [f64]) {
        let mut before: Option<((f64, f64), f64)> = None;
        for point in &self.points {
            let at = fan.across_along((point.east - own.east, point.north - own.north));
            let aside = angle(at);
            if let Some((last, from)) = before {
                draw_piece(last, at, (from, from + turn(aside - from)), fan, first);
            }
            let bin = (aside + fan.half) / fan.step;
            if bin >= -0.5
                && let Some(slot) = first.get_mut(bin.round() as usize)
            {
                *slot = slot.min((at.0 * at.0 + at.1 * at.1).sqrt());
            }
            before = Some((at, aside));
        }
    }
}

/// One straight piece of shore from `a` to `b`, at these angles off the fan's centre.
fn draw_piece(a: (f64, f64), b: (f64, f64), (from, to): (f64, f64), fan: &Fan, first: &mut [f64]) {
    let along = (b.0 - a.0, b.1 - a.1);
    let area = a.0 * along.1 - a.1 * along.0;
    // A piece across the seam opposite to the centre is seen at both ends of a whole circle.
    let seam = if fan.half < PI { &[0.0][..] } else { &[0.0, -2.0 * PI, 2.0 * PI][..] };
    for whole in seam {
        let (low, high) = (from.min(to) + whole + fan.half, from.max(to) + whole + fan.half);
        if high < 0.0 || low > 2.0 * fan.half + fan.step {
            continue;
        }
        let (low, high) =
            ((low / fan.step).ceil().max(0.0) as usize, (high / fan.step).floor() as usize);
        for bin in low..=high {
            let (Some(slot), Some((sin, cos))) = (first.get_mut(bin), fan.directions.get(bin))
            else {
                break;
            };
            let range = area / (sin * along.1 - cos * along.0);
            if range >= 0.0 && range < *slot {
                *slot = range;
            }
        }
    }
}

/// The least within so many places to both sides.
fn nearest_within(ranges: &[f64], reach: usize) -> Vec<f64> {
    (0..ranges.len())
        .map(|bin| {
            let window = bin.saturating_sub(reach)..(bin + reach + 1).min(ranges.len());
            ranges.get(window).unwrap_or_default().iter().copied().fold(f64::INFINITY, f64::min)
        })
        .collect()
}

/// An angle in `(-π, π]`.
fn turn(radians: f64) -> f64 {
    Angle::from_radians(radians).radians()
}

/// The angle off the middle of what lies so far across it and along it, to within 1.2e-5 radians: a
/// hundredth part of the finest step.
///
/// Polynomial of the arc tangent: M. Abramowitz and I. A. Stegun, "Handbook of Mathematical
/// Functions", 1964, 4.4.47 (from memory; its greatest error, 1.15e-5, computed).
fn angle((across, along): (f64, f64)) -> f64 {
    let (aside, ahead) = (across.abs(), along.abs());
    let (less, more) = if aside < ahead { (aside, ahead) } else { (ahead, aside) };
    if more <= 0.0 {
        return 0.0;
    }
    let x = less / more;
    let square = x * x;
    let arc = x
        * (0.999_866_0
            + square
                * (-0.330_299_5
                    + square * (0.180_141_0 + square * (-0.085_133_0 + square * 0.020_835_1))));
    let from_middle = if aside < ahead { arc } else { 0.5 * PI - arc };
    let off = if along < 0.0 { PI - from_middle } else { from_middle };
    if across < 0.0 { -off } else { off }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_quick_angle_is_near_enough_to_the_exact_one() {
        for i in -6_283..=6_283 {
            let exact = f64::from(i) * 5e-4;
            let (sin, cos) = exact.sin_cos();
            assert!(turn(angle((7.0 * sin, 7.0 * cos)) - exact).abs() < 1.2e-5, "{exact}");
        }
        assert!(angle((0.0, 0.0)).abs() <= 0.0);
    }
}
