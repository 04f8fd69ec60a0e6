//! `foreland debrief`: a sitting kept as an operator keeps it, and its account.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use foreland::debrief::debrief;
use foreland::debrief::export::{Told, csv, geojson, gpx, html, markdown};
use foreland::watch::log::{
    AcceptEntry, ContactEntry, EchoEntry, FIRST_LINE, IdentityEntry, Log, PlaceEntry, Record, What,
};
use serde_json::Value;

struct Said {
    out: String,
    error: String,
    status: i32,
}

fn foreland(arguments: &[&str], input: &[u8], folder: &Path) -> Said {
    let mut child = Command::new(env!("CARGO_BIN_EXE_foreland"))
        .args(arguments)
        .env("XDG_STATE_HOME", folder)
        .env("NO_COLOR", "1")
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A command that reads no input may have gone before it is written.
    let _ = child.stdin.take().unwrap().write_all(input);
    let done = child.wait_with_output().unwrap();
    Said {
        out: String::from_utf8(done.stdout).unwrap(),
        error: String::from_utf8(done.stderr).unwrap(),
        status: done.status.code().unwrap(),
    }
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
    assert_eq!(told["missed"].as_array().unwrap().len(), 0);
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
    for mark in missed {
        assert!(mark["paint_probability"].as_f64().unwrap() >= 0.9);
        assert!(contacts.iter().all(|contact| contact["taken_for"] != mark["mark"]));
    }
    let text = foreland(&["debrief", "watch.log", "--chart", CHART], b"", folder.path()).out;
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    assert!(text.contains("known afterwards") && text.contains("An aid only"), "{text}");
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

/// A log of names that would do harm if any of them were taken for more than a name, on the date line.
fn hostile() -> Vec<Record> {
    let bad = "<script>alert(1)</script>,\"x\"\u{1b}[31m|\u{202e}'&]]>\n=1";
    let at = |second: i64| jiff::Timestamp::from_second(1_930_000_000 + second).unwrap();
    let place = |lat_deg, lon_deg| PlaceEntry {
        lat_deg,
        lon_deg,
        covariance_nm2: [[0.04, 0.01], [0.01, 0.02]],
    };
    let contact = |label: &str| {
        What::Contact(ContactEntry {
            label: label.to_owned(),
            time: Some(at(600)),
            range_nm: Some(12.0),
            bearing_deg: Some(80.0),
            ..ContactEntry::default()
        })
    };
    let set = foreland::radar::Set::builtin("patrol").unwrap().to_toml();
    let covariance_nm2 = [[4.0, 0.0], [0.0, 4.0]];
    let all = vec![
        What::Open { program: bad.to_owned(), chart: bad.to_owned() },
        What::Blank { set, height_ft: 2000.0 },
        What::Reckoning { time: at(0), lat_deg: -16.0, lon_deg: 179.7, covariance_nm2 },
        What::Track { track_deg: 80.0, speed_kn: 150.0, time: None },
        contact(bad),
        contact("B"),
        What::Note { text: bad.to_owned() },
        What::Accept(AcceptEntry {
            time: at(600),
            place: place(-15.93, -179.999),
            alone: Some(place(-15.93, -179.999)),
            verdict: bad.to_owned(),
            probability: Some(0.999),
            identities: vec![IdentityEntry {
                contact: "B".to_owned(),
                mark: bad.to_owned(),
                lat_deg: -15.9,
                lon_deg: -179.8,
                probability: 0.99,
            }],
            echoes: vec![EchoEntry { contact: bad.to_owned(), place: place(-15.9, 179.999) }],
        }),
        What::Call { label: bad.to_owned(), name: bad.to_owned() },
        contact("C"),
    ];
    let record = |(n, what)| Record {
        number: n as u64 + 1,
        time: at(i64::try_from(n).unwrap()),
        what,
        typed: Some(bad.to_owned()),
    };
    all.into_iter().enumerate().map(record).collect()
}

/// Every form of the hostile log.
fn forms() -> [(&'static str, String); 5] {
    let account = debrief(&hostile(), vec!["a \u{1b}[2J notice".to_owned()], None);
    assert_eq!((account.fixes.len(), account.echoes.len()), (1, 1));
    let log = "<b>\u{7}\"log\"";
    let told = Told { debrief: &account, log, chart: None, caution: "An aid only." };
    [
        ("gpx", gpx(&told)),
        ("geojson", geojson(&told)),
        ("csv", csv(&told)),
        ("html", html(&told)),
        ("markdown", markdown(&told)),
    ]
}

#[test]
fn a_name_is_only_a_name_in_every_file() {
    for (form, text) in forms() {
        let allowed = |c: char| c == '\n' || (form == "csv" && c == '\r');
        assert!(!text.chars().any(|c| c.is_control() && !allowed(c)), "{form}");
        assert!(!text.contains('\u{202e}'), "{form}");
        if ["gpx", "html", "markdown"].contains(&form) {
            assert!(!text.contains("<script>"), "{form}: {text}");
            assert!(text.contains("&lt;script&gt;"), "{form}");
        }
    }
}

#[test]
fn gpx_is_read_back_by_another_library_and_stands_in_the_schemas_order() {
    let [(_, text), ..] = forms();
    let read = ::gpx::read(text.as_bytes()).unwrap();
    assert_eq!(read.version, ::gpx::GpxVersion::Gpx11);
    let points: usize =
        read.tracks.iter().flat_map(|track| &track.segments).map(|s| s.points.len()).sum();
    assert!(points > 10, "{points}");
    assert!(read.tracks.iter().any(|t| t.name.as_deref() == Some("Smoothed, known afterwards")));
    // The fix, three contacts less the one that was put in after it, and the echo.
    assert!(read.waypoints.len() >= 4, "{}", read.waypoints.len());
    for at in read.waypoints.iter().map(::gpx::Waypoint::point) {
        assert!((-180.0..180.0).contains(&at.x()) && (-90.0..=90.0).contains(&at.y()));
    }
    // Schema GPX 1.1 (from memory): metadata, wpt, rte, trk; in a point time, name, desc, type.
    let order = ["<metadata>", "<wpt ", "<trk>"].map(|tag| text.find(tag).unwrap());
    assert!(order.is_sorted() && text.rfind("<wpt ").unwrap() < order[2]);
    for waypoint in text.split("<wpt ").skip(1) {
        let order = ["<time>", "<name>", "<desc>", "<type>"].map(|tag| waypoint.find(tag).unwrap());
        assert!(order.is_sorted(), "{waypoint}");
    }
}

#[test]
fn geojson_keeps_to_its_half_of_the_map() {
    let [_, (_, text), ..] = forms();
    let read: ::geojson::GeoJson = text.parse().unwrap();
    assert!(matches!(read, ::geojson::GeoJson::FeatureCollection(_)));
    let told: Value = serde_json::from_str(&text).unwrap();
    let mut kinds = std::collections::BTreeSet::new();
    for feature in told["features"].as_array().unwrap() {
        let geometry = &feature["geometry"];
        let kind = geometry["type"].as_str().unwrap();
        kinds.insert(kind.to_owned());
        let rings: Vec<&Value> = match kind {
            "Polygon" => geometry["coordinates"].as_array().unwrap().iter().collect(),
            "MultiPolygon" => {
                let parts = geometry["coordinates"].as_array().unwrap();
                assert_eq!(parts.len(), 2);
                parts.iter().flat_map(|part| part.as_array().unwrap()).collect()
            }
            _ => Vec::new(),
        };
        for ring in rings {
            let ring: Vec<(f64, f64)> = ring
                .as_array()
                .unwrap()
                .iter()
                .map(|p| (p[0].as_f64().unwrap(), p[1].as_f64().unwrap()))
                .collect();
            assert_eq!(ring.first(), ring.last());
            let twice: f64 = ring.windows(2).map(|w| w[0].0 * w[1].1 - w[1].0 * w[0].1).sum();
            assert!(twice > 0.0, "clockwise");
            let sides: Vec<bool> = ring.iter().map(|p| p.0 > 0.0).collect();
            assert!(sides.iter().all(|side| *side == sides[0]), "{ring:?}");
        }
    }
    // The run crosses 180°: the track is cut there, and so are the ellipses upon it.
    let kinds: Vec<&str> = kinds.iter().map(String::as_str).collect();
    assert_eq!(kinds, ["LineString", "MultiPolygon", "Point", "Polygon"]);
}

#[test]
fn csv_has_as_many_fields_in_each_row() {
    let [_, _, (_, text), ..] = forms();
    let rows: Vec<Vec<String>> = text.split_terminator("\r\n").map(fields).collect();
    assert_eq!(rows[0].len(), 14);
    assert!(rows.iter().all(|row| row.len() == rows[0].len()), "{text}");
    let echo = rows.iter().find(|row| row[0] == "echo").unwrap();
    assert!(echo[2].starts_with("<script>alert(1)</script>,\"x\""), "{}", echo[2]);
}

/// The fields of a line (RFC 4180).
fn fields(line: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut quoted = false;
    let mut letters = line.chars().peekable();
    while let Some(c) = letters.next() {
        match c {
            '"' if quoted && letters.peek() == Some(&'"') => {
                letters.next();
                fields.last_mut().unwrap().push('"');
            }
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            c => fields.last_mut().unwrap().push(c),
        }
    }
    fields
}

#[test]
fn the_page_stands_by_itself() {
    let [_, _, _, (_, text), _] = forms();
    for fetched in ["http://", "https://", "src=", "href=", "url(", "@import"] {
        let found = text.replace("xmlns=\"http://www.w3.org/2000/svg\"", "").contains(fetched);
        assert!(!found, "{fetched}");
    }
    assert!(
        text.contains("<svg ") && text.contains("@media print") && text.contains("An aid only.")
    );
    // Each element that is opened is closed.
    for tag in ["table", "tr", "td", "ul", "li", "svg", "p", "h2", "div", "body", "html"] {
        let opened =
            text.matches(&format!("<{tag}>")).count() + text.matches(&format!("<{tag} ")).count();
        assert_eq!(opened, text.matches(&format!("</{tag}>")).count(), "{tag}");
    }
}
