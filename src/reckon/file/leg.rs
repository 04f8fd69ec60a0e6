//! `[[leg]]`, key by key.

use jiff::Timestamp;

use super::super::triangle::{Current, Flow, Wind};
use super::settle::Corrections;
use super::table;
use crate::contact::file::section::Section;
use crate::contact::{BearingKind, Wrong};
use crate::units::{Bearing, Deviation, GyroError, Speed, True, Variation};

/// Every key of it.
const KEYS: &[&str] = &[
    "time",
    "heading_deg",
    "track_deg",
    "heading_kind",
    "variation",
    "deviation",
    "gyro_error",
    "tas_kn",
    "speed_kn",
    "minutes",
    "distance_nm",
    "wind",
    "current",
];

/// The longest leg, in minutes and in nautical miles.
pub(super) const MOST_MINUTES: f64 = 1440.0;
const MOST_MILES: f64 = 3000.0;

/// The strongest wind and current taken, in knots.
const MOST_WIND_KN: f64 = 300.0;
const MOST_CURRENT_KN: f64 = 20.0;

/// What is held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Direction {
    /// As read, by the kind of the leg.
    Heading(f64),
    Track(Bearing<True>),
    /// None: it is stopped.
    Stopped,
}

/// What the speed counts from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Pace {
    /// Through the air or water.
    Through(Speed),
    /// Over the ground.
    Good(Speed),
}

/// When it ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Length {
    Minutes(f64),
    Miles(f64),
}

/// A leg as the file gives it, with its section to point into.
pub(super) struct Given<'t> {
    pub section: Section<'t>,
    pub stated: Option<Stated>,
}

/// What a leg says, every key read well.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stated {
    pub time: Option<Timestamp>,
    pub direction: Direction,
    pub corrections: Corrections,
    pub pace: Pace,
    pub length: Length,
    pub flow: Option<(Flow, Option<Speed>)>,
}

pub(super) fn read(section: Section<'_>) -> Given<'_> {
    let stated = stated(&section);
    Given { section, stated }
}

fn stated(section: &Section<'_>) -> Option<Stated> {
    section.only(KEYS);
    let time = section.time("time");
    let kind = section.heading_kind();
    let pace = pace(section);
    let length = length(section);
    let direction = direction(section, pace);
    let flow = flow(section);
    let variation = section.correction("variation", Variation::parse);
    let deviation = section.correction("deviation", Deviation::parse);
    let gyro_error = section.correction("gyro_error", GyroError::parse);
    let read_well = |key: &str, read: bool| !section.has(key) || read;
    let sound = read_well("time", time.is_some())
        && read_well("heading_kind", kind.is_some())
        && read_well("wind", flow.is_some())
        && read_well("current", flow.is_some())
        && read_well("variation", variation.is_some())
        && read_well("deviation", deviation.is_some())
        && read_well("gyro_error", gyro_error.is_some());
    let (pace, length, direction) = (pace?, length?, direction?);
    if !sound || !stops_for_a_time(section, pace, length) {
        return None;
    }
    let kind = kind.unwrap_or(BearingKind::True);
    let corrections = Corrections { kind, variation, deviation, gyro_error };
    Some(Stated { time, direction, corrections, pace, length, flow })
}

/// The one of two keys that is given; both or neither is noted.
fn one_of(
    section: &Section<'_>,
    keys: [&'static str; 2],
    both: &str,
    mend: &str,
) -> Option<&'static str> {
    let [first, second] = keys;
    let why = match (section.has(first), section.has(second)) {
        (true, false) => return Some(first),
        (false, true) => return Some(second),
        (true, true) => format!("{first} and {second} are both given: {both}"),
        (false, false) => format!("neither {first} nor {second} is given"),
    };
    section.fault(second, Wrong::Reading { who: section.who.clone(), why }, mend);
    None
}

fn pace(section: &Section<'_>) -> Option<Pace> {
    let mend = "tas_kn = 250, through the air or water; or speed_kn = 220, made good";
    let key = one_of(section, ["tas_kn", "speed_kn"], "one follows from the other", mend)?;
    let bounds = "knots, 0 where it is stopped; a direction astern is the opposite heading";
    let knots = section.within(key, 0.0, Speed::MOST_KNOTS, bounds)?;
    let speed = Speed::from_knots(knots).ok()?;
    Some(if key == "tas_kn" { Pace::Through(speed) } else { Pace::Good(speed) })
}

fn length(section: &Section<'_>) -> Option<Length> {
    let mend = "minutes = 15; or distance_nm = 55, over the ground";
    let key = one_of(section, ["minutes", "distance_nm"], "one follows from the other", mend)?;
    let most = if key == "minutes" { MOST_MINUTES } else { MOST_MILES };
    let value = section.number(key)?;
    if value <= 0.0 {
        let (who, key_name) = (section.who.clone(), key.to_owned());
        let mend = "how long the leg lasts, or how far it goes over the ground";
        section.fault(key, Wrong::NotAboveZero { who, key: key_name, value }, mend);
        return None;
    }
    let value = section.within(key, 0.0, most, "split a longer leg into several")?;
    Some(if key == "minutes" { Length::Minutes(value) } else { Length::Miles(value) })
}

fn direction(section: &Section<'_>, pace: Option<Pace>) -> Option<Direction> {
    let (Some(Pace::Through(speed) | Pace::Good(speed)), false, false) =
        (pace, section.has("heading_deg"), section.has("track_deg"))
    else {
        return stated_direction(section);
    };
    if speed == Speed::ZERO { Some(Direction::Stopped) } else { stated_direction(section) }
}

fn stated_direction(section: &Section<'_>) -> Option<Direction> {
    let mend = "heading_deg = 52.0 where the bow points; or track_deg = 45.0, true, made good";
    let keys = ["heading_deg", "track_deg"];
    let key = one_of(section, keys, "one follows from the other", mend)?;
    let degrees = section.within(key, 0.0, 360.0, "from 0 to 360, clockwise")?;
    match key {
        "heading_deg" => Some(Direction::Heading(degrees)),
        _ => Bearing::from_degrees(degrees).ok().map(Direction::Track),
    }
}

/// A stop lasts minutes; it goes no distance, and made fast nothing carries it.
fn stops_for_a_time(section: &Section<'_>, pace: Pace, length: Length) -> bool {
    let refuse = |key: &str, why: &str, mend: &str| {
        let wrong = Wrong::Reading { who: section.who.clone(), why: why.to_owned() };
        section.fault(key, wrong, mend);
        false
    };
    match (pace, length) {
        (Pace::Good(speed), _) if speed == Speed::ZERO && section.has("current") => refuse(
            "speed_kn",
            "speed_kn = 0 is lying fast over the ground, and a current is given",
            "write tas_kn = 0 where she drifts; leave the current out where she is moored",
        ),
        (Pace::Good(speed) | Pace::Through(speed), Length::Miles(_)) if speed == Speed::ZERO => {
            refuse("distance_nm", "stopped, it never makes good a distance", "give minutes = 10")
        }
        _ => true,
    }
}

/// The wind or the current, and one standard deviation where it is stated.
pub(super) fn flow(section: &Section<'_>) -> Option<(Flow, Option<Speed>)> {
    if section.has("wind") && section.has("current") {
        let why = "wind and current are both given".to_owned();
        let mend = "a wind carries an aircraft, a current a vessel: keep the one that carries it";
        section.fault("current", Wrong::Reading { who: section.who.clone(), why }, mend);
        return None;
    }
    if let Some(node) = section.get("wind") {
        let who = format!("wind of {}", section.who);
        let wind = table(section, &who, &format!("{}.wind", section.path), node)?;
        let keys = ["from_deg", "speed_kn", "sigma_kn"];
        let (from, speed, sigma) = vector(&wind, keys, "from", MOST_WIND_KN)?;
        return Some((Wind { from, speed }.into(), sigma));
    }
    let node = section.get("current")?;
    let who = format!("current of {}", section.who);
    let current = table(section, &who, &format!("{}.current", section.path), node)?;
    let keys = ["set_deg", "drift_kn", "sigma_kn"];
    let (set, drift, sigma) = vector(&current, keys, "toward", MOST_CURRENT_KN)?;
    Some((Current { set, drift }.into(), sigma))
}

/// A direction, a speed and its standard deviation, under their keys.
fn vector(
    section: &Section<'_>,
    keys: [&'static str; 3],
    sense: &str,
    most: f64,
) -> Option<(Bearing<True>, Speed, Option<Speed>)> {
    section.only(&keys);
    let [direction, strength, spread] = keys;
    let example = if sense == "from" {
        "wind = { from_deg = 92.0, speed_kn = 41.0, sigma_kn = 10.0 }"
    } else {
        "current = { set_deg = 127.0, drift_kn = 2.5, sigma_kn = 0.5 }"
    };
    let bounds = format!("the true direction {sense} which it goes, 0 to 360");
    let bounds = bounds.replace("from which it goes", "from which it blows");
    let degrees = section.within(direction, 0.0, 360.0, &bounds);
    let degrees = section.needed(direction, degrees, example);
    let knots = section.within(strength, 0.0, most, "its speed in knots, never negative");
    let knots = section.needed(strength, knots, example);
    let sigma = section.sigma(spread, most);
    if section.has(spread) && sigma.is_none() {
        return None;
    }
    let sigma = sigma.and_then(|knots| Speed::from_knots(knots).ok());
    Some((Bearing::from_degrees(degrees?).ok()?, Speed::from_knots(knots?).ok()?, sigma))
}
