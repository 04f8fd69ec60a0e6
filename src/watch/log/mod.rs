//! The watch log: a text file that only grows, one record a line.
//!
//! The first line names the format. Every other line is a checksum, a number, a time, a kind and
//! a JSON object. A record is acknowledged only once the disk has it ([`Log::append`] returns
//! after the data is synced), so that whatever was acknowledged survives a kill or a power cut at
//! any moment. What a kill can leave is a torn last line: it was never acknowledged and is
//! dropped, with a notice. Any other damaged line is named and skipped, and stays in the file.
//!
//! One log has one writer: it is locked while it is open.

mod record;
mod replay;

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use thiserror::Error;

pub use record::{
    AcceptEntry, ContactEntry, DeflectionEntry, DriftEntry, EchoEntry, IdentityEntry, PlaceEntry,
    Record, SaidEntry, What,
};
pub use replay::{Replay, replay};

/// The first line of every log.
pub const FIRST_LINE: &str = "foreland watch log, version 1\n";

/// The largest log taken, in bytes: years of watches.
pub const MOST_BYTES: u64 = 256 * 1024 * 1024;

/// Why a log cannot be opened or written.
#[derive(Debug, Error)]
pub enum LogError {
    /// The file system refuses.
    #[error("{}: cannot be {doing}: {source}", path.display())]
    File {
        /// The log.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// Why not.
        source: io::Error,
    },
    /// Another watch writes it.
    #[error("{}: another watch is writing this log; leave that one first, or name another log", path.display())]
    InUse {
        /// The log.
        path: PathBuf,
    },
    /// A file of another kind, which is left alone.
    #[error("{}: is no watch log, and is left as it is; name another file", path.display())]
    NotALog {
        /// The file.
        path: PathBuf,
    },
    /// Written by a later version.
    #[error("{}: was written by a later version of this program ({line})", path.display())]
    Later {
        /// The log.
        path: PathBuf,
        /// Its first line.
        line: String,
    },
    /// Longer than any watch.
    #[error("{}: is larger than {} MiB; name another log", path.display(), MOST_BYTES / 1024 / 1024)]
    TooLarge {
        /// The file.
        path: PathBuf,
    },
    /// A record that cannot be told: a fault of the program.
    #[error("{}: record {number} cannot be written down", path.display())]
    Untold {
        /// The log.
        path: PathBuf,
        /// The record's number.
        number: u64,
    },
}

/// A watch log open for writing, and locked.
#[derive(Debug)]
pub struct Log {
    path: PathBuf,
    file: File,
    /// Bytes that are known to be whole records on the disk.
    whole: u64,
    /// The last write failed: bytes past `whole` may be torn.
    torn: bool,
    next: u64,
}

impl Log {
    /// Opens a log, or begins it, and replays what it holds.
    ///
    /// A torn last line is cut off; the replay's notices say so.
    ///
    /// # Errors
    /// A file that cannot be opened, locked, read or written; another watch on it; a file that is
    /// no watch log; one of a later version.
    pub fn open(path: &Path) -> Result<(Self, Replay), LogError> {
        let failed = |doing| move |source| LogError::File { path: path.to_owned(), doing, source };
        let file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)
            .map_err(failed("opened"))?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Err(LogError::InUse { path: path.to_owned() }),
            Err(TryLockError::Error(source)) => return Err(failed("locked")(source)),
        }
        let about = file.metadata().map_err(failed("read"))?;
        if !about.is_file() {
            return Err(LogError::NotALog { path: path.to_owned() });
        }
        if about.len() > MOST_BYTES {
            return Err(LogError::TooLarge { path: path.to_owned() });
        }
        let mut bytes = Vec::new();
        (&file).take(MOST_BYTES).read_to_end(&mut bytes).map_err(failed("read"))?;
        let replay = replay(&bytes, path)?;
        let next = replay.records.iter().map(|r| r.number).max().unwrap_or(0).saturating_add(1);
        let mut log = Self { path: path.to_owned(), file, whole: 0, torn: false, next };
        log.settle(&bytes, replay.whole_bytes).map_err(failed("written"))?;
        Ok((log, replay))
    }

    /// Leaves the file with its first line and whole records only, on the disk.
    fn settle(&mut self, bytes: &[u8], whole: usize) -> io::Result<()> {
        if whole == 0 {
            self.file.set_len(0)?;
            self.file.seek(SeekFrom::Start(0))?;
            self.file.write_all(FIRST_LINE.as_bytes())?;
            self.whole = FIRST_LINE.len() as u64;
        } else {
            self.file.set_len(whole as u64)?;
            self.file.seek(SeekFrom::Start(whole as u64))?;
            self.whole = whole as u64;
            // The last record may be whole but for its line's end.
            if bytes.get(whole - 1) != Some(&b'\n') {
                self.file.write_all(b"\n")?;
                self.whole += 1;
            }
        }
        self.file.sync_all()?;
        sync_folder(&self.path);
        Ok(())
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes a record and waits for the disk; returns its number.
    ///
    /// # Errors
    /// The disk is full or fails: nothing is kept then, and the next call tries anew from the last
    /// whole record.
    pub fn append(
        &mut self,
        time: Timestamp,
        what: What,
        typed: Option<String>,
    ) -> Result<u64, LogError> {
        let number = self.next;
        let line = Record { number, time, what, typed }
            .to_line()
            .ok_or_else(|| LogError::Untold { path: self.path.clone(), number })?;
        let written = self.write(format!("{line}\n").as_bytes());
        written.map_err(|source| LogError::File {
            path: self.path.clone(),
            doing: "written",
            source,
        })?;
        self.next = number.saturating_add(1);
        Ok(number)
    }

    /// Whether the path still leads to this very file: one that was taken away is written to in vain.
    #[cfg(unix)]
    fn is_there(&self) -> io::Result<()> {
        use std::os::unix::fs::MetadataExt;
        let (ours, there) = (self.file.metadata()?, std::fs::metadata(&self.path)?);
        if (ours.dev(), ours.ino()) == (there.dev(), there.ino()) {
            return Ok(());
        }
        Err(io::Error::new(io::ErrorKind::NotFound, "another file has taken its place"))
    }

    #[cfg(not(unix))]
    fn is_there(&self) -> io::Result<()> {
        std::fs::metadata(&self.path).map(drop)
    }

    fn write(&mut self, line: &[u8]) -> io::Result<()> {
        self.is_there()?;
        if self.torn {
            self.file.set_len(self.whole)?;
            self.file.seek(SeekFrom::Start(self.whole))?;
        }
        self.torn = true;
        self.file.write_all(line)?;
        self.file.sync_data()?;
        self.torn = false;
        self.whole += line.len() as u64;
        Ok(())
    }
}

/// Makes a new file's name survive a power cut, where the system can.
fn sync_folder(path: &Path) {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    if let Ok(folder) = File::open(folder) {
        // Some file systems have no such call; the file itself is synced in any case.
        let _ = folder.sync_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `/dev/full` answers every write as a full disk does; on Linux only.
    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_is_said_and_nothing_is_counted_as_kept() {
        let path = PathBuf::from("/dev/full");
        let file = OpenOptions::new().write(true).open(&path).unwrap();
        let mut log = Log { path, file, whole: 0, torn: false, next: 1 };
        for _ in 0..2 {
            let told = log.append(Timestamp::UNIX_EPOCH, What::Undo, None).unwrap_err().to_string();
            assert!(told.starts_with("/dev/full: cannot be written"), "{told}");
            assert_eq!((log.whole, log.next), (0, 1));
        }
    }
}
