//! What becomes of an entry beside what it says.

use super::*;

#[test]
fn a_new_label_is_another_than_one_in_small_letters() {
    let mut watch = watch();
    enter(&mut watch, &["del A", "b: 18.1 042", "9 101"]);
    // `b` is said and typed like B: a new contact under that letter would take its place.
    assert_eq!(labels(&watch), "bC");
    enter(&mut watch, &["\"c2\": 17.3 050", "again C 9 102"]);
    assert_eq!(labels(&watch), "bCc2C3");
}

#[test]
fn a_label_that_was_deleted_is_not_given_again_by_undo() {
    let mut watch = watch();
    // Put in again under its own letter, and taken back: the letter stays that of the one deleted.
    enter(&mut watch, &["del A", "A 12.0 077", "undo", "13 045"]);
    assert_eq!(labels(&watch), "B");
    // One that was never there before is free.
    enter(&mut watch, &["undo", "14 050"]);
    assert_eq!(labels(&watch), "B");
    enter(&mut watch, &["undo", "undo"]);
    assert_eq!(labels(&watch), "A");
}

#[test]
fn a_bearing_put_right_without_a_letter_keeps_its_kind() {
    let mut watch = watch();
    let lines = ["9 318 rel", "B 337", "B 337t", "B 338", "B 338m", "B 9.2", "B 339", "B 340 rel"];
    let said = put(&mut watch, &lines);
    let kinds =
        ["relative", "relative", "true", "true", "magnetic", "magnetic", "magnetic", "relative"];
    for (said, kind) in said.iter().zip(kinds) {
        assert!(said.contains(&format!("° {kind}")), "{said}");
    }
    assert!(said[1].starts_with("B corrected: 9 NM, 337° relative (= 047° true: "), "{}", said[1]);
    // What had no bearing, and what is new, is true.
    let said = put(&mut watch, &["9.1", "C 042", "again B 8.8 047"]);
    assert!(said[1].starts_with("C corrected: 9.1 NM, 042° true, "), "{}", said[1]);
    assert!(said[2].starts_with("contact B2: 8.8 NM, 047° true, "), "{}", said[2]);
}

#[test]
fn a_last_capital_that_is_a_kind_and_a_contact_is_asked_back() {
    let mut watch = watch();
    let lines = ["18.1 042", "9 101", "17.3 042 C", "b 042, C", "17.3 042 c", "17.3 042 M"];
    let said = enter(&mut watch, &lines);
    let told = |line, bearing| {
        format!(
            "! a last C reads two ways: write \"{line}\" for contact C, \"{bearing}\" for a compass bearing"
        )
    };
    assert_eq!(said[2], told("C 17.3 042", "042c"));
    assert_eq!(said[3], told("C b 042", "042c"));
    // A small one is a kind, and so is a capital that is nobody's letter.
    assert!(said[4].starts_with("contact D: 17.3 NM, 042° compass"), "{}", said[4]);
    assert!(said[5].starts_with("contact E: 17.3 NM, 042° magnetic"), "{}", said[5]);
    // Where the label stands before, or is said by the command, the last letter is none.
    let said = put(&mut watch, &["A 17.3 042 C", "again B 18.0 043 C", "del C", "17.3 042 C"]);
    assert!(said[0].starts_with("A corrected: 17.3 NM, 042° compass"), "{}", said[0]);
    assert!(said[1].starts_with("contact B2: 18 NM, 043° compass"), "{}", said[1]);
    assert!(said[3].starts_with("contact F: 17.3 NM, 042° compass"), "{}", said[3]);
}

#[test]
fn the_variation_is_that_of_the_reckoning_entered_last_unless_it_was_stated() {
    let radar = Sightings::parse(TEXT, "test", Path::new("")).unwrap().radar;
    let mut blank = Watch::blank(radar, Height::from_feet(500.0).unwrap());
    let mut right = blank.clone();
    let east = |watch: &Watch| watch.own().variation.unwrap().east().degrees();
    enter(&mut right, &["dr 38 12.9 S, 21 30.5 W"]);
    // A wrong sign, put right: no bearing is turned by the variation of the other hemisphere.
    enter(&mut blank, &["dr 38 12.9 N, 21 30.5 W"]);
    assert!((east(&blank) - east(&right)).abs() > 5.0, "{} {}", east(&blank), east(&right));
    enter(&mut blank, &["dr 38 12.9 S, 21 30.5 W"]);
    assert!((east(&blank) - east(&right)).abs() < 1e-9, "{} {}", east(&blank), east(&right));
    blank.apply(&What::Undo).unwrap();
    assert!((east(&blank) - east(&right)).abs() > 5.0);
    // So of sightings that leave it to the model; what they state stays.
    let mut modelled = watch();
    enter(&mut modelled, &["dr 38 12.9 N, 21 30.5 W"]);
    assert!((east(&modelled) - east(&right)).abs() > 5.0);
    let text = TEXT.replace("[own]", "[own]\n    variation = \"18.2 W\"");
    let mut stated = Watch::from_sightings(&Sightings::parse(&text, "t", Path::new("")).unwrap());
    enter(&mut stated, &["dr 38 12.9 N, 21 30.5 W"]);
    assert!((east(&stated) + 18.2).abs() < 1e-9);
}

#[test]
fn a_guess_typed_as_it_is_shown_is_one() {
    let said = enter(&mut watch(), &["mark A \"Gannet Head?\"", "mark A \"Ganet Head?\""]);
    assert_eq!(said[0], "A corrected: 17.3 NM, 042.5° true, perhaps Gannet Head, at 03:40:00Z");
    assert_eq!(said[1], "! no mark \"Ganet Head\" on this chart: did you mean Gannet Head?");
}

#[test]
fn a_label_that_is_a_word_of_the_line_is_told_in_quotes() {
    let text = TEXT.replace("label = \"A\"", "label = \"DR\"");
    let mut watch = Watch::from_sightings(&Sightings::parse(&text, "t", Path::new("")).unwrap());
    let said = |line: &str| watch.said_of(line, "so".to_owned());
    assert_eq!(said("dr 17.4 left"), "begin with \"DR\": for contact DR; else so");
    for other in ["\"DR\": 17.4", "DR: 17.4", "drift", "17.4 042"] {
        assert_eq!(said(other), "so", "{other}");
    }
    let said = enter(&mut watch, &["\"DR\": 17.4"]);
    assert!(said[0].starts_with("DR corrected: 17.4 NM"), "{}", said[0]);
    // No new contact gets such a label.
    let number = (0..200).position(|number| label_number(number) == "DR").unwrap();
    watch.labels = (0..number).map(label_number).collect();
    assert_eq!(watch.next_label(), "DS");
    // Nor one without letters, once those of one and of two are all given.
    watch.labels = (0..24 + 24 * 24).map(label_number).collect();
    assert_eq!(watch.next_label(), "AAA");
}

#[test]
fn a_slip_of_a_command_is_told_where_it_reads_as_a_name() {
    let said = enter(&mut watch(), &["hgd 070", "17.3 042 hgd"]);
    assert_eq!(said[0], "! no mark \"hgd\" on this chart: did you mean hdg?");
    // Behind the figures it is a name.
    assert_eq!(said[1], "! no mark \"hgd\" on this chart");
}

#[test]
fn a_reckoning_entered_anew_says_which_contacts_are_of_before_it() {
    let mut watch = watch();
    let lines = [
        "dr 38 12.0 S, 21 30.5 W @0340",
        "dr 38 12.0 S, 21 30.5 W @0341",
        "18.1 042 @0342",
        "dr 38 12.0 S, 21 30.5 W @0343",
        "undo",
    ];
    let said = enter(&mut watch, &lines);
    assert!(said[0].ends_with(" NM"), "{}", said[0]);
    assert!(said[1].ends_with(" NM; 1 contact is of before it, and still counts"), "{}", said[1]);
    assert!(said[3].ends_with(" NM; 2 contacts are of before it, and still count"), "{}", said[3]);
    assert!(
        said[4].starts_with("taken back: reckoning ") && said[4].ends_with(" NM"),
        "{}",
        said[4]
    );
}

#[test]
fn a_range_of_the_nearest_shore_is_given_no_mark() {
    let mut watch = watch();
    let lines =
        ["9.4 shore Gannet Head", "9.4 shore", "mark B gannet", "9.4 near Gannet Head", "C shore"];
    let said = enter(&mut watch, &lines);
    let refused = "! a shore is the nearest land in any direction, and of no mark: leave the name out, or \
                   write \"near\" where the range is that of the mark itself";
    for (line, said) in lines.iter().zip(&said) {
        // Also where a contact gets its name afterwards, or is made one of the shore.
        let is_of_both = !["9.4 shore", "9.4 near Gannet Head"].contains(line);
        assert_eq!(said == refused, is_of_both, "{line}: {said}");
    }
    assert_eq!(labels(&watch), "ABC");
}

#[test]
fn a_reckoning_entered_without_an_error_has_the_one_it_has_grown_to() {
    let mut watch = watch();
    // The larger standard deviation that a reckoning entered for a time would have, in nautical miles.
    let sigma = |watch: &Watch, time: &str| {
        let entry = understood(&format!("dr 38 00.0 S, 20 00.0 W {time}")).unwrap();
        let what = watch.change(&entry, wall(), &marks()).unwrap();
        let What::Reckoning { covariance_nm2: [[ee, en], [_, nn]], .. } = what else {
            panic!("{what:?}")
        };
        // Of a symmetric matrix the larger eigenvalue.
        (f64::midpoint(ee, nn) + (0.5 * (ee - nn)).hypot(en)).sqrt()
    };
    // Begun with 4 NM; half an hour at 165 kn is 82.5 NM, which 2 degrees make 2.880 NM of: hypot(4, 2.880).
    let (begun, grown) = (sigma(&watch, "@0340"), sigma(&watch, "@0410"));
    assert!((begun - 4.0).abs() < 1e-6, "{begun}");
    assert!((grown - 4.929).abs() < 2e-3, "{grown}");
    // A turn typed for later has no part in it.
    put(&mut watch, &["trk 164 165 @0500"]);
    assert!((sigma(&watch, "@0410") - grown).abs() < 1e-6);
    // Entered, it is what own place is known within, and no less after a second one.
    put(&mut watch, &["dr 38 00.0 S, 20 00.0 W @0410", "dr 38 00.0 S, 20 00.0 W @0410"]);
    assert!((sigma(&watch, "@0410") - grown).abs() < 1e-6);
}
