//! `foreland reckon`, run as a user runs it.

#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod program;

use serde_json::Value;

use program::{program, run};

/// Runs the program from the project's root on legs given to its standard input.
fn reckon(arguments: &[&str], legs: &str) -> (i32, String, String) {
    run(program().args(["reckon", "-"]).args(arguments), legs.as_bytes())
}

/// An exercise of a naval training manual (published): heading 052, 250 kn for a quarter of an hour; the wind that puts it on 045 at 220 kn computed.
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
    let said = "CAUTIONS\n  the fix at 01:25:00Z is at odds with the reckoning, ";
    assert!(far.contains(said), "{far}");
    let (_, far, _) = reckon(&["--format", "json"], &with("36 02.0 S, 26 14.0 W"));
    let far: Value = serde_json::from_str(&far).unwrap();
    let cautions = far["cautions"].as_array().unwrap();
    assert!(cautions[0].as_str().unwrap().starts_with("the fix at 01:25:00Z is at odds"), "{far}");
    assert!(cautions[1].as_str().unwrap().starts_with("An aid only"), "{far}");
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
fn past_midnight_the_day_is_told() {
    let late = QUARTER.replace("T01:10", "T23:50");
    let fix = "[[fix]]\ntime = \"2031-03-10T00:05:00Z\"\nposition = \"36 40.0 S, 28 05.0 W\"\nsigma_nm = 0.5\n";
    let (status, out, err) = reckon(&[], &format!("{late}{fix}"));
    assert_eq!((status, err.as_str()), (0, ""));
    for told in ["from 23:50:00Z to 03-10 00:05:00Z", "the fix at 03-10 00:05:00Z is at odds"] {
        assert!(out.contains(told), "{out}");
    }
}

#[test]
fn the_reports_are_as_they_were() {
    trycmd::TestCases::new().case("tests/cmd/reckon-*.toml");
}

/// Own motion all but exact: what exercises on paper suppose.
const ON_PAPER: &str = "craft = \"vessel\"\nheading_sigma_deg = 0.0001\nspeed_sigma_percent = 0.0001\n\
                        flow_sigma_kn = 0.0001\nwander_nm = 0.0\n";

/// Legs with two bearings of a mark at 0°20.0'N 0°17.0'E, half an hour apart.
fn two_bearings(start: &str, leg: &str, first: &str, second: &str) -> String {
    let line = |bearing: &str, time: &str| {
        format!(
            "[[line]]\ntime = \"2031-03-09T{time}:00Z\"\nmark = \"Light A\"\nposition = \"0 20.0 N, 0 17.0 E\"\n\
             mark_sigma_nm = 0.0001\n{bearing}\nbearing_sigma_deg = 0.05\n"
        )
    };
    format!(
        "[start]\ntime = \"2031-03-09T22:30:00Z\"\nposition = \"{start}\"\nsigma_nm = 20.0\n{ON_PAPER}\
         [[leg]]\n{leg}\nminutes = 60\n{}{}",
        line(first, "23:00"),
        line(second, "23:30")
    )
}

/// The last running fix of legs given, and how far it puts us off the mark, in nautical miles.
fn running_fix(legs: &str) -> (Value, f64) {
    let (status, out, err) = reckon(&["--format", "json"], legs);
    assert_eq!((status, err.as_str()), (0, ""));
    let answer: Value = serde_json::from_str(&out).unwrap();
    let fix = answer["running_fixes"].as_array().unwrap().last().unwrap().clone();
    let minutes = |axis: &str, mark: f64| 60.0 * fix["position"][axis].as_f64().unwrap() - mark;
    let off = minutes("lat_deg", 20.0).hypot(minutes("lon_deg", 17.0));
    (fix, off)
}

#[test]
fn a_running_fix_with_and_without_the_current() {
    // Course 000, 6 kn; fixes 2130 0°10.5'N 0°10.0'E and 2230 0°15.0'N 0°12.0'E: set 126.9, drift 2.50 kn.
    // Light A at 0°20.0'N 0°17.0'E bears 060 at 2300 and 100 at 2330. Data of a published exercise, seen
    // second-hand; answers computed on the plane: with the current 20.39'N 14.78'E, 2.25 NM off; without it
    // 20.70'N 13.02'E, 4.04 NM off, wrong by 1.8 NM on the unsafe side.
    let held = "heading_deg = 0.0\ntas_kn = 6.0";
    let stream = format!("{held}\ncurrent = {{ set_deg = 126.87, drift_kn = 2.5 }}");
    for (leg, north, east, off) in
        [(stream.as_str(), 20.39, 14.78, 2.25), (held, 20.70, 13.02, 4.04)]
    {
        let (first, second) = ("bearing_deg = 60.0", "bearing_deg = 100.0");
        let legs = two_bearings("0 15.0 N, 0 12.0 E", leg, first, second);
        let (fix, found) = running_fix(&legs);
        assert_eq!(fix["verdict"], "fixed");
        assert_eq!(fix["lines"], serde_json::json!([1, 2]));
        assert_eq!(fix["went_on"], false);
        // The ellipsoid has 0.6 % at the equator.
        assert!((found - off).abs() < 0.04, "{found} for {off}");
        let minutes = |axis: &str| 60.0 * fix["position"][axis].as_f64().unwrap();
        assert!((minutes("lat_deg") - north).abs() < 0.04, "{fix}");
        assert!((minutes("lon_deg") - east).abs() < 0.04, "{fix}");
        assert!((fix["cut_deg"].as_f64().unwrap() - 40.0).abs() < 0.2 && fix["flat"] == false);
        // What is left is the leeway counted, 3 % of 6 kn for half an hour, along the second bearing.
        assert!(fix["ellipse"]["semi_major_nm"].as_f64().unwrap() < 0.4, "{fix}");
        assert!(fix["ellipse"]["semi_minor_nm"].as_f64().unwrap() < 0.02, "{fix}");
    }
}

#[test]
fn running_fixes_of_the_plotting_exercises() {
    // Course, speed, two bearings half an hour apart, distance off at the second. Data seen second-hand
    // (a deck examination's table of two bearings, a sailing course); answers computed by the sine rule.
    for (course, knots, first, second, off) in [
        (315.0, 12.0, "bearing_deg = 340.0", "bearing_deg = 0.0", 7.414),
        // Bow bearings 25° and 45° again, read off the bow.
        (
            315.0,
            12.0,
            "bearing_deg = 25.0\nbearing_kind = \"relative\"",
            "bearing_deg = 45.0\nbearing_kind = \"relative\"",
            7.414,
        ),
        // 051 by magnetic compass, variation 13 W, is 038.
        (
            70.0,
            6.0,
            "bearing_deg = 51.0\nbearing_kind = \"magnetic\"\nvariation = \"13 W\"",
            "bearing_deg = 351.0",
            2.174,
        ),
    ] {
        let leg = format!("heading_deg = {course:?}\ntas_kn = {knots:?}");
        let (fix, found) = running_fix(&two_bearings("0 12.0 N, 0 12.0 E", &leg, first, second));
        assert_eq!(fix["verdict"], "fixed", "{fix}");
        assert!((found - off).abs() < 0.05, "{course}: {found} for {off}");
    }
}

#[test]
fn the_reckoning_goes_on_from_a_running_fix_only_where_it_is_asked() {
    let held = "heading_deg = 0.0\ntas_kn = 6.0";
    let legs =
        |second: &str| two_bearings("0 15.0 N, 0 13.0 E", held, "bearing_deg = 60.0", second);
    let end = |legs: &str| {
        let (status, out, _) = reckon(&["--format", "json"], legs);
        assert_eq!(status, 0);
        let answer: Value = serde_json::from_str(&out).unwrap();
        let whens: Vec<String> = answer["positions"]
            .as_array()
            .unwrap()
            .iter()
            .map(|position| position["when"].as_str().unwrap().to_owned())
            .collect();
        (answer["positions"].as_array().unwrap().last().unwrap().clone(), whens, answer)
    };
    let (stays, whens, _) = end(&legs("bearing_deg = 100.0"));
    assert_eq!(whens, ["start", "leg-end"]);
    assert!(stays["ellipse"]["semi_major_nm"].as_f64().unwrap() > 40.0);
    let (goes, whens, answer) = end(&legs("go_on = true\nbearing_deg = 100.0"));
    assert_eq!(whens, ["start", "running-fix", "leg-end"]);
    assert_eq!(answer["running_fixes"][1]["went_on"], true);
    // One line that is gone on from is no running fix.
    let one = two_bearings(
        "0 15.0 N, 0 13.0 E",
        held,
        "go_on = true\nbearing_deg = 60.0",
        "bearing_deg = 100.0",
    );
    let (_, whens, alone) = end(&one);
    assert_eq!(whens, ["start", "after-lines", "leg-end"]);
    assert_eq!(alone["running_fixes"][0]["verdict"], "too-few");
    assert!(answer["running_fixes"][0]["lines_only"].is_null());
    assert_eq!(answer["running_fixes"][0]["verdict"], "too-few");
    assert!(goes["ellipse"]["semi_major_nm"].as_f64().unwrap() < 0.4, "{goes}");
    // Where the exercise puts the ship at 2330.
    let minutes = |axis: &str| 60.0 * goes[axis].as_f64().unwrap();
    assert!((minutes("lat_deg") - 20.70).abs() < 0.06, "{goes}");
    assert!((minutes("lon_deg") - 13.02).abs() < 0.06, "{goes}");
}

#[test]
fn lines_that_cannot_be_crossed_are_said_to_be_so() {
    let held = "heading_deg = 0.0\ntas_kn = 6.0";
    // Twelve degrees of cut.
    let flat = two_bearings("0 15.0 N, 0 13.0 E", held, "bearing_deg = 60.0", "bearing_deg = 72.0");
    let (_, out, _) = reckon(&[], &flat);
    assert!(out.contains("lines cross TOO FLAT, at 12°: under 30° a small error"), "{out}");
    assert!(out.contains("cross too flat, at 12°"), "{out}");
    // A bearing from the other side of a reckoning that is stated to be good.
    let wrong = flat.replace("sigma_nm = 20.0", "sigma_nm = 0.5").replace("= 60.0", "= 200.0");
    let (_, out, _) = reckon(&["--format", "json"], &wrong);
    let answer: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(answer["running_fixes"][0]["verdict"], "at-odds", "{out}");
    assert!(answer["running_fixes"][0]["position"].is_null());
    let cautions = answer["cautions"].to_string();
    assert!(cautions.contains("the reckoning are at odds, and nothing is averaged"), "{cautions}");
}

#[test]
fn a_mark_is_looked_up_on_the_chart() {
    let legs = "[start]\ntime = \"2031-03-09T03:30:00Z\"\nposition = \"38 12.9 S, 21 30.5 W\"\nsigma_nm = 4.0\n\
                [[leg]]\nheading_deg = 74.0\ntas_kn = 165\nminutes = 9\n\
                wind = { from_deg = 310.0, speed_kn = 22.0 }\n\
                [[line]]\ntime = \"2031-03-09T03:33:00Z\"\nmark = \"gannet head\"\nrange_nm = 17.5\n\
                range_sigma_nm = 0.2\nbearing_deg = 40.0\nbearing_sigma_deg = 1.5\ngo_on = true\n";
    let (status, out, err) = reckon(&["--chart", "charts-sample", "--format", "json"], legs);
    assert_eq!((status, err.as_str()), (0, ""));
    let answer: Value = serde_json::from_str(&out).unwrap();
    let fix = &answer["running_fixes"][0];
    assert_eq!(fix["dof"], 2);
    assert!((fix["cut_deg"].as_f64().unwrap() - 90.0).abs() < 0.1);
    // A range of 0.2 NM and a bearing of 1.5° on a mark charted to 0.05 NM, the chart to 0.05.
    let minor = fix["lines_only"]["ellipse"]["semi_minor_nm"].as_f64().unwrap();
    assert!((minor / 2.4477 - 0.2_f64.hypot(0.05).hypot(0.05)).abs() < 0.01, "{minor}");
    assert!(answer["flow_found"]["from_deg"].is_number());
}

/// A vessel's hour past a mark charted to 0.3 NM, range and bearing of it every quarter of an hour.
fn past_a_mark(go_on: [bool; 3], between: &str) -> Value {
    let line = |(minutes, range, bearing, go_on): (u32, f64, f64, bool)| {
        format!(
            "[[line]]\ntime = \"2031-03-09T04:{minutes}:00Z\"\nmark = \"Light A\"\nposition = \"0 20.0 N, 0 17.0 E\"\n\
             mark_sigma_nm = 0.3\nrange_nm = {range}\nrange_sigma_nm = 0.05\nbearing_deg = {bearing}\n\
             bearing_sigma_deg = 0.5\ngo_on = {go_on}\n"
        )
    };
    // North at 6 kn, the mark 2 NM off abeam at 04:30.
    let seen = [(15, 2.5, 53.13), (30, 2.0, 90.0), (45, 2.5, 126.87)];
    let lines: String =
        seen.into_iter().zip(go_on).map(|((at, far, way), on)| line((at, far, way, on))).collect();
    let legs = format!(
        "[start]\ntime = \"2031-03-09T04:00:00Z\"\nposition = \"0 17.0 N, 0 15.0 E\"\nsigma_nm = 2.0\n\
         craft = \"vessel\"\n[[leg]]\nheading_deg = 0.0\ntas_kn = 6.0\nminutes = 60\n\
         current = {{ set_deg = 0.0, drift_kn = 0.0, sigma_kn = 0.2 }}\n{lines}{between}"
    );
    let (status, out, err) = reckon(&["--format", "json"], &legs);
    assert_eq!((status, err.as_str()), (0, ""));
    serde_json::from_str(&out).unwrap()
}

#[test]
fn the_error_of_a_mark_is_one_however_often_the_reckoning_goes_on_from_it() {
    let variances = |answer: &Value| {
        let end = answer["positions"].as_array().unwrap().last().unwrap();
        assert_eq!(end["when"], "leg-end");
        [0, 1].map(|i| end["covariance_nm2"][i][i].as_f64().unwrap())
    };
    let each = past_a_mark([true; 3], "");
    let last = past_a_mark([false, false, true], "");
    for (one, other) in variances(&each).into_iter().zip(variances(&last)) {
        assert!((one / other - 1.0).abs() < 0.01, "{one} {other}");
        // No reading of a mark makes it better charted.
        assert!(one > 0.3 * 0.3, "{one}");
    }
    assert_eq!(each["running_fixes"][2]["lines"], serde_json::json!([1, 2, 3]));
}

#[test]
fn the_answer_is_not_written_over_the_legs() {
    let folder = tempfile::tempdir().unwrap();
    let legs = folder.path().join("legs.toml");
    std::fs::write(&legs, QUARTER).unwrap();
    let mut command = program();
    command.args(["reckon", "legs.toml", "-o", "./legs.toml"]).current_dir(folder.path());
    let (status, out, err) = run(&mut command, b"");
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("-o and LEGS name the same file, ./legs.toml"), "{err}");
    assert_eq!(std::fs::read_to_string(&legs).unwrap(), QUARTER);
}

#[test]
fn lines_that_a_fix_puts_an_end_to_are_named() {
    let fix = "[[fix]]\ntime = \"2031-03-09T04:20:00Z\"\nposition = \"0 19.0 N, 0 15.0 E\"\nsigma_nm = 1.0\n";
    let answer = past_a_mark([false; 3], fix);
    let cautions = answer["cautions"].to_string();
    assert!(
        cautions.contains("line 1 is let go of at 04:20:00Z, when the fix was taken"),
        "{cautions}"
    );
    assert_eq!(answer["running_fixes"][2]["lines"], serde_json::json!([2, 3]));
}

#[test]
fn a_line_at_odds_is_left_out_of_those_that_follow() {
    let good = past_a_mark([false, false, true], "");
    // A wrong bearing in between, not asked to go on from.
    let wrong = "[[line]]\ntime = \"2031-03-09T04:35:00Z\"\nmark = \"Light A\"\nposition = \"0 20.0 N, 0 17.0 E\"\n\
                 mark_sigma_nm = 0.3\nbearing_deg = 190.0\nbearing_sigma_deg = 0.5\n";
    let answer = past_a_mark([false, false, true], wrong);
    assert_eq!(answer["running_fixes"][2]["verdict"], "at-odds");
    assert_eq!(answer["running_fixes"][3]["lines"], serde_json::json!([1, 2, 4]));
    assert_eq!(answer["running_fixes"][3]["went_on"], true);
    assert_eq!(answer["running_fixes"][3]["ellipse"], good["running_fixes"][2]["ellipse"]);
}
