//! After the sortie: what was entered and decided, and where we really were.
//!
//! In: the records of a watch log, and the chart where marks are to be named anew. Out: a
//! [`Debrief`], which is history, fixes against the reckoning, contacts and echoes in hindsight, the
//! track smoothed, and what should have painted when; and that account written as the files that other
//! programs read ([`export`]).
//!
//! It writes to no log and takes no lock: a log in use can be read. It knows no terminal.

mod account;
pub mod export;
mod hindsight;
mod history;
mod painted;
mod sitting;
pub mod smooth;

pub use account::{
    ContactAccount, Debrief, DrError, DriftAccount, FixAccount, Verdict, asks_about, debrief,
};
pub use history::{Entry, Fate, History, history};
pub use painted::{First, Painted, Report, WORTH};
pub use sitting::Naming;
