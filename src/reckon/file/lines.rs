//! `[[line]]`: ranges and bearings of marks on the way.

use jiff::Timestamp;

use super::super::directions::Compasses;
use super::super::legs::{Leg, StatedLine};
use super::super::running_fix::{Charted, MOST_LINES, Seen};
use super::super::turns::LEAST_TURN_DEG;
use super::list;
use super::settle::{Corrections, Here, SAME_TIME_S, Settling, refuse};
use crate::chart::{Accuracy, Chart};
use crate::contact::MOST_BEARING_SIGMA_DEG;
use crate::contact::file::fault::{did_you_mean_mark, shown};
use crate::contact::file::section::Section;
use crate::contact::file::{MOST_RANGE_NM, MOST_RANGE_SIGMA_NM};
use crate::contact::{Among, BearingKind, OwnError, ReadBearing};
use crate::units::{Angle, Bearing, Deviation, GroundRange, GyroError, True, Variation};

/// Every key of it.
const KEYS: &[&str] = &[
    "time",
    "mark",
    "position",
    "mark_sigma_nm",
    "range_nm",
    "range_sigma_nm",
    "bearing_deg",
    "bearing_kind",
    "bearing_sigma_deg",
    "variation",
    "deviation",
    "gyro_error",
    "go_on",
];

/// The most characters of a mark's name.
const NAME_MOST: usize = 60;

/// A line as the file gives it, with its section to point into; a bearing is not yet true.
pub(super) struct Given<'t> {
    section: Section<'t>,
    line: StatedLine,
    bearing: Option<(ReadBearing, Angle)>,
    corrections: Corrections,
}

/// Every line that reads well, in the order of the file; faults are noted.
pub(super) fn read<'t>(root: &Section<'t>, chart: Option<&Chart>) -> Vec<Given<'t>> {
    let sections = list(root, "line", "line").unwrap_or_default();
    sections.into_iter().filter_map(|section| one(section, chart)).collect()
}

fn one<'t>(section: Section<'t>, chart: Option<&Chart>) -> Option<Given<'t>> {
    section.only(KEYS);
    let time = section.needed_time("2031-03-09T03:40:00Z");
    let marked = marked(&section, chart);
    let range = range(&section);
    let kind = section.word("bearing_kind", BearingKind::WORDS, BearingKind::parse);
    let bearing = bearing(&section);
    let corrections = Corrections {
        kind: kind.unwrap_or(BearingKind::True),
        variation: section.correction("variation", Variation::parse),
        deviation: section.correction("deviation", Deviation::parse),
        gyro_error: section.correction("gyro_error", GyroError::parse),
    };
    let go_on = section.truth("go_on");
    measured(&section);
    let read_well = |key: &str, read: bool| !section.has(key) || read;
    let sound = read_well("range_nm", range.is_some())
        && read_well("bearing_deg", bearing.is_some())
        && read_well("bearing_kind", kind.is_some())
        && read_well("variation", corrections.variation.is_some())
        && read_well("deviation", corrections.deviation.is_some())
        && read_well("gyro_error", corrections.gyro_error.is_some())
        && read_well("go_on", go_on.is_some());
    let (mark, charted) = marked?;
    let line = StatedLine {
        time: time?,
        mark,
        charted,
        seen: range.into_iter().collect(),
        conversion: None,
        go_on: go_on.unwrap_or(false),
    };
    let kind = corrections.kind;
    let bearing = bearing.map(|(degrees, sigma)| (ReadBearing { kind, degrees }, sigma));
    (sound && (bearing.is_some() || !line.seen.is_empty())).then_some(Given {
        section,
        line,
        bearing,
        corrections,
    })
}

/// A line is a range or a bearing, and says what it was counted from only where it is one.
fn measured(section: &Section<'_>) {
    if !section.has("range_nm") && !section.has("bearing_deg") {
        let mend =
            "range_nm = 17.3 with range_sigma_nm; or bearing_deg = 60.0 with bearing_sigma_deg";
        refuse(section, "range_nm", "neither range_nm nor bearing_deg is given".to_owned(), mend);
    }
    for (key, of) in [
        ("range_sigma_nm", "range_nm"),
        ("bearing_sigma_deg", "bearing_deg"),
        ("bearing_kind", "bearing_deg"),
    ] {
        if section.has(key) && !section.has(of) {
            refuse(
                section,
                key,
                format!("{key} is given, and no {of}"),
                "leave it out, or give both",
            );
        }
    }
}

fn range(section: &Section<'_>) -> Option<Seen> {
    let bounds = "along the surface, in nautical miles, never negative";
    let miles = section.within("range_nm", 0.0, MOST_RANGE_NM, bounds);
    let sigma = section.sigma("range_sigma_nm", MOST_RANGE_SIGMA_NM);
    if section.has("range_nm") {
        section.needed("range_sigma_nm", sigma, "one standard deviation: range_sigma_nm = 0.2");
    }
    let range = GroundRange::from_nautical_miles(miles?).ok()?;
    Some(Seen::Range { range, sigma: GroundRange::from_nautical_miles(sigma?).ok()? })
}

fn bearing(section: &Section<'_>) -> Option<(f64, Angle)> {
    let degrees = section.within("bearing_deg", 0.0, 360.0, "from 0 to 360, clockwise");
    let sigma = section.sigma("bearing_sigma_deg", MOST_BEARING_SIGMA_DEG);
    if section.has("bearing_deg") {
        section.needed(
            "bearing_sigma_deg",
            sigma,
            "one standard deviation: bearing_sigma_deg = 1.0",
        );
    }
    Some((degrees?, Angle::from_degrees(sigma?)))
}

/// What the mark is called, where it is, and how well that is known.
fn marked(section: &Section<'_>, chart: Option<&Chart>) -> Option<(String, Charted)> {
    let name = section.text("mark", "Gannet Head").map(|name| shown(name, NAME_MOST));
    let stated = section.sigma("mark_sigma_nm", MOST_RANGE_SIGMA_NM);
    let position = match (section.has("position"), &name) {
        (true, _) => section.position("position"),
        (false, Some(name)) => look_up(section, name, chart),
        (false, None) => {
            if !section.has("mark") {
                let why = "neither mark nor position says what was measured".to_owned();
                let mend =
                    "mark = \"Gannet Head\" with --chart; or position = \"38 01.0 S, 21 11.4 W\"";
                refuse(section, "mark", why, mend);
            }
            None
        }
    };
    if section.has("mark_sigma_nm") && stated.is_none() {
        return None;
    }
    let accuracy = chart.map_or_else(Accuracy::default, Chart::accuracy);
    let stated = stated.and_then(|miles| GroundRange::from_nautical_miles(miles).ok());
    let (point_sigma, shift_sigma) =
        stated.map_or((accuracy.point_sigma, accuracy.shift_sigma), |s| (s, GroundRange::ZERO));
    let charted = Charted { position: position?, point_sigma, shift_sigma };
    Some((name.unwrap_or_default(), charted))
}

fn look_up(
    section: &Section<'_>,
    name: &str,
    chart: Option<&Chart>,
) -> Option<crate::geodesy::Position> {
    let Some(chart) = chart else {
        let why = format!("no chart is given to look up \"{name}\" on");
        refuse(section, "mark", why, "give --chart DIR, or the mark's position beside its name");
        return None;
    };
    let marks = chart.marks();
    let found = marks.find(name).and_then(|id| marks.get(id));
    if found.is_none() {
        let mend = did_you_mean_mark(&marks.near_names(name), "or give its position");
        let among = Among::of(chart).words();
        refuse(section, "mark", format!("no mark named \"{name}\" {among}"), mend);
    }
    found.map(|mark| mark.position)
}

/// The lines in the order of their times, each bearing turned to true on the leg that it was taken on.
pub(super) fn settle(
    settling: &mut Settling<'_>,
    legs: &[(Corrections, Leg)],
    given: Vec<Given<'_>>,
) -> Option<Vec<StatedLine>> {
    let mut given = given;
    given.sort_by_key(|given| given.line.time);
    let mut lines = Vec::new();
    let mut crossed = 0;
    let mut sound = true;
    for line in given {
        crossed += line.line.seen.len() + usize::from(line.bearing.is_some());
        if crossed > MOST_LINES {
            let why =
                format!("the lines up to this one are {crossed}: at most {MOST_LINES} are crossed");
            let mend = "keep the last and best; or write go_on = true under an earlier one";
            refuse(&line.section, "time", why, mend);
            return None;
        }
        if line.line.go_on {
            crossed = 0;
        }
        match turned(settling, legs, line) {
            Some(line) => lines.push(line),
            None => sound = false,
        }
    }
    sound.then_some(lines)
}

fn turned(
    settling: &mut Settling<'_>,
    legs: &[(Corrections, Leg)],
    given: Given<'_>,
) -> Option<StatedLine> {
    let Given { section, mut line, bearing, corrections } = given;
    let (from, to) = (settling.start.time, settling.here.time);
    if line.time < from || line.time > to {
        let why = format!("its time {} is not within the legs, from {from} to {to:.0}", line.time);
        refuse(&section, "time", why, "a line wants a leg that it is taken on");
        return None;
    }
    let Some((read, sigma)) = bearing else { return Some(line) };
    let index = legs.iter().rposition(|(_, leg)| leg.start <= line.time)?;
    let (of_leg, leg) = legs.get(index)?;
    let mut chain = Vec::new();
    let own = corrections;
    let corrections = own.or(of_leg);
    // The variation may change by more along a leg than a bearing is wrong by.
    let gone = line.time.duration_since(leg.start).as_secs_f64();
    let here = Here { time: line.time, position: leg.place_after(gone) };
    let at = format!("where it was taken, {}", here.position);
    let compasses = settling.compasses(&corrections, &here, &at, &mut chain);
    if let Some(why) = turning(legs, line.time, &compasses, &own) {
        let mend =
            "give bearing_kind = \"true\", or a time clear of the turn by half a minute and more";
        refuse(&section, "bearing_kind", why, mend);
        return None;
    }
    match compasses.bearing_to_true(read, leg.steered) {
        Ok((bearing, words)) => {
            chain.extend((!words.is_empty()).then(|| format!("bearing: {words}")));
            line.seen.push(seen(bearing, sigma));
            line.conversion = (!chain.is_empty()).then(|| chain.join("; "));
            Some(line)
        }
        Err(error) => {
            let needs = match (&error, read.kind) {
                (OwnError::NoHeading, BearingKind::Compass) => {
                    "a compass bearing by a table of deviation needs own heading".to_owned()
                }
                _ => error.to_string(),
            };
            let number = index + 1;
            let why = match leg.made.heading {
                Some(_) => format!(
                    "{needs}, and that of leg {number} is only worked back from its {}",
                    leg.flow.word()
                ),
                None => format!("{needs}, and leg {number} has none"),
            };
            let mend = "give the leg heading_deg, or turn the bearing to true yourself";
            refuse(&section, "bearing_kind", why, mend);
            None
        }
    }
}

/// What a bearing goes by that turns within half a minute of its time, in words: a time noted to the
/// minute does not tell on which of the two legs it was taken.
fn turning(
    legs: &[(Corrections, Leg)],
    time: Timestamp,
    compasses: &Compasses,
    own: &Corrections,
) -> Option<String> {
    let near = |next: &Leg| next.start.duration_since(time).as_secs_f64().abs() <= SAME_TIME_S;
    let mut pairs = legs.iter().zip(legs.iter().skip(1)).filter(|(_, (_, next))| near(next));
    let by_heading = compasses.need_heading(own.kind);
    let by_deviation = own.kind == BearingKind::Compass && own.deviation.is_none();
    pairs.find_map(|((of_one, one), (of_next, next))| {
        let heading = by_heading.then(|| heading_turns(one, next)).flatten();
        heading.or_else(|| {
            let (from, to) = (of_one.deviation?, of_next.deviation?);
            let change = (to.east().degrees() - from.east().degrees()).abs();
            (by_deviation && change >= LEAST_TURN_DEG)
                .then(|| format!("the deviation goes from {from} to {to} at {:.0}", next.start))
        })
    })
}

/// How the heading that is steered turns from one leg to the next, in words; none where it holds, or
/// where neither steers any.
fn heading_turns(one: &Leg, next: &Leg) -> Option<String> {
    let at = next.start;
    match (one.steered, next.steered) {
        (Some(from), Some(to)) => (to.minus(from).degrees().abs() >= LEAST_TURN_DEG)
            .then(|| format!("the heading turns from {from} to {to} at {at:.0}")),
        (Some(_), None) => Some(format!("own heading is known only until {at:.0}")),
        (None, Some(_)) => Some(format!("own heading is known only from {at:.0} on")),
        (None, None) => None,
    }
}

/// Every bearing is counted from own heading in the end, and shares its bias.
fn seen(bearing: Bearing<True>, sigma: Angle) -> Seen {
    Seen::Bearing { bearing, sigma, by_heading: true }
}
