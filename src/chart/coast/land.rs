use rstar::AABB;

use super::ring::{crosses_north, crossing_latitude};
use super::run::IndexedRun;
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
    ///
    /// Nor can it tell of a place outside the part of a large coast that was taken in.
    pub fn is_land(&self, at: Position) -> Option<bool> {
        if self.taken_in().is_some_and(|area| !area.contains(at)) {
            None
        } else if self.has_open {
            self.by_nearest(at)
        } else if self.line_count() == 0 {
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

    /// Whether some group of rings holds a place by an odd number of crossings. What lies north of
    /// the place's tile counts as the tile has it.
    fn by_parity(&self, at: Position) -> bool {
        let mut crossed = match self.tiles.of(self, at) {
            None => self.crossings(at, |_, _| true, |_, group| group),
            Some(tile) => {
                let mut near = self.shore_crossings(at, tile.area.north, |_, _| true, |_, g| g);
                near.extend(tile.north_of(at).map(|ghost| ghost.group));
                near
            }
        };
        !odd_ones(&mut crossed).is_empty()
    }

    /// Whether the other rings of a ring's group hold a place.
    pub(super) fn held_by_others(&self, at: Position, group: u32, ring: u32) -> bool {
        let others = |line, its_group| its_group == group && line != ring;
        self.crossings(at, others, |_, group| group).len() % 2 == 1
    }

    /// One key for each crossing of the meridian north of a place with the rings asked for; what
    /// is asked and what is the key go by line and group.
    pub(super) fn crossings<K>(
        &self,
        at: Position,
        asked: impl Fn(u32, u32) -> bool,
        key: impl Fn(u32, u32) -> K,
    ) -> Vec<K> {
        let mut crossed = self.shore_crossings(at, 91.0, &asked, &key);
        if let Some(window) = &self.window {
            let ghosts = window.north_of(at).filter(|ghost| asked(ghost.line, ghost.group));
            crossed.extend(ghosts.map(|ghost| key(ghost.line, ghost.group)));
        }
        crossed
    }

    /// The same, of the shore at hand alone; runs wholly north of a latitude may be left out.
    fn shore_crossings<K>(
        &self,
        at: Position,
        north: f64,
        asked: impl Fn(u32, u32) -> bool,
        key: impl Fn(u32, u32) -> K,
    ) -> Vec<K> {
        let mut crossed = Vec::new();
        for turn in [-1.0, 0.0, 1.0] {
            let lon = at.longitude() + 360.0 * turn;
            let meridian = AABB::from_corners([lon, at.latitude()], [lon, north]);
            for run in self.runs.locate_in_envelope_intersecting(meridian) {
                let entry = self.lines.get(run.line as usize).filter(|line| line.closed);
                let Some(entry) = entry.filter(|line| asked(run.line, line.group)) else {
                    continue;
                };
                let count = self.crossings_by(run, turn, at);
                crossed.extend((0..count).map(|_| key(run.line, entry.group)));
            }
        }
        crossed
    }

    /// How often a run crosses the meridian of a place, moved by some turns, north of it.
    pub(super) fn crossings_by(&self, run: &IndexedRun, turn: f64, at: Position) -> usize {
        let first = run.first as usize;
        let points = self.points.get(first..=first + usize::from(run.segments));
        // The place is moved, not the shore, so that neighbouring runs see one longitude.
        let turns = turn - f64::from(run.turn);
        let place = LonLat { lon: at.longitude() + 360.0 * turns, lat: at.latitude() };
        let crosses = |pair: &&[LonLat]| match pair {
            [a, b] => crosses_north(*a, *b, place),
            _ => false,
        };
        points.unwrap_or_default().windows(2).filter(crosses).count()
    }

    /// On one meridian, which rings hold the places at whole degrees of latitude: for each ring
    /// that holds any, its line and group, and the latitudes.
    pub(in crate::chart) fn rings_down(&self, lon: f64) -> Vec<(i16, u32, u32)> {
        let mut crossed: Vec<(u32, u32, f64)> = Vec::new();
        for turn in [-1.0, 0.0, 1.0] {
            let along = lon + 360.0 * turn;
            let meridian = AABB::from_corners([along, -91.0], [along, 91.0]);
            for run in self.runs.locate_in_envelope_intersecting(meridian) {
                let Some(entry) = self.lines.get(run.line as usize).filter(|line| line.closed)
                else {
                    continue;
                };
                let first = run.first as usize;
                let points = self.points.get(first..=first + usize::from(run.segments));
                let at = lon + 360.0 * (turn - f64::from(run.turn));
                for pair in points.unwrap_or_default().windows(2) {
                    if let [a, b] = pair
                        && let Some(lat) = crossing_latitude(*a, *b, at)
                    {
                        crossed.push((run.line, entry.group, lat));
                    }
                }
            }
        }
        crossed.sort_by(|a, b| a.0.cmp(&b.0).then(b.2.total_cmp(&a.2)));
        let mut held = Vec::new();
        for ring in crossed.chunk_by(|a, b| a.0 == b.0) {
            for pair in ring.chunks(2) {
                let Some((line, group, upper)) = pair.first().copied() else { continue };
                let lower = pair.get(1).map_or(-91.0, |crossing| crossing.2);
                // Those below the upper crossing and not below the lower one.
                let inside = (-90..=90_i16).filter(|lat| {
                    let lat = f64::from(*lat);
                    upper > lat && lower <= lat
                });
                held.extend(inside.map(|lat| (lat, line, group)));
            }
        }
        held
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
pub(super) fn odd_ones(keys: &mut [u32]) -> Vec<u32> {
    keys.sort_unstable();
    keys.chunk_by(|a, b| a == b)
        .filter(|same| same.len() % 2 == 1)
        .filter_map(|same| same.first().copied())
        .collect()
}
