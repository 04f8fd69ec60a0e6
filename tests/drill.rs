//! All twelve lessons, played without a screen: by the program's own reader of the picture, and by one
//! who takes the picture for the chart.
//!
//! What is asked of each reader is the program's own figure: there is no published one.

#![allow(clippy::unwrap_used)] // a test helper may fail the test

use std::fs;
use std::process::Command;

use foreland::chart::Chart;
use foreland::drill::{Exercise, LESSONS, Scan, Score, landfall, reader, score};
use foreland::radar::Set;
use serde_json::Value;

#[path = "drill/naive.rs"]
mod naive;

/// The seed that every exercise here is made from.
const SEED: u64 = 3;

/// A lesson is passed with this: the program's own reader reaches it, and one who does not know what
/// the lesson teaches does not.
const PASSED: f64 = 60.0;

fn scans(chart: &Chart, exercise: &Exercise) -> Vec<Scan> {
    (0..exercise.scans).map(|number| exercise.scan(chart, number).unwrap()).collect()
}

fn own(chart: &Chart, exercise: &Exercise) -> Score {
    let answer = reader::answer(chart, exercise, &scans(chart, exercise));
    score(chart, exercise, &answer)
}

fn foreland(arguments: &[&str]) -> Value {
    let ran = Command::new(env!("CARGO_BIN_EXE_foreland")).args(arguments).output().unwrap();
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    serde_json::from_slice(&ran.stdout).unwrap()
}

#[test]
fn the_programs_own_reader_passes_every_lesson_and_is_never_too_sure() {
    println!("seed {SEED}");
    let chart = Chart::sample().unwrap();
    let mut failed = Vec::new();
    for lesson in &LESSONS {
        let found = own(&chart, &lesson.exercise(SEED).unwrap());
        println!("{:>2} {:.0} {:?}", lesson.number, found.score, found.parts);
        if found.score < PASSED || found.inside_stated == Some(false) {
            failed.push(format!("lesson {}: {found:#?}", lesson.number));
        }
    }
    assert!(failed.is_empty(), "{failed:#?}");
}

/// From how many seeds each lesson is played when asked for.
const SEEDS: u64 = 20;

/// `cargo test --test drill -- --ignored --nocapture` prints the table.
#[test]
#[ignore = "some minutes: every lesson from twenty seeds"]
fn the_programs_own_reader_passes_each_lesson_from_nearly_every_seed() {
    let chart = Chart::sample().unwrap();
    let mut poor = Vec::new();
    for lesson in &LESSONS {
        let play = |seed| own(&chart, &lesson.exercise(seed).unwrap());
        let found: Vec<Score> = (1..=SEEDS).map(play).collect();
        let scores: Vec<String> = found.iter().map(|s| format!("{:3.0}", s.score)).collect();
        let passed = found.iter().filter(|score| score.score >= PASSED).count();
        let too_sure = found.iter().filter(|score| score.inside_stated == Some(false)).count();
        println!("{:>2} {} passed {passed}, too sure {too_sure}", lesson.number, scores.join(" "));
        // A 95 % circle leaves out one in twenty.
        if passed < 17 || too_sure > 3 {
            poor.push(lesson.number);
        }
    }
    assert!(poor.is_empty(), "lessons {poor:?}");
}

/// A hill answers by the side that faces the set, a mile or two before its summit. Taken for its summit,
/// these landfalls by hills alone came out 2 NM too near to them, stated to 0.65 NM.
#[test]
fn hills_are_ranged_to_the_side_that_shows() {
    let chart = Chart::sample().unwrap();
    for seed in [1, 7, 11, 13] {
        let found = own(&chart, &LESSONS[2].exercise(seed).unwrap());
        let error = found.error.unwrap().nautical_miles();
        assert!(found.inside_stated == Some(true) && error < 1.6, "seed {seed}: {found:#?}");
    }
}

#[test]
fn a_script_that_takes_the_picture_for_the_chart_fails_every_lesson() {
    println!("seed {SEED}");
    let chart = Chart::sample().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let (picture, answer) = (folder.path().join("picture.json"), folder.path().join("answer.toml"));
    let seed = SEED.to_string();
    let mut passed = Vec::new();
    for lesson in &LESSONS {
        let number = lesson.number.to_string();
        let asked =
            ["drill", "--headless", "--lesson", &number, "--seed", &seed, "--format", "json"];
        foreland(&[&asked[..], &["--emit", picture.to_str().unwrap()]].concat());
        let told: Value = serde_json::from_str(&fs::read_to_string(&picture).unwrap()).unwrap();
        let head = lesson.exercise(SEED).unwrap().as_file();
        fs::write(&answer, naive::answer(&chart, &told, &head)).unwrap();
        let found = foreland(&[&asked[..], &["--answer", answer.to_str().unwrap()]].concat());
        println!("{number:>2} {} {}", found["score"], found["parts"]);
        if found["score"].as_f64().unwrap() >= PASSED {
            passed.push(format!("lesson {number}: {found:#}"));
        }
    }
    assert!(passed.is_empty(), "{passed:#?}");
}

/// What is to be scored would be lost before it is read.
#[test]
fn nothing_is_written_over_the_answer_the_set_or_the_scores() {
    let folder = tempfile::tempdir().unwrap();
    let files = ["answer.toml", "own.toml", "foreland/drill.txt"].map(|it| folder.path().join(it));
    fs::create_dir(folder.path().join("foreland")).unwrap();
    for file in &files {
        fs::write(file, "kept").unwrap();
    }
    for (options, told) in [
        (
            &["--headless", "--emit", "answer.toml", "--answer", "./answer.toml"][..],
            "--emit and --answer name the same file, answer.toml",
        ),
        (
            &["--headless", "--answer", "answer.toml", "-o", "foreland/../answer.toml"],
            "-o and --answer name the same file, foreland/../answer.toml",
        ),
        (
            &["--headless", "--emit", "new.json", "-o", "new.json"],
            "--emit and -o name the same file, new.json",
        ),
        (
            &["--headless", "--set", "own.toml", "--emit", "own.toml"],
            "--emit and --set name the same file, own.toml",
        ),
        (
            &["--progress", "-o", "foreland/drill.txt"],
            "-o and the file of scores name the same file, foreland/drill.txt",
        ),
    ] {
        let ran = Command::new(env!("CARGO_BIN_EXE_foreland"))
            .arg("drill")
            .args(options)
            .env("XDG_DATA_HOME", folder.path())
            .current_dir(folder.path())
            .output()
            .unwrap();
        let error = String::from_utf8_lossy(&ran.stderr);
        assert!(ran.status.code() == Some(2) && ran.stdout.is_empty(), "{options:?}: {error}");
        assert!(error.contains(told), "{options:?}: {error}");
    }
    for file in files {
        assert_eq!(fs::read_to_string(&file).unwrap(), "kept", "{}", file.display());
    }
    assert!(!folder.path().join("new.json").exists());
}

/// Every key and every text of what the trainee may know.
fn keys(value: &Value, found: &mut Vec<String>) {
    match value {
        Value::Object(entries) => {
            for (key, value) in entries {
                found.push(key.clone());
                keys(value, found);
            }
        }
        Value::Array(values) => values.iter().for_each(|value| keys(value, found)),
        _ => {}
    }
}

#[test]
fn what_may_be_known_does_not_tell_the_truth() {
    let chart = Chart::sample().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let picture = folder.path().join("picture.json");
    let emit = picture.to_str().unwrap();
    foreland(&["drill", "--headless", "--lesson", "9", "--emit", emit, "--format", "json"]);
    let text = fs::read_to_string(&picture).unwrap();
    let told: Value = serde_json::from_str(&text).unwrap();
    let mut found = Vec::new();
    keys(&told, &mut found);
    for hidden in ["truth", "mean_db", "lat", "bias_deg", "afloat", "rain_mm_h"] {
        assert!(!found.iter().any(|key| key == hidden), "{hidden}");
    }
    // Scored, the truth is told; its figures, cut at a ten-thousandth of a degree, stand nowhere in what
    // was emitted, at no look.
    let exercise = LESSONS[8].exercise(1).unwrap();
    let found = own(&chart, &exercise);
    for scan in 0..exercise.scans {
        let truth = found.truth_at(exercise.time_of(scan));
        for degrees in [truth.latitude(), truth.longitude()] {
            let cut = format!("{:.4}", (degrees * 1e4).trunc() / 1e4);
            assert!(!text.contains(&cut), "{cut}");
        }
    }
    assert_eq!(told["scans"].as_array().unwrap().len(), exercise.scans);
}

#[test]
fn a_landfall_on_any_chart_is_the_same_for_the_same_seed_and_can_be_solved() {
    let chart = Chart::sample().unwrap();
    let set = Set::builtin("patrol").unwrap();
    let mut right = 0;
    for seed in 1..=6 {
        let exercise = landfall(&chart, &set, "patrol", seed).unwrap();
        assert_eq!(exercise, landfall(&chart, &set, "patrol", seed).unwrap());
        let found = own(&chart, &exercise);
        println!("seed {seed}: {:.0} {:?}", found.score, found.parts);
        right += usize::from(found.score >= PASSED);
        assert_ne!(found.inside_stated, Some(false), "seed {seed}");
    }
    assert!(right >= 4, "{right} of 6");
}
