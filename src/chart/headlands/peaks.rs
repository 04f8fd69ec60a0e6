use std::cmp::Reverse;

use rayon::prelude::*;

use super::space::north_at_least_m;
use super::{Feature, MILE, told_salience};
use crate::chart::geobox::GeoBox;
use crate::chart::ground::{Grid, Ground, Tile};
use crate::chart::marks::MarkKind;
use crate::geodesy::{Position, distance};

/// A summit of a grid.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Peak {
    /// Number of its cell.
    cell: usize,
    /// Its height in metres.
    height: f64,
    /// How far one has to go down from it before higher ground can be reached, in metres.
    prominence: f64,
}

/// The least prominence of a peak in metres.
const LEAST_PROMINENCE_M: f64 = 60.0;
/// And its least share of the peak's own height: the knobs of a ridge are no marks.
const LEAST_SHARE: f64 = 0.2;

/// A grid is looked at in at most so many blocks.
const GRID_BLOCKS: usize = 250_000;
/// Two peaks closer than this are one.
const PEAK_APART_M: f64 = 1.0 * MILE;
/// The most peaks kept, the most prominent first.
const MOST_PEAKS: usize = 200;

/// The peaks of a chart's grids that stand on its land, clear of the islands given (middle and
/// radius): an islet is a mark already.
///
/// - `near`: of the grids that reach into this area alone; of all where it is not told.
pub(super) fn peak_features(
    ground: &Ground,
    islets: &[(Position, f64)],
    near: Option<&GeoBox>,
) -> Vec<Feature> {
    let is_near = |grid: &&Grid| near.is_none_or(|near| grid.extent().touches(near));
    let mut all: Vec<(f64, f64, Position)> =
        ground.grids().par_iter().filter(is_near).flat_map_iter(grid_peaks).collect();
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut kept: Vec<(f64, f64, Position)> = Vec::new();
    for peak in all {
        let apart = |other: &(f64, f64, Position)| {
            north_at_least_m(other.2.latitude(), peak.2.latitude()) > PEAK_APART_M
                || distance(other.2, peak.2).metres() > PEAK_APART_M
        };
        let is_on = |(middle, radius): &(Position, f64)| {
            north_at_least_m(middle.latitude(), peak.2.latitude()) < *radius
                && distance(*middle, peak.2).metres() < *radius
        };
        if kept.len() < MOST_PEAKS
            && ground.is_land(peak.2) != Some(false)
            && kept.iter().all(apart)
            && !islets.iter().any(is_on)
        {
            kept.push(peak);
        }
    }
    let feature = |(prominence, height, position): (f64, f64, Position)| Feature {
        kind: MarkKind::Peak,
        line: None,
        position,
        height,
        extent: 0.0,
        sigma: ground.cell_m().unwrap_or(0.0).max(0.05 * MILE),
        salience: told_salience(prominence / 40.0),
        lends_within: 0.75 * MILE,
        only_named: false,
    };
    kept.into_iter().map(feature).collect()
}

/// Prominence, height and place of the peaks of one grid, its outermost blocks left out: higher
/// ground may lie beyond.
fn grid_peaks(grid: &Grid) -> Vec<(f64, f64, Position)> {
    let (columns, rows) = (grid.frame.columns, grid.frame.rows);
    let block = ((columns * rows) as f64 / GRID_BLOCKS as f64).sqrt().ceil().max(1.0) as usize;
    let (wide, high) = (columns.div_ceil(block), rows.div_ceil(block));
    // The highest cell of each block stands for it.
    let top = |tile: &Tile, b: usize| {
        let (r0, c0) = (b / wide * block, b % wide * block);
        let cells = (r0..(r0 + block).min(rows))
            .flat_map(|r| (c0..(c0 + block).min(columns)).map(move |c| (r, c)));
        cells
            .map(|(r, c)| (tile.get(grid.number(r, c)).unwrap_or(0.0), r, c))
            .fold((f64::MIN, 0, 0), |best, cell| if cell.0 > best.0 { cell } else { best })
    };
    // A tile that is read for it is gone through at once, in one piece: the next ones beside it.
    let tops: Option<Vec<(f64, usize, usize)>> = match grid.held_tile() {
        Some(tile) => Some((0..wide * high).into_par_iter().map(|b| top(tile, b)).collect()),
        None => grid.with(|tile| (0..wide * high).map(|b| top(tile, b)).collect()),
    };
    let tops = tops.unwrap_or_default();
    let heights: Vec<f64> = tops.iter().map(|top| top.0).collect();
    peaks(&heights, wide)
        .into_iter()
        .filter(|peak| {
            let (row, column) = (peak.cell / wide, peak.cell % wide);
            row > 0 && column > 0 && row + 1 < high && column + 1 < wide
        })
        .filter_map(|peak| {
            let (height, row, column) = *tops.get(peak.cell)?;
            Some((peak.prominence, height, grid.place(row, column)))
        })
        .collect()
}

/// The peaks of a grid of `columns` cells to a row, the highest first.
///
/// Cells are taken up from the highest; each starts a peak or joins those around it, and where two
/// meet the lower one's prominence is known. Ground of no height parts peaks: their prominence is
/// then their height.
fn peaks(heights: &[f64], columns: usize) -> Vec<Peak> {
    let order = highest_first(heights);
    let mut parent: Vec<usize> = vec![usize::MAX; heights.len()];
    let mut found = Vec::new();
    for &cell in &order {
        set(&mut parent, cell, cell);
        for beside in around(cell, columns, heights.len()) {
            if parent.get(beside).is_none_or(|p| *p == usize::MAX) {
                continue;
            }
            let (a, b) = (root(&mut parent, cell), root(&mut parent, beside));
            if a == b {
                continue;
            }
            let above = |x: usize, y: usize| {
                height(heights, y).total_cmp(&height(heights, x)).then(x.cmp(&y)).is_lt()
            };
            let (high, low) = if above(a, b) { (a, b) } else { (b, a) };
            set(&mut parent, low, high);
            let top = height(heights, low);
            found.push(Peak { cell: low, height: top, prominence: top - height(heights, cell) });
        }
    }
    for &cell in &order {
        if parent.get(cell) == Some(&cell) {
            let top = height(heights, cell);
            found.push(Peak { cell, height: top, prominence: top });
        }
    }
    found.retain(|peak| peak.prominence >= LEAST_PROMINENCE_M.max(LEAST_SHARE * peak.height));
    found.sort_by(|a, b| b.height.total_cmp(&a.height).then(a.cell.cmp(&b.cell)));
    found
}

/// The cells of any height, the highest first.
fn highest_first(heights: &[f64]) -> Vec<usize> {
    // The bits of numbers above nought are in the order of the numbers.
    let key = |(cell, height): (usize, &f64)| (Reverse(height.to_bits()), cell);
    let above = heights.iter().enumerate().filter(|(_, height)| **height > 0.0);
    let mut order: Vec<_> = above.map(key).collect();
    order.sort_unstable();
    order.into_iter().map(|(_, cell)| cell).collect()
}

fn height(heights: &[f64], cell: usize) -> f64 {
    heights.get(cell).copied().unwrap_or(0.0)
}

fn set(parent: &mut [usize], cell: usize, to: usize) {
    if let Some(place) = parent.get_mut(cell) {
        *place = to;
    }
}

fn root(parent: &mut [usize], mut cell: usize) -> usize {
    while let Some(&above) = parent.get(cell)
        && above != cell
    {
        let higher = parent.get(above).copied().unwrap_or(above);
        set(parent, cell, higher);
        cell = higher;
    }
    cell
}

/// The up to eight cells around one.
fn around(cell: usize, columns: usize, count: usize) -> impl Iterator<Item = usize> {
    let columns = columns.max(1);
    let (row, column) = (cell / columns, cell % columns);
    let rows = row.saturating_sub(1)..=row + 1;
    rows.flat_map(move |r| {
        (column.saturating_sub(1)..=(column + 1).min(columns - 1)).map(move |c| r * columns + c)
    })
    .filter(move |beside| *beside != cell && *beside < count)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_peak_is_as_prominent_as_the_descent_to_higher_ground() {
        // By hand: 500 stands alone to the sea; 300 is reached from it over 120; 170 over 150.
        let row = [0.0, 500.0, 120.0, 300.0, 150.0, 170.0, 0.0, 90.0];
        let found: Vec<(usize, f64)> =
            peaks(&row, row.len()).iter().map(|p| (p.cell, p.prominence)).collect();
        assert_eq!(found, [(1, 500.0), (3, 180.0), (7, 90.0)]);
    }

    #[test]
    fn a_plateau_is_one_peak_and_the_sea_none() {
        let mut grid = vec![0.0; 25];
        for cell in [6, 7, 8, 11, 12, 13] {
            grid[cell] = 200.0;
        }
        let found = peaks(&grid, 5);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].cell, found[0].prominence), (6, 200.0));
        assert!(peaks(&[0.0; 9], 3).is_empty());
    }
}
