use nalgebra::{Cholesky, Matrix3, Matrix4, Vector3, Vector4};

use super::edge::{Edge, Fan, Shore};
use super::field::{Region, Seed};
use super::trace::Trace;
use crate::geodesy::PlanePoint;

/// A point of a trace is something else than the shore this often: a boat alongside, a slip.
const STRAY: f64 = 0.05;
/// Of the places tried, this share must see a shore on a bearing for it to be told anything.
const LEAST_SEEN: f64 = 0.6;
/// A place that explains less than this share of the points is none.
const LEAST_TRUSTED: f64 = 0.4;
const STEPS: usize = 12;
const SLICE_STEPS: usize = 2;
/// A seed stands for this share of its cell to each side.
const SEED_SHARE: f64 = 0.8;
/// A slice is so much narrower than long, squared, before it is known.
const ASIDE: f64 = 0.1;
/// A search this far behind after a few steps comes to nothing.
const HOPELESS_NATS: f64 = 30.0;
/// The area tried about a place is never smaller or larger than this, metres.
const LEAST_SPREAD_M: f64 = 60.0;
const MOST_SPREAD_M: f64 = 8_000.0;
/// Steps smaller than this share of a standard deviation end the search.
const STILL: f64 = 0.05;
/// A shore seen at more of a slant than this is shifted by the chart's error no farther.
const MOST_SLIDE: f64 = 3.0;

/// Own place, the bias of all bearings and that of all ranges: east, north, radians, metres.
pub(super) type Pose = Vector4<f64>;

/// A place that the trace fits, with what it tells of it.
#[derive(Debug, Clone)]
pub(super) struct Fitted {
    /// With the reckoning.
    pub pose: Pose,
    pub covariance: Matrix4<f64>,
    /// What the trace alone tells about `pose`: information and pull.
    pub information: Matrix4<f64>,
    pub pull: Pose,
    /// Logarithm of the density of the trace at `pose`.
    pub log_density: f64,
    /// Logarithm of prior and density together, over all places near.
    pub log_evidence: f64,
    /// Root mean square of what is left of the ranges, metres, points that are strays left out.
    pub rms: f64,
}

/// One point of the trace as it depends on the pose.
struct Line {
    /// Measured less expected at the middle of the places tried.
    residual: f64,
    slope: Pose,
    variance: f64,
}

/// A window on own place along an axis.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window {
    /// East and north of its direction.
    pub axis: [f64; 2],
    pub middle: f64,
    pub sigma: f64,
}

pub(super) struct Fitting<'a, 's> {
    pub shore: &'a Shore<'s>,
    pub trace: &'a Trace,
    pub fan: &'a Fan,
    pub region: &'a Region,
    /// One standard deviation of the bias of every range, metres.
    pub range_bias_sigma: f64,
}

impl Fitting<'_, '_> {
    /// The place nearest to a seed that trace and reckoning agree on.
    ///
    /// The expected range of each point is made a straight line of the pose by regression over
    /// places strewn as widely as the pose is uncertain, and what the line does not follow is taken
    /// for error of the point: so a jagged shore promises no more than it holds over that area. The
    /// answer's own spread sets the area of the next round (posterior linearisation: Á. F.
    /// García-Fernández and others, IEEE Transactions on Signal Processing 63, 2015, from memory).
    ///
    /// None where it comes out more than [`HOPELESS_NATS`] below `least`.
    pub fn sought_from(&self, seed: &Seed, least: f64) -> Option<Fitted> {
        let pose = Pose::new(seed.east, seed.north, seed.bias, 0.0);
        let bias = self.region.bias_sigma.min(seed.cell / self.trace.mean_range().max(1.0));
        let spread = SEED_SHARE * seed.cell;
        let area = Vector3::new(spread * spread, spread * spread, bias * bias);
        self.settle(pose, Matrix3::from_diagonal(&area), None, least, STEPS)
    }

    /// The same within a window, from a pose near it; the window is no part of what is told.
    pub fn within(&self, window: Window, pose: &Pose) -> Option<Fitted> {
        let [east, north] = window.axis;
        let along = Vector3::new(east, north, 0.0);
        let aside = Vector3::new(north, -east, 0.0);
        let mut area = (along * along.transpose() + aside * aside.transpose() * ASIDE)
            * (window.sigma * window.sigma);
        area[(2, 2)] = (ASIDE * self.region.bias_sigma).powi(2);
        self.settle(*pose, area, Some(window), f64::NEG_INFINITY, SLICE_STEPS)
    }

    fn settle(
        &self,
        mut pose: Pose,
        mut area: Matrix3<f64>,
        window: Option<Window>,
        least: f64,
        steps: usize,
    ) -> Option<Fitted> {
        for step in 0..steps {
            let lines = self.lines(&pose, &area)?;
            if step == 3 && self.log_density(&lines) + self.log_prior(&pose) < least - HOPELESS_NATS
            {
                return None;
            }
            let (found, covariance) = self.solve(&pose, &lines, window)?;
            let moved = found - pose;
            let white = Cholesky::new(covariance.fixed_view::<3, 3>(0, 0).into_owned())?
                .l()
                .solve_lower_triangular(&moved.fixed_rows::<3>(0).into_owned())?;
            // Full steps first, then half ones: a rough shore would have it swing to and fro.
            pose += moved * if step < 5 { 1.0 } else { 0.5 };
            area = covariance.fixed_view::<3, 3>(0, 0).into_owned();
            if step >= 2 && white.norm() < STILL {
                break;
            }
        }
        // What is told holds about the place where it was worked out.
        let lines = self.lines(&pose, &area)?;
        self.tell(&pose, &lines, window)
    }

    /// Each point of the trace as a straight line about a pose.
    fn lines(&self, pose: &Pose, area: &Matrix3<f64>) -> Option<Vec<Option<Line>>> {
        let offsets = strewn(area)?;
        let edges: Vec<Edge<'_>> = offsets
            .iter()
            .map(|offset| {
                let own = PlanePoint { east: pose[0] + offset[0], north: pose[1] + offset[1] };
                self.shore.edge(own, self.fan)
            })
            .collect();
        let line = |index: usize| self.line(index, pose, &offsets, &edges);
        Some((0..self.trace.points.len()).map(line).collect())
    }

    fn line(
        &self,
        index: usize,
        pose: &Pose,
        offsets: &[Vector3<f64>],
        edges: &[Edge<'_>],
    ) -> Option<Line> {
        let point = self.trace.points.get(index)?;
        // Regression of the range on the three that move it, in units of their own spread.
        let mut scale: Vector3<f64> = Vector3::repeat(1e-12);
        for offset in offsets {
            scale = scale.zip_map(offset, |s: f64, o: f64| s.max(o.abs()));
        }
        let (mut normal, mut right) = (Matrix4::zeros(), Vector4::zeros());
        let mut seen: Vec<(Vector4<f64>, f64)> = Vec::with_capacity(offsets.len());
        for (offset, edge) in offsets.iter().zip(edges) {
            let east = pose[0] + offset[0];
            let bearing = point.bearing - pose[2] - offset[2] - self.region.turn(east);
            let Some(range) = edge.at(bearing) else { continue };
            let unit = offset.component_div(&scale);
            let row = Vector4::new(1.0, unit[0], unit[1], unit[2]);
            normal += row * row.transpose();
            right += row * range;
            seen.push((row, range));
        }
        if (seen.len() as f64) < LEAST_SEEN * offsets.len() as f64 {
            return None;
        }
        normal += Matrix4::identity() * 1e-6;
        let told = Cholesky::new(normal)?.solve(&right);
        let left: f64 = seen.iter().map(|(row, range)| (range - row.dot(&told)).powi(2)).sum();
        let bent = left / (seen.len() as f64 - 4.0).max(1.0);
        let slope =
            Pose::new(told[1] / scale[0], told[2] / scale[1], told[3] / scale[2], point.stretch);
        let slide = slope[0].hypot(slope[1]).clamp(1.0, MOST_SLIDE);
        let variance = point.sigma.powi(2)
            + (slope[2] * self.trace.bearing_sigma).powi(2)
            + (self.region.point_sigma * slide).powi(2)
            + bent;
        Some(Line { residual: point.range - told[0] - point.stretch * pose[3], slope, variance })
    }

    /// Trace, reckoning and window together: where, and how sure.
    fn solve(
        &self,
        pose: &Pose,
        lines: &[Option<Line>],
        window: Option<Window>,
    ) -> Option<(Pose, Matrix4<f64>)> {
        let (information, pull) = self.told(lines);
        let (prior, back) = self.prior(pose);
        let (slit, narrow) = slit(pose, window);
        let factor = Cholesky::new(information + prior + slit)?;
        let found = pose + factor.solve(&(pull + back + narrow));
        let covariance = factor.inverse();
        let sound = found.iter().chain(covariance.iter()).all(|v| v.is_finite());
        sound.then_some((found, 0.5 * (covariance + covariance.transpose())))
    }

    /// Information and pull of the trace, tempered.
    fn told(&self, lines: &[Option<Line>]) -> (Matrix4<f64>, Pose) {
        let temper = self.trace.temper();
        let (mut information, mut pull) = (Matrix4::zeros(), Pose::zeros());
        for line in lines.iter().flatten() {
            let weight = temper * self.trust(line) / line.variance;
            information += line.slope * line.slope.transpose() * weight;
            pull += line.slope * (line.residual * weight);
        }
        (information, pull)
    }

    /// Information and pull of the reckoning and of what is known of the biases.
    pub fn prior(&self, pose: &Pose) -> (Matrix4<f64>, Pose) {
        let [ee, en, nn] = self.region.information;
        let bias = 1.0 / self.region.bias_sigma.powi(2);
        let range = 1.0 / self.range_bias_sigma.powi(2);
        let prior = Matrix4::new(
            ee, en, 0.0, 0.0, en, nn, 0.0, 0.0, 0.0, 0.0, bias, 0.0, 0.0, 0.0, 0.0, range,
        );
        (prior, -(prior * pose))
    }

    /// The chance that a point is of the shore expected, by what is left of it.
    fn trust(&self, line: &Line) -> f64 {
        let near = (1.0 - STRAY) * normal(line);
        near / (near + STRAY / self.fan.reach())
    }

    fn log_density(&self, lines: &[Option<Line>]) -> f64 {
        let stray = STRAY / self.fan.reach();
        let each = lines.iter().map(|line| match line {
            Some(line) => ((1.0 - STRAY) * normal(line) + stray).ln(),
            None => stray.ln(),
        });
        self.trace.temper() * each.sum::<f64>()
    }

    /// Logarithm of the prior density but for its constant.
    fn log_prior(&self, pose: &Pose) -> f64 {
        let (prior, _) = self.prior(pose);
        -0.5 * pose.dot(&(prior * pose))
    }

    /// What the trace tells about a pose; none where most of it is of some other shore.
    fn tell(&self, pose: &Pose, lines: &[Option<Line>], window: Option<Window>) -> Option<Fitted> {
        let (information, pull) = self.told(lines);
        let (prior, back) = self.prior(pose);
        let (slit, narrow) = slit(pose, window);
        let log_density = self.log_density(lines);
        let factor = Cholesky::new(prior + information + slit)?;
        // The top of the whole lies this step away.
        let step = factor.solve(&(pull + back + narrow));
        let rise = 0.5 * step.dot(&(pull + back + narrow));
        let shut = window.map_or(0.0, |w| {
            let off = (w.axis[0] * pose[0] + w.axis[1] * pose[1] - w.middle) / w.sigma;
            -0.5 * off * off
        });
        let log_evidence = log_density + self.log_prior(pose) + shut + rise + 0.5 * log_det(&prior)
            - 0.5 * log_det(&(prior + information + slit));
        let (sum, count) = lines.iter().flatten().fold((0.0, 0.0), |(sum, count), line| {
            let trust = self.trust(line);
            (sum + trust * line.residual.powi(2), count + trust)
        });
        if count < LEAST_TRUSTED * self.trace.points.len() as f64 {
            return None;
        }
        let rms = if count > 0.0 { f64::sqrt(sum / count) } else { 0.0 };
        let (pose, covariance) = (*pose, factor.inverse());
        let fitted = Fitted { pose, covariance, information, pull, log_density, log_evidence, rms };
        (log_density.is_finite() && log_evidence.is_finite()).then_some(fitted)
    }

    /// Logarithm of the density that the evidence of a place stands for.
    pub fn levelled(&self, fitted: &Fitted, prior: &Matrix4<f64>) -> f64 {
        let before = self.log_prior(&fitted.pose) + 0.5 * log_det(prior);
        let after = 0.5 * log_det(&(prior + fitted.information));
        fitted.log_evidence - before + after
    }
}

/// Information and pull of a window.
fn slit(pose: &Pose, window: Option<Window>) -> (Matrix4<f64>, Pose) {
    let Some(window) = window else { return (Matrix4::zeros(), Pose::zeros()) };
    let axis = Pose::new(window.axis[0], window.axis[1], 0.0, 0.0);
    let weight = 1.0 / (window.sigma * window.sigma);
    (axis * axis.transpose() * weight, axis * (weight * (window.middle - axis.dot(pose))))
}

fn log_det(matrix: &Matrix4<f64>) -> f64 {
    Cholesky::new(*matrix)
        .map_or(f64::INFINITY, |f| 2.0 * f.l().diagonal().iter().map(|d| d.ln()).sum::<f64>())
}

fn normal(line: &Line) -> f64 {
    (-0.5 * line.residual * line.residual / line.variance).exp()
        / (std::f64::consts::TAU * line.variance).sqrt()
}

/// Places strewn over an area, their mean and covariance those of it.
fn strewn(area: &Matrix3<f64>) -> Option<Vec<Vector3<f64>>> {
    let mut area = *area;
    let floor = LEAST_SPREAD_M * LEAST_SPREAD_M;
    area[(0, 0)] += floor;
    area[(1, 1)] += floor;
    area[(2, 2)] += 1e-8;
    // Too wide an area is drawn in: what it tells is then of that much of it.
    let widest = area[(0, 0)].max(area[(1, 1)]).sqrt();
    let factor = Cholesky::new(area)?.l() * (MOST_SPREAD_M / widest).min(1.0);
    // The faces and the corners of a cube, drawn out to one sphere: the mean square of the distance
    // is three, one for each axis.
    let mut strewn = Vec::with_capacity(14);
    for east in -1..=1 {
        for north in -1..=1 {
            for bias in -1..=1 {
                let unit = Vector3::new(f64::from(east), f64::from(north), f64::from(bias));
                let steps = unit.norm_squared();
                // Neither the middle nor an edge.
                if steps > 0.5 && !(1.5..2.5).contains(&steps) {
                    strewn.push(factor * (unit * (3.0 / steps).sqrt()));
                }
            }
        }
    }
    Some(strewn)
}
