use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::cells::{Pixels, write};
use super::{Ask, by_night, told};
use crate::contact::Contact;
use crate::paint::{Plan, brightness, range_rings};
use crate::screen::chart_panel::Ink;
use crate::screen::plotting;
use crate::screen::state::State;
use crate::units::{Bearing, METRES_PER_NAUTICAL_MILE, SlantRange, True};

/// Pixels left around the picture, for the bearing scale.
const MARGIN: (f64, f64) = (4.0, 2.0);

/// Each pixel is the mean of so many places a side.
const PLACES: usize = 3;

/// Draws a plan picture with the contacts on it.
pub(super) fn draw(state: &State, ask: &Ask, plan: &Plan, area: Rect, buffer: &mut Buffer) {
    let theme = by_night(state);
    let scope = Face::new(state, ask, area);
    let mut pixels = Pixels::new(area);
    pixels.fill(|x, y| scope.light(plan, x, y));
    let rings = range_rings(plan.scale_nm());
    for miles in &rings {
        let radius = miles / plan.scale_nm() * scope.radius;
        pixels.circle(scope.centre, radius, Ink::Ring, 3);
    }
    pixels.circle(scope.centre, scope.radius, Ink::Ring, 0);
    if let Some(heading) = ask.vantage.heading {
        pixels.line(scope.centre, scope.place(heading, scope.radius), Ink::Reckoning);
    }
    for held in state.watch.contacts() {
        scope.contact_lines(state, &held.contact, &mut pixels);
    }
    scope.marker(state, &mut pixels);
    pixels.draw(theme, area, buffer);
    for degrees in (0..360_u32).step_by(30) {
        let bearing = Bearing::wrapped_degrees(f64::from(degrees));
        let (x, y) = scope.place(bearing, scope.radius + 2.5);
        write(buffer, area, cell((x - 1.0, y)), &format!("{degrees:03}"), theme.quiet());
    }
    for miles in rings {
        let y = scope.centre.1 - miles / plan.scale_nm() * scope.radius;
        let text = miles.to_string();
        write(buffer, area, cell((scope.centre.0 + 1.0, y + 1.0)), &text, theme.quiet());
    }
    let off = scope.contact_labels(state, ask, plan, area, buffer);
    let way = scope.way;
    for (row, line) in (0..).zip(told(ask, way)) {
        write(buffer, area, (0, row), &format!("{line} "), theme.quiet());
    }
    if !off.is_empty() {
        let text = format!("off this scale: {}", off.join(" "));
        write(buffer, area, (0, i32::from(area.height) - 1), &text, theme.doubt());
    }
}

/// Where things are in the panel, in pixels.
struct Face {
    centre: (f64, f64),
    radius: f64,
    way: &'static str,
    up: Bearing<True>,
    scale: SlantRange,
}

impl Face {
    fn new(state: &State, ask: &Ask, area: Rect) -> Self {
        let (half_width, half_height) = (0.5 * f64::from(area.width), f64::from(area.height));
        let (up, word) = state.focus.up.of(&state.watch, state.wall);
        Self {
            centre: (half_width, half_height),
            radius: (half_width - MARGIN.0).min(half_height - MARGIN.1).max(4.0),
            way: match word {
                "HDG" => "heading up",
                "TRACK" => "track up",
                _ => "north up",
            },
            up,
            scale: ask.frame.scale,
        }
    }

    fn place(&self, bearing: Bearing<True>, pixels: f64) -> (f64, f64) {
        let (sin, cos) = bearing.minus(self.up).radians().sin_cos();
        (self.centre.0 + pixels * sin, self.centre.1 - pixels * cos)
    }

    /// Slant range, nautical miles, and bearing in the middle of a cell of the panel.
    fn under(&self, (column, row): (u16, u16)) -> Option<(f64, Bearing<True>)> {
        let (x, y) = (f64::from(column) + 0.5, 2.0 * f64::from(row) + 1.0);
        let (right, above) = (x - self.centre.0, self.centre.1 - y);
        let range_nm = right.hypot(above) / self.radius * self.scale.nautical_miles();
        let bearing = Bearing::wrapped(right.atan2(above) + self.up.radians());
        (right.hypot(above) <= self.radius).then_some((range_nm, bearing))
    }

    fn of_range(&self, range: SlantRange) -> f64 {
        range.metres() / self.scale.metres().max(1.0) * self.radius
    }

    /// The operator's own ring and line.
    fn marker(&self, state: &State, pixels: &mut Pixels) {
        let marker = state.scope.marker;
        let scale_nm = self.scale.nautical_miles();
        if let Some(range) = marker.range_nm.filter(|range| *range <= scale_nm) {
            pixels.circle(self.centre, range / scale_nm * self.radius, Ink::Selected, 1);
        }
        if let Some(bearing) = marker.bearing {
            pixels.line(self.centre, self.place(bearing, self.radius), Ink::Selected);
        }
    }

    /// The mean of the powers under a pixel, as light.
    fn light(&self, plan: &Plan, x: f64, y: f64) -> Option<f64> {
        let scale_m = plan.scale_nm() * METRES_PER_NAUTICAL_MILE;
        let step = 1.0 / PLACES as f64;
        let (mut sum, mut count) = (0.0, 0.0);
        for place in 0..PLACES * PLACES {
            let (column, row) = ((place % PLACES) as f64, (place / PLACES) as f64);
            let east = x - 0.5 + (column + 0.5) * step - self.centre.0;
            let north = self.centre.1 - (y - 0.5 + (row + 0.5) * step);
            let range = SlantRange::clamped_metres(east.hypot(north) / self.radius * scale_m);
            let bearing = Bearing::wrapped(east.atan2(north) + self.up.radians());
            if let Some(level) = plan.shown_at(bearing, range) {
                sum += 10f64.powf(f64::from(level) / 10.0);
                count += 1.0;
            }
        }
        (count > 0.0).then(|| brightness(10.0 * (sum / count).log10(), plan.threshold_db()))
    }

    /// A range alone is a circle, a bearing alone a line.
    fn contact_lines(&self, state: &State, contact: &Contact, pixels: &mut Pixels) {
        let ink = plotting::ink(state, contact);
        let bearings = contact.bearings();
        match contact.range {
            Some(range) if bearings.is_empty() && range <= self.scale => {
                pixels.circle(self.centre, self.of_range(range), ink, 1);
            }
            None => {
                for (bearing, _) in bearings {
                    pixels.line(self.centre, self.place(bearing, self.radius), ink);
                }
            }
            Some(_) => {}
        }
    }

    /// Names the contacts where they are; gives back those that are off the scale.
    fn contact_labels(
        &self,
        state: &State,
        ask: &Ask,
        plan: &Plan,
        area: Rect,
        buffer: &mut Buffer,
    ) -> Vec<String> {
        let mut off = Vec::new();
        for held in state.watch.contacts() {
            let contact = &held.contact;
            let style = by_night(state).of(plotting::ink(state, contact));
            let mut put = |at: (f64, f64), sign: &str| {
                write(buffer, area, cell(at), &format!("{sign}{}", contact.label), style);
            };
            let places = plotting::on_the_screen(state, contact, ask.vantage.position);
            if places.is_empty() {
                match (contact.range, contact.bearings().first()) {
                    (None, Some((bearing, _))) => put(self.place(*bearing, 0.7 * self.radius), ""),
                    (Some(range), _) if range <= self.scale => {
                        put(self.place(Bearing::wrapped_degrees(45.0), self.of_range(range)), "");
                    }
                    _ => off.push(contact.label.clone()),
                }
            }
            for (bearing, range) in places {
                if plan.cell_at(bearing, range).is_some() {
                    put(self.place(bearing, self.of_range(range)), "×");
                } else {
                    off.push(contact.label.clone());
                }
            }
        }
        off.dedup();
        off
    }
}

/// Slant range, nautical miles, and bearing under a cell of the panel; none past the edge of the scale.
pub(super) fn under(
    state: &State,
    ask: &Ask,
    area: Rect,
    at: (u16, u16),
) -> Option<(f64, Bearing<True>)> {
    Face::new(state, ask, area).under(at)
}

/// The character cell that holds a pixel.
fn cell((x, y): (f64, f64)) -> (i32, i32) {
    (x.floor() as i32, (0.5 * y).floor() as i32)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A character is one pixel wide and two high: what stands in its middle is less than that away.
    #[test]
    fn a_click_reads_where_a_contact_there_would_be_drawn() {
        for up in [0.0, 74.0, 300.0] {
            let face = Face {
                centre: (30.0, 30.0),
                radius: 26.0,
                way: "north up",
                up: Bearing::wrapped_degrees(up),
                scale: SlantRange::clamped_metres(50.0 * METRES_PER_NAUTICAL_MILE),
            };
            for (range_nm, degrees) in [(10.0, 5.0), (25.0, 118.0), (40.0, 200.0), (45.0, 355.0)] {
                let range = SlantRange::clamped_metres(range_nm * METRES_PER_NAUTICAL_MILE);
                let bearing = Bearing::wrapped_degrees(degrees);
                let place = face.place(bearing, face.of_range(range));
                let (column, row) = cell(place);
                let read = face.under((column as u16, row as u16)).unwrap();
                let again = face.place(
                    read.1,
                    face.of_range(SlantRange::clamped_metres(read.0 * METRES_PER_NAUTICAL_MILE)),
                );
                assert!((again.0 - place.0).abs() <= 0.5, "{range_nm} {degrees} {up}: {read:?}");
                assert!((again.1 - place.1).abs() <= 1.0, "{range_nm} {degrees} {up}: {read:?}");
            }
            assert_eq!(face.under((0, 0)), None);
        }
    }
}
