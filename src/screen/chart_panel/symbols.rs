//! The symbols of positions, by plotting practice.

use std::f64::consts::{FRAC_PI_2, PI};

use super::raster::{Dot, Ink, Raster, Stroke};

/// Dots from the centre of a position's symbol to its rim.
const SYMBOL_DOTS: f64 = 3.2;

/// A circle around a dot: a fix.
pub fn dotted_circle(raster: &mut Raster, at: Dot, ink: Ink) {
    raster.circle(at, SYMBOL_DOTS, Stroke::solid(ink));
    centre_dot(raster, at, ink);
}

/// A half circle over a dot: a dead-reckoned position.
pub fn half_circle(raster: &mut Raster, at: Dot, ink: Ink) {
    raster.arc(at, SYMBOL_DOTS, -FRAC_PI_2, PI, Stroke::solid(ink));
    centre_dot(raster, at, ink);
}

/// A square around a dot: an estimated position.
pub fn square(raster: &mut Raster, at: Dot, ink: Ink) {
    let r = SYMBOL_DOTS - 0.5;
    let corner = |x: f64, y: f64| Dot { x: at.x + x * r, y: at.y + y * r };
    let corners = [
        corner(-1.0, -1.0),
        corner(1.0, -1.0),
        corner(1.0, 1.0),
        corner(-1.0, 1.0),
        corner(-1.0, -1.0),
    ];
    raster.path(corners, Stroke::solid(ink));
    centre_dot(raster, at, ink);
}

/// Two strokes across a dot: a place that is known and needs no fix.
pub fn saltire(raster: &mut Raster, at: Dot, ink: Ink) {
    let r = SYMBOL_DOTS;
    for lean in [r, -r] {
        let (from, to) = (Dot { x: at.x - r, y: at.y - lean }, Dot { x: at.x + r, y: at.y + lean });
        raster.line(from, to, Stroke::solid(ink));
    }
}

fn centre_dot(raster: &mut Raster, at: Dot, ink: Ink) {
    raster.dot(at.x.floor() as i64, at.y.floor() as i64, ink);
}
