use std::fmt;
use std::sync::Arc;

use miette::{Diagnostic, LabeledSpan, NamedSource, SourceCode};
use thiserror::Error;

use super::tree::Place;
/// Text from a file as a message may show it: nothing in it acts, and it is not without end.
pub(crate) use crate::text::shortened as shown;
use crate::text::{covered, place_to_show};

/// Why a sightings file is not taken.
#[derive(Debug, Error, Diagnostic)]
pub enum SightingsError {
    /// The file cannot be read, or holds no text.
    #[error("{name}: cannot be read: {why}")]
    Unreadable {
        /// The file's name.
        name: String,
        /// What stands in the way.
        why: String,
        /// What would be right.
        #[help]
        mend: String,
    },
    /// One thing is wrong with what it says.
    #[error(transparent)]
    #[diagnostic(transparent)]
    One(Box<Fault>),
    /// Several things are wrong with what it says.
    #[error("{name}: {} faults, each told below", faults.len())]
    Several {
        /// The file's name.
        name: String,
        /// Each of them.
        #[related]
        faults: Vec<Fault>,
    },
}

impl SightingsError {
    /// Everything found wrong; empty where the file could not be read at all.
    pub fn faults(&self) -> &[Fault] {
        match self {
            Self::Unreadable { .. } => &[],
            Self::One(fault) => std::slice::from_ref(fault),
            Self::Several { faults, .. } => faults,
        }
    }
}

/// What is wrong with one entry of a sightings file. `who` is the section or the contact.
#[derive(Debug, Clone, PartialEq, Error)]
#[allow(missing_docs)] // the fields are the words of each message
pub enum Wrong {
    #[error("this is no {format}: {message}")]
    Syntax { format: &'static str, message: String },
    #[error("the file is empty")]
    Empty,
    #[error("{who}: unknown key \"{key}\"")]
    UnknownKey { who: String, key: String },
    #[error("[{section}] is missing")]
    NoSection { section: String },
    #[error("{who}: {key} is missing")]
    Missing { who: String, key: String },
    #[error("{who}: {key} must be {wanted}, not {found}")]
    WrongType { who: String, key: String, wanted: &'static str, found: &'static str },
    #[error("{who}: {key} is {value}, which is no number to work with")]
    NotFinite { who: String, key: String, value: f64 },
    #[error("{who}: {key} is {}, outside {least} to {most}", short(*value))]
    Outside { who: String, key: String, value: f64, least: f64, most: f64 },
    #[error("{who}: {key} is {value}, and must be above 0")]
    NotAboveZero { who: String, key: String, value: f64 },
    #[error("{who}: {key} = \"{value}\" is no time")]
    Time { who: String, key: String, value: String },
    #[error("{who}: {key} = \"{value}\" does not say which zone")]
    TimeZone { who: String, key: String, value: String },
    #[error("{who}: {key}: {why}")]
    Position { who: String, key: String, why: String },
    #[error("{who}: {key} = \"{value}\" has no E or W")]
    NoLetter { who: String, key: String, value: String },
    #[error("{who}: {key} = \"{value}\" is none of {}", words.join(", "))]
    Word { who: String, key: String, value: String, words: &'static [&'static str] },
    #[error("{who}: {0} and {1} together say the same thing twice", keys.0, keys.1)]
    Both { who: String, keys: (&'static str, &'static str) },
    #[error("{who}: {why}")]
    Covariance { who: String, why: String },
    #[error("{count} contacts: at most {most} are taken")]
    TooManyContacts { count: usize, most: usize },
    #[error("{count} outlines: at most {most} are taken")]
    TooManyOutlines { count: usize, most: usize },
    #[error("{who}: {}: at least {least} are needed to tell a shape", points(*count))]
    TooFewPoints { who: String, count: usize, least: usize },
    #[error("{who}: {count} points: at most {most} are taken")]
    TooManyPoints { who: String, count: usize, most: usize },
    #[error("{who}: {name} must be two numbers, a bearing and a range; it has {count}")]
    PointShape { who: String, name: String, count: usize },
    #[error("{what} are labelled \"{label}\"")]
    SameLabel { what: &'static str, label: String },
    #[error("{who}: {why}")]
    Words { who: String, why: &'static str },
    #[error("{who}: {why}")]
    Reading { who: String, why: String },
    #[error("{who}: {why}")]
    Set { who: String, why: String },
    #[error("contact {contact}: no mark named \"{name}\" {among}")]
    UnknownMark { contact: String, name: String, among: &'static str },
}

/// One fault of a sightings file: what is wrong, where, and what would be right.
#[derive(Debug, Clone)]
pub struct Fault {
    /// What is wrong.
    pub wrong: Wrong,
    /// What would be right.
    pub mend: String,
    source: Arc<Source>,
    /// The entry's path, `contact[2].range_nm`, told where there is no place in the text.
    path: String,
    labels: Vec<(Place, &'static str)>,
}

/// The text that faults point into.
#[derive(Debug)]
pub(crate) struct Source {
    pub name: String,
    text: NamedSource<String>,
}

impl Source {
    /// Keeps a text for showing: what a terminal would act on is covered, byte for byte.
    pub fn new(name: &str, text: &str) -> Self {
        let name = shown(name, 200);
        Self { text: NamedSource::new(&name, covered(text)), name }
    }
}

impl Fault {
    pub(crate) fn new(source: &Arc<Source>, path: &str, wrong: Wrong, mend: String) -> Self {
        let (source, path) = (Arc::clone(source), path.to_owned());
        Self { wrong, mend, source, path, labels: Vec::new() }
    }

    /// Points into the text, where the place is known and its line can be shown.
    pub(crate) fn at(mut self, place: Option<Place>, label: &'static str) -> Self {
        let place = place.and_then(|place| place_to_show(self.source.text.inner(), place));
        self.labels.extend(place.map(|place| (place, label)));
        self
    }

    /// Where it points first: the order in which faults are told.
    pub(crate) fn start(&self) -> usize {
        self.labels.first().map_or(usize::MAX, |(place, _)| place.start)
    }
}

/// With no place in the text to point to, file and path are named.
impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.labels.is_empty(), self.path.is_empty()) {
            (true, true) => write!(f, "{}: {}", self.source.name, self.wrong),
            (true, false) => write!(f, "{}: {} (at {})", self.source.name, self.wrong, self.path),
            (false, _) => self.wrong.fmt(f),
        }
    }
}

impl std::error::Error for Fault {}

impl Diagnostic for Fault {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        (!self.mend.is_empty()).then(|| Box::new(&self.mend) as Box<dyn fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        (!self.labels.is_empty()).then_some(&self.source.text)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let spans = self.labels.iter().map(|(place, label)| {
            LabeledSpan::new(Some((*label).to_owned()), place.start, place.len())
        });
        (!self.labels.is_empty()).then(|| Box::new(spans) as Box<dyn Iterator<Item = LabeledSpan>>)
    }
}

/// "1 point", "2 points".
fn points(count: usize) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} point{plural}")
}

/// Longer words are compared by their start: no word that is known is as long.
const LONGEST_WORD: usize = 60;

/// The words nearest to one that is not known: over 0.85 alike, best three.
///
/// Likeness is Jaro and Winkler's: it forgives a slip in the middle more than one at the front.
pub(crate) fn nearest(word: &str, known: &[&str]) -> Vec<String> {
    let lower = shown(word, LONGEST_WORD).to_lowercase();
    let mut alike: Vec<(f64, &str)> = known
        .iter()
        .map(|known| (strsim::jaro_winkler(&lower, &known.to_lowercase()), *known))
        .filter(|(likeness, _)| *likeness > 0.85)
        .collect();
    alike.sort_by(|a, b| b.0.total_cmp(&a.0));
    alike.into_iter().take(3).map(|(_, known)| known.to_owned()).collect()
}

/// `did you mean a?`, `did you mean a or b?`, or what is known where nothing is near.
pub(crate) fn did_you_mean(word: &str, known: &[&str]) -> String {
    let near = nearest(word, known);
    match near.split_last() {
        None => format!("known here: {}", known.join(", ")),
        Some((last, [])) => format!("did you mean {last}?"),
        Some((last, others)) => format!("did you mean {} or {last}?", others.join(", ")),
    }
}

/// The same for a mark's name, from those on the chart that are like it.
///
/// - `otherwise`: what to do where none is.
pub(crate) fn did_you_mean_mark(near: &[String], otherwise: &str) -> String {
    match near.split_last() {
        None => format!("`foreland chart marks` lists every mark; {otherwise}"),
        Some((last, [])) => format!("did you mean {last}? `foreland chart marks` lists them all"),
        Some((last, others)) => format!(
            "did you mean {} or {last}? `foreland chart marks` lists them all",
            others.join(", ")
        ),
    }
}

/// A number in few letters, whatever its size.
fn short(value: f64) -> String {
    let plain = value == 0.0 || (1e-6..1e15).contains(&value.abs());
    if plain { format!("{value}") } else { format!("{value:e}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_words_are_offered() {
        let keys = ["range_nm", "range_sigma_nm", "bearing_deg"];
        assert_eq!(did_you_mean("rang_nm", &keys), "did you mean range_nm or range_sigma_nm?");
        assert_eq!(
            did_you_mean("height", &keys),
            "known here: range_nm, range_sigma_nm, bearing_deg"
        );
    }
}
