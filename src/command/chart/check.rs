use std::fmt::Write;

use serde_json::{Value, json};

use crate::chart::{Chart, GeoBox, GridSurvey, LayerSurvey};
use crate::command::CAUTION;
use crate::geodesy::Position;

/// Corners of a box as people write positions.
fn corners(area: &GeoBox) -> String {
    let corner = |latitude, longitude| Position::wrapped(latitude, longitude).to_string();
    format!("{} to {}", corner(area.south, area.west), corner(area.north, area.east))
}

/// All that an operator must know, of heights read late too.
fn cautions(chart: &Chart) -> Vec<String> {
    chart.cautions().iter().cloned().chain(chart.late_cautions()).collect()
}

/// The whole survey, for people.
pub(super) fn text(chart: &Chart) -> String {
    let survey = chart.survey();
    let mut text = format!("{}\n", chart.name());
    for layer in &survey.layers {
        layer_text(&mut text, layer);
    }
    for grid in &survey.grids {
        grid_text(&mut text, grid);
    }
    // Writing to a string cannot fail.
    let _ = writeln!(text, "\nmarks: {}", chart.marks().len());
    if let Some(apart) = &survey.disagreement {
        let _ = writeln!(
            text,
            "coast and grid: {:.0} m apart at the median, {:.0} m at nine in ten, over {} places \
             of the shore",
            apart.median.metres(),
            apart.ninetieth.metres(),
            apart.places
        );
    }
    if let Some(share) = survey.ground_outside {
        let _ = writeln!(
            text,
            "ground of a grid outside the charted land: {:.1} % of what stands above the sea",
            100.0 * share
        );
    }
    let accuracy = chart.accuracy();
    let _ = writeln!(
        text,
        "errors reckoned with: {:.2} NM each point, {:.2} NM the whole chart",
        accuracy.point_sigma.nautical_miles(),
        accuracy.shift_sigma.nautical_miles()
    );
    let cautions = cautions(chart);
    for (title, lines) in [("odd", &survey.odd), ("caution", &cautions)] {
        for line in lines {
            let _ = writeln!(text, "{title}: {line}");
        }
    }
    let _ = writeln!(text, "\n{CAUTION}");
    text
}

fn layer_text(text: &mut String, layer: &LayerSurvey) {
    let _ = writeln!(
        text,
        "\n{}: {}\n  {} {}, {} parts, {} vertices",
        layer.file, layer.role, layer.shapes, layer.kind, layer.parts, layer.vertices
    );
    if let Some(area) = &layer.extent {
        let _ = writeln!(text, "  {}", corners(area));
    }
    let _ = writeln!(text, "  projection: {}", layer.projection);
    match &layer.encoding {
        Some(encoding) => {
            let _ = writeln!(text, "  text: {encoding}");
        }
        None => text.push_str("  no attributes\n"),
    }
    if !layer.attributes.is_empty() {
        let _ = writeln!(text, "  {}", layer.attributes.join(", "));
    }
    if !layer.classes.is_empty() {
        let counts: Vec<String> =
            layer.classes.iter().map(|(class, count)| format!("{class} {count}")).collect();
        let _ = writeln!(text, "  shapes by class: {}", counts.join(", "));
    }
    for odd in &layer.odd {
        let _ = writeln!(text, "  odd: {odd}");
    }
}

fn grid_text(text: &mut String, grid: &GridSurvey) {
    let _ = writeln!(
        text,
        "\n{}: elevation grid\n  {} columns, {} rows, {:.1} seconds of arc apart\n  {}",
        grid.file,
        grid.columns,
        grid.rows,
        grid.step_deg * 3600.0,
        corners(&grid.extent)
    );
    let _ = match &grid.heights {
        Some(heights) => writeln!(
            text,
            "  {:.0} to {:.0} ft, {} voids",
            heights.lowest.feet(),
            heights.highest.feet(),
            heights.voids
        ),
        None => writeln!(text, "  heights not known: see the cautions"),
    };
}

fn box_json(area: &GeoBox) -> Value {
    json!({"south_deg": area.south, "west_deg": area.west,
           "north_deg": area.north, "east_deg": area.east})
}

/// The whole survey, for scripts.
pub(super) fn json(chart: &Chart) -> String {
    let survey = chart.survey();
    let layers: Vec<Value> = survey
        .layers
        .iter()
        .map(|layer| {
            json!({"file": layer.file, "role": layer.role, "kind": layer.kind,
                   "shapes": layer.shapes, "empty": layer.empty, "parts": layer.parts,
                   "vertices": layer.vertices, "box": layer.extent.as_ref().map(box_json),
                   "attributes": layer.attributes, "encoding": layer.encoding,
                   "projection": layer.projection,
                   "classes": layer.classes.iter().map(|(class, count)|
                       json!({"class": class, "shapes": count})).collect::<Vec<_>>(),
                   "odd": layer.odd})
        })
        .collect();
    let grids: Vec<Value> = survey
        .grids
        .iter()
        .map(|grid| {
            json!({"file": grid.file, "columns": grid.columns, "rows": grid.rows,
                   "step_deg": grid.step_deg, "box": box_json(&grid.extent),
                   "lowest_ft": grid.heights.map(|heights| heights.lowest.feet()),
                   "highest_ft": grid.heights.map(|heights| heights.highest.feet()),
                   "voids": grid.heights.map(|heights| heights.voids)})
        })
        .collect();
    let disagreement = survey.disagreement.map(|apart| {
        json!({"median_nm": apart.median.nautical_miles(),
               "ninetieth_nm": apart.ninetieth.nautical_miles(), "places": apart.places,
               "ground_outside_share": survey.ground_outside})
    });
    let accuracy = chart.accuracy();
    let answer = json!({
        "schema": "foreland.chart-check/1",
        "name": chart.name(),
        "layers": layers,
        "grids": grids,
        "marks": chart.marks().len(),
        "disagreement": disagreement,
        "ground_outside_share": survey.ground_outside,
        "without_grid": survey.without_grid.map(|bare| {
            json!({"length_nm": bare.length_nm, "share": bare.share,
                   "box": box_json(&bare.extent)})
        }),
        "accuracy": {"point_sigma_nm": accuracy.point_sigma.nautical_miles(),
                     "shift_sigma_nm": accuracy.shift_sigma.nautical_miles()},
        "odd": survey.odd,
        "cautions": cautions(chart),
    });
    format!("{answer:#}\n")
}
