//! Many landfalls, made and solved on all cores, and kept in a fixed order.

use rayon::prelude::*;

use super::case::{self, Case};
use super::coasts::{self, Group};
use super::landfall::{Landfall, landfall};
use super::random::stream;
use super::score::{Row, score, solve};

/// What a campaign runs over.
pub struct Campaign {
    pub seed: u64,
    /// Landfalls in all, shared evenly among cases and coasts.
    pub landfalls: usize,
    pub cases: Vec<(usize, Case)>,
    /// Numbers of coasts.
    pub coasts: Vec<usize>,
}

/// The coasts of a word: `fit`, `check`, `all`, or the name of one.
pub fn coasts_of(word: &str) -> Vec<usize> {
    let wanted = |name: &str, group: Group| {
        (word == "all" && group != Group::Made)
            || word.split(',').any(|w| w == group.as_str() || w == name)
    };
    let named = coasts::names().into_iter().enumerate();
    named.filter(|(_, (name, group))| wanted(name, *group)).map(|(number, _)| number).collect()
}

/// The cases of a word: `design`, `wider`, `stress`, `all` (but stress), names with commas between,
/// or part of a name.
pub fn cases_of(word: &str) -> Vec<(usize, Case)> {
    let all = case::all();
    let kept = |wanted: &dyn Fn(&(usize, Case)) -> bool| {
        all.iter().filter(|case| wanted(case)).cloned().collect::<Vec<_>>()
    };
    let numbered = match word {
        "all" => Some(0..200),
        "design" => Some(0..100),
        "wider" => Some(100..200),
        "stress" => Some(200..300),
        _ => None,
    };
    if let Some(numbers) = numbered {
        return kept(&|(number, _)| numbers.contains(number));
    }
    let named = kept(&|(_, case)| word.split(',').any(|name| case.name == name));
    if named.is_empty() { kept(&|(_, case)| case.name.contains(word)) } else { named }
}

/// One landfall by its numbers: the same however large the campaign.
pub fn one(seed: u64, case: &(usize, Case), coast: usize, number: u64) -> Option<Landfall> {
    let own = (case.0 as u64) << 40 | (coast as u64) << 32 | number;
    landfall(&mut stream(seed, own), coasts::coast(coast), &case.1)
}

impl Campaign {
    /// Every landfall that could be made, in the order of cases, coasts and numbers.
    pub fn run(&self) -> Vec<Row> {
        for coast in &self.coasts {
            coasts::coast(*coast);
        }
        let cells = (self.cases.len() * self.coasts.len()).max(1);
        let each = self.landfalls.div_ceil(cells) as u64;
        let ids: Vec<(usize, usize, u64)> = (0..self.cases.len())
            .flat_map(|case| self.coasts.iter().map(move |coast| (case, *coast)))
            .flat_map(|(case, coast)| (0..each).map(move |number| (case, coast, number)))
            .collect();
        ids.into_par_iter()
            .filter_map(|(case, coast, number)| self.row(case, coast, number))
            .collect()
    }

    fn row(&self, case: usize, coast: usize, number: u64) -> Option<Row> {
        let numbered = &self.cases[case];
        let landfall = one(self.seed, numbered, coast, number)?;
        let on = coasts::coast(coast);
        let blank = Row {
            id: (numbered.0, coast, number),
            case: numbered.1.name.clone(),
            coast: on.name.clone(),
            group: on.group,
            contacts: numbered.1.contacts,
            reckoning_nm: numbered.1.reckoning_nm,
            ships: numbered.1.ships,
            wrong_names: numbered.1.wrong_names,
            real: landfall.real,
            marked: landfall.marked,
            verdict: None,
            none_of_these: 0.0,
            top: None,
            top_probability: None,
            next_probability: 0.0,
            protection_nm: None,
        };
        Some(score(blank, &landfall, solve(on, &landfall).as_ref()))
    }
}
