//! Nothing that is read can break the program: corpora replayed, sound files spoilt by a seeded
//! generator, and files made to break each reader.
//!
//! On Linux all of it runs in a process of its own with little memory to have (`ulimit -v`): a header
//! that makes a reader set aside room for what is not there ends that process. The same targets can be
//! driven by a fuzzer: see `docs/reliability.md`.
//!
//! `FORELAND_CASES=20` spoils twenty times as many files; `FORELAND_SEED=7` spoils others;
//! `FORELAND_TARGET=shp` keeps to one reader.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod hostile;
#[path = "hostile/mutate.rs"]
mod mutate;
#[path = "hostile/nasty/mod.rs"]
mod nasty;

use std::collections::BTreeMap;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use foreland::chart::Opening;
use hostile::made::island_chart;
use hostile::{Ended, TARGETS, Target};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

const SEED: u64 = 20_310_310;

/// What the process of the cases may have of address space, in kilobytes: the program, its threads and
/// a tile of heights take some 300 MB of it.
const MOST_KB: u64 = 1_000_000;

/// No case may take longer, on a machine that does other work too.
const MOST_TIME: Duration = Duration::from_secs(20);

/// Set in the process that runs the cases: the file in which it says which it is at.
const INSIDE: &str = "FORELAND_HOSTILE";

/// How many spoilt files each reader gets: in all some ten seconds.
fn spoilt_of(target: &str) -> u64 {
    match target {
        "hgt" => 6,
        "shx" => 40,
        "entry" | "position" => 2_000,
        "log" | "log_records" => 120,
        _ => 250,
    }
}

fn number_of(variable: &str, otherwise: u64) -> u64 {
    std::env::var(variable).ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}

fn corpus_of(target: &str) -> Vec<(String, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(target);
    let mut files: Vec<PathBuf> =
        fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    files.sort();
    files
        .iter()
        .map(|path| {
            (path.file_name().unwrap().to_string_lossy().into_owned(), fs::read(path).unwrap())
        })
        .collect()
}

/// What came of the cases of one reader.
#[derive(Default)]
struct Tally {
    taken: usize,
    refused: usize,
    longest: (Duration, String),
}

/// Runs the cases and says what broke.
struct Run {
    at: PathBuf,
    broken: Vec<String>,
}

impl Run {
    fn case(&mut self, target: &Target, name: &str, bytes: &[u8], tally: &mut Tally) {
        fs::write(&self.at, format!("{}, {name}", target.name)).unwrap();
        let start = Instant::now();
        let ended = catch_unwind(AssertUnwindSafe(|| target.check(bytes)));
        let took = start.elapsed();
        match ended {
            Ok(Ended::Taken) => tally.taken += 1,
            Ok(Ended::Refused(_)) => tally.refused += 1,
            Err(_) => {
                self.broken.push(format!("{}, {name}: {}", target.name, kept(target, name, bytes)));
            }
        }
        if took > MOST_TIME {
            self.broken.push(format!("{}, {name}: took {took:?}", target.name));
        }
        if took > tally.longest.0 {
            tally.longest = (took, name.to_owned());
        }
    }

    fn target(&mut self, number: usize, target: &Target, seed: u64) -> Tally {
        let mut tally = Tally::default();
        let corpus = corpus_of(target.name);
        for (name, bytes) in &corpus {
            self.case(target, name, bytes, &mut tally);
        }
        for (name, bytes) in nasty::nasty(target.name) {
            self.case(target, &name, &bytes, &mut tally);
        }
        let seeds: Vec<Vec<u8>> = corpus.into_iter().map(|(_, bytes)| bytes).collect();
        for spoilt in 0..spoilt_of(target.name) * number_of("FORELAND_CASES", 1) {
            let mut random = ChaCha8Rng::seed_from_u64(seed);
            random.set_stream((number as u64) << 32 | spoilt);
            let bytes = mutate::mutated(&mut random, &seeds);
            self.case(target, &format!("seed {seed} spoilt {spoilt}"), &bytes, &mut tally);
        }
        tally
    }
}

/// Where what broke a reader is kept.
fn kept(target: &Target, name: &str, bytes: &[u8]) -> String {
    let name: String = name.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{}-{name}", target.name));
    fs::write(&path, bytes).unwrap();
    format!("kept in {}", path.display())
}

fn all_cases(at: PathBuf) {
    let seed = number_of("FORELAND_SEED", SEED);
    let only = std::env::var("FORELAND_TARGET").ok();
    println!("seed {seed}");
    let mut run = Run { at, broken: Vec::new() };
    let mut tallies = BTreeMap::new();
    for (number, target) in TARGETS.iter().enumerate() {
        if only.as_deref().is_some_and(|only| only != target.name) {
            continue;
        }
        let start = Instant::now();
        let tally = run.target(number, target, seed);
        tallies.insert(target.name, (tally, start.elapsed()));
    }
    for (name, (tally, took)) in &tallies {
        println!(
            "{name}: {} taken, {} refused, {:.1} s, the longest {:.2} s ({})",
            tally.taken,
            tally.refused,
            took.as_secs_f64(),
            tally.longest.0.as_secs_f64(),
            tally.longest.1
        );
    }
    assert!(
        run.broken.is_empty(),
        "{} broke a reader:\n{}",
        run.broken.len(),
        run.broken.join("\n")
    );
}

#[test]
fn nothing_read_breaks_the_program() {
    if let Some(at) = std::env::var_os(INSIDE) {
        all_cases(PathBuf::from(at));
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().join("at");
    if !cfg!(target_os = "linux") {
        println!("memory is not held to a bound here");
        all_cases(at);
        return;
    }
    let ended = Command::new("sh")
        .arg("-c")
        .arg(format!(
            "ulimit -v {MOST_KB} && exec \"$0\" --exact nothing_read_breaks_the_program --nocapture"
        ))
        .arg(std::env::current_exe().unwrap())
        .env(INSIDE, &at)
        // Each thread's own store of memory would take 64 MB of the bound.
        .env("MALLOC_ARENA_MAX", "2")
        .env("RAYON_NUM_THREADS", "2")
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&ended.stdout);
    println!("{said}");
    assert!(
        said.contains("seed "),
        "the cases were not begun: {}",
        String::from_utf8_lossy(&ended.stderr)
    );
    assert!(
        ended.status.success(),
        "ended with {} at {}:\n{}",
        ended.status,
        fs::read_to_string(&at).unwrap_or_default(),
        String::from_utf8_lossy(&ended.stderr)
    );
}

#[test]
fn every_reader_has_its_fuzz_target_and_its_corpus() {
    let fuzz = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz");
    let mut all = 0;
    for target in &TARGETS {
        let source = fuzz.join("fuzz_targets").join(format!("{}.rs", target.name));
        let source = fs::read_to_string(&source).unwrap_or_else(|_| panic!("{}", source.display()));
        assert!(source.contains(&format!("\"{}\"", target.name)), "{}", target.name);
        let corpus = corpus_of(target.name);
        let sound =
            corpus.iter().filter(|(_, bytes)| matches!(target.check(bytes), Ended::Taken)).count();
        assert!(sound > 0, "{}: nothing sound to start from", target.name);
        all += corpus.iter().map(|(_, bytes)| bytes.len()).sum::<usize>();
    }
    assert!(all < 200_000, "the corpora hold {all} bytes");
}

/// One of another form is refused before what it announces is looked at.
#[test]
fn indexes_made_to_break_the_reader_are_of_its_form() {
    for (name, bytes) in nasty::nasty("prepared") {
        let Ended::Refused(words) = Target::of("prepared").check(&bytes) else {
            panic!("{name} is taken")
        };
        assert!(!words.contains("another version"), "{name}: {words}");
    }
}

/// `FORELAND_WRITE_CORPUS=1` writes it: an index of another form or version is none to start from.
#[test]
fn the_index_in_the_corpus_is_its_charts_own() {
    let folder = tempfile::tempdir().unwrap();
    let charts = [island_chart(folder.path())];
    let index = folder.path().join("index");
    Opening::new(&charts).prepare(&index).unwrap();
    let made = fs::read(&index).unwrap();
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus/prepared/island");
    if std::env::var_os("FORELAND_WRITE_CORPUS").is_some() {
        fs::write(&kept, &made).unwrap();
    }
    // Not byte for byte: another machine's sines may differ in the last place.
    for index in [made, fs::read(&kept).unwrap()] {
        let ended = Target::of("prepared").check(&index);
        assert!(matches!(ended, Ended::Taken), "FORELAND_WRITE_CORPUS=1 makes it anew: {ended:?}");
    }
}
