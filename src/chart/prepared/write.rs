use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::format::{Contents, HEAD_BYTES, Head};
use super::identity::Identity;
use super::tree::{self, Bounds, Out};
use super::{corners, told};
use crate::chart::bytes::Encoder;
use crate::chart::coast::{Coast, KeptRun};
use crate::chart::marks::Mark;

/// Runs to a leaf: some 17 kB.
const RUNS_PER_LEAF: usize = 64;
/// Marks to a leaf: some 14 kB.
const MARKS_PER_LEAF: usize = 128;

/// An index as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prepared {
    /// Where it is.
    pub path: PathBuf,
    /// How large it is.
    pub bytes: u64,
    /// How many points the coast has.
    pub points: usize,
    /// How many marks there are.
    pub marks: usize,
}

/// What is written.
pub(in crate::chart) struct Source<'a> {
    pub(in crate::chart) identity: Identity,
    pub(in crate::chart) chart: &'a crate::chart::Chart,
    /// How many of its first marks the chart itself has.
    pub(in crate::chart) charted: usize,
    pub(in crate::chart) coast_layers: Vec<Vec<String>>,
}

/// Writes an index in place of what is there, in one step: whoever reads it meanwhile finds the old
/// one or the new one whole, and a program killed on the way leaves the old one.
pub(in crate::chart) fn write(path: &Path, source: Source<'_>) -> io::Result<Prepared> {
    if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        fs::create_dir_all(folder)?;
    }
    let (half, file) = half_written(path)?;
    let done = write_into(file, source).and_then(|prepared| {
        fs::rename(&half, path)?;
        Ok(Prepared { path: path.to_owned(), ..prepared })
    });
    if done.is_err() {
        // Nothing more can be done about a file that cannot be taken away.
        let _ = fs::remove_file(&half);
    }
    take_away_left(path);
    done
}

/// What a program that was killed on the way left half written, once it is a day older than the index:
/// nothing takes so long to write.
fn take_away_left(path: &Path) {
    const OLD: Duration = Duration::from_hours(24);
    let changed = |path: &Path| fs::metadata(path).and_then(|about| about.modified());
    let Ok(now) = changed(path) else { return };
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let begins = half_name(path);
    for entry in fs::read_dir(folder.unwrap_or(Path::new("."))).into_iter().flatten().flatten() {
        let is_half = entry.file_name().to_string_lossy().starts_with(&begins);
        let age = changed(&entry.path()).ok().and_then(|then| now.duration_since(then).ok());
        if is_half && age.is_some_and(|age| age > OLD) {
            // One that cannot be taken away stays.
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// How the name of a half-written index begins: hidden, then that of the index.
fn half_name(path: &Path) -> String {
    format!(".{}.half-", path.file_name().unwrap_or_default().to_string_lossy())
}

/// A new file beside the one to be written, of a name that nobody else uses.
fn half_written(path: &Path) -> io::Result<(PathBuf, File)> {
    let begins = half_name(path);
    let mut last = io::Error::from(io::ErrorKind::AlreadyExists);
    for number in 0..1_000 {
        let half = path.with_file_name(format!("{begins}{}-{number}", std::process::id()));
        match File::create_new(&half) {
            Ok(file) => return Ok((half, file)),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => last = error,
            Err(error) => return Err(error),
        }
    }
    Err(last)
}

fn write_into(file: File, source: Source<'_>) -> io::Result<Prepared> {
    use std::io::{Seek, SeekFrom, Write};
    let chart = source.chart;
    let mut out = Out::new(file);
    // Room for the head, which is known last.
    out.piece(&vec![0; HEAD_BYTES as usize])?;
    let runs = write_runs(chart.coast(), &mut out)?;
    let corners = corners::write(chart.coast(), &mut out)?;
    let marks: Vec<(u64, &Mark)> = (0..).zip(chart.marks().iter().map(|(_, mark)| mark)).collect();
    let (charted, found) = marks.split_at(source.charted.min(marks.len()));
    let mut bytes = Encoder::default();
    for mark in charted {
        told::write_mark(&mut bytes, mark);
    }
    let charted = out.piece(bytes.bytes())?;
    let found = found.iter().map(|mark| (point(mark.1), *mark)).collect();
    let found =
        tree::write(found, MARKS_PER_LEAF, &mut out, |mark, out| told::write_mark(out, mark))?;
    let contents = Contents {
        identity: source.identity,
        name: chart.name().to_owned(),
        accuracy: chart.accuracy(),
        cautions: chart.cautions().to_vec(),
        survey: chart.survey().clone(),
        cells: chart.ground().cells(),
        coast_layers: source.coast_layers,
        facts: chart.coast().facts(),
        runs,
        corners,
        charted,
        found,
        marks: marks.len(),
    };
    let contents = out.piece(contents.write().bytes())?;
    let length = out.len();
    let mut file = out.finish()?;
    file.seek(SeekFrom::Start(0))?;
    file.write_all(Head { length, contents }.write().bytes())?;
    file.sync_all()?;
    Ok(Prepared {
        path: PathBuf::new(),
        bytes: length,
        points: chart.coast().point_count(),
        marks: marks.len(),
    })
}

fn write_runs(coast: &Coast, out: &mut Out) -> io::Result<tree::Root> {
    let runs = coast.kept_runs().map(bounded).collect();
    tree::write(runs, RUNS_PER_LEAF, out, KeptRun::write)
}

fn bounded(run: KeptRun<'_>) -> (Bounds, KeptRun<'_>) {
    let (low, high) = run.corners();
    (Bounds { low, high }, run)
}

fn point(mark: &Mark) -> Bounds {
    let at = [mark.position.longitude(), mark.position.latitude()];
    Bounds { low: at, high: at }
}
