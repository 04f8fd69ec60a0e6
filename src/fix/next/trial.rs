//! One measurement tried on every place that fits: would it settle which is the right one?

use std::f64::consts::{PI, TAU};

use super::law::{Law, Nodes};
use super::reading::{Care, foreseen};
use super::view::{Field, InSight, View};
use crate::fix::case::Case;
use crate::fix::finding::Finding;
use crate::fix::report::Measure;
use crate::fix::setting::OFF_CHART;
use crate::geodesy::{Covariance, LocalPlane};
use crate::identity::{Mode, Support, density_at, error_of_run_m, kept_back, part_of_marks};
use crate::units::{Angle, Bearing};

/// Places less likely than this are left to the rest, and no more than so many are held apart.
const LEAST_PLACE: f64 = 0.001;
const MOST_PLACES: usize = 10;
/// Places less likely than this do not say where to look.
const TELLING: f64 = 0.05;
/// A name given beside a reading is believed so far.
const NAMED: f64 = 0.95;
/// Squared standard deviations within which another echo makes any difference to what a reading
/// means.
const FELT: f64 = 30.0;
/// Readings tried from each place: for choosing what to go into, and for what is told.
const FEW_READINGS: u32 = 13;
const READINGS: u32 = 55;

/// A place that fits, and what shows from it.
pub(super) struct Place<'a> {
    /// As listed, from one.
    pub number: usize,
    pub probability: f64,
    pub mode: &'a Mode,
    pub targets: &'a [Option<usize>],
    pub view: View<'a>,
    /// Marks, names and stretches of other shore that support it.
    marks: usize,
    shore: usize,
}

impl Place<'_> {
    /// Whether it is likely enough to say where to look.
    pub fn is_telling(&self) -> bool {
        self.number == 1 || self.probability >= TELLING
    }

    fn share(&self, mark: &InSight) -> f64 {
        mark.weight / self.view.total.max(1e-12)
    }
}

/// Every place that is held apart, and what is left for none of them.
pub(super) struct Places<'a> {
    pub case: &'a Case<'a>,
    pub all: Vec<Place<'a>>,
    rest: f64,
    assurance: f64,
    /// How well the run between the contacts is known, metres.
    run_m: f64,
    few: Nodes,
    many: Nodes,
}

/// Where the curve of a ratio is flatter than this, decibels by radian, it tells no direction.
const LEAST_SLOPE_DB: f64 = 2.0;

impl<'a> Places<'a> {
    pub fn new(case: &'a Case<'a>, finding: &'a Finding<'a>) -> Self {
        let posterior = finding.posterior;
        let field = Field::new(case);
        let all: Vec<Place<'a>> = posterior
            .modes
            .iter()
            .enumerate()
            .take(MOST_PLACES)
            .filter(|(index, mode)| *index == 0 || mode.probability >= LEAST_PLACE)
            .filter_map(|(index, mode)| {
                let lead = posterior.hypotheses.get(*mode.members.first()?)?;
                let Support { marks, shore, names } = Support::of(&case.problem, &lead.targets);
                Some(Place {
                    number: index + 1,
                    probability: mode.probability,
                    mode,
                    targets: &lead.targets,
                    view: View::new(case, &field, &lead.solution, mode.covariance),
                    marks: marks + names,
                    shore,
                })
            })
            .collect();
        let held: f64 = all.iter().map(|place| place.probability).sum();
        Self {
            case,
            rest: (1.0 - held - posterior.kept_back).max(0.0),
            assurance: finding.assurance,
            run_m: error_of_run_m(&case.problem),
            few: Nodes::new(FEW_READINGS),
            many: Nodes::new(READINGS),
            all,
        }
    }

    /// The probability of the likeliest place as things stand.
    pub fn best(&self) -> f64 {
        self.all.first().map_or(0.0, |place| place.probability)
    }

    /// The likeliest place's probability, could a mark's echo be mistaken for nothing but itself
    /// seen from another place, and were it read without error: no measurement of it is expected to
    /// bring much more, and none of a mark that promises little is gone into.
    pub fn most_hoped(&self, candidate: usize) -> f64 {
        let (best, reach) = (self.best(), self.case.problem.reach_m.max(1.0));
        let elsewhere = OFF_CHART / (PI * reach * reach);
        let seen: Vec<_> = self.all.iter().map(|place| place.view.find(candidate)).collect();
        let from = |(truth, mark): (&Place<'_>, Option<&InSight>)| {
            let Some(mark) = mark else { return truth.probability * best };
            let weights = self.all.iter().zip(&seen).map(|(place, other)| {
                let own = other.map_or(0.0, |other| {
                    let error = mark.plotted.plus(other.plotted);
                    let (east, north) =
                        (other.at.east - mark.at.east, other.at.north - mark.at.north);
                    place.share(other) * normal_density(error, east, north)
                });
                place.probability * (own + elsewhere)
            });
            let (most, all) = weights.fold((0.0f64, 0.0), |(m, s), w| (m.max(w), s + w));
            truth.probability * (mark.chance * most / all + (1.0 - mark.chance) * best)
        };
        self.all.iter().zip(seen.iter().copied()).map(from).sum()
    }
}

/// By square metre.
fn normal_density(error: Covariance, east: f64, north: f64) -> f64 {
    let [ee, en, nn] = error.square_metres();
    let root = (ee * nn - en * en).max(f64::MIN_POSITIVE).sqrt();
    (-0.5 * error.mahalanobis_squared(east, north)).exp() / (TAU * root)
}

/// What a measurement is worth while several places fit.
#[derive(Debug, Clone, Copy)]
pub(super) struct Worth {
    /// The chance that the right place then holds the asked assurance.
    pub settles: f64,
    /// The expected probability of the likeliest place then.
    pub hoped: f64,
}

/// An echo of some mark, seen from a place, its part of what an operator there may pick, and what
/// would be read of it.
#[derive(Debug, Clone, Copy)]
struct Echo {
    place: usize,
    share: f64,
    law: Law,
}

/// What a measurement of one mark would be, were one place the right one.
struct Truth {
    law: Law,
    /// The chance that the mark paints. Where another echo is read in its stead, that tells as
    /// much: it is given without a name, and the mark stands for it.
    taken: f64,
    /// Echoes that a reading of it may be taken for, from whichever place.
    felt: Vec<Echo>,
    /// Density of an echo there being something else on land, by the place it is weighed for: shore
    /// that is no mark; under a name, any other mark, which was given it by mistake.
    else_there: Vec<f64>,
}

/// A measurement of one mark, foreseen from every place. A lone range or bearing is given with the
/// mark's name; a range and bearing with none.
pub(super) struct Trial<'a> {
    places: &'a Places<'a>,
    candidate: usize,
    measure: Measure,
    care: Care,
    /// By place; none where the mark does not show from there.
    truths: Vec<Option<Truth>>,
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
        care: Care,
    ) -> Option<Self> {
        let case = places.case;
        let seen: Vec<Option<InSight>> =
            places.all.iter().map(|place| place.view.find(candidate).copied()).collect();
        let own: Vec<Option<Law>> = places
            .all
            .iter()
            .zip(&seen)
            .map(|(place, mark)| {
                let care = if place.is_telling() { care } else { Care::Rough };
                mark.and_then(|_| law_of(case, place, candidate, measure, care))
            })
            .collect();
        let flat = flat(case, measure, own.iter().flatten().next()?);
        let mut trial =
            Self { places, candidate, measure, care, truths: Vec::new(), of_marks: 1.0, flat };
        let echoes = trial.echoes(candidate, &seen, &own);
        let on_shore = !trial.is_named() && case.problem.any_shore.is_some();
        if on_shore {
            trial.of_marks = part_of_marks();
        }
        trial.truths = own
            .iter()
            .zip(&seen)
            .enumerate()
            .map(|(index, (law, mark))| {
                let (law, mark) = ((*law)?, (*mark)?);
                let felt = echoes.iter().copied().filter(|echo| echo.law.apart(&law) < FELT);
                let else_there = match (trial.is_named(), on_shore) {
                    (true, _) => trial.misnamed(candidate, &law),
                    (false, true) => trial.shore_at(index, &mark),
                    (false, false) => Vec::new(),
                };
                Some(Truth { law, taken: mark.chance, felt: felt.collect(), else_there })
            })
            .collect();
        Some(trial)
    }

    fn is_named(&self) -> bool {
        self.measure != Measure::RangeAndBearing
    }

    /// How far the name of what is measured is believed, and how often it is nothing charted.
    fn belief(&self) -> (f64, f64) {
        let believed = if self.is_named() { NAMED } else { 0.0 };
        (believed, OFF_CHART * (1.0 - believed))
    }

    /// Every echo that the one measured may be taken for: the mark's own from each place, and of an
    /// echo without a name others near where it is looked for from any.
    fn echoes(&self, candidate: usize, seen: &[Option<InSight>], own: &[Option<Law>]) -> Vec<Echo> {
        let (believed, _) = self.belief();
        let mut echoes = Vec::new();
        for (index, place) in self.places.all.iter().enumerate() {
            if let (Some(Some(law)), Some(Some(mark))) = (own.get(index), seen.get(index)) {
                let share = believed + (1.0 - believed) * place.share(mark);
                echoes.push(Echo { place: index, share, law: *law });
            }
            if self.is_named() {
                continue;
            }
            let mut near: Vec<&InSight> =
                seen.iter().flatten().flat_map(|mark| near(place, mark, candidate, FELT)).collect();
            near.sort_by_key(|other| other.candidate);
            near.dedup_by_key(|other| other.candidate);
            let case = self.places.case;
            echoes.extend(near.into_iter().filter_map(|other| {
                let law = law_of(case, place, other.candidate, self.measure, Care::Rough)?;
                Some(Echo { place: index, share: place.share(other), law })
            }));
        }
        echoes
    }

    /// How likely a lone reading of another mark under this one's name is about as much, by place:
    /// on the average over the readings of this one.
    fn misnamed(&self, candidate: usize, law: &Law) -> Vec<f64> {
        let (believed, _) = self.belief();
        let is_range = self.measure == Measure::Range;
        if !is_range && self.places.case.prospect.ratio().is_some() {
            // A ratio has no one bearing: about as likely here as anywhere.
            return vec![(1.0 - believed) * self.flat; self.places.all.len()];
        }
        let variance = law.variance();
        let density = |mark: &InSight| {
            let off = if is_range {
                mark.metres - law.first()
            } else {
                let (towards, read) = (mark.at.east.atan2(mark.at.north), law.first());
                Angle::from_radians(towards - read).radians()
            };
            // Seen from another place it is as unsure.
            (-0.25 * off * off / variance).exp() / (2.0 * TAU * variance).sqrt()
        };
        let all = self.places.all.iter();
        all.map(|place| {
            let others = place.view.seen.iter().filter(|other| other.candidate != candidate);
            let sum: f64 = others.map(|other| place.share(other) * density(other)).sum();
            (1.0 - believed) * sum
        })
        .collect()
    }

    /// What an echo where a mark is looked for from one place would be as shore that is no mark,
    /// by the place it is weighed for.
    fn shore_at(&self, truth: usize, mark: &InSight) -> Vec<f64> {
        let towards = Bearing::wrapped(mark.at.east.atan2(mark.at.north));
        // A density by radian, or by decibel where the lobes tell the direction.
        let unit = self.places.case.prospect.ratio().map_or(1.0, |ratio| {
            1.0 / ratio.at(towards.radians(), 0.0).by_relative.abs().max(LEAST_SLOPE_DB)
        });
        let asked = |index: usize, place: &Place<'_>| {
            self.care == Care::Fine || index == truth || place.is_telling()
        };
        let all = self.places.all.iter().enumerate();
        all.map(|(index, place)| {
            if !asked(index, place) {
                return 0.0;
            }
            let along = mark.plotted.plus(place.view.error).sigma_towards(towards);
            let at = LocalPlane::new(place.view.solution.position).to_position(mark.at);
            unit * density_at(self.places.case.answering, at, along)
        })
        .collect()
    }

    /// How many marks and names support a place more with it: another reading of a mark, under a name
    /// that it has, is none.
    fn adds_to(&self, place: &Place<'_>) -> usize {
        let target = Some(self.candidate);
        let of_it = || {
            let sights = self.places.case.problem.sights.iter().zip(place.targets);
            sights.filter(|(_, other)| **other == target)
        };
        let is_new = of_it().next().is_none();
        let is_named_anew = self.is_named() && !of_it().any(|(s, _)| s.is_named_as(target));
        usize::from(is_new) + usize::from(is_named_anew)
    }

    /// Every place taken for the right one in turn, and what the reading would then make of them.
    pub fn worth(&self) -> Worth {
        let places = &self.places.all;
        let best = self.places.best();
        let held: f64 = places.iter().map(|place| place.probability).sum();
        let nodes = if self.care == Care::Fine { &self.places.many } else { &self.places.few };
        let (mut settles, mut hoped) = (0.0, (1.0 - held).max(0.0) * best);
        for (index, (place, truth)) in places.iter().zip(&self.truths).enumerate() {
            let Some(truth) = truth else {
                hoped += place.probability * best;
                continue;
            };
            hoped += place.probability * (1.0 - truth.taken) * best;
            let marks = place.marks + self.adds_to(place);
            let kept_back = kept_back(marks, place.shore, self.places.run_m);
            let readings = nodes.of(truth.law.count());
            let share = place.probability * truth.taken / readings.len().max(1) as f64;
            for &off in readings {
                let weights = self.weights(truth, off);
                let all = weights.iter().sum::<f64>() + self.weight_of_rest();
                let kept = (1.0 - kept_back) / all.max(f64::MIN_POSITIVE);
                let right = weights.get(index).copied().unwrap_or(0.0) * kept;
                hoped += share * weights.iter().copied().fold(0.0, f64::max) * kept;
                if right >= self.places.assurance {
                    settles += share;
                }
            }
        }
        Worth { settles, hoped }
    }

    /// What a reading so many deviations off makes of each place: its probability, by the density
    /// of the reading there, as the identities will be weighed.
    fn weights(&self, truth: &Truth, off: nalgebra::Vector2<f64>) -> Vec<f64> {
        let (_, off_chart) = self.belief();
        let reading = truth.law.at(off);
        let mut weights: Vec<f64> = (0..self.places.all.len())
            .map(|place| {
                let else_there = truth.else_there.get(place).copied().unwrap_or(0.0);
                off_chart * self.flat + (1.0 - off_chart) * else_there
            })
            .collect();
        for echo in &truth.felt {
            if let Some(weight) = weights.get_mut(echo.place) {
                *weight +=
                    (1.0 - off_chart) * self.of_marks * echo.share * echo.law.density(reading);
            }
        }
        for (weight, place) in weights.iter_mut().zip(&self.places.all) {
            *weight *= place.probability;
        }
        weights
    }

    fn weight_of_rest(&self) -> f64 {
        self.places.rest * self.flat * (1.0 - self.belief().0)
    }
}

fn law_of(
    case: &Case<'_>,
    place: &Place<'_>,
    mark: usize,
    measure: Measure,
    care: Care,
) -> Option<Law> {
    let rows = foreseen(case, place.view.solution, mark, measure, care)?;
    Law::new(&rows, place.view.solution, place.mode, case.prospect.ratio().is_none())
}

/// Other echoes that stand, seen from a place, where a mark is looked for from some place.
fn near<'p>(
    place: &'p Place<'_>,
    mark: &InSight,
    candidate: usize,
    squared: f64,
) -> impl Iterator<Item = &'p InSight> {
    let error = mark.plotted.plus(place.view.error);
    place.view.about(mark.at, error, squared).map(|(other, _)| other).filter(move |other| {
        other.candidate != candidate && !place.targets.contains(&Some(other.candidate))
    })
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
        None => 1.0 / TAU,
    };
    let ranged = 2.0 * law.first().clamp(1.0, reach) / (reach * reach);
    match measure {
        Measure::Range | Measure::Shore => ranged,
        Measure::Bearing | Measure::Left | Measure::Right => borne,
        Measure::RangeAndBearing => ranged * borne,
    }
}
