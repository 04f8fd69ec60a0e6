//! Which of many grids tell heights of a place.

use super::Grid;
use crate::chart::geobox::GeoBox;
use crate::geodesy::Position;

/// Up to so many grids are gone through one by one.
const FEW: usize = 4;

/// Whole degrees of latitude, the pole among them, and of longitude.
const ROWS: usize = 181;
const COLUMNS: usize = 360;

/// The grids that tell heights in each whole degree of latitude and longitude, by number.
#[derive(Debug)]
pub(super) struct ByDegree {
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
    /// Of grids in their order; nothing where they are few.
    pub(super) fn of(grids: &[Grid]) -> Option<Self> {
        if grids.len() <= FEW {
            return None;
        }
        let mut all: Vec<(u32, u32)> = Vec::new();
        for (number, grid) in (0..).zip(grids) {
            all.extend(degrees(grid).map(|degree| (degree as u32, number)));
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

/// The degrees in which a grid tells heights.
fn degrees(grid: &Grid) -> impl Iterator<Item = usize> {
    let (frame, extent) = (&grid.frame, grid.extent());
    // Half a step beyond its outermost heights it still tells them.
    let rows = row(extent.south - frame.step_lat)..=row(extent.north + frame.step_lat);
    let (west, east) = (extent.west - frame.step_lon, extent.east + frame.step_lon);
    let first = (west + 180.0).floor();
    let count = ((east + 180.0).floor() - first + 1.0).clamp(1.0, COLUMNS as f64) as usize;
    let first = first.rem_euclid(360.0) as usize;
    rows.flat_map(move |row| {
        (first..first + count).map(move |column| row * COLUMNS + column % COLUMNS)
    })
}
