//! What rows would make of the fix: a shorter axis, or a fault that no longer hides.

use std::collections::BTreeMap;

use super::reading::fresh;
use crate::fix::case::Case;
use crate::fix::finding::Finding;
use crate::fix::reliability::unnoticed_mark;
use crate::geodesy::{Covariance, LocalPlane, PlanePoint};
use crate::identity::{Part, Row, Solution, Square, State, covariance_of, mixture};

/// Sets of identities of one place that are carried along, likeliest first.
const MOST_MEMBERS: usize = 8;

/// A solution once readings are taken.
pub(super) struct Taken {
    /// Of all states.
    pub covariance: Square,
    /// How far the states move.
    step: State,
    /// Logarithm of the density of the readings.
    log: f64,
}

/// Takes rows one after another: each moves the states by its own gain (R. E. Kalman, "A new
/// approach to linear filtering and prediction problems", 1960, from memory), with no new solution.
///
/// - `off`: what each reads less what is expected.
pub(super) fn taken(solution: &Solution, rows: &[Row], off: impl Fn(&Row) -> f64) -> Taken {
    let mut taken = Taken { covariance: solution.covariance, step: State::zeros(), log: 0.0 };
    for row in rows {
        let gain = taken.covariance * row.slope;
        let variance = row.slope.dot(&gain) + row.variance;
        let off = off(row) - row.slope.dot(&taken.step);
        taken.covariance.ger(-1.0 / variance, &gain, &gain, 1.0);
        taken.step.axpy(off / variance, &gain, 1.0);
        taken.log -= 0.5 * (off * off / variance + variance.ln());
    }
    taken
}

/// The covariance of all states once rows are added.
pub(in crate::fix) fn with_rows(solution: &Solution, rows: &[Row]) -> Square {
    taken(solution, rows, |_| 0.0).covariance
}

/// Half the long axis of the 95 % ellipse, in metres.
pub(in crate::fix) fn major_m(covariance: Covariance) -> f64 {
    covariance.ellipse(0.95).semi_major.metres()
}

/// Half the long axis once a measurement is taken that reads as the best set of identities
/// expects, in metres; `rows` are those foreseen under that set.
///
/// Every set of identities that leads to the place is carried along: the reading moves each, and
/// weighs it. They lie so near to the best that what each expects differs by the slope alone.
pub(super) fn major_after(
    case: &Case<'_>,
    finding: &Finding<'_>,
    candidate: usize,
    rows: &[Row],
) -> Option<f64> {
    let lead = &finding.best.solution;
    let plane = LocalPlane::new(lead.position);
    let count = fresh(case, lead, &finding.best.targets, candidate, rows).len();
    let members = finding.mode.members.iter().take(MOST_MEMBERS);
    let parts: Vec<(f64, Part)> = members
        .filter_map(|&member| finding.posterior.hypotheses.get(member))
        .filter_map(|member| {
            let solution = &member.solution;
            let rows = fresh(case, solution, &member.targets, candidate, rows);
            let at = plane.to_plane(solution.position);
            let mut apart = solution.state - lead.state;
            (apart[0], apart[1]) = (at.east, at.north);
            let taken = taken(solution, &rows, |row| -row.slope.dot(&apart));
            let at = PlanePoint { east: at.east + taken.step[0], north: at.north + taken.step[1] };
            let covariance = covariance_of(&taken.covariance);
            (rows.len() == count)
                .then_some((taken.log, Part { weight: member.probability, at, covariance }))
        })
        .collect();
    let best = parts.iter().map(|(log, _)| *log).fold(f64::NEG_INFINITY, f64::max);
    let weighed: Vec<Part> = parts
        .into_iter()
        .map(|(log, part)| Part { weight: part.weight * (log - best).exp(), ..part })
        .collect();
    mixture(&weighed).map(|(_, covariance)| major_m(covariance))
}

/// The greatest displacement of the fix, in metres, by one mark of those it rests on being another
/// than it is taken for, and nothing showing it.
///
/// `added` are the rows of one more candidate, which may be one that was measured before.
pub(super) fn hidden_fault_m(
    solution: &Solution,
    any_shore: Option<usize>,
    targets: &[Option<usize>],
    added: &[Row],
    candidate: usize,
    covariance: &Square,
) -> f64 {
    // Shore that is no mark is another stretch for each contact.
    let mut by_mark: BTreeMap<(usize, Option<usize>), Vec<&Row>> = BTreeMap::new();
    let key = |mark: usize, sight: usize| (mark, any_shore.filter(|s| *s == mark).and(Some(sight)));
    for row in &solution.rows {
        if let Some(mark) = targets.get(row.sight).copied().flatten() {
            by_mark.entry(key(mark, row.sight)).or_default().push(row);
        }
    }
    if !added.is_empty() {
        by_mark.entry((candidate, None)).or_default().extend(added);
    }
    by_mark
        .into_values()
        .map(|rows| unnoticed_mark(rows.into_iter(), covariance))
        .fold(0.0, f64::max)
}
