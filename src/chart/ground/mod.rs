//! How high the ground is, and how it is known.
//!
//! In order of trust: an elevation grid; contours; a mark's own height spread over its
//! surroundings; an assumed rise inland from the shore. What is land comes from the coast, wherever
//! it tells: ground of a grid outside the charted land is sea, and inside it no ground is lower than
//! the assumed height at the shore.

mod by_degree;
mod cache;
mod ceiling;
mod contours;
mod fill;
mod geotiff;
mod grid;
mod hgt;
mod highest;
mod inland;
mod mask;
mod tile;
mod tile_file;
mod told;

use std::sync::Arc;

pub(super) use by_degree::{ByDegree, numbers_at};
pub(super) use cache::Cache;
pub use cache::{HEIGHTS_LIMIT, Held};
pub(super) use contours::{ContourBuilder, Contours};
pub(super) use geotiff::read_geotiff;
pub(super) use grid::Grid;
pub(super) use hgt::{read_hgt, tile_box};
pub use highest::{HighPlace, Highest};
pub(super) use tile::{Facts, Tile};
pub(super) use tile_file::TileFile;
pub(super) use told::Told;
#[cfg(test)]
pub(super) use {grid::Frame, tile::Heights};

use self::inland::{Inland, Top, at_least_m};
use self::mask::LandMask;
use super::coast::Coast;
use super::cover::{Cover, Terrain};
use super::error::ChartError;
use super::geobox::GeoBox;
use super::marks::{Mark, MarkKind, Marks};
use crate::geodesy::{MEAN_EARTH_RADIUS_M, Position, destination, distance};
use crate::units::{Angle, Bearing, GroundRange, Height, True};

/// How steeply ground falls away from a mark whose height is all that is known: one in ten.
const MARK_SLOPE: f64 = 0.10;

/// The furthest a mark's height is spread, in metres.
const MARK_REACH_M: f64 = 10_000.0;

/// Samples of a profile between two exact positions; between them positions are interpolated.
const EXACT_EVERY: usize = 16;

/// How the height of a place is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum HeightSource {
    /// It is sea.
    Sea,
    /// From an elevation grid.
    Grid,
    /// From contours.
    Contour,
    /// From the height of a mark near by.
    Mark,
    /// Assumed: nothing tells.
    Assumed,
}

/// The height of a place, and how it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundHeight {
    /// Above mean sea level; zero at sea.
    pub height: Height,
    /// How it is known.
    pub source: HeightSource,
}

impl GroundHeight {
    /// The sea.
    pub const SEA: Self = Self { height: Height::SEA_LEVEL, source: HeightSource::Sea };

    fn new(metres: f64, source: HeightSource) -> Self {
        Self { height: height_of(metres), source }
    }
}

/// The assumed rise, unless a mark tells of higher ground.
fn higher_of(metres: f64, by_mark: Option<f64>) -> GroundHeight {
    match by_mark {
        Some(high) if high > metres => GroundHeight::new(high, HeightSource::Mark),
        _ => GroundHeight::new(metres, HeightSource::Assumed),
    }
}

/// So many degrees of a meridian, in metres.
fn arc_m(degrees: f64) -> f64 {
    Angle::from_degrees(degrees).radians() * MEAN_EARTH_RADIUS_M
}

/// From row to row of a grid, in metres.
fn step_m(grid: &Grid) -> f64 {
    arc_m(grid.step_deg())
}

/// What an operator must know of a grid with missing heights.
pub(super) fn filled(file: &str, voids: usize) -> String {
    format!(
        "{file}: {voids} heights are missing: where no other grid has them, they are filled from about \
         them, or sea by low ground"
    )
}

/// A computed height; what no ground can be becomes sea level.
pub(super) fn height_of(metres: f64) -> Height {
    Height::from_metres(metres).unwrap_or(Height::SEA_LEVEL)
}

/// The ground assumed where nothing tells its height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Profile {
    /// At the shore.
    pub shore: Height,
    /// Metres up for each metre inland.
    pub rise: f64,
    /// Never higher than this.
    pub cap: Height,
}

impl Default for Profile {
    /// 10 ft at the shore, rising 2 % to 200 ft.
    fn default() -> Self {
        let feet = |feet: f64| Height::from_feet(feet).unwrap_or_default();
        Self { shore: feet(10.0), rise: 0.02, cap: feet(200.0) }
    }
}

impl Profile {
    /// How far inland the rise ends, in metres.
    fn reach_m(&self) -> f64 {
        let climb = (self.cap.metres() - self.shore.metres()).max(0.0);
        if self.rise > 0.0 { (climb / self.rise).min(50_000.0) } else { 0.0 }
    }

    fn at(&self, inland_m: f64) -> f64 {
        (self.shore.metres() + self.rise * inland_m).min(self.most_m())
    }

    /// It rises no higher, metres.
    fn most_m(&self) -> f64 {
        self.cap.metres().max(self.shore.metres())
    }
}

/// The ground of a chart.
#[derive(Debug, Default)]
pub struct Ground {
    coast: Arc<Coast>,
    mask: LandMask,
    /// Finest first.
    grids: Vec<Grid>,
    /// Of many grids, which tell heights of a place.
    by_degree: Option<ByDegree>,
    contours: Contours,
    /// Marks whose height is that of the ground they stand on.
    tops: Marks,
    profile: Profile,
    cover: Cover,
    /// No ground that no grid tells is higher, metres.
    most_ungridded_m: f64,
    inland: Inland,
    /// Of all grids of the chart, where some were left out.
    cells_m: Option<Cells>,
    /// Why grids that were bad when the chart was opened were left out.
    left_out: Vec<ChartError>,
}

/// The sizes of the cells of a chart's finest grid, in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cells {
    pub(super) step: f64,
    pub(super) shorter: f64,
}

impl Ground {
    /// From what a chart holds.
    pub(super) fn new(
        coast: Arc<Coast>,
        mut grids: Vec<Grid>,
        contours: Contours,
        marks: &[Mark],
        profile: Profile,
        cover: Cover,
    ) -> Self {
        grids.sort_by(|a, b| a.step_deg().total_cmp(&b.step_deg()));
        let high = |mark: &&Mark| {
            mark.height > Height::SEA_LEVEL
                && matches!(
                    mark.kind,
                    MarkKind::Headland | MarkKind::Islet | MarkKind::Peak | MarkKind::Other
                )
        };
        let tops = Marks::new(marks.iter().filter(high).cloned().collect());
        let mask = LandMask::new(&coast);
        let (most_ungridded_m, inland) =
            (0.0, Inland::new(&coast, (profile.reach_m(), MARK_REACH_M)));
        let mut ground = Self {
            coast,
            mask,
            by_degree: ByDegree::of(&grids),
            grids,
            contours,
            tops,
            profile,
            cover,
            most_ungridded_m,
            inland,
            cells_m: None,
            left_out: Vec::new(),
        };
        ground.most_ungridded_m = ground.most_ungridded_m();
        ground
    }

    /// Drops what was worked out and kept of places asked for: the next answers are the same, and
    /// take longer.
    pub(super) fn forget(&mut self) {
        self.mask = LandMask::new(&self.coast);
        self.inland = Inland::new(&self.coast, (self.profile.reach_m(), MARK_REACH_M));
    }

    /// The height of a place, and how it is known.
    ///
    /// Some hundred nanoseconds where a grid covers it, a few microseconds within ten seconds of arc
    /// of the shore or without a grid.
    pub fn at(&self, at: Position) -> GroundHeight {
        match self.is_land(at) {
            Some(false) => GroundHeight::SEA,
            Some(true) => self.of_land(at),
            None => match self.charted(at) {
                Some(told) if told.height > Height::SEA_LEVEL => told,
                _ => GroundHeight::SEA,
            },
        }
    }

    /// The height of a place that is known to be land, and how it is known: [`Ground::at`] without
    /// asking the coast.
    pub fn of_land(&self, at: Position) -> GroundHeight {
        self.no_lower_than_shore(self.charted(at).unwrap_or_else(|| self.assumed(at)))
    }

    /// Land is nowhere lower than it is assumed to be at the shore.
    fn no_lower_than_shore(&self, told: GroundHeight) -> GroundHeight {
        let metres = told.height.metres().max(self.profile.shore.metres());
        GroundHeight::new(metres, told.source)
    }

    /// Heights along a geodesic, at `step`, twice `step` … up to `reach`: one for each sample. Each
    /// position is within a metre of the geodesic. Faster than asking for each.
    pub fn profile(
        &self,
        from: Position,
        bearing: Bearing<True>,
        reach: GroundRange,
        step: GroundRange,
    ) -> Vec<GroundHeight> {
        let step = step.metres().max(1.0);
        let samples = (reach.metres() / step).floor() as usize;
        let exact = |sample: usize| {
            destination(from, bearing, GroundRange::clamped_metres(sample as f64 * step))
        };
        let mut heights = Vec::with_capacity(samples);
        let mut start = from;
        for first in (0..samples).step_by(EXACT_EVERY) {
            let end = exact(first + EXACT_EVERY);
            let mut east = end.longitude() - start.longitude();
            if east.abs() > 180.0 {
                east -= 360.0 * (east / 360.0).round();
            }
            let north = end.latitude() - start.latitude();
            // Near a pole a straight line in degrees is no geodesic.
            let straight = start.latitude().abs().max(end.latitude().abs()) < 80.0;
            for i in 1..=EXACT_EVERY.min(samples - first) {
                let share = i as f64 / EXACT_EVERY as f64;
                let at = if straight {
                    Position::wrapped(
                        start.latitude() + share * north,
                        start.longitude() + share * east,
                    )
                } else {
                    exact(first + i)
                };
                heights.push(self.at(at));
            }
            start = end;
        }
        heights
    }

    /// Whether a place is land: [`Coast::is_land`] through a mask of ten-second cells, made where
    /// it is asked for and kept. Far cheaper than asking the coast.
    pub fn is_land(&self, at: Position) -> Option<bool> {
        self.mask.is_land(&self.coast, at)
    }

    /// What the ground of a place is, by the chart's cover, and whether a polygon says so; else it
    /// is what the chart says of all ground that nothing classes. `None` where nothing tells, and
    /// at sea the same as of ground. Some tens of nanoseconds.
    pub fn terrain(&self, at: Position) -> Option<(Terrain, bool)> {
        self.cover.at(at)
    }

    /// Whether the chart classes any ground.
    pub fn has_terrain(&self) -> bool {
        !self.cover.is_empty()
    }

    /// The cells of the finest grid.
    pub(super) fn cells(&self) -> Option<Cells> {
        Some(Cells { step: self.cell_m()?, shorter: self.shorter_cell_m()? })
    }

    /// The same ground, of a chart whose other grids were left out as too far away.
    pub(super) fn with_cells(self, cells_m: Option<Cells>) -> Self {
        Self { cells_m, ..self }
    }

    /// The same ground, of a chart whose bad grids were left out.
    pub(super) fn with_left_out(self, left_out: Vec<ChartError>) -> Self {
        Self { left_out, ..self }
    }

    /// Whether there is an elevation grid.
    pub fn has_grid(&self) -> bool {
        !self.grids.is_empty() || self.cells_m.is_some()
    }

    /// Whether there are contours.
    pub fn has_contours(&self) -> bool {
        !self.contours.is_empty()
    }

    /// The step of the finest grid, in metres along a meridian.
    pub fn cell_m(&self) -> Option<f64> {
        self.cells_m.map(|cells| cells.step).or_else(|| self.grids.first().map(step_m))
    }

    /// The step of the coarsest grid that reaches into an area, in metres along a meridian: wherever in
    /// it a height stands, its neighbours are no farther. `None` where no grid does.
    pub fn widest_cell_m(&self, area: &GeoBox) -> Option<f64> {
        let reaches = |grid: &&Grid| grid.extent().touches(area);
        self.grids.iter().filter(reaches).map(step_m).max_by(f64::total_cmp)
    }

    /// The shorter side of a cell of the finest grid, in metres at the middle of it.
    pub fn shorter_cell_m(&self) -> Option<f64> {
        let degrees = |grid: &Grid| {
            let frame = &grid.frame;
            let middle = frame.north - 0.5 * frame.step_lat * frame.rows as f64;
            frame.step_lat.min(frame.step_lon * Angle::from_degrees(middle).radians().cos())
        };
        let told = self.cells_m.map(|cells| cells.shorter);
        told.or_else(|| self.grids.first().map(degrees).map(arc_m))
    }

    /// Whether heights are read when they are asked for, and let go again.
    pub fn is_fetched(&self) -> bool {
        self.held().is_some()
    }

    /// How much of the heights is held; `None` where all of them stay in memory.
    pub fn held(&self) -> Option<Held> {
        self.grids.iter().find_map(Grid::shared)
    }

    /// The grids whose heights could not be read when the chart was opened or when they were asked for,
    /// and why. They tell nothing, as if they were not there.
    pub fn faults(&self) -> Vec<ChartError> {
        let late = self.grids.iter().filter_map(Grid::fault);
        self.left_out.iter().chain(late).cloned().collect()
    }

    /// Reads every grid whose heights have not been read yet, one after the other, so that what is wrong
    /// in any of them is known.
    pub fn read_all(&self) {
        for grid in &self.grids {
            grid.facts();
        }
    }

    /// What an operator must know of bad grids that were left out, and of heights that are read when they
    /// are asked for, as far as they have been: those that were missing, and those that could not be read.
    pub(super) fn told_late(&self) -> Vec<String> {
        let left_out = self.left_out.iter().map(|fault| {
            format!(
                "{fault}: LEFT OUT, it tells no heights: ground there is taken from the rest of the chart \
                 or assumed, and what high ground hides there is not known"
            )
        });
        let fetched = self.grids.iter().filter(|grid| grid.held_tile().is_none());
        let told = fetched.flat_map(|grid| {
            let voids = grid.known_facts().map_or(0, |facts| facts.voids);
            let voids = (voids > 0).then(|| filled(&grid.file, voids));
            let fault = grid.fault().map(|fault| {
                format!("{fault}: it tells no heights, and ground there is taken from the rest of the chart")
            });
            voids.into_iter().chain(fault)
        });
        left_out.chain(told).collect()
    }

    /// The ground assumed where nothing tells.
    pub fn assumed_profile(&self) -> Profile {
        self.profile
    }

    pub(super) fn grids(&self) -> &[Grid] {
        &self.grids
    }

    /// What a grid or the contours tell; none where neither does.
    pub fn charted(&self, at: Position) -> Option<GroundHeight> {
        if let Some(metres) = self.grid_height(at) {
            return Some(GroundHeight::new(metres, HeightSource::Grid));
        }
        let shore = || self.inland_m(at, Contours::REACH_M);
        let metres = self.contours.height(at, self.profile.shore.metres(), shore)?;
        Some(GroundHeight::new(metres, HeightSource::Contour))
    }

    /// Land of which nothing tells the height: the higher of the assumed rise and the slopes of
    /// marks near by.
    fn assumed(&self, at: Position) -> GroundHeight {
        let Some(cell) = self.inland.cell(&self.coast, &self.tops, at) else {
            let reach = self.profile.reach_m();
            let metres = self.profile.at(self.inland_m(at, reach).unwrap_or(reach));
            let tops = self.tops.iter().map(|(_, top)| (top.position, top.height.metres()));
            return higher_of(metres, Self::by_marks(at, tops));
        };
        let by_mark = Self::by_marks(at, cell.tops.iter().copied());
        // How far inland is the dear question: not asked where a mark tells more than any answer.
        let most = self.profile.at(cell.inland_at_most_m()).max(self.profile.shore.metres());
        if let Some(high) = by_mark.filter(|high| *high > most) {
            return GroundHeight::new(high, HeightSource::Mark);
        }
        let reach = self.profile.reach_m();
        higher_of(self.profile.at(cell.inland_m(at, reach).unwrap_or(reach)), by_mark)
    }

    /// The highest of the slopes of marks, metres; none where no mark is near.
    fn by_marks(at: Position, tops: impl Iterator<Item = Top>) -> Option<f64> {
        tops.fold(None, |best: Option<f64>, (place, height)| {
            // The geodesic only where the mark may tell more than those before it.
            let least_m = at_least_m(at, place);
            let may = best.is_none_or(|best| height - MARK_SLOPE * least_m > best);
            if !may || least_m > MARK_REACH_M {
                return best;
            }
            let away_m = distance(at, place).metres();
            let slope = height - MARK_SLOPE * away_m;
            if away_m <= MARK_REACH_M {
                Some(best.map_or(slope, |best| best.max(slope)))
            } else {
                best
            }
        })
    }

    /// Metres to the nearest shore, up to `reach`.
    fn inland_m(&self, at: Position, reach: f64) -> Option<f64> {
        let reach = GroundRange::clamped_metres(reach);
        self.coast.nearest(at, reach).map(|(range, _)| range.metres())
    }
}
