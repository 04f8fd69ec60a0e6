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

struct Chunk {
    points: Vec<PlanePoint>,
    middle: PlanePoint,
    radius: f64,
}

/// The bearings that a trace spans, with room to both sides.
pub(super) struct Fan {
    centre: f64,
    half: f64,
    step: f64,
    /// Bins on each side that lie within half a beam.
    beam: usize,
    /// East and north of each bin's direction.
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
        let directions =
            (0..count).map(|bin| (centre - half + step * bin as f64).sin_cos()).collect();
        let beam = (half_beam / step).round() as usize;
        Self { centre, half, step, beam, directions, reach }
    }

    /// Nothing farther is looked for, metres.
    pub fn reach(&self) -> f64 {
        self.reach
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

    /// The first shore that can paint on each bearing of the fan, within half a beam of it.
    pub fn edge<'f>(&self, own: PlanePoint, fan: &'f Fan) -> Edge<'f> {
        let mut first = vec![f64::INFINITY; fan.directions.len()];
        for chunk in self.chunks.iter().filter(|chunk| chunk.touches(own, fan)) {
            chunk.draw(own, fan, &mut first);
        }
        for (range, direction) in first.iter_mut().zip(&fan.directions) {
            if *range > self.sight.horizon && range.is_finite() {
                *range = self.sight.shows(own, *direction, *range);
            }
        }
        Edge { fan, ranges: nearest_within(&first, fan.beam) }
    }
}

impl Edge<'_> {
    /// The range on a bearing, metres; none where no shore paints there, or outside the fan.
    pub fn at(&self, bearing: f64) -> Option<f64> {
        let bin = (turn(bearing - self.fan.centre) + self.fan.half) / self.fan.step;
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

    /// Whether any of it may lie in the fan.
    fn touches(&self, own: PlanePoint, fan: &Fan) -> bool {
        let (east, north) = (self.middle.east - own.east, self.middle.north - own.north);
        let far = east.hypot(north);
        if far - self.radius > fan.reach {
            return false;
        }
        if far <= self.radius || fan.half >= PI {
            return true;
        }
        let aside = turn(east.atan2(north) - fan.centre).abs();
        aside - (self.radius / far).asin() <= fan.half + fan.step
    }

    /// Marks the range of each of its pieces on every bearing that it spans.
    fn draw(&self, own: PlanePoint, fan: &Fan, first: &mut [f64]) {
        let mut before: Option<(f64, f64, f64)> = None;
        for point in &self.points {
            let (east, north) = (point.east - own.east, point.north - own.north);
            let aside = turn(east.atan2(north) - fan.centre);
            if let Some((e, n, last)) = before {
                let other = last + turn(aside - last);
                draw_piece((e, n), (east, north), (last, other), fan, first);
            }
            let bin = (aside + fan.half) / fan.step;
            if bin >= -0.5
                && let Some(slot) = first.get_mut(bin.round() as usize)
            {
                *slot = slot.min(east.hypot(north));
            }
            before = Some((east, north, aside));
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
            let (Some(slot), Some((east, north))) = (first.get_mut(bin), fan.directions.get(bin))
            else {
                break;
            };
            let range = area / (east * along.1 - north * along.0);
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
pub(super) fn turn(radians: f64) -> f64 {
    Angle::from_radians(radians).radians()
}
