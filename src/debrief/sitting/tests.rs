use super::super::history::history;
use super::*;
use crate::watch::log::ContactEntry;
use crate::watch::start_record;

/// Bearings read by a magnetic compass and off the bow, from a place that is put right after them.
fn sat(first_lat_deg: f64) -> Sitting {
    let time = "2026-03-09T03:40:00Z".parse().unwrap();
    let reckoning = |lat_deg| What::Reckoning {
        time,
        lat_deg,
        lon_deg: -21.5,
        covariance_nm2: [[1.0, 0.0], [0.0, 1.0]],
    };
    let contact = |label: &str, kind: &str| {
        What::Contact(ContactEntry {
            label: label.to_owned(),
            range_nm: Some(17.0),
            bearing_deg: Some(42.0),
            bearing_kind: Some(kind.to_owned()),
            ..ContactEntry::default()
        })
    };
    let all = [
        What::Blank { set: Set::builtin("patrol").unwrap().to_toml(), height_ft: 2000.0 },
        reckoning(first_lat_deg),
        What::Heading { degrees: 70.0, kind: "magnetic".to_owned() },
        contact("A", "magnetic"),
        contact("B", "relative"),
        reckoning(-38.2),
    ];
    let record = |(at, what)| Record { number: at as u64 + 1, time, what, typed: None };
    let records: Vec<Record> = all.into_iter().enumerate().map(record).collect();
    played(&records).unwrap()
}

#[test]
fn bearings_and_heading_are_by_the_place_that_was_put_right() {
    let (slipped, right) = (sat(38.2), sat(-38.2));
    let contacts = |sitting: &Sitting| -> Vec<Contact> {
        sitting.contacts.iter().map(|seen| seen.contact.clone()).collect()
    };
    assert_eq!(contacts(&slipped).len(), 2);
    assert_eq!(contacts(&slipped), contacts(&right));
    let headings = |sitting: &Sitting| -> Vec<Option<Bearing<True>>> {
        sitting.aboard.iter().map(|aboard| aboard.heading).collect()
    };
    assert_eq!(headings(&slipped), headings(&right));
    assert_eq!(headings(&slipped).last(), Some(&right.watch.own().heading));
    // Turned again is not corrected.
    assert!(slipped.contacts.iter().all(|seen| seen.corrections == 0));
}

/// The heights aboard by minute, and (as −1) that of the contact, after an hour at 6,000 ft: a contact at 61 minutes from what was
/// taken for 2,000 ft, and the height put right to 1,500.
fn descended(all: bool) -> Vec<(i64, f64)> {
    let begun: Timestamp = "2026-03-09T03:40:00Z".parse().unwrap();
    let after = |minutes: i64| begun + jiff::SignedDuration::from_mins(minutes);
    let contact = |label: &str, minutes: i64| {
        What::Contact(ContactEntry {
            label: label.to_owned(),
            time: Some(after(minutes)),
            range_nm: Some(17.0),
            ..ContactEntry::default()
        })
    };
    let reckoning = What::Reckoning {
        time: begun,
        lat_deg: -38.2,
        lon_deg: -21.5,
        covariance_nm2: [[1.0, 0.0], [0.0, 1.0]],
    };
    let track = What::Track { track_deg: 74.0, speed_kn: 165.0, time: None };
    let height = |height_ft: f64, all: bool| What::Height { height_ft, all };
    let all = [
        (0, What::Blank { set: Set::builtin("patrol").unwrap().to_toml(), height_ft: 6000.0 }),
        (0, reckoning),
        (0, track),
        (60, height(2000.0, false)),
        (61, contact("A", 61)),
        (62, height(1500.0, all)),
    ];
    let record = |(at, (minutes, what)): (usize, (i64, What))| Record {
        number: at as u64 + 1,
        time: after(minutes),
        what,
        typed: None,
    };
    let records: Vec<Record> = all.into_iter().enumerate().map(record).collect();
    let sitting = played(&records).unwrap();
    let at = |minutes: i64| sitting.aboard_at(after(minutes)).unwrap().height.feet().round();
    let contact = sitting.contacts[0].contact.own_height.feet().round();
    [30, 61, 63].map(|minutes| (minutes, at(minutes))).into_iter().chain([(-1, contact)]).collect()
}

#[test]
fn a_height_put_right_is_that_since_the_first_contact_that_it_was_put_right_for() {
    let from_now_on = [(30, 6000.0), (61, 2000.0), (63, 1500.0), (-1, 2000.0)];
    assert_eq!(descended(false), from_now_on);
    assert_eq!(descended(true), [(30, 6000.0), (61, 1500.0), (63, 1500.0), (-1, 1500.0)]);
}

#[test]
fn a_sitting_on_an_own_set_is_played_by_its_figures() {
    let own =
        Set::builtin_text("metric").unwrap().replace("squint_deg = 22.0", "squint_deg = 27.0");
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("own.toml"), own).unwrap();
    let trace = include_str!("../../../charts-sample/trace.toml");
    let text = trace.replace("set = \"metric\"", "set = \"own.toml\"");
    let sightings = Sightings::parse(&text, "trace", folder.path()).unwrap();
    drop(folder);
    let time = sightings.reckoning.time;
    let what = start_record("trace", &text, &sightings);
    let told = history(&[Record { number: 1, time, what, typed: None }]);
    assert_eq!(told.notices, Vec::<String>::new());
    let sitting = played(&told.standing).unwrap();
    let contacts: Vec<Contact> = sitting.contacts.into_iter().map(|seen| seen.contact).collect();
    assert_eq!(contacts, sightings.contacts);
    assert_eq!(sitting.watch.radar().set, sightings.radar.set);
}
