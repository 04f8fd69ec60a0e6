//! Where own place may be, so that a traced outline lies along the shore.
//!
//! In: a [`Trace`] in plain numbers, the shore, the reckoning. Out: every place that the trace
//! fits, as a [`Registered`] that the estimator takes like any other measurement.
//!
//! 1. `field`: over the whole reckoning, cell by cell, how near every point of the trace comes to
//!    some shore.
//! 2. `edge`: from one place, the first shore that can paint on each bearing, within half a beam.
//! 3. `fit`: from each cell that stood out, the place at which the trace follows that edge best,
//!    and how well that holds it.
//!
//! A self-similar shore gives several places, and all are kept. The points of a trace err together
//! with their neighbours, so that each counts for a part only: see [`Trace::effective`].

mod edge;
mod field;
mod fit;
mod ridge;
mod trace;
mod traced;

use std::cell::RefCell;
use std::collections::HashMap;

use nalgebra::{Matrix4, SymmetricEigen, Vector4};

use self::edge::{Fan, Shore, Sightline};
use self::field::{Region, Seed};
use self::fit::{Fitted, Fitting};
use crate::geodesy::{Covariance, LocalPlane, MEAN_EARTH_RADIUS_M, PlanePoint, Position};
use crate::units::{Angle, GroundRange, METRES_PER_NAUTICAL_MILE};

pub use self::trace::{Trace, TracePoint};
pub use self::traced::Traced;

/// Shores farther behind the trace than this are no part of it, metres.
const BEHIND_M: f64 = 6.0 * METRES_PER_NAUTICAL_MILE;
/// The trace's bearings are looked along with this many standard deviations of the bias to spare.
const BIAS_SIGMAS: f64 = 5.0;
/// A plane is no picture of more than this, metres.
const MOST_REACH_M: f64 = 300.0 * METRES_PER_NAUTICAL_MILE;
/// Places this many nats behind the best are let go, and more than so many.
const KEPT_NATS: f64 = 14.0;
const MOST_PLACES: usize = 16;
/// Two places nearer than this, squared and in standard deviations, are one.
const SAME: f64 = 1.0;
/// A combination of place and biases known no better than to this, metres, is not told at all.
const LEAST_TOLD_M: f64 = 500.0 * METRES_PER_NAUTICAL_MILE;

/// The shore, as a search asks for it.
pub trait Shoreline {
    /// The shore within reach of a plane's centre, laid flat.
    fn lines(&self, plane: &LocalPlane, within: GroundRange) -> Vec<Vec<PlanePoint>>;
    /// Height of the ground, metres above mean sea level.
    fn height(&self, at: Position) -> f64;
}

/// What a trace is searched with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reckoned {
    /// Own place when the trace was made.
    pub position: Position,
    /// The error of that.
    pub covariance: Covariance,
    /// Of every bearing, radians.
    pub bearing_bias_sigma: f64,
    /// Of every range, metres.
    pub range_bias_sigma: f64,
    /// Of each stretch of shore, metres.
    pub point_sigma: f64,
    /// How far the sea is in sight, metres.
    pub horizon: f64,
    /// Effective radius of the Earth, metres.
    pub earth_radius: f64,
}

/// One place that a trace fits, with what the trace tells about it and nothing of the reckoning.
#[derive(Debug, Clone, PartialEq)]
pub struct Registered {
    /// Own place when the trace was made, the chart not shifted.
    pub place: Position,
    /// Bias of every bearing there, radians.
    pub bias: f64,
    /// Bias of every range there, metres.
    pub range_bias: f64,
    /// What the trace tells: independent sums of what differs from the above.
    pub told: Vec<Told>,
    /// Logarithm of the density of the trace, less that of `told` by itself.
    pub log_density: f64,
    /// Root mean square of what is left of the ranges there, metres.
    pub rms: f64,
}

/// A sum of place and biases that the trace tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Told {
    /// Its change with own place east and north, the bias of bearings and that of ranges.
    pub slope: [f64; 4],
    /// How far it lies from its value at the registered place.
    pub offset: f64,
    /// Its variance.
    pub variance: f64,
}

/// Every place within the reckoning that a trace fits, likeliest first.
pub fn register(shoreline: &dyn Shoreline, trace: &Trace, reckoned: &Reckoned) -> Vec<Registered> {
    let plane = LocalPlane::new(reckoned.position);
    let region = region(reckoned);
    let reach = trace.farthest() + BEHIND_M;
    let within = GroundRange::clamped_metres((reach + 4.0 * region.long).min(MOST_REACH_M));
    let lines = shoreline.lines(&plane, within);
    if trace.points.is_empty() || lines.is_empty() {
        return Vec::new();
    }
    let bearings = trace.points.iter().map(|point| point.bearing);
    let margin = BIAS_SIGMAS * region.bias_sigma;
    let fan = Fan::over(bearings, margin, trace.half_beam, reach);
    let height = |at: PlanePoint| shoreline.height(plane.to_position(at));
    let known = RefCell::new(HashMap::new());
    let sight = Sightline {
        horizon: reckoned.horizon,
        radius: reckoned.earth_radius,
        height: &height,
        known,
    };
    let shore = Shore::new(&lines, sight);
    let fitting = Fitting {
        shore: &shore,
        trace,
        fan: &fan,
        region: &region,
        range_bias_sigma: reckoned.range_bias_sigma.max(1.0),
    };
    let seeds = field::search(&lines, trace, &region);
    let fitted = best(&fitting, &seeds);
    fitted.iter().map(|fitted| registered(&plane, &region, trace, fitted)).collect()
}

fn region(reckoned: &Reckoned) -> Region {
    let [ee, en, nn] = reckoned.covariance.square_metres();
    let (ee, nn) = (ee + 1.0, nn + 1.0);
    let determinant = (ee * nn - en * en).max(1e-6);
    let (long, _, _) = reckoned.covariance.axes();
    let latitude = Angle::from_degrees(reckoned.position.latitude()).radians();
    Region {
        information: [nn / determinant, -en / determinant, ee / determinant],
        long: long.max(0.0).sqrt().max(50.0),
        bias_sigma: reckoned.bearing_bias_sigma.max(1e-5),
        turn_by_east: latitude.clamp(-1.55, 1.55).tan() / MEAN_EARTH_RADIUS_M,
        point_sigma: reckoned.point_sigma,
    }
}

/// The places that the seeds lead to, each once.
fn best(fitting: &Fitting<'_, '_>, seeds: &[Seed]) -> Vec<Fitted> {
    let mut found: Vec<Fitted> = Vec::new();
    for seed in seeds {
        let Some(fitted) = fitting.sought_from(seed, &found) else { continue };
        let known = found.iter_mut().find(|other| is_same(other, &fitted));
        match known {
            Some(other) if fitted.log_evidence > other.log_evidence => *other = fitted,
            Some(_) => {}
            None => found.push(fitted),
        }
    }
    let mut found = walked(fitting, likely(found));
    found.truncate(MOST_PLACES);
    found
}

/// The best of some places, likeliest first.
fn likely(mut found: Vec<Fitted>) -> Vec<Fitted> {
    found.sort_by(|a, b| b.log_evidence.total_cmp(&a.log_evidence));
    let top = found.first().map_or(0.0, |fitted| fitted.log_evidence);
    found.retain(|fitted| fitted.log_evidence >= top - KEPT_NATS);
    found
}

/// The long ones among some places walked along; what a walk passes through is part of it.
fn walked(fitting: &Fitting<'_, '_>, found: Vec<Fitted>) -> Vec<Fitted> {
    let mut parts = Vec::new();
    let mut passed: Vec<Fitted> = Vec::new();
    for fitted in found {
        if passed.iter().any(|slice| is_same(slice, &fitted)) {
            continue;
        }
        match ridge::walk(fitting, &fitted) {
            Some(walked) => {
                parts.extend(walked.parts);
                passed.extend(walked.slices);
            }
            None => parts.push(fitted),
        }
    }
    likely(parts)
}

fn is_same(one: &Fitted, other: &Fitted) -> bool {
    let off = one.pose - other.pose;
    let sum = one.covariance + other.covariance;
    sum.cholesky().is_some_and(|factor| off.dot(&factor.solve(&off)) < SAME)
}

/// A fitted place as independent sums, its axes turned to true ones there.
fn registered(plane: &LocalPlane, region: &Region, trace: &Trace, fitted: &Fitted) -> Registered {
    let pose = fitted.pose;
    // A bearing weighs like what it moves at the range of the trace.
    let scale = Vector4::new(1.0, 1.0, 1.0 / trace.mean_range().max(1.0), 1.0);
    let scaled = Matrix4::from_diagonal(&scale);
    let eigen = SymmetricEigen::new(scaled * fitted.information * scaled);
    let pull = scaled * fitted.pull;
    let (sin, cos) = region.turn(pose[0]).sin_cos();
    let mut log_density = fitted.log_density;
    let mut told = Vec::new();
    for (index, &value) in eigen.eigenvalues.iter().enumerate() {
        if value * LEAST_TOLD_M * LEAST_TOLD_M < 1.0 {
            continue;
        }
        let direction: Vector4<f64> = eigen.eigenvectors.column(index).into_owned();
        let offset = direction.dot(&pull) / value;
        log_density += 0.5 * offset * offset * value + 0.5 * (std::f64::consts::TAU / value).ln();
        let [east, north, bias, range] = direction.component_div(&scale).into();
        let slope = [east * cos + north * sin, north * cos - east * sin, bias, range];
        told.push(Told { slope, offset, variance: 1.0 / value });
    }
    told.sort_by(|a, b| a.variance.total_cmp(&b.variance));
    Registered {
        place: plane.to_position(PlanePoint { east: pose[0], north: pose[1] }),
        bias: pose[2],
        range_bias: pose[3],
        told,
        log_density,
        rms: fitted.rms,
    }
}

#[cfg(test)]
mod tests;
