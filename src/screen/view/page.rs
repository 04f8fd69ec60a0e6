use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::{Clear, Widget};

use super::{cells, put};
use crate::screen::drill::Row;
use crate::screen::state::State;

/// A page of a drill, over everything but verdict and entry line.
pub(super) fn draw(state: &State, rows: &[Row], scrolled: u16, area: Rect, buffer: &mut Buffer) {
    Clear.render(area, buffer);
    buffer.set_style(area, state.theme.ground());
    let lines = u16::try_from(rows.len()).unwrap_or(u16::MAX);
    let most = lines.saturating_sub(area.height);
    let first = scrolled.min(most);
    for (y, row) in (area.top()..area.bottom()).zip(rows.iter().skip(usize::from(first))) {
        let style = if row.heads { state.theme.heading() } else { state.theme.text() };
        put(buffer, area.x + 1, y, &row.text, area.width - 1, style);
    }
    if first < most {
        let told = " Down for more";
        let x = area.right().saturating_sub(cells(told) + 1);
        put(buffer, x, area.bottom() - 1, told, cells(told), state.theme.doubt());
    }
}
