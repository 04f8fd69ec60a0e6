//! A neighbour taken for the mark that a contact was given as.

use super::agreeing;
use crate::fix::case::Case;
use crate::fix::report::UNSEEN;
use crate::geodesy::distance;
use crate::units::METRES_PER_NAUTICAL_MILE;

/// A mark is no neighbour of another beyond this, metres, and no more than so many are.
const NEAR_M: f64 = 15.0 * METRES_PER_NAUTICAL_MILE;
const MOST_TRIED: usize = 16;
/// So many neighbours may explain a reading alike; more tell nothing.
const MOST_TOLD: usize = 2;

/// For each contact with a name, the neighbours which, taken for that mark, would explain why the
/// contacts do not agree.
pub(super) fn explaining(case: &Case<'_>, targets: &[Option<usize>]) -> Vec<String> {
    let named = targets.iter().enumerate().filter_map(|(sight, target)| {
        let name = case.stated(sight)?;
        (*target == Some(name)).then_some((sight, name))
    });
    named.filter_map(|(sight, name)| other(case, targets, sight, name)).collect()
}

/// The marks that one contact may be instead of the one named, in words; none where its name does
/// as well.
fn other(case: &Case<'_>, targets: &[Option<usize>], sight: usize, name: usize) -> Option<String> {
    if stands(case, targets, (sight, name)) {
        return None;
    }
    let mut tried = targets.to_vec();
    let mut explains = |mark: usize| {
        if let Some(slot) = tried.get_mut(sight) {
            *slot = Some(mark);
        }
        stands(case, &tried, (sight, mark))
    };
    let mut found = neighbours(case, targets, name);
    found.retain(|mark| explains(*mark));
    if found.is_empty() || found.len() > MOST_TOLD {
        return None;
    }
    let marks: Vec<&str> = found.into_iter().map(|mark| case.name(mark)).collect();
    let (label, name) = (case.label(sight), case.name(name));
    Some(format!("contact {label} being {}, not {name},", marks.join(" or ")))
}

/// Whether all agrees with these identities, and the mark of one sight should have painted there.
fn stands(case: &Case<'_>, targets: &[Option<usize>], (sight, mark): (usize, usize)) -> bool {
    agreeing(case, &case.problem, targets)
        .is_some_and(|found| case.chance_then(sight, found.position, mark) >= UNSEEN)
}

/// The marks about another that no contact is taken for, nearest first.
fn neighbours(case: &Case<'_>, targets: &[Option<usize>], of: usize) -> Vec<usize> {
    let Some(about) = case.problem.candidates.get(of) else { return Vec::new() };
    let marks = case.problem.candidates.iter().enumerate();
    let mut near: Vec<(f64, usize)> = marks
        .filter(|(index, mark)| mark.weight > 0.0 && !targets.contains(&Some(*index)))
        .map(|(index, mark)| (distance(about.position, mark.position).metres(), index))
        .filter(|(far, _)| *far < NEAR_M)
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    near.into_iter().take(MOST_TRIED).map(|(_, index)| index).collect()
}
