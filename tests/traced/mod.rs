//! Coasts that differ from the charted ones as charts do, and outlines and contacts taken of them by
//! geodesics: nothing of the program's own prediction is used.

use std::path::Path;

use foreland::chart::Chart;
use foreland::contact::{
    Belief, Contact, Outline, Own, Part, Radar, Reckoning, Sightings, StatedAccuracy,
};
use foreland::geodesy::{Covariance, Position, course, destination, distance};
use foreland::radar::Set;
use foreland::units::{Angle, Bearing, Height, SlantRange, Speed, True};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

use crate::towers::{centre, chart_of, miles, moved, name, normal};

pub const SEED: u64 = 20_310_313;
/// One standard deviation each: reckoning, chart's points, chart's shift, ranges, all ranges, in
/// miles; bearings, all bearings, in degrees.
const RECKONING_NM: f64 = 4.0;
const POINT_NM: f64 = 0.05;
const SHIFT_NM: f64 = 0.05;
const RANGE_NM: f64 = 0.15;
const RANGE_BIAS_NM: f64 = 0.05;
const BEARING_DEG: f64 = 0.8;
const BIAS_DEG: f64 = 1.0;
/// How sure the operator is of a name, and how often he is right.
const CONFIDENCE: f64 = 0.95;
const TOWERS: usize = 16;
/// Contacts are taken within so many miles.
const FAR_NM: f64 = 28.0;
const HEIGHT_FT: f64 = 2_000.0;
const TIME: &str = "2031-03-13T04:10:00Z";
/// Points of the coast that is traced, miles apart.
const DENSE_NM: f64 = 0.05;

type East = f64;
type North = f64;

/// A shore that runs north and south for 160 miles, land to the east of it, miles from the centre:
/// displaced midpoints, `height` at the first halving.
fn shore(random: &mut ChaCha8Rng, height: f64) -> Vec<(East, North)> {
    const PIECES: usize = 1024;
    let mut east = vec![0.0f64; PIECES + 1];
    let (mut step, mut rough) = (PIECES, height);
    while step > 1 {
        let half = step / 2;
        for middle in (half..PIECES).step_by(step) {
            east[middle] =
                0.5 * (east[middle - half] + east[middle + half]) + rough * normal(random);
        }
        rough *= 0.5f64.powf(0.8);
        step = half;
    }
    let north = |i: usize| (i as f64 / PIECES as f64 - 0.5) * 160.0;
    east.iter().enumerate().map(|(i, e)| (*e, north(i))).collect()
}

/// A round islet off the shore.
fn islet(random: &mut ChaCha8Rng) -> Vec<(East, North)> {
    let at = (random.random_range(-11.0..-4.0), random.random_range(-40.0..40.0));
    let radius = random.random_range(0.3..1.5);
    let turn = |i: u32| std::f64::consts::TAU * f64::from(i) / 24.0;
    (0..24).map(|i| (at.0 + radius * turn(i).sin(), at.1 + radius * turn(i).cos())).collect()
}

/// A coast as it is charted.
pub struct Coast {
    lines: Vec<Vec<(East, North)>>,
    towers: Vec<Position>,
    pub chart: Chart,
}

/// A coast as it really is: what the outlines and contacts are taken of.
pub struct Real {
    /// Points every twentieth of a mile of each line: the shore, then the islets.
    lines: Vec<Vec<Position>>,
    towers: Vec<Position>,
}

impl Coast {
    pub fn ragged(number: u64) -> Self {
        let (lines, _) = Self::lines(number);
        Self::of(lines, Vec::new())
    }

    /// The same with towers along the shore, up to two miles inland.
    pub fn with_towers(number: u64) -> Self {
        let (lines, mut random) = Self::lines(number);
        let shore = &lines[0];
        let towers = (0..TOWERS).map(|_| {
            let (east, north) = shore[random.random_range(200..800)];
            moved(centre(), east + random.random_range(0.1..2.0), north)
        });
        let towers = towers.collect();
        Self::of(lines, towers)
    }

    pub fn straight() -> Self {
        Self::of(vec![(0..=160).map(|i| (0.0, f64::from(i) - 80.0)).collect()], Vec::new())
    }

    fn lines(number: u64) -> (Vec<Vec<(East, North)>>, ChaCha8Rng) {
        let mut random = ChaCha8Rng::seed_from_u64(SEED);
        random.set_stream(1_000_000 + number);
        let mut lines = vec![shore(&mut random, 6.0)];
        lines.extend((0..6).map(|_| islet(&mut random)));
        (lines, random)
    }

    /// The first line is closed by land to the east.
    fn of(lines: Vec<Vec<(East, North)>>, towers: Vec<Position>) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut writer = ShapeWriter::from_path(folder.path().join("coast.shp")).unwrap();
        for (number, line) in lines.iter().enumerate() {
            let mut ring = line.clone();
            if number == 0 {
                ring.extend([(90.0, 80.0), (90.0, -80.0)]);
            }
            ring.push(ring[0]);
            let points = ring.iter().map(|&(east, north)| {
                let at = moved(centre(), east, north);
                Point::new(at.longitude(), at.latitude())
            });
            let ring = PolygonRing::Outer(points.collect());
            writer.write_shape(&Polygon::new(ring)).unwrap();
        }
        writer.finalize().unwrap();
        drop(writer);
        let chart = opened(folder.path(), &towers);
        Self { lines, towers, chart }
    }

    /// The coast as it really is: shifted as a whole, and each stretch out by an error of its own
    /// that changes over a mile; each tower by one of its own.
    pub fn real(&self, random: &mut ChaCha8Rng) -> Real {
        let shift = (SHIFT_NM * normal(random), SHIFT_NM * normal(random));
        let mut lines = Vec::new();
        for line in &self.lines {
            let mut error = Carried::new(random);
            let mut points = Vec::new();
            for pair in line.windows(2) {
                let (a, b) = (pair[0], pair[1]);
                let long = (b.0 - a.0).hypot(b.1 - a.1);
                let parts = (long / DENSE_NM).ceil().max(1.0) as u32;
                for part in 0..parts {
                    let share = f64::from(part) / f64::from(parts);
                    let [e, n] = error.next(random, long / f64::from(parts), 1.0);
                    points.push(moved(
                        centre(),
                        a.0 + share * (b.0 - a.0) + shift.0 + POINT_NM * e,
                        a.1 + share * (b.1 - a.1) + shift.1 + POINT_NM * n,
                    ));
                }
            }
            lines.push(points);
        }
        let mut out = |shift: f64| shift + POINT_NM * normal(random);
        let towers =
            self.towers.iter().map(|tower| moved(*tower, out(shift.0), out(shift.1))).collect();
        Real { lines, towers }
    }
}

fn opened(folder: &Path, towers: &[Position]) -> Chart {
    if towers.is_empty() {
        return Chart::open(&[folder.to_path_buf()]).unwrap();
    }
    chart_of(folder, towers)
}

/// Two errors that go on along a line: their correlation adds up to one `scale` of length.
struct Carried([f64; 2]);

impl Carried {
    fn new(random: &mut ChaCha8Rng) -> Self {
        Self([normal(random), normal(random)])
    }

    fn next(&mut self, random: &mut ChaCha8Rng, step: f64, scale: f64) -> [f64; 2] {
        let kept = (-2.0 * step / scale).exp();
        let fresh = (1.0 - kept * kept).sqrt();
        self.0 = self.0.map(|old| kept * old + fresh * normal(random));
        self.0
    }
}

/// Errors that all readings of one set share.
struct Shared {
    bias: f64,
    range_bias: f64,
}

impl Shared {
    fn drawn(random: &mut ChaCha8Rng) -> Self {
        Self { bias: BIAS_DEG * normal(random), range_bias: RANGE_BIAS_NM * normal(random) }
    }

    /// As they are read: the bearing in degrees, the slant range in miles.
    fn read(&self, bearing: f64, ground: f64) -> (f64, f64) {
        let slant = ground.hypot(HEIGHT_FT * 0.3048 / 1852.0);
        ((bearing + self.bias).rem_euclid(360.0), slant + self.range_bias)
    }
}

/// Bearing in degrees and range in miles of every point that lies near enough.
fn seen(points: &[Position], truth: Position) -> Vec<(f64, f64)> {
    let near = miles(45.0);
    points
        .iter()
        .filter(|place| distance(truth, **place).metres() < near.metres())
        .map(|place| {
            let line = course(truth, *place);
            (line.initial.degrees(), line.distance.nautical_miles())
        })
        .collect()
}

fn half_beam() -> f64 {
    0.5 * Set::builtin("patrol").unwrap().beam_width_deg
}

/// The least range within half a beam of a bearing.
fn edge(seen: &[(f64, f64)], bearing: f64) -> Option<f64> {
    let half_beam = half_beam();
    let inside = |at: f64| ((at - bearing + 180.0).rem_euclid(360.0) - 180.0).abs() <= half_beam;
    let ranges = seen.iter().filter(|(at, _)| inside(*at)).map(|(_, range)| *range);
    ranges.min_by(f64::total_cmp)
}

/// A bearing in degrees and a range in miles for each point traced.
fn traced(seen: &[(f64, f64)], shared: &Shared, random: &mut ChaCha8Rng) -> Vec<(f64, f64)> {
    let mut error = Carried::new(random);
    let mut last: Option<(f64, f64)> = None;
    let mut points = Vec::new();
    for bearing in (50..=130).step_by(2).map(f64::from) {
        let Some(range) = edge(seen, bearing) else { continue };
        let (sin, cos) = Bearing::<True>::wrapped_degrees(bearing).sin_cos();
        let at = (range * sin, range * cos);
        let step = last.map_or(99.0, |(e, n)| (at.0 - e).hypot(at.1 - n));
        last = Some(at);
        let beams = 2.0 * Angle::from_degrees(2.0 * half_beam()).radians() * range;
        let [of_range, of_bearing] = error.next(random, step, beams.max(1.0));
        let Some(range) = edge(seen, bearing + BEARING_DEG * of_bearing) else { continue };
        let (bearing, slant) = shared.read(bearing, range);
        points.push((bearing, slant + RANGE_NM * of_range));
    }
    points
}

/// A contact of a real echo at a place: a point, or the nearest of an islet's shore.
fn contact(
    number: usize,
    (bearing, range): (f64, f64),
    shared: &Shared,
    named: Option<String>,
    random: &mut ChaCha8Rng,
) -> Contact {
    let (bearing, slant) = shared.read(bearing + BEARING_DEG * normal(random), range);
    Contact {
        label: format!("{number}"),
        time: TIME.parse().unwrap(),
        own_height: Height::from_feet(HEIGHT_FT).unwrap(),
        range: SlantRange::from_nautical_miles((slant + RANGE_NM * normal(random)).max(0.5)).ok(),
        range_sigma: miles(RANGE_NM),
        bearing: Some(Bearing::wrapped_degrees(bearing)),
        as_read: None,
        heading_as_read: None,
        lobes: None,
        bearing_sigma: Angle::from_degrees(BEARING_DEG),
        part: Part::Centre,
        belief: named.map(|mark| Belief { mark, confidence: CONFIDENCE }),
    }
}

/// One to three contacts: towers, some of them named and a few of those wrongly; islets; ships.
fn contacts(
    coast: &Coast,
    real: &Real,
    truth: Position,
    shared: &Shared,
    random: &mut ChaCha8Rng,
) -> Vec<Contact> {
    let polar = |place: Position| {
        let line = course(truth, place);
        (line.initial.degrees(), line.distance.nautical_miles())
    };
    let mut towers: Vec<usize> =
        (0..real.towers.len()).filter(|&i| polar(real.towers[i]).1 < FAR_NM).collect();
    let mut islets: Vec<(f64, f64)> = real.lines[1..]
        .iter()
        .map(|islet| nearest_of(islet, truth))
        .filter(|at| at.1 < FAR_NM)
        .collect();
    let mut contacts = Vec::new();
    for number in 1..=random.random_range(1..=3) {
        let kind = random.random_range(0.0..1.0);
        let (at, named) = if kind < 0.2 {
            (ship(coast, truth, random), None)
        } else if kind < 0.5 && !islets.is_empty() {
            (islets.swap_remove(random.random_range(0..islets.len())), None)
        } else if !towers.is_empty() {
            let tower = towers.swap_remove(random.random_range(0..towers.len()));
            let right = random.random_range(0.0..1.0) < CONFIDENCE;
            let called = if right { tower } else { random.random_range(0..real.towers.len()) };
            let named = random.random_range(0.0..1.0) < 0.6;
            (polar(real.towers[tower]), named.then(|| name(called)))
        } else {
            continue;
        };
        contacts.push(contact(number, at, shared, named, random));
    }
    contacts
}

/// Bearing and range of a ship somewhere at sea.
fn ship(coast: &Coast, truth: Position, random: &mut ChaCha8Rng) -> (f64, f64) {
    loop {
        let (bearing, range) =
            (random.random_range(0.0..360.0), FAR_NM * random.random_range(0.1..1.0));
        let place = destination(truth, Bearing::wrapped_degrees(bearing), miles(range));
        if coast.chart.coast().is_land(place) == Some(false) {
            return (bearing, range);
        }
    }
}

/// Bearing of an islet's middle, and range of its nearest shore within half a beam of that.
fn nearest_of(islet: &[Position], truth: Position) -> (f64, f64) {
    let seen: Vec<(f64, f64)> = islet
        .iter()
        .map(|place| {
            let line = course(truth, *place);
            (line.initial.degrees(), line.distance.nautical_miles())
        })
        .collect();
    // The islets lie east of every place that they are seen from: no bearing passes north.
    let least = seen.iter().map(|at| at.0).fold(f64::INFINITY, f64::min);
    let most = seen.iter().map(|at| at.0).fold(f64::NEG_INFINITY, f64::max);
    let middle = 0.5 * (least + most);
    (middle, edge(&seen, middle).unwrap_or(f64::INFINITY))
}

/// The sightings of one outline, from a reckoned place.
pub fn sightings(points: &[(f64, f64)], reckoned: Position) -> Sightings {
    let reckoning = Reckoning {
        time: TIME.parse().unwrap(),
        position: reckoned,
        covariance: Covariance::circular(miles(RECKONING_NM)),
        track: None,
        speed: None,
        track_sigma: Angle::from_degrees(2.0),
        speed_sigma: Speed::ZERO,
        earlier: Vec::new(),
        flow: None,
    };
    let mut own = Own::at_height(Height::from_feet(HEIGHT_FT).unwrap());
    own.heading_sigma = Angle::from_degrees(BIAS_DEG);
    let radar = Radar {
        set: Set::builtin("patrol").unwrap(),
        set_name: "patrol".to_owned(),
        range_sigma_nm: Some(RANGE_NM),
        bearing_sigma_deg: Some(BEARING_DEG),
    };
    let about = (&reckoning, &own, &radar);
    let kind = foreland::contact::BearingKind::True;
    let outline = Outline::from_points("K".to_owned(), None, kind, points, about).unwrap();
    let mut sightings = Sightings::new(reckoning, own, radar);
    sightings.accuracy =
        StatedAccuracy { point_sigma: Some(miles(POINT_NM)), shift_sigma: Some(miles(SHIFT_NM)) };
    sightings.outlines = vec![outline];
    sightings
}

/// What was measured, and the truth behind it.
pub struct Trial {
    pub sightings: Sightings,
    pub truth: Position,
    /// The errors drawn for the reckoning to the east, for all bearings and all ranges, each over
    /// its standard deviation.
    pub drawn: [f64; 3],
}

/// One simulated outline, with contacts beside it or alone.
pub fn trial(coast: &Coast, index: u64, with_contacts: bool) -> Trial {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    random.set_stream(index + 1);
    let (west, along) = (random.random_range(-26.0..-16.0), random.random_range(-15.0..15.0));
    let truth = moved(centre(), west, along);
    let (east, north) = (normal(&mut random), normal(&mut random));
    let reckoned = moved(truth, RECKONING_NM * east, RECKONING_NM * north);
    let real = coast.real(&mut random);
    let seen = seen(&real.lines.concat(), truth);
    let shared = Shared::drawn(&mut random);
    let points = traced(&seen, &shared, &mut random);
    let mut sightings = sightings(&points, reckoned);
    if with_contacts {
        sightings.contacts = contacts(coast, &real, truth, &shared, &mut random);
    }
    let drawn = [east, shared.bias / BIAS_DEG, shared.range_bias / RANGE_BIAS_NM];
    Trial { sightings, truth, drawn }
}
