//! Simulated sorties: does the reckoning's ellipse hold the truth as often as it says?
//!
//! The truth is flown in steps of ten seconds over the ellipsoid, by its radii of curvature and not by
//! rhumb lines, with a wind that changes at each step, a heading that is out, a speed that is out, and
//! helm and gusts. It shares the local plane, the geodesic and the stated errors with the reckoning, and not
//! how it carries them on.

#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use foreland::geodesy::{Covariance, LocalPlane, PlanePoint, Position, course};
use foreland::reckon::{
    Charted, Course, Craft, Current, ErrorModel, Flow, Reckoner, RunningFix, Seen, Standing,
    TakenFix, Wind,
};
use foreland::units::{Angle, Bearing, GroundRange, Speed, True};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

const SEED: u64 = 20_310_309;
const SORTIES: u64 = 5_000;
const KNOT: f64 = 1852.0 / 3600.0;
const STEP_S: f64 = 10.0;

/// Four standard deviations of a share of 0.95 among 5,000: 0.0123. The figure to keep is 94 to 96 %.
const HELD: std::ops::RangeInclusive<f64> = 0.94..=0.96;

fn normal(random: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(random)
}

fn bearing(degrees: f64) -> Bearing<True> {
    Bearing::wrapped_degrees(degrees)
}

fn knots(value: f64) -> Speed {
    Speed::from_knots(value).unwrap()
}

/// What really happens.
struct Truth {
    /// Latitude and longitude in radians.
    at: [f64; 2],
    /// East and north, metres per second over what is stated.
    flow_error: [f64; 2],
    bias: f64,
    scale: f64,
    spread: f64,
    tau: f64,
    wander: f64,
}

impl Truth {
    fn position(&self) -> Position {
        let degrees = |radians: f64| radians * 180.0 / std::f64::consts::PI;
        Position::wrapped(degrees(self.at[0]), degrees(self.at[1]))
    }

    /// Flies for a time; what the plan says of heading, speed and flow, in degrees and metres a second.
    fn fly(
        &mut self,
        heading: f64,
        speed: f64,
        flow: [f64; 2],
        seconds: f64,
        random: &mut ChaCha8Rng,
    ) {
        let steps = (seconds / STEP_S).round() as usize;
        let dt = seconds / steps as f64;
        let bow = heading * std::f64::consts::PI / 180.0 + self.bias;
        let fast = speed * (1.0 + self.scale);
        for _ in 0..steps {
            // Euler and Maruyama for the wind.
            let kick = self.spread * (2.0 * dt / self.tau).sqrt();
            let before = self.flow_error;
            for axis in &mut self.flow_error {
                *axis += -*axis * dt / self.tau + kick * normal(random);
            }
            let mut over = [bow.sin() * fast, bow.cos() * fast];
            for axis in 0..2 {
                over[axis] += flow[axis] + 0.5 * (before[axis] + self.flow_error[axis]);
                over[axis] += self.wander * normal(random) / dt.sqrt();
            }
            self.go(over[0] * dt, over[1] * dt);
        }
    }

    /// Metres east and north on the ellipsoid.
    fn go(&mut self, east: f64, north: f64) {
        const A: f64 = 6_378_137.0;
        const E2: f64 = 0.006_694_379_990_14;
        let w2 = 1.0 - E2 * self.at[0].sin().powi(2);
        let meridian = A * (1.0 - E2) / w2.powf(1.5);
        let half = self.at[0] + 0.5 * north / meridian;
        let w2 = 1.0 - E2 * half.sin().powi(2);
        self.at[0] += north / (A * (1.0 - E2) / w2.powf(1.5));
        self.at[1] += east / (A / w2.sqrt() * half.cos());
    }
}

/// What one sortie came to.
#[derive(Debug, Clone, Copy)]
struct Outcome {
    /// Squared distance of the truth from the reckoning in its own sigmas: leg one, the end, and the end
    /// after a fix.
    reckoned: [f64; 3],
    /// The flow found less the true, metres per second, and its squared distance in its own sigmas.
    flow: [f64; 2],
    flow_distance: f64,
    /// The running fix: its squared distance, where there is one.
    running: Option<f64>,
}

fn distance_squared(reckoner: &Reckoner, truth: &Truth) -> f64 {
    let off = LocalPlane::new(reckoner.position()).to_plane(truth.position());
    reckoner.covariance().mahalanobis_squared(off.east, off.north)
}

fn model(craft: Craft) -> ErrorModel {
    // Without leeway, so that one spread holds for every leg of the simulator.
    ErrorModel { leeway_share: 0.0, ..ErrorModel::of(craft) }
}

/// Legs flown by a craft, a fix after two of them, two bearings and a range of a mark on the last.
fn sortie(number: u64) -> Outcome {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    random.set_stream(number);
    let random = &mut random;
    let craft = if number.is_multiple_of(2) { Craft::Aircraft } else { Craft::Vessel };
    let model = model(craft);
    let (speed, minutes, flow_kn) = match craft {
        Craft::Aircraft => (random.random_range(90.0..260.0), 8.0..30.0, 40.0),
        Craft::Vessel => (random.random_range(6.0..20.0), 20.0..90.0, 2.5),
    };
    let start =
        Position::wrapped(random.random_range(-60.0..60.0), random.random_range(-180.0..180.0));
    let sigma = random.random_range(0.2..1.0) * 1852.0;
    let spread = model.flow_stated.metres_per_second();
    let off = PlanePoint { east: sigma * normal(random), north: sigma * normal(random) };
    let really = LocalPlane::new(start).to_position(off);
    let radians = |degrees: f64| degrees * std::f64::consts::PI / 180.0;
    let mut truth = Truth {
        at: [radians(really.latitude()), radians(really.longitude())],
        flow_error: [spread * normal(random), spread * normal(random)],
        bias: model.heading_sigma.radians() * normal(random),
        scale: model.speed_share * normal(random),
        spread,
        tau: model.flow_seconds,
        wander: model.wander,
    };
    let time = "2031-03-09T01:10:00Z".parse().unwrap();
    let circular = |metres: f64| Covariance::circular(GroundRange::from_metres(metres).unwrap());
    let mut reckoner = Reckoner::new(time, start, circular(sigma), model);
    let mut distances = [0.0; 3];
    let (mut flow_off, mut flow_distance) = ([0.0; 2], 0.0);
    let mut last = None;
    for (leg, squared) in distances.iter_mut().enumerate() {
        let heading: f64 = random.random_range(0.0..360.0);
        let (toward, strength) =
            (random.random_range(0.0..360.0), random.random_range(0.0..flow_kn));
        let flow: Flow = match craft {
            Craft::Aircraft => {
                Wind { from: bearing(toward + 180.0), speed: knots(strength) }.into()
            }
            Craft::Vessel => Current { set: bearing(toward), drift: knots(strength) }.into(),
        };
        let held = Course::through(bearing(heading), knots(speed), flow, None, &model);
        let stated =
            [strength * KNOT * radians(toward).sin(), strength * KNOT * radians(toward).cos()];
        let seconds = 60.0 * random.random_range(minutes.clone());
        if leg == 2 {
            last = Some((heading, held, stated, seconds));
            break;
        }
        truth.fly(heading, speed * KNOT, stated, seconds, random);
        reckoner.advance(&held, seconds);
        *squared = distance_squared(&reckoner, &truth);
        if leg == 1 {
            let sigma = random.random_range(0.1..0.6) * 1852.0;
            let off = PlanePoint { east: sigma * normal(random), north: sigma * normal(random) };
            let position = LocalPlane::new(truth.position()).to_position(off);
            let fix = TakenFix { position, covariance: circular(sigma), heading_share: [0.0, 0.0] };
            // One in a thousand is at odds, and left.
            if reckoner.take_fix(&fix).is_err() {
                reckoner.begin_again(fix.position, fix.covariance);
                reckoner.advance(&held, 0.0);
            }
            let found = reckoner.flow(&held);
            flow_off = [
                found.velocity.east - stated[0] - truth.flow_error[0],
                found.velocity.north - stated[1] - truth.flow_error[1],
            ];
            let [ee, en, nn] = found.covariance;
            let own = Covariance::from_square_metres(ee, en, nn).unwrap();
            flow_distance = own.mahalanobis_squared(flow_off[0], flow_off[1]);
        }
    }
    let (heading, held, stated, seconds) = last.unwrap();
    let running =
        run_past(&mut reckoner, &mut truth, (heading, speed, stated), held, seconds, random);
    distances[2] = distance_squared(&reckoner, &truth);
    Outcome { reckoned: distances, flow: flow_off, flow_distance, running }
}

/// The last leg, with a mark some miles off: two bearings of it by own compass and a range between.
fn run_past(
    reckoner: &mut Reckoner,
    truth: &mut Truth,
    (heading, speed, stated): (f64, f64, [f64; 2]),
    held: Course,
    seconds: f64,
    random: &mut ChaCha8Rng,
) -> Option<f64> {
    let way = LocalPlane::new(reckoner.position());
    let ahead = Bearing::<True>::wrapped_degrees(heading + random.random_range(30.0..150.0));
    let mark = way.to_position(PlanePoint::at(GroundRange::from_metres(20_000.0).unwrap(), ahead));
    let mut run = RunningFix::new(reckoner.clone());
    for line in 0..3 {
        truth.fly(heading, speed * KNOT, stated, seconds / 3.0, random);
        reckoner.advance(&held, seconds / 3.0);
        run.advance(&held, seconds / 3.0);
        let to = course(truth.position(), mark);
        if line == 1 {
            let sigma = GroundRange::from_metres(300.0).unwrap();
            let read = to.distance.metres() + 300.0 * normal(random);
            let range = GroundRange::from_metres(read.max(0.0)).unwrap();
            run.take(Charted::exactly(mark), Seen::Range { range, sigma });
        } else {
            let sigma = Angle::from_degrees(0.5);
            // By relative bearing and the stated heading: true heading less stated is the bias.
            let off = Angle::from_radians(0.5 * normal(random) * std::f64::consts::PI / 180.0);
            let bearing = to.initial.turned(off).turned(Angle::from_radians(-truth.bias));
            run.take(Charted::exactly(mark), Seen::Bearing { bearing, sigma, by_heading: true });
        }
    }
    let (standing, places) = run.cross();
    let best = places.first().filter(|_| standing == Standing::Fixed)?;
    Some(distance_squared(&best.reckoner, truth))
}

#[test]
fn ellipses_hold_the_truth_as_often_as_they_say() {
    println!("seed {SEED}, {SORTIES} sorties");
    let outcomes: Vec<Outcome> = (0..SORTIES).into_par_iter().map(sortie).collect();
    let gate = 5.991_464_5;
    let share = |held: usize, of: usize| held as f64 / of as f64;
    let names = ["after one leg", "after two legs", "a leg after a fix"];
    for (index, name) in names.into_iter().enumerate() {
        let held = outcomes.iter().filter(|o| o.reckoned[index] <= gate).count();
        let held = share(held, outcomes.len());
        println!("reckoning {name}: the 95 % ellipse holds {:.2} %", 100.0 * held);
        assert!(HELD.contains(&held), "{name}: {held}");
    }
    let held = outcomes.iter().filter(|o| o.flow_distance <= gate).count();
    let held = share(held, outcomes.len());
    let chi2 = outcomes.iter().map(|o| o.flow_distance).sum::<f64>() / outcomes.len() as f64;
    println!(
        "flow found: its 95 % ellipse holds {:.2} %, mean chi-square {chi2:.3} of 2",
        100.0 * held
    );
    assert!(HELD.contains(&held), "flow: {held}");
    // The mean of 5,000 χ² of two: sigma 0.028; four of them.
    assert!((chi2 - 2.0).abs() < 0.12, "{chi2}");
    for (craft, parity) in [("aircraft", 0), ("vessel", 1)] {
        for (axis, name) in ["east", "north"].into_iter().enumerate() {
            let off: Vec<f64> =
                outcomes.iter().skip(parity).step_by(2).map(|o| o.flow[axis] / KNOT).collect();
            let count = off.len() as f64;
            let mean = off.iter().sum::<f64>() / count;
            let square = off.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (count - 1.0);
            let error = (square / count).sqrt();
            println!(
                "flow found, {craft}, {name}: mean error {mean:.4} kn, standard error {error:.4}"
            );
            assert!(mean.abs() < 3.0 * error, "{craft} {name}: {mean} of {error}");
        }
    }
    let running: Vec<f64> = outcomes.iter().filter_map(|o| o.running).collect();
    let held = share(running.iter().filter(|d| **d <= gate).count(), running.len());
    println!(
        "running fix: {} of them, the 95 % ellipse holds {:.2} %",
        running.len(),
        100.0 * held
    );
    assert!(running.len() > 4_000, "{}", running.len());
    assert!(HELD.contains(&held), "running fix: {held}");
}
