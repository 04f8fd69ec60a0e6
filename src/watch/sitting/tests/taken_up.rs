//! A sitting, and the same taken up from its log.

use super::*;
use crate::chart::Chart;
use crate::fix::{Options, fix};
use crate::radar::Set;
use crate::watch::log::Record;
use crate::watch::{resume, start_record};

/// Lines entered on sightings, live and from the records that they came to.
pub(super) fn live_and_taken_up(text: &str, lines: &[&str]) -> (Watch, Watch) {
    let sightings = Sightings::parse(text, "t", Path::new("")).unwrap();
    let mut watch = Watch::from_sightings(&sightings);
    let mut all = vec![start_record("t", text, &sightings)];
    for line in lines {
        let what = watch.change(&understood(line).unwrap(), wall(), &marks()).unwrap();
        watch.apply(&what).unwrap();
        all.push(what);
    }
    let record = |(at, what)| Record { number: at as u64 + 1, time: wall(), what, typed: None };
    let records: Vec<Record> = all.into_iter().enumerate().map(record).collect();
    let resumed = resume(&records, &Watch::blank(sightings.radar.clone(), Height::SEA_LEVEL));
    assert_eq!(resumed.notices, Vec::<String>::new());
    (watch, resumed.watch.unwrap())
}

const TRACE: &str = include_str!("../../../../charts-sample/trace.toml");

/// Sightings as they were read by the set of a file of these figures, with their text. The file is gone since.
fn by_own_set(figures: &str, text: &str) -> (String, Sightings) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("own.toml"), figures).unwrap();
    let text = ["metric", "patrol"].iter().fold(text.to_owned(), |text, name| {
        text.replace(&format!("set = \"{name}\""), "set = \"own.toml\"")
    });
    let sightings = Sightings::parse(&text, "t", folder.path()).unwrap();
    (text, sightings)
}

#[track_caller]
fn assert_taken_up(start: What, live: &Watch) {
    let record = Record { number: 1, time: wall(), what: start, typed: None };
    let resumed = resume(&[record], &blank());
    assert_eq!(resumed.notices, Vec::<String>::new());
    let resumed = resumed.watch.unwrap();
    assert_eq!(resumed.radar().set, live.radar().set);
    assert_eq!(resumed.contacts(), live.contacts());
    let chart = Chart::sample().unwrap();
    let fixed = |watch: &Watch| fix(&chart, &watch.sightings().unwrap(), &Options::default());
    assert_eq!(fixed(&resumed), fixed(live));
}

/// Other lobes give other bearings, and take a ratio that those of the built-in set cannot give.
#[test]
fn a_watch_on_own_lobes_is_taken_up_by_them() {
    let built_in = Set::builtin_text("metric").unwrap();
    let figures = built_in
        .replace("squint_deg = 22.0", "squint_deg = 30.0")
        .replace("back_db = -20.0", "back_db = -30.0");
    let trace = TRACE.replace("port = 0.9", "port = 0.3");
    let (text, sightings) = by_own_set(&figures, &trace);
    let live = Watch::from_sightings(&sightings);
    assert!(live.contacts()[0].contact.lobes.is_some());
    let start = start_record("t", &text, &sightings);
    assert_taken_up(start.clone(), &live);
    // So is a log of an earlier version, whose text names a built-in set in place of the file.
    let What::Start { name, set, .. } = start else { panic!("a start") };
    assert_taken_up(What::Start { name, sightings: trace, set }, &live);
}

#[test]
fn a_watch_on_an_own_scan_is_taken_up_with_its_errors() {
    let built_in = Set::builtin_text("patrol").unwrap();
    let figures = built_in
        .replace("range_sigma_nm = 0.15", "range_sigma_nm = 0.45")
        .replace("bearing_sigma_deg = 1.0", "bearing_sigma_deg = 3.0");
    let landfall = include_str!("../../../../charts-sample/landfall.toml");
    let (text, sightings) = by_own_set(&figures, landfall);
    let live = Watch::from_sightings(&sightings);
    let plain = Watch::from_sightings(&Sightings::parse(landfall, "t", Path::new("")).unwrap());
    assert_ne!(live.contacts(), plain.contacts());
    assert_taken_up(start_record("t", &text, &sightings), &live);
}
