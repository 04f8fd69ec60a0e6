//! What is foretold of marks and shore, as it is handed on.

use crate::chart::MarkId;
use crate::units::{Bearing, GroundRange, Relative, SlantRange, True};

/// The chance from which a mark may show.
pub(super) const MAY_SHOW: f64 = 0.2;

/// What should paint from one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Expectation {
    /// How far the sea itself is in sight.
    pub horizon: GroundRange,
    /// Every mark within reach, nearest first, hidden ones too.
    pub marks: Vec<ExpectedMark>,
    /// A row for each bearing on which land paints.
    pub coast: Vec<ExpectedCoast>,
    /// Marks, near and far, that show at a false range: those past the next pulse.
    pub second_time: Vec<ExpectedMark>,
    /// What an operator must know of these figures.
    pub cautions: Vec<String>,
}

/// One mark as it should show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExpectedMark {
    /// Which.
    pub mark: MarkId,
    /// Straight to its top.
    pub range: SlantRange,
    /// Along the ground.
    pub ground_range: GroundRange,
    /// From the antenna.
    pub bearing: Bearing<True>,
    /// Off own bow, where a heading is known.
    pub relative: Option<Bearing<Relative>>,
    /// `None` where nothing reaches it, in sight or over an edge.
    pub signal_to_noise_db: Option<f64>,
    /// Over sea and rain in the same cell; `None` where neither returns from there.
    pub signal_to_clutter_db: Option<f64>,
    /// Chance that it shows.
    pub paint_probability: f64,
    /// What becomes of it, and why.
    pub outcome: Outcome,
    /// Where and how likely it shows too near, having come back after the next pulse.
    pub second_time: Option<SecondTime>,
}

/// An echo that comes back after the next pulse or a later one, and so stands at a false range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SecondTime {
    /// Where it stands on the screen.
    pub appears: SlantRange,
    /// Chance that it shows there.
    pub paint_probability: f64,
}

/// The nearest land that paints on one bearing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExpectedCoast {
    /// A whole multiple of the step.
    pub bearing: Bearing<True>,
    /// To the nearest painted land within half a beam, as on the screen.
    pub range: SlantRange,
    /// From there to the first half mile without.
    pub depth: GroundRange,
    /// Of its strongest cell.
    pub signal_to_noise_db: f64,
    /// Of the same.
    pub paint_probability: f64,
}

/// What becomes of a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Outcome {
    /// It shows: a chance of 0.8 or more.
    Paints,
    /// It may show: a chance of 0.2 to 0.8.
    Doubtful,
    /// The curve of the Earth hides it.
    BelowHorizon,
    /// Ground before it hides it.
    Shadowed,
    /// Its echo is under the noise.
    TooWeak,
    /// Its echo is under the return of the sea or of rain.
    InClutter,
    /// Nearer than the set shows anything, off its scales, or past the next pulse.
    OutOfRange,
}

impl Outcome {
    /// As reports write it.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Paints => "paints",
            Self::Doubtful => "doubtful",
            Self::BelowHorizon => "below-horizon",
            Self::Shadowed => "shadowed",
            Self::TooWeak => "too-weak",
            Self::InClutter => "in-clutter",
            Self::OutOfRange => "out-of-range",
        }
    }

    /// Of a mark in sight, by its chance with and without the return of sea and rain.
    pub(super) fn of_chance(chance: f64, without_clutter: f64) -> Self {
        if chance >= 0.8 {
            Self::Paints
        } else if chance >= MAY_SHOW {
            Self::Doubtful
        } else if without_clutter >= MAY_SHOW {
            Self::InClutter
        } else {
            Self::TooWeak
        }
    }
}
