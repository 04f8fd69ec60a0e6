use std::sync::Arc;

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use tui_input::Input;

use super::seen::Seen;
use super::{Course, Step, Told, words};
use crate::screen::alarms::AlarmsSaid;
use crate::screen::cursor::Cursor;
use crate::screen::focus::Focus;
use crate::screen::state::{Command, Echo, Keeping, Panel, State};

/// A line that the tour takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Word {
    Begin,
    Next,
    Back,
    Off,
    Refuse,
}

/// Reads a line of the tour's; none where it is none, and may be an entry of the watch.
fn read(line: &str) -> Option<Word> {
    let line = line.to_lowercase();
    let words: Vec<&str> = line.split_whitespace().collect();
    match words.as_slice() {
        ["tour"] => Some(Word::Begin),
        ["tour", "next" | "on"] => Some(Word::Next),
        ["tour", "back"] => Some(Word::Back),
        ["tour", "off" | "leave"] => Some(Word::Off),
        ["no", "tour"] => Some(Word::Refuse),
        _ => None,
    }
}

/// Whether a line is one of the tour's own.
pub fn is_word(line: &str) -> bool {
    read(line).is_some()
}

/// How a line of the tour's own is understood; none where it is none.
pub fn preview(state: &State, line: &str) -> Option<Echo> {
    let word = read(line).filter(|_| state.practice.is_none())?;
    Some(would(state, word).map_or_else(
        |why| Echo::Unfinished(why.to_owned()),
        |said| Echo::Understood(said.to_owned()),
    ))
}

/// Takes a line of the tour's own; none where it is none.
pub fn enter(state: &mut State, line: &str) -> Option<Vec<Command>> {
    let word = read(line).filter(|_| state.practice.is_none())?;
    if let Err(why) = would(state, word) {
        state.refused = true;
        state.echo = Echo::Refused(why.to_owned());
        return Some(Vec::new());
    }
    state.line = Input::default();
    state.recalled = None;
    state.echo = Echo::Hint;
    Some(match word {
        Word::Begin => begin(state),
        Word::Next => next(state),
        Word::Back => back(state),
        Word::Off => end(state, Told::Left),
        Word::Refuse => {
            state.tour.offered = false;
            state.echo = Echo::Taken(words::REFUSED.to_owned());
            remember(state, Told::Refused)
        }
    })
}

/// A key of the tour's while it is under way; none where it is another.
pub fn on_key(state: &mut State, key: KeyEvent) -> Option<Vec<Command>> {
    state.tour.course?;
    if !key.modifiers.contains(KeyModifiers::CONTROL) {
        return None;
    }
    match key.code {
        KeyCode::Char('n') => Some(next(state)),
        KeyCode::Char('p') => Some(back(state)),
        KeyCode::Char('x') => Some(end(state, Told::Left)),
        _ => None,
    }
}

/// What a word would do.
///
/// # Errors
/// Why it cannot be done now.
fn would(state: &State, word: Word) -> Result<&'static str, &'static str> {
    let on = state.tour.course.is_some();
    match word {
        Word::Begin if on => Err(words::UNDER_WAY),
        Word::Begin if state.tour.lead.is_none() => Err(words::ELSEWHERE),
        Word::Begin if has_entries(state) => Err(words::ENTERED),
        Word::Begin => Ok("begins the tour: the sample's landfall, before its first contact"),
        Word::Refuse => Ok("the tour is not offered again"),
        _ if !on => Err(words::NOT_UNDER_WAY),
        Word::Next => Ok("the tour's next step"),
        Word::Back => Ok("the tour's step before"),
        Word::Off => Ok("leaves the tour; what was entered stays"),
    }
}

fn has_entries(state: &State) -> bool {
    let none = matches!(state.keeping, Keeping::Ready(_) | Keeping::In(_, 0));
    !none || state.keeping_now.is_some() || !state.waiting.is_empty()
}

/// Begins a sitting of its own, which the log is told of: what the display opened with is put away.
fn begin(state: &mut State) -> Vec<Command> {
    let Some(lead) = state.tour.lead.clone() else { return Vec::new() };
    let time = lead.start.own_time(state.wall);
    state.watch = lead.start.clone();
    state.answer = None;
    state.outlook = None;
    state.shows = None;
    state.ground = None;
    state.alarms = AlarmsSaid::default();
    state.selected = None;
    state.run = None;
    state.due = None;
    state.said = None;
    state.notices.clear();
    state.cursor = Cursor::default();
    state.panel = Panel::default();
    state.scope.open = false;
    state.focus = Focus::of_chart(&state.chart);
    state.tour.offered = false;
    state.tour.course = Some(Course::at(Step::Verdict, state));
    let mut commands = vec![Command::Begin { time, what: Box::new(lead.record.clone()) }];
    commands.extend(state.question());
    commands.extend(remember(state, Told::Begun));
    commands
}

/// On by hand: the tour then waits there until the step has come about. After the last it is over.
fn next(state: &mut State) -> Vec<Command> {
    let Some(course) = state.tour.course else { return Vec::new() };
    let Some(to) = course.at.next() else { return end(state, Told::Done) };
    by_hand(state, to);
    Vec::new()
}

fn back(state: &mut State) -> Vec<Command> {
    if let Some(to) = state.tour.course.and_then(|course| course.at.before()) {
        by_hand(state, to);
    }
    Vec::new()
}

fn by_hand(state: &mut State, to: Step) {
    let mut course = Course::at(to, state);
    let Some(lead) = state.tour.lead.clone() else { return };
    course.by_hand = Some(to.is_done(&Seen { state, lead: &lead, course }));
    state.tour.course = Some(course);
}

/// Takes the tour's line away; all else stays as it is.
fn end(state: &mut State, told: Told) -> Vec<Command> {
    state.tour.course = None;
    remember(state, told)
}

fn remember(state: &State, told: Told) -> Vec<Command> {
    let path = state.tour.memory.clone();
    path.into_iter().map(|path| Command::Remember { path, told }).collect()
}

/// Goes on to what has not come about yet, or back to what no longer stands.
pub fn follow(state: &mut State) {
    if state.tour.offered && has_entries(state) {
        state.tour.offered = false;
    }
    let Some((course, lead)) = state.tour.course.zip(state.tour.lead.as_ref().map(Arc::clone))
    else {
        return;
    };
    let mut seen = Seen { state, lead: &lead, course };
    if seen.waits() {
        return;
    }
    // Each step is passed at most once either way: the one before a step that does not stand is not done.
    for _ in 0..2 * Step::ALL.len() {
        seen.course.looked |= seen.looks_at_advice();
        seen.course.undone |= seen.has_taken_back();
        let Some(course) = moved(&seen) else { break };
        seen.course = course;
    }
    state.tour.course = Some(seen.course);
}

/// The course one step on or back; none where it stays.
fn moved(seen: &Seen<'_>) -> Option<Course> {
    let course = seen.course;
    let (stands, done) = (course.at.stands(seen), course.at.is_done(seen));
    let to = |step| Course::at(step, seen.state);
    match course.by_hand {
        // Chosen by hand: it waits until the step is as it is come to otherwise, or comes about.
        Some(_) if stands && !done => Some(Course { by_hand: None, ..course }),
        Some(was) if was == done || was => None,
        _ if done => course.at.next().map(to),
        None if !stands => course.at.before().map(to),
        _ => None,
    }
}
