//! A run of a sitting as the steps of a filter, and its answers as places.

use jiff::{SignedDuration, Timestamp};
use nalgebra::{Matrix2, Matrix4};

use super::filter::{Known, Measured, Step, Vector, smoothed};
use super::model::Model;
use crate::fix::Estimate;
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position, along_track};
use crate::units::{Bearing, Speed, True};

/// No start is known better than this, in metres.
const LEAST_START_M: f64 = 1.0;

/// What is made good, as it is reckoned with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Going {
    /// Held as a rhumb line.
    pub track: Bearing<True>,
    /// Over the ground.
    pub speed: Speed,
    /// How it goes wrong.
    pub model: Model,
}

/// What becomes of the velocity found beside the one reckoned with, where that is altered.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Flow {
    /// Track and speed were stated anew: their error has nothing to do with the one before.
    Anew,
    /// What was found is reckoned with from now on: so much less is left. Metres per second.
    Used([f64; 2]),
}

/// What happens on a run.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// A fix was accepted.
    Fix {
        /// Its place in the sitting's order.
        number: usize,
        /// What its contacts told; a plane about `from` in metres. None where that cannot be told.
        measured: Option<Measured>,
        /// Where the reckoning went on from.
        from: Estimate,
    },
    /// Track and speed are others from now on.
    Altered {
        /// As reckoned with from now on.
        going: Going,
        /// And what was wrong with those before.
        flow: Flow,
    },
}

/// What is known of a part of a sitting through which one reckoning runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// When the reckoning starts.
    pub start: Timestamp,
    /// Where, and how well it was known.
    pub from: Estimate,
    /// What is made good; none where it is not known, and the run then ends with its start.
    pub going: Option<Going>,
    /// What happens, in order of time.
    pub events: Vec<(Timestamp, Event)>,
    /// When it ends.
    pub until: Timestamp,
}

/// How a place of the track is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// By fixes before and after, or at a fix.
    Smoothed,
    /// By the reckoning alone, from the last fix on or from the start.
    Reckoned,
}

impl Kind {
    /// The word in reports.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Smoothed => "smoothed",
            Self::Reckoned => "reckoned",
        }
    }
}

/// One place of the track.
#[derive(Debug, Clone, PartialEq)]
pub struct TrackPoint {
    /// When.
    pub time: Timestamp,
    /// Where, and how well.
    pub place: Estimate,
    /// How it is known.
    pub kind: Kind,
    /// The fix at that instant, by its place in the sitting's order.
    pub fix: Option<usize>,
    /// The velocity beside the one that was reckoned with up to then, metres per second: east, north,
    /// and its covariance: ee, en, nn.
    pub flow: ([f64; 2], [f64; 3]),
}

/// An instant of the run: where the reckoned path is then, and what is told of it.
struct Node {
    time: Timestamp,
    /// Of the reckoned path, after it was moved there.
    nominal: Position,
    fix: Option<usize>,
    /// It is told of.
    shown: bool,
    step: Step,
    /// What the step took from the velocity: with it, the velocity is that beside what was reckoned
    /// with before.
    taken: [f64; 2],
}

impl Run {
    /// The run smoothed: its start, each fix, and each `every` between.
    ///
    /// - `every`: of whole such steps from the beginning of time, so that minutes are whole minutes.
    /// - `leave`: a fix to leave out, by its number: what all the others tell of its instant.
    pub fn track(&self, every: SignedDuration, leave: Option<usize>) -> Vec<TrackPoint> {
        let nodes = self.nodes(every, leave);
        let start = self.known_at_start();
        let steps: Vec<Step> = nodes.iter().map(|node| node.step).collect();
        let answers = smoothed(start, &steps);
        let last = self.last_fix(leave);
        nodes
            .iter()
            .zip(answers)
            .filter(|(node, _)| node.shown)
            .filter_map(|(node, known)| node.told(&known, last))
            .collect()
    }

    /// The time of the last fix that counts.
    fn last_fix(&self, leave: Option<usize>) -> Option<Timestamp> {
        let counts = |event: &Event| match event {
            Event::Fix { number, measured, .. } => measured.is_some() && Some(*number) != leave,
            Event::Altered { .. } => false,
        };
        self.events.iter().filter(|(_, event)| counts(event)).map(|(time, _)| *time).max()
    }

    fn known_at_start(&self) -> Known {
        let [ee, en, nn] = self.from.covariance.square_metres();
        let least = LEAST_START_M * LEAST_START_M;
        let mut covariance = Matrix4::zeros();
        (covariance[(0, 0)], covariance[(1, 1)]) = (ee + least, nn + least);
        (covariance[(0, 1)], covariance[(1, 0)]) = (en, en);
        let spread = self.going.map_or_else(Matrix2::identity, |going| going.model.spread);
        covariance.fixed_view_mut::<2, 2>(2, 2).copy_from(&spread);
        Known { mean: Vector::zeros(), covariance }
    }

    fn nodes(&self, every: SignedDuration, leave: Option<usize>) -> Vec<Node> {
        let begin = Node {
            time: self.start,
            nominal: self.from.position,
            fix: None,
            shown: true,
            step: still(),
            taken: [0.0; 2],
        };
        let mut nodes = vec![begin];
        let mut going = self.going;
        for (time, event) in &self.events {
            ticks(&mut nodes, going, *time, every);
            let Some(mut node) = carried(nodes.last(), going, *time) else { break };
            match event {
                Event::Fix { number, measured, from } => {
                    let over = LocalPlane::new(node.nominal).to_plane(from.position);
                    node.step.shift -= Vector::new(over.east, over.north, 0.0, 0.0);
                    node.nominal = from.position;
                    node.step.measured = measured.filter(|_| Some(*number) != leave);
                    node.fix = Some(*number);
                    node.shown = true;
                }
                Event::Altered { going: altered, flow } => {
                    match flow {
                        Flow::Used([east, north]) => {
                            node.step.shift -= Vector::new(0.0, 0.0, *east, *north);
                            node.taken = [*east, *north];
                        }
                        Flow::Anew => node.step = node.step.with_new_velocity(&altered.model),
                    }
                    going = Some(*altered);
                }
            }
            nodes.push(node);
        }
        ticks(&mut nodes, going, self.until, every);
        if nodes.last().is_some_and(|node| node.time < self.until) {
            nodes.extend(carried(nodes.last(), going, self.until));
        }
        if let Some(end) = nodes.last_mut() {
            end.shown = true;
        }
        nodes
    }
}

/// Whole steps of time after the last node and before `until`.
fn ticks(nodes: &mut Vec<Node>, going: Option<Going>, until: Timestamp, every: SignedDuration) {
    let every = every.as_secs().max(1);
    let Some(last) = nodes.last() else { return };
    if going.is_none() {
        return;
    }
    let mut second = (last.time.as_second().div_euclid(every) + 1) * every;
    while let Ok(time) = Timestamp::from_second(second)
        && time < until
    {
        let Some(mut node) = carried(nodes.last(), going, time) else { return };
        node.shown = true;
        nodes.push(node);
        second += every;
    }
}

/// Nothing happens.
fn still() -> Step {
    Step {
        carry: Matrix4::identity(),
        shift: Vector::zeros(),
        noise: Matrix4::zeros(),
        measured: None,
    }
}

/// The reckoned path carried on from a node. An event told late counts from that node.
fn carried(from: Option<&Node>, going: Option<Going>, time: Timestamp) -> Option<Node> {
    let from = from?;
    let time = time.max(from.time);
    let seconds = time.duration_since(from.time).as_secs_f64();
    let (nominal, step) = match going {
        Some(going) => {
            let run = going.speed.metres_per_second() * seconds;
            let (carry, noise) = going.model.over(seconds);
            (along_track(from.nominal, going.track, run), Step { carry, noise, ..still() })
        }
        None if time > from.time => return None,
        None => (from.nominal, still()),
    };
    Some(Node { time, nominal, fix: None, shown: false, step, taken: [0.0; 2] })
}

impl Step {
    /// The velocity forgotten at the end, and known as of a new model.
    fn with_new_velocity(mut self, model: &Model) -> Self {
        let mut forget = Matrix4::zeros();
        (forget[(0, 0)], forget[(1, 1)]) = (1.0, 1.0);
        self.carry = forget * self.carry;
        self.noise = forget * self.noise * forget;
        self.shift = forget * self.shift;
        let mut velocity = self.noise.fixed_view_mut::<2, 2>(2, 2);
        velocity += model.spread;
        self
    }
}

impl Node {
    fn told(&self, known: &Known, last_fix: Option<Timestamp>) -> Option<TrackPoint> {
        let at = PlanePoint { east: known.mean[0], north: known.mean[1] };
        let block = |row: usize| {
            let c = &known.covariance;
            [c[(row, row)].max(0.0), c[(row, row + 1)], c[(row + 1, row + 1)].max(0.0)]
        };
        let place = &known.covariance;
        // As it is: what is no number must not read as no error.
        let covariance = Covariance::nearest(place[(0, 0)], place[(0, 1)], place[(1, 1)])?;
        let place =
            Estimate { position: LocalPlane::new(self.nominal).to_position(at), covariance };
        let smoothed = last_fix.is_some_and(|last| self.time <= last);
        let [east, north] = self.taken;
        Some(TrackPoint {
            time: self.time,
            place,
            kind: if smoothed { Kind::Smoothed } else { Kind::Reckoned },
            fix: self.fix,
            flow: ([known.mean[2] + east, known.mean[3] + north], block(2)),
        })
    }
}

impl Event {
    /// A fix whose place was measured by its contacts alone.
    ///
    /// None is measured where its covariance is flat.
    pub fn fix(number: usize, alone: &Estimate, from: Estimate) -> Self {
        let at = LocalPlane::new(from.position).to_plane(alone.position);
        let measured = Measured::of_place(at.east, at.north, alone.covariance.square_metres());
        Self::Fix { number, measured, from }
    }

    /// A fix of which only the place by contacts and reckoning together is known: the reckoning, as
    /// it was carried there, is taken out again, for it counts already.
    pub fn fix_with_reckoning(number: usize, together: Estimate, reckoned: &Estimate) -> Self {
        let at = LocalPlane::new(together.position).to_plane(reckoned.position);
        let both = Measured::of_place(0.0, 0.0, together.covariance.square_metres());
        let prior = Measured::of_place(at.east, at.north, reckoned.covariance.square_metres());
        let measured = both.zip(prior).and_then(|(both, prior)| Measured::without(&both, &prior));
        Self::Fix { number, measured, from: together }
    }
}
