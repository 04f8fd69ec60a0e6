//! How much of the coast has no elevation grid behind it.

use super::coast::{Coast, LonLat};
use super::geobox::GeoBox;
use super::ground::{ByDegree, Grid, numbers_at};
use super::survey::WithoutGrid;
use crate::geodesy::{MEAN_EARTH_RADIUS_M, Position};
use crate::units::{Angle, GroundRange, METRES_PER_NAUTICAL_MILE};

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
    let reach: Vec<GeoBox> =
        grids.iter().map(|grid| grown(grid.extent(), grid.step_deg())).collect();
    if reach.is_empty() {
        return None;
    }
    let is_reached = |at: Position| {
        let numbers = numbers_at(by_degree, reach.len(), at);
        numbers.filter_map(|number| reach.get(number)).any(|area| area.contains(at))
    };
    let edges = coast.lines().flat_map(|(_, line)| line.points.windows(2));
    let shore_m: f64 =
        edges.map(|pair| if let [a, b] = pair { length_m(*a, *b) } else { 0.0 }).sum();
    let piece_m = PIECE_M.max(shore_m / MOST_PIECES);
    let (mut all, mut bare, mut extent) = (0.0, 0.0, None::<GeoBox>);
    for (_, line) in coast.lines() {
        let edges = line.points.windows(2).enumerate();
        for (_, pair) in edges.filter(|(edge, _)| !line.is_cut(*edge)) {
            let [a, b] = pair else { continue };
            let metres = length_m(*a, *b);
            let pieces = (metres / piece_m).ceil().clamp(1.0, 10_000.0);
            all += metres;
            for piece in 0..pieces as usize {
                let share = (piece as f64 + 0.5) / pieces;
                let at = LonLat {
                    lon: a.lon + share * (b.lon - a.lon),
                    lat: a.lat + share * (b.lat - a.lat),
                };
                if is_reached(at.position()) {
                    continue;
                }
                bare += metres / pieces;
                let here = GeoBox::new(at.lat, at.lon, at.lat, at.lon);
                extent = Some(extent.map_or(here, |extent| extent.joined(&here)));
            }
        }
    }
    let extent = extent.filter(|_| bare > LEAST_M)?;
    Some(WithoutGrid { length: GroundRange::clamped_metres(bare), share: bare / all, extent })
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
