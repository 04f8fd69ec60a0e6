//! From a chart and sightings to the plain numbers that identity and estimator work on.

use std::cell::{OnceCell, RefCell};
use std::collections::{BTreeMap, HashMap};
use std::rc::Rc;

use jiff::Timestamp;

use super::case::Prospect;
use crate::chart::{Chart, Mark, MarkId, MarkKind};
use crate::contact::shore::{Shore, land_edge};
use crate::contact::{Contact, Part, Sightings};
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position, course};
use crate::identity::{
    Answer, Answering, Belief, Candidate, Prior, Problem, RatioReading, Reading, Shared, Sight,
    Sighting,
};
use crate::paint::{Conditions, Lookout};
use crate::radar::Set;
use crate::units::{Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, SlantRange};

/// A contact of no stated identity is nothing on the chart this often.
pub(super) const OFF_CHART: f64 = 0.15;
/// Prior error of every range alike, one standard deviation in miles.
const RANGE_BIAS_NM: f64 = 0.05;
/// Marks are looked for this many standard deviations of the reckoning beyond reach.
const REACH_SIGMAS: f64 = 8.0;
/// What is in sight is worked out for places this many of them off.
const SEEN_SIGMAS: f64 = 4.0;
/// And no farther than this, in miles: a plane is no picture of more.
const MOST_REACH_NM: f64 = 300.0;
/// The least salience a mark is given: anything charted may be picked.
const LEAST_SALIENCE: f64 = 0.05;
/// Rough solutions take the answering part to lie within this of the charted point, in miles.
const SLACK_NM: f64 = 0.25;
/// How much of the shore about its tip an operator may take for a headland, in miles: at least and
/// at most.
const DISCS_NM: [f64; 2] = [0.6, 1.4];
/// How far behind the nearest shore of the larger disc an echo may begin, as a share of what lies
/// between the two discs' answers.
const DEPTH_SHARE: f64 = 0.5;
/// How much of what lies between tip and shore in the beam is unsure: which of them painted.
const CHOICE_SHARE: f64 = 0.15;
/// Where the beam holds no shore of the mark, the tip's range is good to this, in miles.
const MISSED_NM: f64 = 0.2;
/// A bearing of an islet is taken within this share of its radius of its middle.
const FACE_SHARE: f64 = 0.25;
const MOST_FACE_NM: f64 = 0.3;
/// A bearing of a headland is taken so near to its tip, in miles.
const HEADLAND_FACE_NM: f64 = 0.12;
/// A shore seen at more of a slant than this is a range to no one line.
const MOST_SLIDE: f64 = 2.0;
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

/// What the chart says of marks as seen from a place.
pub(super) struct ChartGround<'a> {
    chart: &'a Chart,
    lookout: OnceCell<Option<Lookout<'a>>>,
    region: (Position, GroundRange),
    own: Height,
    marks: Vec<MarkId>,
    parts: Vec<Part>,
    set: Set,
    bearing_sigma: f64,
    /// The bearing of each contact as read, in radians, none for a lone range.
    read: Vec<Option<f64>>,
    half_beam: Angle,
    range_sigma: Option<f64>,
    /// The shore about a mark, laid out when first asked for.
    shores: RefCell<HashMap<(usize, usize), Rc<Shore>>>,
    /// The nearest shore of all, by place to the metre.
    nearest: RefCell<BTreeMap<(i64, i64), Option<Position>>>,
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
    let sights = sightings
        .contacts
        .iter()
        .map(|contact| sight(chart, sightings, contact, time, &marks, shore, &mut cautions))
        .collect();
    let problem = Problem {
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
    };
    let ground = ChartGround::new(chart, sightings, &prior, reach, marks);
    let labels = sightings.contacts.iter().map(|c| c.label.clone()).collect();
    Setting { problem, labels, names, time, cautions, ground }
}

fn prior(sightings: &Sightings, time: Timestamp, cautions: &mut Vec<String>) -> Prior {
    let reckoning = &sightings.reckoning;
    let position = match reckoning.carried_to(time) {
        Ok((position, _)) => position,
        Err(fault) => {
            cautions.push(format!("the reckoning is not carried: {fault}"));
            reckoning.position
        }
    };
    let speed = reckoning.speed.map_or(0.0, crate::units::Speed::metres_per_second);
    let known = reckoning.track.is_some() && reckoning.speed.is_some();
    let share = |sigma: f64| if known { sigma } else { 0.0 };
    Prior {
        position,
        covariance: sound(reckoning.covariance),
        elapsed_s: time.duration_since(reckoning.time).as_secs_f64(),
        track: reckoning.track.map_or(0.0, Bearing::radians),
        along_sigma: share(reckoning.speed_sigma.metres_per_second()),
        across_sigma: share(reckoning.track_sigma.radians().abs() * speed),
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
    let farthest = sightings.contacts.iter().filter_map(|c| c.range).map(SlantRange::metres);
    let farthest = farthest.fold(0.0, f64::max);
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
fn in_use(set: &Set, reach: GroundRange) -> Set {
    let miles = reach.nautical_miles();
    let mut shown = set.clone();
    shown.scales_nm.retain(|scale| *scale <= miles + 1e-6);
    if shown.scales_nm.is_empty() { set.clone() } else { shown }
}

fn candidate(mark: &Mark, point_sigma: GroundRange) -> Candidate {
    let slack = match mark.kind {
        MarkKind::Headland => SLACK_NM * METRES_PER_NAUTICAL_MILE,
        MarkKind::Islet => mark.extent.metres().max(50.0),
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
        run: sightings.reckoning.displacement(contact.time, time),
        elapsed_s: if sightings.reckoning.track.is_some() { elapsed_s } else { 0.0 },
        belief,
        off_chart: OFF_CHART * (1.0 - sure),
        surely: (contact.part == Part::Shore
            && contact.bearing.is_none()
            && contact.lobes.is_none())
        .then_some(shore),
    }
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

impl<'a> ChartGround<'a> {
    fn new(
        chart: &'a Chart,
        sightings: &Sightings,
        prior: &Prior,
        reach: GroundRange,
        marks: Vec<MarkId>,
    ) -> Self {
        let set = &sightings.radar.set;
        let (long, _, _) = prior.covariance.axes();
        let most = MOST_REACH_NM * METRES_PER_NAUTICAL_MILE;
        let radius = GroundRange::clamped_metres((SEEN_SIGMAS * long.sqrt()).min(most));
        let stated = sightings.radar.bearing_sigma_deg;
        Self {
            chart,
            lookout: OnceCell::new(),
            region: (prior.position, radius),
            own: sightings.own.height,
            marks,
            parts: sightings.contacts.iter().map(|c| c.part).collect(),
            read: sightings.contacts.iter().map(|c| c.bearing.map(Bearing::radians)).collect(),
            half_beam: Angle::from_degrees(0.5 * set.beam_width_deg),
            set: in_use(set, reach),
            bearing_sigma: Angle::from_degrees(stated.unwrap_or(set.bearing_sigma_deg)).radians(),
            range_sigma: sightings.radar.range_sigma_nm.map(|nm| nm * METRES_PER_NAUTICAL_MILE),
            shores: RefCell::default(),
            nearest: RefCell::default(),
        }
    }

    /// Made when first asked for. None for a chart without land: nothing hides anything there.
    fn lookout(&self) -> Option<&Lookout<'a>> {
        let made = self.lookout.get_or_init(|| {
            let ground = self.chart.ground();
            let bare = self.chart.coast().extent().is_none()
                && !ground.has_grid()
                && !ground.has_contours();
            let (centre, radius) = self.region;
            let conditions = Conditions::default();
            (!bare)
                .then(|| Lookout::new(self.chart, centre, radius, self.own, &self.set, &conditions))
        });
        made.as_ref()
    }

    /// Whether the chart holds no land at all.
    pub(super) fn is_bare(&self) -> bool {
        self.lookout().is_none()
    }

    /// The marks among the candidates, in their order, which is that of their numbers.
    pub(super) fn marks(&self) -> &[MarkId] {
        &self.marks
    }

    /// The shore about a mark, in the smaller or the larger disc; an islet's own in both.
    fn shore_of(&self, candidate: usize, mark: &Mark, disc: usize) -> Rc<Shore> {
        let islet = mark.kind == MarkKind::Islet;
        let key = (candidate, if islet { 0 } else { disc });
        if let Some(known) = self.shores.borrow().get(&key) {
            return Rc::clone(known);
        }
        let miles = METRES_PER_NAUTICAL_MILE;
        let radius = if islet {
            1.2 * mark.extent.metres() + 0.1 * miles
        } else {
            DISCS_NM.get(disc).copied().unwrap_or(1.0) * miles
        };
        let radius = GroundRange::clamped_metres(radius);
        let shore = Rc::new(Shore::around(self.chart.coast(), mark.position, radius));
        self.shores.borrow_mut().insert(key, Rc::clone(&shore));
        shore
    }

    /// A headland or an islet by its leading edge: borne by its charted point, and ranged to its
    /// nearest shore within half a beam of the bearing as read, less the bias.
    ///
    /// Close in, the nearest shore about a tip can lie many degrees off it: no cursor is set there.
    /// How much of the shore is taken for the headland, and whether the shore in the beam painted
    /// rather than the tip, is not known: what lies between goes into the error.
    fn leading(&self, sight: usize, candidate: usize, from: Position, bias: f64) -> Option<Answer> {
        let mark = self.marks.get(candidate).and_then(|id| self.chart.marks().get(*id))?;
        let to_tip = course(from, mark.position);
        let read = self.read.get(sight).copied().flatten();
        let towards = read.map_or(to_tip.initial, |read| Bearing::wrapped(read - bias));
        let in_beam = |disc| {
            let shore = self.shore_of(candidate, mark, disc);
            shore.leading_edge(from, towards, self.half_beam)
        };
        let miles = METRES_PER_NAUTICAL_MILE;
        let face_m = if mark.kind == MarkKind::Islet {
            (FACE_SHARE * mark.extent.metres()).min(MOST_FACE_NM * miles)
        } else {
            HEADLAND_FACE_NM * miles
        };
        let Some(much) = in_beam(1) else {
            return Some(Answer {
                face_m,
                depth_m: MISSED_NM * miles,
                ..Answer::at(mark.position)
            });
        };
        let little = in_beam(0).map_or(to_tip.distance, |edge| edge.range);
        let between = DEPTH_SHARE * (little - much.range).abs();
        let choice = CHOICE_SHARE * (to_tip.distance - much.range).abs();
        let [east, north] = much.range_by;
        let shrink = (MOST_SLIDE / east.hypot(north).max(MOST_SLIDE)).min(1.0);
        Some(Answer {
            position: much.position,
            aim: mark.position,
            range_by: Some([shrink * east, shrink * north]),
            face_m,
            depth_m: between.hypot(choice.min(MISSED_NM * miles)),
        })
    }

    fn nearest_shore(&self, from: Position) -> Option<Answer> {
        let key = ((from.latitude() * 1e5).round() as i64, (from.longitude() * 1e5).round() as i64);
        let known = self.nearest.borrow().get(&key).copied();
        let position = known.unwrap_or_else(|| {
            let within = GroundRange::clamped_metres(self.set.greatest_scale().metres().max(1.0));
            let found = self.chart.coast().nearest(from, within).map(|(range, bearing)| {
                LocalPlane::new(from).to_position(PlanePoint::at(range, bearing))
            });
            self.nearest.borrow_mut().insert(key, found);
            found
        })?;
        Some(Answer::at(position))
    }
}

impl Answering for ChartGround<'_> {
    fn point(&self, sight: usize, candidate: usize, from: Position, bias: f64) -> Option<Answer> {
        let part = self.parts.get(sight).copied()?;
        let Some(id) = self.marks.get(candidate) else {
            return self.nearest_shore(from);
        };
        let mark = self.chart.marks().get(*id)?;
        let shaped = matches!(mark.kind, MarkKind::Headland | MarkKind::Islet);
        match part {
            Part::Near | Part::Shore if shaped => self.leading(sight, candidate, from, bias),
            Part::Left | Part::Right if shaped => self
                .shore_of(candidate, mark, 0)
                .tangent(from, part)
                .map(|edge| Answer::at(edge.position)),
            _ => None,
        }
    }
}

impl Sighting for ChartGround<'_> {
    fn chance(&self, from: Position, candidate: usize) -> f64 {
        let Some(id) = self.marks.get(candidate) else { return 0.0 };
        self.lookout().map_or(1.0, |lookout| lookout.paint_probability(from, *id))
    }
}

impl Prospect for ChartGround<'_> {
    fn range_sigma(&self, metres: f64) -> f64 {
        self.range_sigma.unwrap_or_else(|| self.set.range_sigma(SlantRange::clamped_metres(metres)))
    }

    fn bearing_sigma(&self) -> f64 {
        self.bearing_sigma
    }

    fn reach(&self) -> f64 {
        self.set.greatest_scale().metres()
    }
}
