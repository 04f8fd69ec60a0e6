use std::path::Path;

use jiff::Timestamp;

use super::exercise::Declaration;
use crate::contact::file::read_whole;
use crate::contact::file::section::Section;
use crate::contact::file::tree::Value;
use crate::contact::{Sightings, SightingsError, Wrong};
use crate::geodesy::Position;
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// The largest error that may be stated of a position, nautical miles.
const MOST_SIGMA_NM: f64 = 500.0;

/// What an answer looks like, for a message about one that does not.
const WHOLE: &str = "an answer is a sightings file with [declare]: position and sigma_nm, or neither, \
                     and landfall = \"confirmed\", \"denied\" or \"cannot-say\"";

/// What a trainee says in the end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Declared {
    /// Where we are; none where that cannot be told.
    pub position: Option<Position>,
    /// One standard deviation of it, in each direction.
    pub sigma: Option<GroundRange>,
    /// What has come of the landfall.
    pub landfall: Declaration,
    /// When it is said; at the last contact where not given.
    pub time: Option<Timestamp>,
}

/// An answer to an exercise: what was measured, and what is made of it.
#[derive(Debug, Clone)]
pub struct Answer {
    /// The contacts, named as the trainee names them.
    pub sightings: Sightings,
    /// What is said of own place and of the landfall.
    pub declared: Declared,
    /// How many hints were taken on the way; an answer in a file had none.
    pub hints: usize,
}

impl Answer {
    /// Reads the text of a sightings file with `[declare]`; `name` stands for it in messages.
    ///
    /// # Errors
    /// Everything that is wrong with what it says.
    pub fn parse(text: &str, name: &str, base: &Path) -> Result<Self, SightingsError> {
        let sightings = Sightings::parse(text, name, base)?;
        let declared = read_whole(text, name, WHOLE, declared)?;
        Ok(Self { sightings, declared, hints: 0 })
    }

    /// When it was given.
    pub fn time(&self) -> Timestamp {
        self.declared.time.unwrap_or_else(|| self.sightings.latest())
    }
}

fn declared(root: &Section<'_>) -> Option<Declared> {
    let faults = root.faults;
    let found = root.entries.iter().find(|(key, _)| key.name == "declare");
    let Some((key, node)) = found else {
        let wrong = Wrong::NoSection { section: "declare".to_owned() };
        faults.note("", wrong, WHOLE.to_owned(), None, "");
        return None;
    };
    let at = key.at.clone().or_else(|| node.at.clone());
    let who = "[declare]".to_owned();
    let Value::Table(entries) = &node.value else {
        let (wanted, found) = ("a table", node.value.kind());
        let wrong = Wrong::WrongType { who, key: "declare".to_owned(), wanted, found };
        faults.note("declare", wrong, WHOLE.to_owned(), at, "here");
        return None;
    };
    let section = Section { who, path: "declare".to_owned(), at, entries, faults };
    section.only(&["position", "sigma_nm", "landfall", "time"]);
    let landfall = section.word("landfall", &Declaration::WORDS, Declaration::parse);
    let position = section.position("position");
    let sigma = section.sigma("sigma_nm", MOST_SIGMA_NM);
    if section.has("position") {
        section.needed("sigma_nm", sigma, "say how far to believe it: sigma_nm = 0.5");
    }
    if section.has("sigma_nm") && !section.has("position") {
        section.needed("position", position, "sigma_nm goes with a position, or leave both out");
    }
    let landfall = section.needed("landfall", landfall, WHOLE)?;
    let sigma = sigma
        .filter(|_| position.is_some())
        .map(|miles| GroundRange::clamped_metres(miles * METRES_PER_NAUTICAL_MILE));
    Some(Declared { position, sigma, landfall, time: section.time("time") })
}
