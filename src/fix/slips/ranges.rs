//! Ranges along the ground taken for slant ones, and the other way about.

use super::agreeing;
use crate::fix::case::Case;
use crate::identity::{Problem, ground, slant_of};

/// From a range as given to what it should have been: metres, own height, the mark's height.
type Mend = fn(f64, f64, f64) -> f64;

/// What may have been done to every range, and what takes it back.
const SLIPS: [(&str, Mend); 2] = [
    ("ranges taken along the ground where the slant is asked", slant_of),
    ("slant ranges made longer for own height, as if they had been along the ground,", ground),
];

/// The slips of this kind that would explain why the contacts, so identified, do not agree.
pub(super) fn explaining(case: &Case<'_>, targets: &[Option<usize>]) -> Vec<String> {
    let explains = |mend: Mend| {
        let mended = mended(&case.problem, targets, mend);
        mended.is_some_and(|problem| agreeing(case, &problem, targets).is_some())
    };
    SLIPS.into_iter().filter(|(_, mend)| explains(*mend)).map(|(words, _)| words.into()).collect()
}

/// Every range mended; none where that changes no range by more than its error.
fn mended(problem: &Problem, targets: &[Option<usize>], mend: Mend) -> Option<Problem> {
    let mut mended = problem.clone();
    let mut tells = false;
    for (sight, target) in mended.sights.iter_mut().zip(targets) {
        let own_height_m = sight.own_height_m;
        let (Some(range), Some(candidate)) = (&mut sight.range, *target) else { continue };
        let height = problem.candidates.get(candidate).map_or(0.0, |mark| mark.height_m);
        let value = mend(range.value, own_height_m, height);
        tells |= (value - range.value).abs() > range.sigma;
        range.value = value;
    }
    tells.then_some(mended)
}
