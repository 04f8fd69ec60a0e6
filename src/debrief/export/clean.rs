//! Text of a log made safe to show.

use crate::text::escaped;

pub use crate::text::plain as clean;

/// Cleaned, and escaped for XML and HTML, within quotes too.
pub fn markup(text: &str) -> String {
    escaped(&clean(text))
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
