//! Legs in order, each from where the one before ends.

use jiff::{SignedDuration, Timestamp};

use super::super::course::Course;
use super::super::directions::{Compasses, Steering};
use super::super::growth::{Craft, ErrorModel};
use super::super::legs::{Leg, Legs, StatedFix};
use super::super::triangle::{Flow, MadeGood, along_heading, behind, made_good, to_make_good};
use super::super::turns;
use super::leg::{Direction, Given, Length, MOST_MINUTES, Pace, Stated};
use super::start::Start;
use super::{fixes, lines, variation};
use crate::contact::file::section::Section;
use crate::contact::{BearingKind, ReadBearing, Wrong};
use crate::geodesy::{Position, magnetic_variation};
use crate::units::{Angle, Bearing, Deviation, GyroError, Height, Speed, True, Variation};

/// A stated start this near to the end of the leg before is that end, and a line this near to it may be
/// of either leg: times are noted to the minute.
pub(super) const SAME_TIME_S: f64 = 30.0;

/// Where the reckoning has come to, by what is stated alone.
#[derive(Debug, Clone, Copy)]
pub(super) struct Here {
    pub time: Timestamp,
    pub position: Position,
}

/// What a leg or a line says of the instrument that its direction was read off.
#[derive(Debug, Clone, Copy)]
pub(super) struct Corrections {
    pub kind: BearingKind,
    pub variation: Option<Variation>,
    pub deviation: Option<Deviation>,
    pub gyro_error: Option<GyroError>,
}

impl Corrections {
    /// These, and those of another where these say nothing.
    pub fn or(self, other: &Self) -> Self {
        Self {
            kind: self.kind,
            variation: self.variation.or(other.variation),
            deviation: self.deviation.or(other.deviation),
            gyro_error: self.gyro_error.or(other.gyro_error),
        }
    }
}

/// Nearer to a pole than this latitude, 72 NM, no leg is reckoned: a heading held true goes round the pole
/// there, and the reckoner follows the narrowing of the parallels no farther than 88.85°.
const LAST_LATITUDE_DEG: f64 = 88.8;

pub(super) struct Settling<'s> {
    pub start: &'s Start,
    model: ErrorModel,
    pub here: Here,
    cautions: Vec<String>,
    /// The largest error of a variation by the model, where one was used.
    model_sigma: Angle,
}

/// A fault with a key of a leg.
pub(super) fn refuse(section: &Section<'_>, key: &str, why: String, mend: impl Into<String>) {
    section.fault(key, Wrong::Reading { who: section.who.clone(), why }, mend);
}

/// All of it, or `None` where a fault was noted.
pub(super) fn settle(
    start: &Start,
    given: &[Given<'_>],
    fixes: Vec<fixes::Given<'_>>,
    lines: Vec<lines::Given<'_>>,
) -> Option<Legs> {
    let craft = start.craft.unwrap_or_else(|| by_speed(given));
    let guessed = match start.craft {
        None => Some(by_its_speed(craft)),
        Some(Craft::Aircraft) if !start.craft_is_stated && by_speed(given) == Craft::Vessel => {
            Some(by_its_wind())
        }
        Some(_) => None,
    };
    let cautions = guessed.into_iter().collect();
    let (model, mut defaults) = start.model.over(craft);
    let here = Here { time: start.time, position: start.position };
    let mut settling = Settling { start, model, here, cautions, model_sigma: Angle::ZERO };
    let mut legs = Vec::new();
    for leg in given {
        let stated = leg.stated.as_ref()?;
        legs.push((stated.corrections, settling.leg(&leg.section, stated)?));
    }
    let lines = lines::settle(&mut settling, &legs, lines);
    let legs: Vec<Leg> = legs.into_iter().map(|(_, leg)| leg).collect();
    let Settling { here, mut cautions, model_sigma, .. } = settling;
    if legs.iter().all(|leg: &Leg| leg.flow_sigma.is_some()) {
        defaults.retain(|key| *key != "flow_sigma_kn");
    }
    cautions.extend(unstated(&legs));
    cautions.extend(turns::caution(&legs, craft));
    let fixes = in_order(fixes, start.time, here.time);
    let sigma = model.heading_sigma.degrees().hypot(model_sigma.degrees());
    Some(Legs {
        time: start.time,
        position: start.position,
        covariance: start.covariance,
        model: ErrorModel { heading_sigma: Angle::from_degrees(sigma), ..model },
        defaults,
        legs,
        fixes,
        lines: lines?,
        cautions,
    })
}

fn by_speed(given: &[Given<'_>]) -> Craft {
    let fast = given.iter().filter_map(|leg| leg.stated.as_ref()).any(|stated| {
        let (Pace::Through(speed) | Pace::Good(speed)) = stated.pace;
        speed.knots() > Craft::FLIES_KN
    });
    if fast { Craft::Aircraft } else { Craft::Vessel }
}

/// Said where the craft is taken by its speed.
fn by_its_speed(craft: Craft) -> String {
    format!(
        "no wind or current is stated: the errors of {} {} are taken by its speed; craft under \
         [start] says otherwise",
        if craft == Craft::Aircraft { "an" } else { "a" },
        craft.as_str()
    )
}

/// Said where a wind alone makes an aircraft of something as slow as a vessel.
fn by_its_wind() -> String {
    format!(
        "a wind is stated, and nothing over {:.0} kn: an aircraft is taken, carried at the whole speed of \
         the wind; a vessel is not, and states none",
        Craft::FLIES_KN
    )
}

/// The fixes in the order of time, those outside the legs noted.
fn in_order(mut fixes: Vec<fixes::Given<'_>>, from: Timestamp, to: Timestamp) -> Vec<StatedFix> {
    fixes.sort_by_key(|given| given.fix.time);
    for given in &fixes {
        within_the_legs(given, from, to);
    }
    fixes.into_iter().map(|given| given.fix).collect()
}

fn within_the_legs(given: &fixes::Given<'_>, from: Timestamp, to: Timestamp) {
    if given.fix.time <= from || given.fix.time > to {
        let why = format!(
            "its time {} is not within the legs, after {from} and no later than {to:.0}",
            given.fix.time
        );
        let mend =
            "a fix before the start is the start itself; one after the last leg wants a leg to it";
        refuse(&given.section, "time", why, mend);
    }
}

/// Legs through the air or water that state no flow.
fn unstated(legs: &[Leg]) -> Option<String> {
    let still: Vec<String> = legs
        .iter()
        .enumerate()
        .filter(|(_, leg)| leg.flow == Flow::Still && !leg.course.is_over_ground())
        .filter(|(_, leg)| leg.course.is_carried())
        .map(|(index, _)| (index + 1).to_string())
        .collect();
    let plural = if still.len() == 1 { "leg" } else { "legs" };
    (!still.is_empty())
        .then(|| format!("{plural} {}: no wind or current stated, none is taken", still.join(", ")))
}

impl Settling<'_> {
    fn leg(&mut self, section: &Section<'_>, stated: &Stated) -> Option<Leg> {
        self.follows(section, stated.time)?;
        let (flow, flow_sigma) = stated.flow.or(self.start.flow).unwrap_or((Flow::Still, None));
        let mut conversion = Vec::new();
        let here = self.here;
        let compasses =
            self.compasses(&stated.corrections, &here, "where it starts", &mut conversion);
        let heading = match stated.direction {
            Direction::Heading(degrees) => {
                let read = ReadBearing { kind: stated.corrections.kind, degrees };
                let (truly, chain) = compasses.to_true(read).ok()?;
                if !chain.is_empty() {
                    conversion.push(format!("heading: {chain}"));
                }
                Some(truly)
            }
            _ => None,
        };
        let made = triangle(section, stated, heading, flow)?;
        let steer = Self::steer(stated, &compasses, made.heading, &mut conversion);
        let course = self.course(stated, &made, flow, flow_sigma);
        let seconds = seconds(section, stated.length, &made)?;
        let steered = made.heading.filter(|_| is_steered(stated));
        let leg = Leg {
            start: here.time,
            from: here.position,
            seconds,
            course,
            made,
            steered,
            flow,
            flow_sigma,
            steer,
            conversion,
        };
        self.carry(section, &leg)?;
        self.keeps_its_variation(section, stated, &leg)?;
        Some(leg)
    }

    /// One heading by compass is another true one where the variation is another: the model, asked where
    /// the leg starts, is asked again on the way.
    fn keeps_its_variation(
        &mut self,
        section: &Section<'_>,
        stated: &Stated,
        leg: &Leg,
    ) -> Option<()> {
        if leg.made.heading.is_none() || !self.is_by_model(&stated.corrections) {
            return Some(());
        }
        let Some(change) = variation::change_on(leg) else { return Some(()) };
        let (who, goes) = (&section.who, change.words());
        if leg.steered.is_none() {
            self.caution(Some(format!("{who}: {goes}: what to steer is told for where it starts")));
            return Some(());
        }
        if change.degrees() > variation::MOST_CHANGE_DEG {
            let why = format!("{goes}: one heading by compass is not one true heading so far");
            let mend = format!(
                "split the leg: the variation is to change by no more than {:.0}° on each",
                variation::MOST_CHANGE_DEG
            );
            refuse(section, "heading_kind", why, mend);
            return None;
        }
        self.caution(Some(format!(
            "{who}: {goes}, and is taken as it starts: the change is counted as an error of the heading"
        )));
        if change.sigma > self.model_sigma {
            self.model_sigma = change.sigma;
        }
        Some(())
    }

    /// Whether directions of a kind are turned by the magnetic model, no variation being stated.
    fn is_by_model(&self, stated: &Corrections) -> bool {
        let magnetic = matches!(stated.kind, BearingKind::Magnetic | BearingKind::Compass);
        magnetic && stated.variation.or(self.start.compasses.variation).is_none()
    }

    /// Goes on to where a leg ends.
    fn carry(&mut self, section: &Section<'_>, leg: &Leg) -> Option<()> {
        self.here.position = leg.place_after(leg.seconds);
        clear_of_the_poles(section, leg, self.here.position)?;
        let lasts = SignedDuration::try_from_secs_f64(leg.seconds).unwrap_or_default();
        let Ok(end) = self.here.time.checked_add(lasts) else {
            refuse(section, "minutes", "ends after the last time there is".into(), "mend the time");
            return None;
        };
        self.here.time = end;
        Some(())
    }

    /// A leg starts where the one before ends.
    fn follows(&self, section: &Section<'_>, time: Option<Timestamp>) -> Option<()> {
        let Some(time) = time else { return Some(()) };
        let ends = self.here.time;
        let late = time.duration_since(ends).as_secs_f64();
        if late < -SAME_TIME_S {
            let why = format!("starts at {time}, before the one before it ends at {ends:.0}");
            let mend = format!("legs do not overlap: start it at {ends:.0}, or shorten the other");
            refuse(section, "time", why, mend);
            return None;
        }
        if late > SAME_TIME_S {
            let why = format!("starts at {time}, and nothing is said of the time from {ends:.0}");
            let mend = "put a leg between: one that is stopped has tas_kn = 0 and minutes";
            refuse(section, "time", why, mend);
            return None;
        }
        Some(())
    }

    /// The compasses on a leg or for a line: its own corrections before those of the start, those before the
    /// magnetic model.
    ///
    /// - `at`: how the place that the model is asked for is told.
    pub fn compasses(
        &mut self,
        stated: &Corrections,
        here: &Here,
        at: &str,
        conversion: &mut Vec<String>,
    ) -> Compasses {
        let common = &self.start.compasses;
        let mut compasses = Compasses {
            variation: stated.variation.or(common.variation),
            deviation: stated.deviation.or(common.deviation),
            table: common.table.clone(),
            gyro_error: stated.gyro_error.or(common.gyro_error),
        };
        if self.is_by_model(stated) {
            let field = magnetic_variation(here.position, Height::SEA_LEVEL, here.time);
            conversion.push(format!(
                "variation {} by the World Magnetic Model {at}, sigma {:.1}°",
                field.variation,
                field.sigma.degrees()
            ));
            compasses.variation = Some(field.variation);
            if field.sigma > self.model_sigma {
                self.model_sigma = field.sigma;
            }
            self.caution(field.caution);
        }
        let no_deviation = compasses.deviation.is_none() && compasses.table.is_none();
        if stated.kind == BearingKind::Compass && no_deviation {
            self.caution(Some("no deviation stated: the compass is taken to have none".to_owned()));
        }
        if stated.kind == BearingKind::Gyro && compasses.gyro_error.is_none() {
            self.caution(Some("no gyro error stated: the gyro is taken to have none".to_owned()));
        }
        compasses
    }

    fn caution(&mut self, caution: Option<String>) {
        self.cautions.extend(caution.filter(|caution| !self.cautions.contains(caution)));
    }

    /// What to steer, where the leg names an instrument and its heading was worked out.
    fn steer(
        stated: &Stated,
        compasses: &Compasses,
        heading: Option<Bearing<True>>,
        conversion: &mut Vec<String>,
    ) -> Option<Steering> {
        if stated.corrections.kind == BearingKind::True {
            return None;
        }
        if let Direction::Heading(degrees) = stated.direction {
            return Some(Steering { kind: stated.corrections.kind, degrees, chain: String::new() });
        }
        let steering = compasses.to_steer(heading?, stated.corrections.kind).ok()?;
        conversion.push(format!("to steer: {}", steering.chain));
        Some(steering)
    }

    fn course(&self, stated: &Stated, made: &MadeGood, flow: Flow, sigma: Option<Speed>) -> Course {
        match (stated.pace, made.through, made.track) {
            (Pace::Good(_), _, None) => Course::made_fast(&self.model),
            (Pace::Good(speed), _, Some(track)) => {
                Course::over_ground(track, speed, sigma, &self.model)
            }
            (Pace::Through(speed), _, _) => {
                let heading = made.heading.unwrap_or(Bearing::ZERO);
                Course::through(heading, speed, flow, sigma, &self.model)
            }
        }
    }
}

/// A fault where a leg starts or ends too near to a pole. One that runs over a pole ends on it: a rhumb line
/// goes no farther.
fn clear_of_the_poles(section: &Section<'_>, leg: &Leg, end: Position) -> Option<()> {
    let mut ends = [("starts at", leg.from), ("runs to", end)].into_iter();
    let Some((what, place)) = ends.find(|(_, place)| place.latitude().abs() > LAST_LATITUDE_DEG)
    else {
        return Some(());
    };
    let why = format!(
        "it {what} {place}: nearer than {:.0} NM to the pole a held true heading is not reckoned",
        60.0 * (90.0 - LAST_LATITUDE_DEG)
    );
    let key = if section.has("track_deg") { "track_deg" } else { "heading_deg" };
    refuse(
        section,
        key,
        why,
        format!("keep the legs to latitudes of {LAST_LATITUDE_DEG}° and less"),
    );
    None
}

/// Whether somebody steers the heading of a leg: one behind a track and speed made good is only worked
/// back, as far wrong as the wind or current that it is worked from; one that is stopped steers none.
fn is_steered(stated: &Stated) -> bool {
    match (stated.direction, stated.pace) {
        (Direction::Heading(_), _) => true,
        (Direction::Track(_), Pace::Through(speed)) => speed != Speed::ZERO,
        (Direction::Track(_), Pace::Good(_)) | (Direction::Stopped, _) => false,
    }
}

/// The triangle of a leg, or a fault noted.
fn triangle(
    section: &Section<'_>,
    stated: &Stated,
    heading: Option<Bearing<True>>,
    flow: Flow,
) -> Option<MadeGood> {
    let still = |speed| MadeGood { heading: None, through: None, track: None, speed };
    let closed = match (stated.direction, stated.pace) {
        (Direction::Track(_) | Direction::Stopped, Pace::Good(speed)) if speed == Speed::ZERO => {
            return Some(still(speed));
        }
        (Direction::Stopped, Pace::Through(speed) | Pace::Good(speed)) => {
            return Some(MadeGood { heading: None, ..made_good(Bearing::ZERO, speed, flow) });
        }
        (Direction::Track(track), Pace::Through(speed)) => to_make_good(track, speed, flow),
        (Direction::Track(track), Pace::Good(speed)) => Ok(if flow == Flow::Still {
            MadeGood { track: Some(track), ..still(speed) }
        } else {
            behind(track, speed, flow)
        }),
        (Direction::Heading(_), Pace::Through(speed)) => Ok(made_good(heading?, speed, flow)),
        (Direction::Heading(_), Pace::Good(speed)) if speed == Speed::ZERO => {
            return Some(MadeGood { heading, ..still(speed) });
        }
        (Direction::Heading(_), Pace::Good(speed)) => along_heading(heading?, speed, flow),
    };
    match closed {
        Ok(made) => Some(made),
        Err(error) => {
            let key = if section.has("tas_kn") { "tas_kn" } else { "speed_kn" };
            let mend = "look at the wind or current and which way it goes; else more speed, or another \
                        direction";
            refuse(section, key, error.to_string(), mend);
            None
        }
    }
}

/// How long it lasts, or a fault where it never ends.
fn seconds(section: &Section<'_>, length: Length, made: &MadeGood) -> Option<f64> {
    let miles = match length {
        Length::Minutes(minutes) => return Some(60.0 * minutes),
        Length::Miles(miles) => miles,
    };
    let speed = made.speed;
    let astern = made.drift().is_some_and(|drift| drift.degrees().abs() >= 90.0);
    if astern {
        let why = format!(
            "on this heading it is carried astern, {:.1} kn over the ground: {miles} NM forward are \
             never made",
            speed.knots()
        );
        let mend = "look at the wind or current against it, or give minutes";
        refuse(section, "distance_nm", why, mend);
        return None;
    }
    let hours = miles / speed.knots();
    if hours.is_finite() && hours * 60.0 <= MOST_MINUTES {
        return Some(hours * 3600.0);
    }
    let why = format!(
        "{miles} NM at {:.1} kn over the ground come to no ETA within {:.0} h",
        speed.knots(),
        MOST_MINUTES / 60.0
    );
    let mend = "look at the wind or current against it, or give minutes";
    refuse(section, "distance_nm", why, mend);
    None
}
