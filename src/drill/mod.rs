//! Landfalls to practise on: a hidden truth, a picture of it, an answer, a score.
//!
//! Comes in: a chart and a seed, or the number of a lesson. Goes out: an [`Exercise`], what may be
//! known of it and what its screen shows ([`Exercise::look`]); and for an [`Answer`] its [`Score`].
//! The screen is [`crate::paint`]'s own, drawn from where the craft truly is, with noise, bearings
//! that err by what the heading errs, and ships that no chart has. [`reader`] reads it as the program
//! does, and knows no more than the trainee. No display and no clock is known here.

mod declared;
mod exercise;
mod lessons;
mod made;
mod order;
mod path;
mod progress;
pub mod reader;
mod score;
mod truth;
pub mod words;

pub use declared::{Answer, Declared};
pub use exercise::{Declaration, Exercise, Scan};
pub use lessons::{LESSONS, Lesson, Text};
pub use made::{MadeError, landfall, places_over, reach};
pub use progress::{Entry, Progress, ProgressError};
pub use score::{HINT, Part, Score, WrongName, score};
