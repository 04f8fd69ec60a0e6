use super::EntryError;
use crate::text::is_plain;

/// A word of the line, and where it stands in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Token<'a> {
    pub text: &'a str,
    /// Byte at which it starts, its quote included.
    pub start: usize,
    /// It stood between quotes: a name, whatever it looks like.
    pub quoted: bool,
}

/// Cuts a line at spaces, slashes, commas and semicolons; what stands in quotes stays whole.
pub(super) fn tokens(line: &str) -> Vec<Token<'_>> {
    let mut found = Vec::new();
    let mut rest = line;
    let mut at = 0;
    while let Some(first) = rest.chars().next() {
        let length = if separates(first) {
            first.len_utf8()
        } else if first == '"' {
            let inside = &rest[1..];
            let end = inside.find('"').unwrap_or(inside.len());
            found.push(Token { text: inside[..end].trim(), start: at, quoted: true });
            (end + 2).min(rest.len())
        } else {
            let end = rest.find(|c: char| separates(c) || c == '"').unwrap_or(rest.len());
            found.push(Token { text: &rest[..end], start: at, quoted: false });
            end
        };
        at += length;
        rest = &rest[length..];
    }
    found
}

fn separates(c: char) -> bool {
    c.is_whitespace() || matches!(c, '/' | ',' | ';')
}

/// A number as typed, cut from what ends it: `042m` is `042` and `m`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Figure<'a> {
    pub digits: &'a str,
    pub value: f64,
    /// In lower case, without a degree sign.
    pub ending: String,
    /// A degree sign stood after the digits.
    pub degrees: bool,
}

impl<'a> Figure<'a> {
    /// `None` where the text does not start as a number.
    pub fn read(text: &'a str) -> Option<Self> {
        let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len());
        let (digits, ending) = text.split_at(end);
        let value = digits.parse().ok().filter(|v: &f64| v.is_finite())?;
        let bare = ending.trim_start_matches('°');
        let degrees = bare.len() < ending.len();
        Some(Self { digits, value, ending: bare.to_lowercase(), degrees })
    }

    /// Figures before the decimal point.
    pub fn whole_figures(&self) -> usize {
        self.digits.split('.').next().map_or(0, str::len)
    }
}

/// Refuses what is no line of text.
pub(super) fn sound(line: &str, most: usize) -> Result<&str, EntryError> {
    let line = line.trim();
    if line.is_empty() {
        Err(EntryError::Empty)
    } else if line.chars().count() > most {
        Err(EntryError::TooLong { most })
    } else if !is_plain(line) {
        Err(EntryError::Control)
    } else {
        Ok(line)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(line: &str) -> Vec<&str> {
        tokens(line).iter().map(|t| t.text).collect()
    }

    #[test]
    fn slashes_and_spaces_are_the_same() {
        assert_eq!(texts("042m/17.3"), ["042m", "17.3"]);
        assert_eq!(texts("  17.3   042 "), ["17.3", "042"]);
        assert_eq!(texts("17.3, 042"), ["17.3", "042"]);
    }

    #[test]
    fn quotes_keep_a_name_whole() {
        assert_eq!(texts("17.3 \"Left Rock\" 042"), ["17.3", "Left Rock", "042"]);
        assert_eq!(texts("17.3 \"Left Rock"), ["17.3", "Left Rock"]);
        assert_eq!(texts("\""), [""]);
    }

    #[test]
    fn a_figure_is_cut_from_its_ending() {
        let figure = Figure::read("042.5°M").unwrap();
        assert_eq!((figure.digits, figure.ending.as_str(), figure.degrees), ("042.5", "m", true));
        assert_eq!(figure.whole_figures(), 3);
        assert!(Figure::read("rel").is_none());
        assert!(Figure::read("1.2.3").is_none());
        assert!(Figure::read(".").is_none());
    }
}
