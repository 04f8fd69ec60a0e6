//! A disk that is full or may not be written to, and nobody listening: the real program.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use foreland::watch::log::{Log, What};

const CHART: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/charts-sample");

fn foreland() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_foreland"));
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

fn typed(mut command: Command, entries: &str) -> Output {
    let mut child = command.stdin(Stdio::piped()).spawn().unwrap();
    // It may end before all is written.
    let _ = child.stdin.take().unwrap().write_all(entries.as_bytes());
    child.wait_with_output().unwrap()
}

/// Where nobody reads: the other end is closed before anything is written.
fn nobody() -> std::io::PipeWriter {
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    writer
}

fn said(done: &Output, kind: &str) -> Vec<String> {
    let text = String::from_utf8_lossy(&done.stdout).into_owned();
    text.lines().filter_map(|line| line.strip_prefix(kind)).map(str::to_owned).collect()
}

fn notes(log: &Path) -> Vec<String> {
    let (_, replay) = Log::open(log).unwrap();
    let text = |what: &What| match what {
        What::Note { text } => Some(text.clone()),
        _ => None,
    };
    replay.records.iter().filter_map(|record| text(&record.what)).collect()
}

/// A file may grow to 16 kB and no further, as on a disk that fills up: a write then fails, or writes a part.
#[test]
fn a_disk_that_fills_up_is_told_and_nothing_called_kept_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("watch.log");
    let mut command = Command::new("sh");
    command.stdout(Stdio::piped()).stderr(Stdio::piped()).arg("-c").arg(
        "trap '' XFSZ; ulimit -f 32 || exit 77; \
         exec \"$0\" watch --plain --chart \"$1\" --at=-38.2,-21.5 --log \"$2\"",
    );
    command.arg(env!("CARGO_BIN_EXE_foreland")).arg(CHART).arg(&log);
    let entries: Vec<String> =
        (0..400).map(|n| format!("# entry number {n} of the watch\n")).collect();
    let done = typed(command, &entries.concat());
    if done.status.code() == Some(77) {
        println!("no limit on files here: not tried");
        return;
    }
    let (kept, lost) = (said(&done, "kept: note: "), said(&done, "not kept: note: "));
    assert!(kept.len() > 20 && lost.len() > 20, "{} kept, {} not", kept.len(), lost.len());
    assert_eq!(kept.len() + lost.len(), 400);
    assert!(lost.iter().all(|line| line.contains("IN MEMORY ONLY, not on disk: ")), "{lost:?}");
    assert_eq!(done.status.code(), Some(2));
    let told = String::from_utf8_lossy(&done.stderr);
    assert!(told.contains("not every entry was kept"), "{told}");
    // On the disk, in order, is what was called kept, and perhaps a little more.
    let found = notes(&log);
    assert_eq!(found.get(..kept.len()), Some(&kept[..]));
}

#[test]
fn where_nothing_may_be_written_that_is_said_before_anything_is_typed() {
    if !Path::new("/proc/self").exists() {
        println!("no folder here that refuses everyone: not tried");
        return;
    }
    let mut watch = foreland();
    watch.args(["watch", "--plain", "--chart", CHART, "--at=-38.2,-21.5"]);
    watch.args(["--log", "/proc/none/watch.log"]);
    let done = typed(watch, "# never taken\n");
    let told = String::from_utf8_lossy(&done.stderr);
    assert_eq!(done.status.code(), Some(2), "{told}");
    assert!(told.contains("/proc/none/watch.log") && done.stdout.is_empty(), "{told}");

    let mut report = foreland();
    report.args(["chart", "check", CHART, "-o", "/proc/none/report.txt"]);
    let done = report.output().unwrap();
    let told = String::from_utf8_lossy(&done.stderr);
    assert_eq!(done.status.code(), Some(2), "{told}");
    assert!(told.contains("/proc/none/report.txt: cannot be written"), "{told}");
}

/// Whoever read the output is gone: a report ends quietly, a watch goes on keeping what is typed.
#[test]
fn with_nobody_listening_it_ends_quietly_and_still_keeps() {
    let sample = |name: &str| format!("{CHART}/{name}");
    let landfall = sample("landfall.toml");
    let reports: [&[&str]; 5] = [
        &["chart", "check", CHART],
        &["chart", "marks", "--chart", CHART],
        &["fix", "--chart", CHART, &landfall],
        &["expect", "--chart", CHART, "--at=-38.2,-21.5", "--height-ft", "2000", "--set", "patrol"],
        &[],
    ];
    for arguments in reports {
        let done = foreland().args(arguments).stdout(nobody()).output().unwrap();
        let told = String::from_utf8_lossy(&done.stderr);
        assert!(done.status.success() && told.is_empty(), "{arguments:?}: {told}");
    }
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("watch.log");
    let mut child = foreland()
        .args(["watch", "--plain", "--chart", CHART, "--at=-38.2,-21.5", "--log"])
        .arg(&log)
        .stdin(Stdio::piped())
        .stdout(nobody())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(b"# into the dark\n").unwrap();
    let done = child.wait_with_output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    assert_eq!(notes(&log), ["into the dark"]);
}
