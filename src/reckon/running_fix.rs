//! Position lines taken at different times, crossed: the running fix.

use nalgebra::{DMatrix, DVector};
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::course::Course;
use super::reckoner::{Growth, Reckoner, State};
use crate::fix::Grade;
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position, course, destination};
use crate::units::{Angle, Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, True};

/// The most lines of one running fix.
pub const MOST_LINES: usize = 12;

/// How sure one place must be, against the others that the lines cross at, to be stated alone.
const ASSURED: f64 = 0.99;

/// Without the reckoning's position a direction known no better than this is not measured, NM.
const FREE_NM: f64 = 50.0;

/// What is put in the place of the reckoning's position where it is to be left out, NM.
const NOTHING_KNOWN_NM: f64 = 500.0;

/// The heading's bias among the unknowns, and how many there are at each time but the lines' own.
const BIAS: usize = 4;
const NOW: usize = 6;

/// Steps until a place is settled, and the last of them in metres.
const MOST_STEPS: usize = 40;
const SETTLED_M: f64 = 0.5;

/// A place this much less likely than the best is none.
const UNLIKELY: f64 = 1e-4;

/// What was measured on one charted mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seen {
    /// Along the ground: a circle about the mark.
    Range {
        /// What it read.
        range: GroundRange,
        /// One standard deviation.
        sigma: GroundRange,
    },
    /// From own position, true: a line from the mark.
    Bearing {
        /// What it read, turned to true by own heading.
        bearing: Bearing<True>,
        /// One standard deviation, the heading's bias left out.
        sigma: Angle,
        /// Whether it came by own compass, and so shares the heading's bias.
        by_heading: bool,
    },
}

/// A mark as the chart has it, and how far the chart may be wrong there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Charted {
    /// Where the mark is charted.
    pub position: Position,
    /// One standard deviation of that on each axis, the same for every line from this mark.
    pub point_sigma: GroundRange,
    /// And of the whole chart, the same for every line from any mark of it.
    pub shift_sigma: GroundRange,
}

impl Charted {
    /// A mark whose place is taken as exact.
    pub fn exactly(position: Position) -> Self {
        Self { position, point_sigma: GroundRange::ZERO, shift_sigma: GroundRange::ZERO }
    }

    /// The variance that the places of two lines have in common, square metres.
    fn shared(self, other: Self) -> f64 {
        let one = |sigma: GroundRange, other: GroundRange| sigma.metres() * other.metres();
        let same = self.position == other.position;
        let point = if same { one(self.point_sigma, other.point_sigma) } else { 0.0 };
        point + one(self.shift_sigma, other.shift_sigma)
    }
}

/// One line, and where the reckoning had us when it was taken.
#[derive(Debug, Clone, PartialEq)]
struct Line {
    reckoned: Position,
    mark: Charted,
    seen: Seen,
}

/// Position lines as they are taken along a run, with all that their carrying forward owes.
///
/// The place at each line, and position, flow, heading bias and speed scale now, are unknowns of one
/// joint normal law, which the reckoning gives; the lines are taken together, in one batch. Nothing is
/// lost by linearising early, and what the lines share (wind, heading, speed) is shared.
#[derive(Debug, Clone)]
pub struct RunningFix {
    reckoner: Reckoner,
    course: Option<Course>,
    lines: Vec<Line>,
    /// Now (six), then east and north at each line, there with the chart's error in it.
    joint: DMatrix<f64>,
    /// The same with nothing known of the position at the start.
    unplaced: DMatrix<f64>,
}

/// A place that the lines cross at.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossing {
    /// Its share of the probability.
    pub probability: f64,
    /// The reckoning put right: position, flow, heading and speed, to go on from.
    pub reckoner: Reckoner,
    /// What is left over, the reckoning included.
    pub chi2: f64,
    /// The chance of as much, or more.
    pub chance: f64,
    /// Position by the lines and the run alone, the reckoned place left out.
    pub lines_only: Covariance,
    /// The widest angle at which any two of the lines cross, each carried forward; none of one line.
    pub cut: Option<Angle>,
}

/// Lines that cross at less than this cross flat: a small error of either is a large one along them
/// (common practice, no published source).
pub const FLAT_DEG: f64 = 30.0;

impl Crossing {
    /// Long axis over short of the lines' own ellipse: 1 is a clean cross.
    pub fn condition(&self) -> f64 {
        let (long, short, _) = self.lines_only.axes();
        if short > 0.0 { (long / short).sqrt() } else { f64::INFINITY }
    }

    /// Whether the lines cross too flat to be relied on along their common direction.
    pub fn is_flat(&self) -> bool {
        self.cut.is_some_and(|cut| cut.degrees() < FLAT_DEG)
    }

    /// Whether the lines fix the position in both directions without the reckoned place.
    pub fn is_observed(&self) -> bool {
        self.lines_only.axes().0.sqrt() < FREE_NM * METRES_PER_NAUTICAL_MILE
    }
}

/// What a running fix comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// One place, fixed in both directions by the lines.
    Fixed,
    /// One place, long the way that nothing measures: most probable, no fix.
    MostProbable,
    /// The lines cross at more than one place that the reckoning allows.
    Ambiguous,
    /// Lines and reckoning do not go together.
    AtOdds,
    /// No line, or no place found.
    Nothing,
}

impl RunningFix {
    /// From a reckoning, before the first line.
    pub fn new(reckoner: Reckoner) -> Self {
        let now = reckoner.joint_covariance();
        let joint = DMatrix::from_fn(NOW, NOW, |i, j| now[(i, j)]);
        let nothing = (NOTHING_KNOWN_NM * METRES_PER_NAUTICAL_MILE).powi(2);
        let unplaced = DMatrix::from_fn(NOW, NOW, |i, j| match (i.min(j), i == j) {
            (0 | 1, true) => nothing,
            (0 | 1, false) => 0.0,
            _ => now[(i, j)],
        });
        Self { reckoner, course: None, lines: Vec::new(), joint, unplaced }
    }

    /// The reckoning as it runs, no line taken.
    pub fn reckoner(&self) -> &Reckoner {
        &self.reckoner
    }

    /// Runs on.
    pub fn advance(&mut self, course: &Course, seconds: f64) {
        let (joint, unplaced) = (&mut self.joint, &mut self.unplaced);
        self.reckoner.advance_telling(course, seconds, |growth| {
            grow(joint, growth);
            grow(unplaced, growth);
        });
        self.course = Some(*course);
    }

    /// Takes a line here and now; `false`, and nothing taken, past [`MOST_LINES`].
    pub fn take(&mut self, mark: Charted, seen: Seen) -> bool {
        if self.lines.len() >= MOST_LINES {
            return false;
        }
        self.lines.push(Line { reckoned: self.reckoner.position(), mark, seen });
        let shared: Vec<f64> = self.lines.iter().map(|line| line.mark.shared(mark)).collect();
        self.joint = with_place(&self.joint, &shared);
        self.unplaced = with_place(&self.unplaced, &shared);
        true
    }

    /// How many lines have been taken.
    pub fn count(&self) -> usize {
        self.lines.len()
    }

    /// Where the lines cross, the likeliest first, and what that is worth.
    ///
    /// Gauss and Newton's steps on the batch, from the reckoning and from places all along the last
    /// line, so that a second crossing is found where there is one; weighed by Laplace's evidence.
    pub fn cross(&self) -> (Standing, Vec<Crossing>) {
        let mut found: Vec<Settled> = Vec::new();
        for start in self.starts() {
            let Some(settled) = self.settle(start) else { continue };
            let place = |s: &Settled| PlanePoint { east: s.x[0], north: s.x[1] };
            let twin = found.iter().any(|known| {
                let apart = place(known).distance(place(&settled));
                apart < 50.0 || known.nearness(&settled) < 9.0
            });
            if !twin {
                found.push(settled);
            }
        }
        found.sort_by(|a, b| b.log_weight.total_cmp(&a.log_weight));
        let Some(best) = found.first().map(|best| best.log_weight) else {
            return (Standing::Nothing, Vec::new());
        };
        found.retain(|settled| (settled.log_weight - best).exp() >= UNLIKELY);
        let total: f64 = found.iter().map(|settled| (settled.log_weight - best).exp()).sum();
        let crossings: Vec<Crossing> = found
            .iter()
            .map(|settled| self.crossing(settled, (settled.log_weight - best).exp() / total))
            .collect();
        (standing(&crossings), crossings)
    }

    /// Where to look from: displacements of the whole run, metres.
    fn starts(&self) -> Vec<PlanePoint> {
        let mut starts = vec![PlanePoint::default()];
        let Some(last) = self.lines.last() else { return Vec::new() };
        let plane = LocalPlane::new(last.reckoned);
        let mut add = |place: Position| starts.push(plane.to_plane(place));
        match last.seen {
            Seen::Range { range, .. } => {
                for step in 0..8 {
                    let way = Bearing::wrapped_degrees(45.0 * f64::from(step));
                    add(destination(last.mark.position, way, range));
                }
            }
            Seen::Bearing { bearing, .. } => {
                for miles in [1.0, 3.0, 10.0, 30.0] {
                    let off = GroundRange::clamped_metres(miles * METRES_PER_NAUTICAL_MILE);
                    add(destination(last.mark.position, bearing.reciprocal(), off));
                }
            }
        }
        starts
    }

    /// The nearest place to a start at which nothing more is to be gained.
    fn settle(&self, start: PlanePoint) -> Option<Settled> {
        let size = self.joint.nrows();
        let mut x = DVector::zeros(size);
        for place in std::iter::once(0).chain((0..self.lines.len()).map(|i| NOW + 2 * i)) {
            x[place] = start.east;
            x[place + 1] = start.north;
        }
        let mut known: Option<(DVector<f64>, f64)> = None;
        for _ in 0..MOST_STEPS {
            let (h, left, r) = self.linear(&x);
            let spread = &self.joint * h.transpose();
            let s = &h * &spread + DMatrix::from_diagonal(&r);
            let lambda = s.cholesky()?.solve(&(left + &h * &x));
            let aim = h.transpose() * lambda;
            // From the second step on the step is shortened until it gains.
            let (y, cost) = match &known {
                None => (aim.clone(), self.cost(&aim)),
                Some((y, cost)) => self.gaining(y, *cost, &aim),
            };
            let next = &self.joint * &y;
            let step = (&next - &x).rows(0, 2).norm();
            x = next;
            known = Some((y, cost));
            if step < SETTLED_M {
                return self.settled(x, cost);
            }
        }
        None
    }

    /// Between two points, the first toward the second that costs less; else where we were.
    fn gaining(&self, from: &DVector<f64>, cost: f64, to: &DVector<f64>) -> (DVector<f64>, f64) {
        let mut share = 1.0;
        for _ in 0..12 {
            let y = from * (1.0 - share) + to * share;
            let found = self.cost(&y);
            if found <= cost {
                return (y, found);
            }
            share *= 0.5;
        }
        (from.clone(), cost)
    }

    /// Squared sigmas of prior and lines at x = C y: the prior's share is yᵀ C y.
    fn cost(&self, y: &DVector<f64>) -> f64 {
        let x = &self.joint * y;
        let (_, left, r) = self.linear(&x);
        let lines: f64 = left.iter().zip(r.iter()).map(|(left, r)| left * left / r).sum();
        y.dot(&x) + lines
    }

    /// Design, what is left of each line, and its variance, at x.
    fn linear(&self, x: &DVector<f64>) -> (DMatrix<f64>, DVector<f64>, DVector<f64>) {
        let (count, size) = (self.lines.len(), self.joint.nrows());
        let mut h = DMatrix::zeros(count, size);
        let (mut left, mut r) = (DVector::zeros(count), DVector::zeros(count));
        for (row, line) in self.lines.iter().enumerate() {
            let column = NOW + 2 * row;
            let off = PlanePoint { east: x[column], north: x[column + 1] };
            let place = LocalPlane::new(line.reckoned).to_position(off);
            let to = course(place, line.mark.position);
            let (sin, cos) = to.initial.sin_cos();
            match line.seen {
                Seen::Range { range, sigma } => {
                    (h[(row, column)], h[(row, column + 1)]) = (-sin, -cos);
                    left[row] = range - to.distance;
                    r[row] = sigma.metres().powi(2);
                }
                Seen::Bearing { bearing, sigma, by_heading } => {
                    let far = to.distance.metres().max(1.0);
                    (h[(row, column)], h[(row, column + 1)]) = (-cos / far, sin / far);
                    let bias = if by_heading { x[BIAS] } else { 0.0 };
                    h[(row, BIAS)] = if by_heading { -1.0 } else { 0.0 };
                    left[row] =
                        Angle::from_radians(bearing.minus(to.initial).radians() + bias).radians();
                    r[row] = sigma.radians().powi(2);
                }
            }
        }
        (h, left, r)
    }

    fn settled(&self, x: DVector<f64>, cost: f64) -> Option<Settled> {
        let (h, _, r) = self.linear(&x);
        let s = &h * &self.joint * h.transpose() + DMatrix::from_diagonal(&r);
        let log_determinant: f64 = s.cholesky()?.l().diagonal().iter().map(|d| 2.0 * d.ln()).sum();
        let log_weight = -0.5 * (cost + log_determinant);
        Some(Settled {
            posterior: posterior(&self.joint, &h, &r)?,
            lines_only: posterior(&self.unplaced, &h, &r)?,
            x,
            cost,
            log_weight,
        })
    }

    fn crossing(&self, settled: &Settled, probability: f64) -> Crossing {
        let by = State::from_fn(|i, _| settled.x[i]);
        let covariance = nalgebra::SMatrix::<f64, 6, 6>::from_fn(|i, j| settled.posterior[(i, j)]);
        let only = nalgebra::SMatrix::<f64, 6, 6>::from_fn(|i, j| settled.lines_only[(i, j)]);
        let dof = self.lines.len() as f64;
        Crossing {
            probability,
            reckoner: self.reckoner.put_right(&by, &covariance),
            chi2: settled.cost,
            chance: ChiSquared::new(dof).map_or(1.0, |law| law.sf(settled.cost.max(0.0))),
            lines_only: super::reckoner::covariance_of(&only),
            cut: self.cut(&settled.x),
        }
    }

    /// The widest angle between two of the lines, at the places they are solved for.
    fn cut(&self, x: &DVector<f64>) -> Option<Angle> {
        let ways = self.lines.iter().enumerate().map(|(row, line)| {
            let off = PlanePoint { east: x[NOW + 2 * row], north: x[NOW + 2 * row + 1] };
            let place = LocalPlane::new(line.reckoned).to_position(off);
            let to = course(place, line.mark.position).initial.degrees();
            match line.seen {
                Seen::Range { .. } => to + 90.0,
                Seen::Bearing { .. } => to,
            }
        });
        let ways: Vec<f64> = ways.collect();
        let between = |a: f64, b: f64| {
            let turn = (a - b).rem_euclid(180.0);
            turn.min(180.0 - turn)
        };
        ways.iter()
            .enumerate()
            .flat_map(|(count, a)| ways.iter().take(count).map(move |b| between(*a, *b)))
            .max_by(f64::total_cmp)
            .map(Angle::from_degrees)
    }
}

/// A place at which nothing more is to be gained.
struct Settled {
    x: DVector<f64>,
    cost: f64,
    log_weight: f64,
    posterior: DMatrix<f64>,
    lines_only: DMatrix<f64>,
}

impl Settled {
    /// How far another lies off, in squared sigmas of this.
    fn nearness(&self, other: &Self) -> f64 {
        let p = &self.posterior;
        let own = Covariance::from_square_metres(p[(0, 0)], p[(0, 1)], p[(1, 1)]);
        let (east, north) = (other.x[0] - self.x[0], other.x[1] - self.x[1]);
        own.map_or(f64::INFINITY, |own| own.mahalanobis_squared(east, north))
    }
}

fn standing(crossings: &[Crossing]) -> Standing {
    let Some(best) = crossings.first() else { return Standing::Nothing };
    if !Grade::of_chance(best.chance).agrees() {
        Standing::AtOdds
    } else if best.probability < ASSURED {
        Standing::Ambiguous
    } else if best.is_observed() {
        Standing::Fixed
    } else {
        Standing::MostProbable
    }
}

/// Carries the six of now on, and their covariance with every place before.
fn grow(joint: &mut DMatrix<f64>, growth: &Growth) {
    let phi = DMatrix::from_fn(NOW, NOW, |i, j| growth.phi[(i, j)]);
    let rows = &phi * joint.rows(0, NOW);
    joint.rows_mut(0, NOW).copy_from(&rows);
    let columns = joint.columns(0, NOW) * phi.transpose();
    joint.columns_mut(0, NOW).copy_from(&columns);
    for i in 0..NOW {
        for j in 0..NOW {
            joint[(i, j)] += growth.q[(i, j)];
        }
    }
}

/// The same with the present place kept as one more, as the chart has it: the error of the mark moves it
/// bodily.
///
/// - `shared`: the chart's variance that it has in common with the place of each line, itself last.
fn with_place(joint: &DMatrix<f64>, shared: &[f64]) -> DMatrix<f64> {
    let size = joint.nrows();
    let from = |i: usize| if i < size { i } else { i - size };
    let mut with = DMatrix::from_fn(size + 2, size + 2, |i, j| joint[(from(i), from(j))]);
    for (row, variance) in shared.iter().enumerate() {
        for axis in [0, 1] {
            let (own, other) = (size + axis, NOW + 2 * row + axis);
            with[(own, other)] += variance;
            if own != other {
                with[(other, own)] += variance;
            }
        }
    }
    with
}

/// What is left of an error after the lines, in Joseph's form.
fn posterior(joint: &DMatrix<f64>, h: &DMatrix<f64>, r: &DVector<f64>) -> Option<DMatrix<f64>> {
    let r = DMatrix::from_diagonal(r);
    let s = h * joint * h.transpose() + &r;
    let gain = s.cholesky()?.solve(&(h * joint)).transpose();
    let left = DMatrix::identity(joint.nrows(), joint.nrows()) - &gain * h;
    let joseph = &left * joint * left.transpose() + &gain * r * gain.transpose();
    Some((&joseph + joseph.transpose()) * 0.5)
}

#[cfg(test)]
mod tests;
