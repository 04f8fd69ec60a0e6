//! A chart of towers, and places about it: what simulated fixes start from.

use std::path::Path;

use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::fix::{Options, Verdict, fix};
use foreland::geodesy::{Position, course, destination};
use foreland::units::{Bearing, GroundRange, True};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use shapefile::dbase::{FieldName, FieldValue, Record, TableWriterBuilder};

/// Nautical miles.
pub fn miles(nm: f64) -> GroundRange {
    GroundRange::clamped_metres(nm * 1852.0)
}

/// The middle of the area.
pub fn centre() -> Position {
    Position::new(-38.0, -21.0).unwrap()
}

/// What a tower is called.
pub fn name(index: usize) -> String {
    format!("Mark {index:02}")
}

/// A draw of mean nothing and spread one.
pub fn normal(random: &mut ChaCha8Rng) -> f64 {
    random.sample(StandardNormal)
}

/// A point moved east and north by so many miles.
pub fn moved(from: Position, east: f64, north: f64) -> Position {
    let towards = Bearing::<True>::wrapped(east.atan2(north));
    destination(from, towards, miles(east.hypot(north)))
}

/// A chart of towers at these places, its files in a folder.
pub fn chart_of(folder: &Path, places: &[Position]) -> Chart {
    let table = TableWriterBuilder::new()
        .add_character_field(FieldName::try_from("NAME").unwrap(), 20)
        .add_character_field(FieldName::try_from("KIND").unwrap(), 20);
    let mut writer = shapefile::Writer::from_path(folder.join("marks.shp"), table).unwrap();
    for (index, place) in places.iter().enumerate() {
        let point = shapefile::Point::new(place.longitude(), place.latitude());
        let mut record = Record::default();
        record.insert("NAME".to_owned(), FieldValue::Character(Some(name(index))));
        record.insert("KIND".to_owned(), FieldValue::Character(Some("tower".to_owned())));
        writer.write_shape_and_record(&point, &record).unwrap();
    }
    drop(writer);
    Chart::open(&[folder.to_path_buf()]).unwrap()
}

/// Squared statistical distance of the truth from the fix of these sightings, where they are fixed.
pub fn distance_squared(chart: &Chart, sightings: &Sightings, truth: Position) -> Option<f64> {
    let found = fix(chart, sightings, &Options::default());
    if found.verdict != Verdict::Fixed {
        return None;
    }
    let line = course(found.position?, truth);
    let (sin, cos) = line.initial.sin_cos();
    let metres = line.distance.metres();
    Some(found.covariance?.mahalanobis_squared(metres * sin, metres * cos))
}
