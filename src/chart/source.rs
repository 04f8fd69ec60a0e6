use std::borrow::Cow;
use std::fs;
use std::path::{Path, PathBuf};

use super::error::ChartError;
use super::ground::TileFile;
use super::shapes::sanitised;

/// How deep grids and layers are looked for under a chart's folder.
const DEEPEST: usize = 3;

/// The most files a chart folder may hold.
const MOST_FILES: usize = 100_000;

/// The most of a file of a few lines that is read, in bytes.
const MOST_TEXT: usize = 1 << 20;

/// Where a chart's files come from: a folder on disk, or files built into the program.
#[derive(Debug, Clone)]
pub(super) enum Source<'a> {
    Folder(PathBuf),
    Files { name: &'a str, files: &'a [(&'a str, &'a [u8])] },
}

impl Source<'_> {
    /// What to call it in messages.
    pub(super) fn name(&self) -> String {
        match self {
            Self::Folder(path) => sanitised(&path.display().to_string()),
            Self::Files { name, .. } => (*name).to_owned(),
        }
    }

    /// The folder on disk, where it is one.
    pub(super) fn folder(&self) -> Option<&Path> {
        match self {
            Self::Folder(path) => Some(path),
            Self::Files { .. } => None,
        }
    }

    /// What to call one of its files.
    pub(super) fn name_of(&self, file: &str) -> String {
        match self {
            Self::Folder(path) => sanitised(&path.join(file).display().to_string()),
            Self::Files { name, .. } => format!("{name}/{file}"),
        }
    }

    /// All its files by path from the folder, with `/` between, sorted.
    pub(super) fn list(&self) -> Result<Vec<String>, ChartError> {
        match self {
            Self::Folder(path) => {
                if !path.exists() {
                    return Err(ChartError::NoFolder { folder: self.name() });
                }
                if !path.is_dir() {
                    return Err(ChartError::NotAFolder { folder: self.name() });
                }
                let mut files = Vec::new();
                walk(path, "", 0, &mut files)?;
                files.sort();
                Ok(files)
            }
            Self::Files { files, .. } => {
                Ok(files.iter().map(|(file, _)| (*file).to_owned()).collect())
            }
        }
    }

    /// The bytes of one file.
    pub(super) fn read(&self, file: &str) -> Result<Cow<'_, [u8]>, ChartError> {
        let unreadable = |why: String| ChartError::Unreadable { file: self.name_of(file), why };
        match self {
            Self::Folder(path) => {
                let full = self.plain_file_in(path, file)?;
                fs::read(full).map(Cow::Owned).map_err(|e| unreadable(e.to_string()))
            }
            Self::Files { files, .. } => files
                .iter()
                .find(|(name, _)| *name == file)
                .map(|(_, bytes)| Cow::Borrowed(*bytes))
                .ok_or_else(|| unreadable("it is not there".to_owned())),
        }
    }

    /// A grid on disk, of which only what says what it is has been read; `None` of files in memory.
    pub(super) fn tile_file(
        &self,
        file: &str,
        is_hgt: bool,
    ) -> Option<Result<TileFile, ChartError>> {
        let folder = self.folder()?;
        let path = self.plain_file_in(folder, file);
        Some(path.and_then(|path| TileFile::open(&self.name_of(file), path, is_hgt)))
    }

    /// The full path of a file on disk that can be read to its end and lies in the folder.
    pub(super) fn plain_file(&self, file: &str) -> Result<PathBuf, ChartError> {
        match self.folder() {
            Some(folder) => self.plain_file_in(folder, file),
            None => Err(ChartError::Unreadable {
                file: self.name_of(file),
                why: "it is in no folder".to_owned(),
            }),
        }
    }

    fn plain_file_in(&self, folder: &Path, file: &str) -> Result<PathBuf, ChartError> {
        let unreadable = |why: String| ChartError::Unreadable { file: self.name_of(file), why };
        let full = folder.join(file);
        let about = fs::metadata(&full).map_err(|e| unreadable(e.to_string()))?;
        // A device has no end, a pipe may never answer.
        if !about.is_file() {
            return Err(unreadable("it is no plain file".to_owned()));
        }
        self.check_link(folder, file)?;
        Ok(full)
    }

    /// The bytes of a file of a few lines: `chart.toml`, `.prj`, `.cpg`.
    pub(super) fn read_short(&self, file: &str) -> Result<Cow<'_, [u8]>, ChartError> {
        let too_large = || ChartError::Unreadable {
            file: self.name_of(file),
            why: "it is larger than 1 MiB".to_owned(),
        };
        // Told before it is read.
        if let Some(folder) = self.folder() {
            let about = fs::metadata(self.plain_file_in(folder, file)?);
            if about.is_ok_and(|about| about.len() > MOST_TEXT as u64) {
                return Err(too_large());
            }
        }
        let bytes = self.read(file)?;
        if bytes.len() > MOST_TEXT { Err(too_large()) } else { Ok(bytes) }
    }

    /// Refuses a file that a link takes out of the chart's folder.
    fn check_link(&self, folder: &Path, file: &str) -> Result<(), ChartError> {
        let whole = |path: &Path| {
            path.canonicalize().map_err(|error| ChartError::Unreadable {
                file: self.name_of(file),
                why: error.to_string(),
            })
        };
        let (folder, leads_to) = (whole(folder)?, whole(&folder.join(file))?);
        if leads_to.starts_with(folder) {
            return Ok(());
        }
        let to = sanitised(&leads_to.display().to_string());
        Err(ChartError::Linked { file: self.name_of(file), to })
    }
}

/// Whether a path has one of these endings, in any case.
pub(super) fn has_ending(path: &str, endings: &[&str]) -> bool {
    path.rsplit_once('.')
        .is_some_and(|(_, end)| endings.iter().any(|ending| end.eq_ignore_ascii_case(ending)))
}

/// Lists the files under a folder.
fn walk(
    folder: &Path,
    prefix: &str,
    depth: usize,
    files: &mut Vec<String>,
) -> Result<(), ChartError> {
    let unreadable = |error: std::io::Error| ChartError::Unreadable {
        file: sanitised(&folder.display().to_string()),
        why: error.to_string(),
    };
    for entry in fs::read_dir(folder).map_err(unreadable)? {
        let path = entry.map_err(unreadable)?.path();
        let Some(name) = path.file_name().and_then(|name| name.to_str()) else { continue };
        if name.starts_with('.') {
            continue;
        }
        let relative = format!("{prefix}{name}");
        if path.is_dir() {
            if depth < DEEPEST {
                walk(&path, &format!("{relative}/"), depth + 1, files)?;
            }
        } else if files.len() < MOST_FILES {
            files.push(relative);
        } else {
            let why = format!("it holds more than {MOST_FILES} files");
            let file = sanitised(&folder.display().to_string());
            return Err(ChartError::Unreadable { file, why });
        }
    }
    Ok(())
}
