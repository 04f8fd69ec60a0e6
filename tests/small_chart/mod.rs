//! A chart of two islands, to be made unsound, and what is said of it then.

use std::fs;
use std::path::Path;

use foreland::chart::{Chart, ChartError};
use miette::Diagnostic;
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

const WGS84: &str = r#"GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]"#;

pub fn island(west: f64, south: f64) -> Polygon {
    let corners = [(0.0, 0.0), (0.0, 0.2), (0.2, 0.2), (0.2, 0.0), (0.0, 0.0)];
    let ring = corners.iter().map(|(x, y)| Point::new(west + x, south + y)).collect();
    Polygon::new(PolygonRing::Outer(ring))
}

/// Writes the islands as `coast.shp` and its index.
pub fn write_coast(folder: &Path, islands: &[Polygon]) {
    let mut writer = ShapeWriter::from_path(folder.join("coast.shp")).unwrap();
    for island in islands {
        writer.write_shape(island).unwrap();
    }
    drop(writer);
    fs::write(folder.join("coast.prj"), WGS84).unwrap();
}

/// A chart of two islands, changed by `change`.
pub fn changed(change: impl FnOnce(&Path)) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    write_coast(folder.path(), &[island(-21.0, -38.0), island(-20.5, -38.0)]);
    change(folder.path());
    folder
}

pub fn open(folder: &Path) -> Result<Chart, ChartError> {
    Chart::open(&[folder.to_path_buf()])
}

/// Message and help of the refusal, with the folder written as `CHART`.
pub fn told(folder: &Path) -> (String, String) {
    let error = open(folder).map(|_| ()).unwrap_err();
    let plain = |text: String| text.replace(&folder.display().to_string(), "CHART");
    let help = error.help().map(|help| help.to_string()).unwrap_or_default();
    (plain(error.to_string()), plain(help))
}
