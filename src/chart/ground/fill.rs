use super::grid::Heights;

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
    let mut known: Vec<bool> = heights.iter().map(|h| !missing(*h)).collect();
    let mut holes: Vec<usize> =
        (0..heights.len()).filter(|i| known.get(*i) == Some(&false)).collect();
    let voids = holes.clone();
    while !holes.is_empty() {
        let mut filled: Vec<(usize, T)> = Vec::new();
        holes.retain(|&i| match rim_mean(heights, &known, columns, rows, i) {
            Some(mean) => {
                filled.push((i, from_mean(mean)));
                false
            }
            None => true,
        });
        if filled.is_empty() {
            // Nothing is known at all.
            for i in holes.drain(..) {
                if let Some(height) = heights.get_mut(i) {
                    *height = from_mean(0.0);
                }
            }
        }
        for (i, height) in filled {
            if let (Some(cell), Some(known)) = (heights.get_mut(i), known.get_mut(i)) {
                (*cell, *known) = (height, true);
            }
        }
    }
    voids
}

/// The weighted mean of the known neighbours of a cell; `None` where it has none.
fn rim_mean<T: Copy + Into<f64>>(
    heights: &[T],
    known: &[bool],
    columns: usize,
    rows: usize,
    cell: usize,
) -> Option<f64> {
    let (row, column) = (cell / columns, cell % columns);
    let (mut sum, mut weights) = (0.0, 0.0);
    for r in row.saturating_sub(1)..=(row + 1).min(rows - 1) {
        for c in column.saturating_sub(1)..=(column + 1).min(columns - 1) {
            let i = r * columns + c;
            if known.get(i) != Some(&true) {
                continue;
            }
            let weight = if r == row || c == column { 2.0 } else { 1.0 };
            sum += weight * (*heights.get(i)?).into();
            weights += weight;
        }
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
