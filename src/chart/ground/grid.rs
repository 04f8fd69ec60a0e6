use std::sync::{Arc, OnceLock};

use super::cache::{Cache, Fetched, Held};
use super::ceiling::Blocks;
use super::tile::{Facts, Tile};
use super::tile_file::TileFile;
use super::told::Told;
use crate::chart::error::ChartError;
use crate::chart::geobox::GeoBox;
use crate::geodesy::Position;

/// What lies beside a height within this share of a step has no weight: places are not exact to the last digit.
const NO_WEIGHT: f64 = 1e-6;

/// Where the heights of a grid stand.
#[derive(Debug, Clone, Copy)]
pub(in crate::chart) struct Frame {
    /// Latitude of the first row of heights.
    pub(in crate::chart) north: f64,
    /// Longitude of the first column of heights.
    pub(in crate::chart) west: f64,
    /// Degrees from row to row, southward.
    pub(in crate::chart) step_lat: f64,
    /// Degrees from column to column, eastward.
    pub(in crate::chart) step_lon: f64,
    pub(in crate::chart) columns: usize,
    pub(in crate::chart) rows: usize,
}

/// Where the heights are.
enum Store {
    /// In memory for good; and the file that they are from, where it can be read again.
    Held(Tile, Option<Box<TileFile>>),
    /// In a file, read when they are asked for.
    Fetched(Box<Fetched>),
}

/// A grid of heights on lines of latitude and longitude; those that were missing have been filled.
pub(in crate::chart) struct Grid {
    pub(in crate::chart) file: String,
    pub(in crate::chart) frame: Frame,
    store: Store,
    /// Whether the columns go once round the Earth.
    round: bool,
    /// Made when first asked for: few questions need it.
    blocks: OnceLock<Blocks>,
}

impl std::fmt::Debug for Grid {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Grid")
            .field("file", &self.file)
            .field("frame", &self.frame)
            .field("facts", &self.known_facts())
            .finish_non_exhaustive()
    }
}

impl Grid {
    fn new(file: &str, frame: Frame, store: Store) -> Self {
        let round = (frame.step_lon * frame.columns as f64 - 360.0).abs() < 0.5 * frame.step_lon;
        Self { file: file.to_owned(), frame, store, round, blocks: OnceLock::new() }
    }

    /// Of heights that stay in memory.
    pub(in crate::chart) fn held(file: &str, frame: Frame, tile: Tile) -> Self {
        Self::new(file, frame, Store::Held(tile, None))
    }

    /// Of a file whose heights are read when they are asked for.
    pub(in crate::chart) fn fetched(file: TileFile, cache: &Arc<Cache>) -> Self {
        let (name, frame) = (file.name().to_owned(), file.frame());
        Self::new(&name, frame, Store::Fetched(Box::new(Fetched::new(file, cache, None))))
    }

    /// The same grid, whose heights can be let go and read again from this file.
    pub(in crate::chart) fn of_file(mut self, file: TileFile) -> Self {
        if let Store::Held(_, from) = &mut self.store {
            *from = Some(Box::new(file));
        }
        self
    }

    /// The same grid, its heights let go where there is a file to read them from again.
    pub(in crate::chart) fn let_go(mut self, cache: &Arc<Cache>) -> Self {
        self.store = match self.store {
            Store::Held(tile, Some(file)) => {
                Store::Fetched(Box::new(Fetched::new(*file, cache, Some(tile.facts()))))
            }
            other => other,
        };
        self
    }

    /// What is asked of its heights; `None` where they cannot be read. What asks must ask no other grid
    /// and start no parallel work: the heights cannot be let go meanwhile.
    pub(in crate::chart) fn with<R>(&self, ask: impl Fn(&Tile) -> R) -> Option<R> {
        match &self.store {
            Store::Held(tile, _) => Some(ask(tile)),
            Store::Fetched(fetched) => fetched.with(&ask),
        }
    }

    /// Its heights, where they stay in memory.
    pub(in crate::chart) fn held_tile(&self) -> Option<&Tile> {
        match &self.store {
            Store::Held(tile, _) => Some(tile),
            Store::Fetched(_) => None,
        }
    }

    /// What is known of its heights, without reading them for it.
    pub(in crate::chart) fn known_facts(&self) -> Option<Facts> {
        match &self.store {
            Store::Held(tile, _) => Some(tile.facts()),
            Store::Fetched(fetched) => fetched.facts(),
        }
    }

    /// The same, read where they have to be; `None` where they cannot be.
    pub(in crate::chart) fn facts(&self) -> Option<Facts> {
        self.known_facts().or_else(|| self.with(Tile::facts))
    }

    /// Why its heights cannot be read, as far as that is known.
    pub(in crate::chart) fn fault(&self) -> Option<&ChartError> {
        match &self.store {
            Store::Held(..) => None,
            Store::Fetched(fetched) => fetched.fault(),
        }
    }

    /// What is held of it and of all grids that share its room; `None` where its heights stay in memory.
    pub(super) fn shared(&self) -> Option<Held> {
        match &self.store {
            Store::Held(..) => None,
            Store::Fetched(fetched) => Some(fetched.cache().held()),
        }
    }

    /// The number of a cell.
    pub(in crate::chart) fn number(&self, row: usize, column: usize) -> usize {
        row * self.frame.columns + column
    }

    /// Degrees from row to row.
    pub(in crate::chart) fn step_deg(&self) -> f64 {
        self.frame.step_lat
    }

    /// The box of the outermost heights.
    pub(in crate::chart) fn extent(&self) -> GeoBox {
        let f = &self.frame;
        GeoBox::new(
            f.north - f.step_lat * (f.rows - 1) as f64,
            f.west,
            f.north,
            f.west + f.step_lon * (f.columns - 1) as f64,
        )
    }

    /// Whether a place lies no farther than half a step from the box of the outermost heights: it tells the
    /// height of such a place, where it can be read.
    pub(in crate::chart) fn is_within_half_a_step(&self, at: Position) -> bool {
        let (f, extent) = (&self.frame, self.extent());
        let (up, right) = (0.5 * f.step_lat, 0.5 * f.step_lon);
        let told = GeoBox::new(
            extent.south - up,
            extent.west - right,
            extent.north + up,
            extent.east + right,
        );
        told.contains(at)
    }

    /// Where a cell's height stands.
    pub(in crate::chart) fn place(&self, row: usize, column: usize) -> Position {
        let f = &self.frame;
        Position::wrapped(f.north - f.step_lat * row as f64, f.west + f.step_lon * column as f64)
    }

    /// The height that stands nearest to a place, within half a step of the outermost ones.
    pub(in crate::chart) fn nearest(&self, at: Position) -> Option<Told> {
        let f = &self.frame;
        let row = ((f.north - at.latitude()) / f.step_lat).round();
        let column = self.column_of(at.longitude()).round();
        if !(0.0..f.rows as f64).contains(&row) || !self.round && column >= f.columns as f64 {
            return None;
        }
        // Half a step before the first column is still its own.
        let cell = self.number(row as usize, column.max(0.0) as usize % f.columns);
        let told = |tile: &Tile| Some(Told { metres: tile.get(cell)?, filled: tile.is_void(cell) });
        self.with(told).flatten()
    }

    /// The greatest heights by blocks; `None` where the heights cannot be read.
    pub(super) fn blocks(&self) -> Option<&Blocks> {
        if self.fault().is_some() {
            return None;
        }
        if let Some(blocks) = self.blocks.get() {
            return Some(blocks);
        }
        let blocks = self.with(|tile| Blocks::new(&self.frame, tile.all()))?;
        Some(self.blocks.get_or_init(|| blocks))
    }

    /// Whether the columns go once round the Earth.
    pub(super) fn is_round(&self) -> bool {
        self.round
    }

    /// Where a longitude lies among the columns; from half a step before the first, unless that lies
    /// between the last one and the first.
    pub(super) fn column_of(&self, longitude: f64) -> f64 {
        let f = &self.frame;
        let mut east = longitude - f.west;
        let least = if self.round { 0.0 } else { -0.5 * f.step_lon };
        if east < least {
            east += 360.0;
        }
        if east >= 360.0 {
            east -= 360.0;
        }
        east / f.step_lon
    }

    /// The height of a place between the four around it (bilinear); up to half a step outside the
    /// outermost heights it is theirs, so that grids that adjoin leave no gap.
    pub(in crate::chart) fn height(&self, at: Position) -> Option<Told> {
        let f = &self.frame;
        let row = (f.north - at.latitude()) / f.step_lat;
        if !(-0.5..=f.rows as f64 - 0.5).contains(&row) {
            return None;
        }
        let column = self.column_of(at.longitude());
        if !self.round && column > f.columns as f64 - 0.5 {
            return None;
        }
        let row = row.clamp(0.0, (f.rows - 1) as f64);
        let (r0, down) = whole_and_rest(row, f.rows);
        let (c0, c1, right) = if self.round {
            let c0 = (column.floor() as usize).min(f.columns - 1);
            // Columns may fall short of the whole turn by half a step: between the last and the first too.
            (c0, (c0 + 1) % f.columns, (column - c0 as f64).min(1.0))
        } else {
            let (c0, right) = whole_and_rest(column.clamp(0.0, (f.columns - 1) as f64), f.columns);
            (c0, c0 + 1, right)
        };
        let (north, south) = (self.number(r0, 0), self.number(r0 + 1, 0));
        self.with(|tile| {
            let upper = tile.get(north + c0)? * (1.0 - right) + tile.get(north + c1)? * right;
            let lower = tile.get(south + c0)? * (1.0 - right) + tile.get(south + c1)? * right;
            let filled = tile.facts().voids > 0 && {
                let weighs = |row: usize, share: f64| {
                    share > NO_WEIGHT
                        && ((1.0 - right > NO_WEIGHT && tile.is_void(row + c0))
                            || (right > NO_WEIGHT && tile.is_void(row + c1)))
                };
                weighs(north, 1.0 - down) || weighs(south, down)
            };
            Some(Told { metres: upper * (1.0 - down) + lower * down, filled })
        })?
    }
}

/// The cell a coordinate falls in, the last full one at the far edge, and how far into it.
fn whole_and_rest(coordinate: f64, count: usize) -> (usize, f64) {
    let whole = (coordinate.floor() as usize).min(count - 2);
    (whole, coordinate - whole as f64)
}

#[cfg(test)]
mod tests {
    use super::super::tile::Heights;
    use super::*;

    fn grid() -> Grid {
        let frame =
            Frame { north: 1.0, west: 179.0, step_lat: 1.0, step_lon: 1.0, columns: 3, rows: 2 };
        let heights = Heights::Whole(vec![0, 100, 200, 10, 110, 210]);
        Grid::held("g", frame, Tile::new("g", &frame, heights, &|_| false).unwrap())
    }

    #[test]
    fn heights_between_are_bilinear_over_the_date_line() {
        let grid = grid();
        let at = |lat, lon| grid.height(Position::new(lat, lon).unwrap()).map(|told| told.metres);
        assert_eq!(at(1.0, 179.0), Some(0.0));
        assert_eq!(at(0.0, -179.0), Some(210.0));
        assert_eq!(at(0.5, -179.5), Some(155.0));
        assert_eq!(at(0.5, 178.6), Some(5.0));
        assert_eq!(at(0.5, 178.4), None);
        assert_eq!(at(-0.6, 180.0), None);
        assert_eq!(at(0.5, 0.0), None);
    }

    #[test]
    fn the_nearest_height_is_told_to_half_a_step_on_every_side() {
        let grid = grid();
        let at = |lat, lon| grid.nearest(Position::new(lat, lon).unwrap()).map(|told| told.metres);
        assert_eq!(at(0.9, 179.2), Some(0.0));
        assert_eq!(at(0.2, -179.3), Some(210.0));
        assert_eq!(at(0.2, 178.6), Some(10.0));
        assert_eq!(at(0.2, -178.6), Some(210.0));
        assert_eq!((at(0.2, 178.4), at(0.2, -178.4), at(1.6, 179.0)), (None, None, None));
    }

    #[test]
    fn a_grid_once_round_the_earth_has_no_seam() {
        let (step_lat, step_lon) = (1.0, 90.0);
        let frame = Frame { north: 1.0, west: -90.0, step_lat, step_lon, columns: 4, rows: 2 };
        let heights = Heights::Whole(vec![0, 100, 200, 300, 0, 100, 200, 300]);
        let grid = Grid::held("g", frame, Tile::new("g", &frame, heights, &|_| false).unwrap());
        let metres = |told: Option<Told>| told.map(|told| told.metres);
        let between = |lon| metres(grid.height(Position::new(0.5, lon).unwrap()));
        assert_eq!((between(-180.0), between(-90.0)), (Some(300.0), Some(0.0)));
        // From the last column to the first it goes straight, in the half step before the first too.
        assert_eq!(between(-135.0), Some(150.0));
        assert!((between(-120.0).unwrap() - 100.0).abs() < 1e-9);
        let nearest = |lon| metres(grid.nearest(Position::new(0.5, lon).unwrap()));
        assert_eq!(
            (nearest(-140.0), nearest(-100.0), nearest(-50.0)),
            (Some(300.0), Some(0.0), Some(0.0))
        );
    }
}
