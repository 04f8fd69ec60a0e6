//! What must be refused, or must not matter.

use std::fmt::Write;

use foreland::campaign::Share;

use super::campaign::{Campaign, cases_of, coasts_of};
use super::score::{Outcome, Row};

/// What is asked of a set of landfalls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Must {
    /// No more than this share may be stated as a fix at all.
    FixedAtMost(f64),
    /// No more than this share may be stated as a wrong fix.
    WrongAtMost(f64),
    /// Only told.
    Told,
}

/// A set of landfalls on some coasts, and what is asked of it.
pub struct Trial {
    pub title: &'static str,
    pub case: &'static str,
    pub coasts: &'static str,
    pub must: Must,
}

const fn trial(title: &'static str, case: &'static str, coasts: &'static str, must: Must) -> Trial {
    Trial { title, case, coasts, must }
}

pub const TRIALS: [Trial; 12] = [
    trial("bays all alike", "k6-dr10", "sawtooth", Must::FixedAtMost(0.0)),
    trial(
        "all contacts ships, reckoning 10 NM",
        "all-ships-k5-dr10",
        "all",
        Must::FixedAtMost(0.01),
    ),
    trial("all contacts ships, reckoning 5 NM", "all-ships-k4-dr5", "all", Must::FixedAtMost(0.01)),
    trial("one contact, unnamed", "alone-k1-dr5", "all", Must::FixedAtMost(0.0)),
    trial("one contact, given twice", "repeated-k2-dr5", "all", Must::FixedAtMost(0.01)),
    trial("two contacts", "k2-dr5", "all", Must::WrongAtMost(0.01)),
    trial(
        "truth three to six sigmas from the reckoning",
        "outside-k5-dr5",
        "all",
        Must::WrongAtMost(0.05),
    ),
    trial("every error twice what is told", "errors-twice-k6-dr10", "all", Must::Told),
    trial("chart off by half a mile", "chart-shifted-k6-dr10", "all", Must::Told),
    trial("an island at 45 N", "k6-dr5", "ragged", Must::WrongAtMost(0.02)),
    trial("the same over the date line", "k6-dr5", "ragged-date-line", Must::WrongAtMost(0.02)),
    trial(
        "the same a degree and a half from the pole",
        "k6-dr5",
        "ragged-pole",
        Must::WrongAtMost(0.02),
    ),
];

impl Trial {
    pub fn run(&self, seed: u64, landfalls: usize) -> Vec<Row> {
        self.campaign(seed, landfalls).run()
    }

    pub fn campaign(&self, seed: u64, landfalls: usize) -> Campaign {
        let (cases, coasts) = (cases_of(self.case), coasts_of(self.coasts));
        Campaign { seed, landfalls, cases, coasts, ideal: 0 }
    }

    /// Those of many rows that are its own.
    pub fn of(&self, rows: &[Row]) -> Vec<Row> {
        let coasts = coasts_of(self.coasts);
        let own = |row: &&Row| row.case == self.case && coasts.contains(&row.id.1);
        rows.iter().filter(own).cloned().collect()
    }

    /// How many landfalls there may be at most of what must not be; `None` where it is only told.
    ///
    /// A share held exactly is passed by chance once in some two hundred (2.6 standard deviations).
    pub fn most(&self, landfalls: usize) -> Option<usize> {
        let (Must::FixedAtMost(share) | Must::WrongAtMost(share)) = self.must else { return None };
        let mean = share * landfalls as f64;
        Some((mean + 2.6 * (mean * (1.0 - share)).sqrt()).floor() as usize)
    }

    /// How many there are of it.
    pub fn found(&self, rows: &[Row]) -> usize {
        let fixed = |row: &&Row| match self.must {
            Must::FixedAtMost(_) => row.is_fixed(),
            Must::WrongAtMost(_) | Must::Told => row.outcome() == Outcome::Wrong,
        };
        rows.iter().filter(fixed).count()
    }
}

/// All trials that rows tell of, as a table in markdown.
pub fn tables(rows: &[Row]) -> String {
    let mut text = String::from(
        "\n## What must be refused\n\n| | n | fixed right | ambiguous | too few | at odds | fixed wrong \
         | wrong % | broken | asked | held |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- \
         | --- |\n",
    );
    for trial in &TRIALS {
        let rows = trial.of(rows);
        if rows.is_empty() {
            continue;
        }
        let count = |outcome| rows.iter().filter(|row| row.outcome() == outcome).count();
        let wrong = count(Outcome::Wrong);
        let [low, high] = Share::new(wrong, rows.len()).interval();
        let asked = match trial.must {
            Must::FixedAtMost(share) => format!("fixed at most {:.0} %", 100.0 * share),
            Must::WrongAtMost(share) => format!("wrong at most {:.0} %", 100.0 * share),
            Must::Told => String::new(),
        };
        let held = trial
            .most(rows.len())
            .map_or("", |most| if trial.found(&rows) <= most { "yes" } else { "**no**" });
        writeln!(
            text,
            "| {} | {} | {} | {} | {} | {} | {wrong} | {:.1} to {:.1} | {} | {asked} | {held} |",
            trial.title,
            rows.len(),
            count(Outcome::Right),
            count(Outcome::Ambiguous),
            count(Outcome::TooFew),
            count(Outcome::AtOdds),
            low.max(0.0),
            high,
            count(Outcome::Broken),
        )
        .unwrap();
    }
    text
}
