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
    /// The capital that says the kind of the bearing at the very end, and may be a label as well.
    pub last: Option<LastLetter>,
}

/// A capital at the very end of a line that was taken for the kind of its bearing, and the two lines that
/// leave no doubt.
#[derive(Debug, Clone, PartialEq)]
pub struct LastLetter {
    /// The label that it would be.
    pub label: String,
    /// The line with it as the label of a contact.
    pub correction: String,
    /// The bearing with it as its kind.
    pub bearing: String,
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
                    if after_bearing {
                        self.refuse_kind_or_range(word.text, figures.text)?;
                    }
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
            self.found.last = self.last_letter(line, word).filter(|_| next.is_none());
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

    /// Refuses an `r` parted from the bearing before it and from a figure behind it, where each would make a
    /// contact: `318 r 17.3`.
    fn refuse_kind_or_range(&self, letter: &str, figure: &str) -> Result<(), EntryError> {
        let is_range = Figure::read(figure).is_some_and(|read| {
            let bare = read.ending.is_empty() && matches!(read.whole_figures(), 1 | 2);
            (bare || read.ending == "nm") && !read.degrees
        });
        if letter.eq_ignore_ascii_case("r") && is_range && self.found.range_nm.is_none() {
            let (bearing, letter) = (self.bearing_text.clone(), letter.to_owned());
            return Err(EntryError::KindOrRange { bearing, letter, figure: figure.to_owned() });
        }
        Ok(())
    }

    /// What a kind of bearing at the end may be beside: a single capital parted by a space, where no label
    /// stands before the numbers.
    fn last_letter(&self, line: &str, word: &Token<'_>) -> Option<LastLetter> {
        let is_capital = word.text.len() == 1 && word.text == upper(word.text);
        let before =
            line.get(..word.start).filter(|before| before.ends_with(char::is_whitespace))?;
        if !is_capital || self.found.label.is_some() {
            return None;
        }
        Some(LastLetter {
            label: word.text.to_owned(),
            correction: format!("{} {}", word.text, before.trim_matches([' ', '/', ',', ';'])),
            bearing: format!("{}{}", self.bearing_text, word.text.to_lowercase()),
        })
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
mod tests;
