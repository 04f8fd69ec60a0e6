//! The ground under a fan of rays: where they run over land, and how high it is there.

use std::f64::consts::{PI, TAU};

use rayon::prelude::*;

use super::fan::Fan;
use super::ray_line::RayLine;
use super::way::{Land, Way};
use crate::chart::{Chart, GeoBox, Ground, LandSide, Stretch, Terrain};
use crate::geodesy::{LocalPlane, PlanePoint, Position, destination};
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

/// A ray meeting the shore.
#[derive(Debug, Clone, Copy)]
struct Crossing {
    distance_m: f64,
    /// Whether land lies beyond; `None` where the chart does not tell.
    onto_land: Option<bool>,
    /// It is no shore: the chart was cut there, and the land on its other side is not known.
    cut: bool,
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
    Some(crossings.into_par_iter().map(|crossings| spans(crossings, inland, fan)).collect())
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
        let land = spans(crossings, inland, fan);
        Way::new(ground, &plane, fan.bearing(ray), fan, land)
    };
    Some(crossings.into_iter().enumerate().map(way).collect())
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

/// Where each ray meets the shore or an edge at which the chart was cut, in no order.
fn crossings(fan: &Fan, shore: Vec<Stretch>, clips: Vec<Stretch>) -> Vec<Vec<Crossing>> {
    let mut rays: Vec<Vec<Crossing>> = vec![Vec::new(); fan.len()];
    let shore = shore.into_iter().map(|stretch| (stretch, false));
    for (stretch, cut) in shore.chain(clips.into_iter().map(|stretch| (stretch, true))) {
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
///
/// - `inland`: whether the place looked from is land.
/// - `sides_hold`: the sides of the shore were not guessed, as those of open lines are.
fn spans(
    mut crossings: Vec<Crossing>,
    (inland, sides_hold): (Option<bool>, bool),
    fan: &Fan,
) -> Vec<Land> {
    crossings.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
    let first = crossings.iter().find_map(|crossing| crossing.onto_land);
    // Coming off the land first means having been on it.
    let mut on_land = inland.unwrap_or(first == Some(false));
    let (mut start_m, mut from_cut) = (0.0, false);
    // Where each shore takes the ray the other way than the one before it, none of them was missed alone:
    // then it need not be asked whether what lies between is land.
    let mut told_onto = inland == Some(true);
    let mut spans = Vec::new();
    for crossing in crossings {
        let onto = crossing.onto_land.unwrap_or(!on_land);
        let told = sides_hold && crossing.onto_land == Some(!on_land) && !crossing.cut;
        if onto && !on_land {
            (start_m, from_cut, told_onto) = (crossing.distance_m, crossing.cut, told);
        } else if !onto && on_land {
            let land = Land::new(start_m, crossing.distance_m, from_cut);
            spans.push(if told_onto && told { land.surely() } else { land });
        } else {
            told_onto = false;
        }
        on_land = onto;
    }
    if on_land {
        spans.push(Land::new(start_m, fan.reach_m(), from_cut));
    }
    spans
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
    fn an_island_ahead_is_entered_and_left() {
        let fan = fan();
        for (side, clockwise) in
            [(LandSide::Right, true), (LandSide::Left, false), (LandSide::Unknown, true)]
        {
            let rays = square(&fan, side, clockwise);
            for ray in [0, 2, 358] {
                let found = spans(rays[ray].clone(), (Some(false), true), &fan);
                let cos = fan.bearing(ray).sin_cos().1;
                assert_eq!(found.len(), 1, "{side:?} {ray}");
                assert!((found[0].start_m - 9e3 / cos).abs() < 1e-6, "{found:?}");
                assert!((found[0].end_m - 11e3 / cos).abs() < 1e-6, "{found:?}");
            }
            assert!(spans(rays[90].clone(), (Some(false), true), &fan).is_empty());
        }
    }

    #[test]
    fn coming_off_the_land_first_means_having_been_on_it() {
        let crossings = [
            Crossing { distance_m: 500.0, onto_land: Some(false), cut: false },
            Crossing { distance_m: 4_000.0, onto_land: Some(true), cut: true },
        ];
        let land = Land::new;
        let expected = vec![land(0.0, 500.0, false), land(4_000.0, 20_000.0, true)];
        assert_eq!(spans(crossings.to_vec(), (None, true), &fan()), expected);
        assert!(spans(Vec::new(), (None, true), &fan()).is_empty());
    }

    #[test]
    fn land_is_sure_only_between_shores_whose_sides_agree() {
        let cross = |distance_m: f64, onto_land: Option<bool>| Crossing {
            distance_m,
            onto_land,
            cut: false,
        };
        let cut = |crossing: Crossing| Crossing { cut: true, ..crossing };
        let (on, off) = (Some(true), Some(false));
        let (near, far) = (cross(1e3, on), cross(2e3, off));
        let sure = |crossings: &[Crossing], inland: (Option<bool>, bool)| -> Vec<bool> {
            spans(crossings.to_vec(), inland, &fan()).iter().map(Land::is_known).collect()
        };
        let at_sea = (off, true);
        assert_eq!(sure(&[near, far], at_sea), [true]);
        // Sides that were guessed, a side that is not known, a cut at either end, no end at all.
        assert_eq!(sure(&[near, far], (off, false)), [false]);
        assert_eq!(sure(&[cross(1e3, None), far], at_sea), [false]);
        assert_eq!(sure(&[near, cross(2e3, None)], at_sea), [false]);
        assert_eq!(sure(&[cut(near), far], at_sea), [false]);
        assert_eq!(sure(&[near, cut(far)], at_sea), [false]);
        assert_eq!(sure(&[near], at_sea), [false]);
        // One shore missed, or one land on another: two of a kind follow each other.
        let missed = [near, cross(5e3, on), cross(6e3, off), cross(8e3, on), cross(9e3, off)];
        assert_eq!(sure(&missed, at_sea), [false, true]);
        assert_eq!(sure(&[near, far, cross(3e3, off)], at_sea), [true]);
        // From land that is known to be land, and from what may be.
        assert_eq!(sure(&[far], (on, true)), [true]);
        assert_eq!(sure(&[far], (None, true)), [false]);
    }
}
