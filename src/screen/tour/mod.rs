//! The tour: on the sample's landfall, somebody new to the display is led from the first echo to a fix.
//!
//! A step is a condition of the real [`State`] ([`steps`]), never a script of keys: whoever is led types
//! what they like, and the tour goes on when what it told has come about, by whatever way. It says one
//! thing at a time, in a line or two over the entry line ([`words`], [`lines`]); answers come from the
//! display itself. What is typed and pressed for it is in [`play`]; that it was offered, in [`memory`].
//!
//! It keeps no book of its own: entries go to the watch's log, as always.

mod lead;
mod lines;
mod memory;
mod play;
mod seen;
mod steps;
mod words;

use std::path::PathBuf;
use std::sync::Arc;

use super::state::{Panel, State};

pub use lead::{Lead, Reading};
pub use memory::{Told, remember};
pub use steps::Step;

pub(super) use lines::{KEYS, LEAD, rows};
#[cfg(test)]
pub(super) use play::is_word;
pub(super) use play::{enter, follow, on_key, preview};
pub(super) use words::OFFER;

/// The tour: what it leads through, and how far it has come.
#[derive(Debug, Default)]
pub struct Tour {
    /// The landfall that it leads through; none on a chart or with sightings of one's own.
    lead: Option<Arc<Lead>>,
    /// It is offered in the line under the entry line.
    offered: bool,
    /// How far it has come; none while it is not under way.
    course: Option<Course>,
    /// Where it is remembered that it was offered; none where nothing is.
    memory: Option<PathBuf>,
}

/// How far a tour has come.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Course {
    at: Step,
    /// The step was chosen by hand, and whether it was done then: the tour waits there.
    by_hand: Option<bool>,
    /// The panel as the step began.
    panel: Panel,
    /// The panel that it wants read was brought up.
    looked: bool,
    /// Lines entered before the step began.
    lines: usize,
    /// Something was taken back in this step.
    undone: bool,
}

impl Course {
    fn new(at: Step, panel: Panel, lines: usize) -> Self {
        Self { at, by_hand: None, panel, lines, looked: false, undone: false }
    }

    /// A step that begins on the display as it stands.
    fn at(at: Step, state: &State) -> Self {
        Self::new(at, state.panel, state.history.len())
    }
}

impl Tour {
    /// A tour that can be had on the sample's landfall. `offered`: it is offered at once.
    pub fn ready(lead: Lead, offered: bool, memory: Option<PathBuf>) -> Self {
        Self { lead: Some(Arc::new(lead)), offered, course: None, memory }
    }

    /// A tour under way from its first step on; the watch must be the lead's.
    pub fn begun(lead: Lead, memory: Option<PathBuf>) -> Self {
        let course = Some(Course::new(Step::Verdict, Panel::default(), 0));
        Self { course, ..Self::ready(lead, false, memory) }
    }

    /// The step that it is at; none while it is not under way.
    pub fn step(&self) -> Option<Step> {
        self.course.map(|course| course.at)
    }

    /// Whether it waits, by hand, at a step that has come about before.
    pub(super) fn is_done_already(&self) -> bool {
        self.course.is_some_and(|course| course.by_hand == Some(true))
    }

    /// Whether it is offered now.
    pub fn is_offered(&self) -> bool {
        self.offered
    }
}

impl State {
    /// How many lines the tour has over the entry line on a screen of so many columns.
    pub(super) fn tour_height(&self, columns: u16) -> u16 {
        rows(self, columns).map_or(0, |rows| u16::try_from(rows.len()).unwrap_or(u16::MAX))
    }
}

#[cfg(test)]
mod tests;
