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
