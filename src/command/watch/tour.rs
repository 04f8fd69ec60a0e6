//! What the tour leads through, and whether it is offered.

use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::super::drill::progress_file;
use super::super::failure::Failure;
use super::{default_log, now};
use crate::contact::Sightings;
use crate::screen::{Lead, Told, Tour, remember};

/// The landfall that it leads through.
const SIGHTINGS: &str = include_str!("../../../charts-sample/tour.toml");

/// What the tour leads through.
pub(super) fn lead() -> Result<Lead, Failure> {
    let name = "the tour's landfall";
    let sightings = Sightings::parse(SIGHTINGS, name, Path::new(""))?;
    Ok(Lead::new(name, SIGHTINGS, &sightings))
}

/// A tour that can be had; offered to whoever has never been here.
pub(super) fn ready() -> Result<Tour, Failure> {
    Ok(Tour::ready(lead()?, !has_history(), Some(file())))
}

/// A tour that was asked for.
pub(super) fn begun(lead: Lead) -> Tour {
    Tour::begun(lead, Some(file()))
}

/// Remembers that it is offered or begun. Where that cannot be written it is offered again: no harm.
pub(super) fn note(tour: &Tour, time: Timestamp) {
    let told = match tour.step() {
        Some(_) => Told::Begun,
        None if tour.is_offered() => Told::Offered,
        None => return,
    };
    let _ = remember(&file(), told, time);
}

/// Beside the scores of the drill.
fn file() -> PathBuf {
    progress_file().with_file_name("tour.txt")
}

/// Whether the tour was offered, an exercise scored or a log kept where logs are kept.
fn has_history() -> bool {
    let is_log = |entry: std::io::Result<std::fs::DirEntry>| {
        entry.is_ok_and(|entry| entry.file_name().to_string_lossy().ends_with(".log"))
    };
    let logs = default_log(now()).parent().and_then(|folder| folder.read_dir().ok());
    let kept = logs.is_some_and(|mut entries| entries.any(is_log));
    kept || file().exists() || progress_file().exists()
}
