use serde::{Deserialize, Serialize};

use super::score::{ELLIPSE_95, ELLIPSE_999, Off};
use crate::fix::{Fix, LandfallVerdict, Verdict};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// What came of one landfall: all in whole metres and seconds, so that it is read as it was written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Its number, from one: with the seed it makes the landfall again.
    pub landfall: u64,
    /// How far the truth lay to the right of the planned track at the end of the run, metres.
    pub across_m: i64,
    /// The marks that came in sight, in the order in which they did.
    pub marks: Vec<String>,
    /// The looks at which anything showed, to the first fix that counts.
    pub looks: Vec<LookRow>,
    /// The first fix that counts.
    pub fix: Option<FixRow>,
}

/// One look at the set.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LookRow {
    /// From the start of the run, seconds.
    pub at_s: u32,
    /// To the planned landfall by the reckoning, else to the end of the run, metres.
    pub to_run_m: i64,
    /// How many echoes were measured.
    pub contacts: usize,
    /// How many of them are of the coast.
    pub real: usize,
    /// What the program answered.
    pub answer: Answer,
    /// Whether the landfall is made, by the program; none where no landfall is planned.
    pub verdict: Option<LandfallVerdict>,
    /// Whether one of the echoes truly was the landfall's.
    pub there: Option<bool>,
    /// Marks of which an echo was measured, by their number in [`Row::marks`].
    pub read: Vec<usize>,
    /// Marks that showed and were not measured.
    pub missed: Vec<usize>,
}

/// What the program made of a look.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Answer {
    /// A fix.
    Fixed,
    /// A right fix, wider than what counts.
    Wide,
    /// Refused: several places fit.
    Ambiguous,
    /// Refused: too few contacts.
    #[default]
    TooFew,
    /// Refused: the contacts are at odds with each other or with the reckoning.
    AtOdds,
    /// The program failed.
    Broken,
}

/// The first fix of a landfall, held against the truth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FixRow {
    /// Within a mile of the truth, or its own 99.9 % ellipse holds the truth.
    pub right: bool,
    /// From the truth, metres.
    pub error_m: u32,
    /// Whether its own 95 % ellipse holds the truth.
    pub in_95: bool,
    /// Whether its own 99.9 % ellipse does.
    pub in_999: bool,
    /// The longer half axis of its 95 % ellipse, metres.
    pub axis_m: u32,
    /// The protection radius stated, metres; none where none was.
    pub radius_m: Option<u32>,
}

impl FixRow {
    /// Whether the truth lies outside the protection radius stated.
    pub fn is_beyond_radius(&self) -> bool {
        self.radius_m.is_some_and(|radius| self.error_m > radius)
    }
}

impl Row {
    /// A landfall of which nothing is known yet.
    pub(super) fn new(landfall: u64, across_m: f64) -> Self {
        let across_m = across_m.round() as i64;
        Self { landfall, across_m, marks: Vec::new(), looks: Vec::new(), fix: None }
    }

    /// The numbers of marks by their names; new ones are added.
    pub(super) fn numbers_of(&mut self, names: &[String]) -> Vec<usize> {
        names
            .iter()
            .map(|name| {
                let known = self.marks.iter().position(|known| known == name);
                known.unwrap_or_else(|| {
                    self.marks.push(name.clone());
                    self.marks.len() - 1
                })
            })
            .collect()
    }

    /// Tells a fix.
    pub(super) fn fixed(&mut self, off: Off, radius_m: Option<f64>) {
        let metres = |nm: f64| (nm * METRES_PER_NAUTICAL_MILE).round() as u32;
        self.fix = Some(FixRow {
            right: off.is_right(),
            error_m: metres(off.error_nm),
            in_95: off.squared <= ELLIPSE_95,
            in_999: off.squared <= ELLIPSE_999,
            axis_m: metres(off.axes_nm[0]),
            // Up, so that no rounding puts the truth outside.
            radius_m: radius_m.map(|radius| radius.ceil() as u32),
        });
    }

    /// Whether every mark that a look tells of is among the row's.
    pub(super) fn is_whole(&self) -> bool {
        let known = |number: &usize| *number < self.marks.len();
        let fixed = self.looks.iter().filter(|look| look.is_fixed()).count();
        let last = self.looks.last().is_some_and(LookRow::is_fixed);
        self.looks.iter().all(|look| look.read.iter().chain(&look.missed).all(known))
            && fixed == usize::from(self.fix.is_some())
            && last == self.fix.is_some()
    }
}

impl LookRow {
    /// Whether it was a fix.
    pub fn is_fixed(&self) -> bool {
        self.answer == Answer::Fixed
    }

    /// Tells what the program made of it; `None` where it broke down.
    pub(super) fn answered(&mut self, fix: Option<&Fix>, there: Option<bool>) {
        self.answer = match fix.map(|fix| fix.verdict) {
            Some(Verdict::Fixed) => Answer::Fixed,
            Some(Verdict::Ambiguous) => Answer::Ambiguous,
            Some(Verdict::TooFew) => Answer::TooFew,
            Some(Verdict::AtOdds) => Answer::AtOdds,
            None => Answer::Broken,
        };
        self.verdict = fix.and_then(|fix| fix.landfall.as_ref()).map(|it| it.verdict);
        self.there = there;
    }

    /// Tells that too little was measured to ask the program.
    pub(super) fn too_few(&mut self, there: Option<bool>) {
        self.answer = Answer::TooFew;
        self.verdict = there.map(|_| LandfallVerdict::CannotSay);
        self.there = there;
    }
}

impl Answer {
    /// All of them, in the order in which they are told.
    pub const ALL: [Self; 6] =
        [Self::Fixed, Self::Wide, Self::Ambiguous, Self::TooFew, Self::AtOdds, Self::Broken];

    /// The word used in every report.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Fixed => "fixed",
            Self::Wide => "wide",
            Self::Ambiguous => "ambiguous",
            Self::TooFew => "too-few",
            Self::AtOdds => "at-odds",
            Self::Broken => "broken",
        }
    }
}
