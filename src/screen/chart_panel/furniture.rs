use std::f64::consts::PI;

use ratatui::buffer::Buffer;

use super::labels::{self, At, Labels};
use super::overlay::{Picture, cell, miles};
use super::raster::{DOTS_ACROSS, Dot};
use crate::geodesy::Position;
use crate::screen::drill;
use crate::screen::view::shortened;
use crate::screen::work::Stand;
use crate::units::Bearing;

impl Picture<'_> {
    /// Scale bar, north arrow, ring distances, and what the contacts are drawn from.
    pub fn furniture(&self, text: &mut Labels<'_>, buffer: &mut Buffer) {
        let theme = self.state.theme;
        let (width, height) = (i32::from(self.area.width), i32::from(self.area.height));
        let (up, word) = self.state.focus.up.of(&self.state.watch, self.state.wall);
        let told = if word == "N" {
            "N".to_owned()
        } else {
            format!("{word} {:03.0} UP  N", up.degrees())
        };
        let north = At { column: width - 1 - labels::width(&told), row: 0 };
        text.write(buffer, self.area, north, &told, theme.heading());
        let arrow = arrow_to(self.port.angle(Bearing::ZERO)).to_string();
        let below = At { column: width - 2, row: 1 };
        text.write(buffer, self.area, below, &arrow, theme.heading());
        let room = self.area.width.saturating_sub(5 + labels::width(&told) as u16).min(44);
        let said = self.state.parts.said();
        let (said, style) = match said {
            _ if self.state.is_coast_at_hand(&self.port) => {
                (said.unwrap_or_else(|| self.state.chart.name().to_owned()), theme.quiet())
            }
            // An empty sea that may be none is never shown without a word.
            Some(said) => (said, theme.doubt()),
            None => ("THE COAST IS NOT ALL TAKEN IN HERE".to_owned(), theme.doubt()),
        };
        text.write(buffer, self.area, At { column: 1, row: 0 }, &shortened(&said, room), style);
        let step = ring_step(self.port.span_nm());
        let cells = (self.port.dots(miles(step)) / DOTS_ACROSS as f64).round().max(2.0) as usize;
        if cells < usize::from(self.area.width) {
            let bar = format!("├{}┤ {}", "─".repeat(cells.saturating_sub(2)), nm(step));
            text.write(buffer, self.area, At { column: 1, row: height - 1 }, &bar, theme.text());
        }
        if let Some((stand, kind)) = self.stand() {
            let told = match kind {
                Stand::Fix => "echoes from the fix",
                Stand::MostProbable => "echoes from the likeliest place",
                Stand::Reckoning => "echoes from the reckoning",
            };
            let told = if drill::places(self.state).is_some() { "echoes from TRUE" } else { told };
            if self.state.watch.has_measured() {
                let column = width - labels::width(told) - 1;
                let at = At { column, row: height - 1 };
                text.write(buffer, self.area, at, told, theme.quiet());
            }
            self.ring_labels(text, buffer, stand, step);
        }
    }

    /// Each ring's distance, where the ring is crossed by the line to the lower right.
    fn ring_labels(
        &self,
        labels: &mut Labels<'_>,
        buffer: &mut Buffer,
        stand: Position,
        step: f64,
    ) {
        let centre = self.port.dot(stand);
        for number in 1..=6 {
            let distance = step * f64::from(number);
            let radius = self.port.dots(miles(distance));
            let (sin, cos) = (0.75 * PI).sin_cos();
            let at = cell(Dot { x: centre.x + radius * sin, y: centre.y - radius * cos });
            let text = plain(distance);
            labels.write(buffer, self.area, at, &text, self.state.theme.quiet());
        }
    }
}

/// An arrow of eight that points most nearly this way: radians clockwise from up.
fn arrow_to(angle: f64) -> char {
    const ARROWS: [char; 8] = ['↑', '↗', '→', '↘', '↓', '↙', '←', '↖'];
    let eighth = (angle / (0.25 * PI)).round().rem_euclid(8.0) as usize;
    ARROWS.get(eighth).copied().unwrap_or('↑')
}

/// A step of 1, 2 or 5 times a power of ten, about a fifth of the span.
pub(super) fn ring_step(span_nm: f64) -> f64 {
    let wanted = (span_nm / 4.0).max(1e-3);
    let decade = 10f64.powf(wanted.log10().floor());
    [5.0, 2.0, 1.0]
        .into_iter()
        .map(|m| m * decade)
        .find(|step| *step <= wanted * 1.001)
        .unwrap_or(decade)
}

fn plain(distance: f64) -> String {
    format!("{}", (distance * 1000.0).round() / 1000.0)
}

fn nm(distance: f64) -> String {
    format!("{} NM", plain(distance))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rings_stand_at_round_steps() {
        for (span, step) in [(4.0, 1.0), (40.0, 10.0), (30.0, 5.0), (100.0, 20.0), (0.5, 0.1)] {
            assert!((ring_step(span) - step).abs() < 1e-9, "{span}: {}", ring_step(span));
        }
        assert_eq!((nm(10.0), nm(0.2)), ("10 NM".to_owned(), "0.2 NM".to_owned()));
    }
}
