//! From a chart and sightings to the plain numbers that identity and estimator work on.

use std::f64::consts::SQRT_2;

use jiff::Timestamp;

use super::ground::{ChartGround, Levels, level_of};
use super::outline;
use crate::chart::{Accuracy, Chart, Mark, MarkId, MarkKind};
use crate::contact::shore::land_edge;
use crate::contact::{Among, Contact, LobeReading, Outline, Part, Sightings};
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
    let accuracy = sightings.accuracy_on(chart);
    let mut listed =
        Listed::of(chart, marks_near(chart, sightings, &prior, reach), accuracy.point_sigma);
    let shore = listed.take_shore("nearest shore", prior.position, accuracy.point_sigma);
    let any_shore = listed.take_shore("shore of no name", prior.position, accuracy.point_sigma);
    let Listed { marks, candidates, mut names } = listed;
    let levels = levels(sightings, time);
    let about = About { chart, sightings, time, marks: &marks, shore, levels: &levels };
    let contacts = sightings.contacts.iter();
    let sights = contacts.map(|contact| sight(&about, contact, &mut cautions)).collect();
    let mut problem = Problem {
        candidates,
        sights,
        prior,
        shared: shared(sightings, accuracy),
        own_height_m: sightings.own.height.metres(),
        reach_m: reach.metres(),
        any_shore: chart.coast().extent().is_some().then_some(any_shore),
    };
    let traced = sightings.outlines.iter().map(|o| traced(sightings, o, time)).collect();
    outline::add(chart, sightings, traced, &mut problem, &mut names);
    let ground =
        ChartGround::new(chart, sightings, &prior, reach, marks, (any_shore, levels, time));
    let contacts = sightings.contacts.iter().map(|c| c.label.clone());
    let labels = contacts.chain(sightings.outlines.iter().map(|o| o.label.clone())).collect();
    Setting { problem, labels, names, time, cautions, ground }
}

/// Own height, and from how high and how far back contacts were measured.
fn levels(sightings: &Sightings, time: Timestamp) -> Levels {
    let run = |contact: &Contact| sightings.reckoning.displacement(contact.time, time);
    let contacts = sightings.contacts.iter();
    Levels::of(sightings.own.height, contacts.map(|contact| (contact.own_height, run(contact))))
}

/// What a contact may be of: marks, in the order of their numbers, and after them what is none.
struct Listed {
    marks: Vec<MarkId>,
    candidates: Vec<Candidate>,
    /// One for each candidate.
    names: Vec<String>,
}

impl Listed {
    fn of(chart: &Chart, marks: Vec<MarkId>, point_sigma: GroundRange) -> Self {
        let known = || marks.iter().filter_map(|id| chart.marks().get(*id));
        let candidates = known().map(|mark| candidate(mark, point_sigma)).collect();
        let names = known().map(|mark| mark.name.clone()).collect();
        Self { marks, candidates, names }
    }

    /// One more, which stands for shore: its number.
    fn take_shore(&mut self, name: &str, near: Position, point_sigma: GroundRange) -> usize {
        self.candidates.push(nearest_shore(near, point_sigma));
        self.names.push(name.to_owned());
        self.candidates.len() - 1
    }
}

/// The errors that all contacts have in common.
fn shared(sightings: &Sightings, accuracy: Accuracy) -> Shared {
    Shared {
        bearing_bias_sigma: sightings.bearing_bias_sigma().radians().abs(),
        range_bias_sigma: RANGE_BIAS_NM * METRES_PER_NAUTICAL_MILE,
        chart_shift_sigma: accuracy.shift_sigma.metres(),
        own_height_sigma: height_sigma_m(sightings),
    }
}

/// How unsure own height is where it is so most: one altimeter told all the heights.
fn height_sigma_m(sightings: &Sightings) -> f64 {
    let contacts = sightings.contacts.iter().map(|contact| contact.own_height);
    let outlines = sightings.outlines.iter().map(|outline| outline.own_height);
    let heights = contacts.chain(outlines).chain([sightings.own.height]);
    heights.map(|height| sightings.own.at(height).height_sigma().metres()).fold(0.0, f64::max)
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
    let spread = REACH_SIGMAS * long.sqrt().hypot(prior.run_sigma_m());
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

/// What the contacts are held against.
struct About<'a> {
    chart: &'a Chart,
    sightings: &'a Sightings,
    time: Timestamp,
    /// The marks among the candidates, in their order.
    marks: &'a [MarkId],
    /// The candidate that is the nearest shore.
    shore: usize,
    levels: &'a Levels,
}

fn sight(about: &About<'_>, contact: &Contact, cautions: &mut Vec<String>) -> Sight {
    let reckoning = &about.sightings.reckoning;
    let half_beam = Angle::from_degrees(0.5 * about.sightings.radar.set.beam_width_deg);
    let borne = contact.bearing.is_some() || contact.lobes.is_some();
    // The nearest shore is no mark, whatever it was called.
    let surely = (contact.part == Part::Shore && !borne).then_some(about.shore);
    let belief = belief(about, contact, cautions).filter(|_| surely.is_none());
    let sure = belief.map_or(0.0, |b| b.confidence);
    let elapsed_s = about.time.duration_since(contact.time).as_secs_f64();
    Sight {
        own_height_m: contact.own_height.metres(),
        level: level_of(about.sightings, about.levels, contact, about.time),
        range: contact
            .range
            .map(|range| Reading { value: range.metres(), sigma: contact.range_sigma.metres() }),
        bearing: bearing(contact, half_beam),
        ratio: contact.lobes.as_ref().map(|read| {
            RatioReading::new(read.ratio_db(), read.lobes, read.heading.radians(), read.bank)
        }),
        told: told_by_ratio(contact),
        run: reckoning.displacement(contact.time, about.time),
        elapsed_s: if reckoning.track.is_some() { elapsed_s } else { 0.0 },
        belief,
        off_chart: (1.0 - (1.0 - OFF_CHART) * part_looked_at(contact, borne)) * (1.0 - sure),
        surely,
        part: contact.part,
        traced: None,
    }
}

/// The bearing of the land itself, with its own error.
fn bearing(contact: &Contact, half_beam: Angle) -> Option<Reading> {
    let tangent = matches!(contact.part, Part::Left | Part::Right);
    // The width at which an edge is drawn depends on the gain: half of it, give or take a half.
    let drawn = if tangent { 0.5 * half_beam.radians() } else { 0.0 };
    contact.bearing.map(|bearing| Reading {
        value: land_edge(bearing, contact.part, half_beam).radians(),
        sigma: contact.bearing_sigma.radians().abs().hypot(drawn),
    })
}

/// The bearings that two deflections allow at the range read; none without both.
fn told_by_ratio(contact: &Contact) -> Vec<Reading> {
    let told = contact.lobes.iter().filter(|_| contact.range.is_some());
    told.flat_map(LobeReading::true_bearings)
        .map(|(bearing, sigma)| Reading { value: bearing.radians(), sigma: sigma.radians() })
        .collect()
}

/// The part of the echoes of land that a contact is held against.
///
/// A lone range or bearing of shore that is no mark tells no more than one of a ship: it counts as
/// such. With both it is held against the shore itself.
fn part_looked_at(contact: &Contact, borne: bool) -> f64 {
    let lone = contact.part == Part::Near && contact.range.is_some() != borne;
    if lone { part_of_marks() } else { 1.0 }
}

/// A traced outline, its moment carried as a contact's is.
fn traced(sightings: &Sightings, outline: &Outline, time: Timestamp) -> Sight {
    let elapsed_s = time.duration_since(outline.time).as_secs_f64();
    let known = sightings.reckoning.track.is_some();
    outline::sight(
        outline.own_height,
        sightings.reckoning.displacement(outline.time, time),
        if known { elapsed_s } else { 0.0 },
    )
}

fn belief(about: &About<'_>, contact: &Contact, cautions: &mut Vec<String>) -> Option<Belief> {
    let stated = contact.belief.as_ref()?;
    let named = about.chart.marks().find(&stated.mark);
    let found = named.and_then(|id| about.marks.binary_search(&id).ok());
    if found.is_none() {
        cautions.push(format!(
            "contact {}: no mark named \"{}\" {}, so the name is left out",
            contact.label,
            stated.mark,
            Among::of(about.chart).words()
        ));
    }
    let confidence = stated.confidence.clamp(0.0, MOST_CONFIDENCE);
    found.map(|candidate| Belief { candidate, confidence })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::{GeoBox, Opening};
    use crate::contact::{FlowChange, FlowError};
    use std::path::Path;

    #[test]
    fn a_name_of_a_mark_outside_the_part_open_is_told_as_that() {
        // A head found from the shape of the coast some sixty miles from the reckoning, off the sample.
        let folder = [std::path::PathBuf::from("charts-sample")];
        let whole = Chart::open(&folder).unwrap();
        let here = Position::new(-38.5, -21.4).unwrap();
        let near = GeoBox::around(here, GroundRange::from_nautical_miles(15.0).unwrap());
        let part = Opening::new(&folder).around(near).whole_up_to(0).open().unwrap();
        assert!(part.opened_about().is_some());
        let far = whole
            .marks()
            .iter()
            .map(|(_, mark)| mark)
            .find(|mark| !mark.named && part.marks().find(&mark.name).is_none())
            .unwrap();
        let text = format!(
            "[reckoning]\ntime = \"2031-03-09T03:40:00Z\"\nposition = \"-38.5,-21.4\"\nsigma_nm = 2.0\n\
             [own]\nheight_ft = 2000\n[radar]\nset = \"patrol\"\n\
             [[contact]]\nlabel = \"A\"\nrange_nm = 17.3\nbearing_deg = 42.5\nmark = \"{}\"\n",
            far.name
        );
        let sightings = Sightings::parse(&text, "test", Path::new("")).unwrap();
        let said = |chart: &Chart| {
            let found = crate::fix::fix(chart, &sightings, &crate::fix::Options::default());
            found.cautions.iter().find(|told| told.starts_with("contact A: no mark")).cloned()
        };
        let told = format!(
            "contact A: no mark named \"{}\" in the part of this chart that is open",
            far.name
        );
        assert_eq!(said(&part), Some(format!("{told}, so the name is left out")));
        assert_eq!(said(&whole), None);
        // And it is refused as that, where a file is read.
        let refused = sightings.check_marks(&part).unwrap_err();
        assert_eq!(refused.faults().first().unwrap().wrong.to_string(), told);
        assert!(sightings.check_marks(&whole).is_ok());
    }

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
