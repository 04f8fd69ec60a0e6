//! How far the shoreline and the land edge of the grids lie apart.

use super::coast::{Coast, LonLat};
use super::geobox::GeoBox;
use super::ground::Ground;
use super::survey::Disagreement;
use crate::geodesy::MEAN_EARTH_RADIUS_M;
use crate::units::{Angle, GroundRange};

/// The most places of the shore that are measured.
const MOST_PLACES: usize = 2_000;

/// The fewest from which anything is said.
const FEWEST_PLACES: usize = 20;

/// How far the grid's edge is looked for, in metres.
const REACH_M: f64 = 4_000.0;

/// Directions in which it is looked for.
const DIRECTIONS: usize = 24;

/// Measures from places spread over the shore to the nearest change from sea to land in the grid.
/// `None` where no grid covers the shore, or only with steps so wide that it says nothing.
///
/// - `near`: the shore and the grids of this area alone; all where it is not told.
pub(super) fn disagreement(
    coast: &Coast,
    ground: &Ground,
    near: Option<&GeoBox>,
) -> Option<Disagreement> {
    let cell = ground.cell_m()?;
    let step = (0.2 * cell).clamp(15.0, 500.0);
    let far = |at: &LonLat| near.is_some_and(|near| !near.contains(at.position()));
    let segments = if near.is_some() {
        let points = coast.lines().flat_map(|(_, line)| line.points);
        points.filter(|point| !far(point)).count()
    } else {
        coast.point_count().saturating_sub(coast.line_count())
    };
    let every = segments.max(1).div_ceil(MOST_PLACES);
    let mut counted = 0;
    let mut offsets: Vec<f64> = Vec::new();
    for (_, line) in coast.lines() {
        for (i, pair) in line.points.windows(2).enumerate() {
            if pair.first().is_none_or(far) {
                continue;
            }
            counted += 1;
            if counted % every != 0 || line.is_cut(i) {
                continue;
            }
            if let [a, b] = pair
                && let Some(metres) = offset(ground, *a, *b, step)
            {
                offsets.push(metres);
            }
        }
    }
    if offsets.len() < FEWEST_PLACES {
        return None;
    }
    offsets.sort_by(f64::total_cmp);
    let quantile = |share: f64| {
        let at = ((offsets.len() - 1) as f64 * share).round() as usize;
        GroundRange::clamped_metres(offsets.get(at).copied().unwrap_or_default())
    };
    Some(Disagreement { median: quantile(0.5), ninetieth: quantile(0.9), places: offsets.len() })
}

/// Metres from the middle of a segment to where the grid changes between sea and land; `REACH_M`
/// where it does not within that; `None` where no grid covers it.
///
/// Looked for on rings that grow by `step`, in every direction at once. Each place takes the height
/// that stands nearest to it: heights in between would carry every shore half a step out to sea,
/// since grids give the sea as flat.
fn offset(ground: &Ground, a: LonLat, b: LonLat, step: f64) -> Option<f64> {
    let height = |at: LonLat| ground.nearest_height(at.position());
    let middle = LonLat { lon: 0.5 * (a.lon + b.lon), lat: 0.5 * (a.lat + b.lat) };
    let here = height(middle)? > 0.0;
    let degree = Angle::from_radians(1.0 / MEAN_EARTH_RADIUS_M).degrees();
    let stretch = Angle::from_degrees(middle.lat).radians().cos().max(0.01);
    let mut ring = 1.0;
    while ring * step < REACH_M {
        for direction in 0..DIRECTIONS {
            let turn = Angle::from_degrees(360.0 * direction as f64 / DIRECTIONS as f64);
            let (sin, cos) = turn.radians().sin_cos();
            let run = ring * step * degree;
            let at = LonLat { lon: middle.lon + run * sin / stretch, lat: middle.lat + run * cos };
            if height(at).is_some_and(|height| (height > 0.0) != here) {
                return Some((ring - 0.5) * step);
            }
        }
        ring += 1.0;
    }
    Some(REACH_M)
}
