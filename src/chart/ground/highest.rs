//! The highest charted ground of an area: every height of every grid, not samples between them.

use rayon::prelude::*;

use super::tile::Tile;
use super::{Grid, Ground, HeightSource, height_of};
use crate::chart::geobox::GeoBox;
use crate::chart::marks::Mark;
use crate::geodesy::Position;
use crate::units::Height;

/// Cells on a side of the blocks in which a grid is gone through.
const BLOCK: usize = 32;

/// Metres between the places of a contour that are tried.
const CONTOUR_STEP_M: f64 = 100.0;

/// Charted ground at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HighPlace {
    /// Where.
    pub position: Position,
    /// Above mean sea level.
    pub height: Height,
    /// Of a contour where no grid measured: the next one, under which the ground about it stays.
    pub under: Option<Height>,
    /// A grid, a contour or a mark.
    pub source: HeightSource,
}

impl HighPlace {
    /// A mark's own height.
    pub fn of_mark(mark: &Mark) -> Self {
        let Mark { position, height, .. } = *mark;
        Self { position, height, under: None, source: HeightSource::Mark }
    }

    /// What no ground there stands above, by the chart.
    pub fn at_most(&self) -> Height {
        self.under.unwrap_or(self.height)
    }
}

/// What the grids and contours of a chart have in an area.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Highest {
    /// That which may stand highest; `None` where no grid and no contour reaches into the area, or nothing in it
    /// stands above the sea.
    pub top: Option<HighPlace>,
    /// Heights missing from the grids there that none of them has, on land or where the coast does not tell.
    pub voids: usize,
}

impl Ground {
    /// The highest charted ground of an area, by grids and contours.
    ///
    /// Each height of each grid is held against the area itself, so that a summit of one cell is
    /// not missed between samples; the ground between heights is no higher than they are. Where no grid measured
    /// it may be as high as the next contour: between two lines, and on a hill above its last. Ground
    /// that the coastline has as sea counts too: coast and grid disagree by up to a mile. What was
    /// missing has been filled from around it, which no summit comes out of: it is counted, unless another
    /// grid measured the height of that place.
    ///
    /// - `area`: holds all that is `inside`.
    pub fn highest(&self, area: &GeoBox, inside: &(dyn Fn(Position) -> bool + Sync)) -> Highest {
        let mut found = Highest::default();
        for grid in &self.grids {
            let of_grid = self.highest_of(grid, area, inside);
            found.voids += of_grid.voids;
            found.top = higher(found.top, of_grid.top);
        }
        let so_far = |found: Highest| found.top.map_or(0.0, |top| top.at_most().metres());
        if !self.grids.is_empty() {
            let line = self.contours.highest(area, CONTOUR_STEP_M, so_far(found), &inside);
            let line = line.map(|(at, metres)| by_contour(at, metres, None));
            found.top = higher(found.top, line);
        }
        found.top = higher(found.top, self.highest_by_contours(area, so_far(found), inside));
        found
    }

    /// The highest ground of an area that no grid measured, by contours, if it may be more than so many metres.
    fn highest_by_contours(
        &self,
        area: &GeoBox,
        so_far: f64,
        inside: &(dyn Fn(Position) -> bool + Sync),
    ) -> Option<HighPlace> {
        let bare = |at: Position| inside(at) && !self.is_measured(at);
        let least = self.contours.least_to_pass(so_far);
        let line = self.contours.highest(area, CONTOUR_STEP_M, least, &bare);
        // Where no line runs all lies between the same two, and one place tells for all.
        let centre = Some(area.centre()).filter(|at| line.is_none() && bare(*at));
        let about = centre.and_then(|at| Some((at, self.contours.highest_about(at)?)));
        line.or(about).map(|(at, metres)| {
            by_contour(at, metres, Some(height_of(self.contours.next_above(metres))))
        })
    }

    fn highest_of(
        &self,
        grid: &Grid,
        area: &GeoBox,
        inside: &(dyn Fn(Position) -> bool + Sync),
    ) -> Highest {
        let found: Vec<Highest> = blocks(grid, area)
            .into_par_iter()
            .map(|block| self.highest_of_block(grid, &block, inside))
            .collect();
        found.into_iter().fold(Highest::default(), |sum, block| Highest {
            top: higher(sum.top, block.top),
            voids: sum.voids + block.voids,
        })
    }

    fn highest_of_block(
        &self,
        grid: &Grid,
        block: &Block,
        inside: &(dyn Fn(Position) -> bool + Sync),
    ) -> Highest {
        let mut found = Highest::default();
        let mut most = 0.0;
        // Taken out first: what is asked of a cell may ask for other heights.
        for Cell { row, column, height, void } in
            grid.with(|tile| block.cells(grid, tile)).unwrap_or_default()
        {
            if height <= most && !void {
                continue;
            }
            let position = grid.place(row, column);
            if void && self.is_land(position) == Some(false) || !inside(position) {
                continue;
            }
            if void {
                if self.is_measured(position) {
                    continue;
                }
                found.voids += 1;
            }
            if height > most {
                most = height;
                let source = HeightSource::Grid;
                let height = height_of(height);
                found.top = Some(HighPlace { position, height, under: None, source });
            }
        }
        found
    }
}

fn by_contour(position: Position, metres: f64, under: Option<Height>) -> HighPlace {
    HighPlace { position, height: height_of(metres), under, source: HeightSource::Contour }
}

/// The first of two unless the second may stand higher.
fn higher(one: Option<HighPlace>, other: Option<HighPlace>) -> Option<HighPlace> {
    match (one, other) {
        (Some(a), Some(b)) if b.at_most() > a.at_most() => Some(b),
        (None, other) => other,
        (one, _) => one,
    }
}

/// Rows and columns of a part of a grid, the last ones left out.
struct Block {
    rows: (usize, usize),
    columns: (usize, usize),
}

/// A height of a grid.
struct Cell {
    row: usize,
    column: usize,
    height: f64,
    /// It was missing.
    void: bool,
}

impl Block {
    /// Its heights above the sea, and those that were missing, row by row.
    fn cells(&self, grid: &Grid, tile: &Tile) -> Vec<Cell> {
        let cell = |row: usize, column: usize| {
            let number = grid.number(row, column);
            let (height, void) = (tile.get(number).unwrap_or(0.0), tile.is_void(number));
            (height > 0.0 || void).then_some(Cell { row, column, height, void })
        };
        (self.rows.0..self.rows.1)
            .flat_map(|row| {
                (self.columns.0..self.columns.1).filter_map(move |column| cell(row, column))
            })
            .collect()
    }
}

/// The blocks of a grid that reach into an area, north-west first.
fn blocks(grid: &Grid, area: &GeoBox) -> Vec<Block> {
    let f = &grid.frame;
    // A cell more on each side: heights just outside bound the ground just inside.
    let row = |lat: f64| (f.north - lat) / f.step_lat;
    let (first, last) = (row(area.north).floor() - 1.0, row(area.south).ceil() + 1.0);
    let rows = (held(first, f.rows), held(last + 1.0, f.rows));
    let mut found = Vec::new();
    // The area once in each turn that the grid's columns may be counted in, none of them twice.
    let mut done = 0;
    for turn in [-360.0, 0.0, 360.0] {
        let column = |lon: f64| (lon + turn - f.west) / f.step_lon;
        let (first, last) = (column(area.west).floor() - 1.0, column(area.east).ceil() + 1.0);
        let columns = (held(first, f.columns).max(done), held(last + 1.0, f.columns));
        done = columns.1.max(done);
        for top in (rows.0..rows.1).step_by(BLOCK) {
            for left in (columns.0..columns.1).step_by(BLOCK) {
                found.push(Block {
                    rows: (top, (top + BLOCK).min(rows.1)),
                    columns: (left, (left + BLOCK).min(columns.1)),
                });
            }
        }
    }
    found
}

/// A row or column held to a grid.
fn held(place: f64, count: usize) -> usize {
    place.clamp(0.0, count as f64) as usize
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::coast::LonLat;
    use crate::chart::cover::Cover;
    use crate::chart::ground::contours::ContourBuilder;
    use crate::chart::ground::{Contours, Profile, read_hgt};

    /// The ground of a tile of 1201 by 1201 on the equator, flat at 20 m but for what is set.
    fn ground(name: &str, set: &[(usize, usize, i16)]) -> Ground {
        let mut heights = vec![20_i16; 1201 * 1201];
        for (row, column, height) in set {
            heights[row * 1201 + column] = *height;
        }
        let bytes: Vec<u8> = heights.iter().flat_map(|height| height.to_be_bytes()).collect();
        Ground { grids: vec![read_hgt(name, &bytes).unwrap()], ..Ground::default() }
    }

    /// A degree holds 1200 steps: the place of a cell of the tile N00E006.
    fn place(row: usize, column: usize) -> Position {
        Position::new(1.0 - row as f64 / 1200.0, 6.0 + column as f64 / 1200.0).unwrap()
    }

    #[test]
    fn a_summit_of_one_cell_is_found_wherever_it_stands() {
        let area = GeoBox::new(0.2, 6.2, 0.8, 6.8);
        for (row, column) in [(601, 599), (300, 300), (912, 845), (241, 959)] {
            let ground = ground("N00E006.hgt", &[(row, column, 1234)]);
            let found = ground.highest(&area, &|at| area.contains(at));
            let top = found.top.unwrap();
            assert!((top.height.metres() - 1234.0).abs() < 1e-9, "{row} {column} {top:?}");
            assert_eq!(top.position, place(row, column));
            assert_eq!(found.voids, 0);
        }
        // One outside the area is none of it.
        let ground = ground("N00E006.hgt", &[(100, 600, 1234)]);
        let top = ground.highest(&area, &|at| area.contains(at)).top.unwrap();
        assert!((top.height.metres() - 20.0).abs() < 1e-9);
    }

    #[test]
    fn the_cell_of_an_area_is_that_of_the_coarsest_grid_in_it() {
        let flat = |side: usize| vec![0_u8; 2 * side * side];
        let grid = |name: &str, side: usize| read_hgt(name, &flat(side)).unwrap();
        let coast = std::sync::Arc::default();
        let ground = Ground::new(
            coast,
            vec![grid("N00E006.hgt", 1201), grid("N00E008.hgt", 3601), grid("N00W180.hgt", 1201)],
            Contours::default(),
            &[],
            Profile::default(),
            Cover::default(),
        );
        // A second of arc on the mean sphere is 30.887 m (computed, R 6,371,008.8 m).
        let told = |west: f64, east: f64| ground.widest_cell_m(&GeoBox::new(0.2, west, 0.8, east));
        for (west, east, metres) in
            [(6.2, 6.8, 92.66), (8.2, 8.8, 30.887), (6.5, 8.5, 92.66), (179.9, 180.1, 92.66)]
        {
            let found = told(west, east).unwrap();
            assert!((found - metres).abs() < 0.01, "{west} {east}: {found}");
        }
        assert_eq!(told(7.2, 7.8), None);
        assert!((ground.cell_m().unwrap() - 30.887).abs() < 0.01);
    }

    #[test]
    fn missing_heights_of_the_area_are_counted() {
        let area = GeoBox::new(0.2, 6.2, 0.8, 6.8);
        let void = i16::MIN;
        let set = [(600, 600, void), (600, 601, void), (100, 600, void)];
        let found = ground("N00E006.hgt", &set).highest(&area, &|at| area.contains(at));
        assert_eq!(found.voids, 2);
    }

    #[test]
    fn a_missing_height_counts_once_where_the_area_goes_round_the_earth() {
        use crate::chart::ground::grid::Frame;
        use crate::chart::ground::tile::Heights;
        let frame = Frame {
            north: 90.0,
            west: -180.0,
            step_lat: 1.0,
            step_lon: 1.0,
            columns: 360,
            rows: 11,
        };
        let mut heights = vec![20_i16; 360 * 11];
        (heights[5 * 360], heights[5 * 360 + 359]) = (i16::MIN, i16::MIN);
        let void = |height: f64| height < -30_000.0;
        let tile = Tile::new("cap.tif", &frame, Heights::Whole(heights), &void).unwrap();
        let ground =
            Ground { grids: vec![Grid::held("cap.tif", frame, tile)], ..Ground::default() };
        let cap = GeoBox::new(82.0, -180.0, 90.0, 180.0);
        assert_eq!(ground.highest(&cap, &|at| cap.contains(at)).voids, 2);
    }

    #[test]
    fn a_hill_by_contours_may_stand_as_high_as_its_next_line() {
        let mut lines = ContourBuilder::default();
        for (half, metres) in [(0.03, 50.0), (0.02, 100.0), (0.01, 150.0)] {
            let corner = |x: f64, y: f64| LonLat { lon: 6.5 + x * half, lat: 0.5 + y * half };
            let square = [(-1.0, -1.0), (-1.0, 1.0), (1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)];
            lines.line(&square.map(|(x, y)| corner(x, y)), metres);
        }
        let mut ground = Ground { contours: lines.finish(), ..Ground::default() };
        let told = |ground: &Ground, west: f64, east: f64| {
            let area = GeoBox::new(0.499, 6.5 + west, 0.501, 6.5 + east);
            let top = ground.highest(&area, &|at| area.contains(at)).top?;
            Some((top.height.metres().round(), top.under.map(|under| under.metres().round())))
        };
        // Across all of it, one side, between two lines, within the last, and off it.
        let all = (-0.04, 0.04, Some((150.0, Some(200.0))));
        for (west, east, expected) in [
            all,
            (0.025, 0.04, Some((50.0, Some(100.0)))),
            (0.022, 0.028, Some((50.0, Some(100.0)))),
            (-0.005, 0.005, Some((150.0, Some(200.0)))),
            (0.04, 0.05, None),
        ] {
            assert_eq!(told(&ground, west, east), expected, "{west} {east}");
        }
        // A grid that measured there tells how high it is; a line still counts where it runs.
        ground.grids = self::ground("N00E006.hgt", &[]).grids;
        assert_eq!(told(&ground, all.0, all.1), Some((150.0, None)));
        assert_eq!(told(&ground, 0.022, 0.028), Some((20.0, None)));
    }

    #[test]
    fn an_area_over_the_date_line_takes_in_both_sides() {
        let area = GeoBox::new(0.2, 179.9, 0.8, 180.1);
        let west = ground("N00E179.hgt", &[(600, 1190, 700)]);
        let east = ground("N00W180.hgt", &[(600, 10, 800)]);
        for (ground, metres) in [(west, 700.0), (east, 800.0)] {
            let top = ground.highest(&area, &|at| area.contains(at)).top.unwrap();
            assert!((top.height.metres() - metres).abs() < 1e-9, "{top:?}");
        }
    }
}
