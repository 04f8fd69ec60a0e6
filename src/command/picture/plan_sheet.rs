//! A plan picture on a sheet: cells, rings, bearing scale, heading line.

use super::Up;
use super::sheet::{Anchor, Cells, LINE, Shape, Sheet, Tone, words_of};
use crate::command::report::Asked;
use crate::paint::{Plan, brightness, range_rings, shows_past_the_pulse};
use crate::units::{Angle, Bearing, METRES_PER_NAUTICAL_MILE, SlantRange, True};

/// Pixels from the centre to the edge of the picture.
const RADIUS: f64 = 400.0;

/// Around it, for the bearing scale.
const MARGIN: f64 = 60.0;

/// Lays a plan picture out.
pub fn lay_out(asked: &Asked<'_>, plan: &Plan, up: Up) -> Sheet {
    let turn = match up {
        Up::North => Bearing::wrapped(0.0),
        Up::Heading => asked.vantage.heading.unwrap_or(Bearing::wrapped(0.0)),
    };
    let top = LINE * 5.0;
    let (width, height) = (2.0 * (RADIUS + MARGIN), top + 2.0 * (RADIUS + MARGIN) + LINE * 2.5);
    let scope = Scope { centre: (RADIUS + MARGIN, top + RADIUS + MARGIN), turn };
    let way = match up {
        Up::North => "north up",
        Up::Heading => "heading up",
    };
    let title = format!("Radar picture, {} NM, {way},", plan.scale_nm());
    let mut shapes = words_of(asked, &title, &late(asked), height as u32);
    shapes.extend(scope.rings(plan));
    shapes.extend(scope.bearings());
    shapes.extend(asked.vantage.heading.map(|heading| Shape::Line {
        from: scope.centre,
        to: scope.place(heading, RADIUS),
        tone: Tone::Heading,
    }));
    Sheet {
        title: format!("{title} from {}", asked.vantage.position),
        width: width as u32,
        height: height as u32,
        cells: Some(scope.cells(plan)),
        shapes,
    }
}

/// What must be known of a picture that reaches past the next pulse, or into which echoes from there
/// are folded.
fn late(asked: &Asked<'_>) -> String {
    let next = asked.set.unambiguous_range().nautical_miles();
    let folded = shows_past_the_pulse(asked.chart, asked.vantage, asked.set, asked.conditions);
    let past = asked.reach.nautical_miles() > next;
    match (folded, past) {
        (true, _) => format!("echoes from past {next:.1} NM stand too near, after the next pulse"),
        (false, true) => format!("past {next:.1} NM nothing shows: the next pulse is out"),
        (false, false) => String::new(),
    }
}

/// Where things are on the sheet.
struct Scope {
    centre: (f64, f64),
    /// What is up.
    turn: Bearing<True>,
}

impl Scope {
    fn place(&self, bearing: Bearing<True>, pixels: f64) -> (f64, f64) {
        let (sin, cos) = bearing.minus(self.turn).radians().sin_cos();
        (self.centre.0 + pixels * sin, self.centre.1 - pixels * cos)
    }

    /// Every pixel takes the cell that it lies in.
    fn cells(&self, plan: &Plan) -> Cells {
        let side = 2 * RADIUS as u32;
        let metres = plan.scale_nm() * METRES_PER_NAUTICAL_MILE / RADIUS;
        let light_at = |pixel: u32| {
            let (x, y) = (f64::from(pixel % side) + 0.5, f64::from(pixel / side) + 0.5);
            let (east, north) = (x - RADIUS, RADIUS - y);
            let bearing = Bearing::wrapped(east.atan2(north) + self.turn.radians());
            let range = SlantRange::clamped_metres(east.hypot(north) * metres);
            let level = plan.shown_at(bearing, range);
            let bright = |db: f32| brightness(f64::from(db), plan.threshold_db());
            level.map_or(0, |db| (255.0 * bright(db)) as u8)
        };
        let corner = (self.centre.0 - RADIUS, self.centre.1 - RADIUS);
        Cells {
            at: (corner.0 as u32, corner.1 as u32),
            width: side,
            height: side,
            light: (0..side * side).map(light_at).collect(),
        }
    }

    fn rings(&self, plan: &Plan) -> Vec<Shape> {
        let mut shapes = Vec::new();
        for miles in range_rings(plan.scale_nm()) {
            let radius = miles / plan.scale_nm() * RADIUS;
            shapes.push(Shape::Circle { centre: self.centre, radius, tone: Tone::Scale });
            shapes.push(Shape::Text {
                at: (self.centre.0 + 4.0, self.centre.1 - radius + LINE * 0.5),
                anchor: Anchor::Start,
                words: format!("{miles} NM"),
                tone: Tone::Scale,
            });
        }
        shapes.push(Shape::Circle { centre: self.centre, radius: RADIUS, tone: Tone::Scale });
        shapes
    }

    /// A tick each ten degrees and a number each thirty, true.
    fn bearings(&self) -> Vec<Shape> {
        let mut shapes = Vec::new();
        for tick in 0..36_u32 {
            let degrees = tick * 10;
            let bearing = Bearing::wrapped(Angle::from_degrees(f64::from(degrees)).radians());
            let numbered = degrees % 30 == 0;
            let length = if numbered { 12.0 } else { 6.0 };
            let (from, to) = (self.place(bearing, RADIUS), self.place(bearing, RADIUS + length));
            shapes.push(Shape::Line { from, to, tone: Tone::Scale });
            if numbered {
                shapes.push(Shape::Text {
                    at: self.place(bearing, RADIUS + 30.0),
                    anchor: Anchor::Middle,
                    words: format!("{degrees:03}"),
                    tone: Tone::Scale,
                });
            }
        }
        shapes
    }
}
