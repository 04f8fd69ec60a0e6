//! Classes of ground from a layer of cover: what they do to an echo, and what is told of them.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::Path;
use std::process::Command;

use foreland::chart::{Chart, Terrain};
use foreland::geodesy::Position;
use foreland::paint::{Conditions, Explanation, KindBy, Vantage, explain};
use foreland::radar::Set;
use foreland::units::{GroundRange, Height};
use shapefile::dbase::{FieldName, FieldValue, Record, TableWriterBuilder};
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};
use tempfile::TempDir;

/// Longitude and latitude in degrees.
type Place = (f64, f64);

const LAYERS: &str = "[layers]\ncoast = [\"coast.shp\"]\nmarks = [\"marks.shp\"]\n\
                      cover = [\"cover.shp\"]\n[attributes]\ncover = \"GROUND\"\n";

fn ring(corners: &[Place]) -> Polygon {
    let mut points: Vec<Point> = corners.iter().map(|(x, y)| Point::new(*x, *y)).collect();
    points.push(points[0]);
    Polygon::new(PolygonRing::Outer(points))
}

fn square(west: f64, south: f64, side: f64) -> Polygon {
    let (east, north) = (west + side, south + side);
    ring(&[(west, south), (west, north), (east, north), (east, south)])
}

/// A table of text, row by row.
fn write_table(file: &Path, fields: &[&str], rows: &[Vec<&str>]) {
    let builder = fields.iter().fold(TableWriterBuilder::new(), |builder, field| {
        builder.add_character_field(FieldName::try_from(*field).unwrap(), 40)
    });
    let mut table = builder.build_with_file_dest(file).unwrap();
    for row in rows {
        let mut record = Record::default();
        for (field, word) in fields.iter().zip(row) {
            record.insert((*field).to_owned(), FieldValue::Character(Some((*word).to_owned())));
        }
        table.write_record(&record).unwrap();
    }
}

/// A low island with a named point on its west shore, and its ground of these classes: the whole of
/// it, and more polygons on top.
fn folder(toml: &str, cover: &[(Polygon, &str)]) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let mut writer = ShapeWriter::from_path(at("coast.shp")).unwrap();
    writer.write_shape(&square(-21.0, -38.0, 0.3)).unwrap();
    drop(writer);
    let mut writer = ShapeWriter::from_path(at("marks.shp")).unwrap();
    writer.write_shape(&Point::new(-20.995, -37.85)).unwrap();
    drop(writer);
    write_table(&at("marks.dbf"), &["NAME", "KIND"], &[vec!["Flat Point", "headland"]]);
    let mut writer = ShapeWriter::from_path(at("cover.shp")).unwrap();
    for (shape, _) in cover {
        writer.write_shape(shape).unwrap();
    }
    drop(writer);
    let words: Vec<Vec<&str>> = cover.iter().map(|(_, word)| vec![*word]).collect();
    write_table(&at("cover.dbf"), &["GROUND"], &words);
    fs::write(at("chart.toml"), toml).unwrap();
    folder
}

fn whole(word: &str) -> (Polygon, &str) {
    (square(-21.1, -38.1, 0.5), word)
}

fn explained(folder: &TempDir) -> Explanation {
    let chart = Chart::open(&[folder.path().to_path_buf()]).unwrap();
    let vantage = Vantage {
        position: Position::new(-37.85, -21.15).unwrap(),
        height: Height::from_feet(3_000.0).unwrap(),
        heading: None,
    };
    let set = Set::builtin("patrol").unwrap();
    let reach = GroundRange::from_nautical_miles(20.0).unwrap();
    let mark = chart.marks().find("Flat Point").unwrap();
    explain(&chart, &vantage, &set, &Conditions::default(), reach, mark).unwrap()
}

fn gamma(found: &Explanation) -> (f64, String) {
    let term = found.terms.iter().find(|term| term.name == "gamma").unwrap();
    (term.db, term.from.clone())
}

#[test]
fn a_marsh_shore_answers_ten_decibels_less_than_fields() {
    // γ -25 and -15 dB (from memory): the difference is exact, since all else is the same.
    let fields = explained(&folder(LAYERS, &[whole("farmland")]));
    let marsh = explained(&folder(LAYERS, &[whole("Salt Marsh")]));
    let kind = |found: &Explanation| found.answered_by.unwrap().kind.unwrap();
    assert_eq!((kind(&fields).terrain, kind(&fields).by), (Terrain::Farmland, KindBy::Cover));
    assert_eq!((kind(&marsh).terrain, kind(&marsh).by), (Terrain::VerySmooth, KindBy::Cover));
    assert!((gamma(&fields).0 - -15.0).abs() < 1e-4, "{:?}", gamma(&fields));
    assert!((gamma(&marsh).0 - -25.0).abs() < 1e-4, "{:?}", gamma(&marsh));
    assert_eq!(
        gamma(&marsh).1,
        "mean over the cell, most very smooth -25 dB: by the chart's cover"
    );
    let level = |found: &Explanation| found.seen.signal_to_noise_db.unwrap();
    assert!((level(&fields) - level(&marsh) - 10.0).abs() < 1e-4);
    // Nothing classed at all is as fields on such a gentle slope.
    let bare = explained(&folder(LAYERS, &[whole("lava")]));
    assert!((level(&bare) - level(&fields)).abs() < 1e-4);
    assert_eq!(kind(&bare).by, KindBy::Slope);
}

#[test]
fn a_town_on_top_of_the_fields_answers_as_a_town() {
    let town = (square(-21.01, -37.87, 0.04), "Town");
    let found = explained(&folder(LAYERS, &[whole("fields"), town]));
    assert_eq!(found.answered_by.unwrap().kind.unwrap().terrain, Terrain::Urban);
    assert!((gamma(&found).0 - -5.0).abs() < 1e-4, "{:?}", gamma(&found));
}

#[test]
fn the_stated_class_is_that_of_ground_that_nothing_classes() {
    let toml = format!("{LAYERS}[defaults]\nterrain = \"desert\"\n");
    let found = explained(&folder(&toml, &[(square(-20.8, -37.8, 0.02), "town")]));
    let kind = found.answered_by.unwrap().kind.unwrap();
    assert_eq!((kind.terrain, kind.by), (Terrain::Desert, KindBy::Stated));
    assert!(gamma(&found).1.contains("as the chart states for unclassed ground"));
    let toml = format!("{LAYERS}[defaults]\nterrain = \"lava\"\n");
    let wrong = folder(&toml, &[whole("town")]);
    let error = Chart::open(&[wrong.path().to_path_buf()]).unwrap_err().to_string();
    assert!(error.ends_with("defaults.terrain = \"lava\" is no class of ground"), "{error}");
}

fn told(folder: &TempDir, args: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_foreland"));
    let output = command.args(args).arg("--chart").arg(folder.path()).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn chart_check_counts_the_classes_and_cautions_words_not_known() {
    let small = |word| (square(-20.9, -37.9, 0.01), word);
    let folder = folder(
        LAYERS,
        &[whole("farm"), small("sand"), small("Farmland"), small("lava"), small("")],
    );
    let text = told(&folder, &["chart", "check"]);
    assert!(text.contains("cover.shp: cover\n  5 polygons"), "{text}");
    assert!(text.contains("  cover: GROUND\n"), "{text}");
    assert!(text.contains("  shapes by class: very smooth 1, farmland 2, no class 2\n"), "{text}");
    assert!(
        text.contains(
            "cover.shp: 2 shapes have no class of ground that is known (\"lava\"): taken as not \
             classed"
        ),
        "{text}"
    );
    let json = told(&folder, &["chart", "check", "--format", "json"]);
    assert!(json.contains("\"class\": \"farmland\""), "{json}");
    let explained = told(
        &folder,
        &[
            "expect",
            "--at",
            "-37.85,-21.15",
            "--height-ft",
            "3000",
            "--set",
            "patrol",
            "--explain",
            "Flat Point",
            "--format",
            "json",
        ],
    );
    let answer: serde_json::Value = serde_json::from_str(&explained).unwrap();
    assert_eq!(answer["terrain"], "farmland");
    assert_eq!(answer["terrain_by"], "cover");
    assert_eq!(answer["gamma_db"], -15.0);
}

#[test]
fn cover_is_polygons() {
    let toml = LAYERS.replace("cover = [\"cover.shp\"]", "cover = [\"marks.shp\"]");
    let folder = folder(&toml, &[whole("town")]);
    let error = Chart::open(&[folder.path().to_path_buf()]).unwrap_err().to_string();
    assert!(error.ends_with("marks.shp: is named under layers.cover, but holds points"), "{error}");
}
