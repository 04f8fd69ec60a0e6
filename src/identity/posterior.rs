mod kept_back;
mod look;
mod stages;

use std::collections::BTreeMap;

pub(crate) use self::kept_back::{Support, error_of_run_m, kept_back};
use self::kept_back::{floor, misfit};
use self::look::Look;
use self::stages::{Explored, fully, is_bare, keep_distinct, roughly};
use super::any_shore::{Shores, share_of_marks};
use super::budget::{Budget, LogSum};
use super::estimator::Solution;
use super::kin::{log_all_off_chart, log_all_wrong, log_shared};
use super::laid::Laid;
#[cfg(test)]
use super::prior::excludes;
use super::prior::{log_off_chart, log_plotted, log_prior};
use super::problem::{Answering, Level, Problem, Sight, Targets};
use super::proposal::propose;
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// Prior of "not one of these contacts is on this chart", where the operator names none. A set of
/// which nothing is charted then passes at assurance 0.99 with a chance of nine in a hundred at
/// most, whatever the coast (Markov's inequality on the likelihood ratio, whose mean is one), and
/// in simulation far more rarely.
const NONE_PRIOR: f64 = 0.1;
/// Degrees of freedom with which the stated errors are believed, when residuals speak against them.
const BELIEF: f64 = 6.0;
/// Places within this squared statistical distance are one.
const OVERLAP: f64 = 5.0;

/// The chance that a mark paints, seen from where own place was at a level, which is told by where it is at the
/// common time.
pub trait Sighting: Sync {
    /// For a candidate by its index, in `[0, 1]`.
    ///
    /// - `level`: how high it is looked at from, and how far back along the run.
    /// - `from`: own place at the common time.
    fn chance(&self, level: Level, from: Position, candidate: usize) -> f64;

    /// For a stretch of shore that is no mark, in `[0, 1]`.
    fn shore_chance(&self, _level: Level, _from: Position, _shore: Position) -> f64 {
        1.0
    }

    /// Own place at a level, from that at the common time.
    fn then(&self, _level: Level, now: Position) -> Position {
        now
    }

    /// How likely something that is not on the chart lies at a place, against a place at sea.
    fn sea_chance(&self, _at: Position) -> f64 {
        1.0
    }
}

/// Every mark is in sight from everywhere.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unobstructed;

impl Sighting for Unobstructed {
    fn chance(&self, _: Level, _: Position, _: usize) -> f64 {
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
    /// The part of `none` that is kept back whatever the evidence.
    pub kept_back: f64,
    /// The part of `none` that stands for sets let go to keep within the budget of work.
    pub unexplored: f64,
    /// Logarithm of all weight, no temper: to compare with another reckoning's.
    pub log_evidence: f64,
}

impl Posterior {
    /// How likely none of the sets is right by the evidence alone, what is kept back left out: a
    /// lone contact is held in doubt, but is not for that at odds with the chart.
    pub fn none_by_evidence(&self) -> f64 {
        let believed = (1.0 - self.kept_back).max(1e-9);
        ((self.none - self.kept_back) / believed).clamp(0.0, 1.0)
    }

    /// How likely nothing on the chart explains the contacts: sets not followed to the end were
    /// some explanation, and do not speak for it.
    pub fn nothing_charted(&self) -> f64 {
        let believed = (1.0 - self.kept_back).max(1e-9);
        ((self.none - self.kept_back - self.unexplored) / believed).clamp(0.0, 1.0)
    }

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
    identify_within(problem, answering, sighting, &Budget::default())
}

/// The same with less work, for a look far beyond the reckoning.
pub(crate) fn identify_widely(
    problem: &Problem,
    answering: &dyn Answering,
    sighting: &dyn Sighting,
) -> Posterior {
    identify_within(problem, answering, sighting, &Budget::WIDE)
}

/// The same within a budget of work: what is let go on the way lowers every probability.
pub(super) fn identify_within(
    problem: &Problem,
    answering: &dyn Answering,
    sighting: &dyn Sighting,
    budget: &Budget,
) -> Posterior {
    let laid = Laid::of(problem);
    let proposals = propose(problem, &laid, answering, budget);
    let look = Look::new(problem, &laid, sighting);
    let mut explored = Explored::default();
    let worth: LogSum =
        proposals.sets.iter().filter(|p| !is_bare(&p.targets)).map(|p| p.log_weight).collect();
    explored.let_go(worth, proposals.dropped);
    let rough = roughly(problem, answering, &proposals.sets, budget.full, &mut explored);
    let mut hypotheses = fully(problem, answering, &look, rough, &mut explored);
    if let Some(any_shore) = problem.any_shore {
        let shores = Shores { problem, answering, sighting, any_shore };
        for fresh in shores.instead_of_ships(&hypotheses) {
            keep_distinct(&mut hypotheses, fresh);
        }
        for fresh in shores
            .instead_of_one_mark(&hypotheses, &|sight, at, mark| look.share(sight.level, at, mark))
        {
            keep_distinct(&mut hypotheses, fresh);
        }
    }
    hypotheses.sort_by(|a, b| b.log_weight.total_cmp(&a.log_weight));
    let found: LogSum = hypotheses.iter().map(|h| h.log_weight).collect();
    let unexplored = weigh(problem, &mut hypotheses, found.log() + explored.log_odds_against());
    let misfit = misfit(&mut hypotheses);
    let unexplored = unexplored * (1.0 - misfit);
    let modes = modes(&hypotheses);
    let none = (1.0 - modes.iter().map(|m| m.probability).sum::<f64>()).clamp(0.0, 1.0);
    let kept_back = misfit + (1.0 - misfit) * floor(problem, hypotheses.first());
    Posterior { hypotheses, modes, none, kept_back, unexplored, log_evidence: found.log() }
}

/// How far one solution lies from another: in metres, and squared in their standard deviations.
fn apart(one: &Solution, other: &Solution) -> (f64, f64) {
    let off = LocalPlane::new(one.position).to_plane(other.position);
    let sum = one.position_covariance().plus(other.position_covariance());
    (off.east.hypot(off.north), sum.mahalanobis_squared(off.east, off.north))
}

/// Logarithm of the prior of a set of identities, and of the density of the contacts it leaves out.
///
/// - `share`: a candidate's part of all that might have been picked when a sight was measured.
fn log_priors(
    problem: &Problem,
    targets: &[Option<usize>],
    share: impl Fn(&Sight, usize) -> f64,
) -> f64 {
    let share = |sight: &Sight, mark| share_of_marks(problem, sight) * share(sight, mark);
    let of_each: f64 = problem
        .sights
        .iter()
        .zip(targets)
        .filter(|(sight, _)| sight.surely.is_none())
        .map(|(sight, target)| match *target {
            Some(candidate) => log_prior(sight, candidate, share(sight, candidate)),
            None => log_left_out(problem, sight),
        })
        .sum();
    of_each + log_shared(problem, targets, share)
}

/// Logarithm of the prior and density of a sight that is nothing on the chart.
pub(super) fn log_left_out(problem: &Problem, sight: &Sight) -> f64 {
    log_off_chart(sight, problem.reach_m) + log_plotted(sight)
}

/// Gives every hypothesis its share of the posterior; the share of what was let go comes back.
fn weigh(problem: &Problem, hypotheses: &mut [Hypothesis], unexplored: f64) -> f64 {
    let none = log_none(problem);
    let best = hypotheses.iter().map(|h| h.log_weight).fold(none.max(unexplored), f64::max);
    let share = |log_weight: f64| (log_weight - best).exp();
    let left = share(none) + share(unexplored);
    let total: f64 = hypotheses.iter().map(|h| share(h.log_weight)).sum::<f64>() + left;
    let kept_back = floor(problem, hypotheses.first());
    for hypothesis in hypotheses {
        hypothesis.probability = (1.0 - kept_back) * share(hypothesis.log_weight) / total;
    }
    let unexplored = (1.0 - kept_back) * share(unexplored) / total;
    if unexplored.is_finite() { unexplored } else { 0.0 }
}

/// Logarithm of the weight of "none of the contacts is on this chart".
fn log_none(problem: &Problem) -> f64 {
    let mut log = NONE_PRIOR.ln() + log_all_wrong(problem) + log_all_off_chart(problem);
    if problem.sights.iter().all(|s| s.surely.is_some()) {
        return f64::NEG_INFINITY;
    }
    for sight in &problem.sights {
        log += log_off_chart(sight, problem.reach_m) + log_plotted(sight)
            - sight.off_chart.max(f64::MIN_POSITIVE).ln();
    }
    log
}

/// Gathers hypotheses by place, likeliest first.
fn modes(hypotheses: &[Hypothesis]) -> Vec<Mode> {
    let Some(first) = hypotheses.first() else { return Vec::new() };
    let plane = LocalPlane::new(first.solution.position);
    let spots: Vec<Spot> = hypotheses.iter().map(|h| Spot::of(&h.solution, &plane)).collect();
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (index, (hypothesis, spot)) in hypotheses.iter().zip(&spots).enumerate() {
        let home = groups.iter_mut().find(|group| {
            let lead = group.first().and_then(|&lead| hypotheses.get(lead).zip(spots.get(lead)));
            lead.is_some_and(|(lead, at)| {
                !spot.is_far_from(at) && same_place(&lead.solution, &hypothesis.solution)
            })
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

/// A place with its spread, to see at a glance which others it cannot be the same as.
struct Spot {
    at: PlanePoint,
    variance: f64,
}

impl Spot {
    fn of(solution: &Solution, plane: &LocalPlane) -> Self {
        let [ee, _, nn] = solution.position_covariance().square_metres();
        Self { at: plane.to_plane(solution.position), variance: ee + nn }
    }

    /// Farther apart than [`same_place`] allows, with room for what the plane stretches.
    fn is_far_from(&self, other: &Self) -> bool {
        let overlap = (OVERLAP * (self.variance + other.variance)).sqrt();
        self.at.distance(other.at) > 1.2 * overlap.max(METRES_PER_NAUTICAL_MILE)
    }
}

/// Places whose errors overlap are one answer; so are places within a quarter mile.
fn same_place(one: &Solution, other: &Solution) -> bool {
    let (metres, squared) = apart(one, other);
    let miles = metres / METRES_PER_NAUTICAL_MILE;
    miles < 0.25 || miles < 1.0 && squared < 12.0 || squared < OVERLAP
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
            covariance: widened(&h.solution),
        })
        .collect();
    let probability: f64 = parts.iter().map(|p| p.weight).sum();
    let (mean, covariance) = mixture(&parts)?;
    Some(Mode { members, position: plane.to_position(mean), covariance, probability })
}

/// The error of a solution, wider where its residuals are greater than the errors stated allow, never
/// narrower: the stated errors count as [`BELIEF`] residuals of the size they should have. Where no
/// value is more than the position needs, there is nothing to tell by.
fn widened(solution: &Solution) -> Covariance {
    if solution.rows.len() <= 2 {
        return solution.position_covariance();
    }
    let values = solution.rows.len() as f64;
    // Two standard deviations of a sum of so many squares over its mean.
    let allowed = values + 2.0 * (2.0 * values).sqrt();
    let scale = ((BELIEF + solution.cost) / (BELIEF + allowed)).max(1.0);
    let [ee, en, nn] = solution.position_covariance().square_metres().map(|v| v * scale);
    Covariance::nearest(ee, en, nn).unwrap_or_else(Covariance::unknown)
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

#[cfg(test)]
mod tests;
