//! `[[contact]]`.

use std::collections::{HashMap, HashSet};

use super::fault::{Fault, shown};
use super::own::height_of;
use super::section::Section;
use super::tree::{Node, Place, Value};
use super::{MOST_RANGE_NM, MOST_RANGE_SIGMA_NM, MarkGiven, Wrong, subsection};
use crate::contact::MOST_BEARING_SIGMA_DEG;
use crate::contact::own::OwnError;
use crate::contact::reading::ReadingError;
use crate::contact::{
    BearingKind, Contact, Deflections, Own, Part, Radar, Reading, Reckoning, Sightings,
};
use crate::text::is_plain;

/// Every key of a contact.
const KEYS: &[&str] = &[
    "label",
    "time",
    "own_height_ft",
    "range_nm",
    "bearing_deg",
    "bearing_kind",
    "part",
    "mark",
    "mark_confidence",
    "range_sigma_nm",
    "bearing_sigma_deg",
    "deflection",
];

/// The most characters of a label: it stands beside the echo on the screen.
pub(super) const LABEL_MOST: usize = 24;

/// A contact as the file gives it, with its section to point into.
pub(super) struct Given<'t> {
    section: Section<'t>,
    label: String,
    reading: Reading,
    /// Whether every key read well: what is left out is judged only then.
    sound: bool,
}

/// What stands in a list of its own: the two share one set of labels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Contact,
    Outline,
}

impl Kind {
    fn key(self) -> &'static str {
        match self {
            Self::Contact => "contact",
            Self::Outline => "outline",
        }
    }
}

/// The list of a kind; empty where there is none.
fn items_of<'t>(root: &Section<'t>, kind: Kind) -> &'t [Node] {
    match root.get(kind.key()).map(|node| &node.value) {
        Some(Value::Array(items)) => items.as_slice(),
        _ => &[],
    }
}

/// Reads every contact; too many are noted once and not read.
pub(super) fn read<'t>(root: &Section<'t>) -> Vec<Given<'t>> {
    for kind in [Kind::Contact, Kind::Outline] {
        refuse_one_bracket(root, kind);
    }
    let most = Sightings::MOST_CONTACTS;
    let too_many = |count| Wrong::TooManyContacts { count, most };
    let mend = "keep those of the last few minutes, the best spread in bearing";
    let Some(items) = few_enough(root, Kind::Contact, most, too_many, mend) else {
        return Vec::new();
    };
    let labels = labels_of(root, Kind::Contact);
    refuse_twins(root);
    items
        .iter()
        .zip(labels)
        .enumerate()
        .filter_map(|(index, (item, label))| one(root, index, item, label))
        .collect()
}

/// The list of a kind; none where it is longer than is taken, which is noted once.
pub(super) fn few_enough<'t>(
    root: &Section<'t>,
    kind: Kind,
    most: usize,
    too_many: impl FnOnce(usize) -> Wrong,
    mend: &str,
) -> Option<&'t [Node]> {
    let items = items_of(root, kind);
    let Some(extra) = items.get(most) else { return Some(items) };
    let wrong = too_many(items.len());
    root.faults.note(kind.key(), wrong, mend.to_owned(), extra.at.clone(), "one too many");
    None
}

fn refuse_one_bracket(root: &Section<'_>, kind: Kind) {
    let Some(node) = root.get(kind.key()) else { return };
    if !matches!(node.value, Value::Array(_)) {
        let (who, found) = ("the file".to_owned(), node.value.kind());
        let key = kind.key();
        let wrong = Wrong::WrongType { who, key: key.into(), wanted: "a list", found };
        root.fault(key, wrong, format!("write [[{key}]], in two brackets, before each"));
    }
}

fn one<'t>(root: &Section<'t>, index: usize, item: &'t Node, label: String) -> Option<Given<'t>> {
    let key = super::Key { name: "contact".to_owned(), at: item.at.clone() };
    let who = format!("contact {}", shown(&label, LABEL_MOST));
    let section = subsection(root, who, format!("contact[{index}]"), &key, item)?;
    section.only(KEYS);
    section.text("label", "A");
    check_words(&section);
    let reading = reading(&section, &label);
    // A key that is there and gave nothing was noted as it was read.
    let told = [
        ("time", reading.time.is_some()),
        ("range_nm", reading.range_nm.is_some()),
        ("bearing_deg", reading.bearing.is_some()),
        ("deflection", reading.deflections.is_some()),
    ];
    let sound = told.iter().all(|(key, read)| *read || !section.has(key));
    Some(Given { section, label, reading, sound })
}

fn reading(section: &Section<'_>, label: &str) -> Reading {
    let kind = section.word("bearing_kind", BearingKind::WORDS, BearingKind::parse);
    let clockwise = "from 0 to 360, clockwise";
    let degrees = section.within("bearing_deg", 0.0, 360.0, clockwise);
    if section.has("bearing_kind") && !section.has("bearing_deg") && kind.is_some() {
        let (who, key) = (section.who.clone(), "bearing_deg".to_owned());
        section.fault(
            "bearing_deg",
            Wrong::Missing { who, key },
            "bearing_kind is of no use without it",
        );
    }
    let kind = if section.has("bearing_kind") { kind } else { Some(BearingKind::True) };
    let slant = "the slant range as measured, in nautical miles";
    let confidence = section.within("mark_confidence", 0.0, 1.0, "from 0, a guess, to 1, certain");
    let mark = section.text("mark", "Gannet Head");
    if section.has("mark_confidence") && !section.has("mark") {
        let (who, key) = (section.who.clone(), "mark".to_owned());
        section.fault(
            "mark",
            Wrong::Missing { who, key },
            "mark_confidence is of no use without it",
        );
    }
    Reading {
        label: Some(label.to_owned()),
        time: section.time("time"),
        own_height: height_of(section, "own_height_ft"),
        range_nm: section.within("range_nm", 0.0, MOST_RANGE_NM, slant),
        bearing: degrees.zip(kind),
        deflections: deflections(section),
        range_sigma_nm: section.sigma("range_sigma_nm", MOST_RANGE_SIGMA_NM),
        bearing_sigma_deg: section.sigma("bearing_sigma_deg", MOST_BEARING_SIGMA_DEG),
        part: section.word("part", Part::WORDS, Part::parse).unwrap_or_default(),
        mark: mark.map(str::to_owned),
        mark_confidence: confidence,
    }
}

/// The contacts, each turned to true and given its errors, and where each names its mark.
pub(super) fn settle(
    given: Vec<Given<'_>>,
    reckoning: Option<&Reckoning>,
    own: Option<&Own>,
    radar: Option<&Radar>,
) -> (Vec<Contact>, Vec<MarkGiven>) {
    let mut contacts = Vec::new();
    let mut marks = Vec::new();
    for Given { section, label, reading, sound } in given {
        if let Some(mark) = section.get("mark") {
            let path = format!("{}.mark", section.path);
            marks.push(MarkGiven { contact: label.clone(), path, at: mark.at.clone() });
        }
        for wrong in wrong_with(&reading, sound, reckoning, own, radar) {
            let why = wrong.to_string();
            let mend = wrong.mend();
            section.fault(
                key_of(&wrong, &reading),
                Wrong::Reading { who: section.who.clone(), why },
                mend,
            );
        }
        if let (Some(reckoning), Some(own), Some(radar)) = (reckoning, own, radar) {
            contacts.extend(Contact::from_reading(&reading, label, reckoning, own, radar));
        }
    }
    (contacts, marks)
}

/// Everything wrong with a reading, as far as the sections it rests on could be read.
fn wrong_with(
    reading: &Reading,
    sound: bool,
    reckoning: Option<&Reckoning>,
    own: Option<&Own>,
    radar: Option<&Radar>,
) -> Vec<ReadingError> {
    let mut wrong = if sound { reading.wrong_alone() } else { Vec::new() };
    // What a key says by itself was noted as it was read.
    wrong.retain(|wrong| {
        !matches!(wrong, ReadingError::NotAboveZero { .. } | ReadingError::Confidence(_))
    });
    if let Some(own) = own.map(|own| reading.own_then(own)) {
        let own = &*own;
        wrong.extend(reading.wrong_for_height(own));
        wrong.extend(radar.and_then(|radar| reading.wrong_for_lobes(own, radar)));
        let turned = reading.as_read().map(|read| own.to_true(read));
        if let Some(Err(error)) = turned {
            wrong.push(error.into());
        }
    }
    if let (Some(reckoning), Some(time)) = (reckoning, reading.time) {
        wrong.extend(reckoning.carried_to(time).err().map(ReadingError::from));
    }
    wrong
}

/// The key that a fault of a reading points to.
fn key_of(wrong: &ReadingError, reading: &Reading) -> &'static str {
    match wrong {
        ReadingError::ShoreWithBearing if reading.deflections.is_some() => "deflection",
        ReadingError::BearingAndDeflections
        | ReadingError::DeflectionsOfScan(_)
        | ReadingError::DeflectionsWithoutHeading
        | ReadingError::NoDeflection { .. }
        | ReadingError::TooFarApart { .. } => "deflection",
        ReadingError::SigmaOfDeflections => "bearing_sigma_deg",
        ReadingError::NothingMeasured | ReadingError::UnderHeight { .. } => "range_nm",
        ReadingError::Bearing(OwnError::NoHeading | OwnError::NoVariation(_)) => "bearing_kind",
        ReadingError::ShoreWithMark => "mark",
        ReadingError::EdgeWithoutBearing(_) => "part",
        ReadingError::ShoreWithBearing | ReadingError::Bearing(_) | ReadingError::Unit(_) => {
            "bearing_deg"
        }
        ReadingError::Time(_) => "time",
        ReadingError::NotAboveZero { what, .. } => what,
        ReadingError::Confidence(_) => "mark_confidence",
    }
}

/// The label of each of a kind: as given, or the first letters not given to another. Contacts
/// come first, outlines after them.
pub(super) fn labels_of(root: &Section<'_>, kind: Kind) -> Vec<String> {
    let (contacts, outlines) = (items_of(root, Kind::Contact), items_of(root, Kind::Outline));
    let mut all = labels(contacts.iter().chain(outlines));
    let of_outlines = all.split_off(contacts.len().min(all.len()));
    if kind == Kind::Contact { all } else { of_outlines }
}

fn labels<'n>(items: impl Iterator<Item = &'n Node>) -> Vec<String> {
    let given: Vec<Option<&str>> = items.map(|item| label_of(item).map(|l| l.0)).collect();
    // Capitals or not: on watch `a` is typed for A.
    let mut taken: HashSet<String> =
        given.iter().flatten().map(|label| label.to_ascii_uppercase()).collect();
    let mut next = 0;
    let mut unused = || {
        loop {
            let letters = letters(next);
            next += 1;
            if taken.insert(letters.clone()) {
                return letters;
            }
        }
    };
    given.into_iter().map(|label| label.map_or_else(&mut unused, str::to_owned)).collect()
}

/// A, B … Z, AA, AB …
fn letters(index: usize) -> String {
    let last = char::from(b'A' + (index % 26) as u8);
    match index / 26 {
        0 => last.to_string(),
        more => format!("{}{last}", letters(more - 1)),
    }
}

fn label_of(item: &Node) -> Option<(&str, Option<Place>)> {
    let Value::Table(entries) = &item.value else { return None };
    let (_, node) = entries.iter().find(|(key, _)| key.name == "label")?;
    match &node.value {
        Value::Text(label) if !label.trim().is_empty() => Some((label.trim(), node.at.clone())),
        _ => None,
    }
}

fn refuse_twins(root: &Section<'_>) {
    // "a" is said and typed like "A".
    let mut first: HashMap<String, (Kind, Option<Place>)> = HashMap::new();
    for kind in [Kind::Contact, Kind::Outline] {
        for (index, item) in items_of(root, kind).iter().enumerate() {
            let Some((label, at)) = label_of(item) else { continue };
            let key = label.to_lowercase();
            let Some((other, before)) = first.get(&key) else {
                first.insert(key, (kind, at));
                continue;
            };
            let what = match (other, kind) {
                (Kind::Contact, Kind::Contact) => "two contacts",
                (Kind::Outline, Kind::Outline) => "two outlines",
                _ => "a contact and an outline",
            };
            let wrong = Wrong::SameLabel { what, label: shown(label, LABEL_MOST) };
            let mend = format!("give each {} a label of its own", kind.key());
            let path = format!("{}[{index}].label", kind.key());
            let fault = Fault::new(&root.faults.source, &path, wrong, mend);
            root.faults.add(fault.at(at, "and again here").at(before.clone(), "first here"));
        }
    }
}

/// Labels and names come back on the screen: nothing in them may move its cursor.
fn check_words(section: &Section<'_>) {
    check_label(section);
    if section.plain_text("mark").is_some_and(|mark| !is_plain(mark)) {
        refuse_words(section, "mark", "the name of its mark has control characters in it");
    }
}

fn refuse_words(section: &Section<'_>, key: &str, why: &'static str) {
    let wrong = Wrong::Words { who: section.who.clone(), why };
    section.fault(key, wrong, "plain text on one line");
}

pub(super) fn check_label(section: &Section<'_>) {
    if let Some(label) = section.plain_text("label") {
        if !is_plain(label) {
            refuse_words(section, "label", "its label has control characters in it");
        } else if label.chars().count() > LABEL_MOST {
            refuse_words(section, "label", "its label is longer than 24 characters");
        }
    }
}

/// The two deflections: a table with a number for each side.
fn deflections(section: &Section<'_>) -> Option<Deflections> {
    const RIGHT: &str = "write deflection = { port = 3.0, starboard = 2.0 }, both in one unit";
    let node = section.get("deflection")?;
    let Value::Table(entries) = &node.value else {
        let (who, found) = (section.who.clone(), node.value.kind());
        let wrong = Wrong::WrongType { who, key: "deflection".into(), wanted: "a table", found };
        section.fault("deflection", wrong, RIGHT);
        return None;
    };
    let pair = Section {
        who: format!("{}: deflection", section.who),
        path: format!("{}.deflection", section.path),
        at: node.at.clone(),
        entries,
        faults: section.faults,
    };
    pair.only(&["port", "starboard"]);
    let port = pair.needed("port", pair.number("port"), RIGHT);
    let starboard = pair.needed("starboard", pair.number("starboard"), RIGHT);
    Some(Deflections { port: port?, starboard: starboard? })
}

/// Every kind of direction that the file reads: the heading's, the contacts' and the outlines'.
pub(super) fn kinds_used(root: &Section<'_>, heading: Option<BearingKind>) -> Vec<BearingKind> {
    let measured = items_of(root, Kind::Contact).iter().chain(items_of(root, Kind::Outline));
    let kinds = measured.filter_map(|item| {
        let Value::Table(entries) = &item.value else { return None };
        let (_, node) = entries.iter().find(|(key, _)| key.name == "bearing_kind")?;
        match &node.value {
            Value::Text(word) => BearingKind::parse(word.trim()),
            _ => None,
        }
    });
    heading.into_iter().chain(kinds).collect()
}
