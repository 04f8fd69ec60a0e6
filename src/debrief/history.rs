//! What was entered, in order, and what became of it.

use std::collections::HashMap;

use jiff::Timestamp;

use crate::radar::Set;
use crate::units::Height;
use crate::watch::log::{Record, What};
use crate::watch::{Watch, make_so, resume};

/// What became of an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// It counts to the end.
    Stands,
    /// A later entry took its place.
    Corrected {
        /// The later entry's number.
        by: u64,
    },
    /// It was deleted.
    TakenOut {
        /// The number of the entry that did so.
        by: u64,
    },
    /// It was undone, and not redone.
    Undone {
        /// The number of the undo.
        by: u64,
    },
    /// It does not fit what stood before it, and counts for nothing.
    LeftOut {
        /// Why not.
        why: String,
    },
}

impl Fate {
    /// The word in reports.
    pub fn as_str(&self) -> &'static str {
        match self {
            Self::Stands => "stands",
            Self::Corrected { .. } => "corrected",
            Self::TakenOut { .. } => "taken-out",
            Self::Undone { .. } => "undone",
            Self::LeftOut { .. } => "left-out",
        }
    }
}

/// One record that an operator, or the program for one, made.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// The record's number.
    pub number: u64,
    /// By the watch's own clock.
    pub time: Timestamp,
    /// In plain words.
    pub words: String,
    /// As it was typed, where it was.
    pub typed: Option<String>,
    /// What became of it.
    pub fate: Fate,
}

/// The history of a log.
#[derive(Debug, Clone, Default)]
pub struct History {
    /// Every entry, in order. What the program said is not among them.
    pub entries: Vec<Entry>,
    /// The records that stand to the end, in order, with where the sitting starts and what was said.
    pub standing: Vec<Record>,
    /// What could not be taken up.
    pub notices: Vec<String>,
}

/// The watch that a log without a start is taken up with: height unknown, so at sea level.
pub(super) fn blank() -> Option<Watch> {
    let set_name = Set::NAMES.first()?.to_string();
    let set = Set::builtin(&set_name)?;
    let radar =
        crate::contact::Radar { set, set_name, range_sigma_nm: None, bearing_sigma_deg: None };
    Some(Watch::blank(radar, Height::SEA_LEVEL))
}

/// Goes through the records of a log as the watch did.
pub fn history(records: &[Record]) -> History {
    let mut told = History::default();
    let Some(blank) = blank() else { return told };
    let mut watch = blank.clone();
    let mut ledger = Ledger::default();
    for (at, record) in records.iter().enumerate() {
        match &record.what {
            What::Start { .. } | What::Blank { .. } => {
                let began = resume(std::slice::from_ref(record), &blank);
                told.notices.extend(began.notices);
                if let Some(begun) = began.watch {
                    watch = begun;
                    ledger.done.clear();
                    ledger.undone.clear();
                }
                told.enter(record, watch.say(&record.what), Fate::Stands);
            }
            What::Open { program, chart } => {
                let words = format!("opened by {program} on chart {chart}");
                told.enter(record, words, Fate::Stands);
            }
            What::Said(_) => {}
            what => {
                let words = watch.say(what);
                let fate = match make_so(&mut watch, records, at) {
                    Ok(()) => Fate::Stands,
                    Err(error) => Fate::LeftOut { why: error.to_string() },
                };
                if fate == Fate::Stands {
                    ledger.take(at, record);
                } else {
                    ledger.out.insert(at, fate.clone());
                }
                told.enter(record, words, fate);
            }
        }
    }
    told.settle(records, &ledger);
    told
}

/// Which records stand.
#[derive(Default)]
struct Ledger {
    done: Vec<usize>,
    undone: Vec<usize>,
    /// Records that do not stand, by their place.
    out: HashMap<usize, Fate>,
}

impl Ledger {
    fn take(&mut self, at: usize, record: &Record) {
        match &record.what {
            What::Undo => {
                if let Some(last) = self.done.pop() {
                    self.out.insert(last, Fate::Undone { by: record.number });
                    self.undone.push(last);
                }
            }
            What::Redo => {
                if let Some(next) = self.undone.pop() {
                    self.out.remove(&next);
                    self.done.push(next);
                }
            }
            What::Landfall { .. }
            | What::Note { .. }
            | What::Alarm { .. }
            | What::Acknowledged { .. }
            | What::Clock { .. } => {}
            _ => {
                self.done.push(at);
                self.undone.clear();
            }
        }
    }
}

impl History {
    fn enter(&mut self, record: &Record, words: String, fate: Fate) {
        if let Fate::LeftOut { why } = &fate {
            self.notices.push(format!("record {} is left out: {why}", record.number));
        }
        let Record { number, time, ref typed, .. } = *record;
        self.entries.push(Entry { number, time, words, typed: typed.clone(), fate });
    }

    /// Gives each entry its fate in the end, and keeps the records that stand.
    fn settle(&mut self, records: &[Record], ledger: &Ledger) {
        let mut fates: HashMap<u64, Fate> = HashMap::new();
        let mut last: HashMap<&str, u64> = HashMap::new();
        for (at, record) in records.iter().enumerate() {
            if let Some(fate) = ledger.out.get(&at) {
                fates.insert(record.number, fate.clone());
                continue;
            }
            let by = record.number;
            match &record.what {
                What::Contact(entry) => {
                    if let Some(before) = last.insert(&entry.label, by) {
                        fates.insert(before, Fate::Corrected { by });
                    }
                }
                What::Delete { label } => {
                    if let Some(before) = last.remove(label.as_str()) {
                        fates.insert(before, Fate::TakenOut { by });
                    }
                }
                // What an undone record did is undone with it: neither is played again.
                What::Undo | What::Redo => continue,
                _ => {}
            }
            self.standing.push(record.clone());
        }
        for entry in &mut self.entries {
            if let Some(fate) = fates.remove(&entry.number) {
                entry.fate = fate;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::log::ContactEntry;

    fn log(all: Vec<What>) -> Vec<Record> {
        let time = "2031-03-09T03:41:00Z".parse().unwrap();
        let record = |(at, what)| Record { number: at as u64 + 1, time, what, typed: None };
        all.into_iter().enumerate().map(record).collect()
    }

    fn contact(label: &str, range_nm: f64) -> What {
        What::Contact(ContactEntry {
            label: label.to_owned(),
            range_nm: Some(range_nm),
            ..ContactEntry::default()
        })
    }

    fn start() -> Vec<What> {
        let time = "2031-03-09T03:40:00Z".parse().unwrap();
        let set = Set::builtin("patrol").unwrap().to_toml();
        let covariance_nm2 = [[16.0, 0.0], [0.0, 16.0]];
        vec![
            What::Blank { set, height_ft: 2000.0 },
            What::Reckoning { time, lat_deg: -38.2, lon_deg: -21.5, covariance_nm2 },
            What::Track { track_deg: 74.0, speed_kn: 165.0, time: None },
        ]
    }

    #[test]
    fn each_entry_has_its_fate() {
        let mut all = start();
        all.extend([
            contact("A", 17.0), // 4: corrected by 5
            contact("A", 17.3),
            contact("B", 9.0), // 6: taken out by 7
            What::Delete { label: "B".into() },
            contact("C", 12.0), // 8: undone by 9, redone by 10
            What::Undo,
            What::Redo,
            contact("D", 14.0), // 11: undone by 12
            What::Undo,
            What::Delete { label: "Z".into() }, // 13: left out
        ]);
        let told = history(&log(all));
        let fate = |number: u64| {
            told.entries.iter().find(|entry| entry.number == number).unwrap().fate.clone()
        };
        assert_eq!(fate(4), Fate::Corrected { by: 5 });
        assert_eq!(fate(5), Fate::Stands);
        assert_eq!(fate(6), Fate::TakenOut { by: 7 });
        assert_eq!(fate(8), Fate::Stands);
        assert_eq!(fate(11), Fate::Undone { by: 12 });
        assert_eq!(fate(13), Fate::LeftOut { why: "no contact Z: there are A, C".into() });
        assert_eq!(told.notices, ["record 13 is left out: no contact Z: there are A, C"]);
        assert_eq!(
            told.standing.iter().map(|r| r.number).collect::<Vec<_>>(),
            [1, 2, 3, 4, 5, 6, 7, 8]
        );
    }

    #[test]
    fn what_stands_played_again_is_the_same_watch() {
        let mut all = start();
        all.extend([
            contact("A", 17.0),
            contact("B", 9.0),
            What::Undo,
            contact("C", 8.0),
            What::Undo,
        ]);
        all.push(contact("D", 7.0));
        let records = log(all);
        let told = history(&records);
        let blank = blank().unwrap();
        let (whole, standing) = (resume(&records, &blank), resume(&told.standing, &blank));
        let (whole, standing) = (whole.watch.unwrap(), standing.watch.unwrap());
        assert_eq!(whole.contacts(), standing.contacts());
        assert_eq!(whole.reckoning(), standing.reckoning());
    }
}
