//! Text that came from outside, made safe to show.
//!
//! A name in a chart, a note in a log, a word typed or the name of a file may hold characters that a
//! terminal acts on: they move its cursor, change its colours, turn the line round, or show nothing
//! while they tell one name from another. None of them is ever shown as it is. Each reader cleans
//! what it keeps, and each way out cleans once more all that it lets through. What the words say is not
//! known here.

use std::fmt::Write as _;
use std::ops::Range;

/// Whether a character acts on a terminal, turns the direction of writing, breaks a line, or is not
/// seen at all.
///
/// Unicode 16 (from memory): the general categories Cc, Zl and Zp; the formatting characters of
/// direction, joining and no width; letters that are blank; the interlinear and tag characters (not the
/// selectors U+FE00 to U+FE0F, which stand after signs in ordinary use); the byte order mark and the
/// two last code points of the plane.
pub fn acts(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}' | '\u{1160}'
            | '\u{17b4}' | '\u{17b5}' | '\u{180b}'..='\u{180f}'
            | '\u{200b}'..='\u{200f}'
            | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{3164}' | '\u{feff}' | '\u{ffa0}' | '\u{fff9}'..='\u{fffb}' | '\u{fffe}' | '\u{ffff}'
            | '\u{e0000}'..='\u{e0fff}')
}

/// Whether a text is one line that can be shown as it is.
pub fn is_plain(text: &str) -> bool {
    !text.chars().any(acts)
}

/// One line of text: what acts is told by U+FFFD.
pub fn plain(text: &str) -> String {
    text.chars().map(|c| if acts(c) { char::REPLACEMENT_CHARACTER } else { c }).collect()
}

/// The same, cut off with an ellipsis after so many characters.
pub fn shortened(text: &str, most: usize) -> String {
    let mut shown: String =
        text.chars().take(most).map(|c| if acts(c) { '\u{fffd}' } else { c }).collect();
    if text.chars().nth(most).is_some() {
        shown.push('…');
    }
    shown
}

/// Several lines: as [`plain`], but for the ends of the lines.
pub fn plain_lines(text: &str) -> String {
    let keep = |c: char| c == '\n' || !acts(c);
    text.chars().map(|c| if keep(c) { c } else { char::REPLACEMENT_CHARACTER }).collect()
}

/// Several lines with every character covered by one of as many bytes, so that places in the text
/// stay what they are. Tabs stay too: they are shown as blanks.
pub fn covered(text: &str) -> String {
    let cover = |c: char| match c {
        '\n' | '\r' | '\t' => c,
        c if !acts(c) => c,
        c => match c.len_utf8() {
            1 => '?',
            2 => '\u{bf}',
            3 => char::REPLACEMENT_CHARACTER,
            // A black square among the emoji: no common sign has four bytes.
            _ => '\u{1f7e5}',
        },
    };
    text.chars().map(cover).collect()
}

/// The longest line of a file that a message shows, in bytes: a whole file may stand on one.
const LINE_MOST: usize = 300;

/// A place of a text as a message may show it: no more than its first line where it is long; none where
/// its lines, or those before and after it, are too long to show.
pub fn place_to_show(text: &str, place: Range<usize>) -> Option<Range<usize>> {
    let bytes = text.as_bytes();
    let mut end = place.end.min(bytes.len());
    let start = place.start.min(end);
    if end - start > LINE_MOST {
        let line = bytes.get(start..end)?.split(|byte| *byte == b'\n').next()?;
        end = start + line.len();
    }
    // The lines that it lies on, whole, and the one on either side.
    let before = bytes.get(..start)?.rsplit(|byte| *byte == b'\n').take(2).map(<[u8]>::len);
    let after = bytes.get(end..)?.split(|byte| *byte == b'\n').take(2).map(<[u8]>::len);
    let (before, after): (Vec<usize>, Vec<usize>) = (before.collect(), after.collect());
    let own = before.first()? + (end - start) + after.first()?;
    let beside = before.iter().chain(&after).copied().max()?;
    let short = own.max(beside) <= LINE_MOST;
    short.then_some(start..end)
}

/// Escaped for XML and HTML, within quotes too: what acts on a terminal stays.
pub fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c => safe.push(c),
        }
    }
    safe
}

/// JSON in which what acts is written as its escape, so that it says the same and can be shown.
///
/// Outside its strings JSON has no such characters but the ends of its lines.
pub fn plain_json(json: &str) -> String {
    if json.chars().all(|c| c == '\n' || !acts(c)) {
        return json.to_owned();
    }
    let mut safe = String::with_capacity(json.len());
    for c in json.chars() {
        if c == '\n' || !acts(c) {
            safe.push(c);
            continue;
        }
        for unit in c.encode_utf16(&mut [0; 2]) {
            // Writing to a text in memory cannot fail.
            let _ = write!(safe, "\\u{unit:04x}");
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_acts_is_told_and_all_else_stays() {
        assert_eq!(
            plain("a\u{1b}[31mb\nc\u{9b}d\u{202e}e"),
            "a\u{fffd}[31mb\u{fffd}c\u{fffd}d\u{fffd}e"
        );
        assert_eq!(plain("Île Noire, 99 % 島"), "Île Noire, 99 % 島");
        assert_eq!(plain_lines("a\r\nb\tc\n"), "a\u{fffd}\nb\u{fffd}c\n");
        assert_eq!(shortened("ab\u{7}cdef", 4), "ab\u{fffd}c…");
        assert!(
            is_plain("Gannet Head") && !is_plain("Gannet\u{2066}Head") && !is_plain("a\u{e0041}")
        );
    }

    #[test]
    fn what_is_covered_keeps_its_places() {
        let text = "a\u{1b}[2J\u{9b}b\u{202e}c\u{e0041}\n";
        let kept = covered(text);
        assert_eq!(kept, "a?[2J\u{bf}b\u{fffd}c\u{1f7e5}\n");
        assert_eq!(kept.len(), text.len());
    }

    #[test]
    fn long_lines_are_not_shown() {
        let long = "x".repeat(400);
        let text = format!("{long}\na\nb\nc\n{long}");
        let shown = |line: &str| {
            let at = text.find(line).unwrap();
            place_to_show(&text, at..at + 1).is_some()
        };
        assert!(!shown("xx") && !shown("a\n") && shown("b\n") && !shown("c\n"));
        let halves = format!("{}!{}", "x".repeat(200), "y".repeat(200));
        assert_eq!(place_to_show(&halves, 200..201), None, "each side short, the line long");
        assert_eq!(place_to_show("", 0..0), Some(0..0));
        assert_eq!(place_to_show("a", 9..12), Some(1..1));
    }

    #[test]
    fn of_many_lines_the_first_is_shown() {
        let text = "list = [\n".to_owned() + &"1,\n".repeat(200) + "]\n";
        assert_eq!(place_to_show(&text, 7..text.len()), Some(7..8));
        assert_eq!(place_to_show(&text, 7..40), Some(7..40));
    }

    #[test]
    fn json_says_the_same() {
        let value = serde_json::json!({ "name": "a\u{7f}b\u{202e}c\u{e0041}\u{1b}" });
        let shown = plain_json(&format!("{value}\n"));
        assert!(shown.contains("a\\u007fb\\u202ec\\udb40\\udc41\\u001b"), "{shown}");
        assert_eq!(serde_json::from_str::<serde_json::Value>(&shown).unwrap(), value);
    }
}
