//! The watch log: what was acknowledged is there after a kill at any byte, damage is named.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::fs;
use std::path::Path;

use foreland::watch::Keeper;
use foreland::watch::log::{ContactEntry, FIRST_LINE, Log, LogError, Record, What, replay};
use jiff::Timestamp;

fn time(second: i64) -> Timestamp {
    Timestamp::from_second(1_930_000_000 + second).unwrap()
}

fn contact(label: &str, range_nm: f64) -> What {
    What::Contact(ContactEntry {
        label: label.to_owned(),
        range_nm: Some(range_nm),
        bearing_deg: Some(42.0),
        ..ContactEntry::default()
    })
}

/// A log of a few records, and how long the file was as each was acknowledged.
fn sitting(path: &Path) -> Vec<u64> {
    let (mut log, _) = Log::open(path).unwrap();
    let all = [
        What::Open { program: "foreland".to_owned(), chart: "Côte d'essai".to_owned() },
        contact("A", 17.3),
        contact("B", 9.05),
        What::Delete { label: "A".to_owned() },
        What::Undo,
        What::Note { text: "haze\nto the north".to_owned() },
    ];
    let lengths = all.into_iter().enumerate().map(|(at, what)| {
        let number =
            log.append(time(i64::try_from(at).unwrap()), what, Some(format!("line {at}"))).unwrap();
        assert_eq!(number, at as u64 + 1);
        fs::metadata(path).unwrap().len()
    });
    lengths.collect()
}

#[test]
fn a_kill_at_any_byte_loses_nothing_acknowledged() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("watch.log");
    let acknowledged = sitting(&path);
    let bytes = fs::read(&path).unwrap();
    let whole = replay(&bytes, &path).unwrap();
    assert_eq!((whole.records.len(), whole.notices.len()), (acknowledged.len(), 0));

    for cut in 0..=bytes.len() {
        let kept = acknowledged.iter().filter(|length| **length <= cut as u64).count();
        let left = replay(&bytes[..cut], &path).unwrap();
        // A record that lacks only its line's end is whole, though nobody was told of it yet.
        let one_more = acknowledged.contains(&(cut as u64 + 1));
        assert_eq!(left.records.len(), kept + usize::from(one_more), "cut at {cut}");
        assert_eq!(left.records[..], whole.records[..left.records.len()], "cut at {cut}");
        let boundary =
            cut == 0 || one_more || cut == FIRST_LINE.len() || acknowledged.contains(&(cut as u64));
        assert_eq!(left.notices.is_empty(), boundary, "cut at {cut}: {:?}", left.notices);
    }
}

#[test]
fn a_torn_log_is_taken_up_again_and_reads_whole() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("watch.log");
    let acknowledged = sitting(&path);
    let bytes = fs::read(&path).unwrap();
    for cut in [0, 5, FIRST_LINE.len(), bytes.len() - 20, bytes.len() - 1, bytes.len()] {
        fs::write(&path, &bytes[..cut]).unwrap();
        let (mut log, left) = Log::open(&path).unwrap();
        let number = log.append(time(99), What::Redo, None).unwrap();
        assert_eq!(number, left.records.len() as u64 + 1, "cut at {cut}");
        drop(log);
        let (_, again) = Log::open(&path).unwrap();
        assert!(again.notices.is_empty(), "cut at {cut}: {:?}", again.notices);
        assert_eq!(again.records.len(), left.records.len() + 1, "cut at {cut}");
    }
    assert_eq!(acknowledged.len(), 6);
}

#[test]
fn a_damaged_record_is_named_skipped_and_left_in_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("watch.log");
    sitting(&path);
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replacen("17.3", "71.3", 1)).unwrap();
    let (log, left) = Log::open(&path).unwrap();
    assert_eq!(left.records.len(), 5);
    assert_eq!(left.notices, ["line 3 is damaged (its checksum does not agree): skipped"]);
    drop(log);
    assert_eq!(fs::read_to_string(&path).unwrap().lines().count(), text.lines().count());
}

#[test]
fn a_missing_record_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("watch.log");
    sitting(&path);
    let text = fs::read_to_string(&path).unwrap();
    let kept: Vec<&str> = text.lines().enumerate().filter(|(i, _)| *i != 2).map(|l| l.1).collect();
    fs::write(&path, kept.join("\n") + "\n").unwrap();
    let (_, left) = Log::open(&path).unwrap();
    assert_eq!(left.notices, ["record 2 is missing"]);
}

/// A damaged line stands for one number, its own where that can still be read; the others are named.
#[test]
fn records_missing_beside_a_damaged_one_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("watch.log");
    sitting(&path);
    let text = fs::read_to_string(&path).unwrap();
    // Line 3 holds record 2; of each line that stays, whether it is damaged behind or within its number.
    let left = |lines: &[(usize, &str)]| {
        let mut all = vec![FIRST_LINE.trim_end().to_owned()];
        for (number, damage) in lines {
            let line = text.lines().nth(*number).unwrap();
            all.push(match *damage {
                "behind" => line.replace("line", "lime"),
                "number" => line.replacen(&format!(" {number} "), " x ", 1),
                _ => line.to_owned(),
            });
        }
        replay((all.join("\n") + "\n").as_bytes(), &path).unwrap().notices
    };
    let sum =
        |line: usize| format!("line {line} is damaged (its checksum does not agree): skipped");
    let behind = left(&[(1, ""), (2, "behind"), (6, "")]);
    assert_eq!(behind, [sum(3), "records 3 to 5 are missing".to_owned()]);
    let between = left(&[(1, ""), (4, "behind"), (6, "")]);
    let around = ["records 2 to 3 are missing".to_owned(), "record 5 is missing".to_owned()];
    assert_eq!(between, [&[sum(3)][..], &around[..]].concat());
    let unread = left(&[(1, ""), (4, "number"), (6, "")]);
    assert_eq!(unread, [sum(3), "records 3 to 5 are missing".to_owned()]);
    let all_there = left(&[(1, ""), (2, "behind"), (3, "number"), (4, "")]);
    assert_eq!(all_there, [sum(3), sum(4)]);
}

#[test]
fn a_log_with_a_damaged_first_line_is_still_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("watch.log");
    sitting(&path);
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replacen("foreland", "f0reland", 1)).unwrap();
    let (_, left) = Log::open(&path).unwrap();
    assert_eq!(left.records.len(), 6);
    assert_eq!(left.notices, ["the log's first line is damaged"]);
}

#[test]
fn files_of_another_kind_are_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("letter.txt");
    fs::write(&path, "Dear all,\n").unwrap();
    assert!(matches!(Log::open(&path), Err(LogError::NotALog { .. })));
    assert_eq!(fs::read_to_string(&path).unwrap(), "Dear all,\n");
    fs::write(&path, "foreland watch log, version 2\nxyz\n").unwrap();
    assert!(matches!(Log::open(&path), Err(LogError::Later { .. })));
    assert!(matches!(Log::open(folder.path()), Err(LogError::File { .. })));
}

#[test]
fn a_second_watch_on_the_same_log_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("watch.log");
    let first = Log::open(&path).unwrap();
    assert!(matches!(Log::open(&path), Err(LogError::InUse { .. })));
    drop(first);
    assert!(Log::open(&path).is_ok());
}

#[cfg(target_os = "linux")]
#[test]
fn a_device_is_no_log() {
    assert!(matches!(Log::open(Path::new("/dev/zero")), Err(LogError::NotALog { .. })));
}

#[test]
fn every_line_but_the_first_is_a_record() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("watch.log");
    sitting(&path);
    let text = fs::read_to_string(&path).unwrap();
    assert!(text.starts_with(FIRST_LINE));
    assert!(text.lines().skip(1).all(|line| Record::from_line(line.as_bytes()).is_ok()));
}

#[test]
fn what_the_disk_refuses_waits_in_memory_and_is_written_first_when_it_can_be() {
    let folder = tempfile::tempdir().unwrap();
    // A file where the folder of the log should be: no log can be begun there.
    let blocked = folder.path().join("state");
    std::fs::write(&blocked, "").unwrap();
    let path = blocked.join("watch.log");
    let mut keeper = Keeper::later(path.clone(), vec![What::Note { text: "opening".to_owned() }]);
    assert!(keeper.keep(time(1), contact("A", 9.0), Some("9 101".to_owned())).is_err());
    assert!(keeper.keep(time(2), contact("B", 10.0), None).is_err());
    assert_eq!((keeper.unkept(), keeper.is_open()), (2, false));
    // An entry is what was typed; the other is the program's own.
    assert_eq!((keeper.tally().kept, keeper.tally().unkept), (0, 1));
    std::fs::remove_file(&blocked).unwrap();
    keeper.keep(time(3), contact("C", 11.0), None).unwrap();
    assert_eq!(keeper.unkept(), 0);
    assert_eq!((keeper.tally().kept, keeper.tally().unkept), (1, 0));
    drop(keeper);
    let (log, replay) = Log::open(&path).unwrap();
    // Taken up again it counts what it holds.
    let again = Keeper::in_log(log, &replay.records, time(4), Vec::new()).unwrap();
    assert_eq!((again.tally().kept, again.tally().begun), (1, true));
    let kinds: Vec<_> = replay
        .records
        .iter()
        .map(|record| match &record.what {
            What::Contact(entry) => entry.label.clone(),
            _ => "-".to_owned(),
        })
        .collect();
    assert_eq!(kinds, ["-", "A", "B", "C"]);
    assert_eq!(replay.records[1].time, time(1));
}

#[cfg(unix)]
#[test]
fn a_log_whose_file_was_taken_away_is_not_said_to_be_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("watch.log");
    let (mut log, _) = Log::open(&path).unwrap();
    log.append(time(1), contact("A", 9.0), None).unwrap();
    fs::remove_file(&path).unwrap();
    assert!(matches!(log.append(time(2), contact("B", 9.0), None), Err(LogError::File { .. })));
    // Nor is it where another file stands in its place.
    fs::write(&path, "another").unwrap();
    assert!(log.append(time(2), contact("B", 9.0), None).is_err());
    assert_eq!(fs::read_to_string(&path).unwrap(), "another");
}
