//! A plan's landfall tried many times: simulated, solved as the program solves it, held against the truth.
//!
//! Comes in: a chart, a set, the weather, a planned run, how the operator goes about it. Goes out: a
//! [`Row`] for each landfall ([`Trial::landfall`]), and what they came to ([`Tally`]). The same seed and
//! number make the same landfall on any machine and any number of threads. It knows no terminal.
//!
//! What shows and what is measured is worked out here, by rays cast at the shore: nothing of the
//! estimator's own geometry, and none of the chart's own list of headlands, is used. Two things of a
//! plan's landfall are the program's own: what stands for the landfall planned
//! ([`crate::fix::StandsFor`]), and how likely a set in such weather shows such a shore
//! ([`crate::paint::Lookout`]). The checks of `docs/accuracy.md` are made with the same simulator, on
//! places of their own and with both left out.
//!
//! - [`coast`], [`shore`], [`relief`]: the charted coast, where it truly lies, and heights as charted;
//! - [`picture`], [`features`]: what shows, and what stands out of it;
//! - [`operator`], [`trace`]: what is measured;
//! - [`case`], [`landfall`]: a landfall anywhere off a coast, as the checks have it;
//! - [`Trial`], [`run`], [`rows`]: a plan's landfalls, many of them, and the file that keeps them;
//! - [`score`], [`Tally`], [`Share`]: what came of it.

pub mod case;
pub mod coast;
pub mod features;
pub mod landfall;
mod look;
pub mod operator;
pub mod picture;
pub mod random;
pub mod relief;
mod row;
pub mod rows;
mod run;
pub mod score;
mod share;
pub mod shore;
mod tally;
mod target;
pub mod trace;
mod trial;

pub use coast::Coast;
pub use landfall::SimulatorError;
pub use row::{Answer, FixRow, LookRow, Row};
pub use run::{CampaignError, run};
pub use share::Share;
pub use tally::{Band, First, MarkUse, Refused, Side, Tally, Verdicts};
pub use target::Target;
pub use trial::{Habits, Planned, Trial};
