//! Lines entered before, and the contact that is selected.

use tui_input::Input;

use super::{preview, take};
use crate::screen::state::{Command, Echo, Panel, State};
use crate::screen::wording;
use crate::watch::entry::Entry;

pub(super) fn recall(state: &mut State, step: isize) {
    let last = state.history.len();
    let at = state.recalled.unwrap_or(last);
    let Some(to) = at.checked_add_signed(step).filter(|to| *to <= last) else { return };
    state.recalled = (to < last).then_some(to);
    let text = state.history.get(to).cloned().unwrap_or_default();
    state.line = Input::new(text);
    preview(state);
}

pub(super) fn select(state: &mut State, step: isize) {
    let contacts = state.watch.contacts();
    if contacts.is_empty() {
        return;
    }
    let now = state.selected.as_ref().and_then(|label| state.watch.find(label));
    let count = contacts.len();
    let to = match now {
        Some(at) => (at + count).saturating_add_signed(step) % count,
        None if step > 0 => 0,
        None => count - 1,
    };
    state.selected = contacts.get(to).map(|held| held.contact.label.clone());
    state.panel = Panel::Contacts;
}

pub(super) fn take_out_selected(state: &mut State) -> Vec<Command> {
    let Some(label) = state.selected.clone().filter(|label| state.watch.find(label).is_some())
    else {
        state.echo = Echo::Refused(wording::NOTHING_SELECTED.to_owned());
        return Vec::new();
    };
    let typed = format!("del {}", wording::label_as_typed(&label).trim_end_matches(':'));
    take(state, &Entry::Delete { label }, &typed)
}

/// Puts the selected contact into the line, to be corrected.
pub(super) fn edit_selected(state: &mut State) {
    let held = state
        .selected
        .as_ref()
        .and_then(|label| state.watch.find(label))
        .and_then(|at| state.watch.contacts().get(at));
    if let Some(held) = held {
        state.line = Input::new(wording::as_typed(&held.entry));
        preview(state);
    }
}
