use super::one_mistake::OneMistake;
use super::report::Comparison;
use crate::identity::{Hypothesis, Mode, Posterior, Solution};

/// The best answer and what speaks for and against it.
pub(super) struct Finding<'a> {
    pub posterior: &'a Posterior,
    pub mode: &'a Mode,
    pub best: &'a Hypothesis,
    pub alone: Option<Solution>,
    pub free: bool,
    pub comparison: Comparison,
    pub rejected: Vec<usize>,
    pub rests_on_names: bool,
    /// What is left without the names, where several carry the answer; sought of a fix alone.
    pub one_mistake: Option<OneMistake>,
    /// What was asked for.
    pub assurance: f64,
    /// Why the contacts are at odds; empty where they are not.
    pub odds: Vec<String>,
}

impl Finding<'_> {
    /// How likely the place is, all names being one mistake among what may be.
    pub fn probability(&self) -> f64 {
        let named = self.mode.probability;
        self.one_mistake.as_ref().map_or(named, |mistake| mistake.chance(named))
    }
}

/// Somewhere the contacts agree among themselves, that the reckoning does not allow.
pub(super) struct Elsewhere {
    pub solution: Solution,
    pub targets: Vec<Option<usize>>,
    pub why: String,
}
