use super::tile::Heights;

/// Fills the missing heights of a grid from the rim of each hole, and returns which they were.
///
/// From the rim inward, ring by ring, each missing height becomes the mean of its known neighbours
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
    // Each ring is what the one before lies beside, so that every cell is looked at but a few times
    // however wide the hole.
    let mut ring = voids.clone();
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
