use std::cmp::Reverse;

use rayon::prelude::*;

use super::space::north_at_least_m;
use super::{Feature, MILE, told_salience};
use crate::chart::geobox::GeoBox;
use crate::chart::ground::{Grid, Ground, Tile};
use crate::chart::marks::MarkKind;
use crate::geodesy::{MEAN_EARTH_RADIUS_M, Position, distance};
use crate::units::Angle;

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

/// A peak where it stands.
#[derive(Debug, Clone, Copy)]
struct Summit {
    prominence: f64,
    height: f64,
    position: Position,
    /// In an outermost block of its grid: higher ground may lie beyond.
    at_edge: bool,
}

/// The peaks of a chart's grids that stand on its land, clear of the islands given (middle and
/// radius): an islet is a mark already.
///
/// - `near`: of the grids that reach into this area alone; of all where it is not told.
pub(super) fn peak_features(
    ground: &Ground,
    islets: &[(Position, f64)],
    near: Option<&GeoBox>,
) -> Vec<Feature> {
    let is_near = |grid: &Grid| near.is_none_or(|near| grid.extent().touches(near));
    let of_near = |grid: &Grid| is_near(grid).then(|| grid_peaks(grid));
    let summits: Vec<Option<Vec<Summit>>> = ground.grids().par_iter().map(of_near).collect();
    let summits = summits.as_slice();
    let sure = |grid: &Grid, peak: &Summit| {
        let prominence = if peak.at_edge {
            over_the_seam(ground, summits, grid, peak)?
        } else {
            peak.prominence
        };
        Some((prominence, peak.height, peak.position))
    };
    let sure = &sure;
    let mut all: Vec<(f64, f64, Position)> = ground
        .grids()
        .par_iter()
        .zip(summits)
        .flat_map_iter(|(grid, own)| own.iter().flatten().filter_map(move |peak| sure(grid, peak)))
        .collect();
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

/// Cells on a side of the blocks in which a grid is looked at.
fn block_of(grid: &Grid) -> usize {
    let cells = grid.frame.columns * grid.frame.rows;
    (cells as f64 / GRID_BLOCKS as f64).sqrt().ceil().max(1.0) as usize
}

/// The prominence of a peak in an outermost block of its grid. `None` where it is not sure to be one: where
/// ground beside it is in no other grid, is missing or higher there, or where such a grid has no peak about it.
/// It is the least that any of these grids gives it: higher ground may be nearest over the seam.
///
/// - `summits`: of each grid of the ground; none of one that must not be read.
fn over_the_seam(
    ground: &Ground,
    summits: &[Option<Vec<Summit>>],
    own: &Grid,
    peak: &Summit,
) -> Option<f64> {
    let (extent, block) = (own.extent(), block_of(own) as f64);
    let (north, east) = (block * own.frame.step_lat, block * own.frame.step_lon);
    let about = (-1_i8..=1).flat_map(|up| (-1_i8..=1).map(move |right| (up, right)));
    let beyond: Vec<Position> = about
        .map(|(up, right)| {
            let (latitude, longitude) = (peak.position.latitude(), peak.position.longitude());
            Position::wrapped(latitude + f64::from(up) * north, longitude + f64::from(right) * east)
        })
        .filter(|at| !extent.contains(*at))
        .collect();
    let mut least = peak.prominence;
    let mut asked: Vec<(&Grid, Position)> = Vec::new();
    for at in beyond {
        let before = asked.len();
        for number in ground.numbers_at(at) {
            let (Some(grid), Some(Some(theirs))) =
                (ground.grids().get(number), summits.get(number))
            else {
                continue;
            };
            if std::ptr::eq(grid, own) || !grid.is_within_half_a_step(at) {
                continue;
            }
            let blocks_deg = north + block_of(grid) as f64 * grid.step_deg();
            let reach_m = 1.5 * Angle::from_degrees(blocks_deg).radians() * MEAN_EARTH_RADIUS_M;
            let (here, latitude) = (peak.position, peak.position.latitude());
            let is_about = |other: &&Summit| {
                north_at_least_m(other.position.latitude(), latitude) <= reach_m
                    && distance(other.position, here).metres() <= reach_m
            };
            let same =
                theirs.iter().filter(is_about).max_by(|a, b| a.height.total_cmp(&b.height))?;
            if same.height > peak.height {
                return None;
            }
            least = least.min(same.prominence);
            asked.push((grid, at));
        }
        if asked.len() == before {
            return None;
        }
    }
    // Heights last: most are settled without reading them again.
    let is_lower = |(grid, at): &(&Grid, Position)| {
        grid.height(*at).is_some_and(|told| !told.filled && told.metres <= peak.height)
    };
    asked.iter().all(is_lower).then_some(least)
}

/// The peaks of one grid.
fn grid_peaks(grid: &Grid) -> Vec<Summit> {
    let (columns, rows, block) = (grid.frame.columns, grid.frame.rows, block_of(grid));
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
        .filter_map(|peak| {
            let (row, column) = (peak.cell / wide, peak.cell % wide);
            let at_edge = row == 0 || column == 0 || row + 1 == high || column + 1 == wide;
            let (height, row, column) = *tops.get(peak.cell)?;
            let (prominence, position) = (peak.prominence, grid.place(row, column));
            Some(Summit { prominence, height, position, at_edge })
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
    use std::sync::Arc;

    use super::*;
    use crate::chart::cover::Cover;
    use crate::chart::ground::{Contours, Frame, Heights, Profile};

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

    /// The peaks of grids of five by five heights, one south of the other, that have a row in common: height
    /// and latitude.
    fn peaks_of(grids: &[[[i16; 5]; 5]]) -> Vec<(f64, f64)> {
        let of_rows = |(number, rows): (usize, &[[i16; 5]; 5])| {
            let (north, west, step) = (1.0 - number as f64, 6.0, 0.25);
            let (step_lat, step_lon, columns, rows_count) = (step, step, 5, 5);
            let frame = Frame { north, west, step_lat, step_lon, columns, rows: rows_count };
            let tile = Tile::new("g", &frame, Heights::Whole(rows.concat()), &|_| false).unwrap();
            Grid::held("g", frame, tile)
        };
        let grids = grids.iter().enumerate().map(of_rows).collect();
        let (coast, contours, cover) = (Arc::default(), Contours::default(), Cover::default());
        let ground = Ground::new(coast, grids, contours, &[], Profile::default(), cover);
        let found = peak_features(&ground, &[], None);
        found.iter().map(|peak| (peak.height, peak.position.latitude())).collect()
    }

    #[test]
    fn a_summit_on_the_seam_of_two_grids_is_a_peak_where_it_is_one_in_both() {
        let row = |height: i16| [0, height / 4, height, height / 4, 0];
        let north = [row(0), row(0), row(100), row(200), row(390)];
        let falling = [row(390), row(200), row(100), row(0), row(0)];
        assert_eq!(peaks_of(&[north, falling]), [(390.0, 0.0)]);
        // What lies beyond is not known.
        assert!(peaks_of(&[north]).is_empty());
        // The ridge goes on up: its summit lies a step south of the seam.
        let rising = [row(390), row(500), row(100), row(0), row(0)];
        assert_eq!(peaks_of(&[north, rising]), [(500.0, -0.25)]);
        // 50 m below it the ridge goes up to a summit three steps south: no peak of that prominence.
        let saddle = [row(390), row(350), row(340), row(800), row(0)];
        assert_eq!(peaks_of(&[north, saddle]), [(800.0, -0.75)]);
    }
}
