//! Which of many grids tell heights of a place.

use super::Grid;
use crate::chart::geobox::GeoBox;
use crate::geodesy::Position;

/// Up to so many grids are gone through one by one.
const FEW: usize = 4;

/// Whole degrees of latitude, the pole among them, and of longitude.
const ROWS: usize = 181;
const COLUMNS: usize = 360;

/// Grids that tell heights in more degrees than this, all together, are gone through one by one. All the
/// land of the Earth in tiles of one degree makes some 250,000 (computed: nine for each); ten thousand files
/// of four heights that each announce the whole Earth would take gigabytes.
const MOST_LISTED: usize = 8_000_000;

/// The grids that tell heights in each whole degree of latitude and longitude, by number.
#[derive(Debug)]
pub(in crate::chart) struct ByDegree {
    /// Where the numbers of each degree begin, and at last where those of the last end.
    starts: Vec<u32>,
    numbers: Vec<u32>,
}

/// The row of a latitude.
fn row(latitude: f64) -> usize {
    (latitude.floor() + 90.0).clamp(0.0, (ROWS - 1) as f64) as usize
}

/// The column of a longitude.
fn column(longitude: f64) -> usize {
    ((longitude + 180.0).rem_euclid(360.0) as usize).min(COLUMNS - 1)
}

impl ByDegree {
    /// Of grids in their order; nothing where they are few, or each so wide that it would help little.
    pub(in crate::chart) fn of(grids: &[Grid]) -> Option<Self> {
        if grids.len() <= FEW {
            return None;
        }
        let mut all: Vec<(u32, u32)> = Vec::new();
        for (number, grid) in (0..).zip(grids) {
            all.extend(degrees(grid).map(|degree| (degree as u32, number)));
            if all.len() > MOST_LISTED {
                return None;
            }
        }
        all.sort_unstable();
        let mut starts = vec![0; ROWS * COLUMNS + 1];
        for (degree, _) in &all {
            if let Some(count) = starts.get_mut(*degree as usize + 1) {
                *count += 1;
            }
        }
        let mut sum = 0;
        for start in &mut starts {
            sum += *start;
            *start = sum;
        }
        Some(Self { starts, numbers: all.into_iter().map(|(_, number)| number).collect() })
    }

    /// The grids that may tell heights of a place, in their order.
    pub(super) fn at(&self, at: Position) -> &[u32] {
        self.listed(row(at.latitude()), column(at.longitude()))
    }

    /// The grids that may tell heights of a box; `None` where it is not within one degree.
    pub(super) fn of_box(&self, area: &GeoBox) -> Option<&[u32]> {
        let rows = (row(area.south), row(area.north));
        let columns = (column(area.west), column(area.east));
        let within = rows.0 == rows.1 && columns.0 == columns.1 && area.east - area.west < 1.0;
        within.then(|| self.listed(rows.0, columns.0))
    }

    fn listed(&self, row: usize, column: usize) -> &[u32] {
        let degree = row * COLUMNS + column;
        let start = |degree: usize| self.starts.get(degree).map_or(0, |start| *start as usize);
        self.numbers.get(start(degree)..start(degree + 1)).unwrap_or_default()
    }
}

/// The numbers of those of `count` grids that may tell heights of a place or stand within a step of it, in
/// their order: all of them where they are not listed by degree.
pub(in crate::chart) fn numbers_at(
    by_degree: Option<&ByDegree>,
    count: usize,
    at: Position,
) -> impl Iterator<Item = usize> {
    let listed = by_degree.map(|by_degree| by_degree.at(at));
    let all = if listed.is_none() { 0..count } else { 0..0 };
    all.chain(listed.unwrap_or_default().iter().map(|number| *number as usize))
}

/// The degrees in which a grid tells heights, and those within a step of them.
fn degrees(grid: &Grid) -> impl Iterator<Item = usize> {
    let extent = grid.extent();
    let step = grid.frame.step_lat.max(grid.frame.step_lon);
    let rows = row(extent.south - step)..=row(extent.north + step);
    let (west, east) = (extent.west - step, extent.east + step);
    let first = (west + 180.0).floor();
    let count = ((east + 180.0).floor() - first + 1.0).clamp(1.0, COLUMNS as f64) as usize;
    let first = first.rem_euclid(360.0) as usize;
    rows.flat_map(move |row| {
        (first..first + count).map(move |column| row * COLUMNS + column % COLUMNS)
    })
}

#[cfg(test)]
mod tests {
    use super::super::grid::Frame;
    use super::super::tile::{Heights, Tile};
    use super::*;

    /// A grid of four heights, so many degrees on a side.
    fn grid(south: f64, west: f64, side: f64) -> Grid {
        let (step_lat, step_lon) = (side.min(180.0), side);
        let frame =
            Frame { north: south + step_lat, west, step_lat, step_lon, columns: 2, rows: 2 };
        let tile = Tile::new("g", &frame, Heights::Whole(vec![1; 4]), &|_| false).unwrap();
        Grid::held("g", frame, tile)
    }

    #[test]
    fn each_place_lists_the_grids_that_tell_its_height_and_no_far_ones() {
        let grids: Vec<Grid> = (0..20).map(|i| grid(-10.0, f64::from(i) * 10.0, 0.5)).collect();
        let by_degree = ByDegree::of(&grids).unwrap();
        for (number, grid) in grids.iter().enumerate() {
            let at = Position::wrapped(-9.9, 10.0 * number as f64 + 0.1);
            assert!(grid.height(at).is_some());
            let listed: Vec<usize> = numbers_at(Some(&by_degree), grids.len(), at).collect();
            assert_eq!(listed, [number]);
        }
        assert_eq!(numbers_at(None, 3, Position::wrapped(0.0, 0.0)).collect::<Vec<_>>(), [0, 1, 2]);
    }

    #[test]
    fn small_files_that_announce_the_whole_earth_are_not_listed_degree_by_degree() {
        let grids: Vec<Grid> = (0..200).map(|_| grid(-90.0, -180.0, 359.0)).collect();
        assert!(ByDegree::of(&grids).is_none());
        assert!(ByDegree::of(&grids[..20]).is_some());
    }
}
