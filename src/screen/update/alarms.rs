//! Alarms: each is written to the log as it is raised, and as it is acknowledged.

use crate::screen::state::{Command, State};
use crate::watch::log::What;

/// What is newly raised, for the log.
pub(super) fn raised(state: &mut State) -> Vec<Command> {
    let all = state.all_alarms();
    let new = state.alarms.raise(all, state.wall);
    new.into_iter().map(|alarm| record(state, What::Alarm { words: alarm.words })).collect()
}

/// Acknowledges the one that is shown: those behind it have not been seen.
pub(super) fn acknowledge(state: &mut State) -> Vec<Command> {
    let Some(shown) = state.alarming().into_iter().next() else { return Vec::new() };
    state.alarms.acknowledge(&shown);
    vec![record(state, What::Acknowledged { alarms: vec![shown.words] })]
}

fn record(state: &State, what: What) -> Command {
    Command::Record { time: state.watch.own_time(state.wall), what: Box::new(what) }
}
