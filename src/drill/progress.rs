use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs::{self, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use thiserror::Error;

use super::exercise::Exercise;
use super::score::Score;

/// The most of a progress file that is read, bytes: some tens of thousands of exercises.
const MOST_BYTES: u64 = 4 * 1024 * 1024;

/// The most lines without sense that are told of one by one.
const MOST_UNREAD: usize = 10;

/// Rows of the plot of scores.
const ROWS: usize = 10;

/// Exercises done, one a line, oldest first.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Progress {
    /// Each that could be read.
    pub entries: Vec<Entry>,
    /// Numbers of the lines that could not.
    pub unread: Vec<usize>,
}

/// One exercise done.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// When.
    pub time: Timestamp,
    /// The lesson; none of a landfall made by its seed.
    pub lesson: Option<usize>,
    /// The seed.
    pub seed: u64,
    /// From 0 to 100.
    pub score: f64,
}

/// Why progress cannot be read or kept.
#[derive(Debug, Error)]
#[error("{}: {why}", path.display())]
pub struct ProgressError {
    /// The file.
    pub path: PathBuf,
    /// What stands in the way.
    pub why: io::Error,
}

impl Entry {
    /// Of an exercise scored at a time.
    pub fn of(exercise: &Exercise, score: &Score, time: Timestamp) -> Self {
        Self { time, lesson: exercise.lesson, seed: exercise.seed, score: score.score }
    }

    /// As it stands in the file: `2031-03-09T03:40:00Z lesson=3 seed=7 score=83`.
    pub fn line(&self) -> String {
        let lesson = self.lesson.map_or_else(|| "none".to_owned(), |lesson| lesson.to_string());
        format!("{} lesson={lesson} seed={} score={:.0}", self.time, self.seed, self.score)
    }

    fn parse(line: &str) -> Option<Self> {
        let mut words = line.split_whitespace();
        let time = words.next()?.parse().ok()?;
        let value = |key: &str| {
            line.split_whitespace().find_map(|word| word.strip_prefix(key)?.strip_prefix('='))
        };
        let lesson = match value("lesson")? {
            "none" => None,
            number => Some(number.parse().ok()?),
        };
        let score: f64 = value("score")?.parse().ok()?;
        let score = Some(score).filter(|score| (0.0..=100.0).contains(score))?;
        Some(Self { time, lesson, seed: value("seed")?.parse().ok()?, score })
    }
}

impl Progress {
    /// Reads a file; one that is not there is no progress yet. Lines that say nothing are counted and
    /// passed over.
    ///
    /// # Errors
    /// It is there and cannot be read.
    pub fn read(path: &Path) -> Result<Self, ProgressError> {
        let mut bytes = Vec::new();
        match fs::File::open(path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Self::default()),
            Err(why) => return Err(ProgressError { path: path.to_owned(), why }),
            Ok(file) => file
                .take(MOST_BYTES)
                .read_to_end(&mut bytes)
                .map_err(|why| ProgressError { path: path.to_owned(), why })?,
        };
        Ok(Self::parse(&String::from_utf8_lossy(&bytes)))
    }

    /// Reads the text of a file.
    pub fn parse(text: &str) -> Self {
        let mut progress = Self::default();
        let lines = text.lines().enumerate();
        for (at, line) in lines.filter(|(_, line)| !line.trim().is_empty()) {
            match Entry::parse(line) {
                Some(entry) => progress.entries.push(entry),
                None => progress.unread.push(at + 1),
            }
        }
        progress
    }

    /// Adds one at the end of a file, on a line of its own, and has it on the disk.
    ///
    /// # Errors
    /// The folder cannot be made, or the file not written.
    pub fn keep(path: &Path, entry: &Entry) -> Result<(), ProgressError> {
        let write = || -> io::Result<()> {
            if let Some(folder) = path.parent() {
                fs::create_dir_all(folder)?;
            }
            let mut file = OpenOptions::new().create(true).read(true).append(true).open(path)?;
            let apart = if is_torn(&mut file)? { "\n" } else { "" };
            file.write_all(format!("{apart}{}\n", entry.line()).as_bytes())?;
            file.sync_data()
        };
        write().map_err(|why| ProgressError { path: path.to_owned(), why })
    }

    /// Each lesson's last and best, and all scores over time as a plot, `columns` wide.
    pub fn report(&self, columns: usize) -> String {
        if self.entries.is_empty() {
            return "No exercise has been scored yet.\n".to_owned();
        }
        let mut text = "lesson     done  last  best\n".to_owned();
        let mut lessons: BTreeMap<Option<usize>, Vec<f64>> = BTreeMap::new();
        for entry in &self.entries {
            lessons.entry(entry.lesson).or_default().push(entry.score);
        }
        for (lesson, of) in lessons {
            let name = lesson.map_or_else(|| "landfalls".to_owned(), |lesson| lesson.to_string());
            let best = of.iter().copied().fold(0.0, f64::max);
            let last = of.last().copied().unwrap_or(0.0);
            let _ = writeln!(text, "{name:<10} {:>4}  {last:>4.0}  {best:>4.0}", of.len());
        }
        text.push('\n');
        text.push_str(&self.plot(columns));
        for line in self.unread.iter().take(MOST_UNREAD) {
            let _ = writeln!(text, "line {line} of the file says nothing that can be read");
        }
        if let Some(more) = self.unread.len().checked_sub(MOST_UNREAD).filter(|more| *more > 0) {
            let _ = writeln!(text, "nor do {more} lines more");
        }
        text
    }

    /// The last scores, oldest to the left, one a column.
    fn plot(&self, columns: usize) -> String {
        const SCALE: usize = 5;
        let room = columns.saturating_sub(SCALE).max(1);
        let first = self.entries.len().saturating_sub(room);
        let shown = self.entries.get(first..).unwrap_or_default();
        let mut text = String::new();
        for row in (0..ROWS).rev() {
            let low = row as f64 * 100.0 / ROWS as f64;
            let bars: String =
                shown.iter().map(|entry| if entry.score > low { '#' } else { ' ' }).collect();
            let scale = 100 * (row + 1) / ROWS;
            let _ = writeln!(text, "{scale:>3} |{}", bars.trim_end());
        }
        let _ = writeln!(text, "  0 +{}", "-".repeat(shown.len()));
        text
    }
}

/// Whether the last line of a file was written in part only.
fn is_torn(file: &mut fs::File) -> io::Result<bool> {
    if file.metadata()?.len() == 0 {
        return Ok(false);
    }
    let mut last = [0];
    file.seek(SeekFrom::End(-1))?;
    file.read_exact(&mut last)?;
    Ok(last != *b"\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(lesson: Option<usize>, score: f64) -> Entry {
        Entry { time: "2031-03-09T03:40:00Z".parse().unwrap(), lesson, seed: 7, score }
    }

    #[test]
    fn what_is_kept_is_read_again_and_what_is_torn_is_passed_over() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("new").join("drill.txt");
        assert_eq!(Progress::read(&path).unwrap(), Progress::default());
        for kept in [entry(Some(3), 83.0), entry(None, 20.0)] {
            Progress::keep(&path, &kept).unwrap();
        }
        let mut text = fs::read_to_string(&path).unwrap();
        text.push_str("2031-03-09T03:4");
        fs::write(&path, &text).unwrap();
        let read = Progress::read(&path).unwrap();
        assert_eq!(read.entries, [entry(Some(3), 83.0), entry(None, 20.0)]);
        assert_eq!(read.unread, [3]);
        // What comes after it is no part of it.
        Progress::keep(&path, &entry(Some(4), 61.0)).unwrap();
        let read = Progress::read(&path).unwrap();
        assert_eq!(read.entries.last(), Some(&entry(Some(4), 61.0)));
        assert_eq!(read.unread, [3]);
    }

    #[test]
    fn scores_are_plotted_oldest_to_the_left() {
        let progress = Progress {
            entries: vec![entry(Some(1), 0.0), entry(Some(1), 55.0), entry(Some(2), 100.0)],
            unread: Vec::new(),
        };
        let report = progress.report(20);
        assert!(
            report.contains("1             2    55    55\n2             1   100   100"),
            "{report}"
        );
        let plot: Vec<&str> = report.lines().skip(4).collect();
        assert_eq!(plot[0], "100 |  #");
        assert_eq!(plot[4], " 60 | ##");
        assert_eq!(plot[10], "  0 +---");
    }
}
