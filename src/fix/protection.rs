use nalgebra::Vector2;
use statrs::distribution::{ContinuousCDF, Normal};

use super::case::Case;
use super::report::Protection;
use crate::geodesy::{Covariance, LocalPlane, circle_scale};
use crate::identity::{Mode, Posterior, Row, Solution, State};
use crate::units::GroundRange;

/// However sure its identity, a contact is taken to be wrong this often.
const LEAST_FAULT: f64 = 0.02;
/// How often a reckoning is not what it is said to be.
const RECKONING_FAULT: f64 = 0.001;
/// With more contacts than this, two wrong at once are not looked at pair by pair.
const MOST_PAIRED: usize = 40;

/// One way in which the position may be wrong: how likely, how far off, how uncertain.
struct Fault {
    chance: f64,
    off: Vector2<f64>,
    covariance: Covariance,
}

/// The radius that the error exceeds with no more than the stated risk, by solution separation.
///
/// Every way to be wrong is a position of its own: the position without each contact, without each
/// pair, without any (the reckoning), without the reckoning, and every rival. The distance to it
/// and its own spread say how far the stated position may be off if that is the truth; the radius
/// is the least for which the chances sum to the risk. Three
/// contacts wrong at once are not looked at: their chance is taken off the risk beforehand.
///
/// The method is that of R. G. Brown and P. W. `McBurney`, "Self-contained GPS integrity check using
/// maximum solution separation", Navigation 35 (1988) (from memory).
pub(super) fn protection(
    case: &Case<'_>,
    posterior: &Posterior,
    mode: &Mode,
    solution: &Solution,
    alone: Option<&Solution>,
    risk: f64,
) -> Protection {
    let none = Protection { risk, radius: None, assured: false };
    let wrong = chances(case, posterior, mode);
    let mut faults =
        vec![Fault { chance: 1.0, off: Vector2::zeros(), covariance: mode.covariance }];
    faults.extend(without_contacts(solution, &wrong));
    faults.extend(elsewhere(case, posterior, mode, alone));
    let budget = risk - triples(&wrong);
    let Some(radius) = least_radius(&faults, &Axes::of(mode.covariance), budget) else {
        return none;
    };
    // No better than the reckoning alone: the contacts assure nothing.
    let (reckoned, _, _) = case.reckoned().axes();
    let assured = radius.is_finite() && radius < circle_scale(1.0 - risk) * reckoned.sqrt();
    if assured {
        Protection { risk, radius: Some(GroundRange::clamped_metres(radius)), assured }
    } else {
        none
    }
}

/// The chance that each matched contact is not what it is taken for.
fn chances(case: &Case<'_>, posterior: &Posterior, mode: &Mode) -> Vec<(usize, f64)> {
    let best = mode.members.first().and_then(|&h| posterior.hypotheses.get(h));
    let targets = best.map(|h| h.targets.clone()).unwrap_or_default();
    (0..case.labels.len())
        .filter(|&sight| targets.get(sight).is_some_and(Option::is_some))
        .map(|sight| {
            let held = posterior
                .marginals(sight, &mode.members)
                .first()
                .map_or(0.0, |(_, p)| p / mode.probability.max(1e-9));
            (sight, (1.0 - held).clamp(LEAST_FAULT, 1.0))
        })
        .collect()
}

/// The position without each contact, and without each two.
fn without_contacts(solution: &Solution, wrong: &[(usize, f64)]) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (index, &(one, p)) in wrong.iter().enumerate() {
        faults.extend(without(solution, &[one], p));
        if wrong.len() <= MOST_PAIRED {
            for &(other, q) in wrong.iter().skip(index + 1) {
                faults.extend(without(solution, &[one, other], p * q));
            }
        }
    }
    faults
}

fn without(solution: &Solution, left_out: &[usize], chance: f64) -> Option<Fault> {
    let mut information = solution.information;
    let mut pull = State::zeros();
    let gone = |row: &&Row| left_out.contains(&row.sight);
    for row in solution.rows.iter().filter(gone) {
        information -= row.slope * row.slope.transpose() / row.variance;
        pull -= row.slope * (row.residual / row.variance);
    }
    let factor = information.cholesky()?;
    let step = factor.solve(&pull);
    let covariance = crate::identity::covariance_of(&factor.inverse());
    Some(Fault { chance, off: Vector2::new(step[0], step[1]), covariance })
}

/// The rivals, the reckoning where no contact is right, the contacts where the reckoning is not.
fn elsewhere(
    case: &Case<'_>,
    posterior: &Posterior,
    mode: &Mode,
    alone: Option<&Solution>,
) -> Vec<Fault> {
    let plane = LocalPlane::new(mode.position);
    let off = |position| {
        let point = plane.to_plane(position);
        Vector2::new(point.east, point.north)
    };
    let mut faults: Vec<Fault> = posterior
        .modes
        .iter()
        .skip(1)
        .map(|rival| Fault {
            chance: rival.probability,
            off: off(rival.position),
            covariance: rival.covariance,
        })
        .collect();
    faults.push(Fault {
        chance: posterior.none,
        off: off(case.problem.prior.position),
        covariance: case.reckoned(),
    });
    if let Some(alone) = alone {
        faults.push(Fault {
            chance: RECKONING_FAULT,
            off: off(alone.position),
            covariance: alone.position_covariance(),
        });
    }
    faults
}

/// Chance that three or more contacts are wrong at once (or two, where pairs are not looked at).
fn triples(wrong: &[(usize, f64)]) -> f64 {
    // Elementary symmetric sums of the chances.
    let (mut one, mut two, mut three) = (0.0, 0.0, 0.0);
    for &(_, p) in wrong {
        three += two * p;
        two += one * p;
        one += p;
    }
    if wrong.len() <= MOST_PAIRED { three } else { two + three }
}

/// The axes of an ellipse, and the share of a radius that each is given.
struct Axes {
    directions: [Vector2<f64>; 2],
    shares: [f64; 2],
}

impl Axes {
    fn of(covariance: Covariance) -> Self {
        let (long, short, axis) = covariance.axes();
        let (sin, cos) = axis.sin_cos();
        // An error beyond the radius is beyond one of these shares of it on its axis.
        let (long, short) = (long.sqrt(), short.sqrt().max(0.4 * long.sqrt()));
        let all = long.hypot(short).max(1e-9);
        Self {
            directions: [Vector2::new(sin, cos), Vector2::new(cos, -sin)],
            shares: [long / all, short / all],
        }
    }
}

fn least_radius(faults: &[Fault], axes: &Axes, budget: f64) -> Option<f64> {
    if budget <= 0.0 {
        return None;
    }
    let exceeds =
        |radius: f64| faults.iter().map(|f| f.chance * beyond(f, axes, radius)).sum::<f64>();
    let (mut low, mut high) = (0.0, 1.0);
    while exceeds(high) > budget {
        high *= 2.0;
        if high > 1e8 {
            return None;
        }
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if exceeds(middle) > budget { low = middle } else { high = middle }
    }
    Some(high)
}

/// The chance, under one fault, of an error beyond the radius: bounded by the sum over the axes.
fn beyond(fault: &Fault, axes: &Axes, radius: f64) -> f64 {
    let normal = Normal::standard();
    let [ee, en, nn] = fault.covariance.square_metres();
    let sum: f64 = axes
        .directions
        .iter()
        .zip(axes.shares)
        .map(|(direction, share)| {
            let off = fault.off.dot(direction).abs();
            let variance = ee * direction[0] * direction[0]
                + 2.0 * en * direction[0] * direction[1]
                + nn * direction[1] * direction[1];
            let sigma = variance.max(1e-6).sqrt();
            let reach = radius * share;
            normal.sf((reach - off) / sigma) + normal.sf((reach + off) / sigma)
        })
        .sum();
    sum.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_radius_is_that_of_the_normal_law_where_nothing_is_wrong() {
        // A needle: only one axis counts. Two-sided normal: 1.960 sigma are exceeded once in
        // twenty, 3.291 once in a thousand; the share of the short axis makes it a little more.
        let needle = || Fault {
            chance: 1.0,
            off: Vector2::zeros(),
            covariance: Covariance::from_square_metres(1e4, 0.0, 1e-2).unwrap(),
        };
        let axes = Axes::of(needle().covariance);
        let radius = |budget| least_radius(&[needle()], &axes, budget);
        let stretch = 1.0f64.hypot(0.4);
        assert!((radius(0.05).unwrap() - 195.996 * stretch).abs() < 0.01);
        assert!((radius(0.001).unwrap() - 329.05 * stretch).abs() < 0.01);
        assert!(radius(0.0).is_none());
    }

    #[test]
    fn many_wrong_at_once() {
        // Three contacts, each wrong one time in fifty: all three 8 in a million.
        let three: Vec<(usize, f64)> = (0..3).map(|i| (i, 0.02)).collect();
        assert!((triples(&three) - 8e-6).abs() < 1e-12);
    }
}
