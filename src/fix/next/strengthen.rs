use super::TOLD;
use super::gain::{hidden_fault_m, major_after, major_m, with_rows};
use super::reading::{Care, foreseen, fresh};
use super::view::{LEAST_CHANCE, View};
use super::words;
use crate::fix::case::Case;
use crate::fix::finding::Finding;
use crate::fix::prospect::Asked;
use crate::fix::report::{Measure, NextMeasurement, Purpose};
use crate::geodesy::LocalPlane;
use crate::identity::{Solution, covariance_of};
use crate::units::GroundRange;

/// The best by their charted points are gone into with the chart's shore.
const GONE_INTO: usize = 16;
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
    let view = View::new(case, solution, finding.mode.covariance);
    let now = Now::new(case, finding, purpose);
    let mut rough = now.all(&view, Care::Rough);
    rough.truncate(GONE_INTO);
    let marks: Vec<usize> = rough.iter().map(|found| found.candidate).collect();
    let mut fine: Vec<Weighed> =
        marks.iter().filter_map(|&mark| now.best_of(&view, mark, Care::Fine)).collect();
    fine.extend(now.nearest_shore(&view));
    sort(&mut fine);
    fine.truncate(TOLD);
    fine.iter().filter_map(|found| now.told(found)).collect()
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

    fn all(&self, view: &View<'_>, care: Care) -> Vec<Weighed> {
        let mut found: Vec<Weighed> = view
            .seen
            .iter()
            .filter(|mark| mark.chance >= LEAST_CHANCE)
            .filter_map(|mark| self.best_of(view, mark.candidate, care))
            .collect();
        sort(&mut found);
        found
    }

    /// The measurement of one mark that brings most.
    fn best_of(&self, view: &View<'_>, candidate: usize, care: Care) -> Option<Weighed> {
        let mark = view.find(candidate)?;
        if self.purpose == Purpose::Check && self.targets.contains(&Some(candidate)) {
            return None;
        }
        let of = |measure| self.left_by(candidate, measure, care);
        let mut best: Option<(Measure, Left)> = None;
        let mut take = |measure, worth: f64| {
            let Some(left) = of(measure) else { return };
            if best.as_ref().is_none_or(|(_, least)| left.share < worth * least.share) {
                best = Some((measure, left));
            }
        };
        take(Measure::Range, 1.0);
        take(Measure::Bearing, 1.0);
        take(Measure::RangeAndBearing, BOTH_WORTH);
        if care == Care::Fine && self.case.prospect.shows_edges(candidate, self.solution.position) {
            take(Measure::Left, EDGE_WORTH);
            take(Measure::Right, EDGE_WORTH);
        }
        let (measure, left) = best?;
        // The neighbours of what has been measured have been told from it by all contacts together.
        let known = self.targets.contains(&Some(candidate));
        let sure = if known { 1.0 } else { view.sureness(self.case, mark) };
        let gain = 1.0 - left.share;
        (gain >= LEAST_GAIN).then_some(Weighed {
            candidate,
            measure,
            value: mark.chance * sure * gain,
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
        let left = self.left_by(shore, Measure::Shore, Care::Fine)?;
        let gain = 1.0 - left.share;
        (chance >= LEAST_CHANCE && gain >= LEAST_GAIN).then_some(Weighed {
            candidate: shore,
            measure: Measure::Shore,
            value: chance * gain,
            major_m: left.major_m,
        })
    }

    fn left_by(&self, candidate: usize, measure: Measure, care: Care) -> Option<Left> {
        let rows = foreseen(self.case, self.solution, candidate, measure, care)?;
        let count = rows.len();
        let rows = fresh(self.case, self.solution, self.targets, candidate, rows);
        // What has just been read is not asked for together with what has not.
        if rows.len() < count && measure == Measure::RangeAndBearing || rows.is_empty() {
            return None;
        }
        let covariance = with_rows(self.solution, &rows)?;
        let major = match care {
            Care::Rough => major_m(covariance_of(&covariance)),
            Care::Fine => major_after(self.case, self.finding, candidate, measure)?,
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
