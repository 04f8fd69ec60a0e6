//! A large chart's coast and marks, worked out once and kept in a file from which any part is read
//! by itself: the *index* of the chart.
//!
//! It holds the coast in short runs and the marks that its shape gives, each in a packed tree of
//! boxes ([`tree`]); which rings hold each whole degree of latitude and longitude, so that land and
//! sea are known anywhere without the rest of the coast; and what the chart says of itself.
//! Layers of marks, relief and cover and the elevation grids are read from their own files.
//!
//! It is never believed without reason. It names the version of the program and of the form, and
//! the files that it was made from by size and time of change ([`identity`]); every piece read is
//! held against its checksum. What does not fit is a [`Fault`], and the chart is read raw.

mod corners;
mod format;
mod identity;
mod read;
mod told;
mod tree;
mod write;

pub(super) use identity::Identity;
pub(super) use read::{Index, Part};
pub use write::Prepared;
pub(super) use write::{Source, write};

use std::path::Path;

use super::bytes::Damage;
use super::shapes::sanitised;

/// Why an index is not used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Fault {
    /// There is none.
    Missing,
    /// It cannot be opened.
    Unreadable(String),
    /// It is of another version of the program.
    Version,
    /// The chart has changed since.
    Stale(String),
    /// It is damaged, or no index.
    Damaged(String),
}

impl From<Damage> for Fault {
    fn from(damage: Damage) -> Self {
        Self::Damaged(damage.0)
    }
}

impl Fault {
    /// What an operator must know of it; nothing where there is simply no index.
    pub(super) fn caution(&self, path: &Path) -> Option<String> {
        let why = match self {
            Self::Missing => return None,
            Self::Unreadable(why) => format!("cannot be read ({why})"),
            Self::Version => "was made by another version of the program".to_owned(),
            Self::Stale(what) => format!("is out of date ({what})"),
            Self::Damaged(why) => format!("is damaged ({why})"),
        };
        let path = sanitised(&path.display().to_string());
        Some(format!(
            "the chart's index {path} {why}: it is not used and the chart was read whole; \
             `foreland chart prepare` makes it anew"
        ))
    }
}
