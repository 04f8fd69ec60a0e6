//! How high ground stands at most between two places, and where all of it is one height, without looking at
//! each height there.

use super::grid::{Frame, Grid};
use super::inland::{Cell, Top, at_least_m};
use super::{Ground, GroundHeight, HeightSource, MARK_SLOPE};
use crate::chart::geobox::GeoBox;
use crate::geodesy::Position;
use crate::units::Angle;

/// About how long a block is along a meridian, degrees, a little over half a mile; it holds whole
/// cells, and many of them at most.
const BLOCK_DEG: f64 = 0.01;
const MOST_CELLS: f64 = 32.0;

/// Added to every ceiling, metres: what lies between heights, and what is kept in fewer digits, may
/// come out higher than they are, by far less than this.
const HAIR_M: f64 = 0.01;

/// A box is taken so many degrees wider, for a way from corner to corner that bends.
const WIDER_DEG: f64 = 1e-4;

/// Nearer to a pole than this latitude, degrees, ways bend farther, and no ceiling is told.
const MOST_LATITUDE_DEG: f64 = 75.0;

/// On ways with half of them longer than this, metres, marks near by are not told apart.
const MOST_HALF_M: f64 = 2_900.0;

/// Two places are no farther apart than this, metres, where neither is near a pole.
fn distance_at_most_m(a: Position, b: Position) -> f64 {
    // A degree of a meridian near a pole, where it is longest, is less; and so is one of a parallel over the
    // cosine of its latitude.
    const DEGREE_M: f64 = 111_700.0;
    let north = a.latitude() - b.latitude();
    // Of a way between them, meridians are farthest apart where it comes nearest to the equator.
    let crosses = a.latitude() * b.latitude() <= 0.0;
    let nearest = if crosses { 0.0 } else { a.latitude().abs().min(b.latitude().abs()) };
    let east = (a.longitude() - b.longitude()) * Angle::from_degrees(nearest).radians().cos();
    DEGREE_M * north.hypot(east)
}

/// A box that holds a way of some miles from one place to another; none across the date line and near a pole.
fn box_of_way(from: Position, to: Position) -> Option<GeoBox> {
    let polar = from.latitude().abs().max(to.latitude().abs()) > MOST_LATITUDE_DEG;
    let area = GeoBox {
        south: from.latitude().min(to.latitude()) - WIDER_DEG,
        west: from.longitude().min(to.longitude()) - WIDER_DEG,
        north: from.latitude().max(to.latitude()) + WIDER_DEG,
        east: from.longitude().max(to.longitude()) + WIDER_DEG,
    };
    (!polar && area.east - area.west <= 180.0).then_some(area)
}

/// What the height of ground that nothing else tells goes by on a way of a few miles.
struct NearWay<'a> {
    /// Of its middle.
    cell: &'a Cell,
    middle: Position,
    /// None of it is farther from its middle, metres.
    half_m: f64,
}

impl NearWay<'_> {
    /// No mark has ground on it stand higher, metres: `least_m` where none has it stand as high.
    fn marks_at_most_m(&self, least_m: f64) -> f64 {
        let slope = |(place, height): &Top| {
            height - MARK_SLOPE * (at_least_m(self.middle, *place) - self.half_m).max(0.0)
        };
        self.cell.tops.iter().map(slope).fold(least_m, f64::max)
    }
}

/// The greatest heights of a grid by blocks of cells.
pub(super) struct Blocks {
    /// Cells on a side of one.
    side: usize,
    columns: usize,
    most: Vec<f32>,
}

impl Blocks {
    /// Of a grid of so many columns, its heights row by row.
    pub(super) fn new(frame: &Frame, heights: impl Iterator<Item = f64>) -> Self {
        let (columns, side) = (frame.columns, BLOCK_DEG / frame.step_lat);
        let side = side.round().clamp(1.0, MOST_CELLS) as usize;
        let across = columns.div_ceil(side);
        let mut most: Vec<f32> = Vec::new();
        // The cell's row, its column, and the column within its block: a division for each cell is dear.
        let (mut row, mut column, mut within) = (0, 0, 0);
        let mut block = 0;
        for height in heights {
            if block >= most.len() {
                most.resize(block + 1, f32::NEG_INFINITY);
            }
            if let Some(most) = most.get_mut(block) {
                *most = most.max(height as f32);
            }
            (column, within) = (column + 1, within + 1);
            if column == columns {
                (row, column, within) = (row + 1, 0, 0);
                block = (row / side) * across;
            } else if within == side {
                (block, within) = (block + 1, 0);
            }
        }
        Self { side, columns: across, most }
    }

    /// The greatest of some rows and columns of cells, the last ones among them, and of what lies in
    /// one block with them.
    fn most(&self, rows: (usize, usize), columns: (usize, usize)) -> f64 {
        let mut most = f32::NEG_INFINITY;
        let side = self.side;
        for row in rows.0 / side..=rows.1 / side {
            let first = row * self.columns;
            let blocks = self.most.get(first + columns.0 / side..=first + columns.1 / side);
            most = blocks.unwrap_or_default().iter().copied().fold(most, f32::max);
        }
        f64::from(most)
    }
}

/// How much of a box a grid covers, and the greatest of its heights there, metres.
enum Reach {
    Apart,
    Part(f64),
    /// All of it, with heights that were missing: another grid may have measured them.
    Filled(f64),
    Whole(f64),
}

impl Grid {
    /// Whether a box may hold a place whose height it tells.
    fn may_tell_of(&self, area: &GeoBox) -> bool {
        let (f, extent) = (&self.frame, self.extent());
        // Its outermost heights stand for half a step about them too.
        let told = GeoBox {
            south: extent.south - f.step_lat,
            west: extent.west - f.step_lon,
            north: extent.north + f.step_lat,
            east: extent.east + f.step_lon,
        };
        told.touches(area)
    }

    fn most_in(&self, area: &GeoBox) -> Reach {
        let f = &self.frame;
        let (last_row, last_column) = (f.rows as f64 - 0.5, f.columns as f64 - 0.5);
        let (top, bottom) =
            ((f.north - area.north) / f.step_lat, (f.north - area.south) / f.step_lat);
        if bottom < -0.5 || top > last_row {
            return Reach::Apart;
        }
        let (left, right) = (self.column_of(area.west), self.column_of(area.east));
        // Over the seam of a grid's own turn.
        if self.is_round() || left > right {
            // Where it cannot be read it tells nothing.
            return self.facts().map_or(Reach::Apart, |facts| Reach::Part(facts.highest));
        }
        if right < -0.5 || left > last_column {
            return Reach::Apart;
        }
        let held = |place: f64, count: usize| place.clamp(0.0, (count - 1) as f64) as usize;
        let Some(blocks) = self.blocks() else { return Reach::Apart };
        let most = blocks.most(
            (held(top.floor(), f.rows), held(bottom.ceil(), f.rows)),
            (held(left.floor(), f.columns), held(right.ceil(), f.columns)),
        );
        let whole = top >= -0.5 && bottom <= last_row && left >= -0.5 && right <= last_column;
        // Known, since the blocks are made of its heights.
        let measured = self.known_facts().is_some_and(|facts| facts.voids == 0);
        if !whole {
            Reach::Part(most)
        } else if measured {
            Reach::Whole(most)
        } else {
            Reach::Filled(most)
        }
    }
}

impl Ground {
    /// No ground on a straight way of some miles from one place to another stands higher than this,
    /// metres above the sea. Infinity where that is not told: across the date line, near a pole.
    ///
    /// The greatest height of the blocks of the grids that the way's box touches;
    /// where no grid covers the whole of it, of all else that ground is taken from too. Some tens of
    /// nanoseconds.
    pub fn ceiling_m(&self, from: Position, to: Position) -> f64 {
        let Some(area) = box_of_way(from, to) else { return f64::INFINITY };
        let mut most = self.profile.shore.metres();
        // Finest first, as heights are asked for: the first that measured all of it is the last asked.
        let mut is_told = false;
        for grid in self.grids_of(&area) {
            match grid.most_in(&area) {
                Reach::Apart => {}
                Reach::Part(metres) => most = most.max(metres),
                Reach::Filled(metres) => (most, is_told) = (most.max(metres), true),
                Reach::Whole(metres) => return most.max(metres) + HAIR_M,
            }
        }
        // What was filled still goes before all that no grid tells.
        let ungridded_m = if is_told { most } else { self.ungridded_ceiling_m(from, to) };
        most.max(ungridded_m) + HAIR_M
    }

    /// The height of all land on a straight way of a mile or so from one place to another, as
    /// [`Ground::of_land`] has it, where it is everywhere the same: where nothing tells it, and the shore is so
    /// far that the assumed rise has ended. `None` where that is not sure.
    pub fn level_of_land(&self, from: Position, to: Position) -> Option<GroundHeight> {
        let area = box_of_way(from, to)?;
        if self.grids_of(&area).any(|grid| grid.may_tell_of(&area)) {
            return None;
        }
        let near = self.near_way(from, to)?;
        let reach_m = self.profile.reach_m();
        let level_m = self.profile.at(reach_m);
        let ended = near.cell.inland_at_least_m(near.half_m) > reach_m;
        let level = GroundHeight::new(level_m, HeightSource::Assumed);
        (ended && near.marks_at_most_m(level_m) <= level_m).then(|| self.no_lower_than_shore(level))
    }

    /// No ground on a way that no grid tells stands higher, metres.
    fn ungridded_ceiling_m(&self, from: Position, to: Position) -> f64 {
        let Some(near) = self.near_way(from, to) else { return self.most_ungridded_m };
        let inland_m = near.cell.inland_at_most_m() + near.half_m;
        let rise = self.profile.at(inland_m).max(self.profile.shore.metres());
        near.marks_at_most_m(rise)
    }

    /// What the height of ground on a way goes by; none where contours may tell it, and where it is long.
    fn near_way(&self, from: Position, to: Position) -> Option<NearWay<'_>> {
        let half_m = 0.5 * distance_at_most_m(from, to) + 10.0;
        if half_m > MOST_HALF_M || !self.contours.is_empty() {
            return None;
        }
        let middle = Position::wrapped(
            0.5 * (from.latitude() + to.latitude()),
            0.5 * (from.longitude() + to.longitude()),
        );
        let cell = self.inland.cell(&self.coast, &self.tops, middle)?;
        Some(NearWay { cell, middle, half_m })
    }

    /// No ground whose height no grid tells stands higher, metres.
    pub(super) fn most_ungridded_m(&self) -> f64 {
        let tops = self.tops.iter().map(|(_, mark)| mark.height.metres());
        tops.chain(self.contours.heights()).fold(self.profile.most_m(), f64::max)
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::*;
    use crate::chart::cover::Cover;
    use crate::chart::ground::{Contours, Profile, read_hgt};
    use crate::chart::{Chart, Mark, MarkKind};
    use crate::geodesy::distance;
    use crate::units::{GroundRange, Height};

    const SEED: u64 = 20_270_904;

    /// Ground of two tiles that adjoin at 7 E, hilly by a rule.
    fn ground() -> Ground {
        let height =
            |i: usize| i16::try_from((i / 1201) * 7 % 311 + (i % 1201) * 13 % 577).unwrap();
        let bytes: Vec<u8> = (0..1201 * 1201).flat_map(|i| height(i).to_be_bytes()).collect();
        let grids = ["N00E006.hgt", "N00E007.hgt"].map(|name| read_hgt(name, &bytes).unwrap());
        let coast = std::sync::Arc::default();
        let (contours, cover) = (Contours::default(), Cover::default());
        Ground::new(coast, grids.into(), contours, &[], Profile::default(), cover)
    }

    #[test]
    fn no_two_places_are_farther_apart_than_at_most() {
        println!("seed {SEED}");
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        for _ in 0..5_000 {
            let mut within = |most: f64| most * (2.0 * rng.random::<f64>() - 1.0);
            let from = Position::wrapped(within(75.0), within(175.0));
            let (up, right) = (within(0.05), within(0.05));
            let to = Position::wrapped(from.latitude() + up, from.longitude() + right);
            let (metres, most_m) = (distance(from, to).metres(), distance_at_most_m(from, to));
            assert!(metres <= most_m, "{from} {to}: {metres} over {most_m}");
            assert!(most_m < 1.02 * metres + 1.0, "{from} {to}: {metres}, at most {most_m}");
        }
    }

    #[test]
    fn no_ground_on_a_way_is_higher_than_its_ceiling() {
        let ground = ground();
        let mut lower = 0;
        for i in 0..400 {
            let (lat, lon) = (0.013 * f64::from(i % 73), 6.0 + 0.0049 * f64::from(i));
            let (up, right) = (0.004 * f64::from(i % 7 - 3), 0.004 * f64::from(i % 5 - 2));
            let at = |share: f64| Position::wrapped(lat + share * up, lon + share * right);
            let ceiling = ground.ceiling_m(at(0.0), at(1.0));
            for step in 0..=40 {
                let here = ground.of_land(at(f64::from(step) / 40.0)).height.metres();
                assert!(here <= ceiling, "{i} {step}: {here} over {ceiling}");
            }
            lower += i32::from(ceiling < 700.0);
        }
        assert!(lower > 50, "{lower}");
    }

    #[test]
    fn where_no_grid_tells_the_assumed_ground_bounds_it() {
        let ground = ground();
        let at = |lat, lon| Position::new(lat, lon).unwrap();
        // The profile's 200 ft are 60.96 m (exact), no mark standing near.
        assert!((ground.ceiling_m(at(3.0, 3.0), at(3.01, 3.0)) - 60.97).abs() < 1e-9);
        assert!(ground.ceiling_m(at(80.0, 6.5), at(80.01, 6.5)).is_infinite());
        assert!(ground.ceiling_m(at(0.0, 179.99), at(0.0, -179.99)).is_infinite());
    }

    /// A hill of so many metres.
    fn hill(position: Position, metres: f64) -> Mark {
        Mark {
            name: "Hill".to_owned(),
            named: true,
            kind: MarkKind::Peak,
            position,
            height: Height::from_metres(metres).unwrap(),
            extent: GroundRange::ZERO,
            sigma: GroundRange::ZERO,
            salience: 1.0,
        }
    }

    /// Among hills, beside a tile of heights and along a real shore: one height that is told of a way is that
    /// of each place on it, to the last bit.
    #[test]
    fn where_land_is_level_every_height_on_the_way_is_that() {
        println!("seed {SEED}");
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        // Natural Earth (public domain): see `SOURCE.md` beside it.
        let south =
            include_bytes!("../../../tests/reference/natural-earth-coasts/south-island.shp");
        let south = Chart::from_files("South", &[("coast.shp", south)]).unwrap();
        let area = GeoBox::new(-46.5, 167.5, -41.5, 173.5);
        let mut place = || {
            let (up, right) = (rng.random::<f64>(), rng.random::<f64>());
            Position::wrapped(area.south + 5.0 * up, area.west + 6.0 * right)
        };
        let hills: Vec<Mark> =
            (0..60).map(|i| hill(place(), 40.0 + 30.0 * f64::from(i % 20))).collect();
        let bytes: Vec<u8> = (0..1201 * 1201).flat_map(|_| 300_i16.to_be_bytes()).collect();
        let grid = read_hgt("S44E171.hgt", &bytes).unwrap();
        let (contours, cover) = (Contours::default(), Cover::default());
        let coast = Arc::clone(&south.coast);
        let ground = Ground::new(coast, vec![grid], contours, &hills, Profile::default(), cover);
        let (mut level, mut other) = (0, 0);
        for i in 0..2_000 {
            let from = place();
            let (up, right) = (0.003 * f64::from(i % 7 - 3), 0.004 * f64::from(i % 5 - 2));
            let at = |share: f64| {
                Position::wrapped(from.latitude() + share * up, from.longitude() + share * right)
            };
            let Some(told) = ground.level_of_land(at(0.0), at(1.0)) else {
                other += 1;
                continue;
            };
            level += 1;
            for step in 0..=16 {
                let here = at(f64::from(step) / 16.0);
                assert_eq!(ground.of_land(here), told, "{from} {up} {right} {here}");
            }
        }
        assert!(level > 500 && other > 100, "{level} level, {other} not");
    }
}
