use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::{Clear, Widget};

use super::{cells, put};
use crate::screen::state::State;
use crate::screen::wording::HELP;

/// Where the second column starts.
const SECOND: u16 = 27;

/// The help page, over everything but verdict and entry line.
pub(super) fn draw(state: &State, scrolled: u16, area: Rect, buffer: &mut Buffer) {
    Clear.render(area, buffer);
    buffer.set_style(area, state.theme.ground());
    let most = (HELP.len() as u16).saturating_sub(area.height);
    let first = scrolled.min(most);
    for (y, line) in (area.top()..area.bottom()).zip(HELP.iter().skip(usize::from(first))) {
        let Some(text) = line.strip_prefix('\t') else {
            put(buffer, area.x + 1, y, line, area.width - 1, state.theme.heading());
            continue;
        };
        match text.split_once('\t') {
            Some((left, right)) => {
                put(buffer, area.x + 2, y, left, SECOND - 3, state.theme.selected());
                let x = area.x + SECOND;
                put(buffer, x, y, right, area.right().saturating_sub(x), state.theme.text());
            }
            None => put(buffer, area.x + 2, y, text, area.width - 2, state.theme.text()),
        }
    }
    if first < most {
        let told = "Down for more";
        let x = area.right().saturating_sub(cells(told) + 1);
        put(buffer, x, area.bottom() - 1, told, cells(told), state.theme.doubt());
    }
}
