use std::fmt::Write as _;

use svg::Document;
use svg::node::element::{Circle, Line, Path, Polygon, Text, Title};

use super::super::planned::Planned;
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::paint::approach::{Approach, Corridor, HighGround};
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// Side of the sketch.
const SIDE: f64 = 420.0;

/// How much of it is left free about the corridor.
const MARGIN: f64 = 1.12;

/// Coast is drawn to this.
const GRAIN: f64 = 0.5;

/// Coast, track, corridor, landfall and highest charted ground, north up, as an SVG element.
///
/// No chart: nothing is to be measured on it.
pub(super) fn draw(planned: &Planned<'_>, found: &Approach) -> String {
    let corridor = &found.corridor;
    let plan = planned.plan;
    let end_m = found.landfall.map_or(found.run.length, |landfall| landfall.run).metres();
    let middle = plan.at(end_m - 0.5 * (corridor.begins_m - corridor.ends_m));
    let plane = LocalPlane::new(middle);
    let sheet = Sheet { plane, half_m: half_m(&plane, corridor) };
    let document = Document::new()
        .set("viewBox", (0, 0, SIDE, SIDE))
        .set("role", "img")
        .add(Title::new("Sketch of coast, track and corridor, north up; not for navigation"))
        .add(words(4.0, 12.0, "sketch: not for navigation"))
        .add(strip(corridor, &sheet))
        .add(shore(planned, &sheet));
    let (from, to) = (plan.at(end_m - corridor.begins_m), plan.at(end_m + corridor.ends_m));
    let document = document.add(line(sheet.at(from), sheet.at(to)).set("stroke-dasharray", "6 3"));
    let (place, called) = match found.landfall {
        Some(landfall) => (landfall.planned, "landfall"),
        None => (plan.at(end_m), "end"),
    };
    let (x, y) = sheet.at(place);
    let document = document.add(circle(x, y, 5.0)).add(words(x + 8.0, y + 4.0, called));
    let document = match &corridor.highest {
        Some(ground) => with_summit(document, ground, &sheet),
        None => document,
    };
    with_scale(document, &sheet).to_string()
}

/// The corridor about the track.
fn strip(corridor: &Corridor, sheet: &Sheet) -> Polygon {
    let sides = corridor.left.iter().chain(corridor.right.iter().rev());
    let outline: Vec<String> = sides.map(|at| sheet.words(*at)).collect();
    Polygon::new().set("points", outline.join(" ")).set("fill", "#dddddd").set("stroke", "#888888")
}

fn shore(planned: &Planned<'_>, sheet: &Sheet) -> Path {
    Path::new()
        .set("d", coast(planned, sheet))
        .set("fill", "none")
        .set("stroke", "#000000")
        .set("stroke-width", 1)
}

/// The highest charted ground: a triangle with its height.
fn with_summit(document: Document, ground: &HighGround, sheet: &Sheet) -> Document {
    let (x, y) = sheet.at(ground.position);
    let corners = [(x, y - 5.0), (x - 5.0, y + 4.0), (x + 5.0, y + 4.0)];
    let triangle = corners.map(|(x, y)| format!("{x:.1},{y:.1}")).join(" ");
    document.add(Polygon::new().set("points", triangle).set("fill", "#000000")).add(words(
        x + 8.0,
        y + 4.0,
        &match ground.under {
            Some(under) => format!("under {:.0} ft", under.feet()),
            None => format!("{:.0} ft", ground.height.feet()),
        },
    ))
}

/// Ten miles, and where north is.
fn with_scale(document: Document, sheet: &Sheet) -> Document {
    let ten = 10.0 * METRES_PER_NAUTICAL_MILE * sheet.scale();
    document
        .add(line((12.0, SIDE - 12.0), (12.0 + ten, SIDE - 12.0)).set("stroke-width", 2))
        .add(words(12.0, SIDE - 18.0, "10 NM"))
        .add(line((SIDE - 16.0, 40.0), (SIDE - 16.0, 12.0)).set("stroke-width", 2))
        .add(words(SIDE - 20.0, 54.0, "N"))
}

/// From the middle to the farthest corner of the corridor along either axis, metres.
fn half_m(plane: &LocalPlane, corridor: &Corridor) -> f64 {
    let sides = corridor.left.iter().chain(&corridor.right);
    let far = sides.map(|at| plane.to_plane(*at)).map(|at| at.east.abs().max(at.north.abs()));
    (MARGIN * far.fold(0.0, f64::max)).max(METRES_PER_NAUTICAL_MILE)
}

struct Sheet {
    plane: LocalPlane,
    half_m: f64,
}

impl Sheet {
    fn scale(&self) -> f64 {
        0.5 * SIDE / self.half_m
    }

    fn of(&self, point: PlanePoint) -> (f64, f64) {
        let middle = 0.5 * SIDE;
        (middle + point.east * self.scale(), middle - point.north * self.scale())
    }

    fn at(&self, place: Position) -> (f64, f64) {
        self.of(self.plane.to_plane(place))
    }

    fn words(&self, place: Position) -> String {
        let (x, y) = self.at(place);
        format!("{x:.1},{y:.1}")
    }
}

/// The shore within the sketch as one path.
fn coast(planned: &Planned<'_>, sheet: &Sheet) -> String {
    let radius = GroundRange::clamped_metres(1.5 * sheet.half_m);
    let mut path = String::new();
    for stretch in planned.chart.coast().stretches(&sheet.plane, radius) {
        let mut last: Option<(f64, f64)> = None;
        for point in &stretch.points {
            let (x, y) = sheet.of(*point);
            // Nothing far outside the sheet, nothing finer than can be seen.
            if !(-SIDE..2.0 * SIDE).contains(&x) || !(-SIDE..2.0 * SIDE).contains(&y) {
                last = None;
                continue;
            }
            let near = |(a, b): (f64, f64)| (a - x).hypot(b - y) < GRAIN;
            if last.is_some_and(near) {
                continue;
            }
            let step = if last.is_none() { 'M' } else { 'L' };
            // Writing to a string cannot fail.
            let _ = write!(path, "{step}{x:.1} {y:.1}");
            last = Some((x, y));
        }
    }
    path
}

/// A tenth of a unit is all that can be seen.
fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn line(from: (f64, f64), to: (f64, f64)) -> Line {
    Line::new()
        .set("x1", tenth(from.0))
        .set("y1", tenth(from.1))
        .set("x2", tenth(to.0))
        .set("y2", tenth(to.1))
        .set("stroke", "#000000")
}

fn circle(x: f64, y: f64, radius: f64) -> Circle {
    Circle::new()
        .set("cx", tenth(x))
        .set("cy", tenth(y))
        .set("r", radius)
        .set("fill", "none")
        .set("stroke", "#000000")
        .set("stroke-width", 2)
}

fn words(x: f64, y: f64, words: &str) -> Text {
    Text::new(words)
        .set("x", tenth(x))
        .set("y", tenth(y))
        .set("font-family", "sans-serif")
        .set("font-size", 12)
}
