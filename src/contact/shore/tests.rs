use super::*;
use crate::contact::{BearingKind, Own, ReadBearing};
use crate::geodesy::{course, destination, distance};
use crate::units::{GyroError, Height};
use proptest::prelude::*;

fn miles(value: f64) -> GroundRange {
    GroundRange::from_nautical_miles(value).unwrap()
}

fn bearing(degrees: f64) -> Bearing<True> {
    Bearing::wrapped_degrees(degrees)
}

fn point(east_nm: f64, north_nm: f64) -> PlanePoint {
    PlanePoint { east: east_nm * 1852.0, north: north_nm * 1852.0 }
}

/// A shore about 38° S 21° W, its points in nautical miles east and north.
fn shore(lines: &[&[(f64, f64)]], radius_nm: f64) -> Shore {
    let plane = LocalPlane::new(Position::new(-38.0, -21.0).unwrap());
    let lines: Vec<Vec<PlanePoint>> =
        lines.iter().map(|line| line.iter().map(|(e, n)| point(*e, *n)).collect()).collect();
    Shore::new(plane, lines.iter().map(Vec::as_slice), miles(radius_nm))
}

fn place(shore: &Shore, east_nm: f64, north_nm: f64) -> Position {
    shore.plane.to_position(point(east_nm, north_nm))
}

/// Every straight piece of a shore.
fn segments(shore: &Shore) -> impl Iterator<Item = (PlanePoint, PlanePoint)> {
    shore.lines.iter().flat_map(|line| line.iter().zip(line.iter().skip(1)).map(|(a, b)| (*a, *b)))
}

const HALF_BEAM_DEG: f64 = 1.2;

#[test]
fn a_straight_shore_answers_from_its_nearer_side_in_the_beam() {
    // A shore along the parallel, own 10 NM south: on a bearing β off the perpendicular the near
    // side of the beam meets it at 10 / cos(β − half beam) (trigonometry), on it at 10.
    let shore = shore(&[&[(-40.0, 0.0), (40.0, 0.0)]], 60.0);
    let own = place(&shore, 0.0, -10.0);
    for (off, beam_cuts) in [(0.0, 0.0), (1.0, 0.0), (20.0, 18.8), (45.0, 43.8), (-30.0, 28.8f64)] {
        let edge =
            shore.leading_edge(own, bearing(off), Angle::from_degrees(HALF_BEAM_DEG)).unwrap();
        let expected = 10.0 / Angle::from_degrees(beam_cuts).radians().cos();
        // 40 NM off in the plane, a part in 20,000 is 4 m.
        assert!((edge.range.nautical_miles() - expected).abs() < 0.002, "{off} {edge:?}");
    }
    let nearest = shore.nearest(own).unwrap();
    assert!((nearest.range.nautical_miles() - 10.0).abs() < 0.001);
    let along = Angle::from_degrees(HALF_BEAM_DEG);
    assert_eq!(shore.leading_edge(own, bearing(180.0), along), None);
}

#[test]
fn the_point_that_answers_moves_with_the_observer() {
    // A headland: two sides that meet in a tip at the centre. From dead ahead the tip answers;
    // from abeam of its eastern side, that side.
    let shore = shore(&[&[(-3.0, 3.0), (0.0, 0.0), (3.0, 3.0)]], 10.0);
    let half = Angle::from_degrees(HALF_BEAM_DEG);
    let tip = place(&shore, 0.0, 0.0);
    let ahead = place(&shore, 0.0, -15.0);
    let edge = shore.leading_edge(ahead, course(ahead, tip).initial, half).unwrap();
    assert!(distance(edge.position, tip).nautical_miles() < 0.002);
    let abeam = place(&shore, 12.0, -8.0);
    let side = place(&shore, 2.0, 2.0);
    let edge = shore.leading_edge(abeam, course(abeam, side).initial, half).unwrap();
    assert!(distance(edge.position, tip).nautical_miles() > 1.5);
    // The ground is the geodesic's: geographiclib is the reference.
    let line = course(abeam, edge.position);
    assert!((line.distance - edge.range).abs() < 3.0);
    assert!(line.initial.minus(edge.bearing).degrees().abs() < 0.01);
}

#[test]
fn shore_outside_the_disc_does_not_answer() {
    // The same bearing passes a spit that is not this headland's.
    let with_spit = [&[(-3.0, 3.0), (0.0, 0.0), (3.0, 3.0)][..], &[(-1.0, -8.0), (1.0, -8.0)][..]];
    let shore = shore(&with_spit, 5.0);
    let own = place(&shore, 0.0, -15.0);
    let edge = shore.leading_edge(own, bearing(0.0), Angle::from_degrees(HALF_BEAM_DEG)).unwrap();
    assert!((edge.range.nautical_miles() - 15.0).abs() < 0.005, "{edge:?}");
    assert!(segments(&shore).all(
        |(a, b)| a.east.hypot(a.north) < 5.01 * 1852.0 && b.east.hypot(b.north) < 5.01 * 1852.0
    ));
}

/// How far along a ray from the origin it meets the line from `a` to `b`.
fn along_ray(ray: Bearing<True>, a: (f64, f64), b: (f64, f64)) -> Option<f64> {
    let (sin, cos) = ray.sin_cos();
    let (d_east, d_north) = (b.0 - a.0, b.1 - a.1);
    let across = sin * d_north - cos * d_east;
    let along = (a.0 * d_north - a.1 * d_east) / across;
    let share = (a.0 * cos - a.1 * sin) / across;
    (across.abs() > 1e-9 && along > 0.0 && (0.0..=1.0).contains(&share)).then_some(along)
}

proptest! {
    #[test]
    fn no_sampled_ray_finds_nearer_shore(
        east in -15.0f64..15.0, north in -20.0f64..-6.0, off in -6.0f64..6.0, half in 0.2f64..4.0,
    ) {
        // Outside reference: rays every hundredth of a degree, each cut with every piece.
        let line = [(-5.0, 4.0), (-1.5, 2.0), (-1.0, 0.5), (0.0, -0.5), (0.7, 0.2), (2.0, 2.5), (6.0, 3.0)];
        let shore = shore(&[&line], 20.0);
        let own_plane = point(east, north);
        let own = shore.plane.to_position(own_plane);
        let towards = Bearing::<True>::wrapped((-east).atan2(-north)).turned(Angle::from_degrees(off));
        let truly = towards.turned(convergence_between(shore.plane.centre(), shore.plane.to_position(own_plane)));
        let found = shore.leading_edge(own, truly, Angle::from_degrees(half));
        let sampled = |half: f64| {
            let mut nearest = f64::INFINITY;
            let steps = (half * 100.0).floor() as i32;
            for step in -steps..=steps {
                let ray = towards.turned(Angle::from_degrees(f64::from(step) / 100.0));
                for (a, b) in segments(&shore) {
                    let hit = along_ray(ray, relative(a, own_plane), relative(b, own_plane));
                    nearest = nearest.min(hit.unwrap_or(f64::INFINITY));
                }
            }
            nearest
        };
        let range = found.map_or(f64::INFINITY, |edge| edge.range.metres());
        // There and back through the plane is good to a centimetre or two, which a shore seen at
        // a slant stretches; a ray may miss a tip by a hundredth of a degree.
        let (inside, around) = (sampled(half), sampled(half + 0.02));
        prop_assert!(range <= inside + 2.0, "{range} {inside}");
        prop_assert!(range >= around - 250.0, "{range} {around}");
    }

    #[test]
    fn no_piece_that_is_passed_over_is_nearer(
        east in -12.0f64..12.0, north in -12.0f64..12.0, towards in 0.0f64..360.0, half in 0.1f64..40.0,
    ) {
        // A ragged ring of two hundred pieces, every one of them asked.
        let ring: Vec<(f64, f64)> = (0..=200)
            .map(|i| {
                let (sin, cos) = bearing(f64::from(i) * 1.8).sin_cos();
                let out = 4.0 + f64::from(i * 37 % 11) * 0.2;
                (out * sin, out * cos)
            })
            .collect();
        let shore = shore(&[&ring], 8.0);
        let own = place(&shore, east, north);
        let at = shore.plane.to_plane(own);
        let turn = convergence_between(shore.plane.centre(), own);
        let half = Angle::from_degrees(half);
        let wedge = Wedge::about(bearing(towards).turned(-turn), half.radians());
        let every = segments(&shore)
            .filter_map(|(a, b)| nearest_on(relative(a, at), relative(b, at), Some(wedge)))
            .map(|foot| foot.squared.sqrt())
            .min_by(f64::total_cmp);
        let found = shore.leading_edge(own, bearing(towards), half).map(|e| e.range.metres());
        prop_assert_eq!(found, every);
    }

    #[test]
    fn range_slopes_are_those_of_the_range(
        east in -9.0f64..9.0, north in -20.0f64..-8.0, off in -3.0f64..3.0,
    ) {
        let shore = shore(&[&[(-6.0, 4.0), (0.0, 0.0), (6.0, 2.0)]], 20.0);
        let own = point(east, north);
        let towards = Bearing::<True>::wrapped((-east).atan2(1.0 - north)).turned(Angle::from_degrees(off));
        let at = |de: f64, dn: f64| {
            let here = PlanePoint { east: own.east + de, north: own.north + dn };
            shore.leading_edge(shore.plane.to_position(here), towards, Angle::from_degrees(HALF_BEAM_DEG))
        };
        if let (Some(edge), Some(e1), Some(e0), Some(n1), Some(n0)) =
            (at(0.0, 0.0), at(1.0, 0.0), at(-1.0, 0.0), at(0.0, 1.0), at(0.0, -1.0))
        {
            let slope = [(e1.range - e0.range) / 2.0, (n1.range - n0.range) / 2.0];
            let one_sided = [e1.range - edge.range, n1.range - edge.range];
            for axis in 0..2 {
                // At the step from one piece to the next the slope itself jumps.
                let smooth = (slope[axis] - one_sided[axis]).abs() < 1e-3;
                // The turn of the meridians on the way is left out: under a part in a hundred.
                prop_assert!(!smooth || (slope[axis] - edge.range_by[axis]).abs() < 2e-2,
                    "{slope:?} {edge:?}");
            }
        }
    }
}

#[test]
fn tangents_of_an_island() {
    // A square islet of 2 NM, 20 NM north of own: its nearer corners are its edges.
    let shore = shore(&[&[(-1.0, -1.0), (-1.0, 1.0), (1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)]], 5.0);
    let own = place(&shore, 0.0, -20.0);
    let corner = Angle::from_radians(1.0f64.atan2(19.0)).degrees();
    let left = shore.tangent(own, Part::Left).unwrap();
    let right = shore.tangent(own, Part::Right).unwrap();
    assert!((left.bearing.degrees() - (360.0 - corner)).abs() < 0.01, "{left:?}");
    assert!((right.bearing.degrees() - corner).abs() < 0.01);
    assert_eq!(shore.tangent(own, Part::Near), None);
    // From among it there is no outermost bearing.
    assert_eq!(shore.tangent(place(&shore, 0.0, 0.0), Part::Left), None);
}

#[test]
fn a_shore_that_runs_on_has_no_tangent_there() {
    // A headland whose western side runs on past the disc: only its eastern edge is one.
    let shore = shore(&[&[(-40.0, 1.0), (0.0, 0.0), (0.0, 1.0), (-1.0, 3.0)]], 6.0);
    let own = place(&shore, 0.0, -20.0);
    assert_eq!(shore.tangent(own, Part::Left), None);
    assert!(shore.tangent(own, Part::Right).unwrap().bearing.degrees() < 0.1);
}

#[test]
fn tangents_are_drawn_half_a_beam_outside() {
    // Beam 2°. Right tangent of an island 316 by gyro, error 1 E: 316 true (question and answer of
    // a US deck examination, seen second-hand). Left tangent 056, error 2 E: 059 (question seen
    // second-hand, answer computed by the same rule).
    let half = Angle::from_degrees(1.0);
    for (gyro, error, part, truly) in
        [(316.0, "1 E", Part::Right, 316.0), (56.0, "2 E", Part::Left, 59.0)]
    {
        let mut own = Own::at_height(Height::SEA_LEVEL);
        own.gyro_error = GyroError::parse(error);
        let read = ReadBearing { kind: BearingKind::Gyro, degrees: gyro };
        let drawn = own.to_true(read).unwrap();
        let land = land_edge(drawn, part, half);
        assert!(land.minus(bearing(truly)).degrees().abs() < 1e-9, "{land}");
    }
}

#[test]
fn the_edge_is_where_the_geodesic_meets_it() {
    let shore = shore(&[&[(-6.0, 4.0), (0.0, 0.0), (6.0, 2.0)]], 20.0);
    let own = place(&shore, 20.0, -30.0);
    let tip = place(&shore, 0.0, 0.0);
    let edge = shore
        .leading_edge(own, course(own, tip).initial, Angle::from_degrees(HALF_BEAM_DEG))
        .unwrap();
    let there = destination(own, edge.bearing, edge.range);
    assert!(distance(there, edge.position).metres() < 10.0);
}
