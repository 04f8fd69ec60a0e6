//! Coasts that are nowhere: bays all alike, and one island in three places.

use std::f64::consts::TAU;
use std::io::Cursor;

use foreland::chart::Chart;
use foreland::geodesy::{Position, destination};
use foreland::units::{Bearing, GroundRange, True};
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

use super::random::{between, stream};
use super::shore::MILE;

/// From one tooth of the saw to the next, and how far it stands out, in degrees of latitude.
const TOOTH: f64 = 0.1;
const DEPTH: f64 = 0.04;

/// Half the length of the saw in degrees of latitude.
const HALF: f64 = 3.0;

fn chart_of(name: &str, ring: &[(f64, f64)]) -> Chart {
    let mut shp = Cursor::new(Vec::new());
    {
        let mut writer = ShapeWriter::new(&mut shp);
        let mut points: Vec<Point> = ring.iter().map(|(lon, lat)| Point::new(*lon, *lat)).collect();
        points.push(points[0]);
        writer.write_shape(&Polygon::new(PolygonRing::Outer(points))).unwrap();
        writer.finalize().unwrap();
    }
    Chart::from_files(name, &[("coast.shp", &shp.into_inner())]).unwrap()
}

/// A straight coast of sixty capes six miles apart, land to the east, about 0° N 20° W.
pub fn sawtooth() -> Chart {
    let teeth = (2.0 * HALF / TOOTH).round() as u32;
    let south = |tooth: u32| -HALF + TOOTH * f64::from(tooth);
    let edge = (0..teeth)
        .flat_map(|tooth| [(-20.0, south(tooth)), (-20.0 - DEPTH, south(tooth) + 0.5 * TOOTH)]);
    // Northward along the shore, land to the right, and back far inland.
    let ring: Vec<(f64, f64)> =
        edge.chain([(-20.0, HALF), (-18.5, HALF), (-18.5, -HALF)]).collect();
    chart_of("sawtooth", &ring)
}

/// A ragged island some fifty miles across about a place.
pub fn ragged(latitude: f64, longitude: f64) -> Chart {
    const POINTS: u32 = 360;
    let mut random = stream(4_711, 0);
    let waves: Vec<(f64, f64, f64)> = [3.0, 5.0, 8.0, 13.0, 19.0, 29.0, 41.0]
        .into_iter()
        .map(|turns: f64| {
            (
                turns,
                9.0 / turns.powf(0.7) * between(&mut random, 0.6, 1.2),
                between(&mut random, 0.0, TAU),
            )
        })
        .collect();
    let centre = Position::wrapped(latitude, longitude);
    let at = |turn: f64, miles: f64| {
        let towards = Bearing::<True>::wrapped(turn);
        let place = destination(centre, towards, GroundRange::clamped_metres(miles * MILE));
        // Over the date line a ring goes on beyond 180.
        let east = place.longitude() - longitude;
        (longitude + east - 360.0 * (east / 360.0).round(), place.latitude())
    };
    let ring: Vec<(f64, f64)> = (0..POINTS)
        .map(|i| {
            let turn = TAU * f64::from(i) / f64::from(POINTS);
            let wave = waves.iter().map(|(turns, size, phase)| size * (turns * turn + phase).sin());
            at(turn, 25.0 + wave.sum::<f64>().clamp(-15.0, 15.0))
        })
        .collect();
    chart_of("ragged", &ring)
}
