use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::{cells, put};
use crate::screen::state::State;
use crate::screen::tour::{KEYS, LEAD, Step, rows};

/// What the tour says now, over the entry line, and its keys at the end of it.
pub(super) fn draw(state: &State, area: Rect, buffer: &mut Buffer) {
    let Some((rows, step)) = rows(state, area.width).zip(state.tour.step()) else { return };
    let theme = state.theme;
    let word = if state.tour.is_done_already() { "DONE" } else { "TOUR" };
    let lead = format!("{word} {}/{}", step.number(), Step::ALL.len());
    put(buffer, area.x, area.y, &lead, LEAD, theme.heading());
    for (y, row) in (area.top()..area.bottom()).zip(&rows) {
        put(buffer, area.x + LEAD, y, row, area.width.saturating_sub(LEAD), theme.selected());
    }
    let width = cells(KEYS);
    let x = area.right().saturating_sub(width + 1);
    put(buffer, x, area.bottom().saturating_sub(1), KEYS, width, theme.quiet());
}
