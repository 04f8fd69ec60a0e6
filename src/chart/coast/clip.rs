//! Finds the edges that only close polygons: seams between polygons, and the sides of the box at
//! which a chart was cut out of a larger one.
//!
//! Both run exactly along a meridian or a parallel. Where two polygons lie on either side of such an
//! edge, land goes on beyond it: a *seam*, of any length. What is left is looked for along the sides
//! of the layer's own box. A side is one of the clip box where rings run along it for more than a
//! mile in all; a ring counts only
//!
//! - with at least eight edges elsewhere: a small island drawn by hand is taken at its word;
//! - with a run along the side more than twice as long as any other straight run it has along a
//!   meridian or parallel: a coast traced from the cells of a grid has such runs everywhere.
//!
//! Once a side is known for one, every edge on it is a *clip*, however short; only rings of fewer
//! than eight other edges that all run along meridians and parallels, with no seam, stay as they
//! were drawn.
//! A clip at any other line than those of the layer's box cannot be told from shore.

use std::ops::Range;

use rayon::prelude::*;

use super::run::{Cut, Edge};
use super::{Coast, LandSide, LonLat, ShoreLine};
use crate::chart::geobox::{GeoBox, turns_to_usual};
use crate::geodesy::{MEAN_EARTH_RADIUS_M, Position};
use crate::units::{Angle, METRES_PER_NAUTICAL_MILE};

/// Coordinates closer than this are the same, in degrees (some 1 cm).
const SAME_DEG: f64 = 1e-7;

/// A side along which rings run for more than this in all is one of the clip box, in metres: a real
/// shore touches the box of its layer in a point, or in one short step of its grid.
const CLIPPED_M: f64 = METRES_PER_NAUTICAL_MILE;

/// A ring with fewer edges than this elsewhere is taken at its word.
const FEWEST_OTHERS: usize = 8;

/// How much longer than its other straight runs a run along the box must be.
const STANDS_OUT: f64 = 2.0;

/// Clips are broken into pieces no longer than this, in degrees: a straight line of a plane strays
/// less than half a metre from a parallel over it.
const PIECE_DEG: f64 = 0.05;

/// The box of a layer, and at which of its sides it was cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Clipped {
    pub(super) area: GeoBox,
    /// South, west, north, east.
    pub(super) sides: [bool; 4],
}

impl Clipped {
    fn is_beyond(&self, at: Position) -> bool {
        let [south, west, north, east] = self.sides;
        let half = 0.5 * (self.area.east - self.area.west);
        let off = at.longitude() - 0.5 * (self.area.west + self.area.east);
        let off = off - 360.0 * (off / 360.0).round();
        (south && at.latitude() < self.area.south)
            || (north && at.latitude() > self.area.north)
            || (west && off < -half)
            || (east && off > half)
    }
}

impl Coast {
    /// Whether the chart was cut out of a larger one, through land.
    pub fn has_clips(&self) -> bool {
        self.layers.iter().any(|layer| layer.sides.contains(&true))
    }

    /// Whether a place lies beyond a side at which a layer was cut, and in no layer's box: what is
    /// there the chart does not tell.
    pub fn is_beyond_clips(&self, at: Position) -> bool {
        self.has_clips()
            && self.layers.iter().any(|layer| layer.is_beyond(at))
            && !self.layers.iter().any(|layer| layer.area.contains(at))
    }
}

/// An edge of a ring along a meridian or a parallel.
#[derive(Debug, Clone, Copy)]
struct Straight {
    line: u32,
    group: u32,
    /// Number of its first point among all points.
    segment: usize,
    /// Along a meridian; else along a parallel.
    meridian: bool,
    /// Which one, in steps of `SAME_DEG`, longitudes in the usual turn.
    at: i64,
    /// From where to where, in degrees; longitudes with the lower one in the usual turn.
    low: f64,
    high: f64,
    /// It is drawn from the lower end to the higher.
    upward: bool,
    /// The land lies east or north of it; `None` where it is not known.
    land_beyond: Option<bool>,
}

impl Straight {
    fn new(
        line: u32,
        group: u32,
        segment: usize,
        ends: [LonLat; 2],
        side: LandSide,
    ) -> Option<Self> {
        let [a, b] = ends;
        let (across, up) = (b.lon - a.lon, b.lat - a.lat);
        let meridian = across.abs() < SAME_DEG;
        if meridian == (up.abs() < SAME_DEG) {
            return None;
        }
        let steps = |degrees: f64| (degrees / SAME_DEG).round() as i64;
        let (at, from, to) = if meridian {
            (steps(a.lon + 360.0 * turns_to_usual(a.lon)), a.lat, b.lat)
        } else {
            let shift = 360.0 * turns_to_usual(a.lon.min(b.lon));
            (steps(a.lat), a.lon + shift, b.lon + shift)
        };
        let upward = to > from;
        // Going north the left side is west; going east it is north.
        let left_is_beyond = upward != meridian;
        let land_beyond = match side {
            LandSide::Left => Some(left_is_beyond),
            LandSide::Right => Some(!left_is_beyond),
            LandSide::Unknown => None,
        };
        let (low, high) = (from.min(to), from.max(to));
        Some(Self { line, group, segment, meridian, at, low, high, upward, land_beyond })
    }

    /// Metres in a degree along it.
    fn degree_m(&self) -> f64 {
        let stretch = if self.meridian {
            1.0
        } else {
            Angle::from_degrees(self.at as f64 * SAME_DEG).radians().cos()
        };
        Angle::from_degrees(1.0).radians() * MEAN_EARTH_RADIUS_M * stretch
    }

    /// Goes on where another of the same line ended, along the same meridian or parallel.
    fn follows(&self, other: &Self) -> bool {
        self.line == other.line
            && self.segment == other.segment + 1
            && self.meridian == other.meridian
            && self.at == other.at
    }
}

/// A part of a straight edge that is no shore.
#[derive(Debug, Clone, Copy)]
struct Part {
    segment: usize,
    low: f64,
    high: f64,
    upward: bool,
    meridian: bool,
    edge: Edge,
}

impl Part {
    fn of(edge: &Straight, low: f64, high: f64, kind: Edge) -> Self {
        let Straight { segment, upward, meridian, .. } = *edge;
        Self { segment, low, high, upward, meridian, edge: kind }
    }
}

/// Seams and clips as they were found.
pub(super) struct Found {
    /// By segment and place.
    parts: Vec<Part>,
    layers: Vec<Clipped>,
}

/// Finds seams and clips. `layers`: the lines of each. Edges that are cuts already stay as they are.
pub(super) fn find(coast: &Coast, layers: &[Range<u32>]) -> Found {
    let straights = straights(coast, layers);
    let mut parts = seams(&straights);
    parts.sort_by(|a, b| a.segment.cmp(&b.segment).then(a.low.total_cmp(&b.low)));
    let (mut clips, mut clipped) = (Vec::new(), Vec::new());
    for lines in layers {
        let numbered = lines.clone().map(|line| coast.line(line));
        let Some(area) = super::build::extent(numbered) else { continue };
        let first = straights.partition_point(|edge| edge.line < lines.start);
        let after = straights.partition_point(|edge| edge.line < lines.end);
        let own = straights.get(first..after).unwrap_or_default();
        let sides = clip_layer(coast, &area, own, &parts, &mut clips);
        clipped.push(Clipped { area, sides });
    }
    parts.extend(clips);
    parts.sort_by(|a, b| a.segment.cmp(&b.segment).then(a.low.total_cmp(&b.low)));
    Found { parts, layers: clipped }
}

/// Marks what was found. Returns whether that was anything.
pub(super) fn mark(coast: &mut Coast, found: Found) -> bool {
    coast.layers.extend(found.layers);
    if found.parts.is_empty() {
        return false;
    }
    rebuild(coast, &found.parts);
    true
}

/// The straight edges of all rings that are no cuts yet, by line and along it.
fn straights(coast: &Coast, layers: &[Range<u32>]) -> Vec<Straight> {
    let mut found = Vec::new();
    for line in layers.iter().cloned().flatten() {
        let Some(entry) = coast.lines.get(line as usize).filter(|entry| entry.closed) else {
            continue;
        };
        let shore = coast.line(line);
        for (i, pair) in shore.points.windows(2).enumerate() {
            let [a, b] = pair else { continue };
            // Hardly any edge runs along either: told before anything is worked out.
            if (a.lon - b.lon).abs() >= SAME_DEG && (a.lat - b.lat).abs() >= SAME_DEG {
                continue;
            }
            if !shore.is_cut(i) {
                let segment = shore.first + i;
                found.extend(Straight::new(line, entry.group, segment, [*a, *b], entry.side));
            }
        }
    }
    found
}

/// Where land lies on both sides of a straight edge.
fn seams(straights: &[Straight]) -> Vec<Part> {
    let mut sorted: Vec<Straight> =
        straights.iter().filter(|edge| edge.land_beyond.is_some()).copied().collect();
    // No two have the same segment: the order is the same on any number of threads.
    sorted.par_sort_unstable_by(|a, b| {
        (a.meridian, a.at)
            .cmp(&(b.meridian, b.at))
            .then(a.low.total_cmp(&b.low))
            .then(a.segment.cmp(&b.segment))
    });
    let mut parts = Vec::new();
    let mut first = 0;
    while let Some(edge) = sorted.get(first) {
        // Edges of one line that overlap, one after another.
        let mut high = edge.high;
        let mut end = first + 1;
        while let Some(next) = sorted.get(end) {
            let same = (next.meridian, next.at) == (edge.meridian, edge.at);
            if !same || next.low > high - SAME_DEG {
                break;
            }
            high = high.max(next.high);
            end += 1;
        }
        let together = sorted.get(first..end).unwrap_or_default();
        if together.iter().any(|other| other.land_beyond != edge.land_beyond) {
            seams_of(together, &mut parts);
        }
        first = end;
    }
    parts
}

/// The seams among overlapping edges, from end to end of them.
fn seams_of(together: &[Straight], parts: &mut Vec<Part>) {
    let mut ends: Vec<f64> = together.iter().flat_map(|edge| [edge.low, edge.high]).collect();
    ends.sort_by(f64::total_cmp);
    ends.dedup_by(|a, b| (*a - *b).abs() < SAME_DEG);
    for pair in ends.windows(2) {
        let [low, high] = *pair else { continue };
        let here: Vec<&Straight> = together
            .iter()
            .filter(|edge| edge.low < low + SAME_DEG && edge.high > high - SAME_DEG)
            .collect();
        for edge in land_on_both_sides(&here) {
            parts.push(Part::of(edge, low, high, Edge::Seam));
        }
    }
}

/// Those of edges in one place that have land on both sides: all, where different polygons lie on
/// the two sides; else those of one polygon that take each other away.
fn land_on_both_sides<'a>(here: &[&'a Straight]) -> Vec<&'a Straight> {
    let mut groups: Vec<u32> = here.iter().map(|edge| edge.group).collect();
    groups.sort_unstable();
    groups.dedup();
    let of = |group: u32, beyond: bool| {
        let side = Some(beyond);
        here.iter().copied().filter(move |e| e.group == group && e.land_beyond == side)
    };
    let net = |group: u32| of(group, true).count().cmp(&of(group, false).count());
    let beyond = groups.iter().any(|group| net(*group).is_gt());
    let short = groups.iter().any(|group| net(*group).is_lt());
    if beyond && short {
        return here.to_vec();
    }
    let mut pairs = Vec::new();
    for group in groups {
        for (one, other) in of(group, true).zip(of(group, false)) {
            pairs.extend([one, other]);
        }
    }
    pairs
}

/// The parts of an edge that no seam covers; `seams` sorted by segment and place.
fn bare<'a>(edge: &Straight, seams: &'a [Part]) -> impl Iterator<Item = (f64, f64)> + use<'a> {
    let first = seams.partition_point(|part| part.segment < edge.segment);
    let (segment, high) = (edge.segment, edge.high);
    let mut from = edge.low;
    let covered = seams.get(first..).unwrap_or_default();
    let covered = covered.iter().take_while(move |part| part.segment == segment);
    covered.map(|part| (part.low, part.high)).chain([(high, high)]).filter_map(move |part| {
        let gap = (from, part.0);
        from = from.max(part.1);
        (gap.1 - gap.0 > SAME_DEG).then_some(gap)
    })
}

fn bare_m(edge: &Straight, seams: &[Part]) -> f64 {
    bare(edge, seams).map(|(low, high)| (high - low) * edge.degree_m()).sum()
}

/// Which side of a box an edge lies on: south, west, north, east.
fn side_of(edge: &Straight, area: &GeoBox) -> Option<usize> {
    let at = edge.at as f64 * SAME_DEG;
    if edge.meridian {
        if area.east - area.west >= 360.0 {
            return None;
        }
        let same = |side: f64| {
            let off = (at - side).abs();
            off < 2.0 * SAME_DEG || (off - 360.0).abs() < 2.0 * SAME_DEG
        };
        [(1, area.west), (3, area.east)].into_iter().find(|(_, side)| same(*side))
    } else {
        let same = |side: f64| (at - side).abs() < 2.0 * SAME_DEG;
        [(0, area.south), (2, area.north)].into_iter().find(|(_, side)| same(*side))
    }
    .map(|(side, _)| side)
}

/// Finds at which sides a layer was cut, and adds its clips.
fn clip_layer(
    coast: &Coast,
    area: &GeoBox,
    own: &[Straight],
    seams: &[Part],
    clips: &mut Vec<Part>,
) -> [bool; 4] {
    let rings = || own.chunk_by(|a, b| a.line == b.line);
    let mut along = [0.0; 4];
    for ring in rings() {
        for (side, metres) in stand_out(coast, ring, area, seams) {
            if let Some(sum) = along.get_mut(side) {
                *sum += metres;
            }
        }
    }
    let sides = along.map(|metres| metres > CLIPPED_M);
    for ring in rings().filter(|ring| !as_drawn(coast, ring, area, seams)) {
        for edge in ring {
            if side_of(edge, area).and_then(|side| sides.get(side)) == Some(&true) {
                let parts = bare(edge, seams);
                clips.extend(parts.map(|(low, high)| Part::of(edge, low, high, Edge::Clip)));
            }
        }
    }
    sides
}

/// How many edges of a ring do not lie on the box.
fn others(coast: &Coast, ring: &[Straight], area: &GeoBox) -> usize {
    let all = ring.first().map_or(0, |edge| coast.line(edge.line).points.len().saturating_sub(1));
    all - ring.iter().filter(|edge| side_of(edge, area).is_some()).count()
}

/// A small ring all of whose edges run along meridians and parallels, with no neighbour.
fn as_drawn(coast: &Coast, ring: &[Straight], area: &GeoBox, seams: &[Part]) -> bool {
    let all = ring.first().map_or(0, |edge| coast.line(edge.line).points.len().saturating_sub(1));
    let alone = |edge: &Straight| {
        let first = seams.partition_point(|part| part.segment < edge.segment);
        seams.get(first).is_none_or(|part| part.segment != edge.segment)
    };
    all == ring.len() && others(coast, ring, area) < FEWEST_OTHERS && ring.iter().all(alone)
}

/// The runs of a ring along the sides of the box that stand out from its other straight ones: which
/// side, and how many metres no seam covers.
fn stand_out(coast: &Coast, ring: &[Straight], area: &GeoBox, seams: &[Part]) -> Vec<(usize, f64)> {
    if others(coast, ring, area) < FEWEST_OTHERS {
        return Vec::new();
    }
    let (mut elsewhere, mut found) = (0.0_f64, Vec::new());
    for run in ring.chunk_by(|a, b| b.follows(a)) {
        let metres: f64 = run.iter().map(|edge| bare_m(edge, seams)).sum();
        match run.first().and_then(|edge| side_of(edge, area)) {
            Some(side) => found.push((side, metres)),
            None => elsewhere = elsewhere.max(metres),
        }
    }
    found.retain(|(_, metres)| *metres > STANDS_OUT * elsewhere);
    found
}

/// Puts the parts into the lines, with points where a part begins or ends within an edge. `parts`
/// sorted by segment and place.
fn rebuild(coast: &mut Coast, parts: &[Part]) {
    let (old_points, old_cuts) =
        (std::mem::take(&mut coast.points), std::mem::take(&mut coast.cuts));
    let mut points = Vec::with_capacity(old_points.len() + 2 * parts.len());
    let mut cuts: Vec<Cut> = Vec::with_capacity(old_cuts.len() + parts.len());
    let mut next = parts.iter().copied().peekable();
    for entry in &mut coast.lines {
        let line = ShoreLine {
            points: old_points.get(entry.points.clone()).unwrap_or_default(),
            first: entry.points.start,
            cuts: old_cuts.get(entry.cuts.clone()).unwrap_or_default(),
            ..ShoreLine::EMPTY
        };
        let (start, first_cut) = (points.len(), cuts.len());
        for (i, pair) in line.points.windows(2).enumerate() {
            let [a, b] = *pair else { continue };
            points.push(a);
            let mut mine: Vec<Part> = Vec::new();
            while let Some(part) = next.next_if(|part| part.segment == line.first + i) {
                mine.push(part);
            }
            if mine.is_empty() {
                put(&mut cuts, first_cut, points.len() - 1, line.edge(i));
            } else {
                for (edge, inner) in pieces(a, b, &mine) {
                    put(&mut cuts, first_cut, points.len() - 1, edge);
                    points.extend(inner);
                }
            }
        }
        points.extend(line.points.last());
        entry.points = start..points.len();
        entry.cuts = first_cut..cuts.len();
    }
    (coast.points, coast.cuts) = (points, cuts);
}

/// Adds one segment to the cuts of the line that starts with cut `first_cut`.
fn put(cuts: &mut Vec<Cut>, first_cut: usize, segment: usize, edge: Edge) {
    if edge == Edge::Shore {
        return;
    }
    let clip = edge == Edge::Clip;
    match cuts.get_mut(first_cut..).and_then(|cuts| cuts.last_mut()) {
        Some(cut) if cut.range.end == segment && cut.clip == clip => cut.range.end += 1,
        _ => cuts.push(Cut { range: segment..segment + 1, clip }),
    }
}

/// An edge from `a` to `b` in pieces: what each is, and its end where that is not `b`.
fn pieces(a: LonLat, b: LonLat, parts: &[Part]) -> Vec<(Edge, Option<LonLat>)> {
    let mut parts = parts.to_vec();
    let Some(first) = parts.first() else { return vec![(Edge::Shore, None)] };
    let (upward, meridian) = (first.upward, first.meridian);
    if !upward {
        parts.reverse();
    }
    let along = |point: LonLat| if meridian { point.lat } else { point.lon };
    // Parts have their longitudes in the usual turn; the line may not.
    let shift = if meridian { 0.0 } else { 360.0 * turns_to_usual(a.lon.min(b.lon)) };
    let (from, to) = (along(a) + shift, along(b) + shift);
    let place = |value: f64| {
        let share = (value - from) / (to - from);
        LonLat { lon: a.lon + share * (b.lon - a.lon), lat: a.lat + share * (b.lat - a.lat) }
    };
    let mut found: Vec<(Edge, f64)> = Vec::new();
    let mut here = from;
    for part in &parts {
        let (start, end) = if upward { (part.low, part.high) } else { (part.high, part.low) };
        if (start - here).abs() > SAME_DEG {
            found.push((Edge::Shore, start));
            here = start;
        }
        let steps = if part.edge == Edge::Clip {
            ((end - here).abs() / PIECE_DEG).ceil().clamp(1.0, 7_200.0) as usize
        } else {
            1
        };
        for step in 1..=steps {
            found.push((part.edge, here + (end - here) * step as f64 / steps as f64));
        }
        here = end;
    }
    if (to - here).abs() > SAME_DEG {
        found.push((Edge::Shore, to));
    }
    let last = found.len().saturating_sub(1);
    let end = |(i, (edge, at)): (usize, (Edge, f64))| (edge, (i < last).then(|| place(at)));
    found.into_iter().enumerate().map(end).collect()
}
