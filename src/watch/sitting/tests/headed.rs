//! Bearings off the bow after a turn of which only the track was said.

use super::taken_up::live_and_taken_up;
use super::*;

const BEHIND: &str = "CAUTION: heading of before the turn at 03:43:00Z";

/// What is cautioned of headings.
fn cautioned(watch: &Watch) -> Vec<String> {
    let cautions = watch.sightings().unwrap().cautions;
    cautions.into_iter().filter(|caution| caution.contains("heading of ")).collect()
}

#[test]
fn a_turn_without_its_heading_is_said_at_once_and_with_each_bearing_off_the_bow() {
    let mut watch = watch();
    let said = put(&mut watch, &["trk 110 165 @0343", "9.0 318 rel @0345", "8.0 068 @0345"]);
    let expected = "track 110° true, 165 kn made good from 03:43:00Z on; \
                    heading stays 070° true until \"hdg\" says another";
    assert_eq!(said[0], expected);
    let expected = format!(
        "contact B: 9 NM, 318° relative, {BEHIND} (= 028° true: R 318.0, heading T 070.0, T 028.0), at 03:45:00Z"
    );
    assert_eq!(said[1], expected);
    assert!(!said[2].contains("CAUTION"), "{}", said[2]);
    let told = "B is laid on a heading of before the turn at 03:43:00Z: \
                take it out, say the heading of then, and type it again";
    assert_eq!(cautioned(&watch), [told]);
    // As the caution says: B then bears 036° more.
    let said = put(&mut watch, &["del B", "hdg 106", "B 9.0 318 rel @0345"]);
    assert!(said[2].contains("= 064° true") && !said[2].contains("CAUTION"), "{}", said[2]);
    assert!(cautioned(&watch).is_empty());
}

#[test]
fn a_bearing_of_before_the_turn_is_not_laid_on_the_heading_of_after_it_unsaid() {
    let mut watch = watch();
    let said = put(&mut watch, &["trk 110 165 @0343", "7.0 310 rel @0342", "hdg 106"]);
    // Of before the turn on the heading of before it: as it should be.
    assert!(!said[1].contains("CAUTION"), "{}", said[1]);
    let said = put(&mut watch, &["9.0 318 rel @0341", "8.0 318 rel @0344"]);
    assert!(said[0].contains(", CAUTION: heading of after the turn at 03:43:00Z"), "{}", said[0]);
    assert!(!said[1].contains("CAUTION"), "{}", said[1]);
    assert_eq!(cautioned(&watch).len(), 1);
    // A part or a name turns nothing, and leaves it where it was.
    put(&mut watch, &["mark C Tern Rock"]);
    assert_eq!(cautioned(&watch).len(), 1);
    put(&mut watch, &["del C"]);
    assert!(cautioned(&watch).is_empty());
    put(&mut watch, &["undo"]);
    assert_eq!(cautioned(&watch).len(), 1);
}

#[test]
fn what_is_no_turn_and_a_heading_said_first_are_not_asked_about() {
    for lines in [
        // Faster, and a degree or two of drift.
        ["trk 077 180 @0343", "9.0 318 rel @0345"],
        // A track put right for the whole run.
        ["trk 110 165 @0340", "9.0 318 rel @0345"],
    ] {
        let said = put(&mut watch(), &lines).concat();
        assert!(!said.contains("CAUTION") && !said.contains("heading stays"), "{said}");
    }
    // Slips of the turn put right: no turn, and another one.
    let said = put(&mut watch(), &["trk 110 165 @0343", "trk 076 165 @0343", "9.0 318 rel @0345"]);
    assert!(!said[1].contains("stays") && !said[2].contains("CAUTION"), "{said:?}");
    let said = put(&mut watch(), &["trk 110 165 @0343", "trk 100 165 @0343", "9.0 318 rel @0345"]);
    assert!(said[1].contains("stays") && said[2].contains(BEHIND), "{said:?}");
    let mut watch = watch();
    let said = put(&mut watch, &["hdg 106", "trk 110 165 @0343", "9.0 318 rel @0345"]).concat();
    assert!(!said.contains("CAUTION") && !said.contains("heading stays"), "{said}");
    let said = put(&mut watch, &["9.0 318 rel @0342"]).concat();
    assert!(said.contains("heading of after the turn at 03:43:00Z"), "{said}");
}

#[test]
fn of_two_turns_the_first_counts_until_the_heading_is_said() {
    let mut watch = watch();
    put(&mut watch, &["trk 110 165 @0343", "trk 140 165 @0346"]);
    let said = put(&mut watch, &["9.0 318 rel @0344", "9.1 317 rel @0347"]);
    assert!(said.iter().all(|said| said.contains(BEHIND)), "{said:?}");
    // It may be said of the last: what was read between is of neither.
    let said = put(&mut watch, &["hdg 137", "9.2 317 rel @0345", "9.2 317 rel @0347"]);
    assert!(said[1].contains("heading of after the turn at 03:46:00Z"), "{}", said[1]);
    assert!(!said[2].contains("CAUTION"), "{}", said[2]);
    // Across north the short way counts.
    let mut north = super::watch();
    let said = put(&mut north, &["trk 358 165 @0341", "hdg 356", "trk 002 165 @0343"]);
    assert!(!said[2].contains("heading stays"), "{}", said[2]);
}

#[test]
fn a_turn_is_taken_back_with_its_track_and_taken_up_again_from_the_log() {
    let lines = ["trk 110 165 @0343", "9.0 318 rel @0345"];
    let mut watch = watch();
    put(&mut watch, &lines);
    put(&mut watch, &["undo", "undo", "9.0 318 rel @0345"]);
    assert!(cautioned(&watch).is_empty());
    let (live, again) = live_and_taken_up(TEXT, &lines);
    assert_eq!(cautioned(&live).len(), 1);
    assert_eq!(cautioned(&again), cautioned(&live));
}
