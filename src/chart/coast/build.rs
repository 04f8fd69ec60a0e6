use std::ops::Range;

use rstar::RTree;

use super::run::{Cut, Edge, IndexedRun};
use super::tiles::Tiles;
use super::{
    Coast, LandSide, LineEntry, LonLat, RUN_SEGMENTS, ShoreLine, clip, cuts, join, ring, side,
};
use crate::chart::geobox::{GeoBox, turns_to_usual};
use crate::geodesy::Position;

/// How near the edge of the chart's box an open line must end to have been cut there, in degrees
/// (some 10 m).
const ON_BOX_DEG: f64 = 1e-4;

/// Rings of one polygon up to which each hole is tried for lying inside another ring.
const RINGS_TRIED: usize = 64;

/// What was odd about the shapes that were read, by count.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct ReadOddities {
    /// Rings of fewer than three places, left out.
    pub slivers: usize,
    /// Rings that run the other way from what the format asks.
    pub reversed: usize,
    /// Rings drawn as holes that lie in no other ring, taken as land.
    pub stray_holes: usize,
}

impl ReadOddities {
    pub(crate) fn add(&mut self, other: Self) {
        self.slivers += other.slivers;
        self.reversed += other.reversed;
        self.stray_holes += other.stray_holes;
    }
}

/// Takes in shapes, layer by layer, and makes a [`Coast`] of them.
#[derive(Default)]
pub struct CoastBuilder {
    coast: Coast,
    next_group: u32,
    /// Lines of the layer being read that are not yet joined.
    loose: Vec<Vec<LonLat>>,
    /// Lines by number whose side is to be found, by layer.
    undecided: Vec<Vec<u32>>,
    /// Lines of each layer that has ended.
    layers: Vec<Range<u32>>,
    /// Number of the first line of the layer being read.
    layer_start: u32,
}

impl CoastBuilder {
    /// Takes in one polygon: its rings as the file has them.
    pub fn polygon(&mut self, rings: &[Vec<LonLat>]) -> ReadOddities {
        let mut odd = ReadOddities::default();
        let mut sound: Vec<(ring::Smooth, f64)> = Vec::with_capacity(rings.len());
        for points in rings {
            match ring::close(ring::continuous(points.iter().copied())) {
                Some(smooth) => {
                    let area = ring::signed_area(&smooth.points);
                    sound.push((smooth, area));
                }
                None => odd.slivers += 1,
            }
        }
        // The format asks for outer rings clockwise. A file that runs the other way says so by its
        // largest ring, which no other can hold.
        let largest =
            sound.iter().map(|(_, area)| *area).max_by(|a, b| a.abs().total_cmp(&b.abs()));
        let outer_is_clockwise = largest.is_none_or(|area| area < 0.0);
        if !outer_is_clockwise {
            odd.reversed += sound.len();
        }
        let mut holes: Vec<bool> =
            sound.iter().map(|(_, area)| (*area < 0.0) != outer_is_clockwise).collect();
        if sound.len() <= RINGS_TRIED {
            odd.stray_holes = keep_true_holes(&sound, &mut holes);
        }
        let group = self.new_group();
        for ((smooth, area), hole) in sound.into_iter().zip(holes) {
            let inside = if area > 0.0 { LandSide::Left } else { LandSide::Right };
            let land = if hole { inside.opposite() } else { inside };
            self.push(&smooth, hole, land, group);
        }
        odd
    }

    /// Takes in one part of a polyline.
    pub fn polyline(&mut self, points: impl Iterator<Item = LonLat>) {
        let points = ring::continuous(points);
        if points.len() >= 2 {
            self.loose.push(points);
        }
    }

    /// Takes in a line that is kept as it is, whatever its neighbours. Returns whether it was taken:
    /// a line of less than two places is not.
    pub fn plain_line(&mut self, points: &[LonLat]) -> bool {
        let points = ring::continuous(points.iter().copied());
        let closed = points.len() > 3 && points.first() == points.last();
        let smooth = if closed { ring::close(points) } else { ring::open(points) };
        let Some(smooth) = smooth else { return false };
        let group = self.new_group();
        self.push(&smooth, false, LandSide::Unknown, group);
        // What is kept as it is is never sought for cuts.
        self.layer_start = self.coast.lines.len() as u32;
        true
    }

    /// Ends a layer: lines whose ends meet become rings, and rings inside rings become lakes.
    pub fn end_layer(&mut self) {
        self.join_loose();
        let end = self.coast.lines.len() as u32;
        if end > self.layer_start {
            self.layers.push(self.layer_start..end);
            self.layer_start = end;
        }
    }

    fn join_loose(&mut self) {
        let loose = std::mem::take(&mut self.loose);
        if loose.is_empty() {
            return;
        }
        let group = self.new_group();
        let mut open_lines = Vec::new();
        let first = self.coast.lines.len() as u32;
        for (points, closed) in join::join(loose) {
            if closed {
                if let Some(smooth) = ring::close(points) {
                    self.push(&smooth, false, LandSide::Unknown, group);
                }
            } else if let Some(smooth) = ring::open(points) {
                open_lines.push(self.coast.lines.len() as u32);
                self.push(&smooth, false, LandSide::Unknown, group);
            }
        }
        let end = self.coast.lines.len() as u32;
        self.coast.has_open |= !open_lines.is_empty();
        self.undecided.push((first..end).collect());
    }

    /// Indexes everything. `height` tells the ground of a grid in metres, where one covers a place:
    /// it helps to tell on which side of an open line the land lies.
    pub fn finish(mut self, height: &dyn Fn(Position) -> Option<f64>) -> Coast {
        self.end_layer();
        let mut coast = self.coast;
        coast.points.shrink_to_fit();
        coast.extent = extent(coast.lines().map(|(_, line)| line));
        mark_cut_ends(&mut coast);
        if !self.undecided.is_empty() {
            coast.runs = RTree::bulk_load(runs(&coast));
            for lines in &self.undecided {
                side::decide(&mut coast, lines, height);
            }
        }
        // Hardly any chart is cut: it is put into the index meanwhile as if this one were not.
        let (found, index) = rayon::join(
            || clip::find(&coast, &self.layers),
            || self.undecided.is_empty().then(|| RTree::bulk_load(runs(&coast))),
        );
        if cuts::mark(&mut coast, found) {
            coast.runs = RTree::bulk_load(runs(&coast));
        } else if let Some(index) = index {
            coast.runs = index;
        }
        coast.tiles = Tiles::new(coast.extent);
        coast
    }

    fn new_group(&mut self) -> u32 {
        self.next_group += 1;
        self.next_group
    }

    fn push(&mut self, smooth: &ring::Smooth, hole: bool, side: LandSide, group: u32) {
        let coast = &mut self.coast;
        let start = coast.points.len();
        let first_cut = coast.cuts.len();
        coast.points.extend_from_slice(&smooth.points);
        for (i, _) in smooth.cuts.iter().enumerate().filter(|(_, cut)| **cut) {
            let segment = start + i;
            Cut::add(&mut coast.cuts, first_cut, segment..segment + 1, Edge::Seam);
        }
        coast.lines.push(LineEntry {
            points: start..coast.points.len(),
            cuts: first_cut..coast.cuts.len(),
            closed: smooth.closed,
            hole,
            side,
            group,
            cut_start: false,
            cut_end: false,
        });
    }
}

/// Turns back into land the holes that lie in no outer ring; returns how many.
fn keep_true_holes(rings: &[(ring::Smooth, f64)], holes: &mut [bool]) -> usize {
    let stray: Vec<usize> = (0..rings.len())
        .filter(|&i| holes.get(i) == Some(&true))
        .filter(|&i| {
            let Some(place) = rings.get(i).and_then(|(ring, _)| ring.points.first()) else {
                return false;
            };
            !rings.iter().zip(holes.iter()).any(|((outer, _), hole)| {
                !hole
                    && [-360.0, 0.0, 360.0].iter().any(|turn| {
                        let at = LonLat { lon: place.lon + turn, lat: place.lat };
                        // A hole may touch its outer ring in its first point.
                        ring::contains(&outer.points, at) || outer.points.contains(&at)
                    })
            })
        })
        .collect();
    for &i in &stray {
        if let Some(hole) = holes.get_mut(i) {
            *hole = false;
        }
    }
    stray.len()
}

/// The box of all these lines.
pub(super) fn extent<'a>(lines: impl Iterator<Item = ShoreLine<'a>>) -> Option<GeoBox> {
    let mut all: Option<GeoBox> = None;
    // Widest lines first, so that joining the small ones never has to choose a turn.
    let mut boxes: Vec<GeoBox> = lines.filter_map(|line| box_of(line.points)).collect();
    boxes.sort_by(|a, b| (b.east - b.west).total_cmp(&(a.east - a.west)));
    for line in boxes {
        all = Some(all.map_or(line, |all| all.joined(&line)));
    }
    all
}

/// The box of a line whose longitudes never jump; none of no points.
pub(in crate::chart) fn box_of(points: &[LonLat]) -> Option<GeoBox> {
    let first = points.first()?;
    let (mut low, mut high) = (*first, *first);
    for point in points {
        low = LonLat { lon: low.lon.min(point.lon), lat: low.lat.min(point.lat) };
        high = LonLat { lon: high.lon.max(point.lon), lat: high.lat.max(point.lat) };
    }
    Some(GeoBox::new(low.lat, low.lon, high.lat, high.lon))
}

/// Finds the ends of open lines that lie on the edge of the chart's box.
fn mark_cut_ends(coast: &mut Coast) {
    let Some(area) = coast.extent else { return };
    let on_box = |point: &LonLat| {
        let lon = point.lon + 360.0 * turns_to_usual(point.lon);
        let near = |a: f64, b: f64| {
            let off = (a - b).abs();
            off < ON_BOX_DEG || (off - 360.0).abs() < ON_BOX_DEG
        };
        near(point.lat, area.south)
            || near(point.lat, area.north)
            || near(lon, area.west)
            || near(lon, area.east)
    };
    for entry in coast.lines.iter_mut().filter(|entry| !entry.closed) {
        let points = coast.points.get(entry.points.clone()).unwrap_or_default();
        entry.cut_start = points.first().is_some_and(on_box);
        entry.cut_end = points.last().is_some_and(on_box);
    }
}

/// Cuts every line into runs, none of which mixes shore, seams and clips.
fn runs(coast: &Coast) -> Vec<IndexedRun> {
    let mut runs = Vec::with_capacity(coast.points.len() / RUN_SEGMENTS + coast.lines.len());
    for (number, line) in coast.lines() {
        let segments = line.points.len().saturating_sub(1);
        let mut start = 0;
        while start < segments {
            let edge = if line.has_cuts() { line.edge(start) } else { Edge::Shore };
            let mut end = (start + RUN_SEGMENTS).min(segments);
            if line.has_cuts() {
                end = (start + 1..end).find(|&i| line.edge(i) != edge).unwrap_or(end);
            }
            let Some(points) = line.points.get(start..=end) else { break };
            runs.push(indexed(points, number, line.first + start, edge));
            start = end;
        }
    }
    runs
}

pub(super) fn indexed(points: &[LonLat], line: u32, first: usize, edge: Edge) -> IndexedRun {
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for point in points {
        low = [low[0].min(point.lon), low[1].min(point.lat)];
        high = [high[0].max(point.lon), high[1].max(point.lat)];
    }
    let turn = turns_to_usual(low[0]);
    low[0] += 360.0 * turn;
    high[0] += 360.0 * turn;
    let segments = points.len().saturating_sub(1) as u8;
    IndexedRun { low, high, line, first: first as u32, segments, turn: turn as i8, edge }
}
