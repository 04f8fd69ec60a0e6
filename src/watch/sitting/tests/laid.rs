//! What a contact off the bow is laid on once own heading and bank are others.

use super::*;
use crate::contact::LobeReading;
use crate::radar::Set;
use crate::watch::log::Record;
use crate::watch::resume;

const RIGHT: &str = "dr 38 12.9 S, 21 30.5 W sigma 4 @0340";

/// A contact read off the bow at 028° true.
const READ: [&str; 4] = [RIGHT, "trk 074 165 @0340", "hdg 070", "9.0 318 rel @0343"];

const TURN: [&str; 1] = ["hdg 100"];

#[track_caller]
fn sat(lines: &[&[&str]]) -> Watch {
    let mut watch = blank();
    put(&mut watch, &lines.concat());
    watch
}

#[track_caller]
fn assert_bears(watch: &Watch, label: &str, expected: f64) {
    let at = watch.find(label).unwrap();
    let bearing = watch.contacts()[at].contact.bearing.unwrap().degrees();
    assert!((bearing - expected).abs() < 1e-9, "{label} bears {bearing}, not {expected}");
}

fn lobes(watch: &Watch) -> LobeReading {
    watch.contacts()[0].contact.lobes.clone().unwrap()
}

#[test]
fn a_name_a_range_a_part_or_a_time_put_right_turns_no_bearing() {
    let mut watch = sat(&[&READ, &TURN]);
    let lines = ["mark A Gannet Head", "A 9.2", "A right", "A @0342", "A 9.4", "unmark A"];
    for line in lines {
        let said = put(&mut watch, &[line]);
        assert_bears(&watch, "A", 28.0);
        let told = "R 318.0, heading T 070.0, T 028.0), heading as read then, at 03:4";
        assert!(said[0].contains(told), "{}", said[0]);
    }
    // On the heading still steered there is nothing to say.
    let said = put(&mut sat(&[&READ]), &["A 9.2"]);
    assert!(!said[0].contains("as read then"), "{}", said[0]);
}

#[test]
fn a_bearing_put_right_is_of_its_own_time_and_one_of_another_time_is_read_anew() {
    let turned = sat(&[&READ, &TURN]);
    for (line, expected) in [
        ("A 320 rel", 30.0),
        ("A 320 rel @0343", 30.0),
        ("A r9.0 318rel", 28.0),
        // The same figures: a time put right. Another range with it: homed on, and read again.
        ("A 318 rel @0350", 28.0),
        ("A 7.5 318 rel @0350", 58.0),
        ("A 320 rel @0350", 60.0),
    ] {
        let mut watch = turned.clone();
        let said = put(&mut watch, &[line]);
        assert_bears(&watch, "A", expected);
        let kept = expected < 50.0;
        assert_eq!(said[0].contains(", heading as read then"), kept, "{}", said[0]);
    }
    // From then on it keeps the heading that it was read anew on.
    let mut watch = turned.clone();
    put(&mut watch, &["A 320 rel @0350", "hdg 130", "mark A Gannet Head", "A 9.2"]);
    assert_bears(&watch, "A", 60.0);
}

#[test]
fn a_bearing_that_was_not_off_the_bow_at_first_is_laid_on_the_heading_of_then() {
    let then = ["17.3 318 @0344", "17.3 @0344"];
    let mut watch = sat(&[&READ, &then, &TURN, &["B 318 rel", "C 318 rel"]]);
    assert_bears(&watch, "B", 28.0);
    assert_bears(&watch, "C", 28.0);
    put(&mut watch, &["mark B Gannet Head", "B 318t"]);
    assert_bears(&watch, "B", 318.0);
    // Where none was known then, the first that is.
    let first = ["17.3 318 @0343", "hdg 070", "A 318 rel"];
    let mut watch = sat(&[&READ[..2], &first, &TURN, &["mark A Gannet Head"]]);
    assert_bears(&watch, "A", 28.0);
    put(&mut watch, &["A 320 rel @0350"]);
    assert_bears(&watch, "A", 60.0);
}

#[test]
fn a_heading_that_was_mistyped_is_put_right_by_taking_the_contact_out() {
    let watch = sat(&[&READ, &TURN, &["del A", "A 9.0 318 rel @0343"]]);
    assert_bears(&watch, "A", 58.0);
}

#[test]
fn a_later_sight_is_read_on_the_heading_now() {
    let watch = sat(&[&READ, &TURN, &["again A 9.0 318 rel @0345"]]);
    assert_bears(&watch, "A", 28.0);
    assert_bears(&watch, "A2", 58.0);
}

#[test]
fn sightings_keep_the_heading_that_they_state() {
    let relative = "bearing_deg = 318\n    bearing_kind = \"relative\"";
    let text = TEXT.replace("bearing_deg = 42.5", relative);
    let mut watch = Watch::from_sightings(&Sightings::parse(&text, "t", Path::new("")).unwrap());
    put(&mut watch, &["hdg 100", "unmark A", "A 9.2"]);
    assert_bears(&watch, "A", 28.0);
}

#[test]
fn a_magnetic_heading_is_the_same_whenever_the_contact_was_named() {
    let slip = "dr 38 12.9 N, 21 30.5 W sigma 4 @0340";
    let read = ["trk 074 165 @0340", "hdg 070m", "9.0 318 rel @0343"];
    let (name, turn) = (["mark A Gannet Head"], ["hdg 100m"]);
    let straight = sat(&[&[RIGHT], &read, &name, &turn]);
    let orders: [[&[&str]; 5]; 4] = [
        [&[RIGHT], &read, &turn, &name, &[]],
        [&[slip], &read, &turn, &name, &[RIGHT]],
        [&[slip], &read, &turn, &[RIGHT], &name],
        [&[slip], &read, &name, &[RIGHT], &turn],
    ];
    for lines in orders {
        let watch = sat(&lines);
        assert_eq!(watch.contacts(), straight.contacts(), "{lines:?}");
        assert_eq!(watch.own(), straight.own(), "{lines:?}");
    }
}

#[test]
fn deflections_keep_heading_and_bank_alike() {
    let radar = Radar {
        set: Set::builtin("metric").unwrap(),
        set_name: "metric".to_owned(),
        range_sigma_nm: None,
        bearing_sigma_deg: None,
    };
    let mut watch = Watch::blank(radar, Height::from_feet(2000.0).unwrap());
    put(&mut watch, &READ[..3]);
    put(&mut watch, &["bank 10r", "30.5 d 3/2 @0343"]);
    let read = lobes(&watch);
    put(&mut watch, &["hdg 100", "bank 0"]);
    let said = put(&mut watch, &["mark A Gannet Head", "A @0342"]);
    assert!(said[0].contains(" relative), heading and bank as read then"), "{}", said[0]);
    assert_eq!(lobes(&watch), read);
    // Mistyped, and measured again.
    put(&mut watch, &["A d 2/3"]);
    let right = lobes(&watch);
    assert_eq!((right.heading, right.bank), (read.heading, read.bank));
    assert_ne!(right.bearings, read.bearings);
    put(&mut watch, &["A d 3/2 @0350"]);
    let anew = lobes(&watch);
    assert!((anew.heading.degrees() - 100.0).abs() < 1e-9, "{anew:?}");
    assert!(anew.bank.degrees().abs() < 1e-9, "{anew:?}");
}

#[test]
fn a_log_taken_up_again_and_undo_have_what_it_was_laid_on() {
    let mended = ["hdg 100", "mark A Gannet Head", "A 320 rel", "hdg 130m", "A 322 rel @0350"];
    let named = ["hdg 010", "A 9.4", "unmark A"];
    let (mut watch, mut records) = (blank(), Vec::new());
    let mut states = vec![told(&watch)];
    for line in [&READ[..], &mended, &named].concat() {
        let what = watch.change(&understood(line).unwrap(), wall(), &marks()).unwrap();
        watch.apply(&what).unwrap();
        let number = records.len() as u64 + 1;
        records.push(Record { number, time: wall(), what, typed: None });
        states.push(told(&watch));
    }
    let resumed = resume(&records, &blank());
    assert_eq!(resumed.notices, Vec::<String>::new());
    assert_eq!(told(&resumed.watch.unwrap()), told(&watch));
    for state in states.iter().rev().skip(1) {
        watch.apply(&What::Undo).unwrap();
        assert_eq!(&told(&watch), state);
    }
    for state in states.iter().skip(1) {
        watch.apply(&What::Redo).unwrap();
        assert_eq!(&told(&watch), state);
    }
}
