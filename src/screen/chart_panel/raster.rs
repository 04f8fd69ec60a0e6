use std::f64::consts::TAU;

use crate::screen::drawing::Drawing;

/// Dots across one character cell.
pub const DOTS_ACROSS: usize = 2;

/// Dots down one character cell.
pub const DOTS_DOWN: usize = 4;

/// What a dot belongs to; where several meet in a cell, the last of this list gives the cell its
/// colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Ink {
    /// Nothing.
    #[default]
    Blank,
    /// The light stipple of land.
    Land,
    /// Range rings.
    Ring,
    /// The shore.
    Coast,
    /// Charted marks.
    Mark,
    /// The reckoning and its ellipse.
    Reckoning,
    /// Another position that still fits.
    Rival,
    /// Contacts.
    Contact,
    /// The contact that is selected.
    Selected,
    /// The fix and its ellipse.
    Fix,
}

/// Dots drawn and left out in turn along a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stroke {
    /// What is drawn.
    pub ink: Ink,
    /// Dots in a dash.
    pub on: u32,
    /// Dots between dashes.
    pub off: u32,
}

impl Stroke {
    /// A line without gaps.
    pub const fn solid(ink: Ink) -> Self {
        Self { ink, on: 1, off: 0 }
    }

    /// A line of dashes.
    pub const fn dashed(ink: Ink, on: u32, off: u32) -> Self {
        Self { ink, on, off }
    }

    fn draws(self, step: u32) -> bool {
        step % (self.on + self.off).max(1) < self.on
    }
}

/// A place in the picture in dots: right and down from the upper left corner, fractions allowed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dot {
    /// Right.
    pub x: f64,
    /// Down.
    pub y: f64,
}

#[derive(Debug, Clone, Copy, Default)]
struct Cell {
    /// Bits of a braille pattern: lines.
    lines: u8,
    /// Bits of a braille pattern: land, drawn only where no line is.
    land: u8,
    ink: Ink,
}

/// A picture of dots, eight to a character cell.
#[derive(Debug, Clone, Default)]
pub struct Raster {
    columns: usize,
    rows: usize,
    cells: Vec<Cell>,
}

impl Raster {
    /// An empty picture of so many character cells.
    pub fn new(columns: usize, rows: usize) -> Self {
        Self { columns, rows, cells: vec![Cell::default(); columns * rows] }
    }

    /// Character cells across.
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// Character cells down.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Dots across.
    pub fn width(&self) -> f64 {
        (self.columns * DOTS_ACROSS) as f64
    }

    /// Dots down.
    pub fn height(&self) -> f64 {
        (self.rows * DOTS_DOWN) as f64
    }

    fn at(&mut self, x: i64, y: i64) -> Option<(&mut Cell, u8)> {
        let (x, y) = (usize::try_from(x).ok()?, usize::try_from(y).ok()?);
        let (column, row) = (x / DOTS_ACROSS, y / DOTS_DOWN);
        if column >= self.columns {
            return None;
        }
        let cell = self.cells.get_mut(row * self.columns + column)?;
        Some((cell, bit(x % DOTS_ACROSS, y % DOTS_DOWN)))
    }

    /// Sets one dot of a line.
    pub fn dot(&mut self, x: i64, y: i64, ink: Ink) {
        if let Some((cell, bit)) = self.at(x, y) {
            cell.lines |= bit;
            cell.ink = cell.ink.max(ink);
        }
    }

    /// Sets the dot of land that a place falls on.
    pub fn land(&mut self, at: Dot) {
        if let Some((cell, bit)) = self.at(at.x.floor() as i64, at.y.floor() as i64) {
            cell.land |= bit;
        }
    }

    /// Draws a straight line; what lies outside the picture is left out.
    pub fn line(&mut self, from: Dot, to: Dot, stroke: Stroke) {
        self.run(from, to, stroke, 0);
    }

    /// Draws a line through points, its dashes running on through them.
    pub fn path(&mut self, points: impl IntoIterator<Item = Dot>, stroke: Stroke) {
        let mut before: Option<Dot> = None;
        let mut step = 0;
        for point in points {
            if let Some(from) = before {
                step = self.run(from, point, stroke, step);
            }
            before = Some(point);
        }
    }

    /// Draws a line whose dashes begin at `step`; returns the step after its last dot.
    fn run(&mut self, from: Dot, to: Dot, stroke: Stroke, step: u32) -> u32 {
        let whole = (to.x - from.x).abs().max((to.y - from.y).abs()).ceil();
        let after = step.wrapping_add(whole.clamp(0.0, 1e9) as u32);
        let Some((start, end)) = self.clip(from, to) else { return after };
        // Dashes are counted from the true start of the line, so that panning does not shift them.
        let skipped = (start.x - from.x).abs().max((start.y - from.y).abs()).round();
        let mut along = step.wrapping_add(skipped.clamp(0.0, 1e9) as u32);
        let steps = (end.x - start.x).abs().max((end.y - start.y).abs()).ceil().max(1.0);
        for i in 0..=steps as u64 {
            let part = i as f64 / steps;
            if stroke.draws(along) {
                let x = start.x + part * (end.x - start.x);
                let y = start.y + part * (end.y - start.y);
                self.dot(x.floor() as i64, y.floor() as i64, stroke.ink);
            }
            along = along.wrapping_add(1);
        }
        after
    }

    /// The part of a line inside the picture (Liang and Barsky's method).
    fn clip(&self, from: Dot, to: Dot) -> Option<(Dot, Dot)> {
        let (dx, dy) = (to.x - from.x, to.y - from.y);
        if !(dx.is_finite() && dy.is_finite()) {
            return None;
        }
        let edges = [
            (-dx, from.x),
            (dx, self.width() - 1e-6 - from.x),
            (-dy, from.y),
            (dy, self.height() - 1e-6 - from.y),
        ];
        let (mut enter, mut leave) = (0.0f64, 1.0f64);
        for (towards, room) in edges {
            if towards == 0.0 {
                if room < 0.0 {
                    return None;
                }
            } else if towards < 0.0 {
                enter = enter.max(room / towards);
            } else {
                leave = leave.min(room / towards);
            }
        }
        let point = |part: f64| Dot { x: from.x + part * dx, y: from.y + part * dy };
        (enter <= leave).then(|| (point(enter), point(leave)))
    }

    /// Draws a circle of a radius in dots.
    pub fn circle(&mut self, centre: Dot, radius: f64, stroke: Stroke) {
        self.arc(centre, radius, 0.0, TAU, stroke);
    }

    /// Draws an arc: angles in radians clockwise from up.
    pub fn arc(&mut self, centre: Dot, radius: f64, from: f64, sweep: f64, stroke: Stroke) {
        if radius.is_finite() && radius >= 0.5 && !self.misses(centre, radius) {
            // A chord stays within a third of a dot of its arc.
            let pieces = (sweep.abs() * (radius / 2.0).sqrt() * 1.1).ceil().clamp(8.0, 2000.0);
            let points = (0..=pieces as u32).map(|i| {
                let (sin, cos) = (from + sweep * f64::from(i) / pieces).sin_cos();
                Dot { x: centre.x + radius * sin, y: centre.y - radius * cos }
            });
            self.path(points, stroke);
        }
    }

    /// Whether a circle passes the picture by, or holds it inside.
    fn misses(&self, centre: Dot, radius: f64) -> bool {
        let (width, height) = (self.width(), self.height());
        let off = |value: f64, most: f64| (value - value.clamp(0.0, most)).abs();
        let nearest = off(centre.x, width).hypot(off(centre.y, height));
        let far = |value: f64, most: f64| value.abs().max((most - value).abs());
        let farthest = far(centre.x, width).hypot(far(centre.y, height));
        nearest > radius + 1.0 || farthest < radius - 1.0
    }

    /// Draws an ellipse: half axes in dots, the long axis in radians clockwise from up.
    pub fn ellipse(&mut self, centre: Dot, long: f64, short: f64, axis: f64, stroke: Stroke) {
        if !short.is_finite() || !(1.0..=1e7).contains(&long) {
            return;
        }
        let (sin, cos) = axis.sin_cos();
        let pieces = (TAU * (long / 2.0).sqrt() * 1.1).ceil().clamp(16.0, 2000.0);
        let points = (0..=pieces as u32).map(|i| {
            let (across, along) = (TAU * f64::from(i) / pieces).sin_cos();
            let (along, across) = (along * long, across * short);
            Dot {
                x: centre.x + along * sin + across * cos,
                y: centre.y - along * cos + across * sin,
            }
        });
        self.path(points, stroke);
    }

    /// The character and ink of a cell.
    pub fn cell(&self, column: usize, row: usize, drawing: Drawing) -> (char, Ink) {
        let cell = self.cells.get(row * self.columns + column).copied().unwrap_or_default();
        if cell.lines != 0 {
            (drawing.of_dots(cell.lines), cell.ink)
        } else if cell.land != 0 {
            (drawing.of_land(cell.land), Ink::Land)
        } else {
            (' ', Ink::Blank)
        }
    }

    /// What is drawn over all else in a cell.
    pub fn ink(&self, column: usize, row: usize) -> Ink {
        self.cell(column, row, Drawing::Braille).1
    }

    /// The middle of the first dot of land in a cell, where it has one.
    pub fn land_dot(&self, column: usize, row: usize) -> Option<Dot> {
        let cell = self.cells.get(row * self.columns + column)?;
        let mut dots = (0..DOTS_ACROSS).flat_map(|x| (0..DOTS_DOWN).map(move |y| (x, y)));
        let (x, y) = dots.find(|(x, y)| cell.land & bit(*x, *y) != 0)?;
        Some(Dot {
            x: (column * DOTS_ACROSS + x) as f64 + 0.5,
            y: (row * DOTS_DOWN + y) as f64 + 0.5,
        })
    }

    /// The picture as lines of text.
    #[cfg(test)]
    pub fn text(&self) -> Vec<String> {
        (0..self.rows)
            .map(|row| {
                (0..self.columns).map(|column| self.cell(column, row, Drawing::Braille).0).collect()
            })
            .collect()
    }
}

/// The bit of a dot in a braille pattern (Unicode 17, block Braille Patterns, U+2800).
fn bit(x: usize, y: usize) -> u8 {
    const BITS: [[u8; DOTS_DOWN]; DOTS_ACROSS] =
        [[0x01, 0x02, 0x04, 0x40], [0x08, 0x10, 0x20, 0x80]];
    BITS.get(x).and_then(|column| column.get(y)).copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dot(x: f64, y: f64) -> Dot {
        Dot { x, y }
    }

    #[test]
    fn dots_are_those_of_the_braille_block() {
        // Unicode names the patterns by their dots: U+2801 is dot 1 (upper left), U+2880 dot 8
        // (lower right), U+28FF all eight.
        let mut raster = Raster::new(3, 1);
        raster.dot(0, 0, Ink::Coast);
        raster.dot(3, 3, Ink::Coast);
        for y in 0..4 {
            raster.line(dot(4.0, f64::from(y)), dot(5.0, f64::from(y)), Stroke::solid(Ink::Fix));
        }
        assert_eq!(raster.text(), ["\u{2801}\u{2880}\u{28ff}"]);
    }

    #[test]
    fn lines_from_far_outside_cost_nothing_and_hit_the_same_dots() {
        let mut near = Raster::new(4, 2);
        near.line(dot(0.0, 4.0), dot(7.9, 4.0), Stroke::solid(Ink::Coast));
        let mut far = Raster::new(4, 2);
        far.line(dot(-1e9, 4.0), dot(1e9, 4.0), Stroke::solid(Ink::Coast));
        assert_eq!(near.text(), far.text());
        far.line(dot(f64::NAN, 0.0), dot(1.0, f64::INFINITY), Stroke::solid(Ink::Coast));
        far.line(dot(-5.0, -5.0), dot(-1.0, 100.0), Stroke::solid(Ink::Coast));
        assert_eq!(near.text(), far.text());
    }

    #[test]
    fn a_line_hides_the_land_of_its_cell_and_the_higher_ink_wins() {
        let mut raster = Raster::new(2, 1);
        raster.land(dot(0.0, 0.0));
        raster.land(dot(2.0, 0.0));
        raster.dot(1, 1, Ink::Ring);
        raster.dot(1, 2, Ink::Fix);
        raster.dot(1, 3, Ink::Coast);
        assert_eq!(raster.cell(0, 0, Drawing::Braille), ('\u{28b0}', Ink::Fix));
        assert_eq!(raster.cell(1, 0, Drawing::Braille), ('\u{2801}', Ink::Land));
        assert_eq!(raster.cell(9, 9, Drawing::Braille), (' ', Ink::Blank));
    }

    #[test]
    fn a_circle_is_round_in_dots() {
        let mut raster = Raster::new(10, 5);
        raster.circle(dot(10.0, 10.0), 8.0, Stroke::solid(Ink::Ring));
        let (mut least, mut most) = (f64::MAX, 0.0f64);
        for row in 0..5 {
            for column in 0..10 {
                let bits = raster.cells[row * 10 + column].lines;
                for x in 0..2 {
                    for y in 0..4 {
                        if bits & bit(x, y) != 0 {
                            let (dx, dy) = (
                                (column * 2 + x) as f64 + 0.5 - 10.0,
                                (row * 4 + y) as f64 + 0.5 - 10.0,
                            );
                            least = least.min(dx.hypot(dy));
                            most = most.max(dx.hypot(dy));
                        }
                    }
                }
            }
        }
        assert!(least > 7.0 && most < 9.0, "{least} to {most}");
    }

    #[test]
    fn dashes_leave_gaps() {
        let mut raster = Raster::new(4, 1);
        raster.line(dot(0.0, 0.0), dot(7.0, 0.0), Stroke::dashed(Ink::Ring, 1, 1));
        assert_eq!(raster.text(), ["\u{2801}\u{2801}\u{2801}\u{2801}"]);
    }
}
