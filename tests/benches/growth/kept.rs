//! Entries kept in the log, beside bare writes.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::Path;

use foreland::watch::Keeper;
use foreland::watch::log::What;
use jiff::Timestamp;

use crate::Growth;
use crate::took::{fastest, load};

/// Entries kept one by one, each on the disk before the next; beside it the same bytes written and
/// flushed to the disk with nothing else done: what the disk allows.
pub fn appended() -> Growth {
    println!("keep entries in the log, each on the disk before the next");
    let mut growth = Growth::new("keep entries in the log", "entries");
    for entries in [10_usize, 100, 1_000] {
        let folder = tempfile::tempdir().unwrap();
        let time: Timestamp = "2031-03-09T03:40:00Z".parse().unwrap();
        let mut number = 0;
        // One after the other, so that both meet the disk in the same mood.
        let (mut taken, mut bare) = (f64::INFINITY, f64::INFINITY);
        for _ in 0..3 {
            number += 1;
            let path = folder.path().join(format!("{number}.log"));
            let keeping = fastest(1, || {
                let mut keeper = Keeper::later(path.clone(), Vec::new());
                for entry in 0..entries {
                    let text = format!("entry {entry}");
                    let typed = Some(format!("# {text}"));
                    keeper.keep(time, What::Note { text }, typed).unwrap();
                }
            });
            let line = vec![b'x'; bytes(&path) / entries];
            let writing = fastest(1, || write(&folder.path().join("bare"), &line, entries));
            (taken, bare) = (taken.min(keeping.clock), bare.min(writing.clock));
        }
        println!(
            "  {entries:>5} entries: {:.1} ms, {:.0} µs each; bare writes {:.0} µs each: {:.2} times; {}",
            taken * 1e3,
            taken / entries as f64 * 1e6,
            bare / entries as f64 * 1e6,
            taken / bare,
            load()
        );
        growth.points.push((entries as f64, taken));
    }
    growth
}

fn bytes(path: &Path) -> usize {
    usize::try_from(std::fs::metadata(path).unwrap().len()).unwrap()
}

fn write(path: &Path, line: &[u8], times: usize) {
    drop(File::create(path).unwrap());
    let mut file = OpenOptions::new().append(true).open(path).unwrap();
    for _ in 0..times {
        file.write_all(line).unwrap();
        file.sync_data().unwrap();
    }
}
