use super::seen::Seen;
use super::words::{self, UNBROKEN};
use crate::screen::state::State;

/// Cells before the text: `TOUR 2/9 `.
pub const LEAD: u16 = 9;

/// The tour's own keys, at the end of its last line.
pub const KEYS: &str = "^N next  ^P back  ^X leave";

/// Below this width it always has two lines, so that nothing moves from step to step.
const WIDE: u16 = 120;

/// What the tour says now, in lines for a screen of so many columns; the last leaves room for the keys.
/// None while no tour is under way.
pub fn rows(state: &State, columns: u16) -> Option<Vec<String>> {
    let (course, lead) = (state.tour.course?, state.tour.lead.as_deref()?);
    let mut rows = cut(&words::of(&Seen { state, lead, course }), columns);
    if columns < WIDE && rows.len() < 2 {
        rows.push(String::new());
    }
    Some(rows)
}

/// A text in lines after the lead; the last leaves room for the keys.
pub(super) fn cut(text: &str, columns: u16) -> Vec<String> {
    let room = usize::from(columns.saturating_sub(LEAD + 1)).max(12);
    let mut rows = vec![String::new()];
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let Some(last) = rows.last_mut() else { break };
        if last.is_empty() {
            last.push_str(word);
        } else if last.chars().count() + 1 + word.chars().count() <= room {
            last.push(' ');
            last.push_str(word);
        } else {
            rows.push(word.to_owned());
        }
    }
    for row in &mut rows {
        *row = row.replace(UNBROKEN, " ");
    }
    let last = rows.last().map_or(0, |row| row.chars().count());
    if last + 2 + KEYS.chars().count() > room {
        rows.push(String::new());
    }
    rows
}
