//! What lies near a place without a charted height: the shore and the marks that its assumed height
//! goes by, found once for each small cell.

use std::sync::OnceLock;

use crate::chart::coast::{Coast, FlatPatch, Side};
use crate::chart::marks::Marks;
use crate::chart::squares::{CELLS as SIDE, Squares};
use crate::geodesy::Position;
use crate::units::{Angle, GroundRange};

/// Cells along each side of a block. A headland asks for a few cells of a degree: only their blocks are
/// made.
const BLOCK: usize = 20;

/// Blocks along each side of a tile of one degree.
const BLOCKS: usize = SIDE / BLOCK;

/// No place of a cell lies farther from its middle, metres (half a diagonal is 219 m on the equator).
const HALF_M: f64 = 225.0;

/// Planes about two places of a cell measure the same way alike but for this share of it.
const SHARE: f64 = 0.01;

/// A long side bends, and planes about two places some miles apart lay it out otherwise: the nearest point of
/// it by no more than this, metres. Our own bound, held against the nearest shore of real coasts below.
const BENT_M: f64 = 150.0;

/// The shore is sought so much farther off than it counts, metres: of places up to this far from a cell it is
/// then told that none is near.
const AWAY_M: f64 = 1_000.0;

/// Marks are kept so much farther off than they count, metres: for ways of no more than twice this.
const FARTHER_M: f64 = 3_000.0;

/// Where a mark stands, and its height, metres.
pub(super) type Top = (Position, f64);

/// What is near the places of one cell.
pub(super) struct Cell {
    middle: Position,
    /// From its middle to the nearest shore, metres; infinity past the reach.
    middle_m: f64,
    /// No shore is nearer to its middle than this, metres.
    clear_m: f64,
    /// The sides of the shore of which one is the nearest to any place of it, and how far each is from its
    /// middle, metres: the nearest first.
    shore: Box<[(f64, Side)]>,
    /// Marks that may count for ways from it, the highest first.
    pub tops: Box<[Top]>,
}

impl Cell {
    fn new(coast: &Coast, tops: &Marks, middle: Position, (shore_m, tops_m): (f64, f64)) -> Self {
        let within_m = (shore_m + BENT_M) / (1.0 - SHARE) + HALF_M + AWAY_M;
        let sides = coast.sides_within(middle, within_m);
        let nearest_m = sides.iter().map(|(metres, _)| *metres).fold(f64::INFINITY, f64::min);
        let near_m = nearest_m + 2.0 * HALF_M + SHARE * nearest_m;
        let near = sides.into_iter().filter(|(metres, _)| *metres <= near_m);
        let mut shore: Vec<(f64, Side)> = near.collect();
        shore.sort_by(|a, b| a.0.total_cmp(&b.0));
        let reach = GroundRange::clamped_metres(tops_m + HALF_M + FARTHER_M);
        let within = tops.within(middle, reach).into_iter().filter_map(|id| tops.get(id));
        let mut tops: Vec<Top> = within.map(|top| (top.position, top.height.metres())).collect();
        tops.sort_by(|a, b| b.1.total_cmp(&a.1));
        let clear_m = nearest_m.min(within_m);
        Self { middle, middle_m: nearest_m, clear_m, shore: shore.into(), tops: tops.into() }
    }

    /// The shore is nowhere in it farther off than this, metres.
    pub fn inland_at_most_m(&self) -> f64 {
        self.middle_m + HALF_M + SHARE * self.middle_m
    }

    /// The shore is nowhere nearer than this, metres, to places no more than `away_m` from one of it: for
    /// ways of a few miles.
    pub fn inland_at_least_m(&self, away_m: f64) -> f64 {
        (self.clear_m - HALF_M - away_m) * (1.0 - SHARE) - BENT_M
    }

    /// Metres from a place of it to the nearest shore, up to `reach_m`.
    pub fn inland_m(&self, at: Position, reach_m: f64) -> Option<f64> {
        if self.middle_m - HALF_M - SHARE * self.middle_m.min(reach_m) > reach_m {
            return None;
        }
        let patch = FlatPatch::new(at);
        let off_m = patch.place_m(self.middle) * (1.0 + SHARE);
        let mut nearest_m = f64::INFINITY;
        for (metres, side) in &self.shore {
            // No later one can be nearer.
            if metres * (1.0 - SHARE) - off_m > nearest_m {
                break;
            }
            nearest_m = nearest_m.min(patch.side_m(side));
        }
        (nearest_m <= reach_m).then_some(nearest_m)
    }
}

/// Cells of one block and blocks of one tile, each made where it is asked for.
type Block = Box<[OnceLock<Cell>]>;
type Tile = Box<[OnceLock<Block>]>;

/// The cells of the box of a coast, made where they are asked for and kept. Which thread asks first
/// changes nothing.
#[derive(Default)]
pub(super) struct Inland {
    tiles: Box<[OnceLock<Tile>]>,
    squares: Squares,
    /// How far off shore and marks count, metres.
    reaches_m: (f64, f64),
}

impl std::fmt::Debug for Inland {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Inland").field("tiles", &self.tiles.len()).finish_non_exhaustive()
    }
}

impl Inland {
    /// Over a coast's box; the shore counts as far as the first reach, marks as far as the second.
    pub fn new(coast: &Coast, reaches_m: (f64, f64)) -> Self {
        let squares = Squares::over(coast.extent());
        let tiles = none_yet(squares.count());
        Self { tiles, squares, reaches_m }
    }

    /// The cell of a place; none outside the box of the coast.
    pub fn cell(&self, coast: &Coast, tops: &Marks, at: Position) -> Option<&Cell> {
        let place = self.squares.find(at)?;
        let tile = self.tiles.get(place.number)?;
        let (row, column) = place.cell;
        let blocks = tile.get_or_init(|| none_yet(BLOCKS * BLOCKS));
        let block = blocks.get(row / BLOCK * BLOCKS + column / BLOCK)?;
        let cells = block.get_or_init(|| none_yet(BLOCK * BLOCK));
        let cell = cells.get(row % BLOCK * BLOCK + column % BLOCK)?;
        Some(cell.get_or_init(|| {
            let middle = |whole: f64, cell: usize| whole + (cell as f64 + 0.5) / SIDE as f64;
            let (up, right) = (middle(place.row, row), middle(place.column, column));
            let middle = Position::wrapped(self.squares.south + up, self.squares.west + right);
            Cell::new(coast, tops, middle, self.reaches_m)
        }))
    }
}

fn none_yet<T>(count: usize) -> Box<[OnceLock<T>]> {
    (0..count).map(|_| OnceLock::new()).collect()
}

/// Two places some miles apart are no nearer than this, metres: cheap, within a hundredth or two.
pub(super) fn at_least_m(a: Position, b: Position) -> f64 {
    /// A degree of a meridian at the equator, where it is shortest, less a hundredth.
    const DEGREE_M: f64 = 110_574.0 * 0.99;
    let north = a.latitude() - b.latitude();
    let mut east = a.longitude() - b.longitude();
    east -= 360.0 * (east / 360.0).round();
    let widest = a.latitude().abs().max(b.latitude().abs());
    let east = east * Angle::from_degrees(widest).radians().cos();
    DEGREE_M * (north * north + east * east).sqrt()
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::*;
    use crate::chart::Chart;
    use crate::geodesy::destination;
    use crate::units::Bearing;

    const SEED: u64 = 20_311_128;

    /// The shore of a cell is sought no farther off than need be: from every place of it the nearest must be
    /// the nearest of all the coast.
    #[test]
    fn the_nearest_shore_of_a_cell_is_the_nearest_of_all() {
        println!("seed {SEED}");
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        // Natural Earth (public domain): see `SOURCE.md` beside it.
        let south =
            include_bytes!("../../../tests/reference/natural-earth-coasts/south-island.shp");
        let south = Chart::from_files("South", &[("coast.shp", south)]).unwrap();
        for chart in [&south, &Chart::sample().unwrap()] {
            let (coast, tops) = (chart.coast(), Marks::new(Vec::new()));
            let area = coast.extent().unwrap();
            let mut told = 0;
            for reach_m in [500.0, 3_000.0, 50_000.0] {
                let inland = Inland::new(coast, (reach_m, 0.0));
                let reach = GroundRange::from_metres(reach_m).unwrap();
                for _ in 0..400 {
                    let at = Position::wrapped(
                        area.south + rng.random::<f64>() * (area.north - area.south),
                        area.west + rng.random::<f64>() * (area.east - area.west),
                    );
                    let cell = inland.cell(coast, &tops, at).unwrap();
                    let here = cell.inland_m(at, reach_m);
                    let all = coast.nearest(at, reach).map(|(range, _)| range.metres());
                    assert_eq!(here.is_some(), all.is_some(), "{at} {reach_m}: {here:?} {all:?}");
                    if let (Some(here), Some(all)) = (here, all) {
                        assert!((here - all).abs() < 1.0, "{at} {reach_m}: {here} {all}");
                        told += 1;
                    }
                }
            }
            assert!(told > 100, "{}: {told} within reach", chart.name());
        }
    }

    #[test]
    fn no_shore_is_nearer_to_places_about_a_cell_than_it_tells() {
        println!("seed {SEED}");
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        // Natural Earth (public domain): see `SOURCE.md` beside it.
        let hebrides = include_bytes!("../../../tests/reference/natural-earth-coasts/hebrides.shp");
        let hebrides = Chart::from_files("Hebrides", &[("coast.shp", hebrides)]).unwrap();
        let (coast, tops) = (hebrides.coast(), Marks::new(Vec::new()));
        let area = coast.extent().unwrap();
        let inland = Inland::new(coast, (3_000.0, 0.0));
        let (mut near, mut far) = (0, 0);
        for _ in 0..1_000 {
            let at = Position::wrapped(
                area.south + rng.random::<f64>() * (area.north - area.south),
                area.west + rng.random::<f64>() * (area.east - area.west),
            );
            let turn = Bearing::wrapped_degrees(360.0 * rng.random::<f64>());
            let away = GroundRange::from_metres(AWAY_M * rng.random::<f64>()).unwrap();
            let there = destination(at, turn, away);
            let cell = inland.cell(coast, &tops, at).unwrap();
            let least_m = cell.inland_at_least_m(away.metres());
            far += i32::from(least_m > 3_000.0);
            let all = GroundRange::from_metres(10_000.0).unwrap();
            if let Some((nearest, _)) = coast.nearest(there, all) {
                near += 1;
                assert!(nearest.metres() >= least_m, "{at} {there}: {nearest:?}, {least_m}");
            }
        }
        assert!(near > 100 && far > 100, "{near} near a shore, {far} far from all");
    }
}
