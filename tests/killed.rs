//! Killed at any moment, the program loses nothing that it called kept.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::Duration;

use foreland::watch::log::{Log, What};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const SEED: u64 = 20_311_126;

/// How often, unless `FORELAND_KILLS` says otherwise.
const KILLS: usize = 40;

/// Sittings on one log: each is read through at the next start.
const ON_ONE_LOG: usize = 20;

/// Starts a sitting without a screen, entries streaming in as fast as they are taken.
fn sitting(folder: &Path, number: usize) -> Child {
    let chart = concat!(env!("CARGO_MANIFEST_DIR"), "/charts-sample");
    let log = folder.join(format!("watch-{}.log", number / ON_ONE_LOG));
    let mut child = Command::new(env!("CARGO_BIN_EXE_foreland"))
        .args(["watch", "--plain", "--chart", chart, "--at=-38.2,-21.5", "--log"])
        .arg(log)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut entries = child.stdin.take().unwrap();
    thread::spawn(move || {
        for entry in 0.. {
            let line = if entry % 25 == 24 {
                "A 11.6 076\n".to_owned()
            } else {
                format!("# sitting {number}, entry {entry}\n")
            };
            if entry == 0 && entries.write_all(b"11.6 076\n").is_err() {
                return;
            }
            // The pipe breaks with the kill.
            if entries.write_all(line.as_bytes()).is_err() {
                return;
            }
        }
    });
    child
}

/// The notes that a log holds after recovery.
fn notes(folder: &Path, number: usize) -> BTreeSet<String> {
    let log = folder.join(format!("watch-{}.log", number / ON_ONE_LOG));
    let (_, replay) = Log::open(&log).unwrap();
    let text = |what: &What| match what {
        What::Note { text } => Some(text.clone()),
        _ => None,
    };
    replay.records.iter().filter_map(|record| text(&record.what)).collect()
}

#[test]
fn every_entry_called_kept_outlives_a_kill() {
    let kills = std::env::var("FORELAND_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(KILLS);
    println!("seed {SEED}, {kills} kills");
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let folder = tempfile::tempdir().unwrap();
    let (mut told, mut kept) = (BTreeSet::new(), 0);
    for number in 0..kills {
        if number % ON_ONE_LOG == 0 {
            told.clear();
        }
        let mut child = sitting(folder.path(), number);
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let most = random.random_range(1..40);
        let mut heard = 0;
        while heard < most {
            let line = lines.next().unwrap().unwrap();
            if let Some(note) = line.strip_prefix("kept: note: ") {
                told.insert(note.to_owned());
                heard += 1;
            }
        }
        // Anywhere in the midst of what comes next.
        thread::sleep(Duration::from_micros(random.random_range(0..3_000)));
        child.kill().unwrap();
        child.wait().unwrap();
        // What it still had said counts as said: a line goes to the pipe whole or not at all.
        let rest = lines.map_while(Result::ok);
        told.extend(rest.filter_map(|line| Some(line.strip_prefix("kept: note: ")?.to_owned())));
        let found = notes(folder.path(), number);
        let lost: Vec<&String> = told.difference(&found).collect();
        assert!(lost.is_empty(), "kill {number}: {lost:?} called kept, and gone");
        kept += heard;
    }
    println!("{kept} entries and more called kept, none lost");
}

/// However far an index has come, what is there in its place is the one of before, whole.
#[test]
fn a_kill_while_an_index_is_written_leaves_the_one_of_before() {
    let kills = std::env::var("FORELAND_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(KILLS);
    println!("seed {SEED}, {kills} kills");
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let folder = tempfile::tempdir().unwrap();
    let chart = folder.path().join("chart");
    std::fs::create_dir(&chart).unwrap();
    for ending in ["shp", "prj"] {
        let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample/coast");
        let file = chart.join("coast").with_extension(ending);
        std::fs::copy(sample.with_extension(ending), file).unwrap();
    }
    let prepare = || {
        let mut command = Command::new(env!("CARGO_BIN_EXE_foreland"));
        command.args(["chart", "prepare", "--beside", "--chart"]).arg(&chart);
        command.stdout(Stdio::null()).stderr(Stdio::null());
        command
    };
    // The quickest of some, so that most kills come before the end.
    let times = (0..5).map(|_| {
        let begun = std::time::Instant::now();
        assert!(prepare().status().unwrap().success());
        begun.elapsed()
    });
    let quickest = times.min().unwrap();
    let charts = [chart.clone()];
    let indexes = foreland::command::index_places(&charts);
    let index = indexes.iter().find(|path| path.exists()).unwrap().clone();
    let sound = std::fs::read(&index).unwrap();
    let mut killed = 0;
    for _ in 0..kills {
        let mut child = prepare().spawn().unwrap();
        thread::sleep(quickest.mul_f64(random.random_range(0.0..1.2)));
        child.kill().unwrap();
        killed += usize::from(!child.wait().unwrap().success());
        assert!(std::fs::read(&index).unwrap() == sound, "the index is not what it was");
    }
    println!("{killed} killed before the end");
    assert!(killed > 0, "none of {kills} killed before the end");
}
