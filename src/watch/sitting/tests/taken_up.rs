//! A sitting, and the same taken up from its log.

use super::*;
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
