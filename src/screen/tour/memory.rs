use std::fmt;
use std::fs::{self, OpenOptions};
use std::io::{self, Write};
use std::path::Path;

use jiff::Timestamp;

/// What came of the tour, as it is remembered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Told {
    /// It was offered.
    Offered,
    /// It was refused: it is not offered again.
    Refused,
    /// It was begun.
    Begun,
    /// It was gone through to its end.
    Done,
    /// It was left before that.
    Left,
}

impl fmt::Display for Told {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Self::Offered => "offered",
            Self::Refused => "refused",
            Self::Begun => "begun",
            Self::Done => "done",
            Self::Left => "left",
        })
    }
}

/// Adds a line to the file, `2031-03-09T03:40:00Z refused`. That the file is there is what counts: the
/// tour is not offered again.
///
/// # Errors
/// The folder cannot be made, or the file not written. Nothing depends on it but another offer.
pub fn remember(path: &Path, told: Told, time: Timestamp) -> io::Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    let mut file = OpenOptions::new().create(true).append(true).open(path)?;
    file.write_all(format!("{time} {told}\n").as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_is_a_line_and_a_folder_that_cannot_be_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("new").join("tour.txt");
        let time: Timestamp = "2031-03-09T03:40:00Z".parse().unwrap();
        remember(&path, Told::Offered, time).unwrap();
        remember(&path, Told::Refused, time).unwrap();
        let text = fs::read_to_string(&path).unwrap();
        assert_eq!(text, "2031-03-09T03:40:00Z offered\n2031-03-09T03:40:00Z refused\n");
        assert!(remember(&path.join("under"), Told::Begun, time).is_err());
    }
}
