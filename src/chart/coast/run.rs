use std::ops::Range;

use rstar::{AABB, RTreeObject};

use super::{LandSide, LonLat};
use crate::chart::geobox::GeoBox;
use crate::geodesy::PlanePoint;

/// A run as the index keeps it.
pub(super) struct IndexedRun {
    pub(super) low: [f64; 2],
    pub(super) high: [f64; 2],
    pub(super) line: u32,
    /// Number of its first point among all points.
    pub(super) first: u32,
    pub(super) segments: u8,
    /// Whole turns added to the points to bring the box's west edge into the usual turn.
    pub(super) turn: i8,
    pub(super) edge: Edge,
}

/// What a segment of a line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Edge {
    /// Shore.
    Shore,
    /// It only closes a polygon: land goes on beyond.
    Seam,
    /// The chart was cut out of a larger one here: what lies beyond is not known.
    Clip,
}

/// Segments that are no shore.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Cut {
    /// The numbers of their first points.
    pub(super) range: Range<usize>,
    /// [`Edge::Clip`], else [`Edge::Seam`].
    pub(super) clip: bool,
}

impl Cut {
    /// Adds segments to the cuts of the line whose own begin at number `first_cut`, where they are any.
    pub(super) fn add(cuts: &mut Vec<Self>, first_cut: usize, segments: Range<usize>, edge: Edge) {
        if edge == Edge::Shore {
            return;
        }
        let clip = edge == Edge::Clip;
        match cuts.get_mut(first_cut..).and_then(|cuts| cuts.last_mut()) {
            Some(cut) if cut.range.end == segments.start && cut.clip == clip => {
                cut.range.end = segments.end;
            }
            _ => cuts.push(Self { range: segments, clip }),
        }
    }
}

impl RTreeObject for IndexedRun {
    type Envelope = AABB<[f64; 2]>;

    fn envelope(&self) -> Self::Envelope {
        AABB::from_corners(self.low, self.high)
    }
}

/// A short run of shore: at most sixteen segments of one line.
#[derive(Debug, Clone, Copy)]
pub struct Run<'a> {
    /// Number of the line it belongs to.
    pub line: u32,
    /// Number of its first point among all points of the coast: runs of one line sort by it.
    pub first: usize,
    pub(super) raw: &'a [LonLat],
    pub(super) shift: f64,
    /// On which side of it the land lies.
    pub land_side: LandSide,
}

impl<'a> Run<'a> {
    /// Its points, with longitudes in the turn of the area that was asked for.
    pub fn points(&self) -> impl ExactSizeIterator<Item = LonLat> + use<'a> {
        let shift = self.shift;
        self.raw.iter().map(move |point| LonLat { lon: point.lon + shift, lat: point.lat })
    }
}

/// A stretch of shore laid flat.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Its points, in the order of the line.
    pub points: Vec<PlanePoint>,
    /// Number of the line it belongs to.
    pub line: u32,
    /// On which side of it the land lies.
    pub land_side: LandSide,
}

/// A whole line of the coast.
#[allow(clippy::struct_excessive_bools, reason = "each is a fact of its own")]
#[derive(Debug, Clone, Copy)]
pub struct ShoreLine<'a> {
    /// Its points, longitudes without jumps; a closed one ends with its first point again.
    pub points: &'a [LonLat],
    pub(super) first: usize,
    pub(super) cuts: &'a [Cut],
    /// Whether it is a ring.
    pub closed: bool,
    /// Whether it is a ring with water inside.
    pub hole: bool,
    /// On which side of it the land lies.
    pub land_side: LandSide,
    /// Whether an open line starts where the chart was cut, so that the shore goes on.
    pub starts_at_cut: bool,
    /// Whether an open line ends where the chart was cut.
    pub ends_at_cut: bool,
}

impl ShoreLine<'_> {
    pub(super) const EMPTY: Self = Self {
        points: &[],
        first: 0,
        cuts: &[],
        closed: false,
        hole: false,
        land_side: LandSide::Unknown,
        starts_at_cut: false,
        ends_at_cut: false,
    };

    /// Whether the segment from point `segment` to the next is no shore: an edge along the date
    /// line, through a pole or along the line between two polygons, that only closes one, or one
    /// where the chart was cut out of a larger one.
    pub fn is_cut(&self, segment: usize) -> bool {
        self.edge(segment) != Edge::Shore
    }

    /// Whether the chart was cut out of a larger one along that segment.
    pub fn is_clip(&self, segment: usize) -> bool {
        self.edge(segment) == Edge::Clip
    }

    pub(super) fn edge(&self, segment: usize) -> Edge {
        let segment = self.first + segment;
        let after = self.cuts.partition_point(|cut| cut.range.start <= segment);
        let last = after.checked_sub(1).and_then(|before| self.cuts.get(before));
        match last.filter(|cut| cut.range.contains(&segment)) {
            None => Edge::Shore,
            Some(cut) if cut.clip => Edge::Clip,
            Some(_) => Edge::Seam,
        }
    }

    /// The box that holds it; `None` of an empty one.
    pub fn extent(&self) -> Option<GeoBox> {
        super::build::box_of(self.points)
    }

    /// Whether it has any cut segment.
    pub fn has_cuts(&self) -> bool {
        !self.cuts.is_empty()
    }
}
