use super::trace::Trace;
use crate::geodesy::PlanePoint;
use crate::units::METRES_PER_NAUTICAL_MILE;

/// Side of a cell, metres, and the least where the reckoning is sharp.
const CELL_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;
const LEAST_CELL_M: f64 = 0.1 * METRES_PER_NAUTICAL_MILE;
/// How many standard deviations of the reckoning are searched.
const SIGMAS: f64 = 4.0;
/// Cells to each side of the reckoning, at least and at most.
const LEAST_CELLS: f64 = 8.0;
const MOST_CELLS: f64 = 300.0;
/// And as far as the trace reaches beyond them, at most: a sharp reckoning and a trace to the edge of
/// the largest scale would else ask for a hundred million cells.
const MOST_BEYOND: f64 = 1_000.0;
/// Biases tried, at most to each side, and how many of its standard deviations are spanned.
const MOST_BIASES: usize = 8;
const BIAS_SIGMAS: f64 = 3.0;
/// Points of the trace that are laid on the field: more tell little more.
const MOST_LAID: usize = 40;
/// No point speaks against a place by more than this many standard deviations.
const WORST: f64 = 3.5;
/// Places this many nats behind the best are let go: the field is rough by some of them.
const KEPT_NATS: f64 = 14.0;
const MOST_SEEDS: usize = 40;

/// What is known of own place when the trace was made: the plane's zero, give or take.
#[derive(Debug, Clone, Copy)]
pub(super) struct Region {
    /// Information on own place: east, both, north, in each square metre.
    pub information: [f64; 3],
    /// Its longest standard deviation, metres.
    pub long: f64,
    /// One standard deviation of the bias of every bearing, radians.
    pub bias_sigma: f64,
    /// Radians that true north turns from the plane's for each metre east.
    pub turn_by_east: f64,
    /// Error of each stretch of shore, metres.
    pub point_sigma: f64,
}

impl Region {
    /// Logarithm of the prior density but for its constant, and how it lies.
    pub fn log_prior(&self, east: f64, north: f64, bias: f64) -> f64 {
        let [ee, en, nn] = self.information;
        let off = bias / self.bias_sigma;
        -0.5 * (ee * east * east + 2.0 * en * east * north + nn * north * north + off * off)
    }

    /// How much greater a true bearing is than the plane's, at a point of it.
    pub fn turn(&self, east: f64) -> f64 {
        self.turn_by_east * east
    }
}

/// A place from which the trace may fit.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seed {
    pub east: f64,
    pub north: f64,
    pub bias: f64,
    /// The side of the cell it stands for, metres.
    pub cell: f64,
}

/// Places over the whole reckoning from which the trace lies along some shore, best first.
///
/// Correlation of the trace with a field of "how near is a shore": for each bias the field is
/// added up, shifted by each point of the trace, so that every cell comes out with its score.
/// Which shores are in sight is not asked here.
pub(super) fn search(lines: &[Vec<PlanePoint>], trace: &Trace, region: &Region) -> Vec<Seed> {
    let reach = SIGMAS * region.long;
    let cell = cell_m(reach, trace.farthest());
    let half = (reach / cell).ceil() as usize;
    let laid = laid(trace);
    let beyond = (trace.farthest() / cell).ceil() as usize + 2;
    let tolerance = tolerance(trace, region, cell);
    let field = Field::of(lines, half + beyond, cell, tolerance);
    let weight = trace.effective() / laid.len().max(1) as f64;
    let side = 2 * half + 1;
    let mut best = vec![(f32::NEG_INFINITY, 0.0f32); side * side];
    for bias in biases(trace, region, cell) {
        let sum = field.correlate(&laid, bias, half, beyond);
        for (slot, score) in best.iter_mut().zip(&sum) {
            // The prior of the bias goes in here, without the turn of the plane: that is small.
            let off = (bias / region.bias_sigma) as f32;
            let score = weight as f32 * score - 0.5 * off * off;
            if score > slot.0 {
                *slot = (score, bias as f32);
            }
        }
    }
    let place = |index: usize| (index as f64 - half as f64) * cell;
    for (index, slot) in best.iter_mut().enumerate() {
        let (east, north) = (place(index % side), place(index / side));
        slot.0 += region.log_prior(east, north, 0.0) as f32;
    }
    peaks(&best, side)
        .into_iter()
        .map(|(index, _, bias)| {
            let east = place(index % side);
            let bias = f64::from(bias) - region.turn(east);
            Seed { east, north: place(index / side), bias, cell }
        })
        .collect()
}

/// The side of a cell for places within reach of the reckoning, and a trace as far as that from them.
fn cell_m(reach: f64, farthest: f64) -> f64 {
    let fine = CELL_M.min(reach / LEAST_CELLS).max(LEAST_CELL_M);
    fine.max(reach / MOST_CELLS).max(farthest / MOST_BEYOND)
}

/// Bearing and range of the points of the trace, thinned.
fn laid(trace: &Trace) -> Vec<(f64, f64)> {
    let step = trace.points.len().div_ceil(MOST_LAID).max(1);
    trace.points.iter().step_by(step).map(|p| (p.bearing, p.range)).collect()
}

/// How far from a shore a point of the trace may lie for all errors and the size of a cell, metres.
fn tolerance(trace: &Trace, region: &Region, cell: f64) -> f64 {
    let count = trace.points.len().max(1) as f64;
    let range = trace.points.iter().map(|p| p.sigma).sum::<f64>() / count;
    let far = trace.mean_range();
    let aside = 0.7 * far * trace.bearing_sigma.hypot(0.5 * trace.half_beam);
    range.hypot(aside).hypot(region.point_sigma).hypot(0.4 * cell)
}

fn biases(trace: &Trace, region: &Region, cell: f64) -> Vec<f64> {
    let span = BIAS_SIGMAS * region.bias_sigma;
    let step = 1.2 * cell / trace.mean_range().max(cell);
    let each_side = ((span / step).ceil() as usize).min(MOST_BIASES);
    let step = span / each_side.max(1) as f64;
    (0..=2 * each_side).map(|i| (i as f64 - each_side as f64) * step).collect()
}

/// Logarithm of the likelihood of a point of the trace by where it comes to lie.
struct Field {
    side: usize,
    half: usize,
    cell: f64,
    values: Vec<f32>,
}

impl Field {
    fn of(lines: &[Vec<PlanePoint>], half: usize, cell: f64, tolerance: f64) -> Self {
        let side = 2 * half + 1;
        let worst = (-0.5 * WORST * WORST) as f32;
        let mut field = Self { side, half, cell, values: vec![worst; side * side] };
        for line in lines {
            let mut last: Option<PlanePoint> = None;
            for (index, point) in line.iter().enumerate() {
                let Some(before) = last else {
                    last = Some(*point);
                    continue;
                };
                // Short pieces are drawn as one: no finer than the field itself.
                if before.distance(*point) >= 0.5 * cell || index + 1 == line.len() {
                    field.draw(before, *point, tolerance);
                    last = Some(*point);
                }
            }
        }
        field
    }

    /// Marks every cell near a piece of shore.
    fn draw(&mut self, a: PlanePoint, b: PlanePoint, tolerance: f64) {
        let near = WORST * tolerance;
        let index = |metres: f64| metres / self.cell + self.half as f64;
        let last = self.side as f64 - 1.0;
        let span = |a: f64, b: f64| {
            let (low, high) = (index(a.min(b) - near).ceil(), index(a.max(b) + near).floor());
            (high >= 0.0 && low <= last).then(|| (low.max(0.0) as usize, high.min(last) as usize))
        };
        let (Some((west, east)), Some((south, north))) =
            (span(a.east, b.east), span(a.north, b.north))
        else {
            return;
        };
        let (de, dn) = (b.east - a.east, b.north - a.north);
        let length2 = (de * de + dn * dn).max(1e-9);
        let scale = -0.5 / (tolerance * tolerance);
        let place = |i: usize| (i as f64 - self.half as f64) * self.cell;
        for row in south..=north {
            let pn = place(row) - a.north;
            let start = row * self.side;
            let Some(cells) = self.values.get_mut(start + west..=start + east) else { continue };
            for (offset, slot) in cells.iter_mut().enumerate() {
                let pe = (west + offset) as f64 * self.cell - self.half as f64 * self.cell - a.east;
                let at = ((pe * de + pn * dn) / length2).clamp(0.0, 1.0);
                let (e, n) = (pe - at * de, pn - at * dn);
                let value = (scale * (e * e + n * n)) as f32;
                if value > *slot {
                    *slot = value;
                }
            }
        }
    }

    /// The sum over the trace for every place within `half` cells of the middle.
    fn correlate(&self, laid: &[(f64, f64)], bias: f64, half: usize, beyond: usize) -> Vec<f32> {
        let side = 2 * half + 1;
        let mut sum = vec![0.0f32; side * side];
        for &(bearing, range) in laid {
            let (sin, cos) = (bearing - bias).sin_cos();
            let shift = |metres: f64| (beyond as f64 + (metres / self.cell).round()) as usize;
            let (column, row) = (shift(range * sin), shift(range * cos));
            for (line, sums) in sum.chunks_exact_mut(side).enumerate() {
                let start = (line + row) * self.side + column;
                let Some(values) = self.values.get(start..start + side) else { continue };
                for (slot, value) in sums.iter_mut().zip(values) {
                    *slot += value;
                }
            }
        }
        sum
    }
}

/// Cells that no neighbour within two exceeds, best first.
fn peaks(best: &[(f32, f32)], side: usize) -> Vec<(usize, f32, f32)> {
    const NEAR: usize = 2;
    let top = best.iter().map(|b| b.0).fold(f32::NEG_INFINITY, f32::max);
    let least = top - KEPT_NATS as f32;
    let mut found: Vec<(usize, f32, f32)> = Vec::new();
    for (index, &(score, bias)) in best.iter().enumerate() {
        if score < least {
            continue;
        }
        let (column, row) = (index % side, index / side);
        let rows = row.saturating_sub(NEAR)..(row + NEAR + 1).min(side);
        let highest = rows.into_iter().all(|r| {
            let columns = column.saturating_sub(NEAR)..(column + NEAR + 1).min(side);
            columns.into_iter().all(|c| {
                let other = best.get(r * side + c).map_or(f32::NEG_INFINITY, |b| b.0);
                other < score || (other - score).abs() <= 0.0 && r * side + c >= index
            })
        });
        if highest {
            found.push((index, score, bias));
        }
    }
    found.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    found.truncate(MOST_SEEDS);
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_trace_and_no_reckoning_ask_for_a_field_without_end() {
        for reach in [50.0, 2e3, 1e5, 1e7] {
            for farthest in [1e3, 1e5, 500.0 * METRES_PER_NAUTICAL_MILE] {
                let cell = cell_m(reach, farthest);
                assert!(
                    (reach + farthest) / cell <= MOST_CELLS + MOST_BEYOND,
                    "{reach} {farthest}"
                );
            }
        }
        // What is traced on an ordinary scale is laid as finely as the reckoning is sharp.
        let fine = cell_m(200.0, 90.0 * METRES_PER_NAUTICAL_MILE);
        assert!((fine - LEAST_CELL_M).abs() < 1e-9, "{fine}");
    }
}
