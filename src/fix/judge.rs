use super::case::Case;
use super::geometry::leaves_a_direction_free;
use super::report::{
    Comparison, Estimate, Fix, Identity, Options, Protection, Residual, Rival, Verdict,
};
use super::residuals::{consistency, residuals, tail};
use super::{next, protection, unmatched, words};
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, course};
use crate::identity::{
    Hypothesis, Mode, Part, Posterior, Problem, Solution, identify, mixture, rows,
};
use crate::units::Angle;

/// One chance in a thousand: the tests that put a set at odds raise a false alarm that often.
pub(super) const ALARM: f64 = 1e-3;
/// A name given with at least this confidence may carry a fix by itself.
const SURE_NAME: f64 = 0.8;
/// The chart speaks against a name whose mark is this unlikely to paint from there.
const UNSEEN: f64 = 0.1;
/// The reckoning is false this often; then its error is [`SPREAD`] times what is stated.
const FALSE_RECKONING: f64 = 1e-3;
const SPREAD: f64 = 5.0;
/// With names to go by, the contacts may be looked for this far off.
const NAMED_SPREAD: f64 = 30.0;
/// Rivals less likely than this are summed up in "none of these", and no more than so many told.
const LEAST_RIVAL: f64 = 1e-3;
const MOST_RIVALS: usize = 12;

/// The best answer and what speaks for and against it.
pub(super) struct Finding<'a> {
    pub posterior: &'a Posterior,
    pub mode: &'a Mode,
    pub best: &'a Hypothesis,
    pub alone: Option<Solution>,
    pub free: bool,
    pub comparison: Comparison,
    pub rejected: Vec<usize>,
    pub rests_on_names: bool,
    /// Why the contacts are at odds; empty where they are not.
    pub odds: Vec<String>,
}

/// Weighs the case and says what it comes to.
pub(super) fn judge(case: &Case<'_>, options: &Options) -> Fix {
    let assurance = options.assurance.clamp(0.9, 0.9999);
    if case.problem.sights.iter().all(|s| s.scalars() == 0) {
        return nothing(case, options, Verdict::TooFew, words::NO_CONTACT.to_owned());
    }
    let posterior = identify(&case.problem, case.answering, case.sighting);
    let Some((mode, best)) = posterior.best() else {
        return unexplained(case, options);
    };
    let mut finding = examine(case, &posterior, mode, best, assurance);
    let held = mode.probability >= assurance || finding.rests_on_names;
    let doubtful = posterior.none > 0.5
        || best.matched() < case.problem.sights.len()
        || !finding.odds.is_empty()
        || finding.comparison.chi2.is_some_and(|chi2| tail(chi2, 2) < 0.05);
    if doubtful && let Some(other) = agreement_elsewhere(case, &posterior, finding.mode) {
        finding.odds.insert(0, other.why.clone());
        return at_odds(case, options, &finding, Some(&other));
    }
    if held && finding.odds.is_empty() && !finding.free {
        return fixed(case, options, &finding);
    }
    if !finding.odds.is_empty() {
        return at_odds(case, options, &finding, None);
    }
    if finding.free {
        return too_few(case, options, &finding);
    }
    if posterior.none > 0.5 {
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
        odds.push(words::name_not_borne_out(case, finding));
    }
    if finding.comparison.agrees == Some(false) {
        odds.push(words::reckoning_speaks_against(case, finding));
    }
    let global = consistency(&finding.best.solution);
    if global.p < ALARM && finding.comparison.agrees != Some(false) {
        odds.push(words::contacts_disagree(case, &finding.best.solution));
    }
    if finding.rests_on_names && !held {
        odds.extend(unseen_names(case, finding));
    }
    odds
}

/// Names that the fix would rest on, of marks that should not paint from there.
fn unseen_names(case: &Case<'_>, finding: &Finding<'_>) -> Vec<String> {
    let from = finding.best.solution.position;
    finding
        .best
        .targets
        .iter()
        .enumerate()
        .filter(|(sight, _)| !case.is_of_no_mark(*sight))
        .filter_map(|(sight, target)| target.map(|candidate| (sight, candidate)))
        .filter(|(_, candidate)| case.sighting.chance(from, *candidate) < UNSEEN)
        .map(|(sight, candidate)| words::should_not_paint(case, sight, candidate))
        .collect()
}

/// Whether the operator's names, not the geometry, single the place out, and nothing has weakened
/// them: every contact used is what he says, the place keeps most of the confidence he gave it,
/// and no other place keeps his names.
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
    let names: Vec<Option<f64>> = best
        .targets
        .iter()
        .enumerate()
        .filter(|(sight, _)| !case.is_of_no_mark(*sight))
        .filter_map(|(sight, target)| target.map(|candidate| confidence(sight, candidate)))
        .collect();
    let least = names.iter().map(|n| n.unwrap_or(0.0)).fold(1.0, f64::min);
    let kept: f64 = posterior
        .modes
        .iter()
        .filter(|other| {
            let lead = other.members.first().and_then(|&h| posterior.hypotheses.get(h));
            lead.is_some_and(|h| h.targets == best.targets)
        })
        .map(|other| other.probability)
        .sum();
    !names.is_empty()
        && least >= SURE_NAME
        && case.rejected(&best.targets).is_empty()
        && mode.probability >= 0.8 * least
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
    let (chi2, dof) = match alone {
        Some(alone) => {
            let off = LocalPlane::new(alone.position).to_plane(from);
            let sum = alone.position_covariance().plus(case.reckoned());
            (sum.mahalanobis_squared(off.east, off.north), 2)
        }
        None => (best.solution.cost, best.solution.rows.len()),
    };
    Comparison {
        offset: Some(line.distance),
        bearing: Some(line.initial),
        chi2: chi2.is_finite().then_some(chi2),
        agrees: Some(tail(chi2, dof) >= ALARM),
    }
}

/// Somewhere the contacts agree among themselves, that the reckoning does not allow.
pub(super) struct Elsewhere {
    pub solution: Solution,
    pub targets: Vec<Option<usize>>,
    pub why: String,
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
    let agrees = found.none < 0.5 && best.matched() >= 2;
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
    Some(identify(&problem, case.answering, case.sighting))
}

/// No set of identities at all within the reckoning.
fn unexplained(case: &Case<'_>, options: &Options) -> Fix {
    let wide = widely(case);
    let elsewhere = wide.and_then(|found| {
        let best = found.best()?.1.clone();
        let sure = found.none < 0.5 && best.targets.iter().flatten().count() >= 1;
        let named = case.rejected(&best.targets).is_empty()
            && (0..case.labels.len()).any(|s| case.stated(s).is_some());
        if sure && (named || best.matched() >= 2) { elsewhere(case, best) } else { None }
    });
    let why = match &elsewhere {
        Some(other) => other.why.clone(),
        None => words::nothing_fits(case),
    };
    let mut fix = nothing(case, options, Verdict::AtOdds, why);
    fix.none_of_these = 1.0;
    fix.unmatched = unmatched::without_position(case);
    if let Some(other) = elsewhere {
        fix.contacts_only = Some(estimate(&other.solution));
        fix.residuals = residuals(case, &other.solution, &[]);
        fix.identities = stated_identities(case, &other.targets);
        fix.unmatched.clear();
        fix.reckoning = against(case, &other.solution);
    }
    fix
}

fn against(case: &Case<'_>, alone: &Solution) -> Comparison {
    let off = LocalPlane::new(alone.position).to_plane(case.problem.prior.position);
    let sum = alone.position_covariance().plus(case.reckoned());
    let chi2 = sum.mahalanobis_squared(off.east, off.north);
    let line = course(case.problem.prior.position, alone.position);
    Comparison {
        offset: Some(line.distance),
        bearing: Some(line.initial),
        chi2: chi2.is_finite().then_some(chi2),
        agrees: Some(tail(chi2, 2) >= ALARM),
    }
}

/// A fix with nothing in it but a verdict and its reason.
pub(super) fn nothing(case: &Case<'_>, options: &Options, verdict: Verdict, why: String) -> Fix {
    let mut cautions = vec![why];
    cautions.extend(case.cautions.iter().cloned());
    let reckoned = Estimate { position: case.problem.prior.position, covariance: case.reckoned() };
    Fix {
        verdict,
        probability: None,
        none_of_these: 1.0,
        time: case.time,
        position: None,
        covariance: None,
        ellipse: None,
        contacts_only: None,
        bearing_bias: None,
        identities: Vec::new(),
        unmatched: Vec::new(),
        residuals: Vec::new(),
        most_probable: (verdict == Verdict::TooFew).then_some(reckoned),
        rivals: Vec::new(),
        consistency: None,
        reckoning: Comparison::default(),
        protection: Protection { risk: options.risk, radius: None, assured: false },
        next: Vec::new(),
        cautions,
    }
}

fn estimate(solution: &Solution) -> Estimate {
    Estimate { position: solution.position, covariance: solution.position_covariance() }
}

/// What every verdict with some answer tells.
fn common(case: &Case<'_>, options: &Options, finding: &Finding<'_>, verdict: Verdict) -> Fix {
    let solution = &finding.best.solution;
    let (bias, bias_sigma) = solution.bearing_bias();
    let bearings = solution.rows.iter().any(|row| row.is_bearing);
    let mut fix = nothing(case, options, verdict, String::new());
    fix.cautions = words::cautions(case, finding, verdict);
    fix.most_probable = None;
    fix.contacts_only = finding.alone.as_ref().map(estimate);
    fix.bearing_bias =
        bearings.then(|| (Angle::from_radians(bias), Angle::from_radians(bias_sigma)));
    fix.identities = identities(case, finding);
    fix.residuals = residuals_of(case, solution, &finding.best.targets);
    fix.consistency = Some(consistency(solution));
    fix.reckoning = finding.comparison;
    fix
}

fn residuals_of(case: &Case<'_>, solution: &Solution, targets: &[Option<usize>]) -> Vec<Residual> {
    let stated: Vec<Option<usize>> = case
        .as_stated(targets)
        .into_iter()
        .zip(targets)
        .map(|(stated, used)| if *used == stated { None } else { stated })
        .collect();
    let unused = rows(&case.problem, case.answering, &stated, solution.position, &solution.state);
    let fresh: Vec<_> = unused
        .into_iter()
        .filter(|row| targets.get(row.sight).is_some_and(Option::is_none))
        .collect();
    residuals(case, solution, &fresh)
}

fn fixed(case: &Case<'_>, options: &Options, finding: &Finding<'_>) -> Fix {
    let mode = finding.mode;
    let solution = &finding.best.solution;
    let mut fix = common(case, options, finding, Verdict::Fixed);
    fix.probability = Some(mode.probability);
    fix.position = Some(mode.position);
    fix.covariance = Some(mode.covariance);
    fix.ellipse = Some(mode.covariance.ellipse(0.95));
    fix.unmatched = unmatched::from_position(case, solution, &finding.best.targets);
    (fix.rivals, fix.none_of_these) = rivals(case, finding.posterior, 1);
    fix.protection = protection::protection(
        case,
        finding.posterior,
        mode,
        solution,
        finding.alone.as_ref(),
        options.risk.clamp(1e-9, 0.5),
    );
    fix.next = next::shorten(case, solution);
    fix
}

fn ambiguous(case: &Case<'_>, options: &Options, finding: &Finding<'_>) -> Fix {
    let mut fix = common(case, options, finding, Verdict::Ambiguous);
    (fix.rivals, fix.none_of_these) = rivals(case, finding.posterior, 0);
    fix.next = match finding.posterior.modes.get(1) {
        Some(second) => next::tell_apart(case, &finding.best.solution, second),
        None => next::shorten(case, &finding.best.solution),
    };
    fix
}

fn too_few(case: &Case<'_>, options: &Options, finding: &Finding<'_>) -> Fix {
    let mut fix = common(case, options, finding, Verdict::TooFew);
    (fix.rivals, fix.none_of_these) = rivals(case, finding.posterior, 0);
    fix.contacts_only = None;
    fix.most_probable = Some(most_probable(case, finding));
    fix.next = next::shorten(case, &finding.best.solution);
    fix
}

fn at_odds(
    case: &Case<'_>,
    options: &Options,
    finding: &Finding<'_>,
    elsewhere: Option<&Elsewhere>,
) -> Fix {
    let mut fix = common(case, options, finding, Verdict::AtOdds);
    (fix.rivals, fix.none_of_these) = rivals(case, finding.posterior, 0);
    let stated = case.as_stated(&finding.best.targets);
    match elsewhere {
        Some(other) => {
            fix.contacts_only = Some(estimate(&other.solution));
            fix.residuals = residuals_of(case, &other.solution, &other.targets);
            fix.identities = stated_identities(case, &other.targets);
            fix.reckoning = against(case, &other.solution);
        }
        None if stated != finding.best.targets => {
            // Every name held true at once: the residuals show which of them does not go.
            if let Some(solution) = case.together(&stated, &finding.best.solution) {
                fix.residuals = residuals_of(case, &solution, &stated);
                fix.consistency = Some(consistency(&solution));
            }
        }
        None => {}
    }
    fix.unmatched = unmatched::from_position(case, &finding.best.solution, &finding.best.targets);
    fix
}

/// Contacts and reckoning together: the likeliest place where one stands out, else all of them and
/// the reckoning, weighed.
fn most_probable(case: &Case<'_>, finding: &Finding<'_>) -> Estimate {
    let mode = finding.mode;
    if mode.probability >= 0.5 {
        return Estimate { position: mode.position, covariance: mode.covariance };
    }
    let reckoning = case.problem.prior.position;
    let plane = LocalPlane::new(reckoning);
    let mut parts = vec![Part {
        weight: finding.posterior.none,
        at: PlanePoint::default(),
        covariance: case.reckoned(),
    }];
    parts.extend(finding.posterior.modes.iter().map(|m| Part {
        weight: m.probability,
        at: plane.to_plane(m.position),
        covariance: m.covariance,
    }));
    match mixture(&parts) {
        Some((mean, covariance)) => Estimate { position: plane.to_position(mean), covariance },
        None => Estimate { position: reckoning, covariance: case.reckoned() },
    }
}

/// The places from the `skip`th on, and what is left for none of them.
fn rivals(case: &Case<'_>, posterior: &Posterior, skip: usize) -> (Vec<Rival>, f64) {
    let told: Vec<Rival> = posterior
        .modes
        .iter()
        .skip(skip)
        .filter(|mode| mode.probability >= LEAST_RIVAL)
        .take(MOST_RIVALS)
        .map(|mode| Rival {
            estimate: Estimate { position: mode.position, covariance: mode.covariance },
            probability: mode.probability,
            identities: mode_identities(case, posterior, mode),
        })
        .collect();
    let stated: f64 = posterior.modes.iter().take(skip).map(|m| m.probability).sum();
    let listed: f64 = told.iter().map(|r| r.probability).sum();
    (told, (1.0 - stated - listed).clamp(0.0, 1.0))
}

fn mode_identities(case: &Case<'_>, posterior: &Posterior, mode: &Mode) -> Vec<Identity> {
    let Some(lead) = mode.members.first().and_then(|&h| posterior.hypotheses.get(h)) else {
        return Vec::new();
    };
    let held = |sight: usize, candidate: usize| {
        let found = posterior.marginals(sight, &mode.members);
        let of = found.iter().find(|(c, _)| *c == candidate).map_or(0.0, |(_, p)| *p);
        of / mode.probability.max(1e-12)
    };
    named(case, &lead.targets, held)
}

/// The likely mark of each contact, its probability over all places.
fn identities(case: &Case<'_>, finding: &Finding<'_>) -> Vec<Identity> {
    let all: Vec<usize> = (0..finding.posterior.hypotheses.len()).collect();
    let held = |sight: usize, candidate: usize| {
        let found = finding.posterior.marginals(sight, &all);
        found.iter().find(|(c, _)| *c == candidate).map_or(0.0, |(_, p)| *p)
    };
    let mut rows = named(case, &finding.best.targets, held);
    rows.retain(|row| row.probability >= 0.5);
    rows
}

fn stated_identities(case: &Case<'_>, targets: &[Option<usize>]) -> Vec<Identity> {
    named(case, targets, |sight, candidate| {
        let belief = case.problem.sights.get(sight).and_then(|s| s.belief);
        belief.filter(|b| b.candidate == candidate).map_or(0.5, |b| b.confidence)
    })
}

fn named(
    case: &Case<'_>,
    targets: &[Option<usize>],
    held: impl Fn(usize, usize) -> f64,
) -> Vec<Identity> {
    targets
        .iter()
        .enumerate()
        .filter(|(sight, _)| !case.is_of_no_mark(*sight))
        .filter_map(|(sight, target)| target.map(|candidate| (sight, candidate)))
        .filter_map(|(sight, candidate)| {
            let mark = case.problem.candidates.get(candidate)?;
            Some(Identity {
                contact: case.label(sight).to_owned(),
                mark: case.name(candidate).to_owned(),
                mark_position: mark.position,
                probability: held(sight, candidate).clamp(0.0, 1.0),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests;
