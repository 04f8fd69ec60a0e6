//! A chart of one island whose shore has as many vertices as are wanted, crooked at every scale.

use std::f64::consts::TAU;
use std::io::Cursor;

use foreland::chart::Chart;
use foreland::geodesy::{Position, destination};
use foreland::units::{Bearing, GroundRange, True};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

const SEED: u64 = 20_310_401;

/// A chart of it.
pub fn chart(vertices: usize) -> Chart {
    Chart::from_files("great", &[("coast.shp", &shp(vertices))]).unwrap()
}

/// About 20 NM across: each wave of its shore has twice the number and 0.6 of the height of the one
/// before, down to a wave for every two or three vertices.
pub fn shp(vertices: usize) -> Vec<u8> {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let least = vertices as f64 / 3.0;
    let waves: Vec<(f64, f64, f64)> = (0..64)
        .map(|step| (3.0 * 2.0_f64.powi(step), 0.22 * 0.6_f64.powi(step)))
        .take_while(|(number, _)| *number < least)
        .map(|(number, height)| (number, height, random.random_range(0.0..TAU)))
        .collect();
    let centre = Position::new(-38.0, -21.0).unwrap();
    let mut ring: Vec<Point> = (0..vertices)
        .map(|i| {
            let angle = TAU * i as f64 / vertices as f64;
            let wave = |(n, height, phase): &(f64, f64, f64)| height * (n * angle + phase).sin();
            let miles = 10.0 * (1.0 + waves.iter().map(wave).sum::<f64>());
            let range = GroundRange::from_nautical_miles(miles).unwrap();
            let place = destination(centre, Bearing::<True>::wrapped(angle), range);
            Point::new(place.longitude(), place.latitude())
        })
        .collect();
    ring.push(ring[0]);
    let mut shp = Cursor::new(Vec::new());
    let mut writer = ShapeWriter::new(&mut shp);
    writer.write_shape(&Polygon::new(PolygonRing::Outer(ring))).unwrap();
    writer.finalize().unwrap();
    drop(writer);
    shp.into_inner()
}
