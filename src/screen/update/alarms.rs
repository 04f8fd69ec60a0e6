//! Alarms: each is written to the log as it is raised, and as it is acknowledged.

use crate::screen::state::{Command, State};
use crate::watch::alarm::Alarm;
use crate::watch::log::What;

/// What is newly raised, for the log. What has passed may be raised again.
pub(super) fn raised(state: &mut State) -> Vec<Command> {
    let all = state.all_alarms();
    let lasts = |of: &String| all.iter().any(|alarm| alarm.of == *of);
    state.alarms.raised.retain(lasts);
    state.alarms.acknowledged.retain(lasts);
    let mut commands = Vec::new();
    for Alarm { of, words } in all {
        if state.alarms.raised.insert(of) {
            commands.push(record(state, What::Alarm { words }));
        }
    }
    commands
}

/// Acknowledges the one that is shown: those behind it have not been seen.
pub(super) fn acknowledge(state: &mut State) -> Vec<Command> {
    let mut shown = state.alarming();
    shown.truncate(1);
    if shown.is_empty() {
        return Vec::new();
    }
    state.alarms.acknowledged.extend(shown.iter().map(|alarm| alarm.of.clone()));
    let alarms = shown.into_iter().map(|alarm| alarm.words).collect();
    vec![record(state, What::Acknowledged { alarms })]
}

fn record(state: &State, what: What) -> Command {
    Command::Record { time: state.watch.own_time(state.wall), what: Box::new(what) }
}
