//! The ground: a grid of whole metres that follows the same shore as the coast polygons.

use super::draw::rough;
use super::land::{Ring, Shore, degrees, plane};

/// Degrees to a cell: 9″.
pub const CELL: f64 = 0.0025;
pub const WEST: f64 = -21.4;
pub const NORTH: f64 = -37.25;
pub const COLUMNS: usize = 380;
pub const ROWS: usize = 600;

/// Cliffs reach their full height this far inland, in miles.
const CLIFF_DEPTH: f64 = 0.12;

/// A hill: middle, half widths, metres.
struct Hill {
    x: f64,
    y: f64,
    half: (f64, f64),
    metres: f64,
}

const fn hill(x: f64, y: f64, half: (f64, f64), metres: f64) -> Hill {
    Hill { x, y, half, metres }
}

/// The Varrow Hills stand behind Long Strand; the rest is lower.
const HILLS: &[Hill] = &[
    hill(8.6, -11.0, (3.6, 3.8), 440.0),
    hill(9.4, -18.2, (4.2, 4.8), 560.0),
    hill(8.2, -25.4, (3.8, 4.0), 450.0),
    hill(9.6, -32.0, (4.0, 3.6), 260.0),
    hill(7.5, 22.0, (6.0, 8.0), 260.0),
    hill(6.8, 31.5, (4.5, 5.0), 210.0),
    hill(11.0, 3.0, (4.0, 6.0), 180.0),
    hill(-4.6, -1.4, (3.6, 1.8), 90.0),
    hill(-14.4, -12.6, (1.1, 1.4), 70.0),
    hill(-13.0, -18.0, (0.6, 0.6), 25.0),
    hill(-12.4, 10.1, (0.5, 0.5), 60.0),
    hill(-12.3, 9.0, (0.5, 0.45), 55.0),
];

/// Row by row from the north, west to east; the sea is nought.
pub fn heights(rings: &[Ring]) -> Vec<i16> {
    let shores: Vec<Shore> = rings.iter().flatten().copied().collect();
    let mut grid = vec![0; COLUMNS * ROWS];
    for row in 0..ROWS {
        let (_, y) = plane(WEST, cell_centre(row, 0).1);
        let crossings = crossings(rings, y);
        for column in 0..COLUMNS {
            let (x, _) = plane(cell_centre(row, column).0, 0.0);
            if crossings.iter().filter(|&&crossing| crossing < x).count() % 2 == 1 {
                grid[row * COLUMNS + column] = ground(&shores, x, y);
            }
        }
    }
    grid
}

/// Longitude and latitude of a cell's middle.
pub fn cell_centre(row: usize, column: usize) -> (f64, f64) {
    (WEST + (column as f64 + 0.5) * CELL, NORTH - (row as f64 + 0.5) * CELL)
}

/// Where the parallel `y` crosses the shore, on the rounded coast that the polygons hold.
fn crossings(rings: &[Ring], y: f64) -> Vec<f64> {
    let mut found = Vec::new();
    for ring in rings {
        for (from, to) in ring.iter().zip(ring.iter().cycle().skip(1)) {
            let (a, b) = (charted(from), charted(to));
            if (a.1 > y) != (b.1 > y) {
                found.push(a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0));
            }
        }
    }
    found
}

fn charted(shore: &Shore) -> (f64, f64) {
    let (longitude, latitude) = degrees(shore.x, shore.y);
    plane(longitude, latitude)
}

fn ground(shores: &[Shore], x: f64, y: f64) -> i16 {
    let (mut nearest, mut weights, mut cliff, mut slope) = (f64::MAX, 0.0, 0.0, 0.0);
    for shore in shores {
        let (dx, dy) = (x - shore.x, y - shore.y);
        let square = dx * dx + dy * dy;
        nearest = nearest.min(square);
        // The shore near by counts for nearly all: the fourth power of the distance.
        let weight = 1.0 / (square * square + 0.001);
        weights += weight;
        cliff += weight * shore.cliff;
        slope += weight * shore.slope;
    }
    let inland = nearest.sqrt();
    let up = (inland / CLIFF_DEPTH).min(1.0);
    let edge = cliff / weights * (0.4 + 0.6 * up * up * (3.0 - 2.0 * up));
    let rise = slope / weights * (inland - CLIFF_DEPTH).clamp(0.0, 3.0);
    let hills: f64 = HILLS.iter().map(|hill| hill.over(x, y)).sum();
    let metres = (edge + rise) * (1.0 + 0.25 * rough(x, y, 1.5) * up)
        + hills * (inland / 0.8).min(1.0) * (1.0 + 0.4 * rough(x, y, 3.0));
    metres.round().max(1.0) as i16
}

impl Hill {
    fn over(&self, x: f64, y: f64) -> f64 {
        let (u, v) = ((x - self.x) / self.half.0, (y - self.y) / self.half.1);
        let within = (1.0 - u * u - v * v).max(0.0);
        self.metres * within * within
    }
}

/// The highest cell within `radius` miles of a place: its middle and height.
pub fn summit(grid: &[i16], x: f64, y: f64, radius: f64) -> (f64, f64, i16) {
    let mut best = (x, y, 0);
    for row in 0..ROWS {
        for column in 0..COLUMNS {
            let (longitude, latitude) = cell_centre(row, column);
            let (cx, cy) = plane(longitude, latitude);
            let metres = grid[row * COLUMNS + column];
            let square = (cx - x) * (cx - x) + (cy - y) * (cy - y);
            if square <= radius * radius && metres > best.2 {
                best = (cx, cy, metres);
            }
        }
    }
    best
}
