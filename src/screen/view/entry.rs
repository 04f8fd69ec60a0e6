use std::borrow::Cow;
use std::path::Path;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::{cells, put, shortened};
use crate::screen::cursor;
use crate::screen::state::{Echo, Keeping, State};
use crate::screen::tour::OFFER;
use crate::screen::wording;
use crate::watch::words::{self, clock};

/// The entry line, and under it how the line is understood; returns where the cursor stands.
pub(super) fn draw(state: &State, area: Rect, buffer: &mut Buffer) -> (u16, u16) {
    let theme = state.theme;
    put(buffer, area.x, area.y, "ENTRY", 5, theme.heading());
    let kept = kept(state);
    let start = area.x + 6;
    let room = area.width.saturating_sub(6 + cells(&kept) + 2);
    let scroll = state.line.visual_scroll(usize::from(room));
    put(buffer, start, area.y, cells_from(state.line.value(), scroll), room, theme.selected());
    let failed = matches!(state.keeping, Keeping::Failed(..));
    let kept_style = if failed { theme.wrong() } else { theme.quiet() };
    let kept_x = area.right().saturating_sub(cells(&kept) + 1);
    put(buffer, kept_x, area.y, &kept, cells(&kept), kept_style);
    echo(state, Rect { y: area.y + 1, height: 1, ..area }, buffer);
    let cursor = state.line.visual_cursor().saturating_sub(scroll) as u16;
    (start + cursor.min(room), area.y)
}

/// Text from a cell on.
fn cells_from(text: &str, skip: usize) -> &str {
    let mut width = 0;
    for (at, c) in text.char_indices() {
        if width >= skip {
            return text.get(at..).unwrap_or_default();
        }
        width += usize::from(cells(c.encode_utf8(&mut [0; 4])));
    }
    ""
}

/// Of the name of the log so much is told.
const NAME_CELLS: u16 = 24;

/// Where entries are kept, and the watch's own time.
fn kept(state: &State) -> String {
    let name = |path: &Path| {
        let name = path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        let plain: String = name.chars().filter(|c| !c.is_control()).collect();
        shortened(&plain, NAME_CELLS).into_owned()
    };
    let log = match &state.keeping {
        Keeping::Nowhere => "a drill: no log".to_owned(),
        Keeping::Ready(path) => format!("log: {}", name(path)),
        Keeping::In(path, count) => format!("{count} kept in {}", name(path)),
        Keeping::Failed(path, count) => {
            format!("{count} IN MEMORY ONLY, not in {}", name(path))
        }
    };
    let time = clock(state.watch.own_time(state.wall));
    let held = if state.watch.is_live(state.wall) { "" } else { " held" };
    format!("{log}  {time}Z{held}")
}

/// Cells before the text of the echo.
const LEAD: u16 = 6;

/// The echo's lead word, its text and its look.
fn echoed(state: &State) -> (&'static str, Cow<'_, str>, Style) {
    const HINT: &str = "type a contact: range and bearing, like 17.3 042; ? is help";
    let hint = || state.watch.offer().map_or(HINT.into(), |offer| words::offer_hint(offer).into());
    let theme = state.theme;
    match &state.echo {
        Echo::Hint => match cursor::told(state) {
            Some(told) => ("AT", told.into(), theme.selected()),
            None if state.tour.is_offered() => ("", OFFER.into(), theme.selected()),
            None => ("", hint(), theme.quiet()),
        },
        Echo::Understood(said) => ("=", said.into(), theme.text()),
        Echo::Unfinished(why) => ("?", why.into(), theme.doubt()),
        Echo::Refused(why) => ("NO", why.into(), theme.wrong()),
        Echo::Writing(said) => ("...", said.into(), theme.quiet()),
        Echo::Taken(said) => ("IN", said.into(), theme.text()),
        Echo::Kept(said) => ("KEPT", said.into(), theme.fixed()),
        Echo::NotKept(why) => ("HELD", why.into(), theme.wrong()),
    }
}

/// Cuts a text at a space so that its first part fits; the rest is for the line below.
fn cut(text: &str, room: u16) -> (&str, &str) {
    if cells(text) <= room {
        return (text, "");
    }
    let fits = text
        .match_indices(' ')
        .map(|(at, _)| at)
        .take_while(|at| text.get(..*at).is_some_and(|part| cells(part) <= room))
        .last();
    fits.map_or((text, ""), |at| text.split_at(at))
}

fn echo(state: &State, area: Rect, buffer: &mut Buffer) {
    let (lead, text, style) = echoed(state);
    let room = area.width.saturating_sub(LEAD);
    put(buffer, area.x, area.y, &format!("{lead:>5}"), LEAD, style);
    put(buffer, area.x + LEAD, area.y, cut(&text, room).0, room, style);
}

/// What the keys do now, and the caution.
pub(super) fn draw_foot(state: &State, area: Rect, buffer: &mut Buffer) {
    let theme = state.theme;
    put(buffer, area.x, area.y + 1, wording::CAUTION, area.width, theme.quiet());
    // An echo of two lines takes the place of the keys: it is the answer to the last of them.
    let (_, text, style) = echoed(state);
    let room = area.width.saturating_sub(LEAD);
    let rest = cut(&text, room).1.trim_start();
    let page = state.help.is_some()
        || state.practice.as_ref().is_some_and(|practice| practice.page.is_some());
    if !rest.is_empty() && !page {
        put(buffer, area.x + LEAD, area.y, rest, room, style);
        return;
    }
    let keys: &[(&str, &str)] = if page {
        &[("Up Down", "scroll"), ("any other key", "back to the display")]
    } else if state.line.value().is_empty() {
        &wording::KEYS
    } else {
        &wording::KEYS_TYPING
    };
    let mut x = area.x;
    for (key, does) in keys {
        let width = cells(key) + 1 + cells(does);
        if x + width > area.right() {
            break;
        }
        put(buffer, x, area.y, key, cells(key), theme.heading());
        put(buffer, x + cells(key) + 1, area.y, does, cells(does), theme.quiet());
        x += width + 2;
    }
}
