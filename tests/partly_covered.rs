//! A coast that a grid covers in part: what is told of the rest.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use std::io::Cursor;

use foreland::chart::Chart;
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

/// A one-degree tile of a slope, three seconds of arc apart.
fn tile() -> Vec<u8> {
    (0..1201 * 1201).flat_map(|i| (50 + (i % 1201) as i16 / 10).to_be_bytes()).collect()
}

fn coast(south: f64, north: f64) -> Vec<u8> {
    let (west, east) = (-20.6, -20.4);
    polygon(&[(west, south), (west, north), (east, north), (east, south), (west, south)])
}

fn polygon(ring: &[(f64, f64)]) -> Vec<u8> {
    let mut shp = Cursor::new(Vec::new());
    {
        let mut writer = ShapeWriter::new(&mut shp);
        let points = ring.iter().map(|(x, y)| Point::new(*x, *y)).collect();
        writer.write_shape(&Polygon::new(PolygonRing::Outer(points))).unwrap();
        writer.finalize().unwrap();
    }
    shp.into_inner()
}

fn chart(south: f64, north: f64, grids: &[&str]) -> Chart {
    let (shp, tile) = (coast(south, north), tile());
    let mut files: Vec<(&str, &[u8])> = vec![("coast.shp", &shp)];
    files.extend(grids.iter().map(|name| (*name, tile.as_slice())));
    Chart::from_files("test", &files).unwrap()
}

#[test]
fn the_shore_beyond_the_grid_is_measured_and_told() {
    // The tile ends at 37 S; the island goes on for 0.4 degrees: twice 24 NM of side and 9.6 NM of
    // north shore, of 2 · 48 NM and 2 · 9.6 NM (computed on a sphere; to a part in a hundred).
    let chart = chart(-37.4, -36.6, &["S38W021.hgt"]);
    let bare = chart.survey().without_grid.unwrap();
    assert!((bare.length_nm - 57.6).abs() < 0.6, "{bare:?}");
    assert!((bare.share - 57.6 / 115.2).abs() < 0.01, "{bare:?}");
    assert!((bare.extent.south - -37.0).abs() < 0.03 && bare.extent.north > -36.61, "{bare:?}");
    let told: Vec<&String> =
        chart.cautions().iter().filter(|told| told.contains("no elevation grid reaches")).collect();
    assert_eq!(told.len(), 1, "{:?}", chart.cautions());
    assert!(told[0].contains("(50 % of it), between 36°5"), "{told:?}");
}

#[test]
fn a_coast_that_grids_cover_is_not_told() {
    let covered = chart(-37.9, -37.1, &["S38W021.hgt"]);
    let by_two = chart(-37.4, -36.6, &["S38W021.hgt", "S37W021.hgt"]);
    let none = chart(-37.4, -36.6, &[]);
    for chart in [covered, by_two, none] {
        assert_eq!(chart.survey().without_grid, None);
    }
}

#[test]
fn more_shore_than_the_way_round_the_earth_is_told_in_full() {
    // Fjords: 500 tongues of land, each a degree of latitude long on either side, 60 NM; what joins them is a
    // hundredth of a degree wide, and the coast behind closes them: 60,986 NM in all (computed on a sphere).
    let mut ring: Vec<(f64, f64)> = (0..1000)
        .flat_map(|i| {
            let lon = 10.0 + 0.01 * f64::from(i);
            if i % 2 == 0 { [(lon, 39.5), (lon, 40.5)] } else { [(lon, 40.5), (lon, 39.5)] }
        })
        .collect();
    ring.extend([(20.0, 39.5), (20.0, 39.0), (15.0, 38.9), (10.0, 39.0), (10.0, 39.5)]);
    let (shp, tile) = (polygon(&ring), tile());
    let files: [(&str, &[u8]); 2] = [("coast.shp", &shp), ("S38W021.hgt", &tile)];
    let chart = Chart::from_files("fjords", &files).unwrap();
    let bare = chart.survey().without_grid.unwrap();
    assert!((bare.length_nm / 60_986.0 - 1.0).abs() < 0.005, "{bare:?}");
    assert!((bare.share - 1.0).abs() < 1e-9, "{bare:?}");
}
