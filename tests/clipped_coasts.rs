//! Coasts cut out of larger ones: the edge of the cut is no shore, and away from it all is as on
//! the whole coast. The clipping is this file's own.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::io::Cursor;

use foreland::chart::{Chart, MarkKind};
use foreland::geodesy::{Position, distance};
use foreland::paint::{Conditions, Expectation, Vantage, expect};
use foreland::radar::Set;
use foreland::units::{GroundRange, Height};
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

/// Longitude and latitude in degrees.
type Place = (f64, f64);

/// West and south sides of the box, through the island.
const WEST: f64 = -22.3;
const SOUTH: f64 = -38.4;

fn place(lon: f64, lat: f64) -> Position {
    Position::new(lat, lon).unwrap()
}

fn miles(miles: f64) -> GroundRange {
    GroundRange::from_nautical_miles(miles).unwrap()
}

fn shp_of(rings: &[Vec<Place>]) -> Vec<u8> {
    let mut shp = Cursor::new(Vec::new());
    {
        let mut writer = ShapeWriter::new(&mut shp);
        for ring in rings {
            let mut points: Vec<Point> = ring.iter().map(|(x, y)| Point::new(*x, *y)).collect();
            points.push(points[0]);
            writer.write_shape(&Polygon::new(PolygonRing::Outer(points))).unwrap();
        }
        writer.finalize().unwrap();
    }
    shp.into_inner()
}

fn chart_of(rings: &[Vec<Place>]) -> Chart {
    Chart::from_files("test", &[("coast.shp", &shp_of(rings))]).unwrap()
}

/// A ragged island, clockwise, some 50 NM across, its shore long enough for capes.
fn island() -> Vec<Place> {
    let turn = |i: u32| -std::f64::consts::TAU * f64::from(i) / 720.0;
    (0..720)
        .map(|i| {
            let t = turn(i);
            let far = 0.42 + 0.05 * (7.0 * t).sin() + 0.03 * (17.0 * t + 1.0).sin();
            (-22.0 + far * t.cos() / 0.788, -38.0 + far * t.sin())
        })
        .collect()
}

/// What a ring has on the kept side of one line (Sutherland and Hodgman, "Reentrant polygon
/// clipping", 1974): pieces hang together by edges that run to and fro along the line.
fn clipped(ring: &[Place], keep: impl Fn(Place) -> f64, on: impl Fn(Place) -> Place) -> Vec<Place> {
    let mut kept = Vec::new();
    for (i, &b) in ring.iter().enumerate() {
        let a = ring[(i + ring.len() - 1) % ring.len()];
        let (in_a, in_b) = (keep(a), keep(b));
        if (in_a >= 0.0) != (in_b >= 0.0) {
            let share = in_a / (in_a - in_b);
            kept.push(on((a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1))));
        }
        if in_b >= 0.0 {
            kept.push(b);
        }
    }
    kept
}

fn east_of(ring: &[Place], lon: f64) -> Vec<Place> {
    clipped(ring, |p| p.0 - lon, |p| (lon, p.1))
}

fn west_of(ring: &[Place], lon: f64) -> Vec<Place> {
    clipped(ring, |p| lon - p.0, |p| (lon, p.1))
}

fn north_of(ring: &[Place], lat: f64) -> Vec<Place> {
    clipped(ring, |p| p.1 - lat, |p| (p.0, lat))
}

fn whole() -> Chart {
    chart_of(&[island()])
}

fn cut() -> Chart {
    chart_of(&[north_of(&east_of(&island(), WEST), SOUTH)])
}

/// Asks the coast, and the ground's mask, which must agree.
fn land(chart: &Chart, at: Position) -> Option<bool> {
    let land = chart.coast().is_land(at);
    assert_eq!(chart.ground().is_land(at), land, "mask at {at}");
    land
}

fn from(chart: &Chart, lon: f64, lat: f64, set: &str) -> Expectation {
    let height = Height::from_feet(2_000.0).unwrap();
    let vantage = Vantage { position: place(lon, lat), height, heading: None };
    let set = Set::builtin(set).unwrap();
    expect(chart, &vantage, &set, &Conditions::default(), miles(60.0), 1.0)
}

/// Metres from a place to the west or south side of the box, inside it.
fn inside_by(at: Position) -> f64 {
    let west = (at.longitude() - WEST) * 60.0 * 0.788;
    let south = (at.latitude() - SOUTH) * 60.0;
    1_852.0 * west.min(south)
}

#[test]
fn land_and_nearest_shore_are_those_of_the_whole_coast() {
    let (whole, cut) = (whole(), cut());
    let mut told = [0; 3];
    for i in 0..60 {
        for j in 0..60 {
            let at = place(-22.75 + 0.025 * f64::from(i), -38.73 + 0.025 * f64::from(j));
            if inside_by(at) < 0.0 {
                // Known to be land, or not known: never sea.
                assert_eq!(land(&cut, at), None, "{at}");
                told[2] += 1;
                continue;
            }
            let is_land = land(&whole, at);
            assert_eq!(land(&cut, at), is_land, "{at}");
            told[usize::from(is_land == Some(true))] += 1;
            let near = |chart: &Chart| chart.coast().nearest(at, miles(100.0));
            let (truth, found) = (near(&whole).unwrap().0, near(&cut).unwrap().0);
            assert!(found.metres() > truth.metres() - 1.0, "{at}: {truth:?} {found:?}");
            if truth.metres() < inside_by(at) {
                assert!((found.metres() - truth.metres()).abs() < 1.0, "{at}: {truth:?} {found:?}");
            }
        }
    }
    assert!(told.iter().all(|count| *count > 300), "{told:?}");
}

#[test]
fn headlands_are_those_of_the_whole_coast_and_the_cut_makes_none() {
    let heads = |chart: &Chart| -> Vec<Position> {
        let marks = chart
            .marks()
            .iter()
            .filter(|(_, mark)| matches!(mark.kind, MarkKind::Headland | MarkKind::Islet));
        marks.map(|(_, mark)| mark.position).collect()
    };
    let (whole, cut) = (heads(&whole()), heads(&cut()));
    let has = |all: &[Position], at: Position| all.iter().any(|p| distance(*p, at).metres() < 50.0);
    // The widest disc is 6 NM.
    let clear = |at: &&Position| inside_by(**at) > 12.5 * 1_852.0;
    assert!(whole.iter().filter(clear).count() >= 3, "{whole:?}");
    assert!(whole.iter().filter(clear).all(|at| has(&cut, *at)), "{whole:?} {cut:?}");
    assert!(cut.iter().filter(clear).all(|at| has(&whole, *at)), "{whole:?} {cut:?}");
    assert!(cut.iter().all(|at| inside_by(*at) > 0.7 * 1_852.0), "{cut:?}");
}

#[test]
fn from_the_sea_the_coast_paints_as_the_whole_one_does() {
    let (whole, cut) = (whole(), cut());
    for set in ["patrol", "metric", "boat"] {
        let (truth, found) = (from(&whole, -21.1, -37.6, set), from(&cut, -21.1, -37.6, set));
        assert!(truth.coast.len() > 50, "{set} {}", truth.coast.len());
        let row = |rows: &Expectation, bearing: f64| {
            let mut rows = rows.coast.iter();
            rows.find(|row| (row.bearing.degrees() - bearing).abs() < 1e-6).copied()
        };
        let mut same = 0;
        for seen in &truth.coast {
            let found = row(&found, seen.bearing.degrees());
            let at = foreland::geodesy::destination(
                place(-21.1, -37.6),
                seen.bearing,
                miles(seen.range.nautical_miles()),
            );
            if inside_by(at) > 4.0 * 1_852.0 {
                let found = found.unwrap_or_else(|| panic!("{set} {seen:?}"));
                assert!((found.range.metres() - seen.range.metres()).abs() < 200.0, "{found:?}");
                same += 1;
            }
        }
        assert!(same > 40, "{set} {same}");
        for row in &found.coast {
            assert!(row.range.nautical_miles() < 45.0, "{row:?}");
        }
        let told = |all: &Expectation| {
            all.cautions.iter().filter(|told| told.contains("within reach")).count()
        };
        assert_eq!((told(&truth), told(&found)), (0, 1), "{:?}", found.cautions);
    }
}

#[test]
fn beyond_the_cut_nothing_paints_and_the_caution_says_why() {
    let cut = cut();
    for (lon, lat) in [(-22.8, -38.0), (-22.0, -38.6), (-22.31, -38.0)] {
        let found = from(&cut, lon, lat, "patrol");
        // The rest of the island lies across the cut; its far shores are no nearest land either.
        for row in &found.coast {
            let at = foreland::geodesy::destination(
                place(lon, lat),
                row.bearing,
                miles(row.range.nautical_miles()),
            );
            let near = cut.coast().nearest(at, miles(50.0)).unwrap().0;
            assert!(near.nautical_miles() < 1.0, "{row:?} at {at}");
        }
        assert!(
            found.cautions.iter().any(|told| told.contains("own position lies beyond")),
            "{:?}",
            found.cautions
        );
    }
}

#[test]
fn inland_of_the_cut_the_land_goes_on_as_high_as_it_was() {
    // Without heights ground rises inland by its distance from the shore: the cut is none.
    let (whole, cut) = (whole(), cut());
    for at in [place(-22.29, -38.0), place(-22.0, -38.39), place(-22.29, -38.1)] {
        let height = |chart: &Chart| chart.ground().at(at).height.feet();
        assert!((height(&whole) - height(&cut)).abs() < 1e-6, "{at}");
    }
}

#[test]
fn an_island_in_two_tiles_is_one_island() {
    // In one file, in two folders' worth of files, and with the line between cut in other places.
    let (west, mut east) = (west_of(&island(), -22.0), east_of(&island(), -22.0));
    let first = east.iter().position(|p| (p.0 - -22.0).abs() < 1e-12).unwrap();
    let next = (first + 1) % east.len();
    if (east[next].0 - -22.0).abs() < 1e-12 {
        let middle = (-22.0, 0.5 * (east[first].1 + east[next].1) + 0.01);
        east.insert(first + 1, middle);
    }
    let (one, two) = (shp_of(std::slice::from_ref(&west)), shp_of(std::slice::from_ref(&east)));
    let charts = [
        chart_of(&[west, east]),
        Chart::from_files("test", &[("a.shp", &one), ("b.shp", &two)]).unwrap(),
    ];
    let whole = whole();
    for chart in &charts {
        assert!(!chart.coast().has_clips());
        for i in 0..40 {
            for j in 0..20 {
                let at = place(-22.7 + 0.0351 * f64::from(i), -38.5 + 0.05 * f64::from(j));
                assert_eq!(land(chart, at), land(&whole, at), "{at}");
                let near = |chart: &Chart| chart.coast().nearest(at, miles(100.0)).unwrap().0;
                assert!((near(chart).metres() - near(&whole).metres()).abs() < 1.0, "{at}");
            }
        }
        let rows = |chart: &Chart| from(chart, -21.1, -37.6, "patrol").coast;
        assert_eq!(rows(chart).len(), rows(&whole).len());
        for (found, truth) in rows(chart).iter().zip(rows(&whole)) {
            assert!((found.range.metres() - truth.range.metres()).abs() < 1.0);
            assert!((found.depth.metres() - truth.depth.metres()).abs() < 1.0);
        }
        assert_eq!(chart.marks().len(), whole.marks().len());
    }
}

#[test]
fn what_is_drawn_straight_is_taken_at_its_word() {
    let square = |west: f64, south: f64, side: f64| {
        let (east, north) = (west + side, south + side);
        vec![(west, south), (west, north), (east, north), (east, south)]
    };
    // A rectangle alone; and one that makes the east and north sides of the box of a cut coast.
    let alone = chart_of(&[square(-21.0, -38.0, 0.2)]);
    let beside = chart_of(&[north_of(&east_of(&island(), WEST), SOUTH), square(-21.0, -37.0, 0.2)]);
    let below = chart_of(&[north_of(&east_of(&island(), WEST), SOUTH), square(-21.2, SOUTH, 0.2)]);
    assert!(!alone.coast().has_clips());
    for (chart, lon, lat) in
        [(&alone, -20.7, -37.9), (&beside, -20.7, -36.9), (&below, -20.9, -38.3)]
    {
        let near = chart.coast().nearest(place(lon, lat), miles(20.0)).unwrap();
        assert!(
            near.0.nautical_miles() < 5.0 && (near.1.degrees() - 270.0).abs() < 1.0,
            "{near:?}"
        );
        assert_eq!(land(chart, place(lon - 0.2, lat)), Some(true));
    }
    let from_south = below.coast().nearest(place(-21.1, SOUTH - 0.05), miles(20.0)).unwrap();
    assert!((from_south.0.nautical_miles() - 3.0).abs() < 0.05, "{from_south:?}");
    // A coast traced from the cells of a grid, its outermost cells two miles long.
    let steps: Vec<Place> = (0..10)
        .flat_map(|i| {
            let (x, y) = (-21.0 + 0.05 * f64::from(i), -38.0 + 0.04 * f64::from(i));
            [(x, y), (x, y + 0.04)]
        })
        .chain([(-20.5, -37.6), (-20.5, -37.64), (-20.3, -37.64), (-20.3, -37.7), (-20.95, -38.0)])
        .collect();
    assert!(!chart_of(&[steps]).coast().has_clips());
}

#[test]
fn a_cut_coast_says_how_much_of_it_is_cut() {
    let told = |chart: &Chart| {
        let all = chart.cautions().iter();
        all.filter(|told| told.contains("cut out of a larger one")).cloned().collect::<Vec<_>>()
    };
    let cut = told(&cut());
    assert_eq!(cut.len(), 1);
    // Two sides through an island of 50 NM.
    let length: f64 =
        cut[0].split_once("along ").unwrap().1.split_once(" NM").unwrap().0.parse().unwrap();
    assert!((40.0..80.0).contains(&length), "{cut:?}");
    assert!(told(&whole()).is_empty());
}
