use super::super::page::{columns, named, wrapped};
use super::content::{Card, Part};

/// Cells across a page, and lines down it.
pub(super) const WIDTH: usize = 78;
pub(super) const LINES: usize = 60;

/// What says that a part has more than the page holds.
pub(super) const MORE: &str = "... more: see the report";

/// The card as plain text: at most sixty lines of seventy-eight cells.
pub(super) fn page(card: &Card) -> String {
    let mut lines = vec![cut(&card.title, WIDTH)];
    lines.extend(card.head.iter().map(|line| cut(line, WIDTH)));
    lines.push("FIRST PAINTS at 50 % (95 %: by the reckoning's error)".to_owned());
    let first = columns(&named(&card.first, WIDTH, WIDTH));
    lines.extend(first.iter().map(|row| cut(&format!("  {row}"), WIDTH)));
    lines.extend(more_first(card).map(|more| format!("  {more}")));
    for part in &card.parts {
        lines.push(cut(&part.head, WIDTH));
        lines.extend(lines_of(part));
    }
    // The caution is never what is left out.
    let caution = wrapped(card.caution, WIDTH);
    if lines.len() > LINES - caution.len() {
        lines.truncate(LINES - caution.len() - 1);
        lines.push(format!("  {MORE}"));
    }
    lines.extend(caution);
    lines.join("\n") + "\n"
}

/// How many first paints are left out; none where all are there.
pub(super) fn more_first(card: &Card) -> Option<String> {
    (card.more_first > 0).then(|| format!("... and {} marks more: see the report", card.more_first))
}

/// The items of a part that its lines hold, and whether that leaves some out.
///
/// Whole ones as far as they go; something of the first at least.
pub(super) fn kept(part: &Part) -> (Vec<String>, bool) {
    let mut kept = Vec::new();
    let mut lines = 0;
    for (at, item) in part.items.iter().enumerate() {
        let wrapped = wrapped(item, WIDTH - 4);
        let last = at + 1 == part.items.len();
        if lines + wrapped.len() > part.most_lines - usize::from(!last) {
            // Never half a sentence: the first is kept whole, however long.
            if kept.is_empty() {
                kept.push(item.clone());
            }
            return (kept, true);
        }
        lines += wrapped.len();
        kept.push(item.clone());
    }
    (kept, false)
}

fn lines_of(part: &Part) -> Vec<String> {
    let (items, more) = kept(part);
    let mut lines = Vec::new();
    for item in items {
        for (i, line) in wrapped(&item, WIDTH - 4).into_iter().enumerate() {
            let lead = if i == 0 { "  " } else { "    " };
            lines.push(cut(&format!("{lead}{line}"), WIDTH));
        }
    }
    if more {
        lines.push(format!("  {MORE}"));
    }
    lines
}

/// What is too long for a line ends in dots.
fn cut(line: &str, width: usize) -> String {
    if line.chars().count() <= width {
        return line.to_owned();
    }
    line.chars().take(width.saturating_sub(3)).collect::<String>() + "..."
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(items: &[&str], most_lines: usize) -> Part {
        let items = items.iter().map(|item| (*item).to_owned()).collect();
        Part { head: "HEAD".to_owned(), items, most_lines }
    }

    #[test]
    fn the_fullest_card_fits_its_page_and_keeps_its_caution() {
        let long = "word ".repeat(200);
        let card = Card {
            title: "T".repeat(200),
            head: vec![long.clone(); 5],
            first: vec![vec![long.clone(); 6]; 10],
            more_first: 12,
            parts: [9, 7, 7, 5, 5, 5, 3].map(|most| part(&[&long, &long], most)).into(),
            caution: crate::command::CAUTION,
        };
        let page = page(&card);
        assert!(page.lines().count() <= LINES, "{}", page.lines().count());
        assert!(page.lines().all(|line| line.chars().count() <= WIDTH));
        assert!(page.ends_with("rule.\n") && page.contains("An aid only"), "{page}");
    }

    #[test]
    fn what_does_not_fit_is_said_to_be_left_out() {
        assert_eq!(lines_of(&part(&["a", "b", "c"], 3)), ["  a", "  b", "  c"]);
        assert_eq!(
            lines_of(&part(&["a", "b", "c", "d"], 3)),
            ["  a", "  b", "  ... more: see the report"]
        );
    }
}
