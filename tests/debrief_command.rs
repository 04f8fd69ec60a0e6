//! `foreland debrief`: a sitting kept as an operator keeps it, and its account.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod program;

use std::path::Path;

use foreland::watch::log::{FIRST_LINE, Log};
use serde_json::Value;

use program::{program, run};

struct Said {
    out: String,
    error: String,
    status: i32,
}

fn foreland(arguments: &[&str], input: &[u8], folder: &Path) -> Said {
    let mut command = program();
    command.args(arguments).env("XDG_STATE_HOME", folder).current_dir(folder);
    let (status, out, error) = run(&mut command, input);
    Said { out, error, status }
}

const CHART: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/charts-sample");
const SIGHTINGS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/charts-sample/landfall.toml");

/// The sample's landfall accepted, and what came after it.
fn sitting(folder: &Path) {
    let entries =
        "accept\n14.5 079 @03:50:10\nA 14.4 079\n# haze, then clear\n9 100 @03:50:40\nundo\n";
    let kept = foreland(
        &["watch", "--plain", "--chart", CHART, SIGHTINGS, "--log", "watch.log"],
        entries.as_bytes(),
        folder,
    );
    assert_eq!((kept.status, kept.error.as_str()), (0, ""), "{}", kept.out);
    assert!(kept.out.contains("kept: fix accepted"), "{}", kept.out);
}

fn account(arguments: &[&str], folder: &Path) -> Value {
    let told = foreland(arguments, b"", folder);
    assert_eq!((told.status, told.error.as_str()), (0, ""));
    serde_json::from_str(&told.out).unwrap()
}

#[test]
fn a_sitting_is_told_from_its_log_and_the_log_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    sitting(folder.path());
    let log = folder.path().join("watch.log");
    let before = std::fs::read(&log).unwrap();
    // In use: its writer has it locked.
    let (held, _) = Log::open(&log).unwrap();
    let told = account(&["debrief", "watch.log", "--format", "json"], folder.path());
    drop(held);
    assert_eq!(std::fs::read(&log).unwrap(), before);

    for key in [
        "schema",
        "log",
        "chart",
        "notices",
        "entries",
        "fixes",
        "track",
        "contacts",
        "echoes",
        "drift",
        "verdicts",
        "painted",
        "painted_note",
        "missed",
        "cautions",
        "landfall",
        "named_anew",
    ] {
        assert!(told.get(key).is_some(), "{key}");
    }
    assert_eq!(told["schema"], "foreland.debrief/1");
    assert_eq!(told["fixes"].as_array().unwrap().len(), 1);
    let fix = &told["fixes"][0];
    assert_eq!(fix["verdict"], "fixed");
    // The sample's own account: the reckoning is 5.1 NM off, and the fix says so at the time too.
    let off = fix["dr_error"]["offset_nm"].as_f64().unwrap();
    assert!((2.0..9.0).contains(&off), "{off}");
    let part = |key: &str| fix["dr_error"][key].as_f64().unwrap();
    assert!((part("along_nm").hypot(part("across_nm")) - off).abs() < 1e-3);
    let undone: Vec<&Value> = told["entries"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|entry| entry["became"] == "undone")
        .collect();
    assert_eq!(undone.len(), 1);
    assert!(undone[0]["typed"].as_str().unwrap().starts_with("9 100"));
    let track = told["track"].as_array().unwrap();
    assert!(track.iter().any(|point| point["kind"] == "smoothed"));
    assert!(track.iter().any(|point| point["kind"] == "reckoned"));
    let times: Vec<&str> = track.iter().map(|point| point["time"].as_str().unwrap()).collect();
    assert!(times.is_sorted(), "{times:?}");
    // From 03:40 over the fix at 03:42:55 to the last contact at 03:50:10.
    assert_eq!(
        (times[0], *times.last().unwrap()),
        ("2031-03-09T03:40:00Z", "2031-03-09T03:50:10Z")
    );
    // The log says that it was kept on the sample, which is built in.
    assert_eq!(told["named_anew"], true);
    assert!(told["notices"].to_string().contains("the one built in is taken"));
    assert!(!told["verdicts"].as_array().unwrap().is_empty());

    let again = foreland(&["debrief", "-", "--format", "json"], &before, folder.path());
    let again: Value = serde_json::from_str(&again.out).unwrap();
    assert_eq!(again["track"], told["track"]);
}

#[test]
fn with_its_chart_marks_are_named_anew_and_what_was_missed_is_told() {
    let folder = tempfile::tempdir().unwrap();
    sitting(folder.path());
    let told =
        account(&["debrief", "watch.log", "--chart", CHART, "--format", "json"], folder.path());
    assert_eq!(told["named_anew"], true);
    assert_eq!(told["fixes"][0]["verdict_anew"], "fixed");
    let contacts = told["contacts"].as_array().unwrap();
    for contact in contacts.iter().filter(|contact| contact["fix_record"].is_number()) {
        if contact["taken_for"].is_string() && contact["anew"].is_object() {
            assert_eq!(contact["anew"]["mark"], contact["taken_for"], "{contact}");
        }
        let left = contact["residual"]["range_nm"].as_f64().unwrap();
        assert!(left.abs() < 1.0, "{contact}");
    }
    let missed = told["missed"].as_array().unwrap();
    assert!(!missed.is_empty());
    let painted = told["painted"].as_array().unwrap();
    assert_eq!(missed.len(), painted.iter().filter(|it| it["never_reported"] == true).count());
    assert!(painted.iter().any(|it| it["reported"].is_object()));
    assert!(told["painted_note"].as_str().unwrap().contains("not a reproach"));
    for mark in missed {
        assert!(mark["paint_probability"].as_f64().unwrap() >= 0.5);
        assert!(contacts.iter().all(|contact| contact["taken_for"] != mark["mark"]));
    }
    let text = foreland(&["debrief", "watch.log", "--chart", CHART], b"", folder.path()).out;
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    assert!(text.contains("known afterwards") && text.contains("An aid only"), "{text}");
}

#[test]
fn no_two_options_write_one_file_and_none_the_log() {
    let folder = tempfile::tempdir().unwrap();
    sitting(folder.path());
    let (log, real) = (folder.path().join("watch.log"), folder.path().join("real"));
    let before = std::fs::read(&log).unwrap();
    std::fs::create_dir(&real).unwrap();
    std::os::unix::fs::symlink(&real, folder.path().join("link")).unwrap();
    for (options, told) in [
        (["--csv", "out", "--geojson", "./out"], "--geojson and --csv name the same file, ./out"),
        (["--gpx", "real/out", "--html", "link/out"], "--gpx and --html name the same file"),
        (["--gpx", "out", "--markdown", "real/../out"], "--gpx and --markdown name the same file"),
        (["--gpx", "out", "--csv", "watch.log"], "--csv and LOG name the same file, watch.log"),
        (["--gpx", "out", "-o", "watch.log"], "-o and LOG name the same file, watch.log"),
        (
            ["--chart", "real", "--csv", "real/coast.dbf"],
            "--csv names real/coast.dbf, a file of the chart folder real",
        ),
    ] {
        let arguments = [&["debrief", "watch.log"][..], &options].concat();
        let said = foreland(&arguments, b"", folder.path());
        assert_eq!((said.status, said.out.as_str()), (2, ""), "{options:?}");
        assert!(said.error.contains(told), "{}", said.error);
        assert!(!folder.path().join("out").exists(), "{options:?}");
        assert_eq!(std::fs::read_dir(&real).unwrap().count(), 0, "{options:?}");
    }
    assert_eq!(std::fs::read(&log).unwrap(), before);
    // A device holds nothing that could be lost.
    let arguments = ["debrief", "watch.log", "--csv", "/dev/null", "--geojson", "/dev/null"];
    let said = foreland(&arguments, b"", folder.path());
    assert_eq!(said.status, 0, "{}", said.error);
}

#[test]
fn damage_is_named_and_skipped() {
    let folder = tempfile::tempdir().unwrap();
    sitting(folder.path());
    let log = folder.path().join("watch.log");
    let sound = std::fs::read(&log).unwrap();
    let third = sound.iter().enumerate().filter(|(_, b)| **b == b'\n').nth(3).unwrap().0;
    let mut damaged = sound.clone();
    damaged[third - 5] ^= 1;
    damaged.truncate(sound.len() - 4);
    std::fs::write(&log, &damaged).unwrap();
    let told = account(&["debrief", "watch.log", "--format", "json"], folder.path());
    let notices: Vec<&str> =
        told["notices"].as_array().unwrap().iter().map(|notice| notice.as_str().unwrap()).collect();
    assert!(notices.iter().any(|notice| notice.contains("line 4 is damaged")), "{notices:?}");
    assert!(notices.iter().any(|notice| notice.contains("was cut off")), "{notices:?}");
    // Cut anywhere, it is told or refused in words, never a fault.
    for cut in (0..sound.len()).step_by(sound.len() / 25) {
        let told = foreland(&["debrief", "-"], &sound[..cut], folder.path());
        assert!([0, 2].contains(&told.status), "cut at {cut}: {}", told.error);
    }
}

#[test]
fn what_is_no_log_is_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let refused = |input: &[u8]| {
        std::fs::write(folder.path().join("x.log"), input).unwrap();
        let told = foreland(&["debrief", "x.log"], b"", folder.path());
        assert_eq!((told.status, told.out.as_str()), (2, ""));
        told.error
    };
    assert!(refused(b"").contains("x.log: holds no record that can be read"));
    assert!(refused(FIRST_LINE.as_bytes()).contains("holds no record"));
    assert!(refused(b"[reckoning]\n").contains("x.log: is no watch log"));
    let later = refused(b"foreland watch log, version 9\nq\n");
    assert!(later.contains("was written by a later version of this program"), "{later}");
    let damaged = refused(format!("{FIRST_LINE}00000000 1 x y {{}}\n").as_bytes());
    assert!(damaged.contains("line 2 is damaged"), "{damaged}");
    let none = foreland(&["debrief", "none.log"], b"", folder.path());
    assert_eq!(none.status, 2);
    assert!(none.error.contains("none.log: cannot be read"), "{}", none.error);
    let folder_itself = foreland(&["debrief", "."], b"", folder.path());
    assert_eq!(folder_itself.status, 2);
}

#[test]
fn a_file_that_cannot_be_written_is_named_and_the_others_are_written() {
    let folder = tempfile::tempdir().unwrap();
    sitting(folder.path());
    let told = foreland(
        &[
            "debrief",
            "watch.log",
            "--gpx",
            "none/a.gpx",
            "--csv",
            "a.csv",
            "--html",
            "a.html",
            "-o",
            "a.txt",
        ],
        b"",
        folder.path(),
    );
    assert_eq!((told.status, told.out.as_str()), (2, ""));
    assert!(told.error.contains("none/a.gpx: cannot be written"), "{}", told.error);
    for name in ["a.csv", "a.html", "a.txt"] {
        assert!(std::fs::metadata(folder.path().join(name)).unwrap().len() > 500, "{name}");
    }
}

#[test]
fn another_chart_than_the_logs_names_nothing_anew() {
    let folder = tempfile::tempdir().unwrap();
    let other = folder.path().join("other");
    std::fs::create_dir_all(other.join("dem")).unwrap();
    for from in ["", "dem"] {
        for file in std::fs::read_dir(Path::new(CHART).join(from)).unwrap() {
            let file = file.unwrap().path();
            if file.is_file() {
                std::fs::copy(&file, other.join(from).join(file.file_name().unwrap())).unwrap();
            }
        }
    }
    let manifest = other.join("chart.toml");
    let text = std::fs::read_to_string(&manifest).unwrap();
    let renamed = text.replace("Harrow and the Ember Isles (invented)", "Elsewhere");
    assert_ne!(renamed, text);
    std::fs::write(&manifest, renamed).unwrap();
    sitting(folder.path());
    let told =
        account(&["debrief", "watch.log", "--chart", "other", "--format", "json"], folder.path());
    assert_eq!(told["named_anew"], false);
    let notices = told["notices"].to_string();
    assert!(notices.contains("this is Elsewhere: marks are not named anew"), "{notices}");
    assert_eq!(told["missed"].as_array().unwrap().len(), 0);
    assert!(told["painted"].is_null());
    assert!(told["painted_note"].as_str().unwrap().contains("is not the one"), "{told}");
}

#[test]
fn without_a_fix_there_is_the_reckoning_alone() {
    let folder = tempfile::tempdir().unwrap();
    let kept = foreland(
        &["watch", "--plain", "--chart", CHART, SIGHTINGS, "--log", "watch.log"],
        b"14.5 079 @03:50:10\n",
        folder.path(),
    );
    assert_eq!(kept.status, 0);
    let told = account(&["debrief", "watch.log", "--format", "json"], folder.path());
    let track = told["track"].as_array().unwrap();
    assert!(!track.is_empty() && track.iter().all(|point| point["kind"] == "reckoned"));
    assert!(told["cautions"].to_string().contains("no fix was accepted"));
    // Grown as the reckoning grows: never better than its start.
    let spread = |point: &Value| point["covariance_nm2"][0][0].as_f64().unwrap();
    assert!(track.iter().all(|point| spread(point) >= spread(&track[0]) - 1e-9));
}

/// Two fixes, a drift taken into use and a ship: `tests/reference/watch-log`.
const SORTIE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/watch-log/sortie.log");

#[test]
fn the_drift_found_is_told_against_what_was_used() {
    let folder = tempfile::tempdir().unwrap();
    let told = account(&["debrief", SORTIE, "--format", "json"], folder.path());
    let fixes = told["fixes"].as_array().unwrap();
    let drift = told["drift"].as_array().unwrap();
    assert_eq!((fixes.len(), drift.len()), (2, 1));
    let drift = &drift[0];
    assert_eq!((&drift["used"]["track_deg"], &drift["minutes"]), (&74.0.into(), &5.0.into()));
    assert!(drift["taken_into_use"].is_string());
    // Over a run, beside the reckoning by what the reckoning was off, contacts against the place that
    // it started from: the same by two ways.
    let off = fixes[1]["dr_error"]["offset_nm"].as_f64().unwrap();
    let found =
        |of: &Value| of["east_kn"].as_f64().unwrap().hypot(of["north_kn"].as_f64().unwrap());
    assert!((found(&drift["found"]) * 5.0 / 60.0 - off).abs() < 0.01, "{drift} {off}");
    // Known afterwards: drawn towards what was stated of track and speed, and better known.
    assert!(found(&drift["smoothed"]) < found(&drift["found"]), "{drift}");
    let spread = |of: &Value| of["covariance_kn2"][0][0].as_f64().unwrap();
    assert!(spread(&drift["smoothed"]) < 64.0 + 25.0);
    // The first fix is better known for the second.
    let area = |of: &Value| {
        let ellipse = &of["ellipse"];
        ellipse["semi_major_nm"].as_f64().unwrap() * ellipse["semi_minor_nm"].as_f64().unwrap()
    };
    assert!(area(&fixes[0]["smoothed"]) <= area(&fixes[0]["place"]) * 1.0001);
    let echo = &told["echoes"][0];
    assert_eq!((echo["name"].as_str(), echo["sights"].as_u64()), (Some("white ship"), Some(2)));
}

#[test]
fn golden() {
    trycmd::TestCases::new().case("tests/cmd/debrief-*.toml");
}
