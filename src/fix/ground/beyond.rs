//! Shore under the radar horizon: the echo of it begins on the first ground behind that reaches over.
//!
//! From low down, or far off, it is a mile or more inland, and who takes the range for that of the shore
//! puts himself as much too far off.

use super::ChartGround;
use crate::chart::Mark;
use crate::geodesy::{LocalPlane, PlanePoint, Position, destination};
use crate::radar::EffectiveEarth;
use crate::units::{Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, True};

/// Ground behind the shore is gone through in steps of this, in metres, so many pieces of so many steps: 3 NM.
const STEP_M: f64 = 150.0;
const STEPS: u32 = 12;
const PIECES: u32 = 3;

/// Under the horizon by less than this, in metres, shore counts as in sight: 10 ft.
const SHORE_M: f64 = 3.05;

/// The beam is gone through on so many rays.
const RAYS: i32 = 7;

/// An operator takes what stands out so far to either side of a tip, in metres.
const ABOUT_M: f64 = 0.6 * METRES_PER_NAUTICAL_MILE;

/// Own place is taken to this, in metres.
const CELL_M: f64 = 500.0;

/// Of what lies between shore and echo this part is unsure, one standard deviation: how much ground over
/// the horizon it takes to send enough back, and what the air does to the horizon. The program's own
/// figure.
const UNSURE: f64 = 0.25;

/// How own height, a candidate and own place are kept: the height to the bit, since to take it for another moves
/// the echo.
///
/// Only what is under the horizon is kept, some 40 bytes a cell: from eleven heights at most eleven times what is
/// kept from one.
pub(super) type Key = (u64, usize, i32, i32);

/// How much farther off than its shore an echo begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Late {
    /// Along the ground, metres.
    pub late_m: f64,
    /// One standard deviation of it, metres.
    pub sigma_m: f64,
}

impl Late {
    /// The shore is in sight.
    const NOT: Self = Self { late_m: 0.0, sigma_m: 0.0 };

    fn by(late_m: f64) -> Self {
        Self { late_m, sigma_m: UNSURE * late_m }
    }
}

impl ChartGround<'_> {
    /// How far behind the shore of a mark its echo begins.
    ///
    /// - `to_tip`: from own place to the mark.
    pub(super) fn behind_mark(
        &self,
        candidate: usize,
        mark: &Mark,
        (own, from, to_tip): (Height, Position, GroundRange),
    ) -> Late {
        if is_in_sight(own, to_tip.metres()) {
            return Late::NOT;
        }
        let at = self.plane.to_plane(from);
        let cell = |metres: f64| (metres / CELL_M).round() as i32;
        let key = (own.metres().to_bits(), candidate, cell(at.east), cell(at.north));
        self.behind.get(key, || {
            let middle =
                PlanePoint { east: f64::from(key.2) * CELL_M, north: f64::from(key.3) * CELL_M };
            let from = self.plane.to_position(middle);
            let (to_tip, towards) = LocalPlane::new(from).to_plane(mark.position).polar();
            let shore = self.shore_of(candidate, mark, 1);
            let shore = shore.and_then(|shore| {
                shore.leading_range_from(shore.stand(from), towards, self.half_beam)
            });
            let beside = (ABOUT_M / to_tip.metres().max(1.0)).atan();
            self.first_behind((own, from), shore.unwrap_or(to_tip), (towards, beside))
        })
    }

    /// How far behind a shore its echo begins.
    ///
    /// Where no ground within some miles reaches over the horizon, nothing is known: such shore does not show.
    pub(super) fn behind_shore(
        &self,
        from: (Height, Position),
        shore: GroundRange,
        towards: Bearing<True>,
    ) -> Late {
        self.first_behind(from, shore, (towards, 0.0))
    }

    /// - `towards`, `beside`: the bearing, and how far to either side of it what was measured may be, radians.
    fn first_behind(
        &self,
        (own, from): (Height, Position),
        shore: GroundRange,
        (towards, beside): (Bearing<True>, f64),
    ) -> Late {
        if is_in_sight(own, shore.metres()) {
            return Late::NOT;
        }
        let half = self.half_beam.radians() + beside;
        let apart = 2.0 * half / f64::from(RAYS - 1);
        let rays = (0..RAYS).map(|ray| Angle::from_radians(f64::from(ray) * apart - half));
        let first = rays.filter_map(|turn| self.first_on((own, from), shore, towards.turned(turn)));
        first.reduce(f64::min).map_or(Late::NOT, Late::by)
    }

    /// Metres behind a shore to the first ground of one ray that reaches over the horizon.
    fn first_on(
        &self,
        (own, from): (Height, Position),
        shore: GroundRange,
        ray: Bearing<True>,
    ) -> Option<f64> {
        let piece_m = f64::from(STEPS) * STEP_M;
        let [step, reach] = [STEP_M, piece_m].map(GroundRange::clamped_metres);
        // Mostly the first piece reaches over: the others are not gone through then.
        let heights = (0..PIECES).flat_map(|piece| {
            let start_m = shore.metres() + f64::from(piece) * piece_m;
            let start = destination(from, ray, GroundRange::clamped_metres(start_m));
            self.chart.ground().profile(start, ray, reach, step)
        });
        let heights = heights.map(|ground| ground.height.metres());
        first_over(heights, own, shore.metres())
    }
}

fn is_in_sight(own: Height, shore_m: f64) -> bool {
    unseen_m(own, shore_m) <= SHORE_M
}

/// Metres behind a shore to where ground of these heights, a step apart, first reaches over the horizon.
fn first_over(heights: impl Iterator<Item = f64>, own: Height, shore_m: f64) -> Option<f64> {
    let mut before_m = (SHORE_M - unseen_m(own, shore_m)).min(0.0);
    for (sample, height_m) in heights.enumerate() {
        let behind_m = (sample + 1) as f64 * STEP_M;
        let over_m = height_m - unseen_m(own, shore_m + behind_m);
        if over_m >= 0.0 {
            let short = over_m / (over_m - before_m).max(f64::MIN_POSITIVE);
            return Some(behind_m - short.min(1.0) * STEP_M);
        }
        before_m = over_m;
    }
    None
}

/// What lies lower so far off is under the radar horizon, in metres.
pub(super) fn unseen_m(own: Height, distance_m: f64) -> f64 {
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

    /// By hand for 4/3 of the Earth's radius: 300 ft see 39.42 km far; ground that rises by a tenth from a shore
    /// 100 km off comes over the horizon where a tenth of x is (60.58 km + x) squared over 16,990 km: at 2.33 km.
    #[test]
    fn the_echo_of_a_slope_begins_where_it_comes_over_the_horizon() {
        let own = Height::from_feet(300.0).unwrap();
        let slope = |rise: f64| (1..=37).map(move |step| f64::from(step) * STEP_M * rise);
        let behind = first_over(slope(0.1), own, 100_000.0).unwrap();
        assert!((behind - 2_330.0).abs() < 5.0, "{behind}");
        assert_eq!(first_over(slope(0.01), own, 100_000.0), None);
        // Shore of 10 ft sinks under it at 46.6 km, and what lies just beyond is hardly late.
        let just = first_over(slope(0.1), own, 46_700.0).unwrap();
        assert!(just > 0.0 && just < 20.0, "{just}");
    }
}
