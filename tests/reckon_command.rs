//! `foreland reckon`, run as a user runs it.

#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::io::Write;
use std::process::{Command, Stdio};

use serde_json::Value;

/// Runs the program from the project's root on legs given to its standard input.
fn reckon(arguments: &[&str], legs: &str) -> (i32, String, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_foreland"))
        .args(["reckon", "-"])
        .args(arguments)
        .env("NO_COLOR", "1")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // Refused for its arguments, it ends before it reads: that is no fault of the test.
    let _ = child.stdin.take().unwrap().write_all(legs.as_bytes());
    let output = child.wait_with_output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

/// A published exercise of a US Navy training manual (page seen): heading 052, 250 kn for a quarter of an
/// hour; the wind that puts it on 045 at 220 kn computed.
const QUARTER: &str = r#"
[start]
time = "2031-03-09T01:10:00Z"
position = "36 40.0 S, 28 05.0 W"
sigma_nm = 0.5
[[leg]]
heading_deg = 52.0
tas_kn = 250
minutes = 15
wind = { from_deg = 92.284, speed_kn = 41.474, sigma_kn = 10.0 }
"#;

#[test]
fn the_answer_for_scripts_has_every_key_of_its_schema() {
    let (status, out, err) = reckon(&["--every-min", "5", "--format", "json"], QUARTER);
    assert_eq!((status, err.as_str()), (0, ""));
    let answer: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(answer["schema"], "foreland.reckon/1");
    let positions = answer["positions"].as_array().unwrap();
    let times: Vec<&str> = positions.iter().map(|p| p["time"].as_str().unwrap()).collect();
    assert_eq!(
        times,
        ["01:10:00Z", "01:15:00Z", "01:20:00Z", "01:25:00Z"].map(|t| format!("2031-03-09T{t}"))
    );
    for position in positions {
        for key in ["lat_deg", "lon_deg", "heading_deg", "track_deg", "speed_kn", "drift_deg"] {
            assert!(position[key].is_number(), "{key} {position}");
        }
        assert_eq!(position["leg"], 1);
        assert_eq!(position["covariance_nm2"].as_array().unwrap().len(), 2);
        assert!(position["circle_95_nm"].as_f64().unwrap() > 1.2);
    }
    let variances: Vec<f64> =
        positions.iter().map(|p| p["covariance_nm2"][0][0].as_f64().unwrap()).collect();
    assert!(variances.is_sorted() && (variances[0] - 0.25).abs() < 1e-9);
    let leg = &answer["legs"][0];
    for (key, right) in [
        ("heading_deg", 52.0),
        ("track_deg", 45.0),
        ("speed_kn", 220.0),
        ("drift_deg", -7.0),
        ("minutes", 15.0),
        ("distance_nm", 55.0),
    ] {
        assert!((leg[key].as_f64().unwrap() - right).abs() < 0.01, "{key} {leg}");
    }
    assert!(leg["steer_deg"].is_null() && leg["current"].is_null());
    assert_eq!(leg["wind"]["from_deg"], 92.284);
    assert_eq!(answer["fixes"], Value::Array(Vec::new()));
    assert!(answer["flow_found"].is_null());
    assert_eq!(answer["errors"]["defaults"].as_array().unwrap().len(), 4);
}

#[test]
fn a_fix_at_odds_is_not_averaged() {
    let with = |position: &str| {
        format!(
            "{QUARTER}[[fix]]\ntime = \"2031-03-09T01:25:00Z\"\nposition = \"{position}\"\nsigma_nm = 0.5\n"
        )
    };
    let (status, near, _) = reckon(&["--format", "json"], &with("36 02.0 S, 27 14.0 W"));
    assert_eq!(status, 0);
    let near: Value = serde_json::from_str(&near).unwrap();
    assert_eq!(near["fixes"][0]["taken"], true);
    assert!(near["flow_found"]["from_deg"].is_number());
    assert!(near["flow_found"]["speed_sigma_kn"].as_f64().unwrap() < 10.0);
    let (status, far, _) = reckon(&[], &with("36 02.0 S, 26 14.0 W"));
    assert_eq!(status, 0);
    assert!(far.contains("AT ODDS") && far.contains("not taken, and not averaged"), "{far}");
}

#[test]
fn what_is_wrong_is_exit_2_and_names_the_leg() {
    let wrong = QUARTER.replace("92.284", "400.0");
    let (status, out, err) = reckon(&[], &wrong);
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("wind of leg 1: from_deg is 400, outside 0 to 360"), "{err}");
    let (status, _, err) = reckon(&["--every-min", "0"], QUARTER);
    assert!(status == 2 && err.contains("0 is outside 0.1 to 1440 minutes"), "{err}");
    let (status, _, err) = reckon(&["--chart", "no-such-folder"], QUARTER);
    assert!(status == 2 && err.contains("no-such-folder"), "{err}");
}

#[test]
fn the_reports_are_as_they_were() {
    trycmd::TestCases::new().case("tests/cmd/reckon-*.toml");
}
