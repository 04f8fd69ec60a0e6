//! Many things looked at from one place after another of a track: each place is laid out once for all.

use rayon::prelude::*;

use super::glance::{Glance, Stand};
use crate::geodesy::Position;

/// A place of a track: its run in metres, and where it is.
pub(super) type Stage = (f64, Position);

/// Something that is looked at.
#[derive(Debug, Clone, Copy)]
pub(super) struct Watched {
    pub at: Position,
    /// How far behind it ground counts, metres.
    pub behind_m: f64,
    /// The numbers of the first stage from which it is looked at, and of the one after the last.
    pub stages: (usize, usize),
}

/// What is seen of each thing, stage by stage with their runs: from its first stage to the one at which
/// there is enough of it.
///
/// - `look`: a thing of a number from a place.
/// - `enough`: whether a thing needs no looking at after this.
pub(super) fn passage<T: Copy + Send>(
    glance: &Glance<'_>,
    stages: &[Stage],
    things: &[Watched],
    look: impl Fn(&Stand<'_>, usize) -> T + Sync,
    enough: impl Fn(usize, &T) -> bool,
) -> Vec<Vec<(f64, T)>> {
    struct Thing<T> {
        seen: Vec<(f64, T)>,
        done: bool,
    }
    let mut found: Vec<Thing<T>> =
        things.iter().map(|_| Thing { seen: Vec::new(), done: false }).collect();
    for (number, (run_m, position)) in stages.iter().enumerate() {
        let wanted: Vec<(usize, &Watched)> = things
            .iter()
            .enumerate()
            .zip(&found)
            .filter(|((_, it), found)| !found.done && (it.stages.0..it.stages.1).contains(&number))
            .map(|(numbered, _)| numbered)
            .collect();
        if wanted.is_empty() {
            continue;
        }
        let places = wanted.iter().map(|(_, it)| (it.at, it.behind_m));
        let stand = glance.stand_for(*position, places);
        let looks: Vec<(usize, T)> =
            wanted.par_iter().map(|(thing, _)| (*thing, look(&stand, *thing))).collect();
        for (thing, look) in looks {
            if let Some(found) = found.get_mut(thing) {
                found.seen.push((*run_m, look));
                found.done = enough(thing, &look);
            }
        }
    }
    found.into_iter().map(|found| found.seen).collect()
}
