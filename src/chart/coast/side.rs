//! On which side of a line drawn as a polyline the land lies.

use super::{Coast, LandSide, LonLat};
use crate::geodesy::{LocalPlane, PlanePoint, Position};

/// How far to each side of an open line the grid is asked, in metres: beyond the few hundred metres
/// by which real coasts and grids disagree.
const ASK_M: [f64; 3] = [600.0, 1_500.0, 4_000.0];

/// The most segments of one line that vote.
const VOTERS: usize = 200;

/// Decides the lines of one layer.
///
/// A closed line is an island, unless it lies inside another closed line of its layer. An open line
/// goes by the grid where that speaks clearly; else by the way round that the layer's other lines
/// have in common; else it stays unknown. Where the others have a way round in common, the grid has
/// to speak more clearly still to say otherwise: a grid of wide steps is often wrong in an inlet.
pub(super) fn decide(coast: &mut Coast, lines: &[u32], height: &dyn Fn(Position) -> Option<f64>) {
    let mut decided: Vec<(u32, LandSide, bool)> = Vec::new();
    let mut open = Vec::new();
    for &number in lines {
        let line = coast.line(number);
        let Some(first) = line.points.first() else { continue };
        if line.closed {
            let left = super::ring::signed_area(line.points) > 0.0;
            let inside = if left { LandSide::Left } else { LandSide::Right };
            let group = coast.lines.get(number as usize).map_or(0, |entry| entry.group);
            let lake = coast.held_by_others(first.position(), group, number);
            decided.push((number, if lake { inside.opposite() } else { inside }, lake));
        } else {
            open.push((number, vote(line.points, height)));
        }
    }
    let known = decided.iter().map(|(_, side, _)| *side);
    let common = common_side(known.chain(open.iter().map(|(_, vote)| vote.side(CLEAR))));
    for (number, vote) in open {
        let by_grid = vote.side(if common == LandSide::Unknown { CLEAR } else { VERY_CLEAR });
        let side = if by_grid == LandSide::Unknown { common } else { by_grid };
        decided.push((number, side, false));
    }
    for (number, side, lake) in decided {
        if let Some(entry) = coast.lines.get_mut(number as usize) {
            entry.side = side;
            entry.hole = lake;
        }
    }
}

/// The side that nine in ten of the lines decided so far share.
fn common_side(sides: impl Iterator<Item = LandSide>) -> LandSide {
    let (mut left, mut right) = (0_usize, 0_usize);
    for side in sides {
        match side {
            LandSide::Left => left += 1,
            LandSide::Right => right += 1,
            LandSide::Unknown => {}
        }
    }
    if left > 9 * right {
        LandSide::Left
    } else if right > 9 * left {
        LandSide::Right
    } else {
        LandSide::Unknown
    }
}

/// How many votes there were for land to the left and to the right of a line.
#[derive(Debug, Clone, Copy)]
struct Vote {
    left: f64,
    right: f64,
}

/// The share of the votes by which one side must lead.
const CLEAR: f64 = 0.3;
const VERY_CLEAR: f64 = 0.9;

impl Vote {
    /// The side that leads by `lead` of the votes, by more than chance and by more than a handful.
    fn side(self, lead: f64) -> LandSide {
        let (margin, votes) = ((self.left - self.right).abs(), self.left + self.right);
        if margin < lead * votes || margin * margin < 9.0 * votes || margin < 3.0 {
            LandSide::Unknown
        } else if self.left > self.right {
            LandSide::Left
        } else {
            LandSide::Right
        }
    }
}

/// Asks the grid at both sides of segments spread over the line.
fn vote(points: &[LonLat], height: &dyn Fn(Position) -> Option<f64>) -> Vote {
    let segments = points.len().saturating_sub(1);
    let step = segments.div_ceil(VOTERS).max(1);
    let (mut left, mut right) = (0.0, 0.0);
    for pair in points.windows(2).step_by(step) {
        let [a, b] = pair else { continue };
        for metres in ASK_M {
            match land_beside(*a, *b, metres, height) {
                Some((true, false)) => left += 1.0,
                Some((false, true)) => right += 1.0,
                _ => {}
            }
        }
    }
    Vote { left, right }
}

/// Whether the grid has land to the left and to the right of a segment's middle.
fn land_beside(
    a: LonLat,
    b: LonLat,
    metres: f64,
    height: &dyn Fn(Position) -> Option<f64>,
) -> Option<(bool, bool)> {
    let middle = LonLat { lon: 0.5 * (a.lon + b.lon), lat: 0.5 * (a.lat + b.lat) };
    let plane = LocalPlane::new(middle.position());
    let along = plane.to_plane(b.position());
    let length = along.east.hypot(along.north);
    if length <= 0.0 {
        return None;
    }
    let (east, north) = (-along.north / length * metres, along.east / length * metres);
    let left = height(plane.to_position(PlanePoint { east, north }))?;
    let right = height(plane.to_position(PlanePoint { east: -east, north: -north }))?;
    Some((left > 0.0, right > 0.0))
}
