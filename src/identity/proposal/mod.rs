mod index;
mod partial;
mod places;
mod starts;

use std::collections::HashMap;

use nalgebra::Matrix3;
use rayon::prelude::*;

use self::index::{Index, Window};
use self::partial::{Child, Node, gain, is_within, kept, passed_on};
use self::places::{Turn, places};
use super::any_shore;
use super::budget::{Budget, LogSum};
use super::kin::{Kin, SoFar, all_kin};
use super::laid::Laid;
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
pub(super) struct Proposals {
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
/// A set of which no contact leads to any place is begun all over the reckoning's ellipse ([`starts`]).
///
/// At the end, contacts left out count for more where they lie on some shore: see [`any_shore`].
pub(super) fn propose(
    problem: &Problem,
    laid: &Laid,
    answering: &dyn Answering,
    budget: &Budget,
) -> Proposals {
    let tree = Tree::new(problem, laid);
    let mut grown = tree.grow(budget);
    let mut sets = tree.sets(answering, &mut grown, budget.rough);
    if starts::are_needed(problem) {
        let leads_nowhere = |set: &Proposal| starts::leads_nowhere(problem, &set.targets);
        if let Some(at) = sets.iter().position(leads_nowhere) {
            let set = sets.remove(at);
            sets.extend(starts::spread(problem, &laid.plane, &set));
            sets.sort_by(|a, b| b.log_weight.total_cmp(&a.log_weight));
        }
    }
    Proposals { sets, dropped: grown.dropped }
}

struct Tree<'a> {
    problem: &'a Problem,
    plane: &'a LocalPlane,
    /// Sine and cosine of the reckoning's latitude.
    latitude: (f64, f64),
    points: &'a [PlanePoint],
    /// How much greater a true azimuth is than the plane's at each mark.
    turns: Vec<Turn>,
    order: Vec<usize>,
    /// Contacts that stand or fall together.
    kin: Vec<Kin>,
    root: Node,
    total_weight: f64,
    longest_run: f64,
    /// The greatest variance that a candidate has by itself, square metres.
    roundest: f64,
    /// The greatest height of a candidate, or depth.
    highest_m: f64,
}

/// Every level of partial sets, and the weight of those let go.
struct Grown {
    levels: Vec<Vec<Node>>,
    dropped: LogSum,
}

impl<'a> Tree<'a> {
    fn new(problem: &'a Problem, Laid { plane, points }: &'a Laid) -> Self {
        let total_weight = weight_in_reach(problem, points);
        let [ee, en, nn] = problem.prior.covariance.square_metres();
        let run = problem.prior.run_sigma_m().powi(2);
        let bias = problem.shared.bearing_bias_sigma.powi(2).max(1e-12);
        let covariance =
            Matrix3::new(ee + run + 1.0, en, 0.0, en, nn + run + 1.0, 0.0, 0.0, 0.0, bias);
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
            kin: all_kin(problem),
            root: Node::root(covariance),
            total_weight: total_weight.max(f64::MIN_POSITIVE),
            longest_run: runs.fold(0.0, f64::max),
            highest_m: problem.candidates.iter().map(|c| c.height_m.abs()).fold(0.0, f64::max),
            roundest: problem.candidates.iter().map(Candidate::variance).fold(0.0, f64::max),
        };
        tree.turns = points.par_iter().map(|&at| tree.turn(at)).collect();
        tree
    }

    fn grow(&self, budget: &Budget) -> Grown {
        let mut grown = Grown { levels: vec![vec![self.root.clone()]], dropped: LogSum::default() };
        let contacts = self.order.len().max(1);
        // What the contacts still to come are expected to weigh, this one's own included.
        let mut to_come: f64 = self.problem.sights.iter().map(|s| self.log_anywhere(s)).sum();
        let allowed: Vec<Index> = self.order.par_iter().map(|&index| self.allowed(index)).collect();
        for (&index, places) in self.order.iter().zip(&allowed) {
            let Some(sight) = self.problem.sights.get(index) else { continue };
            let last = grown.levels.last().map_or(&[][..], Vec::as_slice);
            if sight.surely.is_some() {
                let passed = passed_on(last, sight.surely);
                grown.levels.push(passed);
                continue;
            }
            let mut windows = windows(last, places);
            windows.truncate(within_budget(&windows, places, budget.tried / contacts));
            for node in last.get(windows.len()..).unwrap_or_default() {
                if last.first().is_none_or(|best| !is_within(node, best, RIVAL)) {
                    grown.dropped.add(node.log_weight + to_come);
                }
            }
            let children = self.branch_all(&grown.levels, (index, sight), places, &windows);
            to_come -= self.log_anywhere(sight);
            let most = (places.len() * 3 / 2)
                .clamp(budget.kept_each.0, budget.kept_each.1)
                .min(budget.kept / contacts)
                .max(1);
            let (next, let_go) = kept(last, &children, places, most);
            grown.dropped.join(let_go.heavier(to_come));
            grown.levels.push(next);
        }
        grown
    }

    /// The places that one contact allows; none where its mark is in no doubt.
    fn allowed(&self, index: usize) -> Index {
        let sight = self.problem.sights.get(index).filter(|sight| sight.surely.is_none());
        Index::new(&sight.map_or_else(Vec::new, |sight| places(self, sight)))
    }

    /// Nothing for the nearest shore, which the search passes by.
    fn log_anywhere(&self, sight: &Sight) -> f64 {
        if sight.surely.is_some() { 0.0 } else { log_anywhere(sight, self.problem.reach_m) }
    }

    /// The children of the first partial sets of the last level, one for each window, in their order: as
    /// many threads found them, for there may be a million.
    fn branch_all(
        &self,
        levels: &[Vec<Node>],
        (index, sight): (usize, &Sight),
        places: &Index,
        windows: &[Option<Window>],
    ) -> Vec<Vec<Child>> {
        let last = levels.last().map_or(&[][..], Vec::as_slice);
        let off_chart = log_off_chart(sight, self.problem.reach_m);
        let kin: Vec<&Kin> = self.kin.iter().filter(|kin| kin.contacts.contains(&index)).collect();
        windows
            .par_chunks(AT_ONCE)
            .zip(last.par_chunks(AT_ONCE))
            .enumerate()
            .map(|(chunk, (windows, nodes))| {
                let tries = windows.iter().flatten().map(|window| places.count(*window));
                let mut next = Vec::with_capacity(windows.len() + tries.sum::<usize>());
                for (offset, (window, node)) in windows.iter().zip(nodes).enumerate() {
                    let number = chunk * AT_ONCE + offset;
                    let before: Vec<SoFar> =
                        kin.iter().map(|kin| self.so_far(levels, number, kin)).collect();
                    let gained = |target| {
                        let share = |_: &Sight, mark| self.share(mark);
                        let gain = |(kin, before): (&&Kin, &SoFar)| {
                            let one = kin.member(self.problem, index, target, share);
                            one.map_or(0.0, |one| before.gained_by(one))
                        };
                        kin.iter().zip(&before).map(gain).sum::<f64>()
                    };
                    next.push(Child::without(node, number, off_chart + gained(None)));
                    let near = window.iter().flat_map(|window| places.within(*window));
                    next.extend(near.filter_map(|(at, place)| {
                        let gain = gain(node, place)?;
                        let taken = node.may_hold(place.candidate)
                            && self.taken(levels, number, index, place.candidate);
                        let child = || Child::with(node, number, (at, place), &gain);
                        (!taken).then(|| child().heavier(gained(Some(place.candidate))))
                    }));
                }
                next
            })
            .collect()
    }

    /// A mark's part of all within reach.
    fn share(&self, candidate: usize) -> f64 {
        self.problem.candidates.get(candidate).map_or(0.0, |mark| mark.weight / self.total_weight)
    }

    /// What a partial set of the last level has of contacts that stand or fall together.
    fn so_far(&self, levels: &[Vec<Node>], number: usize, kin: &Kin) -> SoFar {
        let mut found = Vec::new();
        let mut at = number;
        for (depth, level) in levels.iter().enumerate().skip(1).rev() {
            let Some(node) = level.get(at) else { break };
            let share = |_: &Sight, mark| self.share(mark);
            let member = |contact: &usize| kin.member(self.problem, *contact, node.target, share);
            found.extend(self.order.get(depth - 1).and_then(member));
            at = node.parent;
        }
        SoFar::of(kin, self.problem.any_shore, found)
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
        let mut chosen: Vec<(Targets, &Node)> = Vec::new();
        let leaves = grown.levels.last().map_or(&[][..], Vec::as_slice);
        let mut places: HashMap<Targets, Vec<&Node>> =
            HashMap::with_capacity(leaves.len().min(LOOKED_OVER * most));
        let is_rival =
            |leaf: &Node| leaves.first().is_none_or(|best| !is_within(leaf, best, RIVAL));
        for leaf in leaves {
            if chosen.len() >= LOOKED_OVER * most {
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
            chosen.push((targets, leaf));
        }
        let mut sets: Vec<(Proposal, &Node)> = chosen
            .into_par_iter()
            .map(|(targets, leaf)| (self.proposal(answering, leaf, targets), leaf))
            .collect();
        sets.sort_by(|a, b| b.0.log_weight.total_cmp(&a.0.log_weight));
        for (beyond, leaf) in sets.iter().skip(most) {
            if is_rival(leaf) {
                grown.dropped.add(beyond.log_weight);
            }
        }
        sets.truncate(most);
        sets.into_iter().map(|(proposal, _)| proposal).collect()
    }

    fn proposal(&self, answering: &dyn Answering, leaf: &Node, targets: Targets) -> Proposal {
        let at = PlanePoint { east: leaf.mean[0], north: leaf.mean[1] };
        let log_weight = leaf.log_weight + self.on_shore(answering, leaf, &targets);
        Proposal { targets, position: self.plane.to_position(at), bias: leaf.mean[2], log_weight }
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
                any_shore::log_gain(self.problem, answering, sight, (own, self.plane), error)
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

/// Where each partial set is to be held against the places near it.
fn windows(nodes: &[Node], places: &Index) -> Vec<Option<Window>> {
    let window = |node: &Node| places.window(&node.mean, &node.covariance, GATE);
    nodes.par_iter().with_min_len(AT_ONCE).map(window).collect()
}

/// How many partial sets, likeliest first, can be held against the places near them in so many
/// trials; one at least.
fn within_budget(windows: &[Option<Window>], places: &Index, trials: usize) -> usize {
    let mut sum = 0;
    let over = windows.iter().position(|window| {
        sum += 1 + window.map_or(0, |window| places.count(window));
        sum > trials
    });
    over.map_or(windows.len(), |over| over.max(1))
}

/// The salience of all within reach of own place, on the average over where the reckoning may be.
///
/// By the reckoning alone it might be nothing, where that lies far out and own place does not: every
/// mark would then be a certain one.
fn weight_in_reach(problem: &Problem, points: &[PlanePoint]) -> f64 {
    let (long, short, axis) = problem.prior.covariance.axes();
    let run = problem.prior.run_sigma_m().powi(2);
    let (long, short) = (long + run, short + run);
    let (sin, cos) = axis.sin_cos();
    let within = |own: PlanePoint| -> f64 {
        let near = points.iter().zip(&problem.candidates);
        let near = near.filter(|(at, _)| at.distance(own) <= problem.reach_m);
        near.map(|(_, candidate)| candidate.weight).sum()
    };
    let share = |(by_long, by_short): ((f64, f64), (f64, f64))| {
        let (along, across) = (by_long.0 * long.sqrt(), by_short.0 * short.sqrt());
        let own =
            PlanePoint { east: along * sin + across * cos, north: along * cos - across * sin };
        by_long.1 * by_short.1 * within(own)
    };
    let places = OWN_PLACES.iter().flat_map(|long| OWN_PLACES.map(|short| (*long, short)));
    let places: Vec<_> = places.collect();
    let shares: Vec<f64> = places.into_par_iter().map(share).collect();
    let mean: f64 = shares.iter().sum();
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
