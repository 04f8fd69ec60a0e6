//! Where rays meet the shore, and which of what lies between is land.

use std::f64::consts::{PI, TAU};

use super::fan::Fan;
use super::way::Land;
use crate::chart::{LandSide, Stretch};
use crate::geodesy::PlanePoint;

/// Between two shores nearer to one another than this, metres, the chart's answer may be that of the other
/// side of one of them: a long side laid flat bends by some metres. Our own bound.
const THIN_M: f64 = 100.0;

/// A ray meeting the shore.
#[derive(Debug, Clone, Copy)]
pub(super) struct Crossing {
    distance_m: f64,
    /// Whether land lies beyond; `None` where the chart does not tell.
    onto_land: Option<bool>,
    /// It is no shore: the chart was cut there, and the land on its other side is not known.
    cut: bool,
}

/// Where each ray meets the shore or an edge at which the chart was cut, in no order.
pub(super) fn crossings(fan: &Fan, shore: Vec<Stretch>, clips: Vec<Stretch>) -> Vec<Vec<Crossing>> {
    let mut rays: Vec<Vec<Crossing>> = vec![Vec::new(); fan.len()];
    let shore = shore.into_iter().map(|stretch| (stretch, false));
    for (stretch, cut) in shore.chain(clips.into_iter().map(|stretch| (stretch, true))) {
        let mut near = 0;
        let along = stretch.points.iter().map(|point| {
            let direction = Direction::of(point, fan, near);
            near = direction.ray;
            direction
        });
        let directions: Vec<Direction> = along.collect();
        let segments = stretch.points.windows(2).zip(directions.windows(2));
        for (points, directions) in segments {
            if let ([a, b], [from, to]) = (points, directions) {
                cross(&mut rays, fan, (*a, *from), (*b, *to), (stretch.land_side, cut));
            }
        }
    }
    rays
}

/// Where a point of the shore lies among the rays of a fan.
#[derive(Debug, Clone, Copy)]
struct Direction {
    azimuth: f64,
    /// The first ray at or after it.
    ray: usize,
}

impl Direction {
    /// - `near`: the ray of a point close by.
    fn of(point: &PlanePoint, fan: &Fan, near: usize) -> Self {
        let angle = point.east.atan2(point.north);
        let azimuth = if angle < 0.0 { angle + TAU } else { angle };
        Self { azimuth, ray: fan.first_from_near(azimuth, near) }
    }
}

/// Adds the crossings of one segment to the rays between its two directions.
fn cross(
    rays: &mut [Vec<Crossing>],
    fan: &Fan,
    (a, from): (PlanePoint, Direction),
    (b, to): (PlanePoint, Direction),
    (side, cut): (LandSide, bool),
) {
    let through_north = (to.azimuth - from.azimuth).abs() > PI;
    // Seen from the centre the segment runs clockwise when its far side is on its left.
    let clockwise = (to.azimuth > from.azimuth) != through_north;
    let onto_land = match side {
        LandSide::Left => Some(clockwise),
        LandSide::Right => Some(!clockwise),
        LandSide::Unknown => None,
    };
    let (first, last) = (from.ray.min(to.ray), from.ray.max(to.ray));
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
/// - `is_land`: whether the ray runs over land so many metres off. It is asked where the sides do not
///   agree with one another.
pub(super) fn spans(
    mut crossings: Vec<Crossing>,
    (inland, sides_hold): (Option<bool>, bool),
    fan: &Fan,
    is_land: impl Fn(f64) -> Option<bool>,
) -> Vec<Land> {
    crossings.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
    let first = crossings.iter().find_map(|crossing| crossing.onto_land);
    // Coming off the land first means having been on it.
    let mut on_land = inland.unwrap_or(first == Some(false));
    if sides_hold && !sides_agree(&crossings, on_land) {
        return asked_spans(&crossings, on_land, fan, is_land);
    }
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

/// Whether each shore takes the ray the other way than the one before it. Where polygons lie on one
/// another, or a ring runs through itself, it does not.
fn sides_agree(crossings: &[Crossing], mut on_land: bool) -> bool {
    crossings.iter().all(|crossing| {
        let was_on_land = on_land;
        on_land = crossing.onto_land.unwrap_or(!on_land);
        on_land != was_on_land
    })
}

/// The same where the sides do not agree: between any two crossings the ray runs over land where the
/// chart says so, by whatever polygon. Thin land by its own two shores stays land: it may show alone.
fn asked_spans(
    crossings: &[Crossing],
    inland: bool,
    fan: &Fan,
    is_land: impl Fn(f64) -> Option<bool>,
) -> Vec<Land> {
    let mut spans = Vec::new();
    let mut land: Option<(f64, bool)> = None;
    let (mut start_m, mut from_cut, mut told) = (0.0, false, inland);
    for next in crossings.iter().map(Some).chain([None]) {
        let end_m = next.map_or(fan.reach_m(), |crossing| crossing.distance_m);
        let left = next.is_some_and(|crossing| crossing.onto_land == Some(false));
        let is_thin_land = told && left && end_m - start_m < THIN_M;
        let on_land = if end_m > start_m {
            is_thin_land || is_land(0.5 * (start_m + end_m)).unwrap_or(told)
        } else {
            land.is_some()
        };
        match land {
            None if on_land => land = Some((start_m, from_cut)),
            Some((onto_m, from_cut)) if !on_land => {
                spans.push(Land::new(onto_m, start_m, from_cut));
                land = None;
            }
            _ => {}
        }
        if let Some(crossing) = next {
            (start_m, from_cut) = (crossing.distance_m, crossing.cut);
            told = crossing.onto_land.unwrap_or(!on_land);
        }
    }
    spans.extend(land.map(|(onto_m, from_cut)| Land::new(onto_m, fan.reach_m(), from_cut)));
    spans
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fan() -> Fan {
        Fan::all_round(360, 100.0, 20_000.0)
    }

    /// A chart that tells nothing more.
    fn untold(_: f64) -> Option<bool> {
        None
    }

    fn square(fan: &Fan, side: LandSide, clockwise: bool) -> Vec<Vec<Crossing>> {
        // A square island of 2 km, its middle 10 km north of the centre.
        let corners = [(-1e3, 9e3), (-1e3, 11e3), (1e3, 11e3), (1e3, 9e3), (-1e3, 9e3)];
        let mut points = corners.map(|(east, north)| PlanePoint { east, north });
        if !clockwise {
            points.reverse();
        }
        let mut rays = vec![Vec::new(); fan.len()];
        let placed = |point: PlanePoint| (point, Direction::of(&point, fan, 0));
        for pair in points.windows(2) {
            cross(&mut rays, fan, placed(pair[0]), placed(pair[1]), (side, false));
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
                let found = spans(rays[ray].clone(), (Some(false), true), &fan, untold);
                let cos = fan.bearing(ray).sin_cos().1;
                assert_eq!(found.len(), 1, "{side:?} {ray}");
                assert!((found[0].start_m - 9e3 / cos).abs() < 1e-6, "{found:?}");
                assert!((found[0].end_m - 11e3 / cos).abs() < 1e-6, "{found:?}");
            }
            assert!(spans(rays[90].clone(), (Some(false), true), &fan, untold).is_empty());
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
        assert_eq!(spans(crossings.to_vec(), (None, true), &fan(), untold), expected);
        assert!(spans(Vec::new(), (None, true), &fan(), untold).is_empty());
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
            spans(crossings.to_vec(), inland, &fan(), untold).iter().map(Land::is_known).collect()
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
        assert_eq!(sure(&missed, at_sea), [false, false]);
        assert_eq!(sure(&[near, far, cross(3e3, off)], at_sea), [false]);
        // From land that is known to be land, and from what may be.
        assert_eq!(sure(&[far], (on, true)), [true]);
        assert_eq!(sure(&[far], (None, true)), [false]);
    }

    #[test]
    fn where_shores_disagree_the_chart_is_asked() {
        let cross = |distance_m: f64, onto: bool| Crossing {
            distance_m,
            onto_land: Some(onto),
            cut: false,
        };
        let lands = |crossings: &[Crossing], inland: bool, sea: &[(f64, f64)]| -> Vec<(f64, f64)> {
            let is_land = |at: f64| Some(!sea.iter().any(|(from, to)| (*from..*to).contains(&at)));
            let found = spans(crossings.to_vec(), (Some(inland), true), &fan(), is_land);
            found.iter().map(|land| (land.start_m, land.end_m)).collect()
        };
        let about = [(0.0, 1e3), (3e3, 2e5)];
        // Across each other's sides or one within another, which look alike; the same one twice; one after
        // another within a third.
        let (on, off) = (|at| cross(at, true), |at| cross(at, false));
        let across = [on(1e3), on(1.5e3), off(2e3), off(3e3)];
        let twice = [on(1e3), on(1e3), off(3e3), off(3e3)];
        let inside = [on(1e3), on(1.2e3), off(1.6e3), on(1.8e3), off(2e3), off(3e3)];
        for crossings in [&across[..], &twice, &inside] {
            assert_eq!(lands(crossings, false, &about), [(1e3, 3e3)], "{crossings:?}");
        }
        // From within one of them, and with nothing but land as far as is looked.
        assert_eq!(lands(&across[1..], true, &[(3e3, 2e5)]), [(0.0, 3e3)]);
        assert_eq!(lands(&across[1..3], true, &[]), [(0.0, 20_000.0)]);
        // Thin land that the chart's own sides put beside itself, with disagreement behind it.
        let thin = [on(1e3), off(1_012.0), on(5e3), on(6e3), off(7e3), off(8e3)];
        let beside = [(0.0, 5e3), (8e3, 2e5)];
        assert_eq!(lands(&thin, false, &beside), [(1e3, 1_012.0), (5e3, 8e3)]);
        // A shore missed: what the chart calls sea stays sea.
        let missed = [on(1e3), on(5e3), off(6e3)];
        let sea = [(0.0, 1e3), (1e3, 5e3), (6e3, 2e5)];
        assert_eq!(lands(&missed, false, &sea), [(5e3, 6e3)]);
    }
}
