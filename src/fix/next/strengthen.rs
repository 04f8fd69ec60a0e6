use rayon::prelude::*;

use super::TOLD;
use super::gain::{hidden_fault_m, major_after, major_m, with_rows};
use super::reading::{Care, foreseen, fresh};
use super::view::{Field, InSight, LEAST_CHANCE, View};
use super::words;
use crate::fix::case::Case;
use crate::fix::finding::Finding;
use crate::fix::prospect::Asked;
use crate::fix::report::{Measure, NextMeasurement, Purpose};
use crate::geodesy::LocalPlane;
use crate::identity::{Quantity, Row, Solution, covariance_of};
use crate::units::GroundRange;

/// The best by their charted points are gone into with the chart's shore.
const GONE_INTO: usize = 10;
/// Both readings are asked for only where the second leaves no more than this share of what the
/// better one alone leaves.
const BOTH_WORTH: f64 = 0.85;
/// The edges of a mark are asked for only where they leave no more than this share of what its
/// range or bearing leaves.
const EDGE_WORTH: f64 = 0.95;
/// A measurement that takes less than this share off is not worth asking for.
const LEAST_GAIN: f64 = 0.02;
/// Nearest shore paints where a mark no farther from it than this does, in metres.
const SAME_SHORE_M: f64 = 3_000.0;

/// One measurement weighed.
struct Weighed {
    candidate: usize,
    measure: Measure,
    /// Chance of painting times chance of being the mark times the share taken off.
    value: f64,
    major_m: f64,
}

/// What the fix is measured by: each is to become small.
struct Now<'a> {
    case: &'a Case<'a>,
    finding: &'a Finding<'a>,
    solution: &'a Solution,
    targets: &'a [Option<usize>],
    purpose: Purpose,
    major_m: f64,
    fault_m: f64,
}

/// The measurements that take most off the long axis of the ellipse, or off the greatest error that
/// would not show, best first, one for each mark.
///
/// The information of the reading is added to the normal matrix of the position found; the bias
/// that bearings share, that of all ranges and the shift of the chart stay unknowns, so that a
/// second bearing is not taken for more than it is.
pub(super) fn strengthen(
    case: &Case<'_>,
    finding: &Finding<'_>,
    purpose: Purpose,
) -> Vec<NextMeasurement> {
    let solution = &finding.best.solution;
    let view = View::new(case, &Field::new(case), solution, finding.mode.covariance);
    let now = Now::new(case, finding, purpose);
    let likely = view.seen.par_iter().filter(|mark| mark.chance >= LEAST_CHANCE);
    let mut rough: Vec<Weighed> =
        likely.filter_map(|mark| now.best_of(&view, mark, Care::Rough)).collect();
    sort(&mut rough);
    rough.truncate(GONE_INTO);
    let best = rough.par_iter().filter_map(|found| view.find(found.candidate));
    let mut fine: Vec<Weighed> =
        best.filter_map(|mark| now.best_of(&view, mark, Care::Fine)).collect();
    fine.extend(now.nearest_shore(&view));
    sort(&mut fine);
    // Chances so far are coarse: what is told is looked at as the budget of one mark has it.
    let from = solution.position;
    let shown = fine.iter().filter(|found| case.prospect.shows(found.candidate, from));
    shown.filter_map(|found| now.told(found)).take(TOLD).collect()
}

fn sort(found: &mut [Weighed]) {
    found.sort_by(|a, b| b.value.total_cmp(&a.value).then(a.major_m.total_cmp(&b.major_m)));
}

impl<'a> Now<'a> {
    fn new(case: &'a Case<'a>, finding: &'a Finding<'a>, purpose: Purpose) -> Self {
        let solution = &finding.best.solution;
        let targets = &finding.best.targets;
        Self {
            case,
            finding,
            solution,
            targets,
            purpose,
            major_m: major_m(finding.mode.covariance),
            fault_m: hidden_fault_m(
                solution,
                case.problem.any_shore,
                targets,
                &[],
                usize::MAX,
                &solution.covariance,
            ),
        }
    }

    /// What may be measured of one mark, with the rows that would come of it: those of range and
    /// bearing serve for either alone.
    fn readings(&self, candidate: usize, care: Care) -> Vec<(Measure, Vec<Row>)> {
        let (case, solution) = (self.case, self.solution);
        let of = |measure| foreseen(case, solution, candidate, measure, care);
        let told = |measure| of(measure).map(|rows| (measure, rows));
        let Some(both) = of(Measure::RangeAndBearing) else {
            return told(Measure::Range).into_iter().collect();
        };
        let only = |range: bool| -> Vec<Row> {
            both.iter().copied().filter(|row| (row.quantity == Quantity::Range) == range).collect()
        };
        let mut found = vec![(Measure::Range, only(true)), (Measure::Bearing, only(false))];
        found.push((Measure::RangeAndBearing, both));
        if care == Care::Fine && case.prospect.shows_edges(candidate, solution.position) {
            found.extend([Measure::Left, Measure::Right].into_iter().filter_map(told));
        }
        found
    }

    /// The measurement of one mark that brings most.
    fn best_of(&self, view: &View<'_>, mark: &InSight, care: Care) -> Option<Weighed> {
        let candidate = mark.candidate;
        let known = self.targets.contains(&Some(candidate));
        if self.purpose == Purpose::Check && known {
            return None;
        }
        let mut best: Option<(Measure, Left)> = None;
        for (measure, rows) in self.readings(candidate, care) {
            let worth = match measure {
                Measure::RangeAndBearing => BOTH_WORTH,
                Measure::Left | Measure::Right => EDGE_WORTH,
                Measure::Range | Measure::Bearing | Measure::Shore => 1.0,
            };
            let Some(left) = self.left_by(candidate, measure, &rows, care) else { continue };
            if best.as_ref().is_none_or(|(_, least)| left.share < worth * least.share) {
                best = Some((measure, left));
            }
        }
        let (measure, left) = best?;
        // The neighbours of what has been measured have been told from it by all contacts together.
        let gain = 1.0 - left.share;
        (gain >= LEAST_GAIN).then(|| Weighed {
            candidate,
            measure,
            value: mark.chance * if known { 1.0 } else { view.sureness(mark) } * gain,
            major_m: left.major_m,
        })
    }

    /// The range of the nearest shore, where a mark by it paints.
    fn nearest_shore(&self, view: &View<'_>) -> Option<Weighed> {
        let case = self.case;
        let mut others =
            case.problem.candidates.iter().enumerate().filter(|(_, m)| m.weight <= 0.0);
        let (shore, _) = others.find(|(index, _)| !case.is_any_shore(*index))?;
        let from = self.solution.position;
        let answer = case.prospect.part(Asked::Shore, shore, from, 0.0)?;
        let at = LocalPlane::new(from).to_plane(answer.position);
        let chance = view
            .seen
            .iter()
            .filter(|mark| mark.at.distance(at) <= SAME_SHORE_M)
            .map(|mark| mark.chance)
            .fold(0.0, f64::max);
        let rows = foreseen(case, self.solution, shore, Measure::Shore, Care::Fine)?;
        let left = self.left_by(shore, Measure::Shore, &rows, Care::Fine)?;
        let gain = 1.0 - left.share;
        (chance >= LEAST_CHANCE && gain >= LEAST_GAIN).then_some(Weighed {
            candidate: shore,
            measure: Measure::Shore,
            value: chance * gain,
            major_m: left.major_m,
        })
    }

    fn left_by(
        &self,
        candidate: usize,
        measure: Measure,
        foreseen: &[Row],
        care: Care,
    ) -> Option<Left> {
        let rows = fresh(self.case, self.solution, self.targets, candidate, foreseen);
        // What has just been read is not asked for together with what has not.
        let repeats = rows.len() < foreseen.len() && measure == Measure::RangeAndBearing;
        if repeats || rows.is_empty() {
            return None;
        }
        let covariance = with_rows(self.solution, &rows);
        let major = match care {
            Care::Rough => major_m(covariance_of(&covariance)),
            Care::Fine => major_after(self.case, self.finding, candidate, foreseen)?,
        };
        let share = match self.purpose {
            Purpose::Check => {
                let (solution, targets) = (self.solution, self.targets);
                let shore = self.case.problem.any_shore;
                let left = hidden_fault_m(solution, shore, targets, &rows, candidate, &covariance);
                left / self.fault_m.max(1.0)
            }
            Purpose::Shorten | Purpose::Settle => major / self.major_m.max(1.0),
        };
        share.is_finite().then_some(Left { share, major_m: major })
    }

    fn told(&self, found: &Weighed) -> Option<NextMeasurement> {
        let case = self.case;
        let looked = words::looked_at(case, self.solution, found.candidate, found.measure)?;
        let (before, after) = (
            GroundRange::clamped_metres(self.major_m),
            GroundRange::clamped_metres(found.major_m.min(self.major_m)),
        );
        let name = case.name(found.candidate);
        let brings = match self.purpose {
            Purpose::Check => words::checks(),
            Purpose::Shorten | Purpose::Settle => words::shortens(before, after),
        };
        Some(NextMeasurement {
            mark: name.to_owned(),
            measure: found.measure,
            major_axis_after: after,
            purpose: self.purpose,
            settles: None,
            range: Some(looked.range),
            bearing: Some(looked.bearing),
            words: words::line(found.measure, name, Some(looked), &brings),
        })
    }
}

/// What a measurement leaves: of what is to become small, as a share; of the long axis, in metres.
struct Left {
    share: f64,
    major_m: f64,
}
