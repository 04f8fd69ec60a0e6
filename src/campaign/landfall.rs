//! One landfall: a place off a coast, the reckoning that goes with it, and what was measured there.

use std::fmt::Write;
use std::path::Path;

use rand_chacha::ChaCha8Rng;
use thiserror::Error;

use super::case::{
    BEARING_DEG, BIAS_DEG, Case, Measured, POINT_NM, RANGE_NM, SHIFT_NM, SPEED_KN, TRACK_DEG,
};
use super::coast::Coast;
use super::operator::{Errors, Hand, Taken, choose, measure, moved, nearest_shore, ship};
use super::picture::{BENT_EARTH_M, Picture, Scope};
use super::random::{between, happens, normal};
use super::shore::{ChartError, METRES_A_DEGREE, MILE, RADIAN, Stretch};
use super::trace;
use crate::contact::{ReadingError, Sightings, SightingsError};
use crate::geodesy::{Position, distance};
use crate::radar::Set;
use crate::units::{Bearing, GroundRange, True};

/// Places tried before a coast is given up.
const TRIES: usize = 2_000;

/// The speeds of an aircraft, in knots.
const SPEEDS_KN: [f64; 2] = [165.0, 180.0];

/// A mark this near what was measured is the one it is, in nautical miles.
const SAME_NM: f64 = 1.0;

/// Why a landfall cannot be made.
#[derive(Debug, Error)]
pub enum SimulatorError {
    /// No set of this name is built in.
    #[error("no set \"{0}\" is built in")]
    NoSet(String),
    /// What was measured does not make sightings: a fault of the simulator.
    #[error("the sightings simulated cannot be read: {0}")]
    Sightings(#[from] SightingsError),
    /// Nor a contact: likewise.
    #[error("what was measured is no contact: {0}")]
    Reading(#[from] ReadingError),
}

/// One landfall, and its truth.
pub struct Landfall {
    /// The sightings as a file, the truth of it in its comments.
    pub text: String,
    /// The same, read.
    pub sightings: Sightings,
    /// Own place at the time of the last contact.
    pub truth: Position,
    /// What the reckoning says.
    pub reckoned: Position,
    /// What was measured, and what it truly is.
    pub taken: Vec<Taken>,
    /// How many contacts are of the coast.
    pub real: usize,
    /// How many of those the chart has a mark for, within a mile.
    pub marked: usize,
}

/// Own course while the contacts are taken.
#[derive(Debug, Clone, Copy)]
struct Course {
    stated: [f64; 2],
    true_course: [f64; 2],
}

/// The coast of one landfall as it truly lies, and the set that looks at it.
pub struct Scene<'a> {
    /// As it is charted.
    pub coast: &'a Coast,
    /// How the chart is wrong.
    pub error: ChartError,
    /// The set as far as its picture goes.
    pub scope: Scope,
    /// What may be in sight.
    pub shore: Vec<Stretch>,
}

impl Scene<'_> {
    /// What the set shows from a place.
    pub fn picture(&self, own: Position) -> Picture {
        Picture::new(own, &self.shore, self.coast.relief.as_ref(), self.scope)
    }
}

/// Makes a landfall; `None` where no place off this coast shows enough.
///
/// # Errors
/// A set that is not built in; sightings that cannot be read, by a fault of the simulator.
pub fn landfall(
    random: &mut ChaCha8Rng,
    coast: &Coast,
    case: &Case,
) -> Result<Option<Landfall>, SimulatorError> {
    let set = set_of(case)?;
    for _ in 0..TRIES {
        let Some(start) = place(random, coast, case) else { continue };
        let scene = scene(random, coast, case, &set, start);
        if let Some(drawn) = attempt(random, &scene, case, &set, start) {
            return drawn.read().map(Some);
        }
    }
    Ok(None)
}

/// A landfall as it was drawn, and nothing read yet.
struct Drawn {
    text: String,
    truth: Position,
    reckoned: Position,
    taken: Vec<Taken>,
    marked: usize,
}

impl Drawn {
    fn read(self) -> Result<Landfall, SimulatorError> {
        let sightings = Sightings::parse(&self.text, "landfall.toml", Path::new(""))?;
        Ok(Landfall {
            text: self.text,
            sightings,
            truth: self.truth,
            reckoned: self.reckoned,
            real: self.taken.iter().filter(|contact| !contact.ship).count(),
            marked: self.marked,
            taken: self.taken,
        })
    }
}

fn set_of(case: &Case) -> Result<Set, SimulatorError> {
    Set::builtin(case.carried.set).ok_or_else(|| SimulatorError::NoSet(case.carried.set.to_owned()))
}

/// A place at sea, the coast as near as the case asks, and all land in reach on the chart.
fn place(random: &mut ChaCha8Rng, coast: &Coast, case: &Case) -> Option<Position> {
    let area = coast.chart.coast().extent()?;
    let [nearest, farthest] = case.carried.off_nm;
    let north = farthest / 60.0;
    let east = north / (0.5 * (area.south + area.north) * RADIAN).cos().max(0.01);
    let at = Position::wrapped(
        between(random, (area.south - north).max(-89.9), (area.north + north).min(89.9)),
        between(random, area.west - east, area.east + east),
    );
    let chart = coast.chart.coast();
    let reach_m = (case.carried.reach_nm + run_nm(case)) * MILE;
    if !coast.is_charted_about(at, reach_m) || chart.is_land(at) != Some(false) {
        return None;
    }
    let (range, _) = chart.nearest(at, GroundRange::clamped_metres(farthest * MILE))?;
    (range.nautical_miles() >= nearest).then_some(at)
}

/// How far is run while the contacts are taken, at most.
fn run_nm(case: &Case) -> f64 {
    SPEEDS_KN[1] * case.minutes / 60.0
}

/// The set of a case as far as its picture goes.
///
/// # Errors
/// A set that is not built in.
pub fn scope_of(case: &Case) -> Result<Scope, SimulatorError> {
    set_of(case).map(|set| scope(case, &set))
}

fn scope(case: &Case, set: &Set) -> Scope {
    Scope {
        height_m: case.carried.height_ft * 0.3048,
        bent_m: BENT_EARTH_M,
        beam_deg: if case.carried.has_trace() { trace::NO_BEAM_DEG } else { set.beam_width_deg },
        cell_m: set.pulse_length_m(),
        reach_m: case.carried.reach_nm * MILE,
    }
}

fn scene<'a>(
    random: &mut ChaCha8Rng,
    coast: &'a Coast,
    case: &Case,
    set: &Set,
    start: Position,
) -> Scene<'a> {
    let side = between(random, 0.0, std::f64::consts::TAU).sin_cos();
    let sigma = SHIFT_NM * case.truth_times;
    let shift_m =
        [side.0, side.1].map(|part| MILE * (case.shifted_nm * part + sigma * normal(random)));
    let error = ChartError {
        seed: between(random, 0.0, 4_294_967_296.0) as u64,
        shift_m,
        point_sigma_m: POINT_NM * case.truth_times * MILE,
        degree_east_m: METRES_A_DEGREE * (start.latitude() * RADIAN).cos().max(1e-3),
    };
    let scope = scope(case, set);
    let reach = scope.reach_m + run_nm(case) * MILE;
    Scene { coast, error, scope, shore: coast.shore.moved(start, reach, &error) }
}

/// Takes the contacts from a place; `None` where too little shows.
fn attempt(
    random: &mut ChaCha8Rng,
    scene: &Scene<'_>,
    case: &Case,
    set: &Set,
    start: Position,
) -> Option<Drawn> {
    let course = course(random);
    let bias_deg = BIAS_DEG * case.truth_times * normal(random);
    // Of a set with lobes: everything it measures is about the bow.
    let lobes = set.lobes.map(|lobes| (lobes, between(random, 0.0, 360.0)));
    let hand = Hand {
        manner: case.manner(),
        errors: Errors::Told { range_nm: RANGE_NM, bearing_deg: BEARING_DEG },
        lobes,
        bias_deg,
        times: case.truth_times,
    };
    let taken = taken(random, scene, case, hand, (start, course))?;
    let reckoned = reckoned(random, case, start);
    let mut text = head(scene, case, hand, reckoned, course, start);
    for (number, contact) in taken.iter().enumerate() {
        let seconds = (case.step_s() * number as f64).round();
        write_contact(&mut text, number, contact, seconds, scene);
        if let Some(name) = name_of(random, scene, case, contact) {
            let _ = writeln!(text, "mark = {}", toml::Value::String(name));
        }
    }
    let last = (case.step_s() * case.contacts.saturating_sub(1) as f64).round();
    Some(Drawn {
        text,
        truth: carried(start, course.true_course, last),
        reckoned,
        marked: taken
            .iter()
            .filter(|contact| !contact.ship)
            .filter(|contact| scene.mark_at(contact.place).is_some())
            .count(),
        taken,
    })
}

/// The contacts, one after the other on the way; `None` where too little shows.
fn taken(
    random: &mut ChaCha8Rng,
    scene: &Scene<'_>,
    case: &Case,
    hand: Hand<'_>,
    (start, course): (Position, Course),
) -> Option<Vec<Taken>> {
    let first = scene.picture(start);
    let (mut taken, mut places): (Vec<Taken>, Vec<Position>) = (Vec::new(), Vec::new());
    for number in 0..case.contacts {
        let own = carried(start, course.true_course, case.step_s() * number as f64);
        let later = (case.minutes > 0.0 && number > 0).then(|| scene.picture(own));
        let picture = later.as_ref().unwrap_or(&first);
        let is_last = number + 1 == case.contacts;
        let contact = one_taken(random, picture, &places, case, (hand, is_last))?;
        places.push(contact.place);
        taken.push(contact);
    }
    if case.repeats {
        let again = taken.first().cloned();
        if let Some((last, again)) = taken.last_mut().zip(again) {
            *last = again;
        }
    }
    Some(taken)
}

/// One contact, apart from those before it.
fn one_taken(
    random: &mut ChaCha8Rng,
    picture: &Picture,
    before: &[Position],
    case: &Case,
    (hand, is_last): (Hand<'_>, bool),
) -> Option<Taken> {
    // Chosen in any case: a place must show enough whether or not ships are taken for it.
    let feature = choose(random, picture, before, hand)?;
    if happens(random, case.ships) {
        ship(random, picture, before, hand)
    } else if case.measured == Measured::Mixed && is_last {
        nearest_shore(random, picture, hand)
    } else {
        Some(measure(random, picture, &feature, hand))
    }
}

fn course(random: &mut ChaCha8Rng) -> Course {
    let tenth = |value: f64| (10.0 * value).round() / 10.0;
    let track = tenth(between(random, 0.0, 360.0));
    let speed = tenth(between(random, SPEEDS_KN[0], SPEEDS_KN[1]));
    let true_course = [track + TRACK_DEG * normal(random), speed + SPEED_KN * normal(random)];
    Course { stated: [track, speed], true_course }
}

/// Own place so many seconds on.
fn carried(start: Position, [track, knots]: [f64; 2], seconds: f64) -> Position {
    let (sin, cos) = Bearing::<True>::wrapped_degrees(track).sin_cos();
    let run = knots * seconds / 3_600.0;
    if run > 0.0 { moved(start, run * sin, run * cos) } else { start }
}

/// Where the reckoning says we are.
fn reckoned(random: &mut ChaCha8Rng, case: &Case, start: Position) -> Position {
    let sigma = case.reckoning_nm;
    let Some([low, high]) = case.outside else {
        return moved(start, sigma * normal(random), sigma * normal(random));
    };
    let far = sigma * between(random, low, high);
    let (sin, cos) = between(random, 0.0, std::f64::consts::TAU).sin_cos();
    moved(start, far * sin, far * cos)
}

/// The name that the operator gives a contact: that of the mark it is, or of the nearest other.
fn name_of(
    random: &mut ChaCha8Rng,
    scene: &Scene<'_>,
    case: &Case,
    contact: &Taken,
) -> Option<String> {
    let (wrong, right) = (happens(random, case.wrong_names), happens(random, case.right_names));
    if contact.ship || !(wrong || right) {
        return None;
    }
    let near = marks_near(scene, contact.place);
    let other = near.iter().find(|(far, _)| *far > SAME_NM);
    let same = near.first().filter(|(far, _)| *far <= SAME_NM);
    let chosen = if wrong { other } else { same };
    chosen.map(|(_, name)| (*name).to_owned())
}

impl<'a> Scene<'a> {
    /// The mark that the chart has within a mile of what is truly at a place.
    pub fn mark_at(&self, place: Position) -> Option<&'a str> {
        let near = marks_near(self, place);
        near.first().filter(|(far, _)| *far <= SAME_NM).map(|(_, name)| *name)
    }
}

/// The chart's marks within 30 miles of a place: how far, and their names, nearest first.
fn marks_near<'a>(scene: &Scene<'a>, place: Position) -> Vec<(f64, &'a str)> {
    let charted = scene.error.charted_place(place);
    let marks = scene.coast.chart.marks();
    let mut near: Vec<(f64, &str)> = marks
        .within(charted, GroundRange::clamped_metres(30.0 * MILE))
        .into_iter()
        .filter_map(|id| marks.get(id))
        .map(|mark| (distance(charted, mark.position).nautical_miles(), mark.name.as_str()))
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    near
}

/// The sightings but for the contacts, and the truth of them as comments.
fn head(
    scene: &Scene<'_>,
    case: &Case,
    hand: Hand<'_>,
    reckoned: Position,
    course: Course,
    start: Position,
) -> String {
    let mut text = format!(
        "# {} off {}\n# truth at the start: {:.6},{:.6}; bearing bias {:.2} deg, chart shift {:.0} \
         m east, {:.0} m north\n",
        case.name,
        scene.coast.name,
        start.latitude(),
        start.longitude(),
        hand.bias_deg,
        scene.error.shift_m[0],
        scene.error.shift_m[1],
    );
    write_reckoning(&mut text, case, reckoned, course);
    write_own(&mut text, case, hand);
    text
}

fn write_reckoning(text: &mut String, case: &Case, reckoned: Position, course: Course) {
    // Writing to a string cannot fail.
    let _ = writeln!(
        text,
        "[reckoning]\ntime = \"2031-03-09T03:40:00Z\"\nposition = \"{:.6},{:.6}\"\nsigma_nm = {:.1}",
        reckoned.latitude(),
        reckoned.longitude(),
        case.reckoning_nm
    );
    if case.minutes > 0.0 {
        let [track, speed] = course.stated;
        let _ = writeln!(
            text,
            "track_deg = {track:.1}\nspeed_kn = {speed:.1}\ntrack_sigma_deg = \
             {TRACK_DEG:.1}\nspeed_sigma_kn = {SPEED_KN:.1}"
        );
    }
}

/// Own height and heading, the set with its errors, and the chart's.
fn write_own(text: &mut String, case: &Case, hand: Hand<'_>) {
    // As the compass has it.
    let by = hand.heading().map_or_else(String::new, |heading| {
        let shown = (heading + hand.bias_deg).rem_euclid(360.0);
        format!("heading_deg = {:.1}\nheading_kind = \"true\"\n", shown.min(359.9))
    });
    let bearing = if hand.lobes.is_some() {
        String::new()
    } else {
        format!("bearing_sigma_deg = {BEARING_DEG:.1}\n")
    };
    let _ = writeln!(
        text,
        "[own]\nheight_ft = {:.0}\n{by}heading_sigma_deg = {BIAS_DEG:.1}\n[radar]\nset = \
         \"{}\"\nrange_sigma_nm = {RANGE_NM}\n{bearing}[chart]\npoint_sigma_nm = \
         {POINT_NM}\nshift_sigma_nm = {SHIFT_NM}",
        case.carried.height_ft, case.carried.set
    );
}

fn write_contact(
    text: &mut String,
    number: usize,
    contact: &Taken,
    seconds: f64,
    scene: &Scene<'_>,
) {
    let charted = scene.error.charted_place(contact.place);
    let mark =
        marks_near(scene, contact.place).first().copied().unwrap_or((f64::INFINITY, "any mark"));
    let time = format!("2031-03-09T03:{:02}:{:02}Z", 40 + (seconds / 60.0) as u32, seconds % 60.0);
    let _ = writeln!(
        text,
        "\n# truth: {}, charted at {:.5},{:.5}, stands out {:.2} NM, {:.2} NM from {}\n[[contact]]\nlabel = \"{}\"\ntime = \"{time}\"\n\
         part = \"{}\"",
        contact.what,
        charted.latitude(),
        charted.longitude(),
        contact.weight,
        mark.0,
        mark.1,
        number + 1,
        contact.part
    );
    write_readings(text, contact);
}

/// Range, deflections and bearing of a contact, as a file of sightings has them.
fn write_readings(text: &mut String, contact: &Taken) {
    if let Some(range) = contact.range_nm {
        let _ = writeln!(text, "range_nm = {range:.2}");
    }
    if let Some([port, starboard]) = contact.deflection {
        let _ = writeln!(text, "deflection = {{ port = {port:.2}, starboard = {starboard:.2} }}");
    }
    if let Some(bearing) = contact.bearing_deg {
        let _ = writeln!(text, "bearing_deg = {:.1}", bearing.min(359.9));
    }
}
