use std::fs;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::log::{Log, LogError, Record, What};

/// Keeps what is entered: in a log that is open, or in one that is begun with the first entry, so
/// that a look at a chart leaves no file behind.
#[derive(Debug)]
pub struct Keeper {
    place: Place,
    /// What the disk has refused so far, oldest first: in memory only.
    waiting: Vec<(Timestamp, What, Option<String>)>,
    /// Entries in the log: what the operator typed, not what the program had to say.
    kept: u64,
}

/// How many entries of an operator are where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tally {
    /// The log.
    pub path: PathBuf,
    /// Whether it is there already.
    pub begun: bool,
    /// Entries that it holds, those of earlier sittings with them.
    pub kept: u64,
    /// Entries that are in memory only: the disk has refused them so far.
    pub unkept: u64,
}

#[derive(Debug)]
enum Place {
    Open(Log),
    Later { path: PathBuf, opening: Vec<What> },
}

impl Keeper {
    /// Keeps in a log that is open, and notes there what the sitting opens with.
    ///
    /// - `held`: the records that the log holds already.
    ///
    /// # Errors
    /// A log that cannot be written.
    pub fn in_log(
        mut log: Log,
        held: &[Record],
        time: Timestamp,
        opening: Vec<What>,
    ) -> Result<Self, LogError> {
        for what in opening {
            log.append(time, what, None)?;
        }
        let kept = held.iter().filter(|record| record.typed.is_some()).count() as u64;
        Ok(Self { place: Place::Open(log), waiting: Vec::new(), kept })
    }

    /// Begins the log at `path` with the first entry; its folder is made where it is missing.
    pub fn later(path: PathBuf, opening: Vec<What>) -> Self {
        Self { place: Place::Later { path, opening }, waiting: Vec::new(), kept: 0 }
    }

    /// The file.
    pub fn path(&self) -> &Path {
        match &self.place {
            Place::Open(log) => log.path(),
            Place::Later { path, .. } => path,
        }
    }

    /// Whether the file is there already.
    pub fn is_open(&self) -> bool {
        matches!(self.place, Place::Open(_))
    }

    /// How many changes are in memory only, the program's own records with them: the disk has refused
    /// them so far.
    pub fn unkept(&self) -> usize {
        self.waiting.len()
    }

    /// How many entries are in the log, and how many in memory only.
    pub fn tally(&self) -> Tally {
        let unkept = self.waiting.iter().filter(|(.., typed)| typed.is_some()).count() as u64;
        let (path, begun) = (self.path().to_owned(), self.is_open());
        Tally { path, begun, kept: self.kept, unkept }
    }

    /// Writes a change, after those that the disk refused before, and waits for the disk.
    ///
    /// # Errors
    /// The log cannot be begun or written: the change then waits in memory, to be tried again with
    /// the next.
    pub fn keep(
        &mut self,
        time: Timestamp,
        what: What,
        typed: Option<String>,
    ) -> Result<(), LogError> {
        self.waiting.push((time, what, typed));
        self.try_again()
    }

    /// Begins another sitting: in the log that is open, or in place of the one that a log not begun yet
    /// was to open with.
    ///
    /// # Errors
    /// As [`Keeper::keep`].
    pub fn begin_anew(&mut self, time: Timestamp, start: What) -> Result<(), LogError> {
        match &mut self.place {
            Place::Later { opening, .. } if self.waiting.is_empty() => {
                opening.retain(|what| matches!(what, What::Open { .. }));
                opening.push(start);
                Ok(())
            }
            _ => self.keep(time, start, None),
        }
    }

    /// Tries again to write what the disk has refused.
    ///
    /// # Errors
    /// As [`Keeper::keep`].
    pub fn try_again(&mut self) -> Result<(), LogError> {
        let Some((time, ..)) = self.waiting.first() else { return Ok(()) };
        if let Place::Later { path, opening } = &self.place {
            let failed = |source| LogError::File { path: path.clone(), doing: "begun", source };
            if let Some(folder) = path.parent().filter(|p| !p.as_os_str().is_empty()) {
                fs::create_dir_all(folder).map_err(failed)?;
            }
            let (mut log, replay) = Log::open(path)?;
            // A log that was begun before the disk refused holds its opening, or a part of it.
            for what in opening.iter().skip(replay.records.len()) {
                log.append(*time, what.clone(), None)?;
            }
            self.place = Place::Open(log);
        }
        let Place::Open(log) = &mut self.place else { return Ok(()) };
        let mut kept = 0;
        let mut told = Ok(());
        for (time, what, typed) in &self.waiting {
            if let Err(error) = log.append(*time, what.clone(), typed.clone()) {
                told = Err(error);
                break;
            }
            kept += 1;
        }
        let entries = self.waiting.drain(..kept).filter(|(.., typed)| typed.is_some());
        self.kept += entries.count() as u64;
        told
    }
}
