//! Where the index of a chart is kept: beside its folder, or in the user's cache folder.

use std::env;
use std::fs;
use std::path::{Path, PathBuf};

use super::failure::Failure;

/// What the name of an index beside its folder ends with.
const BESIDE: &str = "foreland-index";

/// The places in which an index of these folders is looked for, in their order.
pub fn index_places(folders: &[PathBuf]) -> Vec<PathBuf> {
    beside(folders).into_iter().chain(in_cache(folders)).collect()
}

/// Beside the first folder.
pub(super) fn beside(folders: &[PathBuf]) -> Option<PathBuf> {
    let first = real(folders.first()?);
    Some(first.with_file_name(format!("{}.{BESIDE}", names(folders))))
}

/// In the user's cache folder (XDG base directories), under a name of its own for each place that a
/// chart may lie in. `None` where the system tells of no such folder: a folder that others may write
/// to is no place for a chart.
pub(super) fn in_cache(folders: &[PathBuf]) -> Option<PathBuf> {
    let set = |name: &str| env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let cache = set("XDG_CACHE_HOME").or_else(|| set("HOME").map(|home| home.join(".cache")))?;
    if folders.is_empty() {
        return None;
    }
    let paths: Vec<PathBuf> = folders.iter().map(|folder| real(folder)).collect();
    let mut hash = crc32fast::Hasher::new();
    for path in &paths {
        hash.update(path.as_os_str().as_encoded_bytes());
        hash.update(&[0]);
    }
    let name = format!("{}-{:08x}.{BESIDE}", names(folders), hash.finalize());
    Some(cache.join("foreland").join(name))
}

/// The place to write an index to.
pub(super) fn to_write(folders: &[PathBuf], is_beside: bool) -> Result<PathBuf, Failure> {
    let place = if is_beside { beside(folders) } else { in_cache(folders) };
    place.ok_or_else(|| {
        Failure::input("there is no cache folder: neither XDG_CACHE_HOME nor HOME is set")
            .with_help("--beside puts the index beside the chart's folder")
    })
}

/// A folder's own path, whatever way it was given.
fn real(folder: &Path) -> PathBuf {
    fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned())
}

/// The folders' names in one that any file system takes.
fn names(folders: &[PathBuf]) -> String {
    let name = |folder: &PathBuf| {
        let name = real(folder).file_name().unwrap_or_default().to_string_lossy().into_owned();
        let plain = |c: char| if c.is_alphanumeric() || "-_.".contains(c) { c } else { '_' };
        name.chars().map(plain).take(40).collect::<String>()
    };
    folders.iter().take(3).map(name).collect::<Vec<_>>().join("+")
}
