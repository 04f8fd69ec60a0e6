//! A coast that grows by more of the same: islands in rows over the globe.

use std::fs;
use std::io::Cursor;
use std::path::PathBuf;

use foreland::chart::GeoBox;
use foreland::geodesy::Position;
use foreland::units::GroundRange;
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

/// Vertices of one island.
const ISLAND: usize = 2_000;
/// Islands to a row.
const ROW: usize = 300;

/// A chart of islands of some 36 NM across, a vertex every tenth of a mile or less, and room for its
/// index.
pub struct Islands {
    _folder: tempfile::TempDir,
    pub chart: Vec<PathBuf>,
    pub index: PathBuf,
}

/// The middle of an island, in degrees.
pub fn middle(island: usize) -> (f64, f64) {
    (-60.0 + 4.0 * (island / ROW) as f64, -170.0 + 1.1 * (island % ROW) as f64)
}

/// How many islands have so many vertices together.
pub fn count(vertices: usize) -> usize {
    vertices / ISLAND
}

impl Islands {
    pub fn of(vertices: usize) -> Self {
        let mut shp = Cursor::new(Vec::new());
        let mut writer = ShapeWriter::new(&mut shp);
        for (lat, lon) in (0..count(vertices)).map(middle) {
            let mut ring: Vec<Point> = (0..ISLAND)
                .map(|i| {
                    let along = -std::f64::consts::TAU * i as f64 / ISLAND as f64;
                    let reach = 0.3 + 0.06 * (5.0 * along).sin() + 0.02 * (37.0 * along).sin();
                    Point::new(lon + reach * along.cos(), lat + reach * along.sin())
                })
                .collect();
            ring.push(ring[0]);
            writer.write_shape(&Polygon::new(PolygonRing::Outer(ring))).unwrap();
        }
        writer.finalize().unwrap();
        drop(writer);
        let folder = tempfile::tempdir().unwrap();
        let chart = folder.path().join("chart");
        fs::create_dir(&chart).unwrap();
        fs::write(chart.join("coast.shp"), shp.into_inner()).unwrap();
        let index = folder.path().join("chart.index");
        Self { _folder: folder, chart: vec![chart], index }
    }

    /// Among the first islands, whatever the number: what a display would open it for.
    pub fn about() -> GeoBox {
        let radius = GroundRange::from_nautical_miles(200.0).unwrap();
        GeoBox::around(Position::wrapped(-60.0, -168.0), radius)
    }
}
