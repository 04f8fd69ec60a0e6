//! Traced outlines: does the 95 % ellipse hold the truth as often as it says, on a ragged coast and
//! on a straight one?
//!
//! The outlines are traced here, by geodesics to every twentieth of a mile of a coast that differs
//! from the charted one as charts do: nothing of the program's own prediction is used. Every point
//! errs together with its neighbours.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::io::Cursor;
use std::path::Path;

use foreland::chart::Chart;
use foreland::contact::{Outline, Own, Radar, Reckoning, Sightings, StatedAccuracy};
use foreland::fix::{Fix, Options, Verdict, fix};
use foreland::geodesy::{Covariance, LocalPlane, Position, course, destination, distance};
use foreland::radar::Set;
use foreland::units::{Angle, Bearing, GroundRange, Height, True};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use rayon::prelude::*;
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

const SEED: u64 = 20_310_313;
const TRIALS: u64 = 320;
/// Trials on each ragged coast.
const ON_EACH: u64 = 20;
/// One standard deviation each: reckoning, chart's points, chart's shift, ranges, all ranges, in
/// miles; bearings, all bearings, in degrees.
const RECKONING_NM: f64 = 4.0;
const POINT_NM: f64 = 0.05;
const SHIFT_NM: f64 = 0.05;
const RANGE_NM: f64 = 0.15;
const RANGE_BIAS_NM: f64 = 0.05;
const BEARING_DEG: f64 = 0.8;
const BIAS_DEG: f64 = 1.0;
/// Points of the coast that is traced, miles apart.
const DENSE_NM: f64 = 0.05;

type East = f64;
type North = f64;

fn centre() -> Position {
    Position::new(-38.0, -21.0).unwrap()
}

fn moved(from: Position, (east, north): (East, North)) -> Position {
    let miles = GroundRange::clamped_metres(east.hypot(north) * 1852.0);
    destination(from, Bearing::<True>::wrapped(east.atan2(north)), miles)
}

fn normal(random: &mut ChaCha8Rng) -> f64 {
    random.sample(StandardNormal)
}

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

struct Coast {
    lines: Vec<Vec<(East, North)>>,
    chart: Chart,
}

impl Coast {
    fn ragged(number: u64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(SEED);
        random.set_stream(1_000_000 + number);
        let mut lines = vec![shore(&mut random, 6.0)];
        lines.extend((0..6).map(|_| islet(&mut random)));
        Self::of(lines)
    }

    fn straight() -> Self {
        Self::of(vec![(0..=160).map(|i| (0.0, f64::from(i) - 80.0)).collect()])
    }

    /// The first line is closed by land to the east.
    fn of(lines: Vec<Vec<(East, North)>>) -> Self {
        let mut shp = Cursor::new(Vec::new());
        let mut writer = ShapeWriter::new(&mut shp);
        for (number, line) in lines.iter().enumerate() {
            let mut ring = line.clone();
            if number == 0 {
                ring.extend([(90.0, 80.0), (90.0, -80.0)]);
            }
            ring.push(ring[0]);
            let points = ring.iter().map(|place| {
                let at = moved(centre(), *place);
                Point::new(at.longitude(), at.latitude())
            });
            let ring = PolygonRing::Outer(points.collect());
            writer.write_shape(&Polygon::new(ring)).unwrap();
        }
        writer.finalize().unwrap();
        drop(writer);
        let chart = Chart::from_files("test", &[("coast.shp", &shp.into_inner())]).unwrap();
        Self { lines, chart }
    }

    /// The coast as it really is, every twentieth of a mile: shifted as a whole, and each stretch
    /// out by an error of its own that changes over a mile.
    fn real(&self, random: &mut ChaCha8Rng) -> Vec<Position> {
        let shift = (SHIFT_NM * normal(random), SHIFT_NM * normal(random));
        let mut points = Vec::new();
        for line in &self.lines {
            let mut error = Carried::new(random);
            for pair in line.windows(2) {
                let (a, b) = (pair[0], pair[1]);
                let long = (b.0 - a.0).hypot(b.1 - a.1);
                let parts = (long / DENSE_NM).ceil().max(1.0) as u32;
                for part in 0..parts {
                    let share = f64::from(part) / f64::from(parts);
                    let [e, n] = error.next(random, long / f64::from(parts), 1.0);
                    points.push(moved(
                        centre(),
                        (
                            a.0 + share * (b.0 - a.0) + shift.0 + POINT_NM * e,
                            a.1 + share * (b.1 - a.1) + shift.1 + POINT_NM * n,
                        ),
                    ));
                }
            }
        }
        points
    }
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

/// A bearing in degrees and a range in miles for each point traced from the truth.
fn traced(coast: &[Position], truth: Position, random: &mut ChaCha8Rng) -> Vec<(f64, f64)> {
    let half_beam = 0.5 * Set::builtin("patrol").unwrap().beam_width_deg;
    let near = GroundRange::from_nautical_miles(45.0).unwrap();
    let seen: Vec<(f64, f64)> = coast
        .iter()
        .filter(|place| distance(truth, **place).metres() < near.metres())
        .map(|place| {
            let line = course(truth, *place);
            (line.initial.degrees(), line.distance.nautical_miles())
        })
        .collect();
    let edge = |bearing: f64| {
        let inside =
            |at: f64| ((at - bearing + 180.0).rem_euclid(360.0) - 180.0).abs() <= half_beam;
        let ranges = seen.iter().filter(|(at, _)| inside(*at)).map(|(_, range)| *range);
        ranges.min_by(f64::total_cmp)
    };
    let (bias, range_bias) = (BIAS_DEG * normal(random), RANGE_BIAS_NM * normal(random));
    let mut error = Carried::new(random);
    let mut last: Option<(f64, f64)> = None;
    let mut points = Vec::new();
    for bearing in (50..=130).step_by(2).map(f64::from) {
        let Some(range) = edge(bearing) else { continue };
        let (sin, cos) = Bearing::<True>::wrapped_degrees(bearing).sin_cos();
        let at = (range * sin, range * cos);
        let step = last.map_or(99.0, |(e, n)| (at.0 - e).hypot(at.1 - n));
        last = Some(at);
        let beams = 2.0 * Angle::from_degrees(2.0 * half_beam).radians() * range;
        let [of_range, of_bearing] = error.next(random, step, beams.max(1.0));
        let Some(range) = edge(bearing + BEARING_DEG * of_bearing) else { continue };
        let slant = range.hypot(2_000.0 * 0.3048 / 1852.0);
        points.push(((bearing + bias).rem_euclid(360.0), slant + range_bias + RANGE_NM * of_range));
    }
    points
}

fn sightings(points: &[(f64, f64)], reckoned: Position) -> Sightings {
    let reckoning = Reckoning {
        time: "2031-03-13T04:10:00Z".parse().unwrap(),
        position: reckoned,
        covariance: Covariance::circular(GroundRange::clamped_metres(RECKONING_NM * 1852.0)),
        track: None,
        speed: None,
        track_sigma: Angle::from_degrees(2.0),
        speed_sigma: foreland::units::Speed::ZERO,
    };
    let mut own = Own::at_height(Height::from_feet(2_000.0).unwrap());
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
    let miles = |nm: f64| GroundRange::from_nautical_miles(nm).unwrap();
    let mut sightings = Sightings::new(reckoning, own, radar);
    sightings.accuracy =
        StatedAccuracy { point_sigma: Some(miles(POINT_NM)), shift_sigma: Some(miles(SHIFT_NM)) };
    sightings.outlines = vec![outline];
    sightings
}

/// The fix of one simulated outline, and where it was traced from.
fn trial(coast: &Coast, index: u64) -> (Fix, Position) {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    random.set_stream(index + 1);
    let truth =
        moved(centre(), (random.random_range(-26.0..-16.0), random.random_range(-15.0..15.0)));
    let reckoned =
        moved(truth, (RECKONING_NM * normal(&mut random), RECKONING_NM * normal(&mut random)));
    let real = coast.real(&mut random);
    let points = traced(&real, truth, &mut random);
    (fix(&coast.chart, &sightings(&points, reckoned), &Options::default()), truth)
}

fn squared(position: Position, covariance: Covariance, truth: Position) -> f64 {
    let off = LocalPlane::new(position).to_plane(truth);
    covariance.mahalanobis_squared(off.east, off.north)
}

/// Share of squared distances within the ellipse of this probability, per cent.
fn share(found: &[f64], probability: f64) -> f64 {
    let limit = -2.0 * (1.0 - probability).ln();
    100.0 * found.iter().filter(|d| **d <= limit).count() as f64 / found.len() as f64
}

fn print(what: &str, found: &[f64]) {
    let nees = found.iter().sum::<f64>() / (2.0 * found.len() as f64);
    println!(
        "seed {SEED}, {what}: {} of {TRIALS}; 50 % ellipse {:.1}, 95 % {:.1}, 99 % {:.1}; NEES/2 {nees:.3}",
        found.len(),
        share(found, 0.5),
        share(found, 0.95),
        share(found, 0.99)
    );
}

#[test]
fn on_a_ragged_coast_an_outline_fixes_as_well_as_it_says() {
    let coasts: Vec<Coast> = (0..TRIALS / ON_EACH).map(Coast::ragged).collect();
    let found: Vec<f64> = (0..TRIALS)
        .into_par_iter()
        .filter_map(|index| {
            let (fix, truth) = trial(&coasts[(index / ON_EACH) as usize], index);
            (fix.verdict == Verdict::Fixed)
                .then(|| squared(fix.position.unwrap(), fix.covariance.unwrap(), truth))
        })
        .collect();
    print("ragged coast", &found);
    assert!(found.len() as u64 >= TRIALS * 9 / 10, "{}", found.len());
    assert!((93.0..=97.0).contains(&share(&found, 0.95)), "{}", share(&found, 0.95));
}

#[test]
fn on_a_straight_coast_an_outline_says_that_it_leaves_the_place_along_it_free() {
    let coast = Coast::straight();
    let found: Vec<f64> = (0..TRIALS)
        .into_par_iter()
        .filter_map(|index| {
            let (fix, truth) = trial(&coast, index);
            // Errors that come less than once in a thousand are at odds, and rightly so.
            if fix.verdict == Verdict::AtOdds {
                return None;
            }
            assert_eq!(fix.verdict, Verdict::TooFew, "{index}: {fix:#?}");
            assert!(fix.position.is_none());
            let probable = fix.most_probable.unwrap();
            let ellipse = probable.ellipse();
            // Long along the shore, which runs north and south.
            assert!(ellipse.major_axis.sin_cos().0.abs() < 0.1, "{index}: {ellipse:?}");
            let (long, short) = (ellipse.semi_major, ellipse.semi_minor);
            assert!(long.nautical_miles() > 6.0 && short.nautical_miles() < 0.6, "{ellipse:?}");
            assert!(fix.cautions.iter().any(|c| c.contains("across the shore only")), "{fix:#?}");
            Some(squared(probable.position, probable.covariance, truth))
        })
        .collect();
    print("straight coast", &found);
    assert!(found.len() as u64 >= TRIALS - 3, "{}", found.len());
    assert!((93.0..=97.0).contains(&share(&found, 0.95)), "{}", share(&found, 0.95));
}

#[test]
fn the_outline_of_the_sample_fixes() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
    let chart = Chart::sample().unwrap();
    let sightings = Sightings::read(&folder.join("outline.toml")).unwrap();
    let fix = fix(&chart, &sightings, &Options::default());
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    // The truth is the generator's, told in the sample's own README.
    let told = std::fs::read_to_string(folder.join("README.md")).unwrap();
    let line = told.lines().find(|line| line.contains("at the last outline")).unwrap();
    let truth: Position = line.split("Z: ").nth(1).unwrap().parse().unwrap();
    let found = squared(fix.position.unwrap(), fix.covariance.unwrap(), truth);
    assert!(found < 5.991, "{found}: {fix:#?}");
    assert!(fix.identities.is_empty() && fix.residuals.is_empty());
    let told = &fix.outlines[0];
    assert_eq!((told.outline.as_str(), told.used), ("K", true));
    assert!(told.effective < told.points as f64);
}

#[test]
fn an_outline_of_nothing_charted_is_not_fixed_by() {
    // A ring of rain ten miles off, all round the bow.
    let points: Vec<(f64, f64)> =
        (0..40).map(|i| (50.0 + 2.0 * f64::from(i), 10.0 + 0.3 * f64::from(i % 3))).collect();
    let coast = Coast::ragged(0);
    let at = moved(centre(), (-60.0, 0.0));
    let fix = fix(&coast.chart, &sightings(&points, at), &Options::default());
    assert_eq!(fix.verdict, Verdict::AtOdds, "{fix:#?}");
    assert!(fix.position.is_none() && !fix.outlines[0].used);
    assert!(fix.unmatched[0].why.contains("no charted shore"), "{:?}", fix.unmatched);
}
