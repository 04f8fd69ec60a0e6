//! What came of it beside what is aimed at, and beside what an ideal reader makes of the same.

use std::fmt::Write;

use super::score::{Off, Outcome, Row};
use super::tables::{bands, percent, with_interval};

/// Contacts, reckoning in miles, and the per cent aimed at to be fixed and right.
const AIMS: [(usize, f64, f64); 8] = [
    (4, 20.0, 50.0),
    (5, 20.0, 70.0),
    (6, 20.0, 85.0),
    (8, 20.0, 93.0),
    (4, 5.0, 58.0),
    (5, 5.0, 75.0),
    (6, 5.0, 88.0),
    (8, 5.0, 92.0),
];

/// The cases that something is aimed at in.
pub fn aims(text: &mut String, rows: &[&Row]) {
    let own =
        |row: &&&Row, contacts: usize, sigma: f64| row.case == format!("k{contacts}-dr{sigma:.0}");
    let there = |(contacts, sigma, _): &&(usize, f64, f64)| {
        rows.iter().any(|row| own(&row, *contacts, *sigma))
    };
    let aimed: Vec<&(usize, f64, f64)> = AIMS.iter().filter(there).collect();
    if aimed.is_empty() {
        return;
    }
    writeln!(
        text,
        "\n## What is aimed at\n\n| contacts, reckoning | n | fixed and right % | refused % | fixed and wrong \
         % | of fixes wrong % | aimed at, fixed and right |\n| --- | --- | --- | --- | --- | --- | --- |"
    )
    .unwrap();
    for (contacts, sigma, aim) in aimed {
        let those: Vec<&&Row> = rows.iter().filter(|row| own(row, *contacts, *sigma)).collect();
        let n = those.len();
        let count = |wanted: Outcome| those.iter().filter(|row| row.outcome() == wanted).count();
        let (right, wrong) = (count(Outcome::Right), count(Outcome::Wrong));
        writeln!(
            text,
            "| {contacts}, {sigma} NM | {n} | {} | {:.1} | {} | {} | {aim:.0} % |",
            with_interval(right, n),
            percent(n - right - wrong, n),
            with_interval(wrong, n),
            with_interval(wrong, right + wrong),
        )
        .unwrap();
    }
}

/// Right, refused and wrong of some landfalls: the program's, and the ideal reader's.
struct Both {
    n: usize,
    program: [usize; 3],
    ideal: [usize; 3],
    /// Fixed rightly by the ideal reader, not by the program; and the other way round.
    only: [usize; 2],
    /// The reader's best place right, whatever its probability.
    best: usize,
}

impl Both {
    fn of(rows: &[&Row]) -> Self {
        let mut both = Self { n: 0, program: [0; 3], ideal: [0; 3], only: [0; 2], best: 0 };
        for row in rows {
            let Some(ideal) = row.ideal else { continue };
            both.n += 1;
            let program = match row.outcome() {
                Outcome::Right => 0,
                Outcome::Wrong => 2,
                _ => 1,
            };
            let read = match ideal.fixed_rightly(row.assurance) {
                Some(true) => 0,
                None => 1,
                Some(false) => 2,
            };
            both.program[program] += 1;
            both.ideal[read] += 1;
            both.only[0] += usize::from(read == 0 && program != 0);
            both.only[1] += usize::from(program == 0 && read != 0);
            both.best += usize::from(ideal.off.is_some_and(Off::is_right));
        }
        both
    }

    fn line(&self, text: &mut String, title: &str) {
        let n = self.n;
        writeln!(
            text,
            "| {title} | {n} | {} | {:.1} | {} | {} | {:.1} | {} | {:.0} | {} / {} |",
            with_interval(self.program[0], n),
            percent(self.program[1], n),
            self.program[2],
            with_interval(self.ideal[0], n),
            percent(self.ideal[1], n),
            self.ideal[2],
            percent(self.best, n),
            self.only[0],
            self.only[1],
        )
        .unwrap();
    }
}

/// The same landfalls read by the program and by an ideal reader, condition by condition.
pub fn against_ideal(text: &mut String, rows: &[&Row]) {
    let read: Vec<&Row> = rows.iter().copied().filter(|row| row.ideal.is_some()).collect();
    if read.is_empty() {
        return;
    }
    writeln!(
        text,
        "\n## Beside an ideal reader of the same contacts\n\n| | n | program: right % | refused % | wrong \
         | ideal: right % | refused % | wrong | its best place right % | only ideal / only program right |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"
    )
    .unwrap();
    let mut cases: Vec<&str> = read.iter().map(|row| row.case.as_str()).collect();
    cases.dedup();
    for case in &cases {
        let those: Vec<&Row> = read.iter().copied().filter(|row| row.case == *case).collect();
        Both::of(&those).line(text, case);
    }
    Both::of(&read).line(text, "all");
    borne_out(text, &read);
}

/// The probability that the ideal reader claims, against how often it is right.
fn borne_out(text: &mut String, read: &[&Row]) {
    const EDGES: [f64; 7] = [0.0, 0.3, 0.6, 0.9, 0.99, 0.999, 1.0001];
    writeln!(
        text,
        "\n| claimed by the ideal reader | n | mean claimed % | right % |\n| --- | --- | --- | --- |"
    )
    .unwrap();
    let judged: Vec<(f64, bool)> = read
        .iter()
        .filter_map(|row| row.ideal)
        .map(|ideal| (ideal.probability, ideal.off.is_some_and(Off::is_right)))
        .collect();
    bands(text, &judged, &EDGES);
}
