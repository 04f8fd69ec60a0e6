use super::*;

#[test]
fn what_was_said_of_the_landfall_outlives_the_fix_accepted_until_something_is_measured() {
    let mut watch = watch();
    let landfall = |lat_deg| What::Landfall { lat_deg, lon_deg: -21.2 };
    watch.apply(&landfall(-38.0)).unwrap();
    let What::Accept(fix) = accept("2031-03-09T03:50:00Z", -38.1, 0.3) else { panic!() };
    let accept = What::Accept(AcceptEntry { landfall: Some("confirmed".to_owned()), ..fix });
    watch.apply(&accept).unwrap();
    let said = Some(("2031-03-09T03:50:00Z".parse().unwrap(), "confirmed"));
    assert_eq!(watch.landfall_accepted(), said);
    enter(&mut watch, &["trk 90 100"]);
    assert_eq!(watch.landfall_accepted(), said);
    enter(&mut watch, &["18.1 042"]);
    assert_eq!(watch.landfall_accepted(), None);
    for (back, then) in [(What::Undo, said), (What::Undo, said), (What::Undo, None)] {
        watch.apply(&back).unwrap();
        assert_eq!(watch.landfall_accepted(), then);
    }
    watch.apply(&What::Redo).unwrap();
    // The same place again is no other landfall.
    watch.apply(&landfall(-38.0)).unwrap();
    assert_eq!(watch.landfall_accepted(), said);
    watch.apply(&landfall(-37.5)).unwrap();
    assert_eq!(watch.landfall_accepted(), None);
}

/// Where the line to the landfall starts after these lines on a blank watch.
fn origin(lines: &[&str]) -> Position {
    let mut blank = Watch::blank(watch().radar, Height::from_feet(2000.0).unwrap());
    let said = enter(&mut blank, lines);
    assert!(!said.iter().any(|said| said.starts_with('!')), "{said:?}");
    blank.origin().unwrap()
}

const FIRST: &str = "dr 38 12.9 S, 21 30.5 W @0340";
const LATER: &str = "dr 38 00.0 S, 21 00.0 W @0400";

#[test]
fn the_line_to_the_landfall_starts_at_the_first_reckoning_put_right() {
    let right = origin(&[FIRST]);
    for slip in [
        "dr 38 12.9 N, 21 30.5 W @0340",
        "dr 38 12.9 S, 21 30.5 E @0336",
        // The time was the slip.
        "dr 38 12.9 S, 21 03.5 W @0430",
    ] {
        assert_ne!(origin(&[slip]), right);
        let track = "trk 074 165 @0340";
        assert_eq!(origin(&[slip, FIRST]), right, "{slip}");
        assert_eq!(origin(&[slip, track, "17.3 042 @0341", FIRST]), right, "{slip}");
        assert_eq!(origin(&[slip, FIRST, track, LATER]), right, "{slip}");
    }
}

#[test]
fn a_reckoning_of_later_on_leaves_the_line_where_it_starts() {
    assert_eq!(origin(&[FIRST, LATER]), origin(&[FIRST]));
    // Nor does it creep along with one reckoning after the other.
    let second = "dr 38 11.0 S, 21 20.0 W @0344";
    assert_eq!(origin(&[FIRST, second]), origin(&[second]));
    let third = "dr 38 10.0 S, 21 10.0 W @0348";
    assert_eq!(origin(&[FIRST, second, third]), origin(&[second]));
}

#[test]
fn once_a_fix_is_accepted_the_line_stays_until_that_is_taken_back() {
    let mut watch = watch();
    let first = watch.origin().unwrap();
    watch.apply(&accept("2031-03-09T03:42:00Z", -38.1, 0.3)).unwrap();
    let other = ["dr 38 00.0 S, 21 00.0 W @0341"];
    enter(&mut watch, &other);
    assert_eq!(watch.origin(), Some(first));
    watch.apply(&What::Undo).unwrap();
    watch.apply(&What::Undo).unwrap();
    enter(&mut watch, &other);
    assert_eq!(watch.origin(), Some(Position::new(-38.0, -21.0).unwrap()));
    watch.apply(&What::Undo).unwrap();
    assert_eq!(watch.origin(), Some(first));
    watch.apply(&What::Redo).unwrap();
    assert_ne!(watch.origin(), Some(first));
}
