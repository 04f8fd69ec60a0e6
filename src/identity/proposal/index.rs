use nalgebra::{Matrix3, Vector2, Vector3};

use super::places::Place;

/// Cells on a side, at most.
const MOST_CELLS: f64 = 512.0;
/// No cell is smaller than this, metres.
const LEAST_CELL_M: f64 = 100.0;

/// Places by where they lie: square cells, so that a partial set looks at those near it alone.
pub(super) struct Index {
    places: Vec<Place>,
    corner: Vector2<f64>,
    cell_m: f64,
    columns: usize,
    rows: usize,
    /// Where each cell's places begin, cells row by row; one more at the end.
    starts: Vec<usize>,
    /// The greatest variance of a place on each axis.
    noise: Vector2<f64>,
    /// The least and the greatest shift by the bearing bias on each axis.
    by_bias: [Vector2<f64>; 2],
}

/// A rectangle of cells.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window {
    columns: (usize, usize),
    rows: (usize, usize),
}

impl Index {
    pub fn new(places: &[Place]) -> Self {
        let span = |of: &dyn Fn(&Place) -> Vector2<f64>| {
            let first = places.first().map_or_else(Vector2::zeros, of);
            places.iter().map(of).fold((first, first), |(low, high), v| (low.inf(&v), high.sup(&v)))
        };
        let (corner, end) = span(&|p| p.at);
        let (least, most) = span(&|p| p.by_bias);
        let (_, noise) = span(&|p| Vector2::new(p.noise[(0, 0)], p.noise[(1, 1)]));
        let sides = end - corner;
        let about = (sides[0] * sides[1] / (places.len().max(1) as f64)).max(0.0).sqrt();
        let cell_m = about.max(sides.max() / MOST_CELLS).max(LEAST_CELL_M);
        let along = |side: f64| (side / cell_m) as usize + 1;
        let mut index = Self {
            places: Vec::new(),
            corner,
            cell_m,
            columns: along(sides[0]),
            rows: along(sides[1]),
            starts: Vec::new(),
            noise,
            by_bias: [least, most],
        };
        index.fill(places);
        index
    }

    fn fill(&mut self, places: &[Place]) {
        let cells: Vec<usize> = places.iter().map(|place| self.cell_of(place.at)).collect();
        let mut starts = vec![0; self.columns * self.rows + 1];
        for cell in &cells {
            if let Some(count) = starts.get_mut(cell + 1) {
                *count += 1;
            }
        }
        let mut before = 0;
        for start in &mut starts {
            before += *start;
            *start = before;
        }
        // Within a cell the order of the chart.
        let mut next = starts.clone();
        let mut order = vec![0; places.len()];
        for (place, cell) in cells.iter().enumerate() {
            let Some(slot) = next.get_mut(*cell) else { continue };
            if let Some(entry) = order.get_mut(*slot) {
                *entry = place;
            }
            *slot += 1;
        }
        self.places = order.iter().filter_map(|&place| places.get(place).copied()).collect();
        self.starts = starts;
    }

    fn cell_of(&self, at: Vector2<f64>) -> usize {
        let along = |axis: usize, most: usize| {
            (((at[axis] - self.corner[axis]) / self.cell_m).max(0.0) as usize).min(most - 1)
        };
        along(1, self.rows) * self.columns + along(0, self.columns)
    }

    pub fn len(&self) -> usize {
        self.places.len()
    }

    /// The cells that hold every place within a squared statistical distance of an estimate of own
    /// place and bias; none where that lies outside.
    pub fn window(
        &self,
        mean: &Vector3<f64>,
        covariance: &Matrix3<f64>,
        gate: f64,
    ) -> Option<Window> {
        let (columns, rows) =
            (self.reach(0, mean, covariance, gate), self.reach(1, mean, covariance, gate));
        Some(Window { columns: columns?, rows: rows? })
    }

    fn reach(
        &self,
        axis: usize,
        mean: &Vector3<f64>,
        covariance: &Matrix3<f64>,
        gate: f64,
    ) -> Option<(usize, usize)> {
        let bias = mean[2];
        // Variance and shift are convex in how far the bias moves a place: its ends are the most.
        let ends = self.by_bias.map(|by_bias| by_bias[axis]);
        let variance = ends.map(|by| {
            covariance[(axis, axis)] + by * (2.0 * covariance[(axis, 2)] + by * covariance[(2, 2)])
        });
        let half = (gate * (variance[0].max(variance[1]).max(0.0) + self.noise[axis])).sqrt();
        let shifts = ends.map(|by| by * bias);
        let low = mean[axis] + shifts[0].min(shifts[1]) - half - self.corner[axis];
        let high = mean[axis] + shifts[0].max(shifts[1]) + half - self.corner[axis];
        let count = if axis == 0 { self.columns } else { self.rows };
        let (from, to) = ((low / self.cell_m).floor(), (high / self.cell_m).floor());
        let outside = !(to >= 0.0 && from < count as f64);
        (!outside).then(|| (from.max(0.0) as usize, (to as usize).min(count - 1)))
    }

    /// How many places a window holds.
    pub fn count(&self, window: Window) -> usize {
        self.spans(window).map(|span| span.len()).sum()
    }

    /// The places of a window, each with its number.
    pub fn within(&self, window: Window) -> impl Iterator<Item = (usize, &Place)> {
        self.spans(window).flat_map(|span| {
            let first = span.start;
            let places = self.places.get(span).unwrap_or_default();
            places.iter().enumerate().map(move |(offset, place)| (first + offset, place))
        })
    }

    /// A place by its number.
    pub fn place(&self, number: usize) -> Option<&Place> {
        self.places.get(number)
    }

    fn spans(&self, window: Window) -> impl Iterator<Item = std::ops::Range<usize>> {
        let Window { columns, rows } = window;
        (rows.0..=rows.1).map(move |row| {
            let start = |column: usize| {
                self.starts.get(row * self.columns + column).copied().unwrap_or_default()
            };
            start(columns.0)..start(columns.1 + 1)
        })
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::Matrix2;

    use super::*;

    #[test]
    fn no_place_within_the_gate_is_outside_the_window() {
        // A lattice of places with a bias of their own, against the gate worked out in full.
        let places: Vec<Place> = (0..900)
            .map(|i| {
                let (column, row) = (f64::from(i % 30), f64::from(i / 30));
                Place {
                    candidate: i as usize,
                    at: Vector2::new(700.0 * column - 9_000.0, 900.0 * row - 4_000.0),
                    by_bias: Vector2::new(20_000.0 + 100.0 * column, -8_000.0 + 50.0 * row),
                    noise: Matrix2::new(4e4 + 1e3 * row, 1e4, 1e4, 9e4),
                    log_prior: 0.0,
                }
            })
            .collect();
        let covariance = Matrix3::new(6e5, 1e5, -4.0, 1e5, 3e5, 3.0, -4.0, 3.0, 7e-4);
        let gate = 20.0;
        let index = Index::new(&places);
        for (east, north, bias) in [(0.0, 0.0, 0.0), (-8_500.0, 9_000.0, 0.03), (4e3, 1e4, -0.05)] {
            let mean = Vector3::new(east, north, bias);
            let window = index.window(&mean, &covariance, gate).unwrap();
            let inside: Vec<usize> =
                index.within(window).map(|(_, place)| place.candidate).collect();
            assert_eq!(inside.len(), index.count(window));
            assert!(inside.len() < 900);
            let mut explained = 0;
            for place in &index.places {
                let h = nalgebra::Matrix2x3::new(
                    1.0,
                    0.0,
                    place.by_bias[0],
                    0.0,
                    1.0,
                    place.by_bias[1],
                );
                let off = place.at - h * mean;
                let spread = h * covariance * h.transpose() + place.noise;
                if off.dot(&(spread.try_inverse().unwrap() * off)) <= gate {
                    explained += 1;
                    assert!(inside.contains(&place.candidate), "{}", place.candidate);
                }
            }
            assert!(explained > 0);
        }
        let far = Vector3::new(1e6, 0.0, 0.0);
        assert!(index.window(&far, &covariance, gate).is_none());
        assert!(
            Index::new(&[])
                .window(&Vector3::zeros(), &covariance, gate)
                .is_some_and(index_is_empty)
        );
    }

    fn index_is_empty(window: Window) -> bool {
        Index::new(&[]).count(window) == 0
    }
}
