use std::io::Cursor;

use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

use super::*;
use crate::units::{Angle, Bearing, Height, Speed};

const MILE: f64 = METRES_PER_NAUTICAL_MILE;

type Ring = Vec<(f64, f64)>;

fn chart(rings: &[Ring]) -> Chart {
    let mut shp = Cursor::new(Vec::new());
    let mut writer = ShapeWriter::new(&mut shp);
    for ring in rings {
        let points = ring.iter().map(|(lon, lat)| Point::new(*lon, *lat)).collect();
        writer.write_shape(&Polygon::new(PolygonRing::Outer(points))).unwrap();
    }
    writer.finalize().unwrap();
    drop(writer);
    Chart::from_files("t", &[("coast.shp", &shp.into_inner())]).unwrap()
}

/// An islet of 24 corners, one of them due north of its middle.
fn islet(lon: f64, lat: f64, miles: f64) -> Ring {
    let north = miles / 60.0;
    let east = north / Angle::from_degrees(lat).radians().cos();
    (0..=24)
        .map(|corner| {
            let (sin, cos) = Angle::from_degrees(15.0 * f64::from(corner % 24)).radians().sin_cos();
            (lon + east * sin, lat + north * cos)
        })
        .collect()
}

fn plan(lat: f64, lon: f64, track_deg: f64) -> Plan {
    Plan {
        from: Position::new(lat, lon).unwrap(),
        track: Bearing::from_degrees(track_deg).unwrap(),
        speed: Speed::from_knots(180.0).unwrap(),
        height: Height::from_feet(300.0).unwrap(),
        sigma: GroundRange::from_nautical_miles(2.0).unwrap(),
        track_sigma: Angle::from_degrees(2.0),
        speed_sigma: Speed::from_knots(5.4).unwrap(),
    }
}

#[test]
fn how_near_the_track_comes_is_told_from_the_rhumb_line() {
    // 300 NM along 62 N, its middle at 0 E; 12 NM from its chord there. Islets of a mile ten miles south and
    // north of it, nine from the track: nine minutes of latitude, 9.02 NM at 62 N (an arc of 1,857 m).
    let chart = chart(&[islet(0.0, 62.0 - 10.0 / 60.0, 1.0), islet(0.6, 62.0 + 10.0 / 60.0, 1.0)]);
    let plan = plan(62.0, -5.301_8, 90.0);
    let found = facing(&chart, &plan, 300.0 * MILE, 40.0 * MILE);
    let mut places = found.places.clone();
    places.sort_by(|a, b| a.abeam_m.total_cmp(&b.abeam_m));
    let [south, north] = places.as_slice() else { panic!("{found:?}") };
    for (place, right, run_nm) in [(south, true, 150.0), (north, false, 166.9)] {
        assert!((place.off_m / MILE - 9.02).abs() < 0.03, "{place:?}");
        assert!((place.abeam_m / MILE - run_nm).abs() < 0.3, "{place:?}");
        assert_eq!(place.right, right, "{place:?}");
    }
    assert_eq!(found.left_out, 0);
    // So is what lies within reach.
    assert_eq!(facing(&chart, &plan, 300.0 * MILE, 9.1 * MILE).places.len(), 2);
    assert!(facing(&chart, &plan, 300.0 * MILE, 8.9 * MILE).places.is_empty());
}

/// Land north of 50 N from 9 to 11 E, its sides no straight ones: no chart was cut there.
fn mainland() -> Ring {
    let along = |i: i32| f64::from(i) / 100.0;
    let south = (0..=200).map(|i| (9.0 + along(i), 50.0 + 0.004 * (f64::from(i) * 1.3).sin()));
    let odd = |i: i32| 0.01 * f64::from(i % 2);
    let east = (1..50).map(|i| (11.0 + odd(i), 50.0 + 2.0 * along(i)));
    let north = (0..=100).map(|i| (11.0 - 2.0 * along(i), 51.0 + odd(i)));
    let west = (1..50).map(|i| (9.0 - odd(i), 51.0 - 2.0 * along(i)));
    let mut ring: Ring = south.chain(east).chain(north).chain(west).collect();
    ring.push((9.0, 50.0));
    // Clockwise, as land is.
    ring.reverse();
    ring
}

#[test]
fn islets_by_the_track_do_not_take_the_place_of_the_coast_behind_them() {
    // Nine rows of four islets on either side of a track that leads north to the coast.
    let mut rings = vec![mainland()];
    for row in 0..9 {
        for lon in [9.8, 9.9, 10.1, 10.2] {
            rings.push(islet(lon, 49.45 + 0.055 * f64::from(row), 0.35));
        }
    }
    let plan = plan(49.4, 10.0, 0.0);
    let places = |rings: &[Ring]| facing(&chart(rings), &plan, 30.0 * MILE, 40.0 * MILE);
    let coast = |found: &Facing| {
        let mut at: Vec<(i64, i64)> = found
            .places
            .iter()
            .filter(|place| place.at.latitude() > 49.98)
            .map(|place| {
                let to = |degrees: f64| (degrees * 1e4).round() as i64;
                (to(place.at.longitude()), to(place.at.latitude()))
            })
            .collect();
        at.sort_unstable();
        at
    };
    let alone = places(&rings[..1]);
    assert!((10..=16).contains(&alone.places.len()), "{alone:?}");
    assert_eq!(alone.left_out, 0);
    let among = places(&rings);
    assert_eq!(among.places.len(), MOST_PLACES);
    assert_eq!(coast(&among), coast(&alone));
    // Of 36 islets as many as are left over.
    let left = 36 + alone.places.len() - MOST_PLACES;
    assert!((left - 4..=left + 1).contains(&among.left_out), "{} of {left}", among.left_out);
}
