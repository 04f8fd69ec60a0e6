//! The landfall's verdict on coasts so small that what is right can be worked by hand.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::fs;
use std::io::Cursor;
use std::path::Path;

use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::fix::{Fix, Landfall, LandfallVerdict, Options, Verdict, fix};
use foreland::geodesy::{Position, destination};
use foreland::paint::{Conditions, Vantage, expect};
use foreland::radar::Set;
use foreland::units::{Bearing, GroundRange, Height};
use shapefile::dbase::{FieldName, FieldValue, Record, TableWriterBuilder};
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

fn reckoned() -> Position {
    Position::new(-38.0, -21.0).unwrap()
}

/// A place so many miles from the reckoning, in this direction.
fn at(miles: f64, degrees: f64) -> Position {
    let run = GroundRange::from_nautical_miles(miles).unwrap();
    destination(reckoned(), Bearing::wrapped_degrees(degrees), run)
}

fn text(place: Position) -> String {
    format!("{:.7}, {:.7}", place.latitude(), place.longitude())
}

/// Writes a layer of marks.
fn marks(folder: &Path, marks: &[(&str, &str, Position)]) {
    let table = TableWriterBuilder::new()
        .add_character_field(FieldName::try_from("NAME").unwrap(), 20)
        .add_character_field(FieldName::try_from("KIND").unwrap(), 20);
    let mut writer = shapefile::Writer::from_path(folder.join("marks.shp"), table).unwrap();
    for (name, kind, place) in marks {
        let mut record = Record::default();
        let text = |text: &str| FieldValue::Character(Some(text.to_owned()));
        record.insert("NAME".to_owned(), text(name));
        record.insert("KIND".to_owned(), text(kind));
        let point = Point::new(place.longitude(), place.latitude());
        writer.write_shape_and_record(&point, &record).unwrap();
    }
}

/// A chart of two towers on a sea without land, charted nearly without error.
fn two_marks(folder: &Path) -> Chart {
    let (p, q) = (at(18.0, 330.0), at(18.6, 345.0));
    marks(folder, &[("Point P", "tower", p), ("Point Q", "tower", q)]);
    Chart::open(&[folder.to_path_buf()]).unwrap()
}

/// One echo at 18.4 NM on 343, from a reckoning in doubt by `sigma_nm`.
fn which_headland(sigma_nm: f64, landfall: Position, name: &str) -> Fix {
    which_headland_at(0.99, sigma_nm, landfall, name)
}

/// The same, as sure as asked.
fn which_headland_at(assurance: f64, sigma_nm: f64, landfall: Position, name: &str) -> Fix {
    let folder = tempfile::tempdir().unwrap();
    let chart = two_marks(folder.path());
    let (from, landfall) = (text(reckoned()), text(landfall));
    let text = format!(
        r#"
        [reckoning]
        time = "2031-03-09T03:40:00Z"
        position = "{from}"
        sigma_nm = {sigma_nm}
        [own]
        height_ft = 0
        heading_deg = 0.0
        heading_sigma_deg = 0.001
        [radar]
        set = "patrol"
        range_sigma_nm = 0.3
        bearing_sigma_deg = 1.5
        [chart]
        point_sigma_nm = 0.001
        shift_sigma_nm = 0.001
        [landfall]
        position = "{landfall}"
        [[contact]]
        label = "A"
        range_nm = 18.4
        bearing_deg = 343.0
        part = "centre"
        {name}
        "#
    );
    let sightings = Sightings::parse(&text, "headlands.toml", Path::new("")).unwrap();
    fix(&chart, &sightings, &Options { assurance, ..Options::default() })
}

fn landfall(fix: &Fix) -> &Landfall {
    fix.landfall.as_ref().unwrap()
}

/// What the model has and the sum by hand has not, as a share of the odds: a bias of all ranges of
/// 0.05 NM, and bearings seen from 18.0 and 18.6 NM rather than both from 18.4.
const ODDS_TOLERANCE: f64 = 0.12;

#[test]
fn two_headlands_in_one_gate_are_not_unique() {
    // Squared distances 4.157 and 0.107, both under 5.991; odds exp((4.157 - 0.107) / 2) = 7.6
    // (computed by ordinary statistics).
    let hand: f64 = ((4.157_f64 - 0.107) / 2.0).exp();
    for (place, words) in [
        (
            at(18.6, 345.0),
            "Point P fits A as well: odds 7.1 : 1; landfall: Point Q, at the place planned",
        ),
        (
            at(18.0, 330.0),
            "Point Q fits A better than Point P: odds 7.1 : 1; landfall: Point P, at the",
        ),
    ] {
        let found = which_headland(2.0, place, "");
        let told = landfall(&found);
        assert_eq!(told.verdict, LandfallVerdict::NotUnique);
        let odds = told.odds.unwrap();
        assert!((odds / hand - 1.0).abs() < ODDS_TOLERANCE, "{odds} for {hand}");
        assert!(told.why.starts_with(words), "{}", told.why);
        let by = told.settle_by.as_deref().unwrap();
        assert!(by.starts_with("range and bearing of Point "), "{by}");
    }
}

#[test]
fn a_headland_out_of_the_gate_is_denied() {
    // With 0.7 NM: 24.41 (over 9.210, the 99 % gate) and 0.640 (computed).
    let p = which_headland(0.7, at(18.0, 330.0), "");
    assert_eq!(landfall(&p).verdict, LandfallVerdict::Denied);
    assert!(landfall(&p).why.starts_with("A is not Point P but Point Q"), "{}", landfall(&p).why);
    let by = landfall(&p).settle_by.as_deref().unwrap();
    assert!(by.starts_with("range and bearing of Point P: 18.0 NM, 32"), "{by}");
    // That it is Q and nothing uncharted one unnamed contact cannot say at 99 %, whatever the odds
    // over P; at the least assurance that may be asked for it can.
    let q = which_headland(0.7, at(18.6, 345.0), "");
    assert_eq!(landfall(&q).verdict, LandfallVerdict::NotUnique);
    let words =
        "A fits Point Q, but not as surely as asked (99 %): odds 1471 : 1 over a ship or rain; ";
    assert!(landfall(&q).why.starts_with(words), "{}", landfall(&q).why);
    assert!(landfall(&q).odds.unwrap() > 20.0, "{:?}", landfall(&q));
    let lax = which_headland_at(0.9, 0.7, at(18.6, 345.0), "");
    assert_eq!(landfall(&lax).verdict, LandfallVerdict::Confirmed);
    assert_eq!(landfall(&lax).settle_by, None);
}

#[test]
fn a_wish_confirms_nothing() {
    // The operator is sure of P; the verdict of the landfall rests on the rest.
    let name = "mark = \"Point P\"\nmark_confidence = 0.999";
    let found = which_headland(2.0, at(18.0, 330.0), name);
    let plain = which_headland(2.0, at(18.0, 330.0), "");
    assert_eq!(landfall(&found).verdict, LandfallVerdict::NotUnique);
    assert!((landfall(&found).odds.unwrap() - landfall(&plain).odds.unwrap()).abs() < 1e-9);
}

/// Where the beach begins, degrees east on the equator, and how far behind it the hill stands.
const BEACH_LON: f64 = 0.30;
const BEHIND_NM: f64 = 12.0;
/// A degree of longitude on the equator, in nautical miles.
const DEGREE_NM: f64 = 60.108;

/// A beach that lies north and south with dunes of 30 ft, and a ridge of 1,500 ft behind it; where
/// asked, a light at the beach.
fn beach(light: bool) -> Chart {
    let corners = [
        (BEACH_LON, 0.08),
        (BEACH_LON - 0.001, 0.31),
        (BEACH_LON, 0.52),
        (BEACH_LON + 0.001, 0.71),
        (BEACH_LON, 0.93),
        (0.61, 0.95),
        (0.95, 0.91),
        (0.97, 0.49),
        (0.94, 0.07),
        (0.63, 0.05),
        (BEACH_LON, 0.08),
    ];
    let ring = corners.iter().map(|(lon, lat)| Point::new(*lon, *lat)).collect();
    let mut shp = Cursor::new(Vec::new());
    {
        let mut writer = ShapeWriter::new(&mut shp);
        writer.write_shape(&Polygon::new(PolygonRing::Outer(ring))).unwrap();
        writer.finalize().unwrap();
    }
    // A tile of 1201 by 1201 heights, north-west first, in metres.
    let foot_lon = BEACH_LON + BEHIND_NM / DEGREE_NM;
    let height = |lat: f64, lon: f64| -> f64 {
        let beyond_m = (lon - foot_lon) * 111_319.5;
        let (top_m, dunes_m) = (1_500.0 * 0.3048, 30.0 * 0.3048);
        let ridge = (0.5 * beyond_m).min(top_m).min(top_m - 0.5 * (beyond_m - 4_000.0));
        if (0.2..0.8).contains(&lat) { ridge.max(dunes_m) } else { dunes_m }
    };
    let mut hgt = Vec::with_capacity(2 * 1201 * 1201);
    for row in 0..1201 {
        for column in 0..1201 {
            let (lat, lon) = (1.0 - f64::from(row) / 1200.0, f64::from(column) / 1200.0);
            hgt.extend((height(lat, lon).round() as i16).to_be_bytes());
        }
    }
    let shp = shp.into_inner();
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("coast.shp"), shp).unwrap();
    fs::write(folder.path().join("N00E000.hgt"), hgt).unwrap();
    if light {
        let at = Position::new(0.5, BEACH_LON + 0.002).unwrap();
        marks(folder.path(), &[("Strand Light", "light", at)]);
    }
    Chart::open(&[folder.path().to_path_buf()]).unwrap()
}

/// A boat so far from the beach as she reckons, and the one echo ahead of her at 42 NM and more.
fn taken_for_coast(chart: &Chart, reckoned_nm: f64, sigma_nm: f64, contact: &str) -> Landfall {
    let lon = BEACH_LON - reckoned_nm / DEGREE_NM;
    let text = format!(
        r#"
        [reckoning]
        time = "2031-03-09T03:40:00Z"
        position = "0.5, {lon:.7}"
        sigma_nm = {sigma_nm}
        [own]
        height_ft = 50
        heading_deg = 90.0
        [radar]
        set = "boat"
        [landfall]
        position = "0.5, {BEACH_LON}"
        {contact}
        "#
    );
    let sightings = Sightings::parse(&text, "beach.toml", Path::new("")).unwrap();
    landfall(&fix(chart, &sightings, &Options::default())).clone()
}

#[test]
fn high_ground_inland_is_no_landfall() {
    // Trade practice (distances by 1.23·(√h + √H), computed): from 50 ft a hill of 1,500 ft can paint
    // from 56.3 NM, when the beach 12 NM before it is 44.3 NM off; dunes of 30 ft only from 15.4 NM.
    let chart = beach(false);
    let set = Set::builtin("boat").unwrap();
    let vantage = Vantage {
        position: Position::new(0.5, BEACH_LON - 30.0 / DEGREE_NM).unwrap(),
        height: Height::from_feet(50.0).unwrap(),
        heading: None,
    };
    let reach = GroundRange::from_nautical_miles(48.0).unwrap();
    let seen = expect(&chart, &vantage, &set, &Conditions::default(), reach, 1.0);
    let nearest = seen.coast.iter().map(|row| row.range.nautical_miles()).fold(99.0, f64::min);
    assert!(nearest > 42.0, "the beach shows at {nearest}");
    let ahead = seen.coast.iter().find(|row| (row.bearing.degrees() - 90.0).abs() < 0.1).unwrap();
    let echo = ahead.range.nautical_miles();
    assert!((42.0..43.5).contains(&echo), "{echo}");

    let lit = beach(true);
    let of = |extra: &str| format!("[[contact]]\nlabel = \"A\"\nrange_nm = {echo:.2}\n{extra}");
    let cases = [
        (&chart, 30.0, 2.0, of("bearing_deg = 90.0")),
        (&chart, 30.0, 2.0, of("part = \"shore\"")),
        // She takes the echo for the beach, and reckons accordingly.
        (&chart, 42.3, 3.0, of("bearing_deg = 90.0")),
        (&chart, 42.3, 3.0, of("part = \"shore\"")),
        (&lit, 30.0, 2.0, of("bearing_deg = 90.0\nmark = \"Strand Light\"")),
        (&lit, 42.3, 3.0, of("bearing_deg = 90.0\nmark = \"Strand Light\"")),
        (&lit, 42.3, 3.0, of("bearing_deg = 90.0")),
    ];
    for (chart, reckoned_nm, sigma_nm, contact) in cases {
        let told = taken_for_coast(chart, reckoned_nm, sigma_nm, &contact);
        assert_eq!(told.verdict, LandfallVerdict::Denied, "{told:?}");
        assert!(told.why.contains("inland high ground"), "{}", told.why);
        // The coast lies as much nearer as the hill stands behind it.
        assert!(told.why.contains(" NM nearer than the echo"), "{}", told.why);
        let nearer: f64 = told
            .why
            .split(" NM nearer")
            .next()
            .unwrap()
            .rsplit(' ')
            .next()
            .unwrap()
            .parse()
            .unwrap();
        assert!((nearer - BEHIND_NM).abs() < 0.6, "{}", told.why);
    }
}

#[test]
fn nothing_measured_says_where_to_look() {
    let chart = beach(false);
    let told = taken_for_coast(&chart, 30.0, 2.0, "");
    assert_eq!(told.verdict, LandfallVerdict::CannotSay);
    assert!(told.why.contains("30.0 NM, 090° T, 000° R, and should paint from 1"), "{}", told.why);
    assert!(told.why.contains("inland high ground"), "{}", told.why);
}

#[test]
fn the_sample_makes_its_landfall() {
    let chart = Chart::sample().unwrap();
    let file = include_str!("../charts-sample/landfall.toml");
    let mut sightings = Sightings::parse(file, "landfall.toml", Path::new("")).unwrap();
    let solved = |sightings: &Sightings| fix(&chart, sightings, &Options::default());
    let found = solved(&sightings);
    assert_eq!(found.verdict, Verdict::Fixed);
    let told = landfall(&found);
    assert_eq!(told.verdict, LandfallVerdict::Confirmed);
    assert!(told.why.starts_with("B is Gannet Head, odds "), "{}", told.why);
    assert_eq!(told.settle_by, None);

    // Without B nothing is taken for it; it stands where the fix has it, and would settle it.
    let others = sightings.contacts.iter().filter(|contact| contact.label != "B").cloned();
    let told = landfall(&solved(&sightings.with_contacts(others.collect()))).clone();
    assert_eq!(told.verdict, LandfallVerdict::CannotSay, "{told:?}");
    let by = told.settle_by.unwrap();
    assert!(by.starts_with("range and bearing of Gannet Head: 1"), "{by}");

    // A slip of a digit puts it where the chart has nothing.
    sightings.landfall = Some(Position::new(10.0, -30.0).unwrap());
    let told = landfall(&solved(&sightings)).clone();
    assert_eq!(told.verdict, LandfallVerdict::CannotSay);
    let why = "no charted land within 3 NM of the landfall planned: check its position";
    assert_eq!((told.why.as_str(), told.odds), (why, None));
    sightings.landfall = None;
    assert!(solved(&sightings).landfall.is_none());
}
