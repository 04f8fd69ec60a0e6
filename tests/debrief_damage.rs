//! A log of sound records with senseless figures: told or left out, never a fault.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::path::Path;

use foreland::debrief::debrief;
use foreland::debrief::export::{Told, csv, geojson, gpx, html, markdown};
use foreland::debrief::smooth::Kind;
use foreland::watch::log::replay;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const SORTIE: &str = include_str!("reference/watch-log/sortie.log");
const SEED: u64 = 20_310_309;
const TRIALS: u64 = 200;

/// A line with some of its digits others, and its checksum that of what it then says.
fn altered(line: &str, random: &mut ChaCha8Rng) -> String {
    let Some((_, rest)) = line.split_once(' ') else { return line.to_owned() };
    let digits: Vec<usize> =
        rest.char_indices().filter(|(_, c)| c.is_ascii_digit()).map(|(at, _)| at).collect();
    let mut rest = rest.to_owned();
    for _ in 0..random.random_range(1..4) {
        let at = digits[random.random_range(0..digits.len())];
        let with = ["9", "0", "7", "1", "5", "2"][random.random_range(0..6)];
        rest.replace_range(at..=at, with);
    }
    format!("{:08x} {rest}", crc32fast::hash(rest.as_bytes()))
}

#[test]
fn senseless_figures_are_no_fault() {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let mut told_of = 0;
    for trial in 0..TRIALS {
        let lines: Vec<String> = SORTIE
            .lines()
            .enumerate()
            .map(|(at, line)| {
                let spare = at == 0 || random.random_range(0..3) > 0;
                if spare { line.to_owned() } else { altered(line, &mut random) }
            })
            .collect();
        let text = lines.join("\n") + "\n";
        let found = replay(text.as_bytes(), Path::new("x.log")).unwrap();
        let account = debrief(&found.records, found.notices, None);
        let told = Told { debrief: &account, log: "x.log", chart: None, caution: "An aid only." };
        for form in [csv, geojson, gpx, html, markdown] {
            assert!(!form(&told).contains("NaN"), "seed {SEED} trial {trial}");
        }
        for point in &account.track {
            let (long, short, _) = point.place.covariance.axes();
            assert!(long.is_finite() && short >= 0.0, "seed {SEED} trial {trial}");
            told_of += u32::from(point.kind == Kind::Smoothed);
        }
        assert!(account.track.len() < 4500, "seed {SEED} trial {trial}: {}", account.track.len());
        let times: Vec<_> = account.track.iter().map(|point| point.time).collect();
        assert!(times.is_sorted());
    }
    // Most are still worth telling.
    assert!(told_of > 500, "{told_of}");
}
