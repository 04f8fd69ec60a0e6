use super::lobes::{GAUSSIAN_DB, round_gain_db};
use super::set::Set;
use crate::units::{Angle, SlantRange};

/// Boltzmann's constant in joules per kelvin (exact by definition).
const BOLTZMANN: f64 = 1.380_649e-23;

/// The standard noise temperature in kelvin (IEEE Std 686, from memory).
const NOISE_TEMPERATURE_K: f64 = 290.0;

/// Noise power of a matched source at 290 K in one hertz: -203.975 dB over a watt (computed).
pub const NOISE_POWER_DBW_PER_HZ: f64 = -203.975_187;

/// Half the power.
const HALF_DB: f64 = 3.010_3;

/// What a power ratio is in decibels.
fn decibels(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

impl Set {
    /// Bandwidth of a receiver matched to the pulse, hertz: 1/τ.
    pub fn bandwidth_hz(&self) -> f64 {
        1e6 / self.pulse_us
    }

    /// Signal over receiver noise of one echo of one pulse, on the axis and in clear air, decibels.
    ///
    /// S/N = Pₜ G² λ² σ / ((4π)³ k T₀ B F L R⁴), the monostatic radar range equation (M. I.
    /// Skolnik, *Introduction to Radar Systems*, ch. 1, from memory), T₀ = 290 K, B = 1/τ. What it
    /// leaves out comes as losses: rain, air, the beam's shape.
    ///
    /// - `cross_section_m2`: σ of the target.
    ///
    /// 1.5 MW at 5.6 GHz, 45 dB, 0.2 µs, F 3 dB, L 0 dB, 0.1 m²: 20 dB at 85.856 km (inputs from
    /// memory of a textbook's example, which prints about 86.2 km; value computed):
    /// ```
    /// # use foreland::{radar::Set, units::SlantRange};
    /// let mut set = Set::builtin("boat").ok_or("built in")?;
    /// (set.peak_power_kw, set.frequency_mhz, set.antenna_gain_dbi) = (1_500.0, 5_600.0, 45.0);
    /// (set.pulse_us, set.noise_figure_db, set.losses_db) = (0.2, 3.0, 0.0);
    /// let snr = set.signal_to_noise_db(0.1, SlantRange::from_metres(85_856.0)?);
    /// assert!((snr - 20.0).abs() < 0.02);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn signal_to_noise_db(&self, cross_section_m2: f64, range: SlantRange) -> f64 {
        let spread = 4.0 * std::f64::consts::PI;
        decibels(self.peak_power_kw * 1e3)
            + 2.0 * (self.antenna_gain_dbi + decibels(self.wavelength_m()))
            + decibels(cross_section_m2)
            - 3.0 * decibels(spread)
            - decibels(BOLTZMANN * NOISE_TEMPERATURE_K * self.bandwidth_hz())
            - self.noise_figure_db
            - self.losses_db
            - 4.0 * decibels(range.metres().max(1.0))
    }

    /// Gain lost, both ways, to looking under the axis of the elevation beam, decibels; above it,
    /// for a negative angle.
    ///
    /// A gaussian beam about the horizon, with a floor of 30 dB each way (typical). Where the set
    /// has a cosecant beam, the pattern under its half-power point falls by csc²θ as far as
    /// [`Set::cosecant_to_deg`], so that the same target at the same height sends back as much
    /// from near as from far (M. I. Skolnik, *Introduction to Radar Systems*, from memory).
    pub fn elevation_loss_db(&self, under: Angle) -> f64 {
        let widths = under.degrees() / self.elevation_beam_deg;
        let plain = 2.0 * (GAUSSIAN_DB * widths * widths).min(30.0);
        let half_deg = 0.5 * self.elevation_beam_deg;
        match self.cosecant_to_deg {
            Some(to_deg) if (half_deg..=to_deg).contains(&under.degrees()) => {
                let half = Angle::from_degrees(half_deg).radians().sin();
                let one_way = HALF_DB + 2.0 * decibels(under.radians().sin() / half);
                plain.min(2.0 * one_way)
            }
            _ => plain,
        }
    }

    /// Gain of the fixed sending beam off the bow, decibels under its axis; a turning beam points
    /// at everything in turn.
    pub fn sending_gain_db(&self, off_bow: Angle) -> f64 {
        self.lobes.map_or(0.0, |lobes| round_gain_db(off_bow, self.beam_width_deg, lobes.back_db))
    }

    /// Gain lost, both ways, to a target off the bow of a set with fixed lobes, decibels, in the
    /// better of its two lobes; a turning beam looks everywhere.
    ///
    /// The lobes are those of [`Lobes`](super::Lobes), level and with the target on the horizon;
    /// the sending beam is a like one about the bow, as wide as `beam_width_deg`, with the same
    /// floor.
    pub fn off_bow_loss_db(&self, off_bow: Angle) -> f64 {
        let Some(lobes) = self.lobes else { return 0.0 };
        let sending = self.sending_gain_db(off_bow);
        let (port, starboard) = lobes.gains_db(off_bow, Angle::ZERO, Angle::ZERO);
        -sending - port.max(starboard)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::METRES_PER_NAUTICAL_MILE;

    fn set() -> Set {
        Set::builtin("boat").unwrap()
    }

    #[test]
    fn noise_of_one_hertz() {
        // Computed: kT₀ at 290 K is 4.00388e-21 W/Hz, -173.975 dBm/Hz.
        assert!((BOLTZMANN * NOISE_TEMPERATURE_K - 4.003_88e-21).abs() < 1e-26);
        let exact = decibels(BOLTZMANN * NOISE_TEMPERATURE_K);
        assert!((exact - NOISE_POWER_DBW_PER_HZ).abs() < 1e-6);
    }

    #[test]
    fn scaling_laws() {
        // They follow from the equation: doubling the target or the power is 3.01 dB and carries
        // 1.1892 times as far; twice the range costs 12.04 dB.
        let at = |miles: f64| SlantRange::from_nautical_miles(miles).unwrap();
        let base = set().signal_to_noise_db(10.0, at(10.0));
        assert!((set().signal_to_noise_db(20.0, at(10.0)) - base - 3.0103).abs() < 1e-4);
        assert!((set().signal_to_noise_db(10.0, at(20.0)) - base + 12.0412).abs() < 1e-4);
        let stronger = Set { peak_power_kw: 2.0 * set().peak_power_kw, ..set() };
        let carried = stronger.signal_to_noise_db(10.0, at(10.0 * 2f64.powf(0.25)));
        assert!((carried - base).abs() < 1e-9);
    }

    #[test]
    fn free_space_loss_is_in_it() {
        // Computed: one way at 9.4 GHz over 10 NM, (4πR/λ)², 137.263 dB. Both ways of it and the
        // target's own gain 4πσ/λ² make the equation's spreading.
        let set = Set { frequency_mhz: 9_400.0, ..set() };
        let range = SlantRange::from_metres(10.0 * METRES_PER_NAUTICAL_MILE).unwrap();
        let target = decibels(4.0 * std::f64::consts::PI / set.wavelength_m().powi(2));
        let noise = NOISE_POWER_DBW_PER_HZ + decibels(set.bandwidth_hz());
        let expected =
            decibels(set.peak_power_kw * 1e3) + 2.0 * set.antenna_gain_dbi - 2.0 * 137.263 + target
                - noise
                - set.noise_figure_db
                - set.losses_db;
        assert!((set.signal_to_noise_db(1.0, range) - expected).abs() < 5e-3);
    }

    #[test]
    fn a_cosecant_beam_gives_the_same_echo_from_near_and_far() {
        // It follows from R = h/sin θ over a flat sea: what R⁻⁴ adds, csc⁴θ takes.
        let plain = Set { elevation_beam_deg: 6.0, ..set() };
        let shaped = Set { cosecant_to_deg: Some(40.0), ..plain.clone() };
        let height_m = 1_500.0;
        let echo = |set: &Set, deg: f64| {
            let under = Angle::from_degrees(deg);
            let range = SlantRange::from_metres(height_m / under.radians().sin()).unwrap();
            set.signal_to_noise_db(1.0, range) - set.elevation_loss_db(under)
        };
        // From where the gaussian has fallen under the cosecant; and on to its end.
        let even = echo(&shaped, 8.0);
        for deg in [10.0, 15.0, 25.0, 40.0] {
            assert!((echo(&shaped, deg) - even).abs() < 1e-6, "{deg}");
            assert!(echo(&plain, deg) < even - 3.0, "{deg}");
        }
        // Above its axis, past its end and about the axis it is the plain beam.
        for deg in [-20.0, 0.0, 2.9, 41.0] {
            let under = Angle::from_degrees(deg);
            let off = shaped.elevation_loss_db(under) - plain.elevation_loss_db(under);
            assert!(off.abs() < 1e-9, "{deg}");
        }
    }

    #[test]
    fn beams_lose_half_their_power_half_a_width_off() {
        let half = Angle::from_degrees(set().elevation_beam_deg / 2.0);
        assert!((set().elevation_loss_db(half) - 2.0 * 3.0103).abs() < 1e-3);
        let metric = Set::builtin("metric").unwrap();
        assert!(
            metric.off_bow_loss_db(Angle::from_degrees(120.0))
                > metric.off_bow_loss_db(Angle::from_degrees(10.0)) + 10.0
        );
        assert!(set().off_bow_loss_db(Angle::from_degrees(120.0)).abs() < 1e-12);
    }
}
