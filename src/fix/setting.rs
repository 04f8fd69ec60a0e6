//! From a chart and sightings to the plain numbers that identity and estimator work on.

use std::f64::consts::SQRT_2;

use jiff::Timestamp;

use super::ground::ChartGround;
use super::outline;
use crate::chart::{Chart, Mark, MarkId, MarkKind};
use crate::contact::shore::land_edge;
use crate::contact::{Contact, LobeReading, Outline, Part, Sightings};
use crate::geodesy::{Covariance, Position};
use crate::identity::{
    Belief, Candidate, Prior, Problem, RatioReading, Reading, Shared, Sight, part_of_marks,
};
use crate::radar::Set;
use crate::units::{Angle, Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, SlantRange};

/// A contact of no stated identity is nothing on the chart this often.
pub(super) const OFF_CHART: f64 = 0.15;
/// Prior error of every range alike, one standard deviation in miles.
const RANGE_BIAS_NM: f64 = 0.05;
/// Marks are looked for this many standard deviations of the reckoning beyond reach.
const REACH_SIGMAS: f64 = 8.0;
/// And no farther than this, in miles: a plane is no picture of more.
pub(super) const MOST_REACH_NM: f64 = 300.0;
/// The least salience a mark is given: anything charted may be picked.
const LEAST_SALIENCE: f64 = 0.05;
/// Rough solutions take the answering part to lie within this of the charted point, in miles.
const SLACK_NM: f64 = 0.25;
/// A hill's echo lies some way before its summit, a mile or two for most: what is asked only roughly
/// takes it for the summit give or take this, in miles.
const HILL_SLACK_NM: f64 = 0.5;
/// No one is surer of a name than this.
const MOST_CONFIDENCE: f64 = 0.999;

/// The numbers, the words that go with them, and the chart they came from.
pub(super) struct Setting<'a> {
    pub problem: Problem,
    pub labels: Vec<String>,
    pub names: Vec<String>,
    pub time: Timestamp,
    pub cautions: Vec<String>,
    pub ground: ChartGround<'a>,
}

/// Lays out a set of sightings on a chart, everything carried to one time.
pub(super) fn setting<'a>(
    chart: &'a Chart,
    sightings: &Sightings,
    time: Option<Timestamp>,
) -> Setting<'a> {
    let mut cautions = sightings.cautions.clone();
    let time = time.unwrap_or_else(|| sightings.latest());
    let prior = prior(sightings, time, &mut cautions);
    let reach = reach(sightings);
    let marks = marks_near(chart, sightings, &prior, reach);
    let accuracy = sightings.accuracy_on(chart);
    let mut candidates: Vec<Candidate> = marks
        .iter()
        .filter_map(|id| chart.marks().get(*id))
        .map(|mark| candidate(mark, accuracy.point_sigma))
        .collect();
    let mut names: Vec<String> = marks
        .iter()
        .map(|id| chart.marks().get(*id).map_or_else(String::new, |m| m.name.clone()))
        .collect();
    let shore = candidates.len();
    candidates.push(nearest_shore(prior.position, accuracy.point_sigma));
    names.push("nearest shore".to_owned());
    let any_shore = candidates.len();
    candidates.push(nearest_shore(prior.position, accuracy.point_sigma));
    names.push("shore of no name".to_owned());
    let sights = sightings
        .contacts
        .iter()
        .map(|contact| sight(chart, sightings, contact, time, &marks, shore, &mut cautions))
        .collect();
    let mut problem = Problem {
        candidates,
        sights,
        prior,
        shared: Shared {
            bearing_bias_sigma: sightings.own.heading_sigma.radians().abs(),
            range_bias_sigma: RANGE_BIAS_NM * METRES_PER_NAUTICAL_MILE,
            chart_shift_sigma: accuracy.shift_sigma.metres(),
            own_height_sigma: sightings.own.height_sigma().metres(),
        },
        own_height_m: sightings.own.height.metres(),
        reach_m: reach.metres(),
        any_shore: chart.coast().extent().is_some().then_some(any_shore),
    };
    let traced = sightings.outlines.iter().map(|o| traced(sightings, o.time, time)).collect();
    outline::add(chart, sightings, traced, &mut problem, &mut names);
    let ground = ChartGround::new(chart, sightings, &prior, reach, marks, any_shore);
    let contacts = sightings.contacts.iter().map(|c| c.label.clone());
    let labels = contacts.chain(sightings.outlines.iter().map(|o| o.label.clone())).collect();
    Setting { problem, labels, names, time, cautions, ground }
}

fn prior(sightings: &Sightings, time: Timestamp, cautions: &mut Vec<String>) -> Prior {
    let reckoning = &sightings.reckoning;
    let carried = reckoning.carried_to(time);
    if let Err(fault) = &carried {
        cautions.push(format!("the reckoning is not carried: {fault}"));
    }
    let position = carried.as_ref().map_or(reckoning.position, |(position, _)| *position);
    // A wind or current's error is no constant one: it is carried to the time first, and its velocity
    // there stands for the minutes of the contacts.
    let moved = carried.ok().filter(|_| reckoning.flow.is_some() && time >= reckoning.time);
    let elapsed_s = time.duration_since(reckoning.time).as_secs_f64();
    let (covariance, elapsed_s) =
        moved.map_or((reckoning.covariance, elapsed_s), |(_, covariance)| (covariance, 0.0));
    let (mut along_sigma, mut across_sigma) = reckoning.velocity_sigmas(time);
    let mut covariance = sound(covariance);
    // After a further time s the place has P + s²V + s(C + Cᵀ), where C is what place and velocity share.
    // C is not in what follows; whatever it is, the sum is no more than 2P + 2s²V. Back in time C makes
    // it less.
    if moved.is_some() && time < sightings.latest() {
        covariance = covariance.plus(covariance);
        (along_sigma, across_sigma) = (along_sigma * SQRT_2, across_sigma * SQRT_2);
    }
    Prior {
        position,
        covariance,
        elapsed_s,
        track: reckoning.track.map_or(0.0, Bearing::radians),
        along_sigma,
        across_sigma,
    }
}

/// No reckoning is surer than a metre, or says less than a quarter of the Earth.
fn sound(covariance: Covariance) -> Covariance {
    let [ee, en, nn] = covariance.square_metres();
    let most = ee.max(nn);
    let shrink = if most > 1e14 { 1e14 / most } else { 1.0 };
    Covariance::from_square_metres(ee * shrink + 1.0, en * shrink, nn * shrink + 1.0)
        .unwrap_or(covariance)
}

/// How far off a contact can have been plotted: the scale in use.
fn reach(sightings: &Sightings) -> GroundRange {
    let set = &sightings.radar.set;
    let contacts = sightings.contacts.iter().filter_map(|c| c.range);
    let outlines = sightings.outlines.iter().filter_map(Outline::farthest);
    let farthest = contacts.chain(outlines).map(SlantRange::metres).fold(0.0, f64::max);
    let unranged = sightings.contacts.iter().any(|c| c.range.is_none());
    let scale = if unranged || farthest <= 0.0 {
        set.greatest_scale().metres()
    } else {
        let range = SlantRange::clamped_metres(farthest);
        set.smallest_scale_holding(range) * METRES_PER_NAUTICAL_MILE
    };
    GroundRange::clamped_metres(scale.max(1.1 * farthest).max(METRES_PER_NAUTICAL_MILE))
}

/// Every mark that may be in reach, and every one that the operator names.
fn marks_near(
    chart: &Chart,
    sightings: &Sightings,
    prior: &Prior,
    reach: GroundRange,
) -> Vec<MarkId> {
    let (long, _, _) = prior.covariance.axes();
    let run = prior.along_sigma.max(prior.across_sigma) * prior.elapsed_s.abs();
    let spread = REACH_SIGMAS * long.sqrt().hypot(run);
    let most = MOST_REACH_NM * METRES_PER_NAUTICAL_MILE;
    let radius = GroundRange::clamped_metres((reach.metres() + spread).min(most));
    let mut marks = chart.marks().within(prior.position, radius);
    let named = sightings.contacts.iter().filter_map(|c| c.belief.as_ref());
    marks.extend(named.filter_map(|belief| chart.marks().find(&belief.mark)));
    marks.sort_unstable();
    marks.dedup();
    marks
}

/// The set on the scales up to the one in use: what lies beyond is not on the screen.
pub(super) fn in_use(set: &Set, reach: GroundRange) -> Set {
    let miles = reach.nautical_miles();
    let mut shown = set.clone();
    shown.scales_nm.retain(|scale| *scale <= miles + 1e-6);
    if shown.scales_nm.is_empty() { set.clone() } else { shown }
}

fn candidate(mark: &Mark, point_sigma: GroundRange) -> Candidate {
    let slack = match mark.kind {
        MarkKind::Headland => SLACK_NM * METRES_PER_NAUTICAL_MILE,
        MarkKind::Islet => mark.extent.metres().max(50.0),
        MarkKind::Peak => HILL_SLACK_NM * METRES_PER_NAUTICAL_MILE,
        _ => 50.0,
    };
    Candidate {
        position: mark.position,
        height_m: mark.height.metres(),
        sigma_m: mark.sigma.metres().max(point_sigma.metres()),
        slack_m: slack,
        weight: mark.salience.clamp(LEAST_SALIENCE, 1.0) * likely_kind(mark.kind),
    }
}

/// What an operator takes for an echo first: land by its shape, then what stands on it.
fn likely_kind(kind: MarkKind) -> f64 {
    match kind {
        MarkKind::Headland | MarkKind::Islet => 1.0,
        MarkKind::Peak | MarkKind::Town | MarkKind::Other => 0.5,
        MarkKind::Light | MarkKind::Tower | MarkKind::Buoy => 0.3,
    }
}

/// The stand-in for "the nearest shore": its place is asked for anew from every position.
fn nearest_shore(near: Position, point_sigma: GroundRange) -> Candidate {
    Candidate {
        position: near,
        height_m: 0.0,
        sigma_m: point_sigma.metres(),
        slack_m: 0.0,
        weight: 0.0,
    }
}

fn sight(
    chart: &Chart,
    sightings: &Sightings,
    contact: &Contact,
    time: Timestamp,
    marks: &[MarkId],
    shore: usize,
    cautions: &mut Vec<String>,
) -> Sight {
    let half_beam = Angle::from_degrees(0.5 * sightings.radar.set.beam_width_deg);
    let belief = belief(chart, contact, marks, cautions);
    let sure = belief.map_or(0.0, |b| b.confidence);
    let tangent = matches!(contact.part, Part::Left | Part::Right);
    // The width at which an edge is drawn depends on the gain: half of it, give or take a half.
    let drawn = if tangent { 0.5 * half_beam.radians() } else { 0.0 };
    let elapsed_s = time.duration_since(contact.time).as_secs_f64();
    let told = contact.lobes.iter().filter(|_| contact.range.is_some());
    let borne = contact.bearing.is_some() || contact.lobes.is_some();
    // A lone range or bearing of shore that is no mark tells no more than one of a ship: it counts
    // as such. With both it is held against the shore itself.
    let lone = contact.part == Part::Near && contact.range.is_some() != borne;
    let of_no_mark = if lone { part_of_marks() } else { 1.0 };
    Sight {
        range: contact
            .range
            .map(|range| Reading { value: range.metres(), sigma: contact.range_sigma.metres() }),
        bearing: contact.bearing.map(|bearing| Reading {
            value: land_edge(bearing, contact.part, half_beam).radians(),
            sigma: contact.bearing_sigma.radians().abs().hypot(drawn),
        }),
        ratio: contact.lobes.as_ref().map(|read| {
            RatioReading::new(read.ratio_db(), read.lobes, read.heading.radians(), read.bank)
        }),
        told: told
            .flat_map(LobeReading::true_bearings)
            .map(|(bearing, sigma)| Reading { value: bearing.radians(), sigma: sigma.radians() })
            .collect(),
        run: sightings.reckoning.displacement(contact.time, time),
        elapsed_s: if sightings.reckoning.track.is_some() { elapsed_s } else { 0.0 },
        belief,
        off_chart: (1.0 - (1.0 - OFF_CHART) * of_no_mark) * (1.0 - sure),
        surely: (contact.part == Part::Shore && !borne).then_some(shore),
        of_edge: contact.part == Part::Near,
        traced: None,
    }
}

/// A traced outline, its moment carried as a contact's is.
fn traced(sightings: &Sightings, traced: Timestamp, time: Timestamp) -> Sight {
    let elapsed_s = time.duration_since(traced).as_secs_f64();
    let known = sightings.reckoning.track.is_some();
    outline::sight(
        sightings.reckoning.displacement(traced, time),
        if known { elapsed_s } else { 0.0 },
    )
}

fn belief(
    chart: &Chart,
    contact: &Contact,
    marks: &[MarkId],
    cautions: &mut Vec<String>,
) -> Option<Belief> {
    let stated = contact.belief.as_ref()?;
    let found = chart.marks().find(&stated.mark).and_then(|id| marks.binary_search(&id).ok());
    if found.is_none() {
        cautions.push(format!(
            "contact {}: no mark named \"{}\" on this chart, so the name is left out",
            contact.label, stated.mark
        ));
    }
    let confidence = stated.confidence.clamp(0.0, MOST_CONFIDENCE);
    found.map(|candidate| Belief { candidate, confidence })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contact::{FlowChange, FlowError};
    use std::path::Path;

    #[test]
    fn a_contact_after_the_time_asked_is_not_too_sure_with_a_wind_in_use() {
        let text = r#"
            [reckoning]
            time = "2031-03-09T03:40:00Z"
            position = "38 12.9 S, 21 30.5 W"
            sigma_nm = 0.4
            track_deg = 0.0
            speed_kn = 120.0
            [own]
            height_ft = 2000
            [radar]
            set = "patrol"
            [[contact]]
            label = "A"
            range_nm = 17.3
            bearing_deg = 42.5
            time = "2031-03-09T04:20:00Z"
        "#;
        let mut sightings = Sightings::parse(text, "test", Path::new("")).unwrap();
        let reckoning = &mut sightings.reckoning;
        // The wind errs with the place, one for one: 1.5 m/s to 0.4 NM.
        let (wind, place) = (1.5, 0.4 * METRES_PER_NAUTICAL_MILE);
        let shared = [[wind * place, 0.0], [0.0, wind * place]];
        let change = FlowChange { spread: 1.5, seconds: 1e9, wander: 0.0 };
        let squared = [wind * wind, 0.0, wind * wind];
        reckoning.with_flow(FlowError::found(squared, 0.0, shared, reckoning.covariance, change));
        let latest = sightings.latest();
        let (_, truly) = sightings.reckoning.carried_to(latest).unwrap();
        for asked in ["2031-03-09T03:42:00Z", "2031-03-09T04:00:00Z", "2031-03-09T04:20:00Z"] {
            let asked: Timestamp = asked.parse().unwrap();
            let prior = prior(&sightings, asked, &mut Vec::new());
            let seconds = latest.duration_since(asked).as_secs_f64();
            let [_, _, north] = prior.covariance.square_metres();
            let stated = north + (prior.along_sigma * seconds).powi(2);
            // A metre more is its own.
            let [_, _, needed] = truly.square_metres();
            assert!(stated + 1.0 >= needed, "{asked}: {stated} and {needed}");
            assert!(stated < 2.0 * needed + 10.0, "{asked}: {stated} and {needed}");
        }
    }
}
