//! Where the echo of a hill lies: on the side that faces the set, before its summit.
//!
//! What is higher than half the hill sends most of it back, and behind the summit lies shadow: common
//! practice, no published source.

use std::f64::consts::FRAC_1_SQRT_2;

use super::ChartGround;
use crate::chart::{Ground, Mark};
use crate::contact::Part;
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::identity::Answer;
use crate::radar::EffectiveEarth;
use crate::units::{Height, METRES_PER_NAUTICAL_MILE};

/// The side is looked along in steps of this, so far, in metres.
const STEP_M: f64 = 200.0;
const FARTHEST_M: f64 = 3.0 * METRES_PER_NAUTICAL_MILE;

/// The part of its height above the sea from which a hill answers.
const ANSWERS: f64 = 0.5;

/// What is spread evenly over a length has this part of it as standard deviation.
const EVENLY: f64 = 0.288_675;

impl ChartGround<'_> {
    /// The part of a hill that was measured from a place: the middle of the side in sight, or its near
    /// edge, each as unsure as the side is deep.
    pub(super) fn hillside(&self, mark: &Mark, part: Part, from: Position) -> Answer {
        let deep_m = self.side_m(mark, from);
        let here = LocalPlane::new(mark.position);
        let (_, toward) = here.to_plane(from).polar();
        let before_m = if part == Part::Centre { 0.5 * deep_m } else { deep_m };
        let (sin, cos) = toward.sin_cos();
        let point = PlanePoint { east: before_m * sin, north: before_m * cos };
        Answer {
            depth_m: EVENLY * deep_m,
            face_m: EVENLY * FRAC_1_SQRT_2 * deep_m,
            aim: Some(mark.position),
            ..Answer::at(here.to_position(point))
        }
    }

    /// How far before the summit the side begins that answers.
    fn side_m(&self, mark: &Mark, from: Position) -> f64 {
        let summit = LocalPlane::new(mark.position);
        let (distance, toward) = summit.to_plane(from).polar();
        let (sin, cos) = toward.sin_cos();
        let most = FARTHEST_M.min(0.5 * distance.metres());
        let least = (ANSWERS * mark.height.metres()).max(unseen_m(self.own, distance.metres()));
        let height = |out: f64| {
            let at = summit.to_position(PlanePoint { east: out * sin, north: out * cos });
            charted_m(self.chart.ground(), at)
        };
        let (mut out, mut above) = (0.0, mark.height.metres() - least);
        while out < most && above > 0.0 {
            let next = height(out + STEP_M) - least;
            if next <= 0.0 {
                return out + STEP_M * above / (above - next);
            }
            (out, above) = (out + STEP_M, next);
        }
        out.min(most)
    }
}

fn charted_m(ground: &Ground, at: Position) -> f64 {
    ground.at(at).height.metres()
}

/// What lies lower so far off is under the radar horizon, in metres.
fn unseen_m(own: Height, distance_m: f64) -> f64 {
    let earth = EffectiveEarth::standard();
    let beyond = (distance_m - earth.horizon_of(own).metres()).max(0.0);
    beyond * beyond / (2.0 * earth.radius_m())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand for 4/3 of the Earth's radius: 500 ft see 27.4 NM far; 60.4 NM off all below 219 m is
    /// under the horizon (33 NM squared over 16,990 km).
    #[test]
    fn what_is_under_the_horizon_does_not_answer() {
        let own = Height::from_feet(500.0).unwrap();
        let miles = METRES_PER_NAUTICAL_MILE;
        assert!((unseen_m(own, 60.4 * miles) - 219.0).abs() < 10.0);
        assert!(unseen_m(own, 20.0 * miles).abs() < 1e-9);
    }
}
