//! Fixes among more and more marks, and named ones against `SciPy`'s least squares.

use foreland::contact::Sightings;
use foreland::fix::{Options, fix};
use foreland::geodesy::{Position, distance};

use crate::took::{fastest, load, seconds};
use crate::{Growth, python, scipy_cases, strewn, towers};

/// Eight unnamed contacts among so many marks, the reckoning known to 20 NM. Of ten marks all but a few
/// lie out of reach: four contacts.
pub fn identified() -> Growth {
    const SEED: u64 = 20_310_318;
    println!("fix, unnamed contacts, reckoning 20 NM (seed {SEED})");
    let mut growth = Growth::new("fix, unnamed contacts", "marks");
    for marks in [10, 100, 1_000, 10_000, 100_000] {
        let folder = tempfile::tempdir().unwrap();
        // The ten nearest of a hundred: ten over all of the area are a desert.
        let mut places = strewn::places(marks.max(100), SEED);
        let off = |place: &Position| distance(towers::centre(), *place).metres();
        places.sort_by(|a, b| off(a).total_cmp(&off(b)));
        places.truncate(marks);
        let chart = towers::chart_of(folder.path(), &places);
        let contacts = if marks < 1_000 { 4 } else { 8 };
        let (sightings, _) = strewn::landfall(&places, contacts, 20.0, SEED);
        let taken = fastest(20, || fix(&chart, &sightings, &Options::default()));
        println!("  {marks:>7} marks, {contacts} contacts: {taken}; {}", load());
        growth.points.push((marks as f64, taken.clock));
    }
    growth
}

/// The fifty named fixes of `tests/reference/scipy-fixes`, both ways.
pub fn against_scipy() {
    println!("the fifty named fixes of tests/reference/scipy-fixes, two to five contacts each");
    let folder = tempfile::tempdir().unwrap();
    let cases: Vec<(foreland::chart::Chart, Sightings)> = scipy_cases::all()
        .iter()
        .enumerate()
        .map(|(number, case)| {
            let own = folder.path().join(number.to_string());
            std::fs::create_dir(&own).unwrap();
            (towers::chart_of(&own, &scipy_cases::places(case)), scipy_cases::sightings(case))
        })
        .collect();
    let taken = fastest(10, || {
        let verdict =
            |(chart, sightings): &(_, _)| fix(chart, sightings, &Options::default()).verdict;
        cases.iter().map(verdict).collect::<Vec<_>>()
    });
    let each = taken.clock / cases.len() as f64;
    println!("  a whole fix {} on the mean; {}", seconds(each), load());
    let cases = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/scipy-fixes/cases.json");
    let Some(told) = python::told("scipy-fixes/make.py", &["--time", cases]) else { return };
    let of = |what: &str| told[what].as_f64().unwrap();
    println!(
        "    SciPy: one call of least_squares {}: {:.1} times; solved as often as it takes to stand {}: \
         {:.1} times",
        seconds(of("call")),
        of("call") / each,
        seconds(of("case")),
        of("case") / each
    );
}
