//! The words an operator reads: every reason and caution of a fix, in one place.

mod of_a_fix;

use self::of_a_fix::of_a_fix;
use super::case::Case;
use super::finding::Finding;
use super::outline;
use super::report::Verdict;
use super::residuals::{consistency, standardised};
use crate::geodesy::{LocalPlane, Position, course};
use crate::identity::{Mode, Solution};
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

/// - `rejected`: the contacts whose names these identities do not bear out.
pub(super) fn name_not_borne_out(
    case: &Case<'_>,
    rejected: &[usize],
    targets: &[Option<usize>],
) -> String {
    let told: Vec<String> = rejected
        .iter()
        .filter_map(|&s| case.stated(s).map(|m| (s, m)))
        .map(|(sight, name)| {
            let fits = targets.get(sight).copied().flatten();
            let instead = fits.map(|mark| format!(" (as {} it would fit)", case.name(mark)));
            let (label, name) = (case.label(sight), case.name(name));
            format!("{label} is {name}{}", instead.unwrap_or_default())
        })
        .collect();
    format!("the contacts do not bear out that {}", listed(&told))
}

pub(super) fn reckoning_speaks_against(case: &Case<'_>, finding: &Finding<'_>) -> String {
    let line = course(case.problem.prior.position, finding.mode.position);
    format!(
        "the contacts put you {:.1} NM {}° from the reckoning, more than its stated error allows: \
         check the reckoning, the heading and every name",
        line.distance.nautical_miles(),
        line.initial.whole_degrees()
    )
}

pub(super) fn agree_elsewhere(case: &Case<'_>, alone: &Solution) -> String {
    let line = course(case.problem.prior.position, alone.position);
    format!(
        "the contacts agree among themselves {:.1} NM {}° from the reckoning, which its stated error \
         does not allow: one of the two is wrong",
        line.distance.nautical_miles(),
        line.initial.whole_degrees()
    )
}

/// - `against`: where the contacts would have us without the names, and how likely.
pub(super) fn one_mistake(mode: &Mode, (place, chance): (Position, f64)) -> String {
    let line = course(mode.position, place);
    format!(
        "one mistake in all the names would explain them: without the names the contacts would have us {:.1} \
         NM {}° from there, at {:.0} %",
        line.distance.nautical_miles(),
        line.initial.whole_degrees(),
        100.0 * chance
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
    format!(
        "the contacts disagree by more than their stated errors ({}); {worst} fits worst",
        one_in(consistency(solution).p)
    )
}

pub(super) fn should_not_paint(case: &Case<'_>, (sight, candidate): (usize, usize)) -> String {
    format!(
        "contact {} is hardly {}, which should not paint from there",
        case.label(sight),
        case.name(candidate)
    )
}

/// The same where nobody named it.
pub(super) fn rather_behind(case: &Case<'_>, one: (usize, usize)) -> String {
    format!("{}: rather ground behind it that has no mark", should_not_paint(case, one))
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

fn of_too_few(finding: &Finding<'_>) -> String {
    let matched = finding.best.matched();
    let rows = finding.best.solution.rows.len();
    let (why, then) = match (matched, rows) {
        (1, 1) => ("one measurement is one position line", "measure one that crosses it"),
        _ => ("the position lines run nearly together", "measure one that cuts across them"),
    };
    format!("{why}, and the place along it is the reckoning's: {then}")
}

fn of_ambiguity(finding: &Finding<'_>) -> String {
    let modes = &finding.posterior.modes;
    let places = modes.iter().filter(|m| m.probability >= 0.01).count();
    if places <= 1 {
        return format!(
            "one place fits, with {} where {} is asked: one contact more may settle it",
            percent(finding.mode.probability),
            percent(finding.assurance)
        );
    }
    let apart = modes.get(1).map_or(0.0, |second| {
        course(finding.mode.position, second.position).distance.nautical_miles()
    });
    if mirrored(finding) {
        format!(
            "the same marks fit from two places {apart:.1} NM apart: do not choose; measure what \
             tells them apart"
        )
    } else {
        format!(
            "{places} places fit, the best two {apart:.1} NM apart: do not choose; measure what \
             tells them apart"
        )
    }
}

/// Whether the second place has the very same identities as the first.
fn mirrored(finding: &Finding<'_>) -> bool {
    let of = |index: usize| {
        let lead = *finding.posterior.modes.get(index)?.members.first()?;
        finding.posterior.hypotheses.get(lead).map(|h| &h.targets)
    };
    of(0).is_some() && of(0) == of(1)
}

/// "98.2 %": rounded down, so that it never says more.
fn percent(share: f64) -> String {
    let tenths = (1000.0 * share).floor() / 10.0;
    if (tenths - tenths.round()).abs() < 1e-9 {
        format!("{tenths:.0} %")
    } else {
        format!("{tenths:.1} %")
    }
}

/// "1 chance in 40".
fn one_in(p: f64) -> String {
    if p < 1e-6 {
        "under 1 chance in a million".to_owned()
    } else {
        format!("1 chance in {:.0}", 1.0 / p)
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
