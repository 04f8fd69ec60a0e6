//! How far the position can be trusted: the radius that its error exceeds with no more than a
//! stated risk, wrong identities included.
//!
//! Every way to be wrong is a position of its own, with the chance that it is the true one:
//!
//! - each listed set of identities, at its posterior: those of the stated place and of its rivals;
//! - each of them again without one, two, three … of its echoes, for the fault that no list has (an
//!   echo that is something else altogether, a blunder in reading it), at the chance of that fault;
//! - the reckoning, at the posterior that none of the listed places is right;
//! - where several names carry it, each place of the contacts without any name, at the chance that all names
//!   come of one mistake;
//! - the contacts without the reckoning, at the rate at which reckonings are false.
//!
//! Each is a normal law with its mean off the stated position; the radius is the least at which the
//! chances of an error beyond it, summed over all ways, come to the risk. What is not looked at is
//! taken off the risk beforehand. The method is that of solution separation, R. G. Brown and P. W.
//! `McBurney`, "Self-contained GPS integrity check using maximum solution separation", Navigation 35
//! (1988) (from memory), the listed alternatives and the odds of each fault added here.

mod echoes;
mod ways;
mod why;

use super::case::Case;
use super::finding::Finding;
use super::one_mistake::OneMistake;
use super::report::Protection;
use crate::geodesy::{LocalPlane, Position, radii_about, radius_between};
use crate::identity::{Hypothesis, Mode, Posterior, Solution};
use crate::units::GroundRange;
use ways::{Cause, Place, Way, Ways, summed};

/// How often a reckoning is not what it is said to be.
const RECKONING_FAULT: f64 = 0.001;
/// The radius is found to this share of itself.
const CLOSE: f64 = 5e-5;
/// A radius is told where it is under this share of what the reckoning alone has at the same risk:
/// a larger one is the reckoning's, not the contacts'.
const WORTH_TELLING: f64 = 0.5;

/// The radius that the error exceeds with no more than the stated risk, or why there is none.
pub(super) fn protection(case: &Case<'_>, finding: &Finding<'_>, risk: f64) -> Protection {
    let Finding { posterior, mode, .. } = *finding;
    let mut ways = ways_to_be_wrong(case, posterior, mode, finding.alone.as_ref(), risk);
    if let Some(mistake) = &finding.one_mistake {
        ways.take_names_for_mistaken(case, mistake, mode);
    }
    let limit = WORTH_TELLING * case.reckoned().circle(1.0 - risk).metres();
    let told = ways.least_radius(risk).filter(|radius| *radius < limit);
    Protection {
        risk,
        radius: told.map(GroundRange::clamped_metres),
        assured: told.is_some(),
        why: told.is_none().then(|| {
            let of_names = finding.one_mistake.iter().flat_map(|mistake| mistake.rivals(mode));
            let of_names: f64 = of_names.map(|(_, chance)| chance).sum();
            let rivals = (1.0 - mode.probability - posterior.none).max(0.0) + of_names;
            why::why(case, &ways, rivals, limit)
        }),
    }
}

fn ways_to_be_wrong(
    case: &Case<'_>,
    posterior: &Posterior,
    mode: &Mode,
    alone: Option<&Solution>,
    risk: f64,
) -> Ways {
    let off = off_from(mode);
    let mut ways = Ways::new(risk, case.problem.any_shore);
    let place =
        |solution: &Solution, chance, here| Place { off: off(solution.position), chance, here };
    let sets = posterior.hypotheses.iter().enumerate();
    let sets = sets.map(|(index, Hypothesis { targets, solution, probability, .. })| {
        let here = mode.members.contains(&index);
        (solution, targets.as_slice(), place(solution, *probability, here))
    });
    ways.take(&sets.collect::<Vec<_>>());
    ways.push(Way {
        chance: posterior.none,
        off: off(case.problem.prior.position),
        covariance: case.reckoned(),
        cause: Cause::NoneListed,
    });
    let best = mode.members.first().and_then(|&index| posterior.hypotheses.get(index));
    match (alone, best) {
        (Some(alone), Some(best)) => {
            ways.take_without_reckoning(alone, &best.targets, place(alone, RECKONING_FAULT, true));
        }
        _ => ways.leave_out(RECKONING_FAULT),
    }
    ways
}

/// East and north of the stated position, metres.
fn off_from(mode: &Mode) -> impl Fn(Position) -> [f64; 2] {
    let plane = LocalPlane::new(mode.position);
    move |position| {
        let point = plane.to_plane(position);
        [point.east, point.north]
    }
}

impl Ways {
    /// All names being one mistake: each place that the contacts may have us at without them.
    fn take_names_for_mistaken(&mut self, case: &Case<'_>, mistake: &OneMistake, mode: &Mode) {
        let off = off_from(mode);
        for (other, chance) in mistake.rivals(mode) {
            let (off, covariance) = (off(other.position), other.covariance);
            self.push(Way { chance, off, covariance, cause: Cause::Elsewhere });
        }
        self.push(Way {
            chance: mistake.none(),
            off: off(case.problem.prior.position),
            covariance: case.reckoned(),
            cause: Cause::NoneListed,
        });
    }

    /// In metres; none where there is none.
    fn least_radius(&self, risk: f64) -> Option<f64> {
        let budget = risk - self.left_out();
        if budget <= 0.0 {
            return None;
        }
        let (least, most) = radii_about(|radius| self.is_over(budget, radius))?;
        let (telling, passed) = self.telling_beyond(least);
        let beyond = |radius: f64| passed + summed(&telling, |way| way.beyond(radius));
        Some(radius_between((least, most), budget, CLOSE, beyond))
    }
}

#[cfg(test)]
mod tests;
