//! The ground under a fan of rays: where they run over land, and how high it is there.

use std::cell::LazyCell;

use rayon::prelude::*;

use super::crossings::{crossings, spans};
use super::fan::Fan;
use super::ray_line::RayLine;
use super::way::{Land, Way};
use crate::chart::{Chart, GeoBox, Ground, Terrain};
use crate::geodesy::{LocalPlane, Position, destination};
use crate::units::{Bearing, GroundRange, True};

/// A stretch of land under a ray.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct LandSpan {
    /// Where the ray comes upon it, metres along the ground.
    pub start_m: f64,
    /// It starts where the chart was cut out of a larger one: what lies before it is not known.
    pub from_cut: bool,
    /// Where the ray leaves it, or the chart ends.
    pub end_m: f64,
    /// Number of its first sample.
    pub first: usize,
    /// Heights above the sea at its samples, metres. Land narrower than a step has one, at the
    /// sample nearest beyond its middle.
    pub heights: Vec<f32>,
    /// What the ground is at each of them, and whether a polygon of cover says so; empty where the
    /// chart classes none.
    pub terrain: Vec<Option<(Terrain, bool)>>,
}

/// The land under each ray of a fan, nearest first.
#[derive(Debug, Clone)]
pub(super) struct Relief {
    pub rays: Vec<Vec<LandSpan>>,
}

impl Relief {
    /// From a chart, around `centre`.
    pub fn of_chart(chart: &Chart, centre: Position, fan: &Fan) -> Self {
        let ground = chart.ground();
        let Some(lands) = lands(chart, centre, fan) else {
            return Self::of_ground(ground, centre, fan);
        };
        let plane = LocalPlane::new(centre);
        let rays = lands
            .into_par_iter()
            .enumerate()
            .map(|(ray, land)| Way::new(ground, &plane, fan.bearing(ray), fan, land).spans(fan));
        Self { rays: rays.collect() }
    }

    /// Where there is no coast, land is what stands above the sea.
    fn of_ground(ground: &Ground, centre: Position, fan: &Fan) -> Self {
        if !ground.has_grid() {
            return Self { rays: vec![Vec::new(); fan.len()] };
        }
        let plane = LocalPlane::new(centre);
        let rays = (0..fan.len()).into_par_iter().map(|ray| {
            let line = RayLine::new(&plane, fan.bearing(ray), fan.reach_m());
            let spans = sampled(fan, |distance_m| {
                let height = ground.at(line.at(distance_m)).height.metres();
                (height > 0.0).then_some(height)
            });
            classed(spans, ground, fan, &line)
        });
        Self { rays: rays.collect() }
    }

    /// From a rule that gives the height of land, `None` at sea: a coast without a chart.
    #[cfg(test)]
    pub fn of_rule(
        fan: &Fan,
        rule: impl Fn(GroundRange, Bearing<True>) -> Option<f64> + Sync,
    ) -> Self {
        let rays = (0..fan.len()).map(|ray| {
            sampled(fan, |distance_m| {
                rule(GroundRange::clamped_metres(distance_m), fan.bearing(ray))
            })
        });
        Self { rays: rays.collect() }
    }
}

/// The land under each ray of a fan, without heights; `None` on a chart without a coast.
pub(super) fn lands(chart: &Chart, centre: Position, fan: &Fan) -> Option<Vec<Vec<Land>>> {
    let coast = chart.coast();
    if coast.line_count() == 0 {
        return None;
    }
    let plane = LocalPlane::new(centre);
    let reach = GroundRange::clamped_metres(fan.reach_m());
    let shore = coast.stretches(&plane, reach);
    let crossings = crossings(fan, shore, coast.clip_stretches(&plane, reach));
    let inland = (chart.ground().is_land(centre), !coast.has_open_lines());
    let land = |(ray, crossings)| {
        let is_land = land_along(chart.ground(), &plane, fan, ray);
        spans(crossings, inland, fan, is_land)
    };
    Some(crossings.into_par_iter().enumerate().map(land).collect())
}

/// The land under each ray of a fan that lies within `half_rad` of one direction, to be looked up as
/// it is asked for; `None` on a chart without a coast.
pub(super) fn ways<'a>(
    chart: &'a Chart,
    centre: Position,
    fan: &Fan,
    sector: (Bearing<True>, f64),
) -> Option<Vec<Way<'a>>> {
    let (coast, ground) = (chart.coast(), chart.ground());
    if coast.line_count() == 0 {
        return None;
    }
    let plane = LocalPlane::new(centre);
    let reach = GroundRange::clamped_metres(fan.reach_m());
    let slabs = slabs(centre, fan.reach_m(), sector);
    let shore = coast.stretches_towards(&plane, reach, &slabs, sector);
    let crossings = crossings(fan, shore, coast.clip_stretches_towards(&plane, reach, sector));
    let inland = (ground.is_land(centre), !coast.has_open_lines());
    let way = |(ray, crossings)| {
        let land = spans(crossings, inland, fan, land_along(ground, &plane, fan, ray));
        Way::new(ground, &plane, fan.bearing(ray), fan, land)
    };
    Some(crossings.into_iter().enumerate().map(way).collect())
}

/// Whether a ray runs over land so many metres off, by the chart itself.
fn land_along<'a>(
    ground: &'a Ground,
    plane: &'a LocalPlane,
    fan: &'a Fan,
    ray: usize,
) -> impl Fn(f64) -> Option<bool> + 'a {
    // Few rays ask.
    let line = LazyCell::new(move || RayLine::new(plane, fan.bearing(ray), fan.reach_m()));
    move |distance_m| ground.is_land(line.at(distance_m))
}

/// Spans with what their ground is, where the chart classes it.
fn classed(mut spans: Vec<LandSpan>, ground: &Ground, fan: &Fan, line: &RayLine) -> Vec<LandSpan> {
    if ground.has_terrain() {
        for span in &mut spans {
            let places = (span.first..).take(span.heights.len()).map(|i| fan.distance_m(i));
            let places = places.map(|metres| metres.min(span.end_m).max(span.start_m));
            span.terrain = places.map(|metres| ground.terrain(line.at(metres))).collect();
        }
    }
    spans
}

/// The spans of a ray from samples alone.
fn sampled(fan: &Fan, height: impl Fn(f64) -> Option<f64>) -> Vec<LandSpan> {
    let mut spans: Vec<LandSpan> = Vec::new();
    for sample in 0..fan.samples {
        let distance_m = fan.distance_m(sample);
        let Some(height) = height(distance_m) else { continue };
        match spans.last_mut() {
            Some(span) if span.first + span.heights.len() == sample => {
                span.heights.push(height as f32);
                span.end_m = distance_m;
            }
            _ => spans.push(LandSpan {
                start_m: distance_m - fan.step_m,
                from_cut: false,
                end_m: distance_m,
                first: sample,
                heights: vec![height as f32],
                terrain: Vec::new(),
            }),
        }
    }
    spans
}

/// Boxes that hold a sector from a place outward, in slabs that widen with it.
fn slabs(centre: Position, reach_m: f64, (towards, half_rad): (Bearing<True>, f64)) -> Vec<GeoBox> {
    /// The first slab, and each further one's share of its distance.
    const FIRST_M: f64 = 6_000.0;
    const SHARE: f64 = 0.4;
    let mut slabs = Vec::new();
    let mut near_m = 0.0;
    while near_m < reach_m {
        let far_m = (near_m + FIRST_M.max(SHARE * near_m)).min(reach_m);
        let middle =
            destination(centre, towards, GroundRange::clamped_metres(0.5 * (near_m + far_m)));
        // From the middle to the far corners, and a little over.
        let corner_m = (0.5 * (far_m - near_m)).hypot(far_m * half_rad.min(1.5).tan());
        slabs.push(GeoBox::around(middle, GroundRange::clamped_metres(1.02 * corner_m + 500.0)));
        near_m = far_m;
    }
    slabs
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

    use super::*;

    /// Squares that lie on one another in each way: across each other's sides, one within another, the same
    /// one twice, side by side. Along every ray land begins and ends where the chart's own answer changes.
    #[test]
    fn polygons_on_one_another_are_land_all_over() {
        let square = |west: f64, south: f64, side: f64| {
            let corners = [(0.0, 0.0), (0.0, side), (side, side), (side, 0.0), (0.0, 0.0)];
            let ring = corners.map(|(east, north)| Point::new(west + east, south + north));
            Polygon::new(PolygonRing::Outer(ring.to_vec()))
        };
        let squares = [
            square(-21.0, -38.0, 0.2),
            square(-20.9, -37.93, 0.2),
            square(-20.97, -37.97, 0.05),
            square(-20.87, -37.97, 0.04),
            square(-20.4, -38.0, 0.1),
            square(-20.4, -38.0, 0.1),
            square(-20.3, -38.0, 0.1),
        ];
        let mut coast = Cursor::new(Vec::new());
        let writer = ShapeWriter::new(&mut coast);
        writer.write_shapes(&squares).unwrap();
        let coast = [("coast.shp", coast.get_ref().as_slice())];
        let chart = Chart::from_files("squares", &coast).unwrap();
        let fan = Fan::all_round(720, 100.0, 60_000.0);
        let mut disagreed = 0;
        for centre in [(-38.21, -20.71), (-37.91, -20.94), (-37.6, -20.52), (-37.96, -20.36)] {
            let centre = Position::new(centre.0, centre.1).unwrap();
            let plane = LocalPlane::new(centre);
            for (ray, lands) in lands(&chart, centre, &fan).unwrap().iter().enumerate() {
                let is_land = land_along(chart.ground(), &plane, &fan, ray);
                let ends = |land: &Land| [land.start_m, land.end_m];
                let shores: Vec<f64> = lands.iter().flat_map(ends).collect();
                for place_m in (1..600).map(|i| 100.0 * f64::from(i) + 37.0) {
                    // A straight side bends by some metres between two corners on the globe.
                    if shores.iter().any(|shore_m| (shore_m - place_m).abs() < 60.0) {
                        continue;
                    }
                    let under = lands.iter().any(|l| l.start_m < place_m && place_m < l.end_m);
                    assert_eq!(Some(under), is_land(place_m), "{centre} ray {ray} {place_m} m");
                }
                disagreed +=
                    usize::from(lands.windows(2).any(|pair| pair[0].end_m > pair[1].start_m));
            }
        }
        assert_eq!(disagreed, 0, "lands of a ray overlap");
    }
}
