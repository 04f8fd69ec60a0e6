//! `expect --picture`: the files that come of it, and what is refused.

#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;

fn expect(folder: &Path, set: &str, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_foreland"))
        .current_dir(folder)
        .args(["expect", "--at", "38 12.9 S, 21 30.5 W", "--height-ft", "2000", "--set", set])
        .args(["--max-range-nm", "30", "--chart"])
        .arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample"))
        .args(more)
        .output()
        .unwrap()
}

fn refused(set: &str, more: &[&str]) -> String {
    let folder = tempfile::tempdir().unwrap();
    let output = expect(folder.path(), set, more);
    assert_eq!(output.status.code(), Some(2), "{output:?}");
    assert!(output.stdout.is_empty());
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0, "nothing is left behind");
    String::from_utf8(output.stderr).unwrap()
}

fn written(set: &str, file: &str, more: &[&str]) -> Vec<u8> {
    let folder = tempfile::tempdir().unwrap();
    let output = expect(folder.path(), set, &[&["--picture", file], more].concat());
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    // The report itself is as without.
    let report = String::from_utf8(output.stdout).unwrap();
    assert!(report.starts_with("EXPECTED ON "), "{report}");
    fs::read(folder.path().join(file)).unwrap()
}

#[test]
fn a_plan_picture_in_all_three_kinds() {
    let png = written("patrol", "look.png", &[]);
    let header = png::Decoder::new(std::io::Cursor::new(&png)).read_info().unwrap();
    assert!(header.info().width > 800 && header.info().height > 800);
    let turned = written("patrol", "look.png", &["--heading-deg", "70", "--picture-up", "heading"]);
    assert_ne!(png, turned);
    assert_eq!(png, written("patrol", "look.png", &[]), "the same every time");
    let svg = String::from_utf8(written("boat", "look.svg", &[])).unwrap();
    for part in ["<svg", "data:image/png;base64,", "5 NM", "270", "never the sole means"] {
        assert!(svg.contains(part), "{part}");
    }
    let json: Value = serde_json::from_slice(&written("patrol", "look.json", &[])).unwrap();
    assert_eq!(json["schema"], "foreland.picture/1");
    assert_eq!(json["kind"], "plan");
    assert_eq!(json["own"]["height_ft"], 2000.0);
    assert_eq!(json["own"]["heading_deg"], Value::Null);
    let (bins, bearings) = (json["bins"].as_u64().unwrap(), json["bearings"].as_u64().unwrap());
    assert_eq!((bins, bearings), (1_024, 720));
    for levels in ["level_db", "mean_db"] {
        let rows = json[levels].as_array().unwrap();
        assert_eq!(rows.len(), 720);
        assert!(rows.iter().all(|row| row.as_array().unwrap().len() == 1_024));
        // The receiver is shut at first, and open at the edge.
        assert_eq!(rows[0][0], Value::Null);
        assert!(rows[0][1_023].is_number());
    }
}

#[test]
fn a_range_trace_in_all_three_kinds() {
    let heading = ["--heading-deg", "70"];
    assert!(written("metric", "trace.png", &heading).starts_with(b"\x89PNG"));
    let svg = String::from_utf8(written("metric", "trace.svg", &heading)).unwrap();
    assert!(svg.contains("\nport\n") && svg.contains("\nstarboard\n"));
    let json = written("metric", "trace.json", &[&heading[..], &["--bank-deg", "-20"]].concat());
    let json: Value = serde_json::from_slice(&json).unwrap();
    assert_eq!((&json["kind"], &json["bank_deg"]), (&"trace".into(), &(-20.0).into()));
    for side in ["port", "starboard"] {
        for row in ["level_db", "mean_db", "deflection"] {
            assert_eq!(json[side][row].as_array().unwrap().len(), 1_024, "{side} {row}");
        }
    }
}

#[test]
fn what_cannot_be_drawn_is_refused_with_what_would_be_right() {
    let told = refused("patrol", &["--picture", "look.bmp"]);
    assert!(told.contains("ends in none of .png, .svg and .json"), "{told}");
    let told = refused("metric", &["--picture", "trace.png"]);
    assert!(told.contains("no heading is given") && told.contains("--heading-deg"), "{told}");
    let told = refused("patrol", &["--picture", "a.png", "--picture-up", "heading"]);
    assert!(told.contains("no heading is given"), "{told}");
    let told = refused("patrol", &["--picture", "nowhere/look.png"]);
    assert!(told.contains("nowhere/look.png cannot be written"), "{told}");
    let told = refused("patrol", &["--rain-mm-h", "4", "--rain-from-nm", "9", "--rain-to-nm", "3"]);
    assert!(told.contains("not past its beginning"), "{told}");
}

#[test]
fn what_is_asked_wrong_is_refused_before_the_chart_is_opened_and_leaves_no_picture() {
    let nowhere = ["--chart", "nowhere"];
    let twice = ["--picture", "a.png", "-o", "./a.png"];
    let told = refused("patrol", &[&twice[..], &nowhere].concat());
    assert!(told.contains("--picture and -o name the same file, a.png"), "{told}");
    let told = refused("own.toml", &[&["--picture", "own.toml"], &nowhere[..]].concat());
    assert!(told.contains("--picture and --set name the same file, own.toml"), "{told}");
    let told = refused("patrol", &[&["--picture", "look.bmp"], &nowhere[..]].concat());
    assert!(told.contains("ends in none of .png, .svg and .json"), "{told}");
    for mark in ["Ganet Head", "Gannet Head"] {
        let told = refused("patrol", &["--picture", "look.png", "--explain", mark]);
        assert!(told.contains("cannot be used with"), "{told}");
    }
}
