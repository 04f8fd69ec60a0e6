use std::fmt;

use super::own::Own;
use crate::radar::geometry::depression;
use crate::radar::{LobeBearing, Lobes};
use crate::units::{
    Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, SlantRange, True,
};

/// The two deflections of an echo on the range trace, in any one unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deflections {
    /// To the left of the trace.
    pub port: f64,
    /// To the right of it.
    pub starboard: f64,
}

impl Deflections {
    /// The side whose deflection is no deflection: not above zero, or no number.
    pub fn unread(self) -> Option<(&'static str, f64)> {
        [("port", self.port), ("starboard", self.starboard)]
            .into_iter()
            .find(|(_, value)| !(value.is_finite() && *value > 0.0))
    }

    /// 20 log₁₀(port/starboard), decibels: a deflection is proportional to voltage.
    pub fn ratio_db(self) -> f64 {
        20.0 * (self.port / self.starboard).log10()
    }
}

/// As read: `3/2`.
impl fmt::Display for Deflections {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.port, self.starboard)
    }
}

/// What the two deflections of a contact measured: a ratio, and the lobes it was read with, as they
/// lay at that moment.
#[derive(Debug, Clone, PartialEq)]
pub struct LobeReading {
    /// As read.
    pub deflections: Deflections,
    /// The lobes of the set in use.
    pub lobes: Lobes,
    /// True heading.
    pub heading: Bearing<True>,
    /// Right wing down positive.
    pub bank: Angle,
    /// Every bearing from the bow that the ratio allows, the nearest to the bow first.
    pub bearings: Vec<LobeBearing>,
}

impl LobeReading {
    /// The reading of a set with these lobes on this heading, of an echo at sea level at the range
    /// measured; without one, on the horizon.
    pub fn new(
        deflections: Deflections,
        lobes: Lobes,
        own: &Own,
        heading: Bearing<True>,
        range: Option<SlantRange>,
    ) -> Self {
        let down = range.map_or(Angle::ZERO, |range| depression_at(own.height, range));
        let bearings = lobes.bearings_for(deflections.ratio_db(), down, own.bank);
        Self { deflections, lobes, heading, bank: own.bank, bearings }
    }

    /// 20 log₁₀(port/starboard), decibels.
    pub fn ratio_db(&self) -> f64 {
        self.deflections.ratio_db()
    }

    /// Every bearing that the ratio allows, turned to true, with its own error.
    pub fn true_bearings(&self) -> impl Iterator<Item = (Bearing<True>, Angle)> + '_ {
        self.bearings.iter().map(|b| (b.relative.to_true(self.heading), b.sigma))
    }

    /// `3.5 dB port`: which deflection is the greater, and by how much.
    pub fn ratio_words(&self) -> String {
        ratio_words(self.ratio_db())
    }

    /// The bearings from the bow, as spoken.
    pub fn relative_words(&self) -> String {
        either(self.bearings.iter().map(|b| b.relative.to_string()))
    }

    /// The bearings from true north, as spoken.
    pub fn true_words(&self) -> String {
        either(self.true_bearings().map(|(bearing, _)| bearing.to_string()))
    }

    /// How the deflections came to be bearings: `deflections 3/2, 3.5 dB port, R 348.0 or 267.8,
    /// heading T 070.0, T 058.0 or 337.8`.
    pub fn chain(&self) -> String {
        let bank = self.bank.degrees();
        let banked = if bank == 0.0 { String::new() } else { format!(", bank {}", side(bank)) };
        format!(
            "deflections {}, {}{banked}, R {}, heading T {}, T {}",
            self.deflections,
            self.ratio_words(),
            self.relative_words(),
            self.heading,
            self.true_words()
        )
    }
}

/// `3.5 dB port`; `equal` where no tenth of a decibel is left.
fn ratio_words(ratio_db: f64) -> String {
    let tenths = (ratio_db.abs() * 10.0).round() / 10.0;
    let side = if ratio_db > 0.0 { "port" } else { "starboard" };
    if tenths < 0.05 { "equal".to_owned() } else { format!("{tenths:.1} dB {side}") }
}

/// `10° right wing down`.
fn side(bank_deg: f64) -> String {
    let wing = if bank_deg > 0.0 { "right" } else { "left" };
    format!("{:.0}° {wing} wing down", bank_deg.abs())
}

/// `A`, `A or B`.
fn either(words: impl Iterator<Item = String>) -> String {
    words.collect::<Vec<_>>().join(" or ")
}

/// The depression of an echo at sea level at a slant range.
fn depression_at(own: Height, range: SlantRange) -> Angle {
    let (up, far) = (own.metres(), range.metres());
    let along = GroundRange::clamped_metres((far * far - up * up).max(0.0).sqrt());
    depression(own, Height::SEA_LEVEL, along)
}

/// The greatest ratio that lobes can give, either way, decibels, to a quarter of a degree.
pub(super) fn greatest_ratio_db(lobes: &Lobes, own: &Own, range_nm: Option<f64>) -> f64 {
    let range = range_nm.map(|nm| SlantRange::clamped_metres(nm * METRES_PER_NAUTICAL_MILE));
    let down = range.map_or(Angle::ZERO, |range| depression_at(own.height, range));
    (0..1440)
        .map(|quarter| Angle::from_degrees(f64::from(quarter) * 0.25))
        .map(|relative| lobes.ratio_db(relative, down, own.bank).abs())
        .fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::radar::Set;

    fn reading(port: f64, starboard: f64) -> LobeReading {
        let own = Own::at_height(Height::from_feet(2000.0).unwrap());
        let lobes = Set::builtin("metric").unwrap().lobes.unwrap();
        let heading = Bearing::from_degrees(70.0).unwrap();
        let range = SlantRange::from_nautical_miles(30.5).ok();
        LobeReading::new(Deflections { port, starboard }, lobes, &own, heading, range)
    }

    #[test]
    fn the_chain_says_both_bearings() {
        // Level 11.97° and 92.19° to port (computed in `radar::lobes`); an echo 0.9° under the
        // horizon moves them by under a tenth.
        assert_eq!(
            reading(3.0, 2.0).chain(),
            "deflections 3/2, 3.5 dB port, R 348.0 or 267.8, heading T 070.0, T 058.0 or 337.8"
        );
        assert_eq!(
            reading(2.0, 2.0).chain(),
            "deflections 2/2, equal, R 000.0, heading T 070.0, T 070.0"
        );
    }

    #[test]
    fn a_deflection_of_nothing_is_none() {
        assert_eq!(Deflections { port: 3.0, starboard: 0.0 }.unread(), Some(("starboard", 0.0)));
        assert!(Deflections { port: f64::INFINITY, starboard: 1.0 }.unread().is_some());
        assert_eq!(Deflections { port: 3.0, starboard: 2.0 }.unread(), None);
    }
}
