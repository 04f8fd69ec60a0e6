//! Every kind of GeoTIFF that is read gives the heights that were written.
//!
//! The files under `tests/reference/geotiff` come from an independent writer (tifffile with
//! imagecodecs, by the script beside them); the formula of their heights stands there.
#![allow(clippy::unwrap_used)] // a test that cannot go on has failed

use std::fs;
use std::path::Path;

use foreland::chart::Chart;
use foreland::geodesy::Position;
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

const STEP: f64 = 0.01;

/// A chart of one wide land under the grid, and the grid.
fn chart_of(grid: &str) -> Chart {
    let folder = tempfile::tempdir().unwrap();
    let corners = [(-22.0, -38.0), (-22.0, -36.0), (-20.0, -36.0), (-20.0, -38.0), (-22.0, -38.0)];
    let ring = corners.iter().map(|(x, y)| Point::new(*x, *y)).collect();
    let mut writer = ShapeWriter::from_path(folder.path().join("coast.shp")).unwrap();
    writer.write_shape(&Polygon::new(PolygonRing::Outer(ring))).unwrap();
    drop(writer);
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/geotiff").join(grid);
    fs::copy(kept, folder.path().join("relief.tif")).unwrap();
    Chart::open(&[folder.path().to_path_buf()]).unwrap()
}

/// The height at a place so many cells east and south of the raster's corner.
fn height(chart: &Chart, east: f64, south: f64) -> f64 {
    let at = Position::new(-37.0 - STEP * south, -21.0 + STEP * east).unwrap();
    chart.ground().at(at).height.metres()
}

/// A tenth of a metre: single precision, and half a step of longitude in the last bit.
const TOLERANCE_M: f64 = 0.1;

#[test]
fn every_kind_gives_the_heights_that_were_written() {
    for kind in [
        "strips-int16",
        "strips-int16-big-endian",
        "strips-uint16",
        "strips-float32",
        "tiles-int16",
        "tiles-float32-deflate",
        "lzw-int16",
        "lzw-int16-predictor",
        "deflate-int16-predictor",
        "deflate-float32-predictor",
        "tiles-deflate-int16-predictor",
    ] {
        let chart = chart_of(&format!("{kind}.tif"));
        for (row, column) in [(0.0, 0.0), (0.0, 39.0), (29.0, 0.0), (29.0, 39.0), (13.0, 22.0)] {
            // The height of an area stands in its middle.
            let found = height(&chart, column + 0.5, row + 0.5);
            let written = 10.0 + 3.0 * row + 2.0 * column;
            assert!((found - written).abs() < TOLERANCE_M, "{kind} {row} {column}: {found}");
        }
        // Between heights: a plane is interpolated exactly.
        let found = height(&chart, 10.0, 20.0);
        assert!((found - (10.0 + 3.0 * 19.5 + 2.0 * 9.5)).abs() < TOLERANCE_M, "{kind}: {found}");
    }
}

#[test]
fn a_pixel_that_is_a_point_has_its_height_at_its_corner() {
    let chart = chart_of("point-int16.tif");
    for (row, column) in [(0.0, 0.0), (13.0, 22.0), (29.0, 39.0)] {
        let found = height(&chart, column, row);
        assert!((found - (10.0 + 3.0 * row + 2.0 * column)).abs() < TOLERANCE_M, "{found}");
    }
}

#[test]
fn missing_heights_are_filled_from_their_rim_and_counted() {
    let chart = chart_of("nodata-int16.tif");
    assert_eq!(
        chart.survey().grids.iter().map(|grid| grid.heights.unwrap().voids).sum::<usize>(),
        4
    );
    let found = height(&chart, 21.0, 11.0);
    // The middle of the hole, row 10.5 and column 20.5: 10 + 3 * 10.5 + 2 * 20.5 by the formula, to
    // which a hole in a plane is filled by symmetry, rounded to whole metres.
    assert!((found - 82.5).abs() <= 0.5, "{found}");
    assert!(chart.cautions().iter().any(|told| told.contains("4 heights are missing")));
}
