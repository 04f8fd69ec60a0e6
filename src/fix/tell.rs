//! A finding, told: every key of a fix, for each verdict.

use super::case::Case;
use super::finding::{Elsewhere, Finding};
use super::grade::Grade;
use super::report::{
    Comparison, Estimate, Fix, Identity, Options, Protection, Residual, Rival, Verdict,
};
use super::residuals::{consistency, residuals};
use super::{next, outline, protection, slips, unmatched, words};
use crate::geodesy::{LocalPlane, PlanePoint, course};
use crate::identity::{Hypothesis, Mode, Part, Posterior, Quantity, Row, Solution, mixture, rows};
use crate::units::Angle;

/// Rivals less likely than this are summed up in "none of these", and no more than so many told.
const LEAST_RIVAL: f64 = 1e-3;
const MOST_RIVALS: usize = 12;

/// Sets of identities less likely than this are not asked which shore it is that they have.
const LEAST_LOOKED_AT: f64 = 1e-4;

/// The reckoning against a place found without it.
fn against(case: &Case<'_>, alone: &Solution) -> Comparison {
    let off = LocalPlane::new(alone.position).to_plane(case.problem.prior.position);
    let sum = alone.position_covariance().plus(case.reckoned());
    let chi2 = sum.mahalanobis_squared(off.east, off.north);
    let line = course(case.problem.prior.position, alone.position);
    Comparison {
        offset: Some(line.distance),
        bearing: Some(line.initial),
        chi2: chi2.is_finite().then_some(chi2),
        grade: Some(Grade::of_distance(chi2)),
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
        outlines: outline::told(case, &[]),
        most_probable: (verdict == Verdict::TooFew).then_some(reckoned),
        rivals: Vec::new(),
        consistency: None,
        reckoning: Comparison::default(),
        protection: Protection { risk: options.risk, radius: None, assured: false, why: None },
        next: Vec::new(),
        landfall: None,
        cautions,
    }
}

fn estimate(solution: &Solution) -> Estimate {
    Estimate { position: solution.position, covariance: solution.position_covariance() }
}

/// What every verdict with some answer tells.
fn common(case: &Case<'_>, options: &Options, finding: &Finding<'_>, verdict: Verdict) -> Fix {
    let solution = &finding.best.solution;
    let mut fix = nothing(case, options, verdict, String::new());
    fix.cautions = words::cautions(case, finding, verdict);
    fix.most_probable = None;
    fix.contacts_only = finding.alone.as_ref().map(estimate);
    fix.bearing_bias = bearing_bias(solution);
    fix.identities = identities(case, finding);
    fix.residuals = residuals_of(case, solution, &finding.best.targets);
    fix.outlines = outline::told(case, &finding.best.targets);
    fix.consistency = Some(consistency(solution));
    fix.reckoning = finding.comparison;
    fix
}

/// What all bearings read high by, and how well that is known; none where no direction was measured.
fn bearing_bias(solution: &Solution) -> Option<(Angle, Angle)> {
    let borne = |row: &Row| row.is_direction() || row.quantity == Quantity::Outline;
    let (bias, sigma) = solution.bearing_bias();
    let is_borne = solution.rows.iter().any(borne);
    is_borne.then(|| (Angle::from_radians(bias), Angle::from_radians(sigma)))
}

pub(super) fn residuals_of(
    case: &Case<'_>,
    solution: &Solution,
    targets: &[Option<usize>],
) -> Vec<Residual> {
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

pub(super) fn fixed(case: &Case<'_>, options: &Options, finding: &Finding<'_>) -> Fix {
    let mode = finding.mode;
    let solution = &finding.best.solution;
    let mut fix = common(case, options, finding, Verdict::Fixed);
    fix.probability = Some(finding.probability());
    fix.position = Some(mode.position);
    fix.covariance = Some(mode.covariance);
    fix.ellipse = Some(mode.covariance.ellipse(0.95));
    fix.unmatched = unmatched::from_position(case, solution, &finding.best.targets);
    (fix.rivals, fix.none_of_these) = rivals(case, finding.posterior, 1);
    tell_of_one_mistake(&mut fix, (mode.probability, finding.probability()));
    fix.protection = protection::protection(case, finding, options.risk.clamp(1e-6, 0.5));
    fix.next = next::after_a_fix(case, finding);
    fix
}

/// What the place loses where all names may be one mistake is none of what is listed; what it gains all else loses.
fn tell_of_one_mistake(fix: &mut Fix, (named, told): (f64, f64)) {
    if told < named {
        fix.none_of_these += named - told;
    } else if named < 1.0 {
        let left = (1.0 - told) / (1.0 - named);
        fix.none_of_these *= left;
        for rival in &mut fix.rivals {
            rival.probability *= left;
        }
    }
}

pub(super) fn ambiguous(case: &Case<'_>, options: &Options, finding: &Finding<'_>) -> Fix {
    let mut fix = common(case, options, finding, Verdict::Ambiguous);
    (fix.rivals, fix.none_of_these) = rivals(case, finding.posterior, 0);
    // These belong to one place, and none is stated.
    fix.contacts_only = None;
    fix.reckoning = Comparison::default();
    fix.next = next::between_places(case, finding);
    fix
}

pub(super) fn too_few(case: &Case<'_>, options: &Options, finding: &Finding<'_>) -> Fix {
    let mut fix = common(case, options, finding, Verdict::TooFew);
    (fix.rivals, fix.none_of_these) = rivals(case, finding.posterior, 0);
    fix.contacts_only = None;
    fix.most_probable = Some(most_probable(case, finding));
    fix.next = next::along_a_free_line(case, finding);
    fix
}

pub(super) fn at_odds(
    case: &Case<'_>,
    options: &Options,
    finding: &Finding<'_>,
    elsewhere: Option<&Elsewhere>,
) -> Fix {
    let mut fix = common(case, options, finding, Verdict::AtOdds);
    (fix.rivals, fix.none_of_these) = rivals(case, finding.posterior, 0);
    if let Some(other) = elsewhere {
        tell_of_elsewhere(case, &mut fix, other);
        return fix;
    }
    let stated = case.as_stated(&finding.best.targets);
    if stated != finding.best.targets {
        // Every name held true at once: the residuals show which of them does not go.
        if let Some(solution) = case.together(&stated, &finding.best.solution) {
            fix.residuals = residuals_of(case, &solution, &stated);
            fix.consistency = Some(consistency(&solution));
        }
    }
    tell_of_slips(case, &mut fix, &stated);
    fix.unmatched = unmatched::from_position(case, &finding.best.solution, &finding.best.targets);
    fix
}

/// Everything that belongs to one place is told of where the contacts agree, beyond the reckoning.
pub(super) fn tell_of_elsewhere(case: &Case<'_>, fix: &mut Fix, other: &Elsewhere) {
    let Elsewhere { solution, targets, .. } = other;
    fix.contacts_only = Some(estimate(solution));
    fix.bearing_bias = bearing_bias(solution);
    fix.identities = stated_identities(case, targets, solution);
    fix.unmatched = unmatched::from_position(case, solution, targets);
    fix.residuals = residuals_of(case, solution, targets);
    fix.outlines = outline::told(case, targets);
    fix.consistency = Some(consistency(solution));
    fix.reckoning = against(case, solution);
    tell_of_slips(case, fix, targets);
}

/// The slips that would explain it stand behind the first reason.
fn tell_of_slips(case: &Case<'_>, fix: &mut Fix, targets: &[Option<usize>]) {
    let at = fix.cautions.len().min(1);
    fix.cautions.splice(at..at, slips::explaining(case, targets));
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
        held_by(case, posterior, &mode.members, (sight, candidate)) / mode.probability.max(1e-12)
    };
    named(case, &lead.targets, &lead.solution, held)
}

/// The likely mark of each contact, its probability over all places.
fn identities(case: &Case<'_>, finding: &Finding<'_>) -> Vec<Identity> {
    let all: Vec<usize> = (0..finding.posterior.hypotheses.len()).collect();
    let held =
        |sight: usize, candidate: usize| held_by(case, finding.posterior, &all, (sight, candidate));
    let mut rows = named(case, &finding.best.targets, &finding.best.solution, held);
    rows.retain(|row| row.probability >= 0.5);
    rows
}

/// How likely a sight is of a mark, over some sets of identities: those that have it on the mark, and those that
/// have it on shore without a name which is the mark's own.
fn held_by(
    case: &Case<'_>,
    posterior: &Posterior,
    among: &[usize],
    (sight, candidate): (usize, usize),
) -> f64 {
    let sets = among.iter().filter_map(|&set| posterior.hypotheses.get(set));
    let holds = |set: &&Hypothesis| match set.targets.get(sight).copied().flatten() {
        Some(target) if target == candidate => true,
        Some(target) if case.is_any_shore(target) && set.probability >= LEAST_LOOKED_AT => {
            case.is_on_shore_of(sight, candidate, &set.solution)
        }
        _ => false,
    };
    sets.filter(holds).map(|set| set.probability).sum()
}

fn stated_identities(case: &Case<'_>, targets: &[Option<usize>], from: &Solution) -> Vec<Identity> {
    named(case, targets, from, |sight, candidate| {
        let belief = case.problem.sights.get(sight).and_then(|s| s.belief);
        belief.filter(|b| b.candidate == candidate).map_or(0.5, |b| b.confidence)
    })
}

fn named(
    case: &Case<'_>,
    targets: &[Option<usize>],
    from: &Solution,
    held: impl Fn(usize, usize) -> f64,
) -> Vec<Identity> {
    targets
        .iter()
        .enumerate()
        .filter(|(sight, _)| !case.is_of_no_mark(*sight))
        .filter_map(|(sight, target)| target.map(|candidate| (sight, candidate)))
        .map(|(sight, candidate)| (sight, case.told_as(sight, candidate, from)))
        .filter_map(|(sight, candidate)| {
            let mark_position = case.place_of(sight, candidate, from)?;
            let paints = || case.chance_then(sight, from.position, candidate);
            Some(Identity {
                paint_probability: (!case.is_any_shore(candidate)).then(paints),
                contact: case.label(sight).to_owned(),
                mark: case.name_of(candidate, mark_position),
                mark_position,
                probability: held(sight, candidate).clamp(0.0, 1.0),
            })
        })
        .collect()
}
