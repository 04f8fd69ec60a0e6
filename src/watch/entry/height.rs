//! Own height as it is typed.

use super::{Entry, EntryError, MOST_HEIGHT_FT};
use crate::units::Height;

/// `h2000`, and `H 2000` in capitals: four figures are never a range or bearing of a contact H.
pub(super) fn hanging_height<'a>(first: &str, line: &'a str) -> Option<&'a str> {
    let text = line.strip_prefix(['h', 'H'])?.trim();
    let (figure, _) = of_all(text);
    let least = if first.len() == 1 { 4 } else { 1 };
    (figure.len() >= least && figure.bytes().all(|b| b.is_ascii_digit())).then_some(text)
}

/// `2000` of `2000 all`, and whether that stands behind it.
fn of_all(text: &str) -> (&str, bool) {
    let figure = text.len().checked_sub(3).and_then(|at| text.split_at_checked(at));
    match figure.filter(|(_, all)| all.eq_ignore_ascii_case("all")) {
        Some((figure, _)) => (figure.trim_end(), true),
        None => (text, false),
    }
}

pub(super) fn height(rest: &str) -> Result<Entry, EntryError> {
    let refused = || EntryError::Height { text: rest.to_owned() };
    let (figure, all) = of_all(rest);
    let digits = figure.to_lowercase();
    let digits = digits.trim_end_matches("feet").trim_end_matches("ft").trim();
    let feet: f64 = digits.parse().map_err(|_| refused())?;
    if feet > MOST_HEIGHT_FT {
        return Err(EntryError::HeightLimit { text: rest.to_owned(), most: MOST_HEIGHT_FT });
    }
    let height = Height::from_feet(feet).ok().filter(|h| h.metres() >= 0.0).ok_or_else(refused)?;
    Ok(Entry::Height { height, all })
}
