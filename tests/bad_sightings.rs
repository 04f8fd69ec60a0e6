//! Sightings that are not taken: one file for each, and the exact words that it is refused with.
//!
//! `SNAPSHOTS=overwrite cargo test --test bad_sightings` writes the words anew; read them then.

#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod refusal;

use std::fs;
use std::path::{Path, PathBuf};

use foreland::chart::Chart;
use foreland::contact::{Sightings, SightingsError};
use proptest::prelude::*;
use snapbox::{Assert, Data};

use refusal::rendered;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad_sightings")
}

/// What a text is refused with, its marks looked up on the sample coast.
fn refused(text: &str, name: &str) -> SightingsError {
    match Sightings::parse(text, name, &folder()) {
        Err(error) => error,
        Ok(sightings) => {
            let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
            let chart = Chart::open(&[sample]).unwrap();
            match sightings.check_marks(&chart) {
                Err(error) => error,
                Ok(()) => panic!("{name} is taken"),
            }
        }
    }
}

#[test]
fn each_bad_file_is_refused_in_its_own_words() {
    let mut files: Vec<PathBuf> = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml" || e == "json"))
        .collect();
    files.sort();
    assert!(files.len() > 40, "{}", files.len());
    let assert = Assert::new().action_env("SNAPSHOTS").normalize_paths(false);
    for file in files {
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        let told = rendered(&refused(&fs::read_to_string(&file).unwrap(), &name));
        assert.eq(told, Data::read_from(&folder().join(format!("{name}.txt")), None).raw());
    }
}

#[test]
fn ten_thousand_contacts_are_too_many() {
    let mut text = fs::read_to_string(folder().join("nothing_measured.toml")).unwrap();
    text = text.split("[[contact]]").next().unwrap().to_owned();
    for _ in 0..10_000 {
        text.push_str("[[contact]]\nrange_nm = 17.3\n");
    }
    let error = refused(&text, "many.toml");
    assert_eq!(error.to_string(), "10000 contacts: at most 200 are taken");
    assert!(rendered(&error).contains("one too many"));
}

#[test]
fn what_cannot_be_read_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let told = |name: &str| {
        let text = rendered(&Sightings::read(&folder.path().join(name)).unwrap_err());
        text.replace(&folder.path().display().to_string(), "").replace("\n  │ ", "")
    };
    assert!(told("none.toml").contains("none.toml: cannot be read: No such file"));
    fs::write(folder.path().join("latin.toml"), b"# \xe9\n").unwrap();
    assert!(told("latin.toml").contains("latin.toml: cannot be read: byte 2 is not UTF-8 text"));
    fs::write(folder.path().join("huge.toml"), vec![b'#'; 5 << 20]).unwrap();
    assert!(told("huge.toml").contains("huge.toml: cannot be read: it is larger than 4 MiB"));
    fs::create_dir(folder.path().join("folder.toml")).unwrap();
    assert!(told("folder.toml").contains("folder.toml: cannot be read: "));
}

/// A file that is taken, for spoiling.
const SOUND: &str = r#"
[reckoning]
time = "2031-03-09T03:40:00Z"
position = "38 12.9 S, 21 30.5 W"
sigma_nm = 4.0
track_deg = 74.0
speed_kn = 165.0
[own]
height_ft = 2000
heading_deg = 70.0
heading_kind = "compass"
variation = "18.2 W"
[radar]
set = "patrol"
[[contact]]
label = "A"
time = "2031-03-09T03:41:10Z"
range_nm = 17.3
bearing_deg = 42.5
bearing_kind = "relative"
part = "near"
mark = "Gannet Head"
"#;

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_text_is_refused_without_a_word(text in "\\PC{0,200}") {
        told(&text);
    }

    #[test]
    fn no_spoilt_file_is_refused_without_a_word(
        at in 0usize..SOUND.len(), cut in 0usize..40,
        put in prop_oneof![
            "\\PC{0,6}", Just("nan".to_owned()), Just("-1e999".to_owned()), Just("[[".to_owned()),
            Just("= {}".to_owned()), Just("\"\"".to_owned()), Just("99999999999999999999".to_owned()),
        ],
    ) {
        // Plain letters throughout, so that any byte is a place to cut.
        let end = (at + cut).min(SOUND.len());
        told(&format!("{}{put}{}", &SOUND[..at], &SOUND[end..]));
    }
}

/// Reads a text and renders what is said of it; a refusal says at least one thing.
fn told(text: &str) {
    if let Err(error) = Sightings::parse(text, "spoilt.toml", &folder()) {
        assert!(!error.faults().is_empty(), "{text}");
        assert!(rendered(&error).contains('×'), "{text}");
    }
}

#[test]
fn nesting_without_end_is_refused() {
    for text in
        ["[".repeat(100_000), "{\"a\":".repeat(100_000), format!("a = {}", "[".repeat(100_000))]
    {
        assert!(Sightings::parse(&text, "deep", &folder()).is_err());
    }
    assert!(Sightings::parse(SOUND, "sound.toml", &folder()).is_ok());
}
