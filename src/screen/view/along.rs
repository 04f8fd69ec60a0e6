use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

use super::{heading, lines};
use crate::screen::state::State;
use crate::screen::wording;
use crate::watch::along::{Coming, Standing};
use crate::watch::words;

/// Marks to come that are listed.
const MOST_LATER: usize = 4;

/// What do I do now, and what comes next: the run to the landfall, what is due and overdue to
/// paint, a drift on offer, echoes that no chart explains.
pub(super) fn draw(state: &State, area: Rect, buffer: &mut Buffer) {
    let now = state.watch.own_time(state.wall);
    let area = heading(state, area, buffer, "ALONG THE RUN", &format!("{}Z", words::clock(now)));
    let mut told: Vec<Line<'_>> = Vec::new();
    let quiet = |text: String| Line::from(Span::styled(text, state.theme.quiet()));
    let carried = state.here(now);
    let left = state.left_behind().filter(|_| carried.is_none());
    if let Some((time, ..)) = left {
        told.push(Line::from(Span::styled(wording::not_carried(time), state.theme.doubt())));
    }
    let here = carried.or(left.map(|(_, position, covariance)| (position, covariance)));
    if let Some(here) = here {
        told.push(quiet(words::since(&state.watch, now)));
        told.push(quiet(words::spread(here.1)));
        let flow = state.watch.flow_found();
        told.extend(flow.map(|flow| quiet(words::flow(state.watch.craft(), &flow))));
        if let Some(to) = state.watch.to_landfall(here, now) {
            told.extend(words::to_landfall(&to).into_iter().map(Line::from));
        }
    }
    if state.practice.is_none() {
        due(state, now, &mut told);
    }
    if let Some(offer) = state.watch.offer() {
        told.push(Line::from(format!("{}; \"drift\" uses it", words::offer(offer))));
    }
    for echo in state.watch.echoes() {
        let steer = here.and_then(|here| words::steer(&state.watch, echo, here.0, now));
        let steer = steer.map_or_else(String::new, |steer| format!("; {steer}"));
        told.push(Line::from(format!("echo {}{steer}", words::echo(echo))));
    }
    lines(state, area, buffer, told);
}

fn due<'a>(state: &'a State, now: jiff::Timestamp, told: &mut Vec<Line<'a>>) {
    let reported = state.reported();
    let reported: Vec<&str> = reported.iter().map(String::as_str).collect();
    let said = match (&state.run, &state.due) {
        (Some(_), None) => "working out what should come to paint ahead",
        (Some(_), Some(Coming::Failed)) => {
            "what should come to paint ahead could not be worked out"
        }
        (Some(_), Some(Coming::Told(due))) if due.is_empty() => {
            "no further mark comes to paint ahead"
        }
        (None, _) => "no track and speed: nothing is looked for ahead, like \"trk 074 165\"",
        _ => "",
    };
    if !said.is_empty() {
        told.push(Line::from(Span::styled(said, state.theme.quiet())));
    }
    let mut later = 0;
    for due in state.ahead() {
        let standing = due.standing(now, &reported);
        let style = match standing {
            Standing::Reported => continue,
            Standing::Overdue => state.theme.wrong(),
            Standing::Due => state.theme.doubt(),
            Standing::Later => {
                later += 1;
                state.theme.text()
            }
        };
        if standing != Standing::Later || later <= MOST_LATER {
            told.push(Line::from(Span::styled(words::due(due, standing), style)));
        }
    }
}
