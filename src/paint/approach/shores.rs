use super::displaced::{Known, Runs, displaced};
use super::glance::{BEHIND_SHORE_M, Glance, LandEcho, ShoreSeen, Stand};
use super::marks::places;
use super::passage::{Showing, Watched, planned};
use super::plan::Plan;
use super::spread::{Spread, spread};
use crate::chart::{Chart, GeoBox};
use crate::geodesy::{LocalPlane, PlanePoint, Position, course, destination};
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// Shore is cut into pieces so long, in metres.
const PIECE_M: f64 = 6.0 * METRES_PER_NAUTICAL_MILE;

/// Pieces shorter than this are islets and rocks, told as marks, in metres.
const LEAST_PIECE_M: f64 = 1.5 * METRES_PER_NAUTICAL_MILE;

/// Two places of shore nearer to each other than this are one, in metres.
const APART_M: f64 = 3.0 * METRES_PER_NAUTICAL_MILE;

/// Metres between the places of a long segment of shore.
const STRIDE_M: f64 = METRES_PER_NAUTICAL_MILE;

/// The most places that are followed.
const MOST_PLACES: usize = 32;

/// Metres between the places of a line of sight at which land is looked for.
const SIGHT_STEP_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;

/// Metres between the places of the track from which it is tried.
const TRACK_STEP_M: f64 = 6.0 * METRES_PER_NAUTICAL_MILE;

/// A place of the shore that the run comes near, standing for the miles about it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// The place of the shore nearest to the track.
    pub at: Position,
    /// How near the track comes.
    pub closest: GroundRange,
    /// When land on its bearing first shows, shore or ground behind it; `None` where none does.
    pub land: Option<LandShows>,
    /// When the shore itself first shows.
    pub shore: Option<LandShows>,
}

/// Land begins to show, at even chances.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LandShows {
    /// It did so already where the run starts.
    pub at_start: bool,
    /// Along the track.
    pub run: GroundRange,
    /// From the start.
    pub seconds: f64,
    /// What shows then.
    pub echo: LandEcho,
    /// Where that is.
    pub place: Position,
    /// When it may be, by the reckoning's error.
    pub spread: Spread,
}

/// The shore that faces a run, in the order in which land first shows; what never shows comes last.
pub(super) fn shores(glance: &Glance<'_>, plan: &Plan, length_m: f64) -> Vec<Stretch> {
    let watcher = Watcher { glance, plan, length_m };
    let found = facing(glance.chart, plan, length_m, glance.reach_m());
    let mut stretches = watcher.watch(&found);
    let when = |stretch: &Stretch| stretch.land.map_or(f64::INFINITY, |land| land.seconds);
    stretches.sort_by(|a, b| {
        when(a)
            .total_cmp(&when(b))
            .then(a.closest.metres().total_cmp(&b.closest.metres()))
            .then(a.at.longitude().total_cmp(&b.at.longitude()))
    });
    stretches
}

/// A place of the shore, and how it lies to the run.
#[derive(Debug, Clone, Copy)]
struct Place {
    at: Position,
    off_m: f64,
    abeam_m: f64,
}

/// The places of shore that no land parts from the track, nearest first.
fn facing(chart: &Chart, plan: &Plan, length_m: f64, reach_m: f64) -> Vec<Place> {
    let line = Line::new(plan, length_m);
    let mut pieces = pieces(chart, &line, reach_m);
    pieces.retain(|place| place.off_m <= reach_m);
    pieces.sort_by(|a, b| {
        a.off_m.total_cmp(&b.off_m).then(a.at.longitude().total_cmp(&b.at.longitude()))
    });
    let mut kept: Vec<(Place, PlanePoint)> = Vec::new();
    for place in pieces {
        let flat = line.plane.to_plane(place.at);
        let alone = kept.iter().all(|(_, other)| other.distance(flat) >= APART_M);
        if kept.len() < MOST_PLACES && alone && in_sight(chart, plan, &place, length_m, reach_m) {
            kept.push((place, flat));
        }
    }
    kept.into_iter().map(|(place, _)| place).collect()
}

/// The track laid flat.
struct Line {
    plane: LocalPlane,
    start: PlanePoint,
    end: PlanePoint,
    length_m: f64,
    half: GroundRange,
}

impl Line {
    fn new(plan: &Plan, length_m: f64) -> Self {
        let plane = LocalPlane::new(plan.at(0.5 * length_m));
        let (start, end) = (plane.to_plane(plan.at(0.0)), plane.to_plane(plan.at(length_m)));
        let half = GroundRange::clamped_metres(0.5 * length_m);
        Self { plane, start, end, length_m, half }
    }

    /// How far off a point lies, and the run to where it is nearest.
    fn nearest(&self, point: PlanePoint) -> (f64, f64) {
        let (east, north) = (self.end.east - self.start.east, self.end.north - self.start.north);
        let square = (east * east + north * north).max(1.0);
        let along =
            (point.east - self.start.east) * east + (point.north - self.start.north) * north;
        let share = (along / square).clamp(0.0, 1.0);
        let at = PlanePoint {
            east: self.start.east + share * east,
            north: self.start.north + share * north,
        };
        (at.distance(point), share * self.length_m)
    }
}

/// The nearest place of each piece of shore within reach of the track.
fn pieces(chart: &Chart, line: &Line, reach_m: f64) -> Vec<Place> {
    let area = GeoBox::around(
        line.plane.centre(),
        GroundRange::clamped_metres(line.half.metres() + reach_m),
    );
    let mut runs: Vec<_> = chart.coast().runs_in(&area).collect();
    runs.sort_by_key(|run| (run.line, run.first));
    runs.dedup_by_key(|run| (run.line, run.first));
    let mut found = Vec::new();
    let mut piece = Piece::default();
    for run in runs {
        if piece.next != Some((run.line, run.first)) {
            piece.close(&mut found);
        }
        let mut points = 0;
        for point in run.points() {
            points += 1;
            piece.add(line, point.position());
            if piece.length_m >= PIECE_M {
                piece.close(&mut found);
                piece.add(line, point.position());
            }
        }
        piece.next = Some((run.line, run.first + points - 1));
    }
    piece.close(&mut found);
    found
}

/// A piece of shore as it is walked.
#[derive(Default)]
struct Piece {
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
            let (off_m, abeam_m) = line.nearest(point);
            if self.nearest.is_none_or(|place| off_m < place.off_m) {
                self.nearest = Some(Place { at: line.plane.to_position(point), off_m, abeam_m });
            }
        }
    }

    fn close(&mut self, found: &mut Vec<Place>) {
        if self.length_m >= LEAST_PIECE_M {
            found.extend(self.nearest);
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

struct Watcher<'a> {
    glance: &'a Glance<'a>,
    plan: &'a Plan,
    length_m: f64,
}

/// When land on the bearing of a place first shows on the planned track, and the shore itself.
type Shown = [Option<(f64, ShoreSeen)>; 2];

impl Watcher<'_> {
    fn watch(&self, places: &[Place]) -> Vec<Stretch> {
        let shown = self.shown(places);
        let others = self.displaced(places, &shown);
        let stretch = |((place, shown), others): ((&Place, &Shown), Runs)| Stretch {
            at: place.at,
            closest: GroundRange::clamped_metres(place.off_m),
            land: self.told(shown, &others, 0),
            shore: self.told(shown, &others, 1),
        };
        places.iter().zip(&shown).zip(others).map(stretch).collect()
    }

    fn shown(&self, places: &[Place]) -> Vec<Shown> {
        let passage = planned(self.glance, self.plan, self.length_m);
        let watched = |place: &Place| Watched {
            at: place.at,
            behind_m: BEHIND_SHORE_M,
            asked: 2,
            stages: passage.stages(),
            fine: passage.stages(),
        };
        let watched: Vec<Watched> = places.iter().map(watched).collect();
        let look =
            |stand: &Stand<'_>, place: usize| self.glance.shore_from(stand, places[place].at);
        passage.firsts(&watched, look).into_iter().map(|firsts| firsts.shown).collect()
    }

    /// The same on displaced tracks, of what shows on the planned one.
    fn displaced(&self, places: &[Place], shown: &[Shown]) -> Vec<Runs> {
        let known = |(place, [land, shore]): (&Place, &Shown)| Known {
            at: place.at,
            behind_m: BEHIND_SHORE_M,
            run_m: land.map_or(0.0, |land| land.0),
            asked: usize::from(land.is_some()) + usize::from(shore.is_some()),
            entry_m: Box::new(|span, _| Some(span.0)),
        };
        let known: Vec<Known<'_>> = places.iter().zip(shown).map(known).collect();
        let look =
            |stand: &Stand<'_>, place: usize| self.glance.shore_from(stand, places[place].at);
        displaced(self.glance, (self.plan, self.length_m), &known, look)
    }

    fn told(&self, shown: &Shown, others: &Runs, which: usize) -> Option<LandShows> {
        let (run_m, seen) = (*shown.get(which)?)?;
        let echo = if which == 0 { seen.land } else { seen.shore }?;
        let mut runs = others.map(|runs| runs[which]);
        if run_m > 0.0 {
            runs[2] = Some(run_m);
        }
        Some(LandShows {
            at_start: run_m <= 0.0,
            run: GroundRange::clamped_metres(run_m),
            seconds: self.plan.seconds(run_m),
            place: destination(self.plan.at(run_m), echo.bearing, echo.ground_range),
            echo,
            spread: spread(self.plan, &runs, self.length_m),
        })
    }
}

/// By the land on its bearing, and by the shore itself.
impl Showing for ShoreSeen {
    fn shows(&self, measure: usize) -> bool {
        if measure == 0 { self.land.is_some() } else { self.shore.is_some() }
    }

    fn chance(&self) -> f64 {
        self.land.map_or(0.0, |land| land.chance)
    }
}
