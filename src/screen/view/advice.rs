use std::borrow::Cow;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

use super::{heading, lines};
use crate::fix::{Fix, Verdict};
use crate::screen::chart_panel::Ink;
use crate::screen::drill::Practice;
use crate::screen::state::State;
use crate::screen::wording;
use crate::watch::{off_chart, words};

/// What next: the measurement worth most, the places that still fit, and what must be known.
pub(super) fn draw(state: &State, area: Rect, buffer: &mut Buffer) {
    // Ranges and bearings told here are from the place of the answer, for its time.
    let of = state.carried_off().and(state.answer());
    let of = of.map_or_else(String::new, |it| format!("as of {}Z", words::clock(it.fix.time)));
    let area = heading(state, area, buffer, "WHAT NEXT, WHAT TO KNOW", &of);
    let mut told = Vec::new();
    if let Some(practice) = &state.practice {
        drill(practice, &mut told);
    }
    told.extend(state.watch.offer().map(|offer| Line::from(words::offer_hint(offer))));
    let off = state.watch.reckoning().and_then(|r| off_chart(r.position, &state.chart));
    if let Some(off) = off {
        let lead = Span::styled("! ", state.theme.doubt());
        told.push(Line::from(vec![lead, Span::raw(format!("the reckoning is {off}"))]));
    }
    for caution in state.watch.cautions_of_heading() {
        push_caution(state, caution, &mut told);
    }
    if let Some(answer) = state.answer().filter(|_| state.is_current()) {
        landfall(state, &answer.fix, &mut told);
        next(&answer.fix, &mut told);
        rivals(state, &answer.fix, &mut told);
        unmatched(state, &answer.fix, &mut told);
        for caution in answer.fix.cautions.iter().chain(&answer.expected.cautions) {
            push_caution(state, caution.as_str(), &mut told);
        }
    }
    for notice in state.notices.iter().chain(state.chart.cautions()) {
        push_caution(state, notice.as_str(), &mut told);
    }
    lines(state, area, buffer, told);
}

/// What is known in a drill, and the hints taken.
fn drill<'a>(practice: &'a Practice, told: &mut Vec<Line<'a>>) {
    let exercise = &practice.exercise;
    told.push(Line::from(exercise.weather.as_str()));
    let hints = practice.lesson().map_or(&[][..], |lesson| &lesson.text.hints);
    for (number, hint) in hints.iter().take(practice.hints).enumerate() {
        told.push(Line::from(format!("hint {}: {hint}", number + 1)));
    }
    if practice.hints < hints.len() && practice.ended.is_none() {
        told.push(Line::from("stuck? hint gives one, and takes points off the score"));
    }
}

/// Said once, whoever says it.
fn push_caution<'a>(state: &State, text: impl Into<Cow<'a, str>>, told: &mut Vec<Line<'a>>) {
    let line = Line::from(vec![Span::styled("! ", state.theme.doubt()), Span::raw(text)]);
    if !told.contains(&line) {
        told.push(line);
    }
}

/// Why the landfall is what it is said to be, and what would settle it.
fn landfall<'a>(state: &State, fix: &'a Fix, told: &mut Vec<Line<'a>>) {
    // Of one that was accepted nothing is left to settle until something is measured.
    let asks = state.watch.landfall_accepted().is_none();
    let Some(landfall) = fix.landfall.as_ref().filter(|_| asks) else { return };
    if let Some(by) = &landfall.settle_by {
        told.push(Line::from(format!("landfall, settle by: {by}")));
    }
    told.push(Line::from(Span::styled(landfall.why.as_str(), state.theme.quiet())));
}

fn next(fix: &Fix, told: &mut Vec<Line<'_>>) {
    for (place, next) in fix.next.iter().take(3).enumerate() {
        let lead = if place == 0 { "best:" } else { "or:  " };
        told.push(Line::from(format!("{lead} {}", next.words)));
    }
}

fn rivals(state: &State, fix: &Fix, told: &mut Vec<Line<'_>>) {
    if fix.verdict == Verdict::Fixed {
        return;
    }
    for (number, rival) in fix.rivals.iter().take(5).enumerate() {
        let named: Vec<String> = rival.identities.iter().map(|i| i.words(" ")).collect();
        let sure = wording::percent(rival.probability);
        let place = rival.estimate.position;
        told.push(Line::from(vec![
            Span::styled(format!("{} ", number + 1), state.theme.of(Ink::Rival)),
            Span::raw(format!("{sure} {place}: {}", named.join(", "))),
        ]));
    }
}

fn unmatched(state: &State, fix: &Fix, told: &mut Vec<Line<'_>>) {
    for contact in &fix.unmatched {
        let places: Vec<String> =
            contact.places.iter().map(|place| place.position.to_string()).collect();
        let place =
            if places.is_empty() { String::new() } else { format!(", at {}", places.join(" or ")) };
        told.push(Line::from(vec![
            Span::styled(format!("{} ", contact.contact), state.theme.doubt()),
            Span::raw(format!("{}{place}", contact.why)),
        ]));
    }
}
