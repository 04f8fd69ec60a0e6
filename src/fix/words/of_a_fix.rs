use super::one_in;
use crate::fix::Grade;
use crate::fix::case::Case;
use crate::fix::finding::Finding;
use crate::fix::geometry::{POOR_CUT_DEG, cut};
use crate::fix::outline;
use crate::fix::prospect::Behind;
use crate::fix::reliability;
use crate::fix::residuals::{consistency, tail};
use crate::geodesy::{LocalPlane, course};
use crate::identity::{Quantity, Row, Support};
use crate::units::{Angle, Bearing, METRES_PER_NAUTICAL_MILE, True};

/// Marks ranged within this of each other lie to one side: what all ranges are out by then moves
/// the fix by nearly as much.
const ONE_SIDE_DEG: f64 = 60.0;

/// What to beware of in a fix, the most pressing first.
pub(super) fn of_a_fix(case: &Case<'_>, finding: &Finding<'_>) -> Vec<String> {
    let mut told = bad_names(case, finding);
    let solution = &finding.best.solution;
    let echoes = Support::of(&case.problem, &finding.best.targets).echoes();
    if solution.rows.len() <= 2 {
        told.push(
            "unchecked: no measurement more than the position needs, so a wrong name or reading \
             would not show"
                .to_owned(),
        );
    } else if echoes as f64 + outlined(case, finding) < 3.0 {
        told.push("little checked: one contact more would show a wrong one".to_owned());
    }
    told.extend(unnoticed(case, finding));
    let by_names = finding.rests_on_names || finding.one_mistake.is_some();
    if by_names && finding.probability() < finding.assurance {
        told.push("the fix rests on the names you gave".to_owned());
    }
    told.extend(other_side(finding));
    told.extend(inland(case, finding));
    told.extend(look_alikes(case, finding));
    told.extend(geometry(finding));
    told.extend(residuals(finding));
    told.extend(reckoning(case, finding));
    told
}

/// What outlines are worth beyond one contact each.
fn outlined(case: &Case<'_>, finding: &Finding<'_>) -> f64 {
    outline::told(case, &finding.best.targets)
        .iter()
        .filter(|outline| outline.used)
        .map(|outline| outline.effective - 1.0)
        .sum()
}

/// Names that the other contacts do not bear out.
fn bad_names(case: &Case<'_>, finding: &Finding<'_>) -> Vec<String> {
    let name = |sight: usize| Some((sight, case.name(case.stated(sight)?)));
    let rejected = finding.rejected.iter().filter_map(|&sight| name(sight));
    rejected
        .map(|(sight, name)| {
            let label = case.label(sight);
            match finding.best.targets.get(sight).copied().flatten() {
                Some(mark) => format!("contact {label} is not {name}: it fits {}", case.name(mark)),
                None => format!("contact {label} is not {name}: the other contacts rule it out"),
            }
        })
        .collect()
}

/// The measurement whose error could do most unseen, where that would put the truth outside the
/// ellipse.
fn unnoticed(case: &Case<'_>, finding: &Finding<'_>) -> Option<String> {
    let solution = &finding.best.solution;
    let worst = solution
        .rows
        .iter()
        .filter(|row| row.quantity != Quantity::Outline)
        .map(|row| reliability::unnoticed(row, solution))
        .max_by(|a, b| a.moves.total_cmp(&b.moves))?;
    let least = finding.mode.covariance.ellipse(0.95).semi_major.metres();
    if worst.moves <= least {
        return None;
    }
    let (error, of) = match worst.quantity {
        Quantity::Range => (format!("{:.1} NM", miles(worst.error)), "range"),
        Quantity::Bearing => {
            (format!("{:.0}°", Angle::from_radians(worst.error).degrees()), "bearing")
        }
        Quantity::Ratio => (format!("{:.0} dB", worst.error), "deflections"),
        Quantity::Outline => return None,
    };
    Some(format!(
        "an error of {error} in the {of} of contact {} would go unnoticed and move the fix {:.1} NM",
        case.label(worst.sight),
        miles(worst.moves)
    ))
}

fn miles(metres: f64) -> f64 {
    metres / METRES_PER_NAUTICAL_MILE
}

/// A contact that may be, or is taken to be, ground behind the shore.
fn inland(case: &Case<'_>, finding: &Finding<'_>) -> Vec<String> {
    let from = finding.best.solution.position;
    let told = |sight: usize, mark: usize| {
        let (label, name) = (case.label(sight), case.name(mark));
        Some(match case.prospect.behind(mark, from)? {
            Behind::Summit { inland } => format!(
                "contact {label} is taken for {name}, {:.1} NM inland: the shore before it is nearer",
                miles(inland)
            ),
            Behind::Higher { candidate, farther } => format!(
                "contact {label} may be {} behind {name}, which hardly paints from there: then the \
                 shore is {:.1} NM nearer",
                case.name(candidate),
                miles(farther)
            ),
        })
    };
    let targets = finding.best.targets.iter().enumerate();
    targets.filter_map(|(sight, target)| told(sight, (*target)?)).collect()
}

/// Contacts whose mark has a neighbour that would do as well.
fn look_alikes(case: &Case<'_>, finding: &Finding<'_>) -> Vec<String> {
    let place = |mark: usize| {
        let charted = case.problem.candidates.get(mark).filter(|_| !case.is_any_shore(mark));
        charted.map(|mark| mark.position)
    };
    (0..case.labels.len())
        .filter(|sight| !case.is_of_no_mark(*sight))
        .filter_map(|sight| {
            let found = finding.posterior.marginals(sight, &finding.mode.members);
            let [(first, p), (second, q), ..] = found.as_slice() else { return None };
            let apart = course(place(*first)?, place(*second)?).distance.nautical_miles();
            (*p < 0.9 * (p + q)).then(|| {
                let (label, one, other) =
                    (case.label(sight), case.name(*first), case.name(*second));
                format!("contact {label} may be {one} or {other}, {apart:.1} NM apart")
            })
        })
        .collect()
}

/// Another place with the very same identities, that only the reckoning rules out.
fn other_side(finding: &Finding<'_>) -> Option<String> {
    let second = finding.posterior.modes.iter().skip(1).find(|mode| {
        let lead = mode.members.first().and_then(|&h| finding.posterior.hypotheses.get(h));
        lead.is_some_and(|h| h.targets == finding.best.targets)
    })?;
    let line = course(finding.mode.position, second.position);
    Some(format!(
        "the same measurements fit a second place, {:.1} NM {}° from the fix: only the reckoning \
         rules it out",
        line.distance.nautical_miles(),
        line.initial.whole_degrees()
    ))
}

/// How the lines cross, and whether all ranges come from one side.
fn geometry(finding: &Finding<'_>) -> Vec<String> {
    let solution = &finding.best.solution;
    let mut told = Vec::new();
    let angle = cut(&solution.rows);
    if angle < POOR_CUT_DEG {
        told.push(format!(
            "the position lines cross at only {angle:.0}°: the fix is long that way"
        ));
    }
    let ranges: Vec<&Row> = solution.rows.iter().filter(|row| !row.is_direction()).collect();
    if ranges.len() >= 2
        && ranges.len() == solution.rows.len()
        && let Some(span) = span(&ranges).filter(|span| *span <= ONE_SIDE_DEG)
    {
        told.push(format!(
            "all ranges are to one side, within {span:.0}°: an error common to them moves the fix \
             as much"
        ));
    }
    told
}

/// The angle, in degrees, within which all lie that were ranged; none where that is half the
/// circle or more.
fn span(ranges: &[&Row]) -> Option<f64> {
    let towards: Vec<Bearing<True>> =
        ranges.iter().map(|row| Bearing::wrapped(row.slope[0].atan2(row.slope[1]))).collect();
    let widest_from = |one: &Bearing<True>| {
        let turns = towards.iter().map(|other| other.minus(*one).degrees());
        let (least, most) = turns.fold((0.0f64, 0.0f64), |(l, m), t| (l.min(t), m.max(t)));
        (least >= -1e-9).then_some(most)
    };
    towards.iter().filter_map(widest_from).min_by(f64::total_cmp).filter(|span| *span < 180.0)
}

fn residuals(finding: &Finding<'_>) -> Option<String> {
    let global = consistency(&finding.best.solution);
    (global.p < Grade::UNUSUAL).then(|| {
        format!(
            "the contacts fit each other poorly for their stated errors ({}): suspect one of them",
            one_in(global.p)
        )
    })
}

/// The reckoning, where it lies farther off than its error makes likely, and is no blunder yet.
fn reckoning(case: &Case<'_>, finding: &Finding<'_>) -> Option<String> {
    finding.alone.as_ref()?;
    let chance = tail(finding.comparison.chi2?, 2);
    if finding.comparison.grade != Some(Grade::Unusual) {
        return None;
    }
    let off = LocalPlane::new(finding.mode.position).to_plane(case.problem.prior.position);
    let (distance, towards) = off.polar();
    Some(format!(
        "the reckoning is {:.1} NM {}° from the fix, unusual for its stated error ({}): suspect it",
        distance.nautical_miles(),
        towards.whole_degrees(),
        one_in(chance)
    ))
}
