//! Which files an index was made from, and whether they are still the same.

use std::collections::HashMap;
use std::fs;
use std::time::UNIX_EPOCH;

use crate::chart::bytes::{Damage, Decoder, Encoder};
use crate::chart::error::ChartError;
use crate::chart::grid_files::is_grid;
use crate::chart::layers::is_shape;
use crate::chart::manifest::MANIFEST;
use crate::chart::source::{Source, has_ending};

/// Endings of the files that go with a layer. The index of shapes (`.shx`) is never read.
const BESIDE_LAYERS: [&str; 3] = ["dbf", "prj", "cpg"];

/// A file as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Tie {
    /// By path from its folder.
    path: String,
    bytes: u64,
    /// When it was last changed: seconds, and nanoseconds of the next, since 1970.
    changed: (i64, u32),
    /// Checksum of a short file whose content counts; 0 of others.
    crc: u32,
}

/// All files of a chart's folders as they were, folder by folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::chart) struct Identity {
    folders: Vec<Vec<Tie>>,
}

impl Identity {
    /// As they are now.
    pub(in crate::chart) fn of(folders: &[Source<'_>]) -> Result<Self, ChartError> {
        let folders = folders.iter().map(ties).collect::<Result<_, _>>()?;
        Ok(Self { folders })
    }

    /// What differs now, in words; `None` where nothing does.
    pub(in crate::chart) fn differs_from(&self, now: &Self) -> Option<String> {
        if self.folders.len() != now.folders.len() {
            return Some("it is of other folders".to_owned());
        }
        self.folders.iter().zip(&now.folders).find_map(|(then, now)| {
            let (known, there) = (by_path(then), by_path(now));
            let gone = then.iter().find(|tie| !there.contains_key(tie.path.as_str()));
            let new = now.iter().find(|tie| !known.contains_key(tie.path.as_str()));
            let changed =
                now.iter().find(|tie| known.get(tie.path.as_str()).is_some_and(|then| then != tie));
            let told = |tie: Option<&Tie>, how: &str| tie.map(|tie| format!("{} {how}", tie.path));
            told(changed, "has changed since")
                .or_else(|| told(new, "is new"))
                .or_else(|| told(gone, "is gone"))
        })
    }

    pub(super) fn write(&self, out: &mut Encoder) {
        out.list(&self.folders, |out, ties| {
            out.list(ties, |out, tie| {
                out.text(&tie.path);
                out.u64(tie.bytes);
                out.u64(tie.changed.0.cast_unsigned());
                out.u32(tie.changed.1);
                out.u32(tie.crc);
            });
        });
    }

    pub(super) fn read(input: &mut Decoder<'_>) -> Result<Self, Damage> {
        let tie = |input: &mut Decoder<'_>| {
            Ok(Tie {
                path: input.text()?,
                bytes: input.u64()?,
                changed: (input.u64()?.cast_signed(), input.u32()?),
                crc: input.u32()?,
            })
        };
        Ok(Self { folders: input.list(8, |input| input.list(32, tie))? })
    }
}

fn by_path(ties: &[Tie]) -> HashMap<&str, &Tie> {
    ties.iter().map(|tie| (tie.path.as_str(), tie)).collect()
}

/// Whether a file is one of a chart's own by its name: `chart.toml`, a layer and what goes with it, an
/// elevation grid. One of another ending that `chart.toml` takes in all the same is not known here.
///
/// - `path`: from the chart's folder, with `/` between.
pub fn is_chart_file(path: &str) -> bool {
    is_read(path) || has_ending(path, &["shx"])
}

/// Whether a chart is read from a file of this path.
fn is_read(path: &str) -> bool {
    path == MANIFEST || is_shape(path) || is_grid(path) || has_ending(path, &BESIDE_LAYERS)
}

fn ties(folder: &Source<'_>) -> Result<Vec<Tie>, ChartError> {
    if folder.folder().is_none() {
        return Ok(Vec::new());
    }
    let files = folder.list()?.into_iter().filter(|path| is_read(path));
    files.map(|path| tie(folder, path)).collect()
}

fn tie(folder: &Source<'_>, path: String) -> Result<Tie, ChartError> {
    let unreadable = |error: std::io::Error| ChartError::Unreadable {
        file: folder.name_of(&path),
        why: error.to_string(),
    };
    let file = folder.plain_file(&path)?;
    let about = fs::metadata(&file).map_err(unreadable)?;
    let modified = about.modified().map_err(unreadable)?;
    let changed = match modified.duration_since(UNIX_EPOCH) {
        Ok(after) => (after.as_secs().cast_signed(), after.subsec_nanos()),
        Err(before) => {
            let before = before.duration();
            (-before.as_secs().cast_signed(), before.subsec_nanos())
        }
    };
    // Its content counts, and not only its size and time.
    let crc = if path == MANIFEST { crc32fast::hash(&folder.read_short(&path)?) } else { 0 };
    Ok(Tie { path, bytes: about.len(), changed, crc })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder of so many tiles, each changed at its own second.
    fn folder(count: i64) -> Identity {
        let tie = |i: i64| Tie { path: format!("dem/{i}.hgt"), bytes: 1, changed: (i, 0), crc: 0 };
        Identity { folders: vec![(0..count).map(tie).collect()] }
    }

    #[test]
    fn a_charts_own_files_are_known_by_their_names() {
        for own in ["chart.toml", "coast.SHP", "coast.shx", "a/marks.dbf", "dem/S39W022.hgt"] {
            assert!(is_chart_file(own), "{own}");
        }
        for other in ["report.txt", "a/chart.toml", "shp", "landfall.toml", "coast.shp.txt"] {
            assert!(!is_chart_file(other), "{other}");
        }
    }

    #[test]
    fn what_differs_is_told_by_its_path() {
        let (known, mut now) = (folder(3), folder(3));
        assert_eq!(known.differs_from(&now), None);
        assert_eq!(known.differs_from(&folder(4)).unwrap(), "dem/3.hgt is new");
        assert_eq!(folder(4).differs_from(&known).unwrap(), "dem/3.hgt is gone");
        now.folders[0][1].bytes = 2;
        assert_eq!(known.differs_from(&now).unwrap(), "dem/1.hgt has changed since");
        now.folders.push(Vec::new());
        assert_eq!(known.differs_from(&now).unwrap(), "it is of other folders");
    }

    /// Each tile was sought among all of them: the tiles of all land would take seconds at every opening.
    #[test]
    fn the_tiles_of_a_world_are_compared_at_once() {
        let (known, now) = (folder(100_000), folder(100_000));
        assert_eq!(known.differs_from(&now), None);
    }
}
