//! `[reckoning]`.

use super::section::Section;
use super::tree::{Node, Value};
use super::{Wrong, fault};
use crate::contact::Reckoning;
use crate::geodesy::Covariance;
use crate::units::{Angle, Bearing, GroundRange, Speed, True};

/// The largest error of a reckoning, in nautical miles on one axis.
const MOST_SIGMA_NM: f64 = 300.0;

/// The three ways to say how uncertain it is, in words.
const WAYS: &str = "give sigma_nm = 4.0, or sigma_along_nm and sigma_across_nm, or covariance_nm2 = \
                    [[ee, en], [en, nn]]";

/// The keys that say when, where and how well known: those of any reckoned start.
pub(crate) const PLACE_KEYS: &[&str] = &[
    "time",
    "position",
    "sigma_nm",
    "sigma_along_nm",
    "sigma_across_nm",
    "covariance_nm2",
    "track_deg",
];

/// The keys that say how it goes on from there.
const MOTION_KEYS: &[&str] = &["speed_kn", "track_sigma_deg", "speed_sigma_kn"];

pub(super) fn read(section: &Section<'_>) -> Option<Reckoning> {
    section.only(&[PLACE_KEYS, MOTION_KEYS].concat());
    let time = section.needed_time("2031-03-09T03:40:00Z");
    let position = section.needed_position("38 12.9 S, 21 30.5 W");
    let track = section.direction("track_deg");
    let speed = section
        .within("speed_kn", 0.0, Speed::MOST_KNOTS, "made good, in knots")
        .and_then(|knots| Speed::from_knots(knots).ok());
    one_without_the_other(section);
    let covariance = covariance(section, track);
    let track_sigma = section.sigma("track_sigma_deg", 45.0).unwrap_or(Reckoning::TRACK_SIGMA_DEG);
    let speed_sigma = section
        .sigma("speed_sigma_kn", 500.0)
        .unwrap_or_else(|| speed.map_or(0.0, |speed| Reckoning::SPEED_SIGMA_SHARE * speed.knots()));
    Some(Reckoning {
        time: time?,
        position: position?,
        covariance: covariance?,
        track,
        speed,
        track_sigma: Angle::from_degrees(track_sigma),
        speed_sigma: Speed::from_knots(speed_sigma).unwrap_or(Speed::ZERO),
        earlier: Vec::new(),
        flow: None,
    })
}

fn one_without_the_other(section: &Section<'_>) {
    for (given, missing) in [("track_deg", "speed_kn"), ("speed_kn", "track_deg")] {
        if section.has(given) && !section.has(missing) {
            let wrong = Wrong::Missing { who: section.who.clone(), key: missing.to_owned() };
            section.fault(missing, wrong, format!("{given} is of no use without it"));
        }
    }
}

pub(crate) fn covariance(
    section: &Section<'_>,
    track: Option<Bearing<True>>,
) -> Option<Covariance> {
    let circular = section.has("sigma_nm");
    let along_across = section.has("sigma_along_nm") || section.has("sigma_across_nm");
    let full = section.has("covariance_nm2");
    let ways = [(circular, "sigma_nm"), (along_across, "sigma_along_nm"), (full, "covariance_nm2")];
    let mut given = ways.iter().filter(|(given, _)| *given).map(|(_, key)| *key);
    match (given.next(), given.next()) {
        (None, _) => section.needed("sigma_nm", None, WAYS),
        (Some(first), Some(second)) => {
            let wrong = Wrong::Both { who: section.who.clone(), keys: (first, second) };
            section.fault(second, wrong, WAYS);
            None
        }
        (Some("sigma_nm"), None) => miles(section, "sigma_nm").map(Covariance::circular),
        (Some("sigma_along_nm"), None) => axes(section, track),
        (Some(_), None) => matrix(section),
    }
}

fn miles(section: &Section<'_>, key: &str) -> Option<GroundRange> {
    let miles = section.sigma(key, MOST_SIGMA_NM)?;
    GroundRange::from_nautical_miles(miles).ok()
}

fn axes(section: &Section<'_>, track: Option<Bearing<True>>) -> Option<Covariance> {
    let both = "sigma_along_nm and sigma_across_nm go together";
    let along = section.needed("sigma_along_nm", miles(section, "sigma_along_nm"), both);
    let across = section.needed("sigma_across_nm", miles(section, "sigma_across_nm"), both);
    let need = "along and across are counted from the track: give track_deg and speed_kn";
    let track = section.needed("track_deg", track, need);
    Some(Covariance::along_across(along?, across?, track?))
}

fn matrix(section: &Section<'_>) -> Option<Covariance> {
    let node = section.get("covariance_nm2")?;
    let refuse = |why: String| {
        let wrong = Wrong::Covariance { who: section.who.clone(), why };
        let mend = "covariance_nm2 = [[ee, en], [en, nn]] in square nautical miles, east first; \
                    for a circle of 4 NM [[16.0, 0.0], [0.0, 16.0]]";
        section.fault("covariance_nm2", wrong, mend);
    };
    let Some([ee, en, ne, nn]) = numbers(node) else {
        refuse("covariance_nm2 is no table of two by two numbers".to_owned());
        return None;
    };
    if (en - ne).abs() > 1e-9 * (ee.abs() + nn.abs()) {
        refuse(format!("covariance_nm2 has {en} and {ne} off its diagonal, which must be equal"));
        return None;
    }
    if ee <= 0.0 || nn <= 0.0 || ee.max(nn) > MOST_SIGMA_NM * MOST_SIGMA_NM {
        refuse(format!(
            "covariance_nm2 has variances {ee} and {nn}, which must be above 0 and at most {}",
            MOST_SIGMA_NM * MOST_SIGMA_NM
        ));
        return None;
    }
    match Covariance::from_square_miles(ee, en, nn) {
        Ok(covariance) if ee * nn - en * en > 0.0 => Some(covariance),
        Ok(_) => {
            refuse("covariance_nm2 has no error at all in one direction".to_owned());
            None
        }
        Err(error) => {
            refuse(fault::shown(&error.to_string(), 200));
            None
        }
    }
}

/// The four numbers of a two by two table, row by row.
fn numbers(node: &Node) -> Option<[f64; 4]> {
    let row = |node: &Node| -> Option<[f64; 2]> {
        let Value::Array(items) = &node.value else { return None };
        match items.as_slice() {
            [Node { value: Value::Number(a), .. }, Node { value: Value::Number(b), .. }]
                if a.is_finite() && b.is_finite() =>
            {
                Some([*a, *b])
            }
            _ => None,
        }
    };
    let Value::Array(rows) = &node.value else { return None };
    let [first, second] = rows.as_slice() else { return None };
    let ([ee, en], [ne, nn]) = (row(first)?, row(second)?);
    Some([ee, en, ne, nn])
}
