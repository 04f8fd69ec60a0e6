use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::failure::Failure;
use super::index_place::index_places;
use super::progress::Line;
use crate::chart::{Chart, Folders, GeoBox, Opening, Progress, is_chart_file};
use crate::radar::Set;
use crate::text::{plain_json, plain_lines};

/// The caution that every report carries.
pub const CAUTION: &str = "An aid only, never the sole means of navigation: official charts, \
                           local rules, licensed crew and published safety altitudes rule.";

/// The most text taken from one file or from standard input, in bytes.
const MOST_TEXT_BYTES: u64 = 16 * 1024 * 1024;

/// How an answer is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub enum Format {
    /// For people.
    #[default]
    Text,
    /// For scripts: the schema is named in the answer.
    Json,
}

/// A file by the option or the argument that names it.
pub(super) type Named<'a> = (&'a str, &'a Path);

/// What every command takes.
#[derive(Debug, Clone, Args)]
pub struct Common {
    /// Chart folder; may be given more than once
    #[arg(long, value_name = "DIR")]
    pub chart: Vec<PathBuf>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t, value_name = "FORMAT")]
    pub format: Format,
    /// Write the answer to this file; standard output then stays empty
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

impl Common {
    /// Opens the chart of the folders given.
    ///
    /// None is never taken for the sample: an answer on an invented coast must be asked for.
    ///
    /// # Errors
    /// No folder given, or one that holds no chart.
    pub fn open_chart(&self) -> Result<Chart, Failure> {
        self.open_chart_about(None)
    }

    /// The same for questions about an area: of a large chart no more is worked out than they need.
    ///
    /// # Errors
    /// As [`Common::open_chart`].
    pub fn open_chart_about(&self, area: Option<GeoBox>) -> Result<Chart, Failure> {
        self.open_with(|opening| match area {
            Some(area) => opening.around(area),
            None => opening,
        })
    }

    /// Opens the chart as it is asked for, telling on a terminal how far it has come.
    pub(super) fn open_with(
        &self,
        asked: impl FnOnce(Opening<'_>) -> Opening<'_>,
    ) -> Result<Chart, Failure> {
        self.some_chart()?;
        let line = Line::new(self.format == Format::Text);
        let (folders, tell) = (self.folders(), |progress: Progress<'_>| line.tell(progress));
        let opening = Opening::new(&folders.folders).indexed(&folders.indexes).telling(&tell);
        Ok(asked(opening).open()?)
    }

    /// The chart's folders, and where their index may be.
    pub(super) fn folders(&self) -> Folders {
        Folders { folders: self.chart.clone(), indexes: index_places(&self.chart) }
    }

    /// That a chart was given at all.
    pub(super) fn some_chart(&self) -> Result<(), Failure> {
        if self.chart.is_empty() {
            return Err(Failure::input("no chart given").with_help(
                "name a chart folder: --chart DIR (a folder with a coastline shapefile)",
            ));
        }
        Ok(())
    }

    /// That what is written, the answer with it, goes into files of their own: no two into one, and
    /// none over what is read. The chart of the folders given counts as read, and so does its index.
    ///
    /// To be asked before anything is read or written.
    ///
    /// - `writes`: the files written beside the answer.
    /// - `reads`: the files read beside the chart; `-` is standard input.
    ///
    /// # Errors
    /// One file is named twice, or a file of the chart is to be written: it would be lost.
    pub(super) fn check_apart(
        &self,
        writes: &[Named<'_>],
        reads: &[Named<'_>],
    ) -> Result<(), Failure> {
        let output = self.output.as_deref().map(|output| ("-o", output));
        let writes: Vec<Named<'_>> = writes.iter().copied().chain(output).collect();
        let places = index_places(&self.chart);
        let indexes = places.iter().map(|place| ("the chart's index", place.as_path()));
        let reads: Vec<Named<'_>> = reads.iter().copied().chain(indexes).collect();
        for (at, (option, file)) in writes.iter().enumerate() {
            let others = writes.iter().skip(at + 1).chain(&reads);
            let mut others = others.filter(|(_, file)| can_be_lost(file));
            if let Some((other, _)) = others.find(|(_, other)| whole(other) == whole(file)) {
                let told = format!("{option} and {other} name the same file, {}", file.display());
                return Err(Failure::input(told).with_help("give each a file of its own"));
            }
            if let Some(folder) = self.chart.iter().find(|folder| is_of_chart(file, folder)) {
                let (file, folder) = (file.display(), folder.display());
                let told = format!("{option} names {file}, a file of the chart folder {folder}");
                return Err(Failure::input(told).with_help(
                    "name a file that is no part of the chart: elsewhere, or of another ending",
                ));
            }
        }
        Ok(())
    }

    /// Hands the finished answer on: to the file asked for, or to standard output.
    ///
    /// Whatever names and notes stand in it, nothing is let through that a terminal would act on.
    ///
    /// # Errors
    /// A file that cannot be written. A reader that has gone away is no error.
    pub fn deliver(&self, answer: &str) -> Result<(), Failure> {
        let answer = match self.format {
            Format::Text => plain_lines(answer),
            Format::Json => plain_json(answer),
        };
        match &self.output {
            Some(path) => fs::write(path, answer).map_err(|error| {
                Failure::input(format!("{}: cannot be written: {error}", path.display()))
                    .with_help("name a file in a folder that exists and may be written to")
            }),
            None => print(&answer),
        }
    }
}

/// Whether what is there is gone once it is written over: not of standard input, a terminal, a pipe, a device.
fn can_be_lost(file: &Path) -> bool {
    let is_stream = fs::metadata(file).is_ok_and(|about| !about.is_file());
    file != Path::new("-") && !is_stream
}

/// Whether the chart of a folder is read from a file, or would be if it were there.
fn is_of_chart(file: &Path, folder: &Path) -> bool {
    let folder = whole(folder);
    let is_own = |file: &Path| {
        file.strip_prefix(&folder).is_ok_and(|inside| is_chart_file(&inside.to_string_lossy()))
    };
    // A layer may be a link to a file of another ending in the folder.
    is_own(&whole(file)) || as_named(file).is_some_and(|file| is_own(&file))
}

/// The path of a file however it is written; of one that is not there yet, in the folder that is.
fn whole(path: &Path) -> PathBuf {
    path.canonicalize().ok().or_else(|| as_named(path)).unwrap_or_else(|| path.to_owned())
}

/// The path of a file by its own name, be it a link, in the folder that its path leads to.
fn as_named(path: &Path) -> Option<PathBuf> {
    let path = std::path::absolute(path).ok()?;
    let folder = path.parent()?.canonicalize().ok()?;
    Some(folder.join(path.file_name()?))
}

/// A built-in set by its name, or the set of a file.
///
/// # Errors
/// Neither a built-in name nor a file that can be read, or the file's own faults.
pub(super) fn resolve_set(name_or_path: &str) -> Result<Set, Failure> {
    Set::resolve(name_or_path, Path::new("")).map_err(|error| {
        Failure::input(format!("--set: {error}"))
            .with_help("`foreland set list` names the built-in sets, `set show NAME` prints one")
    })
}

/// The file that a set is read from, by what names it; none of a built-in set.
pub(super) fn set_file<'a>(named_by: &'a str, name_or_path: &'a str) -> Option<Named<'a>> {
    let is_builtin = Set::builtin_text(name_or_path).is_some();
    (!is_builtin).then(|| (named_by, Path::new(name_or_path)))
}

/// Writes to standard output; a closed pipe ends quietly.
pub(super) fn print(answer: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(answer.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::input(format!("standard output: cannot be written: {error}")))
        }
        _ => Ok(()),
    }
}

/// The text of a file, or of standard input for `-`, and the name to call it by in messages.
///
/// # Errors
/// No such file, not UTF-8, or larger than 16 MiB.
pub fn read_text(path: &Path) -> Result<(String, String), Failure> {
    let standard_input = path == Path::new("-");
    let name =
        if standard_input { "standard input".to_owned() } else { path.display().to_string() };
    let unreadable =
        |error: &dyn std::fmt::Display| Failure::input(format!("{name}: cannot be read: {error}"));
    let mut bytes = Vec::new();
    if standard_input {
        io::stdin().lock().take(MOST_TEXT_BYTES + 1).read_to_end(&mut bytes)
    } else {
        fs::File::open(path).and_then(|file| file.take(MOST_TEXT_BYTES + 1).read_to_end(&mut bytes))
    }
    .map_err(|error| unreadable(&error))?;
    if bytes.len() as u64 > MOST_TEXT_BYTES {
        return Err(unreadable(&"it is larger than 16 MiB"));
    }
    let text = String::from_utf8(bytes)
        .map_err(|error| unreadable(&format!("it is not UTF-8 text ({})", error.utf8_error())))?;
    Ok((text, name))
}
