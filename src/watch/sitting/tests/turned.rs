//! Bearings that are turned again when it becomes known where they were read.

use super::taken_up::live_and_taken_up;
use super::*;
use crate::contact::Contact;

const RIGHT: &str = "dr 38 12.9 S, 21 30.5 W sigma 4 @0340";

/// A wrong hemisphere, north or east, and ten degrees off.
const SLIPS: [&str; 3] = [
    "dr 38 12.9 N, 21 30.5 W sigma 4 @0340",
    "dr 38 12.9 S, 21 30.5 E sigma 4 @0340",
    "dr 48 12.9 S, 21 30.5 W sigma 4 @0340",
];

/// B, C and D, the last off the bow of a magnetic heading, go by the variation.
const READINGS: [&str; 9] = [
    "trk 074 165 @0340",
    "17.3 042 @0341",
    "hdg 070m",
    "18.1 042m @0340",
    "16.0 060c @0342",
    "9.0 318 rel @0343",
    "17.3 042g @0344",
    "hdg 052",
    "9.5 320 rel @0345",
];

/// A blank watch with these lines entered, and what was said of the last.
#[track_caller]
fn sat(lines: &[&[&str]]) -> (Watch, String) {
    let mut watch = blank();
    let said = put(&mut watch, &lines.concat());
    let last = said.last().unwrap().clone();
    (watch, last)
}

fn contacts(watch: &Watch) -> Vec<Contact> {
    watch.contacts().iter().map(|held| held.contact.clone()).collect()
}

/// Bearings by label, degrees.
fn bearing(watch: &Watch, label: &str) -> f64 {
    let at = watch.find(label).unwrap();
    watch.contacts()[at].contact.bearing.unwrap().degrees()
}

/// All that a fix rests on.
#[track_caller]
fn assert_same(one: &Watch, other: &Watch) {
    // Which heading was said in place of which is remembered as it was then understood.
    assert_eq!(contacts(one), contacts(other));
    assert_eq!(one.outlines(), other.outlines());
    assert_eq!(one.own(), other.own());
    assert_eq!(one.reckoning(), other.reckoning());
    let (one, other) = (one.sightings().unwrap(), other.sightings().unwrap());
    assert_eq!(one.contacts, other.contacts);
    assert_eq!(one.bearing_bias_sigma(), other.bearing_bias_sigma());
    assert_eq!(one.cautions, other.cautions);
}

#[test]
fn a_slip_put_right_is_as_if_it_had_never_been() {
    let (right, _) = sat(&[&[RIGHT], &READINGS]);
    for slip in SLIPS {
        let (slipped, _) = sat(&[&[slip], &READINGS]);
        for label in ["B", "C", "D"] {
            let off = (bearing(&slipped, label) - bearing(&right, label)).abs();
            assert!(off > 0.5, "{slip}: {label} by {off}");
        }
        let (mended, _) = sat(&[&[slip], &READINGS, &[RIGHT]]);
        assert_same(&mended, &right);
    }
}

#[test]
fn what_goes_by_no_variation_stands_through_any_reckoning() {
    let (right, _) = sat(&[&[RIGHT], &READINGS]);
    for slip in SLIPS {
        let (slipped, _) = sat(&[&[slip], &READINGS]);
        // True, by gyro, and off the bow of a true heading.
        for label in ["A", "E", "F"] {
            let at = right.find(label).unwrap();
            assert_eq!(contacts(&slipped)[at], contacts(&right)[at], "{label}");
        }
    }
    let all_true = ["17.3 042 @0340", "17.3 042g @0340", "hdg 052", "9.5 320 rel @0340"];
    let (before, _) = sat(&[&[SLIPS[0]], &all_true]);
    let (after, said) = sat(&[&[SLIPS[0]], &all_true, &[RIGHT]]);
    assert_eq!(after.contacts(), before.contacts());
    assert!(!said.contains("turned again"), "{said}");
}

#[test]
fn what_is_turned_far_is_said_with_both_variations() {
    let one = ["18.1 042m @0340"];
    let (slipped, _) = sat(&[&[SLIPS[0]], &one]);
    let (mut mended, said) = sat(&[&[SLIPS[0]], &one, &[RIGHT]]);
    let variation = |watch: &Watch| watch.own().variation.unwrap().to_string();
    let (was, now) = (variation(&slipped), variation(&mended));
    assert!(
        said.ends_with(&format!(" NM; 1 bearing turned again: variation {now}, was {was}")),
        "{said}"
    );
    let said = put(&mut mended, &["undo", "redo"]);
    assert!(said[0].starts_with("taken back: reckoning "), "{}", said[0]);
    let back = format!("; 1 bearing turned again: variation {was}, was {now}");
    assert!(said[0].ends_with(&back), "{}", said[0]);
    assert!(said[1].ends_with(&format!("variation {now}, was {was}")), "{}", said[1]);
    // Of several the count, and before what is of before it.
    let (_, said) = sat(&[&[SLIPS[0]], &READINGS, &[&RIGHT.replace("0340", "0346")]]);
    assert!(said.contains(" NM; 3 bearings turned again: variation "), "{said}");
    assert!(said.ends_with("; 6 contacts are of before it, and still count"), "{said}");
    // A few miles turn nothing that anybody could see.
    let (_, said) = sat(&[&[RIGHT], &READINGS, &["dr 38 15.0 S, 21 25.0 W sigma 4 @0340"]]);
    assert!(!said.contains("turned again"), "{said}");
}

#[test]
fn undo_brings_the_old_bearings_back_and_redo_the_new() {
    let (mut watch, _) = sat(&[&[SLIPS[1]], &READINGS]);
    let slipped = told(&watch);
    put(&mut watch, &[RIGHT]);
    let mended = told(&watch);
    assert_ne!(slipped, mended);
    watch.apply(&What::Undo).unwrap();
    assert_eq!(told(&watch), slipped);
    watch.apply(&What::Redo).unwrap();
    assert_eq!(told(&watch), mended);
    // Taken out and put back, corrected, and done with, over two reckonings.
    let mut states = vec![told(&watch)];
    for line in ["del C", "B 18.2", SLIPS[2], "15.0 050m @0347", RIGHT] {
        put(&mut watch, &[line]);
        states.push(told(&watch));
    }
    watch.apply(&accept("2026-06-01T03:43:00Z", -38.1, 0.3)).unwrap();
    states.push(told(&watch));
    put(&mut watch, &[SLIPS[0]]);
    for state in states.iter().rev() {
        watch.apply(&What::Undo).unwrap();
        assert_eq!(&told(&watch), state);
    }
}

#[test]
fn a_fix_taken_back_says_what_turns_with_it() {
    let (mut watch, _) = sat(&[&[SLIPS[1]], &READINGS, &["15.0 050m @0347"]]);
    let fix = accept("2026-06-01T03:46:00Z", -38.1, 0.3);
    let accepted = watch.say(&fix);
    let (_, turned) = accepted.split_once("; 1 bearing turned again: variation ").unwrap();
    let (now, was) = turned.split_once(", was ").unwrap();
    watch.apply(&fix).unwrap();
    let said = watch.say(&What::Undo);
    let back = format!("; 1 bearing turned again: variation {was}, was {now}");
    assert!(said.starts_with("taken back: ") && said.ends_with(&back), "{said}");
}

#[test]
fn a_variation_that_was_stated_turns_nothing_again() {
    let text = TEXT
        .replace("[own]", "[own]\n    variation = \"18.2 W\"")
        .replace("bearing_deg = 42.5", "bearing_deg = 42.5\n    bearing_kind = \"magnetic\"");
    let mut watch = Watch::from_sightings(&Sightings::parse(&text, "t", Path::new("")).unwrap());
    put(&mut watch, &["16.0 060c @0342", "hdg 070m", "9.0 318 rel @0343"]);
    let before = contacts(&watch);
    for slip in SLIPS {
        let said = put(&mut watch, &[slip]);
        assert!(!said[0].contains("turned again"), "{}", said[0]);
        assert_eq!(contacts(&watch), before);
    }
    assert!((bearing(&watch, "A") - (42.5 - 18.2)).abs() < 1e-9);
}

#[test]
fn a_new_place_reached_hours_later_leaves_what_was_read_on_the_way() {
    let mut watch = blank();
    let lines = ["dr 50 00.0 S, 103 00.0 W @0340", "trk 090 300 @0340", "18.1 042m @0340"];
    put(&mut watch, &lines);
    let (read, east) = (bearing(&watch, "A"), watch.own().variation.unwrap().east());
    // Nine hundred miles to the east, where the variation is another.
    let there = place(&watch, "2026-06-01T06:40:00Z");
    let reckoning = What::Reckoning {
        time: "2026-06-01T06:40:00Z".parse().unwrap(),
        lat_deg: there.latitude(),
        lon_deg: there.longitude(),
        covariance_nm2: [[4.0, 0.0], [0.0, 4.0]],
    };
    assert!(!watch.say(&reckoning).contains("turned again"), "{}", watch.say(&reckoning));
    watch.apply(&reckoning).unwrap();
    let turn = watch.own().variation.unwrap().east() - east;
    assert!(turn.degrees().abs() > 1.0, "{turn:?}");
    assert!((bearing(&watch, "A") - read).abs() < 0.01);
    // One read there goes by the variation there, whether the reckoning was entered anew or not.
    put(&mut watch, &["18.1 042m @0640"]);
    let off = bearing(&watch, "B") - bearing(&watch, "A");
    assert!((off - turn.degrees()).abs() < 0.01, "{off} for {turn:?}");
    let mut carried = blank();
    put(&mut carried, &lines);
    put(&mut carried, &["18.1 042m @0640"]);
    assert!((bearing(&carried, "B") - bearing(&watch, "B")).abs() < 0.01);
}

#[test]
fn a_reckoning_too_far_off_in_time_knows_nothing_of_an_old_place() {
    let (mut watch, _) = sat(&[&[RIGHT], &READINGS]);
    let before = contacts(&watch);
    let late = |lat_deg| What::Reckoning {
        time: "2026-06-04T03:40:00Z".parse().unwrap(),
        lat_deg,
        lon_deg: -21.5,
        covariance_nm2: [[16.0, 0.0], [0.0, 16.0]],
    };
    for lat_deg in [38.0, -38.0] {
        assert!(!watch.say(&late(lat_deg)).contains("turned again"));
        watch.apply(&late(lat_deg)).unwrap();
        assert_eq!(contacts(&watch), before);
    }
}

#[test]
fn a_track_that_was_wrong_for_the_whole_run_is_put_right_too() {
    let readings = ["18.1 042m @0840", "16.0 060c @0842"];
    let track = |track: &str| format!("trk {track} 400 @0340");
    let (right, wrong) = (track("180"), track("000"));
    let (straight, _) = sat(&[&[RIGHT, &right], &readings]);
    let (slipped, _) = sat(&[&[RIGHT, &wrong], &readings]);
    assert!((bearing(&slipped, "A") - bearing(&straight, "A")).abs() > 0.5);
    let (mended, said) = sat(&[&[RIGHT, &wrong], &readings, &[&right]]);
    assert!(said.contains("; 2 bearings turned again: variation "), "{said}");
    assert_same(&mended, &straight);
}

/// Sightings read by magnetic and off the bow of a magnetic heading, with an outline.
fn by_magnetic() -> String {
    let kind = "bearing_kind = \"magnetic\"";
    let text = TEXT
        .replace("heading_deg = 70.0", "heading_deg = 70.0\n    heading_kind = \"magnetic\"")
        .replace("bearing_deg = 42.5", &format!("bearing_deg = 42.5\n    {kind}"));
    format!(
        "{text}\n[[contact]]\nrange_nm = 9.0\nbearing_deg = 318\nbearing_kind = \"relative\"\n\
         [[outline]]\n{kind}\npoints = [[41, 17.9], [42, 17.4], [43, 17.3]]\n"
    )
}

#[test]
fn sightings_of_a_wrong_place_are_put_right_too() {
    let read = |text: &str| Sightings::parse(text, "t", Path::new("")).unwrap();
    let right = read(&by_magnetic());
    let wrong = read(&by_magnetic().replace("12.9 S", "12.9 N"));
    assert_ne!(wrong.outlines, right.outlines);
    let mut watch = Watch::from_sightings(&wrong);
    let said = put(&mut watch, &["dr 38 12.9 S, 21 30.5 W"]);
    // Two contacts and the outline.
    assert!(said[0].contains("; 3 bearings turned again: variation "), "{}", said[0]);
    assert_eq!(contacts(&watch), right.contacts);
    assert_eq!(watch.outlines(), right.outlines);
    assert_eq!(watch.own().heading, right.own.heading);
    let said = put(&mut watch, &["undo"]);
    assert!(said[0].contains("; 3 bearings turned again: variation "), "{}", said[0]);
    assert_eq!(contacts(&watch), wrong.contacts);
    assert_eq!(watch.outlines(), wrong.outlines);
    assert_eq!(watch.own(), &wrong.own);
}

#[test]
fn a_log_with_two_reckonings_is_taken_up_as_it_was_left() {
    let text = by_magnetic();
    let slip = [SLIPS[0].trim_end_matches(" @0340")];
    let right = [RIGHT.trim_end_matches(" @0340")];
    let ends: [&[&str]; 4] = [&[], &["undo"], &["undo", "undo"], &["undo", "redo"]];
    for end in ends {
        let lines = [&slip[..], &READINGS[2..], &right[..], end].concat();
        let (watch, resumed) = live_and_taken_up(&text, &lines);
        assert_same(&resumed, &watch);
    }
}

#[test]
fn an_echo_seen_before_and_after_a_slip_was_put_right_does_not_seem_to_move() {
    let (mut watch, _) = sat(&[&[SLIPS[0], "trk 000 1 @0340", "20.0 090m @0341"]]);
    watch.apply(&accept("2026-06-01T03:43:00Z", -38.2, 1.0)).unwrap();
    put(&mut watch, &["again A 20.0 090m @0351"]);
    let motion = watch.echoes()[0].motion.unwrap();
    assert!(!motion.moves, "{motion:?}");
}
