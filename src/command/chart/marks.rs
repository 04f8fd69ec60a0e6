use std::fmt::Write;

use geojson::{Feature, FeatureCollection, GeometryValue, JsonObject};
use serde_json::{Value, json};

use crate::chart::{Chart, Mark};
use crate::command::CAUTION;

/// A degree to seven places is a centimetre.
fn degrees(value: f64) -> f64 {
    (value * 1e7).round() / 1e7
}

fn feet(mark: &Mark) -> f64 {
    (mark.height.feet() * 10.0).round() / 10.0
}

/// A line a mark.
pub(super) fn text(chart: &Chart) -> String {
    let mut text = format!("{}: {} marks\n\n", chart.name(), chart.marks().len());
    let width = chart.marks().iter().map(|(_, mark)| mark.name.chars().count()).max().unwrap_or(4);
    let width = width.clamp(4, 48);
    // Writing to a string cannot fail.
    let _ =
        writeln!(text, "{:<width$}  {:<8}  {:<24}  {:>7}", "mark", "kind", "position", "height");
    for (_, mark) in chart.marks().iter() {
        let _ = writeln!(
            text,
            "{:<width$}  {:<8}  {:<24}  {:>4.0} ft",
            mark.name,
            mark.kind.as_str(),
            mark.position.to_string(),
            mark.height.feet()
        );
    }
    let _ = writeln!(text, "\n{CAUTION}");
    text
}

/// The schema `foreland.marks/1`.
pub(super) fn json(chart: &Chart) -> String {
    let marks: Vec<Value> = chart
        .marks()
        .iter()
        .map(|(_, mark)| {
            json!({
                "mark": mark.name,
                "kind": mark.kind.as_str(),
                "lat_deg": degrees(mark.position.latitude()),
                "lon_deg": degrees(mark.position.longitude()),
                "height_ft": feet(mark),
            })
        })
        .collect();
    format!("{:#}\n", json!({"schema": "foreland.marks/1", "marks": marks}))
}

/// One point a mark, with the same keys as its properties.
pub(super) fn geojson(chart: &Chart) -> String {
    let feature = |mark: &Mark| {
        let place = [degrees(mark.position.longitude()), degrees(mark.position.latitude())];
        let mut properties = JsonObject::new();
        properties.insert("mark".to_owned(), json!(mark.name));
        properties.insert("kind".to_owned(), json!(mark.kind.as_str()));
        properties.insert("height_ft".to_owned(), json!(feet(mark)));
        Feature {
            geometry: Some(GeometryValue::new_point(place).into()),
            properties: Some(properties),
            ..Feature::default()
        }
    };
    let features = chart.marks().iter().map(|(_, mark)| feature(mark)).collect();
    let collection = FeatureCollection { bbox: None, features, foreign_members: None };
    format!("{collection}\n")
}
