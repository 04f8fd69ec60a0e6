//! Contour lines through the grid, by marching squares.

use std::collections::BTreeMap;

use super::relief::{COLUMNS, ROWS, cell_centre};

pub const LEVELS: [i16; 7] = [50, 100, 200, 300, 400, 500, 600];
/// Shorter lines are left out, as a cartographer would.
const FEWEST_POINTS: usize = 12;

pub struct Contour {
    pub metres: i16,
    /// Longitude and latitude; the first again at the end where the line closes.
    pub points: Vec<(f64, f64)>,
}

/// A side between two neighbouring cell middles: the first cell, and whether it runs down.
type Side = (usize, usize, bool);

pub fn contours(grid: &[i16]) -> Vec<Contour> {
    let mut found = Vec::new();
    for metres in LEVELS {
        // Half a metre up: no cell lies on the line itself.
        let level = f64::from(metres) - 0.5;
        for line in link(&pieces(grid, level)) {
            if line.len() >= FEWEST_POINTS {
                let points = line.iter().map(|&side| crossing(grid, side, level)).collect();
                found.push(Contour { metres, points });
            }
        }
    }
    found
}

fn at(grid: &[i16], row: usize, column: usize) -> f64 {
    f64::from(grid[row * COLUMNS + column])
}

fn pieces(grid: &[i16], level: f64) -> Vec<(Side, Side)> {
    let mut pieces = Vec::new();
    for row in 0..ROWS - 1 {
        for column in 0..COLUMNS - 1 {
            let corners = [(0, 0), (0, 1), (1, 1), (1, 0)]
                .map(|(down, right)| at(grid, row + down, column + right) > level);
            // North, east, south, west side of the square, in the order of the corners.
            let sides = [
                (row, column, false),
                (row, column + 1, true),
                (row + 1, column, false),
                (row, column, true),
            ];
            let crossed: Vec<Side> =
                (0..4).filter(|&i| corners[i] != corners[(i + 1) % 4]).map(|i| sides[i]).collect();
            match crossed[..] {
                [a, b] => pieces.push((a, b)),
                // A saddle: high corners are kept apart.
                [n, e, s, w] if corners[0] => pieces.extend([(n, w), (e, s)]),
                [n, e, s, w] => pieces.extend([(n, e), (s, w)]),
                _ => {}
            }
        }
    }
    pieces
}

fn link(pieces: &[(Side, Side)]) -> Vec<Vec<Side>> {
    let mut touching: BTreeMap<Side, Vec<usize>> = BTreeMap::new();
    for (index, (a, b)) in pieces.iter().enumerate() {
        touching.entry(*a).or_default().push(index);
        touching.entry(*b).or_default().push(index);
    }
    let mut used = vec![false; pieces.len()];
    let mut lines = Vec::new();
    // Open lines first, from an end; what is left closes on itself.
    let ends = touching.iter().filter(|(_, by)| by.len() == 1).map(|(side, _)| *side);
    let starts: Vec<Side> = ends.chain(pieces.iter().map(|(a, _)| *a)).collect();
    for start in starts {
        let mut line = vec![start];
        let mut here = start;
        while let Some(&next) = touching[&here].iter().find(|&&piece| !used[piece]) {
            used[next] = true;
            here = if pieces[next].0 == here { pieces[next].1 } else { pieces[next].0 };
            line.push(here);
        }
        if line.len() > 1 {
            lines.push(line);
        }
    }
    lines
}

fn crossing(grid: &[i16], (row, column, down): Side, level: f64) -> (f64, f64) {
    let (other_row, other_column) = if down { (row + 1, column) } else { (row, column + 1) };
    let (low, high) = (at(grid, row, column), at(grid, other_row, other_column));
    let share = (level - low) / (high - low);
    let (a, b) = (cell_centre(row, column), cell_centre(other_row, other_column));
    let round = |v: f64| (v * 1e5).round() / 1e5;
    (round(a.0 + share * (b.0 - a.0)), round(a.1 + share * (b.1 - a.1)))
}
