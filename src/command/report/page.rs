//! How words are set on a page: lines broken, rows in columns.

use std::fmt::Write as _;

/// Cells across a page.
pub(super) const WIDTH: usize = 80;

/// Rows of words set in columns, each as wide as its widest; two spaces between.
pub(super) fn columns(rows: &[Vec<String>]) -> Vec<String> {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        rows.iter().filter_map(|row| row.get(column)).map(|word| shown_width(word)).max()
    };
    let widths: Vec<usize> = (0..count).map(|column| width(column).unwrap_or(0)).collect();
    rows.iter()
        .map(|row| {
            let mut line = String::new();
            for (word, width) in row.iter().zip(&widths) {
                line.push_str(word);
                line.push_str(&" ".repeat(width + 2 - shown_width(word)));
            }
            line.trim_end().to_owned()
        })
        .collect()
}

/// How many cells a word takes on the screen.
pub(super) fn shown_width(word: &str) -> usize {
    ratatui::text::Span::raw(word).width()
}

/// A table set in, and an empty line after it.
pub(super) fn put(text: &mut String, rows: &[Vec<String>]) -> std::fmt::Result {
    for line in columns(rows) {
        writeln!(text, "  {line}")?;
    }
    writeln!(text)
}

/// A name in two lines where it does not fit one.
pub(super) fn broken(name: &str, width: usize) -> [String; 2] {
    let mut lines = wrapped(name, width).into_iter();
    let first = lines.next().unwrap_or_default();
    [first, lines.collect::<Vec<_>>().join(" ")]
}

/// An item of a list over as many lines as it needs.
pub(super) fn put_wrapped(text: &mut String, words: &str) {
    for (i, line) in wrapped(words, WIDTH - 4).into_iter().enumerate() {
        let lead = if i == 0 { "  " } else { "    " };
        let _ = writeln!(text, "{lead}{line}");
    }
}

/// Words in lines of no more than so many characters, broken between words.
pub(super) fn wrapped(words: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_as_wide_as_their_widest() {
        let words = |row: &[&str]| row.iter().map(|word| (*word).to_owned()).collect();
        let rows = [words(&["contact", "mark"]), words(&["A", "Île Noire", "99 %"])];
        assert_eq!(columns(&rows), ["contact  mark", "A        Île Noire  99 %"]);
    }
}
