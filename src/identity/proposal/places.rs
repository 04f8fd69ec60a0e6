use std::f64::consts::{PI, TAU};

use nalgebra::{Matrix2, Vector2};
use rayon::prelude::*;

use super::partial::explains;
use super::{GATE, Tree};
use crate::geodesy::{MEAN_EARTH_RADIUS_M, PlanePoint};
use crate::identity::prior::log_prior;
use crate::identity::problem::{Candidate, Reading, Sight};
use crate::identity::slant::{ground, slant};

/// Where the line of a lone bearing begins, metres before the mark.
const FIRST_M: f64 = 500.0;
/// Pieces that a lone range's circle or a lone bearing's line is cut into, at most.
const MOST_PIECES: usize = 60;
/// Marks that one thread works out at a time.
const AT_ONCE: usize = 256;

/// Where own place would be if a contact were a given mark, with the error of that.
#[derive(Clone, Copy)]
pub(super) struct Place {
    pub candidate: usize,
    /// Own place in the plane, no bearing bias.
    pub at: Vector2<f64>,
    /// How own place moves with the bearing bias, metres a radian.
    pub by_bias: Vector2<f64>,
    pub noise: Matrix2<f64>,
    /// Logarithm of the prior of this mark, and of the size of this piece.
    pub log_prior: f64,
}

/// A piece of a line of position from a direction alone.
#[derive(Clone, Copy)]
struct Piece {
    /// Metres before the mark.
    along: f64,
    /// Its length.
    step: f64,
    bearing: Reading,
}

/// What a range comes to along the ground, to a mark of one height.
#[derive(Clone, Copy)]
struct Along {
    height_m: f64,
    ground_m: f64,
    sigma: f64,
}

/// How much greater a true azimuth is than the plane's, by its sine and cosine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Turn {
    sin: f64,
    cos: f64,
}

impl Turn {
    pub const NONE: Self = Self { sin: 0.0, cos: 1.0 };

    /// A vector of true east and north in the plane's axes.
    fn to_plane(self, true_axes: Vector2<f64>) -> Vector2<f64> {
        let (east, north) = (true_axes[0], true_axes[1]);
        Vector2::new(east * self.cos - north * self.sin, north * self.cos + east * self.sin)
    }

    /// A matrix that does the same.
    fn matrix(self) -> Matrix2<f64> {
        Matrix2::new(self.cos, -self.sin, self.sin, self.cos)
    }
}

/// One contact taken for one mark.
#[derive(Clone, Copy)]
struct Taken<'a> {
    sight: &'a Sight,
    candidate: usize,
    about: &'a Candidate,
    mark: PlanePoint,
    log_prior: f64,
}

/// Every place that one contact allows within the gate of the reckoning.
pub(super) fn places(tree: &Tree<'_>, sight: &Sight) -> Vec<Place> {
    if sight.traced.is_some() {
        return tree.outlined(sight);
    }
    // Both values of a ratio make places: which of them is right is for the posterior.
    let told = sight.directions();
    let pieces = pieces(tree, sight);
    let farthest = tree.farthest_mark(sight);
    let marks: Vec<usize> = (0..tree.points.len())
        .filter(|&mark| {
            let nought = PlanePoint::default();
            tree.points.get(mark).is_some_and(|at| at.distance(nought) <= farthest)
        })
        .collect();
    let parts: Vec<Vec<Place>> = marks
        .par_chunks(AT_ONCE)
        .map(|marks| {
            let mut places = Vec::with_capacity(marks.len() * told.len());
            let mut along = None;
            for taken in marks.iter().filter_map(|&candidate| tree.taken_for(sight, candidate)) {
                match sight.range {
                    Some(range) if sight.is_borne() => {
                        for &bearing in told {
                            let along = tree.along(&taken, range, &mut along);
                            tree.full(&taken, along, bearing, &mut places);
                        }
                    }
                    Some(range) => tree.ring(&taken, range, &mut places),
                    None => tree.row(&taken, &pieces, &mut places),
                }
            }
            places
        })
        .collect();
    parts.concat()
}

/// The pieces of the lines of a sight without a range; they grow with distance.
fn pieces(tree: &Tree<'_>, sight: &Sight) -> Vec<Piece> {
    if sight.range.is_some() {
        return Vec::new();
    }
    let reach = tree.problem.reach_m.max(2.0 * FIRST_M);
    let count = MOST_PIECES / 2;
    let growth = (reach / FIRST_M).powf(1.0 / count as f64);
    let mut pieces = Vec::new();
    for number in 0..count {
        let near = FIRST_M * growth.powi(i32::try_from(number).unwrap_or(0));
        let (along, step) = (near * growth.sqrt(), near * (growth - 1.0));
        let told = match sight.ratio {
            Some(ratio) => ratio.bearings(sight.own_height_m, along),
            None => sight.bearing.into_iter().collect(),
        };
        pieces.extend(told.into_iter().map(|bearing| Piece { along, step, bearing }));
    }
    pieces
}

impl Tree<'_> {
    /// None for what is no mark.
    fn taken_for<'a>(&'a self, sight: &'a Sight, candidate: usize) -> Option<Taken<'a>> {
        let about = self.problem.candidates.get(candidate).filter(|c| c.weight > 0.0)?;
        let mark = *self.points.get(candidate)?;
        let log_prior = log_prior(sight, candidate, about.weight / self.total_weight);
        Some(Taken { sight, candidate, about, mark, log_prior })
    }

    /// The places that a traced outline fits.
    fn outlined(&self, sight: &Sight) -> Vec<Place> {
        let Some(traced) = &sight.traced else { return Vec::new() };
        let mut places = Vec::new();
        for (index, registered) in traced.places.iter().enumerate() {
            let line = registered.line();
            let at = self.plane.to_plane(registered.place);
            let turned = self.turn(at).matrix();
            let run = Vector2::new(sight.run.east, sight.run.north);
            let candidate = traced.first + index;
            let place = Place {
                candidate,
                at: Vector2::new(at.east, at.north) + turned * (line.at + run),
                by_bias: turned * line.by_bias,
                noise: turned * line.noise * turned.transpose()
                    + Matrix2::identity() * self.run_variance(sight),
                log_prior: log_prior(sight, candidate, 0.0) - registered.log_density
                    + line.log_density,
            };
            self.keep(place, &mut places);
        }
        places
    }

    /// Keeps a place that the reckoning allows.
    fn keep(&self, place: Place, places: &mut Vec<Place>) {
        if explains(&self.root, &place) {
            places.push(place);
        }
    }

    /// How far from the reckoning a mark can lie to be within the gate of a range, in metres: most
    /// marks of a long coast are farther.
    fn farthest_mark(&self, sight: &Sight) -> f64 {
        let Some(range) = sight.range else { return f64::INFINITY };
        // Close under the aircraft the ground tells of a range less and less.
        if range.value < 3.0 * (sight.own_height_m.abs() + self.highest_m) {
            return f64::INFINITY;
        }
        let shared = &self.problem.shared;
        let along = 1.1
            * range.sigma.hypot(shared.range_bias_sigma).hypot(shared.own_height_sigma).max(1.0);
        let widest = sight.directions().iter().map(|read| read.sigma).fold(0.0, f64::max);
        let across = (range.value * widest).max(1.0);
        let round = self.roundest + self.run_variance(sight);
        let spread = if sight.is_borne() {
            along.hypot(across) + round.sqrt()
        } else {
            // The longest piece of a ring.
            along.hypot(TAU * range.value / 12.0) + round.sqrt()
        };
        // A sight line over the Earth's curve is the shorter for it by far less than this.
        1.001 * range.value + self.gate_reach(range.value, spread) + self.longest_run
    }

    /// Whether a mark is so far off that no place `along` metres before it, in any direction, can
    /// be within the gate: most marks of a long coast are.
    fn out_of_gate(&self, mark: PlanePoint, along: f64, spread: f64) -> bool {
        let away = mark.distance(PlanePoint::default());
        (away - along).abs() > self.gate_reach(along, spread) + self.longest_run
    }

    /// The greatest distance within the gate of the reckoning, `along` metres before a mark.
    fn gate_reach(&self, along: f64, spread: f64) -> f64 {
        let variance = self.root.covariance[(0, 0)] + self.root.covariance[(1, 1)];
        let bias = along * along * self.root.covariance[(2, 2)];
        (GATE * (variance + bias + spread * spread)).sqrt()
    }

    /// One place: the far end of a range and bearing from the mark.
    fn full(&self, taken: &Taken<'_>, along: Along, bearing: Reading, places: &mut Vec<Place>) {
        let Along { ground_m: along, sigma: along_sigma, .. } = along;
        let across_sigma = (along * bearing.sigma).max(1.0);
        let round = self.round_variance(taken);
        if self.out_of_gate(taken.mark, along, along_sigma.hypot(across_sigma) + round.sqrt()) {
            return;
        }
        let (at, direction) = self.behind(taken, along, bearing.value.sin_cos());
        let place = Place {
            candidate: taken.candidate,
            at,
            by_bias: -along * across(direction),
            noise: noise(direction, along_sigma, across_sigma, round),
            log_prior: taken.log_prior + taken.sight.radians_by_unit(bearing).ln(),
        };
        self.keep(place, places);
    }

    /// The way along the ground to a mark of this height: many marks that follow each other are
    /// alike in it, which is known from the one before.
    fn along(&self, taken: &Taken<'_>, range: Reading, before: &mut Option<Along>) -> Along {
        let heights = (taken.sight.own_height_m, taken.about.height_m);
        let height_m = heights.1;
        let known = before.filter(|along| along.height_m.to_bits() == height_m.to_bits());
        *before.insert(known.unwrap_or_else(|| {
            let along = ground(range.value, heights.0, height_m);
            let sigma = self.along_sigma(along.max(range.sigma), range.sigma, heights).max(1.0);
            Along { height_m, ground_m: along, sigma }
        }))
    }

    /// What the errors of a range and of own height come to along the ground.
    ///
    /// - `own_m`, `mark_m`: the two heights.
    fn along_sigma(&self, along: f64, range_sigma: f64, (own_m, mark_m): (f64, f64)) -> f64 {
        let shared = &self.problem.shared;
        let by = slant(along.max(1.0), own_m, mark_m);
        let sigma =
            range_sigma.hypot(shared.range_bias_sigma).hypot(by.by_own * shared.own_height_sigma);
        sigma / by.by_ground.max(0.05)
    }

    /// The circle of a lone range, in pieces.
    fn ring(&self, taken: &Taken<'_>, range: Reading, places: &mut Vec<Place>) {
        let heights = (taken.sight.own_height_m, taken.about.height_m);
        let along = ground(range.value, heights.0, heights.1).max(1.0);
        let sigma = self.along_sigma(along, range.sigma, heights);
        // A piece bows away from its tangent by less than a sigma and a half.
        let pieces = (PI * along / (1.7 * (along * sigma.max(1.0)).sqrt())).ceil();
        let pieces = (pieces as usize).clamp(12, MOST_PIECES);
        let step = TAU * along / pieces as f64;
        let round = self.round_variance(taken);
        if self.out_of_gate(taken.mark, along, sigma.hypot(step) + round.sqrt()) {
            return;
        }
        for piece in 0..pieces {
            let bearing = TAU * (piece as f64 + 0.5) / pieces as f64;
            let (at, direction) = self.behind(taken, along, bearing.sin_cos());
            let place = Place {
                candidate: taken.candidate,
                at,
                by_bias: Vector2::zeros(),
                noise: noise(direction, sigma, 0.5 * step, round),
                log_prior: taken.log_prior + step.ln(),
            };
            self.keep(place, places);
        }
    }

    /// The lines of a lone bearing, or of what a lone ratio allows, before one mark.
    fn row(&self, taken: &Taken<'_>, pieces: &[Piece], places: &mut Vec<Place>) {
        let round = self.round_variance(taken);
        for &Piece { along, step, bearing } in pieces {
            let across_sigma = (along * bearing.sigma).max(1.0);
            if self.out_of_gate(taken.mark, along, step.hypot(across_sigma) + round.sqrt()) {
                continue;
            }
            let (at, direction) = self.behind(taken, along, bearing.value.sin_cos());
            let place = Place {
                candidate: taken.candidate,
                at,
                by_bias: -along * across(direction),
                noise: noise(direction, 0.5 * step, across_sigma, round),
                log_prior: taken.log_prior
                    + taken.sight.radians_by_unit(bearing).ln()
                    + (step * along).ln(),
            };
            self.keep(place, places);
        }
    }

    /// Own place at the common time, `along` metres before a mark that bears (sine, cosine) true at
    /// the moment of the contact, and the direction of that line in the plane.
    fn behind(
        &self,
        taken: &Taken<'_>,
        along: f64,
        (sin, cos): (f64, f64),
    ) -> (Vector2<f64>, Vector2<f64>) {
        let bearing = Vector2::new(sin, cos);
        let mark = Vector2::new(taken.mark.east, taken.mark.north);
        let there = self.turns.get(taken.candidate).copied().unwrap_or(Turn::NONE);
        let first = mark - there.to_plane(bearing) * along;
        let turn = self.turn(PlanePoint { east: first[0], north: first[1] });
        let direction = turn.to_plane(bearing);
        let run = turn.to_plane(Vector2::new(taken.sight.run.east, taken.sight.run.north));
        (mark - direction * along + run, direction)
    }

    /// How much greater a true azimuth is than the plane's, at a point of the plane: on the sphere.
    pub(super) fn turn(&self, at: PlanePoint) -> Turn {
        let away = (at.east * at.east + at.north * at.north).sqrt();
        if away <= 0.0 {
            return Turn::NONE;
        }
        let (sin_a, cos_a) = (at.east / away, at.north / away);
        let (sin_l, cos_l) = self.latitude;
        let (sin_arc, cos_arc) = (away / MEAN_EARTH_RADIUS_M).sin_cos();
        // East and north of the direction on arrival, not yet of length one.
        let (east, north) = (sin_a * cos_l, cos_arc * cos_l * cos_a - sin_arc * sin_l);
        let length = (east * east + north * north).sqrt();
        if length <= 0.0 {
            return Turn::NONE;
        }
        Turn {
            sin: (east * cos_a - north * sin_a) / length,
            cos: (north * cos_a + east * sin_a) / length,
        }
    }

    /// The variance that a place has in every direction alike, square metres: the mark's own, the
    /// chart's shift, the run since.
    fn round_variance(&self, taken: &Taken<'_>) -> f64 {
        taken.about.variance() + self.run_variance(taken.sight)
    }

    /// Of the run since a contact, and of the chart's shift.
    fn run_variance(&self, sight: &Sight) -> f64 {
        let prior = &self.problem.prior;
        let run = sight.elapsed_s * prior.along_sigma.max(prior.across_sigma);
        run * run + self.problem.shared.chart_shift_sigma.powi(2)
    }
}

fn noise(direction: Vector2<f64>, along: f64, across_sigma: f64, round: f64) -> Matrix2<f64> {
    let side = across(direction);
    direction * direction.transpose() * (along * along)
        + side * side.transpose() * (across_sigma * across_sigma)
        + Matrix2::identity() * round
}

/// The direction at right angles, clockwise.
fn across(direction: Vector2<f64>) -> Vector2<f64> {
    Vector2::new(direction[1], -direction[0])
}
