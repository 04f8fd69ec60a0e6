use std::ops::Range;
use std::sync::OnceLock;

use crate::chart::coast::{Coast, LonLat};
use crate::chart::geobox::GeoBox;
use crate::chart::squares::{CELLS as SIDE, Squares};
use crate::geodesy::Position;

/// What is known of a cell or a tile without asking the coast.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Cell {
    /// Shore runs through it, or it has not been looked at.
    Shore,
    Land,
    Sea,
    Untold,
}

impl Cell {
    fn of(land: Option<bool>) -> Self {
        match land {
            Some(true) => Self::Land,
            Some(false) => Self::Sea,
            None => Self::Untold,
        }
    }
}

/// One degree by one degree.
#[derive(Debug)]
enum Tile {
    Uniform(Cell),
    Cells(Box<[Cell]>),
}

/// What is land, in cells, made tile by tile when first asked for. Which thread asks first changes
/// nothing: a tile depends on the coast alone.
#[derive(Debug, Default)]
pub(super) struct LandMask {
    tiles: Box<[OnceLock<Tile>]>,
    squares: Squares,
}

impl LandMask {
    /// An empty mask over the coast's box.
    pub(super) fn new(coast: &Coast) -> Self {
        let squares = Squares::over(coast.extent());
        Self { tiles: (0..squares.count()).map(|_| OnceLock::new()).collect(), squares }
    }

    /// As [`Coast::is_land`].
    pub(super) fn is_land(&self, coast: &Coast, at: Position) -> Option<bool> {
        let Some(place) = self.squares.find(at) else {
            // Outside the box of the coast: no shore, so no crossing of any ring.
            let untold =
                coast.line_count() == 0 || coast.has_open_lines() || coast.is_beyond_clips(at);
            return if untold { None } else { Some(false) };
        };
        let tile = self.tiles.get(place.number)?;
        let corner =
            LonLat { lon: self.squares.west + place.column, lat: self.squares.south + place.row };
        let cell = match tile.get_or_init(|| make(coast, corner)) {
            Tile::Uniform(cell) => *cell,
            Tile::Cells(cells) => {
                let (row, column) = place.cell;
                cells.get(row * SIDE + column).copied().unwrap_or(Cell::Shore)
            }
        };
        match cell {
            Cell::Land => Some(true),
            Cell::Sea => Some(false),
            Cell::Untold => None,
            Cell::Shore => coast.is_land(at),
        }
    }
}

/// Makes the tile whose south-west corner is given.
///
/// Cells that shore runs through are found first. The others form patches with no shore between
/// their cells, so that one question to the coast settles each patch.
fn make(coast: &Coast, corner: LonLat) -> Tile {
    let mut touched = vec![false; SIDE * SIDE];
    let mut any = touch_shore(coast, &mut touched, corner);
    let middle = |i: usize| {
        let (row, column) = ((i / SIDE) as f64 + 0.5, (i % SIDE) as f64 + 0.5);
        Position::wrapped(corner.lat + row / SIDE as f64, corner.lon + column / SIDE as f64)
    };
    if coast.has_open_lines() {
        any |= touch_outside(coast, &mut touched, middle);
    }
    if coast.has_clips() {
        any |= touch_beyond(coast, &mut touched, corner);
    }
    if !any {
        return Tile::Uniform(Cell::of(coast.is_land(middle(SIDE * SIDE / 2))));
    }
    let mut cells = vec![Cell::Shore; SIDE * SIDE];
    let mut free = Free::of(&touched);
    for start in 0..free.runs.len() {
        let Some(run) = free.runs.get(start).filter(|run| !run.settled) else { continue };
        let cell = Cell::of(coast.is_land(middle(run.row * SIDE + run.columns.start)));
        free.settle(start, |row, columns| {
            if let Some(run) = cells.get_mut(row * SIDE..).and_then(|row| row.get_mut(columns)) {
                run.fill(cell);
            }
        });
    }
    Tile::Cells(cells.into_boxed_slice())
}

/// Cells of one row side by side that no shore runs through.
struct Run {
    row: usize,
    columns: Range<usize>,
    settled: bool,
}

/// All of them of a tile, row by row: a patch is the runs that lie against one another.
struct Free {
    runs: Vec<Run>,
    /// The first run of each row, and the end of the last one.
    first: Vec<usize>,
}

impl Free {
    fn of(touched: &[bool]) -> Self {
        let (mut runs, mut first) = (Vec::new(), vec![0]);
        for (row, cells) in touched.chunks(SIDE).enumerate() {
            let mut from = 0;
            for part in cells.split(|touched| *touched) {
                let columns = from..from + part.len();
                from = columns.end + 1;
                if !columns.is_empty() {
                    runs.push(Run { row, columns, settled: false });
                }
            }
            first.push(runs.len());
        }
        Self { runs, first }
    }

    /// Settles the patch of a run, and tells row and columns of each run of it.
    fn settle(&mut self, start: usize, mut tell: impl FnMut(usize, Range<usize>)) {
        let mut reached = vec![start];
        while let Some(at) = reached.pop() {
            let Some(run) = self.runs.get_mut(at).filter(|run| !run.settled) else { continue };
            run.settled = true;
            let (row, columns) = (run.row, run.columns.clone());
            tell(row, columns.clone());
            for beside in [row.checked_sub(1), Some(row + 1)].into_iter().flatten() {
                reached.extend(self.against(beside, &columns));
            }
        }
    }

    /// The runs of a row that hold any of these columns.
    fn against(&self, row: usize, columns: &Range<usize>) -> Range<usize> {
        let (Some(from), Some(to)) = (self.first.get(row), self.first.get(row + 1)) else {
            return 0..0;
        };
        let of = self.runs.get(*from..*to).unwrap_or_default();
        let start = of.partition_point(|run| run.columns.end <= columns.start);
        let end = of.partition_point(|run| run.columns.start < columns.end);
        from + start..from + end
    }
}

/// The cells that shore, seams or clips run through.
fn touch_shore(coast: &Coast, touched: &mut [bool], corner: LonLat) -> bool {
    let area = GeoBox::new(corner.lat, corner.lon, corner.lat + 1.0, corner.lon + 1.0);
    let shift = 360.0 * ((corner.lon - area.west) / 360.0).round();
    let lay = |p: &LonLat| {
        let side = SIDE as f64;
        ((p.lon + shift - corner.lon) * side, (p.lat - corner.lat) * side)
    };
    let mut any = false;
    for run in coast.all_runs_in(&area) {
        let points: Vec<LonLat> = run.points().collect();
        for pair in points.windows(2) {
            if let [a, b] = pair {
                any |= touch(touched, lay(a), lay(b));
            }
        }
    }
    any
}

/// Open lines end at the chart's box: no patch may go round their ends outside it.
fn touch_outside(coast: &Coast, touched: &mut [bool], middle: impl Fn(usize) -> Position) -> bool {
    let mut any = false;
    for (i, cell) in touched.iter_mut().enumerate() {
        if coast.extent().is_some_and(|area| !area.contains(middle(i))) {
            *cell = true;
            any = true;
        }
    }
    any
}

/// Beyond a clip the sea ends with no shore: no patch may go on there.
fn touch_beyond(coast: &Coast, touched: &mut [bool], corner: LonLat) -> bool {
    let place = |row: usize, column: usize| {
        let step = |cells: usize| cells as f64 / SIDE as f64;
        Position::wrapped(corner.lat + step(row), corner.lon + step(column))
    };
    let side = SIDE + 1;
    let corners = (0..side * side).map(|i| coast.is_beyond_clips(place(i / side, i % side)));
    let beyond: Vec<bool> = corners.collect();
    let mut any = false;
    for (i, cell) in touched.iter_mut().enumerate() {
        let first = (i / SIDE) * side + i % SIDE;
        let corners = [first, first + 1, first + side, first + side + 1];
        if corners.iter().any(|corner| beyond.get(*corner) == Some(&true)) {
            *cell = true;
            any = true;
        }
    }
    any
}

/// Marks every cell a segment runs through, row by row, a hair wider than it is. Returns whether
/// it touched any.
fn touch(touched: &mut [bool], a: (f64, f64), b: (f64, f64)) -> bool {
    const HAIR: f64 = 1e-6;
    let side = SIDE as f64;
    let ((x1, y1), (x2, y2)) = if a.1 <= b.1 { (a, b) } else { (b, a) };
    if y2 < -HAIR || y1 > side + HAIR {
        return false;
    }
    let first = (y1 - HAIR).floor().max(0.0) as usize;
    let last = ((y2 + HAIR).floor().max(0.0) as usize).min(SIDE - 1);
    let x_at = |y: f64| {
        if y2 > y1 { x1 + (x2 - x1) * ((y - y1) / (y2 - y1)).clamp(0.0, 1.0) } else { x1 }
    };
    let mut any = false;
    for row in first..=last {
        let (low, high) = if y2 - y1 < HAIR {
            (x1.min(x2), x1.max(x2))
        } else {
            let (low, high) = (x_at(row as f64 - HAIR), x_at(row as f64 + 1.0 + HAIR));
            (low.min(high), low.max(high))
        };
        if high < -HAIR || low > side + HAIR {
            continue;
        }
        let from = (low - HAIR).floor().max(0.0) as usize;
        let to = ((high + HAIR).floor().max(0.0) as usize).min(SIDE - 1);
        for cell in touched.iter_mut().skip(row * SIDE + from).take((to + 1).saturating_sub(from)) {
            *cell = true;
            any = true;
        }
    }
    any
}
