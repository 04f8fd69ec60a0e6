use super::page::{WIDTH, columns, shown_width};
use crate::debrief::export::{Section, Told, sections};

/// A last column that begins further right is too narrow to go on in: what does not fit stands under
/// its row.
const WIDEST: usize = 60;
const UNDER: &str = "        ";

/// The account of a sitting for people, 80 columns wide.
pub fn debrief_text(told: &Told<'_>) -> String {
    let mut text = String::new();
    for section in sections(told) {
        if !text.is_empty() {
            text.push('\n');
        }
        write(&section, &mut text);
    }
    text
}

fn write(section: &Section, text: &mut String) {
    text.push_str(section.title);
    text.push('\n');
    for line in &section.lines {
        push(text, line, "  ", "    ");
    }
    if !section.rows.is_empty() {
        let head = section.head.iter().map(|word| (*word).to_owned()).collect();
        let mut rows: Vec<Vec<String>> = vec![head];
        rows.extend(section.rows.iter().cloned());
        // The last column may be long: it is laid out by itself beside the others.
        let last: Vec<String> = rows.iter_mut().map(|row| row.pop().unwrap_or_default()).collect();
        let before = columns(&rows);
        let wide = before.iter().map(|line| shown_width(line)).max().unwrap_or(0);
        for (line, last) in before.iter().zip(&last) {
            let pad = " ".repeat(wide - shown_width(line));
            let (column, room) = (wide + 4, WIDTH.saturating_sub(wide + 4));
            if column > WIDEST && shown_width(last) > room {
                text.push_str("  ");
                text.push_str(line);
                text.push('\n');
                push(text, last, UNDER, UNDER);
            } else {
                push(text, last, &format!("  {line}{pad}  "), &" ".repeat(column));
            }
        }
    }
    for note in &section.notes {
        push(text, note, "  ", "  ");
    }
}

/// Words broken into lines; one too long for a line is broken within.
fn push(text: &mut String, words: &str, first: &str, rest: &str) {
    let mut line = first.to_owned();
    let mut begun = false;
    for word in words.split(' ').filter(|word| !word.is_empty()) {
        let mut word = word.to_owned();
        loop {
            let space = usize::from(begun);
            if shown_width(&line) + space + shown_width(&word) <= WIDTH {
                line.push_str(if begun { " " } else { "" });
                line.push_str(&word);
                begun = true;
                break;
            }
            if begun || shown_width(&line) > shown_width(rest) {
                text.push_str(line.trim_end());
                text.push('\n');
                rest.clone_into(&mut line);
                begun = false;
                continue;
            }
            let (head, tail) = broken(&word, WIDTH.saturating_sub(shown_width(&line)).max(1));
            line.push_str(&head);
            word = tail;
            begun = true;
        }
    }
    text.push_str(line.trim_end());
    text.push('\n');
}

/// A word broken after as many cells as fit, one letter at least.
fn broken(word: &str, cells: usize) -> (String, String) {
    let mut taken = 0;
    let mut at = 0;
    for (start, letter) in word.char_indices() {
        let wide = shown_width(letter.encode_utf8(&mut [0; 4]));
        if at > 0 && taken + wide > cells {
            break;
        }
        taken += wide;
        at = start + letter.len_utf8();
    }
    let (head, tail) = word.split_at_checked(at).unwrap_or((word, ""));
    (head.to_owned(), tail.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_wider_than_the_page() {
        for words in
            ["a b c", &"word ".repeat(60), &"x".repeat(300), "", "日本語".repeat(40).as_str()]
        {
            for first in ["  ", &" ".repeat(60), &" ".repeat(79)] {
                let mut text = String::new();
                push(&mut text, words, first, "      ");
                assert!(text.lines().all(|line| shown_width(line) <= WIDTH), "{text}");
                let kept = |s: &str| s.chars().filter(|c| !c.is_whitespace()).collect::<String>();
                assert_eq!(kept(&text), kept(words));
            }
        }
    }
}
