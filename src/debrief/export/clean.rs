//! Text of a log made safe to show.

pub use crate::text::plain as clean;

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
