//! Drawing: reads the state, changes nothing.

mod advice;
mod along;
mod contacts;
mod entry;
mod expected;
mod help;
mod page;
mod palette;
mod tour;
mod verdict;

use std::borrow::Cow;

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect, Size};
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Widget, Wrap};

use super::chart_panel;
use super::drill;
use super::layout::{LEAST_COLUMNS, LEAST_ROWS};
use super::scope;
use super::state::{Panel, State};
use crate::text::is_plain;

/// Draws the whole display.
pub fn view(state: &State, frame: &mut Frame<'_>) {
    let area = frame.area();
    let buffer = frame.buffer_mut();
    buffer.set_style(area, state.theme.ground());
    let size = Size::new(area.width, area.height);
    let Some(layout) = state.layout(size) else {
        too_small(state, area, buffer);
        cover(buffer);
        state.theme.drawing().spell(area, buffer);
        return;
    };
    verdict::draw(state, layout.verdict, buffer);
    if layout.picture != Some(layout.chart) {
        chart_panel::draw(state, layout.chart, buffer);
    }
    if let Some(place) = layout.picture {
        scope::draw(state, place, buffer);
    }
    rule(state, layout.rule, buffer);
    for (panel, place) in &layout.panels {
        match panel {
            Panel::Contacts => contacts::draw(state, *place, buffer),
            Panel::Expected => expected::draw(state, *place, buffer),
            Panel::Advice => advice::draw(state, *place, buffer),
            Panel::Along => along::draw(state, *place, buffer),
        }
    }
    tour::draw(state, layout.tour, buffer);
    let cursor = entry::draw(state, layout.entry, buffer);
    entry::draw_foot(state, layout.foot, buffer);
    if let Some((practice, (page, scrolled))) =
        state.practice.as_ref().and_then(|practice| Some((practice, practice.page?)))
    {
        let rows = drill::rows(practice, page, layout.body().width);
        page::draw(state, &rows, scrolled, layout.body(), buffer);
    }
    if let Some(scrolled) = state.help {
        help::draw(state, scrolled, layout.body(), buffer);
    } else if let Some(palette) = &state.palette {
        palette::draw(state, palette, layout.body(), buffer);
    }
    cover(frame.buffer_mut());
    state.theme.drawing().spell(area, frame.buffer_mut());
    frame.set_cursor_position(Position { x: cursor.0, y: cursor.1 });
}

/// Whatever names and notes were drawn, no cell is left that a terminal would act on.
fn cover(buffer: &mut Buffer) {
    for cell in &mut buffer.content {
        if !is_plain(cell.symbol()) {
            cell.set_char(char::REPLACEMENT_CHARACTER);
        }
    }
}

fn too_small(state: &State, area: Rect, buffer: &mut Buffer) {
    let size =
        format!("{} × {} of at least {LEAST_COLUMNS} × {LEAST_ROWS}", area.width, area.height);
    let drill = state.practice.as_ref().map_or("", |_| "DRILL  ");
    let told = vec![
        Line::from(Span::styled(format!("{drill}This screen is too small"), state.theme.wrong())),
        Line::from(size),
        Line::from("Nothing is lost. Make it larger, or q to leave."),
    ];
    Paragraph::new(told).wrap(Wrap { trim: true }).render(area, buffer);
}

fn rule(state: &State, area: Rect, buffer: &mut Buffer) {
    for y in area.top()..area.bottom() {
        put(buffer, area.x, y, "│", 1, state.theme.quiet());
    }
}

/// Writes text no wider than `width` cells.
fn put(buffer: &mut Buffer, x: u16, y: u16, text: &str, width: u16, style: Style) {
    buffer.set_stringn(x, y, text, usize::from(width), style);
}

/// A text for so many cells; one that is cut ends in `…`, so that nobody takes it for all that there is.
pub(super) fn shortened(text: &str, room: u16) -> Cow<'_, str> {
    if cells(text) <= room {
        return Cow::Borrowed(text);
    }
    if room == 0 {
        return Cow::Borrowed("");
    }
    let (mut kept, mut width) = (String::new(), 1);
    for c in text.chars() {
        width += cells(c.encode_utf8(&mut [0; 4]));
        if width > room {
            break;
        }
        kept.push(c);
    }
    Cow::Owned(kept + "…")
}

/// A panel's heading, with something to the right of it; returns what is left below.
fn heading(state: &State, area: Rect, buffer: &mut Buffer, title: &str, right: &str) -> Rect {
    put(buffer, area.x, area.y, title, area.width, state.theme.heading());
    let width = cells(right);
    if cells(title) + 1 + width <= area.width {
        put(buffer, area.right() - width, area.y, right, width, state.theme.quiet());
    }
    Rect { y: area.y + 1, height: area.height.saturating_sub(1), ..area }
}

/// The width of a text in cells.
fn cells(text: &str) -> u16 {
    u16::try_from(Span::raw(text).width()).unwrap_or(u16::MAX)
}

/// Lines into a place, wrapped; where some do not fit, that is said.
fn lines(state: &State, area: Rect, buffer: &mut Buffer, lines: Vec<Line<'_>>) {
    let paragraph = Paragraph::new(lines).wrap(Wrap { trim: false });
    // Drawn into a taller buffer first: the widget's own wrapping decides what fits.
    let tall = Rect::new(0, 0, area.width, area.height + 1);
    let mut drawn = Buffer::empty(tall);
    (&paragraph).render(tall, &mut drawn);
    let below = (0..tall.width)
        .any(|x| drawn.cell((x, area.height)).is_some_and(|cell| cell.symbol() != " "));
    paragraph.render(area, buffer);
    if below && area.height > 0 {
        let told = " … more";
        let x = area.right().saturating_sub(cells(told));
        put(buffer, x, area.bottom() - 1, told, cells(told), state.theme.doubt());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_cut_says_so_and_fills_no_more_than_its_room() {
        assert_eq!(shortened("Gannet Head", 11), "Gannet Head");
        assert_eq!(shortened("Gannet Head", 10), "Gannet He…");
        assert_eq!(shortened("Gannet Head", 1), "…");
        // Signs of two cells.
        assert_eq!(shortened("日本語日本語", 6), "日本…");
        assert!(cells(&shortened("日本語日本語", 6)) <= 6);
    }
}
