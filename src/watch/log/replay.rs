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
    damaged: Damaged,
}

/// The damaged lines since the last sound record: each stands for one number.
#[derive(Debug, Clone, PartialEq, Default)]
struct Damaged {
    /// Numbers that can still be read, each greater than the one before.
    numbers: Vec<u64>,
    /// How many more lines there are.
    others: u64,
}

impl Damaged {
    /// Takes a line in; `due` is the least number that it can have.
    fn take(&mut self, line: &[u8], due: u64) {
        let least = self.numbers.last().map_or(due, |last| last.saturating_add(1));
        match number_of(line).filter(|number| *number >= least) {
            Some(number) => self.numbers.push(number),
            None => self.others += 1,
        }
    }

    /// The runs of numbers from `due` to before `found` that no damaged line stands for, each with its
    /// first and last. A line whose number cannot be read stands for the first that is wanting.
    fn unexplained(self, due: u64, found: u64) -> Vec<(u64, u64)> {
        let (named, beyond): (Vec<u64>, Vec<u64>) =
            self.numbers.into_iter().partition(|number| *number < found);
        let mut others = self.others + beyond.len() as u64;
        let mut runs = Vec::new();
        let mut from = due;
        for until in named.into_iter().chain([found]) {
            let explained = others.min(until - from);
            others -= explained;
            if from + explained < until {
                runs.push((from + explained, until - 1));
            }
            from = until.saturating_add(1);
        }
        runs
    }
}

/// The number of a line that is damaged elsewhere.
fn number_of(line: &[u8]) -> Option<u64> {
    let number = line.split(|b| *b == b' ').nth(1)?;
    std::str::from_utf8(number).ok()?.parse().ok()
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
                let (due, damaged) = (self.due(), std::mem::take(&mut self.damaged));
                if record.number > due {
                    for (first, last) in damaged.unexplained(due, record.number) {
                        self.notice(missing(first, last));
                    }
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
                self.damaged.take(line, self.due());
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

    /// The number that the next record should have.
    fn due(&self) -> u64 {
        self.records.last().map_or(1, |last| last.number.saturating_add(1))
    }
}

fn missing(first: u64, last: u64) -> String {
    if first == last {
        format!("record {first} is missing")
    } else {
        format!("records {first} to {last} are missing")
    }
}
