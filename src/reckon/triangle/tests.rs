use super::*;

/// Figures computed with another program to three decimals.
const COMPUTED: f64 = 6e-4;

fn bearing(degrees: f64) -> Bearing<True> {
    Bearing::from_degrees(degrees).unwrap()
}

fn knots_of(value: f64) -> Speed {
    Speed::from_knots(value).unwrap()
}

fn wind(from: f64, knots: f64) -> Wind {
    Wind { from: bearing(from), speed: knots_of(knots) }
}

#[test]
fn headings_to_steer_are_those_of_the_plotting_exercises() {
    // Track, TAS, wind; heading and ground speed computed; then as quoted, where it is: a
    // handbook's figures from memory (first), a licence question bank and a worked plotting answer
    // seen second-hand (the next four). Plotted answers are good to 1° and 2 kn.
    type Exercise = (f64, f64, f64, f64, f64, Option<f64>, Option<(f64, Option<f64>)>);
    let exercises: [Exercise; 6] = [
        (90.0, 120.0, 45.0, 40.0, 76.367, Some(88.335), Some((76.0, Some(88.0)))),
        (180.0, 180.0, 100.0, 18.0, 174.348, Some(175.999), Some((174.0, Some(176.0)))),
        (110.0, 200.0, 15.0, 40.0, 98.508, Some(199.476), Some((99.0, Some(199.0)))),
        (255.0, 100.0, 200.0, 10.0, 250.301, Some(93.928), Some((250.0, None))),
        (136.0, 450.0, 0.0, 30.0, 133.346, Some(471.097), Some((133.0, Some(473.0)))),
        (0.0, 90.0, 270.0, 10.0, 353.621, Some(89.443), None),
    ];
    for (track, tas, from, strength, heading, speed, quoted) in exercises {
        let made = to_make_good(bearing(track), knots_of(tas), wind(from, strength)).unwrap();
        let steered = made.heading.unwrap().degrees();
        assert!((steered - heading).abs() < COMPUTED, "{track}: {steered}");
        if let Some(speed) = speed {
            assert!((made.speed.knots() - speed).abs() < COMPUTED, "{track}: {:?}", made.speed);
        }
        if let Some((heading, speed)) = quoted {
            assert!((steered - heading).abs() < 1.0, "{track}: {steered}");
            assert!(speed.is_none_or(|speed| (made.speed.knots() - speed).abs() < 2.0));
        }
        // And back again.
        let again = made_good(made.heading.unwrap(), knots_of(tas), wind(from, strength));
        assert!(again.track.unwrap().minus(bearing(track)).degrees().abs() < 1e-9);
        assert!((again.speed.knots() - made.speed.knots()).abs() < 1e-9);
    }
}

#[test]
fn a_mental_ground_speed_is_five_knots_off() {
    // Track 337, 465 kn, wind 220 at 50 kn: 490 kn by a mental rule (seen second-hand); 485.56
    // computed.
    let made = to_make_good(bearing(337.0), knots_of(465.0), wind(220.0, 50.0)).unwrap();
    assert!((made.speed.knots() - 485.560).abs() < COMPUTED);
    assert!((made.speed.knots() - 490.0).abs() < 5.0);
}

#[test]
fn a_heading_without_correction_drifts() {
    // Heading 045, 75 kn, wind 135 at 20 kn. Seen second-hand: after 2 h 40 NM north-west
    // of the still-air place, track about 15° left; figures computed.
    let made = made_good(bearing(45.0), knots_of(75.0), wind(135.0, 20.0));
    assert!((made.track.unwrap().degrees() - 30.069).abs() < COMPUTED);
    assert!((made.speed.knots() - 77.621).abs() < COMPUTED);
    assert!((made.drift().unwrap().degrees() - -14.931).abs() < COMPUTED);
    let carried = Flow::from(wind(135.0, 20.0)).velocity();
    assert!((carried.direction().degrees() - 315.0).abs() < 1e-9);
    assert!((2.0 * carried.knots() - 40.0).abs() < 1e-9);
}

#[test]
fn maximum_drift_and_the_clock_code() {
    // Mental rule (seen second-hand): greatest drift = wind / (TAS in miles a minute); of it a
    // quarter, a third, a half, three quarters and the whole at 15°, 20°, 30°, 45° and over 60° off.
    // Wind 270 at 15 kn, TAS 90: headings 350, 320, 295, 287 for tracks 360, 330, 300, 290.
    let share = |off: f64| match off {
        off if off >= 60.0 => 1.0,
        off if off >= 45.0 => 0.75,
        off if off >= 30.0 => 0.5,
        _ => 1.0 / 3.0,
    };
    let most = 15.0 / (90.0 / 60.0);
    for (track, rule, exact) in [
        (0.0, 350.0, 350.41),
        (330.0, 320.0, 321.70),
        (300.0, 295.0, 295.22),
        (290.0, 287.0, 286.73),
    ] {
        let made = to_make_good(bearing(track), knots_of(90.0), wind(270.0, 15.0)).unwrap();
        let heading = made.heading.unwrap();
        assert!(heading.minus(bearing(exact)).degrees().abs() < 6e-3, "{track}: {heading}");
        assert!(heading.minus(bearing(rule)).degrees().abs() < 2.0, "{track}: {heading}");
        let off = bearing(track).minus(bearing(270.0)).degrees() + 1e-9;
        let mental = bearing(track).turned(Angle::from_degrees(-most * share(off)));
        assert!(mental.minus(bearing(rule)).degrees().abs() < 0.5, "{track}: {mental}");
    }
}

#[test]
fn what_the_flow_forbids_is_refused() {
    let refused = to_make_good(bearing(90.0), knots_of(30.0), wind(0.0, 40.0)).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "40.0 kn of wind across the track are more than the 30.0 kn it makes: no heading holds this track"
    );
    let refused = to_make_good(bearing(0.0), knots_of(30.0), wind(0.0, 40.0)).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "against the wind it makes -10.0 kn along the track, not forward: it never arrives"
    );
    let stream = Current { set: bearing(180.0), drift: knots_of(5.0) };
    let refused = to_make_good(bearing(0.0), knots_of(5.0), stream).unwrap_err();
    assert!(matches!(refused, TriangleError::NeverForward { flow: "current", .. }));
    assert!(along_heading(bearing(0.0), knots_of(10.0), wind(90.0, 20.0)).is_err());
}

#[test]
fn a_speed_made_good_on_a_heading() {
    // Heading 052, 250 kn, wind 092.28 at 41.47 kn gives 220 kn on 045 (computed): and back.
    let made = along_heading(bearing(52.0), knots_of(220.0), wind(92.284, 41.474)).unwrap();
    assert!((made.through.unwrap().knots() - 250.0).abs() < 0.01);
    assert!((made.track.unwrap().degrees() - 45.0).abs() < 0.01);
    let held = behind(bearing(45.0), knots_of(220.0), wind(92.284, 41.474).into());
    assert!((held.heading.unwrap().degrees() - 52.0).abs() < 0.01);
}

#[test]
fn a_current_carries_toward_and_a_wind_from() {
    let wind = Flow::from(wind(270.0, 10.0)).velocity();
    let current = Flow::from(Current { set: bearing(90.0), drift: knots_of(10.0) }).velocity();
    assert!(wind.minus(current).metres_per_second() < 1e-12);
    assert!(wind.east > 5.0 && wind.north.abs() < 1e-9);
    let adrift =
        made_good(bearing(0.0), Speed::ZERO, Current { set: bearing(127.0), drift: knots_of(2.5) });
    assert!((adrift.track.unwrap().degrees() - 127.0).abs() < 1e-9);
    assert!((adrift.speed.knots() - 2.5).abs() < 1e-9);
}
