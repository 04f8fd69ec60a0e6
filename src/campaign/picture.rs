//! What the set shows from one place: on every bearing the first land that can be seen, blurred by
//! the beam.
//!
//! Rays are cast at the shore where it truly lies. Land shows out to the horizon of the antenna
//! over it (4/3 Earth), and where the chart tells heights, higher ground behind a shore that lies
//! below the horizon. What lies behind the first land of a bearing is taken to run into it.

#![expect(clippy::cast_possible_wrap, reason = "rays are counted in thousands")]

use std::collections::HashMap;
use std::f64::consts::TAU;
use std::sync::LazyLock;

use super::relief::Relief;
use super::shore::Stretch;
use crate::geodesy::{LocalPlane, PlanePoint, Position};

/// Rays all round: one each tenth of a degree.
pub const RAYS: usize = 3_600;

/// Four thirds of the mean radius of the Earth, in metres: 4/3 · 6371 km.
pub const BENT_EARTH_M: f64 = 8_494_667.0;

/// The mean radius itself.
const EARTH_M: f64 = 6_371_000.0;

/// The ground at a shore whose height nothing tells, in metres: 10 ft.
const SHORE_M: f64 = 3.05;

/// The step along a ray over ground of known height, in metres.
const MARCH_M: f64 = 100.0;

/// A cell of range in which shore is kept, in metres: wider than the shore's points are apart.
const SHORE_CELL_M: f64 = 450.0;

/// Cells of range kept for each ray, in words of 64: 276 of them, 67 NM.
const SHORE_WORDS: usize = 5;

static DIRECTIONS: LazyLock<Vec<(f64, f64)>> =
    LazyLock::new(|| (0..RAYS).map(|ray| azimuth(ray as f64).sin_cos()).collect());

/// The set as far as the picture goes.
#[derive(Debug, Clone, Copy)]
pub struct Scope {
    /// Of the antenna, above the sea.
    pub height_m: f64,
    /// The radius of the Earth by which rays are straight: [`BENT_EARTH_M`] in common air.
    pub bent_m: f64,
    /// Echoes run into each other within it.
    pub beam_deg: f64,
    /// The pulse in range: nothing finer shows.
    pub cell_m: f64,
    /// The scale in use.
    pub reach_m: f64,
}

/// The picture from one place.
pub struct Picture {
    /// About own place.
    pub plane: LocalPlane,
    /// What it was made with.
    pub scope: Scope,
    /// Along the ground to the leading edge of the echo on each ray, metres; infinite where none.
    pub edge: Vec<f64>,
    /// The ray whose land paints it.
    pub painter: Vec<usize>,
    /// The same before the beam blurs it.
    pub land: Vec<f64>,
    /// The line of the chart that it is of.
    pub line: Vec<u32>,
    /// Which cells of range hold shore on each ray, seen over nearer land or not.
    shores: Vec<[u64; SHORE_WORDS]>,
    /// The nearest and the farthest range of each small island.
    pub small: HashMap<u32, (f64, f64)>,
}

/// Radians of a ray.
pub fn azimuth(ray: f64) -> f64 {
    ray * TAU / RAYS as f64
}

/// The ray so many steps on, all round.
pub fn ray(index: i64) -> usize {
    index.rem_euclid(RAYS as i64) as usize
}

impl Picture {
    /// Casts the rays and blurs what they meet.
    pub fn new(own: Position, shore: &[Stretch], relief: Option<&Relief>, scope: Scope) -> Self {
        let plane = LocalPlane::new(own);
        let (mut land, mut line) = (vec![f64::INFINITY; RAYS], vec![u32::MAX; RAYS]);
        let mut shores = vec![[0; SHORE_WORDS]; RAYS];
        let mut small: HashMap<u32, (f64, f64)> = HashMap::new();
        for stretch in shore {
            let flat: Vec<PlanePoint> = stretch.points.iter().map(|p| plane.to_plane(*p)).collect();
            if stretch.small {
                let extent = small.entry(stretch.line).or_insert((f64::INFINITY, 0.0));
                for range in flat.iter().map(|p| p.east.hypot(p.north)) {
                    *extent = (extent.0.min(range), extent.1.max(range));
                }
            }
            for point in &flat {
                let cell = (point.east.hypot(point.north) / SHORE_CELL_M) as usize;
                let at = point.east.atan2(point.north) * RAYS as f64 / TAU;
                if let Some(word) = shores[ray(at.round() as i64)].get_mut(cell / 64) {
                    *word |= 1 << (cell % 64);
                }
            }
            for pair in flat.windows(2) {
                meet(pair[0], pair[1], |ray, range| {
                    if range < land[ray] && range <= scope.reach_m {
                        (land[ray], line[ray]) = (range, stretch.line);
                    }
                });
            }
        }
        for (ray, range) in land.iter_mut().enumerate().filter(|(_, range)| range.is_finite()) {
            *range = first_lit(&plane, ray, *range, relief, scope).unwrap_or(f64::INFINITY);
        }
        let half = scope.half_beam();
        let painter: Vec<usize> = (0..RAYS)
            .map(|at| {
                let within = (-half..=half).map(|step| ray(at as i64 + step));
                within.min_by(|a, b| land[*a].total_cmp(&land[*b])).unwrap_or(at)
            })
            .collect();
        let edge = painter.iter().map(|painter| land[*painter]).collect();
        Self { plane, scope, edge, painter, land, line, shores, small }
    }

    /// The point of the plane at the leading edge on a ray.
    pub fn point(&self, ray: usize) -> PlanePoint {
        let (sin, cos) = DIRECTIONS[ray];
        PlanePoint { east: self.edge[ray] * sin, north: self.edge[ray] * cos }
    }

    /// The share of a stretch of range that holds shore within half a beam of a ray.
    pub fn shore_along(&self, at: usize, from_m: f64, to_m: f64) -> f64 {
        let half = self.scope.half_beam() + 1;
        let cells = (from_m / SHORE_CELL_M).ceil() as usize..(to_m / SHORE_CELL_M) as usize;
        let of = cells.len().max(1);
        let holds = |cell: &usize| {
            (-half..=half).any(|step| {
                let word = self.shores[ray(at as i64 + step)].get(cell / 64).copied();
                word.unwrap_or_default() >> (cell % 64) & 1 == 1
            })
        };
        cells.filter(holds).count() as f64 / of as f64
    }

    /// Where the land is that paints a ray.
    pub fn painted_place(&self, ray: usize) -> Position {
        let painter = self.painter[ray];
        let ((sin, cos), range) = (DIRECTIONS[painter], self.land[painter]);
        self.plane.to_position(PlanePoint { east: range * sin, north: range * cos })
    }

    /// The slant range of what lies so far along the ground at the shore's height.
    pub fn slant(&self, ground_m: f64) -> f64 {
        let (own, there) = (EARTH_M + self.scope.height_m, EARTH_M + SHORE_M);
        let half = (0.5 * ground_m / EARTH_M).sin();
        ((own - there).powi(2) + 4.0 * own * there * half * half).sqrt()
    }

    /// How far along the ground something of this height shows over the sea.
    pub fn horizon_m(&self, height_m: f64) -> f64 {
        self.scope.horizon_m(height_m)
    }
}

impl Scope {
    /// How far along the ground something of this height shows over the sea.
    pub fn horizon_m(&self, height_m: f64) -> f64 {
        (2.0 * self.bent_m * self.height_m).sqrt() + (2.0 * self.bent_m * height_m).sqrt()
    }

    /// Half the beam in whole rays.
    pub fn half_beam(&self) -> i64 {
        (0.5 * self.beam_deg * RAYS as f64 / 360.0).round() as i64
    }
}

/// Tells every ray that a piece of shore meets, and at what range.
fn meet(a: PlanePoint, b: PlanePoint, mut tell: impl FnMut(usize, f64)) {
    let per_radian = RAYS as f64 / TAU;
    let (start, end) = (a.east.atan2(a.north), b.east.atan2(b.north));
    let span = end - start - TAU * ((end - start) / TAU).round();
    let (low, high) = if span < 0.0 { (start + span, start) } else { (start, start + span) };
    let (first, last) = ((low * per_radian).ceil() as i64, (high * per_radian).floor() as i64);
    let along = PlanePoint { east: b.east - a.east, north: b.north - a.north };
    for index in first..=last {
        let (sin, cos) = DIRECTIONS[ray(index)];
        let across = sin * along.north - cos * along.east;
        let range = if across.abs() < 1e-9 {
            a.east.hypot(a.north).min(b.east.hypot(b.north))
        } else {
            (a.east * along.north - a.north * along.east) / across
        };
        if range > 0.0 {
            tell(ray(index), range);
        }
    }
}

/// Along a ray from its first land: where the first ground lies that the antenna sees.
fn first_lit(
    plane: &LocalPlane,
    ray: usize,
    first: f64,
    relief: Option<&Relief>,
    scope: Scope,
) -> Option<f64> {
    let (own, bent) = (scope.height_m, scope.bent_m);
    let slope = |height: f64, range: f64| (height - own) / range - range / (2.0 * bent);
    let dip = -(2.0 * own / bent).sqrt();
    let sea = (2.0 * bent * own).sqrt();
    if first <= sea || slope(SHORE_M, first) >= dip {
        return Some(first);
    }
    let relief = relief?;
    let (sin, cos) = DIRECTIONS[ray];
    let steps = ((scope.reach_m - first) / MARCH_M).max(0.0) as usize;
    (1..=steps).map(|step| first + MARCH_M * step as f64).find(|range| {
        let at = PlanePoint { east: range * sin, north: range * cos };
        slope(relief.at(plane.to_position(at)), *range) >= dip
    })
}
