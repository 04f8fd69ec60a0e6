use super::state::State;
use super::work::Stand;
use super::{drill, plotting, wording};
use crate::geodesy::{Position, course};

/// The cursor on the chart, and where a measure began.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Cursor {
    /// Where it stands; none where it is put away.
    pub at: Option<Position>,
    /// Where the measure began.
    pub from: Option<Position>,
}

/// What the cursor reads: its place, how it lies from us, and from where the measure began.
pub fn told(state: &State) -> Option<String> {
    let at = state.cursor.at?;
    let mut told = at.to_string();
    let line = |from: Position| {
        let line = course(from, at);
        format!("{:.2} NM {:05.1}°", line.distance.nautical_miles(), line.initial.degrees())
    };
    if let Some((stand, kind)) = plotting::stand(state) {
        let from = match kind {
            Stand::Fix => "FIX",
            Stand::MostProbable => "EP",
            Stand::Reckoning if drill::places(state).is_some() => "TRUE",
            Stand::Reckoning => "DR",
        };
        told = format!("{told}  {} from {from}", line(stand));
    }
    Some(match state.cursor.from {
        Some(from) => format!("{told}; {} measured", line(from)),
        None => format!("{told}; {}", wording::CURSOR_KEYS),
    })
}
