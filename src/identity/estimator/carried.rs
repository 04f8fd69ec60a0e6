use super::{ACROSS, ALONG, SHIFT_EAST, SHIFT_NORTH, State};
use crate::geodesy::{PlanePoint, Position};
use crate::identity::problem::{Sight, turned};

/// Own run from the moment of a sight to the common time, and what it does to the axes.
///
/// The run is told in the axes of where it began, as bearings are; own place and the chart's shift
/// are in those of the common time, turned against them by the convergence of the meridians.
#[derive(Debug, Clone, Copy)]
pub(super) struct Carried {
    /// The error of track and speed in it: metres, in the axes of then.
    run: PlanePoint,
    elapsed_s: f64,
    track: (f64, f64),
    /// Radians.
    convergence: f64,
    /// How far the run turns on the Earth, counter-clockwise, for each metre that own place now goes east and
    /// north, radians.
    turns_by: [f64; 2],
}

impl Carried {
    /// - `now`: own place at the common time; `track`: sine and cosine.
    pub fn new(measured: &Sight, now: Position, (sin, cos): (f64, f64), state: &State) -> Self {
        let t = measured.elapsed_s;
        let run = PlanePoint {
            east: measured.run.east + t * (sin * state[ALONG] + cos * state[ACROSS]),
            north: measured.run.north + t * (cos * state[ALONG] - sin * state[ACROSS]),
        };
        let is_still = run == PlanePoint::default();
        Self {
            run,
            elapsed_s: t,
            track: (sin, cos),
            convergence: measured.convergence(now),
            turns_by: if is_still { [0.0; 2] } else { measured.turns_by(now) },
        }
    }

    /// The run in the axes of the common time.
    pub fn back(&self) -> PlanePoint {
        turned(self.run, self.convergence)
    }

    /// What is told in the axes of the common time, in those of then.
    pub fn in_axes_of_then(&self, now: PlanePoint) -> PlanePoint {
        turned(now, -self.convergence)
    }

    /// The derivative by own place now, the chart's shift, and speed along and across the track, of
    /// something with this derivative by own place then, in the axes of then; the rest is nought.
    ///
    /// Own place then goes as own place now does, and about it as the run turns: of a run that began
    /// sixty miles south a metre east at 70° N is 1.05 metres there. The chart's shift turns nothing.
    pub fn slope(&self, then: PlanePoint) -> State {
        let by_now = turned(then, self.convergence);
        let by_turn = then.east * self.run.north - then.north * self.run.east;
        let [east, north] = self.turns_by;
        let (sin, cos) = self.track;
        let mut slope = State::zeros();
        slope[0] = by_now.east + east * by_turn;
        slope[1] = by_now.north + north * by_turn;
        slope[ALONG] = -self.elapsed_s * (then.east * sin + then.north * cos);
        slope[ACROSS] = -self.elapsed_s * (then.east * cos - then.north * sin);
        (slope[SHIFT_EAST], slope[SHIFT_NORTH]) = (-by_now.east, -by_now.north);
        slope
    }
}
