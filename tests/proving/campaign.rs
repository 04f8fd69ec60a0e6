//! Many landfalls, made and solved on all cores, and kept in a fixed order.

use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Mutex};

use rayon::prelude::*;

use super::case::{self, Case, Conditions};
use super::coasts::{self, Group};
use super::ideal::{self, Looks, Model, Part, Reading, Reckoned};
use super::landfall::{Landfall, landfall};
use super::random::stream;
use super::score::{Ideal, Off, Row, score, solve};

/// Landfalls solved between one time and the next that rows are told.
const AT_A_TIME: usize = 32;

/// What a campaign runs over.
pub struct Campaign {
    pub seed: u64,
    /// Landfalls in all, shared among cases by their parts and evenly among coasts.
    pub landfalls: usize,
    pub cases: Vec<(usize, Case)>,
    /// Numbers of coasts.
    pub coasts: Vec<usize>,
    /// Of each case on each coast, so many landfalls go to an ideal reader as well.
    pub ideal: u64,
}

/// What a coast looks like for an ideal reader, by set and by what stands out.
type Views = Mutex<HashMap<(&'static str, u64), Arc<Looks<'static>>>>;

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
    landfall(&mut stream(seed, own), coasts::coast(coast), &case.1).unwrap()
}

/// What an ideal reader makes of a landfall.
pub fn read_ideally(looks: &Looks<'_>, case: &Case, landfall: &Landfall) -> Ideal {
    // As the file tells it.
    let rounded = |value: f64, steps: f64| (value * steps).round() / steps;
    let readings: Vec<Reading> = landfall
        .taken
        .iter()
        .map(|taken| Reading {
            range_nm: taken.range_nm.map(|range| rounded(range, 100.0)),
            bearing_deg: taken.bearing_deg.map(|bearing| rounded(bearing, 10.0)),
            part: match taken.part {
                "centre" => Part::Centre,
                "left" => Part::Left,
                "right" => Part::Right,
                "shore" => Part::Shore,
                _ => Part::Near,
            },
        })
        .collect();
    let reckoned = Reckoned { position: landfall.reckoned, sigma_nm: case.reckoning_nm };
    let Some(reader) = ideal::read(looks, reckoned, &readings, &Model::of(case)) else {
        return Ideal { probability: 0.0, dropped: 0.0, off: None };
    };
    let off = Off::new(landfall.truth, reader.position, reader.covariance);
    Ideal { probability: reader.probability, dropped: reader.dropped, off: Some(off) }
}

impl Campaign {
    /// Every landfall that could be made, in the order of cases, coasts and numbers.
    pub fn run(&self) -> Vec<Row> {
        self.go_on(Vec::new(), |_| {})
    }

    /// The same, but for those that are there already. New rows are told as they come, always in
    /// the same order: by coasts, cases and numbers.
    pub fn go_on(&self, before: Vec<Row>, mut told: impl FnMut(&[Row])) -> Vec<Row> {
        for coast in &self.coasts {
            coasts::coast(*coast);
        }
        let there: HashSet<String> = before.iter().map(Row::name).collect();
        let mut rows = before;
        for coast in &self.coasts {
            let views = Views::default();
            let ids: Vec<(usize, u64)> = (0..self.cases.len())
                .flat_map(|case| (0..self.each(case)).map(move |number| (case, number)))
                .filter(|(case, number)| !there.contains(&self.name(*case, *coast, *number)))
                .collect();
            for some in ids.chunks(AT_A_TIME) {
                let new: Vec<Row> = some
                    .par_iter()
                    .filter_map(|(case, number)| self.row(*case, *coast, *number, &views))
                    .collect();
                told(&new);
                rows.extend(new);
            }
        }
        rows.sort_by_key(|row| row.id);
        rows
    }

    /// Landfalls of a case on each coast.
    fn each(&self, case: usize) -> u64 {
        let parts: usize = self.cases.iter().map(|(_, case)| case.parts()).sum();
        let all = (parts * self.coasts.len()).max(1);
        (self.landfalls * self.cases[case].1.parts()).div_ceil(all) as u64
    }

    fn name(&self, case: usize, coast: usize, number: u64) -> String {
        format!("{}/{}/{number}", self.cases[case].1.name, coasts::coast(coast).name)
    }

    fn row(&self, case: usize, coast: usize, number: u64, views: &Views) -> Option<Row> {
        let numbered = &self.cases[case];
        let landfall = one(self.seed, numbered, coast, number)?;
        let on = coasts::coast(coast);
        let read = number < self.ideal && numbered.1.can_be_read_ideally();
        let looks = if read { looks(views, on, &numbered.1) } else { None };
        let blank = Row {
            seed: self.seed,
            id: (numbered.0, coast, number),
            case: numbered.1.name.clone(),
            coast: on.name.clone(),
            group: on.group,
            contacts: numbered.1.contacts,
            reckoning_nm: numbered.1.reckoning_nm,
            ships: numbered.1.ships,
            wrong_names: numbered.1.wrong_names,
            assurance: numbered.1.assurance,
            real: landfall.real,
            marked: landfall.marked,
            verdict: None,
            none_of_these: 0.0,
            top: None,
            top_probability: None,
            next_probability: 0.0,
            protection_nm: None,
            ideal: looks.map(|looks| read_ideally(&looks, &numbered.1, &landfall)),
        };
        Some(score(blank, &landfall, solve(on, &landfall, numbered.1.assurance).as_ref()))
    }
}

/// What a coast looks like in a case, worked out once.
fn looks(views: &Views, coast: &'static coasts::Coast, case: &Case) -> Option<Arc<Looks<'static>>> {
    let key = (case.carried.set, case.least_out_nm.to_bits());
    let mut views = views.lock().unwrap();
    if let Some(known) = views.get(&key) {
        return Some(Arc::clone(known));
    }
    let new = Arc::new(Looks::new(coast, case)?);
    views.insert(key, Arc::clone(&new));
    Some(new)
}
