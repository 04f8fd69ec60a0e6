//! A line on standard error that tells how far something has come that takes long.

use std::cell::RefCell;
use std::io::{IsTerminal, Write, stderr};
use std::time::{Duration, Instant};

use crate::chart::Progress;

/// Nothing is shown of what is done sooner.
const QUIET: Duration = Duration::from_millis(200);
/// No oftener than this is a line drawn anew.
const EVERY: Duration = Duration::from_millis(100);

/// The line, drawn over itself; nothing is written where standard error is no terminal.
pub(super) struct Line {
    state: RefCell<State>,
}

struct State {
    is_shown: bool,
    begun: Instant,
    drawn: Option<Instant>,
    last: String,
}

impl Line {
    /// One that may be shown at all only where it is `wanted`.
    pub(super) fn new(wanted: bool) -> Self {
        let is_shown = wanted && stderr().is_terminal();
        let state = State { is_shown, begun: Instant::now(), drawn: None, last: String::new() };
        Self { state: RefCell::new(state) }
    }

    /// Shows how far it has come.
    pub(super) fn tell(&self, progress: Progress<'_>) {
        let mut state = self.state.borrow_mut();
        if !state.is_shown || state.begun.elapsed() < QUIET {
            return;
        }
        let text = progress.words();
        let fresh = state.drawn.is_none_or(|drawn| drawn.elapsed() >= EVERY);
        let whole = progress.share <= 0.0;
        if text != state.last && (fresh || whole) {
            // Standard error may be closed; there is then nobody to tell.
            let _ = write!(stderr().lock(), "\r\x1b[K{text}");
            let _ = stderr().lock().flush();
            (state.drawn, state.last) = (Some(Instant::now()), text);
        }
    }
}

impl Drop for Line {
    /// Takes the line away.
    fn drop(&mut self) {
        if self.state.borrow().drawn.is_some() {
            let _ = write!(stderr().lock(), "\r\x1b[K");
        }
    }
}
