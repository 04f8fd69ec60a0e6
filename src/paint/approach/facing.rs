//! Which places of the shore are followed along a run.

use std::collections::{BTreeMap, VecDeque};

use super::marks::places;
use super::plan::Plan;
use crate::chart::{Chart, GeoBox};
use crate::geodesy::{LocalPlane, PlanePoint, Position, course, destination, distance};
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// Shore is cut into pieces so long, in metres.
const PIECE_M: f64 = 6.0 * METRES_PER_NAUTICAL_MILE;

/// Pieces shorter than this are islets and rocks, told as marks, in metres.
const LEAST_PIECE_M: f64 = 1.5 * METRES_PER_NAUTICAL_MILE;

/// A line of shore with less than this within reach is an islet's, in metres: of an island some six
/// miles across.
const LONG_SHORE_M: f64 = 20.0 * METRES_PER_NAUTICAL_MILE;

/// Two places of shore nearer to each other than this are one, in metres.
const APART_M: f64 = 3.0 * METRES_PER_NAUTICAL_MILE;

/// Metres between the places of a long segment of shore.
const STRIDE_M: f64 = METRES_PER_NAUTICAL_MILE;

/// The most places that are followed.
pub(super) const MOST_PLACES: usize = 32;

/// Once there are so many, no more than this number is tried for one that is left out.
const MOST_TRIED: usize = 200;

/// Where some are left out: into so many stretches the track is parted, either side by itself.
const STRETCHES: usize = 8;

/// And so many places in a row that land hides are tried of one of them.
const HIDDEN_IN_A_ROW: usize = 8;

/// Metres between the places of a line of sight at which land is looked for.
const SIGHT_STEP_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;

/// Metres between the places of the track from which it is tried.
const TRACK_STEP_M: f64 = 6.0 * METRES_PER_NAUTICAL_MILE;

/// A segment of the track laid flat is no shorter than this, in metres: a rhumb line leaves its chord by
/// under 4 m in it at 62° of latitude (L²·tan φ / 8R).
const SEGMENT_M: f64 = 5.0 * METRES_PER_NAUTICAL_MILE;

/// And there are no more than this number of them.
const MOST_SEGMENTS: usize = 64;

/// A place of the shore, and how it lies to the run.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub at: Position,
    /// How near the track comes, metres.
    pub off_m: f64,
    /// Along the track to there, metres.
    abeam_m: f64,
    /// To the right of the track.
    right: bool,
}

/// The places of shore that are followed.
#[derive(Debug, Default)]
pub(super) struct Facing {
    pub places: Vec<Place>,
    /// How many more there are within reach, not nearer to these than places lie apart: land may hide
    /// some of them.
    pub left_out: usize,
}

/// The places of shore that no land parts from the track, nearest first.
///
/// Where there are more than are followed, half of them are taken from long shore and half from islets,
/// as far as there are so many, and each half by turns from stretches of the track and its sides, the
/// nearest of each first: islets close by do not take the place of the coast behind them.
pub(super) fn facing(chart: &Chart, plan: &Plan, length_m: f64, reach_m: f64) -> Facing {
    let line = Line::new(plan, length_m);
    let mut found = pieces(chart, &line, reach_m);
    for (place, _) in &mut found {
        // The plane stretches what lies far from its middle.
        place.off_m = distance(plan.at(place.abeam_m), place.at).metres();
    }
    found.retain(|(place, _)| place.off_m <= reach_m);
    found.sort_by(|(a, _), (b, _)| {
        a.off_m.total_cmp(&b.off_m).then(a.at.longitude().total_cmp(&b.at.longitude()))
    });
    let flat = found.iter().map(|(place, _)| line.plane.to_plane(place.at)).collect();
    let mut choice =
        Choice { chart, plan, length_m, reach_m, in_sight: vec![None; found.len()], found, flat };
    let (mut kept, some_left) = choice.nearest();
    if some_left {
        kept = choice.by_turns();
    }
    kept.sort_unstable();
    Facing {
        left_out: if some_left { choice.left_out(&kept) } else { 0 },
        places: kept.iter().filter_map(|number| choice.place(*number)).collect(),
    }
}

/// Places within reach, nearest first, of which those to follow are chosen; each goes by its number.
struct Choice<'a> {
    chart: &'a Chart,
    plan: &'a Plan,
    length_m: f64,
    reach_m: f64,
    /// With whether each is of long shore.
    found: Vec<(Place, bool)>,
    flat: Vec<PlanePoint>,
    /// What has been found of each so far.
    in_sight: Vec<Option<bool>>,
}

impl Choice<'_> {
    fn place(&self, number: usize) -> Option<Place> {
        self.found.get(number).map(|(place, _)| *place)
    }

    fn is_long(&self, number: usize) -> bool {
        self.found.get(number).is_some_and(|(_, long)| *long)
    }

    /// Whether no other of these lies close by.
    fn is_alone<'n>(&self, number: usize, mut others: impl Iterator<Item = &'n usize>) -> bool {
        let at = |number: usize| self.flat.get(number).copied().unwrap_or_default();
        others.all(|other| at(*other).distance(at(number)) >= APART_M)
    }

    fn is_in_sight(&mut self, number: usize) -> bool {
        let known = self.in_sight.get(number).copied().flatten();
        known.unwrap_or_else(|| {
            let seen = self.place(number).is_some_and(|place| {
                in_sight(self.chart, self.plan, &place, self.length_m, self.reach_m)
            });
            if let Some(known) = self.in_sight.get_mut(number) {
                *known = Some(seen);
            }
            seen
        })
    }

    /// As many as are followed, the nearest of all, and whether there is one more.
    fn nearest(&mut self) -> (Vec<usize>, bool) {
        let mut kept: Vec<usize> = Vec::new();
        let mut tried = 0;
        for number in 0..self.found.len() {
            if !self.is_alone(number, kept.iter()) {
                continue;
            }
            if kept.len() == MOST_PLACES {
                tried += 1;
                if tried > MOST_TRIED || self.is_in_sight(number) {
                    return (kept, true);
                }
            } else if self.is_in_sight(number) {
                kept.push(number);
            }
        }
        (kept, false)
    }

    /// As many as are followed, by turns from long shore and from islets.
    fn by_turns(&mut self) -> Vec<usize> {
        let mut kept: Vec<usize> = Vec::new();
        let mut sources = [true, false].map(|long| (long, Some(self.sectors(long))));
        while kept.len() < MOST_PLACES && sources.iter().any(|(_, sectors)| sectors.is_some()) {
            for (long, source) in &mut sources {
                let Some(sectors) = source.as_mut().filter(|_| kept.len() < MOST_PLACES) else {
                    continue;
                };
                match self.next_of(sectors, *long, &kept) {
                    Some(number) => kept.push(number),
                    None => *source = None,
                }
            }
        }
        kept
    }

    /// Those of long shore, or of islets, by stretches of the track and its sides, the last stretch first.
    fn sectors(&self, long: bool) -> VecDeque<VecDeque<usize>> {
        let mut sectors = vec![VecDeque::new(); 2 * STRETCHES];
        for (number, (place, _)) in self.found.iter().enumerate().filter(|(_, it)| it.1 == long) {
            let share = place.abeam_m / self.length_m.max(1.0);
            let stretch = ((share * STRETCHES as f64) as usize).min(STRETCHES - 1);
            let sector = 2 * (STRETCHES - 1 - stretch) + usize::from(place.right);
            if let Some(sector) = sectors.get_mut(sector) {
                sector.push_back(number);
            }
        }
        sectors.into()
    }

    /// The next place by turns; none where there is none any more. Long shore is followed though an islet
    /// lies close before it.
    fn next_of(
        &mut self,
        sectors: &mut VecDeque<VecDeque<usize>>,
        long: bool,
        kept: &[usize],
    ) -> Option<usize> {
        while let Some(mut sector) = sectors.pop_front() {
            let mut hidden = 0;
            while let Some(number) = sector.pop_front() {
                let beside = kept.iter().filter(|other| !long || self.is_long(**other));
                if !self.is_alone(number, beside) {
                    continue;
                }
                if self.is_in_sight(number) {
                    sectors.push_back(sector);
                    return Some(number);
                }
                hidden += 1;
                if hidden == HIDDEN_IN_A_ROW {
                    // What lies farther off than these is most likely hidden too.
                    break;
                }
            }
        }
        None
    }

    /// How many more there are that are not known to be hidden.
    fn left_out(&self, kept: &[usize]) -> usize {
        let mut all = kept.to_vec();
        for number in 0..self.found.len() {
            let hidden = self.in_sight.get(number).copied().flatten() == Some(false);
            if !hidden && self.is_alone(number, all.iter()) {
                all.push(number);
            }
        }
        all.len() - kept.len()
    }
}

/// The track laid flat: a line of short segments, for a rhumb line is no straight one.
struct Line {
    plane: LocalPlane,
    /// With the run to each, metres.
    points: Vec<(f64, PlanePoint)>,
    half: GroundRange,
}

/// How a point lies to the track.
#[derive(Debug, Clone, Copy)]
struct Near {
    off_m: f64,
    /// The run to where it is nearest, metres.
    abeam_m: f64,
    right: bool,
}

impl Line {
    fn new(plan: &Plan, length_m: f64) -> Self {
        let plane = LocalPlane::new(plan.at(0.5 * length_m));
        let segments = ((length_m / SEGMENT_M).ceil() as usize).clamp(1, MOST_SEGMENTS);
        let points = (0..=segments)
            .map(|number| {
                let run_m = length_m * number as f64 / segments as f64;
                (run_m, plane.to_plane(plan.at(run_m)))
            })
            .collect();
        Self { plane, points, half: GroundRange::clamped_metres(0.5 * length_m) }
    }

    /// How far off a point lies, and the run to where it is nearest.
    fn nearest(&self, point: PlanePoint) -> Near {
        let mut nearest = Near { off_m: f64::INFINITY, abeam_m: 0.0, right: false };
        for ends in self.points.windows(2) {
            let [(from_m, a), (to_m, b)] = ends else { continue };
            let (east, north) = (b.east - a.east, b.north - a.north);
            let (dx, dy) = (point.east - a.east, point.north - a.north);
            let square = (east * east + north * north).max(1.0);
            let share = ((dx * east + dy * north) / square).clamp(0.0, 1.0);
            let at = PlanePoint { east: a.east + share * east, north: a.north + share * north };
            let off_m = at.distance(point);
            if off_m < nearest.off_m {
                let abeam_m = from_m + share * (to_m - from_m);
                nearest = Near { off_m, abeam_m, right: dx * north > dy * east };
            }
        }
        nearest
    }
}

/// The nearest place of each piece of shore about the track, and whether it is of long shore.
fn pieces(chart: &Chart, line: &Line, reach_m: f64) -> Vec<(Place, bool)> {
    let area = GeoBox::around(
        line.plane.centre(),
        GroundRange::clamped_metres(line.half.metres() + reach_m),
    );
    let mut runs: Vec<_> = chart.coast().runs_in(&area).collect();
    runs.sort_by_key(|run| (run.line, run.first));
    runs.dedup_by_key(|run| (run.line, run.first));
    let mut walked = Walked::default();
    let mut piece = Piece::default();
    for run in runs {
        if piece.next != Some((run.line, run.first)) {
            piece.close(&mut walked);
        }
        piece.line = run.line;
        let mut points = 0;
        for point in run.points() {
            points += 1;
            piece.add(line, point.position());
            if piece.length_m >= PIECE_M {
                piece.close(&mut walked);
                piece.line = run.line;
                piece.add(line, point.position());
            }
        }
        piece.next = Some((run.line, run.first + points - 1));
    }
    piece.close(&mut walked);
    let long = |line: &u32| walked.lengths_m.get(line).is_some_and(|all_m| *all_m >= LONG_SHORE_M);
    walked.places.iter().map(|(line, place)| (*place, long(line))).collect()
}

/// What has been walked of the shore.
#[derive(Default)]
struct Walked {
    /// The nearest place of each piece, with the line of the chart that it is of.
    places: Vec<(u32, Place)>,
    /// How much of each line.
    lengths_m: BTreeMap<u32, f64>,
}

/// A piece of shore as it is walked.
#[derive(Default)]
struct Piece {
    line: u32,
    length_m: f64,
    last: Option<PlanePoint>,
    nearest: Option<Place>,
    next: Option<(u32, usize)>,
}

impl Piece {
    /// Walks on to a point of the shore, in strides where it is far: a coarse shore has few points.
    fn add(&mut self, line: &Line, at: Position) {
        let flat = line.plane.to_plane(at);
        let last = self.last.replace(flat).unwrap_or(flat);
        let length_m = last.distance(flat);
        self.length_m += length_m;
        for along_m in places(STRIDE_M.min(length_m), length_m, STRIDE_M) {
            let share = if length_m > 0.0 { along_m / length_m } else { 1.0 };
            let point = PlanePoint {
                east: last.east + share * (flat.east - last.east),
                north: last.north + share * (flat.north - last.north),
            };
            let Near { off_m, abeam_m, right } = line.nearest(point);
            if self.nearest.is_none_or(|place| off_m < place.off_m) {
                let at = line.plane.to_position(point);
                self.nearest = Some(Place { at, off_m, abeam_m, right });
            }
        }
    }

    fn close(&mut self, walked: &mut Walked) {
        *walked.lengths_m.entry(self.line).or_default() += self.length_m;
        if self.length_m >= LEAST_PIECE_M {
            walked.places.extend(self.nearest.map(|place| (self.line, place)));
        }
        *self = Self::default();
    }
}

/// Whether only sea lies between a place of the shore and some place of the track.
fn in_sight(chart: &Chart, plan: &Plan, place: &Place, length_m: f64, reach_m: f64) -> bool {
    let steps = (length_m / TRACK_STEP_M).ceil() as usize;
    let every = (0..=steps).map(|step| (step as f64 * TRACK_STEP_M).min(length_m));
    std::iter::once(place.abeam_m).chain(every.rev()).any(|run_m| {
        let from = plan.at(run_m);
        let line = course(from, place.at);
        let clear_m = line.distance.metres() - SIGHT_STEP_M;
        line.distance.metres() <= reach_m
            && places(0.0, clear_m.max(0.0), SIGHT_STEP_M)
                .map(|away_m| destination(from, line.initial, GroundRange::clamped_metres(away_m)))
                .all(|at| chart.ground().is_land(at) != Some(true))
    })
}

#[cfg(test)]
mod tests;
