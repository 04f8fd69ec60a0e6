//! Starts all over the reckoning's ellipse, for contacts that lead to no place of their own.

use std::f64::consts::{PI, TAU};

use super::Proposal;
use crate::geodesy::{LocalPlane, PlanePoint};
use crate::identity::problem::{Problem, Sight};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// So many deviations of the reckoning's error out there are starts: beyond lies one place in four hundred.
const OUT_TO: f64 = 3.5;

/// Starts no nearer to each other than this, in metres: shores of one reach have hollows about so wide (our own figure).
const LEAST_APART_M: f64 = METRES_PER_NAUTICAL_MILE;

/// There are no more starts than this; of a wider ellipse they lie farther apart.
const MOST: usize = 500;

/// Whether contacts may fix us of which none leads to a place: ranges of the nearest shore, whichever that is.
///
/// Least squares runs from a start into the nearest hollow of the misfit, and such ranges leave many: one start,
/// at the reckoning, would find one of them and never hear of the others. A single one is a position line, and is
/// told by where the reckoning has it.
pub(super) fn are_needed(problem: &Problem) -> bool {
    problem.sights.iter().filter(|sight| is_of_any_shore(sight)).count() > 1
}

/// Whether a set of identities has nothing but such contacts on the chart: all others are ships.
pub(super) fn leads_nowhere(problem: &Problem, targets: &[Option<usize>]) -> bool {
    let mut charted = problem.sights.iter().zip(targets).filter(|(_, target)| target.is_some());
    charted.all(|(sight, _)| is_of_any_shore(sight))
}

fn is_of_any_shore(sight: &Sight) -> bool {
    sight.surely.is_some() && sight.traced.is_none()
}

/// The same set of identities from all over the reckoning's ellipse, itself among them: evenly laid by the golden
/// angle.
pub(super) fn spread(problem: &Problem, plane: &LocalPlane, set: &Proposal) -> Vec<Proposal> {
    let (long, short, axis) = problem.prior.covariance.axes();
    let run = problem.prior.run_sigma_m().powi(2);
    let (long, short) = (OUT_TO * (long + run).sqrt(), OUT_TO * (short + run).sqrt());
    let area = PI * long * short;
    let count = ((area / LEAST_APART_M.powi(2)).ceil() as usize).clamp(1, MOST);
    let (sin, cos) = axis.sin_cos();
    let golden = TAU * (1.0 - 2.0 / (1.0 + 5f64.sqrt()));
    // Together they weigh what the set does.
    let log_weight = set.log_weight - (count as f64).ln();
    let starts = (0..count).map(|number| {
        let out = (number as f64 / count as f64).sqrt();
        let (turned, ahead) = (golden * number as f64).sin_cos();
        let (along, across) = (long * out * ahead, short * out * turned);
        let at = PlanePoint { east: along * sin + across * cos, north: along * cos - across * sin };
        Proposal { position: plane.to_position(at), log_weight, ..set.clone() }
    });
    starts.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::{Covariance, Position};
    use crate::identity::problem::{Prior, Shared};
    use crate::units::{Bearing, GroundRange};

    #[test]
    fn starts_lie_all_over_the_ellipse_and_no_farther() {
        let position = Position::new(38.0, -21.0).unwrap();
        let miles = |nm: f64| GroundRange::from_nautical_miles(nm).unwrap();
        // Six miles along 030 degrees, two across.
        let covariance =
            Covariance::along_across(miles(6.0), miles(2.0), Bearing::from_degrees(30.0).unwrap());
        let prior = Prior {
            position,
            covariance,
            elapsed_s: 0.0,
            track: 0.0,
            along_sigma: 0.0,
            across_sigma: 0.0,
        };
        let problem = Problem {
            candidates: Vec::new(),
            sights: Vec::new(),
            prior,
            shared: Shared::default(),
            own_height_m: 0.0,
            reach_m: 1.0,
            any_shore: None,
        };
        let plane = LocalPlane::new(position);
        let set = Proposal { targets: Vec::new(), position, bias: 0.0, log_weight: 0.0 };
        let starts = spread(&problem, &plane, &set);
        assert_eq!(starts.len(), 462);
        let (sin, cos) = Bearing::<crate::units::True>::from_degrees(30.0).unwrap().sin_cos();
        let laid = starts.iter().map(|start| {
            let at = plane.to_plane(start.position);
            let (along, across) = (at.east * sin + at.north * cos, at.east * cos - at.north * sin);
            (along / 1_852.0 / 21.0, across / 1_852.0 / 7.0)
        });
        let laid: Vec<(f64, f64)> = laid.collect();
        assert!(laid.iter().all(|(along, across)| along.hypot(*across) < 1.0));
        // No place of the ellipse is more than a mile and a half off one.
        for step in 0..360 {
            let turn = f64::from(step) * TAU / 360.0;
            for out in [0.0, 0.3, 0.6, 0.9] {
                let (along, across) = (out * turn.cos(), out * turn.sin());
                let off = laid.iter().map(|(a, c)| (21.0 * (a - along)).hypot(7.0 * (c - across)));
                assert!(off.fold(f64::INFINITY, f64::min) < 1.5, "{along} {across}");
            }
        }
    }
}
