//! Mark names as typed at the watch: the whole name, or enough of it to be only one.

use super::entry::EntryError;
use crate::chart::{Mark, Marks};
use crate::geodesy::{LocalPlane, PlanePoint, Position};

/// The chart's own spelling of a name that was typed, and whether it is a guess: a question mark stood behind
/// it, and no mark is so called.
///
/// # Errors
/// As [`resolve`], which says what else is asked.
pub(super) fn meant(
    typed: &str,
    doubtful: bool,
    slip: Option<&str>,
    marks: &Marks,
    about: Option<Position>,
) -> Result<(String, bool), EntryError> {
    let so_called = if doubtful { marks.find(&format!("{typed}?")) } else { None };
    match so_called.and_then(|id| marks.get(id)) {
        Some(mark) => Ok((mark.name.clone(), false)),
        None => Ok((resolve(typed, slip, marks, about)?, doubtful)),
    }
}

/// The chart's own spelling of a name that was typed, whole or in part.
///
/// - `slip`: the command that what was typed may have been meant for.
/// - `about`: where the craft is thought to be.
///
/// # Errors
/// No such name, or several that hold what was typed; the likeliest are named, of equally likely ones the
/// nearest.
fn resolve(
    typed: &str,
    slip: Option<&str>,
    marks: &Marks,
    about: Option<Position>,
) -> Result<String, EntryError> {
    if let Some(mark) = marks.find(typed).and_then(|id| marks.get(id)) {
        return Ok(mark.name.clone());
    }
    let part = typed.trim().to_lowercase();
    let refused = |names: Vec<String>| {
        let near: Vec<String> = slip.into_iter().map(str::to_owned).chain(names).collect();
        let near = match near.as_slice() {
            [] => String::new(),
            near => format!(": did you mean {}?", near.join(", ")),
        };
        EntryError::UnknownMark { name: typed.trim().to_owned(), near }
    };
    // Names made up by the program often hold a charted name: the charted one is meant.
    for named in [true, false] {
        let of_kind = marks.iter().map(|(_, mark)| mark).filter(|mark| mark.named == named);
        let holding = nearest_first(of_kind.filter(|mark| holds(&mark.name, &part)), about);
        match holding.as_slice() {
            [] => {}
            [only] => return Ok(only.clone()),
            _ => {
                let most = holding.into_iter().take(Marks::MOST_NEAR_NAMES);
                return Err(refused(most.collect()));
            }
        }
    }
    Err(refused(marks.near_names_about(typed, about)))
}

/// Names of marks, each once and no more than can be offered, those nearest to a place first; in the chart's
/// order where none is known. Asked at every key: a plane is exact enough to say which is nearer.
fn nearest_first<'m>(
    marks: impl Iterator<Item = &'m Mark>,
    about: Option<Position>,
) -> Vec<String> {
    let plane = about.map(LocalPlane::new);
    let off_m = |mark: &Mark| {
        let here = PlanePoint::default();
        plane.as_ref().map_or(0.0, |plane| plane.to_plane(mark.position).distance(here))
    };
    let mut by_distance: Vec<(f64, &str)> =
        marks.map(|mark| (off_m(mark), mark.name.as_str())).collect();
    by_distance.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut names: Vec<String> = Vec::new();
    for (_, name) in by_distance {
        if names.len() == Marks::MOST_NEAR_NAMES {
            break;
        }
        if !names.iter().any(|known| known == name) {
            names.push(name.to_owned());
        }
    }
    names
}

/// Whether some word of a name begins with what was typed.
fn holds(name: &str, part: &str) -> bool {
    let name = name.to_lowercase();
    let begins =
        |at: usize| name.get(..at).is_some_and(|before| before.is_empty() || before.ends_with(' '));
    part.chars().count() >= 2 && name.match_indices(part).any(|(at, _)| begins(at))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::MarkKind;
    use crate::units::{GroundRange, Height};

    fn marks(all: &[(&str, f64)]) -> Marks {
        let mark = |(name, lat): &(&str, f64)| Mark {
            name: (*name).to_owned(),
            named: true,
            kind: MarkKind::Headland,
            position: Position::new(*lat, -21.0).unwrap(),
            height: Height::SEA_LEVEL,
            extent: GroundRange::ZERO,
            sigma: GroundRange::ZERO,
            salience: 1.0,
        };
        Marks::new(all.iter().map(mark).collect())
    }

    fn refused(typed: &str, marks: &Marks) -> String {
        let about = Position::new(-38.0, -21.0).ok();
        resolve(typed, None, marks, about).unwrap_err().to_string()
    }

    #[test]
    fn of_equally_likely_names_the_nearest_come_first() {
        let all = marks(&[("Cape Bear", -36.0), ("Cape Dear", -38.2), ("Cape Fear", -37.0)]);
        // One letter off each of them.
        let told = refused("Cape Xear", &all);
        assert!(told.ends_with("did you mean Cape Dear, Cape Fear, Cape Bear?"), "{told}");
        // Each holds what was typed.
        let told = refused("cape", &all);
        assert!(told.ends_with("did you mean Cape Dear, Cape Fear, Cape Bear?"), "{told}");
        // A likeness that is greater goes before.
        let told = refused("Cape Beard", &all);
        assert!(told.contains("did you mean Cape Bear, "), "{told}");
    }

    #[test]
    fn a_question_mark_is_a_guess_unless_a_mark_is_so_called() {
        let all = marks(&[("Tern Rock", -36.0), ("Gull Rock", -37.0), ("Gull Rock?", -38.0)]);
        let meant = |typed, doubtful| meant(typed, doubtful, None, &all, None);
        assert_eq!(meant("tern rock", true), Ok(("Tern Rock".to_owned(), true)));
        assert_eq!(meant("Gull Rock", true), Ok(("Gull Rock?".to_owned(), false)));
        assert_eq!(meant("Gull Rock", false), Ok(("Gull Rock".to_owned(), false)));
    }

    #[test]
    fn a_name_that_two_marks_share_is_one_name() {
        let all = marks(&[("Tern Rock", -36.0), ("Tern Rock", -38.2)]);
        assert_eq!(resolve("tern", None, &all, None).as_deref(), Ok("Tern Rock"));
    }
}
