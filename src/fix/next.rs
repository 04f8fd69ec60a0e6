use super::case::Case;
use super::report::{Measure, NextMeasurement};
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::identity::{Mode, Reading, Row, Sight, Solution, Square, covariance_of, rows};
use crate::units::GroundRange;

/// How many measurements are told.
const TOLD: usize = 5;
/// A mark less likely than this to paint is not worth looking for.
const LEAST_CHANCE: f64 = 0.5;
/// Marks looked at, nearest first: what is far off helps no one.
const MOST_LOOKED_AT: usize = 300;
/// Both readings are asked for only where the second one shortens the axis by this share more.
const BOTH_WORTH: f64 = 0.85;
/// Squared statistical distance beyond which an echo tells two places apart.
const TELLS_APART: f64 = 9.0;

/// The measurements that shorten the long axis of the ellipse most, best first, one for each mark.
///
/// The information of the reading is added to the normal matrix of the position found; the bias
/// that bearings share and the shift of the chart stay unknowns, so that a second bearing is not
/// taken for more than it is.
pub(super) fn shorten(case: &Case<'_>, solution: &Solution) -> Vec<NextMeasurement> {
    let mut found: Vec<(f64, NextMeasurement)> = in_sight(case, solution.position)
        .into_iter()
        .filter_map(|(candidate, metres)| best_of(case, solution, candidate, metres))
        .map(|next| (next.major_axis_after.metres(), next))
        .collect();
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.into_iter().take(TOLD).map(|(_, next)| next).collect()
}

/// The marks whose echo would tell the first place from the second: no echo of the second place
/// could be taken for it. Clearest first.
pub(super) fn tell_apart(case: &Case<'_>, first: &Solution, second: &Mode) -> Vec<NextMeasurement> {
    let here = in_sight(case, first.position);
    let there = in_sight(case, second.position);
    let spread = spread_of(case, first, second);
    let look = |from: Position, candidate: usize| {
        let mark = case.problem.candidates.get(candidate)?;
        let plane = LocalPlane::new(from);
        Some(plane.to_plane(mark.position))
    };
    let mut found: Vec<(f64, NextMeasurement)> = Vec::new();
    for &(candidate, metres) in &here {
        let Some(seen) = look(first.position, candidate) else { continue };
        let nearest = there
            .iter()
            .filter_map(|&(other, _)| look(second.position, other))
            .map(|other| separation(seen, other, spread))
            .fold(f64::INFINITY, f64::min);
        if nearest > TELLS_APART
            && let Some(next) = best_of(case, first, candidate, metres)
        {
            found.push((-nearest, NextMeasurement { measure: Measure::RangeAndBearing, ..next }));
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.into_iter().take(TOLD).map(|(_, next)| next).collect()
}

/// Variance along and across of where an echo would be plotted, readings and both places together.
fn spread_of(case: &Case<'_>, first: &Solution, second: &Mode) -> (f64, f64) {
    let (one, _, _) = first.position_covariance().axes();
    let (other, _, _) = second.covariance.axes();
    let bias = case.problem.shared.bearing_bias_sigma.hypot(case.prospect.bearing_sigma());
    (one + other, bias * bias)
}

fn separation(one: PlanePoint, other: PlanePoint, (place, bearing): (f64, f64)) -> f64 {
    let apart = one.distance(other);
    let far = one.east.hypot(one.north);
    apart * apart / (place + far * far * bearing + 1e4)
}

/// Candidates likely to paint from a place, with their distance, nearest first.
fn in_sight(case: &Case<'_>, from: Position) -> Vec<(usize, f64)> {
    let plane = LocalPlane::new(from);
    let reach = case.prospect.reach();
    let mut near: Vec<(usize, f64)> = case
        .problem
        .candidates
        .iter()
        .enumerate()
        .map(|(index, mark)| {
            let to = plane.to_plane(mark.position);
            (index, to.east.hypot(to.north))
        })
        .filter(|(_, metres)| *metres <= reach && *metres > 200.0)
        .collect();
    near.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    near.truncate(MOST_LOOKED_AT);
    near.retain(|(index, _)| case.sighting.chance(from, *index) >= LEAST_CHANCE);
    near
}

fn best_of(
    case: &Case<'_>,
    solution: &Solution,
    candidate: usize,
    metres: f64,
) -> Option<NextMeasurement> {
    let readings = prospective(case, solution, candidate, metres);
    let after = |wanted: &dyn Fn(&Row) -> bool| {
        let mut information: Square = solution.information;
        for row in readings.iter().filter(|row| wanted(row)) {
            information += row.slope * row.slope.transpose() / row.variance;
        }
        let covariance = information.try_inverse()?;
        Some(covariance_of(&covariance).ellipse(0.95).semi_major.metres())
    };
    let range = after(&|row| !row.is_direction())?;
    let bearing = after(&|row| row.is_direction())?;
    let both = after(&|_| true)?;
    let single = range.min(bearing);
    let (measure, metres) = if both < BOTH_WORTH * single {
        (Measure::RangeAndBearing, both)
    } else if range <= bearing {
        (Measure::Range, range)
    } else {
        (Measure::Bearing, bearing)
    };
    Some(NextMeasurement {
        mark: case.name(candidate).to_owned(),
        measure,
        major_axis_after: GroundRange::clamped_metres(metres),
    })
}

/// The rows that a range and a bearing of a candidate would add.
fn prospective(case: &Case<'_>, solution: &Solution, candidate: usize, metres: f64) -> Vec<Row> {
    let reading = |sigma| Some(Reading { value: 0.0, sigma });
    let mut problem = crate::identity::Problem {
        candidates: Vec::new(),
        sights: vec![Sight {
            range: reading(case.prospect.range_sigma(metres)),
            bearing: reading(case.prospect.bearing_sigma()),
            ratio: None,
            run: PlanePoint::default(),
            elapsed_s: 0.0,
            belief: None,
            off_chart: 0.0,
            surely: None,
            of_edge: false,
            traced: None,
        }],
        ..shell(&case.problem)
    };
    problem.candidates.extend(case.problem.candidates.get(candidate).copied());
    rows(&problem, &crate::identity::Charted, &[Some(0)], solution.position, &solution.state)
}

/// A problem without its lists, which may be long.
fn shell(problem: &crate::identity::Problem) -> crate::identity::Problem {
    crate::identity::Problem {
        candidates: Vec::new(),
        sights: Vec::new(),
        prior: problem.prior,
        shared: problem.shared,
        own_height_m: problem.own_height_m,
        reach_m: problem.reach_m,
        any_shore: None,
    }
}
