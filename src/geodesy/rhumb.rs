use super::geodesic::course;
use super::position::Position;
use super::{WGS84_ECCENTRICITY_SQUARED as E2, WGS84_EQUATORIAL_RADIUS_M, WGS84_FLATTENING};
use crate::units::{Angle, Bearing, True};

/// Third flattening of the ellipsoid.
const N: f64 = WGS84_FLATTENING / (2.0 - WGS84_FLATTENING);

/// Metres of meridian to a radian of rectifying latitude.
const RECTIFYING_RADIUS_M: f64 =
    WGS84_EQUATORIAL_RADIUS_M / (1.0 + N) * (1.0 + N * N / 4.0 + N * N * N * N / 64.0);

/// The latitude, in degrees, that no rhumb line is followed beyond: it would wind about the pole.
const LAST_LATITUDE_DEG: f64 = 89.999;

/// Nodes and weights of Gauss and Legendre on `[0, 1]`, five points (tabled values).
const NODES: [(f64, f64); 5] = [
    (0.046_910_077_030_668, 0.118_463_442_528_094_5),
    (0.230_765_344_947_158_5, 0.239_314_335_249_683_2),
    (0.5, 0.284_444_444_444_444_4),
    (0.769_234_655_052_841_5, 0.239_314_335_249_683_2),
    (0.953_089_922_969_332, 0.118_463_442_528_094_5),
];

/// The position reached by holding one direction for `metres`: negative goes backward.
///
/// A rhumb line on the ellipsoid. Latitude follows from the length of the meridian (series in the
/// third flattening to its fourth power, as in Snyder, "Map projections: a working manual", USGS
/// 1987, from memory), longitude from the radius of each parallel on the way, integrated. Within
/// 1 mm of short geodesic steps in the same direction over 600 NM (tested). A line that would pass
/// 89.999° stops there.
pub fn along_track(from: Position, track: Bearing<True>, metres: f64) -> Position {
    let (sin, cos) = track.sin_cos();
    let start = meridian_arc(Angle::from_degrees(from.latitude()).radians());
    let last = meridian_arc(Angle::from_degrees(LAST_LATITUDE_DEG).radians());
    let latitude_after = |part: f64| {
        let arc = (start + part * metres * cos).clamp(-last, last);
        latitude_of_arc(arc)
    };
    let turns: f64 =
        NODES.iter().map(|(node, weight)| weight / parallel_radius(latitude_after(*node))).sum();
    let longitude = from.longitude() + degrees(metres * sin * turns);
    Position::wrapped(degrees(latitude_after(1.0)), longitude)
}

/// The direction to hold, and the metres to run, from one position to another along a rhumb line.
///
/// The inverse of [`along_track`], found by it: each turn sets direction and run right by what the
/// end is off, to a millimetre within 1,000 NM. The shorter way round; none is certain past a pole.
pub fn rhumb_course(from: Position, to: Position) -> (Bearing<True>, f64) {
    const TURNS: usize = 30;
    let line = course(from, to);
    // A rhumb line leaves the geodesic by half of what the meridians close by.
    let half = Angle::from_radians(0.5 * line.arrival.minus(line.initial).radians());
    let (mut track, mut run_m) = (line.initial.turned(half), line.distance.metres());
    for _ in 0..TURNS {
        let off = course(along_track(from, track, run_m), to);
        let off_m = off.distance.metres();
        if off_m < 1e-3 || run_m < 1.0 {
            break;
        }
        let (sin, cos) = off.initial.minus(track).radians().sin_cos();
        track = track.turned(Angle::from_radians(off_m * sin / run_m));
        run_m += off_m * cos;
    }
    (track, run_m)
}

/// Degrees of any number of turns: `Angle` alone would wrap them.
fn degrees(radians: f64) -> f64 {
    radians * (Angle::from_radians(1.0).degrees())
}

/// Metres along the meridian from the equator to a latitude in radians.
fn meridian_arc(latitude: f64) -> f64 {
    let (n2, n3, n4) = (N * N, N * N * N, N * N * N * N);
    RECTIFYING_RADIUS_M
        * (latitude - (1.5 * N - 9.0 / 16.0 * n3) * (2.0 * latitude).sin()
            + (15.0 / 16.0 * n2 - 15.0 / 32.0 * n4) * (4.0 * latitude).sin()
            - 35.0 / 48.0 * n3 * (6.0 * latitude).sin()
            + 315.0 / 512.0 * n4 * (8.0 * latitude).sin())
}

/// The latitude in radians at a length of meridian from the equator.
fn latitude_of_arc(metres: f64) -> f64 {
    let (n2, n3, n4) = (N * N, N * N * N, N * N * N * N);
    let mu = metres / RECTIFYING_RADIUS_M;
    mu + (1.5 * N - 27.0 / 32.0 * n3) * (2.0 * mu).sin()
        + (21.0 / 16.0 * n2 - 55.0 / 32.0 * n4) * (4.0 * mu).sin()
        + 151.0 / 96.0 * n3 * (6.0 * mu).sin()
        + 1097.0 / 512.0 * n4 * (8.0 * mu).sin()
}

/// Radius in metres of the parallel at a latitude in radians.
fn parallel_radius(latitude: f64) -> f64 {
    let (sin, cos) = latitude.sin_cos();
    WGS84_EQUATORIAL_RADIUS_M * cos / (1.0 - E2 * sin * sin).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::{course, destination, distance};
    use crate::units::GroundRange;

    #[test]
    fn the_meridian_is_the_geodesic() {
        // A meridian is both: geographiclib is the outside reference.
        for (latitude, run) in [(0.0, 110_574.388_56), (50.0, 111_238.680_86), (-70.0, 500_000.0)] {
            let from = Position::new(latitude, 12.0).unwrap();
            let north = Bearing::ZERO;
            let line = destination(from, north, GroundRange::from_metres(run).unwrap());
            let rhumb = along_track(from, north, run);
            assert!(distance(line, rhumb).metres() < 1e-3, "{latitude}");
            let back = along_track(rhumb, north, -run);
            assert!(distance(back, from).metres() < 1e-3, "{latitude}");
        }
    }

    #[test]
    fn a_parallel_is_kept() {
        // One degree of the parallel of 50° N, 71,695.7 m: N cos φ (computed).
        let from = Position::new(50.0, 179.5).unwrap();
        let run = parallel_radius(Angle::from_degrees(50.0).radians())
            * Angle::from_degrees(1.0).radians();
        let there = along_track(from, Bearing::from_degrees(90.0).unwrap(), run);
        assert!((there.latitude() - 50.0).abs() < 1e-10);
        assert!((there.longitude() - -179.5).abs() < 1e-10);
    }

    #[test]
    fn short_geodesic_steps_make_the_same_line() {
        // Outside reference: geographiclib, 6,000 steps that each start in the same direction.
        for (latitude, track, miles) in
            [(38.2, 74.0, 600.0), (-61.0, 225.0, 600.0), (5.0, 300.0, 600.0), (70.0, 91.0, 200.0)]
        {
            let start = Position::new(latitude, -21.5).unwrap();
            let track = Bearing::from_degrees(track).unwrap();
            let metres = miles * 1852.0;
            let steps = 6000;
            let half = GroundRange::from_metres(metres / f64::from(2 * steps)).unwrap();
            let mut there = start;
            for _ in 0..steps {
                // Aimed so that the middle of the step has the direction.
                let line = course(there, destination(there, track, half));
                let aimed = track.turned(line.initial.minus(line.arrival));
                there = destination(there, aimed, half + half);
            }
            let rhumb = along_track(start, track, metres);
            let apart = distance(there, rhumb).metres();
            assert!(apart < 1e-3, "{latitude} {apart}");
        }
    }

    #[test]
    fn half_round_the_earth_on_one_direction() {
        // New York to Singapore on 103°34'58.2", 18,523,563 m: example in the manual page of a
        // library's rhumb line program (from memory, and it comes out to a metre).
        let from = Position::new(
            40.0 + 38.0 / 60.0 + 23.0 / 3600.0,
            -(73.0 + 46.0 / 60.0 + 44.0 / 3600.0),
        );
        let to =
            Position::new(1.0 + 21.0 / 60.0 + 33.0 / 3600.0, 103.0 + 59.0 / 60.0 + 22.0 / 3600.0);
        let track = Bearing::from_degrees(103.0 + 34.0 / 60.0 + 58.2 / 3600.0).unwrap();
        let there = along_track(from.unwrap(), track, 18_523_563.0);
        let off = distance(there, to.unwrap()).metres();
        // A tenth of an arc second, half of the last digit printed, is 5 m over this length.
        assert!(off < 6.0, "{off}");
    }

    #[test]
    fn the_course_to_a_place_leads_there() {
        for (track, miles) in [(74.0, 120.0), (180.0, 30.0), (301.5, 600.0), (359.9, 5.0)] {
            for latitude in [-61.0, 0.0, 38.2, 70.0] {
                let from = Position::new(latitude, 179.0).unwrap();
                let held = Bearing::from_degrees(track).unwrap();
                let (found, run_m) = rhumb_course(from, along_track(from, held, miles * 1852.0));
                assert!((run_m - miles * 1852.0).abs() < 0.01, "{track} {latitude} {run_m}");
                assert!(found.minus(held).degrees().abs() < 1e-5, "{track} {latitude} {found:?}");
            }
        }
    }

    #[test]
    fn no_line_goes_past_the_pole() {
        let from = Position::new(89.9, 0.0).unwrap();
        let there = along_track(from, Bearing::from_degrees(10.0).unwrap(), 1e6);
        assert!(there.latitude() <= 90.0 && there.longitude().is_finite());
    }
}
