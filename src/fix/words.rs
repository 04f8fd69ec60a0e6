//! The words an operator reads: every reason and caution of a fix, in one place.

use super::case::Case;
use super::finding::Finding;
use super::geometry::{POOR_CUT_DEG, cut};
use super::outline;
use super::report::Verdict;
use super::residuals::{consistency, standardised, tail};
use crate::geodesy::{LocalPlane, course};
use crate::identity::Solution;
use crate::units::METRES_PER_NAUTICAL_MILE;

pub(super) const NO_CONTACT: &str = "no contact to fix by: the position is the reckoning's";
pub(super) const NO_LIKELY_SET: &str = "no set of identities is likely: the contacts do not match this chart within the reckoning's \
     error";

/// Sets let go in the search are told of where they hold this much of the probability.
const LEAST_UNEXPLORED: f64 = 1e-3;

/// Commas and a last "and".
fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

fn labels(case: &Case<'_>, sights: &[usize]) -> String {
    let words: Vec<String> = sights.iter().map(|&s| case.label(s).to_owned()).collect();
    listed(&words)
}

pub(super) fn nothing_fits(case: &Case<'_>) -> String {
    let stated: Vec<String> = (0..case.labels.len())
        .filter_map(|s| case.stated(s).map(|m| format!("{} as {}", case.label(s), case.name(m))))
        .collect();
    if stated.is_empty() {
        NO_LIKELY_SET.to_owned()
    } else {
        format!(
            "contact {} does not go with the reckoning, and no other mark explains it",
            listed(&stated)
        )
    }
}

pub(super) fn name_not_borne_out(case: &Case<'_>, finding: &Finding<'_>) -> String {
    let told: Vec<String> = finding
        .rejected
        .iter()
        .filter_map(|&s| case.stated(s).map(|m| format!("{} is {}", case.label(s), case.name(m))))
        .collect();
    format!("the contacts do not bear out that {}", listed(&told))
}

pub(super) fn reckoning_speaks_against(case: &Case<'_>, finding: &Finding<'_>) -> String {
    let line = course(case.problem.prior.position, finding.mode.position);
    format!(
        "the contacts put you {:.1} NM {:03.0}° from the reckoning, more than its stated error allows: \
         check the reckoning, the heading and every name",
        line.distance.nautical_miles(),
        line.initial.degrees().round().rem_euclid(360.0)
    )
}

pub(super) fn agree_elsewhere(case: &Case<'_>, alone: &Solution) -> String {
    let line = course(case.problem.prior.position, alone.position);
    format!(
        "the contacts agree among themselves {:.1} NM {:03.0}° from the reckoning, which its stated error \
         does not allow: one of the two is wrong",
        line.distance.nautical_miles(),
        line.initial.degrees().round().rem_euclid(360.0)
    )
}

pub(super) fn contacts_disagree(case: &Case<'_>, solution: &Solution) -> String {
    let worst = solution
        .rows
        .iter()
        .max_by(|a, b| {
            let w = |row| standardised(row, solution, true).abs();
            w(*a).total_cmp(&w(*b))
        })
        .map_or("?", |row| case.label(row.sight));
    let p = consistency(solution).p;
    let chance = if p < 1e-6 {
        "under one in a million".to_owned()
    } else {
        format!("one in {:.0}", 1.0 / p)
    };
    format!(
        "the contacts disagree by more than their stated errors (chance {chance}); {worst} fits \
         worst"
    )
}

pub(super) fn should_not_paint(case: &Case<'_>, sight: usize, candidate: usize) -> String {
    format!(
        "{} should not paint from there, so contact {} is hardly it",
        case.name(candidate),
        case.label(sight)
    )
}

/// What an operator must know beside the verdict, the most pressing first.
pub(super) fn cautions(case: &Case<'_>, finding: &Finding<'_>, verdict: Verdict) -> Vec<String> {
    let mut told: Vec<String> = finding.odds.clone();
    told.extend(gaps(case));
    told.extend(outline::straight(case, finding.best));
    match verdict {
        Verdict::Fixed => told.extend(of_a_fix(case, finding)),
        Verdict::TooFew => told.push(of_too_few(finding)),
        Verdict::Ambiguous => told.push(of_ambiguity(finding)),
        Verdict::AtOdds => {}
    }
    if verdict != Verdict::AtOdds && finding.comparison.agrees == Some(true) {
        let doubtful = finding.comparison.chi2.is_some_and(|chi2| tail(chi2, 2) < 0.05);
        if doubtful && finding.alone.is_some() {
            told.push("the reckoning agrees with the contacts only just".to_owned());
        }
    }
    told.extend(unexplored(finding));
    told.extend(case.cautions.iter().cloned());
    told
}

/// What was let go to keep the search within its budget, where it weighs something.
fn unexplored(finding: &Finding<'_>) -> Option<String> {
    let share = finding.posterior.unexplored;
    (share >= LEAST_UNEXPLORED).then(|| {
        format!(
            "too many ways to read these contacts: those not followed to the end hold {:.1} % of \
             the probability; name a contact, or reckon closer",
            100.0 * share
        )
    })
}

fn of_a_fix(case: &Case<'_>, finding: &Finding<'_>) -> Vec<String> {
    let mut told = Vec::new();
    for &sight in &finding.rejected {
        let Some(name) = case.stated(sight).map(|m| case.name(m)) else { continue };
        let label = case.label(sight);
        let instead = finding.best.targets.get(sight).copied().flatten();
        told.push(match instead {
            Some(mark) => format!("contact {label} is not {name}: it fits {}", case.name(mark)),
            None => format!("contact {label} is not {name}: the other contacts rule it out"),
        });
    }
    let solution = &finding.best.solution;
    let traced: f64 = outline::told(case, Some(finding.best))
        .iter()
        .filter(|outline| outline.used)
        .map(|outline| outline.effective - 1.0)
        .sum();
    let unnamed = finding.best.matched() as f64 + traced >= 3.0;
    if solution.rows.len() <= 2 {
        told.push(
            "unchecked: there is no measurement more than the position needs, so an error or a \
             wrong name would not show"
                .to_owned(),
        );
    } else if !unnamed {
        told.push("little to check it by: one contact more would show a wrong one".to_owned());
    }
    if finding.rests_on_names && finding.mode.probability < finding.assurance {
        told.push("the identities rest on the names given".to_owned());
    }
    let angle = cut(&solution.rows);
    if angle < POOR_CUT_DEG {
        told.push(format!("the position lines cross at only {angle:.0}°"));
    }
    if finding.mode.members.len() > 1 {
        told.extend(look_alikes(case, finding));
    }
    if chosen_by_reckoning(finding) {
        told.push(
            "the same measurements fit another place as well; only the reckoning tells them apart"
                .to_owned(),
        );
    }
    let global = consistency(solution);
    if global.p < 0.05 {
        told.push(format!(
            "the residuals are large for the errors stated (chance {:.0} %)",
            100.0 * global.p
        ));
    }
    told
}

/// Contacts whose mark has a neighbour that would do as well.
fn look_alikes(case: &Case<'_>, finding: &Finding<'_>) -> Vec<String> {
    (0..case.labels.len())
        .filter(|sight| !case.is_of_no_mark(*sight))
        .filter_map(|sight| {
            let found = finding.posterior.marginals(sight, &finding.mode.members);
            let [(first, p), (second, q), ..] = found.as_slice() else { return None };
            (*p < 0.9 * (p + q)).then(|| {
                format!(
                    "contact {} may be {} or {}",
                    case.label(sight),
                    case.name(*first),
                    case.name(*second)
                )
            })
        })
        .collect()
}

/// Another place with the very same identities, even if the reckoning makes it unlikely.
fn chosen_by_reckoning(finding: &Finding<'_>) -> bool {
    finding.posterior.modes.iter().skip(1).any(|mode| {
        let lead = mode.members.first().and_then(|&h| finding.posterior.hypotheses.get(h));
        lead.is_some_and(|h| h.targets == finding.best.targets)
    })
}

fn of_too_few(finding: &Finding<'_>) -> String {
    let matched = finding.best.matched();
    let rows = finding.best.solution.rows.len();
    match (matched, rows) {
        (1, 1) => {
            "one measurement is one position line: the place along it is the reckoning's".to_owned()
        }
        _ => "the position lines run nearly together: the place along them is the reckoning's"
            .to_owned(),
    }
}

fn of_ambiguity(finding: &Finding<'_>) -> String {
    let places = finding.posterior.modes.iter().filter(|m| m.probability >= 0.01).count();
    if places <= 1 {
        format!(
            "one place fits, but not as surely as asked ({:.2} % of {:.2} %)",
            100.0 * finding.mode.probability,
            100.0 * finding.assurance
        )
    } else {
        format!("{places} positions fit: measure what would tell them apart")
    }
}

/// Pairs of named ranges whose circles do not meet.
fn gaps(case: &Case<'_>) -> Vec<String> {
    let ranged: Vec<(usize, usize, f64, f64)> = (0..case.labels.len())
        .filter_map(|sight| {
            let about = case.problem.sights.get(sight)?;
            let range = about.range?;
            (!about.is_borne() && about.elapsed_s.abs() < 1.0).then_some((
                sight,
                case.stated(sight)?,
                range.value,
                range.sigma,
            ))
        })
        .collect();
    let mut told = Vec::new();
    for (i, &(one, mark, range, sigma)) in ranged.iter().enumerate() {
        for &(other, second, far, error) in ranged.iter().skip(i + 1) {
            let place = |c: usize| case.problem.candidates.get(c).map(|c| c.position);
            let (Some(a), Some(b)) = (place(mark), place(second)) else { continue };
            let at = LocalPlane::new(a).to_plane(b);
            let apart = at.east.hypot(at.north);
            let gap = (apart - range - far).max((range - far).abs() - apart);
            if gap > 3.0 * sigma.hypot(error) {
                told.push(format!(
                    "the range circles of {} do not meet: a gap of {:.1} NM",
                    labels(case, &[one, other]),
                    gap / METRES_PER_NAUTICAL_MILE
                ));
            }
        }
    }
    told
}
