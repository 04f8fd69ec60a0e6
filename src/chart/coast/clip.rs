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

use super::Coast;
use super::run::Edge;
use super::seam::seams;
use super::straight::{Part, SAME_DEG, Straight, straights};
use crate::chart::geobox::GeoBox;
use crate::geodesy::Position;
use crate::units::METRES_PER_NAUTICAL_MILE;

/// A side along which rings run for more than this in all is one of the clip box, in metres: a real
/// shore touches the box of its layer in a point, or in one short step of its grid.
const CLIPPED_M: f64 = METRES_PER_NAUTICAL_MILE;

/// A ring with fewer edges than this elsewhere is taken at its word.
const FEWEST_OTHERS: usize = 8;

/// How much longer than its other straight runs a run along the box must be.
const STANDS_OUT: f64 = 2.0;

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
    /// Whether some seams were not sought, because polygons lie on each other so often.
    pub(in crate::chart) fn has_seams_unsought(&self) -> bool {
        self.has_seams_unsought
    }

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

/// Seams and clips as they were found.
pub(super) struct Found {
    /// By segment and place.
    pub(super) parts: Vec<Part>,
    pub(super) layers: Vec<Clipped>,
    /// Seams were looked for everywhere.
    pub(super) all: bool,
}

/// Finds seams and clips. `layers`: the lines of each. Edges that are cuts already stay as they are.
pub(super) fn find(coast: &Coast, layers: &[Range<u32>]) -> Found {
    let straights = straights(coast, layers);
    let (mut parts, all) = seams(&straights);
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
    Found { parts, layers: clipped, all }
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
