//! A reader who takes the picture for the chart: what every lesson warns of, in one person.
//!
//! It reads the emitted pictures alone, with no code of the program's own reader: whatever shows is
//! land, slant range is distance, the drawn edge is the edge, the bearing by two deflections is the one
//! near the bow and of the heading it will have; each echo is the mark that the reckoning has
//! nearest to it; own place is the mean of what they give; and the landfall is made.

use std::fmt::Write;

use foreland::chart::Chart;
use foreland::geodesy::{LocalPlane, PlanePoint, Position};
use foreland::units::{Bearing, GroundRange};
use serde_json::Value;

/// What it is sure to, nautical miles: it has never been wrong.
const SIGMA_NM: f64 = 0.2;

/// Nearer than this it looks at nothing, nautical miles.
const LEAST_NM: f64 = 1.0;

/// An echo goes on as long as the next bearing's is within so much of it.
const SAME_NM: f64 = 0.7;

/// Echoes of fewer bearings are passed over.
const LEAST_BEARINGS: usize = 5;

/// The most echoes it takes: the nearest.
const MOST: usize = 8;

struct Echo {
    range_nm: f64,
    bearing_deg: f64,
}

/// Its answer to an emitted exercise, as a sightings file with `[declare]`.
pub fn answer(chart: &Chart, told: &Value, head: &str) -> String {
    let scan = &told["scans"][0];
    let heading = told["own"]["heading_deg"].as_f64().unwrap();
    let mut echoes = if scan["kind"] == "plan" { of_plan(scan) } else { of_trace(scan, heading) };
    echoes.sort_by(|a, b| a.range_nm.total_cmp(&b.range_nm));
    echoes.truncate(MOST);
    let reckoned: Position = told["reckoning"]["position"].as_str().unwrap().parse().unwrap();
    let plane = LocalPlane::new(reckoned);
    let mut text = head.to_owned();
    let (mut east, mut north) = (0.0, 0.0);
    for (echo, label) in echoes.iter().zip('A'..) {
        let range = GroundRange::from_nautical_miles(echo.range_nm).unwrap();
        let off = PlanePoint::at(range, Bearing::wrapped_degrees(echo.bearing_deg));
        let mark = chart
            .marks()
            .iter()
            .map(|(_, mark)| mark)
            .filter(|mark| mark.named)
            .min_by(|a, b| {
                let far = |at: Position| plane.to_plane(at).distance(off);
                far(a.position).total_cmp(&far(b.position))
            })
            .unwrap();
        let at = plane.to_plane(mark.position);
        east += (at.east - off.east) / echoes.len() as f64;
        north += (at.north - off.north) / echoes.len() as f64;
        write!(
            text,
            "\n[[contact]]\nlabel = \"{label}\"\ntime = \"{}\"\nrange_nm = {:.2}\n{}mark = \"{}\"\n",
            scan["time"].as_str().unwrap(),
            echo.range_nm,
            if scan["kind"] == "plan" {
                format!("bearing_deg = {:.1}\n", echo.bearing_deg)
            } else {
                String::new()
            },
            mark.name
        )
        .unwrap();
    }
    let place = plane.to_position(PlanePoint { east, north });
    write!(
        text,
        "\n[declare]\nposition = \"{:.6},{:.6}\"\nsigma_nm = {SIGMA_NM}\nlandfall = \"confirmed\"\n",
        place.latitude(),
        place.longitude()
    )
    .unwrap();
    text
}

/// On each bearing the nearest cell that shows; what goes on from bearing to bearing is one echo.
fn of_plan(scan: &Value) -> Vec<Echo> {
    let (bin_nm, shows) = (number(scan, "bin_nm"), number(scan, "threshold_db") + 3.0);
    let step_deg = number(scan, "bearing_step_deg");
    let nearest: Vec<Option<f64>> = scan["level_db"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| {
            let levels = row.as_array().unwrap().iter().enumerate();
            let mut lit = levels
                .filter(|(bin, db)| {
                    *bin as f64 * bin_nm > LEAST_NM && db.as_f64().is_some_and(|db| db >= shows)
                })
                .map(|(bin, _)| bin as f64 * bin_nm);
            lit.next()
        })
        .collect();
    let mut found: Vec<Vec<(usize, f64)>> = Vec::new();
    for (at, range) in nearest.iter().enumerate().filter_map(|(at, r)| r.map(|r| (at, r))) {
        let goes_on = found
            .last()
            .and_then(|echo| echo.last())
            .is_some_and(|(before, r)| at - before <= 2 && (r - range).abs() <= SAME_NM);
        if goes_on {
            found.last_mut().unwrap().push((at, range));
        } else {
            found.push(vec![(at, range)]);
        }
    }
    found
        .iter()
        .filter(|echo| echo.len() >= LEAST_BEARINGS)
        .map(|echo| {
            let range_nm = echo.iter().map(|(_, r)| *r).fold(f64::INFINITY, f64::min);
            // Its edge, as it is drawn.
            Echo { range_nm, bearing_deg: echo[0].0 as f64 * step_deg }
        })
        .collect()
}

/// Each stretch that shows; 22° to a lobe, so that the ratio in decibels is near enough degrees twice.
fn of_trace(scan: &Value, heading_deg: f64) -> Vec<Echo> {
    let bin_nm = number(scan, "bin_nm");
    let side = |key: &str| -> Vec<f64> {
        scan[key].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
    };
    let (port, starboard) = (side("port"), side("starboard"));
    let mut found = Vec::new();
    let mut dark_since = 0.0;
    for (bin, (p, s)) in port.iter().zip(&starboard).enumerate() {
        let range_nm = bin as f64 * bin_nm;
        if p.max(*s) < 3.0 {
            continue;
        }
        if range_nm > LEAST_NM && range_nm - dark_since > 1.0 {
            let ratio_db = 20.0 * (s / p).log10();
            let bearing_deg = (heading_deg + 2.0 * ratio_db).rem_euclid(360.0);
            found.push(Echo { range_nm, bearing_deg });
        }
        dark_since = range_nm;
    }
    found
}

fn number(scan: &Value, key: &str) -> f64 {
    scan[key].as_f64().unwrap()
}
