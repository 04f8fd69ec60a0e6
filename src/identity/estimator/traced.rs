use super::carried::Carried;
use super::{BEARING_BIAS, LEAST_SIGMA, Quantity, RANGE_BIAS, Row, SHIFT_EAST, SHIFT_NORTH, State};
use crate::geodesy::{LocalPlane, PlanePoint};
use crate::identity::problem::Problem;

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
    let track = problem.prior.track.sin_cos();
    let carried = Carried::new(measured, plane.centre(), track, state);
    let back = carried.back();
    let there = plane.to_plane(registered.place);
    // Own place when the trace was made, less the chart's shift, from the registered one: what is told of it is in
    // the axes of then.
    let PlanePoint { east, north } = carried.in_axes_of_then(PlanePoint {
        east: -back.east - state[SHIFT_EAST] - there.east,
        north: -back.north - state[SHIFT_NORTH] - there.north,
    });
    let bias = state[BEARING_BIAS] - registered.bias;
    let range = state[RANGE_BIAS] - registered.range_bias;
    for told in &registered.told {
        let [by_east, by_north, by_bias, by_range] = told.slope;
        let mut slope = carried.slope(PlanePoint { east: by_east, north: by_north });
        (slope[BEARING_BIAS], slope[RANGE_BIAS]) = (by_bias, by_range);
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
