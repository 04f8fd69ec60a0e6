//! A command's word typed with a slip of the finger.

use super::measured::kind_of;

/// Words that begin an entry that is no contact; for telling a slip of the finger from a name.
const WORDS: [&str; 20] = [
    "bank", "del", "delete", "mark", "unmark", "undo", "redo", "hdg", "heading", "trk", "track",
    "dr", "note", "height", "tas", "accept", "drift", "wind", "again", "call",
];

/// `: did you mean undo?` for a line whose first word is nearly a command, else nothing.
pub(super) fn near_word(line: &str) -> String {
    let first = line.split_whitespace().next().unwrap_or_default().to_lowercase();
    let like = WORDS
        .into_iter()
        .map(|word| (strsim::jaro_winkler(word, &first), word))
        .filter(|(likeness, word)| *likeness > 0.8 && *word != first)
        .max_by(|a, b| a.0.total_cmp(&b.0));
    let near = slip_of(&first).or(like.map(|(_, word)| word));
    near.map_or_else(String::new, |word| format!(": did you mean {word}?"))
}

/// The command that a word is one slip of the finger from: a letter too many, too few or another one, or
/// two in each other's place. None of a word that is a command, or says what a bearing is counted from.
pub(super) fn slip_of(word: &str) -> Option<&'static str> {
    let word = word.to_lowercase();
    if WORDS.contains(&word.as_str()) || kind_of(&word).is_some() {
        return None;
    }
    // Of two letters any would do: they are a label, unless they only changed places.
    let long = word.chars().count() > 2;
    let is_slip = |known: &&str| {
        strsim::osa_distance(known, &word) == 1 && (long || known.chars().rev().eq(word.chars()))
    };
    let slips = WORDS.into_iter().filter(is_slip);
    slips.max_by(|a, b| strsim::jaro_winkler(a, &word).total_cmp(&strsim::jaro_winkler(b, &word)))
}

#[cfg(test)]
mod tests {
    use crate::watch::entry::understood;

    #[test]
    fn a_slip_is_told_whatever_the_line_reads_as() {
        let refusal = |line: &str| understood(line).unwrap_err().to_string();
        for (line, told) in [
            // What is wrong with it as a contact is told as well.
            ("tkr 074 165", "two bearings, 074 and 165"),
            ("tkr 074 165", "; or did you mean trk?"),
            ("traxk 074 165", "; or did you mean track?"),
            ("rd 38 12.9 S, 21 30.5 W", "did you mean dr?"),
            ("heigth 2000", "did you mean height?"),
            ("makr A Tern Rock", "did you mean mark?"),
        ] {
            assert!(refusal(line).contains(told), "{line}: {}", refusal(line));
        }
        // What a contact may begin with is no slip.
        for line in ["AS 17.3 42", "rel 042 318", "Z 17.3 42", "range 17.3 42"] {
            assert!(!refusal(line).contains("did you mean"), "{line}: {}", refusal(line));
        }
    }
}
