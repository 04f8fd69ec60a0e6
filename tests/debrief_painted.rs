//! What was missed: first paints along the track held against the horizon rule, reports against these.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::path::Path;

use foreland::chart::Chart;
use foreland::debrief::export::{Told, csv, html, markdown};
use foreland::debrief::{Debrief, Painted, debrief};
use foreland::radar::Set;
use foreland::watch::log::{ContactEntry, Record, What};
use jiff::{SignedDuration, Timestamp};
use shapefile::dbase::{FieldName, FieldValue, TableWriterBuilder};
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

/// Own height and that of the stack, feet and metres; where the stack is, and the track's latitude.
const OWN_FT: f64 = 200.0;
const STACK_M: f64 = 100.0;
const STACK: (f64, f64) = (0.35, 0.5);
const LAT: f64 = 0.75;
const FROM_LON: f64 = -0.6;
const KNOTS: f64 = 160.0;
/// On the equator, nautical miles.
const DEGREE_NM: f64 = 60.0;

/// A stack in the open sea, and a tower in the lee of a ridge of 600 m.
fn chart(folder: &Path) -> Chart {
    let corners = [
        (0.30, 0.65),
        (0.29, 0.80),
        (0.30, 0.95),
        (0.60, 0.95),
        (0.61, 0.80),
        (0.60, 0.65),
        (0.30, 0.65),
    ];
    let ring = corners.iter().map(|(lon, lat)| Point::new(*lon, *lat)).collect();
    let mut writer = ShapeWriter::from_path(folder.join("coast.shp")).unwrap();
    writer.write_shape(&Polygon::new(PolygonRing::Outer(ring))).unwrap();
    drop(writer);
    // 1201 by 1201 heights in metres, north-west first.
    let mut hgt = Vec::with_capacity(2 * 1201 * 1201);
    for row in 0..1201 {
        for column in 0..1201 {
            let (lat, lon) = (1.0 - f64::from(row) / 1200.0, f64::from(column) / 1200.0);
            let island = (0.66..0.94).contains(&lat) && (0.31..0.59).contains(&lon);
            let ridge = island && (0.34..0.46).contains(&lon);
            let height: i16 = if ridge { 600 } else { i16::from(island) * 10 };
            hgt.extend(height.to_be_bytes());
        }
    }
    std::fs::write(folder.join("N00E000.hgt"), hgt).unwrap();
    let field = |name: &str| FieldName::try_from(name).unwrap();
    let table = TableWriterBuilder::new()
        .add_character_field(field("NAME"), 20)
        .add_character_field(field("KIND"), 20)
        .add_numeric_field(field("ELEV_M"), 8, 1);
    let mut marks = shapefile::Writer::from_path(folder.join("marks.shp"), table).unwrap();
    for (name, kind, metres, lat, lon) in [
        ("Lone Stack", "peak", STACK_M, STACK.0, STACK.1),
        ("Lee Tower", "tower", 40.0, 0.75, 0.55),
    ] {
        let mut record = shapefile::dbase::Record::default();
        record.insert("NAME".to_owned(), FieldValue::Character(Some(name.to_owned())));
        record.insert("KIND".to_owned(), FieldValue::Character(Some(kind.to_owned())));
        record.insert("ELEV_M".to_owned(), FieldValue::Numeric(Some(metres)));
        marks.write_shape_and_record(&Point::new(lon, lat), &record).unwrap();
    }
    drop(marks);
    Chart::open(&[folder.to_path_buf()]).unwrap()
}

fn start() -> Timestamp {
    "2031-03-09T03:00:00Z".parse().unwrap()
}

fn after(minutes: f64) -> Timestamp {
    start() + SignedDuration::from_secs_f64(60.0 * minutes)
}

/// East along the parallel for 18 minutes; the stack reported where asked.
fn sortie(reported: Option<Timestamp>) -> Vec<Record> {
    let contact = |label: &str, time, mark: Option<&str>| {
        What::Contact(ContactEntry {
            label: label.to_owned(),
            time: Some(time),
            range_nm: Some(3.0),
            bearing_deg: Some(350.0),
            mark: mark.map(str::to_owned),
            ..ContactEntry::default()
        })
    };
    let mut all = vec![
        What::Blank { set: Set::builtin("patrol").unwrap().to_toml(), height_ft: OWN_FT },
        What::Reckoning {
            time: start(),
            lat_deg: LAT,
            lon_deg: FROM_LON,
            covariance_nm2: [[0.04, 0.0], [0.0, 0.04]],
        },
        What::Track { track_deg: 90.0, speed_kn: KNOTS, time: None },
    ];
    all.extend(reported.map(|time| contact("A", time, Some("Lone Stack"))));
    all.push(contact("Z", after(18.0), None));
    let record = |(at, what)| Record { number: at as u64 + 1, time: start(), what, typed: None };
    all.into_iter().enumerate().map(record).collect()
}

fn stack(account: &Debrief) -> &Painted {
    let painted = account.painted.as_ref().unwrap();
    painted.iter().find(|it| it.mark == "Lone Stack").unwrap()
}

#[test]
fn the_first_paint_is_where_the_horizon_lets_it_be() {
    let folder = tempfile::tempdir().unwrap();
    let account = debrief(&sortie(None), Vec::new(), Some(&chart(folder.path())));
    let found = stack(&account);
    assert!(!found.first.at_start && found.careful);
    // 1.23·(√h + √H), feet and nautical miles: published (marine manuals give 1.22 or 1.23; which, from memory).
    let rule_nm = 1.23 * (OWN_FT.sqrt() + (STACK_M / 0.3048).sqrt());
    let range_nm = found.first.range.nautical_miles();
    assert!(
        (0.9 * rule_nm..1.03 * rule_nm).contains(&range_nm),
        "{range_nm} by the rule {rule_nm}"
    );
    // When the track is so far off, by plane geometry.
    let along = (range_nm.powi(2) - ((LAT - STACK.0) * DEGREE_NM).powi(2)).sqrt();
    let minutes = ((STACK.1 - FROM_LON) * DEGREE_NM - along) / KNOTS * 60.0;
    let told = found.first.time.duration_since(start()).as_secs_f64() / 60.0;
    assert!((told - minutes).abs() < 0.4, "{told} {minutes}");
    // To the end of the track from there.
    assert!((found.minutes - (18.0 - told)).abs() < 0.1, "{}", found.minutes);
    assert!(found.is_never_reported() && account.missed().any(|it| it.mark == "Lone Stack"));
}

#[test]
fn three_minutes_late_is_three_minutes() {
    let folder = tempfile::tempdir().unwrap();
    let chart = chart(folder.path());
    let first = stack(&debrief(&sortie(None), Vec::new(), Some(&chart))).first.time;
    let late = first + SignedDuration::from_mins(3);
    let account = debrief(&sortie(Some(late)), Vec::new(), Some(&chart));
    let found = stack(&account);
    assert!((found.late_minutes().unwrap() - 3.0).abs() < 0.1, "{found:?}");
    assert!(found.is_late() && !account.missed().any(|it| it.mark == "Lone Stack"));
    let told = Told { debrief: &account, log: "x", chart: None, caution: "An aid only." };
    for text in [html(&told), markdown(&told)] {
        assert!(text.contains("Lone Stack") && text.contains("not a reproach"), "{text}");
    }
    let rows = csv(&told);
    let row = rows.lines().find(|row| row.starts_with("painted,") && row.contains("Lone Stack"));
    assert!(row.unwrap().trim_end().ends_with(",3.0"), "{row:?}");
}

#[test]
fn what_high_ground_hides_is_not_missed() {
    let folder = tempfile::tempdir().unwrap();
    let chart = chart(folder.path());
    assert!(chart.marks().find("Lee Tower").is_some());
    let account = debrief(&sortie(None), Vec::new(), Some(&chart));
    let painted = account.painted.as_ref().unwrap();
    assert!(painted.iter().all(|it| it.mark != "Lee Tower"), "{painted:?}");
    assert!(account.missed().count() > 0);
}

#[test]
fn without_a_chart_it_says_why() {
    let account = debrief(&sortie(None), Vec::new(), None);
    assert!(account.painted.unwrap_err().contains("no chart is given"));
}
