use std::fmt;

use super::pair::deflections;
use super::slip::{near_word, slip_of};
use super::token::{Figure, Token, tokens};
use super::{EntryError, MOST_RANGE_NM, When};
use crate::contact::{BearingKind, Deflections, Part};
use crate::watch::words::part;

/// A contact as typed: new, or the parts of an old one that are to change.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measured {
    /// The contact's label, where one was given.
    pub label: Option<String>,
    /// Slant range in nautical miles.
    pub range_nm: Option<f64>,
    /// Degrees, and what from, where it was said: else from true, or from what the contact had.
    pub bearing: Option<(f64, Option<BearingKind>)>,
    /// The two deflections of the range trace, in place of a bearing.
    pub deflections: Option<Deflections>,
    /// The part of the echo that was measured.
    pub part: Option<Part>,
    /// The operator's own identification, as typed.
    pub mark: Option<String>,
    /// A question mark stood after the name: it is a guess.
    pub doubtful: bool,
    /// The command that the name may be a slip of: it began the line.
    pub slip: Option<&'static str>,
    /// When, where it was said.
    pub when: Option<When>,
}

/// What a word of the line was taken for.
#[derive(Clone, Copy, PartialEq)]
enum Number {
    Range,
    Bearing,
    Unsaid,
}

/// Reads a line word by word; what each number was typed as is kept for the messages.
#[derive(Default)]
struct Reader {
    found: Measured,
    range_text: String,
    bearing_text: String,
    /// The word just read was a bearing without a kind: a kind may follow.
    open_bearing: bool,
}

/// Reads a contact: label, range, bearing, part, time and mark name.
pub(super) fn read(line: &str) -> Result<Measured, EntryError> {
    let words = tokens(line);
    let mut reader = Reader::default();
    let mut at = 0;
    let paired = deflections(line, &words, 0).is_some();
    if let Some((label, used)) = leading_label(&words).filter(|_| !paired) {
        reader.found.label = Some(label);
        at = used;
    }
    while at < words.len() {
        at = match deflections(line, &words, at) {
            Some((read, used)) => {
                reader.deflections(read)?;
                at + used
            }
            None => reader.word(line, &words, at)?,
        };
    }
    reader.finish(line)
}

/// A label in front: `T12:`, or a bare letter or two that is no measuring word.
fn leading_label(words: &[Token<'_>]) -> Option<(String, usize)> {
    let first = words.first()?;
    if let Some(label) = first.text.strip_suffix(':').filter(|l| !l.is_empty() && !first.quoted) {
        return Some((label.to_owned(), 1));
    }
    if let (true, Some(":")) = (first.quoted, words.get(1).map(|w| w.text)) {
        return Some((first.text.to_owned(), 2));
    }
    // Small r, b and h measure; capitals name contacts.
    let measures = matches!(first.text, "r" | "b" | "h" | "nm");
    (!measures && is_bare_label(first) && words.len() > 1).then(|| (upper(first.text), 1))
}

fn is_bare_label(word: &Token<'_>) -> bool {
    let short = (1..=2).contains(&word.text.len());
    !word.quoted && short && word.text.bytes().all(|b| b.is_ascii_alphabetic())
}

fn upper(text: &str) -> String {
    text.to_ascii_uppercase()
}

impl Reader {
    /// Reads the word at `at`; returns where the next one stands.
    fn word(&mut self, line: &str, words: &[Token<'_>], at: usize) -> Result<usize, EntryError> {
        let Some(word) = words.get(at) else { return Ok(at + 1) };
        let next = words.get(at + 1);
        let after_bearing = std::mem::take(&mut self.open_bearing);
        if word.quoted {
            self.name(word.text)?;
            let guess = next.filter(|n| !n.quoted && n.text.trim_matches('?').is_empty());
            self.found.doubtful |= guess.is_some();
            return Ok(at + 1 + usize::from(guess.is_some()));
        }
        if let Some(time) = word.text.strip_prefix('@') {
            let (time, used) = match (time, next) {
                ("", Some(next)) => (next.text, 2),
                _ => (time, 1),
            };
            self.when(When::read_clock(time)?, word.text)?;
            return Ok(at + used);
        }
        if let Some(before) = When::read_before(word.text) {
            self.when(before?, word.text)?;
            return Ok(at + 1);
        }
        if let Some((number, digits)) = measure_word(word.text) {
            if digits.is_empty() {
                let figures = next.filter(|n| Figure::read(n.text).is_some());
                if let Some(figures) = figures {
                    self.number(figures.text, number)?;
                    return Ok(at + 2);
                }
                if !(after_bearing && word.text.eq_ignore_ascii_case("r")) {
                    return Err(no_number(word.text, number));
                }
            } else {
                self.number(digits, number)?;
                return Ok(at + 1);
            }
        }
        if let Some(kind) = kind_of(&word.text.to_lowercase()).filter(|_| after_bearing) {
            if let Some(bearing) = &mut self.found.bearing {
                bearing.1 = Some(kind);
            }
            return Ok(at + 1);
        }
        if Figure::read(word.text).is_some() {
            self.number(word.text, Number::Unsaid)?;
            return Ok(at + 1);
        }
        if let Some(part) = part_of(word.text) {
            self.part(part, word.text)?;
            return Ok(at + 1);
        }
        if word.text.eq_ignore_ascii_case("nm") {
            return Ok(at + 1);
        }
        self.label_or_name(line, words, at)
    }

    fn deflections(&mut self, read: Deflections) -> Result<(), EntryError> {
        let second = read.to_string();
        match self.found.deflections.replace(read) {
            None => Ok(()),
            Some(first) => Err(twice("two deflections", &first.to_string(), &second)),
        }
    }

    fn when(&mut self, when: When, text: &str) -> Result<(), EntryError> {
        match self.found.when.replace(when) {
            None => Ok(()),
            Some(_) => Err(twice("the time", "an earlier one", text)),
        }
    }

    fn part(&mut self, part: Part, text: &str) -> Result<(), EntryError> {
        match self.found.part.replace(part) {
            None => Ok(()),
            Some(first) => Err(twice("the part of the echo", first.as_str(), text)),
        }
    }

    fn name(&mut self, name: &str) -> Result<(), EntryError> {
        let plain = name.trim().trim_end_matches('?').trim_end();
        self.found.doubtful = plain.len() < name.trim().len();
        match self.found.mark.replace(plain.to_owned()) {
            None => Ok(()),
            Some(first) => Err(twice("a mark name", &first, plain)),
        }
    }

    /// A last letter or two in capitals is a label; anything else begins a name, which runs to the
    /// end of the line or to a time, and before any measurement to the first number too.
    fn label_or_name(
        &mut self,
        line: &str,
        words: &[Token<'_>],
        at: usize,
    ) -> Result<usize, EntryError> {
        let Some(word) = words.get(at) else { return Ok(at + 1) };
        let last = at + 1 == words.len();
        let capital = is_bare_label(word) && word.text == upper(word.text);
        if last && capital && self.found.label.is_none() && at > 0 {
            self.found.label = Some(word.text.to_owned());
            return Ok(at + 1);
        }
        if at == 0 {
            self.found.slip = slip_of(word.text);
        }
        let measured = self.found.is_measured();
        let end = (at + 1..words.len())
            .find(|i| {
                words.get(*i).is_some_and(|w| {
                    w.text.starts_with('@')
                        || matches!(When::read_before(w.text), Some(Ok(_)))
                        || (!measured && !w.quoted && Figure::read(w.text).is_some())
                })
            })
            .unwrap_or(words.len());
        let stop = words.get(end).map_or(line.len(), |w| w.start);
        let name = line.get(word.start..stop).unwrap_or(word.text);
        self.name(name.trim_end_matches(['/', ',', ';', ' ']))?;
        Ok(end)
    }

    fn number(&mut self, text: &str, said: Number) -> Result<(), EntryError> {
        let unclear = || EntryError::Unclear { text: text.to_owned() };
        let figure = Figure::read(text).ok_or_else(unclear)?;
        let kind = kind_of(&figure.ending);
        let miles = figure.ending == "nm";
        if !(figure.ending.is_empty() || kind.is_some() || miles) {
            let ending = figure.ending;
            return Err(EntryError::Ending { text: text.to_owned(), ending });
        }
        let typed_bearing = kind.is_some() || figure.degrees;
        let number = match (said, typed_bearing, miles) {
            (Number::Range, true, _) | (Number::Bearing, _, true) => return Err(unclear()),
            (Number::Unsaid, true, _) => Number::Bearing,
            (Number::Unsaid, _, true) => Number::Range,
            (Number::Unsaid, ..) => match figure.whole_figures() {
                1 | 2 => Number::Range,
                3 => Number::Bearing,
                _ => return Err(unclear()),
            },
            (said, ..) => said,
        };
        if number == Number::Bearing { self.bearing(&figure, kind) } else { self.range(&figure) }
    }

    fn bearing(
        &mut self,
        figure: &Figure<'_>,
        kind: Option<BearingKind>,
    ) -> Result<(), EntryError> {
        let text = figure.digits.to_owned();
        if !(0.0..=360.0).contains(&figure.value) {
            return Err(EntryError::Bearing { text });
        }
        if self.found.bearing.is_some() {
            let first = std::mem::take(&mut self.bearing_text);
            return Err(EntryError::TwoBearings { first, second: text });
        }
        self.found.bearing = Some((figure.value, kind));
        self.open_bearing = kind.is_none();
        self.bearing_text = text;
        Ok(())
    }

    fn range(&mut self, figure: &Figure<'_>) -> Result<(), EntryError> {
        let text = figure.digits.to_owned();
        if !(figure.value > 0.0 && figure.value <= MOST_RANGE_NM) {
            return Err(EntryError::Range { text, most: MOST_RANGE_NM });
        }
        if self.found.range_nm.is_some() {
            let first = std::mem::take(&mut self.range_text);
            return Err(EntryError::TwoRanges { first, second: text });
        }
        self.found.range_nm = Some(figure.value);
        self.range_text = text;
        Ok(())
    }

    fn finish(self, line: &str) -> Result<Measured, EntryError> {
        let found = self.found;
        if let (Some(read), true) = (found.deflections, found.bearing.is_some()) {
            return Err(twice("the direction", &self.bearing_text, &read.to_string()));
        }
        let corrects = found.label.is_some()
            && (found.part.is_some() || found.mark.is_some() || found.when.is_some());
        if found.is_measured() || corrects {
            Ok(found)
        } else {
            let near = near_word(line);
            Err(EntryError::NothingMeasured { text: line.to_owned(), near })
        }
    }
}

fn twice(what: &'static str, first: &str, second: &str) -> EntryError {
    EntryError::Twice { what, first: first.to_owned(), second: second.to_owned() }
}

fn no_number(word: &str, number: Number) -> EntryError {
    let example = if number == Number::Range { "r 17.3" } else { "b 042" };
    EntryError::NoNumber { word: word.to_owned(), example }
}

/// `r17.3`, `b042`, `range`, `brg`: what the number is, and the number where it hangs on.
fn measure_word(text: &str) -> Option<(Number, &str)> {
    let letters = text.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(text.len());
    let (word, digits) = text.split_at(letters);
    let hangs_on = digits.starts_with(|c: char| c.is_ascii_digit() || c == '.');
    let number = match word.to_lowercase().as_str() {
        "r" | "rng" | "range" => Number::Range,
        "b" | "brg" | "bearing" => Number::Bearing,
        _ => return None,
    };
    (digits.is_empty() || hangs_on).then_some((number, digits))
}

/// The kind of bearing a word or ending says.
pub(super) fn kind_of(word: &str) -> Option<BearingKind> {
    Some(match word {
        "t" | "true" => BearingKind::True,
        "m" | "mag" | "magnetic" => BearingKind::Magnetic,
        "c" | "compass" => BearingKind::Compass,
        "g" | "gyro" => BearingKind::Gyro,
        "r" | "rel" | "relative" => BearingKind::Relative,
        _ => return None,
    })
}

fn part_of(word: &str) -> Option<Part> {
    Some(match word.to_lowercase().as_str() {
        "near" => Part::Near,
        "centre" | "center" => Part::Centre,
        "left" => Part::Left,
        "right" => Part::Right,
        "shore" => Part::Shore,
        _ => return None,
    })
}

/// A bearing as spoken: three figures, tenths only where there are any.
pub fn spoken_bearing(degrees: f64) -> String {
    // On the rose whatever it was: neither -00° nor 360° of a rounded one; the 360 that is typed stays.
    let is_typed_360 = (360.0..=360.0).contains(&degrees);
    let on_rose = if is_typed_360 { degrees } else { degrees.rem_euclid(360.0) };
    let tenths = (on_rose * 10.0).round() / 10.0;
    let is_rounded_360 = tenths >= 360.0 && !is_typed_360;
    let tenths = if is_rounded_360 || tenths == 0.0 { 0.0 } else { tenths };
    if (tenths - tenths.round()).abs() < 0.05 {
        format!("{tenths:03.0}°")
    } else {
        format!("{tenths:05.1}°")
    }
}

impl Measured {
    /// Whether anything was measured: a range, a bearing, or two deflections.
    pub fn is_measured(&self) -> bool {
        self.range_nm.is_some() || self.bearing.is_some() || self.deflections.is_some()
    }
}

/// `17.3 NM, 042° true, left edge, Gannet Head`: how the line was understood, label and time apart.
impl fmt::Display for Measured {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut said = Vec::new();
        said.extend(self.range_nm.map(|range| format!("{range} NM")));
        said.extend(self.bearing.map(|(degrees, kind)| {
            let kind = kind.unwrap_or(BearingKind::True);
            format!("{} {}", spoken_bearing(degrees), kind.as_str())
        }));
        said.extend(self.deflections.map(|read| format!("deflections {read}")));
        said.extend(self.part.map(|taken| part(taken).to_owned()));
        said.extend(
            self.mark
                .as_ref()
                .map(|mark| if self.doubtful { format!("perhaps {mark}") } else { mark.clone() }),
        );
        f.write_str(&said.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn says(line: &str) -> String {
        match read(line) {
            Ok(found) => match &found.label {
                Some(label) => format!("{label}: {found}"),
                None => found.to_string(),
            },
            Err(error) => format!("! {error}"),
        }
    }

    #[test]
    fn the_ways_an_operator_says_a_contact() {
        for (line, meant) in [
            ("17.3 042", "17.3 NM, 042° true"),
            ("042/17.3", "17.3 NM, 042° true"),
            ("042m/17.3", "17.3 NM, 042° magnetic"),
            ("17.3 042m Gannet Head", "17.3 NM, 042° magnetic, Gannet Head"),
            ("Gannet Head 17.3 042", "17.3 NM, 042° true, Gannet Head"),
            ("17.3 042 Gannet Head?", "17.3 NM, 042° true, perhaps Gannet Head"),
            ("r17.3", "17.3 NM"),
            ("R17.3", "17.3 NM"),
            ("r 120", "120 NM"),
            ("120nm 042", "120 NM, 042° true"),
            ("17.3 nm 042", "17.3 NM, 042° true"),
            ("b 318 rel", "318° relative"),
            ("b042", "042° true"),
            ("b 42", "042° true"),
            ("42t 9", "9 NM, 042° true"),
            ("042.5 17.3", "17.3 NM, 042.5° true"),
            ("042°T 17.3", "17.3 NM, 042° true"),
            ("042 M 17.3", "17.3 NM, 042° magnetic"),
            ("318 r", "318° relative"),
            ("318 r 17.3", "17.3 NM, 318° true"),
            ("318r 17.3", "17.3 NM, 318° relative"),
            ("042c 17.3", "17.3 NM, 042° compass"),
            ("042g 17.3", "17.3 NM, 042° gyro"),
            ("A 17.4 042", "A: 17.4 NM, 042° true"),
            ("a 17.4", "A: 17.4 NM"),
            ("B 042", "B: 042° true"),
            ("b 318 rel left A", "A: 318° relative, left edge"),
            ("17.3 042 left", "17.3 NM, 042° true, left edge"),
            ("17.3 shore", "17.3 NM, nearest shore"),
            ("T12: 17.3 042", "T12: 17.3 NM, 042° true"),
            ("A left", "A: left edge"),
            ("A Gannet Head", "A: Gannet Head"),
            ("17.3 042 \"Left Rock\"", "17.3 NM, 042° true, Left Rock"),
            ("\"Left Rock\"? 17.3 042", "17.3 NM, 042° true, perhaps Left Rock"),
            ("17.3 042 Buoy 7", "17.3 NM, 042° true, Buoy 7"),
            ("17.3 042 North Shore", "17.3 NM, 042° true, North Shore"),
            ("9 360", "9 NM, 360° true"),
            ("30.5 d 3/2 A", "A: 30.5 NM, deflections 3/2"),
            ("d 3/2 30.5", "30.5 NM, deflections 3/2"),
            ("30.5 d3.5/2", "30.5 NM, deflections 3.5/2"),
            ("A 30.5 defl 3 / 2 Gannet Head", "A: 30.5 NM, deflections 3/2, Gannet Head"),
            ("A d 3/2", "A: deflections 3/2"),
            ("D d 3/2", "D: deflections 3/2"),
            ("d 17.4 042", "D: 17.4 NM, 042° true"),
            ("d 17.4/042", "D: 17.4 NM, 042° true"),
        ] {
            assert_eq!(says(line), meant, "{line}");
        }
    }

    #[test]
    fn a_time_may_stand_anywhere() {
        let clock = |hour, minute, second| Some(When::Clock { hour, minute, second });
        assert_eq!(read("17.3 042 @0341").unwrap().when, clock(3, 41, 0));
        assert_eq!(read("@ 03:41:10 17.3 042").unwrap().when, clock(3, 41, 10));
        assert_eq!(read("17.3 042 -2m").unwrap().when, Some(When::Before(120)));
        let named = read("17.3 042 Gannet Head @0341").unwrap();
        assert_eq!((named.mark.as_deref(), named.when), (Some("Gannet Head"), clock(3, 41, 0)));
        let named = read("17.3 042 Gannet Head -90s").unwrap();
        assert_eq!(named.mark.as_deref(), Some("Gannet Head"));
    }

    #[test]
    fn what_is_unclear_is_refused_with_the_mend() {
        for (line, told) in [
            ("17.3 42", "two ranges, 17.3 and 42"),
            ("17,3 042", "two ranges, 17 and 3"),
            ("042 318", "two bearings, 042 and 318"),
            ("2000", "\"2000\" is neither"),
            ("17.3 361", "bearing 361: bearings run from 000 to 360"),
            ("0 042", "range 0: ranges run from above 0"),
            ("r 900", "range 900"),
            ("17.3km", "\"km\" ends no number"),
            ("r042t", "\"042t\" is neither"),
            ("b", "b wants a number after it"),
            ("r", "r wants a number after it"),
            ("17.3 042 left right", "the part of the echo given twice"),
            ("30 d 3/2 d 2/1", "two deflections given twice: \"3/2\" and \"2/1\""),
            ("9 042 d 3/2", "the direction given twice: \"042\" and \"3/2\""),
            ("17.3 042 @0341 -2m", "the time given twice"),
            ("17.3 042 @9999", "no time"),
            ("Gannet Head", "no range and no bearing"),
            ("left", "no range and no bearing"),
            ("A", "no range and no bearing"),
        ] {
            assert!(
                says(line).starts_with("! ") && says(line).contains(told),
                "{line}: {}",
                says(line)
            );
        }
    }
}
