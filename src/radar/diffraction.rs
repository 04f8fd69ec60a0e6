//! What still arrives behind an edge, or past the horizon.

use super::horizon::EffectiveEarth;
use super::set::Polarisation;
use crate::units::Height;

/// From here down a ray clears the edge and loses nothing: where the approximation passes zero.
const CLEAR: f64 = -0.78;

/// 6.9 dB both ways, as a share of power.
const AT_EDGE: f64 = 0.041_686_9;

/// The parameter `v` of a knife edge: v = h·√(2(d₁+d₂)/(λ d₁ d₂)) (ITU-R P.526, from memory).
///
/// - `above_m`: the edge above the straight line between the two ends; negative where it clears.
/// - `to_edge_m`, `beyond_m`: from the antenna to the edge, and on to the target.
pub fn knife_edge_v(above_m: f64, to_edge_m: f64, beyond_m: f64, wavelength_m: f64) -> f64 {
    above_m * (2.0 * (to_edge_m + beyond_m) / (wavelength_m * to_edge_m * beyond_m)).sqrt()
}

/// What a knife edge takes from a wave, one way, in decibels.
///
/// J(v) = 6.9 + 20 log₁₀(√((v − 0.1)² + 1) + v − 0.1) for v above -0.78 and nothing below (ITU-R
/// P.526, from memory): within 0.13 dB of the Fresnel integrals from -0.7 to 10.
///
/// Grazing the edge costs half the field, 6.02 dB (exact):
/// ```
/// # use foreland::radar::knife_edge_loss_db;
/// assert!((knife_edge_loss_db(0.0) - 6.02).abs() < 0.13);
/// ```
pub fn knife_edge_loss_db(v: f64) -> f64 {
    if v <= CLEAR { 0.0 } else { (6.9 + 20.0 * spread(v).log10()).max(0.0) }
}

/// √((v − 0.1)² + 1) + v − 0.1.
fn spread(v: f64) -> f64 {
    let u = v - 0.1;
    u + u.hypot(1.0)
}

/// The share of power left there and back over a knife edge.
pub fn knife_edge_both_ways(v: f64) -> f64 {
    if v <= CLEAR { 1.0 } else { (AT_EDGE * spread(v).powi(-4)).min(1.0) }
}

/// The integral of [`knife_edge_both_ways`] from one `v` to a greater: what a face that stands
/// across the edge of a shadow sends back.
///
/// In closed form: with v − 0.1 = sinh s the integrand is e^(−4s) cosh s.
pub fn knife_edge_sum(from: f64, to: f64) -> f64 {
    let beyond = |v: f64| {
        let x = spread(v.max(CLEAR)).recip();
        let cube = x * x * x;
        AT_EDGE * cube * (1.0 / 6.0 + 0.1 * x * x)
    };
    let clear = (to.min(CLEAR) - from).max(0.0);
    clear + (beyond(from) - beyond(to)).max(0.0)
}

/// What the curve of a smooth sea takes from a wave past the horizon.
///
/// ITU-R P.526, the residue-series method of its section 3.1.1 (formulas from memory; values held
/// as a regression anchor only, nothing published was seen). Meant for targets past the horizon.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SmoothSea {
    /// X for each kilometre.
    x_per_km: f64,
    /// Y for each metre.
    y_per_m: f64,
    beta: f64,
    least_gain_db: f64,
    own_gain_db: f64,
}

impl SmoothSea {
    /// For one antenna. Sea water by its electrical constants: relative permittivity 80 and 5 S/m
    /// below 3 GHz, 60 and 15 S/m from there on (from memory, of ITU-R P.527).
    pub fn new(
        earth: EffectiveEarth,
        frequency_mhz: f64,
        polarisation: Polarisation,
        own: Height,
    ) -> Self {
        let water = if frequency_mhz < 3_000.0 { (80.0, 5.0) } else { (60.0, 15.0) };
        Self::over(water, earth.radius_m() / 1e3, frequency_mhz / 1e3, polarisation, own)
    }

    fn over(
        (permittivity, siemens): (f64, f64),
        radius_km: f64,
        ghz: f64,
        polarisation: Polarisation,
        own: Height,
    ) -> Self {
        let conduction = 18.0 * siemens / ghz;
        let level = 0.36
            * (radius_km * ghz).powf(-1.0 / 3.0)
            * ((permittivity - 1.0).powi(2) + conduction * conduction).powf(-0.25);
        let k = match polarisation {
            Polarisation::Horizontal => level,
            Polarisation::Vertical => level * permittivity.hypot(conduction),
        };
        let k2 = k * k;
        let beta = (1.0 + 1.6 * k2 + 0.67 * k2 * k2) / (1.0 + 4.5 * k2 + 1.53 * k2 * k2);
        let mut sea = Self {
            x_per_km: 21.88 * beta * (ghz / (radius_km * radius_km)).cbrt(),
            y_per_m: 0.9575 * beta * (ghz * ghz / radius_km).cbrt(),
            beta,
            least_gain_db: 2.0 + 20.0 * k.log10(),
            own_gain_db: 0.0,
        };
        sea.own_gain_db = sea.gain_db(own.metres());
        sea
    }

    /// The gain of a height.
    fn gain_db(&self, height_m: f64) -> f64 {
        let b = self.beta * self.y_per_m * height_m.max(0.0);
        let gain = if b > 2.0 {
            17.6 * (b - 1.1).sqrt() - 5.0 * (b - 1.1).log10() - 8.0
        } else {
            20.0 * (b + 0.1 * b * b * b).log10()
        };
        gain.max(self.least_gain_db)
    }

    /// One way, over free space, in decibels; never less than nothing.
    pub fn loss_db(&self, along_m: f64, target_m: f64) -> f64 {
        let x = (self.x_per_km * along_m / 1e3).max(1e-6);
        let distance = if x >= 1.6 {
            11.0 + 10.0 * x.log10() - 17.6 * x
        } else {
            -20.0 * x.log10() - 5.6488 * x.powf(1.425)
        };
        (-distance - self.own_gain_db - self.gain_db(target_m)).max(0.0)
    }

    /// The height within which what arrives falls off by some decibels, metres.
    pub fn scale_m(&self) -> f64 {
        1.0 / self.y_per_m
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// v, the loss by Fresnel integrals (value of an independent library), and by the
    /// approximation (computed).
    const KNIFE: [(f64, f64, f64); 10] = [
        (-0.7, 0.466, 0.536),
        (-0.5, 1.859, 1.959),
        (0.0, 6.021, 6.033),
        (0.5, 10.234, 10.288),
        (1.0, 13.864, 13.926),
        (2.0, 19.091, 19.043),
        (2.4, 20.618, 20.539),
        (3.0, 22.522, 22.416),
        (5.0, 26.936, 26.814),
        (10.0, 32.954, 32.855),
    ];

    #[test]
    fn a_knife_edge_takes_what_the_fresnel_integrals_say() {
        for (v, exact, printed) in KNIFE {
            let found = knife_edge_loss_db(v);
            assert!((found - printed).abs() < 6e-4, "{v}: {found}");
            assert!((found - exact).abs() < 0.13, "{v}: {found}");
        }
        assert!(knife_edge_loss_db(-1.0).abs() < 1e-12);
    }

    #[test]
    fn the_exact_column_by_the_integrals_themselves() {
        // |E/E₀|² = ((1 - C - S)² + (C - S)²)/4, C and S by Simpson's rule here.
        for (v, exact, _) in KNIFE {
            let steps = 20_000;
            let h = v / f64::from(steps);
            let (mut c, mut s) = (0.0, 0.0);
            for i in 0..=steps {
                let weight = match i {
                    0 => 1.0,
                    i if i == steps => 1.0,
                    i if i % 2 == 1 => 4.0,
                    _ => 2.0,
                };
                let angle = std::f64::consts::FRAC_PI_2 * (f64::from(i) * h).powi(2);
                c += weight * angle.cos();
                s += weight * angle.sin();
            }
            (c, s) = (c * h / 3.0, s * h / 3.0);
            let share: f64 = ((1.0 - c - s).powi(2) + (c - s).powi(2)) / 4.0;
            assert!((-10.0 * share.log10() - exact).abs() < 1e-3, "{v} {share}");
        }
    }

    #[test]
    fn both_ways_is_twice_the_loss_and_its_sum_is_its_integral() {
        for (v, _, _) in KNIFE {
            let twice = -10.0 * knife_edge_both_ways(v).log10();
            assert!((twice - 2.0 * knife_edge_loss_db(v)).abs() < 1e-3, "{v}");
        }
        for (from, to) in [(-3.0, 4.0), (-3.0, -1.0), (0.0, 0.5), (2.0, 6.0), (-0.78, 0.0)] {
            let step = (to - from) / 20_000.0;
            let sum: f64 = (0..20_000)
                .map(|i| step * knife_edge_both_ways(from + (f64::from(i) + 0.5) * step))
                .sum();
            let found = knife_edge_sum(from, to);
            assert!((found - sum).abs() < 1e-5 + 1e-3 * sum, "{from} {to}: {found} {sum}");
        }
    }

    #[test]
    fn past_the_horizon_the_sea_takes_what_it_took() {
        // A regression anchor, no published value: computed once from the same formulas, with
        // εr = 60, σ = 15 S/m, an effective radius of 8,500 km, 9.4 GHz. km, m, m, level, upright.
        let table = [
            (40.0, 15.0, 6.0, 41.79, 41.53),
            (60.0, 15.0, 60.0, 36.05, 35.78),
            (100.0, 15.0, 100.0, 94.29, 93.21),
            (150.0, 300.0, 100.0, 84.48, 83.49),
        ];
        for (km, own, target, level, upright) in table {
            let own = Height::from_metres(own).unwrap();
            for (polarisation, expected) in
                [(Polarisation::Horizontal, level), (Polarisation::Vertical, upright)]
            {
                let sea = SmoothSea::over((60.0, 15.0), 8_500.0, 9.4, polarisation, own);
                let found = sea.loss_db(km * 1e3, target);
                assert!((found - expected).abs() < 0.1, "{km} {polarisation:?}: {found}");
            }
        }
        let own = Height::from_metres(15.0).unwrap();
        let sea = SmoothSea::over((60.0, 15.0), 8_500.0, 9.4, Polarisation::Horizontal, own);
        assert!((sea.x_per_km * 40.0 - 4.4348).abs() < 1e-3);
        assert!((sea.y_per_m * 15.0 - 3.1345).abs() < 1e-3);
    }

    #[test]
    fn farther_and_lower_is_darker() {
        let own = Height::from_metres(15.0).unwrap();
        let earth = EffectiveEarth::standard();
        for mhz in [200.0, 3_000.0, 9_400.0] {
            let sea = SmoothSea::new(earth, mhz, Polarisation::Horizontal, own);
            let by_range: Vec<f64> =
                (40..120).map(|km| sea.loss_db(f64::from(km) * 1e3, 30.0)).collect();
            assert!(by_range.windows(2).all(|pair| pair[0] <= pair[1]), "{mhz}");
            let by_height: Vec<f64> =
                (0..60).map(|m| sea.loss_db(60_000.0, f64::from(m))).collect();
            assert!(by_height.windows(2).all(|pair| pair[0] >= pair[1] - 0.2), "{mhz}");
        }
        // Longer waves bend farther.
        let at = |mhz| SmoothSea::new(earth, mhz, Polarisation::Horizontal, own);
        assert!(at(200.0).loss_db(60_000.0, 30.0) + 10.0 < at(9_400.0).loss_db(60_000.0, 30.0));
    }
}
