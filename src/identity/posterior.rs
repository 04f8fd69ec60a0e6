use std::cell::RefCell;
use std::collections::BTreeMap;

use super::estimator::{Solution, solve};
#[cfg(test)]
use super::prior::excludes;
use super::prior::{log_off_chart, log_prior};
use super::problem::{Answering, Charted, Problem, Targets};
use super::proposal::{Proposal, propose};
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position, distance};

/// Posterior odds are taken to the power 1/T: an operator's list of marks is never quite ours.
const TEMPER: f64 = 1.15;
/// Prior of "not one of these contacts is on this chart", where the operator names none. Even odds:
/// then a set of which nothing is charted passes at assurance a with a chance of 1 - a at most,
/// whatever the coast (Markov's inequality on the likelihood ratio, whose mean is one).
const NONE_PRIOR: f64 = 0.5;
/// The posterior kept back for gates, places not listed and a model that is not the world, while
/// no more than [`FLOOR_SUPPORT`] contacts support the answer; each one more makes it a tenth.
const FLOOR: f64 = 0.005;
const FLOOR_SUPPORT: usize = 4;
const LEAST_FLOOR: f64 = 2e-5;
/// Sets of identities solved roughly, and solved in full.
const MOST_ROUGH: usize = 400;
const MOST_FULL: usize = 96;
/// Sets this many nats behind the best are let go.
const PROPOSED_NATS: f64 = 20.0;
const ROUGH_NATS: f64 = 16.0;
const FULL_NATS: f64 = 11.0;
/// A mark that should not be seen at all may still have answered once in this often.
const LEAST_SIGHT: f64 = 0.03;
/// The chance of sight over the whole list is looked up once for each cell of this size.
const CELL_M: f64 = 5_000.0;

/// The chance that a mark paints, seen from a place.
pub trait Sighting {
    /// For a candidate by its index, in `[0, 1]`.
    fn chance(&self, from: Position, candidate: usize) -> f64;
}

/// Every mark is in sight from everywhere.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unobstructed;

impl Sighting for Unobstructed {
    fn chance(&self, _: Position, _: usize) -> f64 {
        1.0
    }
}

/// One set of identities, solved.
#[derive(Debug, Clone)]
pub(crate) struct Hypothesis {
    pub targets: Targets,
    pub solution: Solution,
    pub log_weight: f64,
    pub probability: f64,
}

impl Hypothesis {
    /// How many contacts are some mark.
    pub fn matched(&self) -> usize {
        self.targets.iter().flatten().count()
    }
}

/// One place with all the sets of identities that lead to it.
#[derive(Debug, Clone)]
pub(crate) struct Mode {
    /// Indices into the posterior's hypotheses, likeliest first.
    pub members: Vec<usize>,
    /// Mean of the members.
    pub position: Position,
    /// Covariance of the mixture of the members.
    pub covariance: Covariance,
    pub probability: f64,
}

/// What is known once all sets of identities have been weighed.
#[derive(Debug, Clone, Default)]
pub(crate) struct Posterior {
    pub hypotheses: Vec<Hypothesis>,
    /// Likeliest first; their probabilities and `none` sum to one.
    pub modes: Vec<Mode>,
    pub none: f64,
    /// Logarithm of all weight, no temper: to compare with another reckoning's.
    pub log_evidence: f64,
}

impl Posterior {
    pub fn best(&self) -> Option<(&Mode, &Hypothesis)> {
        let mode = self.modes.first()?;
        let hypothesis = self.hypotheses.get(*mode.members.first()?)?;
        Some((mode, hypothesis))
    }

    /// The probability that each mark is what a sight saw, likeliest first.
    pub fn marginals(&self, sight: usize, among: &[usize]) -> Vec<(usize, f64)> {
        let mut sums: BTreeMap<usize, f64> = BTreeMap::new();
        for hypothesis in among.iter().filter_map(|&h| self.hypotheses.get(h)) {
            if let Some(Some(candidate)) = hypothesis.targets.get(sight) {
                *sums.entry(*candidate).or_default() += hypothesis.probability;
            }
        }
        let mut sums: Vec<(usize, f64)> = sums.into_iter().collect();
        sums.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        sums
    }
}

/// Weighs every set of identities that the contacts, the chart and the reckoning allow.
pub(crate) fn identify(
    problem: &Problem,
    answering: &dyn Answering,
    sighting: &dyn Sighting,
) -> Posterior {
    let proposals = propose(problem, MOST_ROUGH);
    let look = Look::new(problem, sighting);
    let rough = roughly(problem, answering, &proposals);
    let mut hypotheses = fully(problem, answering, &look, rough);
    hypotheses.sort_by(|a, b| b.log_weight.total_cmp(&a.log_weight));
    weigh(problem, &mut hypotheses);
    let modes = modes(&hypotheses);
    let none = (1.0 - modes.iter().map(|m| m.probability).sum::<f64>()).clamp(0.0, 1.0);
    let best = hypotheses.first().map_or(f64::NEG_INFINITY, |h| h.log_weight);
    let sum: f64 = hypotheses.iter().map(|h| (h.log_weight - best).exp()).sum();
    let log_evidence = if sum > 0.0 { best + sum.ln() } else { f64::NEG_INFINITY };
    Posterior { hypotheses, modes, none, log_evidence }
}

/// Solves proposals with every mark answering from its charted point, somewhere within its slack.
fn roughly(
    problem: &Problem,
    answering: &dyn Answering,
    proposals: &[Proposal],
) -> Vec<Hypothesis> {
    let mut loose = problem.clone();
    for candidate in &mut loose.candidates {
        candidate.sigma_m = candidate.sigma_m.hypot(candidate.slack_m);
    }
    let total: f64 = problem.candidates.iter().map(|c| c.weight).sum::<f64>().max(1e-12);
    let mut solved: Vec<Hypothesis> = Vec::new();
    let top = proposals.first().map_or(0.0, |p| p.log_weight);
    for proposal in proposals {
        if is_bare(problem, &proposal.targets) || proposal.log_weight < top - PROPOSED_NATS {
            continue;
        }
        let start = (proposal.position, proposal.bias);
        let answering = answering_of(problem, answering);
        let Some(solution) = solve(&loose, answering, &proposal.targets, start.0, start.1, true)
        else {
            continue;
        };
        let log_weight = solution.log_evidence()
            + log_priors(problem, &proposal.targets, |c| {
                problem.candidates.get(c).map_or(0.0, |c| c.weight / total)
            });
        keep_distinct(
            &mut solved,
            Hypothesis {
                targets: proposal.targets.clone(),
                solution,
                log_weight,
                probability: 0.0,
            },
        );
    }
    solved.sort_by(|a, b| b.log_weight.total_cmp(&a.log_weight));
    let best = solved.first().map_or(0.0, |h| h.log_weight);
    solved.retain(|h| h.log_weight >= best - ROUGH_NATS);
    solved.truncate(MOST_FULL);
    solved
}

/// Whether a set of identities leaves out every contact that could be left out.
fn is_bare(problem: &Problem, targets: &[Option<usize>]) -> bool {
    let free = |i: usize| problem.sights.get(i).is_some_and(|s| s.surely.is_none());
    let any_free = (0..targets.len()).any(free);
    any_free && targets.iter().enumerate().all(|(i, t)| t.is_none() || !free(i))
}

/// The charted points do, unless a contact is the nearest shore, which has none.
fn answering_of<'a>(problem: &Problem, answering: &'a dyn Answering) -> &'a dyn Answering {
    if problem.sights.iter().any(|s| s.surely.is_some()) { answering } else { &Charted }
}

/// One set of identities may have two places; the same place is not counted twice.
fn keep_distinct(solved: &mut Vec<Hypothesis>, new: Hypothesis) {
    let known = solved.iter().any(|old| {
        old.targets == new.targets
            && (distance(old.solution.position, new.solution.position).metres() < 100.0
                || close(&old.solution, &new.solution, 0.25))
    });
    if !known {
        solved.push(new);
    }
}

/// Whether two solutions lie within a squared statistical distance of each other.
fn close(one: &Solution, other: &Solution, limit: f64) -> bool {
    let off = LocalPlane::new(one.position).to_plane(other.position);
    let sum = one.position_covariance().plus(other.position_covariance());
    sum.mahalanobis_squared(off.east, off.north) < limit
}

/// Solves once more with the part of each mark that answers, and weighs sight.
fn fully(
    problem: &Problem,
    answering: &dyn Answering,
    look: &Look<'_>,
    rough: Vec<Hypothesis>,
) -> Vec<Hypothesis> {
    let mut solved: Vec<Hypothesis> = Vec::new();
    for hypothesis in rough {
        let start = &hypothesis.solution;
        let bias = start.bearing_bias().0;
        let Some(solution) =
            solve(problem, answering, &hypothesis.targets, start.position, bias, true)
        else {
            continue;
        };
        let at = solution.position;
        let log_weight = solution.log_evidence()
            + log_priors(problem, &hypothesis.targets, |c| look.share(at, c));
        let fresh =
            Hypothesis { targets: hypothesis.targets, solution, log_weight, probability: 0.0 };
        keep_distinct(&mut solved, fresh);
    }
    let best = solved.iter().map(|h| h.log_weight).fold(f64::NEG_INFINITY, f64::max);
    solved.retain(|h| h.log_weight >= best - FULL_NATS);
    solved
}

/// Logarithm of the prior of a set of identities, and of the density of the contacts it leaves out.
fn log_priors(problem: &Problem, targets: &[Option<usize>], share: impl Fn(usize) -> f64) -> f64 {
    problem
        .sights
        .iter()
        .zip(targets)
        .filter(|(sight, _)| sight.surely.is_none())
        .map(|(sight, target)| match *target {
            Some(candidate) => log_prior(sight, candidate, share(candidate)),
            None => log_off_chart(sight, problem.reach_m) + log_plotted(sight),
        })
        .sum()
}

/// From a density by square metre to one by metre and radian.
fn log_plotted(sight: &super::problem::Sight) -> f64 {
    match (sight.range, sight.is_borne()) {
        (Some(range), true) => range.value.max(1.0).ln(),
        _ => 0.0,
    }
}

/// Gives every hypothesis its share of the posterior.
fn weigh(problem: &Problem, hypotheses: &mut [Hypothesis]) {
    let none = log_none(problem);
    let best = hypotheses.iter().map(|h| h.log_weight).fold(none, f64::max);
    let share = |log_weight: f64| ((log_weight - best) / TEMPER).exp();
    let total: f64 = hypotheses.iter().map(|h| share(h.log_weight)).sum::<f64>() + share(none);
    let kept_back = floor(problem, hypotheses.first());
    for hypothesis in hypotheses {
        hypothesis.probability = (1.0 - kept_back) * share(hypothesis.log_weight) / total;
    }
}

/// Logarithm of the weight of "none of the contacts is on this chart".
fn log_none(problem: &Problem) -> f64 {
    let mut log = NONE_PRIOR.ln();
    if problem.sights.iter().all(|s| s.surely.is_some()) {
        return f64::NEG_INFINITY;
    }
    for sight in &problem.sights {
        log += log_off_chart(sight, problem.reach_m) + log_plotted(sight)
            - sight.off_chart.max(f64::MIN_POSITIVE).ln();
        if let Some(belief) = sight.belief {
            log += (1.0 - belief.confidence).max(1e-3).ln();
        }
    }
    log
}

/// What is kept back whatever the evidence; a name that the operator gave counts as a contact more.
fn floor(problem: &Problem, best: Option<&Hypothesis>) -> f64 {
    let Some(best) = best else { return FLOOR };
    let named = problem
        .sights
        .iter()
        .zip(&best.targets)
        .filter(|(sight, target)| {
            sight.belief.is_some_and(|b| b.confidence >= 0.8 && Some(b.candidate) == **target)
        })
        .count();
    let surplus = (best.matched() + named).saturating_sub(FLOOR_SUPPORT);
    (FLOOR * 0.1f64.powi(i32::try_from(surplus).unwrap_or(9))).max(LEAST_FLOOR)
}

/// Gathers hypotheses by place, likeliest first.
fn modes(hypotheses: &[Hypothesis]) -> Vec<Mode> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (index, hypothesis) in hypotheses.iter().enumerate() {
        let home = groups.iter_mut().find(|group| {
            group
                .first()
                .and_then(|&lead| hypotheses.get(lead))
                .is_some_and(|lead| same_place(&lead.solution, &hypothesis.solution))
        });
        match home {
            Some(group) => group.push(index),
            None => groups.push(vec![index]),
        }
    }
    let mut modes: Vec<Mode> =
        groups.into_iter().filter_map(|members| mode(hypotheses, members)).collect();
    modes.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    modes
}

/// Places whose errors overlap are one answer; so are places within a quarter mile.
fn same_place(one: &Solution, other: &Solution) -> bool {
    let apart = distance(one.position, other.position).nautical_miles();
    apart < 0.25 || apart < 1.0 && close(one, other, 12.0) || close(one, other, 5.0)
}

fn mode(hypotheses: &[Hypothesis], members: Vec<usize>) -> Option<Mode> {
    let lead = hypotheses.get(*members.first()?)?;
    let plane = LocalPlane::new(lead.solution.position);
    let parts: Vec<Part> = members
        .iter()
        .filter_map(|&m| hypotheses.get(m))
        .map(|h| Part {
            weight: h.probability,
            at: plane.to_plane(h.solution.position),
            covariance: h.solution.position_covariance(),
        })
        .collect();
    let probability: f64 = parts.iter().map(|p| p.weight).sum();
    let (mean, covariance) = mixture(&parts)?;
    Some(Mode { members, position: plane.to_position(mean), covariance, probability })
}

/// One normal law of a mixture.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Part {
    pub weight: f64,
    pub at: PlanePoint,
    pub covariance: Covariance,
}

/// Mean and covariance of a mixture of normal laws; none where nothing has weight.
pub(crate) fn mixture(parts: &[Part]) -> Option<(PlanePoint, Covariance)> {
    let total: f64 = parts.iter().map(|p| p.weight).sum();
    if total <= 0.0 {
        return None;
    }
    let mean =
        |of: &dyn Fn(&Part) -> f64| parts.iter().map(|p| p.weight * of(p)).sum::<f64>() / total;
    let (east, north) = (mean(&|p| p.at.east), mean(&|p| p.at.north));
    let [ee, en, nn] = [0, 1, 2].map(|i| {
        mean(&|p| {
            let (e, n) = (p.at.east - east, p.at.north - north);
            p.covariance.square_metres()[i] + [e * e, e * n, n * n][i]
        })
    });
    let covariance = Covariance::from_square_metres(ee, en, nn).ok()?;
    Some((PlanePoint { east, north }, covariance))
}

/// The chance of sight and salience of all candidates, by place.
struct Look<'a> {
    problem: &'a Problem,
    sighting: &'a dyn Sighting,
    plane: LocalPlane,
    totals: RefCell<BTreeMap<(i64, i64), f64>>,
}

impl<'a> Look<'a> {
    fn new(problem: &'a Problem, sighting: &'a dyn Sighting) -> Self {
        let plane = LocalPlane::new(problem.prior.position);
        Self { problem, sighting, plane, totals: RefCell::default() }
    }

    /// A candidate's part of all that an operator at `from` might have picked.
    fn share(&self, from: Position, candidate: usize) -> f64 {
        let own = self.weight(from, candidate);
        let total = self.total(from).max(own);
        if total > 0.0 { own / total } else { 0.0 }
    }

    fn weight(&self, from: Position, candidate: usize) -> f64 {
        let salience = self.problem.candidates.get(candidate).map_or(0.0, |c| c.weight);
        salience * self.sighting.chance(from, candidate).clamp(LEAST_SIGHT, 1.0)
    }

    fn total(&self, from: Position) -> f64 {
        let at = self.plane.to_plane(from);
        let cell = ((at.east / CELL_M).round() as i64, (at.north / CELL_M).round() as i64);
        if let Some(&total) = self.totals.borrow().get(&cell) {
            return total;
        }
        let here = LocalPlane::new(from);
        let total: f64 = self
            .problem
            .candidates
            .iter()
            .enumerate()
            .filter(|(_, c)| {
                let to = here.to_plane(c.position);
                to.east.hypot(to.north) <= self.problem.reach_m
            })
            .map(|(index, _)| self.weight(from, index))
            .sum();
        self.totals.borrow_mut().insert(cell, total);
        total
    }
}

#[cfg(test)]
/// Whether a set of identities gives no mark to two contacts that cannot share one.
pub(crate) fn is_one_to_one(problem: &Problem, targets: &[Option<usize>]) -> bool {
    targets.iter().enumerate().all(|(i, a)| {
        a.is_none()
            || targets
                .iter()
                .enumerate()
                .skip(i + 1)
                .all(|(k, b)| a != b || !excludes(problem, i, k))
    })
}

#[cfg(test)]
mod tests;
