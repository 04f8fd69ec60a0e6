//! What energy and pulses allow, asked of the whole prediction.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::fs;

use foreland::chart::Chart;
use foreland::geodesy::Position;
use foreland::paint::{Conditions, Expectation, Outcome, Vantage, expect};
use foreland::radar::Set;
use foreland::units::{GroundRange, Height};
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

/// The built-in patrol set with some of its figures changed.
fn patrol_with(changes: &[(&str, &str)]) -> Set {
    let lines = Set::builtin_text("patrol").unwrap().lines().map(|line| {
        let named = |key: &str| line.starts_with(&format!("{key} "));
        match changes.iter().find(|(key, _)| named(key)) {
            Some((key, value)) => format!("{key} = {value}\n"),
            None => format!("{line}\n"),
        }
    });
    Set::parse(&lines.collect::<String>(), "changed.toml").unwrap()
}

fn seen(chart: &Chart, at: &str, set: &Set) -> Expectation {
    let height = Height::from_feet(2_000.0).unwrap();
    let vantage = Vantage { position: at.parse().unwrap(), height, heading: None };
    let reach = GroundRange::from_nautical_miles(60.0).unwrap();
    expect(chart, &vantage, set, &Conditions::default(), reach, 0.5)
}

#[test]
fn nothing_paints_in_its_place_past_the_next_pulse() {
    let chart = Chart::sample().unwrap();
    // 8,000 pulses a second: the next one leaves after c / 2f = 10.12 NM (computed).
    let often = patrol_with(&[("pulse_rate_hz", "8000"), ("pulse_us", "0.5")]);
    let at = "38 12.9 S, 21 30.5 W";
    let (usual, expected) =
        (seen(&chart, at, &Set::builtin("patrol").unwrap()), seen(&chart, at, &often));
    let far = expected.marks.iter().filter(|mark| mark.range.nautical_miles() > 10.13);
    let mut painted_before = 0;
    for mark in far {
        assert_eq!(mark.outcome, Outcome::OutOfRange, "{mark:?}");
        assert!(mark.paint_probability <= 0.0 && mark.signal_to_noise_db.is_none(), "{mark:?}");
        let same = usual.marks.iter().find(|other| other.mark == mark.mark).unwrap();
        painted_before += i32::from(same.outcome == Outcome::Paints);
    }
    assert!(painted_before > 10, "{painted_before}");
    assert!(expected.coast.iter().all(|row| row.range.nautical_miles() <= 10.13));
    assert!(usual.coast.iter().any(|row| row.range.nautical_miles() > 11.0));
    let told = "echoes from beyond 10.1 NM come back after the next pulse, at a false range";
    assert!(expected.cautions.iter().any(|caution| caution == told), "{:?}", expected.cautions);
    assert!(!usual.cautions.iter().any(|caution| caution.contains("the next pulse, at")));
}

/// A round island 600 m across and 60 m high, alone in the sea.
fn island(at: Position) -> Chart {
    let folder = tempfile::tempdir().unwrap();
    let radius = 300.0 / 1_852.0 / 60.0;
    let stretch = at.latitude().radians_here().cos();
    let points = (0..=36).map(|i| {
        let (sin, cos) = (-10.0 * f64::from(i)).radians_here().sin_cos();
        Point::new(at.longitude() + radius * cos / stretch, at.latitude() + radius * sin)
    });
    let mut writer = ShapeWriter::from_path(folder.path().join("coast.shp")).unwrap();
    writer.write_shape(&Polygon::new(PolygonRing::Outer(points.collect()))).unwrap();
    drop(writer);
    let told = "name = \"island\"\n[layers]\ncoast = [\"coast.shp\"]\n[defaults]\nshore_height_ft = 200.0\n";
    fs::write(folder.path().join("chart.toml"), told).unwrap();
    Chart::open(&[folder.path().to_path_buf()]).unwrap()
}

trait Radians {
    fn radians_here(self) -> f64;
}

impl Radians for f64 {
    fn radians_here(self) -> f64 {
        self * std::f64::consts::PI / 180.0
    }
}

#[test]
fn a_metric_wave_scan_smears_a_small_island_over_its_beam() {
    // 20 NM north of the antenna; 0.9° across.
    let chart = island(Position::new(-37.666_667, -21.0).unwrap());
    let wide =
        patrol_with(&[("frequency_mhz", "200"), ("beam_width_deg", "30"), ("pulse_us", "2.0")]);
    let across = |set: &Set| {
        let rows = seen(&chart, "38 00 S, 21 00 W", set).coast;
        let off = |row: &foreland::paint::ExpectedCoast| {
            let degrees = row.bearing.degrees();
            if degrees > 180.0 { degrees - 360.0 } else { degrees }
        };
        let (left, right) = rows
            .iter()
            .map(off)
            .fold((f64::MAX, f64::MIN), |(left, right), off| (left.min(off), right.max(off)));
        // The island lies in the middle, and there is no gap.
        assert!((left + right).abs() <= 1.0, "{left} {right}");
        assert!((right - left - 0.5 * (rows.len() as f64 - 1.0)).abs() < 0.01);
        right - left
    };
    let (narrow, wide) = (across(&Set::builtin("patrol").unwrap()), across(&wide));
    println!("patrol {narrow}°, 30° beam {wide}°");
    // Two ways the half-power width is 1/√2 of the one-way beam (gaussian, computed): 1.7° and
    // 21.2°. A strong echo is drawn wider: the pattern is followed to 1.2 beams off the axis, 35 dB
    // down, and half a beam on is still near it on the screen; with the island's own 0.9°.
    for (across, beam) in [(narrow, 2.4), (wide, 30.0)] {
        let (least, most) = (beam / 2f64.sqrt(), 2.0 * (1.2 + 0.5) * beam + 0.9);
        assert!((least..=most).contains(&across), "{across} {beam}");
    }
    assert!(wide > 5.0 * narrow, "{wide} {narrow}");
}

/// Common practice, no published source: level with high ground the upright beam looks straight at it, however
/// narrow it is, and from far above it looks over it.
#[test]
fn ground_as_high_as_the_antenna_is_on_the_axis_of_the_upright_beam() {
    let chart = Chart::sample().unwrap();
    let hill = chart.marks().find("Varrow Hill").unwrap();
    let top = chart.marks().get(hill).unwrap();
    let from = Position::new(top.position.latitude(), top.position.longitude() + 0.15).unwrap();
    let level_db = |beam_deg: &str, height: Height| {
        let vantage = Vantage { position: from, height, heading: None };
        let set = patrol_with(&[("elevation_beam_deg", beam_deg)]);
        let reach = GroundRange::from_nautical_miles(30.0).unwrap();
        let found = expect(&chart, &vantage, &set, &Conditions::default(), reach, 0.5);
        let seen = found.marks.iter().find(|mark| mark.mark == hill).unwrap();
        seen.signal_to_noise_db.unwrap()
    };
    let level = Height::from_metres(top.height.metres()).unwrap();
    // What answers lies no more than half a beam under the top, with half the power there and back.
    let lost = level_db("80.0", level) - level_db("2.0", level);
    assert!(lost < 6.03, "{lost}");
    let above = Height::from_metres(4.0 * top.height.metres()).unwrap();
    let lost = level_db("80.0", above) - level_db("2.0", above);
    assert!(lost > 20.0, "{lost}");
}
