//! The account as GeoJSON.

use geojson::{Feature, FeatureCollection, GeometryValue, JsonObject};
use serde_json::{Value, json};

use super::Told;
use super::clean;
use super::rings::{Point, ellipse, line};
use crate::debrief::smooth::Kind;
use crate::debrief::{ContactAccount, FixAccount, Painted};
use crate::fix::Estimate;
use crate::geodesy::Position;
use crate::units::{Bearing, SlantRange};
use crate::watch::Echo;

/// Places after the point: of a degree of latitude 1 cm.
fn seventh(point: Point) -> Point {
    point.map(|value| (value * 1e7).round() / 1e7)
}

/// The track, fixes, contacts, echoes and marks missed (RFC 7946: longitude first, rings
/// counter-clockwise, what lies across 180° cut there).
///
/// The caution of every report is a member of the collection. A fix and an echo are a point each and the polygon of its 95 % ellipse.
pub fn geojson(told: &Told<'_>) -> String {
    let debrief = told.debrief;
    let mut features = Vec::new();
    for kind in [Kind::Smoothed, Kind::Reckoned] {
        for piece in pieces(told, kind) {
            let about = properties(&[("what", json!("track")), ("kind", json!(kind.as_str()))]);
            features.push(feature(GeometryValue::new_line_string(piece), about));
        }
    }
    debrief.fixes.iter().for_each(|it| fix(&mut features, it));
    features.extend(debrief.contacts.iter().filter_map(contact));
    debrief.echoes.iter().for_each(|it| echo(&mut features, it));
    features.extend(debrief.missed().map(missed));
    // RFC 7946, section 6.1, lets a collection have members of others: a reader that knows them not
    // passes them over.
    let foreign_members = Some(properties(&[("caution", json!(clean(told.caution)))]));
    let collection = FeatureCollection { bbox: None, features, foreign_members };
    format!("{collection}\n")
}

fn fix(features: &mut Vec<Feature>, fix: &FixAccount) {
    let about = [
        ("what", json!("fix")),
        ("time", json!(fix.time.to_string())),
        ("verdict", json!(clean(&fix.verdict))),
        ("probability", json!(fix.probability)),
    ];
    placed(features, &fix.place, &about);
    if let Some(smoothed) = &fix.smoothed {
        let about = [("what", json!("smoothed")), ("time", json!(fix.time.to_string()))];
        placed(features, smoothed, &about);
    }
}

fn contact(contact: &ContactAccount) -> Option<Feature> {
    let about = properties(&[
        ("what", json!("contact")),
        ("name", json!(clean(&contact.label))),
        ("time", json!(contact.time.to_string())),
        ("mark", json!(contact.taken_for.as_deref().map(clean))),
        ("range_nm", json!(contact.range.map(SlantRange::nautical_miles))),
        ("bearing_deg", json!(contact.bearing.map(Bearing::degrees))),
    ]);
    Some(feature(point(contact.plotted?), about))
}

fn echo(features: &mut Vec<Feature>, echo: &Echo) {
    let moving = echo.motion.filter(|motion| motion.moves);
    let about = [
        ("what", json!("echo")),
        ("name", json!(clean(&echo.label))),
        ("called", json!(echo.name.as_deref().map(clean))),
        ("time", json!(echo.time.to_string())),
        ("course_deg", json!(moving.map(|motion| motion.course.degrees()))),
        ("speed_kn", json!(moving.map(|motion| motion.speed.knots()))),
    ];
    placed(features, &echo.place, &about);
}

fn missed(missed: &Painted) -> Feature {
    let about = properties(&[
        ("what", json!("missed")),
        ("name", json!(clean(&missed.mark))),
        ("time", json!(missed.first.time.to_string())),
        ("paint_probability", json!(missed.paint_probability)),
    ]);
    feature(point(missed.position), about)
}

/// Runs of the track of one kind, each joined to the place before it, cut at 180°.
fn pieces(told: &Told<'_>, kind: Kind) -> Vec<Vec<Point>> {
    let track = &told.debrief.track;
    let mut runs: Vec<Vec<Position>> = Vec::new();
    let mut open = false;
    for (at, place) in track.iter().enumerate() {
        if place.kind != kind {
            open = false;
            continue;
        }
        if !open {
            let before = at.checked_sub(1).and_then(|before| track.get(before));
            runs.push(before.map(|before| before.place.position).into_iter().collect());
            open = true;
        }
        if let Some(run) = runs.last_mut() {
            run.push(place.place.position);
        }
    }
    let cut = runs.iter().flat_map(|run| line(run));
    cut.map(|piece| piece.into_iter().map(seventh).collect()).collect()
}

fn point(position: Position) -> GeometryValue {
    GeometryValue::new_point(seventh([position.longitude(), position.latitude()]))
}

/// A place, and its ellipse.
fn placed(features: &mut Vec<Feature>, place: &Estimate, about: &[(&str, Value)]) {
    let mut told = properties(about);
    told.insert("covariance_nm2".to_owned(), json!(place.covariance.square_miles()));
    features.push(feature(point(place.position), told));
    let mut told = properties(about);
    told.insert("ellipse_probability".to_owned(), json!(0.95));
    let rings: Vec<Vec<Point>> =
        ellipse(place).into_iter().map(|ring| ring.into_iter().map(seventh).collect()).collect();
    let shape = match rings.as_slice() {
        [] => return,
        [one] => GeometryValue::new_polygon([one.clone()]),
        more => GeometryValue::new_multi_polygon(more.iter().map(|ring| [ring.clone()])),
    };
    features.push(feature(shape, told));
}

fn properties(about: &[(&str, Value)]) -> JsonObject {
    about.iter().map(|(key, value)| ((*key).to_owned(), value.clone())).collect()
}

fn feature(geometry: GeometryValue, properties: JsonObject) -> Feature {
    Feature { geometry: Some(geometry.into()), properties: Some(properties), ..Feature::default() }
}
