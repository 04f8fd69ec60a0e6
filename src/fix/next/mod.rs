//! What to measure next, and what it would bring.
//!
//! Three aims, the first that is not yet met: to tell the places that fit apart ([`settle`]), to
//! show a wrong contact ([`strengthen`], with few contacts more than the position needs), to make
//! the ellipse shorter. Each measurement is weighed by the chance that the mark paints, by the
//! chance that the echo taken for it is its own, and by what it brings; geometry, errors and reach
//! are those of the set, and of the part of the mark that would answer.

pub(super) mod gain;
mod law;
pub(super) mod reading;
mod settle;
mod strengthen;
#[cfg(test)]
mod tests;
mod trial;
mod view;
mod words;

use super::case::Case;
use super::finding::Finding;
use super::report::{NextMeasurement, Purpose};
use crate::identity::Support;

/// How many measurements are told.
const TOLD: usize = 5;
/// Echoes of something charted, from which on a wrong one among them shows.
const CHECKED_BY: usize = 3;

/// After a fix: what would check it while little does, else what would make its ellipse shorter.
pub(super) fn after_a_fix(case: &Case<'_>, finding: &Finding<'_>) -> Vec<NextMeasurement> {
    let purpose = if is_little_checked(case, finding) { Purpose::Check } else { Purpose::Shorten };
    strengthen::strengthen(case, finding, purpose)
}

/// While several places fit.
pub(super) fn between_places(case: &Case<'_>, finding: &Finding<'_>) -> Vec<NextMeasurement> {
    settle::settle(case, finding)
}

/// While a direction is free: what fixes it, unless it is not even known which place it is about.
pub(super) fn along_a_free_line(case: &Case<'_>, finding: &Finding<'_>) -> Vec<NextMeasurement> {
    if finding.mode.probability < 0.5 {
        let found = settle::settle(case, finding);
        if !found.is_empty() {
            return found;
        }
    }
    strengthen::strengthen(case, finding, Purpose::Shorten)
}

/// Whether a wrong contact could well go unnoticed.
pub(super) fn is_little_checked(case: &Case<'_>, finding: &Finding<'_>) -> bool {
    let echoes = Support::of(&case.problem, &finding.best.targets).echoes();
    finding.best.solution.rows.len() <= 2 || echoes < CHECKED_BY
}
