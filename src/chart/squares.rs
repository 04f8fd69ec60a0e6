//! The squares of one degree over the box of a coast, and the small cells of each: what is worked out of
//! a place is kept by them.

use super::geobox::GeoBox;
use crate::geodesy::Position;

/// Cells along each side of a square: ten seconds of arc each.
pub(super) const CELLS: usize = 360;

/// The squares that a box touches, numbered row by row from its south-western one.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Squares {
    pub(super) south: f64,
    pub(super) west: f64,
    columns: usize,
    rows: usize,
}

/// Where a place lies among the squares of a box.
#[derive(Debug, Clone, Copy)]
pub(super) struct InSquare {
    pub(super) number: usize,
    /// Whole degrees north and east of the south-western corner of all.
    pub(super) row: f64,
    pub(super) column: f64,
    /// The cell of its square: row from the south, and column.
    pub(super) cell: (usize, usize),
}

impl Squares {
    /// None where there is no box.
    pub(super) fn over(area: Option<GeoBox>) -> Self {
        let Some(area) = area else { return Self::default() };
        let (south, west) = (area.south.floor(), area.west.floor());
        let columns = ((area.east.floor() - west + 1.0) as usize).min(360);
        let rows = (area.north.floor() - south + 1.0) as usize;
        Self { south, west, columns, rows }
    }

    /// How many there are.
    pub(super) fn count(&self) -> usize {
        self.columns * self.rows
    }

    /// Where a place lies; nowhere outside all of them.
    pub(super) fn find(&self, at: Position) -> Option<InSquare> {
        let up = at.latitude() - self.south;
        let right = at.longitude() - self.west;
        let right = if right < 0.0 { right + 360.0 } else { right };
        if up < 0.0 || up >= self.rows as f64 || right >= self.columns as f64 {
            return None;
        }
        let (row, column) = (up.floor(), right.floor());
        let cell = |part: f64| ((part * CELLS as f64) as usize).min(CELLS - 1);
        Some(InSquare {
            number: row as usize * self.columns + column as usize,
            row,
            column,
            cell: (cell(up - row), cell(right - column)),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_found_over_the_date_line_and_not_outside() {
        let squares = Squares::over(Some(GeoBox::new(-2.5, 178.5, 0.5, 181.5)));
        // Rows from 3 S to 1 N, columns from 178 E to 178 W.
        assert_eq!(squares.count(), 4 * 4);
        let found = |lat, lon| squares.find(Position::new(lat, lon).unwrap());
        let place = found(-2.25, -179.5).unwrap();
        assert_eq!((place.number, place.cell), (2, (270, 180)));
        assert_eq!(found(0.999_9, 178.0).unwrap().number, 12);
        for (lat, lon) in [(1.0, 179.0), (-3.1, 179.0), (0.0, 177.9), (0.0, -177.9), (0.0, 0.0)] {
            assert!(found(lat, lon).is_none(), "{lat} {lon}");
        }
        assert!(Squares::over(None).find(Position::new(0.0, 0.0).unwrap()).is_none());
    }
}
