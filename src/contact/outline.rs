use std::borrow::Cow;

use jiff::Timestamp;

use super::kinds::BearingKind;
use super::own::{Own, OwnError, ReadBearing};
use super::reckoning::Reckoning;
use super::sightings::Radar;
use crate::units::{Angle, Bearing, Height, METRES_PER_NAUTICAL_MILE, SlantRange, True};

/// An edge of painted coast, traced point by point, turned to true and given its errors.
///
/// Each point is where the leading edge of the paint was read on one bearing. The errors are the
/// reading's own, one standard deviation each, and those of neighbouring points go together: how
/// many of them count as one is for whoever weighs them.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// What the operator calls it.
    pub label: String,
    /// When it was traced: one moment for all of it.
    pub time: Timestamp,
    /// Own antenna then.
    pub own_height: Height,
    /// What its bearings were counted from.
    pub kind: BearingKind,
    /// Own heading as it was read, where that was the bow and the heading's kind is known.
    pub heading_as_read: Option<ReadBearing>,
    /// Its points, in the order in which they were given.
    pub points: Vec<TracedPoint>,
    /// Error of each bearing, without the bias shared by the set.
    pub bearing_sigma: Angle,
}

/// One point of a traced edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TracedPoint {
    /// The bearing as it was read, in degrees of the outline's kind.
    pub degrees: f64,
    /// True bearing.
    pub bearing: Bearing<True>,
    /// Slant range as measured.
    pub range: SlantRange,
    /// Error of the range, one standard deviation in metres.
    pub range_sigma_m: f64,
}

impl Outline {
    /// The fewest points that tell a shape.
    pub const LEAST_POINTS: usize = 3;
    /// The most points taken.
    pub const MOST_POINTS: usize = 2_000;
    /// The most outlines taken.
    pub const MOST_OUTLINES: usize = 20;

    /// An outline from points as read, degrees and nautical miles: its bearings turned to true,
    /// its errors those stated for the radar, else those of the set. A variation that is the magnetic
    /// model's is that of the place reckoned for the outline's own time.
    ///
    /// # Errors
    /// A bearing that cannot be turned to true; the first of them.
    pub fn from_points(
        label: String,
        time: Option<Timestamp>,
        kind: BearingKind,
        points: &[(f64, f64)],
        (reckoning, own, radar): (&Reckoning, &Own, &Radar),
    ) -> Result<Self, OwnError> {
        let time = time.unwrap_or(reckoning.time);
        let heading_as_read = own.heading_as_read.filter(|_| kind == BearingKind::Relative);
        let kinds = std::iter::once(kind).chain(heading_as_read.map(|read| read.kind));
        let own = own.as_of((reckoning, time), kinds).unwrap_or(Cow::Borrowed(own));
        let traced = points.iter().map(|&(degrees, miles)| {
            let bearing = own.to_true(ReadBearing { kind, degrees })?;
            let range = SlantRange::clamped_metres(miles * METRES_PER_NAUTICAL_MILE);
            let stated = radar.range_sigma_nm.map(|nm| nm * METRES_PER_NAUTICAL_MILE);
            let range_sigma_m = stated.unwrap_or_else(|| radar.set.range_sigma(range));
            Ok(TracedPoint { degrees, bearing, range, range_sigma_m })
        });
        let points = traced.collect::<Result<Vec<_>, OwnError>>()?;
        let sigma = radar.bearing_sigma_deg.unwrap_or(radar.set.bearing_sigma_deg);
        Ok(Self {
            label,
            time,
            own_height: own.height,
            kind,
            heading_as_read,
            points,
            bearing_sigma: Angle::from_degrees(sigma),
        })
    }

    /// What its bearings were counted from, and the heading behind them where that was the bow.
    pub fn turned_from(&self) -> impl Iterator<Item = BearingKind> + '_ {
        std::iter::once(self.kind).chain(self.heading_as_read.map(|read| read.kind))
    }

    /// The range of its farthest point.
    pub fn farthest(&self) -> Option<SlantRange> {
        self.points.iter().map(|p| p.range).max_by(|a, b| a.metres().total_cmp(&b.metres()))
    }

    /// How its bearings came to be true, told of its first point; empty where they were true.
    pub fn chain(&self, own: &Own) -> String {
        let Some(first) = self.points.first() else { return String::new() };
        let read = ReadBearing { kind: self.kind, degrees: first.degrees };
        own.chain(read).unwrap_or_default()
    }
}
