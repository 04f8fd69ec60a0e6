use super::tile::Heights;

/// Of the known heights about a sea that a grid leaves out, at least a quarter are lower than this, in metres.
/// Our own figure: a steep shore has low cells too, and a hole among mountains has none.
const LOW_RIM_M: f64 = 50.0;

/// Fewer cells than this are no sea.
const LEAST_SEA: usize = 100;

/// A hole within a grid is no sea unless it holds this share of it.
const SEA_SHARE: f64 = 0.01;

/// Fills the missing heights of a grid from the rim of each hole, and returns which they were.
///
/// Many grids leave the sea out. What reaches the edge of the grid, or holds a hundredth of it, beside low
/// ground, is taken for sea: it would else be land as high as its shore. All else is filled from the rim inward, ring by ring, where each missing height becomes the mean of its known neighbours
/// (the four beside it count twice the four at its corners); a grid of nothing but voids becomes
/// sea level.
pub(super) fn fill_voids(
    heights: &mut Heights,
    columns: usize,
    rows: usize,
    void: &dyn Fn(f64) -> bool,
) -> Vec<usize> {
    match heights {
        Heights::Whole(heights) => {
            fill(heights, columns, rows, |h| void(f64::from(h)), |m| m.round() as i16)
        }
        Heights::Real(heights) => {
            let missing = |h: f32| !h.is_finite() || void(f64::from(h));
            fill(heights, columns, rows, missing, |m| m as f32)
        }
    }
}

fn fill<T: Copy + Into<f64>>(
    heights: &mut [T],
    columns: usize,
    rows: usize,
    missing: impl Fn(T) -> bool,
    from_mean: impl Fn(f64) -> T,
) -> Vec<usize> {
    if !heights.iter().any(|h| missing(*h)) {
        return Vec::new();
    }
    let mut known: Vec<bool> = heights.iter().map(|h| !missing(*h)).collect();
    let voids: Vec<usize> = (0..heights.len()).filter(|i| known.get(*i) == Some(&false)).collect();
    if voids.len() == heights.len() {
        // Nothing is known at all.
        heights.fill(from_mean(0.0));
        return voids;
    }
    for cell in seas(heights, &known, columns, rows) {
        if let (Some(height), Some(known)) = (heights.get_mut(cell), known.get_mut(cell)) {
            (*height, *known) = (from_mean(0.0), true);
        }
    }
    // Each ring is what the one before lies beside, so that every cell is looked at but a few times
    // however wide the hole.
    let mut ring: Vec<usize> = voids.clone();
    ring.retain(|i| known.get(*i) == Some(&false));
    while !ring.is_empty() {
        let mean = |i: &usize| Some((*i, rim_mean(heights, &known, columns, rows, *i)?));
        let filled: Vec<(usize, f64)> = ring.iter().filter_map(mean).collect();
        for (i, mean) in &filled {
            if let (Some(cell), Some(known)) = (heights.get_mut(*i), known.get_mut(*i)) {
                (*cell, *known) = (from_mean(*mean), true);
            }
        }
        ring = filled.iter().flat_map(|(i, _)| beside(*i, columns, rows)).collect();
        ring.retain(|i| known.get(*i) == Some(&false));
        ring.sort_unstable();
        ring.dedup();
    }
    voids
}

/// The cells without a height that are taken for sea.
fn seas<T: Copy + Into<f64>>(
    heights: &[T],
    known: &[bool],
    columns: usize,
    rows: usize,
) -> Vec<usize> {
    let mut looked_at = known.to_vec();
    let mut seas = Vec::new();
    for first in 0..known.len() {
        if looked_at.get(first) != Some(&false) {
            continue;
        }
        let hole = hole_at(first, known, &mut looked_at, columns, rows);
        let at_edge = |cell: &usize| {
            let (row, column) = (cell / columns, cell % columns);
            row == 0 || column == 0 || row + 1 == rows || column + 1 == columns
        };
        let wide = hole.len() as f64 >= SEA_SHARE * known.len() as f64;
        let may_be_sea = hole.len() >= LEAST_SEA && (wide || hole.iter().any(at_edge));
        if may_be_sea && is_by_low_ground(&hole, heights, known, columns, rows) {
            seas.extend(hole);
        }
    }
    seas
}

/// The cells without a height that hang together with one, and marks them as looked at.
fn hole_at(
    first: usize,
    known: &[bool],
    looked_at: &mut [bool],
    columns: usize,
    rows: usize,
) -> Vec<usize> {
    let mut hole = vec![first];
    let mut next = 0;
    if let Some(looked) = looked_at.get_mut(first) {
        *looked = true;
    }
    while let Some(cell) = hole.get(next).copied() {
        next += 1;
        for other in beside(cell, columns, rows).filter(|i| known.get(*i) == Some(&false)) {
            if let Some(looked) = looked_at.get_mut(other).filter(|looked| !**looked) {
                *looked = true;
                hole.push(other);
            }
        }
    }
    hole
}

/// Whether a quarter of the known heights about a hole are low.
fn is_by_low_ground<T: Copy + Into<f64>>(
    hole: &[usize],
    heights: &[T],
    known: &[bool],
    columns: usize,
    rows: usize,
) -> bool {
    let (mut low, mut all) = (0_usize, 0_usize);
    for cell in hole {
        for rim in beside(*cell, columns, rows).filter(|i| known.get(*i) == Some(&true)) {
            all += 1;
            low += usize::from(heights.get(rim).is_some_and(|h| (*h).into() < LOW_RIM_M));
        }
    }
    4 * low >= all
}

/// A cell and the eight about it, by number.
fn beside(cell: usize, columns: usize, rows: usize) -> impl Iterator<Item = usize> {
    let (row, column) = (cell / columns, cell % columns);
    (row.saturating_sub(1)..=(row + 1).min(rows - 1)).flat_map(move |r| {
        (column.saturating_sub(1)..=(column + 1).min(columns - 1)).map(move |c| r * columns + c)
    })
}

/// The weighted mean of the known neighbours of a cell; `None` where it has none.
fn rim_mean<T: Copy + Into<f64>>(
    heights: &[T],
    known: &[bool],
    columns: usize,
    rows: usize,
    cell: usize,
) -> Option<f64> {
    let (mut sum, mut weights) = (0.0, 0.0);
    for i in beside(cell, columns, rows).filter(|i| known.get(*i) == Some(&true)) {
        let straight = i / columns == cell / columns || i % columns == cell % columns;
        let weight = if straight { 2.0 } else { 1.0 };
        sum += weight * (*heights.get(i)?).into();
        weights += weight;
    }
    (weights > 0.0).then(|| sum / weights)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hole_is_filled_from_its_rim() {
        let mut heights = Heights::Whole(vec![10, 20, 30, 40, -32768, 60, 70, 80, 90]);
        assert_eq!(fill_voids(&mut heights, 3, 3, &|h| h <= -32768.0), [4]);
        let Heights::Whole(heights) = heights else { panic!() };
        assert_eq!(heights[4], 50);
    }

    #[test]
    fn a_sea_that_is_left_out_is_sea_and_a_hole_in_the_hills_is_filled() {
        // An island of a cliff and a beach, in a sea without heights; a hole among its hills.
        let side = 40;
        let island =
            |row: usize, column: usize| (10..30).contains(&row) && (10..30).contains(&column);
        let hole =
            |row: usize, column: usize| (18..20).contains(&row) && (18..20).contains(&column);
        let height = |row: usize, column: usize| match (row, column) {
            _ if !island(row, column) || hole(row, column) => -32_768,
            (10, _) => 120,
            (11..=28, 11..=28) => 300,
            _ => 4,
        };
        let cells = || (0..side * side).map(|i| (i / side, i % side));
        let mut heights =
            Heights::Whole(cells().map(|(row, column)| height(row, column)).collect());
        let missing = fill_voids(&mut heights, side, side, &|h| h <= -32_768.0);
        assert_eq!(missing.len(), side * side - 400 + 4);
        let Heights::Whole(filled) = heights else { panic!() };
        for ((row, column), found) in cells().zip(&filled) {
            let expected = match height(row, column) {
                -32_768 if hole(row, column) => 300,
                -32_768 => 0,
                told => told,
            };
            assert_eq!(*found, expected, "{row} {column}");
        }
        // A hole at the edge of a grid of mountains is none.
        let mut hills = vec![900_i16; side * side];
        hills[..10 * side].fill(-32_768);
        let mut heights = Heights::Whole(hills);
        fill_voids(&mut heights, side, side, &|h| h <= -32_768.0);
        let Heights::Whole(filled) = heights else { panic!() };
        assert!(filled.iter().all(|height| *height == 900));
    }

    #[test]
    fn a_wide_hole_is_filled_inward_and_a_grid_of_voids_is_sea() {
        let mut heights = Heights::Real(vec![8.0, f32::NAN, f32::NAN, f32::NAN]);
        assert_eq!(fill_voids(&mut heights, 4, 1, &|_| false), [1, 2, 3]);
        let Heights::Real(filled) = heights else { panic!() };
        assert_eq!(filled, [8.0; 4]);
        let mut nothing = Heights::Whole(vec![-32768; 4]);
        assert_eq!(fill_voids(&mut nothing, 2, 2, &|h| h <= -32768.0).len(), 4);
        let Heights::Whole(filled) = nothing else { panic!() };
        assert_eq!(filled, [0; 4]);
    }
}
