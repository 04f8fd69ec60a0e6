//! The operator: which echoes are measured, and how well.
//!
//! Echoes are taken by chance, in proportion to how they stand out, none within a mile and a half of
//! another. The cursor is laid on the echo as the blurred picture shows it: its range is that of the
//! leading edge there, its bearing that of what stands out, each then read with its error. Ships show no
//! different from small islands.

use rand_chacha::ChaCha8Rng;

use super::case::Measured;
use super::features::{Feature, Kind, features};
use super::picture::{Picture, RAYS};
use super::random::{between, happens, normal};
use super::shore::MILE;
use super::trace;
use crate::geodesy::{PlanePoint, Position, destination, distance};
use crate::radar::{Lobes, Set};
use crate::units::{Bearing, GroundRange, SlantRange, True};

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
    /// Slant range.
    pub range_nm: Option<f64>,
    /// True, with what the compass errs by.
    pub bearing_deg: Option<f64>,
    /// Port and starboard, of a set with two lobes.
    pub deflection: Option<[f64; 2]>,
    /// What of the echo was measured.
    pub part: &'static str,
    /// Where its land or ship is.
    pub place: Position,
    /// What it is, for whoever reads it again.
    pub what: &'static str,
    /// It is no land.
    pub ship: bool,
    /// How much it stands out, in nautical miles.
    pub weight: f64,
}

/// What one operator's hand and set do to every reading.
#[derive(Debug, Clone, Copy)]
pub struct Hand<'a> {
    /// What is put the cursor on, and what is read of it.
    pub manner: Manner,
    /// How well.
    pub errors: Errors<'a>,
    /// The beams of a set with two lobes, and where the bow points, degrees true.
    pub lobes: Option<(Lobes, f64)>,
    /// Common to all bearings, degrees.
    pub bias_deg: f64,
    /// Every other error against what the solver is told.
    pub times: f64,
}

impl Hand<'_> {
    /// Where the bow points: of a set with lobes everything is about it.
    pub fn heading(&self) -> Option<f64> {
        self.lobes.map(|(_, heading)| heading)
    }
}

/// What is put the cursor on, and what is read of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Manner {
    /// What is read.
    pub measured: Measured,
    /// What stands out less than this from the coast about it is not measured, nautical miles.
    pub least_out_nm: f64,
}

/// How well ranges and bearings are read, one standard deviation.
#[derive(Debug, Clone, Copy)]
pub enum Errors<'a> {
    /// The same at all ranges: nautical miles and degrees.
    Told {
        /// Of a range.
        range_nm: f64,
        /// Of a bearing.
        bearing_deg: f64,
    },
    /// As the set has it.
    Of(&'a Set),
}

impl Errors<'_> {
    fn range_nm(self, slant_m: f64) -> f64 {
        match self {
            Self::Told { range_nm, .. } => range_nm,
            Self::Of(set) => set.range_sigma(SlantRange::clamped_metres(slant_m)) / MILE,
        }
    }

    fn bearing_deg(self) -> f64 {
        match self {
            Self::Told { bearing_deg, .. } => bearing_deg,
            Self::Of(set) => set.bearing_sigma_deg,
        }
    }
}

/// An echo taken by chance, by how it stands out, apart from all taken before.
pub fn choose(
    random: &mut ChaCha8Rng,
    picture: &Picture,
    before: &[Position],
    hand: Hand<'_>,
) -> Option<Feature> {
    let all = features(picture, hand.manner.least_out_nm * MILE);
    choose_of(random, picture, &all, before, hand)
}

/// The same, of those features of the picture that show.
pub fn choose_of(
    random: &mut ChaCha8Rng,
    picture: &Picture,
    all: &[Feature],
    before: &[Position],
    hand: Hand<'_>,
) -> Option<Feature> {
    let apart = |feature: &&Feature| {
        hand.heading().is_none_or(|heading| trace::stands_alone(picture, feature, heading))
            && before.iter().all(|other| distance(*other, feature.place).metres() >= APART_M)
    };
    let mut keyed: Vec<(f64, &Feature)> = all
        .iter()
        .filter(apart)
        .map(|feature| (-between(random, f64::MIN_POSITIVE, 1.0).ln() / feature.weight, feature))
        .collect();
    keyed.sort_by(|a, b| a.0.total_cmp(&b.0));
    keyed.first().map(|(_, feature)| **feature)
}

/// The nearest shore of the picture, by its range.
pub fn nearest_shore(random: &mut ChaCha8Rng, picture: &Picture, hand: Hand<'_>) -> Option<Taken> {
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
    hand: Hand<'_>,
) -> Taken {
    let degrees = feature.ray as f64 * 360.0 / RAYS as f64;
    let read = degrees + hand.errors.bearing_deg() * hand.times * normal(random) + hand.bias_deg;
    let near = feature.near_m;
    let tangent = hand.manner.measured == Measured::Mixed && happens(random, TANGENTS);
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
    let (wants_range, wants_bearing) = wanted(hand.manner, is_tangent);
    let deflection = hand.lobes.map(|(lobes, heading)| {
        let height = picture.scope.height_m;
        trace::deflections(random, lobes, degrees - heading, along, height, hand.times)
    });
    let wants_bearing = wants_bearing && deflection.is_none();
    Taken {
        deflection,
        range_nm: wants_range.then_some(range),
        bearing_deg: wants_bearing.then(|| clockwise(read + off * picture.scope.beam_deg)),
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
    hand: Hand<'_>,
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
        let ahead = hand.heading().is_none_or(|heading| trace::is_ahead(degrees, heading));
        (clear && apart && ahead).then_some((degrees, ground, place))
    })?;
    let bearing = ray + hand.errors.bearing_deg() * hand.times * normal(random) + hand.bias_deg;
    let part = if happens(random, CENTRED) { "centre" } else { "near" };
    let range = range(random, picture, ground, hand);
    let (wants_range, wants_bearing) = wanted(hand.manner, false);
    let deflection = hand.lobes.map(|(lobes, heading)| {
        let height = picture.scope.height_m;
        trace::deflections(random, lobes, ray - heading, ground, height, hand.times)
    });
    let wants_bearing = wants_bearing && deflection.is_none();
    Some(Taken {
        deflection,
        range_nm: wants_range.then_some(range),
        bearing_deg: wants_bearing.then(|| clockwise(bearing)),
        part,
        place,
        what: "ship",
        ship: true,
        weight: 0.0,
    })
}

/// Whether range and bearing are given.
fn wanted(manner: Manner, is_tangent: bool) -> (bool, bool) {
    let range = manner.measured != Measured::Bearings && !is_tangent;
    let bearing = manner.measured != Measured::Ranges || is_tangent;
    (range, bearing)
}

/// The ray under a cursor.
fn under(degrees: f64) -> usize {
    super::picture::ray((degrees * RAYS as f64 / 360.0).round() as i64)
}

/// A range as read, in nautical miles: to the cell of the picture, then with the reader's error.
fn range(random: &mut ChaCha8Rng, picture: &Picture, ground_m: f64, hand: Hand<'_>) -> f64 {
    let cell = picture.scope.cell_m;
    let shown = (picture.slant(ground_m) / cell).round() * cell;
    let least = picture.scope.height_m / MILE + 0.05;
    (shown / MILE + hand.errors.range_nm(shown) * hand.times * normal(random)).max(least)
}

/// Degrees from 0 to 360.
fn clockwise(degrees: f64) -> f64 {
    degrees.rem_euclid(360.0)
}

/// A place so far east and north, in nautical miles.
pub fn moved(from: Position, east: f64, north: f64) -> Position {
    let towards = Bearing::<True>::wrapped(east.atan2(north));
    destination(from, towards, GroundRange::clamped_metres(east.hypot(north) * MILE))
}
