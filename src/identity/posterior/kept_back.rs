//! What is kept back whatever the evidence says: for gates, for places not listed, for a model that is
//! not the world.

use std::collections::BTreeSet;

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::{Hypothesis, same_place};
use crate::identity::kin;
use crate::identity::problem::Problem;
use crate::units::METRES_PER_NAUTICAL_MILE;

/// The posterior kept back for gates, places not listed and a model that is not the world, while no
/// more than four marks support the answer; each one more makes it a tenth. Where shore that is no
/// mark supports it as well, less than three make it ten times as much for each one missing.
const FLOOR: f64 = 0.003;
const FEWEST: f64 = 3.0;
const ENOUGH: f64 = 4.0;
const LEAST_FLOOR: f64 = 2e-5;
/// Shore that is no mark supports an answer half as well as a mark; an answer with a single mark is
/// held ten times as doubtful.
const SHORE_SUPPORT: f64 = 0.5;
const LONE_MARK: f64 = 10.0;
/// An outline bears itself out, point by point: it counts for so many marks more.
const OUTLINE_SUPPORT: usize = 2;
/// One mark without a name has nothing to bear it out: this many times as doubtful.
const LONE_CONTACT: f64 = 7.0;
/// A run between the contacts known no better than this, in metres, lets them fit neighbours of what
/// they were: what is kept back grows with its square. Of 326 fixes by contacts over ten minutes, the
/// run known to a mile and a half, 14 were wrong without this (simulated).
const RUN_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;
/// Residuals that come by chance less often than this fit poorly: the odds against the answer are
/// then so many times as great. See [`misfit`].
const POOR_FIT: f64 = 0.05;
const MISFIT: f64 = 3.5;

/// What an answer rests on. Contacts of one mark, its near edge, its left and its right, are one echo, and so
/// are the parts of a small one, whatever marks they are taken for: what is wrong is wrong for all of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Support {
    /// Marks; each outline, and each range of the nearest shore, is one more.
    pub marks: usize,
    /// Stretches of shore that is no mark, each its own.
    pub shore: usize,
    /// Names that the operator surely gave, and that fit.
    pub names: usize,
}

impl Support {
    /// Of a set of identities.
    pub fn of(problem: &Problem, targets: &[Option<usize>]) -> Self {
        let (mut marks, mut names, mut shore) = (BTreeSet::new(), BTreeSet::new(), 0);
        for (index, (sight, target)) in problem.sights.iter().zip(targets).enumerate() {
            let Some(candidate) = *target else { continue };
            if Some(candidate) == problem.any_shore {
                shore += 1;
                continue;
            }
            // Of the nearest shore there is a place for each range.
            marks.insert((candidate, sight.surely.map(|_| index)));
            if sight.is_named_as(*target) {
                names.insert(candidate);
            }
        }
        let marks = marks.len().min(kin::echoes_of_marks(problem, targets));
        Self { marks, shore, names: names.len() }
    }

    /// How many echoes a set of identities leaves out.
    pub fn left_out(problem: &Problem, targets: &[Option<usize>]) -> usize {
        kin::echoes_left_out(problem, targets)
    }

    /// How many echoes are something charted.
    pub fn echoes(self) -> usize {
        self.marks + self.shore
    }
}

/// What is kept back whatever the evidence; a name that the operator gave counts as a mark more.
pub(super) fn floor(problem: &Problem, best: Option<&Hypothesis>) -> f64 {
    let Some(best) = best else { return FLOOR };
    let Support { marks, shore, names } = Support::of(problem, &best.targets);
    let traced = problem.sights.iter().zip(&best.targets);
    let traced = traced.filter(|(sight, at)| sight.traced.is_some() && at.is_some()).count();
    kept_back(marks + names + OUTLINE_SUPPORT * traced, shore, error_of_run_m(problem))
}

/// How well the run from the first contact to the last is known, one standard deviation, metres.
pub(crate) fn error_of_run_m(problem: &Problem) -> f64 {
    let times = || problem.sights.iter().map(|sight| sight.elapsed_s);
    let (first, last) = (times().fold(f64::INFINITY, f64::min), times().fold(0.0, f64::max));
    let prior = &problem.prior;
    (last - first).max(0.0) * prior.along_sigma.hypot(prior.across_sigma)
}

/// What is kept back with so many marks and so many stretches of other shore to support the answer,
/// the run between the contacts being known so well.
pub(crate) fn kept_back(marks: usize, shore: usize, error_of_run_m: f64) -> f64 {
    let support = marks as f64 + SHORE_SUPPORT * shore as f64;
    let more = -(support - ENOUGH).max(0.0);
    let (lone, fewer) = match (shore, marks) {
        (0, 0 | 1) => (LONE_CONTACT, 0.0),
        (0, _) => (1.0, 0.0),
        (_, 0 | 1) => (LONE_MARK, (FEWEST - support).max(0.0)),
        _ => (1.0, (FEWEST - support).max(0.0)),
    };
    let run = (error_of_run_m / RUN_M).powi(2).max(1.0);
    (FLOOR * lone * run * 10f64.powf(fewer + more)).clamp(LEAST_FLOOR, 0.5)
}

/// Doubts an answer that fits poorly, and gives the part kept back for it.
///
/// Residuals greater than the stated errors leave them in one case in twenty are met in 23 of 100
/// wrong answers and in 7 of 100 right ones (simulated, 65 and 395 fixes): the odds against it count
/// so much more.
pub(super) fn misfit(hypotheses: &mut [Hypothesis]) -> f64 {
    let Some(best) = hypotheses.first() else { return 0.0 };
    let (cost, values) = (best.solution.cost, best.solution.rows.len().max(1));
    let chance = ChiSquared::new(values as f64).map_or(1.0, |law| law.sf(cost.max(0.0)));
    if chance >= POOR_FIT {
        return 0.0;
    }
    let held: f64 = hypotheses
        .iter()
        .filter(|other| same_place(&best.solution, &other.solution))
        .map(|other| other.probability)
        .sum();
    let left = 1.0 / (held + MISFIT * (1.0 - held).max(0.0));
    for hypothesis in hypotheses {
        hypothesis.probability *= left;
    }
    1.0 - left
}
