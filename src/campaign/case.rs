//! The conditions that a landfall is made under.

use super::operator::Manner;

/// One standard deviation of a range, nautical miles, and of a bearing, degrees, as the solver is
/// told.
pub const RANGE_NM: f64 = 0.2;
/// See [`RANGE_NM`].
pub const BEARING_DEG: f64 = 1.0;
/// Of the error that all bearings share.
pub const BIAS_DEG: f64 = 1.5;
/// Of each charted point, and of the whole chart.
pub const POINT_NM: f64 = 0.10;
/// See [`POINT_NM`].
pub const SHIFT_NM: f64 = 0.05;
/// Of track and speed, where the contacts are spread over some minutes.
pub const TRACK_DEG: f64 = 3.0;
/// See [`TRACK_DEG`].
pub const SPEED_KN: f64 = 5.0;

/// What is measured of an echo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measured {
    /// Range and bearing of its leading edge; of some islets the middle.
    Edges,
    /// The same, with tangents among them, and a range of the nearest shore.
    Mixed,
    /// Ranges alone.
    Ranges,
    /// Bearings alone.
    Bearings,
}

/// The set in use and where it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carried {
    /// A built-in set, by its name.
    pub set: &'static str,
    /// Of the antenna, above the sea.
    pub height_ft: f64,
    /// The scale in use, nautical miles.
    pub reach_nm: f64,
    /// The nearest coast lies between these, nautical miles.
    pub off_nm: [f64; 2],
}

/// An aircraft with a turning beam.
pub const PATROL: Carried =
    Carried { set: "patrol", height_ft: 2_000.0, reach_nm: 40.0, off_nm: [4.0, 22.0] };
/// A small vessel.
pub const BOAT: Carried =
    Carried { set: "boat", height_ft: 50.0, reach_nm: 12.0, off_nm: [1.5, 7.0] };

/// A set with two fixed lobes and a range trace.
pub const METRIC: Carried =
    Carried { set: "metric", height_ft: 3_000.0, reach_nm: 30.0, off_nm: [4.0, 18.0] };

impl Carried {
    /// Whether echoes show on a range trace, and not on a picture.
    pub fn has_trace(&self) -> bool {
        self.set == "metric"
    }
}

/// One set of conditions.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// What it is called.
    pub name: String,
    /// The set, and where it is.
    pub carried: Carried,
    /// How many are measured.
    pub contacts: usize,
    /// Of the reckoning, nautical miles on each axis.
    pub reckoning_nm: f64,
    /// The share of contacts that are ships.
    pub ships: f64,
    /// The share of real contacts that the operator names wrongly, and rightly.
    pub wrong_names: f64,
    /// See `wrong_names`.
    pub right_names: f64,
    /// What is read of an echo.
    pub measured: Measured,
    /// What stands out less than this from the coast about it is not measured, nautical miles.
    pub least_out_nm: f64,
    /// The contacts are taken over so many minutes; none for all at one time.
    pub minutes: f64,
    /// Every error is so many times what the solver is told.
    pub truth_times: f64,
    /// The whole chart is off by this besides, nautical miles.
    pub shifted_nm: f64,
    /// The last contact is the first once more.
    pub repeats: bool,
    /// The truth is so many sigmas from the reckoning on a random side, in place of a normal draw.
    pub outside: Option<[f64; 2]>,
    /// The probability that a fix must hold.
    pub assurance: f64,
}

impl Case {
    /// Unnamed contacts of a patrol aircraft, fifteen of a hundred of them ships.
    pub fn new(contacts: usize, reckoning_nm: f64) -> Self {
        Self {
            name: format!("k{contacts}-dr{reckoning_nm:.0}"),
            carried: PATROL,
            contacts,
            reckoning_nm,
            ships: 0.15,
            wrong_names: 0.0,
            right_names: 0.0,
            measured: Measured::Edges,
            least_out_nm: 0.4,
            minutes: 0.0,
            truth_times: 1.0,
            shifted_nm: 0.0,
            repeats: false,
            outside: None,
            assurance: 0.99,
        }
    }

    /// Seconds from one contact to the next.
    pub(super) fn step_s(&self) -> f64 {
        self.minutes * 60.0 / (self.contacts.max(2) - 1) as f64
    }

    /// What is put the cursor on, and what is read of it.
    pub fn manner(&self) -> Manner {
        Manner { measured: self.measured, least_out_nm: self.least_out_nm }
    }
}
