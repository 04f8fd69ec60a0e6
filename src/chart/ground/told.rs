//! What the grids tell of a place: a height that was measured before one that was missing and filled.

use super::{Grid, Ground, numbers_at};
use crate::chart::geobox::GeoBox;
use crate::geodesy::Position;

/// A height that a grid tells of a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::chart) struct Told {
    /// Above the sea.
    pub(in crate::chart) metres: f64,
    /// It goes by one that was missing, and was filled from about it.
    pub(in crate::chart) filled: bool,
}

impl Told {
    /// Metres of the first that was measured, else of the first there is: a grid that leaves ground out
    /// hides no height that another has.
    pub(in crate::chart) fn trusted(told: impl IntoIterator<Item = Self>) -> Option<f64> {
        let mut first = None;
        for Self { metres, filled } in told {
            if !filled {
                return Some(metres);
            }
            first.get_or_insert(metres);
        }
        first
    }
}

impl Ground {
    /// Metres in the finest grid that covers a place, whether charted as land or not: the finest that
    /// measured it, where one has.
    pub fn grid_height(&self, at: Position) -> Option<f64> {
        Told::trusted(self.grids_at(at).filter_map(|grid| grid.height(at)))
    }

    /// Metres of the height that stands nearest to a place, in the finest grid that covers it: the finest
    /// that measured it, where one has.
    pub(in crate::chart) fn nearest_height(&self, at: Position) -> Option<f64> {
        Told::trusted(self.grids_at(at).filter_map(|grid| grid.nearest(at)))
    }

    /// Whether some grid measured the height of a place.
    pub(super) fn is_measured(&self, at: Position) -> bool {
        self.grids_at(at).filter_map(|grid| grid.height(at)).any(|told| !told.filled)
    }

    /// The numbers of the grids that may tell heights of a place, finest first.
    pub(in crate::chart) fn numbers_at(&self, at: Position) -> impl Iterator<Item = usize> {
        numbers_at(self.by_degree.as_ref(), self.grids.len(), at)
    }

    /// The grids that may tell heights of a place, finest first.
    fn grids_at(&self, at: Position) -> impl Iterator<Item = &Grid> {
        let listed = self.by_degree.as_ref().map(|by_degree| by_degree.at(at));
        self.listed(listed)
    }

    /// The grids that may tell heights of an area, finest first.
    pub(super) fn grids_of(&self, area: &GeoBox) -> impl Iterator<Item = &Grid> {
        let listed = self.by_degree.as_ref().and_then(|by_degree| by_degree.of_box(area));
        self.listed(listed)
    }

    /// The grids of a list by number; all where there is none.
    fn listed(&self, numbers: Option<&[u32]>) -> impl Iterator<Item = &Grid> {
        let all = if numbers.is_none() { self.grids.as_slice() } else { &[] };
        let listed = numbers.unwrap_or_default().iter();
        all.iter().chain(listed.filter_map(|number| self.grids.get(*number as usize)))
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::super::grid::Frame;
    use super::super::tile::{Heights, Tile};
    use super::*;
    use crate::chart::cover::Cover;
    use crate::chart::ground::{Contours, Profile};

    const VOID: i16 = i16::MIN;

    /// Rows of heights from 1 N on and columns from 6 E on, so many degrees apart.
    fn grid(step: f64, rows: &[&[i16]]) -> Grid {
        let frame = Frame {
            north: 1.0,
            west: 6.0,
            step_lat: step,
            step_lon: step,
            columns: rows[0].len(),
            rows: rows.len(),
        };
        let heights = Heights::Whole(rows.concat());
        let void = |height: f64| height <= f64::from(VOID);
        Grid::held("g", frame, Tile::new("g", &frame, heights, &void).unwrap())
    }

    fn ground(grids: Vec<Grid>) -> Ground {
        let (coast, contours, cover) = (Arc::default(), Contours::default(), Cover::default());
        Ground::new(coast, grids, contours, &[], Profile::default(), cover)
    }

    fn at(lat: f64, lon: f64) -> Position {
        Position::new(lat, lon).unwrap()
    }

    /// Three columns half a degree apart: the last one is missing, and is filled with the 10 m beside it.
    const LEFT_OUT: [&[i16]; 3] = [&[10, 10, VOID], &[10, 10, VOID], &[10, 10, VOID]];

    #[test]
    fn a_height_is_filled_where_a_missing_one_has_a_weight_in_it() {
        let grid = grid(0.5, &LEFT_OUT);
        let told = |lon| grid.height(at(0.75, lon)).unwrap();
        for (lon, filled) in [(6.0, false), (6.25, false), (6.5, false), (6.75, true), (7.0, true)]
        {
            assert_eq!(told(lon), Told { metres: 10.0, filled }, "{lon}");
        }
        // The nearest height alone, and it stands at 6.5 E up to 6.75 E.
        let nearest = |lon| grid.nearest(at(0.75, lon)).unwrap().filled;
        assert_eq!((nearest(6.7), nearest(6.8)), (false, true));
    }

    #[test]
    fn a_height_that_another_grid_measured_goes_before_one_that_was_filled() {
        let ridge: [&[i16]; 3] = [&[400, 500, 600]; 3];
        // Of equal steps, whichever is listed first; and a coarser one behind a finer.
        for (this, grids) in [
            ("first", vec![grid(0.5, &LEFT_OUT), grid(0.5, &ridge)]),
            ("coarser", vec![grid(0.6, &ridge), grid(0.5, &LEFT_OUT)]),
        ] {
            let ground = ground(grids);
            // By hand: at 6.75 E the ridge stands between 500 m at 6.5 E and 600 m at 7 E, and between those
            // at 6.6 E and 7.2 E where its steps are wider.
            let metres = if this == "first" { 550.0 } else { 525.0 };
            let found = ground.grid_height(at(0.75, 6.75)).unwrap();
            assert!((found - metres).abs() < 1e-9, "{this}: {found}");
            assert_eq!(ground.nearest_height(at(0.75, 7.0)), Some(600.0), "{this}");
            // Where the first one has measured heights they stand.
            assert_eq!(ground.grid_height(at(0.75, 6.25)), Some(10.0), "{this}");
            assert_eq!(ground.nearest_height(at(0.75, 6.1)), Some(10.0), "{this}");
        }
        // Where both were filled, the first one tells.
        let left_out: [&[i16]; 3] = [&[500, 500, VOID]; 3];
        let both = ground(vec![grid(0.5, &left_out), grid(0.5, &LEFT_OUT)]);
        assert_eq!(both.grid_height(at(0.75, 7.0)), Some(500.0));
    }
    /// A ridge that one grid leaves out and another has is neither passed over nor counted as missing.
    #[test]
    fn what_another_grid_has_is_in_the_ceiling_and_is_not_missing() {
        let ridge: [&[i16]; 3] = [&[400, 500, 600]; 3];
        let alone = ground(vec![grid(0.5, &LEFT_OUT)]);
        let both = ground(vec![grid(0.5, &LEFT_OUT), grid(0.5, &ridge)]);
        // By hand: on the way, the heights beside it are 10 m in the one, 500 and 600 m in the other. Nothing
        // is taken from the 200 ft (60.96 m) assumed where no grid tells.
        let ceiling = |ground: &Ground| ground.ceiling_m(at(0.75, 6.7), at(0.75, 6.8));
        assert!((ceiling(&alone) - 10.01).abs() < 1e-9, "{}", ceiling(&alone));
        assert!((ceiling(&both) - 600.01).abs() < 1e-9, "{}", ceiling(&both));
        // Of the missing heights one stands in the area, that of 0.5 N 7 E.
        let area = GeoBox::new(0.1, 6.1, 0.9, 7.1);
        let highest = |ground: &Ground| {
            let found = ground.highest(&area, &|at| area.contains(at));
            (found.top.unwrap().height.metres().round(), found.voids)
        };
        assert_eq!((highest(&alone), highest(&both)), ((10.0, 1), (600.0, 0)));
    }
}
