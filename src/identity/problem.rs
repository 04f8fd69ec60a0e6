use super::outline::Traced;
use crate::contact::Part;
use crate::geodesy::{Covariance, LocalPlane, MEAN_EARTH_RADIUS_M, PlanePoint, Position};
use crate::radar::{LobeRatio, Lobes, geometry};
use crate::units::Angle;

/// A value and its standard deviation, in the unit of the value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// What was read.
    pub value: f64,
    /// Its own error, one standard deviation; nothing shared with other readings is in it.
    pub sigma: f64,
}

/// What the search needs to know of a charted mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// Where the chart has it.
    pub position: Position,
    /// Metres above mean sea level.
    pub height_m: f64,
    /// Error of its charted place on each axis, in metres; the chart's common shift is not in it.
    pub sigma_m: f64,
    /// How much farther the part that answers may lie from the charted point, in metres.
    pub slack_m: f64,
    /// How likely an operator is to pick it, against the others: salience; zero for what is no mark.
    pub weight: f64,
}

impl Candidate {
    /// How far from its charted point the part that answers may lie, by chance and by choice: a
    /// variance on each axis, square metres.
    pub(super) fn variance(&self) -> f64 {
        self.sigma_m * self.sigma_m + self.slack_m * self.slack_m
    }
}

/// The ratio of the two deflections of a contact, and the lobes it was read with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatioReading {
    /// 20 log₁₀(port/starboard), decibels.
    pub db: f64,
    /// The lobes of the set; their `ratio_sigma_db` is its error.
    pub lobes: Lobes,
    /// Stated true heading, radians.
    pub heading: f64,
    /// Right wing down positive.
    pub bank: Angle,
    /// How often a target at any bearing reads so, by decibel: see [`RatioReading::new`].
    pub density: f64,
}

impl RatioReading {
    /// A reading, with the density of its ratio over all bearings alike.
    ///
    /// That density is the mean over the circle of the normal law of the reading about the curve:
    /// what a contact that is nothing on the chart is weighed by.
    pub fn new(db: f64, lobes: Lobes, heading: f64, bank: Angle) -> Self {
        const PARTS: u32 = 720;
        let sigma = lobes.ratio_sigma_db;
        let normal = |off: f64| {
            (-0.5 * (off / sigma).powi(2)).exp() / (sigma * std::f64::consts::TAU.sqrt())
        };
        let bearing = |part: u32| Angle::from_degrees(360.0 * f64::from(part) / f64::from(PARTS));
        let sum: f64 = (0..PARTS)
            .map(|part| normal(db - lobes.ratio_db(bearing(part), Angle::ZERO, bank)))
            .sum();
        Self { db, lobes, heading, bank, density: sum / f64::from(PARTS) }
    }

    /// What the ratio would be for a target at this azimuth (radians, as the set would tell it) and
    /// depression.
    pub fn at(&self, azimuth: f64, depression: f64) -> LobeRatio {
        let relative = Angle::from_radians(azimuth - self.heading);
        self.lobes.ratio(relative, Angle::from_radians(depression), self.bank)
    }

    /// Every true bearing, in radians, that the ratio allows for an echo at sea level so far along
    /// the ground.
    pub fn bearings(&self, own_height_m: f64, along_m: f64) -> Vec<Reading> {
        let (down, _) = geometry::depression_of(own_height_m, along_m);
        self.lobes
            .bearings_for(self.db, Angle::from_radians(down), self.bank)
            .into_iter()
            .map(|told| Reading {
                value: self.heading + told.relative.radians(),
                sigma: told.sigma.radians(),
            })
            .collect()
    }
}

/// Which of the heights, and of the places of the run, that contacts were measured from: what is in sight is worked
/// out for each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Level(pub usize);

impl Level {
    /// Own height and place at the common time.
    pub const NOW: Self = Self(0);
}

/// A contact in plain numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Sight {
    /// Own antenna when it was measured, metres above mean sea level.
    pub own_height_m: f64,
    /// The level that this counts as.
    pub level: Level,
    /// Slant range in metres.
    pub range: Option<Reading>,
    /// True bearing in radians.
    pub bearing: Option<Reading>,
    /// The ratio of its two deflections, in place of a bearing.
    pub ratio: Option<RatioReading>,
    /// The true bearings, in radians, that the ratio allows at the range read; none without both.
    pub told: Vec<Reading>,
    /// Own run from the moment of the contact to the common time, as stated: metres, true axes.
    pub run: PlanePoint,
    /// Seconds from the contact to the common time; negative after it.
    pub elapsed_s: f64,
    /// The mark the operator says it is, and how sure he is, below one.
    pub belief: Option<Belief>,
    /// The chance that it is nothing on the chart: a ship, rain.
    pub off_chart: f64,
    /// The one candidate it can be, with no doubt about it: the nearest shore.
    pub surely: Option<usize>,
    /// Which part of the echo was measured; of a trace it says nothing.
    pub part: Part,
    /// An edge of coast that was traced, in place of a range and a bearing.
    pub traced: Option<Traced>,
}

/// A stated name counts as a contact more where the operator is at least so sure of it.
const SURE_NAME: f64 = 0.8;

/// Nearer to a pole the meridians run together within a run; a turn of theirs tells nothing there.
const MOST_LATITUDE: f64 = 89.0;

/// A point turned clockwise about the origin, by radians.
pub(crate) fn turned(point: PlanePoint, by: f64) -> PlanePoint {
    if by == 0.0 {
        return point;
    }
    let (sin, cos) = by.sin_cos();
    PlanePoint {
        east: point.east * cos + point.north * sin,
        north: point.north * cos - point.east * sin,
    }
}

/// How far true north turns clockwise over a run that ends at a place, radians: the convergence of the meridians,
/// the difference of longitude times the sine of the latitude.
fn convergence(run: PlanePoint, end: Position) -> f64 {
    if run == PlanePoint::default() {
        return 0.0;
    }
    run.east / MEAN_EARTH_RADIUS_M * tangent_of_latitude(end)
}

fn tangent_of_latitude(place: Position) -> f64 {
    let latitude = place.latitude().clamp(-MOST_LATITUDE, MOST_LATITUDE);
    Angle::from_degrees(latitude).radians().tan()
}

/// Where a run began that ends at a place; it is told in the axes of where it began.
pub(crate) fn place_before(run: PlanePoint, end: Position) -> Position {
    if run == PlanePoint::default() {
        return end;
    }
    let back = PlanePoint { east: -run.east, north: -run.north };
    LocalPlane::new(end).to_position(turned(back, convergence(run, end)))
}

impl Sight {
    /// Own place when it was measured, from that at the common time.
    pub(crate) fn place_then(&self, now: Position) -> Position {
        place_before(self.run, now)
    }

    /// How far own true north has turned clockwise from where it was measured to the common time, radians.
    pub(crate) fn convergence(&self, now: Position) -> f64 {
        convergence(self.run, now)
    }

    /// How far the run turns on the Earth, counter-clockwise, for each metre that own place at the common time goes
    /// east and north, radians.
    ///
    /// It is told by the meridians, and turns as they do: by tan φ / R for each metre east. Of each metre north the
    /// [`Sight::convergence`] to the common time takes its own derivative back, the run east times sec² φ / R².
    pub(crate) fn turns_by(&self, now: Position) -> [f64; 2] {
        let tangent = tangent_of_latitude(now);
        let by_north = self.run.east / MEAN_EARTH_RADIUS_M * (1.0 + tangent * tangent);
        [tangent, -by_north].map(|by_radian| by_radian / MEAN_EARTH_RADIUS_M)
    }

    /// Own place at the common time, from that when it was measured.
    pub(crate) fn place_now(&self, then: Position) -> Position {
        LocalPlane::new(then).to_position(self.run)
    }

    /// Whether the operator named it, and surely, what it is now taken for.
    pub(crate) fn is_named_as(&self, target: Option<usize>) -> bool {
        self.belief.is_some_and(|b| b.confidence >= SURE_NAME && Some(b.candidate) == target)
    }

    /// Whether it is of a leading edge, so that shore which is no mark may have answered.
    pub fn is_of_leading_edge(&self) -> bool {
        self.part == Part::Near && self.traced.is_none()
    }

    /// How many numbers were measured.
    pub fn scalars(&self) -> usize {
        let traced = self.traced.as_ref().map_or(0, |traced| traced.points);
        usize::from(self.range.is_some()) + usize::from(self.is_borne()) + traced
    }

    /// Whether a direction was measured: a bearing, or two deflections.
    pub fn is_borne(&self) -> bool {
        self.bearing.is_some() || self.ratio.is_some()
    }

    /// Every true bearing, in radians, that it may have been read in.
    pub fn directions(&self) -> &[Reading] {
        match (&self.bearing, self.ratio) {
            (Some(bearing), _) => std::slice::from_ref(bearing),
            (None, Some(_)) => &self.told,
            (None, None) => &[],
        }
    }

    /// Radians that a unit of what was read is worth in one of its directions: what turns a density
    /// by radian into one by decibel, where it was a ratio.
    pub fn radians_by_unit(&self, direction: Reading) -> f64 {
        self.ratio.map_or(1.0, |ratio| (direction.sigma / ratio.lobes.ratio_sigma_db).max(1e-9))
    }

    /// Whether it alone fixes a position once its mark is known.
    pub fn is_full(&self) -> bool {
        self.range.is_some() && self.is_borne()
    }
}

/// An operator's own identification, as a belief.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Belief {
    /// Index of the candidate.
    pub candidate: usize,
    /// How sure, in `(0, 1)`.
    pub confidence: f64,
}

/// Where own ship or aircraft is thought to be at the common time, before any contact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// The reckoning carried to the common time.
    pub position: Position,
    /// Its error at its own time, the error of the run since not included.
    pub covariance: Covariance,
    /// Seconds from the reckoning's own time to the common time.
    pub elapsed_s: f64,
    /// Direction of the run, radians from true north.
    pub track: f64,
    /// Error of the speed along the track, metres per second.
    pub along_sigma: f64,
    /// Error of the speed across the track, metres per second.
    pub across_sigma: f64,
}

impl Prior {
    /// The error of the run since the reckoning's own time, one standard deviation on its longer axis, metres.
    pub fn run_sigma_m(&self) -> f64 {
        self.along_sigma.max(self.across_sigma) * self.elapsed_s.abs()
    }
}

/// The errors that all contacts of a set share, one standard deviation each.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Shared {
    /// Of every bearing, radians.
    pub bearing_bias_sigma: f64,
    /// Of every range, metres.
    pub range_bias_sigma: f64,
    /// Of the whole chart, metres on each axis.
    pub chart_shift_sigma: f64,
    /// Of own height, metres.
    pub own_height_sigma: f64,
}

/// All that the estimator and the search look at.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// The marks that may have answered.
    pub candidates: Vec<Candidate>,
    /// What was measured.
    pub sights: Vec<Sight>,
    /// The reckoning.
    pub prior: Prior,
    /// Errors in common.
    pub shared: Shared,
    /// Own antenna at the common time, metres above mean sea level.
    pub own_height_m: f64,
    /// The greatest range at which a contact could have been plotted, metres.
    pub reach_m: f64,
    /// The candidate that stands for shore which is no mark of its own, where there is any.
    pub any_shore: Option<usize>,
}

impl Problem {
    /// The levels that contacts were measured from, each once, in order.
    pub fn levels(&self) -> Vec<Level> {
        let mut levels: Vec<Level> = self.sights.iter().map(|sight| sight.level).collect();
        levels.sort_unstable();
        levels.dedup();
        levels
    }
}

/// Which candidate each sight is; none for a contact that nothing on the chart explains.
pub type Targets = Vec<Option<usize>>;

/// The part of a mark that a sight measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Answer {
    /// Where the echo begins: what the range was read to.
    pub position: Position,
    /// What the bearing was taken of; none where the bearing chose the shore, and says no more.
    pub aim: Option<Position>,
    /// Metres of range for each metre that own position goes east and north, where the point that
    /// answers slides along the shore; none where it stays.
    pub range_by: Option<[f64; 2]>,
    /// How far along the mark's face the bearing may have been taken beside it, metres.
    pub face_m: f64,
    /// How far before or behind it the echo may have begun, metres.
    pub depth_m: f64,
    /// How much longer than to it the range is read, metres: to the middle of a stretched echo.
    pub late_m: f64,
}

impl Answer {
    /// One point, ranged and borne, with nothing to be unsure of.
    pub fn at(position: Position) -> Self {
        Self {
            position,
            aim: Some(position),
            range_by: None,
            face_m: 0.0,
            depth_m: 0.0,
            late_m: 0.0,
        }
    }
}

/// Where the part of a mark lies that answers a given sight, which moves with the observer.
pub trait Answering: Sync {
    /// The part of `candidate` that `sight` measured from `from`, all bearings reading `bias`
    /// radians high; none where it is the charted point itself.
    fn point(&self, sight: usize, candidate: usize, from: Position, bias: f64) -> Option<Answer>;

    /// Whether a place on some shore is a mark's own: on the shore of an islet.
    fn is_shore_of(&self, _candidate: usize, _at: Position) -> bool {
        false
    }

    /// How far a place lies from the nearest shore, in metres, roughly: for ordering only. None
    /// where there is no shore about.
    fn off_shore(&self, _at: Position) -> Option<f64> {
        None
    }

    /// Whether it is the charted point for every sight and candidate: then none is asked for.
    fn is_as_charted(&self) -> bool {
        false
    }
}

/// Every mark answers from its charted point.
#[derive(Debug, Clone, Copy, Default)]
pub struct Charted;

impl Answering for Charted {
    fn point(&self, _: usize, _: usize, _: Position, _: f64) -> Option<Answer> {
        None
    }

    fn is_as_charted(&self) -> bool {
        true
    }
}
