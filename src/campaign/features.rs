//! What stands out in the picture: points of the coast, its ends, small islands.

#![expect(clippy::cast_possible_wrap, reason = "rays are counted in thousands")]

use super::picture::{Picture, RAYS, ray};
use super::shore::MILE;
use crate::geodesy::{PlanePoint, Position};

/// Neighbouring rays whose edges are further apart than this show different stretches, in metres.
const JUMP_M: f64 = MILE;

/// How far to either side of a point the eye compares it with the coast, in metres.
const EITHER_SIDE_M: f64 = 2.0 * MILE;

/// A point this little behind the foremost is as far out: the middle of them is taken, in metres.
const AS_FAR_OUT_M: f64 = 0.05 * MILE;

/// Points nearer each other than this are one, in metres.
const ONE_M: f64 = 1.5 * MILE;

/// An island that looks wider than this is coast, in metres.
const SMALL_M: f64 = 1.5 * MILE;

/// A coast that ends this near the edge of what shows only fades, as a share of the reach.
const FADES: f64 = 0.93;

/// Beyond an end of which more than this share holds shore, the coast goes on along the bearing.
const GOES_ON: f64 = 0.5;

/// What a feature is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A point of the shore that juts out.
    Point,
    /// The end of a coast, land to the right of it.
    LeftEnd,
    /// The end of a coast, land to the left of it.
    RightEnd,
    /// An island small enough to be one echo.
    Islet,
}

/// Something an operator may put the cursor on.
#[derive(Debug, Clone, Copy)]
pub struct Feature {
    /// What it is.
    pub kind: Kind,
    /// Where the cursor goes.
    pub ray: usize,
    /// Along the ground to its leading edge, in metres.
    pub near_m: f64,
    /// Along the ground to its middle, in metres: the same for all but islets.
    pub middle_m: f64,
    /// How much it stands out, in nautical miles.
    pub weight: f64,
    /// Where the land is that paints it.
    pub place: Position,
}

/// Rays from one break of the edge to the next; `last` may be beyond a full turn.
#[derive(Debug, Clone, Copy)]
struct Run {
    first: i64,
    last: i64,
    /// How much farther the land beyond either end is, metres: negative where it is nearer.
    beyond: [f64; 2],
}

/// All features of a picture, no two of them the same.
///
/// A point stands out that is `least_m` before the line between its neighbours.
pub fn features(picture: &Picture, least_m: f64) -> Vec<Feature> {
    let mut all: Vec<Feature> =
        runs(picture).into_iter().flat_map(|run| of_run(picture, run, least_m)).collect();
    all.sort_by(|a, b| b.weight.total_cmp(&a.weight).then(a.ray.cmp(&b.ray)));
    let mut kept: Vec<Feature> = Vec::new();
    for feature in all {
        if kept.iter().all(|other| apart(picture, other, &feature) >= ONE_M) {
            kept.push(feature);
        }
    }
    kept
}

/// Metres between the places of two features.
fn apart(picture: &Picture, a: &Feature, b: &Feature) -> f64 {
    picture.plane.to_plane(a.place).distance(picture.plane.to_plane(b.place))
}

fn runs(picture: &Picture) -> Vec<Run> {
    let edge = |index: i64| picture.edge[ray(index)];
    let broken = |index: i64| {
        let (a, b) = (edge(index - 1), edge(index));
        a.is_finite() != b.is_finite() || (a.is_finite() && (a - b).abs() > JUMP_M)
    };
    let breaks: Vec<i64> = (0..RAYS as i64).filter(|index| broken(*index)).collect();
    let Some(start) = breaks.first() else {
        let all_round = Run { first: 0, last: RAYS as i64 - 1, beyond: [-1.0, -1.0] };
        return if edge(0).is_finite() { vec![all_round] } else { Vec::new() };
    };
    let ends = breaks.iter().skip(1).copied().chain([start + RAYS as i64]);
    breaks
        .iter()
        .zip(ends)
        .filter(|(first, _)| edge(**first).is_finite())
        .map(|(first, next)| {
            let last = next - 1;
            let beyond = [edge(first - 1) - edge(*first), edge(next) - edge(last)];
            Run { first: *first, last, beyond }
        })
        .collect()
}

fn of_run(picture: &Picture, run: Run, least_m: f64) -> Vec<Feature> {
    if let Some(islet) = islet(picture, run) {
        return vec![islet];
    }
    let mut found = points(picture, run, least_m);
    found.extend(ends(picture, run, least_m));
    found
}

fn feature(picture: &Picture, kind: Kind, index: i64, weight: f64) -> Feature {
    let at = ray(index);
    let near_m = picture.edge[at];
    let place = picture.painted_place(at);
    Feature { kind, ray: at, near_m, middle_m: near_m, weight, place }
}

/// A small island with water, or land farther off, to both sides.
fn islet(picture: &Picture, run: Run) -> Option<Feature> {
    let half = picture.scope.half_beam();
    let middle = i64::midpoint(run.first, run.last);
    let near = (run.first..=run.last).map(|i| picture.edge[ray(i)]).fold(f64::INFINITY, f64::min);
    let rays = (run.last - run.first + 1 - 2 * half).max(1);
    let width = rays as f64 * std::f64::consts::TAU / RAYS as f64 * near;
    let line = picture.line[picture.painter[ray(middle)]];
    let (_, far) = picture.small.get(&line)?;
    let alone = (run.first..=run.last).all(|i| picture.line[picture.painter[ray(i)]] == line);
    if !alone || run.beyond.iter().any(|beyond| *beyond < 0.0) || width > SMALL_M {
        return None;
    }
    let weight = 1.0 + 0.5 * width / MILE;
    let base = feature(picture, Kind::Islet, middle, weight);
    Some(Feature { near_m: near, middle_m: 0.5 * (near + far.max(near)), ..base })
}

/// Ends of a coast beyond which there is nothing, or land farther off.
///
/// Where the shore goes on along the bearing, there is only as much of an end as there is of a corner.
fn ends(picture: &Picture, run: Run, least_m: f64) -> Vec<Feature> {
    let half = picture.scope.half_beam().min((run.last - run.first) / 2);
    let reach = picture.scope.reach_m.min(picture.horizon_m(3.05));
    let sides = [
        (Kind::LeftEnd, run.first + half, run.last - half, run.beyond[0]),
        (Kind::RightEnd, run.last - half, run.first + half, run.beyond[1]),
    ];
    sides
        .into_iter()
        .filter(|(_, index, _, beyond)| *beyond > 0.0 && picture.edge[ray(*index)] < FADES * reach)
        .filter_map(|(kind, index, other, beyond)| {
            let near = picture.edge[ray(index)];
            let gap = beyond.min(EITHER_SIDE_M);
            let weight = if picture.shore_along(ray(index), near, near + gap) < GOES_ON {
                0.5 + 0.5 * (beyond / MILE).min(2.0)
            } else {
                corner(picture, index, other) / MILE
            };
            (weight * MILE >= least_m).then(|| feature(picture, kind, index, weight))
        })
        .collect()
}

/// How far the end of a run stands out where its shore goes on along the bearing, in metres.
fn corner(picture: &Picture, end: i64, other: i64) -> f64 {
    let here = picture.point(ray(end));
    let step = if other < end { -1 } else { 1 };
    let inside = (1..=(other - end).abs())
        .map(|steps| picture.point(ray(end + step * steps)))
        .find(|point| point.distance(here) >= EITHER_SIDE_M)
        .unwrap_or_else(|| picture.point(ray(other)));
    let range = here.east.hypot(here.north);
    let out = (range + EITHER_SIDE_M) / range;
    let beyond = PlanePoint { east: here.east * out, north: here.north * out };
    // The run inside lies before the shore that goes on, clockwise, on a right end.
    let ordered = if step < 0 { [inside, here, beyond] } else { [beyond, here, inside] };
    stands_out(&ordered, 1)
}

/// Points of the shore that jut out towards the set from the line between their neighbours.
fn points(picture: &Picture, run: Run, least_m: f64) -> Vec<Feature> {
    let flat: Vec<PlanePoint> =
        (run.first..=run.last).map(|index| picture.point(ray(index))).collect();
    let out: Vec<f64> = (0..flat.len()).map(|at| stands_out(&flat, at)).collect();
    let mut order: Vec<usize> = (0..flat.len()).filter(|at| out[*at] >= least_m).collect();
    order.sort_by(|a, b| out[*b].total_cmp(&out[*a]).then(a.cmp(b)));
    let mut taken: Vec<usize> = Vec::new();
    for at in order {
        if taken.iter().all(|other| flat[*other].distance(flat[at]) >= ONE_M) {
            taken.push(at);
        }
    }
    taken
        .into_iter()
        .map(|at| {
            let level = |index: &usize| out[*index] >= out[at] - AS_FAR_OUT_M;
            let before = (0..at).rev().take_while(level).count();
            let after = (at + 1..flat.len()).take_while(level).count();
            let middle = run.first + at as i64 + (after as i64 - before as i64) / 2;
            feature(picture, Kind::Point, middle, (out[at] / MILE).min(3.0))
        })
        .collect()
}

/// How far a point lies on the seaward side of the line between the coast two miles either side.
fn stands_out(flat: &[PlanePoint], at: usize) -> f64 {
    let here = flat[at];
    let far = |index: &usize| flat[*index].distance(here) >= EITHER_SIDE_M;
    let before = (0..at).rev().find(far).unwrap_or(0);
    let after = (at + 1..flat.len()).find(far).unwrap_or(flat.len() - 1);
    let (a, b) = (flat[before], flat[after]);
    let (east, north) = (b.east - a.east, b.north - a.north);
    let length = east.hypot(north);
    if length < 1.0 {
        return 0.0;
    }
    // Clockwise along the leading edge the sea, and the set, lie to the right.
    -(east * (here.north - a.north) - north * (here.east - a.east)) / length
}
