//! The single slip that would explain why contacts and reckoning do not agree, told by `fix`.
//!
//! Contacts of towers on a chart made here, read from a known place by geodesics and a chord; one slip
//! is made in what is given, and the caution must name that slip.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

#[allow(dead_code, reason = "other tests use more of it")]
mod towers;

use foreland::chart::Chart;
use foreland::contact::{Belief, Contact, Own, Part, Radar, Reckoning, Sightings};
use foreland::fix::{Fix, Options, Verdict, fix};
use foreland::geodesy::{Covariance, Position, course};
use foreland::radar::Set;
use foreland::units::{Angle, Bearing, Height, SlantRange, Speed};
use towers::{centre, chart_of, miles, moved, name};

const HEIGHT_FT: f64 = 24_000.0;
const TIME: &str = "2031-03-13T04:10:00Z";

/// East and north of the middle, miles: three all round own place, so that ranges which all err one
/// way do not agree; one beside the first; one far off.
const TOWERS: [(f64, f64); 5] = [(9.0, 2.0), (-8.0, 5.0), (1.0, -9.0), (9.0, 8.0), (30.0, 30.0)];

fn chart() -> Chart {
    let folder = tempfile::tempdir().unwrap();
    let places: Vec<Position> =
        TOWERS.iter().map(|&(east, north)| moved(centre(), east, north)).collect();
    chart_of(folder.path(), &places)
}

/// Miles along the ground and degrees from the middle to a tower.
fn line(tower: usize) -> (f64, f64) {
    let (east, north) = TOWERS[tower];
    let line = course(centre(), moved(centre(), east, north));
    (line.distance.nautical_miles(), line.initial.degrees())
}

/// The chord over so many miles of a sphere of 6371 km from own height to the sea, in miles.
fn slant(ground: f64) -> f64 {
    let radius = 6_371.0 / 1.852;
    let own = radius + HEIGHT_FT * 0.3048 / 1852.0;
    (own * own + radius * radius - 2.0 * own * radius * (ground / radius).cos()).sqrt()
}

/// A contact of one tower, read at a range in miles, called another.
fn contact(tower: usize, range: f64, called: usize, confidence: f64) -> Contact {
    Contact {
        label: format!("{tower}"),
        time: TIME.parse().unwrap(),
        own_height: Height::from_feet(HEIGHT_FT).unwrap(),
        range: SlantRange::from_nautical_miles(range).ok(),
        range_sigma: miles(0.15),
        bearing: Some(Bearing::wrapped_degrees(line(tower).1)),
        as_read: None,
        heading_as_read: None,
        lobes: None,
        bearing_sigma: Angle::from_degrees(1.0),
        part: Part::Centre,
        belief: Some(Belief { mark: name(called), confidence }),
    }
}

/// Own place is the middle, reckoned there to within so many miles.
fn fixed(contacts: Vec<Contact>, sigma_nm: f64) -> Fix {
    let reckoning = Reckoning {
        time: TIME.parse().unwrap(),
        position: centre(),
        covariance: Covariance::circular(miles(sigma_nm)),
        track: None,
        speed: None,
        track_sigma: Angle::ZERO,
        speed_sigma: Speed::ZERO,
        earlier: Vec::new(),
        flow: None,
    };
    let radar = Radar {
        set: Set::builtin("patrol").unwrap(),
        set_name: "patrol".to_owned(),
        range_sigma_nm: Some(0.15),
        bearing_sigma_deg: Some(1.0),
    };
    let mut own = Own::at_height(Height::from_feet(HEIGHT_FT).unwrap());
    own.heading_sigma = Angle::from_degrees(1.0);
    let sightings = Sightings::new(reckoning, own, radar).with_contacts(contacts);
    fix(&chart(), &sightings, &Options::default())
}

fn of_three(range: impl Fn(f64) -> f64) -> Vec<Contact> {
    (0..3).map(|tower| contact(tower, range(line(tower).0), tower, 0.95)).collect()
}

#[track_caller]
fn told(fix: &Fix, words: &str) {
    assert_eq!(fix.verdict, Verdict::AtOdds, "{fix:#?}");
    let words = format!("{words} would explain it: check that first");
    assert!(fix.cautions.contains(&words), "{:#?}", fix.cautions);
}

#[test]
fn without_a_slip_none_is_told() {
    let fix = fixed(of_three(slant), 1.0);
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    assert!(!fix.cautions.iter().any(|c| c.contains("would explain")), "{:?}", fix.cautions);
}

#[test]
fn ranges_along_the_ground_are_told() {
    let fix = fixed(of_three(|ground| ground), 1.0);
    told(&fix, "ranges taken along the ground where the slant is asked");
}

#[test]
fn ranges_made_slant_twice_are_told() {
    let fix = fixed(of_three(|ground| slant(slant(ground))), 1.0);
    told(&fix, "slant ranges made longer for own height, as if they had been along the ground,");
}

#[test]
fn a_neighbour_taken_for_the_mark_is_told() {
    // Tower 3 lies 6 NM north of tower 0, far past the error of a mile.
    let fix = fixed(vec![contact(0, slant(line(0).0), 3, 0.999)], 1.0);
    told(&fix, "contact 0 being Mark 00, not Mark 03,");
}

#[test]
fn no_neighbour_is_told_where_none_explains_it() {
    // Called the tower far to the north-east; read where there is none.
    let mut contact = contact(0, 15.0, 4, 0.999);
    contact.bearing = Some(Bearing::wrapped_degrees(300.0));
    let fix = fixed(vec![contact], 1.0);
    assert!(!fix.cautions.iter().any(|c| c.contains("would explain")), "{:?}", fix.cautions);
}
