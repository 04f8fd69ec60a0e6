use std::sync::Arc;

use ratatui::crossterm::event::KeyCode;
use ratatui::layout::Rect;
use tui_input::Input;

use super::line::{self, Line, said};
use super::page::{Page, rows};
use super::{Outcome, Practice};
use crate::drill::{Answer, Declared, Entry as Kept, HINT, Score};
use crate::screen::scope::Marker;
use crate::screen::state::{Command, Echo, State};
use crate::watch::entry::{Entry, EntryError};

/// Lines that a page key scrolls.
const PAGE: u16 = 10;

/// Said of whatever is typed once something was declared.
const OVER: &str =
    "the exercise is over: nothing more is taken; score reads the page again, q leaves";

/// How a line of the drill's own is understood; none where it is none.
pub fn preview(state: &State, typed: &str) -> Option<Echo> {
    let practice = state.practice.as_ref()?;
    let told = line::read(typed)?.and_then(|line| practice.would(&line));
    Some(told.map_or_else(Echo::Unfinished, Echo::Understood))
}

/// Takes a line of the drill's own; none where it is none.
pub fn enter(state: &mut State, typed: &str) -> Option<Vec<Command>> {
    let practice = state.practice.as_mut()?;
    let read = line::read(typed)?;
    let taken = read.and_then(|line| practice.would(&line).map(|said| (line, said)));
    let (line, said) = match taken {
        Ok(taken) => taken,
        Err(why) => {
            state.refused = true;
            state.echo = Echo::Refused(why);
            return Some(Vec::new());
        }
    };
    state.line = Input::default();
    state.recalled = None;
    state.history.push(typed.to_owned());
    state.echo = Echo::Taken(said);
    match line {
        Line::Hint => {
            practice.hints += 1;
            practice.page = Some((Page::Hints, 0));
        }
        Line::Task => practice.page = Some((Page::Task, 0)),
        Line::Score => practice.page = Some((Page::Score, 0)),
        Line::Declare(declared) => return Some(declare(state, declared)),
    }
    Some(Vec::new())
}

/// Ends the exercise, and asks what it was worth.
fn declare(state: &mut State, declared: Declared) -> Vec<Command> {
    let (sightings, now) = (state.watch.sightings(), state.wall);
    let Some((practice, sightings)) = state.practice.as_mut().zip(sightings) else {
        return Vec::new();
    };
    let declared = Declared { time: Some(now), ..declared };
    practice.ended = Some(declared);
    // Nothing more is measured.
    state.scope.marker = Marker::default();
    state.echo = Echo::Writing("it is being scored".to_owned());
    vec![Command::Score(Box::new(Answer { sightings, declared, hints: practice.hints }))]
}

/// Why an entry of the watch is refused: the exercise is over.
pub fn refused(state: &State, entry: &Entry) -> Option<EntryError> {
    let over = state.practice.as_ref().is_some_and(|practice| practice.ended.is_some());
    (over && !matches!(entry, Entry::Note(_))).then(|| EntryError::Refused(OVER.to_owned()))
}

/// The score has come: its page opens, and it is kept.
pub fn on_score(state: &mut State, score: Score) -> Vec<Command> {
    let Some(practice) = state.practice.as_mut() else { return Vec::new() };
    let entry = Kept::of(&practice.exercise, &score, practice.real);
    state.echo = Echo::Taken(format!("scored: {:.0} of 100", score.score));
    practice.outcome = Outcome::Scored(Arc::new(score));
    practice.page = Some((Page::Score, 0));
    // Under the page lies the chart, with the true place on it.
    state.scope.open = false;
    vec![Command::KeepScore(Box::new(entry))]
}

/// The program failed on what was declared.
pub fn on_score_failed(state: &mut State) {
    let Some(practice) = state.practice.as_mut() else { return };
    practice.outcome = Outcome::Failed;
    let (title, seed) = (practice.title(), practice.exercise.seed);
    state.echo =
        Echo::Refused(format!("the program failed: no score. Report it: {title}, seed {seed}"));
}

/// The score is on the disk, or could not be written.
pub fn on_score_kept(state: &mut State, kept: Result<(), String>) {
    let Some(practice) = state.practice.as_mut() else { return };
    if let Err(why) = &kept {
        state.echo = Echo::NotKept(format!("the score is NOT kept: {why}"));
    }
    practice.kept = Some(kept);
}

/// A key while a page is open scrolls or closes it; whether it was one.
pub fn on_page_key(state: &mut State, code: KeyCode) -> bool {
    let body = state.layout(state.size).map_or(Rect::ZERO, |layout| layout.body());
    let Some(practice) = state.practice.as_mut() else { return false };
    let Some((page, scrolled)) = practice.page else { return false };
    let lines = u16::try_from(rows(practice, page, body.width).len()).unwrap_or(u16::MAX);
    let most = lines.saturating_sub(body.height);
    let to = match code {
        KeyCode::Down => Some(scrolled.saturating_add(1).min(most)),
        KeyCode::Up => Some(scrolled.saturating_sub(1)),
        KeyCode::PageDown => Some(scrolled.saturating_add(PAGE).min(most)),
        KeyCode::Char(' ') if scrolled < most => Some(scrolled.saturating_add(PAGE).min(most)),
        KeyCode::PageUp => Some(scrolled.saturating_sub(PAGE)),
        _ => None,
    };
    practice.page = to.map(|to| (page, to));
    if to.is_none() {
        practice.begin();
    }
    true
}

impl Practice {
    /// What a line would do.
    ///
    /// # Errors
    /// Why it cannot be taken now.
    fn would(&self, line: &Line) -> Result<String, String> {
        match line {
            Line::Task => Ok("reads the task and the hints taken again".to_owned()),
            Line::Score if self.score().is_some() => Ok("reads the score again".to_owned()),
            Line::Score if self.ended.is_some() => Err("it is not scored yet".to_owned()),
            Line::Score => Err(format!("nothing is declared yet; {}", line::HOW)),
            Line::Hint | Line::Declare(_) if self.ended.is_some() => Err(OVER.to_owned()),
            Line::Declare(declared) => {
                Ok(format!("declares {}; Enter ends the exercise", said(declared)))
            }
            Line::Hint => self.next_hint(),
        }
    }

    fn next_hint(&self) -> Result<String, String> {
        let Some(lesson) = self.lesson() else {
            return Err("this landfall has no hints: the lessons have, foreland drill --lesson 1"
                .to_owned());
        };
        let all = lesson.text.hints.len();
        if self.hints >= all {
            return Err(format!("all {all} hints are given: task reads them again"));
        }
        Ok(format!("hint {} of {all}: {HINT:.0} points off the score", self.hints + 1))
    }
}
