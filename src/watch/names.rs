//! Mark names as typed at the watch: the whole name, or enough of it to be only one.

use super::entry::EntryError;
use crate::chart::Marks;

/// The chart's own spelling of a name that was typed, whole or in part.
///
/// # Errors
/// No such name, or several that hold what was typed; the likeliest are named.
pub(super) fn resolve(typed: &str, marks: &Marks) -> Result<String, EntryError> {
    if let Some(mark) = marks.find(typed).and_then(|id| marks.get(id)) {
        return Ok(mark.name.clone());
    }
    let part = typed.trim().to_lowercase();
    let refused = |near: Vec<String>| EntryError::UnknownMark {
        name: typed.trim().to_owned(),
        near: if near.is_empty() {
            String::new()
        } else {
            format!(": did you mean {}?", near.join(", "))
        },
    };
    // Names made up by the program often hold a charted name: the charted one is meant.
    for named in [true, false] {
        let of_kind = marks.iter().map(|(_, mark)| mark).filter(|mark| mark.named == named);
        let mut holding = of_kind.filter(|mark| holds(&mark.name, &part));
        match (holding.next(), holding.next()) {
            (Some(only), None) => return Ok(only.name.clone()),
            (Some(first), Some(second)) => {
                return Err(refused(vec![first.name.clone(), second.name.clone()]));
            }
            _ => {}
        }
    }
    Err(refused(marks.near_names(typed)))
}

/// Whether some word of a name begins with what was typed.
fn holds(name: &str, part: &str) -> bool {
    let name = name.to_lowercase();
    let begins =
        |at: usize| name.get(..at).is_some_and(|before| before.is_empty() || before.ends_with(' '));
    part.chars().count() >= 2 && name.match_indices(part).any(|(at, _)| begins(at))
}
