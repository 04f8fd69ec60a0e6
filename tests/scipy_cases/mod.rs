//! The fifty cases of `tests/reference/scipy-fixes/` as sightings.

use foreland::contact::{Belief, Contact, Own, Part, Radar, Reckoning, Sightings};
use foreland::geodesy::{Covariance, Position};
use foreland::radar::Set;
use foreland::units::{Angle, Bearing, Height, SlantRange, Speed};
use jiff::Timestamp;
use serde_json::Value;

use crate::towers::{miles, name};

/// Each as it is told.
pub fn all() -> Vec<Value> {
    let told: Value =
        serde_json::from_str(include_str!("../reference/scipy-fixes/cases.json")).unwrap();
    told["cases"].as_array().unwrap().clone()
}

pub fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("no number: {value}"))
}

pub fn position(value: &Value) -> Position {
    Position::new(number(&value[0]), number(&value[1])).unwrap()
}

/// Where its marks are charted.
pub fn places(case: &Value) -> Vec<Position> {
    case["contacts"].as_array().unwrap().iter().map(|c| position(&c["mark"])).collect()
}

/// What it was read, each contact named.
pub fn sightings(case: &Value) -> Sightings {
    let time: Timestamp = "2031-03-09T03:40:00Z".parse().unwrap();
    let height = Height::from_feet(number(&case["height_ft"])).unwrap();
    let contacts = case["contacts"]
        .as_array()
        .unwrap()
        .iter()
        .enumerate()
        .map(|(mark, read)| Contact {
            label: format!("{mark}"),
            time,
            own_height: height,
            range: read["range_nm"].as_f64().map(|nm| SlantRange::from_nautical_miles(nm).unwrap()),
            range_sigma: miles(number(&read["range_sigma_nm"])),
            bearing: read["bearing_deg"].as_f64().map(Bearing::wrapped_degrees),
            as_read: None,
            heading_as_read: None,
            lobes: None,
            bearing_sigma: Angle::from_degrees(number(&read["bearing_sigma_deg"])),
            part: Part::Centre,
            belief: Some(Belief { mark: name(mark), confidence: 0.999 }),
        })
        .collect();
    let reckoning = Reckoning {
        time,
        position: position(&case["reckoning"]),
        covariance: Covariance::circular(miles(number(&case["reckoning_sigma_nm"]))),
        track: None,
        speed: None,
        track_sigma: Angle::from_degrees(0.0),
        speed_sigma: Speed::from_knots(0.0).unwrap(),
        earlier: Vec::new(),
        flow: None,
    };
    let mut own = Own::at_height(height);
    own.heading_sigma = Angle::from_degrees(number(&case["bias_sigma_deg"]));
    let radar = Radar {
        set: Set::builtin("patrol").unwrap(),
        set_name: "patrol".to_owned(),
        range_sigma_nm: None,
        bearing_sigma_deg: None,
    };
    let mut sightings = Sightings::new(reckoning, own, radar).with_contacts(contacts);
    sightings.accuracy.point_sigma = Some(miles(number(&case["point_sigma_nm"])));
    sightings.accuracy.shift_sigma = Some(miles(number(&case["shift_sigma_nm"])));
    sightings
}
