//! The shore thinned for small scales: the coarser the picture, the fewer vertices are looked at.
//!
//! Each level has a tolerance, twice that of the one before. Along a line a vertex is passed over while it lies
//! within the tolerance of the last one kept. So no vertex lies farther than that from the thinned line, nor
//! any part of the thinned line farther from the whole one: the step from a vertex kept to the next one
//! goes beside the step to it from the vertex before, which lies within the tolerance of the one kept. A
//! ring within a quarter of the tolerance is a dot; of several in a square of half of it one stands for all,
//! which moves none by more than the whole.
//!
//! A level is made when it is first asked for: in the time it takes to go along the lines once.

use std::collections::HashSet;
use std::sync::OnceLock;

use rstar::{AABB, RTree};

use super::build::indexed;
use super::run::{Edge, IndexedRun};
use super::{Coast, LandSide, LonLat, RUN_SEGMENTS, Run};
use crate::chart::geobox::GeoBox;
use crate::units::Angle;

/// The tolerance of the finest level, in metres.
const FINEST_M: f64 = 12.5;

/// Levels, each with twice the tolerance of the one before: to 3,200 m.
const LEVELS: usize = 9;

/// From this tolerance on levels are made before they are asked for: finer ones are for places near by.
const MADE_BEFORE_M: f64 = 400.0;

/// Of a coast with no more points at hand every one may be looked at.
const FEW_POINTS: usize = 50_000;

/// More than a degree of any meridian or parallel of WGS84: the longest is the last of latitude,
/// 111,694 m (computed).
const DEGREE_M: f64 = 111_700.0;

/// All levels of a coast, each made when it is first asked for.
#[derive(Default)]
pub(super) struct Levels([OnceLock<Level>; LEVELS]);

/// One level.
struct Level {
    points: Vec<LonLat>,
    runs: RTree<IndexedRun>,
}

/// The tolerance of a level, in metres.
fn tolerance_m(level: usize) -> f64 {
    FINEST_M * (level as f64).exp2()
}

impl Coast {
    /// Whether so many points of it are at hand that a picture of much of it should look at fewer.
    pub fn is_great(&self) -> bool {
        self.points.len() > FEW_POINTS
    }

    /// Runs of shore as [`Coast::runs_in`], thinned so that they lie nowhere farther from the shore than
    /// a tolerance in metres, and the shore nowhere farther from them; `None` for a tolerance finer than that of any
    /// level. Numbers of lines and points are not those of the coast.
    pub fn thinned_runs_in(
        &self,
        area: &GeoBox,
        within_m: f64,
    ) -> Option<impl Iterator<Item = Run<'_>>> {
        let level = (0..LEVELS).rev().find(|level| tolerance_m(*level) <= within_m)?;
        Some(self.level(level)?.runs_in(area))
    }

    /// Makes the levels of small scales of a great coast, so that nobody waits for them.
    pub fn make_levels(&self) {
        if !self.is_great() {
            return;
        }
        for level in (0..LEVELS).filter(|level| tolerance_m(*level) >= MADE_BEFORE_M) {
            self.level(level);
        }
    }

    fn level(&self, level: usize) -> Option<&Level> {
        Some(self.levels.0.get(level)?.get_or_init(|| Level::of(self, tolerance_m(level))))
    }
}

impl Level {
    fn of(coast: &Coast, tolerance_m: f64) -> Self {
        let (thinning, mut dots) = (Thinning::new(tolerance_m), HashSet::new());
        let mut level = Self { points: Vec::new(), runs: RTree::new() };
        let (mut runs, mut kept) = (Vec::new(), Vec::new());
        for (number, line) in coast.lines() {
            if line.closed && !line.has_cuts() && thinning.is_dot(line.points) {
                let place = line.points.first().map(|point| thinning.square(*point));
                if !place.is_some_and(|place| dots.insert(place)) {
                    continue;
                }
            }
            for (edge, stretch) in stretches(&line) {
                if edge == Edge::Seam {
                    continue;
                }
                thinning.thin(stretch, &mut kept);
                level.push(&kept, number, edge, &mut runs);
            }
        }
        level.runs = RTree::bulk_load(runs);
        level
    }

    fn push(&mut self, kept: &[LonLat], line: u32, edge: Edge, runs: &mut Vec<IndexedRun>) {
        let mut from = 0;
        while from + 1 < kept.len() {
            let to = (from + RUN_SEGMENTS).min(kept.len() - 1);
            let own = kept.get(from..=to).unwrap_or_default();
            runs.push(indexed(own, line, self.points.len(), edge));
            self.points.extend_from_slice(own);
            from = to;
        }
    }

    fn runs_in(&self, area: &GeoBox) -> impl Iterator<Item = Run<'_>> {
        let area = *area;
        [-1.0, 0.0, 1.0].into_iter().flat_map(move |turn: f64| {
            let moved = AABB::from_corners(
                [area.west + 360.0 * turn, area.south],
                [area.east + 360.0 * turn, area.north],
            );
            let runs = self.runs.locate_in_envelope_intersecting(moved);
            runs.filter(|run| run.edge == Edge::Shore).filter_map(move |run| {
                let first = run.first as usize;
                let raw = self.points.get(first..=first + usize::from(run.segments))?;
                let shift = 360.0 * (f64::from(run.turn) - turn);
                Some(Run { line: run.line, first, raw, shift, land_side: LandSide::Unknown })
            })
        })
    }
}

/// The stretches of a line that are all of one kind, with the points they share.
fn stretches<'a>(line: &super::ShoreLine<'a>) -> Vec<(Edge, &'a [LonLat])> {
    let points = line.points;
    if !line.has_cuts() {
        return vec![(Edge::Shore, points)];
    }
    let (mut found, mut from) = (Vec::new(), 0);
    let last = points.len().saturating_sub(1);
    for segment in 1..=last {
        if segment == last || line.edge(segment) != line.edge(from) {
            let stretch = points.get(from..=segment).unwrap_or_default();
            found.push((line.edge(from), stretch));
            from = segment;
        }
    }
    found
}

/// How lines are thinned.
struct Thinning {
    degrees: f64,
}

impl Thinning {
    fn new(tolerance_m: f64) -> Self {
        Self { degrees: tolerance_m / DEGREE_M }
    }

    /// Whether two places are surely nearer to one another than a share of the tolerance.
    fn is_near(&self, a: LonLat, b: LonLat, share: f64) -> bool {
        let within = share * self.degrees;
        let north = b.lat - a.lat;
        if north.abs() >= within {
            return false;
        }
        // No wider than at the one nearer to the equator.
        let east = (b.lon - a.lon) * cosine(a.lat.abs().min(b.lat.abs()));
        east * east + north * north < within * within
    }

    /// Keeps the ends, and between them every vertex that is not near the last one kept.
    fn thin(&self, line: &[LonLat], kept: &mut Vec<LonLat>) {
        kept.clear();
        let [first, inner @ .., end] = line else { return };
        kept.push(*first);
        let mut last = *first;
        for point in inner {
            if !self.is_near(last, *point, 1.0) {
                kept.push(*point);
                last = *point;
            }
        }
        kept.push(*end);
    }

    /// Whether a ring is so small that another such near by may stand for it.
    fn is_dot(&self, ring: &[LonLat]) -> bool {
        let Some(first) = ring.first() else { return false };
        ring.iter().all(|point| self.is_near(*first, *point, 0.25))
    }

    /// The square of half the tolerance that a place lies in.
    fn square(&self, at: LonLat) -> (i64, i64) {
        let side = 0.5 * self.degrees;
        let row = (at.lat / side).floor();
        let nearest = (row * side).abs().min(((row + 1.0) * side).abs());
        let column = (at.lon * cosine(nearest) / side).floor();
        (row as i64, column as i64)
    }
}

fn cosine(degrees: f64) -> f64 {
    Angle::from_degrees(degrees).radians().cos()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::Chart;
    use crate::geodesy::{LocalPlane, PlanePoint};

    fn off(from: PlanePoint, a: PlanePoint, b: PlanePoint) -> f64 {
        let (east, north) = (b.east - a.east, b.north - a.north);
        let squared = east * east + north * north;
        let along = (from.east - a.east) * east + (from.north - a.north) * north;
        let share = if squared > 0.0 { (along / squared).clamp(0.0, 1.0) } else { 0.0 };
        (from.east - a.east - share * east).hypot(from.north - a.north - share * north)
    }

    /// The greatest distance from a vertex of one to the lines of the other, metres. Both about 200 NM or less.
    fn farthest(plane: &LocalPlane, from: &[Vec<LonLat>], to: &[Vec<LonLat>]) -> f64 {
        let flat = |lines: &[Vec<LonLat>]| -> Vec<Vec<PlanePoint>> {
            let laid = |line: &Vec<LonLat>| {
                line.iter().map(|point| plane.to_plane(point.position())).collect()
            };
            lines.iter().map(laid).collect()
        };
        let (from, to) = (flat(from), flat(to));
        let nearest = |point: PlanePoint| {
            to.iter()
                .flat_map(|line| line.windows(2))
                .map(|pair| off(point, pair[0], pair[1]))
                .fold(f64::INFINITY, f64::min)
        };
        from.iter().flatten().map(|point| nearest(*point)).fold(0.0, f64::max)
    }

    /// With three places more on each segment.
    fn closer(lines: &[Vec<LonLat>]) -> Vec<Vec<LonLat>> {
        let along = |pair: &[LonLat]| {
            let (a, b) = (pair[0], pair[1]);
            [0.0, 0.25, 0.5, 0.75, 1.0].map(|share| LonLat {
                lon: a.lon + share * (b.lon - a.lon),
                lat: a.lat + share * (b.lat - a.lat),
            })
        };
        lines.iter().map(|line| line.windows(2).flat_map(along).collect()).collect()
    }

    #[test]
    fn a_level_lies_within_its_tolerance_of_the_shore_and_the_shore_of_it() {
        // Natural Earth (public domain): see `SOURCE.md` beside it.
        let aegean = include_bytes!("../../../tests/reference/natural-earth-coasts/aegean.shp");
        let aegean = Chart::from_files("Aegean", &[("coast.shp", aegean)]).unwrap();
        let sample = Chart::sample().unwrap();
        for chart in [&aegean, &sample] {
            let coast = chart.coast();
            let extent = coast.extent().unwrap();
            let plane = LocalPlane::new(extent.centre());
            let points = |run: Run<'_>| run.points().collect::<Vec<_>>();
            let whole: Vec<Vec<LonLat>> = coast.runs_in(&extent).map(points).collect();
            let count = |lines: &[Vec<LonLat>]| lines.iter().map(Vec::len).sum::<usize>();
            let mut before = count(&whole) + 1;
            for tolerance in [200.0, 800.0, 3_200.0] {
                let thinned = coast.thinned_runs_in(&extent, 1.01 * tolerance).unwrap();
                let thinned: Vec<Vec<LonLat>> = thinned.map(points).collect();
                let there = farthest(&plane, &whole, &thinned);
                let back = farthest(&plane, &closer(&thinned), &whole);
                // The plane stretches by up to a part in 700.
                assert!(there <= 1.002 * tolerance, "{} {tolerance}: {there}", chart.name());
                assert!(back <= 1.002 * tolerance, "{} {tolerance}: {back}", chart.name());
                assert!(count(&thinned) <= before, "{tolerance}: {} {before}", count(&thinned));
                before = count(&thinned);
            }
            assert!(3 * before < count(&whole), "{before} of {}", count(&whole));
        }
    }

    #[test]
    fn a_tolerance_finer_than_any_level_has_none() {
        let sample = Chart::sample().unwrap();
        let extent = sample.coast().extent().unwrap();
        assert!(sample.coast().thinned_runs_in(&extent, 12.0).is_none());
    }

    #[test]
    fn of_a_crowd_of_rocks_one_stands_for_those_beside_it() {
        let thinning = Thinning::new(800.0);
        for lat in [0.0, -38.0, 71.3] {
            let at = LonLat { lon: 21.0, lat };
            let mut farthest: f64 = 0.0;
            for i in 0..400 {
                let step = f64::from(i) / 20.0 * 40.0 / DEGREE_M;
                let other = LonLat { lon: at.lon + step / cosine(lat), lat: at.lat + 0.3 * step };
                if thinning.square(at) == thinning.square(other) {
                    let (east, north) = (other.lon - at.lon, other.lat - at.lat);
                    farthest = farthest.max((east * cosine(lat)).hypot(north) * DEGREE_M);
                }
            }
            assert!(farthest > 0.0 && farthest <= 0.75 * 800.0, "{lat}: {farthest}");
        }
    }
}
