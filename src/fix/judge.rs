//! What the contacts come to: the rules of the verdict.

use std::collections::BTreeSet;

use super::case::Case;
use super::finding::{Elsewhere, Finding};
use super::geometry::leaves_a_direction_free;
use super::grade::Grade;
use super::one_mistake::OneMistake;
use super::report::{Comparison, Fix, Options, UNSEEN, Verdict};
use super::residuals::{consistency, tail};
use super::tell::{ambiguous, at_odds, fixed, nothing, tell_of_elsewhere, too_few};
use super::{unmatched, words};
use crate::geodesy::{Covariance, LocalPlane, course};
use crate::identity::{
    Hypothesis, Mode, Posterior, Problem, Solution, Support, identify, identify_widely,
};

/// A name given with at least this confidence may carry a fix by itself.
const SURE_NAME: f64 = 0.8;
/// A name need not come out likelier than this: what is kept back for the unforeseen is not held
/// against it.
const MOST_KEPT: f64 = 0.95;
/// A place is held to by no fewer marks that should paint, where it rests on some that should not.
const LEAST_SEEN: usize = 2;
/// The reckoning is false this often; then its error is [`SPREAD`] times what is stated.
const FALSE_RECKONING: f64 = 1e-3;
const SPREAD: f64 = 5.0;
/// With names to go by, the contacts may be looked for this far off.
const NAMED_SPREAD: f64 = 30.0;

/// The assurance asked for, within what may be.
pub(super) fn assurance(options: &Options) -> f64 {
    options.assurance.clamp(0.9, 0.9999)
}

/// Weighs every set of identities; nothing in it where nothing was measured.
pub(super) fn weigh(case: &Case<'_>) -> Posterior {
    if case.problem.sights.iter().all(|s| s.scalars() == 0) {
        return Posterior::default();
    }
    identify(&case.problem, case.answering, case.sighting)
}

/// Weighs the case and says what it comes to.
#[cfg(test)]
pub(super) fn judge(case: &Case<'_>, options: &Options) -> Fix {
    decide(case, options, &weigh(case))
}

/// Says what the case comes to, its sets of identities weighed.
pub(super) fn decide(case: &Case<'_>, options: &Options, posterior: &Posterior) -> Fix {
    let assurance = assurance(options);
    if case.problem.sights.iter().all(|s| s.scalars() == 0) {
        return nothing(case, options, Verdict::TooFew, words::NO_CONTACT.to_owned());
    }
    let Some((mode, best)) = posterior.best() else {
        return unexplained(case, options);
    };
    let mut finding = examine(case, posterior, mode, best, assurance);
    let held = mode.probability >= assurance || finding.rests_on_names;
    // A ship or two beside a sure fix are no reason to look elsewhere.
    let left_out = Support::left_out(&case.problem, &best.targets);
    let echoes = |of: &Hypothesis| Support::of(&case.problem, &of.targets).echoes();
    // Where most sets were not followed to the end, still fewer would be so farther off.
    let seen_through = posterior.unexplored < 0.5;
    let doubtful = posterior.nothing_charted() > 0.5
        || seen_through && left_out > 0 && (!held || 2 * left_out > echoes(best))
        || !finding.odds.is_empty()
        || finding.comparison.chi2.is_some_and(|chi2| tail(chi2, 2) < 0.05);
    if doubtful && let Some(other) = agreement_elsewhere(case, posterior, finding.mode) {
        // What else speaks against the place within the reckoning is nothing against that one.
        finding.odds = vec![other.why.clone()];
        let rejected = case.rejected(&other.targets);
        if !rejected.is_empty() {
            finding.odds.push(words::name_not_borne_out(case, &rejected, &other.targets));
        }
        return at_odds(case, options, &finding, Some(&other));
    }
    if held && finding.odds.is_empty() && !finding.free {
        finding.one_mistake = OneMistake::of(case, mode, best);
        let against = finding.one_mistake.as_ref().and_then(OneMistake::speaks_against);
        let Some(against) = against else { return fixed(case, options, &finding) };
        finding.odds.push(words::one_mistake(finding.mode, against));
    }
    if !finding.odds.is_empty() {
        return at_odds(case, options, &finding, None);
    }
    if finding.free {
        return too_few(case, options, &finding);
    }
    if posterior.nothing_charted() > 0.5 {
        finding.odds.push(words::NO_LIKELY_SET.to_owned());
        return at_odds(case, options, &finding, None);
    }
    ambiguous(case, options, &finding)
}

fn examine<'a>(
    case: &Case<'_>,
    posterior: &'a Posterior,
    mode: &'a Mode,
    best: &'a Hypothesis,
    assurance: f64,
) -> Finding<'a> {
    let alone = case.alone(&best.targets, &best.solution);
    let free = leaves_a_direction_free(&case.problem, alone.as_ref());
    let comparison = compare(case, mode, alone.as_ref().filter(|_| !free), best);
    let rejected = case.rejected(&best.targets);
    let rests_on_names = rests_on_names(case, posterior, mode, best, assurance);
    let mut finding = Finding {
        posterior,
        mode,
        best,
        alone: alone.filter(|_| !free),
        free,
        comparison,
        rejected,
        rests_on_names,
        one_mistake: None,
        assurance,
        odds: Vec::new(),
    };
    finding.odds = reasons(case, &finding, assurance);
    finding
}

/// What puts the contacts at odds with something.
fn reasons(case: &Case<'_>, finding: &Finding<'_>, assurance: f64) -> Vec<String> {
    let mut odds = Vec::new();
    let held = finding.mode.probability >= assurance;
    if !finding.rejected.is_empty() && (!held || finding.free) {
        odds.push(words::name_not_borne_out(case, &finding.rejected, &finding.best.targets));
    }
    if finding.comparison.agrees() == Some(false) {
        odds.push(words::reckoning_speaks_against(case, finding));
    }
    let global = consistency(&finding.best.solution);
    if global.p < Grade::AT_ODDS && finding.comparison.agrees() != Some(false) {
        odds.push(words::contacts_disagree(case, &finding.best.solution));
    }
    if finding.rests_on_names && !held {
        odds.extend(unseen(case, finding).map(|it| words::should_not_paint(case, it)));
    }
    if held {
        odds.extend(rests_on_unseen(case, finding));
    }
    odds
}

/// The contacts of marks that should not paint from there, and which.
fn unseen<'f>(
    case: &'f Case<'_>,
    finding: &'f Finding<'_>,
) -> impl Iterator<Item = (usize, usize)> + 'f {
    let from = finding.best.solution.position;
    finding
        .best
        .targets
        .iter()
        .enumerate()
        .filter(|(sight, _)| !case.is_of_no_mark(*sight))
        .filter_map(|(sight, target)| target.map(|candidate| (sight, candidate)))
        .filter(move |(sight, candidate)| {
            !case.is_any_shore(*candidate) && case.chance_then(*sight, from, *candidate) < UNSEEN
        })
}

/// What a place rests on, however likely, that should not paint from there, unless two marks of it should or
/// are named: such echoes are of ground that the chart has no mark for, and fit whatever lies near.
fn rests_on_unseen(case: &Case<'_>, finding: &Finding<'_>) -> Vec<String> {
    let is_named = |(sight, candidate): &(usize, usize)| {
        let belief = case.problem.sights.get(*sight).and_then(|sight| sight.belief);
        belief.is_some_and(|belief| belief.candidate == *candidate)
    };
    let unseen: Vec<(usize, usize)> = unseen(case, finding).filter(|one| !is_named(one)).collect();
    let marks = Support::of(&case.problem, &finding.best.targets).marks;
    let hidden: BTreeSet<usize> = unseen.iter().map(|(_, candidate)| *candidate).collect();
    if marks >= hidden.len() + LEAST_SEEN {
        return Vec::new();
    }
    unseen.into_iter().map(|one| words::rather_behind(case, one)).collect()
}

/// Whether the one exception to the asked assurance holds: a range and a bearing of one mark that
/// the operator names, and neither chart nor reckoning speaks against the name.
///
/// They speak against it where it comes out less likely than it was given: then another mark that
/// should paint explains the contact better from within the reckoning than the named one does.
fn rests_on_names(
    case: &Case<'_>,
    posterior: &Posterior,
    mode: &Mode,
    best: &Hypothesis,
    assurance: f64,
) -> bool {
    let confidence = |sight: usize, candidate: usize| {
        let belief = case.problem.sights.get(sight).and_then(|s| s.belief)?;
        (belief.candidate == candidate).then_some(belief.confidence)
    };
    let used: Vec<(usize, Option<usize>)> = best
        .targets
        .iter()
        .enumerate()
        .filter(|(sight, _)| case.problem.sights.get(*sight).is_some_and(|s| s.scalars() > 0))
        .map(|(sight, target)| (sight, *target))
        .collect();
    let mark = used.first().and_then(|(_, target)| *target);
    let of_one_mark = mark.is_some() && used.iter().all(|(_, target)| *target == mark);
    let least = used
        .iter()
        .map(|&(sight, target)| target.and_then(|c| confidence(sight, c)).unwrap_or(0.0))
        .fold(1.0, f64::min);
    let measured = |direction| best.solution.rows.iter().any(|row| row.is_direction() == direction);
    let kept: f64 = posterior
        .modes
        .iter()
        .filter(|other| {
            let lead = other.members.first().and_then(|&h| posterior.hypotheses.get(h));
            lead.is_some_and(|h| h.targets == best.targets)
        })
        .map(|other| other.probability)
        .sum();
    of_one_mark
        && measured(true)
        && measured(false)
        && least >= SURE_NAME
        && mode.probability >= least.min(MOST_KEPT)
        && mode.probability >= assurance * kept
}

/// The reckoning, carried, against where the contacts put us.
fn compare(
    case: &Case<'_>,
    mode: &Mode,
    alone: Option<&Solution>,
    best: &Hypothesis,
) -> Comparison {
    let from = case.problem.prior.position;
    let line = course(from, mode.position);
    let (chi2, grade) = if let Some(alone) = alone {
        let off = LocalPlane::new(alone.position).to_plane(from);
        let sum = alone.position_covariance().plus(case.reckoned());
        let chi2 = sum.mahalanobis_squared(off.east, off.north);
        (chi2, Grade::of_distance(chi2))
    } else {
        // What is left of everything together: it may damn the reckoning, but casts no doubt on it
        // alone.
        let chi2 = best.solution.cost;
        let chance = tail(chi2, best.solution.rows.len());
        (chi2, if chance >= Grade::AT_ODDS { Grade::Allowed } else { Grade::AtOdds })
    };
    Comparison {
        offset: Some(line.distance),
        bearing: Some(line.initial),
        chi2: chi2.is_finite().then_some(chi2),
        grade: Some(grade),
    }
}

/// Looks wider than the reckoning states. A place there competes at the rate at which reckonings
/// are false; it counts where it leaves the best place within the reckoning no assurance.
fn agreement_elsewhere(case: &Case<'_>, posterior: &Posterior, mode: &Mode) -> Option<Elsewhere> {
    let found = widely(case)?;
    let wide_weight = FALSE_RECKONING.ln() + found.log_evidence;
    let here_weight = posterior.log_evidence + mode.probability.max(1e-9).ln();
    let best = found.best()?.1.clone();
    let apart = LocalPlane::new(mode.position).to_plane(best.solution.position);
    let same = mode
        .covariance
        .plus(best.solution.position_covariance())
        .mahalanobis_squared(apart.east, apart.north)
        < 16.0;
    let echoes = Support::of(&case.problem, &best.targets).echoes();
    let agrees = found.none_by_evidence() < 0.5 && echoes >= 2;
    if same || !agrees || wide_weight < here_weight {
        return None;
    }
    elsewhere(case, best)
}

fn elsewhere(case: &Case<'_>, best: Hypothesis) -> Option<Elsewhere> {
    let alone = case.alone(&best.targets, &best.solution)?;
    if leaves_a_direction_free(&case.problem, Some(&alone)) {
        return None;
    }
    let why = words::agree_elsewhere(case, &alone);
    Some(Elsewhere { solution: alone, targets: best.targets, why })
}

/// The posterior with the reckoning's error taken much larger than stated.
fn widely(case: &Case<'_>) -> Option<Posterior> {
    let named = (0..case.labels.len()).any(|sight| case.stated(sight).is_some());
    let spread = if named { NAMED_SPREAD } else { SPREAD };
    let [ee, en, nn] = case.problem.prior.covariance.square_metres().map(|v| v * spread * spread);
    let mut problem: Problem = case.problem.clone();
    problem.prior.covariance = Covariance::from_square_metres(ee, en, nn).ok()?;
    Some(identify_widely(&problem, case.answering, case.sighting))
}

/// No set of identities at all within the reckoning.
fn unexplained(case: &Case<'_>, options: &Options) -> Fix {
    let wide = widely(case);
    let elsewhere = wide.and_then(|found| {
        let best = found.best()?.1.clone();
        let sure = found.none_by_evidence() < 0.5 && best.targets.iter().flatten().count() >= 1;
        let named = case.rejected(&best.targets).is_empty()
            && (0..case.labels.len()).any(|s| case.stated(s).is_some());
        let echoes = Support::of(&case.problem, &best.targets).echoes();
        if sure && (named || echoes >= 2) { elsewhere(case, best) } else { None }
    });
    let why = match &elsewhere {
        Some(other) => other.why.clone(),
        None => words::nothing_fits(case),
    };
    let mut fix = nothing(case, options, Verdict::AtOdds, why);
    fix.none_of_these = 1.0;
    fix.unmatched = unmatched::without_position(case);
    if let Some(other) = elsewhere {
        tell_of_elsewhere(case, &mut fix, &other);
    }
    fix
}

#[cfg(test)]
mod tests;
