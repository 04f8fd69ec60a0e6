//! Reads a sightings file: TOML, or the same keys as JSON.
//!
//! The text becomes a bare tree with places; each section is then read key by key, and every fault
//! is noted and read past, so that one run tells them all.

mod contacts;
pub(crate) mod fault;
mod outlines;
mod own;
pub(crate) mod reckoning;
pub(crate) mod section;
pub(crate) mod tree;

use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::sync::Arc;

use self::fault::Source;
use self::section::{Faults, Section};
use self::tree::{Key, Node, Place, Value};
use super::own::MOST_BEARING_SIGMA_DEG;
use super::sightings::{Among, Radar, Sightings, StatedAccuracy};
use crate::geodesy::Position;
use crate::radar::{Set, SetError};
use crate::units::GroundRange;

pub use self::fault::{Fault, SightingsError, Wrong};

/// The largest file taken, in bytes.
const MOST_BYTES: u64 = 4 * 1024 * 1024;

/// The largest error taken for a range, in nautical miles.
pub(crate) const MOST_RANGE_SIGMA_NM: f64 = 20.0;

/// The greatest range taken, in nautical miles: beyond any radar that looks along the surface.
pub(crate) const MOST_RANGE_NM: f64 = 500.0;

/// What a sightings file holds, for a message about one that does not.
const WHOLE_FILE: &str = "a sightings file has [reckoning], [own] and [radar], and a [[contact]] for \
                          each echo measured";

/// The file that sightings came from: its text, and where it names marks.
#[derive(Debug, Clone)]
pub(super) struct Given {
    source: Arc<Source>,
    marks: Vec<MarkGiven>,
}

/// Where a file names a mark.
#[derive(Debug, Clone)]
struct MarkGiven {
    /// The contact's label.
    contact: String,
    /// The entry's path.
    path: String,
    at: Option<Place>,
}

impl Sightings {
    /// Reads a file.
    ///
    /// # Errors
    /// No such file, no UTF-8, larger than 4 MiB, or everything that is wrong with what it says.
    pub fn read(path: &Path) -> Result<Self, SightingsError> {
        let name = path.display().to_string();
        let unreadable = |why: String, mend: &str| SightingsError::Unreadable {
            name: fault::shown(&name, 200),
            why,
            mend: mend.to_owned(),
        };
        let mut bytes = Vec::new();
        File::open(path)
            .and_then(|file| file.take(MOST_BYTES + 1).read_to_end(&mut bytes))
            .map_err(|error| unreadable(error.to_string(), WHOLE_FILE))?;
        if bytes.len() as u64 > MOST_BYTES {
            return Err(unreadable("it is larger than 4 MiB".into(), WHOLE_FILE));
        }
        let text = String::from_utf8(bytes).map_err(|error| {
            let at = error.utf8_error().valid_up_to();
            unreadable(format!("byte {at} is not UTF-8 text"), "save it as UTF-8")
        })?;
        let base = path.parent().unwrap_or(Path::new(""));
        Self::parse(&text, &name, base)
    }

    /// Reads a text; `name` stands for it in messages, paths in it count from `base`.
    ///
    /// # Errors
    /// Everything that is wrong with what it says.
    pub fn parse(text: &str, name: &str, base: &Path) -> Result<Self, SightingsError> {
        read_whole(text, name, WHOLE_FILE, |root| read(root, Figures::Named(base)))
    }

    /// Reads a text by the figures of a set that is at hand, whatever set it names: the file of that one
    /// may be gone.
    ///
    /// # Errors
    /// As [`Sightings::parse`].
    pub fn parse_by(text: &str, name: &str, set: &Set) -> Result<Self, SightingsError> {
        read_whole(text, name, WHOLE_FILE, |root| read(root, Figures::AtHand(set)))
    }
}

/// Where the figures of the set come from.
#[derive(Clone, Copy)]
enum Figures<'a> {
    /// By the name that the text gives it, a path counted from here.
    Named(&'a Path),
    /// They are known.
    AtHand(&'a Set),
}

impl Sightings {
    /// Checks every mark that a contact names: `known` tells whether there is one of that name,
    /// `near` offers names like one there is not, `among` says where it was looked for.
    ///
    /// # Errors
    /// Every name that is not known, pointing into the file.
    pub(in crate::contact) fn check_names(
        &self,
        known: impl Fn(&str) -> bool,
        near: impl Fn(&str) -> Vec<String>,
        among: Among,
    ) -> Result<(), SightingsError> {
        let source = match &self.given {
            Some(given) => Arc::clone(&given.source),
            None => Arc::new(Source::new("as entered", "")),
        };
        let faults = Faults::new(Arc::clone(&source));
        for contact in &self.contacts {
            let Some(belief) = contact.belief.as_ref().filter(|b| !known(&b.mark)) else {
                continue;
            };
            let given = self.given.iter().flat_map(|given| &given.marks);
            let place = given.into_iter().find(|mark| mark.contact == contact.label);
            let path = place.map_or("", |mark| mark.path.as_str());
            let wrong = Wrong::UnknownMark {
                contact: contact.label.clone(),
                name: fault::shown(&belief.mark, 60),
                among: among.words(),
            };
            let mend = fault::did_you_mean_mark(&near(&belief.mark), among.otherwise());
            faults.note(path, wrong, mend, place.and_then(|mark| mark.at.clone()), "named here");
        }
        faults.into_error()
    }
}

/// Reads a text: what it says, or everything that is wrong with it.
///
/// - `name`: stands for it in messages; `whole`: what a whole file of the kind looks like.
/// - `read`: of its outermost table; `None` only where faults were noted.
pub(crate) fn read_whole<T>(
    text: &str,
    name: &str,
    whole: &str,
    read: impl FnOnce(&Section<'_>) -> Option<T>,
) -> Result<T, SightingsError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let source = Arc::new(Source::new(name, text));
    let faults = Faults::new(Arc::clone(&source));
    let found = entries_of(text, whole, &faults).and_then(|entries| {
        let (who, path, at) = ("the file".to_owned(), String::new(), None);
        read(&Section { who, path, at, entries: &entries, faults: &faults })
    });
    match (found, faults.into_error()) {
        (_, Err(error)) => Err(error),
        (Some(found), Ok(())) => Ok(found),
        // Nothing is refused without a word: not reached.
        (None, Ok(())) => {
            Err(SightingsError::Several { name: source.name.clone(), faults: Vec::new() })
        }
    }
}

/// The entries of a text; `None` only where faults were noted.
fn entries_of(text: &str, whole: &str, faults: &Faults) -> Option<tree::Table> {
    if text.trim().is_empty() {
        faults.note("", Wrong::Empty, whole.to_owned(), None, "");
        return None;
    }
    match tree::parse(text) {
        Ok(entries) => Some(entries),
        Err(error) => {
            let wrong = Wrong::Syntax { format: error.format, message: error.message };
            let path = error.at.as_ref().map_or_else(String::new, |at| line_column(text, at.start));
            let mend = "text stands in quotes, numbers without a unit".to_owned();
            faults.note(&path, wrong, mend, error.at, "here");
            None
        }
    }
}

/// The sightings of a file; `None` only where faults were noted.
fn read(root: &Section<'_>, figures: Figures<'_>) -> Option<Sightings> {
    // What a trainee declares is for the score alone.
    root.only(&["reckoning", "own", "radar", "chart", "landfall", "contact", "outline", "declare"]);
    let mut cautions = Vec::new();
    let reckoning = section(root, "reckoning", true).and_then(|s| reckoning::read(&s));
    let about_own = section(root, "own", true);
    let own =
        about_own.as_ref().and_then(|s| own::read(s, reckoning.as_ref(), root, &mut cautions));
    let radar = section(root, "radar", true).and_then(|s| radar(&s, figures));
    if let (Some(section), Some(radar)) = (&about_own, &radar) {
        own::refuse_bank(section, radar);
    }
    let accuracy = section(root, "chart", false).map(|s| accuracy(&s)).unwrap_or_default();
    let landfall = section(root, "landfall", false).and_then(|s| landfall(&s));
    let readings = contacts::read(root);
    let traced = outlines::read(root);
    let about = (reckoning.as_ref(), own.as_ref(), radar.as_ref());
    let (contacts, marks) = contacts::settle(readings, about.0, about.1, about.2);
    let outlines = outlines::settle(traced, about, &mut cautions);
    Some(Sightings {
        reckoning: reckoning?,
        own: own?,
        radar: radar?,
        accuracy,
        contacts,
        outlines,
        landfall,
        cautions,
        given: Some(Given { source: Arc::clone(&root.faults.source), marks }),
    })
}

fn line_column(text: &str, at: usize) -> String {
    let before = text.get(..at).unwrap_or(text);
    let line = before.matches('\n').count() + 1;
    let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
    format!("line {line}, column {column}")
}

/// A table of the root, noted where it must be there and is not, or is none.
fn section<'t>(root: &Section<'t>, key: &str, needed: bool) -> Option<Section<'t>> {
    let Some((name, node)) = root.entries.iter().find(|(name, _)| name.name == key) else {
        if needed {
            let wrong = Wrong::NoSection { section: key.to_owned() };
            root.faults.note("", wrong, WHOLE_FILE.to_owned(), None, "");
        }
        return None;
    };
    subsection(root, format!("[{key}]"), key.to_owned(), name, node)
}

fn subsection<'t>(
    root: &Section<'t>,
    who: String,
    path: String,
    key: &Key,
    node: &'t Node,
) -> Option<Section<'t>> {
    let at = key.at.clone().or_else(|| node.at.clone());
    let Value::Table(entries) = &node.value else {
        let wrong = Wrong::WrongType {
            who: who.clone(),
            key: key.name.clone(),
            wanted: "a table",
            found: node.value.kind(),
        };
        root.faults.note(&path, wrong, WHOLE_FILE.to_owned(), at, "here");
        return None;
    };
    Some(Section { who, path, at, entries, faults: root.faults })
}

fn radar(section: &Section<'_>, figures: Figures<'_>) -> Option<Radar> {
    section.only(&["set", "range_sigma_nm", "bearing_sigma_deg"]);
    let range_sigma_nm = section.sigma("range_sigma_nm", MOST_RANGE_SIGMA_NM);
    let bearing_sigma_deg = section.sigma("bearing_sigma_deg", MOST_BEARING_SIGMA_DEG);
    let known = format!("a built-in set ({}), or the path of a set file", Set::NAMES.join(", "));
    let name = section.needed("set", section.text("set", "patrol"), &known)?;
    let found = match figures {
        Figures::Named(base) => Set::resolve(name, base),
        Figures::AtHand(set) => Ok(set.clone()),
    };
    match found {
        Ok(set) => {
            let set_name = fault::shown(name, 200);
            Some(Radar { set, set_name, range_sigma_nm, bearing_sigma_deg })
        }
        Err(error) => {
            let near = fault::nearest(name, &Set::NAMES);
            let mend = match near.first() {
                Some(near) => format!("did you mean {near}? else give {known}"),
                None => format!("give {known}; a path counts from this file's folder"),
            };
            let wrong = Wrong::Set { who: section.who.clone(), why: set_refused(&error) };
            section.fault("set", wrong, mend);
            None
        }
    }
}

/// Why a set is not taken: all on one line, and no talk of files where a name was meant.
fn set_refused(error: &SetError) -> String {
    match error {
        SetError::Missing { name, .. } if !name.contains(['/', '\\', '.']) => {
            format!("no set named \"{}\"", fault::shown(name, 60))
        }
        SetError::Missing { name, reason } => {
            format!("the set file \"{}\" cannot be read: {reason}", fault::shown(name, 200))
        }
        other => {
            let lines: Vec<String> =
                other.to_string().lines().map(|line| fault::shown(line, 300)).collect();
            lines.join("; ")
        }
    }
}

fn accuracy(section: &Section<'_>) -> StatedAccuracy {
    section.only(&["point_sigma_nm", "shift_sigma_nm"]);
    let sigma = |key| {
        let miles = section.sigma(key, MOST_RANGE_SIGMA_NM)?;
        GroundRange::from_nautical_miles(miles).ok()
    };
    StatedAccuracy { point_sigma: sigma("point_sigma_nm"), shift_sigma: sigma("shift_sigma_nm") }
}

fn landfall(section: &Section<'_>) -> Option<Position> {
    section.only(&["position"]);
    section.needed_position("38 12.9 S, 21 30.5 W")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contact::{BearingKind, Part};

    /// Every section and key that is taken.
    const WHOLE: &str = r#"
[reckoning]
time = "2031-03-09T03:40:00Z"
position = "38 12.9 S, 21 30.5 W"
sigma_nm = 4.0
track_deg = 74.0
speed_kn = 165.0
track_sigma_deg = 3.0
speed_sigma_kn = 5.0

[own]
height_ft = 2000
heading_deg = 70.0
heading_kind = "true"
heading_sigma_deg = 1.0
variation = "18.2 W"
deviation = "2.0 E"
gyro_error = "1.0 W"

[radar]
set = "patrol"
range_sigma_nm = 0.15
bearing_sigma_deg = 1.5

[chart]
point_sigma_nm = 0.20

[landfall]
position = "-37.9,-21.0"

[[contact]]
label = "A"
time = "2031-03-09T03:41:10Z"
range_nm = 17.3
bearing_deg = 42.5
bearing_kind = "relative"
part = "centre"
mark = "Gannet Head"
mark_confidence = 0.9

[[contact]]
time = 2031-03-09T03:42:00+00:00
range_nm = 20
range_sigma_nm = 0.3
"#;

    fn parsed(text: &str) -> Sightings {
        Sightings::parse(text, "dusk.toml", Path::new("")).unwrap()
    }

    #[test]
    fn every_key_is_taken() {
        let sightings = parsed(WHOLE);
        assert!((sightings.reckoning.position.latitude() - -38.215).abs() < 1e-9);
        assert!((sightings.reckoning.track_sigma.degrees() - 3.0).abs() < 1e-9);
        assert!((sightings.own.heading.unwrap().degrees() - 70.0).abs() < 1e-9);
        let heading = sightings.own.heading_as_read.unwrap();
        assert_eq!(heading.kind, BearingKind::True);
        assert!((sightings.bearing_bias_sigma().degrees() - 1.0).abs() < 1e-9);
        assert_eq!(sightings.radar.set_name, "patrol");
        let stated = sightings.accuracy.point_sigma.unwrap();
        assert!((stated.nautical_miles() - 0.2).abs() < 1e-9);
        assert_eq!(sightings.accuracy.shift_sigma, None);
        assert!((sightings.landfall.unwrap().longitude() - -21.0).abs() < 1e-9);
        let [a, b] = sightings.contacts.as_slice() else { panic!("two contacts") };
        assert_eq!((a.label.as_str(), a.part), ("A", Part::Centre));
        assert!((a.bearing.unwrap().degrees() - 112.5).abs() < 1e-9);
        assert_eq!(a.as_read.unwrap().kind, BearingKind::Relative);
        let belief = a.belief.as_ref().unwrap();
        assert_eq!(belief.mark, "Gannet Head");
        assert!((belief.confidence - 0.9).abs() < 1e-12);
        assert_eq!((b.label.as_str(), b.part), ("B", Part::Near));
        assert!((b.range_sigma.nautical_miles() - 0.3).abs() < 1e-9);
        assert_eq!(sightings.latest(), b.time);
        assert_eq!(sightings.cautions, Vec::<String>::new());
    }

    #[test]
    fn no_label_is_made_that_another_has_in_small_letters() {
        let text = WHOLE.replacen("label = \"A\"", "label = \"b\"", 1);
        let sightings = parsed(&text);
        let labels: Vec<&str> = sightings.contacts.iter().map(|c| c.label.as_str()).collect();
        assert_eq!(labels, ["b", "A"]);
        let text = WHOLE.replacen("label = \"A\"", "label = \"a\"", 1);
        let sightings = parsed(&text);
        assert_eq!(sightings.contacts[1].label, "B");
    }

    #[test]
    fn json_has_the_same_keys() {
        // Another library turns the one into the other.
        let table: toml::Table = WHOLE.parse().unwrap();
        let mut table = serde_json::to_value(table).unwrap();
        // TOML's own time has no counterpart in JSON.
        table["contact"][1]["time"] = "2031-03-09T03:42:00Z".into();
        let json = parsed(&table.to_string());
        let toml = parsed(WHOLE);
        assert_eq!(json.contacts, toml.contacts);
        assert_eq!(json.reckoning, toml.reckoning);
        assert_eq!(json.own, toml.own);
    }

    #[test]
    fn what_is_left_out_has_its_stated_default() {
        let sightings = parsed(
            "[reckoning]\ntime = \"2026-03-09T03:40:00Z\"\nposition = \"38 S 21 W\"\n\
             sigma_along_nm = 3\nsigma_across_nm = 1\ntrack_deg = 0\nspeed_kn = 200\n\
             [own]\nheight_ft = 50\n[radar]\nset = \"boat\"\n",
        );
        assert!((sightings.reckoning.track_sigma.degrees() - 2.0).abs() < 1e-9);
        assert!((sightings.reckoning.speed_sigma.knots() - 6.0).abs() < 1e-9);
        let [[ee, _], [_, nn]] = sightings.reckoning.covariance.square_miles();
        assert!((ee - 1.0).abs() < 1e-9 && (nn - 9.0).abs() < 1e-9);
        assert!((sightings.bearing_bias_sigma().degrees() - 1.5).abs() < 1e-9);
        assert!(sightings.contacts.is_empty());
        assert_eq!(sightings.latest(), sightings.reckoning.time);
    }

    #[test]
    fn the_magnetic_model_stands_in_for_the_variation() {
        let text = WHOLE.replace("variation = \"18.2 W\"\n", "");
        let unused = parsed(&text);
        assert!(unused.own.variation.is_some());
        assert!((unused.bearing_bias_sigma().degrees() - 1.0).abs() < 1e-9);
        assert!(unused.cautions.is_empty());
        let used = parsed(&text.replace("\"relative\"", "\"magnetic\""));
        let model = used.own.modelled.as_ref().unwrap();
        let both = 1.0f64.hypot(model.sigma.degrees());
        assert!(both > 1.0 && (used.bearing_bias_sigma().degrees() - both).abs() < 1e-9, "{both}");
        assert_eq!(used.model_caution(), used.cautions.first().map(String::as_str));
        // The heading that bearings are counted from goes by it too.
        let headed = parsed(&text.replace("\"true\"", "\"compass\""));
        assert!((headed.bearing_bias_sigma().degrees() - both).abs() < 1e-9);
        assert!(used.own.conversion[0].contains("World Magnetic Model"), "{:?}", used.own);
        // 2031 is past the model's last day.
        assert!(used.cautions[0].contains("2029-12-31"), "{:?}", used.cautions);
    }

    #[test]
    fn a_compass_without_deviation_is_said() {
        let text = WHOLE.replace("deviation = \"2.0 E\"\n", "").replace("\"true\"", "\"compass\"");
        let sightings = parsed(&text);
        assert_eq!(sightings.cautions, ["no deviation stated: the compass is taken to have none"]);
        assert_eq!(
            sightings.own.conversion,
            ["heading: C 070.0, dev 0.0 E, M 070.0, var 18.2 W, T 051.8"]
        );
    }

    #[test]
    fn names_that_are_not_known_are_offered_near_ones() {
        let near = |_: &str| vec!["Gannet Head".to_owned()];
        let text = WHOLE.replace("Gannet Head", "Ganet Head");
        let checked =
            |known: &dyn Fn(&str) -> bool| parsed(&text).check_names(known, near, Among::TheChart);
        assert!(checked(&|_| true).is_ok());
        let refused = checked(&|name| name == "Gannet Head").unwrap_err();
        let SightingsError::One(fault) = refused else { panic!("one fault") };
        assert_eq!(fault.to_string(), "contact A: no mark named \"Ganet Head\" on this chart");
        assert_eq!(fault.mend, "did you mean Gannet Head? `foreland chart marks` lists them all");
    }
}
