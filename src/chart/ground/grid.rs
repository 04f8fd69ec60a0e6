use std::sync::OnceLock;

use super::ceiling::Blocks;
use super::fill::fill_voids;
use crate::chart::error::ChartError;
use crate::chart::geobox::GeoBox;
use crate::geodesy::Position;

/// Heights in metres as they are kept: as whole numbers where the file has them.
pub(in crate::chart) enum Heights {
    Whole(Vec<i16>),
    Real(Vec<f32>),
}

impl Heights {
    fn get(&self, i: usize) -> Option<f64> {
        match self {
            Self::Whole(heights) => heights.get(i).map(|h| f64::from(*h)),
            Self::Real(heights) => heights.get(i).map(|h| f64::from(*h)),
        }
    }

    fn len(&self) -> usize {
        match self {
            Self::Whole(heights) => heights.len(),
            Self::Real(heights) => heights.len(),
        }
    }
}

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

/// A grid of heights on lines of latitude and longitude, without voids.
pub(in crate::chart) struct Grid {
    pub(in crate::chart) file: String,
    pub(in crate::chart) frame: Frame,
    heights: Heights,
    /// Whether the columns go once round the Earth.
    round: bool,
    /// How many heights were missing and have been filled.
    pub(in crate::chart) voids: usize,
    /// Which: a bit for each cell; empty where none was.
    void_cells: Vec<u64>,
    pub(in crate::chart) lowest: f64,
    pub(in crate::chart) highest: f64,
    /// Made when first asked for: few questions need it.
    blocks: OnceLock<Blocks>,
}

impl std::fmt::Debug for Grid {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Grid")
            .field("file", &self.file)
            .field("frame", &self.frame)
            .field("voids", &self.voids)
            .finish_non_exhaustive()
    }
}

impl Grid {
    /// Takes in heights, row by row from the north; `void` marks those that are missing.
    pub(in crate::chart) fn new(
        file: &str,
        frame: Frame,
        mut heights: Heights,
        void: &dyn Fn(f64) -> bool,
    ) -> Result<Self, ChartError> {
        let (columns, rows) = (frame.columns, frame.rows);
        if columns < 2 || rows < 2 || heights.len() != columns * rows {
            return Err(ChartError::GridSize { file: file.to_owned(), columns, rows });
        }
        let missing = fill_voids(&mut heights, columns, rows, void);
        let voids = missing.len();
        if voids == heights.len() {
            return Err(ChartError::GridVoid { file: file.to_owned(), columns, rows });
        }
        let all = (0..heights.len()).filter_map(|i| heights.get(i));
        let (lowest, highest) = all
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), h| (low.min(h), high.max(h)));
        let round = (frame.step_lon * columns as f64 - 360.0).abs() < 0.5 * frame.step_lon;
        let void_cells = bits(&missing, heights.len());
        let file = file.to_owned();
        let blocks = OnceLock::new();
        Ok(Self { file, frame, heights, round, voids, void_cells, lowest, highest, blocks })
    }

    /// Whether the height of a cell was missing, and has been filled from around it.
    pub(in crate::chart) fn is_void(&self, row: usize, column: usize) -> bool {
        let cell = row * self.frame.columns + column;
        self.void_cells.get(cell / 64).is_some_and(|bits| bits >> (cell % 64) & 1 == 1)
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

    /// The height of one cell.
    pub(in crate::chart) fn cell(&self, row: usize, column: usize) -> Option<f64> {
        self.heights.get(row * self.frame.columns + column)
    }

    /// Where a cell's height stands.
    pub(in crate::chart) fn place(&self, row: usize, column: usize) -> Position {
        let f = &self.frame;
        Position::wrapped(f.north - f.step_lat * row as f64, f.west + f.step_lon * column as f64)
    }

    /// The height that stands nearest to a place, within half a step of the outermost ones.
    pub(in crate::chart) fn nearest(&self, at: Position) -> Option<f64> {
        let f = &self.frame;
        let row = ((f.north - at.latitude()) / f.step_lat).round();
        let column = ((at.longitude() - f.west).rem_euclid(360.0) / f.step_lon).round();
        if !(0.0..f.rows as f64).contains(&row) || column >= f.columns as f64 {
            return None;
        }
        self.cell(row as usize, column as usize)
    }

    /// The greatest heights by blocks.
    pub(super) fn blocks(&self) -> &Blocks {
        let cells = (0..self.heights.len()).filter_map(|i| self.heights.get(i));
        self.blocks.get_or_init(|| Blocks::new(&self.frame, cells))
    }

    /// Whether the columns go once round the Earth.
    pub(super) fn is_round(&self) -> bool {
        self.round
    }

    /// Where a longitude lies among the columns; from half a step before the first.
    pub(super) fn column_of(&self, longitude: f64) -> f64 {
        let f = &self.frame;
        let mut east = longitude - f.west;
        if east < -0.5 * f.step_lon {
            east += 360.0;
        }
        if east >= 360.0 {
            east -= 360.0;
        }
        east / f.step_lon
    }

    /// The height of a place between the four around it (bilinear); up to half a step outside the
    /// outermost heights it is theirs, so that grids that adjoin leave no gap.
    pub(in crate::chart) fn height(&self, at: Position) -> Option<f64> {
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
            let column = column.max(0.0);
            let c0 = (column.floor() as usize).min(f.columns - 1);
            (c0, (c0 + 1) % f.columns, column - column.floor())
        } else {
            let (c0, right) = whole_and_rest(column.clamp(0.0, (f.columns - 1) as f64), f.columns);
            (c0, c0 + 1, right)
        };
        let upper = self.cell(r0, c0)? * (1.0 - right) + self.cell(r0, c1)? * right;
        let lower = self.cell(r0 + 1, c0)? * (1.0 - right) + self.cell(r0 + 1, c1)? * right;
        Some(upper * (1.0 - down) + lower * down)
    }
}

/// A bit for each of `count` cells, set for those listed; none at all where nothing is.
fn bits(cells: &[usize], count: usize) -> Vec<u64> {
    if cells.is_empty() {
        return Vec::new();
    }
    let mut bits = vec![0_u64; count.div_ceil(64)];
    for cell in cells {
        if let Some(word) = bits.get_mut(cell / 64) {
            *word |= 1 << (cell % 64);
        }
    }
    bits
}

/// The cell a coordinate falls in, the last full one at the far edge, and how far into it.
fn whole_and_rest(coordinate: f64, count: usize) -> (usize, f64) {
    let whole = (coordinate.floor() as usize).min(count - 2);
    (whole, coordinate - whole as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid() -> Grid {
        let frame =
            Frame { north: 1.0, west: 179.0, step_lat: 1.0, step_lon: 1.0, columns: 3, rows: 2 };
        let heights = Heights::Whole(vec![0, 100, 200, 10, 110, 210]);
        Grid::new("g", frame, heights, &|_| false).unwrap()
    }

    #[test]
    fn heights_between_are_bilinear_over_the_date_line() {
        let grid = grid();
        let at = |lat, lon| grid.height(Position::new(lat, lon).unwrap());
        assert_eq!(at(1.0, 179.0), Some(0.0));
        assert_eq!(at(0.0, -179.0), Some(210.0));
        assert_eq!(at(0.5, -179.5), Some(155.0));
        assert_eq!(at(0.5, 178.6), Some(5.0));
        assert_eq!(at(0.5, 178.4), None);
        assert_eq!(at(-0.6, 180.0), None);
        assert_eq!(at(0.5, 0.0), None);
    }
}
