use std::collections::HashSet;

use super::Feature;
use super::space::north_at_least_m;
use crate::chart::{Mark, MarkKind};
use crate::geodesy::{Position, course};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// A named mark lends its name to others as far as this: "Head 2.1 NM NE of Gannet Head".
const NAMED_NEAR_M: f64 = 8.0 * METRES_PER_NAUTICAL_MILE;

/// What a mark that the chart does not name is called.
fn called(kind: MarkKind) -> &'static str {
    match kind {
        MarkKind::Headland => "Head",
        MarkKind::Islet => "Islet",
        MarkKind::Peak => "Peak",
        _ => "Mark",
    }
}

impl Mark {
    /// The place that a name tells which was made up from it, `Head 53°24.50'N 010°11.05'W`, to half a
    /// hundredth of a minute; in whatever case and spacing. None where the name tells no place by itself.
    pub fn place_in_name(name: &str) -> Option<Position> {
        let kinds = [MarkKind::Headland, MarkKind::Islet, MarkKind::Peak, MarkKind::Other];
        let (what, place) = name.trim().split_once(char::is_whitespace)?;
        let is_made_up = kinds.iter().any(|kind| called(*kind).eq_ignore_ascii_case(what));
        if !is_made_up || !place.contains('°') {
            return None;
        }
        // Of two at one place the second has its number after it.
        let place = place.split_once('(').map_or(place, |(place, _)| place);
        place.parse().ok()
    }
}

/// Whether a charted mark of one kind may be what was found as another. A light, a tower, a town
/// or a buoy stays what it is: it is not the ground that it stands on.
pub(in crate::chart) fn may_be(charted: MarkKind, found: MarkKind) -> bool {
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
    let northward = Northward::of(features.iter().map(|feature| feature.position));
    let widest = features.iter().map(|feature| feature.lends_within).fold(0.0, f64::max);
    for (c, mark) in charted.iter().enumerate().filter(|(_, mark)| mark.named) {
        let here = mark.position.latitude();
        for f in northward.within(here, widest) {
            let Some(feature) = features.get(f) else { continue };
            let north = north_at_least_m(feature.position.latitude(), here);
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

/// Places by number from south to north, so that far ones are passed over together.
struct Northward(Vec<(f64, usize)>);

impl Northward {
    fn of(places: impl Iterator<Item = Position>) -> Self {
        let mut all: Vec<(f64, usize)> =
            places.enumerate().map(|(number, at)| (at.latitude(), number)).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self(all)
    }

    /// The numbers of those that may lie within so many metres of a place of this latitude.
    fn within(&self, here: f64, metres: f64) -> impl Iterator<Item = usize> {
        let far = move |lat: f64| north_at_least_m(lat, here) > metres;
        let from = self.0.partition_point(|(lat, _)| *lat < here && far(*lat));
        let near = self.0.get(from..).unwrap_or_default().iter();
        near.take_while(move |(lat, _)| *lat <= here || !far(*lat)).map(|(_, number)| *number)
    }
}

/// Names for features that the chart does not name: each from the nearest named mark, or from its
/// own position where there is none or two would be the same.
pub(super) struct Namer<'a> {
    charted: Vec<&'a Mark>,
    northward: Northward,
    taken: HashSet<String>,
}

impl<'a> Namer<'a> {
    pub(super) fn new(charted: &'a [Mark]) -> Self {
        let named: Vec<&Mark> = charted.iter().filter(|mark| mark.named).collect();
        let taken = named.iter().map(|mark| mark.name.to_lowercase()).collect();
        let northward = Northward::of(named.iter().map(|mark| mark.position));
        Self { charted: named, northward, taken }
    }

    pub(super) fn name(&mut self, kind: MarkKind, at: Position) -> String {
        let what = called(kind);
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
        let (_, mark, line) = self
            .northward
            .within(at.latitude(), NAMED_NEAR_M)
            .filter_map(|number| Some((number, *self.charted.get(number)?)))
            .map(|(number, mark)| (number, mark, course(mark.position, at)))
            .filter(|(.., line)| line.distance.metres() < NAMED_NEAR_M)
            .min_by(|a, b| {
                let nearer = a.2.distance.metres().total_cmp(&b.2.distance.metres());
                nearer.then(a.0.cmp(&b.0))
            })?;
        let eighth = (line.initial.degrees() / 45.0).round() as usize % 8;
        let side = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"].get(eighth)?;
        Some(format!("{what} {:.1} NM {side} of {}", line.distance.nautical_miles(), mark.name))
    }
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::*;
    use crate::units::{GroundRange, Height};

    const SEED: u64 = 20_311_126;

    fn strewn(rng: &mut ChaCha8Rng, south: f64) -> Position {
        let (north, east): (f64, f64) = (rng.random(), rng.random());
        Position::wrapped(south + north, 179.5 + east)
    }

    fn charted(number: usize, position: Position) -> Mark {
        Mark {
            name: format!("Mark {number}"),
            named: true,
            kind: MarkKind::Other,
            position,
            height: Height::SEA_LEVEL,
            extent: GroundRange::ZERO,
            sigma: GroundRange::ZERO,
            salience: 0.0,
        }
    }

    fn found(position: Position, lends_within: f64) -> Feature {
        Feature {
            kind: MarkKind::Headland,
            line: None,
            position,
            height: 0.0,
            extent: 0.0,
            sigma: 0.0,
            salience: 0.0,
            lends_within,
            only_named: false,
        }
    }

    /// Each of all pairs measured, the nearest for its size first.
    fn of_all_pairs(features: &[Feature], charted: &[Mark]) -> Vec<Option<usize>> {
        let mut lenders = vec![None; features.len()];
        loop {
            let mut best: Option<(f64, usize, usize)> = None;
            for (c, mark) in
                charted.iter().enumerate().filter(|(c, _)| !lenders.contains(&Some(*c)))
            {
                for (f, feature) in
                    features.iter().enumerate().filter(|(f, _)| lenders[*f].is_none())
                {
                    let away = course(mark.position, feature.position).distance.metres();
                    let share = away / feature.lends_within;
                    if share <= 1.0 && best.is_none_or(|best| share < best.0) {
                        best = Some((share, c, f));
                    }
                }
            }
            let Some((_, c, f)) = best else { return lenders };
            lenders[f] = Some(c);
        }
    }

    /// On the equator, where a degree of latitude is shortest, and over the date line.
    #[test]
    fn names_are_lent_as_if_every_pair_were_measured() {
        println!("seed {SEED}");
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        for south in [-0.5, 55.0, -71.0] {
            let marks: Vec<Mark> = (0..40).map(|i| charted(i, strewn(&mut rng, south))).collect();
            let features: Vec<Feature> = (0..60)
                .map(|_| found(strewn(&mut rng, south), rng.random_range(1_000.0..20_000.0)))
                .collect();
            let lent = lenders(&features, &marks);
            assert!(lent.iter().flatten().count() > 10);
            assert_eq!(lent, of_all_pairs(&features, &marks));
        }
    }

    /// Due north on the equator by a little less than the reach: 110,574 m to a degree (NGA.STND.0036).
    #[test]
    fn a_name_reaches_its_whole_way_along_the_meridian() {
        let mark = charted(1, Position::wrapped(0.0, 10.0));
        let north = Position::wrapped(0.999 * NAMED_NEAR_M / 110_574.0, 10.0);
        let name = Namer::new(std::slice::from_ref(&mark)).name(MarkKind::Headland, north);
        assert_eq!(name, "Head 8.0 NM N of Mark 1");
    }

    #[test]
    fn a_name_made_up_from_a_place_tells_it() {
        let mut namer = Namer::new(&[]);
        for kind in [MarkKind::Headland, MarkKind::Islet, MarkKind::Peak, MarkKind::Other] {
            for (latitude, longitude) in [(53.408_33, -10.184_17), (-38.215, 179.999), (0.0, 0.0)] {
                let at = Position::wrapped(latitude, longitude);
                for name in [namer.name(kind, at), namer.name(kind, at).to_lowercase()] {
                    let told = Mark::place_in_name(&name.replace(' ', "  ")).unwrap();
                    // Half of the last digit shown is 9 m on each axis.
                    assert!(course(at, told).distance.metres() < 14.0, "{name}: {told}");
                }
            }
        }
        for none in [
            "Gannet Head",
            "Head 2.1 NM NE of Gannet Head",
            "Head 2.1 NM NE of Islet 38°12.90'S 021°30.48'W",
            "Gannet 38°12.90'S 021°30.48'W",
            "Head 38°12.90'S",
            "Head 98°12.90'S 021°30.48'W",
            "Mark 12 34",
            "Head",
            "",
        ] {
            assert_eq!(Mark::place_in_name(none), None, "{none}");
        }
    }

    #[test]
    fn no_place_within_a_distance_is_passed_over() {
        let places: Vec<Position> = (0..2_000)
            .map(|i| Position::wrapped(f64::from(i * 37 % 1_801) * 0.1 - 90.0, f64::from(i)))
            .collect();
        let northward = Northward::of(places.iter().copied());
        for (here, metres) in [(0.0, 30_000.0), (-90.0, 50_000.0), (38.05, 1.0), (90.0, 0.0)] {
            let mut found: Vec<usize> = northward.within(here, metres).collect();
            found.sort_unstable();
            let near = |at: &Position| north_at_least_m(at.latitude(), here) <= metres;
            let all: Vec<usize> = (0..places.len()).filter(|i| near(&places[*i])).collect();
            assert_eq!(found, all, "{here} {metres}");
        }
    }
}
