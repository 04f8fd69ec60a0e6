//! The edges of rings that run exactly along a meridian or a parallel.

use std::ops::Range;

use rayon::prelude::*;

use super::run::Edge;
use super::{Coast, LandSide, LonLat};
use crate::chart::geobox::turns_to_usual;
use crate::geodesy::MEAN_EARTH_RADIUS_M;
use crate::units::Angle;

/// Coordinates closer than this are the same, in degrees (some 1 cm).
pub(super) const SAME_DEG: f64 = 1e-7;

/// An edge of a ring along a meridian or a parallel.
#[derive(Debug, Clone, Copy)]
pub(super) struct Straight {
    pub(super) line: u32,
    pub(super) group: u32,
    /// Number of its first point among all points.
    pub(super) segment: usize,
    /// Along a meridian; else along a parallel.
    pub(super) meridian: bool,
    /// Which one, in steps of `SAME_DEG`, longitudes in the usual turn.
    pub(super) at: i64,
    /// From where to where, in degrees; longitudes with the lower one in the usual turn.
    pub(super) low: f64,
    pub(super) high: f64,
    /// It is drawn from the lower end to the higher.
    pub(super) upward: bool,
    /// The land lies east or north of it; `None` where it is not known.
    pub(super) land_beyond: Option<bool>,
}

impl Straight {
    pub(super) fn new(
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
    pub(super) fn degree_m(&self) -> f64 {
        let stretch = if self.meridian {
            1.0
        } else {
            Angle::from_degrees(self.at as f64 * SAME_DEG).radians().cos()
        };
        Angle::from_degrees(1.0).radians() * MEAN_EARTH_RADIUS_M * stretch
    }

    /// Goes on where another of the same line ended, along the same meridian or parallel.
    pub(super) fn follows(&self, other: &Self) -> bool {
        self.line == other.line
            && self.segment == other.segment + 1
            && self.meridian == other.meridian
            && self.at == other.at
    }
}

/// A part of a straight edge that is no shore.
#[derive(Debug, Clone, Copy)]
pub(super) struct Part {
    pub(super) segment: usize,
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) upward: bool,
    pub(super) meridian: bool,
    pub(super) edge: Edge,
}

impl Part {
    pub(super) fn of(edge: &Straight, low: f64, high: f64, kind: Edge) -> Self {
        let Straight { segment, upward, meridian, .. } = *edge;
        Self { segment, low, high, upward, meridian, edge: kind }
    }
}

/// The straight edges of all rings that are no cuts yet, by line and along it.
pub(super) fn straights(coast: &Coast, layers: &[Range<u32>]) -> Vec<Straight> {
    let lines: Vec<u32> = layers.iter().cloned().flatten().collect();
    lines.par_iter().flat_map_iter(|line| straights_of(coast, *line)).collect()
}

fn straights_of(coast: &Coast, line: u32) -> Vec<Straight> {
    let Some(entry) = coast.lines.get(line as usize).filter(|entry| entry.closed) else {
        return Vec::new();
    };
    let shore = coast.line(line);
    let mut found = Vec::new();
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
    found
}
