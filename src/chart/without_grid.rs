//! How much of the coast has no elevation grid behind it.

use rayon::prelude::*;

use super::coast::{Coast, LonLat, ShoreLine};
use super::geobox::GeoBox;
use super::ground::{ByDegree, Grid, numbers_at};
use super::survey::WithoutGrid;
use crate::geodesy::{MEAN_EARTH_RADIUS_M, Position};
use crate::units::{Angle, METRES_PER_NAUTICAL_MILE};

/// Longer pieces of shore than this are asked for in parts, in metres.
const PIECE_M: f64 = 500.0;

/// The most parts asked for, whatever the length of the shore: beyond, they are longer.
const MOST_PIECES: f64 = 2_000_000.0;

/// Shorter stretches than this in all are not worth a word, in metres.
const LEAST_M: f64 = METRES_PER_NAUTICAL_MILE;

/// Measures the shore that lies more than a cell outside every grid. `None` where there is no grid,
/// or less than a mile of such shore.
///
/// - `by_degree`: of these grids, where they are many.
pub(super) fn without_grid(
    coast: &Coast,
    grids: &[Grid],
    by_degree: Option<&ByDegree>,
) -> Option<WithoutGrid> {
    if grids.is_empty() {
        return None;
    }
    let boxes = grids.iter().map(|grid| grown(grid.extent(), grid.step_deg())).collect();
    let reach = Reach { boxes, by_degree };
    let lines: Vec<ShoreLine<'_>> = coast.lines().map(|(_, line)| line).collect();
    // In their order, whatever the number of threads: a sum of parts added in another order is another.
    let lengths: Vec<f64> = lines.par_iter().map(|line| edges_m(line).sum()).collect();
    let piece_m = PIECE_M.max(lengths.iter().sum::<f64>() / MOST_PIECES);
    let told: Vec<Bare> = lines.par_iter().map(|line| reach.bare(line, piece_m)).collect();
    let all = told.into_iter().fold(Bare::default(), Bare::joined);
    let extent = all.extent.filter(|_| all.outside_m > LEAST_M)?;
    let length_nm = all.outside_m / METRES_PER_NAUTICAL_MILE;
    Some(WithoutGrid { length_nm, share: all.outside_m / all.shore_m, extent })
}

/// How much of some shore lies outside every grid.
#[derive(Debug, Clone, Copy, Default)]
struct Bare {
    shore_m: f64,
    /// Outside every grid.
    outside_m: f64,
    /// The box of that.
    extent: Option<GeoBox>,
}

impl Bare {
    fn joined(self, other: Self) -> Self {
        let extent = match (self.extent, other.extent) {
            (Some(one), Some(two)) => Some(one.joined(&two)),
            (one, two) => one.or(two),
        };
        Self {
            shore_m: self.shore_m + other.shore_m,
            outside_m: self.outside_m + other.outside_m,
            extent,
        }
    }
}

/// As far as the grids of a chart tell heights.
struct Reach<'a> {
    boxes: Vec<GeoBox>,
    by_degree: Option<&'a ByDegree>,
}

impl Reach<'_> {
    fn holds(&self, at: Position) -> bool {
        let numbers = numbers_at(self.by_degree, self.boxes.len(), at);
        numbers.filter_map(|number| self.boxes.get(number)).any(|area| area.contains(at))
    }

    /// What of a line lies outside, piece by piece of no more metres than these.
    fn bare(&self, line: &ShoreLine<'_>, piece_m: f64) -> Bare {
        let mut told = Bare::default();
        let edges = line.points.windows(2).zip(edges_m(line)).enumerate();
        for (_, (pair, metres)) in edges.filter(|(edge, _)| !line.is_cut(*edge)) {
            let [a, b] = pair else { continue };
            let pieces = (metres / piece_m).ceil().clamp(1.0, 10_000.0);
            told.shore_m += metres;
            for piece in 0..pieces as usize {
                let share = (piece as f64 + 0.5) / pieces;
                let at = LonLat {
                    lon: a.lon + share * (b.lon - a.lon),
                    lat: a.lat + share * (b.lat - a.lat),
                };
                if self.holds(at.position()) {
                    continue;
                }
                told.outside_m += metres / pieces;
                let here = GeoBox::new(at.lat, at.lon, at.lat, at.lon);
                told.extent = Some(told.extent.map_or(here, |extent| extent.joined(&here)));
            }
        }
        told
    }
}

/// The edges of a line, in metres.
fn edges_m(line: &ShoreLine<'_>) -> impl Iterator<Item = f64> {
    line.points.windows(2).map(|pair| if let [a, b] = pair { length_m(*a, *b) } else { 0.0 })
}

fn grown(area: GeoBox, cell_deg: f64) -> GeoBox {
    GeoBox::new(
        area.south - cell_deg,
        area.west - cell_deg,
        area.north + cell_deg,
        area.east + cell_deg,
    )
}

/// Of a short line, on a round Earth.
fn length_m(a: LonLat, b: LonLat) -> f64 {
    let stretch = Angle::from_degrees(0.5 * (a.lat + b.lat)).radians().cos();
    let degrees = (stretch * (b.lon - a.lon)).hypot(b.lat - a.lat);
    Angle::from_degrees(degrees).radians() * MEAN_EARTH_RADIUS_M
}
