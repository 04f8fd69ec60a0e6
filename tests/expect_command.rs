//! `foreland expect` and `foreland set`, run as a user runs them.

#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod program;

use std::process::Command;

use serde_json::Value;

use program::{program, run};

/// From the project's root: exit status, standard output, standard error.
fn foreland(arguments: &[&str]) -> (i32, String, String) {
    run(program().args(arguments), b"")
}

/// Off the sample's coast, where its clean landfall begins.
const OFF_HARROW: &str = "-38.2150,-21.5080";

fn expect(more: &[&str]) -> (i32, String, String) {
    let mut arguments = vec!["expect", "--chart", "charts-sample", "--at", OFF_HARROW];
    arguments.extend_from_slice(more);
    foreland(&arguments)
}

fn answer(more: &[&str]) -> Value {
    let mut arguments = more.to_vec();
    arguments.extend_from_slice(&["--format", "json"]);
    let (status, out, err) = expect(&arguments);
    assert_eq!((status, err.as_str()), (0, ""));
    serde_json::from_str(&out).unwrap()
}

fn outcome<'a>(answer: &'a Value, name: &str) -> &'a str {
    let marks = answer["marks"].as_array().unwrap();
    marks.iter().find(|mark| mark["mark"] == name).unwrap()["outcome"].as_str().unwrap()
}

const HIGH: [&str; 4] = ["--height-ft", "2000", "--set", "patrol"];
const LOW: [&str; 4] = ["--height-ft", "50", "--set", "boat"];

#[test]
fn the_answer_for_scripts_has_every_key_of_its_schema() {
    let answer = answer(&HIGH);
    assert_eq!(answer["schema"], "foreland.expect/1");
    assert!((answer["own"]["lat_deg"].as_f64().unwrap() - -38.215).abs() < 1e-9);
    // The sea horizon of 2,000 ft: 1.2287 NM for each root of a foot (computed).
    assert!((answer["horizon_nm"].as_f64().unwrap() - 54.95).abs() < 0.02);
    let mark = &answer["marks"][0];
    for key in [
        "mark",
        "kind",
        "lat_deg",
        "lon_deg",
        "height_ft",
        "range_nm",
        "ground_range_nm",
        "bearing_deg",
        "relative_deg",
        "signal_to_noise_db",
        "signal_to_clutter_db",
        "paint_probability",
        "outcome",
        "heights_from",
        "heights_confidence",
    ] {
        assert!(mark.get(key).is_some(), "{key}");
    }
    let rows = answer["coast"].as_array().unwrap();
    for row in rows {
        let bearing = row["bearing_deg"].as_f64().unwrap();
        assert!(((bearing * 2.0).round() - bearing * 2.0).abs() < 1e-9, "{bearing}");
        for key in ["range_nm", "depth_nm", "signal_to_noise_db", "paint_probability"] {
            assert!(row[key].is_number(), "{key}");
        }
    }
    assert!(rows.len() > 100);
}

#[test]
fn hills_paint_before_the_strand_in_front_of_them() {
    // The sample's own account of itself: the Varrow Hills stand behind a low strand.
    let answer = answer(&HIGH);
    for hill in ["North Varrow", "Varrow Hill", "South Varrow"] {
        assert_eq!(outcome(&answer, hill), "paints", "{hill}");
    }
    let behind_the_strand = answer["coast"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|row| (105.0..109.0).contains(&row["bearing_deg"].as_f64().unwrap()))
        .count();
    assert!(behind_the_strand > 0);
}

#[test]
fn lower_down_the_horizon_takes_what_paints_from_higher_up() {
    let (high, low) = (answer(&HIGH), answer(&LOW));
    assert_eq!(outcome(&high, "Lantern Point"), "paints");
    assert_eq!(outcome(&low, "The Cinders"), "below-horizon");
    assert_eq!(outcome(&low, "Great Ember"), "paints");
}

#[test]
fn relative_bearings_come_with_a_heading() {
    let mut arguments = HIGH.to_vec();
    arguments.extend_from_slice(&["--heading-deg", "70"]);
    let answer = answer(&arguments);
    for mark in answer["marks"].as_array().unwrap() {
        let (truly, relative) =
            (mark["bearing_deg"].as_f64().unwrap(), mark["relative_deg"].as_f64().unwrap());
        let turn = (truly - relative - 70.0).rem_euclid(360.0);
        assert!(turn.min(360.0 - turn) < 0.002, "{mark}");
    }
}

#[test]
fn a_rough_sea_rain_and_refraction_do_what_they_should() {
    let chance = |more: &[&str]| {
        let mut arguments = HIGH.to_vec();
        arguments.extend_from_slice(more);
        let answer = answer(&arguments);
        let marks = answer["marks"].as_array().unwrap().clone();
        marks.iter().map(|mark| mark["paint_probability"].as_f64().unwrap()).sum::<f64>()
    };
    let calm = chance(&["--sea-state", "0"]);
    assert!(chance(&["--sea-state", "6"]) < calm);
    assert!(chance(&["--sea-state", "0", "--rain-mm-h", "16"]) < calm);
    assert!(chance(&["--sea-state", "0", "--k-factor", "0.7"]) < calm);
}

#[test]
fn a_gradient_states_refraction_in_place_of_k() {
    let with = |more: &[&str]| {
        let mut arguments = LOW.to_vec();
        arguments.extend_from_slice(more);
        answer(&arguments)
    };
    let cautioned = |answer: &Value, word: &str| {
        let cautions = answer["cautions"].as_array().unwrap();
        // Last stands the caution of every report.
        assert!(cautions.last().unwrap().as_str().unwrap().starts_with("An aid only"));
        cautions.iter().any(|caution| caution.as_str().unwrap().starts_with(word))
    };
    // k = 2.7556 at -100 N/km (computed).
    let (gradient, k) = (with(&["--gradient-n-km", "-100"]), with(&["--k-factor", "2.7556"]));
    let (a, b) = (gradient["horizon_nm"].as_f64().unwrap(), k["horizon_nm"].as_f64().unwrap());
    assert!((a - b).abs() < 2e-3, "{a} {b}");
    assert!(cautioned(&gradient, "super-refraction") && cautioned(&k, "super-refraction"));
    assert!(cautioned(&with(&["--gradient-n-km", "30"]), "sub-refraction"));
    let duct = with(&["--gradient-n-km", "-157"]);
    assert!(cautioned(&duct, "ducting"));
    assert_ne!(outcome(&duct, "The Cinders"), "below-horizon");
    assert!(!cautioned(&with(&["--gradient-n-km", "-40"]), "sub"));
}

#[test]
fn a_mark_explained_sums_to_its_row() {
    let rows = answer(&HIGH);
    for name in ["Gannet Head", "Great Ember", "Varrow Hill", "Lantern Point"] {
        let row = rows["marks"].as_array().unwrap().iter().find(|row| row["mark"] == name).unwrap();
        let mut arguments = HIGH.to_vec();
        arguments.extend_from_slice(&["--explain", name]);
        let why = answer(&arguments);
        assert_eq!(why["schema"], "foreland.explain/1");
        assert_eq!(why["mark"], *row, "{name}");
        let terms = why["terms"].as_array().unwrap();
        let sum: f64 = terms.iter().map(|term| term["db"].as_f64().unwrap()).sum();
        // Each term is rounded to four places, the row to two.
        let db = row["signal_to_noise_db"].as_f64().unwrap();
        assert!((sum - db).abs() < 6e-3, "{name}: {sum} {db}");
        for key in [
            "own",
            "ground",
            "k",
            "horizon_nm",
            "mark_horizon_nm",
            "edge",
            "in_sight_ft",
            "answered_by",
            "cell_nm",
            "cells",
            "sea",
            "pulses",
            "integration_db",
            "even_db",
            "margin_db",
            "cautions",
        ] {
            assert!(why.get(key).is_some(), "{key}");
        }
        let standing = why["cautions"].as_array().unwrap().last().unwrap();
        assert!(standing.as_str().unwrap().starts_with("An aid only"), "{standing}");
    }
}

#[test]
fn a_mark_in_shadow_names_the_edge_that_hides_it() {
    let mut arguments = HIGH.to_vec();
    arguments.extend_from_slice(&["--explain", "ember light"]);
    let why = answer(&arguments);
    assert_eq!(why["mark"]["outcome"], "shadowed");
    assert_eq!(why["edge"]["kind"], "land");
    assert!(why["edge"]["over_line_m"].as_f64().unwrap() > 0.0);
    assert!(why["edge"]["ground_range_nm"].as_f64() < why["mark"]["ground_range_nm"].as_f64());
    assert!(why["in_sight_ft"].as_f64().unwrap().abs() < 1e-9);
}

#[test]
fn no_mark_to_explain_is_refused_with_what_is_near() {
    let refused = |more: &[&str]| {
        let mut arguments = HIGH.to_vec();
        arguments.extend_from_slice(more);
        let (status, out, err) = expect(&arguments);
        assert_eq!((status, out.as_str()), (2, ""), "{more:?}");
        err
    };
    let err = refused(&["--explain", "Ganet Head"]);
    assert!(err.contains("no mark \"Ganet Head\"") && err.contains("Gannet Head"), "{err}");
    let err = refused(&["--explain", "Xylophone"]);
    assert!(err.contains("chart marks"), "{err}");
    let err = refused(&["--explain", "Gannet Head", "--max-range-nm", "10"]);
    assert!(err.contains("past the greatest range of 10.0 NM"), "{err}");
}

#[test]
fn the_same_question_gives_the_same_bytes() {
    let (_, one, _) = expect(&HIGH);
    for threads in ["1", "3"] {
        let output = Command::new(env!("CARGO_BIN_EXE_foreland"))
            .args(["expect", "--chart", "charts-sample", "--at", OFF_HARROW])
            .args(HIGH)
            .env("RAYON_NUM_THREADS", threads)
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .unwrap();
        assert_eq!(String::from_utf8(output.stdout).unwrap(), one);
    }
}

#[test]
fn what_is_out_of_bounds_is_refused() {
    let refused = [
        (&["--step-deg", "0"][..], "0 is outside 0.01 to 10 degrees"),
        (&["--step-deg", "10.5"], "10.5 is outside 0.01 to 10 degrees"),
        (&["--max-range-nm", "-1"], "-1 is outside 0 to 500 NM"),
        (&["--max-range-nm", "501"], "501 is outside 0 to 500 NM"),
        (&["--k-factor", "0"], "k factor 0 is not above 0"),
        (&["--k-factor", "-1.3"], "k factor -1.3 is not above 0"),
        (&["--gradient-n-km", "-1001"], "-1001 is outside -1000 to 1000 N/km"),
        (&["--gradient-n-km", "-40", "--k-factor", "1.3"], "cannot be used with"),
        (&["--sea-state", "7"], "give a whole number from 0 to 6"),
        (&["--heading-deg", "361"], "bearing 361 ° is outside 0 to 360 °"),
    ];
    for (more, told) in refused {
        let mut arguments = HIGH.to_vec();
        arguments.extend_from_slice(more);
        let (status, out, err) = expect(&arguments);
        assert_eq!((status, out.as_str()), (2, ""), "{more:?}");
        assert!(err.contains(told), "{more:?}: {err}");
    }
    let (status, _, err) = expect(&["--height-ft", "50", "--set", "ferry"]);
    assert_eq!(status, 2);
    assert!(err.contains("no set \"ferry\""), "{err}");
}

#[test]
fn nothing_is_written_over_a_set_or_a_chart_that_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let files = ["own.toml", "chart/coast.prj"].map(|name| folder.path().join(name));
    std::fs::create_dir(folder.path().join("chart")).unwrap();
    for file in &files {
        std::fs::write(file, "kept").unwrap();
    }
    let expect = ["expect", "--at", OFF_HARROW, "--height-ft", "50", "--chart", "chart"];
    let own = [&expect[..], &["--set", "own.toml", "-o", "own.toml"]].concat();
    let prj = [&expect[..], &["--set", "boat", "-o", "chart/coast.prj"]].concat();
    let of_chart = "-o names chart/coast.prj, a file of the chart folder chart";
    for (arguments, told) in [
        (&own[..], "-o and --set name the same file, own.toml"),
        (&prj, of_chart),
        (&["set", "check", "own.toml", "-o", "own.toml"], "-o and FILE name the same file"),
        (&["set", "show", "own.toml", "-o", "./own.toml"], "-o and NAME name the same file"),
        (&["chart", "check", "chart", "-o", "chart/coast.prj"], of_chart),
        (&["chart", "marks", "--chart", "chart", "-o", "chart/coast.prj"], of_chart),
        (
            &["chart", "prepare", "chart", "--beside", "-o", "chart.foreland-index"],
            "-o and the chart's index name the same file",
        ),
    ] {
        let (status, out, err) = run(program().args(arguments).current_dir(folder.path()), b"");
        assert_eq!((status, out.as_str()), (2, ""), "{arguments:?}: {err}");
        assert!(err.contains(told), "{arguments:?}: {err}");
    }
    for file in files {
        assert_eq!(std::fs::read_to_string(&file).unwrap(), "kept", "{}", file.display());
    }
    // A built-in set is read from no file, whatever a file is called.
    let (status, _, err) =
        run(program().args(["set", "show", "boat", "-o", "boat"]).current_dir(folder.path()), b"");
    assert_eq!((status, err.as_str()), (0, ""));
}

#[test]
fn a_range_of_nothing_and_the_greatest_are_taken() {
    for range in ["0", "500"] {
        let mut arguments = HIGH.to_vec();
        arguments.extend_from_slice(&["--max-range-nm", range, "--step-deg", "10"]);
        let answer = answer(&arguments);
        assert!(answer["marks"].is_array(), "{range}");
    }
}

#[test]
fn golden() {
    trycmd::TestCases::new().case("tests/cmd/set-*.toml").case("tests/cmd/expect-*.toml");
}

#[test]
fn a_height_the_set_is_not_meant_for_is_cautioned() {
    let (status, text, _) = foreland(&["set", "show", "patrol"]);
    assert_eq!(status, 0);
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("low.toml");
    std::fs::write(&file, format!("{text}usable_height_ft = [500, 1000]\n")).unwrap();
    let told = |feet: &str| {
        let answer = answer(&["--height-ft", feet, "--set", file.to_str().unwrap()]);
        answer["cautions"].to_string().contains("outside the 500 to 1000 ft")
    };
    assert!(told("2000") && told("50") && !told("800"));
}
