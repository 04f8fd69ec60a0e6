//! The shoreline: every line of it once, and an index of short runs of its segments.
//!
//! The index holds runs of at most sixteen segments, never whole polygons, so that a continent
//! costs no more to ask about than an island. Each line keeps longitudes that never jump: one that
//! crosses the date line goes on beyond 180.
//!
//! Some edges are *cuts*: they bound land for the sake of [`Coast::is_land`], and are no shore for
//! anything else. A *seam* only closes a polygon, and land goes on beyond it: along the date line,
//! through a pole, or where two polygons meet along a meridian or parallel. At a *clip* the chart
//! was cut out of a larger one, and what lies beyond is not known.

mod build;
mod clip;
mod cuts;
mod join;
mod land;
mod levels;
mod ring;
mod run;
mod seam;
mod sector;
mod side;
mod stored;
mod straight;
mod tiles;
mod window;

pub(super) use build::{CoastBuilder, ReadOddities, box_of};
pub(super) use ring::continuous;
pub use run::{Run, ShoreLine, Stretch};
pub(super) use stored::{CoastFacts, Enclosing, KeptRun, StoredRuns, read_box, write_box};

use std::cell::OnceCell;
use std::ops::Range;

use rstar::{AABB, RTree};

use self::clip::Clipped;
use self::levels::Levels;
use self::run::{Cut, Edge, IndexedRun};
use self::tiles::Tiles;
use self::window::Window;
use super::geobox::GeoBox;
use crate::geodesy::{LocalPlane, PlanePoint, Position, degree_m};
use crate::units::{Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, True};

/// The most segments one run of the index holds.
const RUN_SEGMENTS: usize = 16;

/// A vertex of a shoreline, in degrees. The longitude may go beyond 180 either way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LonLat {
    /// Degrees east.
    pub lon: f64,
    /// Degrees north.
    pub lat: f64,
}

impl LonLat {
    /// The place itself, with its longitude in the usual turn.
    pub fn position(self) -> Position {
        Position::wrapped(self.lat, self.lon)
    }
}

/// On which side of a line its land lies, looking along the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LandSide {
    /// To the left.
    Left,
    /// To the right.
    Right,
    /// The chart does not tell.
    Unknown,
}

impl LandSide {
    /// The other side.
    #[must_use]
    pub fn opposite(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
            Self::Unknown => Self::Unknown,
        }
    }
}

/// What is kept of one line beside its points.
#[allow(clippy::struct_excessive_bools, reason = "each is a fact of its own")]
#[derive(Debug, Clone)]
struct LineEntry {
    points: Range<usize>,
    cuts: Range<usize>,
    closed: bool,
    hole: bool,
    side: LandSide,
    /// Lines of one group bound land together: those of one polygon, or the rings of one layer.
    group: u32,
    cut_start: bool,
    cut_end: bool,
}

/// The shoreline of a chart.
#[derive(Default)]
pub struct Coast {
    points: Vec<LonLat>,
    lines: Vec<LineEntry>,
    /// Segments that are no shore.
    cuts: Vec<Cut>,
    runs: RTree<IndexedRun>,
    extent: Option<GeoBox>,
    /// Where each layer lies, and at which sides it was cut out of a larger chart.
    layers: Vec<Clipped>,
    has_open: bool,
    /// Polygons lie on each other along one line so often that not all of their seams were sought.
    has_seams_unsought: bool,
    /// Lines and points of the whole coast, where this was taken out of a prepared chart.
    whole: Option<(usize, usize)>,
    /// The part of the whole that this is; none where it is all of it.
    window: Option<Window>,
    tiles: Tiles,
    levels: Levels,
}

impl std::fmt::Debug for Coast {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Coast")
            .field("lines", &self.lines.len())
            .field("points", &self.points.len())
            .field("extent", &self.extent)
            .finish_non_exhaustive()
    }
}

impl Coast {
    /// The box that holds all of it; `None` where there is no coast.
    pub fn extent(&self) -> Option<GeoBox> {
        self.extent
    }

    /// How many lines the whole coast has: rings and open lines.
    pub fn line_count(&self) -> usize {
        self.whole.map_or(self.lines.len(), |(lines, _)| lines)
    }

    /// How many points all lines of the whole coast have together.
    pub fn point_count(&self) -> usize {
        self.whole.map_or(self.points.len(), |(_, points)| points)
    }

    /// The box of the part of a large prepared coast that was taken in: what lies outside it is
    /// there but not known. `None` where all of the coast was.
    pub fn taken_in(&self) -> Option<GeoBox> {
        self.window.as_ref().map(|window| window.area)
    }

    /// Whether some line is open, so that what is land is not given by rings alone.
    pub fn has_open_lines(&self) -> bool {
        self.has_open
    }

    /// A whole ring or open line; an empty one for a number of another chart.
    pub fn line(&self, line: u32) -> ShoreLine<'_> {
        self.lines.get(line as usize).map_or(ShoreLine::EMPTY, |entry| ShoreLine {
            points: self.points.get(entry.points.clone()).unwrap_or_default(),
            first: entry.points.start,
            cuts: self.cuts.get(entry.cuts.clone()).unwrap_or_default(),
            closed: entry.closed,
            hole: entry.hole,
            land_side: entry.side,
            starts_at_cut: entry.cut_start,
            ends_at_cut: entry.cut_end,
        })
    }

    /// All lines, by number; of a part of a large coast those that reach into it, with cuts where
    /// they go on outside.
    pub fn lines(&self) -> impl Iterator<Item = (u32, ShoreLine<'_>)> {
        (0..self.lines.len() as u32).map(|line| (line, self.line(line)))
    }

    /// The runs of shore whose boxes touch an area, in no particular order. Their longitudes are
    /// those of the area: beyond 180 where it crosses the date line. Cuts are left out.
    pub fn runs_in(&self, area: &GeoBox) -> impl Iterator<Item = Run<'_>> {
        self.any_runs_in(area, |edge| edge == Edge::Shore)
    }

    /// The runs of clips alone.
    pub fn clip_runs_in(&self, area: &GeoBox) -> impl Iterator<Item = Run<'_>> {
        self.any_runs_in(area, |edge| edge == Edge::Clip)
    }

    /// As [`Coast::runs_in`], with the cuts.
    pub(super) fn all_runs_in(&self, area: &GeoBox) -> impl Iterator<Item = Run<'_>> {
        self.any_runs_in(area, |_| true)
    }

    fn any_runs_in(
        &self,
        area: &GeoBox,
        wanted: impl Fn(Edge) -> bool + Copy,
    ) -> impl Iterator<Item = Run<'_>> {
        let area = *area;
        [-1.0, 0.0, 1.0].into_iter().flat_map(move |turn: f64| {
            let moved = AABB::from_corners(
                [area.west + 360.0 * turn, area.south],
                [area.east + 360.0 * turn, area.north],
            );
            self.runs
                .locate_in_envelope_intersecting(moved)
                .filter(move |run| wanted(run.edge))
                .filter_map(move |run| self.run(run, -turn))
        })
    }

    /// The shore within `radius` of a plane's centre, laid flat; neighbouring runs of a line come
    /// as one stretch. Sorted by line and along it.
    pub fn stretches(&self, plane: &LocalPlane, radius: GroundRange) -> Vec<Stretch> {
        self.stretches_over(plane, radius, &[GeoBox::around(plane.centre(), radius)])
    }

    /// As [`Coast::stretches`], of the runs alone whose boxes touch one of these areas.
    pub fn stretches_over(
        &self,
        plane: &LocalPlane,
        radius: GroundRange,
        areas: &[GeoBox],
    ) -> Vec<Stretch> {
        let runs = areas.iter().flat_map(|area| self.runs_in(area)).collect();
        Self::laid_flat(runs, plane, radius)
    }

    /// As [`Coast::stretches`], of the clips: where the chart was cut out of a larger one.
    pub fn clip_stretches(&self, plane: &LocalPlane, radius: GroundRange) -> Vec<Stretch> {
        if !self.has_clips() {
            return Vec::new();
        }
        let runs = self.clip_runs_in(&GeoBox::around(plane.centre(), radius)).collect();
        Self::laid_flat(runs, plane, radius)
    }

    fn laid_flat(mut runs: Vec<Run<'_>>, plane: &LocalPlane, radius: GroundRange) -> Vec<Stretch> {
        runs.sort_by_key(|run| (run.line, run.first));
        runs.dedup_by_key(|run| (run.line, run.first));
        let mut stretches: Vec<Stretch> = Vec::new();
        let mut next_first = None;
        for run in runs {
            let flat: Vec<PlanePoint> =
                run.raw.iter().map(|point| plane.to_plane(point.position())).collect();
            let near = flat.windows(2).any(|pair| {
                let [a, b] = pair else { return false };
                closest_on_segment(*a, *b).0 <= radius.metres()
            });
            if !near {
                continue;
            }
            let last = run.first + run.raw.len() - 1;
            match stretches.last_mut() {
                Some(stretch) if next_first == Some((run.line, run.first)) => {
                    stretch.points.extend(flat.into_iter().skip(1));
                }
                _ => stretches.push(Stretch {
                    points: flat,
                    line: run.line,
                    land_side: run.land_side,
                }),
            }
            next_first = Some((run.line, last));
        }
        stretches
    }

    /// The nearest shore within a distance: how far, and in which direction.
    pub fn nearest(
        &self,
        at: Position,
        within: GroundRange,
    ) -> Option<(GroundRange, Bearing<True>)> {
        self.nearest_shore(at, within).map(|near| near.point.polar())
    }

    /// The nearest place at which the chart was cut out of a larger one, within a distance.
    pub fn nearest_clip(
        &self,
        at: Position,
        within: GroundRange,
    ) -> Option<(GroundRange, Bearing<True>)> {
        if !self.has_clips() {
            return None;
        }
        let near = self.nearest_edge(at, within, |edge| edge == Edge::Clip)?;
        (near.metres <= within.metres()).then(|| near.point.polar())
    }

    /// The nearest shore, with the segment it lies on.
    fn nearest_shore(&self, at: Position, within: GroundRange) -> Option<NearShore> {
        self.nearest_edge(at, within, |edge| edge == Edge::Shore)
    }

    /// The nearest edge of a kind. Searched in boxes that grow fourfold.
    fn nearest_edge(
        &self,
        at: Position,
        within: GroundRange,
        wanted: impl Fn(Edge) -> bool + Copy,
    ) -> Option<NearShore> {
        let plane = FlatPatch::new(at);
        let mut reach = within.metres().min(0.5 * METRES_PER_NAUTICAL_MILE);
        loop {
            let area = GeoBox::around(at, GroundRange::clamped_metres(reach));
            let mut best: Option<NearShore> = None;
            for run in self.any_runs_in(&area, wanted) {
                for (i, pair) in run.raw.windows(2).enumerate() {
                    let [a, b] = pair else { continue };
                    let (a, b) = (plane.lay(*a, run.shift), plane.lay(*b, run.shift));
                    let (metres, point, along) = closest_on_segment_of(a, b);
                    if best.as_ref().is_none_or(|near| metres < near.metres) {
                        let segment = run.first + i;
                        best = Some(NearShore { metres, point, line: run.line, segment, along });
                    }
                }
            }
            if best.as_ref().is_some_and(|near| near.metres <= reach) {
                return best;
            }
            if reach >= within.metres() {
                return None;
            }
            reach = (reach * 4.0).min(within.metres());
        }
    }

    /// The sides of the shore within a distance, and how far off each is, metres: all that lie no more
    /// than [`SPARE_M`] and [`SPARE_SHARE`] farther off than the nearest; of the others some are left out.
    pub(in crate::chart) fn sides_within(&self, at: Position, within_m: f64) -> Vec<(f64, Side)> {
        let patch = FlatPatch::new(at);
        // Where shore is near, a long way round would find a hundred times as many, for nothing.
        let mut reach = within_m.min(2.0 * SPARE_M);
        loop {
            let area = GeoBox::around(at, GroundRange::clamped_metres(reach));
            let mut found = Vec::new();
            let mut nearest = f64::INFINITY;
            for run in self.any_runs_in(&area, |edge| edge == Edge::Shore) {
                for pair in run.raw.windows(2) {
                    let [from, to] = pair else { continue };
                    let side = Side { from: *from, to: *to, shift: run.shift };
                    let (metres, _) = patch.nearest_of(&side);
                    if metres <= reach {
                        nearest = nearest.min(metres);
                        found.push((metres, side));
                    }
                }
            }
            if reach >= within_m || nearest * (1.0 + SPARE_SHARE) + SPARE_M <= reach {
                return found;
            }
            reach = (reach * 4.0).min(within_m);
        }
    }

    fn run(&self, run: &IndexedRun, turn: f64) -> Option<Run<'_>> {
        let entry = self.lines.get(run.line as usize)?;
        let first = run.first as usize;
        let raw = self.points.get(first..=first + usize::from(run.segments))?;
        let shift = 360.0 * (turn + f64::from(run.turn));
        Some(Run { line: run.line, first, raw, shift, land_side: entry.side })
    }
}

/// How much farther off than the nearest a side of the shore may be and still be told for certain, in
/// metres and as a share: to places not as far away as half of that another may be the nearest.
const SPARE_M: f64 = 500.0;
const SPARE_SHARE: f64 = 0.02;

/// One segment of a shore.
#[derive(Debug, Clone, Copy)]
pub(in crate::chart) struct Side {
    from: LonLat,
    to: LonLat,
    shift: f64,
}

/// A place on the shore near a position.
struct NearShore {
    metres: f64,
    /// Of the nearest place, from the position.
    point: PlanePoint,
    line: u32,
    /// Number of the segment's first point among all points.
    segment: usize,
    /// Where on the segment, 0 at its first point and 1 at its second.
    along: f64,
}

/// The surroundings of a place as the nearest-shore search sees them: a plane scaled in latitude and
/// longitude, good to a few parts in a thousand within some tens of miles and cheap enough for
/// millions of calls. Far places and high latitudes go by the true plane.
pub(in crate::chart) struct FlatPatch {
    at: Position,
    /// Metres in a degree of each.
    east_m: f64,
    north_m: f64,
    /// The true plane, made for the first far place.
    plane: OnceCell<LocalPlane>,
}

impl FlatPatch {
    pub(in crate::chart) fn new(at: Position) -> Self {
        let (east_m, north_m) = degree_m(at.latitude());
        Self { at, east_m, north_m, plane: OnceCell::new() }
    }

    /// Metres from the place to the nearest point of a run.
    pub(in crate::chart) fn distance_to(&self, run: &Run<'_>) -> f64 {
        let mut best = f64::INFINITY;
        for pair in run.raw.windows(2) {
            if let [a, b] = pair {
                let (a, b) = (self.lay(*a, run.shift), self.lay(*b, run.shift));
                best = best.min(closest_on_segment(a, b).0);
            }
        }
        best
    }

    /// Metres from the place to a side.
    pub(in crate::chart) fn side_m(&self, side: &Side) -> f64 {
        self.nearest_of(side).0
    }

    /// Metres from the place to another.
    pub(in crate::chart) fn place_m(&self, other: Position) -> f64 {
        let there = LonLat { lon: other.longitude(), lat: other.latitude() };
        self.lay(there, 0.0).distance(PlanePoint::default())
    }

    /// Metres from the place to a side, and the nearest point of it.
    fn nearest_of(&self, side: &Side) -> (f64, PlanePoint) {
        closest_on_segment(self.lay(side.from, side.shift), self.lay(side.to, side.shift))
    }

    fn lay(&self, point: LonLat, shift: f64) -> PlanePoint {
        let mut east = point.lon + shift - self.at.longitude();
        if east.abs() > 180.0 {
            east -= 360.0 * (east / 360.0).round();
        }
        let north = point.lat - self.at.latitude();
        if east.abs() < 0.25 && north.abs() < 0.25 && self.at.latitude().abs() < 75.0 {
            PlanePoint { east: east * self.east_m, north: north * self.north_m }
        } else {
            let plane = self.plane.get_or_init(|| LocalPlane::new(self.at));
            plane.to_plane(point.position())
        }
    }
}

/// Distance in metres from the plane's zero to a segment, and the nearest point on it.
fn closest_on_segment(a: PlanePoint, b: PlanePoint) -> (f64, PlanePoint) {
    let (metres, point, _) = closest_on_segment_of(a, b);
    (metres, point)
}

fn closest_on_segment_of(a: PlanePoint, b: PlanePoint) -> (f64, PlanePoint, f64) {
    let (east, north) = (b.east - a.east, b.north - a.north);
    let square = east * east + north * north;
    let along = if square > 0.0 {
        (-(a.east * east + a.north * north) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let point = PlanePoint { east: a.east + along * east, north: a.north + along * north };
    // Metres can neither overflow nor vanish when squared, and this is a hot line.
    ((point.east * point.east + point.north * point.north).sqrt(), point, along)
}
