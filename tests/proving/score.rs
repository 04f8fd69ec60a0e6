//! What the program makes of a landfall, held against the truth.

use std::panic::{AssertUnwindSafe, catch_unwind};

use foreland::fix::{Estimate, Fix, Options, Verdict, fix};
use foreland::units::GroundRange;

pub use foreland::campaign::score::*;

use super::coasts::{Coast, Group};
use super::landfall::Landfall;

/// One landfall of a campaign.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    pub seed: u64,
    /// The number of its case, its coast and itself.
    pub id: (usize, usize, u64),
    pub case: String,
    pub coast: String,
    pub group: Group,
    pub contacts: usize,
    pub reckoning_nm: f64,
    pub ships: f64,
    pub wrong_names: f64,
    /// What is asked of a fix.
    pub assurance: f64,
    /// Contacts that are of the coast.
    pub real: usize,
    /// Those of them that the chart has a mark for.
    pub marked: usize,
    /// `None` where the program broke down.
    pub verdict: Option<Verdict>,
    pub none_of_these: f64,
    /// The fix, or the place listed first where there is none.
    pub top: Option<Off>,
    /// Its probability.
    pub top_probability: Option<f64>,
    /// The probability of the best other place.
    pub next_probability: f64,
    pub protection_nm: Option<f64>,
    /// What an ideal reader made of it, where it was asked.
    pub ideal: Option<Ideal>,
}

/// What an ideal reader made of a landfall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ideal {
    /// Of its best place; nought where nothing explains the contacts.
    pub probability: f64,
    /// The share that it dropped unweighed.
    pub dropped: f64,
    /// How far that place is from the truth.
    pub off: Option<Off>,
}

impl Ideal {
    /// Fixed, and right; `None` where it refuses.
    pub fn fixed_rightly(self, assurance: f64) -> Option<bool> {
        let off = self.off?;
        (self.probability >= assurance).then(|| off.is_right())
    }
}

/// What came of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    Right,
    Wrong,
    Ambiguous,
    TooFew,
    AtOdds,
    Broken,
}

impl Row {
    pub fn outcome(&self) -> Outcome {
        match self.verdict {
            None => Outcome::Broken,
            Some(Verdict::Ambiguous) => Outcome::Ambiguous,
            Some(Verdict::TooFew) => Outcome::TooFew,
            Some(Verdict::AtOdds) => Outcome::AtOdds,
            Some(Verdict::Fixed) if self.top_is_right() => Outcome::Right,
            Some(Verdict::Fixed) => Outcome::Wrong,
        }
    }

    /// Whether the place stated, or listed first, is right.
    pub fn top_is_right(&self) -> bool {
        self.top.is_some_and(Off::is_right)
    }

    pub fn is_fixed(&self) -> bool {
        self.verdict == Some(Verdict::Fixed)
    }

    /// What makes it again.
    pub fn name(&self) -> String {
        format!("{}/{}/{}", self.case, self.coast, self.id.2)
    }
}

/// Solves a landfall; `None` where the program broke down.
pub fn solve(coast: &Coast, landfall: &Landfall, assurance: f64) -> Option<Fix> {
    let options = &Options { assurance, ..Options::default() };
    let solving = || fix(&coast.chart, &landfall.sightings, options);
    catch_unwind(AssertUnwindSafe(solving)).ok()
}

/// Holds an answer against the truth, into a row that has the conditions already.
pub fn score(row: Row, landfall: &Landfall, found: Option<&Fix>) -> Row {
    let Some(found) = found else { return row };
    let off = |estimate: Estimate| Off::new(landfall.truth, estimate.position, estimate.covariance);
    let stated = found
        .position
        .zip(found.covariance)
        .map(|(position, covariance)| Off::new(landfall.truth, position, covariance));
    let listed = found.rivals.first();
    let next = usize::from(stated.is_none());
    Row {
        verdict: Some(found.verdict),
        none_of_these: found.none_of_these,
        top: stated.or_else(|| listed.map(|rival| off(rival.estimate))),
        top_probability: found.probability.or_else(|| listed.map(|rival| rival.probability)),
        next_probability: found.rivals.get(next).map_or(0.0, |rival| rival.probability),
        protection_nm: found.protection.radius.map(GroundRange::nautical_miles),
        ..row
    }
}
