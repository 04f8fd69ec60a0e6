//! One table of a file, read key by key; every fault is noted and the reading goes on.

use std::cell::RefCell;
use std::sync::Arc;

use jiff::Timestamp;

use super::fault::{Fault, SightingsError, Source, Wrong, did_you_mean, shown};
use super::tree::{Key, Node, Place, Value};
use crate::contact::BearingKind;
use crate::geodesy::Position;
use crate::units::{Bearing, True};

/// Nothing is known better than to this, in the unit of its key: eight inches of a mile, a third of a
/// second of arc.
const LEAST_SIGMA: f64 = 1e-4;

/// The most of a word from a file that a message repeats.
const SHOWN: usize = 60;

/// The most faults told of one file: one with more is of another kind, and telling each would take
/// longer than anybody reads.
const MOST_FAULTS: usize = 40;

/// The faults found so far, and the text that they point into.
pub(crate) struct Faults {
    pub source: Arc<Source>,
    found: RefCell<Vec<Fault>>,
}

impl Faults {
    pub fn new(source: Arc<Source>) -> Self {
        Self { source, found: RefCell::default() }
    }

    /// Notes a fault at a path, pointing to a place where there is one.
    pub fn note(
        &self,
        path: &str,
        wrong: Wrong,
        mend: String,
        at: Option<Place>,
        label: &'static str,
    ) {
        if !self.are_enough() {
            self.add(Fault::new(&self.source, path, wrong, mend).at(at, label));
        }
    }

    /// Beyond the first of so many, no more are kept.
    pub fn add(&self, fault: Fault) {
        if !self.are_enough() {
            self.found.borrow_mut().push(fault);
        }
    }

    fn are_enough(&self) -> bool {
        self.found.borrow().len() >= MOST_FAULTS
    }

    /// All of them, in the order of the file, as one error; none are no error.
    pub fn into_error(self) -> Result<(), SightingsError> {
        let mut found = self.found.into_inner();
        found.sort_by_key(Fault::start);
        match found.len() {
            0 => Ok(()),
            1 => Err(SightingsError::One(Box::new(found.remove(0)))),
            _ => Err(SightingsError::Several { name: self.source.name.clone(), faults: found }),
        }
    }
}

/// One table: whose it is, where it stands, what it holds.
pub(crate) struct Section<'t> {
    /// `[own]`, or `contact A`: the subject of every message.
    pub who: String,
    /// `own`, or `contact[0]`.
    pub path: String,
    /// Where it starts in the text.
    pub at: Option<Place>,
    pub entries: &'t [(Key, Node)],
    pub faults: &'t Faults,
}

impl<'t> Section<'t> {
    /// Notes every key that is none of `known`.
    pub fn only(&self, known: &[&str]) {
        let strange = |(key, _): &&(Key, Node)| !known.contains(&key.name.as_str());
        for (key, _) in self.entries.iter().filter(strange).take(MOST_FAULTS) {
            let wrong = Wrong::UnknownKey { who: self.who.clone(), key: shown(&key.name, SHOWN) };
            let mend = did_you_mean(&key.name, known);
            self.faults.note(&self.path_of(&key.name), wrong, mend, key.at.clone(), "this one");
        }
    }

    /// Notes a fault with one key.
    pub fn fault(&self, key: &str, wrong: Wrong, mend: impl Into<String>) {
        let (at, label) = match self.get(key) {
            Some(node) => (node.at.clone(), "here"),
            None => (self.at.clone(), "in this one"),
        };
        self.faults.note(&self.path_of(key), wrong, mend.into(), at, label);
    }

    pub fn get(&self, key: &str) -> Option<&'t Node> {
        self.entries.iter().find(|(known, _)| known.name == key).map(|(_, node)| node)
    }

    pub fn has(&self, key: &str) -> bool {
        self.get(key).is_some()
    }

    /// The value of a key that must be there: notes it where it is not.
    pub fn needed<T>(&self, key: &str, value: Option<T>, mend: &str) -> Option<T> {
        if !self.has(key) {
            let wrong = Wrong::Missing { who: self.who.clone(), key: key.to_owned() };
            self.fault(key, wrong, mend);
        }
        value
    }

    /// The time, which must be there.
    pub fn needed_time(&self, example: &str) -> Option<Timestamp> {
        self.needed("time", self.time("time"), &format!("write time = \"{example}\""))
    }

    /// The position, which must be there.
    pub fn needed_position(&self, example: &str) -> Option<Position> {
        let mend = format!("write position = \"{example}\"");
        self.needed("position", self.position("position"), &mend)
    }

    /// A direction from true north.
    pub fn direction(&self, key: &str) -> Option<Bearing<True>> {
        let degrees = self.within(key, 0.0, 360.0, "from 0 to 360, clockwise from true north")?;
        Bearing::from_degrees(degrees).ok()
    }

    fn wrong_type(&self, key: &str, wanted: &'static str, node: &Node, mend: &str) {
        let (who, key_name) = (self.who.clone(), key.to_owned());
        let wrong = Wrong::WrongType { who, key: key_name, wanted, found: node.value.kind() };
        self.fault(key, wrong, mend);
    }

    /// A finite number.
    pub fn number(&self, key: &str) -> Option<f64> {
        let node = self.get(key)?;
        match &node.value {
            Value::Number(value) if value.is_finite() => Some(*value),
            Value::Number(value) => {
                let (who, key_name) = (self.who.clone(), key.to_owned());
                let wrong = Wrong::NotFinite { who, key: key_name, value: *value };
                self.fault(key, wrong, "give a plain number, or leave the key out");
                None
            }
            _ => {
                self.wrong_type(key, "a number", node, "a plain number without quotes, 17.3");
                None
            }
        }
    }

    /// A number from `least` to `most`.
    pub fn within(&self, key: &str, least: f64, most: f64, mend: &str) -> Option<f64> {
        let value = self.number(key)?;
        if (least..=most).contains(&value) {
            return Some(value);
        }
        let (who, key_name) = (self.who.clone(), key.to_owned());
        self.fault(key, Wrong::Outside { who, key: key_name, value, least, most }, mend);
        None
    }

    /// One standard deviation: [`LEAST_SIGMA`] or more, and no more than `most`.
    pub fn sigma(&self, key: &str, most: f64) -> Option<f64> {
        let value = self.number(key)?;
        if value <= 0.0 {
            let (who, key_name) = (self.who.clone(), key.to_owned());
            let mend = "one standard deviation: nothing is measured without error";
            self.fault(key, Wrong::NotAboveZero { who, key: key_name, value }, mend);
            return None;
        }
        self.within(key, LEAST_SIGMA, most, "one standard deviation, in the unit of the key")
    }

    /// `true` or `false`.
    pub fn truth(&self, key: &str) -> Option<bool> {
        let node = self.get(key)?;
        let Value::Truth(value) = node.value else {
            self.wrong_type(
                key,
                "true or false",
                node,
                &format!("write {key} = true, without quotes"),
            );
            return None;
        };
        Some(value)
    }

    /// Text that is not blank.
    pub fn text(&self, key: &str, example: &str) -> Option<&'t str> {
        let node = self.get(key)?;
        match &node.value {
            Value::Text(text) if !text.trim().is_empty() => Some(text.trim()),
            Value::Text(_) => {
                let wrong = Wrong::Missing { who: self.who.clone(), key: key.to_owned() };
                self.fault(key, wrong, format!("write {key} = \"{example}\""));
                None
            }
            _ => {
                self.wrong_type(key, "text", node, &format!("write {key} = \"{example}\""));
                None
            }
        }
    }

    /// Text, if that is what it is; nothing is noted.
    pub fn plain_text(&self, key: &str) -> Option<&'t str> {
        match &self.get(key)?.value {
            Value::Text(text) => Some(text.trim()),
            _ => None,
        }
    }

    /// An instant: RFC 3339 with its zone, in quotes or as TOML's own.
    pub fn time(&self, key: &str) -> Option<Timestamp> {
        let node = self.get(key)?;
        let example = "2031-03-09T03:41:10Z";
        let text = match &node.value {
            Value::Time(text) => text.as_str(),
            _ => self.text(key, example)?,
        };
        if let Ok(time) = text.parse() {
            return Some(time);
        }
        let (who, key_name, value) = (self.who.clone(), key.to_owned(), shown(text, SHOWN));
        // A date and time that lack nothing but the zone.
        let dated = text.parse::<jiff::civil::DateTime>().is_ok() && text.contains(':');
        if dated && !text.to_ascii_uppercase().ends_with('Z') {
            let mend = format!("end it in Z where it is UTC: \"{value}Z\"");
            self.fault(key, Wrong::TimeZone { who, key: key_name, value }, mend);
        } else {
            let mend = format!("write date, time and Z: \"{example}\" (RFC 3339)");
            self.fault(key, Wrong::Time { who, key: key_name, value }, mend);
        }
        None
    }

    /// A position, decimal or in degrees and minutes with letters.
    pub fn position(&self, key: &str) -> Option<Position> {
        let text = self.text(key, "38 12.9 S, 21 30.5 W")?;
        match text.parse() {
            Ok(position) => Some(position),
            Err(error) => {
                let why = shown(&format!("{error}"), 160);
                let wrong = Wrong::Position { who: self.who.clone(), key: key.to_owned(), why };
                self.fault(key, wrong, "latitude first, then longitude");
                None
            }
        }
    }

    /// One of a few words.
    pub fn word<T>(
        &self,
        key: &str,
        words: &'static [&'static str],
        parse: impl Fn(&str) -> Option<T>,
    ) -> Option<T> {
        let text = self.text(key, words.first().copied().unwrap_or_default())?;
        let parsed = parse(text);
        if parsed.is_none() {
            let (who, key_name, value) = (self.who.clone(), key.to_owned(), shown(text, SHOWN));
            let mend = did_you_mean(text, words);
            self.fault(key, Wrong::Word { who, key: key_name, value, words }, mend);
        }
        parsed
    }

    /// What a heading was counted from; none where nothing is said of it.
    pub fn heading_kind(&self) -> Option<BearingKind> {
        self.word("heading_kind", BearingKind::OF_HEADING, |word| {
            BearingKind::parse(word).filter(|kind| *kind != BearingKind::Relative)
        })
    }

    /// A correction to a compass, with its letter.
    pub fn correction<T>(&self, key: &str, parse: impl Fn(&str) -> Option<T>) -> Option<T> {
        let node = self.get(key)?;
        let given = match &node.value {
            Value::Text(text) => text.trim().to_owned(),
            // A bare number is the commonest slip: its sign would have to be guessed.
            Value::Number(number) => number.to_string(),
            _ => {
                self.wrong_type(key, "text", node, &format!("write {key} = \"18.2 W\""));
                return None;
            }
        };
        if let Some(correction) = parse(&given) {
            return Some(correction);
        }
        let bare: Option<f64> = given.parse().ok().filter(|v: &f64| (0.0..=180.0).contains(v));
        let mend = match bare {
            Some(number) => format!("write \"{number} E\" or \"{number} W\""),
            None => {
                "write degrees and a letter, \"18.2 W\": a sign would have to be guessed".into()
            }
        };
        let (who, key_name, value) = (self.who.clone(), key.to_owned(), shown(&given, SHOWN));
        self.fault(key, Wrong::NoLetter { who, key: key_name, value }, mend);
        None
    }

    fn path_of(&self, key: &str) -> String {
        let key = shown(key, SHOWN);
        if self.path.is_empty() { key } else { format!("{}.{key}", self.path) }
    }
}
