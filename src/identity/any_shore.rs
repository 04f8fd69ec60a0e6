//! Shore that is no mark: an operator takes echoes off a picture, and not every point of it that
//! stands out is on the list.
//!
//! Such a contact still says much. Its bearing only chose the shore, but its range was read to the
//! first shore on that bearing, so that a set of identities under which it lies on a coast is worth
//! more than one under which it lies at sea or inland.

use std::f64::consts::TAU;

use rayon::prelude::*;

use super::estimator::{Effort, solve_within};
use super::kin::log_shared;
use super::posterior::{Hypothesis, Sighting, log_left_out};
use super::prior::{self, log_off_chart};
use super::problem::{Answering, Problem, Reading, Sight, Targets, turned};
use super::{Solution, rows};
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::units::Angle;

/// Of the echoes of land that are given, so many are of no listed mark.
const SHARE: f64 = 0.25;
/// A coast in sight fills so much of the horizon, in radians.
const LIT_RAD: f64 = 1.5;
/// Where the echo begins and the charted line differ by so much, for ordering only, in metres.
const ROUGH_M: f64 = 500.0;
/// A contact this many squared deviations off the first shore on its bearing is not of it.
const GATE: f64 = 16.0;
/// Sets of identities looked at for contacts that may be any shore, likeliest first.
const MOST_LOOKED_AT: usize = 32;
/// Less likely ones than this against the best, in nats, are not.
const LOOKED_AT_NATS: f64 = 12.0;

/// Sets varied one contact at a time, and how far behind the best.
const MOST_VARIED: usize = 6;
const VARIED_NATS: f64 = 4.0;

/// Whether a sight may be of any shore: a leading edge, ranged and borne.
pub(super) fn may_be(problem: &Problem, sight: &Sight) -> bool {
    let measured = sight.range.is_some() && !sight.directions().is_empty();
    problem.any_shore.is_some() && sight.is_of_leading_edge() && measured && sight.surely.is_none()
}

/// The part of the prior that is left for listed marks.
pub(super) fn share_of_marks(problem: &Problem, sight: &Sight) -> f64 {
    if may_be(problem, sight) { 1.0 - SHARE } else { 1.0 }
}

/// Logarithm of the prior that a sight is of shore that is no mark, and of the density of its
/// direction by radian, or by decibel where it was a ratio, `chance` being that of the shore to
/// paint.
fn log_prior(sight: &Sight, direction: Reading, chance: f64) -> f64 {
    let unnamed = sight.belief.map_or(1.0, |belief| 1.0 - belief.confidence);
    let density = sight.radians_by_unit(direction) / LIT_RAD;
    ((1.0 - sight.off_chart) * unnamed * SHARE * chance * density).max(f64::MIN_POSITIVE).ln()
}

/// How much likelier a contact that no mark explains becomes by the shore about where it would be
/// plotted: in nats, roughly, for ordering.
///
/// - `own`: own place at the common time; `sigma_m`: its error, on an axis.
pub(super) fn log_gain(
    problem: &Problem,
    answering: &dyn Answering,
    sight: &Sight,
    (own, plane): (PlanePoint, &LocalPlane),
    (bias, sigma_m): (f64, f64),
) -> f64 {
    let Some(range) = sight.range else { return 0.0 };
    let sigma = range.sigma.hypot(ROUGH_M).hypot(sigma_m);
    let density = |direction: &Reading| {
        let at = plotted(sight, (own, plane), range.value, direction.value - bias);
        let off = answering.off_shore(plane.to_position(at))?;
        let density = (-0.5 * (off / sigma).powi(2)).exp() / (sigma * TAU.sqrt());
        Some(log_prior(sight, *direction, 1.0).exp() * density)
    };
    // Both by square metre.
    let shore: f64 =
        sight.directions().iter().filter_map(density).sum::<f64>() / range.value.max(1.0);
    let ship = log_off_chart(sight, problem.reach_m).exp();
    (1.0 + shore / ship.max(f64::MIN_POSITIVE)).ln()
}

/// The part of the echoes of land that is left for listed marks, where others are thought of.
pub(crate) fn part_of_marks() -> f64 {
    1.0 - SHARE
}

/// The density, by metre and radian, of an echo plotted at a place being of shore that is no mark:
/// the prior of an unnamed echo of land in it; nothing where there is no shore about.
///
/// - `sigma_m`: how well the place is plotted along the line to it.
pub(crate) fn density_at(answering: &dyn Answering, at: Position, sigma_m: f64) -> f64 {
    let Some(off) = answering.off_shore(at) else { return 0.0 };
    let sigma = sigma_m.hypot(ROUGH_M);
    SHARE / LIT_RAD * (-0.5 * (off / sigma).powi(2)).exp() / (sigma * TAU.sqrt())
}

/// Logarithm of how likely contacts left out are where they would be plotted, against anywhere at
/// all: ships keep to the sea.
pub(super) fn log_at_sea(
    problem: &Problem,
    sighting: &dyn Sighting,
    targets: &[Option<usize>],
    solution: &Solution,
) -> f64 {
    let plane = LocalPlane::new(solution.position);
    let bias = solution.bearing_bias().0;
    problem
        .sights
        .iter()
        .zip(targets)
        .filter(|(sight, target)| target.is_none() && sight.surely.is_none())
        .filter_map(|(sight, _)| {
            let range = sight.range?;
            let chances = sight.directions().iter().map(|direction| {
                let own = PlanePoint::default();
                let at = plotted(sight, (own, &plane), range.value, direction.value - bias);
                sighting.sea_chance(plane.to_position(at))
            });
            // Where a ratio allows more than one direction: the likeliest.
            Some(chances.reduce(f64::max)?.max(f64::MIN_POSITIVE).ln())
        })
        .sum()
}

/// Where a contact lies from own place at the common time, the run since taken back, on a plane about own place or
/// near it.
fn plotted(
    sight: &Sight,
    (own, plane): (PlanePoint, &LocalPlane),
    range_m: f64,
    bearing: f64,
) -> PlanePoint {
    let (sin, cos) = bearing.sin_cos();
    let out =
        PlanePoint { east: range_m * sin - sight.run.east, north: range_m * cos - sight.run.north };
    let out = turned(out, sight.convergence(plane.centre()));
    PlanePoint { east: own.east + out.east, north: own.north + out.north }
}

/// A mark's part of all that an operator at a place might have picked for a sight.
type Share<'a> = &'a dyn Fn(&Sight, Position, usize) -> f64;

/// Makes sets of identities in which contacts are of shore that is no mark.
pub(super) struct Shores<'a> {
    pub problem: &'a Problem,
    pub answering: &'a dyn Answering,
    pub sighting: &'a dyn Sighting,
    /// The candidate that stands for such shore.
    pub any_shore: usize,
}

/// A contact of a set that is to be taken for something else than its mark.
struct Varied<'h> {
    of: &'h Hypothesis,
    sight: usize,
    /// Logarithm of the prior that it is that mark, with what a name that it shares has to do with that.
    log_prior: f64,
}

impl Shores<'_> {
    /// For the likeliest sets that leave contacts out, the same with those of them on the shore that
    /// would be there.
    pub fn instead_of_ships(&self, solved: &[Hypothesis]) -> Vec<Hypothesis> {
        let with_some_left =
            solved.iter().filter(|h| self.left_out(&h.targets).next().is_some() && h.matched() > 0);
        likeliest(with_some_left, MOST_LOOKED_AT, LOOKED_AT_NATS)
            .into_par_iter()
            .filter_map(|hypothesis| self.on_shore(hypothesis))
            .collect()
    }

    /// For the likeliest sets, the same with one contact at a time taken for shore that is no mark,
    /// not for the mark it fits: a neighbour of what it was would fit as well, at another place.
    pub fn instead_of_one_mark(&self, solved: &[Hypothesis], share: Share<'_>) -> Vec<Hypothesis> {
        let several = solved.iter().filter(|h| h.matched() > 1);
        let varied: Vec<Varied<'_>> = likeliest(several, MOST_VARIED, VARIED_NATS)
            .into_iter()
            .flat_map(|of| {
                let sights = 0..self.problem.sights.len();
                sights.filter_map(move |sight| self.varied(of, sight, share))
            })
            .collect();
        varied.into_par_iter().filter_map(|varied| self.on_shore(&self.without(&varied)?)).collect()
    }

    /// A contact of a set that may be of no mark; none where it is of none as it is.
    fn varied<'h>(&self, of: &'h Hypothesis, sight: usize, share: Share<'_>) -> Option<Varied<'h>> {
        let about = self.problem.sights.get(sight)?;
        let mark = of.targets.get(sight).copied().flatten()?;
        let is_mark = mark != self.any_shore && may_be(self.problem, about);
        is_mark.then(|| {
            let share = |about: &Sight, mark| {
                share_of_marks(self.problem, about) * share(about, of.solution.position, mark)
            };
            let mut without = of.targets.clone();
            if let Some(slot) = without.get_mut(sight) {
                *slot = None;
            }
            let log_prior = prior::log_prior(about, mark, share(about, mark))
                + log_shared(self.problem, &of.targets, share)
                - log_shared(self.problem, &without, share);
            Varied { of, sight, log_prior }
        })
    }

    /// The sights that a set leaves out and that may be of any shore.
    fn left_out<'t>(&'t self, targets: &'t [Option<usize>]) -> impl Iterator<Item = usize> + 't {
        self.problem
            .sights
            .iter()
            .zip(targets)
            .enumerate()
            .filter(|(_, (sight, target))| target.is_none() && may_be(self.problem, sight))
            .map(|(index, _)| index)
    }

    fn solve(&self, targets: &[Option<usize>], start: &Solution) -> Option<Solution> {
        let bias = start.bearing_bias().0;
        solve_within(
            self.problem,
            self.answering,
            targets,
            start.position,
            bias,
            true,
            Effort::SEARCH,
        )
    }

    /// A set with one contact left out that was of a mark.
    fn without(&self, varied: &Varied<'_>) -> Option<Hypothesis> {
        let &Varied { of, sight, log_prior } = varied;
        let about = self.problem.sights.get(sight)?;
        let mut targets = of.targets.clone();
        *targets.get_mut(sight)? = None;
        let solution = self.solve(&targets, &of.solution)?;
        let log_weight = of.log_weight
            + self.log_change(of, &targets, &solution)
            + log_left_out(self.problem, about)
            - log_prior;
        Some(Hypothesis { targets, solution, log_weight, probability: 0.0 })
    }

    /// What a set gains by its evidence and by where its ships lie.
    fn log_change(&self, old: &Hypothesis, targets: &[Option<usize>], new: &Solution) -> f64 {
        new.log_evidence() - old.solution.log_evidence()
            + log_at_sea(self.problem, self.sighting, targets, new)
            - log_at_sea(self.problem, self.sighting, &old.targets, &old.solution)
    }

    /// A set with those contacts on the shore that it leaves out and that lie near enough to it.
    fn on_shore(&self, hypothesis: &Hypothesis) -> Option<Hypothesis> {
        let found = self.near_shore(hypothesis);
        if found == hypothesis.targets {
            return None;
        }
        let solution = self.solve(&found, &hypothesis.solution)?;
        let gained: f64 = self
            .left_out(&hypothesis.targets)
            .filter(|sight| found.get(*sight) == Some(&Some(self.any_shore)))
            .map(|sight| self.log_gained(sight, &solution))
            .try_fold(0.0, |sum, gain| gain.map(|gain| sum + gain))?;
        // No mark is another for it, so that no mark's share makes a difference.
        let by_names = |targets: &[Option<usize>]| log_shared(self.problem, targets, |_, _| 1.0);
        let log_weight = hypothesis.log_weight
            + gained
            + self.log_change(hypothesis, &found, &solution)
            + by_names(&found)
            - by_names(&hypothesis.targets);
        Some(Hypothesis { targets: found, solution, log_weight, probability: 0.0 })
    }

    /// The prior of a sight on the shore, against that of a ship.
    fn log_gained(&self, sight: usize, solution: &Solution) -> Option<f64> {
        let about = self.problem.sights.get(sight)?;
        let (now, bias) = (solution.position, solution.bearing_bias().0);
        let then = about.place_then(now);
        let answer = self.answering.point(sight, self.any_shore, then, bias)?;
        let chance = self.sighting.shore_chance(about.level, now, answer.position);
        let (_, towards) = LocalPlane::new(then).to_plane(answer.position).polar();
        let off = |direction: &Reading| {
            Angle::from_radians(direction.value - bias - towards.radians()).radians().abs()
        };
        let direction =
            about.directions().iter().min_by(|a, b| off(a).total_cmp(&off(b))).copied()?;
        Some(log_prior(about, direction, chance) - log_left_out(self.problem, about))
    }

    /// The targets of a set, with those on the shore that it left out: as near as their errors and
    /// that of own place allow.
    fn near_shore(&self, hypothesis: &Hypothesis) -> Targets {
        let start = &hypothesis.solution;
        let mut asked: Targets = vec![None; hypothesis.targets.len()];
        for sight in self.left_out(&hypothesis.targets) {
            if let Some(slot) = asked.get_mut(sight) {
                *slot = Some(self.any_shore);
            }
        }
        let mut found = hypothesis.targets.clone();
        for row in rows(self.problem, self.answering, &asked, start.position, &start.state) {
            let doubt = (row.slope.transpose() * start.covariance * row.slope)[(0, 0)].max(0.0);
            if row.residual * row.residual <= GATE * (row.variance + doubt)
                && let Some(slot) = found.get_mut(row.sight)
            {
                *slot = Some(self.any_shore);
            }
        }
        found
    }
}

/// The first so many of some sets, by weight, no more than so many nats behind the first.
fn likeliest<'h>(
    among: impl Iterator<Item = &'h Hypothesis>,
    most: usize,
    nats: f64,
) -> Vec<&'h Hypothesis> {
    let mut ranked: Vec<&Hypothesis> = among.collect();
    ranked.sort_by(|a, b| b.log_weight.total_cmp(&a.log_weight));
    let least = ranked.first().map_or(0.0, |h| h.log_weight) - nats;
    ranked.retain(|h| h.log_weight >= least);
    ranked.truncate(most);
    ranked
}
