use std::fs;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::log::{Log, LogError, What};

/// Keeps what is entered: in a log that is open, or in one that is begun with the first entry, so
/// that a look at a chart leaves no file behind.
#[derive(Debug)]
pub struct Keeper {
    place: Place,
    /// What the disk has refused so far, oldest first: in memory only.
    waiting: Vec<(Timestamp, What, Option<String>)>,
}

#[derive(Debug)]
enum Place {
    Open(Log),
    Later { path: PathBuf, opening: Vec<What> },
}

impl Keeper {
    /// Keeps in a log that is open, and notes there what the sitting opens with.
    ///
    /// # Errors
    /// A log that cannot be written.
    pub fn in_log(mut log: Log, time: Timestamp, opening: Vec<What>) -> Result<Self, LogError> {
        for what in opening {
            log.append(time, what, None)?;
        }
        Ok(Self { place: Place::Open(log), waiting: Vec::new() })
    }

    /// Begins the log at `path` with the first entry; its folder is made where it is missing.
    pub fn later(path: PathBuf, opening: Vec<What>) -> Self {
        Self { place: Place::Later { path, opening }, waiting: Vec::new() }
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

    /// How many changes are in memory only: the disk has refused them so far.
    pub fn unkept(&self) -> usize {
        self.waiting.len()
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
        self.waiting.drain(..kept);
        told
    }
}
