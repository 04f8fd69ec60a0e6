use std::cell::RefCell;
use std::collections::HashMap;

use super::edge::{Fan, Shore, Sightline};
use super::*;

const NM: f64 = 1852.0;

fn degrees(degrees: f64) -> f64 {
    Angle::from_degrees(degrees).radians()
}

fn home() -> Position {
    Position::new(-38.0, -21.0).unwrap()
}

/// Lines in nautical miles about a place, and one height for all ground east of them.
struct Laid {
    lines: Vec<Vec<(f64, f64)>>,
}

impl Shoreline for Laid {
    fn lines(&self, plane: &LocalPlane, _: GroundRange) -> Vec<Vec<PlanePoint>> {
        let about = LocalPlane::new(home());
        let lay = |&(east, north): &(f64, f64)| {
            plane.to_plane(about.to_position(PlanePoint { east: east * NM, north: north * NM }))
        };
        self.lines.iter().map(|line| line.iter().map(lay).collect()).collect()
    }

    fn height(&self, _: Position) -> f64 {
        50.0
    }
}

fn at(east: f64, north: f64) -> PlanePoint {
    PlanePoint { east: east * NM, north: north * NM }
}

fn in_sight() -> Sightline<'static> {
    Sightline { horizon: 1e9, radius: 8.5e6, height: &|_| 0.0, known: RefCell::new(HashMap::new()) }
}

fn looked(shore: &Shore<'_>, own: PlanePoint, bearing: f64, half_beam: f64) -> Option<f64> {
    let bearings = [30.0, 60.0, 90.0, 120.0, 150.0].into_iter().map(degrees);
    let fan = Fan::over(bearings, degrees(5.0), degrees(half_beam), 60.0 * NM);
    let edge = shore.view(own, 0.0, &fan).edge(own);
    edge.at(fan.aside(degrees(bearing))).map(|metres| metres / NM)
}

#[test]
fn the_edge_is_the_first_shore_within_half_a_beam() {
    // A wall 10 NM to the east, and a short one 6 NM off between 085 and 095.
    let far = vec![at(10.0, -40.0), at(10.0, 40.0)];
    let near = vec![at(6.0, -0.525), at(6.0, 0.525)];
    let shore = Shore::new(&[far, near], in_sight());
    let told = |bearing| looked(&shore, at(0.0, 0.0), bearing, 1.0).unwrap();
    // The nearest of a wall within half a beam lies at the beam's side: 10 / cos (29°) (computed).
    assert!((told(60.0) - 10.0 / degrees(29.0).cos()).abs() < 0.02, "{}", told(60.0));
    // The far wall is behind the near one, and half a beam beside it too.
    assert!((told(90.0) - 6.0).abs() < 0.01, "{}", told(90.0));
    assert!((told(95.5) - 6.0 / degrees(4.5).cos()).abs() < 0.05, "{}", told(95.5));
    assert!((told(97.5) - 10.0 / degrees(6.5).cos()).abs() < 0.05, "{}", told(97.5));
    assert_eq!(looked(&shore, at(20.0, 0.0), 90.0, 1.0), None);
}

#[test]
fn a_shore_below_the_horizon_shows_where_the_ground_behind_it_stands_out() {
    // 10 NM past the horizon a target must be 20.2 m high (computed: x² / 2R, R = 8,495 km); the
    // ground rises by 10 m a mile from a shore 12 NM off, the horizon at 4 NM: up to it, 2.0 NM on.
    let height = |point: PlanePoint| (point.east / NM - 12.0) * 10.0;
    let sight = Sightline {
        horizon: 4.0 * NM,
        radius: 8.495e6,
        height: &height,
        known: RefCell::new(HashMap::new()),
    };
    let shore = Shore::new(&[vec![at(12.0, -20.0), at(12.0, 20.0)]], sight);
    let told = looked(&shore, at(0.0, 0.0), 90.0, 0.5).unwrap();
    assert!((told - 14.04).abs() < 0.25, "{told}");
}

/// A trace of these lines without errors from a place, every two degrees, the bearings high by a
/// bias of half a degree; by closed form, ray by ray.
fn traced(lines: &[Vec<(f64, f64)>], (east, north): (f64, f64)) -> Trace {
    let cross = |a: (f64, f64), b: (f64, f64)| a.0 * b.1 - a.1 * b.0;
    let ray = |bearing: f64| {
        let u = bearing.sin_cos();
        let pieces = lines.iter().flat_map(|line| line.iter().zip(line.iter().skip(1)));
        let hits = pieces.filter_map(|(a, b)| {
            let a = (a.0 - east, a.1 - north);
            let along = (b.0 - east - a.0, b.1 - north - a.1);
            let range = cross(a, along) / cross(u, along);
            let share = cross(a, u) / cross(u, along);
            (range > 0.0 && (0.0..=1.0).contains(&share)).then_some(range)
        });
        hits.min_by(f64::total_cmp)
    };
    let points = (20..=80).filter_map(|i| {
        let bearing = degrees(2.0 * f64::from(i));
        let within = (-4..=4).filter_map(|j| ray(bearing + degrees(0.25 * f64::from(j))));
        let range = within.min_by(f64::total_cmp)? * NM;
        Some(TracePoint { bearing: bearing + degrees(0.5), range, stretch: 1.0, sigma: 200.0 })
    });
    Trace::new(points.collect(), degrees(0.8), degrees(1.0))
}

fn reckoned((east, north): (f64, f64), sigma_nm: f64) -> Reckoned {
    let sigma = GroundRange::clamped_metres(sigma_nm * NM);
    Reckoned {
        position: LocalPlane::new(home()).to_position(at(east, north)),
        covariance: Covariance::circular(sigma),
        bearing_bias_sigma: degrees(1.0),
        range_bias_sigma: 0.05 * NM,
        point_sigma: 0.05 * NM,
        horizon: 1e9,
        earth_radius: 8.5e6,
    }
}

/// Two capes and a bay, to the east.
fn capes() -> Vec<(f64, f64)> {
    vec![(4.0, -60.0), (0.0, -9.0), (-4.0, -6.0), (3.0, -3.0), (6.0, 2.0), (-2.0, 7.0), (5.0, 60.0)]
}

/// What own place and the biases are told to differ by from the truth, in standard deviations,
/// squared; and the square of the error along the worst axis of own place, with the biases as they
/// are known beforehand, in square metres.
fn told_of(found: &Registered, reckoned: &Reckoned, truth: (f64, f64), bias: f64) -> (f64, f64) {
    let there = LocalPlane::new(found.place);
    let own = there.to_plane(LocalPlane::new(home()).to_position(at(truth.0, truth.1)));
    let off = Vector4::new(own.east, own.north, bias - found.bias, -found.range_bias);
    let mut information = Matrix4::zeros();
    information[(2, 2)] = reckoned.bearing_bias_sigma.powi(-2);
    information[(3, 3)] = reckoned.range_bias_sigma.powi(-2);
    let mut squared = 0.0;
    for told in &found.told {
        let slope = Vector4::from(told.slope);
        squared += (told.offset - slope.dot(&off)).powi(2) / told.variance;
        information += slope * slope.transpose() / told.variance;
    }
    let own = information.try_inverse().unwrap().fixed_view::<2, 2>(0, 0).into_owned();
    (squared, own.symmetric_eigenvalues().max())
}

fn off(place: Position, (east, north): (f64, f64)) -> f64 {
    LocalPlane::new(home()).to_plane(place).distance(at(east, north)) / NM
}

#[test]
fn the_place_is_found_from_a_reckoning_twenty_miles_off() {
    let lines = vec![capes()];
    let truth = (-14.0, 1.0);
    let reckoned = reckoned((-30.0, 14.0), 20.0);
    let found = register(&Laid { lines: lines.clone() }, &traced(&lines, truth), &reckoned);
    let best = &found[0];
    // Were the errors made that are stated, the squares of the four sums told would come to four on
    // the mean; none is, so that they come to less, and own place to within one standard deviation.
    let (squared, worst) = told_of(best, &reckoned, truth, degrees(0.5));
    assert!(squared < 4.0, "{squared}: {best:#?}");
    assert!(off(best.place, truth) * NM < worst.sqrt(), "{found:#?}");
    // Half the error of one bearing, and the error of one range with that of the chart.
    assert!((best.bias - degrees(0.5)).abs() < degrees(0.4), "{}", best.bias);
    assert!(best.rms < 200f64.hypot(0.05 * NM), "{}", best.rms);
    assert!(found.iter().skip(1).all(|other| other.log_density < best.log_density - 3.0));
}

#[test]
fn a_shore_that_repeats_itself_gives_both_places() {
    // The same capes again, sixteen miles to the north.
    let once = |north: f64| capes().into_iter().skip(1).take(5).map(move |(e, n)| (e, n + north));
    let line: Vec<(f64, f64)> = std::iter::once((4.0, -60.0))
        .chain(once(-8.0))
        .chain(once(8.0))
        .chain([(4.0, 60.0)])
        .collect();
    // Traced over the bay between two capes alone.
    let lines = vec![line];
    let mut trace = traced(&lines, (-7.0, -7.0));
    let points =
        trace.points.into_iter().filter(|p| (60.0..125.0).contains(&(p.bearing / degrees(1.0))));
    trace = Trace::new(points.collect(), trace.bearing_sigma, trace.half_beam);
    let found = register(&Laid { lines }, &trace, &reckoned((-7.0, 1.0), 8.0));
    for truth in [(-7.0, -7.0), (-7.0, 9.0)] {
        assert!(found.iter().any(|one| off(one.place, truth) < 0.3), "{truth:?}: {found:#?}");
    }
}

#[test]
fn a_straight_shore_tells_nothing_along_it() {
    let lines = vec![vec![(0.0, -100.0), (0.0, 100.0)]];
    let found = register(
        &Laid { lines: lines.clone() },
        &traced(&lines, (-12.0, 0.0)),
        &reckoned((-11.0, 3.0), 4.0),
    );
    assert_eq!(found.len(), 1, "{found:#?}");
    let held = |direction: [f64; 2]| -> f64 {
        let along = |told: &Told| told.slope[0] * direction[0] + told.slope[1] * direction[1];
        found[0].told.iter().map(|told| along(told).powi(2) / told.variance).sum()
    };
    // Within 30° of abeam alone lie 13.9 NM of shore: thirteen points that count. The worst of them,
    // at 30°, errs by 200 m of reading, 207 m for 0.8° of bearing and 107 m of chart, over a slope of
    // 1.155: 266 m, so that all of them hold it to 74 m or better (computed).
    assert!(held([1.0, 0.0]) > 74f64.powi(-2), "{}", held([1.0, 0.0]).sqrt().recip());
    // Along it nothing at all: no more than half of what the reckoning of 4 NM tells.
    assert!(held([0.0, 1.0]) < (10.0 * NM).powi(-2), "{}", held([0.0, 1.0]).sqrt().recip());
}

#[test]
fn with_no_shore_in_reach_nothing_fits() {
    let lines = vec![vec![(200.0, -10.0), (200.0, 10.0)]];
    let trace = traced(&[capes()], (-14.0, 1.0));
    assert!(register(&Laid { lines }, &trace, &reckoned((0.0, 0.0), 2.0)).is_empty());
    let none = Trace::new(Vec::new(), degrees(1.0), degrees(1.0));
    assert!(register(&Laid { lines: vec![capes()] }, &none, &reckoned((0.0, 0.0), 2.0)).is_empty());
}
