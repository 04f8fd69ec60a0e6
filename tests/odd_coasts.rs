//! Coasts over the date line, round the pole, with holes and with other ways round: what is land.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use std::io::Cursor;

use foreland::chart::{Chart, GeoBox, LandSide};
use foreland::geodesy::{LocalPlane, Position};
use foreland::units::GroundRange;
use shapefile::{Point, Polygon, PolygonRing, Polyline, ShapeWriter};

fn place(lat: f64, lon: f64) -> Position {
    Position::new(lat, lon).unwrap()
}

fn miles(miles: f64) -> GroundRange {
    GroundRange::from_nautical_miles(miles).unwrap()
}

fn points(points: &[(f64, f64)]) -> Vec<Point> {
    points.iter().map(|(lon, lat)| Point::new(*lon, *lat)).collect()
}

fn square(west: f64, south: f64, side: f64) -> Vec<Point> {
    let (east, north) = (west + side, south + side);
    points(&[(west, south), (west, north), (east, north), (east, south), (west, south)])
}

fn chart_of<S: shapefile::record::EsriShape>(shapes: &[S]) -> Chart {
    let mut shp = Cursor::new(Vec::new());
    {
        let mut writer = ShapeWriter::new(&mut shp);
        for shape in shapes {
            writer.write_shape(shape).unwrap();
        }
        writer.finalize().unwrap();
    }
    Chart::from_files("test", &[("coast.shp", &shp.into_inner())]).unwrap()
}

/// Asks the coast, and the ground's mask, which must agree.
fn land(chart: &Chart, at: Position) -> Option<bool> {
    let land = chart.coast().is_land(at);
    assert_eq!(chart.ground().is_land(at), land, "mask at {at}");
    land
}

#[test]
fn an_island_over_the_date_line_is_one_island() {
    let ring = points(&[(179.5, 0.0), (179.5, 1.0), (-179.5, 1.0), (-179.5, 0.0), (179.5, 0.0)]);
    let chart = chart_of(&[Polygon::new(PolygonRing::Outer(ring))]);
    for lon in [179.6, 179.999, -180.0, -179.6] {
        assert_eq!(land(&chart, place(0.5, lon)), Some(true), "{lon}");
    }
    for lon in [179.4, -179.4, 0.0] {
        assert_eq!(land(&chart, place(0.5, lon)), Some(false), "{lon}");
    }
    let area = chart.coast().extent().unwrap();
    assert!((area.west - 179.5).abs() < 1e-9 && (area.east - 180.5).abs() < 1e-9);
    // Seen from either side, its far shore too.
    for lon in [179.9, -179.9] {
        let plane = LocalPlane::new(place(0.5, lon));
        let stretches = chart.coast().stretches(&plane, miles(50.0));
        let east = stretches.iter().flat_map(|s| &s.points).map(|p| p.east);
        let (low, high) = east.fold((0.0_f64, 0.0_f64), |(l, h), e| (l.min(e), h.max(e)));
        assert!((high - low - 111_319.5).abs() < 300.0, "{low} {high}");
    }
    let (range, bearing) = chart.coast().nearest(place(0.5, -179.4), miles(20.0)).unwrap();
    assert!((range.nautical_miles() - 6.01).abs() < 0.03, "{range:?}");
    assert!((bearing.degrees() - 270.0).abs() < 0.5);
}

#[test]
fn a_land_cut_along_the_date_line_has_no_shore_there() {
    let west = square(179.0, 0.0, 1.0);
    let east = points(&[(-180.0, 0.0), (-180.0, 1.0), (-179.0, 1.0), (-179.0, 0.0), (-180.0, 0.0)]);
    let chart =
        chart_of(&[Polygon::new(PolygonRing::Outer(west)), Polygon::new(PolygonRing::Outer(east))]);
    assert_eq!(land(&chart, place(0.5, 179.99)), Some(true));
    assert_eq!(land(&chart, place(0.5, -179.99)), Some(true));
    let near = chart.coast().nearest(place(0.5, 179.99), miles(200.0)).unwrap();
    assert!(near.0.nautical_miles() > 29.0, "the cut is no shore: {near:?}");
}

#[test]
fn a_continent_round_the_pole_holds_the_pole() {
    let shore = [(-180.0, -70.0), (-90.0, -72.0), (0.0, -68.0), (90.0, -71.0), (180.0, -70.0)];
    let closed_by_file: Vec<(f64, f64)> = [(-180.0, -90.0)]
        .into_iter()
        .chain(shore)
        .chain([(180.0, -90.0), (-180.0, -90.0)])
        .collect();
    let charts = [
        chart_of(&[Polygon::new(PolygonRing::Outer(points(&closed_by_file)))]),
        chart_of(&[Polyline::new(points(&shore))]),
    ];
    for chart in &charts {
        for (lat, lon) in [(-90.0, 0.0), (-89.0, 179.9), (-80.0, -45.0), (-72.0, 0.0)] {
            assert_eq!(land(chart, place(lat, lon)), Some(true), "{lat} {lon}");
        }
        for (lat, lon) in [(-60.0, 0.0), (-69.0, 179.9), (-67.0, 0.0)] {
            assert_eq!(land(chart, place(lat, lon)), Some(false), "{lat} {lon}");
        }
        let shore = chart.coast().nearest(place(-89.5, 10.0), miles(900.0));
        assert!(shore.is_none(), "the edges through the pole are no shore: {shore:?}");
    }
}

#[test]
fn a_lake_is_water_and_an_island_in_it_is_land() {
    let lake = PolygonRing::Inner(square(0.2, 0.2, 0.6));
    let outer = PolygonRing::Outer(square(0.0, 0.0, 1.0));
    let island = Polygon::new(PolygonRing::Outer(square(0.4, 0.4, 0.2)));
    let chart = chart_of(&[Polygon::with_rings(vec![outer, lake]), island]);
    assert_eq!(land(&chart, place(0.1, 0.1)), Some(true));
    assert_eq!(land(&chart, place(0.3, 0.3)), Some(false));
    assert_eq!(land(&chart, place(0.5, 0.5)), Some(true));
    assert_eq!(land(&chart, place(1.1, 0.5)), Some(false));
    assert_eq!(chart.coast().lines().filter(|(_, line)| line.hole).count(), 1);
    // Outer rings run clockwise and holes the other way: land is on the right of both.
    assert!(chart.coast().lines().all(|(_, line)| line.land_side == LandSide::Right));
}

#[test]
fn closed_lines_in_pieces_are_islands_and_lakes() {
    let island = points(&[(0.0, 0.0), (0.0, 1.0), (1.0, 1.0)]);
    let rest = points(&[(1.0, 1.0), (1.0, 0.0), (0.0, 0.0)]);
    let lake = square(0.4, 0.4, 0.2);
    let chart = chart_of(&[Polyline::new(island), Polyline::new(lake), Polyline::new(rest)]);
    assert_eq!(chart.coast().line_count(), 2);
    assert!(!chart.coast().has_open_lines());
    assert_eq!(land(&chart, place(0.2, 0.2)), Some(true));
    assert_eq!(land(&chart, place(0.5, 0.5)), Some(false));
}

#[test]
fn an_open_shore_takes_its_side_from_the_islands_of_its_layer() {
    // A mainland shore from edge to edge of the chart, and islands south of it, all with land to
    // the right.
    let mainland = points(&[(1.0, 0.9), (0.5, 0.6), (0.0, 0.9)]);
    let mainland = Polyline::new(mainland);
    let chart = chart_of(&[mainland.clone(), Polyline::new(square(0.4, 0.1, 0.1))]);
    let (_, shore) = chart.coast().lines().find(|(_, line)| !line.closed).unwrap();
    assert_eq!(shore.land_side, LandSide::Right);
    assert!(shore.starts_at_cut && shore.ends_at_cut);
    assert_eq!(land(&chart, place(0.85, 0.5)), Some(true));
    assert_eq!(land(&chart, place(0.5, 0.5)), Some(false));
    // Alone it does not tell.
    let alone = chart_of(&[mainland]);
    assert_eq!(land(&alone, place(0.85, 0.5)), None);
}

#[test]
fn boxes_over_the_date_line_find_shore_on_both_sides() {
    let chart = chart_of(&[
        Polygon::new(PolygonRing::Outer(square(178.9, 0.0, 0.1))),
        Polygon::new(PolygonRing::Outer(square(-179.0, 0.0, 0.1))),
    ]);
    let area = GeoBox::new(-1.0, 178.0, 1.0, 182.0);
    let mut lons: Vec<f64> =
        chart.coast().runs_in(&area).flat_map(|run| run.points().map(|p| p.lon)).collect();
    lons.sort_by(f64::total_cmp);
    assert!((lons[0] - 178.9).abs() < 1e-9 && (lons[lons.len() - 1] - 181.1).abs() < 1e-9);
}

#[test]
fn land_without_heights_rises_from_the_shore_to_its_cap() {
    let chart = chart_of(&[Polygon::new(PolygonRing::Outer(square(0.0, 0.0, 1.0)))]);
    let feet = |lat| chart.ground().at(place(lat, 0.5)).height.feet();
    // 0.01 degree of latitude is 1105.7 m here: 10 ft and 2 % of that (computed).
    assert!((feet(0.01) - (10.0 + 0.02 * 1105.74 / 0.3048)).abs() < 0.3, "{}", feet(0.01));
    assert!((feet(0.5) - 200.0).abs() < 1e-9);
    assert!(feet(-0.01).abs() < 1e-12);
}

#[test]
fn a_polygon_clipped_at_a_box_is_cautioned_and_a_whole_island_is_not() {
    // A land that fills the west of the chart, its east shore ragged, and an island off it.
    let ragged = (0..12).map(|i| {
        let south = f64::from(i) / 12.0;
        (if i % 2 == 0 { -21.5 } else { -21.3 }, -37.0 - south)
    });
    let mut clipped = vec![(-22.0, -38.0), (-22.0, -37.0)];
    clipped.extend(ragged);
    clipped.extend([(-21.4, -38.0), (-22.0, -38.0)]);
    let island = [(-21.1, -37.5), (-21.05, -37.4), (-21.0, -37.5), (-21.05, -37.6), (-21.1, -37.5)];
    let polygon = |ring: &[(f64, f64)]| Polygon::new(PolygonRing::Outer(points(ring)));
    let told = |chart: &Chart| {
        chart.cautions().iter().filter(|told| told.contains("cut out of a larger one")).count()
    };
    assert_eq!(told(&chart_of(&[polygon(&clipped), polygon(&island)])), 1);
    assert_eq!(told(&chart_of(&[polygon(&island)])), 0);
    // A square alone has no other edges, and is taken at its word.
    let square = Polygon::new(PolygonRing::Outer(square(-21.0, -38.0, 0.2)));
    assert_eq!(told(&chart_of(&[square])), 0);
}
