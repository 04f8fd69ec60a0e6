use nalgebra::{Cholesky, Matrix3, Matrix4, Vector3, Vector4};

use super::edge::{Edge, Fan, Shore};
use super::field::{Region, Seed};
use super::trace::{Trace, TracePoint};
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
/// A search this near, squared and in standard deviations, to a place found has come to it.
const ARRIVED: f64 = 0.1;
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

impl Fitted {
    /// Whether a search that has come to this pose ends here: so far within the error of the place
    /// that the search would come no nearer.
    fn is_at(&self, pose: &Pose) -> bool {
        let off = pose - self.pose;
        Cholesky::new(self.covariance).is_some_and(|factor| off.dot(&factor.solve(&off)) < ARRIVED)
    }
}

/// One point of the trace as it depends on the pose.
struct Line {
    /// Measured less expected at the middle of the places tried.
    residual: f64,
    slope: Pose,
    variance: f64,
}

/// The faces and the corners of a cube, drawn out to one sphere: places by two of their standard
/// deviations, and at each the biases by the third. The mean square of each is one. The first two
/// alone move own place, so that one look at the shore does for all biases.
const STREWN: [([f64; 2], &[f64]); 9] = [
    ([-ROOT_3, 0.0], &[0.0]),
    ([ROOT_3, 0.0], &[0.0]),
    ([0.0, -ROOT_3], &[0.0]),
    ([0.0, ROOT_3], &[0.0]),
    ([0.0, 0.0], &[-ROOT_3, ROOT_3]),
    ([-1.0, -1.0], &[-1.0, 1.0]),
    ([-1.0, 1.0], &[-1.0, 1.0]),
    ([1.0, -1.0], &[-1.0, 1.0]),
    ([1.0, 1.0], &[-1.0, 1.0]),
];
const COUNT: usize = 14;
const ROOT_3: f64 = 1.732_050_807_568_877_2;

/// The shore from places strewn about a pose.
struct Strewn<'f> {
    /// Lower triangle: metres east and north and radians for each standard deviation.
    spread: Matrix3<f64>,
    /// From a slope by standard deviations to one by metres and radians.
    back: Matrix3<f64>,
    /// What the plane's bearings are turned by at each place of [`STREWN`].
    turns: [f64; STREWN.len()],
    edges: [Edge<'f>; STREWN.len()],
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
    /// None where it comes out more than [`HOPELESS_NATS`] below the best of those found already, or
    /// runs into one of them.
    pub fn sought_from(&self, seed: &Seed, found: &[Fitted]) -> Option<Fitted> {
        let pose = Pose::new(seed.east, seed.north, seed.bias, 0.0);
        let bias = self.region.bias_sigma.min(seed.cell / self.trace.mean_range().max(1.0));
        let spread = SEED_SHARE * seed.cell;
        let area = Vector3::new(spread * spread, spread * spread, bias * bias);
        self.settle(pose, Matrix3::from_diagonal(&area), None, found, STEPS)
    }

    /// The same within a window, from a pose near it; the window is no part of what is told.
    pub fn within(&self, window: Window, pose: &Pose) -> Option<Fitted> {
        let [east, north] = window.axis;
        let along = Vector3::new(east, north, 0.0);
        let aside = Vector3::new(north, -east, 0.0);
        let mut area = (along * along.transpose() + aside * aside.transpose() * ASIDE)
            * (window.sigma * window.sigma);
        area[(2, 2)] = (ASIDE * self.region.bias_sigma).powi(2);
        self.settle(*pose, area, Some(window), &[], SLICE_STEPS)
    }

    fn settle(
        &self,
        mut pose: Pose,
        mut area: Matrix3<f64>,
        window: Option<Window>,
        others: &[Fitted],
        steps: usize,
    ) -> Option<Fitted> {
        let top = others.iter().map(|f| f.log_evidence).fold(f64::NEG_INFINITY, f64::max);
        for step in 0..steps {
            let lines = self.lines(&pose, &area)?;
            let hopeless =
                || self.log_density(&lines) + self.log_prior(&pose) < top - HOPELESS_NATS;
            if step == 3 && hopeless() || step >= 2 && others.iter().any(|f| f.is_at(&pose)) {
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
        let strewn = self.strewn(pose, area)?;
        Some(self.trace.points.iter().map(|point| self.line(point, pose, &strewn)).collect())
    }

    /// The shore as it is seen from places strewn over an area about a pose.
    fn strewn(&self, pose: &Pose, area: &Matrix3<f64>) -> Option<Strewn<'_>> {
        let spread = spread(area)?;
        let moved = |[a, b]: [f64; 2]| PlanePoint {
            east: pose[0] + spread[(0, 0)] * a + spread[(0, 1)] * b,
            north: pose[1] + spread[(1, 0)] * a + spread[(1, 1)] * b,
        };
        let about = PlanePoint { east: pose[0], north: pose[1] };
        let places = STREWN.map(|(unit, _)| moved(unit));
        let far = places.iter().map(|place| place.distance(about)).fold(0.0, f64::max);
        let view = self.shore.view(about, far, self.fan);
        let edges = places.map(|place| view.edge(place));
        let turns = places.map(|place| self.region.turn(place.east));
        let back = spread.try_inverse()?.transpose();
        Some(Strewn { spread, back, turns, edges })
    }

    /// Regression of the range of one point on the three that move it, in units of their spread.
    fn line(&self, point: &TracePoint, pose: &Pose, strewn: &Strewn<'_>) -> Option<Line> {
        let spread = &strewn.spread;
        let mut seen: Vec<(Vector4<f64>, f64)> = Vec::with_capacity(COUNT);
        let aside = self.fan.aside(point.bearing) - pose[2];
        let each = STREWN.iter().zip(&strewn.edges).zip(&strewn.turns);
        for (((place, biases), edge), turn) in each {
            let [a, b] = *place;
            let held = aside - turn - spread[(2, 0)] * a - spread[(2, 1)] * b;
            for &c in *biases {
                let Some(range) = edge.at(held - spread[(2, 2)] * c) else { continue };
                seen.push((Vector4::new(1.0, a, b, c), range));
            }
        }
        let told = regression(&seen)?;
        let left: f64 = seen.iter().map(|(row, range)| (range - row.dot(&told)).powi(2)).sum();
        let bent = left / (seen.len() as f64 - 4.0).max(1.0);
        let by = strewn.back * Vector3::new(told[1], told[2], told[3]);
        let slope = Pose::new(by[0], by[1], by[2], point.stretch);
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

/// The root of an area: what standard deviations become in metres and radians.
fn spread(area: &Matrix3<f64>) -> Option<Matrix3<f64>> {
    let mut area = *area;
    let floor = LEAST_SPREAD_M * LEAST_SPREAD_M;
    area[(0, 0)] += floor;
    area[(1, 1)] += floor;
    area[(2, 2)] += 1e-8;
    // Too wide an area is drawn in: what it tells is then of that much of it.
    let widest = area[(0, 0)].max(area[(1, 1)]).sqrt();
    Some(Cholesky::new(area)?.l() * (MOST_SPREAD_M / widest).min(1.0))
}

/// Least squares of the ranges seen on the rows they were seen at: the middle, then a slope for each
/// axis. None where too few places see a shore.
fn regression(seen: &[(Vector4<f64>, f64)]) -> Option<Vector4<f64>> {
    if (seen.len() as f64) < LEAST_SEEN * COUNT as f64 {
        return None;
    }
    let right: Vector4<f64> = seen.iter().map(|(row, range)| row * *range).sum();
    if seen.len() == COUNT {
        // All of them stand at right angles, each column's square adding up to their number.
        return Some(right / COUNT as f64);
    }
    let ridge = Matrix4::identity() * 1e-6;
    let normal = seen.iter().fold(ridge, |sum, (row, _)| sum + row * row.transpose());
    Some(Cholesky::new(normal)?.solve(&right))
}
