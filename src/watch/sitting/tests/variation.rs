//! What a variation that is the magnetic model's adds to the error that bearings share.

use super::taken_up::live_and_taken_up;
use super::*;
use crate::geodesy::magnetic_variation;

/// The error of the heading alone: none is stated.
const PLAIN: f64 = Own::HEADING_SIGMA_DEG;

const FAR_OFF: &str = "dr 38 12.9 N, 21 30.5 W";

/// The same and the model's error where the reckoning is, degrees.
fn with_the_model(watch: &Watch) -> f64 {
    let reckoning = watch.reckoning().unwrap();
    let field = magnetic_variation(reckoning.position, watch.own().height, reckoning.time);
    PLAIN.hypot(field.sigma.degrees())
}

#[track_caller]
fn assert_shared(watch: &Watch, expected: f64) {
    let shared = watch.sightings().unwrap().bearing_bias_sigma().degrees();
    assert!((shared - expected).abs() < 1e-9, "{shared} for {expected}");
}

#[track_caller]
fn put(watch: &mut Watch, lines: &[&str]) {
    let said = enter(watch, lines);
    assert!(!said.iter().any(|said| said.starts_with('!')), "{said:?}");
}

/// The first contact's bearing read by magnetic.
fn by_magnetic() -> String {
    TEXT.replace("bearing_deg = 42.5", "bearing_deg = 42.5\n    bearing_kind = \"magnetic\"")
}

#[test]
fn one_magnetic_bearing_brings_the_models_error_in() {
    let mut watch = watch();
    put(&mut watch, &["18.1 042"]);
    assert_shared(&watch, PLAIN);
    let both = with_the_model(&watch);
    assert!(both > PLAIN + 0.01, "{both}");
    for line in ["16.0 060m", "16.0 060c", "060m"] {
        put(&mut watch, &[line]);
        assert_shared(&watch, both);
        watch.apply(&What::Undo).unwrap();
        assert_shared(&watch, PLAIN);
        watch.apply(&What::Redo).unwrap();
        assert_shared(&watch, both);
        watch.apply(&What::Undo).unwrap();
    }
    // It goes with the bearing: corrected, or done with.
    put(&mut watch, &["16.0 060m", "C 16.0 042t"]);
    assert_shared(&watch, PLAIN);
    put(&mut watch, &["C 16.0 060m"]);
    assert_shared(&watch, both);
    watch.apply(&accept("2031-03-09T03:50:00Z", -38.1, 0.3)).unwrap();
    assert_shared(&watch, PLAIN);
    watch.apply(&What::Undo).unwrap();
    assert_shared(&watch, both);
}

#[test]
fn a_heading_by_magnetic_brings_it_in_and_so_do_bearings_laid_on_it() {
    let mut watch = watch();
    let both = with_the_model(&watch);
    let heading = |watch: &Watch| watch.own().true_heading_sigma().degrees();
    put(&mut watch, &["9.0 318 rel"]);
    assert_shared(&watch, PLAIN);
    for line in ["hdg 070m", "hdg 070c"] {
        put(&mut watch, &[line]);
        assert_shared(&watch, both);
        assert!((heading(&watch) - both).abs() < 1e-9);
    }
    put(&mut watch, &["9.5 320 rel"]);
    assert_shared(&watch, both);
    // A true heading after it turns no bearing that is in already.
    put(&mut watch, &["hdg 052"]);
    assert_shared(&watch, both);
    assert!((heading(&watch) - PLAIN).abs() < 1e-9);
    put(&mut watch, &["del C"]);
    assert_shared(&watch, PLAIN);
    // Taken back: contact out, true heading, contact in, heading by compass, by magnetic.
    for expected in [both, both, both, both, PLAIN] {
        watch.apply(&What::Undo).unwrap();
        assert_shared(&watch, expected);
    }
}

#[test]
fn a_variation_that_is_stated_adds_nothing() {
    let text = TEXT.replace("[own]", "[own]\n    variation = \"18.2 W\"");
    let mut watch = Watch::from_sightings(&Sightings::parse(&text, "t", Path::new("")).unwrap());
    put(&mut watch, &["16.0 060m", "hdg 070c", "9.0 318 rel", FAR_OFF, "17.0 061m"]);
    assert_shared(&watch, PLAIN);
    assert!(watch.own().is_variation_stated());
    assert_eq!(watch.sightings().unwrap().cautions, Vec::<String>::new());
}

#[test]
fn a_file_of_magnetic_bearings_gives_the_watch_what_it_gives_alone() {
    let file = Sightings::parse(&by_magnetic(), "t", Path::new("")).unwrap();
    let mut watch = Watch::from_sightings(&file);
    assert_eq!(watch.sightings().unwrap().bearing_bias_sigma(), file.bearing_bias_sigma());
    assert_shared(&watch, with_the_model(&watch));
    // One more is no more of it, and its caution is told once.
    put(&mut watch, &["16.0 060m"]);
    assert_shared(&watch, with_the_model(&watch));
    assert_eq!(watch.sightings().unwrap().cautions, file.cautions);
    put(&mut watch, &["del A", "del B"]);
    assert_shared(&watch, PLAIN);
}

#[test]
fn a_reckoning_far_off_has_the_models_error_there() {
    let mut watch = watch();
    put(&mut watch, &["16.0 060m"]);
    let here = with_the_model(&watch);
    put(&mut watch, &[FAR_OFF]);
    let there = with_the_model(&watch);
    assert!((there - here).abs() > 1e-3, "{there} and {here}");
    assert_shared(&watch, there);
    watch.apply(&What::Undo).unwrap();
    assert_shared(&watch, here);
    watch.apply(&What::Redo).unwrap();
    assert_shared(&watch, there);
}

#[test]
fn a_blank_watch_has_it_with_its_first_reckoning() {
    let mut watch = Watch::blank(watch().radar, Height::from_feet(500.0).unwrap());
    put(&mut watch, &["dr 38 12.9 S, 21 30.5 W", "17.3 042"]);
    assert_shared(&watch, PLAIN);
    put(&mut watch, &["17.3 050m"]);
    assert_shared(&watch, with_the_model(&watch));
    // The day is one of the model's.
    assert_eq!(watch.sightings().unwrap().cautions, Vec::<String>::new());
}

#[test]
fn what_the_model_cautions_is_told_while_a_bearing_goes_by_it() {
    let mut watch = watch();
    let told = |watch: &Watch| watch.sightings().unwrap().cautions;
    put(&mut watch, &["18.1 042"]);
    assert_eq!(told(&watch), Vec::<String>::new());
    put(&mut watch, &["16.0 060m"]);
    assert_eq!(
        told(&watch),
        [
            "the magnetic model holds from 2020-01-01 to 2029-12-31: variation for 2031-03-09 is that of \
          2029-12-31"
        ]
    );
    watch.apply(&What::Undo).unwrap();
    assert_eq!(told(&watch), Vec::<String>::new());
}

#[test]
fn a_log_taken_up_again_has_the_same_error() {
    for (text, lines) in [
        (TEXT.to_owned(), &["18.1 042", "16.0 060m"][..]),
        (TEXT.to_owned(), &["hdg 070m", "9.0 318 rel", "hdg 070", FAR_OFF][..]),
        (by_magnetic(), &["18.1 042", FAR_OFF, "undo"][..]),
    ] {
        let (watch, resumed) = live_and_taken_up(&text, lines);
        assert_eq!(resumed.own(), watch.own(), "{lines:?}");
        let (live, kept) = (watch.sightings().unwrap(), resumed.sightings().unwrap());
        assert_eq!(kept.bearing_bias_sigma(), live.bearing_bias_sigma(), "{lines:?}");
        assert_eq!(kept.cautions, live.cautions, "{lines:?}");
        assert_shared(&resumed, with_the_model(&resumed));
    }
}
