//! The entry line: what an operator types, as one of the things that can be entered.
//!
//! The one rule: **three figures before the point are a bearing, one or two are a range.** A
//! letter after a number makes it a bearing of that kind (`t m c g r`, or `rel`), `nm` a range;
//! `r` or `b` before it says so outright. Whatever is neither is refused with what would be
//! right: a number is never guessed at.

mod error;
mod height;
mod measured;
mod pair;
mod slip;
mod token;
mod when;

pub use error::EntryError;
pub use measured::{LastLetter, Measured, spoken_bearing};
pub use when::When;

use crate::contact::{BearingKind, MOST_BANK_DEG};
use crate::geodesy::Position;
use crate::units::{Angle, Bearing, GroundRange, Height, Speed, True};
use height::{hanging_height, height};
use slip::slip_of;
use token::{Figure, Token, tokens};

/// The most characters in one entry.
pub const MOST_CHARACTERS: usize = 200;

/// The greatest slant range taken from the entry line, in nautical miles.
pub const MOST_RANGE_NM: f64 = 500.0;

/// The greatest speed taken from the entry line, in knots: above every craft with such a set.
pub const MOST_SPEED_KN: f64 = 700.0;

/// The least speed through air or water taken, in knots: below it the craft lies still.
const LEAST_AIR_KN: f64 = 1.0;

/// The greatest height taken from the entry line, in feet.
pub const MOST_HEIGHT_FT: f64 = 60_000.0;

/// What a line was understood as.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// A contact, or the correction of one.
    Measured(Measured),
    /// Take a contact out.
    Delete {
        /// Its label.
        label: String,
    },
    /// Say which mark a contact is, or that this is not known after all.
    Name {
        /// The contact's label.
        label: String,
        /// The mark, as typed.
        mark: Option<String>,
        /// A question mark stood after the name: it is a guess.
        doubtful: bool,
    },
    /// Own antenna height from now on.
    Height {
        /// Above mean sea level.
        height: Height,
        /// Whether what was measured so far was measured from there as well.
        all: bool,
    },
    /// Own heading from now on.
    Heading {
        /// Degrees.
        degrees: f64,
        /// What from: any kind but relative.
        kind: BearingKind,
    },
    /// How far the wings are off level from now on, right wing down positive.
    Bank(Angle),
    /// A new reckoning: where we think we are.
    Reckoning {
        /// The dead-reckoned position.
        position: Position,
        /// One standard deviation, where it was said.
        sigma: Option<GroundRange>,
        /// When, where it was said.
        when: Option<When>,
    },
    /// Track and speed made good from now on.
    Track {
        /// True.
        track: Bearing<True>,
        /// Made good.
        speed: Speed,
        /// From when on, where it was said; else from now.
        when: Option<When>,
    },
    /// True airspeed, or speed through the water, from now on.
    Air(Speed),
    /// Restart the reckoning from the fix as it stands.
    Accept,
    /// Use the wind or stream that the last fix accepted has found.
    Drift,
    /// A later sight of an echo that was seen before.
    Again {
        /// The label of the first sight.
        label: String,
        /// What was measured now.
        measured: Measured,
    },
    /// What an echo that no chart explains is called.
    Call {
        /// Its label.
        label: String,
        /// As typed.
        name: String,
    },
    /// Take back the last change.
    Undo,
    /// Put back what was taken back.
    Redo,
    /// A line for the log, not for the fix.
    Note(String),
}

/// Why an entry that names a mark is not taken where the chart lacks the coast about the craft: the name
/// would be looked for among the marks of another coast.
pub const MARKS_NOT_AT_HAND: &str = "the coast about here is not taken in, nor its marks: leave the \
                                     name out, and name the mark once it is";

impl Entry {
    /// Whether it says which mark an echo is.
    pub fn names_a_mark(&self) -> bool {
        match self {
            Self::Name { mark, .. } => mark.is_some(),
            Self::Measured(measured) | Self::Again { measured, .. } => measured.mark.is_some(),
            _ => false,
        }
    }
}

/// Reads one line.
///
/// # Errors
/// What is wrong with it, and what would be right; see [`EntryError`].
///
/// ```
/// use foreland::watch::entry::{Entry, understood};
/// let Entry::Measured(contact) = understood("042m/17.3")? else { panic!() };
/// assert_eq!(contact.to_string(), "17.3 NM, 042° magnetic");
/// assert!(understood("17.3 42").unwrap_err().to_string().contains("three figures (042)"));
/// # Ok::<(), foreland::watch::entry::EntryError>(())
/// ```
pub fn understood(line: &str) -> Result<Entry, EntryError> {
    let line = token::sound(line, MOST_CHARACTERS)?;
    if let Some(note) = line.strip_prefix('#') {
        return Ok(Entry::Note(note.trim().to_owned()));
    }
    let words = tokens(line);
    let Some(first) = words.first().filter(|w| !w.quoted) else {
        return measured::read(line).map(Entry::Measured);
    };
    let rest = line.get(first.start + first.text.len()..).unwrap_or_default().trim();
    if let Some(feet) = hanging_height(first.text, line.get(first.start..).unwrap_or_default()) {
        return height(feet);
    }
    match first.text.to_lowercase().as_str() {
        "del" | "delete" => Ok(Entry::Delete { label: label(&words, "del", "")? }),
        "mark" | "name" => name(&words, line),
        "unmark" => {
            let label = label(&words, "unmark", "")?;
            Ok(Entry::Name { label, mark: None, doubtful: false })
        }
        "undo" if rest.is_empty() => Ok(Entry::Undo),
        "redo" if rest.is_empty() => Ok(Entry::Redo),
        "note" if !rest.is_empty() => Ok(Entry::Note(rest.to_owned())),
        "h" | "height" if first.text != "H" => height(rest),
        "hdg" | "heading" => heading(rest),
        "bank" => bank(rest),
        "trk" | "track" => track(rest),
        "dr" => reckoning(rest),
        "tas" => air(rest),
        "accept" if rest.is_empty() => Ok(Entry::Accept),
        "drift" | "wind" if rest.is_empty() => Ok(Entry::Drift),
        "again" => again(&words, line),
        "call" => call(&words, line),
        _ => measured::read(line).map(Entry::Measured).map_err(|error| match error {
            // It tells what its first word is near by itself.
            EntryError::NothingMeasured { .. } => error,
            other => match slip_of(first.text) {
                Some(word) => EntryError::Slip { why: other.to_string(), word },
                None => other,
            },
        }),
    }
}

/// The label that a command names: any word or quoted words, its colon left off.
fn label(
    words: &[Token<'_>],
    word: &'static str,
    rest: &'static str,
) -> Result<String, EntryError> {
    let named = words.get(1).map(|w| w.text.trim_end_matches(':')).filter(|l| !l.is_empty());
    named.map(str::to_owned).ok_or(EntryError::NoLabel { word, rest })
}

fn name(words: &[Token<'_>], line: &str) -> Result<Entry, EntryError> {
    let label = label(words, "mark", " Gannet Head")?;
    let Some(third) = words.get(2) else {
        return Err(EntryError::NoLabel { word: "mark", rest: " Gannet Head" });
    };
    let text = line.get(third.start..).unwrap_or_default().trim();
    // Within the quotes or behind them: a guess is shown and put into the line within.
    let plain = text.trim_end_matches(['?', '"', ' ']);
    let doubtful = text.get(plain.len()..).is_some_and(|end| end.contains('?'));
    let plain = plain.trim_start_matches(['"', ' ']);
    Ok(Entry::Name { label, mark: Some(plain.to_owned()), doubtful })
}

fn heading(rest: &str) -> Result<Entry, EntryError> {
    let refused = || EntryError::Heading { text: rest.to_owned() };
    let figure = Figure::read(rest).ok_or_else(refused)?;
    let kind = match figure.ending.trim() {
        "" => BearingKind::True,
        ending => measured::kind_of(ending).ok_or_else(refused)?,
    };
    if kind == BearingKind::Relative || figure.value < 0.0 {
        return Err(refused());
    }
    if figure.value > 360.0 {
        return Err(EntryError::Rose { what: "heading", text: rest.to_owned() });
    }
    Ok(Entry::Heading { degrees: figure.value, kind })
}

/// `10r`, `10 right`, `5l`, `0`: the wing that is down must be said, a sign would be guessed at.
fn bank(rest: &str) -> Result<Entry, EntryError> {
    let refused = || EntryError::Bank { text: rest.to_owned() };
    let figure = Figure::read(rest).ok_or_else(refused)?;
    let side = match figure.ending.trim() {
        "r" | "right" => 1.0,
        "l" | "left" => -1.0,
        "" if figure.value == 0.0 => 0.0,
        _ => return Err(refused()),
    };
    if figure.value > MOST_BANK_DEG {
        return Err(refused());
    }
    Ok(Entry::Bank(Angle::from_degrees(side * figure.value)))
}

fn track(rest: &str) -> Result<Entry, EntryError> {
    let refused = || EntryError::Track { text: rest.to_owned() };
    let (rest, when) = match rest.split_once('@') {
        Some((before, time)) => (before, Some(When::read_clock(time.trim())?)),
        None => (rest, None),
    };
    let words = tokens(rest);
    let [track, speed] = words.as_slice() else { return Err(refused()) };
    let number = |word: &Token<'_>, endings: &[&str]| {
        let figure = Figure::read(word.text)?;
        endings.contains(&figure.ending.as_str()).then_some(figure.value)
    };
    let (degrees, knots) = (number(track, &["", "t"]), number(speed, &["", "kn", "kt"]));
    let (degrees, knots) = (degrees.ok_or_else(refused)?, knots.ok_or_else(refused)?);
    if degrees > 360.0 {
        return Err(EntryError::Rose { what: "track", text: track.text.to_owned() });
    }
    let speed = speed_within("speed made good", speed.text, knots, 0.0)?;
    let track = Bearing::from_degrees(degrees).map_err(|_| refused())?;
    Ok(Entry::Track { track, speed, when })
}

/// A speed within what is taken.
fn speed_within(
    what: &'static str,
    text: &str,
    knots: f64,
    least: f64,
) -> Result<Speed, EntryError> {
    let sound = (least..=MOST_SPEED_KN).contains(&knots);
    Speed::from_knots(knots).ok().filter(|_| sound).ok_or_else(|| EntryError::Speed {
        what,
        text: text.to_owned(),
        least,
        most: MOST_SPEED_KN,
    })
}

/// `tas 160`: through the air, or through the water.
fn air(rest: &str) -> Result<Entry, EntryError> {
    let refused = || EntryError::Air { text: rest.to_owned() };
    let figure = Figure::read(rest).ok_or_else(refused)?;
    let sound = matches!(figure.ending.trim(), "" | "kn" | "kt");
    if !sound || figure.value < 0.0 {
        return Err(refused());
    }
    speed_within("speed through air or water", rest, figure.value, LEAST_AIR_KN).map(Entry::Air)
}

/// `again D 16.8 040`: what follows the label is measured as a contact is.
fn again(words: &[Token<'_>], line: &str) -> Result<Entry, EntryError> {
    let label = label(words, "again", " 16.8 040")?;
    let measured = words.get(2).and_then(|third| line.get(third.start..));
    let measured = measured.ok_or(EntryError::NoLabel { word: "again", rest: " 16.8 040" })?;
    Ok(Entry::Again { label, measured: measured::read(measured)? })
}

fn call(words: &[Token<'_>], line: &str) -> Result<Entry, EntryError> {
    let missing = EntryError::NoLabel { word: "call", rest: " white ship" };
    let label = label(words, "call", " white ship")?;
    let name = words.get(2).and_then(|third| line.get(third.start..));
    let name = name.map(|n| n.trim().trim_matches('"').trim()).filter(|n| !n.is_empty());
    Ok(Entry::Call { label, name: name.ok_or(missing)?.to_owned() })
}

fn reckoning(rest: &str) -> Result<Entry, EntryError> {
    let refused = |why: String| EntryError::Reckoning { why };
    let (mut position, mut sigma, mut when) = (rest, None, None);
    if let Some((before, time)) = position.split_once('@') {
        let (time, after) = time.trim().split_once(' ').unwrap_or((time.trim(), ""));
        if !after.trim().is_empty() {
            return Err(refused(format!("\"{}\" after the time", after.trim())));
        }
        when = Some(When::read_clock(time)?);
        position = before;
    }
    // Of the same bytes in small letters, so that a place in one is that place in the other.
    let small = position.to_ascii_lowercase();
    if let Some((before, figure)) = small.split_once("sigma") {
        let miles = figure.trim().trim_end_matches("nm").trim().parse().ok();
        let miles = miles.filter(|m| (0.01..=MOST_RANGE_NM).contains(m));
        sigma = miles.and_then(|m| GroundRange::from_nautical_miles(m).ok());
        if sigma.is_none() {
            return Err(refused(format!("sigma \"{}\" is no distance in NM", figure.trim())));
        }
        position = position.get(..before.len()).unwrap_or_default();
    }
    let position: Position = position
        .trim()
        .trim_end_matches(',')
        .parse()
        .map_err(|error: crate::geodesy::PositionError| refused(error.to_string()))?;
    Ok(Entry::Reckoning { position, sigma, when })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn refusal(line: &str) -> String {
        understood(line).unwrap_err().to_string()
    }

    #[test]
    fn the_commands_are_understood() {
        let label = || "A".to_owned();
        assert_eq!(understood("del A"), Ok(Entry::Delete { label: label() }));
        assert_eq!(understood("undo"), Ok(Entry::Undo));
        assert_eq!(understood(" REDO "), Ok(Entry::Redo));
        assert_eq!(understood("# haze"), Ok(Entry::Note("haze".to_owned())));
        assert_eq!(understood("note haze"), Ok(Entry::Note("haze".to_owned())));
        let mark = Some("Gannet Head".to_owned());
        let named = |doubtful| Entry::Name { label: label(), mark: mark.clone(), doubtful };
        for line in ["mark A Gannet Head", "mark A \"Gannet Head\""] {
            assert_eq!(understood(line), Ok(named(false)), "{line}");
            assert_eq!(understood(&format!("{line}?")), Ok(named(true)), "{line}?");
        }
        assert_eq!(understood("mark A \"Gannet Head?\""), Ok(named(true)));
        let unnamed = Entry::Name { label: label(), mark: None, doubtful: false };
        assert_eq!(understood("unmark A"), Ok(unnamed));
        let two_thousand = Height::from_feet(2000.0).unwrap();
        for line in ["h 2000", "h2000", "H 2000", "height 2000 ft", "h 2000ft"] {
            for (rest, all) in [("", false), (" all", true), (" ALL", true)] {
                let (line, height) = (format!("{line}{rest}"), two_thousand);
                assert_eq!(understood(&line), Ok(Entry::Height { height, all }), "{line}");
            }
        }
        let magnetic = Entry::Heading { degrees: 70.0, kind: BearingKind::Magnetic };
        assert_eq!(understood("hdg 070m"), Ok(magnetic));
        assert!(understood("trk 074 165kn").is_ok());
        for (line, degrees) in [("bank 10r", 10.0), ("bank 10 right", 10.0), ("bank 5L", -5.0)] {
            assert_eq!(understood(line), Ok(Entry::Bank(Angle::from_degrees(degrees))), "{line}");
        }
        assert_eq!(understood("bank 0"), Ok(Entry::Bank(Angle::ZERO)));
    }

    #[test]
    fn a_reckoning_takes_sigma_and_time() {
        let Ok(Entry::Reckoning { position, sigma, when }) =
            understood("dr 38 12.9 S, 21 30.5 W sigma 4 @0340")
        else {
            panic!("a reckoning");
        };
        assert!((position.latitude() - -38.215).abs() < 1e-9);
        assert!((sigma.unwrap().nautical_miles() - 4.0).abs() < 1e-9);
        assert_eq!(when, Some(When::Clock { hour: 3, minute: 40, second: 0 }));
        let line = "dr 38 12.9 S, 21 30.5 W sigma 4 nm @0340z";
        assert_eq!(understood(&line.to_uppercase()), understood(line));
        assert_eq!(understood(&line.to_lowercase()), understood(line));
        assert!(understood("dr -38.215,-21.508").is_ok());
        assert!(refusal("dr somewhere").contains("38 12.9 S, 21 30.5 W"));
        assert!(refusal("dr -38.215,-21.508 sigma x").contains("no distance"));
    }

    #[test]
    fn refusals_say_what_would_be_right() {
        assert!(refusal("").contains("17.3 042"));
        assert!(refusal("del").contains("del A"));
        assert!(refusal("mark A").contains("mark A Gannet Head"));
        assert!(refusal("h high").contains("h 2000"));
        assert!(refusal("h -5").contains("h 2000"));
        assert!(refusal("hdg 070r").contains("hdg 070m"));
        assert!(refusal("trk 074").contains("trk 074 165"));
        for line in ["bank", "bank 10", "bank -10", "bank 70r", "bank right"] {
            assert!(refusal(line).contains("bank 10r"), "{line}");
        }
        assert!(refusal("undp").contains("did you mean undo?"));
        assert!(refusal(&"1".repeat(300)).contains("200"));
        assert!(refusal("17.3\u{1b}[2J").contains("control"));
    }

    #[test]
    fn what_is_beyond_its_limits_is_refused_with_them() {
        for (line, told) in [
            ("tas 9000", "speed through air or water 9000: speeds are taken from 1 to 700 kn"),
            ("tas 0", "speed through air or water 0: speeds are taken from 1 to 700 kn"),
            ("hdg 370", "heading 370: headings run from 000 to 360"),
            ("hdg 370m", "heading 370m: headings run from 000 to 360"),
            ("trk 400 165", "track 400: tracks run from 000 to 360"),
            ("trk 074 9000", "speed made good 9000: speeds are taken from 0 to 700 kn"),
            ("h 99000", "height 99000: heights are taken from 0 to 60000 ft"),
        ] {
            assert_eq!(refusal(line), told);
        }
        assert!(understood("trk 360 0").is_ok() && understood("tas 700").is_ok());
    }

    #[test]
    fn a_bearing_is_spoken_on_the_rose() {
        for (degrees, spoken) in [
            (-0.0, "000°"),
            (-0.04, "000°"),
            (-0.3, "359.7°"),
            (-1.0, "359°"),
            (360.0, "360°"),
            (360.2, "000.2°"),
            (359.94, "359.9°"),
            (359.96, "000°"),
            (360.04, "000°"),
            (42.0, "042°"),
        ] {
            assert_eq!(spoken_bearing(degrees), spoken, "{degrees}");
        }
    }

    proptest! {
        #[test]
        fn no_line_panics(line in "\\PC*") {
            let _ = understood(&line);
        }

        #[test]
        fn no_line_of_entry_words_panics(words in proptest::collection::vec(
            proptest::sample::select(vec![
                "17.3", "042", "042m", "r", "b", "rel", "left", "A", "B:", "\"x", "\"", "@", "@0341",
                "-2m", "del", "mark", "dr", "h", "hdg", "é", "#", "/", "°", "nm", "sigma",
            ]), 0..8)) {
            let _ = understood(&words.join(" "));
        }

        #[test]
        fn a_plain_range_and_bearing_always_reads(tenths in 1u32..999, bearing in 0u32..=360) {
            let line = format!("{}.{} {bearing:03}", tenths / 10, tenths % 10);
            let Entry::Measured(found) = understood(&line).unwrap() else { panic!("{line}") };
            prop_assert!((found.range_nm.unwrap() - f64::from(tenths) / 10.0).abs() < 1e-9);
            prop_assert!((found.bearing.unwrap().0 - f64::from(bearing)).abs() < 1e-9);
        }
    }
}
