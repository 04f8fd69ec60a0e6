use std::collections::BTreeMap;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::cells::write;
use super::{Ask, by_night, told};
use crate::contact::Contact;
use crate::paint::{Trace, TraceSide, range_rings};
use crate::screen::chart_panel::Ink;
use crate::screen::plotting;
use crate::screen::state::State;
use crate::units::{METRES_PER_NAUTICAL_MILE, SlantRange};

/// Columns to the left, for the range scale, and to the right, for the contacts.
const MARGIN: (i32, i32) = (5, 10);

/// Rows above the trace: what it shows, and its two sides.
const HEAD: i32 = 3;

/// Draws a range trace, range upward, with the contacts beside it.
pub(super) fn draw(state: &State, ask: &Ask, trace: &Trace, area: Rect, buffer: &mut Buffer) {
    let theme = by_night(state);
    let face = Face::new(trace, area);
    for (row, line) in (0..).zip(told(ask, "range trace")) {
        write(buffer, area, (0, row), &line, theme.quiet());
    }
    // Each ends, or begins, a cell from the axis.
    write(buffer, area, (face.axis - 5, HEAD - 1), "port", theme.heading());
    write(buffer, area, (face.axis + 2, HEAD - 1), "starboard", theme.heading());
    for row in HEAD..face.foot {
        let bins = face.bins(row);
        let strongest = |side: &TraceSide| {
            bins.clone().map(|bin| side.deflection(bin)).fold(0.0, f32::max) / face.full
        };
        let out = |side: &TraceSide| (f64::from(strongest(side)).min(1.0) * face.half).round();
        let style = theme.of(Ink::Coast);
        let (port, starboard) = (out(trace.port()) as i32, out(trace.starboard()) as i32);
        let bar = |cells: i32| "█".repeat(cells.max(0) as usize);
        write(buffer, area, (face.axis - port, row), &bar(port), style);
        write(buffer, area, (face.axis + 1, row), &bar(starboard), style);
        write(buffer, area, (face.axis, row), "│", theme.quiet());
    }
    for miles in std::iter::once(0.0).chain(range_rings(trace.scale_nm())) {
        let text = format!("{miles:>4}");
        write(buffer, area, (0, face.row(miles)), &text, theme.of(Ink::Reckoning));
        write(buffer, area, (MARGIN.0 - 1, face.row(miles)), "┤", theme.of(Ink::Reckoning));
    }
    if let Some(range) = state.scope.marker.range_nm.filter(|range| *range <= face.scale_nm) {
        let line = "-".repeat((2.0 * face.half) as usize + 1);
        write(buffer, area, (MARGIN.0, face.row(range)), &line, theme.selected());
    }
    contacts(state, ask, &face, area, buffer);
}

/// Slant range in the middle of a row of the panel, nautical miles; none off the trace.
pub(super) fn under(trace: &Trace, area: Rect, (_, row): (u16, u16)) -> Option<f64> {
    Face::new(trace, area).under(i32::from(row))
}

/// Each contact with a range, at its range, with its deflections as they were read; those that share
/// a row by their letters. What finds no room is named at the foot.
fn contacts(state: &State, ask: &Ask, face: &Face, area: Rect, buffer: &mut Buffer) {
    let room = MARGIN.1 as usize - 2;
    let mut off = Vec::new();
    let mut rows: BTreeMap<i32, Vec<&Contact>> = BTreeMap::new();
    for held in state.watch.contacts() {
        // Carried to now where its bearing tells how.
        let places = plotting::on_the_screen(state, &held.contact, ask.vantage.position);
        let now = places.first().map(|(_, range)| *range);
        match now.or(held.contact.range).map(SlantRange::nautical_miles) {
            Some(miles) if miles <= face.scale_nm => {
                rows.entry(face.row(miles)).or_default().push(&held.contact);
            }
            _ => off.push(held.contact.label.clone()),
        }
    }
    for (row, contacts) in rows {
        let mut text = String::new();
        for contact in &contacts {
            let more = if contacts.len() == 1 { said(contact) } else { contact.label.clone() };
            if text.chars().count() + 1 + more.chars().count() > room && !text.is_empty() {
                off.push(contact.label.clone());
            } else {
                text = format!("{text} {more}");
            }
        }
        let inks = contacts.iter().map(|contact| plotting::ink(state, contact));
        let style = by_night(state).of(inks.max().unwrap_or(Ink::Contact));
        let column = face.width - MARGIN.1 + 1;
        write(buffer, area, (column, row), &format!("◄{}", text.trim_start()), style);
    }
    if !off.is_empty() {
        let text = format!("not on this trace: {}", off.join(" "));
        write(buffer, area, (0, i32::from(area.height) - 1), &text, by_night(state).doubt());
    }
}

fn said(contact: &Contact) -> String {
    match &contact.lobes {
        Some(read) => {
            format!("{} {}/{}", contact.label, read.deflections.port, read.deflections.starboard)
        }
        None => contact.label.clone(),
    }
}

/// Where things are in the panel.
struct Face {
    axis: i32,
    foot: i32,
    width: i32,
    half: f64,
    full: f32,
    scale_nm: f64,
    bins: usize,
    bin_m: f64,
}

impl Face {
    fn new(trace: &Trace, area: Rect) -> Self {
        let width = i32::from(area.width);
        let half = 0.5 * f64::from(width - MARGIN.0 - MARGIN.1 - 1);
        Self {
            axis: MARGIN.0 + half.floor() as i32,
            foot: i32::from(area.height) - 1,
            width,
            half: half.floor().max(1.0),
            full: trace.full_deflection(),
            scale_nm: trace.scale_nm(),
            bins: trace.frame().bins,
            bin_m: trace.frame().bin_m(),
        }
    }

    fn rows(&self) -> f64 {
        f64::from((self.foot - HEAD).max(1))
    }

    /// The row that a range stands in.
    fn row(&self, miles: f64) -> i32 {
        let up = (miles / self.scale_nm * self.rows()).floor() as i32;
        (self.foot - 1 - up).max(HEAD)
    }

    /// The range in the middle of a row, nautical miles.
    fn under(&self, row: i32) -> Option<f64> {
        let up = (f64::from(self.foot - row) - 0.5) / self.rows();
        (HEAD..self.foot).contains(&row).then_some(up * self.scale_nm)
    }

    /// The cells of range in a row.
    fn bins(&self, row: i32) -> std::ops::Range<usize> {
        let edge = |row: i32| {
            let share = f64::from(self.foot - row) / self.rows();
            let range =
                SlantRange::clamped_metres(share * self.scale_nm * METRES_PER_NAUTICAL_MILE);
            ((range.metres() / self.bin_m).round() as usize).min(self.bins)
        };
        edge(row + 1)..edge(row)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_click_reads_the_range_of_the_row_it_is_on() {
        let face = Face {
            axis: 30,
            foot: 27,
            width: 60,
            half: 22.0,
            full: 1.0,
            scale_nm: 30.0,
            bins: 300,
            bin_m: 185.2,
        };
        // 24 rows of a mile and a quarter each.
        for row in HEAD..face.foot {
            let read = face.under(row).unwrap();
            assert_eq!(face.row(read), row, "{read}");
            assert!((read - (f64::from(26 - row) + 0.5) * 1.25).abs() < 1e-9, "{row}: {read}");
        }
        assert_eq!((face.under(HEAD - 1), face.under(face.foot)), (None, None));
    }
}
