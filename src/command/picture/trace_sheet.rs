//! A range trace on a sheet: range upward, the port signal to the left, starboard to the right.

use super::sheet::{Anchor, LINE, Shape, Sheet, Tone, words_of};
use crate::command::report::Asked;
use crate::paint::{Trace, TraceSide, range_rings};

/// Pixels of the whole range.
const LENGTH: f64 = 760.0;

/// Pixels of the greatest deflection.
const DEFLECTION: f64 = 280.0;

/// Beside them, for the range scale.
const MARGIN: f64 = 90.0;

/// How far the wings are off level, where they are.
fn banked(trace: &Trace) -> String {
    let degrees = trace.frame().bank.degrees();
    if degrees.abs() < 0.05 {
        return String::new();
    }
    let wing = if degrees > 0.0 { "right" } else { "left" };
    format!("banked {:.0} deg, {wing} wing down", degrees.abs())
}

/// Lays a range trace out.
pub fn lay_out(asked: &Asked<'_>, trace: &Trace) -> Sheet {
    let (top, width) = (LINE * 6.0, 2.0 * (DEFLECTION + MARGIN));
    let (axis, foot) = (0.5 * width, top + LENGTH);
    let height = foot + LINE * 4.5;
    let full = trace.full_deflection();
    let title = format!("Range trace, {} NM,", trace.scale_nm());
    let mut shapes = words_of(asked, &title, &banked(trace), height as u32);
    let say = |at: (f64, f64), anchor: Anchor, words: String, tone: Tone| Shape::Text {
        at,
        anchor,
        words,
        tone,
    };
    let over_db = 20.0 * full.log10();
    let edge = format!("edge: {over_db:.0} dB over noise");
    shapes.push(say((axis - 20.0, top - LINE), Anchor::End, "port".to_owned(), Tone::Port));
    let starboard = "starboard".to_owned();
    shapes.push(say((axis + 20.0, top - LINE), Anchor::Start, starboard, Tone::Starboard));
    shapes.push(say((axis, foot + LINE), Anchor::Middle, edge, Tone::Words));
    for miles in range_rings(trace.scale_nm()) {
        let y = foot - miles / trace.scale_nm() * LENGTH;
        shapes.push(Shape::Line {
            from: (axis - DEFLECTION, y),
            to: (axis + DEFLECTION, y),
            tone: Tone::Scale,
        });
        let words = format!("{miles} NM");
        shapes.push(say((width - 8.0, y), Anchor::End, words, Tone::Scale));
    }
    for (side, out, tone) in
        [(trace.port(), -1.0, Tone::Port), (trace.starboard(), 1.0, Tone::Starboard)]
    {
        shapes.extend(signal(side, trace.frame().bins, full, tone, |along, deflected| {
            (axis + out * deflected * DEFLECTION, foot - along * LENGTH)
        }));
    }
    shapes.push(Shape::Line { from: (axis, foot), to: (axis, top), tone: Tone::Words });
    Sheet {
        title: format!("{title} from {}", asked.vantage.position),
        width: width as u32,
        height: height as u32,
        cells: None,
        shapes,
    }
}

/// One signal as strokes from the axis, one a cell.
fn signal(
    side: &TraceSide,
    bins: usize,
    full: f32,
    tone: Tone,
    place: impl Fn(f64, f64) -> (f64, f64),
) -> Vec<Shape> {
    let stroke = |bin: usize| {
        let along = (bin as f64 + 0.5) / bins as f64;
        let deflected = f64::from((side.deflection(bin) / full).min(1.0));
        Shape::Line { from: place(along, 0.0), to: place(along, deflected), tone }
    };
    (0..bins).map(stroke).collect()
}
