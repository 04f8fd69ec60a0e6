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

#[test]
fn a_turn_at_the_time_that_a_fix_or_a_new_reckoning_restarts_it_is_one() {
    let mut watch = watch();
    put(&mut watch, &["tas 165"]);
    assert!(watch.flow().is_some());
    // The clock is held at the fix, and so is the reckoning's own time.
    watch.apply(&accept("2031-03-09T03:40:00Z", -38.1, 0.3)).unwrap();
    let said = put(&mut watch, &["trk 150 165", "9.0 318 rel @0345"]);
    assert!(said[0].contains("; heading stays 070° true"), "{}", said[0]);
    assert!(said[1].contains("CAUTION: heading of before the turn at 03:40:00Z"), "{}", said[1]);
    assert!(watch.flow().is_none());
    put(&mut watch, &["hdg 146"]);
    assert!(watch.flow().is_some());
    let lines = ["tas 165", "dr 38 10 S, 21 20 W @0345", "trk 110 165 @0345", "9.0 318 rel @0346"];
    let mut anew = super::watch();
    let said = put(&mut anew, &lines);
    assert!(said[3].contains("CAUTION: heading of before the turn at 03:45:00Z"), "{}", said[3]);
    assert!(anew.flow().is_none());
    // The track that it had, said again, is no other.
    let mut same = super::watch();
    put(&mut same, &["tas 165", "dr 38 10 S, 21 20 W @0345", "trk 074 165 @0345"]);
    assert!(same.flow().is_some());
}

#[test]
fn a_drift_taken_into_the_track_is_no_turn() {
    let mut watch = watch();
    // 9.6 NM to the east in half an hour: the drift turns the track by 009°.
    put(&mut watch, &["dr -38.0,-21.2 sigma 0.3 @0340", "trk 000 120 @0340", "hdg 003"]);
    watch.apply(&accept("2031-03-09T04:10:00Z", -37.0, 0.4)).unwrap();
    let said = put(&mut watch, &["drift", "9.0 318 rel @0412", "trk 012 120 @0410"]).concat();
    assert!(watch.reckoning().unwrap().track.unwrap().degrees() > 11.0, "{said}");
    assert!(!said.contains("CAUTION") && !said.contains("heading stays"), "{said}");
    // From the track with the drift in it.
    let said = put(&mut watch, &["trk 002 120 @0410", "trk 013 120 @0410"]);
    assert!(said[0].contains("; heading stays 003° true"), "{}", said[0]);
    assert!(!said[1].contains("heading stays"), "{}", said[1]);
}

#[test]
fn a_turn_put_right_is_judged_anew() {
    let slip = ["trk 077 165 @0343", "trk 177 165 @0343", "9.0 318 rel @0345"];
    let said = put(&mut watch(), &slip);
    assert!(!said[0].contains("heading stays"), "{}", said[0]);
    assert!(said[1].contains("heading stays") && said[2].contains(BEHIND), "{said:?}");
    // A heading said first does not go with the slip, and does with what was meant.
    let mut first = watch();
    let said = put(&mut first, &["hdg 106", "trk 010 165 @0343", "9.0 318 rel @0345"]);
    assert!(said[1].contains("heading stays 106°") && said[2].contains(BEHIND), "{said:?}");
    let said = put(&mut first, &["trk 110 165 @0343", "9.0 318 rel @0346"]).concat();
    assert!(!said.contains("CAUTION") && !said.contains("heading stays"), "{said}");
    assert!(cautioned(&first).is_empty());
    // Nor does one said for the slip; a degree or two are none.
    let turned = ["trk 110 165 @0343", "hdg 106"];
    for (track, is_behind) in [("trk 150 165 @0343", true), ("trk 108 165 @0343", false)] {
        let mut watch = watch();
        put(&mut watch, &turned);
        let said = put(&mut watch, &[track, "9.0 318 rel @0345"]);
        assert_eq!(said[0].contains("heading stays 106°"), is_behind, "{}", said[0]);
        assert_eq!(said[1].contains(BEHIND), is_behind, "{}", said[1]);
    }
    // Slower, the same heading said again, and the turn for the same time: it held up to there.
    let mut slower = watch();
    put(&mut slower, &["trk 074 150 @0343", "hdg 070", "trk 110 150 @0343"]);
    let said = put(&mut slower, &["9.0 318 rel @0341", "9.0 318 rel @0345"]);
    assert!(!said[0].contains("CAUTION") && said[1].contains(BEHIND), "{said:?}");
}

#[test]
fn the_wind_is_told_after_track_and_heading_in_either_order() {
    let after = |lines: &[&str]| {
        let mut watch = watch();
        put(&mut watch, lines);
        watch.flow()
    };
    let straight = after(&["tas 165", "trk 110 165 @0343", "hdg 106"]);
    assert!(straight.is_some());
    assert_eq!(after(&["tas 165", "hdg 106", "trk 110 165 @0343"]), straight);
    assert_eq!(after(&["hdg 106", "trk 110 165 @0343", "tas 165"]), straight);
    // In between there is none, unless the heading or the track is said once more.
    assert!(after(&["tas 165", "hdg 073"]).is_some());
    assert!(after(&["tas 165", "hdg 106"]).is_none());
    assert!(after(&["tas 165", "hdg 106", "undo"]).is_some());
    assert!(after(&["tas 165", "hdg 106", "hdg 106"]).is_some());
    assert!(after(&["tas 165", "hdg 106", "trk 074 165 @0342"]).is_some());
    assert!(after(&["tas 165", "hdg 106", "trk 010 165 @0343"]).is_none());
}

#[test]
fn a_track_names_the_contacts_that_it_leaves_on_the_other_side() {
    let mut watch = watch();
    let read = ["9.0 318 rel @0345", "8.0 068 @0346", "7.0 310 rel @0342", "7.5 300 rel @0344"];
    put(&mut watch, &read);
    let said = put(&mut watch, &["trk 110 165 @0343"]);
    let expected = "track 110° true, 165 kn made good from 03:43:00Z on; heading stays 070° true \
                    until \"hdg\" says another; B, E are laid on the heading of before it";
    assert_eq!(said[0], expected);
    assert_eq!(cautioned(&watch).len(), 2);
    put(&mut watch, &["undo"]);
    assert!(cautioned(&watch).is_empty());
    put(&mut watch, &["redo", "del B"]);
    assert_eq!(cautioned(&watch).len(), 1);
    let mut first = super::watch();
    let said = put(&mut first, &["hdg 106", "9.0 318 rel @0341", "trk 110 165 @0343"]);
    let expected = "track 110° true, 165 kn made good from 03:43:00Z on; \
                    B is laid on the heading of after it";
    assert_eq!(said[2], expected);
}

#[test]
fn cautions_are_the_same_in_whatever_order_turns_and_contacts_were_entered() {
    let contacts = ["B 9.0 318 rel @0341", "C 8.0 310 rel @0344", "D 8.5 300 rel @0351"];
    let turns = ["trk 110 165 @0343", "trk 150 165 @0350"];
    let [first, second] = turns;
    let on_old = [&contacts[..], &turns].concat();
    let between = ["trk 110 165 @0343", contacts[2], contacts[0], second, contacts[1]];
    let after = [&turns[..], &contacts].concat();
    let cautions = |lines: &[&str]| {
        let mut watch = watch();
        put(&mut watch, lines);
        let mut cautions = cautioned(&watch);
        cautions.sort();
        cautions
    };
    assert_eq!(cautions(&on_old).len(), 2);
    assert_eq!(cautions(&between), cautions(&on_old));
    assert_eq!(cautions(&after), cautions(&on_old));
    // On the heading of between the turns: both ends count.
    let mut watch = watch();
    put(&mut watch, &[first, "hdg 106", second]);
    let said = put(&mut watch, &contacts);
    assert!(said[0].contains(", CAUTION: heading of after the turn at 03:43:00Z"), "{}", said[0]);
    assert!(!said[1].contains("CAUTION"), "{}", said[1]);
    assert!(said[2].contains(", CAUTION: heading of before the turn at 03:50:00Z"), "{}", said[2]);
    let between = [first, "hdg 106", contacts[0], contacts[1], contacts[2], second];
    assert_eq!(cautions(&between), cautioned(&watch));
}

#[test]
fn the_wind_makes_a_heading_neither_that_of_after_a_turn_nor_another() {
    // Nearer the new track than the old, and yet the one of before.
    let mut watch = watch();
    let said = put(&mut watch, &["9.0 318 rel @0341", "trk 068 165 @0343"]);
    assert!(said[1].contains("; heading stays 070° true"), "{}", said[1]);
    assert!(cautioned(&watch).is_empty());
    // Nearer the old track than the new, and yet the one of after: it turned as the track did.
    let text = TEXT.replace("heading_deg = 70.0", "heading_deg = 60.0");
    let lines = ["hdg 070", "trk 084 165 @0343", "9.0 318 rel @0345"];
    let (live, again) = live_and_taken_up(&text, &lines);
    assert!(cautioned(&live).is_empty() && live.is_steady());
    assert_eq!(again.steered, live.steered);
}

#[test]
fn turns_and_headings_are_taken_back_and_put_back_whole() {
    let lines = [
        "hdg 106",
        "trk 010 165 @0343",
        "9.0 318 rel @0345",
        "trk 110 165 @0343",
        "hdg 112",
        "trk 150 165 @0350",
    ];
    let mut watch = watch();
    let mut states = vec![told(&watch)];
    for line in lines {
        put(&mut watch, &[line]);
        states.push(told(&watch));
    }
    let (live, again) = live_and_taken_up(TEXT, &lines);
    assert_eq!(live.steered, watch.steered);
    assert_eq!(
        (again.steered.clone(), cautioned(&again)),
        (live.steered.clone(), cautioned(&live))
    );
    for state in states.iter().rev().skip(1) {
        watch.apply(&What::Undo).unwrap();
        assert_eq!(&told(&watch), state);
    }
    for state in states.iter().skip(1) {
        watch.apply(&What::Redo).unwrap();
        assert_eq!(&told(&watch), state);
    }
}
