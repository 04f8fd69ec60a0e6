use jiff::Timestamp;

use super::course::Course;
use super::directions::Steering;
use super::growth::ErrorModel;
use super::running_fix::{Charted, Seen};
use super::triangle::{Flow, MadeGood};
use crate::geodesy::{Covariance, Position, along_track};
use crate::units::{Bearing, Speed, True};

/// One leg: a direction held for a time. Turns are taken as made on the spot.
#[derive(Debug, Clone, PartialEq)]
pub struct Leg {
    /// When it starts.
    pub start: Timestamp,
    /// Where it starts by what is stated, fixes on the way left out.
    pub from: Position,
    /// How long it lasts.
    pub seconds: f64,
    /// What is held.
    pub course: Course,
    /// What it makes good by what is stated.
    pub made: MadeGood,
    /// The heading that was steered, from which what lies off the bow counts; none where it is only
    /// worked back from what was made good, with the error of the wind or current in it.
    pub steered: Option<Bearing<True>>,
    /// What carries it, as stated.
    pub flow: Flow,
    /// One standard deviation of the flow on each axis, where it was stated.
    pub flow_sigma: Option<Speed>,
    /// What to steer, by the instrument that was named; none for true, or where no heading is known.
    pub steer: Option<Steering>,
    /// How directions that were not true became so, a line each.
    pub conversion: Vec<String>,
}

impl Leg {
    /// Where it is so many seconds after its start, by what is stated.
    pub fn place_after(&self, seconds: f64) -> Position {
        let metres = self.made.speed.metres_per_second() * seconds;
        self.made.track.map_or(self.from, |track| along_track(self.from, track, metres))
    }

    /// Over the ground by what is stated, in nautical miles.
    pub fn distance_nm(&self) -> f64 {
        self.made.speed.knots() * self.seconds / 3600.0
    }
}

/// A fix on the way, its errors its own.
#[derive(Debug, Clone, PartialEq)]
pub struct StatedFix {
    /// When.
    pub time: Timestamp,
    /// Where it puts us.
    pub position: Position,
    /// Its error.
    pub covariance: Covariance,
}

/// What was measured of one mark on the way: a position line, or two where both range and bearing are.
#[derive(Debug, Clone, PartialEq)]
pub struct StatedLine {
    /// When.
    pub time: Timestamp,
    /// What the mark is called; empty where only its position is given.
    pub mark: String,
    /// Where the mark is, and how well that is known.
    pub charted: Charted,
    /// The lines.
    pub seen: Vec<Seen>,
    /// How a bearing that was not true became so.
    pub conversion: Option<String>,
    /// Whether the reckoning is to go on from the running fix that this line makes.
    pub go_on: bool,
}

/// Legs as a file states them, each settled: times, headings, triangles.
#[derive(Debug, Clone, PartialEq)]
pub struct Legs {
    /// When the first leg starts.
    pub time: Timestamp,
    /// Where.
    pub position: Position,
    /// How well that is known.
    pub covariance: Covariance,
    /// What is taken to be uncertain.
    pub model: ErrorModel,
    /// Which errors are defaults, by the key that would state them.
    pub defaults: Vec<&'static str>,
    /// The legs, each from the end of the one before.
    pub legs: Vec<Leg>,
    /// Fixes on the way, in the order of their times.
    pub fixes: Vec<StatedFix>,
    /// Position lines on the way, in the order of their times.
    pub lines: Vec<StatedLine>,
    /// What the operator must know of what was given.
    pub cautions: Vec<String>,
}
