use std::f64::consts::PI;

use crate::units::{Angle, Bearing, Relative};

/// Of a gaussian beam, four times ln 2 in decibels: 12.04 for one beam width off the axis.
pub(super) const GAUSSIAN_DB: f64 = 12.041_199_83;

/// The circle is searched in steps of so many degrees: finer than any stretch of a curve that
/// could be read.
const STEP_DEG: f64 = 0.25;
/// A ratio so many reading errors past the turn of the curve may still be the turn itself.
const PAST_THE_TURN: f64 = 3.0;
/// Halvings that bring a step down to where no angle is told.
const HALVINGS: usize = 40;
/// Ratios closer than this to none are none, decibels.
const EQUAL_DB: f64 = 1e-9;

/// Gain of a round gaussian beam off its axis, decibels, never under its floor:
/// max(exp(-4 ln 2 (θ/width)²), floor).
pub(super) fn round_gain_db(off_axis: Angle, width_deg: f64, floor_db: f64) -> f64 {
    (-GAUSSIAN_DB * (off_axis.degrees() / width_deg).powi(2)).max(floor_db)
}

/// Two round gaussian receiving beams, one to port and one to starboard of the bow.
///
/// Each axis lies `squint_deg` off the bow in the plane of the wings; a bank turns that plane about
/// the fore-and-aft axis, right wing down positive. A deflection is proportional to voltage, so
/// that 20 log₁₀(port/starboard) is the difference of the two gains in decibels. Two deflections
/// are equal dead ahead, whatever the gain of the receiver; the curve of their ratio is steep
/// there, turns where the far lobe comes to its floor, and falls back to nothing where both stand
/// on theirs (common practice, no published source). Pitch is not in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lobes {
    /// Each axis off the bow, degrees.
    pub squint_deg: f64,
    /// Width between the half-power points, one way, degrees.
    pub width_deg: f64,
    /// Error of the ratio of the two deflections as read, one standard deviation, decibels.
    pub ratio_sigma_db: f64,
    /// Each lobe's floor all round, below its axis, decibels.
    pub back_db: f64,
}

/// The ratio of the two deflections for one direction, and how it changes with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LobeRatio {
    /// 20 log₁₀(port/starboard): positive for a target to port.
    pub db: f64,
    /// Decibels for each radian that the target goes to starboard.
    pub by_relative: f64,
    /// Decibels for each radian that the target goes down.
    pub by_depression: f64,
    /// Both lobes stand on their floor: the ratio tells nothing of the bearing.
    pub silent: bool,
}

/// One bearing that a ratio allows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LobeBearing {
    /// From own bow.
    pub relative: Bearing<Relative>,
    /// What the reading error of the ratio makes of it, one standard deviation.
    pub sigma: Angle,
}

/// A direction in own axes: forward, to starboard and down, level.
type Direction = [f64; 3];

fn dot(a: Direction, b: Direction) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The angle between two unit vectors: by the chord, which loses no digits near either end.
fn between(a: Direction, b: Direction) -> f64 {
    let apart = a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt();
    let across = a.iter().zip(b).map(|(a, b)| (a + b).powi(2)).sum::<f64>().sqrt();
    2.0 * apart.atan2(across)
}

/// Toward a target, with its derivatives by the relative bearing and the depression.
fn toward(relative: Angle, depression: Angle) -> [Direction; 3] {
    let (sin_b, cos_b) = relative.radians().sin_cos();
    let (sin_d, cos_d) = depression.radians().sin_cos();
    [
        [cos_d * cos_b, cos_d * sin_b, sin_d],
        [-cos_d * sin_b, cos_d * cos_b, 0.0],
        [-sin_d * cos_b, -sin_d * sin_b, cos_d],
    ]
}

impl Lobes {
    /// The axis of the starboard lobe, or with a side of -1 of the port one.
    fn axis(&self, side: f64, bank: Angle) -> Direction {
        let (sin_s, cos_s) = Angle::from_degrees(self.squint_deg).radians().sin_cos();
        let (sin_b, cos_b) = bank.radians().sin_cos();
        [cos_s, side * sin_s * cos_b, side * sin_s * sin_b]
    }

    /// Gains of the port and of the starboard lobe toward a target, decibels under their axes.
    ///
    /// - `relative`: from the bow, starboard positive.
    /// - `depression`: of the target under the horizon.
    /// - `bank`: right wing down positive.
    ///
    /// On its axis a lobe loses nothing; the other one then looks two squints past:
    /// ```
    /// # use foreland::{radar::Set, units::Angle};
    /// let lobes = Set::builtin("metric").and_then(|set| set.lobes).ok_or("built in")?;
    /// let squint = Angle::from_degrees(lobes.squint_deg);
    /// let (port, starboard) = lobes.gains_db(squint, Angle::ZERO, Angle::ZERO);
    /// // 12.041 × (44/60)² (computed)
    /// assert!(starboard.abs() < 1e-9 && (port + 6.4755).abs() < 1e-3);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn gains_db(&self, relative: Angle, depression: Angle, bank: Angle) -> (f64, f64) {
        let [to, _, _] = toward(relative, depression);
        let gain = |side: f64| {
            let off = Angle::from_radians(between(self.axis(side, bank), to));
            round_gain_db(off, self.width_deg, self.back_db)
        };
        (gain(-1.0), gain(1.0))
    }

    /// The ratio of the port to the starboard deflection, 20 log₁₀(port/starboard), decibels: the
    /// difference of [`Lobes::gains_db`], with the same arguments.
    pub fn ratio_db(&self, relative: Angle, depression: Angle, bank: Angle) -> f64 {
        let (port, starboard) = self.gains_db(relative, depression, bank);
        port - starboard
    }

    /// [`Lobes::ratio_db`] with its derivatives in closed form: for g = -k θ² and cos θ = a·d,
    /// g' = 2 k (θ / sin θ) a·d'.
    pub fn ratio(&self, relative: Angle, depression: Angle, bank: Angle) -> LobeRatio {
        let [to, by_relative, by_depression] = toward(relative, depression);
        let width = Angle::from_degrees(self.width_deg).radians();
        let mut told = LobeRatio { db: 0.0, by_relative: 0.0, by_depression: 0.0, silent: true };
        for side in [-1.0, 1.0] {
            let axis = self.axis(side, bank);
            let off = between(axis, to);
            let gain = -GAUSSIAN_DB * (off / width).powi(2);
            told.db -= side * gain.max(self.back_db);
            if gain > self.back_db {
                told.silent = false;
                let rise = 2.0 * GAUSSIAN_DB / (width * width) * off / off.sin().max(1e-9);
                let rise = if off > 1e-9 { rise } else { 0.0 };
                told.by_relative -= side * rise * dot(axis, by_relative);
                told.by_depression -= side * rise * dot(axis, by_depression);
            }
        }
        told
    }

    /// Every bearing over the circle that a ratio of the deflections allows, the nearest to the bow
    /// first: near the bow, and past the turn of the curve.
    ///
    /// Each has its own error, the reading error of the ratio over the slope of the curve; where
    /// the curve is flat, no more than half the stretch of it that lies within the reading error. A
    /// ratio somewhat greater than any that the curve reaches is the turn itself. Where both lobes
    /// stand on their floor nothing is told, and nothing is listed.
    ///
    /// - `ratio_db`: 20 log₁₀(port/starboard).
    pub fn bearings_for(&self, ratio_db: f64, depression: Angle, bank: Angle) -> Vec<LobeBearing> {
        let curve = Curve { lobes: self, ratio_db, depression, bank };
        let mut found = curve.solutions();
        found.sort_by(|a, b| a.abs().total_cmp(&b.abs()));
        found
            .into_iter()
            .map(|at| LobeBearing {
                relative: Bearing::wrapped_degrees(at),
                sigma: Angle::from_degrees(curve.sigma_deg(at)),
            })
            .collect()
    }
}

/// How far the ratio of each bearing is from one that was read; bearings in plain degrees.
struct Curve<'a> {
    lobes: &'a Lobes,
    ratio_db: f64,
    depression: Angle,
    bank: Angle,
}

impl Curve<'_> {
    fn at(&self, degrees: f64) -> LobeRatio {
        self.lobes.ratio(Angle::from_degrees(degrees), self.depression, self.bank)
    }

    fn off(&self, degrees: f64) -> f64 {
        self.at(degrees).db - self.ratio_db
    }

    fn solutions(&self) -> Vec<f64> {
        if !self.ratio_db.is_finite() {
            return Vec::new();
        }
        let steps = (360.0 / STEP_DEG).round() as usize;
        // Off the round numbers, where a curve may well have its zero.
        let bearing = |step: usize| -180.0 + STEP_DEG * (step as f64 + 0.37);
        let off: Vec<f64> = (0..steps).map(|step| self.off(bearing(step))).collect();
        let at = |step: usize| off.get(step % steps).copied().unwrap_or(f64::NAN);
        let mut found: Vec<f64> = Vec::new();
        for step in 0..steps {
            let (before, here, after) = (bearing(step), bearing(step + 1), bearing(step + 2));
            let (f, g, h) = (at(step), at(step + 1), at(step + 2));
            if (f >= 0.0) != (g >= 0.0) {
                found.extend(self.crossing(before, here));
            } else if (g >= 0.0) == (h >= 0.0) && g.abs() < f.abs() && g.abs() < h.abs() {
                found.extend(self.turn(before, after));
            }
        }
        found.into_iter().map(|at| Angle::from_degrees(at).degrees()).collect()
    }

    /// Where the curve passes through the ratio between two bearings.
    fn crossing(&self, from: f64, to: f64) -> Option<f64> {
        let silent = self.at(from).silent || self.at(to).silent;
        if silent && self.ratio_db.abs() < EQUAL_DB {
            return None;
        }
        let (mut low, mut high) = (from, to);
        let rising = self.off(to) >= 0.0;
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(low, high);
            if (self.off(middle) >= 0.0) == rising { high = middle } else { low = middle }
        }
        Some(f64::midpoint(low, high))
    }

    /// Where the curve comes nearest to the ratio between two bearings, and turns away from it: two
    /// crossings where it reaches it after all.
    fn turn(&self, from: f64, to: f64) -> Vec<f64> {
        let sign = if self.off(from) >= 0.0 { 1.0 } else { -1.0 };
        let (mut low, mut high) = (from, to);
        for _ in 0..2 * HALVINGS {
            let third = (high - low) / 3.0;
            let (left, right) = (low + third, high - third);
            if sign * self.off(left) <= sign * self.off(right) { high = right } else { low = left }
        }
        let at = f64::midpoint(low, high);
        let gap = sign * self.off(at);
        if gap < 0.0 {
            return [self.crossing(from, at), self.crossing(at, to)]
                .into_iter()
                .flatten()
                .collect();
        }
        if self.at(at).silent || gap > PAST_THE_TURN * self.lobes.ratio_sigma_db {
            return Vec::new();
        }
        vec![at]
    }

    fn sigma_deg(&self, at: f64) -> f64 {
        let sigma = self.lobes.ratio_sigma_db;
        let limit = self.off(at).hypot(sigma);
        let edge = |way: f64| {
            let most = (180.0 / STEP_DEG) as usize;
            let mut far = 0.0;
            for step in 1..=most {
                let reached = STEP_DEG * step as f64;
                let there = self.at(at + way * reached);
                if there.silent || (there.db - self.ratio_db).abs() > limit {
                    break;
                }
                far = reached;
            }
            // To the part of a step at which the curve leaves the stretch.
            let next = (self.off(at + way * (far + STEP_DEG))).abs();
            let last = (self.off(at + way * far)).abs();
            let part = (limit - last) / (next - last).max(1e-12);
            far + STEP_DEG * part.clamp(0.0, 1.0)
        };
        let stretch = f64::midpoint(edge(-1.0), edge(1.0));
        let slope = self.at(at).by_relative.abs() * PI / 180.0;
        if self.off(at).abs() < 1e-6 && slope > 0.0 { stretch.min(sigma / slope) } else { stretch }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn degrees(value: f64) -> Angle {
        Angle::from_degrees(value)
    }

    fn metric() -> Lobes {
        Lobes { squint_deg: 22.0, width_deg: 60.0, ratio_sigma_db: 1.0, back_db: -20.0 }
    }

    fn level(lobes: &Lobes, relative: f64) -> f64 {
        lobes.ratio_db(degrees(relative), Angle::ZERO, Angle::ZERO)
    }

    fn found(lobes: &Lobes, ratio: f64) -> Vec<(f64, f64)> {
        let told = lobes.bearings_for(ratio, Angle::ZERO, Angle::ZERO);
        told.iter().map(|b| (degrees(b.relative.degrees()).degrees(), b.sigma.degrees())).collect()
    }

    #[test]
    fn equal_deflections_are_dead_ahead_whatever_the_gain() {
        // Common practice, no published source: the gain of the receiver is in both deflections.
        let ratio = |port: f64, starboard: f64| 20.0 * (port / starboard).log10();
        for gain in [0.1, 1.0, 40.0] {
            let bearings = found(&metric(), ratio(gain * 3.0, gain * 3.0));
            assert_eq!(bearings.len(), 1, "{bearings:?}");
            assert!(bearings[0].0.abs() < 1e-6);
            let off = ratio(gain * 3.0, gain * 2.0) - ratio(3.0, 2.0);
            assert!(off.abs() < 1e-12);
        }
    }

    #[test]
    fn the_louder_side_is_the_side_of_the_target() {
        // Common practice, no published source.
        for off in [1.0, 10.0, 40.0, 70.0, 90.0] {
            assert!(level(&metric(), -off) > 0.0, "{off}");
            assert!(level(&metric(), off) < 0.0, "{off}");
        }
    }

    #[test]
    fn above_the_floors_the_level_curve_is_a_straight_line() {
        // Closed form of two gaussian beams: (θ + s)² - (θ - s)² = 4 θ s, times 12.041 / width².
        let (lobes, slope) = (metric(), -12.041_2 * 4.0 * 22.0 / 3600.0);
        for off in [-50.0, -12.0, -0.5, 0.0, 3.0, 30.0, 55.0] {
            assert!((level(&lobes, off) - slope * off).abs() < 1e-4, "{off}");
            let told = lobes.ratio(degrees(off), Angle::ZERO, Angle::ZERO);
            assert!((told.by_relative * PI / 180.0 - slope).abs() < 1e-5);
        }
    }

    #[test]
    fn a_ratio_past_the_turn_has_two_bearings_each_with_its_error() {
        // Computed from the patterns: 3 to 2 is 3.522 dB to port. Near the bow 3.522 / 0.29434 =
        // 11.97°, to 1 dB over that slope, 3.397°. Past the turn the starboard lobe stands on its
        // floor, and the port one is 16.478 dB down: 22 + 60 √(16.478 / 12.0412) = 92.19°, to 1 dB
        // over 2 × 12.0412 × 70.19 / 3600 = 0.4695 dB a degree, 2.130°.
        let told = found(&metric(), 20.0 * 1.5f64.log10());
        assert_eq!(told.len(), 2, "{told:?}");
        for ((at, sigma), (bearing, error)) in told.iter().zip([(-11.966, 3.397), (-92.19, 2.130)])
        {
            assert!((at - bearing).abs() < 0.01, "{told:?}");
            assert!((sigma - error).abs() < 0.01, "{told:?}");
        }
    }

    #[test]
    fn a_ratio_greater_than_the_curve_reaches_is_its_turn() {
        // Computed: the far lobe comes to its floor at 60 √(20 / 12.0412) - 22 = 55.33° off the
        // bow, where the ratio is 16.286 dB; it falls by 0.294 dB a degree before, 0.223 behind.
        let told = found(&metric(), 16.286);
        assert!(told.iter().all(|(at, _)| (at + 55.33).abs() < 0.05), "{told:?}");
        let past = found(&metric(), 17.0);
        assert_eq!(past.len(), 1, "{past:?}");
        assert!((past[0].0 + 55.33).abs() < 0.05 && past[0].1 > 1.5 && past[0].1 < 4.0);
        assert!(found(&metric(), 25.0).is_empty());
    }

    #[test]
    fn where_both_lobes_stand_on_their_floor_nothing_is_told() {
        let astern = metric().ratio(degrees(150.0), Angle::ZERO, Angle::ZERO);
        assert!(astern.silent && astern.db.abs() < 1e-12 && astern.by_relative == 0.0);
        for ratio in [-0.4, -0.01, 0.0, 0.01, 0.4] {
            assert!(found(&metric(), ratio).iter().all(|(at, _)| at.abs() < 99.5), "{ratio}");
        }
    }

    #[test]
    fn a_flat_curve_bounds_its_own_error() {
        // Narrow lobes with no floor to speak of, looked at from above: the slope vanishes abeam,
        // and the error does not run away.
        let lobes = Lobes { width_deg: 180.0, back_db: -60.0, ..metric() };
        let most = level(&lobes, -120.0).max(level(&lobes, -160.0));
        for (_, sigma) in found(&lobes, most - 0.001) {
            assert!(sigma > 1.0 && sigma < 90.0, "{sigma}");
        }
    }

    #[test]
    fn bank_tilts_the_curve() {
        // Geometry: the two axes differ by 2 sin(squint) along the wings, so that equal deflections
        // lie in the plane at right angles to them: cos δ sin β cos φ + sin δ sin φ = 0, which is
        // sin β = -tan δ tan φ.
        for (depression, bank) in [(5.0, 20.0), (5.0, -20.0), (12.0, 45.0), (0.0, 60.0)] {
            let (d, b) = (degrees(depression), degrees(bank));
            let told = metric().bearings_for(0.0, d, b);
            let expected = -(d.radians().tan() * b.radians().tan()).asin();
            let off = told[0].relative.minus(Bearing::wrapped(expected)).degrees();
            assert!(off.abs() < 1e-6, "{depression} {bank}: {off}");
        }
        // Right wing down: what lies under the bow is on the low wing's side, louder to starboard.
        assert!(metric().ratio_db(Angle::ZERO, degrees(5.0), degrees(20.0)) < 0.0);
    }

    #[test]
    fn a_target_below_is_farther_off_both_axes() {
        // Spherical triangle: cos θ = cos δ cos(β ± squint), level (computed).
        let (port, _) = metric().gains_db(degrees(10.0), degrees(8.0), Angle::ZERO);
        let off = (degrees(8.0).radians().cos() * degrees(32.0).radians().cos()).acos();
        let expected = -12.041_2 * (Angle::from_radians(off).degrees() / 60.0).powi(2);
        assert!((port - expected).abs() < 1e-4);
    }

    proptest! {
        #[test]
        fn the_slopes_are_those_of_the_curve(
            relative in -170.0f64..170.0, depression in 0.0f64..40.0, bank in -60.0f64..60.0,
            squint in 2.0f64..60.0, width in 20.0f64..120.0,
        ) {
            // Central differences; not across the corner where a lobe comes to its floor.
            let lobes = Lobes { squint_deg: squint, width_deg: width, ..metric() };
            let step = 1e-4;
            let at = |turn: f64, down: f64| {
                lobes.ratio(degrees(relative + turn), degrees(depression + down), degrees(bank))
            };
            let told = at(0.0, 0.0);
            let (port, starboard) =
                lobes.gains_db(degrees(relative), degrees(depression), degrees(bank));
            prop_assert!((told.db - (port - starboard)).abs() < 1e-9);
            let corner = |gain: f64| gain > lobes.back_db && gain < lobes.back_db + 0.01;
            prop_assume!(!corner(port) && !corner(starboard));
            let turned = (at(step, 0.0).db - at(-step, 0.0).db) / (2.0 * degrees(step).radians());
            let lowered = (at(0.0, step).db - at(0.0, -step).db) / (2.0 * degrees(step).radians());
            prop_assume!((at(step, 0.0).by_relative - at(-step, 0.0).by_relative).abs() < 0.1);
            prop_assert!((turned - told.by_relative).abs() < 1e-3, "{turned} {told:?}");
            prop_assert!((lowered - told.by_depression).abs() < 1e-3, "{lowered} {told:?}");
        }

        #[test]
        fn every_bearing_found_reads_the_ratio_and_the_true_one_is_found(
            relative in -90.0f64..90.0, depression in 0.0f64..20.0, bank in -45.0f64..45.0,
        ) {
            let (down, bank) = (degrees(depression), degrees(bank));
            let truly = metric().ratio(degrees(relative), down, bank);
            prop_assume!(!truly.silent && truly.by_relative != 0.0 && truly.db.abs() > 1e-6);
            let found = metric().bearings_for(truly.db, down, bank);
            let from_bow = |b: &LobeBearing| degrees(b.relative.degrees());
            for bearing in &found {
                let back = metric().ratio_db(from_bow(bearing), down, bank);
                prop_assert!((back - truly.db).abs() < 1e-6);
                prop_assert!(bearing.sigma.degrees() > 0.0);
            }
            let near = |b: &LobeBearing| (from_bow(b) - degrees(relative)).degrees().abs() < 1e-3;
            prop_assert!(found.iter().any(near), "{found:?}");
        }
    }
}
