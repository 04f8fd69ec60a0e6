mod index;
mod places;

use std::collections::HashMap;
use std::f64::consts::TAU;

use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;

use self::index::Index;
use self::places::{Place, Turn, places};
use super::any_shore;
use super::budget::{Budget, LogSum};
use super::prior::{excludes, log_anywhere, log_off_chart};
use super::problem::{Answering, Candidate, Problem, RatioReading, Sight, Targets};
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::units::Angle;

/// Squared statistical distance beyond which a mark does not explain a contact: for a right mark
/// passed over once in 20,000. Wider than the final test, since this stage is the rougher one.
const GATE: f64 = 20.0;
/// A partial set this many nats behind the best is dropped: a contact that is nothing on the chart
/// costs eight to ten, so that the truth may be behind by four of them at any time.
const DROPPED_NATS: f64 = 36.0;
/// Partial sets that one thread takes on at a time.
const AT_ONCE: usize = 64;
/// Two places of one set of identities within this squared statistical distance are one.
const SAME_PLACE: f64 = 1.0;
/// Whole sets looked over at the end for each one that is kept.
const LOOKED_OVER: usize = 2;
/// What is let go within this squared statistical distance of the best is no rival of it, but the
/// same place with a contact more or less.
const RIVAL: f64 = 12.0;

/// Five places along an axis of the reckoning, in deviations, and their shares: Gauss-Hermite
/// quadrature (computed).
const OWN_PLACES: [(f64, f64); 5] = [
    (-2.856_970, 0.011_257),
    (-1.355_626, 0.222_076),
    (0.0, 0.533_333),
    (1.355_626, 0.222_076),
    (2.856_970, 0.011_257),
];

/// A whole set of identities worth solving, with the place to start from.
#[derive(Debug, Clone)]
pub(crate) struct Proposal {
    pub targets: Targets,
    pub position: Position,
    pub bias: f64,
    /// Logarithm of prior and likelihood, roughly: for ordering only.
    pub log_weight: f64,
}

/// What the search came to.
#[derive(Debug)]
pub(crate) struct Proposals {
    /// Likeliest first.
    pub sets: Vec<Proposal>,
    /// All weight that was let go on the way, in the measure of the sets' own.
    pub dropped: LogSum,
}

/// Candidate sets of identities, likeliest first, within a budget of work.
///
/// One contact after the other, the most telling first, every partial set carrying a normal
/// estimate of position and bearing bias, in closed form. A range and a bearing of a known mark put
/// own place on the far end of a line, so the first contact makes one partial set for each mark
/// that the reckoning allows, and the second leaves those pairs whose separation agrees; the
/// reckoning's error does not enter there. A lone range is a ring of short pieces around each mark,
/// a lone bearing a row of them, so that both crossings of two circles come out. Every contact may
/// also be nothing on the chart.
///
/// Work is bounded by counts, so that it can be stopped anywhere: the best few thousand partial
/// sets go on, and what a set that goes no further weighs is kept account of. Contacts it has not
/// come to are then taken as plotted anywhere within reach: that is their mean density over own
/// places, and what to expect of them where the truth was let go and the sets kept are all wrong.
/// A bound (every remaining contact on the mark that fits it best) would be greater by some four
/// nats a contact, and would refuse every fix.
///
/// At the end, contacts left out count for more where they lie on some shore: see [`any_shore`].
pub(crate) fn propose(problem: &Problem, answering: &dyn Answering, budget: &Budget) -> Proposals {
    let tree = Tree::new(problem);
    let mut grown = tree.grow(budget);
    let sets = tree.sets(answering, &mut grown, budget.rough);
    Proposals { sets, dropped: grown.dropped }
}

struct Tree<'a> {
    problem: &'a Problem,
    plane: LocalPlane,
    /// Sine and cosine of the reckoning's latitude.
    latitude: (f64, f64),
    points: Vec<PlanePoint>,
    /// How much greater a true azimuth is than the plane's at each mark.
    turns: Vec<Turn>,
    order: Vec<usize>,
    root: Node,
    total_weight: f64,
    longest_run: f64,
    /// The greatest variance that a candidate has by itself, square metres.
    roundest: f64,
    /// The greatest height of a candidate, or depth.
    highest_m: f64,
}

#[derive(Clone)]
struct Node {
    parent: usize,
    target: Option<usize>,
    log_weight: f64,
    mean: Vector3<f64>,
    covariance: Matrix3<f64>,
}

/// Every level of partial sets, and the weight of those let go.
struct Grown {
    levels: Vec<Vec<Node>>,
    dropped: LogSum,
}

impl<'a> Tree<'a> {
    fn new(problem: &'a Problem) -> Self {
        let plane = LocalPlane::new(problem.prior.position);
        let points: Vec<PlanePoint> =
            problem.candidates.par_iter().map(|c| plane.to_plane(c.position)).collect();
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
        let runs = problem.sights.iter().map(|sight| sight.run.east.hypot(sight.run.north));
        let mut tree = Self {
            problem,
            plane,
            latitude: Angle::from_degrees(problem.prior.position.latitude()).radians().sin_cos(),
            points,
            turns: Vec::new(),
            order,
            root,
            total_weight: total_weight.max(f64::MIN_POSITIVE),
            longest_run: runs.fold(0.0, f64::max),
            highest_m: problem.candidates.iter().map(|c| c.height_m.abs()).fold(0.0, f64::max),
            roundest: problem.candidates.iter().map(Candidate::variance).fold(0.0, f64::max),
        };
        tree.turns = tree.points.par_iter().map(|&at| tree.turn(at)).collect();
        tree
    }

    fn grow(&self, budget: &Budget) -> Grown {
        let mut grown = Grown { levels: vec![vec![self.root.clone()]], dropped: LogSum::default() };
        let contacts = self.order.len().max(1);
        // What the contacts still to come are expected to weigh, this one's own included.
        let mut to_come: f64 = self.problem.sights.iter().map(|s| self.log_anywhere(s)).sum();
        for &index in &self.order {
            let Some(sight) = self.problem.sights.get(index) else { continue };
            let last = grown.levels.last().map_or(&[][..], Vec::as_slice);
            if sight.surely.is_some() {
                let passed = passed_on(last, sight.surely);
                grown.levels.push(passed);
                continue;
            }
            let index_of_places = Index::new(&places(self, sight));
            let within = within_budget(last, &index_of_places, budget.tried / contacts);
            for node in last.get(within..).unwrap_or_default() {
                if last.first().is_none_or(|best| !is_within(node, best, RIVAL)) {
                    grown.dropped.add(node.log_weight + to_come);
                }
            }
            let next = self.branch_all(&grown.levels, index, sight, &index_of_places, within);
            to_come -= self.log_anywhere(sight);
            let most = (index_of_places.len() * 3 / 2)
                .clamp(budget.kept_each.0, budget.kept_each.1)
                .min(budget.kept / contacts)
                .max(1);
            let next = kept(&next, most, |node| grown.dropped.add(node.log_weight + to_come));
            grown.levels.push(next);
        }
        grown
    }

    /// Nothing for the nearest shore, which the search passes by.
    fn log_anywhere(&self, sight: &Sight) -> f64 {
        if sight.surely.is_some() { 0.0 } else { log_anywhere(sight, self.problem.reach_m) }
    }

    /// The children of the first so many partial sets of the last level, in their order.
    fn branch_all(
        &self,
        levels: &[Vec<Node>],
        index: usize,
        sight: &Sight,
        places: &Index,
        within: usize,
    ) -> Vec<Node> {
        let last = levels.last().and_then(|level| level.get(..within)).unwrap_or_default();
        let off_chart = log_off_chart(sight, self.problem.reach_m);
        let parts: Vec<Vec<Node>> = last
            .par_chunks(AT_ONCE)
            .enumerate()
            .map(|(chunk, nodes)| {
                let mut next = Vec::new();
                for (offset, node) in nodes.iter().enumerate() {
                    let number = chunk * AT_ONCE + offset;
                    next.push(Node {
                        parent: number,
                        target: None,
                        log_weight: node.log_weight + off_chart,
                        ..node.clone()
                    });
                    let window = places.window(&node.mean, &node.covariance, GATE);
                    let near = window.into_iter().flat_map(|window| places.within(window));
                    next.extend(near.filter_map(|place| {
                        let gain = gain(node, place)?;
                        let taken = self.taken(levels, number, index, place.candidate);
                        (!taken).then(|| updated(node, place, &gain, number))
                    }));
                }
                next
            })
            .collect();
        parts.into_iter().flatten().collect()
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

    /// The likeliest whole sets, each at each of its places once; the rest is let go.
    fn sets(&self, answering: &dyn Answering, grown: &mut Grown, most: usize) -> Vec<Proposal> {
        let mut sets: Vec<(Proposal, &Node)> = Vec::new();
        let mut places: HashMap<Targets, Vec<&Node>> = HashMap::new();
        let leaves = grown.levels.last().map_or(&[][..], Vec::as_slice);
        let is_rival =
            |leaf: &Node| leaves.first().is_none_or(|best| !is_within(leaf, best, RIVAL));
        for leaf in leaves {
            if sets.len() >= LOOKED_OVER * most {
                if is_rival(leaf) {
                    grown.dropped.add(leaf.log_weight);
                }
                continue;
            }
            let targets = self.targets(&grown.levels, leaf);
            let known = places.entry(targets.clone()).or_default();
            // Two pieces of one ring or row come to one place.
            if known.iter().any(|other| is_within(leaf, other, SAME_PLACE)) {
                continue;
            }
            known.push(leaf);
            let at = PlanePoint { east: leaf.mean[0], north: leaf.mean[1] };
            let log_weight = leaf.log_weight + self.on_shore(answering, leaf, &targets);
            let position = self.plane.to_position(at);
            sets.push((Proposal { targets, position, bias: leaf.mean[2], log_weight }, leaf));
        }
        sets.sort_by(|a, b| b.0.log_weight.total_cmp(&a.0.log_weight));
        for (beyond, leaf) in sets.iter().skip(most) {
            if is_rival(leaf) {
                grown.dropped.add(beyond.log_weight);
            }
        }
        sets.truncate(most);
        sets.into_iter().map(|(proposal, _)| proposal).collect()
    }

    /// What the contacts that a whole set leaves out gain by the shore they lie on.
    fn on_shore(&self, answering: &dyn Answering, leaf: &Node, targets: &Targets) -> f64 {
        let own = PlanePoint { east: leaf.mean[0], north: leaf.mean[1] };
        let sigma = (0.5 * (leaf.covariance[(0, 0)] + leaf.covariance[(1, 1)])).max(0.0).sqrt();
        let error = (leaf.mean[2], sigma);
        self.problem
            .sights
            .iter()
            .zip(targets)
            .filter(|(sight, target)| target.is_none() && any_shore::may_be(self.problem, sight))
            .map(|(sight, _)| {
                any_shore::log_gain(self.problem, answering, sight, (own, &self.plane), error)
            })
            .sum()
    }

    fn targets(&self, levels: &[Vec<Node>], leaf: &Node) -> Targets {
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
        targets
    }
}

/// Whether two estimates are within a squared statistical distance of each other.
fn is_within(one: &Node, other: &Node, squared: f64) -> bool {
    let off = one.mean - other.mean;
    let sum = one.covariance + other.covariance;
    sum.try_inverse().is_some_and(|inverse| off.dot(&(inverse * off)) < squared)
}

/// How many partial sets, likeliest first, can be held against the places near them in so many
/// trials; one at least.
fn within_budget(nodes: &[Node], places: &Index, trials: usize) -> usize {
    let counts: Vec<usize> = nodes
        .par_iter()
        .map(|node| {
            let window = places.window(&node.mean, &node.covariance, GATE);
            1 + window.map_or(0, |window| places.count(window))
        })
        .collect();
    let mut sum = 0;
    let over = counts.iter().position(|count| {
        sum += count;
        sum > trials
    });
    over.map_or(nodes.len(), |over| over.max(1))
}

/// The salience of all within reach of own place, on the average over where the reckoning may be.
///
/// By the reckoning alone it might be nothing, where that lies far out and own place does not: every
/// mark would then be a certain one.
fn weight_in_reach(problem: &Problem, points: &[PlanePoint]) -> f64 {
    let (long, short, axis) = problem.prior.covariance.axes();
    let (sin, cos) = axis.sin_cos();
    let within = |own: PlanePoint| -> f64 {
        let near = points.iter().zip(&problem.candidates);
        let near = near.filter(|(at, _)| at.distance(own) <= problem.reach_m);
        near.map(|(_, candidate)| candidate.weight).sum()
    };
    let mut mean = 0.0;
    for (by_long, share_long) in OWN_PLACES {
        for (by_short, share_short) in OWN_PLACES {
            let (along, across) = (by_long * long.sqrt(), by_short * short.sqrt());
            let own =
                PlanePoint { east: along * sin + across * cos, north: along * cos - across * sin };
            mean += share_long * share_short * within(own);
        }
    }
    // No mark is more than all that may be picked.
    let heaviest = problem.candidates.iter().map(|c| c.weight).fold(0.0, f64::max);
    mean.max(heaviest)
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
    if sight.traced.is_some() {
        return 1e9;
    }
    if sight.surely.is_some() {
        return 1e12;
    }
    let named = sight.belief.is_some_and(|b| b.confidence >= 0.5);
    if named { sharpness } else { 1e9 + sharpness }
}

/// How a place bears on a partial set that it agrees with.
struct Gain {
    off: [f64; 2],
    squared: f64,
    /// Of their difference: east by east, east by north, north by north.
    spread: [f64; 3],
    determinant: f64,
    /// Covariance of the estimate with the place.
    cross: [[f64; 3]; 2],
}

/// None where the place does not agree with the estimate: most do not, so that this comes first,
/// number by number.
fn gain(node: &Node, place: &Place) -> Option<Gain> {
    let [east, north, bias]: [f64; 3] = node.mean.into();
    let (by_east, by_north) = (place.by_bias[0], place.by_bias[1]);
    let off = [place.at[0] - east - by_east * bias, place.at[1] - north - by_north * bias];
    // Each column of the covariance: what goes with an error east, north, of the bias.
    let [e, n, b]: [[f64; 3]; 3] = node.covariance.into();
    let cross = [
        [e[0] + by_east * b[0], e[1] + by_east * b[1], e[2] + by_east * b[2]],
        [n[0] + by_north * b[0], n[1] + by_north * b[1], n[2] + by_north * b[2]],
    ];
    let [to_east, to_north] = cross;
    let ee = to_east[0] + by_east * to_east[2] + place.noise[(0, 0)];
    let en = to_north[0] + by_east * to_north[2] + place.noise[(0, 1)];
    let nn = to_north[1] + by_north * to_north[2] + place.noise[(1, 1)];
    let determinant = ee * nn - en * en;
    if determinant <= 0.0 || !determinant.is_finite() {
        return None;
    }
    let squared =
        (nn * off[0] * off[0] - 2.0 * en * off[0] * off[1] + ee * off[1] * off[1]) / determinant;
    (squared <= GATE).then_some(Gain { off, squared, spread: [ee, en, nn], determinant, cross })
}

/// Whether a place agrees with an estimate.
fn explains(node: &Node, place: &Place) -> bool {
    gain(node, place).is_some()
}

/// A partial set with one contact more.
fn updated(node: &Node, place: &Place, gain: &Gain, parent: usize) -> Node {
    let &Gain { off, squared, spread: [ee, en, nn], determinant, cross: [east, north] } = gain;
    let by_east = std::array::from_fn(|i| (east[i] * nn - north[i] * en) / determinant);
    let by_north = std::array::from_fn(|i| (north[i] * ee - east[i] * en) / determinant);
    let (by_east, by_north): ([f64; 3], [f64; 3]) = (by_east, by_north);
    // Symmetric to the last digit: by_east goes with east as by_north with north.
    let taken_off = |i: usize, k: usize| {
        0.5 * (by_east[i] * east[k] + by_north[i] * north[k])
            + 0.5 * (by_east[k] * east[i] + by_north[k] * north[i])
    };
    let mut covariance = node.covariance;
    for i in 0..3 {
        for k in 0..3 {
            covariance[(i, k)] -= taken_off(i.min(k), i.max(k));
        }
    }
    Node {
        parent,
        target: Some(place.candidate),
        log_weight: node.log_weight + place.log_prior
            - 0.5 * squared
            - 0.5 * determinant.ln()
            - TAU.ln(),
        mean: Vector3::from_fn(|i, _| node.mean[i] + by_east[i] * off[0] + by_north[i] * off[1]),
        covariance,
    }
}

/// A level that one contact, whose mark is in no doubt, leaves as it is.
fn passed_on(last: &[Node], target: Option<usize>) -> Vec<Node> {
    let nodes = last.iter().enumerate();
    nodes.map(|(parent, node)| Node { parent, target, ..node.clone() }).collect()
}

/// The best of a level, in order; every rival of the best of all that is let go is told.
fn kept(nodes: &[Node], most: usize, mut let_go: impl FnMut(&Node)) -> Vec<Node> {
    let mut order: Vec<(f64, usize)> =
        nodes.iter().enumerate().map(|(index, node)| (node.log_weight, index)).collect();
    let better = |a: &(f64, usize), b: &(f64, usize)| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1));
    let beyond = if order.len() > most {
        order.select_nth_unstable_by(most, better);
        order.split_off(most)
    } else {
        Vec::new()
    };
    order.sort_unstable_by(better);
    let least = order.first().map_or(0.0, |best| best.0) - DROPPED_NATS;
    let behind = order.split_off(order.partition_point(|(log_weight, _)| *log_weight >= least));
    let best = order.first().and_then(|(_, index)| nodes.get(*index));
    for node in beyond.iter().filter_map(|(_, index)| nodes.get(*index)) {
        // So far behind it adds nothing that matters, rival or not.
        let is_far_behind = node.log_weight < least;
        if is_far_behind || best.is_none_or(|best| !is_within(node, best, RIVAL)) {
            let_go(node);
        }
    }
    behind.iter().filter_map(|(_, index)| nodes.get(*index)).for_each(let_go);
    order.iter().filter_map(|(_, index)| nodes.get(*index).cloned()).collect()
}
