//! A drift in use, and how the error of the reckoning grows with it.

use super::*;
use crate::units::METRES_PER_NAUTICAL_MILE;
use crate::watch::log::DriftEntry;

/// A run due north at 120 knots, a fix of 0.3 NM at 03:40 and one of 0.4 NM at 04:10, the drift used.
fn with_a_drift() -> Watch {
    let mut watch = watch();
    enter(&mut watch, &["dr -38.0,-21.0 sigma 0.3 @0340", "trk 000 120 @0340"]);
    watch.apply(&accept("2031-03-09T04:10:00Z", -37.08, 0.4)).unwrap();
    assert!(!enter(&mut watch, &["drift"])[0].starts_with('!'));
    watch
}

/// How far off it may be at a time, along a direction, NM.
fn sigma_nm(watch: &Watch, time: &str, toward: f64) -> f64 {
    let (_, covariance) = watch.reckoning().unwrap().carried_to(time.parse().unwrap()).unwrap();
    covariance.sigma_towards(Bearing::wrapped_degrees(toward)) / METRES_PER_NAUTICAL_MILE
}

#[test]
fn a_drift_used_grows_its_error_as_a_reckoning_by_legs_does() {
    use crate::reckon::{Course as Held, Craft, ErrorModel, Flow, Reckoner, TakenFix};
    let watch = with_a_drift();
    // The same by the joint filter of legs: heading and speed without error, a wind not stated of the
    // same spread, a fix by contacts alone at the end of half an hour.
    let usual = ErrorModel::of(Craft::Aircraft);
    let model = ErrorModel {
        heading_sigma: Angle::from_degrees(1e-6),
        speed_share: 1e-9,
        flow_unstated: usual.flow_stated,
        ..usual
    };
    let miles = |nm: f64| Covariance::circular(GroundRange::from_nautical_miles(nm).unwrap());
    let (north, fast) = (Bearing::ZERO, Speed::from_knots(120.0).unwrap());
    let held = Held::through(north, fast, Flow::Still, None, &model);
    let start = Position::new(-38.0, -21.0).unwrap();
    let time = "2031-03-09T03:40:00Z".parse().unwrap();
    let mut legs = Reckoner::new(time, start, miles(0.3), model);
    legs.advance(&held, 1800.0);
    let fix =
        TakenFix { position: legs.position(), covariance: miles(0.4), heading_share: [0.0, 0.0] };
    legs.take_fix(&fix).unwrap();
    for (minutes, time) in [
        (5.0, "2031-03-09T04:15:00Z"),
        (15.0, "2031-03-09T04:25:00Z"),
        (40.0, "2031-03-09T04:50:00Z"),
    ] {
        let mut on = legs.clone();
        on.advance(&held, 60.0 * minutes);
        let sigma = on.covariance().sigma_towards(north) / METRES_PER_NAUTICAL_MILE;
        let live = sigma_nm(&watch, time, 0.0);
        // The filter weighs the wind found with its spread beforehand as well, and is a little surer.
        assert!((0.98..1.12).contains(&(live / sigma)), "{minutes} min: {live} and {sigma}");
    }
}

#[test]
fn a_track_stated_anew_keeps_the_error_of_the_wind() {
    let watch = with_a_drift();
    let later = |watch: &Watch| sigma_nm(watch, "2031-03-09T05:10:00Z", 0.0);
    // The same again, at once and later, and round a turn: the air is no better known for it.
    for line in ["trk 000 120 @0410", "trk 000 120 @0440", "trk 090 120 @0440"] {
        let mut anew = with_a_drift();
        enter(&mut anew, &[line]);
        assert!(
            later(&anew) >= 0.999 * later(&watch),
            "{line}: {} {}",
            later(&anew),
            later(&watch)
        );
        assert!(later(&anew) <= 1.2 * later(&watch), "{line}: {} {}", later(&anew), later(&watch));
        let once = later(&anew);
        enter(&mut anew, &[line]);
        assert!((later(&anew) / once - 1.0).abs() < 1e-6, "{line}");
    }
}

#[test]
fn errors_of_track_and_speed_stand_where_no_wind_is_known() {
    // 2° and 3 %, constant; at 100 kn half an hour comes to 1.745 and 1.5 NM.
    let mut watch = watch();
    enter(&mut watch, &["dr -38.0,-21.0 sigma 0.3 @0440", "trk 000 100 @0440"]);
    let along = sigma_nm(&watch, "2031-03-09T05:10:00Z", 0.0);
    assert!((along - 0.3f64.hypot(1.5)).abs() < 1e-3, "{along}");
    // A place that owes nothing to the drift shares nothing with it; the drift itself goes on.
    let mut anew = with_a_drift();
    enter(&mut anew, &["dr -36.9,-21.0 sigma 0.2 @0420"]);
    let flow = anew.reckoning().unwrap().flow.unwrap();
    assert_eq!(flow, flow.apart());
    // The log tells it whole: what was kept is the same watch.
    let kept = with_a_drift().last_change().cloned().unwrap();
    let text = serde_json::to_string(&kept).unwrap();
    let Ok(What::Drift(read)) = serde_json::from_str(&text) else { panic!("{text}") };
    assert!(read.with_position_nm_kn.is_some() && read.found_over_s == Some(1800.0), "{text}");
}

#[test]
fn a_fix_of_before_the_last_alteration_offers_no_drift() {
    let mut watch = watch();
    enter(
        &mut watch,
        &["dr -38.0,-21.0 sigma 0.3 @0340", "trk 000 120 @0340", "trk 090 120 @0412"],
    );
    watch.apply(&accept("2031-03-09T04:10:00Z", -37.08, 0.4)).unwrap();
    assert_eq!(watch.offer(), None);
}

/// A slow run north with two fixes half an hour apart and the drift used, after some first lines.
fn slow(first: &[&str], speed_kn: f64) -> Watch {
    let mut watch = watch();
    enter(&mut watch, first);
    let track = format!("trk 000 {speed_kn} @0340");
    enter(&mut watch, &["dr -38.0,-21.0 sigma 0.3 @0340", &track]);
    let due = -38.0 + 0.5 * speed_kn / 60.0;
    watch.apply(&accept("2031-03-09T04:10:00Z", due, 0.4)).unwrap();
    assert!(!enter(&mut watch, &["drift"])[0].starts_with('!'));
    watch
}

#[test]
fn a_slow_aircraft_is_carried_by_a_wind() {
    use crate::reckon::Craft;
    let half_an_hour_on = |watch: &Watch| sigma_nm(watch, "2031-03-09T04:40:00Z", 0.0);
    // Forty-five knots over the ground: what carries it is told by height, airspeed and set.
    let high = slow(&[], 45.0);
    assert_eq!(high.craft(), Craft::Aircraft);
    let afloat = slow(&["h 49"], 45.0);
    assert_eq!(afloat.craft(), Craft::Vessel);
    // Higher than any ship's antenna.
    assert_eq!(slow(&["h 230"], 45.0).craft(), Craft::Aircraft);
    let low = slow(&["h 200", "tas 80"], 45.0);
    assert_eq!(low.craft(), Craft::Aircraft);
    let (wind, stream) = (half_an_hour_on(&high), half_an_hour_on(&afloat));
    assert!(wind > 3.0 && (half_an_hour_on(&low) - wind).abs() < 0.01, "{wind}");
    // 0.4 NM, a stream found within 1.1 kn that changes by 1 kn in three hours, leeway.
    assert!(stream < 1.5, "{stream}");
    let mut cosecant = slow(&["h 49"], 45.0);
    cosecant.radar.set.cosecant_to_deg = Some(30.0);
    assert_eq!(cosecant.craft(), Craft::Aircraft);
    // No speed at all: nothing tells.
    assert_eq!(Watch::blank(watch().radar, Height::SEA_LEVEL).craft(), Craft::Aircraft);
}

#[test]
fn a_speed_or_height_said_after_the_drift_counts_as_if_said_before() {
    let half_an_hour_on = |watch: &Watch| sigma_nm(watch, "2031-03-09T04:40:00Z", 0.0);
    let before = half_an_hour_on(&slow(&["h 200", "tas 80"], 45.0));
    for late in ["tas 80", "h 2000"] {
        let mut watch = slow(&["h 200"], 45.0);
        let narrow = half_an_hour_on(&watch);
        enter(&mut watch, &[late]);
        let wide = half_an_hour_on(&watch);
        assert!((wide / before - 1.0).abs() < 0.02, "{late}: {wide} and {before}");
        enter(&mut watch, &["undo"]);
        assert!((half_an_hour_on(&watch) - narrow).abs() < 1e-9);
    }
}

#[test]
fn a_drift_of_no_sound_error_is_refused() {
    let watch = with_a_drift();
    let Some(What::Drift(kept)) = watch.last_change().cloned() else { panic!() };
    let mut fresh = watch.clone();
    fresh.apply(&What::Undo).unwrap();
    let refusal = |change: fn(&mut DriftEntry)| {
        let mut entry = kept;
        change(&mut entry);
        fresh.clone().apply(&What::Drift(entry)).unwrap_err().to_string()
    };
    assert_eq!(
        refusal(|entry| entry.covariance_kn2 = [[1.0, 2.0], [2.0, 1.0]]),
        "the error of the drift, [[1.0, 2.0], [2.0, 1.0]] kn², is no covariance of up to 500 kn on an axis"
    );
    for covariance in [
        [[-1.0, 0.0], [0.0, 1.0]],
        [[f64::NAN, 0.0], [0.0, 1.0]],
        [[1.0, 0.5], [0.1, 1.0]],
        [[250_001.0, 0.0], [0.0, 1.0]],
    ] {
        let mut entry = kept;
        entry.covariance_kn2 = covariance;
        assert!(fresh.clone().apply(&What::Drift(entry)).is_err(), "{covariance:?}");
    }
    assert_eq!(
        refusal(|entry| entry.found_over_s = Some(f64::INFINITY)),
        "the drift was found over inf s: a time from nought to 24 h is taken"
    );
    assert_eq!(
        refusal(|entry| entry.with_position_nm_kn = Some([[f64::NAN, 0.0], [0.0, 0.0]])),
        "what the drift's error shares with the position, [[NaN, 0.0], [0.0, 0.0]] NM·kn, is no covariance"
    );
    assert!(fresh.apply(&What::Drift(kept)).is_ok());
}
