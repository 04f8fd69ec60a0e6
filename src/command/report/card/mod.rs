//! The landfall card: one page to lay beside the display, as text or HTML.
//!
//! [`content`] gathers what is on it, a few items to each head; [`text`] and [`html`] lay the same
//! items out, [`sketch`] draws coast, track and corridor for the second.

mod content;
mod html;
mod sketch;
mod text;

use std::fs;
use std::path::Path;

use super::Planned;
use crate::command::failure::Failure;
use crate::fix::Preparation;
use crate::paint::approach::Approach;
use crate::text::plain_lines;
use content::Card;

/// A card that was asked for.
#[derive(Debug)]
pub(in crate::command) struct CardFile<'a> {
    file: &'a Path,
    kind: Kind,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Text,
    Html,
}

impl<'a> CardFile<'a> {
    /// By the ending of its name.
    ///
    /// # Errors
    /// An ending that is neither.
    pub fn of(file: &'a Path) -> Result<Self, Failure> {
        let ending = file.extension().map(std::ffi::OsStr::to_ascii_lowercase);
        let kind = match ending.as_deref().and_then(|ending| ending.to_str()) {
            Some("txt") => Kind::Text,
            Some("html" | "htm") => Kind::Html,
            _ => {
                return Err(Failure::input(format!(
                    "--card: {} ends in neither .txt nor .html",
                    file.display()
                ))
                .with_help("the ending says what is written: --card landfall.html"));
            }
        };
        Ok(Self { file, kind })
    }

    /// Lays the card out and writes it.
    ///
    /// # Errors
    /// A file that cannot be written.
    pub fn write(
        &self,
        planned: &Planned<'_>,
        found: &Approach,
        prepared: &Preparation,
    ) -> Result<(), Failure> {
        let card = Card::new(planned, found, prepared);
        let page = match self.kind {
            Kind::Text => text::page(&card),
            Kind::Html => html::page(&card, &sketch::draw(planned, found)),
        };
        fs::write(self.file, plain_lines(&page)).map_err(|error| {
            Failure::input(format!("--card: {} cannot be written: {error}", self.file.display()))
                .with_help("name a file in a folder that exists and may be written to")
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ending_says_what_is_written() {
        assert_eq!(CardFile::of(Path::new("a.TXT")).unwrap().kind, Kind::Text);
        assert_eq!(CardFile::of(Path::new("b/c.html")).unwrap().kind, Kind::Html);
        for wrong in ["card.pdf", "card", ".txt/card"] {
            assert!(CardFile::of(Path::new(wrong)).is_err(), "{wrong}");
        }
    }
}
