//! The smoother of debriefs against a posterior computed whole, and against simulated sorties.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use foreland::debrief::smooth::{
    Event, Flow, Going, Kind, Known, Measured, Model, Run, Step, smoothed,
};
use foreland::fix::Estimate;
use foreland::geodesy::{Covariance, LocalPlane, PlanePoint, Position, along_track};
use foreland::reckon::Craft;
use foreland::units::{Bearing, KNOT, Speed};
use jiff::{SignedDuration, Timestamp};
use nalgebra::{Matrix2, Matrix4, Vector2, Vector4};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use serde_json::Value;

/// Agreement with the dense posterior: relative to the standard deviation of each figure.
const TOLERANCE: f64 = 1e-6;

const CASES: &str = include_str!("reference/smoother/cases.json");

fn numbers(value: &Value) -> Vec<f64> {
    match value {
        Value::Array(all) => all.iter().flat_map(numbers).collect(),
        other => vec![other.as_f64().unwrap()],
    }
}

fn step(told: &Value, model: &Model) -> Step {
    let (mut carry, mut noise) = model.over(told["seconds"].as_f64().unwrap());
    let mut shift = Vector4::from_row_slice(&numbers(&told["shift"]));
    if told["anew"].as_bool().unwrap() {
        let forget = Matrix4::from_diagonal(&Vector4::new(1.0, 1.0, 0.0, 0.0));
        (carry, noise, shift) = (forget * carry, forget * noise * forget, forget * shift);
        let mut velocity = noise.fixed_view_mut::<2, 2>(2, 2);
        velocity += model.spread;
    }
    let measured = told["weight"].is_array().then(|| Measured {
        weight: Matrix2::from_row_slice(&numbers(&told["weight"])),
        weighted: Vector2::from_row_slice(&numbers(&told["weighted"])),
    });
    Step { carry, shift, noise, measured }
}

#[test]
fn it_is_the_posterior_of_all_measurements_together() {
    let told: Value = serde_json::from_str(CASES).unwrap();
    let cases = told["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 8);
    let mut worst: f64 = 0.0;
    for case in cases {
        let model = Model {
            spread: Matrix2::from_row_slice(&numbers(&case["spread"])),
            seconds: case["tau"].as_f64().unwrap(),
            wander: case["wander"].as_f64().unwrap(),
        };
        let start = Known {
            mean: Vector4::from_row_slice(&numbers(&case["start"]["mean"])),
            covariance: Matrix4::from_row_slice(&numbers(&case["start"]["covariance"])),
        };
        let steps: Vec<Step> =
            case["steps"].as_array().unwrap().iter().map(|told| step(told, &model)).collect();
        let answers = smoothed(start, &steps);
        let due = case["answers"].as_array().unwrap();
        assert_eq!(answers.len(), due.len());
        for (answer, due) in answers.iter().zip(due) {
            let mean = Vector4::from_row_slice(&numbers(&due["mean"]));
            let covariance = Matrix4::from_row_slice(&numbers(&due["covariance"]));
            for row in 0..4 {
                let sigma = covariance[(row, row)].sqrt();
                worst = worst.max((answer.mean[row] - mean[row]).abs() / sigma);
                for column in 0..4 {
                    let scale = sigma * covariance[(column, column)].sqrt();
                    let off = answer.covariance[(row, column)] - covariance[(row, column)];
                    worst = worst.max(off.abs() / scale);
                }
            }
        }
    }
    println!("greatest difference {worst:.1e} standard deviations");
    assert!(worst < TOLERANCE, "{worst:e}");
}

/// Sorties simulated, and the seed of the first.
const SORTIES: u64 = 2000;
const SEED: u64 = 19_650_801;

struct Draw(ChaCha8Rng);

impl Draw {
    fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// An error of a covariance told by its lower root.
    fn error(&mut self, covariance: Matrix2<f64>) -> Vector2<f64> {
        let root = covariance.cholesky().unwrap().l();
        root * Vector2::new(self.normal(), self.normal())
    }
}

fn going(track: f64, speed: f64) -> Going {
    let track = Bearing::from_degrees(track).unwrap();
    let speed = Speed::from_knots(speed).unwrap();
    let model = Model::stated(Craft::Aircraft, track.sin_cos(), 5.0 * KNOT, 8.0 * KNOT);
    Going { track, speed, model }
}

fn time(second: i64) -> Timestamp {
    // A whole minute.
    Timestamp::from_second(1_930_000_020 + second).unwrap()
}

/// The ship of a sortie: its velocity error wanders, and it with it.
struct Truth {
    place: Position,
    error: Vector2<f64>,
}

impl Truth {
    /// Ten seconds, by the Euler-Maruyama scheme with the exact decay.
    fn go(&mut self, going: &Going, draw: &mut Draw) {
        const DT: f64 = 10.0;
        let decay = (-DT / going.model.seconds).exp();
        let before = self.error;
        self.error = decay * self.error + draw.error((1.0 - decay * decay) * going.model.spread);
        let mean = 0.5 * (before + self.error) * DT;
        let wander = (going.model.wander * DT).sqrt();
        let at = along_track(self.place, going.track, going.speed.metres_per_second() * DT);
        let off = PlanePoint {
            east: mean[0] + wander * draw.normal(),
            north: mean[1] + wander * draw.normal(),
        };
        self.place = LocalPlane::new(at).to_position(off);
    }
}

fn estimate(position: Position, covariance: Matrix2<f64>) -> Estimate {
    let covariance =
        Covariance::from_square_metres(covariance[(0, 0)], covariance[(0, 1)], covariance[(1, 1)]);
    Estimate { position, covariance: covariance.unwrap() }
}

fn moved(from: Position, by: Vector2<f64>) -> Position {
    LocalPlane::new(from).to_position(PlanePoint { east: by[0], north: by[1] })
}

/// An hour and a half: fixes at 20, 45 and 70 minutes, the drift found used at 45, a new course at 55.
/// Whether the 95 % ellipse holds the truth at 10, 20, 33, 45, 60, 70 and 85 minutes.
fn sortie(stream: u64) -> Vec<bool> {
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    rng.set_stream(stream);
    let mut draw = Draw(rng);
    let (first, second) = (going(74.0, 165.0), going(20.0, 165.0));
    let start = Matrix2::new(4.0e7, 1.0e7, 1.0e7, 3.0e7);
    let close = Matrix2::new(9.0e4, -2.0e4, -2.0e4, 4.0e4);
    let reckoned = Position::new(-38.2, 179.2).unwrap();
    let place = moved(reckoned, draw.error(start));
    let mut truth = Truth { place, error: draw.error(first.model.spread) };
    let used = [3.0 * KNOT, -2.0 * KNOT];
    let mut events = Vec::new();
    let mut course = first;
    let mut places = vec![truth.place];
    for minute in 1..=90_i64 {
        for _ in 0..6 {
            truth.go(&course, &mut draw);
        }
        places.push(truth.place);
        let at = time(minute * 60);
        match minute {
            20 | 45 | 70 => {
                let alone = estimate(moved(truth.place, draw.error(close)), close);
                // The reckoning goes on from a place a little beside it.
                let from = estimate(moved(alone.position, Vector2::new(40.0, -70.0)), close);
                events.push((at, Event::fix(events.len(), &alone, from)));
                if minute == 45 {
                    // What is reckoned with now, and the same truth beside it.
                    let (sin, cos) = course.track.sin_cos();
                    let v = course.speed.metres_per_second();
                    let (east, north) = (v * sin + used[0], v * cos + used[1]);
                    let track = Bearing::wrapped(east.atan2(north));
                    let speed = Speed::clamped_metres_per_second(east.hypot(north));
                    truth.error -= Vector2::new(used[0], used[1]);
                    course = Going { track, speed, ..course };
                    let flow = Flow::Used(used);
                    events.push((at, Event::Altered { going: course, flow }));
                }
            }
            55 => {
                course = second;
                truth.error = draw.error(second.model.spread);
                events.push((at, Event::Altered { going: second, flow: Flow::Anew }));
            }
            _ => {}
        }
    }
    let from = estimate(reckoned, start);
    let run = Run { start: time(0), from, going: Some(first), events, until: time(5400) };
    let track = run.track(SignedDuration::from_mins(1), None);
    let looked = [10_i64, 20, 33, 45, 60, 70, 85].map(|minute| {
        let point = track.iter().find(|point| point.time == time(minute * 60)).unwrap();
        let smoothed = if minute <= 70 { Kind::Smoothed } else { Kind::Reckoned };
        assert_eq!(point.kind, smoothed);
        let off = LocalPlane::new(point.place.position)
            .to_plane(places[usize::try_from(minute).unwrap()]);
        // Chi-square of two degrees of freedom, 95 % (table).
        point.place.covariance.mahalanobis_squared(off.east, off.north) < 5.991
    });
    looked.to_vec()
}

#[test]
fn the_ellipse_holds_the_truth_as_often_as_it_says() {
    let mut held = [0_u32; 7];
    for stream in 0..SORTIES {
        for (count, inside) in held.iter_mut().zip(sortie(stream)) {
            *count += u32::from(inside);
        }
    }
    println!("seed {SEED}, {SORTIES} sorties: {held:?} held");
    let all: u32 = held.iter().sum();
    let share = f64::from(all) / (7.0 * SORTIES as f64);
    assert!((0.94..0.96).contains(&share), "{share}");
    for count in held {
        // Each instant by itself: four standard deviations of 2,000 binomial draws are 1.95 %.
        let share = f64::from(count) / SORTIES as f64;
        assert!((0.9305..0.9695).contains(&share), "{held:?}");
    }
}
