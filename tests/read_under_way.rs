//! Contacts read under way: each is judged by what was in sight from where it was read.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::path::Path;

use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::fix::{Fix, Options, Verdict, fix};
use foreland::units::Angle;

/// The answer on the sample chart; for a time of the day of the sightings, where one is given.
fn answer(text: &str, time: Option<&str>) -> Fix {
    let sightings = Sightings::parse(text, "test", Path::new("")).unwrap();
    let time = time.map(|time| format!("2031-03-09T{time}Z").parse().unwrap());
    fix(&Chart::sample().unwrap(), &sightings, &Options { time, ..Options::default() })
}

/// A run from the west at 165 knots, with echoes of these ranges and bearings, all at one time.
fn sightings(own: &str, echoes: &[(f64, f64)], at: &str) -> String {
    let echo = |(range, bearing): &(f64, f64)| {
        format!(
            "[[contact]]\nrange_nm = {range}\nbearing_deg = {bearing}\ntime = \"2031-03-09T{at}Z\"\n"
        )
    };
    format!("{own}\n{}", echoes.iter().map(echo).collect::<String>())
}

const LOW: &str = r#"
    [reckoning]
    time = "2031-03-09T03:10:00Z"
    position = "-38.2, -22.6"
    sigma_nm = 3.0
    track_deg = 90.0
    speed_kn = 165.0
    track_sigma_deg = 1.0
    speed_sigma_kn = 2.0
    [own]
    height_ft = 300
    heading_sigma_deg = 1.0
    [radar]
    set = "patrol"
"#;

/// From 300 ft the horizon is 21 NM off (by hand, 1.23 NM times the root of the feet), and 60 to 78 NM off no mark
/// of this coast is in sight: none is of 1,900 ft (44 NM more to 38 NM).
#[test]
fn what_could_not_paint_where_it_was_read_does_not_paint_for_being_near_later() {
    let echoes = [(67.66, 81.1), (61.27, 91.1), (78.17, 111.8), (67.0, 71.6)];
    let text = sightings(LOW, &echoes, "03:10:00");
    for time in [None, Some("03:26:00")] {
        let found = answer(&text, time);
        assert_eq!(found.verdict, Verdict::AtOdds, "{time:?}: {found:?}");
    }
}

const LONG: &str = r#"
    [reckoning]
    time = "2031-03-09T03:10:00Z"
    position = "-38.149524, -24.132050"
    sigma_nm = 0.2
    track_deg = 90.0
    speed_kn = 165.0
    track_sigma_deg = 3.0
    speed_sigma_kn = 5.0
    [own]
    height_ft = 2000
    heading_sigma_deg = 1.0
    [radar]
    set = "patrol"
"#;

/// Forty minutes on at 165 knots within 5 knots and 3° the place is good to 6 NM: marks are in sight from as far off.
#[test]
fn a_well_known_start_and_a_long_run_leave_all_that_may_be_in_sight_in_sight() {
    let echoes = [(16.05, 102.8), (23.65, 70.4), (19.77, 116.4), (24.44, 89.2)];
    let found = answer(&sightings(LONG, &echoes, "03:50:00"), None);
    assert_eq!(found.verdict, Verdict::Fixed, "{found:?}");
    let paints = found.identities.iter().filter_map(|identity| identity.paint_probability);
    assert!(paints.filter(|chance| *chance > 0.5).count() >= 3, "{found:?}");
}

/// Due west along a parallel the meridians turn: 55 NM on at 38° S by 0.7°. Where it is by then follows from the
/// radius of the parallel alone, a cos φ / √(1 − e² sin² φ) of WGS84.
#[test]
fn a_contact_of_a_while_ago_is_carried_on_by_the_meridians_of_then() {
    let (lat, lon) = (-38.269_709_f64, -21.619_182_f64);
    let text = format!(
        r#"
        [reckoning]
        time = "2031-03-09T03:40:00Z"
        position = "{lat},{lon}"
        sigma_nm = 3.0
        track_deg = 270.0
        speed_kn = 165.0
        track_sigma_deg = 0.1
        speed_sigma_kn = 0.3
        [own]
        height_ft = 2000
        heading_sigma_deg = 0.1
        [radar]
        set = "patrol"
        range_sigma_nm = 0.02
        bearing_sigma_deg = 0.1
        [chart]
        point_sigma_nm = 0.01
        shift_sigma_nm = 0.01
        [[contact]]
        range_nm = 15.0034
        bearing_deg = 80.1935
        part = "centre"
        mark = "Ember Light"
        mark_confidence = 0.999
        "#
    );
    let place = |time| {
        let found = answer(&text, time);
        found.position.or(found.most_probable.map(|estimate| estimate.position)).unwrap()
    };
    let (there, found) = (place(None), place(Some("04:00:00")));
    let phi = Angle::from_degrees(lat).radians();
    let parallel_m = 6_378_137.0 * phi.cos() / (1.0 - 6.694_38e-3 * phi.sin().powi(2)).sqrt();
    let west_deg = Angle::from_radians(55.0 * 1_852.0 / parallel_m).degrees();
    let off_north_nm = (found.latitude() - there.latitude()) * 60.0;
    let off_east_nm = (found.longitude() - there.longitude() + west_deg) * 60.0 * phi.cos();
    assert!(off_north_nm.hypot(off_east_nm) < 0.05, "{off_north_nm} {off_east_nm}");
}
