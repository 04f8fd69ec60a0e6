//! The operator: which echoes are measured, and how well.
//!
//! Echoes are taken by chance, in proportion to how they stand out, none within a mile and a half of
//! another. The cursor is laid on the echo as the blurred picture shows it: its range is that of the
//! leading edge there, its bearing that of what stands out, each then read with its error. Ships show no
//! different from small islands.

use foreland::geodesy::{PlanePoint, Position, destination, distance};
use foreland::units::{Bearing, GroundRange, True};
use rand_chacha::ChaCha8Rng;

use super::case::{BEARING_DEG, Case, Measured, RANGE_NM};
use super::features::{Feature, Kind, features};
use super::picture::{Picture, RAYS};
use super::random::{between, happens, normal};
use super::shore::MILE;
use super::trace;

/// Echoes nearer each other than this are not measured twice, in metres.
const APART_M: f64 = 1.5 * MILE;

/// A ship nearer the coast than this runs into its echo, in metres.
const CLEAR_OF_COAST_M: f64 = 0.5 * MILE;

/// How high a ship shows, in metres.
pub const SHIP_M: f64 = 15.0;

/// Of the small echoes, how many are measured in their middle.
pub const CENTRED: f64 = 0.6;

/// Of the ends of a coast, how many are measured as tangents where these are taken.
pub const TANGENTS: f64 = 0.6;

/// An echo as measured, in the units of a sightings file, and what it truly is.
#[derive(Debug, Clone)]
pub struct Taken {
    pub range_nm: Option<f64>,
    pub bearing_deg: Option<f64>,
    /// Port and starboard, of a set with two lobes.
    pub deflection: Option<[f64; 2]>,
    pub part: &'static str,
    /// Where its land or ship is.
    pub place: Position,
    /// What it is, for whoever reads it again.
    pub what: &'static str,
    pub ship: bool,
    /// How much it stands out, in nautical miles.
    pub weight: f64,
}

/// What one operator's hand and set do to every reading.
#[derive(Debug, Clone, Copy)]
pub struct Hand {
    /// Common to all bearings, degrees.
    pub bias_deg: f64,
    /// Every other error against what the solver is told.
    pub times: f64,
}

/// An echo taken by chance, by how it stands out, apart from all taken before.
pub fn choose(
    random: &mut ChaCha8Rng,
    picture: &Picture,
    before: &[Position],
    case: &Case,
    heading: Option<f64>,
) -> Option<Feature> {
    let apart = |feature: &&Feature| {
        heading.is_none_or(|heading| trace::stands_alone(picture, feature, heading))
            && before.iter().all(|other| distance(*other, feature.place).metres() >= APART_M)
    };
    let all = features(picture, case.least_out_nm * MILE);
    let mut keyed: Vec<(f64, &Feature)> = all
        .iter()
        .filter(apart)
        .map(|feature| (-between(random, f64::MIN_POSITIVE, 1.0).ln() / feature.weight, feature))
        .collect();
    keyed.sort_by(|a, b| a.0.total_cmp(&b.0));
    keyed.first().map(|(_, feature)| **feature)
}

/// The nearest shore of the picture, by its range.
pub fn nearest_shore(random: &mut ChaCha8Rng, picture: &Picture, hand: Hand) -> Option<Taken> {
    let ray = (0..RAYS).min_by(|a, b| picture.edge[*a].total_cmp(&picture.edge[*b]))?;
    picture.edge[ray].is_finite().then(|| Taken {
        range_nm: Some(range(random, picture, picture.edge[ray], hand)),
        bearing_deg: None,
        deflection: None,
        part: "shore",
        place: picture.painted_place(ray),
        what: "nearest shore",
        ship: false,
        weight: 0.0,
    })
}

/// Measures a feature.
pub fn measure(
    random: &mut ChaCha8Rng,
    picture: &Picture,
    feature: &Feature,
    case: &Case,
    hand: Hand,
    heading: Option<f64>,
) -> Taken {
    let degrees = feature.ray as f64 * 360.0 / RAYS as f64;
    let read = degrees + BEARING_DEG * hand.times * normal(random) + hand.bias_deg;
    let near = feature.near_m;
    let tangent = case.measured == Measured::Mixed && happens(random, TANGENTS);
    let (part, along, off, what) = match feature.kind {
        Kind::Islet if happens(random, CENTRED) => ("centre", feature.middle_m, 0.0, "islet"),
        Kind::Islet => ("near", near, 0.0, "islet"),
        Kind::LeftEnd if tangent => ("left", near, -0.5, "left end of a coast"),
        Kind::RightEnd if tangent => ("right", near, 0.5, "right end of a coast"),
        Kind::LeftEnd => ("near", near, 0.0, "left end of a coast"),
        Kind::RightEnd => ("near", near, 0.0, "right end of a coast"),
        Kind::Point => ("near", near, 0.0, "point"),
    };
    let range = range(random, picture, along, hand);
    let is_tangent = matches!(part, "left" | "right");
    let (wants_range, wants_bearing) = wanted(case, is_tangent);
    let deflection = heading.map(|heading| {
        let height = picture.scope.height_m;
        trace::deflections(random, degrees - heading, along, height, hand.times)
    });
    let wants_bearing = wants_bearing && deflection.is_none();
    Taken {
        deflection,
        range_nm: wants_range.then_some(range),
        bearing_deg: wants_bearing.then(|| turn(read + off * picture.scope.beam_deg)),
        part,
        place: feature.place,
        what,
        ship: false,
        weight: feature.weight,
    }
}

/// A ship somewhere on the sea in sight, clear of the coast and of what was taken before.
pub fn ship(
    random: &mut ChaCha8Rng,
    picture: &Picture,
    before: &[Position],
    case: &Case,
    hand: Hand,
    heading: Option<f64>,
) -> Option<Taken> {
    let reach = picture.scope.reach_m.min(picture.horizon_m(SHIP_M));
    let (ray, ground, place) = (0..400).find_map(|_| {
        let degrees = between(random, 0.0, 360.0);
        let ground = reach * between(random, 0.0025, 1.0).sqrt();
        let towards = Bearing::<True>::wrapped_degrees(degrees);
        let at = PlanePoint::at(GroundRange::clamped_metres(ground), towards);
        let place = picture.plane.to_position(at);
        let clear = ground < picture.edge[under(degrees)] - CLEAR_OF_COAST_M;
        let apart = before.iter().all(|other| distance(*other, place).metres() >= APART_M);
        let ahead = heading.is_none_or(|heading| trace::is_ahead(degrees, heading));
        (clear && apart && ahead).then_some((degrees, ground, place))
    })?;
    let bearing = ray + BEARING_DEG * hand.times * normal(random) + hand.bias_deg;
    let part = if happens(random, CENTRED) { "centre" } else { "near" };
    let range = range(random, picture, ground, hand);
    let (wants_range, wants_bearing) = wanted(case, false);
    let deflection = heading.map(|heading| {
        let height = picture.scope.height_m;
        trace::deflections(random, ray - heading, ground, height, hand.times)
    });
    let wants_bearing = wants_bearing && deflection.is_none();
    Some(Taken {
        deflection,
        range_nm: wants_range.then_some(range),
        bearing_deg: wants_bearing.then(|| turn(bearing)),
        part,
        place,
        what: "ship",
        ship: true,
        weight: 0.0,
    })
}

/// Whether range and bearing are given.
fn wanted(case: &Case, is_tangent: bool) -> (bool, bool) {
    let range = case.measured != Measured::Bearings && !is_tangent;
    let bearing = case.measured != Measured::Ranges || is_tangent;
    (range, bearing)
}

/// The ray under a cursor.
fn under(degrees: f64) -> usize {
    super::picture::ray((degrees * RAYS as f64 / 360.0).round() as i64)
}

/// A range as read, in nautical miles: to the cell of the picture, then with the reader's error.
fn range(random: &mut ChaCha8Rng, picture: &Picture, ground_m: f64, hand: Hand) -> f64 {
    let cell = picture.scope.cell_m;
    let shown = (picture.slant(ground_m) / cell).round() * cell;
    let least = picture.scope.height_m / MILE + 0.05;
    (shown / MILE + RANGE_NM * hand.times * normal(random)).max(least)
}

fn turn(degrees: f64) -> f64 {
    degrees.rem_euclid(360.0)
}

/// A place so far east and north, in nautical miles.
pub fn moved(from: Position, east: f64, north: f64) -> Position {
    let towards = Bearing::<True>::wrapped(east.atan2(north));
    destination(from, towards, GroundRange::clamped_metres(east.hypot(north) * MILE))
}
