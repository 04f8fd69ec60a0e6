use jiff::Timestamp;

use super::grade::Grade;
use super::landfall::Landfall;
use crate::geodesy::{Covariance, Ellipse, Position};
use crate::units::{Angle, Bearing, GroundRange, SlantRange, True};

/// What the asker decides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// The probability a position must hold to be stated as the fix; held to 0.9 to 0.9999.
    pub assurance: f64,
    /// The time that everything is carried to; the latest contact's where none is given.
    pub time: Option<Timestamp>,
    /// The chance, for each fix, that the error exceeds the protection radius.
    pub risk: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self { assurance: 0.99, time: None, risk: 1e-3 }
    }
}

/// What a set of contacts comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// One position holds the asked assurance, and the contacts fix it in both directions.
    Fixed,
    /// Two or more positions, or sets of identities, still fit.
    Ambiguous,
    /// What was measured leaves a direction free, or nearly.
    TooFew,
    /// Contacts disagree: with each other, with a name, with the chart or with the reckoning.
    AtOdds,
}

impl Verdict {
    /// The word used in every report.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Fixed => "fixed",
            Self::Ambiguous => "ambiguous",
            Self::TooFew => "too-few",
            Self::AtOdds => "at-odds",
        }
    }
}

/// A position and how uncertain it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Where.
    pub position: Position,
    /// East and north errors at that place.
    pub covariance: Covariance,
}

impl Estimate {
    /// The ellipse that holds the truth with a probability of 95 %.
    pub fn ellipse(&self) -> Ellipse {
        self.covariance.ellipse(0.95)
    }
}

/// Which mark a contact is.
#[derive(Debug, Clone, PartialEq)]
pub struct Identity {
    /// The contact's label.
    pub contact: String,
    /// The mark's name.
    pub mark: String,
    /// Where the chart has it.
    pub mark_position: Position,
    /// The posterior probability that the contact is this mark.
    pub probability: f64,
    /// How likely the mark paints from the place that goes with it, at own height when it was read; none of
    /// shore that is no mark.
    pub paint_probability: Option<f64>,
}

/// A mark that is less likely than this to paint should not.
pub(super) const UNSEEN: f64 = 0.1;

impl Identity {
    /// Contact and mark, and whether that should not paint from there: `B Little Ember (should not paint)`.
    ///
    /// - `between`: what stands between the two, spaces included.
    pub fn words(&self, between: &str) -> String {
        let should_not = self.paint_probability.is_some_and(|chance| chance < UNSEEN);
        let doubt = if should_not { " (should not paint)" } else { "" };
        format!("{}{between}{}{doubt}", self.contact, self.mark)
    }
}

/// Where an echo lies that no mark explains, plotted from own position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EchoPlace {
    /// Where.
    pub position: Position,
    /// The error of that position.
    pub covariance: Covariance,
    /// The true bearing to it from own position.
    pub steer: Bearing<True>,
}

/// A contact that no mark explains.
#[derive(Debug, Clone, PartialEq)]
pub struct Unmatched {
    /// The contact's label.
    pub contact: String,
    /// Why, in plain words.
    pub why: String,
    /// Where the echo is, when own position is known and range and bearing were measured: one
    /// place, or each that two deflections allow.
    pub places: Vec<EchoPlace>,
}

/// What is left of a measurement at the position found: measured less expected.
#[derive(Debug, Clone, PartialEq)]
pub struct Residual {
    /// The contact's label.
    pub contact: String,
    /// In metres, where a range was measured.
    pub range_m: Option<f64>,
    /// Where a bearing was measured, or what two deflections leave is as a bearing by the slope of
    /// their curve; the shared bias is taken out.
    pub bearing: Option<Angle>,
    /// Of the ratio of two deflections, decibels, port positive.
    pub ratio_db: Option<f64>,
    /// Each residual over its own standard deviation (Baarda's w), range first.
    pub standardised: Vec<f64>,
    /// Whether the contact took part in the position.
    pub used: bool,
}

/// How a traced outline came out.
#[derive(Debug, Clone, PartialEq)]
pub struct OutlineFit {
    /// The outline's label.
    pub outline: String,
    /// How many points were traced.
    pub points: usize,
    /// How many of them count for themselves: neighbours err together.
    pub effective: f64,
    /// Root mean square of what is left of the ranges; none where it fits no shore at all.
    pub rms: Option<GroundRange>,
    /// Whether it took part in the position.
    pub used: bool,
}

/// Another place, or another set of identities, that still fits.
#[derive(Debug, Clone, PartialEq)]
pub struct Rival {
    /// Where.
    pub estimate: Estimate,
    /// Its posterior probability.
    pub probability: f64,
    /// What the contacts are if this is the place.
    pub identities: Vec<Identity>,
}

/// The global test: do the residuals look like the errors that were stated?
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Consistency {
    /// Sum of squared standardised residuals, the reckoning's included.
    pub chi2: f64,
    /// Its degrees of freedom.
    pub dof: usize,
    /// The chance of so great a sum with errors as stated.
    pub p: f64,
}

/// The reckoning, carried to the time of the fix, against where the contacts put us.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Comparison {
    /// How far the position lies from the reckoning; none where no position is stated.
    pub offset: Option<GroundRange>,
    /// The direction from the reckoning to the position.
    pub bearing: Option<Bearing<True>>,
    /// Squared statistical distance of contacts alone from the reckoning, two degrees of freedom.
    pub chi2: Option<f64>,
    /// How well the two agree.
    pub grade: Option<Grade>,
}

impl Comparison {
    /// Whether the two agree, at one chance in a thousand.
    pub fn agrees(&self) -> Option<bool> {
        self.grade.map(Grade::agrees)
    }
}

/// A radius that the error exceeds with no more than the stated risk, wrong identities included.
#[derive(Debug, Clone, PartialEq)]
pub struct Protection {
    /// The risk it is for.
    pub risk: f64,
    /// The radius; none where it cannot be assured.
    pub radius: Option<GroundRange>,
    /// Whether it can be assured.
    pub assured: bool,
    /// Why not, in plain words; none where it can be, and where no position is stated.
    pub why: Option<String>,
}

/// What to measure on a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Measure {
    /// Its range.
    Range,
    /// Its bearing.
    Bearing,
    /// Both.
    RangeAndBearing,
    /// The bearing of its left edge.
    Left,
    /// The bearing of its right edge.
    Right,
    /// The range of the nearest shore.
    Shore,
}

impl Measure {
    /// The words used in every report.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Range => "range",
            Self::Bearing => "bearing",
            Self::RangeAndBearing => "range and bearing",
            Self::Left => "left",
            Self::Right => "right",
            Self::Shore => "shore",
        }
    }
}

/// What a measurement is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Purpose {
    /// To tell which of several places is the right one.
    Settle,
    /// To show a wrong contact, where nothing would show it yet.
    Check,
    /// To make the ellipse shorter.
    Shorten,
}

impl Purpose {
    /// The word used in every report.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Settle => "settle",
            Self::Check => "check",
            Self::Shorten => "shorten",
        }
    }
}

/// A measurement worth taking.
#[derive(Debug, Clone, PartialEq)]
pub struct NextMeasurement {
    /// The mark's name.
    pub mark: String,
    /// What to measure on it.
    pub measure: Measure,
    /// Half the long axis of the 95 % ellipse once it is taken.
    pub major_axis_after: GroundRange,
    /// What it is for.
    pub purpose: Purpose,
    /// The chance that one place holds the asked assurance once it is taken, and is the right one;
    /// only where places are to be told apart.
    pub settles: Option<f64>,
    /// At what range it shows on the set; none where the places that fit differ.
    pub range: Option<SlantRange>,
    /// In which direction, likewise.
    pub bearing: Option<Bearing<True>>,
    /// All that in one line.
    pub words: String,
}

/// The answer: a verdict, and what it may state.
#[derive(Debug, Clone, PartialEq)]
pub struct Fix {
    /// What it comes to.
    pub verdict: Verdict,
    /// The posterior of the position stated; none where none is.
    pub probability: Option<f64>,
    /// The posterior that no listed position is right.
    pub none_of_these: f64,
    /// The time that everything is carried to.
    pub time: Timestamp,
    /// The fix; only with [`Verdict::Fixed`].
    pub position: Option<Position>,
    /// Its error, contacts and reckoning together.
    pub covariance: Option<Covariance>,
    /// Its 95 % ellipse.
    pub ellipse: Option<Ellipse>,
    /// Where the contacts put us without the reckoning, where they alone fix a position.
    pub contacts_only: Option<Estimate>,
    /// The bearing error common to all contacts, measured less true, and its sigma.
    pub bearing_bias: Option<(Angle, Angle)>,
    /// The likely mark of each contact that has one.
    pub identities: Vec<Identity>,
    /// The contacts that no mark explains.
    pub unmatched: Vec<Unmatched>,
    /// What is left of each measurement.
    pub residuals: Vec<Residual>,
    /// How each traced outline came out.
    pub outlines: Vec<OutlineFit>,
    /// Contacts and reckoning together; only with [`Verdict::TooFew`].
    pub most_probable: Option<Estimate>,
    /// The other places that fit, best first; all of them where no position is stated.
    pub rivals: Vec<Rival>,
    /// The global test.
    pub consistency: Option<Consistency>,
    /// The reckoning against the position.
    pub reckoning: Comparison,
    /// How far the position can be trusted.
    pub protection: Protection,
    /// What to measure next, best first.
    pub next: Vec<NextMeasurement>,
    /// What has come of the planned landfall; none where none is planned.
    pub landfall: Option<Landfall>,
    /// What the operator must know, in plain words.
    pub cautions: Vec<String>,
}
