use std::collections::HashSet;

use super::Feature;
use crate::chart::{Mark, MarkKind};
use crate::geodesy::{Position, course};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// A named mark lends its name to others as far as this: "Head 2.1 NM NE of Gannet Head".
const NAMED_NEAR_M: f64 = 8.0 * METRES_PER_NAUTICAL_MILE;

/// Whether a charted mark of one kind may be what was found as another. A light, a tower, a town
/// or a buoy stays what it is: it is not the ground that it stands on.
fn may_be(charted: MarkKind, found: MarkKind) -> bool {
    match charted {
        MarkKind::Headland | MarkKind::Islet | MarkKind::Peak => charted == found,
        MarkKind::Other => true,
        MarkKind::Light | MarkKind::Town | MarkKind::Tower | MarkKind::Buoy => false,
    }
}

/// Which charted mark each feature takes its name from, by number: each name goes to one feature,
/// the nearest for its size first.
pub(super) fn lenders(features: &[Feature], charted: &[Mark]) -> Vec<Option<usize>> {
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for (c, mark) in charted.iter().enumerate().filter(|(_, mark)| mark.named) {
        for (f, feature) in features.iter().enumerate() {
            // A degree of latitude is sixty miles: far ones are not worth a geodesic.
            let north = (mark.position.latitude() - feature.position.latitude()).abs() * 111_000.0;
            if north > feature.lends_within || !may_be(mark.kind, feature.kind) {
                continue;
            }
            let away = course(mark.position, feature.position).distance.metres();
            if away <= feature.lends_within {
                pairs.push((away / feature.lends_within, c, f));
            }
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut lenders = vec![None; features.len()];
    let mut lent = vec![false; charted.len()];
    for (_, c, f) in pairs {
        if let (Some(lent), Some(lender)) = (lent.get_mut(c), lenders.get_mut(f))
            && !*lent
            && lender.is_none()
        {
            (*lent, *lender) = (true, Some(c));
        }
    }
    lenders
}

/// Names for features that the chart does not name: each from the nearest named mark, or from its
/// own position where there is none or two would be the same.
pub(super) struct Namer<'a> {
    charted: Vec<&'a Mark>,
    taken: HashSet<String>,
}

impl<'a> Namer<'a> {
    pub(super) fn new(charted: &'a [Mark]) -> Self {
        let named: Vec<&Mark> = charted.iter().filter(|mark| mark.named).collect();
        let taken = named.iter().map(|mark| mark.name.to_lowercase()).collect();
        Self { charted: named, taken }
    }

    pub(super) fn name(&mut self, kind: MarkKind, at: Position) -> String {
        let what = match kind {
            MarkKind::Headland => "Head",
            MarkKind::Islet => "Islet",
            MarkKind::Peak => "Peak",
            _ => "Mark",
        };
        let by_place = format!("{what} {at}");
        let numbered = (2..10_000).map(|n| format!("{by_place} ({n})"));
        let names = self.beside(what, at).into_iter().chain([by_place.clone()]).chain(numbered);
        for name in names {
            if self.taken.insert(name.to_lowercase()) {
                return name;
            }
        }
        by_place
    }

    fn beside(&self, what: &str, at: Position) -> Option<String> {
        let (mark, line) = self
            .charted
            .iter()
            .filter(|mark| {
                (mark.position.latitude() - at.latitude()).abs() * 111_000.0 < NAMED_NEAR_M
            })
            .map(|mark| (*mark, course(mark.position, at)))
            .filter(|(_, line)| line.distance.metres() < NAMED_NEAR_M)
            .min_by(|a, b| a.1.distance.metres().total_cmp(&b.1.distance.metres()))?;
        let eighth = (line.initial.degrees() / 45.0).round() as usize % 8;
        let side = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"].get(eighth)?;
        Some(format!("{what} {:.1} NM {side} of {}", line.distance.nautical_miles(), mark.name))
    }
}
