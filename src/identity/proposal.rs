use std::f64::consts::{PI, TAU};

use nalgebra::{Matrix2, Matrix2x3, Matrix3, Vector2, Vector3};

use super::any_shore;
use super::prior::{excludes, log_off_chart, log_prior};
use super::problem::{Answering, Problem, RatioReading, Reading, Sight, Targets};
use super::slant::{ground, slant};
use crate::geodesy::{LocalPlane, MEAN_EARTH_RADIUS_M, PlanePoint, Position};
use crate::units::Angle;

/// Squared statistical distance beyond which a mark does not explain a contact: for a right mark
/// passed over once in 20,000. Wider than the final test, since this stage is the rougher one.
const GATE: f64 = 20.0;
/// The least number of partial sets of identities kept after each contact.
const LEAST_KEPT: usize = 2_000;
const MOST_KEPT: usize = 12_000;
/// A partial set this many nats behind the best is dropped: a contact that is nothing on the chart
/// costs eight to ten, so that the truth may be behind by four of them at any time.
const DROPPED_NATS: f64 = 36.0;
/// Where the line of a lone bearing begins, metres before the mark.
const FIRST_M: f64 = 500.0;
/// Pieces that a lone range's circle or a lone bearing's line is cut into, at most.
const MOST_PIECES: usize = 60;

/// Whole sets looked over at the end for each one that is kept.
const MOST_LOOKED_AT: usize = 4;

/// A whole set of identities worth solving, with the place to start from.
#[derive(Debug, Clone)]
pub(crate) struct Proposal {
    pub targets: Targets,
    pub position: Position,
    pub bias: f64,
    /// Logarithm of prior and likelihood, roughly: for ordering only.
    pub log_weight: f64,
}

/// Candidate sets of identities, likeliest first, at most `most`.
///
/// One contact after the other, the most telling first, every partial set carrying a normal
/// estimate of position and bearing bias, in closed form. A range and a bearing of a known mark put
/// own place on the far end of a line, so the first contact makes one partial set for each mark
/// that the reckoning allows, and the second leaves those pairs whose separation agrees; the
/// reckoning's error does not enter there. A lone range is a ring of short pieces around each mark,
/// a lone bearing a row of them, so that both crossings of two circles come out. Every contact may
/// also be nothing on the chart. Work is bounded: the best few thousand partial sets go on.
///
/// At the end, contacts left out count for more where they lie on some shore: see [`any_shore`].
pub(crate) fn propose(problem: &Problem, answering: &dyn Answering, most: usize) -> Vec<Proposal> {
    let tree = Tree::new(problem);
    let nodes = tree.grow();
    let leaves = nodes.last().map_or(&[][..], Vec::as_slice);
    let mut proposals: Vec<Proposal> = leaves
        .iter()
        .take(MOST_LOOKED_AT * most)
        .map(|leaf| {
            let mut proposal = tree.proposal(&nodes, leaf);
            proposal.log_weight += tree.on_shore(answering, leaf, &proposal.targets);
            proposal
        })
        .collect();
    proposals.sort_by(|a, b| b.log_weight.total_cmp(&a.log_weight));
    proposals.truncate(most);
    proposals
}

struct Tree<'a> {
    problem: &'a Problem,
    plane: LocalPlane,
    latitude: f64,
    points: Vec<PlanePoint>,
    order: Vec<usize>,
    root: Node,
    total_weight: f64,
}

#[derive(Clone)]
struct Node {
    parent: usize,
    target: Option<usize>,
    log_weight: f64,
    mean: Vector3<f64>,
    covariance: Matrix3<f64>,
}

/// Where own place would be if a contact were a given mark, with the error of that.
struct Place {
    candidate: usize,
    /// Own place in the plane, no bearing bias.
    at: Vector2<f64>,
    /// How own place moves with the bearing bias, metres a radian.
    by_bias: Vector2<f64>,
    noise: Matrix2<f64>,
    /// Logarithm of the prior of this mark, and of the size of this piece.
    log_prior: f64,
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

impl<'a> Tree<'a> {
    fn new(problem: &'a Problem) -> Self {
        let plane = LocalPlane::new(problem.prior.position);
        let points: Vec<PlanePoint> =
            problem.candidates.iter().map(|c| plane.to_plane(c.position)).collect();
        let total_weight = weight_in_reach(problem, &points);
        let [ee, en, nn] = problem.prior.covariance.square_metres();
        let run = problem.prior.elapsed_s.powi(2)
            * problem.prior.along_sigma.max(problem.prior.across_sigma).powi(2);
        let bias = problem.shared.bearing_bias_sigma.powi(2).max(1e-12);
        let covariance =
            Matrix3::new(ee + run + 1.0, en, 0.0, en, nn + run + 1.0, 0.0, 0.0, 0.0, bias);
        let root =
            Node { parent: 0, target: None, log_weight: 0.0, mean: Vector3::zeros(), covariance };
        let mut order: Vec<usize> = (0..problem.sights.len()).collect();
        order.sort_by(|&a, &b| telling(problem, a).total_cmp(&telling(problem, b)).then(a.cmp(&b)));
        Self {
            problem,
            plane,
            latitude: Angle::from_degrees(problem.prior.position.latitude()).radians(),
            points,
            order,
            root,
            total_weight: total_weight.max(f64::MIN_POSITIVE),
        }
    }

    fn grow(&self) -> Vec<Vec<Node>> {
        let mut levels: Vec<Vec<Node>> = vec![vec![self.root.clone()]];
        for &index in &self.order {
            let Some(sight) = self.problem.sights.get(index) else { continue };
            if sight.surely.is_some() {
                levels.push(passed_on(levels.last(), sight.surely));
                continue;
            }
            let places = self.places(sight);
            let mut next = Vec::new();
            let last = levels.last().map_or(&[][..], Vec::as_slice);
            for (number, node) in last.iter().enumerate() {
                self.branch(&levels, index, sight, &places, number, node, &mut next);
            }
            levels.push(kept(next, (places.len() * 3 / 2).clamp(LEAST_KEPT, MOST_KEPT)));
        }
        levels
    }

    #[expect(clippy::too_many_arguments, reason = "the loop body of `grow`, split for its length")]
    fn branch(
        &self,
        levels: &[Vec<Node>],
        index: usize,
        sight: &Sight,
        places: &[Place],
        number: usize,
        node: &Node,
        next: &mut Vec<Node>,
    ) {
        next.push(Node {
            parent: number,
            target: None,
            log_weight: node.log_weight + log_off_chart(sight, self.problem.reach_m),
            ..node.clone()
        });
        let bias_reach =
            sight.range.map_or(self.problem.reach_m, |r| r.value) * node.covariance[(2, 2)].sqrt();
        let spread = node.covariance[(0, 0)].max(0.0).sqrt();
        let noise = places.iter().map(|p| p.noise[(0, 0)]).fold(0.0, f64::max).sqrt();
        let window = GATE.sqrt() * (spread + noise + bias_reach) + 1.0;
        let centre = node.mean[0];
        // Places are sorted by east; the bias moves them by less than the window's slack.
        let lean = places.iter().map(|p| p.by_bias.norm()).fold(0.0, f64::max) * node.mean[2].abs();
        let from = places.partition_point(|p| p.at[0] < centre - window - lean);
        let to = places.partition_point(|p| p.at[0] <= centre + window + lean);
        for place in places.get(from..to).unwrap_or_default() {
            if let Some(child) = updated(node, place, number)
                && !self.taken(levels, number, index, place.candidate)
            {
                next.push(child);
            }
        }
    }

    /// Whether another contact of the same look is this mark already.
    fn taken(&self, levels: &[Vec<Node>], number: usize, index: usize, candidate: usize) -> bool {
        let mut at = number;
        for (depth, level) in levels.iter().enumerate().skip(1).rev() {
            let Some(node) = level.get(at) else { return false };
            if node.target == Some(candidate)
                && let Some(&other) = self.order.get(depth - 1)
                && excludes(self.problem, index, other)
            {
                return true;
            }
            at = node.parent;
        }
        false
    }

    /// What the contacts that a whole set leaves out gain by the shore they lie on.
    fn on_shore(&self, answering: &dyn Answering, leaf: &Node, targets: &Targets) -> f64 {
        let own = PlanePoint { east: leaf.mean[0], north: leaf.mean[1] };
        let sigma = (0.5 * (leaf.covariance[(0, 0)] + leaf.covariance[(1, 1)])).max(0.0).sqrt();
        let bias = leaf.mean[2];
        self.problem
            .sights
            .iter()
            .zip(targets)
            .filter(|(sight, target)| target.is_none() && any_shore::may_be(self.problem, sight))
            .map(|(sight, _)| {
                let at = (own, &self.plane);
                any_shore::log_gain(self.problem, answering, sight, at, (bias, sigma))
            })
            .sum()
    }

    fn proposal(&self, levels: &[Vec<Node>], leaf: &Node) -> Proposal {
        let mut targets = vec![None; self.problem.sights.len()];
        let mut node = leaf;
        for (depth, _) in levels.iter().enumerate().skip(1).rev() {
            if let Some(slot) = self.order.get(depth - 1).and_then(|&i| targets.get_mut(i)) {
                *slot = node.target;
            }
            let Some(parent) = levels.get(depth - 1).and_then(|l| l.get(node.parent)) else {
                break;
            };
            node = parent;
        }
        let at = PlanePoint { east: leaf.mean[0], north: leaf.mean[1] };
        Proposal {
            targets,
            position: self.plane.to_position(at),
            bias: leaf.mean[2],
            log_weight: leaf.log_weight,
        }
    }

    /// Every place that one contact allows, by mark, sorted by east.
    fn places(&self, sight: &Sight) -> Vec<Place> {
        let mut places = Vec::new();
        // Both values of a ratio make places: which of them is right is for the posterior.
        let own = self.problem.own_height_m;
        let told = match (sight.ratio, sight.range) {
            (Some(ratio), Some(range)) => ratio.bearings(own, ground(range.value, own, 0.0)),
            _ => Vec::new(),
        };
        let pieces = self.pieces(sight);
        for (candidate, about) in self.problem.candidates.iter().enumerate() {
            if about.weight <= 0.0 {
                continue;
            }
            match (sight.range, sight.bearing) {
                (Some(range), None) if sight.ratio.is_some() => {
                    for told in &told {
                        self.full(sight, candidate, (range.value, range.sigma), *told, &mut places);
                    }
                }
                (Some(range), Some(bearing)) => {
                    self.full(sight, candidate, (range.value, range.sigma), bearing, &mut places);
                }
                (Some(range), None) => self.ring(sight, candidate, range, &mut places),
                (None, _) => self.row(sight, candidate, &pieces, &mut places),
            }
        }
        places.retain(|place| updated(&self.root, place, 0).is_some());
        places.sort_by(|a, b| {
            a.at[0]
                .total_cmp(&b.at[0])
                .then(a.at[1].total_cmp(&b.at[1]))
                .then(a.candidate.cmp(&b.candidate))
        });
        places
    }

    /// One place: the far end of a range and bearing from the mark.
    fn full(
        &self,
        sight: &Sight,
        candidate: usize,
        (range, range_sigma): (f64, f64),
        bearing: Reading,
        places: &mut Vec<Place>,
    ) {
        let (Some(&mark), Some(&about)) =
            (self.points.get(candidate), self.problem.candidates.get(candidate))
        else {
            return;
        };
        let along = ground(range, self.problem.own_height_m, about.height_m);
        let along_sigma =
            self.along_sigma(along.max(range_sigma), range_sigma, about.height_m).max(1.0);
        let across_sigma = (along * bearing.sigma).max(1.0);
        let (at, direction, run) = self.behind(mark, along, bearing.value, sight.run);
        let log_prior = self.log_prior(sight, candidate) + log_measure(sight, bearing);
        places.push(Place {
            candidate,
            at: at + run,
            by_bias: -along * across(direction),
            noise: self.noise(direction, along_sigma, across_sigma, candidate, sight),
            log_prior,
        });
    }

    /// What the errors of a range and of own height come to along the ground.
    fn along_sigma(&self, along: f64, range_sigma: f64, height_m: f64) -> f64 {
        let shared = &self.problem.shared;
        let by = slant(along.max(1.0), self.problem.own_height_m, height_m);
        let sigma =
            range_sigma.hypot(shared.range_bias_sigma).hypot(by.by_own * shared.own_height_sigma);
        sigma / by.by_ground.max(0.05)
    }

    /// The circle of a lone range, in pieces.
    fn ring(&self, sight: &Sight, candidate: usize, range: Reading, places: &mut Vec<Place>) {
        let (Some(&mark), Some(&about)) =
            (self.points.get(candidate), self.problem.candidates.get(candidate))
        else {
            return;
        };
        let along = ground(range.value, self.problem.own_height_m, about.height_m).max(1.0);
        let sigma = self.along_sigma(along, range.sigma, about.height_m);
        // A piece bows away from its tangent by less than a sigma and a half.
        let pieces = (PI * along / (1.7 * (along * sigma.max(1.0)).sqrt())).ceil();
        let pieces = (pieces as usize).clamp(12, MOST_PIECES);
        let step = TAU * along / pieces as f64;
        let log_prior = self.log_prior(sight, candidate) + step.ln();
        for piece in 0..pieces {
            let bearing = TAU * (piece as f64 + 0.5) / pieces as f64;
            let (at, direction, run) = self.behind(mark, along, bearing, sight.run);
            places.push(Place {
                candidate,
                at: at + run,
                by_bias: Vector2::zeros(),
                noise: self.noise(direction, sigma, 0.5 * step, candidate, sight),
                log_prior,
            });
        }
    }

    /// The pieces of the lines of a sight without a range; they grow with distance.
    fn pieces(&self, sight: &Sight) -> Vec<Piece> {
        if sight.range.is_some() {
            return Vec::new();
        }
        let reach = self.problem.reach_m.max(2.0 * FIRST_M);
        let count = MOST_PIECES / 2;
        let growth = (reach / FIRST_M).powf(1.0 / count as f64);
        let mut pieces = Vec::new();
        for number in 0..count {
            let near = FIRST_M * growth.powi(i32::try_from(number).unwrap_or(0));
            let (along, step) = (near * growth.sqrt(), near * (growth - 1.0));
            let told = match sight.ratio {
                Some(ratio) => ratio.bearings(self.problem.own_height_m, along),
                None => sight.bearing.into_iter().collect(),
            };
            pieces.extend(told.into_iter().map(|bearing| Piece { along, step, bearing }));
        }
        pieces
    }

    /// The lines of a lone bearing, or of what a lone ratio allows, before one mark.
    fn row(&self, sight: &Sight, candidate: usize, pieces: &[Piece], places: &mut Vec<Place>) {
        let Some(&mark) = self.points.get(candidate) else { return };
        for &Piece { along, step, bearing } in pieces {
            let (at, direction, run) = self.behind(mark, along, bearing.value, sight.run);
            places.push(Place {
                candidate,
                at: at + run,
                by_bias: -along * across(direction),
                noise: self.noise(
                    direction,
                    0.5 * step,
                    (along * bearing.sigma).max(1.0),
                    candidate,
                    sight,
                ),
                log_prior: self.log_prior(sight, candidate)
                    + log_measure(sight, bearing)
                    + (step * along).ln(),
            });
        }
    }

    /// Own place `along` metres before a mark that bears `bearing` true, the direction of the line
    /// in the plane, and the run made since.
    fn behind(
        &self,
        mark: PlanePoint,
        along: f64,
        bearing: f64,
        run: PlanePoint,
    ) -> (Vector2<f64>, Vector2<f64>, Vector2<f64>) {
        let mut turn = self.turn(mark.east, mark.north);
        let mut place = (Vector2::zeros(), Vector2::zeros());
        for _ in 0..2 {
            let (sin, cos) = (bearing - turn).sin_cos();
            let at = Vector2::new(mark.east - along * sin, mark.north - along * cos);
            place = (at, Vector2::new(sin, cos));
            turn = self.turn(at[0], at[1]);
        }
        let (sin, cos) = (-turn).sin_cos();
        let run = Vector2::new(run.east * cos + run.north * sin, run.north * cos - run.east * sin);
        (place.0, place.1, run)
    }

    /// How much greater a true azimuth is than the plane's, at a point of the plane: on the sphere.
    fn turn(&self, east: f64, north: f64) -> f64 {
        let arc = east.hypot(north) / MEAN_EARTH_RADIUS_M;
        let azimuth = east.atan2(north);
        let (sin_a, cos_a) = azimuth.sin_cos();
        let (sin_l, cos_l) = self.latitude.sin_cos();
        let arriving = (sin_a * cos_l).atan2(arc.cos() * cos_l * cos_a - arc.sin() * sin_l);
        Angle::from_radians(arriving - azimuth).radians()
    }

    fn noise(
        &self,
        direction: Vector2<f64>,
        along: f64,
        across_sigma: f64,
        candidate: usize,
        sight: &Sight,
    ) -> Matrix2<f64> {
        let side = across(direction);
        let about = self.problem.candidates.get(candidate);
        let mark = about.map_or(0.0, |c| c.sigma_m * c.sigma_m + c.slack_m * c.slack_m);
        let run = sight.elapsed_s.powi(2)
            * self.problem.prior.along_sigma.max(self.problem.prior.across_sigma).powi(2);
        let round = mark + run + self.problem.shared.chart_shift_sigma.powi(2);
        direction * direction.transpose() * (along * along)
            + side * side.transpose() * (across_sigma * across_sigma)
            + Matrix2::identity() * round
    }

    fn log_prior(&self, sight: &Sight, candidate: usize) -> f64 {
        let share =
            self.problem.candidates.get(candidate).map_or(0.0, |c| c.weight / self.total_weight);
        log_prior(sight, candidate, share)
    }
}

/// The salience of all that can be within reach of the reckoning.
fn weight_in_reach(problem: &Problem, points: &[PlanePoint]) -> f64 {
    points
        .iter()
        .zip(&problem.candidates)
        .filter(|(at, _)| at.east.hypot(at.north) <= problem.reach_m)
        .map(|(_, candidate)| candidate.weight)
        .sum()
}

/// Small for the contacts to start from: named, then full, then sharp.
fn telling(problem: &Problem, index: usize) -> f64 {
    let Some(sight) = problem.sights.get(index) else { return f64::MAX };
    let range = sight.range.map_or(problem.reach_m, |r| r.value);
    // A ratio is as sharp as on the bow, where its curve is steep.
    let ahead = |ratio: RatioReading| {
        let slope = ratio.lobes.ratio(Angle::ZERO, Angle::ZERO, ratio.bank).by_relative;
        ratio.lobes.ratio_sigma_db / slope.abs().max(1e-3)
    };
    let borne = sight.bearing.map(|b| b.sigma).or_else(|| sight.ratio.map(ahead));
    let sharpness = match (sight.range, borne) {
        (Some(r), Some(sigma)) => r.sigma.hypot(r.value * sigma),
        (Some(r), None) => 1e7 + r.sigma,
        _ => 1e8 + range,
    };
    if sight.surely.is_some() {
        return 1e12;
    }
    let named = sight.belief.is_some_and(|b| b.confidence >= 0.5);
    if named { sharpness } else { 1e9 + sharpness }
}

/// Logarithm of the radians that a decibel of a ratio is worth at one of its bearings: what turns
/// a density by radian into one by decibel. Nothing for a bearing as read.
fn log_measure(sight: &Sight, bearing: Reading) -> f64 {
    sight.ratio.map_or(0.0, |ratio| (bearing.sigma / ratio.lobes.ratio_sigma_db).max(1e-9).ln())
}

/// The direction at right angles, clockwise.
fn across(direction: Vector2<f64>) -> Vector2<f64> {
    Vector2::new(direction[1], -direction[0])
}

/// A partial set with one contact more; none where the place does not agree with it.
fn updated(node: &Node, place: &Place, parent: usize) -> Option<Node> {
    let h = Matrix2x3::new(1.0, 0.0, place.by_bias[0], 0.0, 1.0, place.by_bias[1]);
    let off = place.at - h * node.mean;
    // The cheap test first: most places fail it.
    let gain = node.covariance * h.transpose();
    let spread = h * gain + place.noise;
    let determinant = spread.determinant();
    if determinant <= 0.0 || !determinant.is_finite() {
        return None;
    }
    let inverse = Matrix2::new(spread[(1, 1)], -spread[(0, 1)], -spread[(1, 0)], spread[(0, 0)])
        / determinant;
    let squared = off.dot(&(inverse * off));
    if squared > GATE {
        return None;
    }
    let gain = gain * inverse;
    let covariance = node.covariance - gain * spread * gain.transpose();
    Some(Node {
        parent,
        target: Some(place.candidate),
        log_weight: node.log_weight + place.log_prior
            - 0.5 * squared
            - 0.5 * determinant.ln()
            - TAU.ln(),
        mean: node.mean + gain * off,
        covariance: 0.5 * (covariance + covariance.transpose()),
    })
}

/// A level that one contact, whose mark is in no doubt, leaves as it is.
fn passed_on(last: Option<&Vec<Node>>, target: Option<usize>) -> Vec<Node> {
    let nodes = last.map_or(&[][..], Vec::as_slice).iter().enumerate();
    nodes.map(|(parent, node)| Node { parent, target, ..node.clone() }).collect()
}

/// The best of a level, in order.
fn kept(mut nodes: Vec<Node>, most: usize) -> Vec<Node> {
    nodes.sort_by(|a, b| b.log_weight.total_cmp(&a.log_weight));
    nodes.truncate(most);
    let least = nodes.first().map_or(0.0, |n| n.log_weight) - DROPPED_NATS;
    nodes.retain(|n| n.log_weight >= least);
    nodes
}
