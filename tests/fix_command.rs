//! The command `fix` from outside: verdicts and their exit statuses, the form of its answer, and
//! what it says of input that is none.

#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;
use snapbox::cmd::{Command, cargo_bin};

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample").join(name)
}

fn fix() -> Command {
    Command::new(cargo_bin!("foreland")).arg("fix").arg("--chart").arg(sample(""))
}

/// Exit status, standard output, standard error.
fn run(command: Command) -> (i32, String, String) {
    let output = command.output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

fn json(command: Command) -> (i32, Value) {
    let (status, out, err) = run(command.args(["--format", "json"]));
    assert_eq!(err, "");
    (status, serde_json::from_str(&out).unwrap())
}

/// The sample's clean landfall with words put in the place of others.
fn landfall(swaps: &[(&str, &str)]) -> String {
    let mut text = fs::read_to_string(sample("landfall.toml")).unwrap();
    for (from, to) in swaps {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    text
}

const ONE_RANGE: &str = r#"
[reckoning]
time = "2031-03-09T03:40:00Z"
position = "38 12.9 S, 21 30.5 W"
sigma_nm = 4.0
[own]
height_ft = 2000
[radar]
set = "patrol"
[[contact]]
range_nm = 21.5
mark = "Gannet Head"
"#;

/// The keys of an object, sorted.
fn keys(value: &Value) -> Vec<&str> {
    value.as_object().map(|o| o.keys().map(String::as_str).collect()).unwrap_or_default()
}

#[test]
fn contacts_of_the_day_before_say_so() {
    let late = landfall(&[
        ("2031-03-09T03:40", "2031-03-09T23:58"),
        ("2031-03-09T03:41", "2031-03-09T23:59"),
        ("2031-03-09T03:42", "2031-03-10T00:00"),
    ]);
    let (status, out, _) = run(fix().arg("-").stdin(late));
    let words: Vec<&str> = out.split_whitespace().collect();
    let told = "from 5 contacts from 03-09 23:58:10Z to 00:00:55Z";
    assert!(status == 0 && words.join(" ").contains(told), "{out}");
}

#[test]
fn each_verdict_has_its_exit_status() {
    let (status, answer) = json(fix().arg(sample("landfall.toml")));
    assert_eq!((status, answer["verdict"].as_str()), (0, Some("fixed")));
    assert!(answer["position"]["lat_deg"].is_f64());

    let (status, answer) = json(fix().arg(sample("lookalike.toml")));
    assert_eq!((status, answer["verdict"].as_str()), (3, Some("ambiguous")));
    assert!(answer["position"].is_null() && answer["ellipse"].is_null());
    assert!(answer["rivals"].as_array().unwrap().len() >= 2);

    let (status, answer) = json(fix().arg("-").stdin(ONE_RANGE));
    assert_eq!((status, answer["verdict"].as_str()), (4, Some("too-few")));
    assert!(answer["position"].is_null());
    assert!(answer["most_probable"]["position"]["lon_deg"].is_f64());

    // The same contacts, and a reckoning 40 NM off that claims 2 NM.
    let off = landfall(&[("38 12.9 S", "38 52.9 S"), ("sigma_nm = 4.0", "sigma_nm = 2.0")]);
    let (status, answer) = json(fix().arg("-").stdin(off));
    assert_eq!((status, answer["verdict"].as_str()), (5, Some("at-odds")));
    assert!(answer["position"].is_null());
}

#[test]
fn every_key_is_always_there() {
    let all = [
        "bearing_bias_deg",
        "cautions",
        "consistency",
        "contacts_only",
        "covariance_nm2",
        "ellipse",
        "identities",
        "most_probable",
        "next",
        "none_of_these",
        "outlines",
        "position",
        "probability",
        "protection",
        "reckoning",
        "residuals",
        "rivals",
        "schema",
        "time",
        "unmatched",
        "verdict",
    ];
    let no_contact = ONE_RANGE.split("[[contact]]").next().unwrap();
    for text in [landfall(&[]), ONE_RANGE.to_owned(), no_contact.to_owned()] {
        let planned = text.contains("[landfall]");
        let (_, answer) = json(fix().arg("-").stdin(text));
        // The one key that is not always there.
        let found: Vec<&str> = keys(&answer).into_iter().filter(|key| *key != "landfall").collect();
        assert_eq!(found, all);
        assert_eq!(answer.get("landfall").is_some(), planned);
        assert_eq!(answer["schema"], "foreland.fix/1");
        assert_eq!(
            keys(&answer["reckoning"]),
            ["agrees", "chi2", "offset_deg", "offset_nm", "unusual"]
        );
        assert_eq!(keys(&answer["protection"]), ["assured", "radius_nm", "risk", "why"]);
        let shares: f64 = answer["rivals"].as_array().unwrap().iter().map(share).sum();
        let stated = answer["probability"].as_f64().unwrap_or(0.0);
        let sum = stated + shares + answer["none_of_these"].as_f64().unwrap();
        assert!((sum - 1.0).abs() < 1e-6, "{sum}");
    }
    let (_, answer) = json(fix().arg("-").stdin(landfall(&[])));
    assert_eq!(keys(&answer["landfall"]), ["odds", "settle_by", "verdict", "why"]);
    let ellipse = ["major_axis_deg", "probability", "semi_major_nm", "semi_minor_nm"];
    assert_eq!(keys(&answer["ellipse"]), ellipse);
    assert_eq!(keys(&answer["contacts_only"]), ["covariance_nm2", "ellipse", "position"]);
    let identity = ["contact", "mark", "mark_position", "paint_probability", "probability"];
    assert_eq!(keys(&answer["identities"][0]), identity);
    let residual = ["bearing_deg", "contact", "range_nm", "ratio_db", "standardised", "used"];
    assert_eq!(keys(&answer["residuals"][0]), residual);
    assert_eq!(keys(&answer["consistency"]), ["chi2", "dof", "p"]);
    assert_eq!(keys(&answer["bearing_bias_deg"]), ["sigma", "value"]);
    let next = [
        "bearing_deg",
        "major_axis_after_nm",
        "mark",
        "measure",
        "purpose",
        "range_nm",
        "settles",
        "words",
    ];
    assert_eq!(keys(&answer["next"][0]), next);
    assert_eq!(answer["covariance_nm2"][0][1], answer["covariance_nm2"][1][0]);
}

fn share(rival: &Value) -> f64 {
    rival["probability"].as_f64().unwrap()
}

#[test]
fn everything_is_carried_to_the_time_asked_for() {
    // Two minutes at 165 kn on 074: 5.5 NM (computed).
    let at = |time: &str| json(fix().arg(sample("landfall.toml")).args(["--time", time])).1;
    let (early, late) = (at("2031-03-09T03:42:00Z"), at("2031-03-09T03:44:00Z"));
    assert_eq!(late["time"], "2031-03-09T03:44:00Z");
    let north = |answer: &Value| answer["position"]["lat_deg"].as_f64().unwrap();
    let east = |answer: &Value| answer["position"]["lon_deg"].as_f64().unwrap();
    let north_nm = (north(&late) - north(&early)) * 60.0;
    let east_nm = (east(&late) - east(&early)) * 60.0 * (north(&early) * 0.017_453_29).cos();
    assert!((north_nm.hypot(east_nm) - 5.5).abs() < 0.1, "{north_nm} {east_nm}");
}

#[test]
fn the_report_says_where_how_sure_and_how_far_from_dead_reckoning() {
    let (status, out, err) = run(fix().arg(sample("landfall.toml")));
    assert_eq!((status, err.as_str()), (0, ""));
    let at = |words: &str| out.find(words).unwrap_or_else(|| panic!("no {words} in\n{out}"));
    let order = ["WHERE", "HOW SURE", "RECKONING", "CONTACTS", "NEXT", "BEARINGS TO TRUE"];
    let places: Vec<usize> = order.iter().map(|title| at(title)).collect();
    assert!(places.is_sorted(), "{out}");
    assert!(out.contains("95 % ellipse: "));
    assert!(out.contains(" from DR, within its stated error"));
    assert!(out.contains("R 337.0, heading T 070.0, T 047.0"));
    assert!(out.contains("official charts"));
}

#[test]
fn a_landfall_asked_for_wins_over_that_of_the_sightings() {
    let (_, planned) = json(fix().arg(sample("landfall.toml")));
    let (_, asked) =
        json(fix().arg(sample("landfall.toml")).args(["--landfall", "10 00 N, 30 00 W"]));
    assert_eq!(planned["landfall"]["verdict"], "confirmed");
    assert_eq!(asked["landfall"]["verdict"], "cannot-say");
    let why = "no charted land within 3 NM of the landfall planned: check its position";
    assert_eq!(asked["landfall"]["why"], why);
    let (status, _, err) = run(fix().arg(sample("landfall.toml")).args(["--landfall", "north"]));
    assert_eq!(status, 2, "{err}");
}

#[test]
fn the_radius_is_told_for_a_risk_or_why_there_is_none() {
    // Five unnamed contacts: what is kept back for places not listed is 3 in 10,000.
    let (_, answer) = json(fix().arg(sample("landfall.toml")));
    let protection = &answer["protection"];
    let (radius, axis) =
        (protection["radius_nm"].as_f64().unwrap(), answer["ellipse"]["semi_major_nm"].as_f64());
    assert!(radius > axis.unwrap() && radius < 1.5, "{protection}");
    assert!(protection["assured"] == true && protection["why"].is_null(), "{protection}");
    let (_, looser) = json(fix().arg(sample("landfall.toml")).args(["--risk", "0.1"]));
    assert!(looser["protection"]["radius_nm"].as_f64().unwrap() < radius);
    let small = ["--risk", "1e-5", "--format", "json"];
    let (_, out, _) = run(fix().arg(sample("landfall.toml")).args(small));
    let answer: Value = serde_json::from_str(&out).unwrap();
    assert!(answer["protection"]["radius_nm"].is_null(), "{out}");
    assert_eq!(answer["protection"]["why"], "places not listed hold 0.030 %");
    let (_, out, _) = run(fix().arg(sample("landfall.toml")).args(&small[..2]));
    assert!(out.contains("cannot be assured at 1 in 100,000: places not listed"), "{out}");
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let on = |threads: &str| {
        run(fix()
            .arg(sample("landfall.toml"))
            .args(["--format", "json"])
            .env("RAYON_NUM_THREADS", threads))
        .1
    };
    assert_eq!(on("1"), on("4"));
}

#[test]
fn an_answer_goes_to_the_file_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("answer.json");
    let command = fix().arg(sample("landfall.toml")).args(["--format", "json", "-o"]).arg(&file);
    let (status, out, err) = run(command);
    assert_eq!((status, out.as_str(), err.as_str()), (0, "", ""));
    let answer: Value = serde_json::from_str(&fs::read_to_string(&file).unwrap()).unwrap();
    assert_eq!(answer["verdict"], "fixed");
    let nowhere = folder.path().join("none/answer.json");
    let (status, _, err) = run(fix().arg(sample("landfall.toml")).arg("-o").arg(&nowhere));
    assert_eq!(status, 2);
    assert!(err.contains("cannot be written"), "{err}");
}

#[test]
fn the_answer_is_not_written_over_what_it_comes_from() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::create_dir_all(at("chart/dem")).unwrap();
    let kept = [
        "sightings.toml",
        "chart/chart.toml",
        "chart/coast.shp",
        "chart/dem/S39W022.hgt",
        "chart/layer.bin",
    ];
    for name in kept {
        fs::write(at(name), "kept").unwrap();
    }
    std::os::unix::fs::symlink(at("chart/coast.shp"), at("link")).unwrap();
    // A layer by a name of its own, of a file that by its own is none.
    std::os::unix::fs::symlink(at("chart/layer.bin"), at("chart/layer.shp")).unwrap();
    for (output, told) in [
        ("sightings.toml", "-o and SIGHTINGS name the same file, sightings.toml"),
        ("chart/../sightings.toml", "-o and SIGHTINGS name the same file, chart/../sightings"),
        ("chart/chart.toml", "-o names chart/chart.toml, a file of the chart folder chart"),
        ("chart/dem/S39W022.hgt", "-o names chart/dem/S39W022.hgt, a file of the chart folder"),
        ("link", "-o names link, a file of the chart folder chart"),
        ("chart/layer.shp", "-o names chart/layer.shp, a file of the chart folder chart"),
        ("chart/new.shp", "-o names chart/new.shp, a file of the chart folder chart"),
        ("chart.foreland-index", "-o and the chart's index name the same file"),
    ] {
        let command = Command::new(cargo_bin!("foreland")).current_dir(folder.path());
        let command = command.args(["fix", "--chart", "chart", "sightings.toml", "-o", output]);
        let (status, out, err) = run(command);
        assert_eq!((status, out.as_str()), (2, ""), "{output}");
        assert!(err.contains(told), "{output}: {err}");
    }
    for name in kept {
        assert_eq!(fs::read_to_string(at(name)).unwrap(), "kept", "{name}");
    }
    assert!(!at("chart/new.shp").exists() && !at("chart.foreland-index").exists());
    // An answer of before is written over, as everywhere.
    fs::write(at("old.txt"), "old").unwrap();
    let (status, _, err) = run(fix().arg(sample("landfall.toml")).arg("-o").arg(at("old.txt")));
    assert_eq!((status, err.as_str()), (0, ""));
    assert!(fs::read_to_string(at("old.txt")).unwrap().contains("An aid only"));
}

#[test]
fn what_cannot_be_answered_is_refused() {
    let refused = |command: Command, words: &str| {
        let (status, out, err) = run(command);
        assert_eq!((status, out.as_str()), (2, ""), "{err}");
        assert!(err.contains(words), "{words} in\n{err}");
    };
    for assurance in ["0.5", "1", "0.99999", "nan", "sure"] {
        let command = fix().arg(sample("landfall.toml")).args(["--assurance", assurance]);
        refused(command, "give a probability from 0.9 to 0.9999");
    }
    for risk in ["0", "1e-6", "0.2", "nan", "small"] {
        let command = fix().arg(sample("landfall.toml")).args(["--risk", risk]);
        refused(command, "give a chance from 1e-5 to 0.1");
    }
    refused(fix().arg(sample("landfall.toml")).args(["--time", "03:44"]), "RFC 3339");
    let still = fix().arg("-").args(["--time", "2031-03-09T03:44:00Z"]).stdin(ONE_RANGE);
    refused(still, "--time: no track and speed");
    refused(fix().arg(sample("none.toml")), "cannot be read");
    let name = landfall(&[("label = \"A\"", "label = \"A\"\nmark = \"Ganet Head\"")]);
    refused(fix().arg("-").stdin(name), "did you mean Gannet Head?");
    refused(fix().arg("-").stdin(""), "standard input: the file is empty");
}

#[test]
fn an_old_contact_is_said_to_be() {
    let old = landfall(&[("2031-03-09T03:40:10Z", "2031-03-09T03:34:10Z")]);
    let (_, answer) = json(fix().arg("-").stdin(old));
    let told = "contact A is 9 min old, carried on by track and speed as stated";
    let cautions = answer["cautions"].as_array().unwrap();
    assert!(cautions.iter().any(|caution| caution == told), "{cautions:?}");
}

#[test]
fn golden() {
    trycmd::TestCases::new().case("tests/cmd/fix-*.toml");
}

/// What `next` says, in the order told.
fn advice<'a>(answer: &'a Value, key: &str) -> Vec<&'a str> {
    answer["next"].as_array().unwrap().iter().filter_map(|next| next[key].as_str()).collect()
}

/// How far before its summit the middle of Varrow Hill's lit side lies: by its contours, which fall to
/// half its height some two and a half miles out.
const HALF_SIDE_NM: f64 = 1.2;

#[test]
fn a_fix_on_a_summit_inland_is_checked_by_what_should_paint_and_where() {
    let at = ["--at", "-38.30,-21.45", "--height-ft", "5000", "--set", "patrol"];
    let mut expect = Command::new(cargo_bin!("foreland")).arg("expect").arg("--chart");
    expect = expect.arg(sample("")).args(at);
    let (_, expected) = json(expect);
    let expected = |name: &str| {
        let marks = expected["marks"].as_array().unwrap();
        marks.iter().find(|mark| mark["mark"] == name).cloned().unwrap()
    };
    let number = |value: &Value, key: &str| value[key].as_f64().unwrap();
    // Varrow Hill stands 7.5 NM behind the nearest shore.
    let hill = expected("Varrow Hill");
    let text = format!(
        "[reckoning]\ntime = \"2031-03-09T03:40:00Z\"\nposition = \"38 18.0 S, 21 27.0 W\"\n\
         sigma_nm = 4.0\n[own]\nheight_ft = 5000\n[radar]\nset = \"patrol\"\n[[contact]]\n\
         range_nm = {:.1}\nbearing_deg = {:.1}\npart = \"centre\"\nmark = \"Varrow Hill\"\n",
        // Its echo lies on the side that faces the set: a cone's half way down to half its height.
        number(&hill, "range_nm") - HALF_SIDE_NM,
        number(&hill, "bearing_deg"),
    );
    let (_, answer) = json(fix().arg("-").stdin(text));
    let next = answer["next"].as_array().unwrap();
    assert!(next.len() >= 3, "{next:?}");
    for next in next {
        assert_eq!(next["purpose"], "check");
        let name = next["mark"].as_str().unwrap();
        let seen = expected(name);
        assert_ne!(name, "Varrow Hill");
        assert!(number(&seen, "paint_probability") >= 0.5, "{next} {seen}");
        // A leading edge lies before the charted point by no more than an islet is wide, the middle
        // of a hill's side before its summit.
        let nearer = number(&seen, "range_nm") - number(next, "range_nm");
        let before = if seen["kind"] == "peak" { 0.3..1.8 } else { -0.3..1.2 };
        assert!(before.contains(&nearer), "{next} {seen}");
        let turn = number(&seen, "bearing_deg") - number(next, "bearing_deg");
        assert!(turn.abs() < 2.0, "{next} {seen}");
    }
}

/// Nobody names it, and it lies a mile before its summit: beside three headlands it is still known.
#[test]
fn a_hill_s_echo_among_headlands_is_known_for_the_hill_s() {
    let at = ["--at", "-38.30,-21.45", "--height-ft", "5000", "--set", "patrol"];
    let expect = Command::new(cargo_bin!("foreland")).arg("expect").arg("--chart");
    let (_, expected) = json(expect.arg(sample("")).args(at));
    let mut text =
        "[reckoning]\ntime = \"2031-03-09T03:40:00Z\"\nposition = \"38 16.0 S, 21 25.0 W\"\n\
         sigma_nm = 4.0\n[own]\nheight_ft = 5000\n[radar]\nset = \"patrol\"\n"
            .to_owned();
    let named = ["Gannet Head", "Lantern Point", "Corbel Point", "Varrow Hill"];
    for (label, name) in ["A", "B", "C", "D"].iter().zip(named) {
        let marks = expected["marks"].as_array().unwrap();
        let mark = marks.iter().find(|mark| mark["mark"] == name).unwrap();
        let is_hill = name == "Varrow Hill";
        let range = mark["range_nm"].as_f64().unwrap() - if is_hill { HALF_SIDE_NM } else { 0.1 };
        let bearing = mark["bearing_deg"].as_f64().unwrap();
        let part = if is_hill { "centre" } else { "near" };
        let contact = format!(
            "[[contact]]\nlabel = \"{label}\"\nrange_nm = {range:.1}\nbearing_deg = {bearing:.1}\n\
             part = \"{part}\"\n"
        );
        text.push_str(&contact);
    }
    let (_, answer) = json(fix().arg("-").stdin(text));
    assert_eq!(answer["verdict"], "fixed", "{answer:#}");
    let is_known = |label: &str, name: &str| {
        let all = answer["identities"].as_array().unwrap();
        all.iter().any(|it| it["contact"] == label && it["mark"] == name)
    };
    assert!(is_known("D", "Varrow Hill") && is_known("A", "Gannet Head"), "{answer:#}");
    let latitude = answer["position"]["lat_deg"].as_f64().unwrap();
    assert!((latitude + 38.30).abs() * 60.0 < 0.6, "{latitude}");
}

#[test]
fn a_bearing_ten_degrees_out_is_left_out_or_leaves_places_to_be_told_apart() {
    let slip = ("bearing_deg = 76.0", "bearing_deg = 86.0");
    let (_, clean) = json(fix().arg("-").stdin(landfall(&[])));
    let (_, answer) = json(fix().arg("-").stdin(landfall(&[slip])));
    // Four others outvote it.
    assert_eq!(answer["verdict"], "fixed");
    assert_eq!(answer["unmatched"][0]["contact"], "A");
    let north = |answer: &Value| answer["position"]["lat_deg"].as_f64().unwrap();
    assert!((north(&answer) - north(&clean)).abs() * 60.0 < 0.3);
    assert!(advice(&answer, "purpose").iter().all(|purpose| *purpose == "shorten"));
    // Beside one other it may be many things: then no fix, and what is advised is to settle it.
    let text = landfall(&[slip]);
    let parts: Vec<&str> = text.split("[[contact]]").collect();
    let two = [parts[0], parts[1], parts[3]].join("[[contact]]");
    let (status, answer) = json(fix().arg("-").stdin(two));
    assert_eq!((status, answer["verdict"].as_str()), (3, Some("ambiguous")));
    let purposes = advice(&answer, "purpose");
    assert!(!purposes.is_empty() && purposes.iter().all(|purpose| *purpose == "settle"));
    // A screen of 80 columns, less what stands before each.
    let words = advice(&answer, "words");
    assert!(words.iter().all(|words| words.chars().count() <= 73), "{words:?}");
}
