//! The sightings that a sitting is to start from, read once.

use std::cell::OnceCell;
use std::path::Path;

use super::super::common::read_text;
use super::super::failure::Failure;
use crate::contact::Sightings;
use crate::watch::Watch;

/// Sightings to start from. Whoever asks first reads their text: the chart is opened about the place that
/// they tell, the sitting begins with what they say, and what comes through a pipe is gone once read.
pub(super) struct Given<'a> {
    path: &'a Path,
    /// Standard input holds the entries.
    plain: bool,
    read: OnceCell<Result<Text, Failure>>,
}

/// A text, and the name to call it by.
type Text = (String, String);

impl<'a> Given<'a> {
    pub(super) fn new(path: &'a Path, plain: bool) -> Self {
        Self { path, plain, read: OnceCell::new() }
    }

    /// What paths in the text count from.
    pub(super) fn base(&self) -> &'a Path {
        self.path.parent().unwrap_or(Path::new(""))
    }

    /// The sitting as it will begin; none where something is wrong, which is told once the chart is open.
    pub(super) fn watch(&self) -> Option<Watch> {
        let (text, name) = self.read.get_or_init(|| self.text()).as_ref().ok()?;
        let sightings = Sightings::parse(text, name, self.base()).ok()?;
        Some(Watch::from_sightings(&sightings))
    }

    /// The text, and the name to call it by.
    ///
    /// # Errors
    /// It cannot be read, or standard input holds the entries.
    pub(super) fn into_text(mut self) -> Result<Text, Failure> {
        self.read.take().unwrap_or_else(|| self.text())
    }

    fn text(&self) -> Result<Text, Failure> {
        if self.plain && self.path == Path::new("-") {
            return Err(Failure::input("with --plain standard input holds the entries")
                .with_help("name a file for the sightings"));
        }
        read_text(self.path)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::landfall::SIGHTINGS;

    #[test]
    fn what_was_read_to_find_the_place_is_what_the_sitting_begins_with() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("landfall.toml");
        std::fs::write(&path, SIGHTINGS).unwrap();
        let given = Given::new(&path, true);
        assert!(given.watch().is_some());
        // As what comes through a pipe, it is not there a second time.
        std::fs::remove_file(&path).unwrap();
        assert!(given.watch().is_some());
        assert_eq!(given.into_text().unwrap(), (SIGHTINGS.to_owned(), path.display().to_string()));
    }

    #[test]
    fn entries_are_never_read_as_sightings() {
        let given = Given::new(Path::new("-"), true);
        assert!(given.watch().is_none());
        let refused = given.into_text().unwrap_err().render();
        assert!(refused.contains("with --plain standard input holds the entries"), "{refused}");
    }
}
