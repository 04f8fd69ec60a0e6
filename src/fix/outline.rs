//! Traced outlines: where each fits the chart's shore, and what is told of it.

use nalgebra::{Matrix2, Matrix4};

use super::case::Case;
use super::report::OutlineFit;
use super::setting::Setting;
use crate::chart::Chart;
use crate::contact::{Outline, Part, Sightings};
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position};
use crate::identity::{
    Candidate, Hypothesis, Level, Problem, Reckoned, Registered, Shared, Shoreline, Sight, Trace,
    TracePoint, Traced, identify, register,
};
use crate::radar::EffectiveEarth;
use crate::units::{Angle, GroundRange, Height, METRES_PER_NAUTICAL_MILE};

/// A traced outline is no charted shore this often: the edge of rain, say.
const OFF_CHART: f64 = 0.05;
/// What stands for its places in the list of marks.
const NAME: &str = "the shore";
/// An outline that holds own place this much better one way than the other fixes one way only.
const STRAIGHT: f64 = 5.0;
/// Where the long way is a greater share of its range than this.
const STRAIGHT_SHARE: f64 = 0.1;

/// Places likelier than this are fitted anew, no more than so many of them.
const LEAST_REFINED: f64 = 1e-4;
const MOST_REFINED: usize = 6;
/// Over so many of their standard deviations, and by no less than this in miles.
const LOOKED: f64 = 2.0;
const LEAST_LOOKED_NM: f64 = 0.3;
/// Places this close, metres and radians, are one.
const SAME_M: f64 = 200.0;
const SAME_RAD: f64 = 0.005;

/// The chart's shore.
struct ChartShore<'a>(&'a Chart);

impl Shoreline for ChartShore<'_> {
    fn lines(&self, plane: &LocalPlane, within: GroundRange) -> Vec<Vec<PlanePoint>> {
        let stretches = self.0.coast().stretches(plane, within);
        stretches.into_iter().map(|stretch| stretch.points).collect()
    }

    fn height(&self, at: Position) -> f64 {
        self.0.ground().at(at).height.metres()
    }
}

/// Adds every outline to a problem, with the places from which it fits the chart's shore.
pub(super) fn add(
    chart: &Chart,
    sightings: &Sightings,
    sights: Vec<Sight>,
    problem: &mut Problem,
    names: &mut Vec<String>,
) {
    for (outline, sight) in sightings.outlines.iter().zip(sights) {
        let trace = trace(sightings, outline);
        let reckoned = reckoned(chart, sightings, problem, &sight);
        let places = register(&ChartShore(chart), &trace, &reckoned);
        let first = problem.candidates.len();
        for place in &places {
            problem.candidates.push(stand_in(place));
            names.push(NAME.to_owned());
        }
        let traced = Some(Traced::new(&trace, places, first, problem.reach_m));
        problem.sights.push(Sight { traced, ..sight });
    }
}

/// Fits every outline anew about each place that all that was measured comes to: there the shore is
/// looked at over no more than is still in doubt. Nothing to do where an outline is all there is.
pub(super) fn refine(chart: &Chart, sightings: &Sightings, setting: &mut Setting<'_>) {
    let Setting { problem, names, ground, .. } = setting;
    let traced = |sight: &Sight| sight.traced.is_some();
    let Some(base) = problem.sights.iter().find_map(|s| s.traced.as_ref().map(|t| t.first)) else {
        return;
    };
    if problem.sights.len() < 2 {
        return;
    }
    let found = identify(problem, ground, ground);
    let likely = found.modes.iter().filter(|mode| mode.probability > LEAST_REFINED);
    let about: Vec<(Position, Covariance)> =
        likely.take(MOST_REFINED).map(|mode| (mode.position, mode.covariance)).collect();
    if about.is_empty() {
        return;
    }
    problem.candidates.truncate(base);
    names.truncate(base);
    let sights: Vec<usize> = (0..problem.sights.len())
        .filter(|&index| problem.sights.get(index).is_some_and(traced))
        .collect();
    for (outline, index) in sightings.outlines.iter().zip(sights) {
        let Some(sight) = problem.sights.get(index).cloned() else { continue };
        let trace = trace(sightings, outline);
        let mut places: Vec<Registered> = Vec::new();
        for &(position, covariance) in &about {
            let near =
                near(&reckoned(chart, sightings, problem, &sight), &sight, position, covariance);
            for place in register(&ChartShore(chart), &trace, &near) {
                if !places.iter().any(|known| is_same(known, &place)) {
                    places.push(place);
                }
            }
        }
        if places.is_empty() {
            places = sight.traced.as_ref().map_or_else(Vec::new, |traced| traced.places.clone());
        }
        let first = problem.candidates.len();
        problem.candidates.extend(places.iter().map(stand_in));
        names.extend(places.iter().map(|_| NAME.to_owned()));
        if let Some(slot) = problem.sights.get_mut(index) {
            slot.traced = Some(Traced::new(&trace, places, first, problem.reach_m));
        }
    }
}

/// The surroundings of a place found, at the moment of an outline: twice its own error each way,
/// which is no more than where to look.
fn near(
    reckoned: &Reckoned,
    sight: &Sight,
    position: Position,
    covariance: Covariance,
) -> Reckoned {
    let [ee, en, nn] = covariance.square_metres().map(|value| LOOKED * LOOKED * value);
    let wider = Covariance::from_square_metres(ee, en, nn).unwrap_or(covariance);
    let least = GroundRange::clamped_metres(LEAST_LOOKED_NM * METRES_PER_NAUTICAL_MILE);
    Reckoned {
        position: sight.place_then(position),
        covariance: wider.plus(Covariance::circular(least)),
        ..*reckoned
    }
}

fn is_same(one: &Registered, other: &Registered) -> bool {
    let apart = LocalPlane::new(one.place).to_plane(other.place);
    apart.east.hypot(apart.north) < SAME_M && (one.bias - other.bias).abs() < SAME_RAD
}

/// An outline as a sight, before it is known what it fits.
pub(super) fn sight(own_height: Height, run: PlanePoint, elapsed_s: f64) -> Sight {
    Sight {
        own_height_m: own_height.metres(),
        level: Level::NOW,
        range: None,
        bearing: None,
        ratio: None,
        told: Vec::new(),
        run,
        elapsed_s,
        belief: None,
        off_chart: OFF_CHART,
        surely: None,
        part: Part::Near,
        traced: None,
    }
}

fn trace(sightings: &Sightings, outline: &Outline) -> Trace {
    let own = outline.own_height.metres();
    let points = outline.points.iter().map(|point| {
        let (range, stretch) = crate::identity::ground_under(point.range.metres(), own);
        TracePoint {
            bearing: point.bearing.radians(),
            range,
            stretch,
            sigma: point.range_sigma_m * stretch,
        }
    });
    let half_beam = Angle::from_degrees(0.5 * sightings.radar.set.beam_width_deg).radians();
    Trace::new(points.collect(), outline.bearing_sigma.radians().abs(), half_beam.abs())
}

/// Own place when an outline was traced, as the reckoning has it; the chart's shift counts as its.
fn reckoned(chart: &Chart, sightings: &Sightings, problem: &Problem, sight: &Sight) -> Reckoned {
    let prior = &problem.prior;
    let run = prior.elapsed_s * prior.along_sigma.max(prior.across_sigma);
    let round = GroundRange::clamped_metres(run.hypot(problem.shared.chart_shift_sigma));
    let earth = EffectiveEarth::standard();
    Reckoned {
        position: sight.place_then(prior.position),
        covariance: prior.covariance.plus(Covariance::circular(round)),
        bearing_bias_sigma: problem.shared.bearing_bias_sigma,
        range_bias_sigma: problem.shared.range_bias_sigma,
        point_sigma: sightings.accuracy_on(chart).point_sigma.metres(),
        horizon: earth
            .horizon_of(Height::from_metres(sight.own_height_m).unwrap_or(sightings.own.height))
            .metres(),
        earth_radius: earth.radius_m(),
    }
}

/// The entry of a place in the list of marks: nothing that a contact could be.
fn stand_in(place: &Registered) -> Candidate {
    Candidate { position: place.place, height_m: 0.0, sigma_m: 0.0, slack_m: 0.0, weight: 0.0 }
}

/// How each outline came out, by a set of identities; by its best place where it has no part in it.
pub(super) fn told(case: &Case<'_>, targets: &[Option<usize>]) -> Vec<OutlineFit> {
    let sights = case.problem.sights.iter().enumerate();
    sights
        .filter_map(|(index, sight)| Some((index, sight.traced.as_ref()?)))
        .map(|(index, traced)| {
            let target = targets.get(index).copied().flatten();
            let place = match target {
                Some(candidate) => traced.place(candidate),
                None => traced.places.first(),
            };
            OutlineFit {
                outline: case.label(index).to_owned(),
                points: traced.points,
                effective: traced.effective,
                rms: place.map(|place| GroundRange::clamped_metres(place.rms)),
                used: target.is_some(),
            }
        })
        .collect()
}

/// The outlines in use that hold own place one way only.
pub(super) fn straight(case: &Case<'_>, best: &Hypothesis) -> Vec<String> {
    let sights = case.problem.sights.iter().enumerate();
    sights
        .filter_map(|(index, sight)| {
            let traced = sight.traced.as_ref()?;
            let place = traced.place(best.targets.get(index).copied().flatten()?)?;
            is_straight(place, &case.problem.shared, traced.range).then(|| {
                format!(
                    "outline {} runs along a straight shore: it fixes across the shore only",
                    case.label(index)
                )
            })
        })
        .collect()
}

/// Whether a place is held well one way and badly the other, by the trace alone.
fn is_straight(place: &Registered, shared: &Shared, range: f64) -> bool {
    let mut information = Matrix4::<f64>::zeros();
    for told in &place.told {
        let slope = nalgebra::Vector4::from(told.slope);
        information += slope * slope.transpose() / told.variance;
    }
    information[(2, 2)] += shared.bearing_bias_sigma.max(1e-6).powi(-2);
    information[(3, 3)] += shared.range_bias_sigma.max(1e-3).powi(-2);
    // Nothing beyond a thousand miles.
    let least = (1_000.0 * METRES_PER_NAUTICAL_MILE).powi(-2);
    information[(0, 0)] += least;
    information[(1, 1)] += least;
    let Some(all) = information.try_inverse() else { return true };
    let position: Matrix2<f64> = all.fixed_view::<2, 2>(0, 0).into_owned();
    let axes = position.symmetric_eigenvalues();
    let (long, short) = (axes.max().max(0.0).sqrt(), axes.min().max(1.0).sqrt());
    long > STRAIGHT * short && long > STRAIGHT_SHARE * range
}
