use std::path::Path;

use super::lobes::Lobes;
use super::set_file::{self, SetError};
use super::set_text;
use crate::units::{METRES_PER_NAUTICAL_MILE, SlantRange};

/// The speed of light in metres per second (exact by definition).
const LIGHT_M_PER_S: f64 = 299_792_458.0;

/// The length in metres of a wave of so many megahertz.
pub(super) fn wavelength_m(frequency_mhz: f64) -> f64 {
    LIGHT_M_PER_S / (frequency_mhz * 1e6)
}

/// The figures of one radar, as its file gives them: the unit stands in each name.
#[derive(Debug, Clone, PartialEq)]
pub struct Set {
    /// What the set is called.
    pub name: String,
    /// How it looks round.
    pub kind: SetKind,
    /// Carrier frequency in megahertz.
    pub frequency_mhz: f64,
    /// Of the wave sent and received.
    pub polarisation: Polarisation,
    /// Power within the pulse, kilowatts.
    pub peak_power_kw: f64,
    /// Gain on the axis, sending and receiving, decibels over isotropic.
    pub antenna_gain_dbi: f64,
    /// Horizontal beam, one way, between the half-power points, degrees.
    pub beam_width_deg: f64,
    /// Vertical beam, likewise, its axis on the horizon.
    pub elevation_beam_deg: f64,
    /// Down to so many degrees under the horizon the vertical beam falls by the square of the
    /// cosecant, as aircraft sets are shaped; `None` for a plain beam.
    pub cosecant_to_deg: Option<f64>,
    /// Length of the pulse in microseconds.
    pub pulse_us: f64,
    /// Pulses a second.
    pub pulse_rate_hz: f64,
    /// Turns a minute; `None` for lobes.
    pub scan_rpm: Option<f64>,
    /// Noise figure of the receiver, decibels.
    pub noise_figure_db: f64,
    /// All losses of the set itself, two way, decibels.
    pub losses_db: f64,
    /// The ranges its screen can be set to, nautical miles, ascending.
    pub scales_nm: Vec<f64>,
    /// Nearer than this nothing shows, nautical miles.
    pub min_range_nm: f64,
    /// Fixed part of the error of a range as read, one standard deviation, nautical miles.
    pub range_sigma_nm: f64,
    /// Part of that error that grows with the scale in use, as a share of it.
    pub range_sigma_share: f64,
    /// Error of a bearing as read, one standard deviation, degrees.
    pub bearing_sigma_deg: f64,
    /// The least and the most antenna height that the set is meant for, feet; `None` where nothing
    /// is stated.
    pub usable_height_ft: Option<(f64, f64)>,
    /// The two receiving lobes of a set of kind [`SetKind::Lobes`].
    pub lobes: Option<Lobes>,
}

/// How a set looks round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SetKind {
    /// A turning beam and a plan picture.
    Scan,
    /// Two fixed lobes and a range trace.
    Lobes,
}

impl SetKind {
    /// As files write it.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Scan => "scan",
            Self::Lobes => "lobes",
        }
    }
}

/// The plane of the electric field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Polarisation {
    /// Level.
    Horizontal,
    /// Upright.
    Vertical,
}

impl Polarisation {
    /// As files write it.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Horizontal => "horizontal",
            Self::Vertical => "vertical",
        }
    }
}

impl Set {
    /// The built-in sets.
    pub const NAMES: [&'static str; 3] = ["metric", "patrol", "boat"];

    /// One of [`Set::NAMES`].
    pub fn builtin(name: &str) -> Option<Self> {
        set_file::parse(Self::builtin_text(name)?, name).ok()
    }

    /// The file of a built-in set, with the source of each figure beside it: one to start from.
    pub fn builtin_text(name: &str) -> Option<&'static str> {
        match name {
            "metric" => Some(include_str!("sets/metric.toml")),
            "patrol" => Some(include_str!("sets/patrol.toml")),
            "boat" => Some(include_str!("sets/boat.toml")),
            _ => None,
        }
    }

    /// A built-in set by its name, or the set of a file, its path counted from `base`.
    ///
    /// # Errors
    /// Neither a built-in name nor a file that can be read, or the file's own faults.
    pub fn resolve(name_or_path: &str, base: &Path) -> Result<Self, SetError> {
        match Self::builtin(name_or_path) {
            Some(set) => Ok(set),
            None => set_file::read(name_or_path, base),
        }
    }

    /// A set from the text of its file.
    ///
    /// # Errors
    /// No TOML, or figures that are missing, unknown or none: all of them, each with its line.
    pub fn parse(text: &str, origin: &str) -> Result<Self, SetError> {
        set_file::parse(text, origin)
    }

    /// The text of a file that reads back as this set.
    pub fn to_toml(&self) -> String {
        set_text::write(self)
    }

    /// The wave's length in metres.
    pub fn wavelength_m(&self) -> f64 {
        wavelength_m(self.frequency_mhz)
    }

    /// How long the pulse lies in range: c·τ/2, metres.
    pub fn pulse_length_m(&self) -> f64 {
        LIGHT_M_PER_S * self.pulse_us * 1e-6 / 2.0
    }

    /// The range from which an echo comes back as the next pulse leaves: c/2f.
    ///
    /// 500 pulses a second (computed):
    /// ```
    /// # use foreland::radar::Set;
    /// let mut set = Set::builtin("patrol").ok_or("built in")?;
    /// set.pulse_rate_hz = 500.0;
    /// assert!((set.unambiguous_range().nautical_miles() - 161.88).abs() < 0.006);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn unambiguous_range(&self) -> SlantRange {
        SlantRange::clamped_metres(LIGHT_M_PER_S / (2.0 * self.pulse_rate_hz))
    }

    /// Nearer than this the set shows nothing: its least range, or where the pulse is still going
    /// out, whichever is more.
    pub fn blind_range(&self) -> SlantRange {
        let least_m = self.min_range_nm * METRES_PER_NAUTICAL_MILE;
        SlantRange::clamped_metres(least_m.max(self.pulse_length_m()))
    }

    /// Where the echo of a range stands on the trace: what comes back after further pulses have
    /// left is shown as much nearer as they are apart (a second-time echo, of the second pulse).
    pub fn appears_at(&self, range: SlantRange) -> SlantRange {
        SlantRange::clamped_metres(range.metres() % self.unambiguous_range().metres())
    }

    /// No vessel carries an antenna higher than this, feet: common practice, no published source.
    pub const MOST_MAST_FT: f64 = 300.0;

    /// Whether its figures say that it is carried by an aircraft: a beam shaped downward, or no use as
    /// low as a mast.
    pub fn is_airborne(&self) -> bool {
        let high = self.usable_height_ft.is_some_and(|(least, _)| least > Self::MOST_MAST_FT);
        self.cosecant_to_deg.is_some() || high
    }

    /// Whether the receiver is shut as the echo of a range comes in: near the antenna, and near
    /// each range at which the next pulse goes out.
    pub fn is_blind_at(&self, range: SlantRange) -> bool {
        self.appears_at(range) < self.blind_range()
    }

    /// The largest of its scales.
    pub fn greatest_scale(&self) -> SlantRange {
        let miles = self.scales_nm.iter().copied().fold(0.0, f64::max);
        SlantRange::clamped_metres(miles * METRES_PER_NAUTICAL_MILE)
    }

    /// The smallest scale on which a range shows, in nautical miles; past them all, the largest.
    pub fn smallest_scale_holding(&self, range: SlantRange) -> f64 {
        let miles = range.nautical_miles();
        let holding = self.scales_nm.iter().copied().find(|scale| *scale >= miles);
        holding.unwrap_or_else(|| self.greatest_scale().nautical_miles())
    }

    /// The error of a range as read: the fixed part and the share of the smallest scale that holds
    /// it, one standard deviation in metres.
    pub fn range_sigma(&self, range: SlantRange) -> f64 {
        let of_scale = self.range_sigma_share * self.smallest_scale_holding(range);
        self.range_sigma_nm.hypot(of_scale) * METRES_PER_NAUTICAL_MILE
    }

    /// Pulses that strike a target while the beam passes over it.
    ///
    /// A turning beam: width × pulse rate / (6 × turns a minute). Fixed lobes: what the eye adds
    /// up on the trace, a tenth of a second (typical), half of it for each lobe.
    pub fn pulses_on_target(&self) -> u32 {
        /// Beyond this more pulses hardly help, and land no longer answers alike.
        const MOST: f64 = 256.0;
        let pulses = match self.scan_rpm {
            Some(rpm) => self.beam_width_deg * self.pulse_rate_hz / (6.0 * rpm),
            None => 0.05 * self.pulse_rate_hz,
        };
        pulses.round().clamp(1.0, MOST) as u32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn built_in_sets_read_and_say_who_they_are() {
        for name in Set::NAMES {
            let set = Set::builtin(name).unwrap();
            assert_eq!(set.name, name);
            let again = Set::parse(&set.to_toml(), "again").unwrap();
            assert_eq!(set, again);
        }
        assert_eq!(Set::builtin("metric").unwrap().kind, SetKind::Lobes);
        assert!(Set::builtin("ferry").is_none());
    }

    #[test]
    fn timing_and_resolution() {
        // Computed from c; the rounded figures are handbook staples.
        let mut set = Set::builtin("boat").unwrap();
        let rates = [
            (500.0, 161.88),
            (750.0, 107.92),
            (1_000.0, 80.94),
            (1_500.0, 53.96),
            (2_000.0, 40.47),
            (3_000.0, 26.98),
        ];
        for (rate, miles) in rates {
            set.pulse_rate_hz = rate;
            assert!((set.unambiguous_range().nautical_miles() - miles).abs() < 0.006, "{rate}");
        }
        let pulses = [
            (0.05, 7.495),
            (0.08, 11.99),
            (0.25, 37.47),
            (0.5, 74.95),
            (0.8, 119.9),
            (1.0, 149.9),
            (1.2, 179.9),
        ];
        for (micros, metres) in pulses {
            set.pulse_us = micros;
            assert!((set.pulse_length_m() - metres).abs() < 0.05, "{micros}");
        }
    }

    #[test]
    fn echoes_after_the_next_pulse_stand_too_near_and_blind_ranges_come_again() {
        // c/2f (computed): 500 pulses a second are 161.88 NM apart.
        let mut set = Set::builtin("patrol").unwrap();
        (set.pulse_rate_hz, set.min_range_nm) = (500.0, 0.25);
        let at = |miles| SlantRange::from_nautical_miles(miles).unwrap();
        assert!((set.appears_at(at(170.0)).nautical_miles() - 8.12).abs() < 0.01);
        assert!((set.appears_at(at(100.0)).nautical_miles() - 100.0).abs() < 1e-9);
        for (miles, blind) in [(0.2, true), (0.3, false), (162.0, true), (162.3, false)] {
            assert_eq!(set.is_blind_at(at(miles)), blind, "{miles}");
        }
        // A pulse of 10 µs lies 0.81 NM long (computed): longer than the least range.
        set.pulse_us = 10.0;
        assert!((set.blind_range().nautical_miles() - 0.809).abs() < 1e-3);
    }

    #[test]
    fn reading_errors_take_the_smallest_scale_that_holds_the_contact() {
        // IMO MSC.64(67) Annex 4 para 3.4.3 (seen): 30 m or 1 % of the scale in use. Taken as a
        // 95 % figure, half of it is one standard deviation: 0.5 % of 12 NM is 111.1 m (computed).
        let mut set = Set::builtin("boat").unwrap();
        set.scales_nm = vec![6.0, 12.0, 24.0];
        set.range_sigma_nm = 0.0;
        set.range_sigma_share = 0.005;
        let at = |miles| SlantRange::from_nautical_miles(miles).unwrap();
        assert!((set.range_sigma(at(6.1)) - 111.12).abs() < 0.01);
        assert!((set.smallest_scale_holding(at(6.0)) - 6.0).abs() < 1e-12);
        assert!((set.smallest_scale_holding(at(40.0)) - 24.0).abs() < 1e-12);
    }
}
