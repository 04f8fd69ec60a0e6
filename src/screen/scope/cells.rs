use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Style};

use crate::paint::SHOWS_LIGHT;
use crate::screen::chart_panel::Ink;
use crate::screen::theme::{Shade, Theme};

/// A picture of square pixels, two to a character cell, one above the other.
pub(super) struct Pixels {
    across: usize,
    down: usize,
    shades: Vec<Shade>,
}

impl Pixels {
    /// Dark, to fill a place.
    pub fn new(area: Rect) -> Self {
        let (across, down) = (usize::from(area.width), 2 * usize::from(area.height));
        Self { across, down, shades: vec![Shade::Light(0.0); across * down] }
    }

    /// Gives each pixel its light; places are those of pixels' middles.
    pub fn fill(&mut self, light: impl Fn(f64, f64) -> Option<f64>) {
        for (i, shade) in self.shades.iter_mut().enumerate() {
            let (x, y) = (i % self.across.max(1), i / self.across.max(1));
            if let Some(light) = light(x as f64 + 0.5, y as f64 + 0.5) {
                *shade = Shade::Light(light);
            }
        }
    }

    /// Marks a pixel.
    pub fn mark(&mut self, (x, y): (f64, f64), ink: Ink) {
        if x < 0.0 || y < 0.0 {
            return;
        }
        let (x, y) = (x as usize, y as usize);
        let inside = x < self.across && y < self.down;
        let place = self.shades.get_mut(y * self.across + x);
        // A ring goes behind an echo that shows.
        let behind = |shade: &Shade| {
            ink == Ink::Ring && matches!(shade, Shade::Light(l) if *l > SHOWS_LIGHT)
        };
        if let Some(shade) = place.filter(|shade| inside && !behind(shade)) {
            *shade = Shade::Ink(ink);
        }
    }

    /// Marks pixels along a line, each third left out.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), ink: Ink) {
        let steps = (to.0 - from.0).abs().max((to.1 - from.1).abs()).ceil().max(1.0);
        for step in (0..=steps as usize).filter(|step| step % 3 != 2) {
            let share = step as f64 / steps;
            self.mark((from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1)), ink);
        }
    }

    /// Marks pixels around a centre, `gap` of each `gap + 1` left out.
    pub fn circle(&mut self, centre: (f64, f64), radius: f64, ink: Ink, gap: usize) {
        let count = (std::f64::consts::TAU * radius).ceil().max(8.0) as usize;
        for step in (0..count).step_by(gap + 1) {
            let (sin, cos) = (std::f64::consts::TAU * step as f64 / count as f64).sin_cos();
            self.mark((centre.0 + radius * sin, centre.1 - radius * cos), ink);
        }
    }

    /// Draws it.
    pub fn draw(&self, theme: Theme, area: Rect, buffer: &mut Buffer) {
        let at = |x: usize, y: usize| {
            self.shades.get(y * self.across + x).copied().unwrap_or(Shade::Light(0.0))
        };
        for row in 0..area.height {
            for column in 0..area.width {
                let (x, y) = (usize::from(column), 2 * usize::from(row));
                let (symbol, style) = theme.two_pixels(at(x, y), at(x, y + 1));
                if let Some(cell) = buffer.cell_mut((area.x + column, area.y + row)) {
                    cell.set_char(symbol).set_style(style);
                }
            }
        }
    }
}

/// Writes text into a panel at a column and row of its own, from the left edge on where the column
/// lies before it; what runs past the right edge is cut off.
pub(super) fn write(
    buffer: &mut Buffer,
    area: Rect,
    (column, row): (i32, i32),
    text: &str,
    style: Style,
) {
    let (Ok(column), Ok(row)) = (u16::try_from(column.max(0)), u16::try_from(row)) else { return };
    if column < area.width && row < area.height {
        let room = usize::from(area.width - column);
        // Words stand on the ground of the display, not on an echo: on a bright one they would be lost.
        let style = if style.fg.is_some() { style.bg(Color::Black) } else { style };
        buffer.set_stringn(area.x + column, area.y + row, text, room, style);
    }
}
