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
    /// A craft of which nothing else tells, and faster than this, flies: knots.
    pub const FLIES_KN: f64 = 60.0;

    /// Nor does a vessel carry an antenna higher than this, feet: the tallest ships have theirs at some
    /// 60 m (common practice, no published source).
    pub const FLIES_FT: f64 = 200.0;

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
        knots(flow.hypot(self.leeway(through).knots()).min(Speed::MOST_KNOTS))
    }

    /// What of that is leeway, at a speed through the water.
    pub fn leeway(&self, through: Speed) -> Speed {
        knots((self.leeway_share * through.knots()).min(Speed::MOST_KNOTS))
    }
}
