//! Text of a log made safe to show.

/// The text without what could act on a terminal or turn a line about: control characters, marks of
/// writing direction and line separators, each told by U+FFFD.
pub fn clean(text: &str) -> String {
    text.chars().map(|c| if acts(c) { char::REPLACEMENT_CHARACTER } else { c }).collect()
}

fn acts(c: char) -> bool {
    // Unicode 16, general categories Cc, Zl and Zp and the bidirectional formatting characters (from
    // memory); the last two code points of the plane are no XML characters.
    c.is_control()
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{200e}' | '\u{200f}' | '\u{061c}')
        || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        || matches!(c, '\u{feff}' | '\u{fffe}' | '\u{ffff}')
}

/// Cleaned, and escaped for XML and HTML, within quotes too.
pub fn markup(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in clean(text).chars() {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_acts() {
        assert_eq!(
            clean("a\u{1b}[31mb\nc\u{9b}d\u{202e}e"),
            "a\u{fffd}[31mb\u{fffd}c\u{fffd}d\u{fffd}e"
        );
        assert_eq!(clean("Île Noire, 99 %"), "Île Noire, 99 %");
        assert_eq!(markup("<script>\"&'\0"), "&lt;script&gt;&quot;&amp;&#39;\u{fffd}");
    }
}
