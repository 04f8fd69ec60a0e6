//! A campaign's rows on disk: one landfall a line, after a head that says of what they are.

use std::collections::BTreeSet;
use std::fs::{File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::row::Row;

/// The schema that the head of a file names.
const SCHEMA: &str = "foreland.campaign.rows/1";

/// The most that is read of a file, in bytes.
const MOST_BYTES: u64 = 4 * 1024 * 1024 * 1024;

/// What rows are of: program, seed, chart, set, plan. Names and values, in their order.
pub type Of = Vec<(String, String)>;

/// Why a file of rows cannot be used.
#[derive(Debug, Error)]
pub enum RowsError {
    /// The disk refuses.
    #[error("{}: cannot be {what}: {error}", file.display())]
    Disk {
        /// Which file.
        file: PathBuf,
        /// What was to be done with it.
        what: &'static str,
        /// Why not.
        error: io::Error,
    },
    /// It begins otherwise.
    #[error("{}: is no file of a campaign's rows: line 1 is no head of them", file.display())]
    NoHead {
        /// Which file.
        file: PathBuf,
    },
    /// Its rows are of something else.
    #[error("{}: was begun with another {}", file.display(), differences.join("; another "))]
    Other {
        /// Which file.
        file: PathBuf,
        /// What differs: `seed: 7 there, 8 here`.
        differences: Vec<String>,
    },
    /// A line that is no row, and not the last.
    #[error("{}: line {line} is no row of a campaign: {why}", file.display())]
    BadRow {
        /// Which file.
        file: PathBuf,
        /// Which line, from one.
        line: usize,
        /// What is wrong.
        why: String,
    },
}

/// A file that rows are added to.
#[derive(Debug)]
pub struct RowsFile {
    path: PathBuf,
    file: File,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Head {
    schema: String,
    of: Of,
}

impl RowsFile {
    /// Opens a file, new or begun before, and reads the rows that it holds. A last line cut short is
    /// taken off.
    ///
    /// # Errors
    /// A file that cannot be read or written, that is no file of rows, or whose rows are of something
    /// else.
    pub fn open(path: &Path, of: &Of) -> Result<(Self, Vec<Row>), RowsError> {
        let disk = |what| move |error| RowsError::Disk { file: path.to_owned(), what, error };
        let mut file = OpenOptions::new()
            .read(true)
            .append(true)
            .create(true)
            .open(path)
            .map_err(disk("opened"))?;
        // A part of it alone would be cut to what was read.
        if file.metadata().map_err(disk("read"))?.len() > MOST_BYTES {
            return Err(disk("read")(io::Error::other("it is larger than 4 GiB")));
        }
        let mut bytes = Vec::new();
        (&mut file).take(MOST_BYTES).read_to_end(&mut bytes).map_err(disk("read"))?;
        let whole = bytes.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
        // Nothing of ours begins otherwise: what is somebody else's is not cut.
        let opening = format!("{{\"schema\":\"{SCHEMA}\"");
        let begun = opening.as_bytes();
        let as_far = bytes.len().min(begun.len());
        if bytes.get(..as_far) != begun.get(..as_far) {
            return Err(RowsError::NoHead { file: path.to_owned() });
        }
        let (rows, good) = read(path, bytes.get(..whole).unwrap_or_default(), of)?;
        if good < bytes.len() {
            file.set_len(good as u64).map_err(disk("cut"))?;
        }
        let mut opened = Self { path: path.to_owned(), file };
        if good == 0 {
            opened.write(&Head { schema: SCHEMA.to_owned(), of: of.clone() })?;
        }
        Ok((opened, rows))
    }

    /// Adds a row: on the disk when this returns.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn append(&mut self, row: &Row) -> Result<(), RowsError> {
        self.write(row)
    }

    fn write(&mut self, line: &impl Serialize) -> Result<(), RowsError> {
        let disk = |error| RowsError::Disk { file: self.path.clone(), what: "written", error };
        let mut text = serde_json::to_string(line).map_err(|error| disk(error.into()))?;
        text.push('\n');
        self.file.write_all(text.as_bytes()).map_err(disk)?;
        self.file.sync_data().map_err(disk)
    }
}

/// The rows of a file's whole lines, and how many bytes of it are good.
fn read(path: &Path, bytes: &[u8], of: &Of) -> Result<(Vec<Row>, usize), RowsError> {
    let (mut rows, mut there) = (Vec::new(), BTreeSet::new());
    let mut good = 0;
    let mut lines = bytes.split_inclusive(|byte| *byte == b'\n').enumerate().peekable();
    while let Some((at, line)) = lines.next() {
        if at == 0 {
            check(path, line, of)?;
        } else {
            let found = serde_json::from_slice::<Row>(line).map_err(|error| error.to_string());
            match found.and_then(|row| fits(row, &there)) {
                Ok(row) => {
                    there.insert(row.landfall);
                    rows.push(row);
                }
                // A disk that went down with the program may leave its last line spoilt.
                Err(_) if lines.peek().is_none() => break,
                Err(why) => {
                    return Err(RowsError::BadRow { file: path.to_owned(), line: at + 1, why });
                }
            }
        }
        good += line.len();
    }
    Ok((rows, good))
}

fn fits(row: Row, there: &BTreeSet<u64>) -> Result<Row, String> {
    if there.contains(&row.landfall) {
        return Err(format!("landfall {} stands there twice", row.landfall));
    }
    if !row.is_whole() || row.landfall == 0 {
        return Err("its parts do not belong together".to_owned());
    }
    Ok(row)
}

/// Whether a head says the same.
fn check(path: &Path, line: &[u8], of: &Of) -> Result<(), RowsError> {
    let head: Head =
        serde_json::from_slice(line).map_err(|_| RowsError::NoHead { file: path.to_owned() })?;
    let value = |list: &Of, name: &str| {
        let found = list.iter().find(|(known, _)| known == name);
        found.map_or_else(|| "nothing".to_owned(), |(_, value)| value.clone())
    };
    let more = head.of.iter().filter(|(name, _)| !of.iter().any(|(known, _)| known == name));
    let differences: Vec<String> = of
        .iter()
        .chain(more)
        .map(|(name, _)| (name, value(&head.of, name), value(of, name)))
        .filter(|(_, there, here)| there != here)
        .map(|(name, there, here)| format!("{name}: {there} there, {here} here"))
        .collect();
    if differences.is_empty() {
        return Ok(());
    }
    Err(RowsError::Other { file: path.to_owned(), differences })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_larger_than_is_read_is_not_cut_to_what_is() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("plan.rows");
        let of = vec![("seed".to_owned(), "7".to_owned())];
        RowsFile::open(&path, &of).unwrap();
        // With a hole for its end it takes no room.
        let file = OpenOptions::new().write(true).open(&path).unwrap();
        file.set_len(MOST_BYTES + 1).unwrap();
        let refused = RowsFile::open(&path, &of).unwrap_err().to_string();
        assert!(refused.ends_with("cannot be read: it is larger than 4 GiB"), "{refused}");
        assert_eq!(file.metadata().unwrap().len(), MOST_BYTES + 1);
    }
}
