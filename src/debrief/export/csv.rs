//! The account as one table of comma-separated values.

use std::fmt::Write;

use super::Told;
use super::clean;
use crate::debrief::smooth::TrackPoint;
use crate::debrief::{ContactAccount, DriftAccount, FixAccount, Painted};
use crate::fix::Estimate;
use crate::geodesy::Position;
use crate::units::{Bearing, SlantRange};
use crate::watch::Echo;

/// The columns; units stand in their names.
const HEAD: &str = "what,time,name,kind,lat_deg,lon_deg,covariance_ee_nm2,covariance_en_nm2,\
                    covariance_nn_nm2,semi_major_nm,semi_minor_nm,major_axis_deg,range_nm,bearing_deg,\
                    east_kn,north_kn,covariance_ee_kn2,covariance_en_kn2,covariance_nn_kn2,\
                    paint_probability,painted_min,reported,late_min";

/// A row for each place of the track, fix, wind or stream found, contact, echo and mark that painted
/// by the prediction, `missed` where it was never reported (RFC 4180: lines end in CR LF, a field with a comma, a quote or a line's end stands in quotes).
///
/// The first row under the heads is the caution of every report: the form has no comments, and a line
/// before the heads would be taken for them. Ellipses are of 95 %, half axes; a contact's place is where it lies from the smoothed place.
pub fn csv(told: &Told<'_>) -> String {
    let debrief = told.debrief;
    let mut text = format!("{HEAD}\r\n");
    Row { what: "caution", name: told.caution.to_owned(), ..Row::default() }.write(&mut text);
    debrief.track.iter().for_each(|point| Row::of_point(point).write(&mut text));
    debrief.fixes.iter().for_each(|fix| Row::of_fix(fix).write(&mut text));
    debrief.drift.iter().flat_map(Row::of_drift).for_each(|row| row.write(&mut text));
    debrief.contacts.iter().for_each(|contact| Row::of_contact(contact).write(&mut text));
    debrief.echoes.iter().for_each(|echo| Row::of_echo(echo).write(&mut text));
    let painted = debrief.painted.iter().flatten();
    painted.for_each(|painted| Row::of_painted(painted).write(&mut text));
    text
}

#[derive(Default)]
struct Row<'a> {
    what: &'a str,
    time: String,
    name: String,
    kind: &'a str,
    position: Option<Position>,
    place: Option<Estimate>,
    range: Option<f64>,
    bearing: Option<f64>,
    /// Beside the track and speed in use, toward: east and north, and the covariance.
    flow: Option<([f64; 2], [f64; 3])>,
    painted: Option<&'a Painted>,
}

impl<'a> Row<'a> {
    fn of_point(point: &'a TrackPoint) -> Self {
        let (time, kind) = (point.time.to_string(), point.kind.as_str());
        Row { what: "track", time, kind, ..Row::default() }.at(&point.place)
    }

    fn of_fix(fix: &'a FixAccount) -> Self {
        let (time, kind) = (fix.time.to_string(), fix.verdict.as_str());
        Row { what: "fix", time, kind, ..Row::default() }.at(&fix.place)
    }

    /// As it was found, and as the smoothed track has it.
    fn of_drift(drift: &'a DriftAccount) -> impl Iterator<Item = Self> {
        let found = Some((drift.beside_kn, drift.covariance_kn2));
        let flows = [("found", found), ("smoothed", drift.smoothed)];
        flows.into_iter().filter(|(_, flow)| flow.is_some()).map(|(kind, flow)| {
            let time = drift.time.to_string();
            Row { what: "drift", time, kind, flow, ..Row::default() }
        })
    }

    fn of_contact(contact: &'a ContactAccount) -> Self {
        Row {
            what: "contact",
            time: contact.time.to_string(),
            name: called(&contact.label, contact.taken_for.as_deref()),
            kind: contact.part.as_str(),
            position: contact.plotted,
            range: contact.range.map(SlantRange::nautical_miles),
            bearing: contact.bearing.map(Bearing::degrees),
            ..Row::default()
        }
    }

    fn of_echo(echo: &'a Echo) -> Self {
        let row = Row {
            what: "echo",
            time: echo.time.to_string(),
            name: called(&echo.label, echo.name.as_deref()),
            kind: if echo.motion.is_some_and(|motion| motion.moves) { "moves" } else { "" },
            ..Row::default()
        };
        row.at(&echo.place)
    }

    fn of_painted(painted: &'a Painted) -> Self {
        Row {
            what: if painted.is_never_reported() { "missed" } else { "painted" },
            time: painted.first.time.to_string(),
            name: painted.mark.clone(),
            kind: painted.kind,
            position: Some(painted.position),
            range: Some(painted.first.range.nautical_miles()),
            bearing: Some(painted.first.bearing.degrees()),
            painted: Some(painted),
            ..Row::default()
        }
    }

    fn at(mut self, place: &Estimate) -> Self {
        self.place = Some(*place);
        self.position = Some(place.position);
        self
    }

    fn write(&self, text: &mut String) {
        let number = |value: Option<f64>, places: usize| {
            value.map_or_else(String::new, |value| format!("{value:.places$}"))
        };
        let position = |of: fn(Position) -> f64| number(self.position.map(of), 7);
        let covariance = self.place.map(|place| place.covariance.square_miles());
        let of = |row: usize, column: usize| {
            let value = covariance.and_then(|c| c.get(row)?.get(column).copied());
            number(value, 6)
        };
        let ellipse = self.place.map(|place| place.ellipse());
        let [east, north] = self.flow.map_or([None; 2], |(mean, _)| mean.map(Some));
        let [ee, en, nn] = self.flow.map_or([None; 3], |(_, covariance)| covariance.map(Some));
        let reported = self.painted.and_then(|painted| painted.reported.as_ref());
        let fields = [
            field(self.what),
            field(&self.time),
            field(&self.name),
            field(self.kind),
            position(Position::latitude),
            position(Position::longitude),
            of(0, 0),
            of(0, 1),
            of(1, 1),
            number(ellipse.map(|e| e.semi_major.nautical_miles()), 4),
            number(ellipse.map(|e| e.semi_minor.nautical_miles()), 4),
            number(ellipse.map(|e| e.major_axis.degrees()), 1),
            number(self.range, 3),
            number(self.bearing, 2),
            number(east, 3),
            number(north, 3),
            number(ee, 4),
            number(en, 4),
            number(nn, 4),
            number(self.painted.map(|painted| painted.paint_probability), 4),
            number(self.painted.map(|painted| painted.minutes), 1),
            reported.map_or_else(String::new, |reported| reported.time.to_string()),
            number(self.painted.and_then(Painted::late_minutes), 1),
        ];
        // Writing to a string cannot fail.
        let _ = write!(text, "{}\r\n", fields.join(","));
    }
}

/// A label, and what it is called beside it.
fn called(label: &str, name: Option<&str>) -> String {
    name.map_or_else(|| label.to_owned(), |name| format!("{label} {name}"))
}

/// A text as a field. One that a spreadsheet would take for a formula gets an apostrophe before it
/// (common practice).
fn field(text: &str) -> String {
    let mut text = clean(text);
    if text.starts_with(['=', '+', '-', '@']) {
        text.insert(0, '\'');
    }
    if text.contains([',', '"']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commas_quotes_and_formulas_stay_text() {
        assert_eq!(field("A"), "A");
        assert_eq!(field("Head, the \"great\" one"), "\"Head, the \"\"great\"\" one\"");
        assert_eq!(field("=1+1"), "'=1+1");
        assert_eq!(field("a\nb"), "a\u{fffd}b");
    }
}
