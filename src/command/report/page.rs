//! How words are set on a page: lines broken, rows in columns.

use std::fmt::Write as _;

/// Cells across a page.
pub(super) const WIDTH: usize = 80;

/// Rows of words set in columns, each as wide as its widest; two spaces between.
pub(super) fn columns(rows: &[Vec<String>]) -> Vec<String> {
    let widths = widths(rows);
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

/// How wide each column is: as its widest cell.
fn widths(rows: &[Vec<String>]) -> Vec<usize> {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        rows.iter().filter_map(|row| row.get(column)).map(|word| shown_width(word)).max()
    };
    (0..count).map(|column| width(column).unwrap_or(0)).collect()
}

/// How many cells a word takes on the screen.
pub(super) fn shown_width(word: &str) -> usize {
    ratatui::text::Span::raw(word).width()
}

/// A table set in, and an empty line after it. Its last column holds names, each over as many lines as it
/// needs: no more than `most` cells of it on one, and no more than the page has room for.
pub(super) fn put_named(text: &mut String, rows: &[Vec<String>], most: usize) -> std::fmt::Result {
    for line in columns(&named(rows, WIDTH, most)) {
        writeln!(text, "  {line}")?;
    }
    writeln!(text)
}

/// The rows of such a table, set in on a page of so many cells.
pub(super) fn named(rows: &[Vec<String>], page: usize, most: usize) -> Vec<Vec<String>> {
    let parted = || rows.iter().filter_map(|row| row.split_last());
    let others: Vec<Vec<String>> = parted().map(|(_, others)| others.to_vec()).collect();
    let taken: usize = widths(&others).iter().map(|width| width + 2).sum();
    // Set in by two cells, and by one more where a name goes on.
    let most = most.min(page.saturating_sub(taken + 3));
    let mut table = Vec::new();
    for (name, others) in parted() {
        let mut lines = wrapped(name, most).into_iter();
        let first = lines.next().unwrap_or_default();
        table.push([others, &[first]].concat());
        let blank = vec![String::new(); others.len()];
        table.extend(lines.map(|line| [blank.as_slice(), &[format!(" {line}")]].concat()));
    }
    table
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

    #[test]
    fn a_name_goes_on_below_where_the_page_is_too_narrow() {
        let row = |row: [&str; 2]| row.map(str::to_owned).to_vec();
        let rows = [row(["at", "mark"]), row(["03-10 00:12", "Head of Gannet Ness"])];
        let wide = ["at           mark", "03-10 00:12  Head of Gannet Ness"];
        assert_eq!(columns(&named(&rows, 40, 29)), wide);
        let narrow = columns(&named(&rows, 23, 29)).join("\n");
        let goes_on = "\n03-10 00:12  Head of\n              Gannet\n              Ness";
        assert!(narrow.ends_with(goes_on), "{narrow}");
    }
}
