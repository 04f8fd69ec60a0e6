use crate::chart::MarkId;
use crate::contact::{Own, Radar, Reckoning, Sightings};
use crate::fix::case::Case;
use crate::fix::next::gain::{major_m, with_rows};
use crate::fix::next::reading::{Care, foreseen};
use crate::fix::report::Measure;
use crate::fix::setting::{Setting, setting};
use crate::fix::slips;
use crate::geodesy::{Covariance, Ellipse, course};
use crate::identity::{Quantity, Row, Solution, covariance_of, solve};
use crate::paint::approach::Landward;
use crate::units::{
    Angle, Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, SlantRange, Speed, True,
};

use super::Asked;

/// Distances to run at which the picture is looked at, in nautical miles: common practice is to
/// foretell it at a few such (second-hand).
const TO_RUN_NM: [f64; 5] = [60.0, 40.0, 25.0, 15.0, 8.0];

/// Moments closer to the first than this are the same, metres of the run.
const APART_M: f64 = 3.0 * METRES_PER_NAUTICAL_MILE;

/// A mark less likely than this to paint is not counted on.
const SURE: f64 = 0.9;

/// The most marks that are weighed at one moment, nearest first.
const MOST_WEIGHED: usize = 24;

/// More readings are asked for only where they leave no more than this share of the long axis.
const WORTH: f64 = 0.85;

/// What to measure at one moment of the run, and what it will make of the reckoning's ellipse.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// Along the track, metres.
    pub run_m: f64,
    /// From the start.
    pub seconds: f64,
    /// To run to the landfall, or to the end.
    pub to_run: GroundRange,
    /// The 95 % ellipse of the reckoning by then, if nothing is measured.
    pub before: Ellipse,
    /// The best mark alone; none where the set reads none that surely paints.
    pub one: Option<Choice>,
    /// The best two together.
    pub two: Option<Choice>,
}

/// What is measured, and the ellipse that it leaves.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// One mark or two.
    pub takes: Vec<Take>,
    /// At 95 %, reckoning and measurements together.
    pub after: Ellipse,
}

/// One mark to be measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Take {
    /// Which.
    pub mark: MarkId,
    /// Its range, its bearing or both.
    pub measure: Measure,
    /// Straight to where it is looked for.
    pub range: SlantRange,
    /// And on which bearing.
    pub bearing: Bearing<True>,
    /// The chance that it paints there and then.
    pub chance: f64,
    /// A mark that it may be taken for, by the reckoning's error.
    pub alike: Option<MarkId>,
}

/// What to measure at a few moments: when two marks first surely paint, then at distances to run.
///
/// Linear algebra on the errors that a fix is made with: the reckoning's, one bias of all bearings,
/// one of all ranges, the shift of the chart, own height, each reading's and each mark's own. Only
/// marks count that are due, at nine in ten, even by the latest of the reckoning's 95 %.
pub(super) fn looks(asked: &Asked<'_>) -> Vec<Look> {
    let mut due_s: Vec<f64> = asked.sure().filter_map(|(event, _)| event.spread.latest_s).collect();
    due_s.sort_by(f64::total_cmp);
    let Some(&two_s) = due_s.get(1) else { return Vec::new() };
    let (end_m, speed) = (asked.end_m(), asked.plan.speed.metres_per_second());
    let first_m = two_s * speed;
    let later = TO_RUN_NM.iter().map(|miles| end_m - miles * METRES_PER_NAUTICAL_MILE);
    let moments = std::iter::once(first_m).chain(later.filter(|run_m| *run_m > first_m + APART_M));
    let towards = asked.plan.track;
    let (height, heading) = (asked.plan.height, Some(towards));
    let landward =
        Landward::new(asked.chart, height, heading, towards, asked.set, asked.conditions);
    moments
        .filter(|run_m| (0.0..=end_m).contains(run_m))
        .filter_map(|run_m| Moment::new(asked, &landward, run_m).look())
        .collect()
}

/// A mark that surely paints at a moment, and what would be read of it.
struct Seen {
    mark: MarkId,
    chance: f64,
    range: SlantRange,
    bearing: Bearing<True>,
    rows: Vec<Row>,
}

struct Moment<'a> {
    asked: &'a Asked<'a>,
    landward: &'a Landward<'a>,
    run_m: f64,
    sightings: Sightings,
}

impl<'a> Moment<'a> {
    fn new(asked: &'a Asked<'a>, landward: &'a Landward<'a>, run_m: f64) -> Self {
        Self { asked, landward, run_m, sightings: sightings(asked, run_m) }
    }

    fn look(&self) -> Option<Look> {
        let setting = setting(self.asked.chart, &self.sightings, None);
        let Setting { problem, names, time, ground, .. } = setting;
        let case = Case {
            problem,
            labels: Vec::new(),
            names,
            answering: &ground,
            sighting: &ground,
            prospect: &ground,
            time,
            cautions: Vec::new(),
            slips: slips::possible(&self.sightings),
        };
        let from = case.problem.prior.position;
        let solution = solve(&case.problem, case.answering, &[], from, 0.0, true)?;
        let seen = self.seen(&case, ground.marks(), &solution);
        let plan = self.asked.plan;
        let to_run_m = (self.asked.end_m() - self.run_m).max(0.0);
        Some(Look {
            run_m: self.run_m,
            seconds: plan.seconds(self.run_m),
            to_run: GroundRange::clamped_metres(to_run_m),
            before: case.problem.prior.covariance.ellipse(0.95),
            one: self.best_one(&solution, &seen),
            two: self.best_two(&solution, &seen),
        })
    }

    /// The marks that surely paint now, those that no other is taken for alone where there are any.
    fn seen(&self, case: &Case<'_>, marks: &[MarkId], solution: &Solution) -> Vec<Seen> {
        let now_s = self.asked.plan.seconds(self.run_m);
        let from = solution.position;
        let due = self.asked.sure().filter(|(event, _)| {
            event.spread.latest_s.is_some_and(|latest_s| latest_s <= now_s + 1.0)
        });
        let mut due: Vec<_> =
            due.map(|(event, mark)| (event.seen.mark, course(from, mark.position))).collect();
        due.sort_by(|a, b| a.1.distance.metres().total_cmp(&b.1.distance.metres()));
        let seen: Vec<Seen> = due
            .into_iter()
            .filter_map(|(mark, line)| {
                let chance = self.landward.mark(from, mark);
                let candidate = marks.binary_search(&mark).ok()?;
                let charted = self.asked.chart.marks().get(mark)?;
                if chance < SURE {
                    return None;
                }
                let both = Measure::RangeAndBearing;
                let rows = foreseen(case, solution, candidate, both, Care::Fine)
                    .or_else(|| foreseen(case, solution, candidate, Measure::Range, Care::Fine))?;
                let range = line
                    .distance
                    .metres()
                    .hypot(case.problem.own_height_m - charted.height.metres());
                let range = SlantRange::clamped_metres(range);
                Some(Seen { mark, chance, range, bearing: line.initial, rows })
            })
            .take(MOST_WEIGHED)
            .collect();
        let alone = |seen: &Seen| self.asked.alike(seen.mark).next().is_none();
        if seen.iter().any(alone) { seen.into_iter().filter(alone).collect() } else { seen }
    }

    fn best_one(&self, solution: &Solution, seen: &[Seen]) -> Option<Choice> {
        self.best(solution, seen.iter().map(|one| vec![one]))
    }

    fn best_two(&self, solution: &Solution, seen: &[Seen]) -> Option<Choice> {
        let pairs = seen.iter().enumerate();
        let pairs = pairs.flat_map(|(i, one)| seen.iter().skip(i + 1).map(move |o| vec![one, o]));
        self.best(solution, pairs)
    }

    /// The marks that leave the shortest long axis, and what to read of them.
    fn best<'s>(
        &self,
        solution: &Solution,
        groups: impl Iterator<Item = Vec<&'s Seen>>,
    ) -> Option<Choice> {
        let mut best: Option<(f64, Vec<&Seen>)> = None;
        for group in groups {
            let major = major_m(after(solution, &group, &Both));
            if best.as_ref().is_none_or(|(least, _)| major < *least) {
                best = Some((major, group));
            }
        }
        let (both_m, group) = best?;
        // Ranges alone are the quicker and the surer reading: bearings are added where they pay.
        let ranges = after(solution, &group, &Ranges);
        let ranged = both_m >= WORTH * major_m(ranges);
        let covariance = if ranged { ranges } else { after(solution, &group, &Both) };
        let takes = group.iter().map(|seen| Take {
            mark: seen.mark,
            measure: measure(seen, ranged),
            range: seen.range,
            bearing: seen.bearing,
            chance: seen.chance,
            alike: self.asked.alike(seen.mark).next(),
        });
        Some(Choice { takes: takes.collect(), after: covariance.ellipse(0.95) })
    }
}

/// Which rows are counted.
trait Counted {
    fn counts(&self, row: &Row) -> bool;
}

struct Both;
struct Ranges;

impl Counted for Both {
    fn counts(&self, _: &Row) -> bool {
        true
    }
}

impl Counted for Ranges {
    fn counts(&self, row: &Row) -> bool {
        row.quantity == Quantity::Range
    }
}

fn after(solution: &Solution, group: &[&Seen], counted: &dyn Counted) -> Covariance {
    let rows = group.iter().flat_map(|seen| &seen.rows).filter(|row| counted.counts(row));
    let rows: Vec<Row> = rows.copied().collect();
    covariance_of(&with_rows(solution, &rows))
}

fn measure(seen: &Seen, ranged: bool) -> Measure {
    let borne = seen.rows.iter().any(Row::is_direction);
    if ranged || !borne { Measure::Range } else { Measure::RangeAndBearing }
}

/// Sightings of nothing yet, from the reckoning as it will be by then.
fn sightings(asked: &Asked<'_>, run_m: f64) -> Sightings {
    let plan = asked.plan;
    let later = jiff::SignedDuration::from_secs(plan.seconds(run_m).round() as i64);
    let sigma = GroundRange::clamped_metres;
    let reckoning = Reckoning {
        time: asked.start.checked_add(later).unwrap_or(asked.start),
        position: plan.at(run_m),
        covariance: Covariance::along_across(
            sigma(plan.sigma_along_m(run_m)),
            sigma(plan.sigma_across_m(run_m)),
            plan.track,
        ),
        track: None,
        speed: None,
        earlier: Vec::new(),
        flow: None,
        track_sigma: Angle::ZERO,
        speed_sigma: Speed::ZERO,
    };
    let own = Own { heading: Some(plan.track), ..Own::at_height(plan.height) };
    let radar = Radar {
        set: asked.set.clone(),
        set_name: asked.set.name.clone(),
        range_sigma_nm: None,
        bearing_sigma_deg: None,
    };
    Sightings::new(reckoning, own, radar)
}
