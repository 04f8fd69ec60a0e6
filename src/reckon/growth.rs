//! What is taken to be uncertain in a reckoning, and how it grows.

use crate::units::{Angle, METRES_PER_NAUTICAL_MILE, Speed};

/// What is being reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Craft {
    /// Carried by the wind.
    Aircraft,
    /// Carried by the current, and pushed off its heading by the wind.
    Vessel,
}

impl Craft {
    /// The word for it in files.
    pub const WORDS: &[&str] = &["aircraft", "vessel"];

    /// The craft of a word.
    pub fn parse(word: &str) -> Option<Self> {
        match word {
            "aircraft" => Some(Self::Aircraft),
            "vessel" => Some(Self::Vessel),
            _ => None,
        }
    }

    /// As files and reports write it.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Aircraft => "aircraft",
            Self::Vessel => "vessel",
        }
    }

    /// What carries it.
    pub fn flow_word(self) -> &'static str {
        match self {
            Self::Aircraft => "wind",
            Self::Vessel => "current",
        }
    }
}

/// The errors of a reckoning, one standard deviation each.
///
/// The defaults are this program's own choice, in the order of what navigators' handbooks allow;
/// there is no one published source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ErrorModel {
    /// What is reckoned.
    pub craft: Craft,
    /// The bias of the heading, the same on every leg.
    pub heading_sigma: Angle,
    /// The error of the speed through air or water as a share of it, the same on every leg.
    pub speed_share: f64,
    /// The flow's error on each axis where a flow is stated without its own.
    pub flow_stated: Speed,
    /// The flow's error on each axis where no flow is stated.
    pub flow_unstated: Speed,
    /// Seconds in which the flow's error forgets itself to 1/e.
    pub flow_seconds: f64,
    /// Leeway not allowed for, as a share of the speed through the water: added to the flow's error.
    pub leeway_share: f64,
    /// What helm and gusts add, in metres in the root of a second on each axis.
    pub wander: f64,
}

/// Metres in the root of a second, from nautical miles in the root of an hour.
fn wander(miles: f64) -> f64 {
    miles * METRES_PER_NAUTICAL_MILE / 60.0
}

fn knots(value: f64) -> Speed {
    Speed::from_knots(value).unwrap_or(Speed::ZERO)
}

impl ErrorModel {
    /// The defaults of a craft.
    pub fn of(craft: Craft) -> Self {
        match craft {
            Craft::Aircraft => Self {
                craft,
                heading_sigma: Angle::from_degrees(1.5),
                speed_share: 0.02,
                flow_stated: knots(15.0),
                flow_unstated: knots(25.0),
                flow_seconds: 1.5 * 3600.0,
                leeway_share: 0.0,
                wander: wander(0.3),
            },
            Craft::Vessel => Self {
                craft,
                heading_sigma: Angle::from_degrees(1.0),
                speed_share: 0.03,
                flow_stated: knots(1.0),
                flow_unstated: knots(1.0),
                flow_seconds: 3.0 * 3600.0,
                leeway_share: 0.03,
                wander: wander(0.1),
            },
        }
    }

    /// What helm and gusts add, in nautical miles in the root of an hour.
    pub fn wander_miles(&self) -> f64 {
        self.wander * 60.0 / METRES_PER_NAUTICAL_MILE
    }

    /// The flow's error on each axis: as stated, or the default, with leeway.
    pub fn spread(&self, stated: Option<Speed>, known: bool, through: Speed) -> Speed {
        let default = if known { self.flow_stated } else { self.flow_unstated };
        let flow = stated.unwrap_or(default).knots();
        let leeway = self.leeway_share * through.knots();
        knots(flow.hypot(leeway).min(Speed::MOST_KNOTS))
    }
}

/// A first-order Gauss-Markov error of velocity on one axis, and the position error that it makes.
///
/// dv = −v/τ dt + s √(2/τ) dW, integrated exactly over a time (A. Gelb, ed., "Applied optimal
/// estimation", 1974, from memory; agrees with its own fine steps, tested). With T = dt/τ:
/// velocity s²(1 − e^−2T), both s²τ(1 − e^−T)², position s²τ²(2T − 3 + 4e^−T − e^−2T).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaussMarkov {
    /// What is left of the velocity error after the time.
    pub decay: f64,
    /// Metres of position to a metre per second of error at the start.
    pub gain: f64,
    /// New position variance, square metres.
    pub position: f64,
    /// New covariance of position and velocity.
    pub mixed: f64,
    /// New velocity variance.
    pub velocity: f64,
}

/// Below this share of τ the position term is a series: its closed form would cancel.
const SHORT: f64 = 1e-3;

impl GaussMarkov {
    /// Over `seconds`, for a steady spread `s` in metres per second and τ in seconds.
    pub fn over(seconds: f64, s: f64, tau: f64) -> Self {
        let t = seconds / tau;
        let e = (-t).exp();
        let lost = -(-t).exp_m1();
        let shape = if t < SHORT {
            t * t * t * (2.0 / 3.0 - t / 2.0)
        } else {
            2.0 * t - 3.0 + 4.0 * e - e * e
        };
        Self {
            decay: e,
            gain: tau * lost,
            position: s * s * tau * tau * shape,
            mixed: s * s * tau * lost * lost,
            velocity: -s * s * (-2.0 * t).exp_m1(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const KNOT: f64 = METRES_PER_NAUTICAL_MILE / 3600.0;

    #[test]
    fn a_wind_of_fifteen_knots_over_twenty_minutes() {
        // s 15 kn, τ 1.5 h, 20 min: √q_pp 1.77 NM (computed: 15 × 1.5 × √(2T − 3 + 4e^−T − e^−2T)).
        let grown = GaussMarkov::over(1200.0, 15.0 * KNOT, 5400.0);
        let miles = grown.position.sqrt() / METRES_PER_NAUTICAL_MILE;
        assert!((miles - 1.77).abs() < 0.02, "{miles}");
    }

    #[test]
    fn two_steps_are_one() {
        let (s, tau) = (7.0, 5400.0);
        for (first, second) in [(300.0, 900.0), (1.0, 3.0), (4000.0, 20_000.0)] {
            let (a, b) = (GaussMarkov::over(first, s, tau), GaussMarkov::over(second, s, tau));
            let whole = GaussMarkov::over(first + second, s, tau);
            let position =
                a.position + 2.0 * b.gain * a.mixed + b.gain * b.gain * a.velocity + b.position;
            let mixed = b.decay * (a.mixed + b.gain * a.velocity) + b.mixed;
            let velocity = b.decay * b.decay * a.velocity + b.velocity;
            assert!((position / whole.position - 1.0).abs() < 1e-6, "{first}");
            assert!((mixed / whole.mixed - 1.0).abs() < 1e-9, "{first}");
            assert!((velocity / whole.velocity - 1.0).abs() < 1e-9, "{first}");
        }
    }

    #[test]
    fn short_times_grow_with_the_time_and_long_ones_with_its_root() {
        // From a spread not yet known: σ ~ s·t at first, s·√(2τt) in the end (computed limits).
        let (s, tau) = (1.0, 1000.0);
        let sigma = |t: f64| {
            let grown = GaussMarkov::over(t, s, tau);
            (grown.gain * grown.gain * s * s + grown.position).sqrt()
        };
        assert!((sigma(1.0) / 1.0 - 1.0).abs() < 1e-3);
        let long = 1e7;
        assert!((sigma(long) / (s * (2.0 * tau * long).sqrt()) - 1.0).abs() < 1e-3);
    }
}
