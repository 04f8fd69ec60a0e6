//! The ground under a fan of rays: where they run over land, and how high it is there.

use std::f64::consts::{PI, TAU};

use rayon::prelude::*;

use super::fan::Fan;
use crate::chart::{Chart, Coast, GeoBox, Ground, LandSide, Terrain};
use crate::geodesy::{LocalPlane, PlanePoint, Position, destination};
use crate::units::{Bearing, GroundRange, True};

/// Metres between the places of a ray that are laid on the ellipsoid; those between them lie on
/// parabolas of latitude and longitude through three of them, at most a metre off.
const NODE_M: f64 = 8000.0;

/// The same within ten degrees or so of a pole, where longitude turns fast.
const POLAR_NODE_M: f64 = 1000.0;

/// The latitude, degrees, from which a place counts as near a pole.
const POLAR_DEG: f64 = 70.0;

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

/// A ray meeting the shore.
#[derive(Debug, Clone, Copy)]
struct Crossing {
    distance_m: f64,
    /// Whether land lies beyond; `None` where the chart does not tell.
    onto_land: Option<bool>,
    /// It is no shore: the chart was cut there, and the land on its other side is not known.
    cut: bool,
}

/// Land along a ray, as its crossings have it.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Between {
    start_m: f64,
    end_m: f64,
    from_cut: bool,
}

impl Relief {
    /// From a chart, around `centre`.
    pub fn of_chart(chart: &Chart, centre: Position, fan: &Fan) -> Self {
        let all = GeoBox::around(centre, GroundRange::clamped_metres(fan.reach_m()));
        Self::over(chart, centre, fan, &[all])
    }

    /// The same for rays that lie within `half_rad` of one direction: quicker, since shore elsewhere
    /// is not looked at.
    pub fn of_sector(
        chart: &Chart,
        centre: Position,
        fan: &Fan,
        towards: Bearing<True>,
        half_rad: f64,
    ) -> Self {
        let slabs = slabs(centre, fan.reach_m(), towards, half_rad);
        Self::over(chart, centre, fan, &slabs)
    }

    fn over(chart: &Chart, centre: Position, fan: &Fan, areas: &[GeoBox]) -> Self {
        let ground = chart.ground();
        if chart.coast().line_count() == 0 {
            return Self::of_ground(ground, centre, fan);
        }
        let plane = LocalPlane::new(centre);
        let crossings = crossings(chart.coast(), &plane, fan, areas);
        let inland = ground.is_land(centre);
        let rays = crossings.into_par_iter().enumerate().map(|(ray, mut crossings)| {
            crossings.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
            let spans = spans(&crossings, inland, fan);
            // Only as far as there is land.
            let farthest_m = spans.last().map_or(0.0, |land| land.end_m.min(fan.reach_m()));
            let line = RayLine::new(&plane, fan.bearing(ray), farthest_m + fan.step_m);
            let spans = spans.into_iter().map(|land| {
                let sure = is_surely_land(ground, &line, &land);
                span(land, fan, |distance_m| {
                    let at = line.at(distance_m);
                    if sure { ground.of_land(at) } else { ground.at(at) }.height.metres()
                })
            });
            classed(spans.collect(), ground, fan, &line)
        });
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

/// Whether a ray lies on land between two crossings of the shore, by three places of it: then no
/// more of it need be asked of the coast. One crossing missed would turn sea into land.
fn is_surely_land(ground: &Ground, line: &RayLine, land: &Between) -> bool {
    [0.25, 0.5, 0.75]
        .into_iter()
        .map(|share| line.at(land.start_m + share * (land.end_m - land.start_m)))
        .all(|at| ground.is_land(at) == Some(true))
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

/// Places along one ray, quickly.
struct RayLine {
    node_m: f64,
    /// Latitudes and longitudes, degrees.
    nodes: Vec<(f64, f64)>,
}

impl RayLine {
    fn new(plane: &LocalPlane, bearing: Bearing<True>, reach_m: f64) -> Self {
        let (sin, cos) = bearing.sin_cos();
        let polar = plane.centre().latitude().abs() > POLAR_DEG;
        let node_m = if polar { POLAR_NODE_M } else { NODE_M };
        let count = (reach_m / node_m) as usize + 3;
        let mut nodes: Vec<(f64, f64)> = Vec::with_capacity(count);
        for i in 0..count {
            let along = i as f64 * node_m;
            let at = plane.to_position(PlanePoint { east: along * sin, north: along * cos });
            // Longitudes go on across the date line.
            let near = nodes.last().map_or(at.longitude(), |node| node.1);
            let turns = ((near - at.longitude()) / 360.0).round();
            nodes.push((at.latitude(), at.longitude() + 360.0 * turns));
        }
        Self { node_m, nodes }
    }

    fn at(&self, distance_m: f64) -> Position {
        let place = distance_m / self.node_m;
        let first = (place as usize).min(self.nodes.len().saturating_sub(3));
        let Some([a, b, c]) = self.nodes.get(first..first + 3) else {
            return Position::wrapped(0.0, 0.0);
        };
        let t = place - first as f64;
        // Lagrange's parabola through the places at 0, 1 and 2.
        let (of_a, of_b, of_c) = (0.5 * (t - 1.0) * (t - 2.0), t * (2.0 - t), 0.5 * t * (t - 1.0));
        let through = |a: f64, b: f64, c: f64| of_a * a + of_b * b + of_c * c;
        Position::wrapped(through(a.0, b.0, c.0), through(a.1, b.1, c.1))
    }
}

/// Boxes that hold a sector from a place outward, in slabs that widen with it.
fn slabs(centre: Position, reach_m: f64, towards: Bearing<True>, half_rad: f64) -> Vec<GeoBox> {
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

/// Where each ray meets the shore or an edge at which the chart was cut, in no order.
fn crossings(coast: &Coast, plane: &LocalPlane, fan: &Fan, areas: &[GeoBox]) -> Vec<Vec<Crossing>> {
    let mut rays: Vec<Vec<Crossing>> = vec![Vec::new(); fan.len()];
    let reach = GroundRange::clamped_metres(fan.reach_m());
    let shore =
        coast.stretches_over(plane, reach, areas).into_iter().map(|stretch| (stretch, false));
    let clips = coast.clip_stretches(plane, reach).into_iter().map(|stretch| (stretch, true));
    for (stretch, cut) in shore.chain(clips) {
        let azimuth = |point: &PlanePoint| {
            let angle = point.east.atan2(point.north);
            if angle < 0.0 { angle + TAU } else { angle }
        };
        let azimuths: Vec<f64> = stretch.points.iter().map(azimuth).collect();
        let segments = stretch.points.windows(2).zip(azimuths.windows(2));
        for (points, azimuths) in segments {
            if let ([a, b], [from, to]) = (points, azimuths) {
                cross(&mut rays, fan, (*a, *from), (*b, *to), (stretch.land_side, cut));
            }
        }
    }
    rays
}

/// Adds the crossings of one segment to the rays between its two directions.
fn cross(
    rays: &mut [Vec<Crossing>],
    fan: &Fan,
    (a, from): (PlanePoint, f64),
    (b, to): (PlanePoint, f64),
    (side, cut): (LandSide, bool),
) {
    let through_north = (to - from).abs() > PI;
    // Seen from the centre the segment runs clockwise when its far side is on its left.
    let clockwise = (to > from) != through_north;
    let onto_land = match side {
        LandSide::Left => Some(clockwise),
        LandSide::Right => Some(!clockwise),
        LandSide::Unknown => None,
    };
    let (first, last) = (fan.first_from(from.min(to)), fan.first_from(from.max(to)));
    let (run_east, run_north) = (b.east - a.east, b.north - a.north);
    let twice_area = a.east * run_north - a.north * run_east;
    let mut add = |ray: usize| {
        let Some((azimuth, crossings)) = fan.azimuths().get(ray).zip(rays.get_mut(ray)) else {
            return;
        };
        let (sin, cos) = azimuth.sin_cos();
        let turn = sin * run_north - cos * run_east;
        let distance_m = twice_area / turn;
        if distance_m.is_finite() && distance_m >= 0.0 && distance_m <= fan.reach_m() {
            crossings.push(Crossing { distance_m, onto_land, cut });
        }
    };
    if through_north {
        (last..fan.len()).for_each(&mut add);
        (0..first).for_each(&mut add);
    } else {
        (first..last).for_each(&mut add);
    }
}

/// Land along one ray, from where it meets the shore.
///
/// Where the chart was cut, what is known of the land begins or ends with it: beyond there is
/// nothing to answer.
fn spans(crossings: &[Crossing], inland: Option<bool>, fan: &Fan) -> Vec<Between> {
    let first = crossings.iter().find_map(|crossing| crossing.onto_land);
    // Coming off the land first means having been on it.
    let mut on_land = inland.unwrap_or(first == Some(false));
    let (mut start_m, mut from_cut) = (0.0, false);
    let mut spans = Vec::new();
    for crossing in crossings {
        let onto = crossing.onto_land.unwrap_or(!on_land);
        if onto && !on_land {
            (start_m, from_cut) = (crossing.distance_m, crossing.cut);
        } else if !onto && on_land {
            spans.push(Between { start_m, end_m: crossing.distance_m, from_cut });
        }
        on_land = onto;
    }
    if on_land {
        spans.push(Between { start_m, end_m: fan.reach_m(), from_cut });
    }
    spans
}

fn span(land: Between, fan: &Fan, height: impl Fn(f64) -> f64) -> LandSpan {
    let Between { start_m, end_m, from_cut } = land;
    let first = ((start_m / fan.step_m).ceil() - 1.0).max(0.0) as usize;
    let after = (end_m / fan.step_m).floor().max(0.0) as usize;
    let heights: Vec<f32> = if after > first {
        (first..after).map(|sample| height(fan.distance_m(sample)).max(0.0) as f32).collect()
    } else {
        vec![height(0.5 * (start_m + end_m)).max(0.0) as f32]
    };
    LandSpan { start_m, from_cut, end_m, first, heights, terrain: Vec::new() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fan() -> Fan {
        Fan::all_round(360, 100.0, 20_000.0)
    }

    fn square(fan: &Fan, side: LandSide, clockwise: bool) -> Vec<Vec<Crossing>> {
        // A square island of 2 km, its middle 10 km north of the centre.
        let corners = [(-1e3, 9e3), (-1e3, 11e3), (1e3, 11e3), (1e3, 9e3), (-1e3, 9e3)];
        let mut points = corners.map(|(east, north)| PlanePoint { east, north });
        if !clockwise {
            points.reverse();
        }
        let mut rays = vec![Vec::new(); fan.len()];
        let azimuth = |p: PlanePoint| p.east.atan2(p.north).rem_euclid(TAU);
        for pair in points.windows(2) {
            cross(
                &mut rays,
                fan,
                (pair[0], azimuth(pair[0])),
                (pair[1], azimuth(pair[1])),
                (side, false),
            );
        }
        for ray in &mut rays {
            ray.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
        }
        rays
    }

    #[test]
    fn places_along_a_ray_are_those_of_the_plane() {
        for latitude in [0.0, 38.0, -60.0, 69.9, 72.0, 80.0, -85.0] {
            let plane = LocalPlane::new(Position::new(latitude, 179.9).unwrap());
            for degrees in [0.0, 33.0, 90.0, 211.0, 300.0] {
                let bearing = Bearing::wrapped_degrees(degrees);
                let line = RayLine::new(&plane, bearing, 185_000.0);
                for hundreds in 1..1_850 {
                    let along = f64::from(hundreds) * 100.0;
                    let at = plane.to_plane(line.at(along));
                    let there = PlanePoint::at(GroundRange::clamped_metres(along), bearing);
                    assert!(at.distance(there) < 1.0, "{latitude} {degrees} {along}");
                }
            }
        }
    }

    #[test]
    fn an_island_ahead_is_entered_and_left() {
        let fan = fan();
        for (side, clockwise) in
            [(LandSide::Right, true), (LandSide::Left, false), (LandSide::Unknown, true)]
        {
            let rays = square(&fan, side, clockwise);
            for ray in [0, 2, 358] {
                let found = spans(&rays[ray], Some(false), &fan);
                let cos = fan.bearing(ray).sin_cos().1;
                assert_eq!(found.len(), 1, "{side:?} {ray}");
                assert!((found[0].start_m - 9e3 / cos).abs() < 1e-6, "{found:?}");
                assert!((found[0].end_m - 11e3 / cos).abs() < 1e-6, "{found:?}");
            }
            assert!(spans(&rays[90], Some(false), &fan).is_empty());
        }
    }

    #[test]
    fn coming_off_the_land_first_means_having_been_on_it() {
        let crossings = [
            Crossing { distance_m: 500.0, onto_land: Some(false), cut: false },
            Crossing { distance_m: 4_000.0, onto_land: Some(true), cut: true },
        ];
        let land = |start_m, end_m, from_cut| Between { start_m, end_m, from_cut };
        let expected = vec![land(0.0, 500.0, false), land(4_000.0, 20_000.0, true)];
        assert_eq!(spans(&crossings, None, &fan()), expected);
        assert!(spans(&[], None, &fan()).is_empty());
    }

    fn land(start_m: f64, end_m: f64) -> Between {
        Between { start_m, end_m, from_cut: false }
    }

    #[test]
    fn land_narrower_than_a_step_is_still_there() {
        let span = span(land(1_010.0, 1_050.0), &fan(), |distance| distance / 100.0);
        assert_eq!(span.first, 10);
        assert_eq!(span.heights.len(), 1);
        assert!((span.heights[0] - 10.3).abs() < 1e-5);
    }

    #[test]
    fn samples_lie_on_the_land_they_are_counted_to() {
        let span = span(land(1_010.0, 1_450.0), &fan(), |distance| distance);
        assert_eq!(span.first, 10);
        assert_eq!(span.heights, vec![1_100.0, 1_200.0, 1_300.0, 1_400.0]);
    }
}
