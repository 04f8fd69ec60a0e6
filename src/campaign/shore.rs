//! The charted shore as data, and where it truly lies: the chart moved by one error for all of it
//! and by a smooth one of each stretch.

use std::sync::Arc;

use super::random::normal_at;
use crate::chart::Chart;
use crate::geodesy::Position;

/// One degree in radians.
pub const RADIAN: f64 = std::f64::consts::PI / 180.0;
/// A nautical mile, in metres.
pub const MILE: f64 = 1852.0;

/// Sixty miles: near enough for a box and for an error.
pub const METRES_A_DEGREE: f64 = 60.0 * MILE;

/// No two neighbouring points of the shore are further apart, in metres: each carries its own error.
const SPACING_M: f64 = 400.0;

/// Points of one piece of the shore.
const PIECE: usize = 48;

/// The error of a stretch changes over about so far, in metres.
const SMOOTH_M: f64 = MILE;

/// A ring whose box has a shorter diagonal than this is small, in metres.
const SMALL_M: f64 = 2.0 * MILE;

/// The shore of a chart.
pub struct Shore {
    pieces: Vec<Piece>,
}

/// Some neighbouring points of one line, and the box that holds them.
struct Piece {
    line: u32,
    small: bool,
    points: Arc<[Position]>,
    middle: Position,
    /// Half the height and half the width of the box, in degrees.
    half: [f64; 2],
}

/// A piece of the shore where it truly lies.
pub struct Stretch {
    /// The line of the chart that it is of.
    pub line: u32,
    /// It is of a small island.
    pub small: bool,
    /// Its points, no two neighbours far apart.
    pub points: Arc<[Position]>,
}

impl Shore {
    /// All of it but the edges at which the chart was cut.
    pub fn of(chart: &Chart) -> Self {
        let mut pieces = Vec::new();
        for (line, shore) in chart.coast().lines() {
            let lon = shore.points.iter().map(|p| p.lon);
            let lat = shore.points.iter().map(|p| p.lat);
            let width = extent(lon) * (shore.points.first().map_or(0.0, |p| p.lat) * RADIAN).cos();
            let small = shore.closed && width.hypot(extent(lat)) * METRES_A_DEGREE < SMALL_M;
            let mut dense: Vec<Position> = Vec::new();
            for (segment, pair) in shore.points.windows(2).enumerate() {
                let (a, b) = (pair[0], pair[1]);
                if shore.is_cut(segment) {
                    cut_up(&mut pieces, line, small, &dense);
                    dense.clear();
                    continue;
                }
                let across = (b.lon - a.lon) * (a.lat * RADIAN).cos();
                let steps = across.hypot(b.lat - a.lat) * METRES_A_DEGREE / SPACING_M;
                let steps = steps.ceil().max(1.0) as u32;
                let first = u32::from(!dense.is_empty());
                dense.extend((first..=steps).map(|step| {
                    let share = f64::from(step) / f64::from(steps);
                    Position::wrapped(
                        a.lat + share * (b.lat - a.lat),
                        a.lon + share * (b.lon - a.lon),
                    )
                }));
            }
            cut_up(&mut pieces, line, small, &dense);
        }
        Self { pieces }
    }

    /// The shore within `reach_m` of a place, where it truly lies.
    pub fn moved(&self, about: Position, reach_m: f64, error: &ChartError) -> Vec<Stretch> {
        self.pieces_near(about, reach_m)
            .map(|piece| Stretch {
                line: piece.line,
                small: piece.small,
                points: piece.points.iter().map(|point| error.true_place(*point)).collect(),
            })
            .collect()
    }

    /// All of it where it lies with this error; boxes stay, for an error is small beside a mile.
    #[must_use]
    pub fn laid(&self, error: &ChartError) -> Self {
        let pieces = self.pieces.iter().map(|piece| Piece {
            points: piece.points.iter().map(|point| error.true_place(*point)).collect(),
            ..*piece
        });
        Self { pieces: pieces.collect() }
    }

    /// The shore within `reach_m` of a place, as it is charted here.
    pub fn near(&self, about: Position, reach_m: f64) -> Vec<Stretch> {
        self.pieces_near(about, reach_m)
            .map(|piece| Stretch {
                line: piece.line,
                small: piece.small,
                points: Arc::clone(&piece.points),
            })
            .collect()
    }

    fn pieces_near(&self, about: Position, reach_m: f64) -> impl Iterator<Item = &Piece> {
        let reach = (reach_m + MILE) / METRES_A_DEGREE;
        let east = reach / (about.latitude().abs() * RADIAN + reach * RADIAN).cos().max(1e-3);
        self.pieces.iter().filter(move |piece| {
            (piece.middle.latitude() - about.latitude()).abs() < piece.half[0] + reach
                && turn(piece.middle.longitude() - about.longitude()).abs() < piece.half[1] + east
        })
    }
}

fn extent(values: impl Iterator<Item = f64>) -> f64 {
    let (low, high) = values.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
    (high - low).max(0.0)
}

/// Degrees between −180 and 180.
pub(super) fn turn(degrees: f64) -> f64 {
    degrees - 360.0 * (degrees / 360.0).round()
}

fn cut_up(pieces: &mut Vec<Piece>, line: u32, small: bool, dense: &[Position]) {
    let mut start = 0;
    while start + 1 < dense.len() {
        let end = (start + PIECE).min(dense.len() - 1);
        let points: Arc<[Position]> = dense[start..=end].into();
        let first = points[0];
        let north = points.iter().map(|p| p.latitude() - first.latitude());
        let east = points.iter().map(|p| turn(p.longitude() - first.longitude()));
        let (low, high) = north.fold((0.0_f64, 0.0_f64), |(l, h), v| (l.min(v), h.max(v)));
        let (west, easting) = east.fold((0.0_f64, 0.0_f64), |(l, h), v| (l.min(v), h.max(v)));
        let middle = Position::wrapped(
            first.latitude() + 0.5 * (low + high),
            first.longitude() + 0.5 * (west + easting),
        );
        let half = [0.5 * (high - low), 0.5 * (easting - west)];
        pieces.push(Piece { line, small, points, middle, half });
        start = end;
    }
}

/// How a chart is wrong: one draw of it.
#[derive(Debug, Clone, Copy)]
pub struct ChartError {
    /// Of the smooth part.
    pub seed: u64,
    /// Of the whole chart, metres east and north.
    pub shift_m: [f64; 2],
    /// Of each point by itself, one standard deviation on each axis, in metres.
    pub point_sigma_m: f64,
    /// Metres in a degree of longitude where the landfall is, for the grid of the smooth part.
    pub degree_east_m: f64,
}

impl ChartError {
    /// Metres east and north from where a point is charted to where it is.
    ///
    /// The smooth part is laid on a grid of one mile: normal draws at its nodes, the four about a
    /// point weighed so that its variance is the same everywhere.
    pub fn at(&self, charted: Position) -> [f64; 2] {
        let east = charted.longitude() * self.degree_east_m / SMOOTH_M;
        let north = charted.latitude() * METRES_A_DEGREE / SMOOTH_M;
        let (x, y) = (east - east.floor(), north - north.floor());
        let (i, j) = (east.floor() as i64, north.floor() as i64);
        let weights = [
            (0, 0, (1.0 - x) * (1.0 - y)),
            (1, 0, x * (1.0 - y)),
            (0, 1, (1.0 - x) * y),
            (1, 1, x * y),
        ];
        let size = weights.iter().map(|w| w.2 * w.2).sum::<f64>().sqrt();
        [0, 1].map(|axis: usize| {
            let sum: f64 = weights
                .iter()
                .map(|(di, dj, w)| w * normal_at(self.seed, i + di, j + dj, axis as u64))
                .sum();
            self.shift_m[axis] + self.point_sigma_m * sum / size
        })
    }

    /// Where a charted point is.
    pub fn true_place(&self, charted: Position) -> Position {
        let [east, north] = self.at(charted);
        offset(charted, east, north)
    }

    /// Where a point is charted that is here: the error is smooth, so that it hardly differs.
    pub fn charted_place(&self, true_place: Position) -> Position {
        let [east, north] = self.at(true_place);
        offset(true_place, -east, -north)
    }
}

/// A place so many metres off: for errors, not for distances.
fn offset(from: Position, east: f64, north: f64) -> Position {
    let degree_east = METRES_A_DEGREE * (from.latitude() * RADIAN).cos().max(1e-4);
    Position::wrapped(
        from.latitude() + north / METRES_A_DEGREE,
        from.longitude() + east / degree_east,
    )
}
