//! Made-up coasts of rings as rough as real ones.

use std::io::Cursor;

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

/// Rings of so many places, about the middles given, as rough as real coasts.
pub fn coast(rng: &mut ChaCha8Rng, middles: &[(f64, f64, f64)], places: usize) -> Vec<u8> {
    let mut shp = Cursor::new(Vec::new());
    let mut writer = ShapeWriter::new(&mut shp);
    for &(lat, lon, size) in middles {
        let waves: Vec<(f64, f64)> = (2..9)
            .map(|n| (0.35 / f64::from(n), std::f64::consts::TAU * rng.random::<f64>()))
            .collect();
        let mut ring: Vec<Point> = (0..places)
            .map(|i| {
                // Clockwise, as the format asks of land.
                let along = -std::f64::consts::TAU * i as f64 / places as f64;
                let wave: f64 = (2..9)
                    .zip(&waves)
                    .map(|(n, (a, b))| a * (f64::from(n) * along + b).sin())
                    .sum();
                let reach = size * (1.0 + 0.5 * wave + 0.02 * rng.random::<f64>());
                let (sin, cos) = along.sin_cos();
                let lon = lon + reach * cos;
                let lon = if lon >= 180.0 { lon - 360.0 } else { lon };
                Point::new(lon, (lat + 0.6 * reach * sin).clamp(-89.9, 89.9))
            })
            .collect();
        ring.push(ring[0]);
        writer.write_shape(&Polygon::new(PolygonRing::Outer(ring))).unwrap();
    }
    writer.finalize().unwrap();
    drop(writer);
    shp.into_inner()
}
