//! An exercise on the display: a drill is the watch's own display with a hidden truth behind its
//! picture, and no answer worked out.
//!
//! What is here: the exercise's clock, the lines that only a drill takes ([`line`]), its pages
//! ([`page`]) and what they change ([`play`]). The truth is in none of it: the worker draws the picture
//! of it, and it reaches the display with the score, after something was declared.

mod line;
mod page;
mod play;

use std::path::PathBuf;
use std::sync::Arc;

use jiff::{SignedDuration, Timestamp};

use super::scope::Look;
use super::state::{Keeping, State};
use super::theme::Theme;
use crate::chart::Chart;
use crate::drill::{Declared, Exercise, Lesson, Score};
use crate::geodesy::Position;
use crate::units::GroundRange;
use crate::watch::Watch;
use crate::watch::entry::Entry;

pub use page::Page;
pub(super) use page::{Row, rows};
pub(super) use play::{
    enter, on_page_key, on_score, on_score_failed, on_score_kept, preview, refused,
};

/// Between two pictures, seconds: about a turn of a slow aerial, and time for the slowest machine.
const LOOK_S: i64 = 10;

/// An exercise under way, or done.
#[derive(Debug)]
pub struct Practice {
    /// What is to be solved.
    pub exercise: Arc<Exercise>,
    /// Hints taken.
    pub hints: usize,
    /// The page that is open, scrolled by so many lines.
    pub page: Option<(Page, u16)>,
    /// What was declared: the exercise is over.
    pub ended: Option<Declared>,
    /// What that came to.
    pub outcome: Outcome,
    /// Where scores are kept, and whether this one is.
    pub scores: PathBuf,
    /// Whether the score is on the disk, or why not; none until it was tried.
    pub kept: Option<Result<(), String>>,
    /// The clock of the machine, as the last message told it.
    real: Timestamp,
    /// What it showed as the exercise began: none while the first page is read.
    begun: Option<Timestamp>,
}

/// What a declaration came to.
#[derive(Debug, Clone, Default)]
pub enum Outcome {
    /// Nothing was declared, or it is being scored.
    #[default]
    None,
    /// The score.
    Scored(Arc<Score>),
    /// The program failed on it.
    Failed,
}

impl Practice {
    fn new(exercise: Exercise, scores: PathBuf) -> Self {
        Self {
            exercise: Arc::new(exercise),
            hints: 0,
            page: Some((Page::Task, 0)),
            ended: None,
            outcome: Outcome::None,
            scores,
            kept: None,
            real: Timestamp::UNIX_EPOCH,
            begun: None,
        }
    }

    /// The lesson; none of a landfall made from a seed.
    pub(super) fn lesson(&self) -> Option<&'static Lesson> {
        self.exercise.lesson.and_then(Lesson::of_number)
    }

    /// `lesson 3: Inland ground shows first`.
    pub fn title(&self) -> String {
        self.lesson().map_or_else(
            || format!("a landfall, seed {}", self.exercise.seed),
            |lesson| format!("lesson {}: {}", lesson.number, lesson.title),
        )
    }

    /// The score, once something was declared and scored.
    pub fn score(&self) -> Option<&Score> {
        match &self.outcome {
            Outcome::Scored(score) => Some(score),
            Outcome::None | Outcome::Failed => None,
        }
    }

    /// Something was declared, and has still to be scored or kept.
    pub(super) fn is_pending(&self) -> bool {
        match self.outcome {
            Outcome::None => self.ended.is_some(),
            Outcome::Scored(_) => self.kept.is_none(),
            Outcome::Failed => false,
        }
    }

    /// The exercise's own time by the machine's clock: it stands while the first page is read, and from
    /// the declaration on.
    pub(super) fn tell_time(&mut self, real: Timestamp) -> Timestamp {
        self.real = real;
        if let Some(time) = self.ended.and_then(|declared| declared.time) {
            return time;
        }
        let run = self.begun.map_or(SignedDuration::ZERO, |begun| real.duration_since(begun));
        self.exercise.first.checked_add(run).unwrap_or(self.exercise.first)
    }

    fn begin(&mut self) {
        self.begun.get_or_insert(self.real);
    }

    /// Which look of the set shows at a time.
    pub(super) fn look(&self, now: Timestamp) -> Look {
        let run = now.duration_since(self.exercise.first).as_secs().max(0);
        let number = run / LOOK_S;
        let since = SignedDuration::from_secs(number.saturating_mul(LOOK_S));
        // The picture that an exercise ends on is of its last moment.
        let time = match self.ended {
            Some(_) => now,
            None => self.exercise.first.checked_add(since).unwrap_or(now),
        };
        Look { time, number: number.unsigned_abs() }
    }
}

impl State {
    /// A display on an exercise, its score to be kept in the file `scores`.
    pub fn practising(
        chart: Arc<Chart>,
        exercise: Exercise,
        scores: PathBuf,
        theme: Theme,
    ) -> Self {
        let watch = Watch::from_sightings(&exercise.sightings());
        let mut state = Self::new(chart, watch, Keeping::Nowhere, theme);
        let scales = &exercise.set.scales_nm;
        state.scope.open = true;
        state.scope.scale =
            scales.iter().position(|scale| (scale - exercise.scale_nm).abs() < 1e-6);
        state.wall = exercise.first;
        state.practice = Some(Practice::new(exercise, scores));
        state
    }

    /// The score of an exercise that is over.
    pub(super) fn score(&self) -> Option<&Score> {
        self.practice.as_ref().and_then(Practice::score)
    }
}

/// When what is typed now was measured: a contact is read off the picture that shows.
pub(super) fn read_at(state: &State, entry: &Entry) -> Option<Timestamp> {
    let measured = matches!(entry, Entry::Measured(_) | Entry::Again { .. });
    measured.then(|| shown_at(state)).flatten()
}

/// The time of the picture that shows; none on a watch, and where no picture is open.
fn shown_at(state: &State) -> Option<Timestamp> {
    state.practice.as_ref()?;
    let (ask, _) = state.scope.drawn.as_ref().filter(|_| state.scope.open)?;
    ask.look.map(|look| look.time)
}

/// Where rings and echoes are drawn from: the reckoning as the picture shows, then the true place.
pub(super) fn stand(state: &State) -> Option<Position> {
    if let Some(score) = state.score() {
        return Some(score.truth);
    }
    origin_at(state, shown_at(state).unwrap_or(state.wall))
}

/// Where a contact of a time is drawn from.
pub(super) fn origin_at(state: &State, time: Timestamp) -> Option<Position> {
    if let Some(score) = state.score() {
        return Some(score.truth_at(time));
    }
    let reckoning = state.watch.reckoning()?;
    Some(reckoning.carried_to(time).map_or(reckoning.position, |(position, _)| position))
}

/// Where the craft truly was, and what was declared in its place, with its error: once it is scored.
pub(super) fn places(state: &State) -> Option<(Position, Option<(Position, GroundRange)>)> {
    let score = state.score()?;
    let declared = state.practice.as_ref()?.ended?;
    Some((score.truth, declared.position.zip(declared.sigma)))
}

/// The same places alone, for the chart to hold.
pub(super) fn in_view(state: &State) -> Vec<Position> {
    let Some((truth, declared)) = places(state) else { return Vec::new() };
    std::iter::once(truth).chain(declared.map(|(position, _)| position)).collect()
}

#[cfg(test)]
mod tests;
