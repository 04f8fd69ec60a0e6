//! One measurement tried on every place that fits: would it settle which is the right one?

use nalgebra::Vector2;

use super::law::{Law, nodes};
use super::reading::{Care, foreseen};
use super::view::{InSight, View};
use crate::fix::case::Case;
use crate::fix::finding::Finding;
use crate::fix::report::Measure;
use crate::fix::setting::OFF_CHART;
use crate::geodesy::{Covariance, LocalPlane};
use crate::identity::{Mode, density_at, kept_back, part_of_marks};
use crate::units::{Angle, Bearing};

/// Places less likely than this are left to the rest, and no more than so many are held apart.
const LEAST_PLACE: f64 = 0.001;
const MOST_PLACES: usize = 10;
/// Places less likely than this do not say where to look.
const TELLING: f64 = 0.05;
/// A name given beside a reading is believed so far.
const NAMED: f64 = 0.95;
/// Squared standard deviations within which another echo may be the one that is looked at, and
/// within which it makes any difference to what a reading means.
const MISTAKEN: f64 = 9.0;
const FELT: f64 = 30.0;

/// A place that fits, and what shows from it.
pub(super) struct Place<'a> {
    /// As listed, from one.
    pub number: usize,
    pub probability: f64,
    pub mode: &'a Mode,
    pub targets: &'a [Option<usize>],
    pub view: View<'a>,
}

impl Place<'_> {
    /// Whether it is likely enough to say where to look.
    pub fn is_telling(&self) -> bool {
        self.number == 1 || self.probability >= TELLING
    }
}

/// Every place that is held apart, and what is left for none of them.
pub(super) struct Places<'a> {
    pub case: &'a Case<'a>,
    pub all: Vec<Place<'a>>,
    rest: f64,
    assurance: f64,
    kept_back: f64,
}

impl<'a> Places<'a> {
    pub fn new(case: &'a Case<'a>, finding: &'a Finding<'a>) -> Self {
        let posterior = finding.posterior;
        let all: Vec<Place<'a>> = posterior
            .modes
            .iter()
            .enumerate()
            .take(MOST_PLACES)
            .filter(|(index, mode)| *index == 0 || mode.probability >= LEAST_PLACE)
            .filter_map(|(index, mode)| {
                let lead = posterior.hypotheses.get(*mode.members.first()?)?;
                Some(Place {
                    number: index + 1,
                    probability: mode.probability,
                    mode,
                    targets: &lead.targets,
                    view: View::new(case, &lead.solution, mode.covariance),
                })
            })
            .collect();
        let held: f64 = all.iter().map(|place| place.probability).sum();
        let targets = &finding.best.targets;
        let shore = targets.iter().flatten().filter(|target| case.is_any_shore(**target)).count();
        let marks = finding.best.matched() - shore + named(case, targets);
        Self {
            case,
            rest: (1.0 - held - kept_back(marks, shore)).max(0.0),
            assurance: finding.assurance,
            kept_back: kept_back(marks + 1, shore),
            all,
        }
    }

    /// The probability of the likeliest place as things stand.
    pub fn best(&self) -> f64 {
        self.all.first().map_or(0.0, |place| place.probability)
    }
}

/// Contacts whose stated name the identities bear out.
fn named(case: &Case<'_>, targets: &[Option<usize>]) -> usize {
    let sights = case.problem.sights.iter().zip(targets);
    sights
        .filter(|(sight, target)| {
            sight.belief.is_some_and(|b| b.confidence >= 0.8 && Some(b.candidate) == **target)
        })
        .count()
}

/// What a measurement is worth while several places fit.
#[derive(Debug, Clone, Copy)]
pub(super) struct Worth {
    /// The chance that the right place then holds the asked assurance.
    pub settles: f64,
    /// The expected probability of the likeliest place then.
    pub hoped: f64,
}

/// A measurement of one mark, foreseen from every place.
pub(super) struct Trial<'a> {
    places: &'a Places<'a>,
    named: bool,
    /// Of the mark itself, by place; none where it does not show from there.
    own: Vec<Option<(Law, InSight)>>,
    /// Other marks near where it is looked for, by place, each with its share of what an operator
    /// may pick.
    others: Vec<Vec<(Law, f64)>>,
    /// The chance that it is the one measured, other echoes standing where it is looked for.
    picked: Vec<f64>,
    /// Density of an echo there being of shore that is no mark: by the place that is right, then by
    /// the place it is weighed for.
    shore: Vec<f64>,
    /// The part of all echoes of land that is left for marks.
    of_marks: f64,
    /// Density of a reading of what is nothing on the chart.
    flat: f64,
}

impl<'a> Trial<'a> {
    /// None where it shows from no place.
    pub fn new(
        places: &'a Places<'a>,
        candidate: usize,
        measure: Measure,
        named: bool,
        care: Care,
    ) -> Option<Self> {
        let law = |place: &Place<'_>, mark: usize, care| {
            let rows = foreseen(places.case, place.view.solution, mark, measure, care)?;
            let angle = places.case.prospect.ratio().is_none();
            Law::new(&rows, place.view.solution, place.mode, angle)
        };
        let own: Vec<Option<(Law, InSight)>> = places
            .all
            .iter()
            .map(|place| Some((law(place, candidate, care)?, *place.view.find(candidate)?)))
            .collect();
        let (first, _) = own.iter().flatten().next()?;
        let flat = flat(places.case, measure, first);
        let looked: Vec<Option<(InSight, Covariance)>> = places
            .all
            .iter()
            .zip(&own)
            .map(|(place, own)| {
                own.as_ref().map(|(_, mark)| (*mark, place.view.plotted(places.case, mark)))
            })
            .collect();
        // Other echoes that stand, seen from one place, where the mark is looked for from another.
        let near = |seen_from: &Place<'_>, looked_from: usize, limit: f64| -> Vec<InSight> {
            let Some((mark, error)) = looked.get(looked_from).copied().flatten() else {
                return Vec::new();
            };
            let error = error.plus(seen_from.view.error);
            let others = seen_from.view.seen.iter().filter(|other| {
                other.candidate != candidate
                    && !seen_from.targets.contains(&Some(other.candidate))
                    && apart(&mark, other, error, measure) < limit
            });
            others.copied().collect()
        };
        let mut others = Vec::new();
        let mut picked = Vec::new();
        for (index, place) in places.all.iter().enumerate() {
            let mut felt: Vec<InSight> =
                (0..places.all.len()).flat_map(|from| near(place, from, FELT)).collect();
            felt.sort_by_key(|mark| mark.candidate);
            felt.dedup_by_key(|mark| mark.candidate);
            let share = |mark: &InSight| mark.weight / place.view.total.max(1e-12);
            others.push(
                felt.iter()
                    .filter_map(|m| Some((law(place, m.candidate, Care::Rough)?, share(m))))
                    .collect(),
            );
            let mistaken: f64 = (0..places.all.len())
                .filter(|&from| from != index)
                .flat_map(|from| near(place, from, MISTAKEN))
                .map(|mark| mark.chance)
                .sum();
            picked.push(if named { 1.0 } else { 1.0 / (1.0 + mistaken) });
        }
        let plotted = measure == Measure::RangeAndBearing && !named;
        let (of_marks, shore) = if plotted { of_shore(places, &looked) } else { (1.0, Vec::new()) };
        Some(Self { places, named, own, others, picked, shore, of_marks, flat })
    }

    /// How likely a reading is if a place is the right one, as the identities will be weighed.
    fn likelihood(&self, place: usize, truth: usize, reading: Vector2<f64>) -> f64 {
        let own = self.own.get(place).and_then(Option::as_ref);
        let total = self.places.all.get(place).map_or(1.0, |p| p.view.total.max(1e-12));
        let (believed, off) = self.belief();
        let of_own = own.map_or(0.0, |(law, mark)| {
            let share = mark.weight / total;
            (believed + (1.0 - believed) * share) * law.density(reading)
        });
        let of_others: f64 = self.others.get(place).map_or(0.0, |others| {
            others.iter().map(|(law, share)| share * law.density(reading)).sum()
        });
        let of_shore =
            self.shore.get(truth * self.places.all.len() + place).copied().unwrap_or(0.0);
        let of_marks = self.of_marks * (of_own + (1.0 - believed) * of_others);
        (1.0 - off) * (of_marks + of_shore) + off * self.flat
    }

    /// How far the name of what is measured is believed, and how often it is nothing charted.
    fn belief(&self) -> (f64, f64) {
        let believed = if self.named { NAMED } else { 0.0 };
        (believed, OFF_CHART * (1.0 - believed))
    }

    /// Every place taken for the right one in turn, and what the reading would then make of them.
    pub fn worth(&self, fine: bool) -> Worth {
        let places = &self.places.all;
        let none = self.flat * (1.0 - self.belief().0);
        let rest = self.places.rest * none;
        let best = self.places.best();
        let held: f64 = places.iter().map(|place| place.probability).sum();
        let (mut settles, mut hoped) = (0.0, (1.0 - held).max(0.0) * best);
        for (index, place) in places.iter().enumerate() {
            let Some((law, mark)) = self.own.get(index).and_then(Option::as_ref) else {
                hoped += place.probability * best;
                continue;
            };
            let taken = mark.chance * self.picked.get(index).copied().unwrap_or(1.0);
            hoped += place.probability * (1.0 - taken) * best;
            for (off, weight) in nodes(law.count(), fine) {
                let reading = law.at(off);
                let shares: Vec<f64> = places
                    .iter()
                    .enumerate()
                    .map(|(i, p)| p.probability * self.likelihood(i, index, reading))
                    .collect();
                let all = (shares.iter().sum::<f64>() + rest).max(f64::MIN_POSITIVE);
                let kept = (1.0 - self.places.kept_back) / all;
                let right = shares.get(index).copied().unwrap_or(0.0) * kept;
                let most = shares.iter().copied().fold(0.0, f64::max) * kept;
                let share = place.probability * taken * weight;
                hoped += share * most;
                if right >= self.places.assurance {
                    settles += share;
                }
            }
        }
        Worth { settles, hoped }
    }
}

/// How far two marks stand apart on the screen by what is measured, in squared standard deviations.
fn apart(one: &InSight, other: &InSight, error: Covariance, measure: Measure) -> f64 {
    let (east, north) = (other.at.east - one.at.east, other.at.north - one.at.north);
    let towards = Bearing::wrapped(one.at.east.atan2(one.at.north));
    match measure {
        Measure::RangeAndBearing => error.mahalanobis_squared(east, north),
        Measure::Range | Measure::Shore => {
            let sigma = error.sigma_towards(towards).max(1.0);
            ((other.metres() - one.metres()) / sigma).powi(2)
        }
        Measure::Bearing | Measure::Left | Measure::Right => {
            let across = error.sigma_towards(towards.turned(Angle::from_degrees(90.0))).max(1.0);
            let turn = Bearing::wrapped(other.at.east.atan2(other.at.north)).minus(towards);
            (turn.radians() * one.metres() / across).powi(2)
        }
    }
}

/// Density of a reading of what is nothing on the chart: evenly over the screen.
fn flat(case: &Case<'_>, measure: Measure, law: &Law) -> f64 {
    let reach = case.problem.reach_m.max(1.0);
    let borne = match case.prospect.ratio() {
        Some(ratio) => {
            let read = crate::identity::RatioReading::new(
                law.last(),
                ratio.lobes,
                ratio.heading,
                ratio.bank,
            );
            read.density
        }
        None => 1.0 / std::f64::consts::TAU,
    };
    let ranged = 2.0 * law.first().clamp(1.0, reach) / (reach * reach);
    match measure {
        Measure::Range | Measure::Shore => ranged,
        Measure::Bearing | Measure::Left | Measure::Right => borne,
        Measure::RangeAndBearing => ranged * borne,
    }
}

/// What an echo looked for from each place would be as shore that is no mark, from each.
fn of_shore(places: &Places<'_>, looked: &[Option<(InSight, Covariance)>]) -> (f64, Vec<f64>) {
    let case = places.case;
    if case.problem.any_shore.is_none() || case.prospect.ratio().is_some() {
        return (1.0, Vec::new());
    }
    let mut found = Vec::with_capacity(places.all.len() * looked.len());
    for seen in looked {
        for place in &places.all {
            let Some((mark, error)) = seen else {
                found.push(0.0);
                continue;
            };
            let towards = Bearing::wrapped(mark.at.east.atan2(mark.at.north));
            let along = error.plus(place.view.error).sigma_towards(towards);
            let at = LocalPlane::new(place.view.solution.position).to_position(mark.at);
            found.push(density_at(case.answering, at, along));
        }
    }
    (part_of_marks(), found)
}
