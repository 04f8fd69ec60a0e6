//! Two deflections among the words of a line.

use super::token::{Figure, Token};
use crate::contact::Deflections;

/// `d 3/2`, `d3/2`, `defl 3/2`: the deflections to port and to starboard, and the words they take.
///
/// The slash makes it a pair: `d 17.4 042` is contact D. Three figures are a bearing, here too.
pub(super) fn deflections(
    line: &str,
    words: &[Token<'_>],
    at: usize,
) -> Option<(Deflections, usize)> {
    let word = words.get(at).filter(|word| !word.quoted)?;
    let letters = word.text.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(word.text.len());
    let (said, hanging) = word.text.split_at(letters);
    let measures =
        said == "d" || matches!(&*said.to_lowercase(), "defl" | "deflection" | "deflections");
    let (port, port_end, used) = match (measures, hanging.is_empty()) {
        (false, _) => return None,
        (true, true) => {
            let next = words.get(at + 1)?;
            (next.text, next.start + next.text.len(), 3)
        }
        (true, false) => (hanging, word.start + word.text.len(), 2),
    };
    let starboard = words.get(at + used - 1)?;
    let slash = line.get(port_end..starboard.start)?.trim() == "/";
    let figure = |text: &str| {
        let figure = Figure::read(text)?;
        let plain = figure.ending.is_empty() && !figure.degrees && figure.whole_figures() != 3;
        plain.then_some(figure.value)
    };
    let read = Deflections { port: figure(port)?, starboard: figure(starboard.text)? };
    slash.then_some((read, used))
}
