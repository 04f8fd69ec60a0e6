use std::sync::Arc;

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use tui_input::{Input, InputRequest};

use super::chart_panel;
use super::cursor::Cursor;
use super::drill;
use super::scope::{self, Marker};
use super::state::{Command, Echo, Message, State, Unkept};
use super::work::Answer;
use super::{tour, wording};
use crate::watch::entry::{Entry, EntryError, MARKS_NOT_AT_HAND, MOST_CHARACTERS, understood};
use crate::watch::log::What;
use crate::watch::{Tally, Watch};
use chosen::{edit_selected, recall, select, take_out_selected};

/// Lines of the help page that a page key scrolls.
const HELP_PAGE: u16 = 10;

/// Turns a message into new state, and into what is to be done about it.
pub fn update(state: &mut State, message: Message) -> Vec<Command> {
    let mut commands = take_message(state, message);
    leave_once_all_is_kept(state);
    tour::follow(state);
    settle(state);
    commands.extend(state.take_in());
    commands.extend(state.look_out());
    commands.extend(picture(state));
    commands.extend(state.look());
    commands.extend(alarms::raised(state));
    commands
}

/// What a message itself changes, and what it asks for.
fn take_message(state: &mut State, message: Message) -> Vec<Command> {
    match message {
        Message::Time(wall) => return on_time(state, wall),
        Message::Key(key) if key.kind != KeyEventKind::Release => return on_key(state, key),
        // A page or a list over the display takes keys alone.
        Message::Mouse(_) | Message::Pasted(_) if tools::is_covered(state) => {}
        Message::Mouse(mouse) => tools::on_mouse(state, mouse),
        Message::Pasted(text) => paste(state, &text),
        Message::Resized(size) => state.size = size,
        Message::Kept(tally) => {
            state.keeping = tally.into();
            return counted(state, Echo::Kept);
        }
        Message::NotKept(tally, why) => return on_not_kept(state, tally, &why),
        Message::Counted(tally) => state.keeping = tally.into(),
        Message::Answered { asked, answer } if asked == state.asked => {
            return on_answer(state, *answer);
        }
        Message::Failed { asked } if asked == state.asked => on_failure(state),
        Message::Drawn(ask, drawn) => state.scope.drawn = Some((*ask, drawn)),
        // What an earlier place had ahead is no news of this one.
        Message::Shows(from, ..) if state.outlook.as_ref() != Some(&*from) => {}
        Message::Shows(from, shows, ground) => {
            if let Some(shows) = shows {
                state.shows = Some((*from, Arc::from(shows)));
            }
            state.ground = ground;
        }
        Message::Ahead(run, due) if state.run.as_ref() == Some(&run) => state.due = Some(due),
        Message::Taking(progress) => state.parts.tell(progress),
        Message::TakenIn(part, chart) => return state.on_taken_in(part, chart),
        Message::NotTakenIn(part, why) => state.on_not_taken_in(part, why),
        Message::Scored(score) => return drill::on_score(state, *score),
        Message::NotScored => drill::on_score_failed(state),
        Message::ScoreKept(kept) => drill::on_score_kept(state, kept),
        Message::Quit => state.quit = true,
        // Answers to older questions; stopping and going on the display has seen to.
        Message::Answered { .. }
        | Message::Failed { .. }
        | Message::Ahead(..)
        | Message::Key(_)
        | Message::Stop
        | Message::GoneOn => {}
    }
    Vec::new()
}

/// Whoever asked to leave does so once nothing is on its way to the disk.
fn leave_once_all_is_kept(state: &mut State) {
    let pending = state.practice.as_ref().is_some_and(drill::Practice::is_pending);
    if state.leaving && state.keeping_now.is_none() && !pending {
        state.quit = true;
    }
}

/// The first line of a text, as if it were typed.
fn paste(state: &mut State, text: &str) {
    let line = text.lines().next().unwrap_or_default();
    for c in line.chars().filter(|c| !c.is_control()) {
        insert(state, c);
    }
    preview(state);
}

fn on_answer(state: &mut State, answer: Answer) -> Vec<Command> {
    state.answer = Some((state.asked, Arc::new(answer)));
    // What is half typed may mean more now: a fix stands that can be accepted.
    if !state.line.value().trim().is_empty() {
        preview(state);
    }
    said(state).into_iter().collect()
}

/// There will be no answer to the question: nothing is said to be worked out any more.
fn on_failure(state: &mut State) {
    state.answer = None;
    state.failed = Some(state.asked);
    let [why, mend] = wording::WORKER_FAILED;
    state.echo = Echo::Refused(format!("{why}. {mend}"));
}

/// A clock that goes back is told and noted: times entered since are by the new one.
fn on_time(state: &mut State, wall: jiff::Timestamp) -> Vec<Command> {
    let wall = state.practice.as_mut().map_or(wall, |practice| practice.tell_time(wall));
    let before = std::mem::replace(&mut state.wall, wall);
    let Some(what) = What::clock_back(before, wall) else { return Vec::new() };
    state.notices.push(state.watch.say(&what));
    vec![Command::Record { time: state.watch.own_time(wall), what: Box::new(what) }]
}

/// What the program says now, for the log, where that is news.
fn said(state: &mut State) -> Option<Command> {
    let answer = state.answer().filter(|_| state.watch.has_measured())?;
    let entry = Watch::said(&answer.fix, wording::verdict_lines(answer).to_vec());
    if state.said.as_ref() == Some(&entry) {
        return None;
    }
    let time = state.watch.own_time(state.wall);
    state.said = Some(entry.clone());
    Some(Command::Record { time, what: Box::new(What::Said(entry)) })
}

/// What an entry would change; a fix is accepted as it stands.
fn change(state: &State, entry: &Entry) -> Result<What, EntryError> {
    if let Some(error) = drill::refused(state, entry) {
        return Err(error);
    }
    if state.is_lacking() && entry.names_a_mark() {
        return Err(EntryError::Refused(MARKS_NOT_AT_HAND.to_owned()));
    }
    if *entry != Entry::Accept {
        let wall = drill::read_at(state, entry).unwrap_or(state.wall);
        return state.watch.change(entry, wall, state.chart.marks());
    }
    let standing = state.answer().filter(|_| state.is_current());
    state.watch.acceptance(&standing.ok_or(EntryError::NothingToAccept)?.fix)
}

/// Asks for the picture that should be shown, where it is another than was asked for.
fn picture(state: &mut State) -> Option<Command> {
    let ask = scope::wanted(state).filter(|ask| state.scope.asked.as_ref() != Some(ask))?;
    if state.is_lacking() {
        return None;
    }
    state.scope.asked = Some(ask.clone());
    Some(Command::Draw(Box::new(ask)))
}

/// Brings what depends on size, place and answer up to date: the fit, and the shore in view.
pub(super) fn settle(state: &mut State) {
    let Some(layout) = state.layout(state.size) else { return };
    let (columns, rows) = (layout.chart.width, layout.chart.height);
    let answer = state.answer.as_ref().map(|(_, answer)| Arc::clone(answer));
    let by_now = state.carried_off();
    let also = drill::in_view(state);
    let seen = (&state.watch, state.wall);
    state.focus.fit(seen, answer.as_deref(), (by_now, &also), (columns, rows));
    let port = state.focus.port(&state.watch, state.wall, (columns, rows));
    if state.shore.as_ref().is_none_or(|(drawn, _)| !drawn.same_as(&port)) {
        let raster = chart_panel::shore(state.drawn_chart(&port), &port);
        state.shore = Some((port, Arc::new(raster)));
    }
}

fn on_key(state: &mut State, key: KeyEvent) -> Vec<Command> {
    let control = key.modifiers.contains(KeyModifiers::CONTROL);
    if control && matches!(key.code, KeyCode::Char('c')) {
        state.quit = true;
        return Vec::new();
    }
    if let Some(commands) = tour::on_key(state, key) {
        return commands;
    }
    if let Some(scrolled) = state.help {
        let room = state.layout(state.size).map_or(0, |layout| layout.body().height);
        state.help = on_help_key(scrolled, key.code, wording::help_lines().saturating_sub(room));
        return Vec::new();
    }
    if state.palette.is_some() {
        return tools::on_palette_key(state, key.code);
    }
    if drill::on_page_key(state, key.code) {
        return Vec::new();
    }
    match key.code {
        KeyCode::Char('z') if control => return take(state, &Entry::Undo, "undo"),
        KeyCode::Char('y') if control => return take(state, &Entry::Redo, "redo"),
        KeyCode::Char('u') if control => {
            state.line = Input::default();
            preview(state);
        }
        KeyCode::Char('d') if control => return take_out_selected(state),
        KeyCode::Char(_) if control => {}
        KeyCode::Esc => {
            state.line = Input::default();
            state.recalled = None;
            state.selected = None;
            state.cursor = Cursor::default();
            state.scope.marker = Marker::default();
            state.echo = Echo::Hint;
        }
        KeyCode::Tab if !state.line.value().trim().is_empty() => tools::complete(state),
        KeyCode::Tab => select(state, 1),
        KeyCode::BackTab => select(state, -1),
        KeyCode::PageUp => zoom(state, 1),
        KeyCode::PageDown => zoom(state, -1),
        KeyCode::Up if key.modifiers.contains(KeyModifiers::SHIFT) => recall(state, -1),
        KeyCode::Down if key.modifiers.contains(KeyModifiers::SHIFT) => recall(state, 1),
        _ if state.line.value().is_empty() => return on_key_over_chart(state, key.code),
        _ => return on_key_in_line(state, key.code),
    }
    Vec::new()
}

/// The help page scrolled, or closed by any other key; `most` shows its end.
fn on_help_key(scrolled: u16, code: KeyCode, most: u16) -> Option<u16> {
    match code {
        KeyCode::Down => Some(scrolled.saturating_add(1).min(most)),
        KeyCode::Up => Some(scrolled.saturating_sub(1)),
        KeyCode::PageDown | KeyCode::Char(' ') => {
            Some(scrolled.saturating_add(HELP_PAGE).min(most))
        }
        KeyCode::PageUp => Some(scrolled.saturating_sub(HELP_PAGE)),
        _ => None,
    }
}

/// Keys while nothing is typed: those that are no letter or figure move the picture.
fn on_key_over_chart(state: &mut State, code: KeyCode) -> Vec<Command> {
    if tools::on_tool_key(state, code) {
        return Vec::new();
    }
    match code {
        KeyCode::Char('!') => return alarms::acknowledge(state),
        KeyCode::Char('q') => state.leaving = true,
        KeyCode::Char('?') => state.help = Some(0),
        KeyCode::Char('+' | '=') => zoom(state, 1),
        KeyCode::Char('-' | '_') => zoom(state, -1),
        KeyCode::Char('.') | KeyCode::Home => state.focus.by_hand = false,
        KeyCode::Char(' ') => state.panel = state.panel.next(),
        KeyCode::Char('/') => state.scope.open = !state.scope.open,
        KeyCode::Char('^') => state.focus.up = state.focus.up.next(),
        KeyCode::Char('<') => rescale(state, -1),
        KeyCode::Char('>') => rescale(state, 1),
        KeyCode::Char(c) => {
            insert(state, c);
            preview(state);
        }
        KeyCode::Left => pan(state, -1.0, 0.0),
        KeyCode::Right => pan(state, 1.0, 0.0),
        KeyCode::Up => pan(state, 0.0, 1.0),
        KeyCode::Down => pan(state, 0.0, -1.0),
        KeyCode::Delete => return take_out_selected(state),
        KeyCode::Enter => edit_selected(state),
        _ => {}
    }
    Vec::new()
}

/// Keys while something is typed.
fn on_key_in_line(state: &mut State, code: KeyCode) -> Vec<Command> {
    if !matches!(code, KeyCode::Char(_) | KeyCode::Enter) {
        state.refused = false;
    }
    let request = match code {
        KeyCode::Enter => return enter(state),
        KeyCode::Up => {
            recall(state, -1);
            return Vec::new();
        }
        KeyCode::Down => {
            recall(state, 1);
            return Vec::new();
        }
        KeyCode::Char(c) => {
            insert(state, c);
            preview(state);
            return Vec::new();
        }
        KeyCode::Backspace => InputRequest::DeletePrevChar,
        KeyCode::Delete => InputRequest::DeleteNextChar,
        KeyCode::Left => InputRequest::GoToPrevChar,
        KeyCode::Right => InputRequest::GoToNextChar,
        KeyCode::Home => InputRequest::GoToStart,
        KeyCode::End => InputRequest::GoToEnd,
        _ => return Vec::new(),
    };
    let _ = state.line.handle(request);
    preview(state);
    Vec::new()
}

/// The first character typed after a refusal begins a new line: glued to what was refused it could
/// make a contact that nobody measured. Any other key mends the line that stands.
fn insert(state: &mut State, c: char) {
    if std::mem::take(&mut state.refused) {
        state.line = Input::default();
    }
    if state.line.value().chars().count() < MOST_CHARACTERS {
        let _ = state.line.handle(InputRequest::InsertChar(c));
    }
}

/// Says at once how the line is understood.
fn preview(state: &mut State) {
    let line = state.line.value().trim();
    if line.is_empty() {
        state.echo = Echo::Hint;
        return;
    }
    if let Some(echo) = drill::preview(state, line).or_else(|| tour::preview(state, line)) {
        state.echo = echo;
        return;
    }
    let said = understood(line)
        .and_then(|entry| change(state, &entry))
        .map(|what| state.watch.say_on(&what, &state.chart, state.wall));
    state.echo = match said {
        Ok(said) => Echo::Understood(state.watch.said_of(line, said)),
        Err(error) => Echo::Unfinished(state.watch.said_of(line, error.to_string())),
    };
}

/// Takes the line: at once, or after the change that is being written.
fn enter(state: &mut State) -> Vec<Command> {
    let line = state.line.value().trim().to_owned();
    if line.is_empty() {
        return Vec::new();
    }
    if let Some(commands) = drill::enter(state, &line).or_else(|| tour::enter(state, &line)) {
        return commands;
    }
    if state.keeping_now.is_some() {
        state.line = Input::default();
        state.waiting.push_back(line);
        return Vec::new();
    }
    match understood(&line) {
        Ok(entry) => take(state, &entry, &line),
        Err(error) => {
            state.refused = true;
            state.echo = Echo::Refused(state.watch.said_of(&line, error.to_string()));
            Vec::new()
        }
    }
}

/// Sends an entry to the keeper. Nothing changes in the watch until the keeper has it.
fn take(state: &mut State, entry: &Entry, typed: &str) -> Vec<Command> {
    if state.keeping_now.is_some() {
        state.waiting.push_back(typed.to_owned());
        return Vec::new();
    }
    match change(state, entry) {
        Ok(what) => {
            let said = state.watch.say_on(&what, &state.chart, state.wall);
            if state.line.value().trim() == typed {
                state.line = Input::default();
            }
            state.recalled = None;
            state.echo = Echo::Writing(said.clone());
            let time = state.watch.own_time(state.wall);
            let typed = typed.to_owned();
            state.keeping_now = Some(Unkept { what: what.clone(), typed: typed.clone(), said });
            if state.practice.is_some() {
                return counted(state, Echo::Taken);
            }
            vec![Command::Keep { time, what: Box::new(what), typed }]
        }
        Err(error) => {
            refuse(state, &error, typed);
            Vec::new()
        }
    }
}

/// Says why a line is not taken, and leaves it in the line to be mended; where another is being typed there,
/// among the earlier ones: neither is lost.
fn refuse(state: &mut State, error: &EntryError, typed: &str) {
    let nothing = matches!(error, EntryError::NothingToUndo | EntryError::NothingToRedo);
    if state.line.value().is_empty() && !nothing {
        state.line = Input::new(typed.to_owned());
    }
    // Only a line that was refused gives way to the next character: this one, or one refused before it that
    // still stands there.
    let stands = state.line.value().trim() == typed;
    state.refused |= stands;
    let why = state.watch.said_of(typed, error.to_string());
    state.echo = if stands || nothing {
        Echo::Refused(why)
    } else {
        state.history.push(typed.to_owned());
        Echo::Refused(format!("\"{typed}\": {why}"))
    };
}

/// The disk refused: the change counts all the same, and is said to be in memory only.
fn on_not_kept(state: &mut State, tally: Tally, why: &str) -> Vec<Command> {
    state.keeping = tally.into();
    state.leaving = false;
    counted(state, |said| Echo::NotKept(format!("{said}: IN MEMORY ONLY, not on disk: {why}")))
}

/// Makes the change that was with the keeper so, and takes the lines that waited for it.
fn counted(state: &mut State, echo: impl Fn(String) -> Echo) -> Vec<Command> {
    let Some(Unkept { what, typed, said }) = state.keeping_now.take() else { return Vec::new() };
    let mut commands = Vec::new();
    match state.watch.apply(&what) {
        Ok(()) => {
            if state.history.last() != Some(&typed) {
                state.history.push(typed);
            }
            state.echo = echo(said);
            if let What::Contact(entry) = &what {
                state.selected = Some(entry.label.clone());
            }
            if !matches!(what, What::Note { .. }) {
                commands.extend(state.question());
            }
        }
        Err(error) => state.echo = Echo::Refused(error.to_string()),
    }
    while state.keeping_now.is_none() {
        let Some(next) = state.waiting.pop_front() else { break };
        match understood(&next) {
            Ok(entry) => commands.extend(take(state, &entry, &next)),
            Err(error) => refuse(state, &error, &next),
        }
    }
    commands
}

fn rescale(state: &mut State, step: isize) {
    let ranges = scope::ranges(state);
    let set = state.watch.radar().set.clone();
    state.scope.rescale(&set, &ranges, step);
}

/// On a small screen an open picture has the chart's place, and its keys.
fn zoom(state: &mut State, steps: i32) {
    let layout = state.layout(state.size);
    if layout.is_some_and(|layout| layout.picture == Some(layout.chart)) {
        rescale(state, -isize::from(steps > 0) + isize::from(steps < 0));
        return;
    }
    let Some((port, _)) = &state.shore else { return };
    match state.cursor.at {
        Some(at) => state.focus.zoom_about(port, steps, at),
        None => state.focus.zoom(port, steps),
    }
}

fn pan(state: &mut State, east: f64, north: f64) {
    if let Some((port, _)) = &state.shore {
        state.focus.pan(port, east, north);
    }
}

mod alarms;
mod chosen;
mod tools;

#[cfg(test)]
mod tests;
