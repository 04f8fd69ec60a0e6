use statrs::distribution::{ContinuousCDF, Normal};

use super::Covariance;
use crate::units::GroundRange;

/// No error is taken to be smaller than this on either axis, in metres: a needle is no step.
const LEAST_SIGMA_M: f64 = 1e-3;
/// Further than this from the mean, in standard deviations, no error is looked for.
const FAR: f64 = 8.0;
/// A circle is found to this share of its radius.
const CLOSE: f64 = 1e-6;
/// The first circle tried, in metres.
const FIRST_M: f64 = 500.0;
/// Farther than this no circle is looked for, in metres: half the Earth.
const FARTHEST_M: f64 = 2.1e7;

/// The positive nodes of Gauss-Legendre quadrature with 32 points, and their weights (computed).
const NODES: [(f64, f64); 16] = [
    (0.048_307_665_687_738_3, 0.096_540_088_514_727_7),
    (0.144_471_961_582_796_5, 0.095_638_720_079_274_7),
    (0.239_287_362_252_137_1, 0.093_844_399_080_804_5),
    (0.331_868_602_282_127_7, 0.091_173_878_695_763_8),
    (0.421_351_276_130_635_5, 0.087_652_093_004_403_8),
    (0.506_899_908_932_229_4, 0.083_311_924_226_946_7),
    (0.587_715_757_240_762_3, 0.078_193_895_787_070_2),
    (0.663_044_266_930_215_2, 0.072_345_794_108_848_3),
    (0.732_182_118_740_289_7, 0.065_822_222_776_361_7),
    (0.794_483_795_967_942_4, 0.058_684_093_478_535_6),
    (0.849_367_613_732_57, 0.050_998_059_262_376_1),
    (0.896_321_155_766_052_1, 0.042_835_898_022_226_8),
    (0.934_906_075_937_739_7, 0.034_273_862_913_021_8),
    (0.964_762_255_587_506_4, 0.025_392_065_309_262),
    (0.985_611_511_545_268_4, 0.016_274_394_730_905_7),
    (0.997_263_861_849_481_6, 0.007_018_610_009_470_5),
];

/// A law this much narrower one way than the other is a needle, and changes across its edge within so
/// many deviations.
const NEEDLE: f64 = 0.7;
const STEP: f64 = 5.0;

/// By Gauss-Legendre quadrature with 32 points.
fn integral(from: f64, to: f64, at: impl Fn(f64) -> f64) -> f64 {
    let (middle, half) = (0.5 * (to + from), 0.5 * (to - from));
    let sum: f64 = NODES
        .iter()
        .map(|&(node, weight)| weight * (at(middle + half * node) + at(middle - half * node)))
        .sum();
    half * sum
}

impl Covariance {
    /// The chance that an error ends outside a circle about the stated position.
    ///
    /// The error is normal with this covariance and its mean `off`, east and north in metres; the
    /// circle has `radius` metres about nought. The integral over the circle is taken along the
    /// long axis, the law across it in closed form; good to 1e-8. A chance, in `[0, 1]`.
    ///
    /// Circular errors of 100 m centred on nought: one in twenty beyond 244.77 m (χ² table, two
    /// degrees of freedom).
    /// ```
    /// # use foreland::{geodesy::Covariance, units::GroundRange};
    /// let errors = Covariance::circular(GroundRange::clamped_metres(100.0));
    /// assert!((errors.chance_beyond(244.77, [0.0, 0.0]) - 0.05).abs() < 1e-5);
    /// ```
    pub fn chance_beyond(self, radius: f64, off: [f64; 2]) -> f64 {
        if radius.is_nan() || radius <= 0.0 {
            return 1.0;
        }
        let (long, short, axis) = self.axes();
        let (sin, cos) = axis.sin_cos();
        let [long, short] = [long, short].map(|variance| variance.sqrt().max(LEAST_SIGMA_M));
        // Where the edge of the circle is far from any error, there is nothing to integrate.
        let clear = radius - off[0].hypot(off[1]);
        if clear.abs() > FAR * long {
            return if clear > 0.0 { 0.0 } else { 1.0 };
        }
        let (along, across) = (off[0] * sin + off[1] * cos, off[0] * cos - off[1] * sin);
        // So far out the law is nought to fifteen places.
        let beyond = |distance: f64, sigma: f64| {
            let off = distance / sigma;
            if off > FAR { 0.0 } else { Normal::standard().sf(off) }
        };
        let low = (along - FAR * long).clamp(-radius, radius);
        let high = (along + FAR * long).clamp(-radius, radius);
        let ends = beyond(along - low, long) + beyond(high - along, long);
        // x = r sin t: the edge of the circle has no corner in t.
        let (from, to) = ((low / radius).asin(), (high / radius).asin());
        let at = |t: f64| {
            let (x, y) = (radius * t.sin(), radius * t.cos());
            let density = (-0.5 * ((x - along) / long).powi(2)).exp();
            density * y * (beyond(y - across, short) + beyond(y + across, short))
        };
        // Across a needle the law steps from nought to one within a few of its deviations: such
        // stretches are integrated by themselves.
        let step = |aside: f64| (across.abs() + aside * short) / radius;
        let steps = [-STEP, STEP].into_iter().map(step).filter(|_| short < NEEDLE * long);
        let mut ends_of: Vec<f64> = steps
            .filter(|cosine| (0.0..1.0).contains(cosine))
            .flat_map(|cosine| [-cosine.acos(), cosine.acos()])
            .filter(|t| *t > from && *t < to)
            .chain([from, to])
            .collect();
        ends_of.sort_by(f64::total_cmp);
        let sides: f64 = ends_of.windows(2).map(|pair| integral(pair[0], pair[1], at)).sum();
        let sides = sides / (long * std::f64::consts::TAU.sqrt());
        (ends + sides).clamp(0.0, 1.0)
    }

    /// The circle about the position that holds the truth with `probability`: the circular error
    /// probable at 0.5, R95 at 0.95.
    ///
    /// `probability` is held to `[0, 0.999999999]`. By false position, to a millionth of the radius.
    ///
    /// Two lines of sigma 1 NM that cross at 30°: R95 5.407 NM (computed by numerical integration).
    /// ```
    /// # use foreland::geodesy::Covariance;
    /// let lines = Covariance::from_square_miles(2.7321f64.powi(2), 0.0, 0.7321f64.powi(2))?;
    /// assert!((lines.circle(0.95).nautical_miles() - 5.407).abs() < 1e-3);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn circle(self, probability: f64) -> GroundRange {
        let left = 1.0 - probability.clamp(0.0, 0.999_999_999);
        let outside = |radius: f64| self.chance_beyond(radius, [0.0; 2]);
        GroundRange::clamped_metres(radius_where(left, CLOSE, outside).unwrap_or(FARTHEST_M))
    }
}

/// The least radius in metres at which a sum of chances, falling as it grows, is no more than
/// `chance`; none where that is farther than half the Earth.
///
/// Found to the share `close` of itself, never too small.
fn radius_where(chance: f64, close: f64, outside: impl Fn(f64) -> f64) -> Option<f64> {
    let about = radii_about(|radius| outside(radius) > chance)?;
    Some(radius_between(about, chance, close, outside))
}

/// Two radii in metres, of which something is over its limit at the first and not at the second;
/// none where it still is farther off than half the Earth.
pub(crate) fn radii_about(is_over: impl Fn(f64) -> bool) -> Option<(f64, f64)> {
    let (mut low, mut high) = (0.0, FIRST_M);
    while is_over(high) {
        low = high;
        high *= 2.0;
        if high > FARTHEST_M {
            return None;
        }
    }
    Some((low, high))
}

/// The radius between two at which a sum of chances, falling as it grows, comes to `chance`.
///
/// Found to the share `close` of itself, never too small: where the sum is under the chance at the
/// lesser one already, that is the answer.
pub(crate) fn radius_between(
    (low, high): (f64, f64),
    chance: f64,
    close: f64,
    outside: impl Fn(f64) -> f64,
) -> f64 {
    let search = Search { chance, close, outside };
    let least = search.end(low);
    if least.1 <= 0.0 { low } else { search.narrowed(least, search.end(high)) }
}

/// A search for the radius at which a falling sum of chances comes to one chance.
struct Search<F> {
    chance: f64,
    close: f64,
    outside: F,
}

/// A radius, and the logarithm of the sum there over the chance asked.
type End = (f64, f64);

impl<F: Fn(f64) -> f64> Search<F> {
    fn end(&self, radius: f64) -> End {
        (radius, ((self.outside)(radius) / self.chance).max(f64::MIN_POSITIVE).ln())
    }

    /// By false position on the logarithm, the end that stays weighed half (the Illinois way, from
    /// memory): each step a hair beyond the root to the side of the end farther off.
    fn narrowed(&self, mut low: End, mut high: End) -> f64 {
        let close = self.close;
        let mut last_was_low = None;
        while high.0 - low.0 > close * high.0 && high.0 > LEAST_SIGMA_M {
            let root = low.0 + (high.0 - low.0) * low.1 / (low.1 - high.1);
            let hair = 0.4 * close * high.0;
            let beyond = if root - low.0 < high.0 - root { root + hair } else { root - hair };
            let inside = beyond > low.0 && beyond < high.0;
            let next = self.end(if inside { beyond } else { 0.5 * (low.0 + high.0) });
            let is_low = next.1 > 0.0;
            let (moved, stays) = if is_low { (&mut low, &mut high) } else { (&mut high, &mut low) };
            *moved = next;
            if last_was_low == Some(is_low) {
                stays.1 *= 0.5;
            }
            last_was_low = Some(is_low);
        }
        high.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_needle_off_to_its_side_is_no_smooth_law() {
        // Sigma 1 along and less across, the mean 3 to the side: by a sum over 20,001 points of the law
        // along, that across in closed form; a very needle leaves at √(r² − 9), 4 and 2.6458 sigmas
        // (normal table: 3.167e-5 and 4.075e-3 each way).
        for (short, radius, beyond) in
            [(0.01, 5.0, 6.3e-5), (0.01, 4.0, 8.15e-3_f64), (0.05, 4.0, f64::NAN)]
        {
            let law = Covariance::from_square_metres(1e6, 0.0, 1e6 * short * short).unwrap();
            let found = law.chance_beyond(1e3 * radius, [0.0, 3e3]);
            let tail = |x: f64| Normal::standard().sf(x);
            let step = 16.0 / 20_000.0;
            let summed: f64 = (0..=20_000)
                .map(|i| {
                    let x = -8.0 + step * f64::from(i);
                    let y = (radius * radius - x * x).max(0.0).sqrt();
                    let out = tail((y - 3.0) / short) + tail((y + 3.0) / short);
                    let out = if x.abs() > radius { 1.0 } else { out };
                    step * out * (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt()
                })
                .sum();
            assert!((found / summed - 1.0).abs() < 2e-3, "{short} {radius}: {found} {summed}");
            assert!(beyond.is_nan() || (found / beyond - 1.0).abs() < 0.02, "{found} {beyond}");
        }
    }

    #[test]
    fn a_circle_off_the_mean_holds_what_the_law_of_one_axis_says() {
        // A needle 300 m along, its mean 200 m off along it: beyond 500 m one way at one sigma, the
        // other way at 7/3 (normal table: 0.158655 and 0.009815).
        let needle = Covariance::from_square_metres(300.0 * 300.0, 0.0, 0.0).unwrap();
        let beyond = needle.chance_beyond(500.0, [200.0, 0.0]);
        assert!((beyond - 0.158_655 - 0.009_815).abs() < 1e-5, "{beyond}");
        // Nothing to integrate: all of it is beyond, or none.
        assert!((needle.chance_beyond(500.0, [0.0, 600.0]) - 1.0).abs() < 1e-12);
        assert!((needle.chance_beyond(0.0, [0.0; 2]) - 1.0).abs() < 1e-12);
        assert!(needle.chance_beyond(1e6, [0.0; 2]) < 1e-12);
    }

    #[test]
    fn far_tails_keep_their_digits() {
        // Circular normal: exp(-k²/2) beyond k sigma.
        let errors = Covariance::from_square_metres(1e4, 0.0, 1e4).unwrap();
        for sigmas in [1.0f64, 3.0, 4.5, 6.0] {
            let law = (-0.5 * sigmas * sigmas).exp();
            let found = errors.chance_beyond(100.0 * sigmas, [0.0; 2]);
            assert!((found / law - 1.0).abs() < 1e-5, "{sigmas}: {found} {law}");
        }
        // And off the mean: the Rice law, Q(2, 5).
        let off = errors.chance_beyond(500.0, [120.0, 160.0]);
        assert!((off - RICE_2_5).abs() < 1e-8, "{off}");
    }

    /// Marcum's Q of first order at (2, 5), by `SciPy`'s non-central chi-square law.
    const RICE_2_5: f64 = 0.002_220_829_737;

    #[test]
    fn the_circle_turns_with_its_covariance() {
        let (east, tilted) = (
            Covariance::from_square_metres(9e4, 0.0, 1e4).unwrap(),
            Covariance::from_square_metres(5e4, 4e4, 5e4).unwrap(),
        );
        let apart = east.circle(0.95).metres() - tilted.circle(0.95).metres();
        assert!(apart.abs() < 1e-2, "{apart}");
    }
}
