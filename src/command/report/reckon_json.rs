use jiff::{RoundMode, Timestamp, TimestampRound, Unit};
use serde::Serialize;

use super::pretty::pretty;
use super::reckon_crossed_json::{LineJson, RunningFixJson};
use super::rounding::{ANGLE_PLACES, LENGTH_PLACES, POSITION_PLACES, rounded, square_miles};
use super::words::from_nearest_mark;
use crate::chart::Chart;
use crate::command::Failure;
use crate::command::common::CAUTION;
use crate::geodesy::{Covariance, Position};
use crate::reckon::{
    Agreement, Craft, ErrorModel, FixTold, Flow, FlowFound, Leg, Legs, MadeGood, Passed, Reckoned,
};
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// Places after the point.
const SPEED_PLACES: i32 = 4;

/// Legs as reckoned, for scripts: `foreland.reckon/1`. Every key is always there.
///
/// # Errors
/// A fault of the program: the answer does not make JSON.
pub fn reckon_json(
    legs: &Legs,
    found: &Reckoned,
    chart: Option<&Chart>,
) -> Result<String, Failure> {
    let craft = legs.model.craft;
    let answer = Answer {
        schema: "foreland.reckon/1",
        craft: craft.as_str(),
        positions: found.passed.iter().map(|passed| PassedTold::of(passed, chart)).collect(),
        legs: legs
            .legs
            .iter()
            .enumerate()
            .map(|(index, leg)| LegTold::of(leg, found.after_fix(index + 1)))
            .collect(),
        fixes: found.fixes.iter().map(|fix| FixJson::of(fix, craft)).collect(),
        lines: found.lines.iter().map(LineJson::of).collect(),
        running_fixes: found.running_fixes.iter().map(|r| RunningFixJson::of(r, craft)).collect(),
        flow_found: found.latest_flow().map(|flow| FlowJson::of(&flow, craft)),
        errors: Errors::of(&legs.model, &legs.defaults),
        cautions: legs
            .cautions
            .iter()
            .chain(&found.cautions)
            .map(String::as_str)
            .chain([CAUTION])
            .collect(),
    };
    pretty(&answer)
}

/// To the millisecond: a leg of so many miles ends where it ends.
pub(super) fn told(time: Timestamp) -> Timestamp {
    let round = TimestampRound::new().smallest(Unit::Millisecond).mode(RoundMode::HalfEven);
    time.round(round).unwrap_or(time)
}

pub(super) fn miles(length: GroundRange) -> f64 {
    rounded(length.nautical_miles(), LENGTH_PLACES)
}

pub(super) fn degrees(value: f64) -> f64 {
    rounded(value, ANGLE_PLACES)
}

fn knots(value: f64) -> f64 {
    rounded(value, SPEED_PLACES)
}

#[derive(Serialize)]
struct Answer<'a> {
    schema: &'static str,
    craft: &'static str,
    positions: Vec<PassedTold>,
    legs: Vec<LegTold<'a>>,
    fixes: Vec<FixJson>,
    lines: Vec<LineJson<'a>>,
    running_fixes: Vec<RunningFixJson<'a>>,
    flow_found: Option<FlowJson>,
    errors: Errors<'a>,
    cautions: Vec<&'a str>,
}

#[derive(Serialize)]
struct Motion {
    heading_deg: Option<f64>,
    track_deg: Option<f64>,
    speed_kn: f64,
    drift_deg: Option<f64>,
}

impl Motion {
    fn of(made: &MadeGood) -> Self {
        Self {
            heading_deg: made.heading.map(|heading| degrees(heading.degrees()) % 360.0),
            track_deg: made.track.map(|track| degrees(track.degrees()) % 360.0),
            speed_kn: knots(made.speed.knots()),
            drift_deg: made.drift().map(|drift| degrees(drift.degrees())),
        }
    }
}

#[derive(Serialize)]
pub(super) struct EllipseJson {
    probability: f64,
    semi_major_nm: f64,
    semi_minor_nm: f64,
    major_axis_deg: f64,
}

impl EllipseJson {
    pub(super) fn of(covariance: Covariance) -> Self {
        let ellipse = covariance.ellipse(0.95);
        Self {
            probability: ellipse.probability,
            semi_major_nm: miles(ellipse.semi_major),
            semi_minor_nm: miles(ellipse.semi_minor),
            major_axis_deg: degrees(ellipse.major_axis.degrees()),
        }
    }
}

#[derive(Serialize)]
struct PassedTold {
    time: Timestamp,
    leg: usize,
    when: &'static str,
    lat_deg: f64,
    lon_deg: f64,
    covariance_nm2: [[f64; 2]; 2],
    ellipse: EllipseJson,
    circle_95_nm: f64,
    #[serde(flatten)]
    motion: Motion,
    from_mark: Option<String>,
}

impl PassedTold {
    fn of(passed: &Passed, chart: Option<&Chart>) -> Self {
        Self {
            time: told(passed.time),
            leg: passed.leg,
            when: passed.when.as_str(),
            lat_deg: rounded(passed.position.latitude(), POSITION_PLACES),
            lon_deg: rounded(passed.position.longitude(), POSITION_PLACES),
            covariance_nm2: square_miles(passed.covariance),
            ellipse: EllipseJson::of(passed.covariance),
            circle_95_nm: rounded(circle_nm(passed.covariance), LENGTH_PLACES),
            motion: Motion::of(&passed.made),
            from_mark: chart.and_then(|chart| from_nearest_mark(chart, passed.position)),
        }
    }
}

/// The radius of the circle about a position that holds 95 % of its error, in nautical miles.
pub(super) fn circle_nm(covariance: Covariance) -> f64 {
    let (mut low, mut high) = (0.0, covariance.ellipse(0.95).semi_major.metres().max(1.0) * 1.01);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if covariance.chance_beyond(middle, [0.0, 0.0]) > 0.05 {
            low = middle;
        } else {
            high = middle;
        }
    }
    high / METRES_PER_NAUTICAL_MILE
}

#[derive(Serialize)]
struct LegTold<'a> {
    start: Timestamp,
    #[serde(flatten)]
    motion: Motion,
    minutes: f64,
    distance_nm: f64,
    through_kn: Option<f64>,
    wind: Option<Vector>,
    current: Option<Vector>,
    flow_sigma_kn: f64,
    steer_kind: Option<&'static str>,
    steer_deg: Option<f64>,
    conversion: &'a [String],
    after_fix: Option<AfterFix>,
}

/// What a leg is reckoned to make good once a fix was taken before it or on it, and where that leads.
#[derive(Serialize)]
struct AfterFix {
    track_deg: Option<f64>,
    speed_kn: f64,
    end: Place,
}

impl AfterFix {
    fn of(passed: &Passed) -> Self {
        Self {
            track_deg: passed.made.track.map(|track| degrees(track.degrees()) % 360.0),
            speed_kn: knots(passed.made.speed.knots()),
            end: Place::of(passed.position),
        }
    }
}

/// A wind by where it is from, a current by where it sets toward.
#[derive(Serialize)]
struct Vector {
    #[serde(skip_serializing_if = "Option::is_none")]
    from_deg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    speed_kn: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    set_deg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    drift_kn: Option<f64>,
}

impl Vector {
    fn wind(flow: Flow) -> Option<Self> {
        let Flow::Wind(wind) = flow else { return None };
        let (from, speed) = (degrees(wind.from.degrees()), knots(wind.speed.knots()));
        Some(Self { from_deg: Some(from), speed_kn: Some(speed), set_deg: None, drift_kn: None })
    }

    fn current(flow: Flow) -> Option<Self> {
        let Flow::Current(current) = flow else { return None };
        let (set, drift) = (degrees(current.set.degrees()), knots(current.drift.knots()));
        Some(Self { from_deg: None, speed_kn: None, set_deg: Some(set), drift_kn: Some(drift) })
    }
}

impl<'a> LegTold<'a> {
    fn of(leg: &'a Leg, after_fix: Option<&Passed>) -> Self {
        Self {
            start: told(leg.start),
            motion: Motion::of(&leg.made),
            minutes: rounded(leg.seconds / 60.0, 4),
            distance_nm: rounded(leg.distance_nm(), LENGTH_PLACES),
            through_kn: leg.made.through.map(|through| knots(through.knots())),
            wind: Vector::wind(leg.flow),
            current: Vector::current(leg.flow),
            flow_sigma_kn: knots(leg.course.spread().knots()),
            steer_kind: leg.steer.as_ref().map(|steer| steer.kind.as_str()),
            steer_deg: leg.steer.as_ref().map(|steer| degrees(steer.degrees)),
            conversion: &leg.conversion,
            after_fix: after_fix.map(AfterFix::of),
        }
    }
}

#[derive(Serialize)]
pub(super) struct Place {
    lat_deg: f64,
    lon_deg: f64,
}

impl Place {
    pub(super) fn of(at: Position) -> Self {
        Self {
            lat_deg: rounded(at.latitude(), POSITION_PLACES),
            lon_deg: rounded(at.longitude(), POSITION_PLACES),
        }
    }
}

#[derive(Serialize)]
struct FixJson {
    time: Timestamp,
    leg: usize,
    position: Place,
    reckoned: Place,
    reckoned_covariance_nm2: [[f64; 2]; 2],
    offset_nm: f64,
    offset_deg: f64,
    chi2: f64,
    p: f64,
    taken: bool,
    weight: f64,
    flow_found: Option<FlowJson>,
}

impl FixJson {
    fn of(fix: &FixTold, craft: Craft) -> Self {
        let Agreement { offset, bearing, chi2, chance } = fix.agreement;
        Self {
            time: told(fix.time),
            leg: fix.leg,
            position: Place::of(fix.position),
            reckoned: Place::of(fix.reckoned),
            reckoned_covariance_nm2: square_miles(fix.reckoned_covariance),
            offset_nm: miles(offset),
            offset_deg: degrees(bearing.degrees()),
            chi2: rounded(chi2, 4),
            p: rounded(chance, 9),
            taken: fix.taken,
            weight: rounded(fix.weight, 4),
            flow_found: fix.flow.map(|flow| FlowJson::of(&flow, craft)),
        }
    }
}

#[derive(Serialize)]
pub(super) struct FlowJson {
    #[serde(flatten)]
    vector: Vector,
    speed_sigma_kn: f64,
    direction_sigma_deg: Option<f64>,
    covariance_kn2: [[f64; 2]; 2],
}

impl FlowJson {
    pub(super) fn of(flow: &FlowFound, craft: Craft) -> Self {
        let as_flow = match craft {
            Craft::Aircraft => Vector::wind(flow.wind().into()),
            Craft::Vessel => Vector::current(flow.current().into()),
        };
        let none = Vector { from_deg: None, speed_kn: None, set_deg: None, drift_kn: None };
        Self {
            vector: as_flow.unwrap_or(none),
            speed_sigma_kn: knots(flow.speed_sigma().knots()),
            direction_sigma_deg: flow.direction_sigma().map(|sigma| degrees(sigma.degrees())),
            covariance_kn2: flow.square_knots().map(|row| row.map(|value| rounded(value, 6))),
        }
    }
}

/// One standard deviation each, and the keys of those that nobody stated.
#[derive(Serialize)]
struct Errors<'a> {
    heading_sigma_deg: f64,
    speed_sigma_percent: f64,
    flow_hours: f64,
    wander_nm: f64,
    leeway_percent: f64,
    defaults: &'a [&'static str],
}

impl<'a> Errors<'a> {
    fn of(model: &ErrorModel, defaults: &'a [&'static str]) -> Self {
        Self {
            heading_sigma_deg: degrees(model.heading_sigma.degrees()),
            speed_sigma_percent: rounded(100.0 * model.speed_share, 4),
            flow_hours: rounded(model.flow_seconds / 3600.0, 4),
            wander_nm: rounded(model.wander_miles(), 4),
            leeway_percent: rounded(100.0 * model.leeway_share, 4),
            defaults,
        }
    }
}
