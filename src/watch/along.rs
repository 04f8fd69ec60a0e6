//! Along the run: how the planned landfall lies now, what should come to paint and when, and what of
//! it is overdue.

use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Sender, channel};
use std::thread;

use jiff::{SignedDuration, Timestamp};

use super::Watch;
use crate::chart::Chart;
use crate::geodesy::{Covariance, Position, course};
use crate::paint::Conditions;
use crate::paint::approach::{Plan, first_paints};
use crate::radar::Set;
use crate::reckon::{
    Craft, ErrorModel, Flow, FlowFound, MadeGood, TriangleError, Velocity, to_make_good,
};
use crate::units::{Angle, Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, Speed, True};

/// The name of the thread that looks ahead: its panics are an answer.
pub const LOOKOUT: &str = "lookout";

/// How far ahead what should paint is worked out, in nautical miles: from the reckoning's start, and
/// so much more for each such step of the run since.
const AHEAD_NM: f64 = 60.0;
const STEP_NM: f64 = 20.0;
/// A reckoning older than this tells nothing of what lies ahead, in nautical miles run.
const MOST_AHEAD_NM: f64 = 300.0;

/// The planned landfall as it lies from where we are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToLandfall {
    /// To the place planned.
    pub distance: GroundRange,
    /// Over the ground.
    pub course: Bearing<True>,
    /// The heading that makes that course good, and the speed over the ground then, against the wind or
    /// stream that stands between what is steered and what is made good; none where heading and
    /// speed through air or water are not both known.
    pub steer: Option<Result<MadeGood, TriangleError>>,
    /// When it will be made at the speed made good; none where none is known, or it is longer than
    /// a day.
    pub eta: Option<Timestamp>,
    /// One standard deviation of that time, in seconds: of own place along the course, and of the
    /// speed.
    pub eta_sigma_s: f64,
    /// How far off the line from where the sitting's first reckoning was, as it was put right since, metres,
    /// to the right positive.
    pub cross_track_m: Option<f64>,
}

/// A mark that should come to paint.
#[derive(Debug, Clone, PartialEq)]
pub struct Due {
    /// The mark's name.
    pub mark: String,
    /// The chart names it; else it has a name made from where it lies.
    pub named: bool,
    /// Before this it paints in one case of forty.
    pub earliest: Timestamp,
    /// By the reckoning.
    pub expected: Timestamp,
    /// After this it has not painted in one case of forty; none where it may never.
    pub latest: Option<Timestamp>,
    /// How far off it then is.
    pub range: GroundRange,
    /// Where.
    pub bearing: Bearing<True>,
}

/// How a mark that should come to paint stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// Its time is past, and no contact was taken for it.
    Overdue,
    /// It may paint at any moment.
    Due,
    /// Its time is not come.
    Later,
    /// A contact was taken for it.
    Reported,
}

impl Due {
    /// How it stands now, the marks that contacts were taken for being `reported`.
    pub fn standing(&self, now: Timestamp, reported: &[&str]) -> Standing {
        if reported.contains(&self.mark.as_str()) {
            Standing::Reported
        } else if self.latest.is_some_and(|latest| now > latest) {
            Standing::Overdue
        } else if now >= self.earliest {
            Standing::Due
        } else {
            Standing::Later
        }
    }
}

/// What a run is worked out for: asked for again when it is another.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// When it starts.
    pub time: Timestamp,
    /// From where, on what track, how sure.
    pub plan: Plan,
    /// The radar in use.
    pub set: Set,
    /// How much of it is looked along.
    pub length: GroundRange,
}

impl Run {
    /// Whether what is known of the way before tells nothing of this one: it stands while more of the same
    /// way is looked along.
    pub fn is_another(now: Option<&Self>, before: Option<&Self>) -> bool {
        !now.zip(before).is_some_and(|(now, before)| now.goes_on(before))
    }

    /// Whether it is the same run, looked along as far or farther: then its errors count over a
    /// longer way.
    pub fn goes_on(&self, before: &Self) -> bool {
        let Plan { track_sigma, speed_sigma, .. } = before.plan;
        let plan = Plan { track_sigma, speed_sigma, ..self.plan };
        (self.time, plan, &self.set) == (before.time, before.plan, &before.set)
            && self.length.metres() >= before.length.metres()
    }
}

impl Watch {
    /// The run on from the reckoning on the leg in force, to 40 NM and more beyond where it is by `now`; none
    /// without track and speed.
    pub fn run(&self, now: Timestamp) -> Option<Run> {
        let reckoning = self.in_force(now)?;
        let (track, speed) = (reckoning.track?, reckoning.speed?);
        if speed.knots() < 1.0 {
            return None;
        }
        let [ee, _, nn] = reckoning.covariance.square_metres();
        // Halfway: what changes is then neither too sure at the end nor too unsure at the start.
        let gone_nm = speed.knots() * now.duration_since(reckoning.time).as_secs_f64() / 3600.0;
        let steps = (gone_nm.max(0.0) / STEP_NM).floor();
        let length_nm = (AHEAD_NM + STEP_NM * steps).min(MOST_AHEAD_NM);
        let halfway_s = 0.5 * length_nm / speed.knots() * 3600.0;
        let (track_sigma, speed_sigma) = reckoning.sigmas_over(halfway_s);
        let plan = Plan {
            from: reckoning.position,
            track,
            speed,
            height: self.own().height,
            sigma: GroundRange::clamped_metres(f64::midpoint(ee, nn).max(0.0).sqrt()),
            track_sigma,
            speed_sigma,
        };
        let length = GroundRange::clamped_metres(length_nm * METRES_PER_NAUTICAL_MILE);
        Some(Run { time: reckoning.time, plan, set: self.radar().set.clone(), length })
    }

    /// How the planned landfall lies from a place; none where none is planned.
    pub fn to_landfall(
        &self,
        (position, covariance): (Position, Covariance),
        now: Timestamp,
    ) -> Option<ToLandfall> {
        let planned = self.landfall()?;
        let line = course(position, planned);
        let steer = self
            .flow()
            .zip(self.through())
            .map(|(flow, through)| to_make_good(line.initial, through, flow));
        let speed = match &steer {
            Some(Ok(made)) => Some(made.speed),
            // It never arrives.
            Some(Err(_)) => None,
            None => self.over(now).map(|(_, speed)| speed),
        };
        let speed = speed.filter(|speed| speed.knots() > 0.1);
        let (eta, eta_sigma_s) = speed.map_or((None, 0.0), |speed| {
            let own = covariance.sigma_towards(line.initial);
            self.arrival(line.distance, speed, own, now)
        });
        Some(ToLandfall {
            distance: line.distance,
            course: line.initial,
            steer,
            eta,
            eta_sigma_s,
            cross_track_m: self.origin().map(|from| cross_track_m(from, planned, position)),
        })
    }

    /// The wind or stream between what is steered and what is made good, with its error; none where
    /// heading, speed through air or water, track and speed are not all known, or the heading is one of
    /// before the last alteration, or turned alone.
    ///
    /// The errors of both triangles' sides add up: of track and speed made good, or of the wind or stream
    /// that was found by fixes and is in them, and of heading and speed through air or water.
    pub fn flow_found(&self) -> Option<FlowFound> {
        if !self.is_steady() {
            return None;
        }
        let (through, heading) = (self.through()?, self.own().heading?);
        let reckoning = self.reckoning()?;
        let (track, speed) = (reckoning.track?, reckoning.speed?);
        let velocity = Velocity::toward(track, speed).minus(Velocity::toward(heading, through));
        let turned = |speed: Speed, by: Angle| {
            Speed::clamped_metres_per_second(speed.metres_per_second() * by.radians().abs())
        };
        let (along, across) = match &reckoning.flow {
            Some(flow) => flow.sigmas(track),
            None => (reckoning.speed_sigma, turned(speed, reckoning.track_sigma)),
        };
        let share = ErrorModel::of(self.craft()).speed_share;
        let slow = Speed::clamped_metres_per_second(through.metres_per_second() * share);
        let aside = turned(through, self.own().true_heading_sigma());
        let (made_good, steered) =
            (in_a_second(along, across, track), in_a_second(slow, aside, heading));
        Some(FlowFound { velocity, covariance: made_good.plus(steered).square_metres() })
    }

    /// The same as a wind or a stream, as it is spoken.
    pub fn flow(&self) -> Option<Flow> {
        let found = self.flow_found()?;
        Some(match self.craft() {
            Craft::Aircraft => found.wind().into(),
            Craft::Vessel => found.current().into(),
        })
    }

    fn arrival(
        &self,
        distance: GroundRange,
        speed: Speed,
        own_sigma_m: f64,
        now: Timestamp,
    ) -> (Option<Timestamp>, f64) {
        let metres_per_second = speed.metres_per_second();
        let seconds = distance.metres() / metres_per_second;
        let by_speed = self.reckoning().map_or(0.0, |reckoning| {
            let (_, sigma) = reckoning.sigmas_over(seconds);
            sigma.metres_per_second() / metres_per_second * seconds
        });
        let sigma = (own_sigma_m / metres_per_second).hypot(by_speed);
        let within_a_day = seconds < SignedDuration::from_hours(24).as_secs_f64();
        let eta = within_a_day
            .then(|| now.checked_add(SignedDuration::from_secs(seconds.round() as i64)).ok());
        (eta.flatten(), sigma)
    }
}

/// The error of a velocity as that of where it leads to in a second: (m/s)² are then square metres.
fn in_a_second(along: Speed, across: Speed, axis: Bearing<True>) -> Covariance {
    let metres = |speed: Speed| GroundRange::clamped_metres(speed.metres_per_second());
    Covariance::along_across(metres(along), metres(across), axis)
}

/// How far a place lies off the line from one to another, metres, to the right of it positive.
///
/// On the mean sphere: asin(sin(d) sin(Δ)), d from the line's start to the place and Δ between the
/// two courses there.
fn cross_track_m(from: Position, to: Position, place: Position) -> f64 {
    let (line, own) = (course(from, to), course(from, place));
    let radius = crate::geodesy::MEAN_EARTH_RADIUS_M;
    let angle = own.initial.minus(line.initial).radians();
    radius * ((own.distance.metres() / radius).sin() * angle.sin()).asin()
}

/// What should come to paint along a run, in order of time. Marks that paint where it starts are not
/// in it.
pub fn due_on(chart: &Chart, run: &Run) -> Vec<Due> {
    let conditions = Conditions::default();
    let after = |seconds: f64| {
        run.time.checked_add(SignedDuration::from_secs(seconds.round() as i64)).unwrap_or(run.time)
    };
    first_paints(chart, &run.plan, &run.set, &conditions, run.length)
        .iter()
        .filter_map(|event| {
            let mark = chart.marks().get(event.seen.mark)?;
            Some(Due {
                mark: mark.name.clone(),
                named: mark.named,
                earliest: after(event.spread.earliest_s),
                expected: after(event.seconds),
                latest: event.spread.latest_s.map(after),
                range: event.seen.ground_range,
                bearing: event.seen.bearing,
            })
        })
        .collect()
}

/// What should come to paint on a run.
#[derive(Debug, Clone)]
pub enum Coming {
    /// In order of time.
    Told(Arc<Vec<Due>>),
    /// It could not be worked out.
    Failed,
}

/// Starts a thread that works out what should come to paint on the latest run sent to it, on the chart
/// sent with it, and tells it, until nobody listens. It takes longer than a fix may wait, and stays on one
/// thread of its own, so that a fix finds the others free.
///
/// # Errors
/// No thread can be had.
pub fn start_lookout(
    tell: impl Fn(Box<Run>, Coming) -> bool + Send + 'static,
) -> io::Result<Sender<(Arc<Chart>, Box<Run>)>> {
    let (runs, asked) = channel::<(Arc<Chart>, Box<Run>)>();
    let alone = rayon::ThreadPoolBuilder::new().num_threads(1).build().map_err(io::Error::other)?;
    thread::Builder::new().name(LOOKOUT.to_owned()).spawn(move || {
        while let Ok(first) = asked.recv() {
            let (chart, run) = asked.try_iter().last().unwrap_or(first);
            let due = catch_unwind(AssertUnwindSafe(|| alone.install(|| due_on(&chart, &run))));
            // It may be the last to hold that part of a large chart.
            drop(chart);
            let due = due.map_or(Coming::Failed, |marks| Coming::Told(Arc::new(marks)));
            if !tell(run, due) {
                return;
            }
        }
    })?;
    Ok(runs)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::destination;

    #[test]
    fn a_place_to_the_right_of_the_line_is_off_it_to_the_right() {
        let from = Position::new(-38.0, -21.0).unwrap();
        let east = Bearing::<True>::wrapped_degrees(90.0);
        let miles = |nm: f64| GroundRange::from_nautical_miles(nm).unwrap();
        let to = destination(from, east, miles(60.0));
        // 10 NM out at 30° to the right of the line: 10 sin 30° = 5 NM (plane; the sphere differs by
        // a metre).
        let right = destination(from, Bearing::wrapped_degrees(120.0), miles(10.0));
        assert!((cross_track_m(from, to, right) / METRES_PER_NAUTICAL_MILE - 5.0).abs() < 0.01);
        let left = destination(from, Bearing::wrapped_degrees(60.0), miles(10.0));
        assert!((cross_track_m(from, to, left) / METRES_PER_NAUTICAL_MILE + 5.0).abs() < 0.01);
    }

    #[test]
    fn a_mark_is_later_due_overdue_or_reported() {
        let at = |text: &str| -> Timestamp { text.parse().unwrap() };
        let mut due = Due {
            mark: "Gannet Head".to_owned(),
            named: true,
            earliest: at("2031-03-09T03:41:00Z"),
            expected: at("2031-03-09T03:43:00Z"),
            latest: Some(at("2031-03-09T03:46:00Z")),
            range: GroundRange::ZERO,
            bearing: Bearing::ZERO,
        };
        let standing = |due: &Due, now| due.standing(at(now), &[]);
        assert_eq!(standing(&due, "2031-03-09T03:40:59Z"), Standing::Later);
        assert_eq!(standing(&due, "2031-03-09T03:43:30Z"), Standing::Due);
        assert_eq!(standing(&due, "2031-03-09T03:46:01Z"), Standing::Overdue);
        let now = at("2031-03-09T03:50:00Z");
        assert_eq!(due.standing(now, &["Gannet Head"]), Standing::Reported);
        // What may never paint is never overdue.
        due.latest = None;
        assert_eq!(due.standing(now, &[]), Standing::Due);
    }
}
