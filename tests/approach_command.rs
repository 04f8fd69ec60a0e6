//! `foreland approach`, run as a user runs it.

#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod program;

use serde_json::Value;

use program::{program, run};

/// From the project's root: exit status, standard output, standard error.
fn foreland(arguments: &[&str], threads: &str) -> (i32, String, String) {
    run(program().args(arguments).env("RAYON_NUM_THREADS", threads), b"")
}

/// A small vessel closing the sample's coast from the west-south-west.
const PLAN: [&str; 19] = [
    "approach",
    "--chart",
    "charts-sample",
    "--from",
    "-38.2833,-21.6667",
    "--track-deg",
    "60",
    "--speed-kn",
    "20",
    "--height-ft",
    "50",
    "--set",
    "boat",
    "--time",
    "2031-03-09T03:10:00Z",
    "--landfall",
    "38 02.0 S, 21 13.0 W",
    "--format",
    "json",
];

#[test]
fn the_answer_for_scripts_has_every_key_of_its_schema() {
    let (status, out, err) = foreland(&PLAN, "2");
    assert_eq!((status, err.as_str()), (0, ""));
    let answer: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(answer["schema"], "foreland.approach/1");
    let events = answer["events"].as_array().unwrap();
    assert!(events.len() > 10, "{}", events.len());
    for event in events {
        for key in ["time", "mark", "event", "earliest"] {
            assert!(event[key].is_string(), "{key} {event}");
        }
        for key in ["range_nm", "bearing_deg", "relative_deg", "paint_probability", "run_nm"] {
            assert!(event[key].is_number(), "{key} {event}");
        }
        assert!(event["latest"].is_string() || event["latest"].is_null());
        assert!(["first-paint", "first-paint-90"].contains(&event["event"].as_str().unwrap()));
        let (time, earliest) = (event["time"].as_str(), event["earliest"].as_str());
        assert!(earliest <= time, "{event}");
        assert!(event["latest"].is_null() || event["latest"].as_str() >= time, "{event}");
        let turn = event["bearing_deg"].as_f64().unwrap() - 60.0;
        let off = (turn - event["relative_deg"].as_f64().unwrap()).rem_euclid(360.0);
        assert!(off.min(360.0 - off) < 0.002, "{event}");
    }
    let times: Vec<&str> = events.iter().map(|event| event["time"].as_str().unwrap()).collect();
    assert!(times.is_sorted());
    for list in ["never", "coast", "traps", "alike", "looks", "denials", "cautions"] {
        assert!(answer[list].is_array(), "{list}");
    }
    let landfall = &answer["landfall"];
    for key in ["time", "earliest", "latest"] {
        assert!(landfall[key].is_string(), "{key}");
    }
    for key in ["sigma_along_nm", "sigma_across_nm", "cross_track_nm", "run_nm"] {
        assert!(landfall[key].is_number(), "{key}");
    }
    assert!(landfall["position"]["lat_deg"].is_number());
    // 2 NM at the start; then 3 % of 20 kn over the time, and 2°, 0.0349 rad, over the run (computed).
    let run = landfall["run_nm"].as_f64().unwrap();
    let along = 2.0_f64.hypot(0.03 * run);
    let across = 2.0_f64.hypot(0.034_906_585 * run);
    assert!((landfall["sigma_along_nm"].as_f64().unwrap() - along).abs() < 2e-3, "{landfall}");
    assert!((landfall["sigma_across_nm"].as_f64().unwrap() - across).abs() < 2e-3, "{landfall}");
}

#[test]
fn what_is_worked_out_before_the_run_has_every_key() {
    let (status, out, _) = foreland(&PLAN, "2");
    assert_eq!(status, 0);
    let answer: Value = serde_json::from_str(&out).unwrap();
    let looks = answer["looks"].as_array().unwrap();
    assert!(!looks.is_empty());
    for look in looks {
        let before = look["ellipse_before"]["semi_major_nm"].as_f64().unwrap();
        for choice in
            ["one", "two"].map(|which| &look[which]).into_iter().filter(|it| !it.is_null())
        {
            assert!(choice["ellipse_after"]["semi_major_nm"].as_f64().unwrap() < before, "{look}");
            for take in choice["take"].as_array().unwrap() {
                assert!(take["paint_probability"].as_f64().unwrap() >= 0.9, "{take}");
                assert!(take["measure"].is_string() && take.get("alike").is_some(), "{take}");
            }
        }
    }
    let aim = &answer["aim_off"];
    for key in ["advice", "side", "amount_nm", "largest_error_nm", "track_deg", "aim_at", "why"] {
        assert!(aim.get(key).is_some(), "{key} {aim}");
    }
    // Rather more than the largest error, 99 % of 2.5758 standard deviations (normal table).
    let sigma = answer["landfall"]["sigma_across_nm"].as_f64().unwrap();
    assert!((aim["largest_error_nm"].as_f64().unwrap() - 2.575_829 * sigma).abs() < 0.01, "{aim}");
    assert!((aim["amount_nm"].as_f64().unwrap() - 1.1 * 2.575_829 * sigma).abs() < 0.01, "{aim}");
    let corridor = &answer["corridor"];
    assert!(corridor["safe_height_ft"].is_null() && corridor.get("safe_height_ft").is_some());
    assert!(corridor["told"].as_str().unwrap().contains("published minimum altitudes rule"));
    assert!(corridor["highest"]["height_ft"].is_number(), "{corridor}");
    // 3.2905 standard deviations (normal table), the chart's own 0.10 and 0.05 NM among them.
    let width = corridor["half_width_nm"][1].as_f64().unwrap();
    let across = sigma.hypot(0.10_f64.hypot(0.05));
    assert!((width - 3.290_527 * across).abs() < 0.02, "{corridor}");
    for denial in answer["denials"].as_array().unwrap() {
        assert!(denial["told"].is_string() && denial["time"].is_string(), "{denial}");
    }
}

/// Writes the cards of the plan to a folder of their own and reads them back.
fn cards(more: &[&str]) -> (String, String) {
    let folder = tempfile::tempdir().unwrap();
    let (text, html) = (folder.path().join("card.txt"), folder.path().join("card.html"));
    let mut arguments = PLAN.to_vec();
    arguments.extend(["--card", text.to_str().unwrap(), "--card", html.to_str().unwrap()]);
    arguments.extend(more);
    let (status, _, err) = foreland(&arguments, "2");
    assert_eq!((status, err.as_str()), (0, ""));
    let read = |path| std::fs::read_to_string(path).unwrap();
    (read(text), read(html))
}

/// The heads that a card must have, and the words that must be on it.
const ON_A_CARD: [&str; 10] = [
    "Due 04:2",
    "DR error then",
    "FIRST PAINTS",
    "BEST MARKS",
    "LOOK-ALIKES",
    "FALSE FRIENDS",
    "WOULD DENY THE LANDFALL",
    "AIM-OFF",
    "no safe height is given: published minimum altitudes rule",
    "An aid only, never the sole means of navigation",
];

#[test]
fn a_card_of_text_fits_one_page() {
    let (text, _) = cards(&[]);
    assert!(text.lines().count() <= 60, "{}", text.lines().count());
    assert!(text.lines().all(|line| line.chars().count() <= 78), "{text}");
    for words in ON_A_CARD {
        assert!(text.contains(words), "{words}\n{text}");
    }
}

#[test]
fn a_card_of_html_stands_alone_and_is_well_formed() {
    let (_, html) = cards(&[]);
    for words in ON_A_CARD {
        assert!(html.contains(words), "{words}");
    }
    // Nothing is fetched and nothing runs: the only address is the name of the drawing's language.
    let addresses = html.replace("http://www.w3.org/2000/svg", "");
    for fetched in ["http", "src=", "href=", "url(", "@import", "<script", "<link", "<iframe"] {
        assert!(!addresses.contains(fetched), "{fetched}");
    }
    assert!(html.contains("@page{size:A4") && html.contains("@media print"));
    let elements = elements(&html);
    for element in ["html", "head", "title", "style", "body", "svg", "path", "polygon", "table"] {
        assert!(elements.iter().any(|name| name == element), "{element} {elements:?}");
    }
}

/// The names of all elements of a page, each of which must be closed where it was opened.
fn elements(page: &str) -> Vec<String> {
    let body = page.strip_prefix("<!DOCTYPE html>").unwrap();
    let (mut found, mut open) = (Vec::new(), Vec::<String>::new());
    let mut rest = body;
    while let Some(start) = rest.find('<') {
        let words = &rest[..start];
        assert!(!words.contains('>'), "{words}");
        for (at, _) in words.match_indices('&') {
            let entity = words[at..].split(';').next().unwrap();
            assert!(["&amp", "&lt", "&gt", "&quot", "&#39"].contains(&entity), "{entity}");
        }
        assert!(!open.is_empty() || words.trim().is_empty(), "words outside: {words}");
        let end = start + rest[start..].find('>').unwrap();
        let tag = &rest[start + 1..end];
        assert_eq!(tag.matches('"').count() % 2, 0, "{tag}");
        let name = tag.trim_matches('/').split_whitespace().next().unwrap().to_owned();
        if tag.starts_with('/') {
            assert_eq!(open.pop().as_deref(), Some(name.as_str()), "{tag}");
        } else {
            found.push(name.clone());
            if !tag.ends_with('/') {
                open.push(name);
            }
        }
        rest = &rest[end + 1..];
    }
    assert!(open.is_empty() && rest.trim().is_empty(), "{open:?} {rest}");
    found
}

#[test]
fn a_card_that_cannot_be_written_is_refused_before_anything_is_asked() {
    let mut arguments = PLAN.to_vec();
    arguments.extend(["--card", "card.pdf"]);
    let (status, out, err) = foreland(&arguments, "1");
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("--card: card.pdf ends in neither .txt nor .html"), "{err}");
    let mut arguments = PLAN.to_vec();
    arguments.extend(["--card", "/nowhere/at/all/card.txt", "--run-nm", "1"]);
    let (status, out, err) = foreland(&arguments, "1");
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("card.txt cannot be written"), "{err}");
}

#[test]
fn the_same_question_gives_the_same_bytes() {
    let mut short = PLAN.to_vec();
    short.extend(["--run-nm", "6"]);
    let (status, out, err) = foreland(&short, "1");
    assert_eq!((status, err.as_str()), (0, ""));
    assert_eq!(foreland(&short, "3"), (status, out, err));
}

#[test]
fn no_landfall_planned_is_null() {
    let mut arguments = PLAN.to_vec();
    arguments.drain(15..17);
    arguments.extend(["--run-nm", "1"]);
    let (status, out, _) = foreland(&arguments, "2");
    let answer: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(status, 0);
    assert!(answer["landfall"].is_null());
    assert_eq!(answer["run"]["ends_by"], "asked");
}

#[test]
fn what_cannot_be_run_is_refused_with_what_would_be_right() {
    let refused: [(&[&str], &str); 13] = [
        (&["--track-deg", "361"], "bearing 361 ° is outside 0 to 360 °"),
        (&["--speed-kn", "0"], "0 is outside 1 to 2000 kn"),
        (&["--height-ft", "-5"], "below the sea"),
        (&["--time", "03:10"], "2031-03-09T03:10:00Z"),
        (&["--sigma-nm", "-1"], "-1 is outside 0 to 100 NM"),
        (&["--track-sigma-deg", "31"], "31 is outside 0 to 30 degrees"),
        (&["--speed-sigma-kn", "8"], "8 is outside 0 to 6.7 kn"),
        (&["--run-nm", "1001"], "1001 is outside 0.1 to 1000 NM"),
        (&["--run-nm", "10", "--minutes", "30"], "cannot be used with"),
        (&["--landfall", "39 S, 23 W"], "give a landfall ahead of --from"),
        (&["--landfall", "10 S, 20 W"], "past the 1000 NM that a run goes"),
        (
            &["--rain-mm-h", "4", "--rain-from-nm", "9", "--rain-to-nm", "5"],
            "give --rain-to-nm more",
        ),
        (&["--set", "ferry"], "no set \"ferry\""),
    ];
    for (more, told) in refused {
        let mut arguments = PLAN.to_vec();
        // An option given twice is a fault of its own: take out what is given anew.
        for pair in more.chunks(2) {
            if let Some(at) = arguments.iter().position(|word| *word == pair[0]) {
                arguments.drain(at..at + 2);
            }
        }
        arguments.extend_from_slice(more);
        let (status, out, err) = foreland(&arguments, "1");
        assert_eq!((status, out.as_str()), (2, ""), "{more:?} {err}");
        // Messages are wrapped at a hundred columns.
        let err = err.split_whitespace().collect::<Vec<_>>().join(" ").replace("│ ", "");
        assert!(err.contains(told), "{more:?}: {err}");
    }
}

#[test]
fn a_card_is_eighty_columns_wide() {
    let mut arguments = PLAN.to_vec();
    arguments.truncate(17);
    let (status, out, _) = foreland(&arguments, "2");
    assert_eq!(status, 0);
    // The standing caution of every report is one line.
    for line in out.lines().filter(|line| !line.starts_with("An aid only")) {
        assert!(line.chars().count() <= 80, "{line}");
    }
    assert!(out.contains("An aid only, never the sole means of navigation"));
}

#[test]
fn past_midnight_the_day_is_told() {
    let mut arguments = PLAN.to_vec();
    arguments.truncate(17);
    arguments[14] = "2031-03-09T23:10:00Z";
    let (status, out, _) = foreland(&arguments, "2");
    assert_eq!(status, 0);
    for told in ["run 25.9 NM to 03-10 00:27:47Z", "due 03-10 00:27:47Z (95 %: 03-10 00:15:25Z"] {
        assert!(out.contains(told), "{out}");
    }
    // A first paint of the new day, which may yet be on the old one; what is before it stays bare.
    assert!(out.contains("  03-10 00:07:00  30.3  014   314  03-09 23:52 to never"), "{out}");
    assert!(out.contains("  23:13:04        26.1  117   057  start-never"), "{out}");
    let words: Vec<&str> = out.split_whitespace().collect();
    let late: Vec<_> = words
        .windows(2)
        .filter(|pair| pair[1].starts_with("00:") && pair[1].matches(':').count() == 2)
        .collect();
    assert!(late.len() > 8 && late.iter().all(|pair| pair[0].ends_with("03-10")), "{late:?}");
    for line in out.lines().filter(|line| !line.starts_with("An aid only")) {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

#[test]
fn golden() {
    trycmd::TestCases::new().case("tests/cmd/approach-*.toml");
}

/// The answer would be written over the card, and nobody told.
#[test]
fn a_card_and_the_answer_go_into_files_of_their_own() {
    let folder = tempfile::tempdir().unwrap();
    let card = folder.path().join("landfall.txt");
    let card = card.to_str().unwrap();
    let (status, out, err) = foreland(&[&PLAN[..], &["--card", card, "-o", card]].concat(), "2");
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("--card and -o name the same file"), "{err}");
    let (status, _, err) = foreland(&[&PLAN[..], &["--card", card, "--card", card]].concat(), "2");
    assert!(status == 2 && err.contains("--card and --card name the same file"), "{err}");
    assert!(!std::path::Path::new(card).exists());
}
