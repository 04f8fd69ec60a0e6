use jiff::Timestamp;

use super::kinds::{BearingKind, Part};
use super::own::ReadBearing;
use crate::units::{Angle, Bearing, GroundRange, SlantRange, True};

/// One echo that the operator measured, turned to true and given its errors.
///
/// The errors are the reading's own, one standard deviation each: the bias that all bearings
/// share, the chart's errors and the reckoning's stand elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct Contact {
    /// What the operator calls it.
    pub label: String,
    /// When it was measured.
    pub time: Timestamp,
    /// Slant range as measured.
    pub range: Option<SlantRange>,
    /// Error of the range.
    pub range_sigma: GroundRange,
    /// True bearing.
    pub bearing: Option<Bearing<True>>,
    /// The bearing as it was read.
    pub as_read: Option<ReadBearing>,
    /// Error of the bearing, without the bias shared by the set.
    pub bearing_sigma: Angle,
    /// Which part of the echo was measured.
    pub part: Part,
    /// What the operator takes it for.
    pub belief: Option<Belief>,
}

/// The operator's own identification of a contact: a belief, not a fact.
#[derive(Debug, Clone, PartialEq)]
pub struct Belief {
    /// The mark's name, as given.
    pub mark: String,
    /// How sure the operator is of it, from 0 to 1.
    pub confidence: f64,
}

impl Belief {
    /// The confidence where none is stated.
    pub const CONFIDENCE: f64 = 0.95;
}

/// A contact as a person or a file gives it, before it is turned to true and given its errors.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Reading {
    /// What to call it.
    pub label: Option<String>,
    /// When it was measured; the reckoning's time where not given.
    pub time: Option<Timestamp>,
    /// Slant range in nautical miles.
    pub range_nm: Option<f64>,
    /// Bearing in degrees, and what it was counted from.
    pub bearing: Option<(f64, BearingKind)>,
    /// Error of the range, in place of the set's own.
    pub range_sigma_nm: Option<f64>,
    /// Error of the bearing, in place of the set's own.
    pub bearing_sigma_deg: Option<f64>,
    /// Which part of the echo was measured.
    pub part: Part,
    /// The mark that the operator takes it for.
    pub mark: Option<String>,
    /// How sure the operator is of it; [`Belief::CONFIDENCE`] where not given.
    pub mark_confidence: Option<f64>,
}
