//! The account as Markdown.

use std::fmt::Write;

use super::{Told, sections};

/// The account as Markdown, tables with pipes.
pub fn markdown(told: &Told<'_>) -> String {
    let mut text = String::from("# Debrief\n");
    for section in sections(told) {
        // Writing to a string cannot fail.
        if section.title != "DEBRIEF" {
            let _ = write!(text, "\n## {}\n", sentence(section.title));
        }
        if !section.lines.is_empty() {
            text.push('\n');
            for line in &section.lines {
                let _ = writeln!(text, "- {}", safe(line));
            }
        }
        if !section.rows.is_empty() {
            let _ = write!(text, "\n| {} |\n", section.head.join(" | "));
            let _ = writeln!(text, "|{}", " --- |".repeat(section.head.len()));
            for row in &section.rows {
                let cells: Vec<String> = row.iter().map(|cell| safe(cell)).collect();
                let _ = writeln!(text, "| {} |", cells.join(" | "));
            }
        }
        for note in &section.notes {
            let _ = write!(text, "\n{}\n", safe(note));
        }
    }
    text
}

/// A title as a sentence: all capitals shout.
pub(super) fn sentence(title: &str) -> String {
    let mut letters = title.chars();
    let first: String = letters.next().into_iter().collect();
    let rest = letters.as_str().to_lowercase();
    // What is an abbreviation stays one.
    format!("{first}{rest}").replace("dr off", "DR off")
}

/// Nothing of a log is Markdown or HTML.
fn safe(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in super::clean(text).chars() {
        match c {
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '&' => safe.push_str("&amp;"),
            '|' | '\\' | '`' | '*' | '_' | '[' | ']' | '#' | '!' | '~' => {
                safe.push('\\');
                safe.push(c);
            }
            c => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_only_a_name() {
        assert_eq!(
            safe("a|b <script> [x](y) `z` *w*"),
            "a\\|b &lt;script&gt; \\[x\\](y) \\`z\\` \\*w\\*"
        );
        assert_eq!(sentence("CONTACTS IN HINDSIGHT"), "Contacts in hindsight");
    }
}
