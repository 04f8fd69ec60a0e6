//! The account as GPX 1.1.

use std::fmt::Write;

use jiff::Timestamp;

use super::{Told, markup, words};
use crate::debrief::smooth::{Kind, TrackPoint};
use crate::geodesy::Position;
use crate::units::SlantRange;

/// The track as one `trk` for each kind, and a `wpt` for each fix, contact, echo and mark missed.
///
/// Elements stand in the order of the GPX 1.1 schema (topografix.com/GPX/1/1, from memory): metadata,
/// wpt, trk; in a point time, name, cmt, desc, type. GPX has no place for a covariance: the 95 %
/// ellipse is told in `desc`.
pub fn gpx(told: &Told<'_>) -> String {
    let debrief = told.debrief;
    let mut text = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <gpx version=\"1.1\" creator=\"foreland\" xmlns=\"http://www.topografix.com/GPX/1/1\">\n",
    );
    // Writing to a string cannot fail.
    let _ = writeln!(
        text,
        "  <metadata>\n    <name>Debrief of {}</name>\n    <desc>{}</desc>\n  </metadata>",
        markup(told.log),
        markup(told.caution)
    );
    for fix in &debrief.fixes {
        let name = format!("Fix {}", fix.time.strftime("%H:%MZ"));
        let about = format!("{}, 95 % within {} NM", fix.verdict, words::ellipse(&fix.place));
        waypoint(&mut text, fix.place.position, fix.time, [&name, &about, "fix"]);
    }
    for contact in &debrief.contacts {
        let Some(position) = contact.plotted else { continue };
        let mark = contact.taken_for.as_deref().unwrap_or("not named");
        let range = contact.range.map_or(0.0, SlantRange::nautical_miles);
        let bearing = contact.bearing.map_or_else(String::new, |bearing| bearing.to_string());
        let about = format!("{mark}; {range:.2} NM, {bearing}° true");
        let name = format!("Contact {}", contact.label);
        waypoint(&mut text, position, contact.time, [&name, &about, "contact"]);
    }
    for echo in &debrief.echoes {
        let called = echo.name.as_deref().unwrap_or("no chart explains it");
        let about = format!("{called}; 95 % within {} NM", words::ellipse(&echo.place));
        let name = format!("Echo {}", echo.label);
        waypoint(&mut text, echo.place.position, echo.time, [&name, &about, "echo"]);
    }
    for missed in debrief.missed() {
        let about =
            format!("should have painted, chance {}", words::chance(missed.paint_probability));
        waypoint(&mut text, missed.position, missed.first.time, [&missed.mark, &about, "missed"]);
    }
    for (kind, name) in
        [(Kind::Smoothed, "Smoothed, known afterwards"), (Kind::Reckoned, "Reckoned")]
    {
        track(&mut text, &debrief.track, kind, name);
    }
    text.push_str("</gpx>\n");
    text
}

/// One track: a segment for each unbroken run of its kind, joined to the place before it.
fn track(text: &mut String, points: &[TrackPoint], kind: Kind, name: &str) {
    if !points.iter().any(|point| point.kind == kind) {
        return;
    }
    let _ = write!(text, "  <trk>\n    <name>{name}</name>\n    <type>{}</type>\n", kind.as_str());
    let mut open = false;
    for (at, point) in points.iter().enumerate() {
        if point.kind != kind {
            if open {
                text.push_str("    </trkseg>\n");
            }
            open = false;
            continue;
        }
        if !open {
            text.push_str("    <trkseg>\n");
            if let Some(before) = at.checked_sub(1).and_then(|before| points.get(before)) {
                track_point(text, before);
            }
            open = true;
        }
        track_point(text, point);
    }
    if open {
        text.push_str("    </trkseg>\n");
    }
    text.push_str("  </trk>\n");
}

fn track_point(text: &mut String, point: &TrackPoint) {
    let place = place(point.place.position);
    let _ = writeln!(text, "      <trkpt {place}><time>{}</time></trkpt>", point.time);
}

fn waypoint(text: &mut String, at: Position, time: Timestamp, [name, about, kind]: [&str; 3]) {
    let _ = writeln!(
        text,
        "  <wpt {}>\n    <time>{time}</time>\n    <name>{}</name>\n    <desc>{}</desc>\n    \
         <type>{kind}</type>\n  </wpt>",
        place(at),
        markup(name),
        markup(about)
    );
}

/// The attributes of a place: longitude from -180 and below 180, as the schema has it.
fn place(position: Position) -> String {
    let lon = format!("{:.7}", position.longitude());
    let lon = if lon == "180.0000000" { "-180.0000000".to_owned() } else { lon };
    format!("lat=\"{:.7}\" lon=\"{lon}\"", position.latitude())
}
