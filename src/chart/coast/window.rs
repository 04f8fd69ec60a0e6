//! A part of a large coast, and what of the rest is needed to tell land from sea in it.
//!
//! Whether a place is land goes by the crossings of its meridian with each ring north of it. In a
//! part of the coast most of those are not at hand. Each ring's runs that were left out lie wholly
//! north or south of the part's box on the meridians of the box, or on other meridians. So all that
//! lies north counts as if each stretch left out were one straight line between its ends, far to the
//! north; and those ends are the ends of what was taken in. What the count is on the western edge
//! follows from which rings hold the north-west corner. Nothing is approximate in this: the parity is
//! that of the whole coast.

use rstar::AABB;

use super::run::IndexedRun;
use super::stored::{ChainEnd, Enclosing};
use super::{Coast, tiles};
use crate::chart::geobox::GeoBox;
use crate::geodesy::Position;

/// A stretch of a ring far to the north of the box, from one longitude to another in the turn of
/// the box.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ghost {
    pub(super) line: u32,
    pub(super) group: u32,
    from: f64,
    to: f64,
}

/// The part of a coast that was taken in.
#[derive(Debug, Clone)]
pub(super) struct Window {
    pub(super) area: GeoBox,
    ghosts: Vec<Ghost>,
}

impl Window {
    /// `coast` holds the runs taken in and no window yet; `ends` are those of its stretches, and
    /// `numbers` the numbers of its lines in the whole coast.
    pub(super) fn new(
        coast: &Coast,
        enclosing: &Enclosing,
        ends: &[ChainEnd],
        numbers: &[u32],
    ) -> Self {
        let area = enclosing.area;
        // Line, group and where the count changes: the corner itself is west of everything.
        let mut changes: Vec<(u32, u32, f64)> = Vec::new();
        for (i, (number, group)) in (0_u32..).zip(&enclosing.corner) {
            let line = numbers.binary_search(number).map_or(u32::MAX - i, |line| line as u32);
            changes.push((line, *group, f64::NEG_INFINITY));
        }
        for (line, group) in coast.crossed(corner_of(&area)) {
            changes.push((line, group, f64::NEG_INFINITY));
        }
        Self::of_changes(coast, area, changes, ends)
    }

    /// Of one tile of a coast that is at hand.
    pub(super) fn of_tile(coast: &Coast, area: GeoBox) -> Self {
        let runs = coast.rings_touching(&area);
        let corner = corner_of(&area);
        // All crossings north of the corner, less those of the runs of the tile itself.
        let crossed = coast.crossed(corner).into_iter().chain(coast.crossed_by(&runs, corner));
        let changes = crossed.map(|(line, group)| (line, group, f64::NEG_INFINITY)).collect();
        Self::of_changes(coast, area, changes, &tiles::ends(coast, &runs))
    }

    fn of_changes(
        coast: &Coast,
        area: GeoBox,
        mut changes: Vec<(u32, u32, f64)>,
        ends: &[ChainEnd],
    ) -> Self {
        for end in ends {
            let Some(line) = coast.lines.get(end.line as usize).filter(|line| line.closed) else {
                continue;
            };
            let lon = in_turn_of(&area, end.at.lon);
            if end.at.lat > area.north && lon > area.west && lon <= area.east {
                changes.push((end.line, line.group, lon));
            }
        }
        changes.sort_by(|a, b| a.0.cmp(&b.0).then(a.2.total_cmp(&b.2)));
        let mut ghosts = Vec::new();
        for line in changes.chunk_by(|a, b| a.0 == b.0) {
            for pair in line.chunks(2) {
                let Some((line, group, from)) = pair.first().copied() else { continue };
                let to = pair.get(1).map_or(f64::INFINITY, |change| change.2);
                if from < to {
                    ghosts.push(Ghost { line, group, from, to });
                }
            }
        }
        Self { area, ghosts }
    }

    /// The stretches that the meridian of a place crosses far to the north of it.
    pub(super) fn north_of(&self, at: Position) -> impl Iterator<Item = &Ghost> {
        let lon = in_turn_of(&self.area, at.longitude());
        self.ghosts.iter().filter(move |ghost| ghost.from <= lon && lon < ghost.to)
    }
}

/// A longitude in the turn of a box, from its western edge on.
fn in_turn_of(area: &GeoBox, lon: f64) -> f64 {
    let turns = ((lon - area.west) / 360.0).floor();
    lon - 360.0 * turns
}

/// The north-west corner of a box.
fn corner_of(area: &GeoBox) -> Position {
    Position::wrapped(area.north, area.west)
}

impl Coast {
    /// Line and group of each crossing of the meridian north of a place.
    fn crossed(&self, at: Position) -> Vec<(u32, u32)> {
        self.crossings(at, |_, _| true, |line, group| (line, group))
    }

    /// The same by some runs alone.
    fn crossed_by(&self, runs: &[&IndexedRun], at: Position) -> Vec<(u32, u32)> {
        let mut crossed = Vec::new();
        for run in runs {
            let group = self.lines.get(run.line as usize).map_or(0, |entry| entry.group);
            let count: usize =
                [-1.0, 0.0, 1.0].iter().map(|turn| self.crossings_by(run, *turn, at)).sum();
            crossed.extend((0..count).map(|_| (run.line, group)));
        }
        crossed
    }

    /// The runs of rings whose boxes touch an area, sorted by line and along it.
    fn rings_touching(&self, area: &GeoBox) -> Vec<&IndexedRun> {
        let closed =
            |run: &&IndexedRun| self.lines.get(run.line as usize).is_some_and(|line| line.closed);
        let mut runs = Vec::new();
        for turn in [-360.0, 0.0, 360.0] {
            let moved =
                AABB::from_corners([area.west + turn, area.south], [area.east + turn, area.north]);
            runs.extend(self.runs.locate_in_envelope_intersecting(moved).filter(closed));
        }
        runs.sort_by_key(|run| (run.line, run.first));
        runs.dedup_by_key(|run| (run.line, run.first));
        runs
    }
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::*;
    use crate::chart::Chart;

    const SEED: u64 = 20_260_312;

    /// What tiles tell is what all crossings of the meridian tell.
    #[test]
    fn a_tile_tells_what_the_whole_meridian_tells() {
        println!("seed {SEED}");
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        // Natural Earth (public domain): see `SOURCE.md` beside them.
        let aegean = include_bytes!("../../../tests/reference/natural-earth-coasts/aegean.shp");
        let hebrides = include_bytes!("../../../tests/reference/natural-earth-coasts/hebrides.shp");
        for shp in [aegean.as_slice(), hebrides.as_slice()] {
            let chart = Chart::from_files("test", &[("coast.shp", shp)]).unwrap();
            let (coast, area) = (chart.coast(), chart.coast().extent().unwrap());
            let mut land = 0;
            for _ in 0..3_000 {
                let at = Position::wrapped(
                    area.south + rng.random::<f64>() * (area.north - area.south),
                    area.west + rng.random::<f64>() * (area.east - area.west),
                );
                let mut whole = coast.crossings(at, |_, _| true, |_, group| group);
                let whole = !crate::chart::coast::land::odd_ones(&mut whole).is_empty();
                assert_eq!(coast.is_land(at), Some(whole), "{at}");
                land += usize::from(whole);
            }
            assert!((300..2_700).contains(&land), "{land}");
        }
    }
}
