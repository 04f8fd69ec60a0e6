use std::collections::{BTreeMap, HashMap};

use rayon::prelude::*;

use super::{Hypothesis, Look, apart, log_priors, same_place};
use crate::identity::any_shore::log_at_sea;
use crate::identity::budget::LogSum;
use crate::identity::estimator::{Effort, Solution, solve_within};
use crate::identity::problem::{Answering, Charted, Level, Problem, Sight, Targets};
use crate::identity::proposal::Proposal;

/// Sets this many nats behind the best are let go.
const PROPOSED_NATS: f64 = 20.0;
const ROUGH_NATS: f64 = 16.0;
const FULL_NATS: f64 = 11.0;
/// And this many more while a set is solved by its first steps alone.
const NOT_YET_NATS: f64 = 4.0;
/// A start that its first steps leave this far behind would not come up with the rest.
const BEGUN_NATS: f64 = 60.0;

/// The part of all weight that has been looked at, stage by stage.
///
/// Each stage weighs in a measure of its own, rougher or finer; it is the shares that carry over.
pub(super) struct Explored {
    share: f64,
}

impl Default for Explored {
    fn default() -> Self {
        Self { share: 1.0 }
    }
}

impl Explored {
    pub(super) fn let_go(&mut self, kept: LogSum, dropped: LogSum) {
        self.share *= kept.share_beside(dropped);
    }

    /// Logarithm of what was let go over what was kept.
    pub(super) fn log_odds_against(&self) -> f64 {
        let share = self.share.clamp(f64::MIN_POSITIVE, 1.0);
        ((1.0 - share) / share).ln()
    }

    /// Takes off what is behind the best by more than so many nats, and all but the best few.
    fn cut(&mut self, sets: &mut Vec<Hypothesis>, most: usize, nats: f64) {
        likeliest_first(sets);
        let least = sets.first().map_or(0.0, |h| h.log_weight) - nats;
        let worth = sets.partition_point(|h| h.log_weight >= least).min(most);
        let beyond = sets.split_off(worth);
        // The place of the best with a contact more or less is no rival of it.
        let rivals = beyond
            .iter()
            .filter(|h| sets.first().is_none_or(|best| !same_place(&best.solution, &h.solution)));
        let rivals: LogSum = rivals.map(|h| h.log_weight).collect();
        self.let_go(sets.iter().map(|h| h.log_weight).collect(), rivals);
    }
}

/// Sorts, by numbers first: a set is large, and is moved but once.
fn likeliest_first(sets: &mut Vec<Hypothesis>) {
    let mut order: Vec<(f64, usize)> =
        sets.iter().enumerate().map(|(index, set)| (set.log_weight, index)).collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut taken: Vec<Option<Hypothesis>> = std::mem::take(sets).into_iter().map(Some).collect();
    sets.extend(order.iter().filter_map(|(_, index)| taken.get_mut(*index)?.take()));
}

/// Solves proposals with every mark answering from its charted point, somewhere within its slack.
pub(super) fn roughly(
    problem: &Problem,
    answering: &dyn Answering,
    proposals: &[Proposal],
    most: usize,
    explored: &mut Explored,
) -> Vec<Hypothesis> {
    let mut loose = problem.clone();
    for candidate in &mut loose.candidates {
        candidate.sigma_m = candidate.sigma_m.hypot(candidate.slack_m);
    }
    let total: f64 = problem.candidates.iter().map(|c| c.weight).sum::<f64>().max(1e-12);
    let solved_one = |proposal: &Proposal, answering: &dyn Answering, effort: Effort| {
        let Proposal { targets, position, bias, .. } = proposal;
        let solution = solve_within(&loose, answering, targets, *position, *bias, true, effort)?;
        let share =
            |_: &Sight, c: usize| problem.candidates.get(c).map_or(0.0, |c| c.weight / total);
        let log_weight = solution.log_evidence() + log_priors(problem, targets, share);
        let targets = targets.clone();
        Some(Hypothesis { targets, solution, log_weight, probability: 0.0 })
    };
    let top = proposals.first().map_or(0.0, |p| p.log_weight);
    let (near, far): (Vec<&Proposal>, Vec<&Proposal>) = proposals
        .iter()
        .filter(|proposal| !is_bare(&proposal.targets))
        .partition(|proposal| proposal.log_weight >= top - PROPOSED_NATS);
    let weight = |of: &[&Proposal]| of.iter().map(|p| p.log_weight).collect();
    explored.let_go(weight(&near), weight(&far));
    let all: Vec<Option<Hypothesis>> = if needs_the_shore(problem) {
        let begun = near.par_iter().map(|it| solved_one(it, answering, Effort::BEGUN));
        let begun = worth_going_on(begun.flatten().collect());
        begun.par_iter().map(|it| solved_one(it, answering, Effort::THOROUGH)).collect()
    } else {
        // A place by lone ranges or bearings may be some way from where they lead.
        let is_near = problem.sights.iter().all(|s| s.range.is_some() && s.bearing.is_some());
        let effort = if is_near { Effort::ROUGH } else { Effort::THOROUGH };
        near.par_iter().map(|proposal| solved_one(proposal, &Charted, effort)).collect()
    };
    let mut solved = distinct(all.into_iter().flatten());
    explored.cut(&mut solved, most, ROUGH_NATS);
    solved
}

/// What first steps came to, each place once, without what lies so far behind the best that its last steps
/// would not make it up: many starts all over the reckoning's ellipse end in few hollows.
fn worth_going_on(begun: Vec<Hypothesis>) -> Vec<Proposal> {
    let begun = distinct(begun.into_iter());
    let best = begun.iter().map(|set| set.log_weight).fold(f64::NEG_INFINITY, f64::max);
    let worth = begun.into_iter().filter(|set| set.log_weight >= best - BEGUN_NATS);
    let go_on = worth.map(|Hypothesis { targets, solution, log_weight, .. }| Proposal {
        targets,
        position: solution.position,
        bias: solution.bearing_bias().0,
        log_weight,
    });
    go_on.collect()
}

/// Whether a set of identities leaves out every contact: "none of these" stands for it.
pub(super) fn is_bare(targets: &[Option<usize>]) -> bool {
    targets.iter().all(Option::is_none)
}

/// Whether a contact is the nearest shore, which has no charted point.
fn needs_the_shore(problem: &Problem) -> bool {
    problem.sights.iter().any(|s| s.surely.is_some())
}

/// One set of identities may have two places; the same place is not counted twice.
pub(super) fn keep_distinct(solved: &mut Vec<Hypothesis>, new: Hypothesis) {
    let known = solved.iter().any(|old| old.targets == new.targets && is_one(old, &new));
    if !known {
        solved.push(new);
    }
}

/// Whether two solutions of the same identities are one place.
fn is_one(old: &Hypothesis, new: &Hypothesis) -> bool {
    let (metres, squared) = apart(&old.solution, &new.solution);
    metres < 100.0 || squared < 0.25
}

/// Many sets, each place of each of them once, the first of it.
fn distinct(sets: impl Iterator<Item = Hypothesis>) -> Vec<Hypothesis> {
    let mut kept: Vec<Hypothesis> = Vec::new();
    let mut of_targets: HashMap<Targets, Vec<usize>> = HashMap::new();
    for new in sets {
        let known = of_targets.entry(new.targets.clone()).or_default();
        if !known.iter().filter_map(|&index| kept.get(index)).any(|old| is_one(old, &new)) {
            known.push(kept.len());
            kept.push(new);
        }
    }
    kept
}

/// A set of identities with where it puts us.
type Put = (Targets, Solution);

/// All that might be picked from a place, by the level it is looked at from.
type Totals = BTreeMap<Level, f64>;

/// Weighs many at once, each with all that might be picked from there.
fn weigh_all(
    look: &Look<'_>,
    sets: Vec<Put>,
    weighed: &(dyn Fn((Put, Totals)) -> Hypothesis + Sync),
) -> Vec<Hypothesis> {
    let levels = look.field().problem().levels();
    let totals_at = |at| levels.iter().map(|level| (*level, look.total(*level, at))).collect();
    let totals: Vec<Totals> =
        sets.iter().map(|(_, solution)| totals_at(solution.position)).collect();
    sets.into_par_iter().zip(totals).map(weighed).collect()
}

/// Solves once more with the part of each mark that answers, and weighs sight.
pub(super) fn fully(
    problem: &Problem,
    answering: &dyn Answering,
    look: &Look<'_>,
    rough: Vec<Hypothesis>,
    explored: &mut Explored,
) -> Vec<Hypothesis> {
    let solved = |hypothesis: Hypothesis, effort: Effort| {
        let Hypothesis { targets, solution: start, .. } = hypothesis;
        let bias = start.bearing_bias().0;
        let solution =
            solve_within(problem, answering, &targets, start.position, bias, true, effort)?;
        Some((targets, solution))
    };
    let sighting = look.sighting();
    let field = look.field();
    // From what there is in sight about each, which is found first.
    let weighed = |((targets, solution), totals): (Put, Totals)| {
        let share = |sight: &Sight, candidate: usize| {
            let total = totals.get(&sight.level).copied().unwrap_or(0.0);
            field.share_of((sight.level, solution.position), candidate, total)
        };
        let log_weight = solution.log_evidence()
            + log_priors(problem, &targets, share)
            + log_at_sea(problem, sighting, &targets, &solution);
        Hypothesis { targets, solution, log_weight, probability: 0.0 }
    };
    // A few steps tell which sets are worth the rest of them.
    let begun: Vec<Option<Put>> =
        rough.into_par_iter().map(|set| solved(set, Effort::ROUGH)).collect();
    let begun: Vec<Put> = begun.into_iter().flatten().collect();
    look.look_from(begun.iter().map(|(_, solution)| solution.position));
    let mut worth = weigh_all(look, begun, &weighed);
    explored.cut(&mut worth, usize::MAX, FULL_NATS + NOT_YET_NATS);
    let (settled, unsettled): (Vec<_>, Vec<_>) =
        worth.into_iter().partition(|set| set.solution.settled);
    let ended: Vec<_> =
        unsettled.into_par_iter().filter_map(|set| solved(set, Effort::SEARCH)).collect();
    let ended = weigh_all(look, ended, &weighed);
    let mut distinct = distinct(settled.into_iter().chain(ended));
    explored.cut(&mut distinct, usize::MAX, FULL_NATS);
    distinct
}
