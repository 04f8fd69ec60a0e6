//! What rows would make of the fix: a shorter axis, or a fault that no longer hides.

use std::collections::BTreeMap;

use super::reading::{Care, foreseen, fresh};
use crate::fix::case::Case;
use crate::fix::finding::Finding;
use crate::fix::reliability::unnoticed_mark;
use crate::fix::report::Measure;
use crate::geodesy::{Covariance, LocalPlane, PlanePoint};
use crate::identity::{Hypothesis, Part, Quantity, Row, Solution, Square, State, mixture};
use crate::units::Angle;

/// Sets of identities of one place that are carried along, likeliest first.
const MOST_MEMBERS: usize = 8;

/// The covariance of all states once rows are added; none where nothing holds the position.
pub(super) fn with_rows(solution: &Solution, rows: &[Row]) -> Option<Square> {
    let mut information: Square = solution.information;
    for row in rows {
        information += row.slope * row.slope.transpose() / row.variance;
    }
    Some(information.cholesky()?.inverse())
}

/// Half the long axis of the 95 % ellipse, in metres.
pub(super) fn major_m(covariance: Covariance) -> f64 {
    covariance.ellipse(0.95).semi_major.metres()
}

/// Half the long axis once a measurement is taken that reads as the best set of identities
/// expects, in metres.
///
/// Every set of identities that leads to the place is carried along: the reading moves each, and
/// weighs it.
pub(super) fn major_after(
    case: &Case<'_>,
    finding: &Finding<'_>,
    candidate: usize,
    measure: Measure,
) -> Option<f64> {
    let rows_of = |of: &Hypothesis| {
        let rows = foreseen(case, &of.solution, candidate, measure, Care::Fine)?;
        Some(fresh(case, &of.solution, &of.targets, candidate, rows))
    };
    let lead = rows_of(finding.best)?;
    let plane = LocalPlane::new(finding.best.solution.position);
    let members = finding.mode.members.iter().take(MOST_MEMBERS);
    let parts: Vec<(f64, Part)> = members
        .filter_map(|&member| finding.posterior.hypotheses.get(member))
        .filter_map(|member| {
            let rows = rows_of(member).filter(|rows| rows.len() == lead.len())?;
            let off = rows.iter().zip(&lead).map(|(row, of_lead)| read_off(row, of_lead)).collect();
            carried(member, &plane, &rows, off)
        })
        .collect();
    let best = parts.iter().map(|(log, _)| *log).fold(f64::NEG_INFINITY, f64::max);
    let weighed: Vec<Part> = parts
        .into_iter()
        .map(|(log, part)| Part { weight: part.weight * (log - best).exp(), ..part })
        .collect();
    mixture(&weighed).map(|(_, covariance)| major_m(covariance))
}

/// By how much the reading expected by the best set is off what another expects.
fn read_off(row: &Row, of_lead: &Row) -> f64 {
    let off = row.residual - of_lead.residual;
    if row.quantity == Quantity::Bearing { Angle::from_radians(off).radians() } else { off }
}

/// A set of identities moved by a reading, with the logarithm of that reading's density under it.
fn carried(
    member: &Hypothesis,
    plane: &LocalPlane,
    rows: &[Row],
    off: Vec<f64>,
) -> Option<(f64, Part)> {
    let covariance = with_rows(&member.solution, rows)?;
    let mut pull = State::zeros();
    let mut log = 0.0;
    for (row, off) in rows.iter().zip(off) {
        pull += row.slope * (off / row.variance);
        log -= 0.5 * (off * off / row.variance + row.variance.ln());
    }
    let step = covariance * pull;
    let factor = covariance.cholesky()?;
    let half_log_det: f64 = factor.l_dirty().diagonal().iter().map(|d| d.ln()).sum();
    log += 0.5 * pull.dot(&step) + half_log_det + member.solution.half_log_det;
    let at = plane.to_plane(member.solution.position);
    let at = PlanePoint { east: at.east + step[0], north: at.north + step[1] };
    let covariance = crate::identity::covariance_of(&covariance);
    Some((log, Part { weight: member.probability, at, covariance }))
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
