use super::fill::fill_voids;
use super::grid::Frame;
use crate::chart::error::ChartError;

/// What producers of grids write for a height that is missing, in metres, often without saying so (common
/// practice, no published source). The deepest sea is deeper, but such cells lie under water, and are filled
/// as sea; believed inland, they would make sea of a mountain.
const UNSAID_VOID_M: f64 = -9_999.0;

/// How near to that a height must be to stand for it: whole numbers lie a metre apart.
const UNSAID_WITHIN_M: f64 = 0.5;

/// Whether a height stands for a missing one though nothing in the file says so.
pub(super) fn is_unsaid_void(height: f64) -> bool {
    (height - UNSAID_VOID_M).abs() <= UNSAID_WITHIN_M
}

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

/// What stays known of the heights of a grid when they are let go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::chart) struct Facts {
    /// How many heights were missing and have been filled.
    pub(in crate::chart) voids: usize,
    pub(in crate::chart) lowest: f64,
    pub(in crate::chart) highest: f64,
}

/// All heights of a grid, row by row from the north, without voids.
pub(in crate::chart) struct Tile {
    heights: Heights,
    /// Which were missing: a bit for each cell; empty where none was.
    void_cells: Vec<u64>,
    facts: Facts,
}

impl Tile {
    /// Takes in heights, row by row from the north; `void` marks those that are missing.
    pub(in crate::chart) fn new(
        file: &str,
        frame: &Frame,
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
        let (lowest, highest) = match &heights {
            Heights::Whole(heights) => bounds(heights),
            Heights::Real(heights) => bounds(heights),
        };
        let void_cells = bits(&missing, heights.len());
        Ok(Self { heights, void_cells, facts: Facts { voids, lowest, highest } })
    }

    /// What a tile takes in memory at most, in bytes: its heights, and a bit each for what was missing.
    pub(super) fn bytes(frame: &Frame, cell_bytes: u64) -> u64 {
        let cells = frame.columns as u64 * frame.rows as u64;
        cells * cell_bytes + cells.div_ceil(64) * 8
    }

    /// The height of a cell by its number.
    pub(in crate::chart) fn get(&self, cell: usize) -> Option<f64> {
        self.heights.get(cell)
    }

    /// All heights.
    pub(super) fn all(&self) -> impl Iterator<Item = f64> {
        (0..self.heights.len()).filter_map(|i| self.heights.get(i))
    }

    /// Whether the height of a cell was missing, and has been filled from around it.
    pub(in crate::chart) fn is_void(&self, cell: usize) -> bool {
        self.void_cells.get(cell / 64).is_some_and(|bits| bits >> (cell % 64) & 1 == 1)
    }

    pub(super) fn facts(&self) -> Facts {
        self.facts
    }
}

/// The lowest and the highest.
fn bounds<T: Copy + Into<f64>>(heights: &[T]) -> (f64, f64) {
    let all = heights.iter().map(|height| (*height).into());
    all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), h: f64| (low.min(h), high.max(h)))
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
