use super::rows::run_since;
use super::{
    ACROSS, ALONG, BEARING_BIAS, LEAST_SIGMA, Quantity, RANGE_BIAS, Row, SHIFT_EAST, SHIFT_NORTH,
    State,
};
use crate::geodesy::LocalPlane;
use crate::identity::problem::{Problem, turned};

/// What a traced outline tells of one place that it fits, against a place; false where the sight
/// is no outline.
pub(super) fn take(
    problem: &Problem,
    plane: &LocalPlane,
    (sight, candidate): (usize, usize),
    state: &State,
    rows: &mut Vec<Row>,
) -> bool {
    let Some(measured) = problem.sights.get(sight) else { return false };
    let Some(traced) = &measured.traced else { return false };
    let Some(registered) = traced.place(candidate) else { return true };
    let t = measured.elapsed_s;
    let convergence = measured.convergence(plane.centre());
    let track = problem.prior.track;
    let back = turned(run_since(measured, track.sin_cos(), state), convergence);
    let (sin, cos) = (track + convergence).sin_cos();
    let there = plane.to_plane(registered.place);
    // Own place when the trace was made, less the chart's shift, from the registered one.
    let east = -back.east - state[SHIFT_EAST] - there.east;
    let north = -back.north - state[SHIFT_NORTH] - there.north;
    let bias = state[BEARING_BIAS] - registered.bias;
    let range = state[RANGE_BIAS] - registered.range_bias;
    for told in &registered.told {
        let [by_east, by_north, by_bias, by_range] = told.slope;
        let mut slope = State::zeros();
        (slope[0], slope[1]) = (by_east, by_north);
        (slope[BEARING_BIAS], slope[RANGE_BIAS]) = (by_bias, by_range);
        slope[ALONG] = -t * (by_east * sin + by_north * cos);
        slope[ACROSS] = -t * (by_east * cos - by_north * sin);
        (slope[SHIFT_EAST], slope[SHIFT_NORTH]) = (-by_east, -by_north);
        let off = by_east * east + by_north * north + by_bias * bias + by_range * range;
        rows.push(Row {
            sight,
            quantity: Quantity::Outline,
            residual: told.offset - off,
            variance: told.variance.max(LEAST_SIGMA * LEAST_SIGMA),
            slope,
        });
    }
    true
}
