use super::*;
use crate::chart::{Mark, MarkKind, Marks};
use crate::units::{Bearing, GroundRange};
use crate::watch::entry::understood;
use crate::watch::words;
use std::path::Path;

mod drift;
mod entered;
mod headed;
mod height;
mod laid;
mod landfall;
mod taken_up;
mod turned;
mod variation;

const TEXT: &str = r#"
    [reckoning]
    time = "2031-03-09T03:40:00Z"
    position = "38 12.9 S, 21 30.5 W"
    sigma_nm = 4.0
    track_deg = 74.0
    speed_kn = 165.0
    [own]
    height_ft = 2000
    heading_deg = 70.0
    [radar]
    set = "patrol"
    [[contact]]
    label = "A"
    range_nm = 17.3
    bearing_deg = 42.5
    range_sigma_nm = 0.3
    mark = "Gannet Head"
"#;

fn wall() -> Timestamp {
    "2026-06-01T12:00:00Z".parse().unwrap()
}

fn watch() -> Watch {
    Watch::from_sightings(&Sightings::parse(TEXT, "test", Path::new("")).unwrap())
}

fn marks() -> Marks {
    let mark = |name: &str| Mark {
        name: name.to_owned(),
        named: true,
        kind: MarkKind::Headland,
        position: Position::new(-38.0, -21.0).unwrap(),
        height: Height::SEA_LEVEL,
        extent: GroundRange::ZERO,
        sigma: GroundRange::ZERO,
        salience: 1.0,
    };
    Marks::new(vec![mark("Gannet Head"), mark("Tern Rock"), mark("Tern Island")])
}

/// Enters lines as the display does; returns what was said of each.
fn enter(watch: &mut Watch, lines: &[&str]) -> Vec<String> {
    let said = lines.iter().map(|line| {
        let entry = understood(line).unwrap();
        match watch.change(&entry, wall(), &marks()) {
            Ok(what) => {
                let said = watch.say(&what);
                watch.apply(&what).unwrap();
                said
            }
            Err(error) => format!("! {error}"),
        }
    });
    said.collect()
}

/// A watch of which nothing is known but the set and the height.
fn blank() -> Watch {
    Watch::blank(watch().radar, Height::from_feet(2000.0).unwrap())
}

/// As [`enter`], of lines of which none is refused.
#[track_caller]
fn put(watch: &mut Watch, lines: &[&str]) -> Vec<String> {
    let said = enter(watch, lines);
    assert!(!said.iter().any(|said| said.starts_with('!')), "{said:?}");
    said
}

fn labels(watch: &Watch) -> String {
    watch.contacts().iter().map(|h| h.contact.label.as_str()).collect()
}

#[test]
fn a_landfall_is_entered_corrected_and_taken_back() {
    let mut watch = watch();
    let said = enter(
        &mut watch,
        &["18.1 042", "a 17.4", "b 318 rel", "mark B tern r", "del B", "undo", "undo", "redo"],
    );
    assert_eq!(
        said,
        [
            "contact B: 18.1 NM, 042° true, at 03:40:00Z",
            "A corrected: 17.4 NM, 042.5° true, Gannet Head, at 03:40:00Z",
            "contact C: 318° relative (= 028° true: R 318.0, heading T 070.0, T 028.0), at 03:40:00Z",
            "B corrected: 18.1 NM, 042° true, Tern Rock, at 03:40:00Z",
            "out: contact B: 18.1 NM, 042° true, Tern Rock",
            "taken back: contact B taken out",
            "taken back: contact B: 18.1 NM, 042° true, Tern Rock",
            "redo: contact B: 18.1 NM, 042° true, Tern Rock",
        ]
    );
    assert_eq!(labels(&watch), "ABC");
    let sightings = watch.sightings().unwrap();
    let a = &sightings.contacts[0];
    assert!((a.range.unwrap().nautical_miles() - 17.4).abs() < 1e-9);
    // The file's own error of the contact outlives the correction.
    assert!((a.range_sigma.nautical_miles() - 0.3).abs() < 1e-6);
    assert_eq!(a.belief.as_ref().unwrap().mark, "Gannet Head");
    assert!((sightings.contacts[2].bearing.unwrap().degrees() - 28.0).abs() < 1e-9);
}

#[test]
fn undo_goes_all_the_way_back_and_redo_all_the_way_forth() {
    let mut watch = watch();
    let start = watch.sightings().unwrap().contacts;
    let lines = ["18.1 042", "a 17.4", "del a", "h 3000", "hdg 080", "dr -38,-21", "trk 90 100"];
    enter(&mut watch, &lines);
    let end = watch.sightings().unwrap();
    for _ in &lines {
        watch.apply(&What::Undo).unwrap();
    }
    assert_eq!(watch.apply(&What::Undo), Err(EntryError::NothingToUndo));
    assert_eq!(watch.sightings().unwrap().contacts, start);
    assert!((watch.own().height.feet() - 2000.0).abs() < 1e-9);
    for _ in &lines {
        watch.apply(&What::Redo).unwrap();
    }
    assert_eq!(watch.apply(&What::Redo), Err(EntryError::NothingToRedo));
    let again = watch.sightings().unwrap();
    assert_eq!((again.contacts, again.own), (end.contacts, end.own));
    assert_eq!(again.reckoning, end.reckoning);
    // A label once given is not given again; one taken back is free.
    watch.apply(&What::Undo).unwrap();
    assert_eq!(watch.next_label(), "C");
}

#[test]
fn a_line_that_does_not_fit_this_watch_is_refused_and_changes_nothing() {
    let mut watch = watch();
    let said = enter(
        &mut watch,
        &["del Z", "17 042 Nowhere", "17 042 tern", "0.1 042", "redo", "left Z", "042 shore"],
    );
    for (said, told) in said.iter().zip([
        "! no contact Z: there is only A",
        "! no mark \"Nowhere\" on this chart",
        "did you mean Tern Rock, Tern Island?",
        "less than own height of 2000 ft (0.33 NM)",
        "nothing to redo",
        "! no contact Z",
        "range alone",
    ]) {
        assert!(said.contains(told), "{said}");
    }
    assert_eq!(labels(&watch), "A");
}

#[test]
fn a_blank_watch_asks_for_a_reckoning_first() {
    let radar = Sightings::parse(TEXT, "test", Path::new("")).unwrap().radar;
    let mut watch = Watch::blank(radar, Height::from_feet(500.0).unwrap());
    assert!(watch.sightings().is_none());
    let said = enter(&mut watch, &["17.3 042", "dr 38 12.9 S, 21 30.5 W", "17.3 042m"]);
    assert!(said[0].contains("no reckoning yet"), "{}", said[0]);
    assert!(said[1].ends_with("at 12:00:00Z, sigma 4.0 NM"), "{}", said[1]);
    assert!(said[2].contains("° true: M 042.0, var "), "{}", said[2]);
    assert!(said[2].ends_with("), at 12:00:00Z"), "{}", said[2]);
    assert_eq!(watch.sightings().unwrap().contacts.len(), 1);
}

#[test]
fn the_clock_is_the_walls_only_near_the_wall() {
    let watch = watch();
    let at = |text: &str| text.parse::<Timestamp>().unwrap();
    assert_eq!(watch.own_time(wall()), at("2031-03-09T03:40:00Z"));
    assert_eq!(watch.own_time(at("2031-03-09T03:55:00Z")), at("2031-03-09T03:55:00Z"));
}

#[test]
fn labels_go_past_the_alphabet() {
    assert_eq!([0, 7, 8, 23, 24, 47].map(label_number), ["A", "H", "J", "Z", "AA", "AZ"]);
}

fn accept(time: &str, lat_deg: f64, sigma_nm: f64) -> What {
    let variance = sigma_nm * sigma_nm;
    let place = crate::watch::log::PlaceEntry {
        lat_deg,
        lon_deg: -21.0,
        covariance_nm2: [[variance, 0.0], [0.0, variance]],
    };
    What::Accept(AcceptEntry {
        time: time.parse().unwrap(),
        place,
        alone: Some(place),
        verdict: "fixed".to_owned(),
        probability: Some(0.995),
        landfall: None,
        identities: Vec::new(),
        echoes: Vec::new(),
    })
}

#[test]
fn a_fix_accepted_restarts_the_reckoning_and_its_contacts_are_done_with() {
    let mut watch = watch();
    enter(&mut watch, &["18.1 042", "9 101 @0359"]);
    let before = watch.sightings().unwrap();
    watch.apply(&accept("2031-03-09T03:50:00Z", -38.1, 0.3)).unwrap();
    // The one taken after the time of the fix is not in it.
    assert_eq!(labels(&watch), "C");
    let reckoning = watch.reckoning().unwrap();
    assert_eq!(reckoning.time, "2031-03-09T03:50:00Z".parse().unwrap());
    assert!((reckoning.position.latitude() + 38.1).abs() < 1e-9);
    assert!((reckoning.covariance.square_miles()[0][0] - 0.09).abs() < 1e-9);
    assert_eq!(watch.accepted().len(), 1);
    // A label once given is not given again.
    assert_eq!(watch.next_label(), "D");
    watch.apply(&What::Undo).unwrap();
    let again = watch.sightings().unwrap();
    assert_eq!((again.contacts, again.reckoning), (before.contacts, before.reckoning));
    assert!(watch.accepted().is_empty() && watch.offer().is_none());
}

#[test]
fn the_drift_between_two_fixes_is_offered_and_used_only_when_taken() {
    let mut watch = watch();
    // Due north at 120 knots from 38° S: in half an hour 60 NM; the fix lies 5 NM short of that.
    enter(&mut watch, &["dr -38.0,-21.0 sigma 0.3 @0340", "trk 000 120 @0340"]);
    let due = -37.0 + (0.0 - 5.0) / 60.0;
    watch.apply(&accept("2031-03-09T04:10:00Z", due, 0.4)).unwrap();
    let offer = *watch.offer().unwrap();
    // 5 NM in half an hour: 10 knots toward 180°; error the root of 0.3² + 0.4² by 0.5 h, and gusts of
    // 0.3 NM in the root of an hour with it: 1.086 knots (computed).
    // (A minute of latitude here is 0.9988 NM.)
    assert!(
        (offer.beside_kn[1] + 10.0).abs() < 0.35 && offer.beside_kn[0].abs() < 0.01,
        "{offer:?}"
    );
    assert!((offer.sigma_kn() - 1.0863).abs() < 1e-3, "{}", offer.sigma_kn());
    assert!((watch.reckoning().unwrap().speed.unwrap().knots() - 120.0).abs() < 1e-9);
    assert!((offer.made_good().1.knots() - 110.0).abs() < 0.35);
    let said = enter(&mut watch, &["drift", "drift"]);
    let drift =
        "drift found, 10 kn toward 180° (sigma 1 kn), used from 04:10:00Z on: track 000° true";
    assert!(said[0].starts_with(drift), "{}", said[0]);
    assert!(said[1].contains("no drift is on offer"), "{}", said[1]);
    let reckoning = watch.reckoning().unwrap();
    assert!((reckoning.speed.unwrap().knots() - 110.0).abs() < 0.35);
    // With what a wind of 15 knots' spread and an hour and a half changes by from its mean of half an
    // hour to its end, 15 √(1 − 2(1 − e^−T)/T + 2(T − 1 + e^−T)/T²), T a third: 6.65 kn (computed).
    assert!((reckoning.speed_sigma.knots() - 6.653f64.hypot(1.0863)).abs() < 0.02, "{reckoning:?}");
    watch.apply(&What::Undo).unwrap();
    assert_eq!(watch.offer(), Some(&offer));
    assert!((watch.reckoning().unwrap().speed.unwrap().knots() - 120.0).abs() < 1e-9);
}

#[test]
fn an_echo_that_moves_never_feeds_a_fix() {
    let mut watch = watch();
    enter(&mut watch, &["trk 074 165 @0340", "20.0 090 @0341"]);
    let feeding = |watch: &Watch| -> Vec<String> {
        watch.sightings().unwrap().contacts.iter().map(|c| c.label.clone()).collect()
    };
    assert_eq!(feeding(&watch), ["A", "B"]);
    // Own run in six minutes is 16.5 NM; an echo that keeps its bearing and range goes with us.
    let said = enter(&mut watch, &["again B 20.0 090 @0347", "call B2 fast mover"]);
    assert!(said[0].starts_with("contact B2: 20"), "{}", said[0]);
    assert_eq!(feeding(&watch), ["A"]);
    let echoes = watch.echoes();
    let echo = &echoes[0];
    assert_eq!((echo.label.as_str(), echo.sights), ("B", 2));
    assert_eq!(echo.name.as_deref(), Some("fast mover"));
    let motion = echo.motion.unwrap();
    assert!(motion.moves && (motion.speed.knots() - 165.0).abs() < 8.0, "{motion:?}");
    // One that stands still may be a mark, and does; its later sight still does not.
    watch.apply(&What::Undo).unwrap();
    watch.apply(&What::Undo).unwrap();
    assert_eq!(feeding(&watch), ["A", "B"]);
    assert!(enter(&mut watch, &["again Q 17 042"])[0].contains("no contact Q"));
}

#[test]
fn the_wind_stands_between_what_is_steered_and_what_is_made_good() {
    use crate::reckon::Flow;
    let mut watch = watch();
    assert!(watch.flow().is_none());
    // True heading 045, 75 kn through the air, wind 135° at 20 kn: track 030.07, 77.62 kn (computed;
    // the exercise it is from seen second-hand).
    enter(&mut watch, &["hdg 045", "tas 75", "trk 030.07 77.62 @0340"]);
    let Some(Flow::Wind(wind)) = watch.flow() else { panic!("{:?}", watch.flow()) };
    assert!((wind.from.degrees() - 135.0).abs() < 0.1 && (wind.speed.knots() - 20.0).abs() < 0.1);
    // Its error, worst and best axis from the figures by hand: heading 1° of 75 kn is 1.31 kn across the
    // heading, airspeed 2 % is 1.5 along it; track and speed made good as the sightings state theirs.
    let found = watch.flow_found().unwrap();
    let reckoning = watch.reckoning().unwrap();
    let made = [
        reckoning.speed_sigma.knots(),
        reckoning.speed.unwrap().knots() * reckoning.track_sigma.radians(),
    ];
    let air = [0.02 * 75.0, 75.0 * watch.own().heading_sigma.radians()];
    let sum = made.iter().chain(&air).map(|sigma| sigma * sigma).sum::<f64>();
    let [[ee, _], [_, nn]] = found.square_knots();
    assert!((ee + nn - sum).abs() < 1e-6 * sum, "{} for {sum}", ee + nn);
    let said = words::flow(watch.craft(), &found);
    assert!(
        said.starts_with("wind from 135° (sigma ") && said.contains("), 20 kn (sigma "),
        "{said}"
    );
    // A landfall due north of us: 20 kn from 135° is 14.14 kn across to the left and as much along, so
    // that the heading is asin(14.14 / 75) = 10.87° to the right, and 75 cos 10.87° + 14.14 = 87.8 kn.
    let here = watch.reckoning().unwrap().clone();
    watch
        .apply(&What::Landfall {
            lat_deg: here.position.latitude() + 1.0,
            lon_deg: here.position.longitude(),
        })
        .unwrap();
    let to = watch.to_landfall((here.position, here.covariance), here.time).unwrap();
    let made = to.steer.unwrap().unwrap();
    assert!((made.heading.unwrap().degrees() - 10.87).abs() < 0.1, "{made:?}");
    assert!((made.speed.knots() - 87.8).abs() < 0.1, "{made:?}");
    // 60 NM of latitude, 59.9 here, at 87.8 kn.
    let minutes = to.eta.unwrap().duration_since(here.time).as_secs_f64() / 60.0;
    assert!((minutes - 40.95).abs() < 0.15, "{minutes}");
    // Too slow for the wind.
    enter(&mut watch, &["tas 15", "trk 225 5 @0340", "hdg 045"]);
    let to = watch.to_landfall((here.position, here.covariance), here.time).unwrap();
    assert!(to.steer.unwrap().is_err() && to.eta.is_none());
}

/// Where a watch is at a time, by its reckoning.
fn place(watch: &Watch, time: &str) -> Position {
    watch.reckoning().unwrap().carried_to(time.parse().unwrap()).unwrap().0
}

fn off_nm(one: Position, other: Position) -> f64 {
    crate::geodesy::distance(one, other).nautical_miles()
}

#[test]
fn a_fix_of_before_an_alteration_leaves_the_leg_after_it() {
    let (mut after, mut before) = (watch(), watch());
    let fix = accept("2031-03-09T03:43:00Z", -38.1, 0.3);
    enter(&mut after, &["trk 000 165 @0346"]);
    after.apply(&fix).unwrap();
    before.apply(&fix).unwrap();
    enter(&mut before, &["trk 000 165 @0346"]);
    let at = "2031-03-09T03:52:00Z";
    assert!(off_nm(place(&after, at), place(&before, at)) < 0.01);
    // Three minutes on 074° and six due north.
    let lat = place(&after, at).latitude();
    assert!((lat - (-38.1 + (8.25 * 0.2756 + 16.5) / 60.0)).abs() < 0.01, "{lat}");
}

#[test]
fn a_reckoning_entered_anew_closes_the_leg_being_run() {
    let mut watch = watch();
    enter(&mut watch, &["trk 000 165 @0346", "dr -38.0,-21.3 sigma 0.05 @0356"]);
    // Six minutes before, on the leg due north, 16.5 NM to the south of it.
    let then = place(&watch, "2031-03-09T03:50:00Z");
    assert!((then.latitude() + 38.0 + 16.5 / 60.0).abs() < 0.01, "{then}");
    assert!((then.longitude() + 21.3).abs() < 0.001, "{then}");
}

#[test]
fn an_alteration_takes_the_offer_and_the_stale_heading_out() {
    let mut watch = watch();
    enter(
        &mut watch,
        &["dr -38.0,-21.0 sigma 0.3 @0340", "trk 000 120 @0340", "tas 125", "hdg 005"],
    );
    assert!(watch.flow().is_some());
    watch.apply(&accept("2031-03-09T04:10:00Z", -37.08, 0.4)).unwrap();
    assert!(watch.offer().is_some());
    enter(&mut watch, &["trk 090 120 @0412"]);
    assert!(watch.offer().is_none() && watch.flow().is_none());
    enter(&mut watch, &["hdg 092"]);
    assert!(watch.flow().is_some());
}

#[test]
fn a_label_of_an_accepted_fix_is_not_given_to_another_contact() {
    let mut watch = watch();
    watch.apply(&accept("2031-03-09T03:42:00Z", -38.1, 0.3)).unwrap();
    let said = enter(&mut watch, &["A 11.7 076", "again A 11.7 076"]);
    assert!(said[0].contains("A is in a fix that was accepted"), "{}", said[0]);
    assert!(said[1].starts_with("contact A2"), "{}", said[1]);
}

/// All of a watch but what can be taken back.
fn told(watch: &Watch) -> String {
    let bare = Watch {
        done: Vec::new(),
        undone: Vec::new(),
        labels: Vec::new(),
        seen: std::sync::OnceLock::new(),
        ..watch.clone()
    };
    format!("{bare:?}")
}

#[test]
fn every_kind_of_record_is_taken_back_and_put_back_whole() {
    let mut watch = watch();
    let mut states = vec![told(&watch)];
    let lines = ["18.1 042", "dr -38.0,-21.0 sigma 0.3 @0340", "trk 000 120 @0340", "tas 125"];
    for line in lines {
        enter(&mut watch, &[line]);
        states.push(told(&watch));
    }
    watch.apply(&accept("2031-03-09T04:10:00Z", -37.08, 0.4)).unwrap();
    states.push(told(&watch));
    for line in [
        "drift",
        "9 101 @0411",
        "again C 9 110 @0413",
        "call C ship",
        "trk 080 100 @0412",
        "hdg 080",
        "h 900",
    ] {
        let said = enter(&mut watch, &[line]);
        assert!(!said[0].starts_with('!'), "{said:?}");
        states.push(told(&watch));
    }
    for state in states.iter().rev().skip(1) {
        watch.apply(&What::Undo).unwrap();
        assert_eq!(&told(&watch), state);
    }
    assert_eq!(watch.apply(&What::Undo), Err(EntryError::NothingToUndo));
    for state in states.iter().skip(1) {
        watch.apply(&What::Redo).unwrap();
        assert_eq!(&told(&watch), state);
    }
}

#[test]
fn a_track_from_before_the_leg_in_force_is_refused_with_what_would_be_right() {
    let mut watch = watch();
    // With no other leg it holds for the whole run.
    let tracks = ["trk 080 160 @0335", "hdg 005", "trk 000 165 @0346", "trk 010 165 @0346"];
    let said = enter(&mut watch, &tracks);
    assert_eq!(said[0], "track 080° true, 160 kn made good from 03:35:00Z on, and before it");
    assert_eq!(said[2], "track 000° true, 165 kn made good from 03:46:00Z on");
    assert_eq!(said[3], "track 010° true, 165 kn made good from 03:46:00Z on");
    let leg = watch.reckoning().unwrap().clone();
    let said = enter(&mut watch, &["trk 090 150 @0343"]);
    assert_eq!(
        said[0],
        "! track from 03:43:00Z: track or speed was altered at 03:46:00Z; give a time from then on, \
         like \"trk 090 150 @03:46:00\", or undo that first"
    );
    assert_eq!(watch.reckoning(), Some(&leg));
    watch.apply(&accept("2031-03-09T03:50:00Z", -38.1, 0.3)).unwrap();
    let said = enter(&mut watch, &["trk 090 150 @0348", "trk 090 150 @03:50:00"]);
    assert_eq!(
        said[0],
        "! track from 03:48:00Z: the reckoning starts at 03:50:00Z; give a time from then on, like \
         \"trk 090 150 @03:50:00\""
    );
    assert!(said[1].contains(" 150 kn made good from 03:50:00Z on; heading stays 005° true"));
    // A log of before is taken up as it was.
    let time = "2031-03-09T03:44:00Z".parse().ok();
    let old = What::Track { track_deg: 100.0, speed_kn: 150.0, time };
    assert!(watch.say(&old).contains(" from 03:50:00Z on (said for 03:44:00Z);"));
    assert!(watch.apply(&old).is_ok());
}

#[test]
fn what_feeds_no_fix_says_why() {
    let mut watch = watch();
    let lines = ["trk 074 165 @0340", "20.0 090 @0341", "again B 20.0 090 @0347"];
    let said = enter(&mut watch, &lines);
    assert!(said[2].ends_with("at 03:47:00Z; B again: feeds no fix"), "{}", said[2]);
    let why: Vec<_> = watch.contacts().iter().map(|held| watch.left_out(held)).collect();
    assert_eq!(why, [None, Some(LeftOut::Moves), Some(LeftOut::LaterSight("B".to_owned()))]);
    assert_eq!(words::left_out(&LeftOut::Moves), "moves: feeds no fix");
}

#[test]
fn a_line_that_is_only_looked_at_changes_nothing() {
    let mut watch = watch();
    enter(&mut watch, &["18.1 042", "again B 18.1 042 @0345", "undo"]);
    let before = format!("{watch:?}");
    for line in ["trk 000 165", "17 050", "del A", "redo", "undo", "dr -38,-21", "h 9"] {
        let _ = watch.change(&understood(line).unwrap(), wall(), &marks());
    }
    assert_eq!(format!("{watch:?}"), before);
}
