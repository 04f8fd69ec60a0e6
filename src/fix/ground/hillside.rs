//! Where the echo of a hill lies: on the side that faces the set, before its summit.
//!
//! What is higher than half the hill is taken to send most of it back; behind the summit lies shadow. The
//! half is the program's own figure, held against the pictures that `paint` makes of the same hills.

use std::f64::consts::FRAC_1_SQRT_2;

use super::ChartGround;
use super::beyond::unseen_m;
use crate::chart::Mark;
use crate::contact::Part;
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::identity::Answer;
use crate::units::{Bearing, Height, METRES_PER_NAUTICAL_MILE, True};

/// The side is looked along in steps of this, so far, in metres.
const STEP_M: f64 = 200.0;
const FARTHEST_M: f64 = 3.0 * METRES_PER_NAUTICAL_MILE;

/// The part of its height above the sea from which a hill answers, and over how much of it from not at
/// all to wholly: a saddle that just reaches it must not move the echo by a mile.
const ANSWERS: f64 = 0.5;
const SOFTLY: f64 = 0.2;

/// Where the chart has no heights but the summit's, a hill is taken to fall to half its height over so many
/// times that, and one of no charted height over this, in metres: half as far or twice as far as well.
const FALLS_OVER: f64 = 5.0;
const UNKNOWN_M: f64 = 1.0 * METRES_PER_NAUTICAL_MILE;

/// What is spread evenly over a length has this part of it as standard deviation.
const EVENLY: f64 = 0.288_675;

/// The side of a hill that answers.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Side {
    /// How far before the summit it begins, metres.
    deep_m: f64,
    /// How far before or behind its middle the echo may lie, one standard deviation, metres.
    sigma_m: f64,
}

impl ChartGround<'_> {
    /// The part of a hill that was measured from a place: the middle of the side in sight, or its near
    /// edge, each as unsure as the side is deep, and twice that where no height but the summit's is charted.
    pub(super) fn hillside(
        &self,
        mark: &Mark,
        part: Part,
        (own, from): (Height, Position),
    ) -> Answer {
        let here = LocalPlane::new(mark.position);
        let (distance, toward) = here.to_plane(from).polar();
        let side = self.side(mark, distance.metres(), (own, toward));
        let before_m = if part == Part::Centre { 0.5 * side.deep_m } else { side.deep_m };
        let (sin, cos) = toward.sin_cos();
        let point = PlanePoint { east: before_m * sin, north: before_m * cos };
        Answer {
            depth_m: side.sigma_m,
            face_m: FRAC_1_SQRT_2 * side.sigma_m,
            aim: Some(mark.position),
            ..Answer::at(here.to_position(point))
        }
    }

    fn side(&self, mark: &Mark, distance_m: f64, (own, toward): (Height, Bearing<True>)) -> Side {
        let most = FARTHEST_M.min(0.5 * distance_m);
        let summit_m = mark.height.metres();
        if summit_m <= 0.0 || self.chart.ground().charted(mark.position).is_none() {
            let likely = if summit_m > 0.0 { FALLS_OVER * summit_m } else { UNKNOWN_M };
            let deep_m = likely.min(most);
            return Side { deep_m, sigma_m: 2.0 * EVENLY * deep_m.max(STEP_M) };
        }
        let least = (ANSWERS * summit_m).max(unseen_m(own, distance_m));
        let deep_m = self.answering_m(mark, toward, most, (least, SOFTLY * summit_m));
        Side { deep_m, sigma_m: EVENLY * deep_m.max(STEP_M) }
    }

    /// How much of the way from the summit lies so high, in metres.
    fn answering_m(
        &self,
        mark: &Mark,
        toward: Bearing<True>,
        most: f64,
        (least, softly): (f64, f64),
    ) -> f64 {
        let summit = LocalPlane::new(mark.position);
        let (sin, cos) = toward.sin_cos();
        let steps = (most / STEP_M).floor() as usize;
        let answers = |step: usize| {
            let out = (step as f64 + 0.5) * STEP_M;
            let at = summit.to_position(PlanePoint { east: out * sin, north: out * cos });
            let above = self.chart.ground().charted(at).map_or(0.0, |g| g.height.metres()) - least;
            (above / softly + 0.5).clamp(0.0, 1.0)
        };
        (0..steps).map(answers).sum::<f64>() * STEP_M
    }
}
