use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::{Clear, Widget};

use super::{cells, put};
use crate::screen::palette::Palette;
use crate::screen::state::State;

/// Where the second column starts.
const SECOND: u16 = 28;

/// The list of all that can be done, over everything but verdict and entry line.
pub(super) fn draw(state: &State, palette: &Palette, area: Rect, buffer: &mut Buffer) {
    let theme = state.theme;
    Clear.render(area, buffer);
    buffer.set_style(area, theme.ground());
    let head = format!("ALL THAT CAN BE DONE: {}_", palette.filter);
    put(buffer, area.x + 1, area.y, &head, area.width - 1, theme.heading());
    let keys = "type to filter; Up Down choose; Enter does it; Esc shuts";
    if cells(&head) + cells(keys) + 4 < area.width {
        let x = area.right() - cells(keys) - 1;
        put(buffer, x, area.y, keys, cells(keys), theme.quiet());
    }
    let shown = palette.shown();
    let room = usize::from(area.height.saturating_sub(1)).max(1);
    let first = (palette.at + 1).saturating_sub(room);
    for (row, item) in shown.iter().skip(first).take(room).enumerate() {
        let y = area.y + 1 + row as u16;
        let chosen = first + row == palette.at;
        let style = if chosen { theme.selected() } else { theme.text() };
        let pointer = if chosen { '>' } else { ' ' };
        put(buffer, area.x + 1, y, &format!("{pointer} {}", item.how), SECOND - 2, style);
        let x = area.x + SECOND;
        put(buffer, x, y, item.does, area.right().saturating_sub(x), style);
    }
    if shown.is_empty() {
        put(buffer, area.x + 1, area.y + 1, "nothing like that", area.width - 1, theme.doubt());
    }
}
