use super::aim_off::{LARGEST_SIGMAS, RATHER_MORE};
use super::*;
use crate::geodesy::Position;
use crate::paint::approach::approach;
use crate::units::{Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, Speed};

fn plan(from: &str, track_deg: f64, sigma_nm: f64) -> Plan {
    Plan {
        from: from.parse().unwrap(),
        track: Bearing::from_degrees(track_deg).unwrap(),
        speed: Speed::from_knots(20.0).unwrap(),
        height: Height::from_feet(50.0).unwrap(),
        sigma: GroundRange::from_nautical_miles(sigma_nm).unwrap(),
        track_sigma: Angle::from_degrees(2.0),
        speed_sigma: Speed::from_knots(0.6).unwrap(),
    }
}

fn prepared(plan: &Plan, landfall: Option<&str>) -> (Chart, Approach, Preparation) {
    let chart = Chart::sample().unwrap();
    let set = Set::builtin("boat").unwrap();
    let conditions = Conditions::default();
    let place = landfall.map(|text| text.parse::<Position>().unwrap());
    let asked = place.is_none().then(|| GroundRange::from_nautical_miles(10.0).unwrap());
    let found = approach(&chart, plan, &set, &conditions, asked, place).unwrap();
    let prepared = prepare(&chart, plan, &set, &conditions, Timestamp::UNIX_EPOCH, &found);
    (chart, found, prepared)
}

#[test]
fn rather_more_than_the_largest_error_is_ten_and_eleven() {
    // A navigation textbook's rule, second-hand: 10 NM expected, aim off 11. The largest error is
    // taken as 99 % of a normal one, 2.5758 standard deviations (normal table): 10 NM is one
    // standard deviation of 3.8823 NM.
    let amount = RATHER_MORE * LARGEST_SIGMAS * 3.8823;
    assert!((amount - 11.0).abs() < 1e-3, "{amount}");
}

#[test]
fn aiming_off_turns_the_track_by_the_amount_over_the_distance() {
    // Off the shore south of Gannet Head, where no mark stands.
    let plan = plan("38 17 S, 21 40 W", 72.0, 2.0);
    let (_, found, prepared) = prepared(&plan, Some("38 08.0 S, 21 04.5 W"));
    let aim = prepared.aim_off.unwrap();
    let run_nm = found.landfall.unwrap().run.nautical_miles();
    // Across at the landfall: hypot(2 NM, 2 degrees over the run).
    let sigma_nm = 2.0_f64.hypot(0.034_907 * run_nm);
    assert!((aim.largest_error.nautical_miles() - 2.575_829 * sigma_nm).abs() < 1e-3);
    assert!((aim.amount.nautical_miles() / aim.largest_error.nautical_miles() - 1.1).abs() < 1e-9);
    assert_eq!(aim.advice, AimOffAdvice::AimOff, "{}", aim.why);
    // Great Ember, Little Ember and North Varrow against Gannet Head and a peak behind it.
    assert_eq!(aim.side, Some(Side::Starboard), "{}", aim.why);
    assert_eq!(aim.sides.len(), 2);
    for seen in &aim.sides {
        // Eleven in 120 NM turn a track by 5.24 degrees, atan(11/120) (computed): so here, from the
        // bearing of the landfall itself.
        let landfall = found.landfall.unwrap();
        let (straight, metres) = crate::geodesy::rhumb_course(plan.from, landfall.planned);
        let turned = seen.track.minus(straight).radians().abs();
        let expected = (aim.amount.metres() / metres).atan();
        assert!((turned - expected).abs() < 0.03, "{turned} {expected}");
        let port = seen.side == Side::Port;
        assert_eq!(seen.track.minus(straight).degrees() < 0.0, port, "{seen:?}");
    }
}

#[test]
fn a_track_that_misses_the_landfall_is_told_with_the_one_straight_to_it() {
    // Ten degrees to the right of the bearing of the landfall, 30 NM off: 5.2 NM to its right.
    let landfall = "38 08.0 S, 21 04.5 W";
    let straight = plan("38 17 S, 21 40 W", 72.0, 2.0);
    let to = landfall.parse().unwrap();
    let (bearing, metres) = crate::geodesy::rhumb_course(straight.from, to);
    for (turn, missed) in [(10.0, true), (0.0, false), (-10.0, true)] {
        let track = bearing.turned(Angle::from_degrees(turn));
        let (_, _, prepared) = prepared(&Plan { track, ..straight }, Some(landfall));
        let aim = prepared.aim_off.unwrap();
        assert!(aim.direct.minus(bearing).degrees().abs() < 1e-6);
        assert_eq!(aim.missed_m.is_some(), missed, "{turn}");
        let off = aim.missed_m.unwrap_or(0.0);
        let expected = -metres * Angle::from_degrees(turn).radians().sin();
        assert!((off - expected).abs() < 0.02 * metres, "{off} {expected}");
    }
}

#[test]
fn without_a_landfall_there_is_nothing_to_aim_off_or_deny() {
    let (_, _, prepared) = prepared(&plan("38 17 S, 21 40 W", 60.0, 2.0), None);
    assert!(prepared.aim_off.is_none() && prepared.denials.is_empty());
}

#[test]
fn what_is_measured_shortens_the_ellipse_and_two_marks_more_than_one() {
    let plan = plan("38 17 S, 21 40 W", 60.0, 2.0);
    let (chart, found, prepared) = prepared(&plan, Some("38 02.0 S, 21 13.0 W"));
    assert!(!prepared.looks.is_empty());
    for look in &prepared.looks {
        // The reckoning's own: 2 NM at the start, 3 % and 2 degrees of the run, at 2.4477.
        let run_nm = look.run_m / METRES_PER_NAUTICAL_MILE;
        let across = 2.0_f64.hypot(0.034_907 * run_nm);
        let before = look.before.semi_major.nautical_miles();
        assert!((before - 2.4477 * across).abs() < 0.01, "{before} {across}");
        let one = look.one.as_ref().unwrap();
        assert!(one.after.semi_major < look.before.semi_major);
        if let Some(two) = &look.two {
            // Ranges alone may be told where bearings add little.
            let most = 1.0 / 0.85 * one.after.semi_major.nautical_miles();
            assert!(two.after.semi_major.nautical_miles() < most);
        }
        for take in look.one.iter().chain(&look.two).flat_map(|choice| &choice.takes) {
            assert!(take.chance >= 0.9, "{take:?}");
            let sure = found.events.iter().find(|event| {
                event.kind == EventKind::FirstPaint90 && event.seen.mark == take.mark
            });
            assert!(sure.unwrap().spread.latest_s.unwrap() <= look.seconds + 1.0);
            assert!(chart.marks().get(take.mark).is_some());
        }
    }
}
