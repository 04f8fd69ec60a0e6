use std::path::Path;

use super::{FIRST_LINE, LogError, Record};
use crate::text::acts;

/// The most notices of single lines: more of them say no more.
const MOST_NOTICES: usize = 100;

/// What a log holds.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Replay {
    /// Its sound records, in the order of the file.
    pub records: Vec<Record>,
    /// What an operator must know: a torn last line, damaged or missing records.
    pub notices: Vec<String>,
    /// Bytes from the start that are kept; what follows them is a torn last line.
    pub whole_bytes: usize,
    /// How many lines have something wrong that is in no notice.
    unsaid: usize,
}

/// Reads a log's bytes. `path` is for messages.
///
/// # Errors
/// Not a watch log, or one of a later version.
pub fn replay(bytes: &[u8], path: &Path) -> Result<Replay, LogError> {
    let mut found = Replay::default();
    let first = FIRST_LINE.as_bytes();
    if first.starts_with(bytes) && bytes.len() < first.len() {
        if !bytes.is_empty() {
            found.notices.push("the log was cut off in its first line: begun anew".to_owned());
        }
        return Ok(found);
    }
    let mut at = 0;
    if bytes.starts_with(first) {
        at = first.len();
        found.whole_bytes = at;
    } else {
        check_first_line(bytes, path)?;
        found.notices.push("the log's first line is damaged".to_owned());
    }
    let mut line_number = usize::from(at > 0);
    while at < bytes.len() {
        let rest = bytes.get(at..).unwrap_or_default();
        let ended = rest.iter().position(|b| *b == b'\n');
        let line = rest.get(..ended.unwrap_or(rest.len())).unwrap_or_default();
        line_number += 1;
        at += line.len() + usize::from(ended.is_some());
        found.line(line, line_number, ended.is_some(), at);
    }
    if found.unsaid > 0 {
        found.notices.push(format!("so it is with {} lines more", found.unsaid));
    }
    Ok(found)
}

/// Tells a log with a damaged first line from a file of another kind.
fn check_first_line(bytes: &[u8], path: &Path) -> Result<(), LogError> {
    let line = bytes.split(|b| *b == b'\n').next().unwrap_or_default();
    if line.starts_with(b"foreland watch log, version ") {
        let line: String =
            String::from_utf8_lossy(line).chars().filter(|c| !acts(*c)).take(60).collect();
        return Err(LogError::Later { path: path.to_owned(), line });
    }
    let any = bytes.split(|b| *b == b'\n').any(|line| Record::from_line(line).is_ok());
    if any { Ok(()) } else { Err(LogError::NotALog { path: path.to_owned() }) }
}

impl Replay {
    /// Takes one line; `end` is where the next one starts.
    fn line(&mut self, line: &[u8], line_number: usize, ended: bool, end: usize) {
        match Record::from_line(line) {
            Ok(record) => {
                let due = self.records.last().map_or(1, |last| last.number.saturating_add(1));
                if record.number > due && !self.notices_end_with_damage(line_number) {
                    self.notice(gap(due, record.number));
                }
                self.records.push(record);
                self.whole_bytes = end;
            }
            Err(_) if !ended => {
                self.notices.push(format!(
                    "line {line_number} was cut off while it was being written: dropped (it was never acknowledged)"
                ));
            }
            // Line 1 is told of already.
            Err(_) if line_number == 1 => self.whole_bytes = end,
            Err(why) => {
                self.notice(format!("line {line_number} is damaged ({why}): skipped"));
                self.whole_bytes = end;
            }
        }
    }

    /// Says what is wrong with one line, up to so many.
    fn notice(&mut self, notice: String) {
        if self.notices.len() < MOST_NOTICES {
            self.notices.push(notice);
        } else {
            self.unsaid += 1;
        }
    }

    /// A damaged line just before explains a gap in the numbers.
    fn notices_end_with_damage(&self, line_number: usize) -> bool {
        let before = format!("line {} is damaged", line_number - 1);
        self.notices.last().is_some_and(|notice| notice.starts_with(&before))
    }
}

fn gap(due: u64, found: u64) -> String {
    if found - due == 1 {
        format!("record {due} is missing")
    } else {
        format!("records {due} to {} are missing", found - 1)
    }
}
