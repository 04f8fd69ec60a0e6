//! From which height each contact counts once own height is another.

use super::taken_up::live_and_taken_up;
use super::*;

#[track_caller]
fn put(watch: &mut Watch, line: &str) -> String {
    let said = enter(watch, &[line]).remove(0);
    assert!(!said.starts_with('!'), "{line}: {said}");
    said
}

/// The height that each contact counts from, in whole feet.
fn heights(watch: &Watch) -> Vec<(String, f64)> {
    let contacts = watch.sightings().unwrap().contacts;
    contacts.into_iter().map(|c| (c.label, c.own_height.feet().round())).collect()
}

fn from(expected: &[(&str, f64)]) -> Vec<(String, f64)> {
    expected.iter().map(|(label, feet)| ((*label).to_owned(), *feet)).collect()
}

#[test]
fn a_contact_counts_from_the_height_it_was_read_from() {
    let mut watch = watch();
    let said = put(&mut watch, "h 1500");
    assert_eq!(
        said,
        "own height 1500 ft; A stays at 2000 ft (\"h 1500 all\" puts it right for all)"
    );
    put(&mut watch, "9.0 060 @0342");
    assert_eq!(heights(&watch), from(&[("A", 2_000.0), ("B", 1_500.0)]));
    let said = put(&mut watch, "h 500");
    assert!(said.contains("; A, B stay at the heights they were read from ("), "{said}");
    // A name or a range put right leaves it where it was; measured again it is read from here.
    let said = put(&mut watch, "A 17.2");
    assert!(said.ends_with(", at 03:40:00Z, from 2000 ft as read then"), "{said}");
    put(&mut watch, "mark B Tern Rock");
    assert_eq!(heights(&watch), from(&[("A", 2_000.0), ("B", 1_500.0)]));
    put(&mut watch, "B 8.1 061 @0345");
    assert_eq!(heights(&watch), from(&[("A", 2_000.0), ("B", 500.0)]));
}

#[test]
fn a_height_put_right_is_that_of_all_and_is_taken_back_with_all() {
    let mut watch = watch();
    for line in ["h 1500", "9.0 060 @0342"] {
        put(&mut watch, line);
    }
    let before = watch.sightings().unwrap().contacts;
    assert_eq!(put(&mut watch, "h 3000 all"), "own height 3000 ft, for all that was measured too");
    assert_eq!(heights(&watch), from(&[("A", 3_000.0), ("B", 3_000.0)]));
    watch.apply(&What::Undo).unwrap();
    assert_eq!(watch.sightings().unwrap().contacts, before);
    assert!((watch.own().height.feet() - 1_500.0).abs() < 1e-9);
    watch.apply(&What::Redo).unwrap();
    assert_eq!(heights(&watch), from(&[("A", 3_000.0), ("B", 3_000.0)]));
    // Nothing is left to tell of.
    assert_eq!(put(&mut watch, "h 3000"), "own height 3000 ft");
}

/// 60,000 ft is 9.87 NM: nothing at 9.0 NM can have been read from there.
#[test]
fn a_height_that_a_contact_cannot_have_been_read_from_is_refused_for_all_by_its_name() {
    let mut watch = watch();
    put(&mut watch, "9.0 060 @0342");
    let before = heights(&watch);
    let said = enter(&mut watch, &["h 60000 all"]).remove(0);
    let told = "! B: range 9 NM is less than own height of 60000 ft (9.87 NM)";
    assert!(said.starts_with(told), "{said}");
    assert_eq!(heights(&watch), before);
    put(&mut watch, "h 60000");
    assert_eq!(heights(&watch), before);
}

#[test]
fn taken_up_from_its_log_each_contact_counts_from_the_same_height() {
    let lines =
        ["h 1500", "9.0 060 @0342", "h 500", "8.0 070 @0343", "A 17.2", "h 700 all", "h 600"];
    for count in 1..=lines.len() {
        let (live, taken_up) = live_and_taken_up(TEXT, &lines[..count]);
        assert_eq!(heights(&live), heights(&taken_up), "{:?}", &lines[..count]);
        assert_eq!(live.sightings().unwrap().contacts, taken_up.sightings().unwrap().contacts);
    }
}

#[test]
fn a_file_says_from_which_height_a_contact_was_read() {
    let text =
        TEXT.replace("range_sigma_nm = 0.3", "range_sigma_nm = 0.3\n    own_height_ft = 9000");
    let (live, taken_up) = live_and_taken_up(&text, &["9.0 060 @0342", "A 17.2"]);
    for watch in [live, taken_up] {
        assert_eq!(heights(&watch), from(&[("A", 9_000.0), ("B", 2_000.0)]));
    }
}

#[test]
fn what_was_traced_goes_with_all_that_was_measured() {
    let traced = "[[outline]]\n    points = [[41.0, 7.9], [42.0, 7.4], [43.0, 7.3]]\n";
    let mut watch = Watch::from_sightings(
        &Sightings::parse(&format!("{TEXT}\n{traced}"), "t", Path::new("")).unwrap(),
    );
    let feet = |watch: &Watch| watch.outlines()[0].own_height.feet().round();
    put(&mut watch, "h 1500");
    assert!((feet(&watch) - 2_000.0).abs() < 0.1);
    put(&mut watch, "h 1500 all");
    assert!((feet(&watch) - 1_500.0).abs() < 0.1);
    watch.apply(&What::Undo).unwrap();
    assert!((feet(&watch) - 2_000.0).abs() < 0.1);
    // 50,000 ft are 8.23 NM.
    let said = enter(&mut watch, &["h 50000 all"]).remove(0);
    assert!(said.contains("range 7.3 NM is less than own height of 50000 ft"), "{said}");
}

/// Feet go through metres: the same height typed and out of a file is one.
#[test]
fn a_height_typed_as_it_was_leaves_nothing_at_another() {
    for feet in [2_000.0, 1_234.0, 70.0, 33_333.0] {
        let text = TEXT.replace("height_ft = 2000", &format!("height_ft = {feet}"));
        let mut watch =
            Watch::from_sightings(&Sightings::parse(&text, "t", Path::new("")).unwrap());
        let said = put(&mut watch, &format!("h {feet}"));
        assert_eq!(said, format!("own height {feet:.0} ft"));
    }
}
