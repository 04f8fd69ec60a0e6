//! What first paints along a track, against rules of the trade and against `expect`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::io::Cursor;

use foreland::chart::Chart;
use foreland::paint::approach::{Approach, EventKind, Plan, RunEnd, Trap, approach, first_paints};
use foreland::paint::{Conditions, Vantage, expect};
use foreland::radar::{Rain, Set};
use foreland::units::{Angle, Bearing, GroundRange, Height, Speed};
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

/// Nautical miles for each root of a foot, radar horizon (general marine manuals, seen in several
/// public pages; equals the k = 4/3 value rounded).
const RULE_NM: f64 = 1.23;

fn rule_nm(antenna_ft: f64, target_ft: f64) -> f64 {
    RULE_NM * (antenna_ft.sqrt() + target_ft.sqrt())
}

fn miles(miles: f64) -> GroundRange {
    GroundRange::from_nautical_miles(miles).unwrap()
}

fn plan(from: &str, track_deg: f64, knots: f64, feet: f64) -> Plan {
    Plan {
        from: from.parse().unwrap(),
        track: Bearing::from_degrees(track_deg).unwrap(),
        speed: Speed::from_knots(knots).unwrap(),
        height: Height::from_feet(feet).unwrap(),
        sigma: miles(2.0),
        track_sigma: Angle::from_degrees(2.0),
        speed_sigma: Speed::from_knots(0.03 * knots).unwrap(),
    }
}

fn run(chart: &Chart, plan: &Plan, set: &str, length_nm: Option<f64>) -> Approach {
    let set = Set::builtin(set).unwrap();
    approach(chart, plan, &set, &Conditions::default(), length_nm.map(miles), None).unwrap()
}

/// Where the low land begins, degrees east on the equator, and how far behind it the hill stands.
const SHORE_LON: f64 = 0.30;
const BEHIND_NM: f64 = 25.0;

/// A low shore that lies north and south, and a ridge far behind it.
fn low_shore_and_hill(shore_ft: f64, hill_ft: f64) -> Chart {
    let corners = [
        (SHORE_LON, 0.08),
        (SHORE_LON - 0.001, 0.31),
        (SHORE_LON, 0.52),
        (SHORE_LON + 0.001, 0.71),
        (SHORE_LON, 0.93),
        (0.61, 0.95),
        (0.95, 0.91),
        (0.97, 0.49),
        (0.94, 0.07),
        (0.63, 0.05),
        (SHORE_LON, 0.08),
    ];
    let ring = corners.iter().map(|(lon, lat)| Point::new(*lon, *lat)).collect();
    let mut shp = Cursor::new(Vec::new());
    {
        let mut writer = ShapeWriter::new(&mut shp);
        writer.write_shape(&Polygon::new(PolygonRing::Outer(ring))).unwrap();
        writer.finalize().unwrap();
    }
    // A tile of 1201 by 1201 heights, north-west first, in metres. On the equator a degree of
    // longitude is 60.1 NM.
    let foot_lon = SHORE_LON + BEHIND_NM / 60.108;
    let height = |lat: f64, lon: f64| -> f64 {
        let beyond_m = (lon - foot_lon) * 111_319.5;
        let top_m = hill_ft * 0.3048;
        let ridge = (0.5 * beyond_m).min(top_m).min(top_m - 0.5 * (beyond_m - 4_000.0));
        let along = (0.2..0.8).contains(&lat);
        let shore_m = shore_ft * 0.3048;
        if along { ridge.max(shore_m) } else { shore_m }
    };
    let mut hgt = Vec::with_capacity(2 * 1201 * 1201);
    for row in 0..1201 {
        for column in 0..1201 {
            let (lat, lon) = (1.0 - f64::from(row) / 1200.0, f64::from(column) / 1200.0);
            hgt.extend((height(lat, lon).round() as i16).to_be_bytes());
        }
    }
    Chart::from_files("test", &[("coast.shp", &shp.into_inner()), ("N00E000.hgt", &hgt)]).unwrap()
}

#[test]
fn the_hill_behind_a_low_shore_is_called_out_as_a_trap() {
    // Trade practice, the trap of inland high ground (distances computed with 1.23·(√h + √H)). From
    // 50 ft a hill of 1,000 ft can paint from 47.6 NM, when the shore 25 NM before it is 22.6 NM
    // off; the shore, with 30 ft, only from 15.4 NM. From 500 ft the same are 66.4 and 34.2 NM.
    let chart = low_shore_and_hill(30.0, 1_000.0);
    for (set, feet, knots, from) in
        [("boat", 50.0, 20.0, "0.5, -0.25"), ("patrol", 500.0, 165.0, "0.5, -0.6")]
    {
        let (hill_nm, shore_nm) = (rule_nm(feet, 1_000.0), rule_nm(feet, 30.0));
        let found = run(&chart, &plan(from, 90.0, knots, feet), set, None);
        assert_eq!(found.run.ends, RunEnd::Land);
        let ground_first = found.traps.iter().find_map(|trap| match trap {
            Trap::GroundFirst { ground, shore, .. } => Some((*ground, *shore)),
            Trap::LowShore { .. } => None,
        });
        let (ground, shore) =
            ground_first.unwrap_or_else(|| panic!("{:?} {:?}", found.traps, found.coast));
        assert!((ground.echo.behind.nautical_miles() - BEHIND_NM).abs() < 0.6, "{ground:?}");
        // It shows as soon as enough of it stands over the horizon, and never before.
        let off_nm = ground.echo.range.nautical_miles();
        assert!(off_nm < hill_nm + 0.5 && off_nm > hill_nm - 1.5, "{set} {off_nm} {hill_nm}");
        let shore = shore.unwrap();
        let off_nm = shore.echo.range.nautical_miles();
        assert!(off_nm < shore_nm + 0.2, "{set} {off_nm} {shore_nm}");
        assert!(shore.seconds > ground.seconds);
    }
}

#[test]
fn a_shore_that_the_set_sees_first_is_no_trap() {
    // From 2,000 ft the shore is over the horizon all the way: 61.7 NM by the rule.
    let chart = low_shore_and_hill(30.0, 30.0);
    let found = run(&chart, &plan("0.5, -0.15", 90.0, 165.0, 2_000.0), "patrol", None);
    let misled = found.traps.iter().any(|trap| matches!(trap, Trap::GroundFirst { .. }));
    assert!(!misled, "{:?}", found.traps);
}

#[test]
fn a_shore_that_never_paints_before_ground_that_does_is_called_out() {
    // From 50 ft a shore of 10 ft comes over the horizon at 12.6 NM, 1,000 ft at 47.6 NM (computed
    // with 1.23·(√h + √H)). The run ends 10 NM off the shore, whose echo is lost in the rain about
    // it, and 35 NM off the ridge, far behind the rain.
    let chart = low_shore_and_hill(10.0, 1_000.0);
    let rain = Rain { mm_h: 16.0, from: miles(8.0), to: miles(16.0) };
    let conditions = Conditions { rain, ..Conditions::default() };
    let (plan, set) = (plan("0.5, -0.25", 90.0, 20.0, 50.0), Set::builtin("boat").unwrap());
    let found = approach(&chart, &plan, &set, &conditions, Some(miles(23.0)), None).unwrap();
    let trap = found.traps.iter().find_map(|trap| match trap {
        Trap::LowShore { closest, ground, .. } => Some((*closest, *ground)),
        Trap::GroundFirst { .. } => None,
    });
    let (closest, ground) = trap.unwrap_or_else(|| panic!("{:?} {:?}", found.traps, found.coast));
    assert!((closest.nautical_miles() - 10.06).abs() < 0.3, "{closest:?}");
    let ground = ground.unwrap();
    assert!((ground.echo.behind.nautical_miles() - BEHIND_NM).abs() < 0.6, "{ground:?}");
}

const OFF_GANNET: &str = "38 20 S, 21 50 W";

#[test]
fn a_first_paint_is_what_expect_says_at_that_place() {
    let chart = Chart::sample().unwrap();
    let plan = plan(OFF_GANNET, 58.0, 20.0, 50.0);
    let found = run(&chart, &plan, "boat", Some(24.0));
    let set = Set::builtin("boat").unwrap();
    let reach = miles(set.greatest_scale().nautical_miles());
    let at = |run_m: f64| {
        let vantage =
            Vantage { position: plan.at(run_m), height: plan.height, heading: Some(plan.track) };
        expect(&chart, &vantage, &set, &Conditions::default(), reach, 10.0)
    };
    let first: Vec<_> = found.events.iter().filter(|event| !event.at_start).collect();
    assert!(first.len() >= 8, "{}", first.len());
    for event in first.iter().step_by(first.len() / 8) {
        let seen = at(event.run.metres());
        let row = seen.marks.iter().find(|row| row.mark == event.seen.mark).unwrap();
        assert_eq!(*row, event.seen);
        assert!(row.paint_probability >= event.kind.chance());
        // A little more than the two seconds to which it is found.
        let before = at(event.run.metres() - 2.1 * plan.speed.metres_per_second());
        // It may still be past the greatest range.
        let row = before.marks.iter().find(|row| row.mark == event.seen.mark);
        let chance = row.map_or(0.0, |row| row.paint_probability);
        assert!(chance < event.kind.chance() + 0.02, "{event:?} {row:?}");
    }
}

/// When a mark first paints, seconds from the start.
fn first_paint(found: &Approach, chart: &Chart, name: &str) -> f64 {
    let mark = chart.marks().find(name).unwrap();
    let first = |event: &&foreland::paint::approach::Event| {
        event.kind == EventKind::FirstPaint && event.seen.mark == mark
    };
    found.events.iter().find(first).map_or(f64::INFINITY, |event| event.seconds)
}

#[test]
fn from_higher_up_marks_paint_earlier() {
    let chart = Chart::sample().unwrap();
    let when = |feet: f64| {
        let plan = plan("38 45 S, 22 30 W", 52.0, 120.0, feet);
        let found = run(&chart, &plan, "boat", Some(45.0));
        ["Great Ember", "Gannet Head", "Corbel Point"].map(|name| first_paint(&found, &chart, name))
    };
    let (low, high) = (when(30.0), when(120.0));
    for (low, high) in low.iter().zip(high) {
        assert!(high < *low, "{high} {low}");
    }
}

#[test]
fn straight_in_the_spread_is_the_error_along_over_the_speed() {
    // Closed form: 1.959964 standard deviations of hypot(σ, σᵥ·t) over the speed either side (normal
    // table), where the mark lies ahead so that errors across hardly move its range.
    let chart = Chart::sample().unwrap();
    let exact = Plan { track_sigma: Angle::ZERO, ..plan("38 33.0 S, 22 24.0 W", 68.0, 60.0, 50.0) };
    let found = run(&chart, &exact, "boat", Some(40.0));
    let mark = chart.marks().find("Great Ember").unwrap();
    let event = found.events.iter().find(|event| event.seen.mark == mark).unwrap();
    assert!(!event.at_start);
    let half = 0.5 * (event.spread.latest_s.unwrap() - event.spread.earliest_s);
    let along_nm = 2.0_f64.hypot(1.8 * event.seconds / 3_600.0);
    let closed = 1.959_964 * along_nm * 60.0;
    assert!((half / closed - 1.0).abs() < 0.1, "{half} {closed}");
    assert!(event.spread.by_the_end > 0.99);
}

#[test]
fn first_paints_alone_are_those_of_the_whole_approach() {
    let chart = Chart::sample().unwrap();
    let plan = plan("38 20.0 S, 22 20.0 W", 72.0, 165.0, 2000.0);
    let set = Set::builtin("patrol").unwrap();
    let whole = run(&chart, &plan, "patrol", Some(40.0));
    let ahead = first_paints(&chart, &plan, &set, &Conditions::default(), miles(40.0));
    let coming: Vec<_> = whole
        .events
        .iter()
        .filter(|event| event.kind == EventKind::FirstPaint && !event.at_start)
        .collect();
    assert!(coming.len() > 5, "{}", coming.len());
    assert_eq!(ahead.len(), coming.len());
    for (alone, whole) in ahead.iter().zip(coming) {
        assert_eq!(alone, whole);
    }
}
