use serde_json::{Value, json};

use super::rounding::{rounded, square_miles};
use crate::debrief::export::{Told, clean};
use crate::debrief::smooth::TrackPoint;
use crate::debrief::{
    ContactAccount, DrError, DriftAccount, Entry, Fate, FixAccount, Painted, Verdict, WORTH,
};
use crate::fix::{Estimate, Grade};
use crate::geodesy::Position;
use crate::units::{Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, Speed, True};
use crate::watch::Echo;
use crate::watch::log::IdentityEntry;

/// The account of a sitting for scripts: the schema `foreland.debrief/1`. Every key is always there.
pub fn debrief_json(told: &Told<'_>) -> String {
    let debrief = told.debrief;
    let all = |lines: &[String]| lines.iter().map(|line| clean(line)).collect::<Vec<_>>();
    let mut cautions = all(&debrief.cautions);
    cautions.push(told.caution.to_owned());
    let answer = json!({
        "schema": "foreland.debrief/1",
        "log": clean(told.log),
        "chart": debrief.chart.as_deref().map(clean),
        "named_anew": debrief.named_anew,
        "landfall": debrief.landfall.map(position),
        "notices": all(&debrief.notices),
        "entries": debrief.entries.iter().map(entry).collect::<Vec<_>>(),
        "fixes": debrief.fixes.iter().map(fix).collect::<Vec<_>>(),
        "track": debrief.track.iter().map(point).collect::<Vec<_>>(),
        "contacts": debrief.contacts.iter().map(contact).collect::<Vec<_>>(),
        "echoes": debrief.echoes.iter().map(echo).collect::<Vec<_>>(),
        "drift": debrief.drift.iter().map(drift).collect::<Vec<_>>(),
        "verdicts": debrief.verdicts.iter().map(verdict).collect::<Vec<_>>(),
        "painted": debrief.painted.as_ref().ok().map(|all| all.iter().map(painted).collect::<Vec<_>>()),
        "painted_note": debrief.painted.as_ref().map_or_else(|why| clean(why), |_| WORTH.to_owned()),
        "missed": debrief.missed().map(missed).collect::<Vec<_>>(),
        "cautions": cautions,
    });
    format!("{answer:#}\n")
}

fn degrees(value: f64) -> f64 {
    rounded(value, 7)
}

fn nm(distance: GroundRange) -> f64 {
    rounded(distance.nautical_miles(), 4)
}

fn nm_of(metres: f64) -> f64 {
    rounded(metres / METRES_PER_NAUTICAL_MILE, 4)
}

fn position(position: Position) -> Value {
    json!({ "lat_deg": degrees(position.latitude()), "lon_deg": degrees(position.longitude()) })
}

fn estimate(place: &Estimate) -> Value {
    let ellipse = place.ellipse();
    json!({
        "position": position(place.position),
        "covariance_nm2": square_miles(place.covariance),
        "ellipse": {
            "probability": ellipse.probability,
            "semi_major_nm": nm(ellipse.semi_major),
            "semi_minor_nm": nm(ellipse.semi_minor),
            "major_axis_deg": rounded(ellipse.major_axis.degrees(), 2),
        },
    })
}

fn going((track, speed): (Bearing<True>, Speed)) -> Value {
    json!({ "track_deg": rounded(track.degrees(), 2), "speed_kn": rounded(speed.knots(), 2) })
}

fn square([ee, en, nn]: [f64; 3]) -> [[f64; 2]; 2] {
    [[ee, en], [en, nn]].map(|row| row.map(|value| rounded(value, 4)))
}

fn entry(entry: &Entry) -> Value {
    let by = match entry.fate {
        Fate::Corrected { by } | Fate::TakenOut { by } | Fate::Undone { by } => Some(by),
        Fate::Stands | Fate::LeftOut { .. } => None,
    };
    let why = match &entry.fate {
        Fate::LeftOut { why } => Some(clean(why)),
        _ => None,
    };
    json!({
        "record": entry.number,
        "at": entry.time.to_string(),
        "words": clean(&entry.words),
        "typed": entry.typed.as_deref().map(clean),
        "became": entry.fate.as_str(),
        "by_record": by,
        "why": why,
    })
}

fn fix(fix: &FixAccount) -> Value {
    json!({
        "record": fix.number,
        "time": fix.time.to_string(),
        "accepted": fix.accepted.to_string(),
        "took_s": fix.took_s,
        "verdict": clean(&fix.verdict),
        "probability": fix.probability,
        "place": estimate(&fix.place),
        "contacts_only": fix.alone.as_ref().map(estimate),
        "reckoned": fix.reckoned.as_ref().map(estimate),
        "dr_error": fix.dr_error.as_ref().map(dr_error),
        "smoothed": fix.smoothed.as_ref().map(estimate),
        "moved_nm": fix.moved.map(nm),
        "identities": fix.identities.iter().map(identity).collect::<Vec<_>>(),
        "verdict_anew": fix.anew,
    })
}

fn dr_error(error: &DrError) -> Value {
    json!({
        "offset_nm": nm(error.distance),
        "offset_deg": rounded(error.bearing.degrees(), 2),
        "along_nm": error.along_m.map(nm_of),
        "across_nm": error.across_m.map(nm_of),
        "within_stated": error.grade == Grade::Allowed,
        "agrees": error.grade.agrees(),
    })
}

fn identity(identity: &IdentityEntry) -> Value {
    json!({
        "contact": clean(&identity.contact),
        "mark": clean(&identity.mark),
        "lat_deg": degrees(identity.lat_deg),
        "lon_deg": degrees(identity.lon_deg),
        "probability": identity.probability,
    })
}

fn point(point: &TrackPoint) -> Value {
    json!({
        "time": point.time.to_string(),
        "lat_deg": degrees(point.place.position.latitude()),
        "lon_deg": degrees(point.place.position.longitude()),
        "covariance_nm2": square_miles(point.place.covariance),
        "kind": point.kind.as_str(),
    })
}

fn contact(contact: &ContactAccount) -> Value {
    let namings: Vec<Value> = contact
        .namings
        .iter()
        .map(|naming| {
            let by = if naming.by_operator { "operator" } else { "program" };
            json!({ "at": naming.at.to_string(), "mark": clean(&naming.mark), "by": by })
        })
        .collect();
    let anew = contact.anew.as_ref();
    json!({
        "contact": clean(&contact.label),
        "time": contact.time.to_string(),
        "entered": contact.entered.to_string(),
        "corrections": contact.corrections,
        "range_nm": contact.range.map(|range| rounded(range.nautical_miles(), 4)),
        "bearing_deg": contact.bearing.map(|bearing| rounded(bearing.degrees(), 2)),
        "part": contact.part.as_str(),
        "taken_out": contact.deleted,
        "again": contact.again.as_deref().map(clean),
        "fix_record": contact.fix,
        "namings": namings,
        "first_named": contact.namings.first().map(|naming| clean(&naming.mark)),
        "taken_for": contact.taken_for.as_deref().map(clean),
        "right_from": contact.right_from.map(|at| at.to_string()),
        "anew": anew.map(|(mark, probability)| json!({
            "mark": clean(mark), "probability": rounded(*probability, 6)
        })),
        "residual": {
            "range_nm": contact.range_left_m.map(nm_of),
            "bearing_deg": contact.bearing_left.map(|turn| rounded(turn.degrees(), 3)),
            "standardised": contact.standardised.iter().map(|w| rounded(*w, 3)).collect::<Vec<_>>(),
        },
        "position": contact.plotted.map(position),
    })
}

fn echo(echo: &Echo) -> Value {
    let motion = echo.motion.map(|motion| {
        let (course, speed) = motion.sigmas();
        json!({
            "course_deg": rounded(motion.course.degrees(), 2),
            "course_sigma_deg": course.map(|angle| rounded(angle.degrees(), 2)),
            "speed_kn": rounded(motion.speed.knots(), 2),
            "speed_sigma_kn": rounded(speed.knots(), 2),
            "moves": motion.moves,
        })
    });
    json!({
        "echo": clean(&echo.label),
        "name": echo.name.as_deref().map(clean),
        "time": echo.time.to_string(),
        "sights": echo.sights,
        "place": estimate(&echo.place),
        "motion": motion,
    })
}

fn drift(drift: &DriftAccount) -> Value {
    let [east, north] = drift.beside_kn;
    let smoothed = drift.smoothed.map(|([east, north], covariance)| {
        json!({
            "east_kn": rounded(east, 3),
            "north_kn": rounded(north, 3),
            "covariance_kn2": square(covariance),
        })
    });
    json!({
        "time": drift.time.to_string(),
        "used": drift.used.map(going),
        "found": {
            "east_kn": rounded(east, 3),
            "north_kn": rounded(north, 3),
            "covariance_kn2": square(drift.covariance_kn2),
        },
        "made_good": going(drift.made_good),
        "minutes": rounded(drift.minutes, 2),
        "taken_into_use": drift.taken_into_use.map(|at| at.to_string()),
        "smoothed": smoothed,
    })
}

fn verdict(said: &Verdict) -> Value {
    json!({
        "at": said.at.to_string(),
        "time": said.time.to_string(),
        "after_s": said.after_s,
        "verdict": clean(&said.verdict),
        "probability": said.probability,
        "landfall": said.landfall.as_deref().map(clean),
        "lines": said.lines.iter().map(|line| clean(line)).collect::<Vec<_>>(),
    })
}

/// A mark that painted and was never reported.
fn missed(missed: &Painted) -> Value {
    json!({
        "mark": clean(&missed.mark),
        "kind": missed.kind,
        "lat_deg": degrees(missed.position.latitude()),
        "lon_deg": degrees(missed.position.longitude()),
        "time": missed.first.time.to_string(),
        "range_nm": rounded(missed.first.range.nautical_miles(), 3),
        "bearing_deg": rounded(missed.first.bearing.degrees(), 2),
        "paint_probability": rounded(missed.paint_probability, 4),
        "fixes": missed.fixes,
    })
}

fn painted(painted: &Painted) -> Value {
    let (nearest, nearest_range) = painted.nearest;
    json!({
        "mark": clean(&painted.mark),
        "kind": painted.kind,
        "lat_deg": degrees(painted.position.latitude()),
        "lon_deg": degrees(painted.position.longitude()),
        "height_m": rounded(painted.height.metres(), 1),
        "salience": rounded(painted.salience, 3),
        "first": {
            "time": painted.first.time.to_string(),
            "at_start": painted.first.at_start,
            "range_nm": rounded(painted.first.range.nautical_miles(), 3),
            "bearing_deg": rounded(painted.first.bearing.degrees(), 2),
            "paint_probability": rounded(painted.first.chance, 4),
            "place_95_nm": nm(painted.place_known),
        },
        "painted_min": rounded(painted.minutes, 1),
        "paint_probability": rounded(painted.paint_probability, 4),
        "nearest": {
            "time": nearest.to_string(),
            "range_nm": rounded(nearest_range.nautical_miles(), 3),
        },
        "by": if painted.careful { "expect" } else { "quick-look" },
        "reported": painted.reported.as_ref().map(|reported| json!({
            "contact": clean(&reported.contact), "time": reported.time.to_string()
        })),
        "late_min": painted.late_minutes().map(|minutes| rounded(minutes, 2)),
        "perhaps": painted.perhaps.as_deref().map(clean),
        "never_reported": painted.is_never_reported(),
    })
}
