use std::fs::{File, Metadata};
use std::io::BufReader;
use std::path::PathBuf;
use std::time::SystemTime;

use super::geotiff::{geotiff_head, geotiff_tile};
use super::grid::Frame;
use super::hgt::{hgt_frame, hgt_tile};
use super::tile::Tile;
use crate::chart::error::ChartError;

/// A file of heights of which is known what says what it is, and that it can hold what it announces. Its
/// heights are read as often as they are needed, and only as long as the file is the same.
#[derive(Debug, Clone)]
pub(in crate::chart) struct TileFile {
    /// What to call it in messages.
    name: String,
    path: PathBuf,
    is_hgt: bool,
    frame: Frame,
    /// Of one height in memory.
    cell_bytes: u64,
    stamp: Stamp,
}

/// A file as it was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Stamp {
    bytes: u64,
    changed: Option<SystemTime>,
}

impl Stamp {
    fn of(about: &Metadata) -> Self {
        Self { bytes: about.len(), changed: about.modified().ok() }
    }
}

impl TileFile {
    /// Reads what says what it is: of a `.hgt` file its name and size, of a GeoTIFF its tags.
    pub(in crate::chart) fn open(
        name: &str,
        path: PathBuf,
        is_hgt: bool,
    ) -> Result<Self, ChartError> {
        let unreadable = |error: std::io::Error| ChartError::Unreadable {
            file: name.to_owned(),
            why: error.to_string(),
        };
        let file = File::open(&path).map_err(unreadable)?;
        let stamp = Stamp::of(&file.metadata().map_err(unreadable)?);
        let (frame, cell_bytes) = if is_hgt {
            (hgt_frame(name, stamp.bytes)?, 2)
        } else {
            geotiff_head(name, BufReader::new(file), stamp.bytes)?
        };
        Ok(Self { name: name.to_owned(), path, is_hgt, frame, cell_bytes, stamp })
    }

    pub(in crate::chart) fn name(&self) -> &str {
        &self.name
    }

    pub(in crate::chart) fn frame(&self) -> Frame {
        self.frame
    }

    /// What its heights take in memory at most.
    pub(in crate::chart) fn bytes(&self) -> u64 {
        Tile::bytes(&self.frame, self.cell_bytes)
    }

    /// Reads its heights.
    pub(super) fn read(&self) -> Result<Tile, ChartError> {
        let unreadable = |why: String| ChartError::Unreadable { file: self.name.clone(), why };
        let failed = |error: std::io::Error| unreadable(error.to_string());
        let same = |file: &File| -> Result<(), ChartError> {
            let now = Stamp::of(&file.metadata().map_err(failed)?);
            if now.bytes != self.stamp.bytes {
                let (held, told) = (now.bytes, self.stamp.bytes);
                return Err(unreadable(format!(
                    "it holds {held} bytes and held {told} when the chart was opened"
                )));
            }
            if now != self.stamp {
                return Err(unreadable(
                    "it has been changed since the chart was opened".to_owned(),
                ));
            }
            Ok(())
        };
        let file = File::open(&self.path).map_err(failed)?;
        same(&file)?;
        let mut input = BufReader::with_capacity(1 << 16, file);
        let tile = if self.is_hgt {
            hgt_tile(&self.name, &self.frame, &mut input)?
        } else {
            geotiff_tile(&self.name, &self.frame, self.cell_bytes, &mut input, self.stamp.bytes)?
        };
        same(input.get_ref())?;
        Ok(tile)
    }
}
