use rayon::prelude::*;

use super::budget::{Budget, Cell, Heard};
use super::cautions::{NOTHING_CHARTED, cautions};
use super::echo::{Echo, nearest};
use super::expectation::{Expectation, ExpectedCoast, ExpectedMark, Outcome, SecondTime};
use super::fan::Fan;
use super::in_front::in_front;
use super::late::{past_the_pulse, told_late};
use super::mark_echo::{own_ground_m, own_m2};
use super::mask::Mask;
use super::relief::{LandSpan, Relief};
use super::sweep::{Strong, Sweep};
use super::vantage::{Conditions, Vantage};
use crate::chart::{Chart, Mark, MarkId};
use crate::geodesy::course;
use crate::radar::Set;
use crate::radar::geometry::{EarthRadius, slant_range};
use crate::units::{Angle, Bearing, GroundRange, Height, True};

/// No ground on Earth is higher, in metres: beyond its horizon nothing can show.
pub(super) const HIGHEST_M: f64 = 8_850.0;

/// What leaks into shadow this far under the noise, in decibels, is nothing.
const LEAST_LEAK_DB: f64 = -30.0;

/// What should paint from a place, all round.
///
/// Rays are laid out from the antenna over the chart's land; ground is lit where no ground nearer
/// stands steeper over an Earth enlarged by refraction; lit ground answers by constant γ for its
/// area across the line of sight, gathered over the beam's two-way pattern and one pulse; the
/// range equation, air, rain and the sea's own return give its chance to show. Shadows are soft: what
/// bends over the edge that hides counts. What is left out so far: the lobes that the sea's mirror
/// makes.
///
/// - `reach`: along the ground; marks beyond are not listed.
/// - `step_deg`: between rows of coast, 0.01 to 10.
pub fn expect(
    chart: &Chart,
    vantage: &Vantage,
    set: &Set,
    conditions: &Conditions,
    reach: GroundRange,
    step_deg: f64,
) -> Expectation {
    let budget = Budget::new(set, conditions, vantage.height);
    let horizon = conditions.earth.horizon_of(vantage.height);
    // Ground past the next pulse is looked at too, where any of it could be in sight.
    let far = past_the_pulse(chart, vantage, &budget).filter(|far| *far > reach).unwrap_or(reach);
    let fan = all_round(chart, &budget, far);
    let relief = Relief::of_chart(chart, vantage.position, &fan);
    let sweep = Sweep::new(fan, &relief, &budget);
    let seen = Seen { chart, vantage, sweep: &sweep };
    let mut marks = seen.marks(far);
    let second_time: Vec<ExpectedMark> =
        marks.iter().filter(|mark| mark.shows_late()).copied().collect();
    marks.retain(|mark| mark.ground_range <= reach);
    let mut cautions = cautions(chart, vantage, set, conditions, reach);
    if relief.rays.iter().all(Vec::is_empty) {
        cautions.push(NOTHING_CHARTED.to_owned());
    }
    cautions.extend(told_late(chart, &second_time));
    Expectation {
        horizon,
        marks,
        coast: seen.coast(step_deg.clamp(0.01, 10.0), reach),
        second_time,
        cautions,
    }
}

/// Rays close enough for the beam, samples close enough for the ground.
pub(super) fn all_round(chart: &Chart, budget: &Budget, reach: GroundRange) -> Fan {
    let earth = budget.conditions().earth;
    let highest = Height::from_metres(HIGHEST_M).unwrap_or_default();
    let within = reach.metres().min(earth.horizon(budget.own(), highest).metres());
    let spacing = (Angle::from_radians(budget.beam_rad()).degrees() / 6.0).clamp(0.1, 0.5);
    let step_m = Fan::step_over(chart.ground());
    Fan::all_round((360.0 / spacing).ceil() as usize, step_m, within.max(step_m))
}

/// One sweep, and what is asked of it.
pub(super) struct Seen<'a> {
    pub chart: &'a Chart,
    pub vantage: &'a Vantage,
    pub sweep: &'a Sweep<'a>,
}

impl Seen<'_> {
    pub fn bow_loss_db(&self, bearing: Bearing<True>) -> f64 {
        let off = self.vantage.heading.map_or(Angle::ZERO, |heading| bearing.minus(heading));
        let ahead = self.sweep.budget.set().off_bow_loss_db(Angle::ZERO);
        // With no heading, fixed lobes are taken to look at each bearing in turn.
        if self.vantage.heading.is_some() {
            self.sweep.budget.set().off_bow_loss_db(off)
        } else {
            ahead
        }
    }

    fn coast(&self, step_deg: f64, reach: GroundRange) -> Vec<ExpectedCoast> {
        let fan = &self.sweep.fan;
        let echoes: Vec<Vec<Echo>> = (0..fan.len())
            .into_par_iter()
            .map(|ray| self.sweep.echoes(ray, self.bow_loss_db(fan.bearing(ray))))
            .collect();
        let rows = (360.0 / step_deg - 1e-9).ceil() as usize;
        let half = 0.5 * self.sweep.budget.beam_rad();
        let spacing = std::f64::consts::TAU / fan.len().max(1) as f64;
        let side = ((half / spacing) as usize).min((fan.len().max(1) - 1) / 2);
        let row = |row: usize| {
            let bearing = Bearing::wrapped_degrees(row as f64 * step_deg);
            let (ray, count) = (fan.nearest(bearing), fan.len());
            let within = (0..=2 * side)
                .filter_map(|off| echoes.get((ray + count + off - side) % count.max(1)))
                .map(Vec::as_slice);
            nearest(within)
                .filter(|echo| echo.start_m <= reach.metres())
                .map(|echo| self.row(bearing, &echo))
        };
        (0..rows).into_par_iter().filter_map(row).collect()
    }

    fn row(&self, bearing: Bearing<True>, echo: &Echo) -> ExpectedCoast {
        let radius = EarthRadius::towards(self.vantage.position, bearing);
        let along = GroundRange::clamped_metres(echo.start_m);
        ExpectedCoast {
            bearing,
            range: slant_range(self.vantage.height, echo.height, along, radius),
            depth: GroundRange::clamped_metres(echo.end_m - echo.start_m),
            signal_to_noise_db: echo.signal_to_noise_db,
            paint_probability: echo.chance,
        }
    }

    pub fn marks(&self, reach: GroundRange) -> Vec<ExpectedMark> {
        let marks = self.chart.marks();
        let mut lines: Vec<(MarkId, &Mark, GroundRange, Bearing<True>)> = marks
            .within(self.vantage.position, reach)
            .into_iter()
            .filter_map(|id| marks.get(id).map(|mark| (id, mark)))
            .map(|(id, mark)| {
                let line = course(self.vantage.position, mark.position);
                (id, mark, line.distance, line.initial)
            })
            .filter(|line| line.2 <= reach)
            .collect();
        lines.sort_by(|a, b| a.3.radians().total_cmp(&b.3.radians()).then(a.0.0.cmp(&b.0.0)));
        let fan = &self.sweep.fan;
        let azimuths = lines.iter().map(|line| line.3.radians()).collect();
        let rays = Fan::towards(azimuths, fan.step_m, fan.reach_m());
        let relief = Relief::of_chart(self.chart, self.vantage.position, &rays);
        let mut seen: Vec<ExpectedMark> = lines
            .par_iter()
            .zip(&relief.rays)
            .map(|(&(id, mark, along, bearing), spans)| self.mark(id, mark, along, bearing, spans))
            .collect();
        seen.sort_by(|a, b| {
            a.range.metres().total_cmp(&b.range.metres()).then(a.mark.0.cmp(&b.mark.0))
        });
        seen
    }

    pub fn mark(
        &self,
        id: MarkId,
        mark: &Mark,
        along: GroundRange,
        bearing: Bearing<True>,
        spans: &[LandSpan],
    ) -> ExpectedMark {
        let radius = EarthRadius::towards(self.vantage.position, bearing);
        let range = slant_range(self.vantage.height, mark.height, along, radius);
        let Answer { heard, clear, top, .. } = self.answer(mark, along.metres(), bearing, spans);
        let budget = self.sweep.budget;
        let hidden = || {
            let earth = budget.conditions().earth;
            let curve = earth.horizon(budget.own(), top) < along;
            if curve { Outcome::BelowHorizon } else { Outcome::Shadowed }
        };
        let second_time = (range > budget.set().unambiguous_range() && budget.shows_late(range))
            .then_some(SecondTime {
                appears: budget.set().appears_at(range),
                paint_probability: heard.map_or(0.0, |heard| heard.chance),
            });
        let (outcome, heard) = match heard {
            _ if !budget.shows_at(range) => (Outcome::OutOfRange, None),
            None => (hidden(), None),
            Some(heard) => {
                let outcome = Outcome::of_chance(heard.chance, heard.chance_without_clutter);
                let leaks = matches!(outcome, Outcome::Paints | Outcome::Doubtful);
                (if clear || leaks { outcome } else { hidden() }, Some(heard))
            }
        };
        ExpectedMark {
            mark: id,
            range,
            ground_range: along,
            bearing,
            relative: self.vantage.heading.map(|heading| bearing.to_relative(heading)),
            signal_to_noise_db: heard.map(|heard| heard.signal_to_noise_db),
            signal_to_clutter_db: heard.and_then(|heard| heard.signal_to_clutter_db),
            paint_probability: heard.map_or(0.0, |heard| heard.chance),
            outcome,
            second_time,
        }
    }

    /// The stronger of the ground about the mark and the mark itself.
    pub fn answer(
        &self,
        mark: &Mark,
        along_m: f64,
        bearing: Bearing<True>,
        spans: &[LandSpan],
    ) -> Answer<'_> {
        let (sweep, budget) = (self.sweep, self.sweep.budget);
        let (before, behind) = own_ground_m(mark);
        let loss = 10f64.powf(-self.bow_loss_db(bearing) / 10.0);
        let sample = ((along_m / sweep.fan.step_m) - 1.0).max(0.0) as usize;
        let about = in_front(spans, &sweep.fan, budget, along_m, before.max(sweep.fan.step_m));
        let standing = about.mask.standing(along_m, mark.height.metres().max(1.0));
        let own = own_m2(mark, standing.shown_m, along_m, budget) * loss;
        let sea = |shore: bool| if shore { loss } else { 0.0 };
        let found = sweep.own_ground(bearing, along_m - before, along_m + behind);
        let ground: Vec<Cell> = found
            .iter()
            .map(|found| sweep.table.cell(found.sample, found.m2 * loss, sea(found.shore), loss))
            .collect();
        let by_ground = budget
            .heard_any(&ground)
            .zip(found.first().zip(ground.first()))
            .map(|(heard, (strong, cell))| (heard, By::Ground(*strong, ground.len()), *cell));
        let by_itself = (own > 0.0).then(|| {
            let cell = sweep.table.cell(sample, own, sea(!about.inland), loss);
            (budget.heard(cell), By::Itself(sample), cell)
        });
        let stronger = [by_ground, by_itself]
            .into_iter()
            .flatten()
            .max_by(|a, b| a.0.chance.total_cmp(&b.0.chance));
        let top = mark.height.metres().max(about.highest_m);
        let clear = standing.clear || found.iter().any(|found| found.clear);
        let stronger =
            stronger.filter(|(heard, ..)| clear || heard.signal_to_noise_db > LEAST_LEAK_DB);
        Answer {
            heard: stronger.map(|(heard, ..)| heard),
            by: stronger.map(|(_, by, cell)| (by, cell)),
            mask: about.mask,
            clear,
            top: Height::from_metres(top).unwrap_or(mark.height),
        }
    }
}

/// What comes back from where a mark is.
pub(super) struct Answer<'a> {
    /// `None` where nothing does.
    pub heard: Option<Heard>,
    /// What it comes from, and the cell it lies in.
    pub by: Option<(By, Cell)>,
    /// What lies before it.
    pub mask: Mask<'a>,
    /// Some of it is in plain sight.
    pub clear: bool,
    /// The highest of the mark and its ground.
    pub top: Height,
}

/// What answers for a mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum By {
    /// The strongest of so many cells of the ground about it.
    Ground(Strong, usize),
    /// The mark itself, in the cell of this sample.
    Itself(usize),
}
