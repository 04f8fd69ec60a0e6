use std::fs;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::log::{Log, LogError, What};

/// Keeps what is entered: in a log that is open, or in one that is begun with the first entry, so
/// that a look at a chart leaves no file behind.
#[derive(Debug)]
pub struct Keeper {
    place: Place,
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
        Ok(Self { place: Place::Open(log) })
    }

    /// Begins the log at `path` with the first entry; its folder is made where it is missing.
    pub fn later(path: PathBuf, opening: Vec<What>) -> Self {
        Self { place: Place::Later { path, opening } }
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

    /// Writes a change and waits for the disk.
    ///
    /// # Errors
    /// The log cannot be begun or written: nothing is kept then.
    pub fn keep(
        &mut self,
        time: Timestamp,
        what: What,
        typed: Option<String>,
    ) -> Result<(), LogError> {
        if let Place::Later { path, opening } = &self.place {
            let failed = |source| LogError::File { path: path.clone(), doing: "begun", source };
            if let Some(folder) = path.parent().filter(|p| !p.as_os_str().is_empty()) {
                fs::create_dir_all(folder).map_err(failed)?;
            }
            let (mut log, _) = Log::open(path)?;
            for what in opening.clone() {
                log.append(time, what, None)?;
            }
            self.place = Place::Open(log);
        }
        match &mut self.place {
            Place::Open(log) => log.append(time, what, typed).map(|_| ()),
            // It was opened just above.
            Place::Later { .. } => Ok(()),
        }
    }
}
