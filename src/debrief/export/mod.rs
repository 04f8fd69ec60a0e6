//! The account written down: tables for people, and the files that other programs read.
//!
//! Whatever came out of a log goes through [`clean`] before it is written, and is escaped as each
//! form asks.

mod clean;
mod csv;
mod geojson;
mod gpx;
mod html;
mod markdown;
mod missed;
mod rings;
mod sections;
mod sheet;
mod words;

pub use clean::{clean, markup};
pub use csv::csv;
pub use geojson::geojson;
pub use gpx::gpx;
pub use html::html;
pub use markdown::markdown;
pub use sections::{Section, sections};

use crate::chart::Chart;
use crate::debrief::Debrief;

/// What is written down, and what it is called.
#[derive(Debug, Clone, Copy)]
pub struct Told<'a> {
    /// The account.
    pub debrief: &'a Debrief,
    /// The log's name.
    pub log: &'a str,
    /// The chart given, to draw its coast.
    pub chart: Option<&'a Chart>,
    /// The caution that every report carries.
    pub caution: &'a str,
}
