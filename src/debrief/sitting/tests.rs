use super::*;
use crate::watch::log::ContactEntry;

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
