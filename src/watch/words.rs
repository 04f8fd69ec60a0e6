//! What the watch says of a change, in plain words: the echo before it is entered, and the line
//! that acknowledges it.

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::along::{Due, Standing, ToLandfall};
use super::entry::spoken_bearing;
use super::log::{AcceptEntry, ContactEntry, DriftEntry};
use super::sitting::{Echo, LeftOut, Offer, Watch};
use crate::contact::{OwnError, Part, ReadingError, ReckoningError};
use crate::fix::{Motion, intercept};
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position};
use crate::reckon::{Craft, FlowFound};
use crate::units::{Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, True};

/// `there are A, B, C`, or `no contact is in yet`.
pub(super) fn labels(watch: &Watch) -> String {
    let labels: Vec<&str> = watch.contacts().iter().map(|h| h.contact.label.as_str()).collect();
    match labels.as_slice() {
        [] => "no contact is in yet".to_owned(),
        [only] => format!("there is only {only}"),
        many => {
            let shown = many.get(..many.len().min(12)).unwrap_or_default().join(", ");
            let more = if many.len() > 12 { " …" } else { "" };
            format!("there are {shown}{more}")
        }
    }
}

/// `A, B`, of so many that each is told by its label; `5 contacts` of more.
pub(super) fn named(labels: &[&str]) -> String {
    const MOST: usize = 4;
    match labels.len() {
        ..=MOST => labels.join(", "),
        many => format!("{many} contacts"),
    }
}

/// Why a contact is none, and what would be right, in the entry line's own words.
pub(super) fn refusal(error: &ReadingError) -> String {
    match error {
        ReadingError::Time(ReckoningError::NoTrack { .. }) => {
            "the reckoning stands at its own time: first \"trk 074 165\", track and speed"
                .to_owned()
        }
        other => format!("{other}: {}", mend(other)),
    }
}

fn mend(error: &ReadingError) -> String {
    match error {
        ReadingError::Bearing(OwnError::NoHeading) | ReadingError::DeflectionsWithoutHeading => {
            "first \"hdg 070\"".to_owned()
        }
        ReadingError::Bearing(OwnError::NoVariation(_)) => "give the true bearing".to_owned(),
        ReadingError::Time(ReckoningError::TooFar { .. }) => {
            "give its time, like @0341, or a new \"dr\"".to_owned()
        }
        ReadingError::UnderHeight { .. } => {
            "give the slant range as measured, or mend the height, like \"h 2000\"".to_owned()
        }
        ReadingError::DeflectionsOfScan(_) => "give the bearing as read".to_owned(),
        ReadingError::BearingAndDeflections => "leave the bearing out".to_owned(),
        ReadingError::EdgeWithoutBearing(_) => "give the edge's bearing".to_owned(),
        ReadingError::ShoreWithMark => {
            "leave the name out, or write \"near\" where the range is that of the mark itself"
                .to_owned()
        }
        other => other.mend().to_owned(),
    }
}

/// `bank 10° right wing down`, `wings level`.
pub fn bank_words(bank_deg: f64) -> String {
    let wing = if bank_deg > 0.0 { "right" } else { "left" };
    if bank_deg == 0.0 {
        "wings level".to_owned()
    } else {
        format!("bank {bank_deg:.0}° {wing} wing down", bank_deg = bank_deg.abs())
    }
}

/// A time of day in UTC: `03:41:10`.
pub fn clock(time: Timestamp) -> String {
    TimeZone::UTC.to_datetime(time).strftime("%H:%M:%S").to_string()
}

/// The same without its seconds: `03:41`.
pub fn clock_minutes(time: Timestamp) -> String {
    TimeZone::UTC.to_datetime(time).strftime("%H:%M").to_string()
}

/// `at 03:42, with the fix accepted; nothing is measured since`: of what was said of a landfall.
pub fn with_the_fix(time: Timestamp) -> String {
    format!("at {}, with the fix accepted; nothing is measured since", clock_minutes(time))
}

/// `17.3 NM, 042° true, left edge, Gannet Head`.
pub fn contact(entry: &ContactEntry) -> String {
    let mut said = Vec::new();
    said.extend(entry.range_nm.map(|range| format!("{range} NM")));
    if let Some(degrees) = entry.bearing_deg {
        let kind = entry.bearing_kind.as_deref().unwrap_or("true");
        said.push(format!("{} {kind}", spoken_bearing(degrees)));
    }
    said.extend(
        entry.deflection.map(|read| format!("deflections {}/{}", read.port, read.starboard)),
    );
    said.extend(entry.part.as_deref().and_then(Part::parse).map(|p| part(p).to_owned()));
    if let Some(mark) = &entry.mark {
        let doubtful = entry.mark_confidence.is_some_and(|c| c < 0.9);
        said.push(if doubtful { format!("perhaps {mark}") } else { mark.clone() });
    }
    said.join(", ")
}

/// The part of an echo in an operator's words.
pub fn part(part: Part) -> &'static str {
    match part {
        Part::Near => "near edge",
        Part::Centre => "centre",
        Part::Left => "left edge",
        Part::Right => "right edge",
        Part::Shore => "nearest shore",
    }
}

/// The error of a place as if it were the same on all sides, in nautical miles. A log may hold a
/// covariance that is none; such an entry is told before it is left out.
fn round_sigma_nm(covariance_nm2: &[[f64; 2]; 2]) -> f64 {
    let [[ee, _], [_, nn]] = *covariance_nm2;
    f64::midpoint(ee, nn).max(0.0).sqrt()
}

/// `reckoning 38°12.90'S 021°30.50'W at 03:40:00Z, sigma 4.0 NM`.
pub(super) fn reckoning(time: Timestamp, at: Position, covariance_nm2: &[[f64; 2]; 2]) -> String {
    let sigma = round_sigma_nm(covariance_nm2);
    format!("reckoning {at} at {}Z, sigma {sigma:.1} NM", clock(time))
}

/// `fix accepted: 38°14.86'S 021°24.52'W at 03:42:30Z, sigma 0.2 NM; the reckoning starts from it`.
pub(super) fn accepted(entry: &AcceptEntry) -> String {
    let sigma = round_sigma_nm(&entry.place.covariance_nm2);
    let position = Position::wrapped(entry.place.lat_deg, entry.place.lon_deg);
    let what = if entry.verdict == "fixed" { "fix" } else { "most probable position" };
    format!(
        "{what} accepted: {position} at {}Z, sigma {sigma:.1} NM; the reckoning starts from it",
        clock(entry.time)
    )
}

/// What a fix found beside the motion reckoned with, and what it makes of track and speed:
/// `beside the reckoning 12 kn toward 143° (sigma 3 kn), over 14 min; made good 081°, 171 kn`.
pub fn offer(offer: &Offer) -> String {
    let (toward, speed) = offer.toward();
    let (track, made) = offer.made_good();
    let chance = if offer.is_chance() { ": no more than its error" } else { "" };
    format!(
        "beside the reckoning {:.0} kn toward {} (sigma {:.0} kn){chance}, over {:.0} min; made \
         good {}, {:.0} kn",
        speed.knots(),
        spoken_bearing(toward.degrees().round() % 360.0),
        offer.sigma_kn(),
        offer.seconds / 60.0,
        spoken_bearing(track.degrees().round() % 360.0),
        made.knots()
    )
}

/// `drift found, 12 kn toward 143° (sigma 3 kn), used from 03:42:30Z on: track 081° true, 171 kn made good`.
pub(super) fn drift(entry: &DriftEntry) -> String {
    let [[ee, _], [_, nn]] = entry.covariance_kn2;
    let toward = Bearing::<True>::wrapped(entry.east_kn.atan2(entry.north_kn));
    format!(
        "drift found, {:.0} kn toward {} (sigma {:.0} kn), used from {}Z on: track {} true, {:.0} kn made \
         good",
        entry.east_kn.hypot(entry.north_kn),
        spoken_bearing(toward.degrees().round() % 360.0),
        f64::midpoint(ee, nn).max(0.0).sqrt(),
        clock(entry.time),
        spoken_bearing(entry.track_deg.round() % 360.0),
        entry.speed_kn
    )
}

/// An echo that no chart explains, in one line: `D (white ship): 38°10.1'S 021°05.2'W at 03:44:10Z,
/// 95 % within 0.6 by 0.4 NM, 3 sights; moves, and feeds no fix: course 143° (sigma 12°), 11 kn (sigma 3)`.
pub fn echo(echo: &Echo) -> String {
    let name = echo.name.as_ref().map_or_else(String::new, |name| format!(" ({name})"));
    let ellipse = echo.place.ellipse();
    let sights = if echo.sights == 1 { "one sight" } else { "sights" };
    let count = if echo.sights == 1 { String::new() } else { format!("{} ", echo.sights) };
    let moves = match &echo.motion {
        Some(motion) if motion.moves && echo.mark.is_some() => format!(
            "; was taken for {}, and land does not move: a wrong label, time or reading?",
            echo.mark.as_deref().unwrap_or_default()
        ),
        None => String::new(),
        Some(motion) => {
            let (course_sigma, speed_sigma) = motion.sigmas();
            let course = spoken_bearing(motion.course.degrees().round() % 360.0);
            match course_sigma {
                Some(sigma) if motion.moves => format!(
                    "; moves, and feeds no fix: course {course} (sigma {:.0}°), {:.0} kn (sigma {:.0})",
                    sigma.degrees(),
                    motion.speed.knots(),
                    speed_sigma.knots()
                ),
                _ => format!("; not known to move: under {:.0} kn", slowest(motion)),
            }
        }
    };
    format!(
        "{}{name}: {} at {}Z, 95 % within {:.1} by {:.1} NM, {count}{sights}{moves}",
        echo.label,
        echo.place.position,
        clock(echo.time),
        ellipse.semi_major.nautical_miles(),
        ellipse.semi_minor.nautical_miles()
    )
}

/// Why a contact feeds no fix: `moves: feeds no fix`.
pub fn left_out(why: &LeftOut) -> String {
    match why {
        LeftOut::LaterSight(root) => format!("{root} again: feeds no fix"),
        LeftOut::Moves => "moves: feeds no fix".to_owned(),
    }
}

/// How long ago own place was last known, by a reckoning or a fix accepted: `14 min since the fix accepted of 03:42:30Z`.
pub fn since(watch: &Watch, now: Timestamp) -> String {
    let Some(known) = watch.last_known(now) else { return String::new() };
    let (ago, by) = (minutes(known.time, now), known.by.as_str());
    format!("{ago} since the {by} of {}Z", clock(known.time))
}

/// How far off we may be: `now 95 % within 1.2 by 0.8 NM on 144°`.
pub fn spread(covariance: Covariance) -> String {
    let ellipse = covariance.ellipse(0.95);
    let [long, short] = [ellipse.semi_major, ellipse.semi_minor].map(GroundRange::nautical_miles);
    if long - short < 0.02 * long {
        return format!("now 95 % within {long:.1} NM");
    }
    let axis = spoken_bearing(ellipse.major_axis.degrees().round() % 180.0);
    format!("now 95 % within {long:.1} by {short:.1} NM on {axis}")
}

/// The planned landfall as it lies: where, when, and how far off the line planned.
pub fn to_landfall(to: &ToLandfall) -> Vec<String> {
    let eta = to.eta.map_or_else(
        || "no ETA: no speed".to_owned(),
        |eta| format!("ETA {}Z (sigma {})", clock(eta), seconds(to.eta_sigma_s)),
    );
    let first = format!(
        "landfall {:.1} NM on {} true; {eta}",
        to.distance.nautical_miles(),
        spoken_bearing(to.course.degrees().round() % 360.0)
    );
    let off = to.cross_track_m.map(|metres| metres / METRES_PER_NAUTICAL_MILE);
    let off = off.filter(|miles| miles.abs() >= 0.05).map(|miles| {
        let side = if miles > 0.0 { "right" } else { "left" };
        format!("{:.1} NM {side} of the line from the first reckoning", miles.abs())
    });
    let steer = to.steer.map(|steer| match steer {
        Ok(made) => {
            let heading = made.heading.map_or(0.0, |h| h.degrees().round() % 360.0);
            format!(
                "steer {} true, {:.0} kn over the ground",
                spoken_bearing(heading),
                made.speed.knots()
            )
        }
        Err(never) => never.to_string(),
    });
    std::iter::once(first).chain(steer).chain(off).collect()
}

/// A wind by where it blows from, a stream by where it sets to, with one standard deviation of each:
/// `wind from 258° (sigma 8°), 38 kn (sigma 5 kn)`. One weaker than its error has no direction to speak of.
pub fn flow(craft: Craft, found: &FlowFound) -> String {
    let spoken = |bearing: Bearing<True>| spoken_bearing(bearing.degrees().round() % 360.0);
    let sigma = found.direction_sigma();
    let sigma = sigma.map_or("sigma any".to_owned(), |s| format!("sigma {:.0}°", s.degrees()));
    let by = found.speed_sigma().knots();
    match craft {
        Craft::Aircraft => {
            let wind = found.wind();
            let (from, knots) = (spoken(wind.from), wind.speed.knots());
            format!("wind from {from} ({sigma}), {knots:.0} kn (sigma {by:.0} kn)")
        }
        Craft::Vessel => {
            let current = found.current();
            let (set, knots) = (spoken(current.set), current.drift.knots());
            format!("stream sets {set} ({sigma}), {knots:.1} kn (sigma {by:.1} kn)")
        }
    }
}

/// The drift on offer, for a line that is always in sight: `drift found: 12 kn toward 143° (sigma 3 kn);
/// type drift to use it`.
pub fn offer_hint(offer: &Offer) -> String {
    let (toward, speed) = offer.toward();
    let chance = if offer.is_chance() { ", no more than its error" } else { "" };
    format!(
        "drift found: {:.0} kn toward {} (sigma {:.0} kn){chance}; type drift to use it",
        speed.knots(),
        spoken_bearing(toward.degrees().round() % 360.0),
        offer.sigma_kn()
    )
}

/// A mark that should come to paint: `DUE from 03:41:00 to 03:46:00: Gannet Head, 23.1 NM 041°`.
pub fn due(due: &Due, standing: Standing) -> String {
    let place = format!(
        "{}, {:.1} NM {}",
        due.mark,
        due.range.nautical_miles(),
        spoken_bearing(due.bearing.degrees().round() % 360.0)
    );
    let until = due
        .latest
        .map_or_else(|| "on, may never show".to_owned(), |latest| format!("to {}", clock(latest)));
    match standing {
        Standing::Overdue => format!("OVERDUE, not reported: {place}, due {until}Z"),
        Standing::Due => format!("DUE from {} {until}: {place}", clock(due.earliest)),
        Standing::Later => format!("from {} {until}: {place}", clock(due.earliest)),
        Standing::Reported => format!("reported: {place}"),
    }
}

/// The course over the ground and the time to reach an echo, at the speed made good: `reached on 068°
/// in 6 min if it lies still; land and height not looked at`.
pub fn steer(watch: &Watch, echo: &Echo, from: Position, now: Timestamp) -> Option<String> {
    let (_, speed) = watch.over(now)?;
    if echo.mark.is_some() {
        return None;
    }
    let velocity = echo.motion.filter(|m| m.moves).map_or([0.0, 0.0], |motion| {
        let (sin, cos) = motion.course.sin_cos();
        let speed = motion.speed.metres_per_second();
        [speed * sin, speed * cos]
    });
    // Where it is by now.
    let run = now.duration_since(echo.time).as_secs_f64();
    let on = PlanePoint { east: velocity[0] * run, north: velocity[1] * run };
    let there = LocalPlane::new(echo.place.position).to_position(on);
    match intercept(from, there, velocity, speed) {
        Some((course, wait, _)) => Some(format!(
            "reached on {} in {} {}; land and height not looked at",
            spoken_bearing(course.degrees().round() % 360.0),
            seconds(wait),
            if velocity == [0.0, 0.0] { "if it lies still" } else { "if it holds on" }
        )),
        None => Some("not to be met at the speed made good".to_owned()),
    }
}

/// From one time to another: `14 min`.
pub fn minutes(from: Timestamp, to: Timestamp) -> String {
    seconds(to.duration_since(from).as_secs_f64())
}

/// `45 s`, `14 min`, `2 h 05 min`.
fn seconds(seconds: f64) -> String {
    let whole = seconds.abs().round() as i64;
    match whole {
        0..100 => format!("{whole} s"),
        100..6_000 => format!("{} min", (whole + 30) / 60),
        _ => format!("{} h {:02} min", whole / 3600, whole % 3600 / 60),
    }
}

/// The speed that an echo not known to move does not exceed in 95 cases of 100, knots, roughly.
fn slowest(motion: &Motion) -> f64 {
    let (_, sigma) = motion.sigmas();
    motion.speed.knots() + 1.645 * sigma.knots()
}
