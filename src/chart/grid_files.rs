//! The elevation grids of a chart's folders: held in memory, or read as their heights are asked for.

use std::collections::HashSet;
use std::sync::Arc;

use super::error::ChartError;
use super::geobox::GeoBox;
use super::ground::{Cache, Grid, TileFile, filled, read_geotiff, read_hgt, tile_box};
use super::manifest::{Grids, MANIFEST, fits};
use super::shapes::sanitised;
use super::source::{Source, has_ending};

/// Whether a file is a grid.
pub(super) fn is_grid(path: &str) -> bool {
    has_ending(path, &["hgt", "tif", "tiff"])
}

fn is_hgt(path: &str) -> bool {
    has_ending(path, &["hgt"])
}

/// The grids read so far.
#[derive(Default)]
pub(super) struct GridFiles {
    grids: Vec<Grid>,
    /// Tiles of heights outside it are left out.
    window: Option<GeoBox>,
    /// No more bytes of heights are held.
    limit: u64,
    /// What all heights so far would take.
    bytes: u64,
    /// Of more heights than are held.
    cache: Option<Arc<Cache>>,
    /// Why some tell no heights.
    left_out: Vec<ChartError>,
    /// Whether there are others outside the window.
    others: bool,
}

impl GridFiles {
    pub(super) fn new(window: Option<GeoBox>, limit: u64) -> Self {
        Self { window, limit, ..Self::default() }
    }

    /// Whether their heights are read as they are asked for.
    pub(super) fn are_fetched(&self) -> bool {
        self.cache.is_some()
    }

    /// The grids, and why others tell no heights.
    pub(super) fn into_grids(self) -> (Vec<Grid>, Vec<ChartError>) {
        (self.grids, self.left_out)
    }

    /// That one grid is sound, where there are any: a chart of bad ones alone is refused with the first.
    pub(super) fn check(&self) -> Result<(), ChartError> {
        match self.left_out.first() {
            Some(fault) if self.grids.is_empty() && !self.others => Err(fault.clone()),
            _ => Ok(()),
        }
    }

    /// Takes in the grids of one folder: those that its `chart.toml` names, else all there are. One whose
    /// heights cannot be had is left out.
    pub(super) fn read(
        &mut self,
        source: &Source<'_>,
        files: &[String],
        named: Option<&Grids>,
        cautions: &mut Vec<String>,
    ) -> Result<(), ChartError> {
        let mut paths = match named {
            Some(grids) => paths_named(source, files, grids)?,
            None => files.iter().filter(|file| is_grid(file)).collect(),
        };
        paths.sort();
        paths.dedup();
        let all = paths.len();
        paths.retain(|path| !self.is_far(path));
        self.others |= paths.len() < all;
        let tile_files: Vec<Option<Result<TileFile, ChartError>>> =
            paths.iter().map(|path| source.tile_file(path, is_hgt(path))).collect();
        self.count(&tile_files);
        for (path, tile_file) in paths.into_iter().zip(tile_files) {
            let grid = match (&self.cache, tile_file) {
                (Some(cache), Some(tile_file)) => tile_file.map(|file| Grid::fetched(file, cache)),
                (_, tile_file) => held(source, path, tile_file, cautions),
            };
            match grid {
                Ok(grid) => self.grids.push(grid),
                Err(fault) if is_of_heights(&fault) => self.left_out.push(fault),
                Err(fault) => return Err(fault),
            }
        }
        Ok(())
    }

    /// Whether a tile lies outside the window, by its name.
    fn is_far(&self, path: &str) -> bool {
        let tile = is_hgt(path).then(|| tile_box(path)).flatten();
        let far = |window: &GeoBox| tile.is_some_and(|tile| !tile.touches(window));
        self.window.as_ref().is_some_and(far)
    }

    /// Adds up what the heights of files take. From where that is more than is held, they are read when
    /// they are asked for, and those that were read before are let go.
    fn count(&mut self, files: &[Option<Result<TileFile, ChartError>>]) {
        let known = files.iter().flatten().flatten();
        self.bytes += known.map(TileFile::bytes).sum::<u64>();
        if self.cache.is_none() && self.bytes > self.limit {
            let cache = Arc::new(Cache::new(self.limit));
            let grids = std::mem::take(&mut self.grids).into_iter();
            self.grids = grids.map(|grid| grid.let_go(&cache)).collect();
            self.cache = Some(cache);
        }
    }
}

/// Whether a fault costs no more than the heights of its file.
fn is_of_heights(fault: &ChartError) -> bool {
    matches!(
        fault,
        ChartError::Unreadable { .. }
            | ChartError::HgtSize { .. }
            | ChartError::GeoTiff { .. }
            | ChartError::GridSize { .. }
            | ChartError::GridVoid { .. }
    )
}

/// The files that the patterns of `chart.toml` fit, each of which must fit one.
fn paths_named<'f>(
    source: &Source<'_>,
    files: &'f [String],
    grids: &Grids,
) -> Result<Vec<&'f String>, ChartError> {
    let (mut fit, mut tried) = (vec![false; files.len()], HashSet::new());
    for pattern in grids.elevation.iter().filter(|pattern| tried.insert(pattern.as_str())) {
        let mut any = false;
        for (fit, file) in fit.iter_mut().zip(files) {
            let this = fits(pattern, file);
            *fit |= this;
            any |= this;
        }
        if !any {
            return Err(ChartError::NoLayer {
                file: source.name_of(MANIFEST),
                key: "grids.elevation".to_owned(),
                layer: sanitised(pattern),
                help: "name grids of this folder, as \"dem/*.hgt\"".to_owned(),
            });
        }
    }
    Ok(files.iter().zip(fit).filter(|(_, fit)| *fit).map(|(file, _)| file).collect())
}

/// A grid whose heights stay in memory, and the file to read them from again where there is one.
fn held(
    source: &Source<'_>,
    path: &str,
    tile_file: Option<Result<TileFile, ChartError>>,
    cautions: &mut Vec<String>,
) -> Result<Grid, ChartError> {
    let bytes = source.read(path)?;
    let file = source.name_of(path);
    let grid = if is_hgt(path) { read_hgt(&file, &bytes)? } else { read_geotiff(&file, &bytes)? };
    if let Some(voids) = grid.known_facts().map(|facts| facts.voids).filter(|n| *n > 0) {
        cautions.push(filled(&file, voids));
    }
    Ok(match tile_file {
        Some(Ok(tile_file)) => grid.of_file(tile_file),
        _ => grid,
    })
}
