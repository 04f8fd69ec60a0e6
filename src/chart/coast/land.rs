use rstar::AABB;

use super::ring::crosses_north;
use super::{Coast, LandSide, LonLat, NearShore};
use crate::geodesy::Position;
use crate::units::{Angle, GroundRange};

impl Coast {
    /// Whether a place is land. `None` where the chart cannot tell: there is no coast, the place
    /// lies beyond where the chart was cut out of a larger one, or there are open lines and it lies
    /// outside their box or the nearest has no known land side.
    ///
    /// Rings tell by the parity of their crossings with the meridian of the place, each polygon by
    /// itself, so that charts that overlap agree; where there are open lines as well, the side of
    /// the nearest shore tells, since no shore lies between a place and the shore nearest to it.
    pub fn is_land(&self, at: Position) -> Option<bool> {
        if self.has_open {
            self.by_nearest(at)
        } else if self.lines.is_empty() {
            None
        } else if self.by_parity(at) {
            Some(true)
        } else if self.is_beyond_clips(at) {
            None
        } else {
            Some(false)
        }
    }

    /// The closed lines that hold a place, where each line bounds land by itself.
    pub(in crate::chart) fn enclosing(&self, at: Position) -> Vec<u32> {
        let mut crossed = self.crossings(at, |_, _| true, |line, _| line);
        odd_ones(&mut crossed)
    }

    /// Whether some group of rings holds a place by an odd number of crossings.
    fn by_parity(&self, at: Position) -> bool {
        let mut crossed = self.crossings(at, |_, _| true, |_, group| group);
        !odd_ones(&mut crossed).is_empty()
    }

    /// Whether the other rings of a ring's group hold a place.
    pub(super) fn held_by_others(&self, at: Position, group: u32, ring: u32) -> bool {
        let others = |line, its_group| its_group == group && line != ring;
        self.crossings(at, others, |_, group| group).len() % 2 == 1
    }

    /// One key for each crossing of the meridian north of a place with the rings asked for; what
    /// is asked and what is the key go by line and group.
    fn crossings(
        &self,
        at: Position,
        asked: impl Fn(u32, u32) -> bool,
        key: impl Fn(u32, u32) -> u32,
    ) -> Vec<u32> {
        let mut crossed: Vec<u32> = Vec::new();
        for turn in [-1.0, 0.0, 1.0] {
            let lon = at.longitude() + 360.0 * turn;
            let north = AABB::from_corners([lon, at.latitude()], [lon, 91.0]);
            for run in self.runs.locate_in_envelope_intersecting(north) {
                let entry = self.lines.get(run.line as usize).filter(|line| line.closed);
                let Some(entry) = entry.filter(|line| asked(run.line, line.group)) else {
                    continue;
                };
                let first = run.first as usize;
                let points = self.points.get(first..=first + usize::from(run.segments));
                // The place is moved, not the shore, so that neighbouring runs see one longitude.
                let turns = turn - f64::from(run.turn);
                let place = LonLat { lon: at.longitude() + 360.0 * turns, lat: at.latitude() };
                for pair in points.unwrap_or_default().windows(2) {
                    if let [a, b] = pair
                        && crosses_north(*a, *b, place)
                    {
                        crossed.push(key(run.line, entry.group));
                    }
                }
            }
        }
        crossed
    }

    fn by_nearest(&self, at: Position) -> Option<bool> {
        let area = self.extent?;
        if !area.contains(at) {
            return None;
        }
        let near = self.nearest_shore(at, GroundRange::clamped_metres(5_000_000.0))?;
        let land = self.lines.get(near.line as usize)?.side;
        let on_left = self.lies_left(at, &near)?;
        match land {
            LandSide::Left => Some(on_left),
            LandSide::Right => Some(!on_left),
            LandSide::Unknown => None,
        }
    }

    /// Whether a place lies to the left of its nearest shore.
    fn lies_left(&self, at: Position, near: &NearShore) -> Option<bool> {
        let entry = self.lines.get(near.line as usize)?;
        let (start, end) = (entry.points.start, entry.points.end);
        let point = |i: usize| self.points.get(i).copied();
        let (a, b) = (point(near.segment)?, point(near.segment + 1)?);
        if near.along > 0.0 && near.along < 1.0 {
            return Some(turn_of(a, b, beside(at, a)) > 0.0);
        }
        // Nearest is a vertex, so the place lies on its outer side: right of a left turn.
        let ring = entry.closed;
        let (before, corner, after) = if near.along <= 0.0 {
            let before = if near.segment > start {
                point(near.segment - 1)
            } else if ring {
                end.checked_sub(2).and_then(point)
            } else {
                None
            };
            (before, a, Some(b))
        } else {
            let next = near.segment + 2;
            let after = if next < end {
                point(next)
            } else if ring {
                point(start + 1)
            } else {
                None
            };
            (Some(a), b, after)
        };
        let place = beside(at, corner);
        if let (Some(before), Some(after)) = (before, after) {
            let (before, after) = (same_turn(before, corner), same_turn(after, corner));
            let turn = turn_of(before, corner, after);
            if turn != 0.0 {
                return Some(turn < 0.0);
            }
        }
        Some(turn_of(a, b, same_turn(place, a)) > 0.0)
    }
}

/// A position in the turn of a vertex.
fn beside(at: Position, vertex: LonLat) -> LonLat {
    same_turn(LonLat { lon: at.longitude(), lat: at.latitude() }, vertex)
}

fn same_turn(point: LonLat, vertex: LonLat) -> LonLat {
    let turns = ((vertex.lon - point.lon) / 360.0).round();
    LonLat { lon: point.lon + 360.0 * turns, lat: point.lat }
}

/// Positive where the way from `a` over `b` to `c` turns left.
fn turn_of(a: LonLat, b: LonLat, c: LonLat) -> f64 {
    let stretch = Angle::from_degrees(b.lat).radians().cos();
    let (x1, y1) = ((b.lon - a.lon) * stretch, b.lat - a.lat);
    let (x2, y2) = ((c.lon - b.lon) * stretch, c.lat - b.lat);
    x1 * y2 - x2 * y1
}

/// The keys that occur an odd number of times.
fn odd_ones(keys: &mut [u32]) -> Vec<u32> {
    keys.sort_unstable();
    keys.chunk_by(|a, b| a == b)
        .filter(|same| same.len() % 2 == 1)
        .filter_map(|same| same.first().copied())
        .collect()
}
