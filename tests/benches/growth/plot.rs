//! What was measured as a picture.

use svg::Document;
use svg::node::element::{Circle, Line, Polyline, Text};

use crate::Growth;

/// All of it, the plot and what the lines are called beside it.
const SIZE: (f64, f64) = (900.0, 460.0);
/// Left, top, right and bottom of the plot.
const INSIDE: (f64, f64, f64, f64) = (60.0, 30.0, 610.0, 410.0);

/// Okabe and Ito, as on the display; grey for the yellow that nobody sees on white.
const COLOURS: [&str; 8] =
    ["#0072b2", "#d55e00", "#009e73", "#cc79a7", "#000000", "#e69f00", "#56b4e9", "#888888"];

/// Seconds over number, both by powers of ten.
pub fn plot(measured: &[Growth]) -> Document {
    let all = || measured.iter().flat_map(|growth| &growth.points);
    let span = |value: fn(&(f64, f64)) -> f64| {
        let (low, high) =
            all().map(value).fold((f64::INFINITY, 0.0_f64), |(l, h), v| (l.min(v), h.max(v)));
        (low.log10().floor(), high.log10().ceil())
    };
    let (across, up) = (span(|point| point.0), span(|point| point.1));
    let (left, top, right, bottom) = INSIDE;
    let place = |(number, seconds): (f64, f64)| {
        let x = left + (number.log10() - across.0) / (across.1 - across.0) * (right - left);
        let y = bottom - (seconds.log10() - up.0) / (up.1 - up.0) * (bottom - top);
        (x, y)
    };
    let mut document =
        Document::new().set("viewBox", (0.0, 0.0, SIZE.0, SIZE.1)).set("role", "img");
    let whole = |(from, to): (f64, f64)| (from as i32..=to as i32).map(f64::from);
    for power in whole(across) {
        let (x, y) = place((10f64.powf(power), 10f64.powf(up.0)));
        document = document.add(text(x - 8.0, y + 18.0, format!("1e{power}")));
        document = document.add(line((x, top), (x, bottom)));
    }
    for power in whole(up) {
        let (x, y) = place((10f64.powf(across.0), 10f64.powf(power)));
        document = document.add(text(x - 46.0, y + 4.0, format!("1e{power} s")));
        document = document.add(line((left, y), (right, y)));
    }
    document = document.add(text(left, SIZE.1 - 12.0, "number".to_owned()));
    for ((row, growth), colour) in measured.iter().enumerate().zip(COLOURS.iter().cycle()) {
        let places: Vec<(f64, f64)> = growth.points.iter().map(|point| place(*point)).collect();
        let path: Vec<String> = places.iter().map(|(x, y)| format!("{x:.1},{y:.1}")).collect();
        document = document.add(
            Polyline::new()
                .set("points", path.join(" "))
                .set("fill", "none")
                .set("stroke", *colour),
        );
        let y = top + 12.0 + 24.0 * row as f64;
        let key = (right + 20.0, y - 4.0);
        for (x, y) in places.iter().chain([&key]) {
            document = document
                .add(Circle::new().set("cx", *x).set("cy", *y).set("r", 3).set("fill", *colour));
        }
        let words = format!("{} ({})", growth.name, growth.unit);
        document = document.add(text(right + 30.0, y, words).set("fill", *colour));
    }
    document
}

fn text(x: f64, y: f64, words: String) -> Text {
    Text::new(words).set("x", x).set("y", y).set("font-size", 12).set("font-family", "sans-serif")
}

fn line(from: (f64, f64), to: (f64, f64)) -> Line {
    Line::new()
        .set("x1", from.0)
        .set("y1", from.1)
        .set("x2", to.0)
        .set("y2", to.1)
        .set("stroke", "#cccccc")
}
