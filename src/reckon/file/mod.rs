//! Reads a file of legs: TOML, or the same keys as JSON.
//!
//! Every fault is noted and read past, so that one run tells them all; legs are settled in order, each
//! from where the one before ends, as variation and times follow from it.

mod deviation;
mod fixes;
mod leg;
mod lines;
mod settle;
mod start;
mod variation;

use super::growth::Craft;
use super::legs::Legs;
use crate::chart::Chart;
use crate::contact::file::read_whole;
use crate::contact::file::section::Section;
use crate::contact::file::tree::{Node, Value};
use crate::contact::{SightingsError, Wrong};

/// What a file of legs holds, for a message about one that does not.
const WHOLE_FILE: &str = "a file of legs has [start] with time, position and sigma_nm, and a [[leg]] for \
                          each heading or track held";

/// The most legs and fixes taken.
const MOST_LEGS: usize = 500;

impl Legs {
    /// Reads a text; `name` stands for it in messages.
    ///
    /// # Errors
    /// Everything that is wrong with what it says.
    pub fn parse(text: &str, name: &str) -> Result<Self, SightingsError> {
        Self::parse_on(text, name, None)
    }

    /// The same, marks named by its lines looked up on a chart.
    ///
    /// # Errors
    /// Everything that is wrong with what it says; a mark that the chart does not have.
    pub fn parse_on(text: &str, name: &str, chart: Option<&Chart>) -> Result<Self, SightingsError> {
        read_whole(text, name, WHOLE_FILE, |root| read(root, chart))
    }
}

/// The legs of a file; `None` only where faults were noted.
fn read(root: &Section<'_>, chart: Option<&Chart>) -> Option<Legs> {
    root.only(&["start", "leg", "fix", "line", "deviation"]);
    let Some(about) = root.get("start") else {
        let wrong = Wrong::NoSection { section: "start".to_owned() };
        root.faults.note("", wrong, WHOLE_FILE.to_owned(), None, "");
        return None;
    };
    let start = table(root, "[start]", "start", about)?;
    let sections = list(root, "leg", "leg")?;
    if sections.is_empty() {
        let why = "there is no [[leg]]".to_owned();
        let wrong = Wrong::Reading { who: "the file".to_owned(), why };
        root.faults.note("leg", wrong, WHOLE_FILE.to_owned(), None, "");
    }
    let craft = craft(&start, &sections);
    let table = deviation::read(root, &start);
    let start = start::read(&start, craft, table);
    let given: Vec<_> = sections.into_iter().map(leg::read).collect();
    let fixes = fixes::read(root);
    let lines = lines::read(root, chart);
    settle::settle(&start?, &given, fixes, lines)
}

/// A table, noted where it is none.
fn table<'t>(root: &Section<'t>, who: &str, path: &str, node: &'t Node) -> Option<Section<'t>> {
    let Value::Table(entries) = &node.value else {
        let wrong = Wrong::WrongType {
            who: root.who.clone(),
            key: who.to_owned(),
            wanted: "a table",
            found: node.value.kind(),
        };
        root.faults.note(path, wrong, WHOLE_FILE.to_owned(), node.at.clone(), "here");
        return None;
    };
    let (who, path, at) = (who.to_owned(), path.to_owned(), node.at.clone());
    Some(Section { who, path, at, entries, faults: root.faults })
}

/// A list of tables; empty where there is none, `None` where it is no such list.
fn list<'t>(root: &Section<'t>, key: &str, who: &str) -> Option<Vec<Section<'t>>> {
    let Some(node) = root.get(key) else { return Some(Vec::new()) };
    let Value::Array(items) = &node.value else {
        let (who, found) = (root.who.clone(), node.value.kind());
        let wrong = Wrong::WrongType { who, key: key.to_owned(), wanted: "a list", found };
        root.fault(key, wrong, format!("write [[{key}]], in two brackets, before each"));
        return None;
    };
    if let Some(extra) = items.get(MOST_LEGS) {
        let why = format!("{} of [[{key}]]: at most {MOST_LEGS} are taken", items.len());
        let wrong = Wrong::Reading { who: root.who.clone(), why };
        let mend = "split them over several files, each from where the one before ends";
        root.faults.note(key, wrong, mend.to_owned(), extra.at.clone(), "one too many");
        return None;
    }
    items
        .iter()
        .enumerate()
        .map(|(index, node)| {
            table(root, &format!("{who} {}", index + 1), &format!("{key}[{index}]"), node)
        })
        .collect()
}

/// What is reckoned: as stated, else by what carries it; `None` where nothing tells.
fn craft(start: &Section<'_>, legs: &[Section<'_>]) -> Option<Craft> {
    let all = || std::iter::once(start).chain(legs);
    if start.has("craft") {
        let craft = start.word("craft", Craft::WORDS, Craft::parse)?;
        all().for_each(|section| carried_by_its_own(section, craft));
        return Some(craft);
    }
    let wind = all().find(|section| section.has("wind"));
    let current = all().find(|section| section.has("current"));
    if let (Some(windy), Some(afloat)) = (wind, current) {
        let why =
            format!("a current, and {} has a wind: is it an aircraft or a vessel?", windy.who);
        let wrong = Wrong::Reading { who: afloat.who.clone(), why };
        let mend = "a wind carries an aircraft, a current a vessel: keep one of them";
        afloat.fault("current", wrong, mend);
    }
    match (wind, current) {
        (Some(_), _) => Some(Craft::Aircraft),
        (None, Some(_)) => Some(Craft::Vessel),
        (None, None) => None,
    }
}

/// Notes what does not carry a craft that is stated: she would drift with the whole speed of the wind.
fn carried_by_its_own(section: &Section<'_>, craft: Craft) {
    let (key, why, mend) = match craft {
        Craft::Vessel => (
            "wind",
            "a wind does not carry a vessel at its own speed",
            "leave it out (leeway is in the sigma), or give the current",
        ),
        Craft::Aircraft => ("current", "a current does not carry an aircraft", "give the wind"),
    };
    if section.has(key) {
        let wrong = Wrong::Reading { who: section.who.clone(), why: why.to_owned() };
        section.fault(key, wrong, mend);
    }
}

#[cfg(test)]
mod tests;
