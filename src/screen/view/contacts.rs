use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::{cells, heading, put, shortened};
use crate::fix::{Fix, Residual};
use crate::screen::state::State;
use crate::screen::wording;
use crate::units::METRES_PER_NAUTICAL_MILE;
use crate::watch::{Held, Is, words};

/// A standardised residual beyond this is pointed at: one in four hundred by chance.
const LARGE: f64 = 3.0;

/// From this width on a contact takes one line.
const WIDE: u16 = 50;

/// Cells of the two residuals at the right.
const LEFT_OVER: u16 = 15;

/// What is each echo: as measured, what it was taken for, and what is left of it.
pub(super) fn draw(state: &State, area: Rect, buffer: &mut Buffer) {
    let contacts = state.watch.contacts();
    let wide = area.width >= WIDE;
    let area = heading(state, area, buffer, "WHAT EACH ECHO IS", &format!("{} in", contacts.len()));
    let columns = if wide { "    range bearing time     is" } else { "    range bearing" };
    put(buffer, area.x, area.y, columns, area.width, state.theme.quiet());
    let off = "off NM     °";
    put(buffer, area.right() - cells(off) - 1, area.y, off, cells(off), state.theme.quiet());
    if contacts.is_empty() {
        let hint = "none yet: type one, like 17.3 042";
        put(buffer, area.x, area.y + 1, hint, area.width, state.theme.text());
        return;
    }
    let each: u16 = if wide { 1 } else { 2 };
    let all = usize::from(area.height.saturating_sub(1) / each).max(1);
    // Where not all fit, a line says so.
    let cut = contacts.len() > all;
    let room = if cut { usize::from(area.height.saturating_sub(2) / each).max(1) } else { all };
    let selected = state.selected.as_ref().and_then(|label| state.watch.find(label));
    let last = contacts.len().saturating_sub(room);
    let first = selected.map_or(last, |at| at.saturating_sub(room / 2).min(last));
    for (row, held) in contacts.iter().skip(first).take(room).enumerate() {
        let y = area.y + 1 + row as u16 * each;
        let chosen = selected == Some(first + row);
        Row { state, held, chosen }.draw(Rect { y, height: each, ..area }, buffer, wide);
    }
    if cut {
        let told = format!("{} to {} of {}: Tab", first + 1, first + room, contacts.len());
        put(buffer, area.x, area.bottom() - 1, &told, area.width, state.theme.doubt());
    }
}

struct Row<'a> {
    state: &'a State,
    held: &'a Held,
    chosen: bool,
}

impl Row<'_> {
    fn draw(&self, area: Rect, buffer: &mut Buffer, wide: bool) {
        let theme = self.state.theme;
        let base = if self.chosen { theme.selected() } else { theme.text() };
        let (range, bearing) = wording::measured(&self.held.entry);
        let pointer = if self.chosen { '>' } else { ' ' };
        let label = shortened(&self.held.contact.label, 2);
        let start = format!("{pointer}{label:<2}{range:>6} {bearing:>7}");
        put(buffer, area.x, area.y, &start, area.width, base);
        if self.state.watch.is_off_another_heading(self.held) {
            put(buffer, area.x + cells(&start), area.y, "!", 1, theme.wrong());
        }
        let (mark, style) = self.mark();
        let (range, bearing, large) = self.left_over();
        let warning = if large { '!' } else { ' ' };
        let left = format!("{range:>8} {bearing:>5}{warning}");
        let left_style = if large { theme.wrong() } else { base };
        let left_x = area.right().saturating_sub(LEFT_OVER);
        put(buffer, left_x, area.y, &left, LEFT_OVER, left_style);
        if wide {
            let time = words::clock(self.held.contact.time);
            put(buffer, area.x + 18, area.y, &time, 8, theme.quiet());
            let room = area.width.saturating_sub(27 + LEFT_OVER);
            put(buffer, area.x + 27, area.y, &shortened(&mark, room), room, style);
        } else {
            let room = area.width.saturating_sub(4);
            put(buffer, area.x + 4, area.y + 1, &shortened(&mark, room), room, style);
        }
    }

    fn fix(&self) -> Option<&Fix> {
        self.state.answer().filter(|_| self.state.is_current()).map(|answer| &answer.fix)
    }

    /// What the contact is, how sure that is, and the operator's own word where it differs.
    fn mark(&self) -> (String, Style) {
        let theme = self.state.theme;
        let yours = |given: Option<&str>| given.map(|mark| format!("you: {mark}"));
        let given = self.held.entry.mark.as_deref();
        let Some(fix) = self.fix() else {
            return match self.state.watch.left_out(self.held) {
                Some(why) => (words::left_out(&why), theme.doubt()),
                None => (yours(given).unwrap_or_default(), theme.quiet()),
            };
        };
        let told = self.state.watch.told_of(self.held, fix);
        match &told.is {
            Is::LeftOut(why) => (words::left_out(why), theme.doubt()),
            Is::Mark { mark, probability } => {
                let sure = wording::whole_percent(*probability);
                match told.wrong_name() {
                    Some(name) => (format!("{sure} {mark}, not {name}"), theme.wrong()),
                    None => (format!("{sure} {mark}"), theme.fixed()),
                }
            }
            Is::Unexplained { .. } => ("no charted mark explains it".to_owned(), theme.doubt()),
            Is::NotKnown => (yours(given).unwrap_or_else(|| "not known".to_owned()), theme.quiet()),
        }
    }

    /// Measured less expected, and whether it is too much.
    fn left_over(&self) -> (String, String, bool) {
        let none = || "—".to_owned();
        let residual = self
            .fix()
            .and_then(|fix| fix.residuals.iter().find(|r| r.contact == self.held.contact.label));
        let Some(residual) = residual else { return (none(), none(), false) };
        let range = residual
            .range_m
            .map_or_else(none, |metres| format!("{:+.2}", metres / METRES_PER_NAUTICAL_MILE));
        let bearing = residual.bearing.map_or_else(none, |b| format!("{:+.1}", b.degrees()));
        (range, bearing, is_large(residual))
    }
}

fn is_large(residual: &Residual) -> bool {
    residual.standardised.iter().any(|w| w.abs() > LARGE)
}
