//! Headings that bearings and legs go by.

use super::*;
use crate::reckon::Seen;

const START: &str = "[start]\ntime = \"2031-03-09T01:00:00Z\"\nposition = \"0.0,-28.0\"\nsigma_nm = 0.5\n\
                     variation = \"10.0 E\"\n";

/// A bearing of a mark at a time, of a kind.
fn line(time: &str, degrees: f64, kind: &str) -> String {
    format!(
        "[[line]]\ntime = \"2031-03-09T{time}Z\"\nposition = \"0.2,-27.5\"\nbearing_deg = {degrees:?}\n\
         bearing_kind = \"{kind}\"\nbearing_sigma_deg = 1.0\n"
    )
}

/// A compass whose deviation is known on every heading.
fn table() -> String {
    let entry =
        |eighth| format!("[[deviation]]\nheading_deg = {}\ndeviation = \"2.0 E\"\n", 45 * eighth);
    (0..8).map(entry).collect::<Vec<_>>().concat()
}

/// What a text is refused with, and what is said to mend it: one fault, no more.
fn refused(text: &str) -> (String, String) {
    let error = Legs::parse(text, "legs.toml").expect_err(text);
    let [fault] = error.faults() else { panic!("{:?}", error.faults()) };
    (fault.wrong.to_string(), fault.mend.clone())
}

/// The true bearing of the first line, degrees.
fn first_bearing(legs: &Legs) -> f64 {
    match legs.lines[0].seen[0] {
        Seen::Bearing { bearing, .. } => bearing.degrees(),
        Seen::Range { .. } => panic!("a range"),
    }
}

const WIND: &str = "minutes = 30\nwind = { from_deg = 0.0, speed_kn = 30.0 }\n";

#[test]
fn a_heading_worked_back_from_the_wind_turns_no_bearing() {
    let made_good = format!("{START}[[leg]]\ntrack_deg = 90\nspeed_kn = 120\n{WIND}");
    let mend = "give the leg heading_deg, or turn the bearing to true yourself".to_owned();
    let of_leg = "and that of leg 1 is only worked back from its wind";
    assert_eq!(
        refused(&format!("{made_good}{}", line("01:10:00", 315.0, "relative"))),
        (format!("line 1: a relative bearing needs own heading, {of_leg}"), mend.clone())
    );
    let by_table = format!("{made_good}{}{}", line("01:10:00", 315.0, "compass"), table());
    let needs = "line 1: a compass bearing by a table of deviation needs own heading";
    assert_eq!(refused(&by_table), (format!("{needs}, {of_leg}"), mend));
    // By one deviation for all headings no heading is asked: none stated is none, and 315 M is 325 T.
    let by_one = parsed(&format!("{made_good}{}", line("01:10:00", 315.0, "compass")));
    assert!((first_bearing(&by_one) - 325.0).abs() < 1e-9);
}

#[test]
fn a_heading_that_is_steered_turns_bearings() {
    // Steered 090 over the ground: 315 off the bow is 045, whatever the wind.
    let line = line("01:10:00", 315.0, "relative");
    let stated = format!("{START}[[leg]]\nheading_deg = 90\nspeed_kn = 120\n{WIND}{line}");
    assert!((first_bearing(&parsed(&stated)) - 45.0).abs() < 1e-9);
    // The heading that holds 090 at 60 kn through 30 kn of wind from 000: its sine to the north is a
    // half, 060; 315 off that bow is 015.
    let solved = format!("{START}[[leg]]\ntrack_deg = 90\ntas_kn = 60\n{WIND}{line}");
    assert!((first_bearing(&parsed(&solved)) - 15.0).abs() < 1e-9);
}

/// Two legs of half an hour from 01:00, the first on 090.
fn two_legs(second: &str, line: &str) -> String {
    format!(
        "{START}craft = \"vessel\"\n[[leg]]\nheading_deg = 90\ntas_kn = 10\nminutes = 30\n\
         [[leg]]\n{second}\nminutes = 30\n{line}{}",
        table()
    )
}

#[test]
fn a_bearing_off_the_bow_at_a_turn_is_refused() {
    let mend =
        "give bearing_kind = \"true\", or a time clear of the turn by half a minute and more";
    let onto = |heading: &str| format!("heading_deg = {heading}\ntas_kn = 10");
    let why = "line 1: the heading turns from 090.0 to 045.0 at 2031-03-09T01:30:00Z";
    for (time, kind) in [
        ("01:30:00", "relative"),
        ("01:29:30", "relative"),
        ("01:30:30", "relative"),
        ("01:30:00", "compass"),
    ] {
        let text = two_legs(&onto("45"), &line(time, 10.0, kind));
        assert_eq!(refused(&text), (why.to_owned(), mend.to_owned()), "{time} {kind}");
    }
    // Clear of the turn: 10 off a bow on 090 and on 045.
    for (time, bearing) in [("01:29:29", 100.0), ("01:30:31", 55.0)] {
        let legs = parsed(&two_legs(&onto("45"), &line(time, 10.0, "relative")));
        assert!((first_bearing(&legs) - bearing).abs() < 1e-9, "{time}");
    }
    // A degree of helm is no turn, and a true bearing goes by no heading.
    parsed(&two_legs(&onto("91"), &line("01:30:00", 10.0, "relative")));
    let truly = parsed(&two_legs(&onto("45"), &line("01:30:00", 10.0, "true")));
    assert!((first_bearing(&truly) - 10.0).abs() < 1e-9);
}

#[test]
fn a_bearing_off_the_bow_where_the_heading_is_lost_is_refused() {
    let text = two_legs("tas_kn = 0", &line("01:29:45", 10.0, "relative"));
    let (why, _) = refused(&text);
    assert_eq!(why, "line 1: own heading is known only until 2031-03-09T01:30:00Z");
}

#[test]
fn a_bearing_by_compass_where_the_deviation_changes_is_refused() {
    let text = format!(
        "{START}craft = \"vessel\"\n[[leg]]\nheading_deg = 90\ntas_kn = 10\nminutes = 30\n\
         deviation = \"1.0 W\"\n[[leg]]\nheading_deg = 180\ntas_kn = 10\nminutes = 30\n\
         deviation = \"2.0 E\"\n"
    );
    let (why, _) = refused(&format!("{text}{}", line("01:30:00", 10.0, "compass")));
    assert_eq!(why, "line 1: the deviation goes from 1.0 W to 2.0 E at 2031-03-09T01:30:00Z");
    // 10 by compass, 1 W and 10 E: 19.
    let clear = parsed(&format!("{text}{}", line("01:10:00", 10.0, "compass")));
    assert!((first_bearing(&clear) - 19.0).abs() < 1e-9);
}

#[test]
fn the_variation_of_a_bearing_is_that_of_the_place_it_was_taken_at() {
    // 1440 NM along the parallel of 50 N, whose radius on the ellipsoid is 4,107.9 km: 37.197° of
    // longitude from 50 W is 12.803 W (by hand). The variation there is 3.0 W, at the start 16.4 W.
    let legs = parsed(
        "[start]\ntime = \"2027-07-02T12:00:00Z\"\nposition = \"50.0,-50.0\"\nsigma_nm = 1.0\n\
         craft = \"aircraft\"\n[[leg]]\ntrack_deg = 90\nspeed_kn = 480\nminutes = 190\n\
         [[line]]\ntime = \"2027-07-02T15:00:00Z\"\nposition = \"50.3,-12.0\"\nbearing_deg = 60\n\
         bearing_kind = \"magnetic\"\nbearing_sigma_deg = 1.0\n",
    );
    let place = crate::geodesy::Position::new(50.0, -12.803).unwrap();
    let time = "2027-07-02T15:00:00Z".parse().unwrap();
    let field = crate::geodesy::magnetic_variation(place, crate::units::Height::SEA_LEVEL, time);
    let turned = first_bearing(&legs) - 60.0;
    assert!((turned - field.variation.east().degrees()).abs() < 0.01, "{turned}");
    assert!((turned - -3.0).abs() < 0.06, "{turned}");
    let chain = legs.lines[0].conversion.as_deref().unwrap();
    assert!(
        chain.starts_with("variation 3.0 W by the World Magnetic Model where it was taken, 50°00"),
        "{chain}"
    );
}

/// A leg of so many minutes from 50 N 50 W at 480 kn, steering 106 magnetic, nearly east.
fn by_compass(minutes: u32, more: &str) -> String {
    format!(
        "[start]\ntime = \"2027-07-02T12:00:00Z\"\nposition = \"50.0,-50.0\"\nsigma_nm = 1.0\n\
         craft = \"aircraft\"\n[[leg]]\nheading_deg = 106\nheading_kind = \"magnetic\"\nspeed_kn = 480\n\
         minutes = {minutes}\n{more}"
    )
}

#[test]
fn a_leg_by_compass_on_which_the_variation_changes_is_to_be_split() {
    // The model has 16.4 W at 50 N 50 W, 12.7 W at 50.05 N 37.6 W and 15.6 W at 50.01 N 46.9 W.
    let (why, mend) = refused(&by_compass(60, ""));
    assert_eq!(
        why,
        "leg 1: the variation goes from 16.4 W where it starts to 12.7 W at 50°03.13'N 037°35.67'W: one \
         heading by compass is not one true heading so far"
    );
    assert_eq!(mend, "split the leg: the variation is to change by no more than 2° on each");
    // A variation that is stated is the operator's own.
    assert!(parsed(&by_compass(60, "variation = \"16.4 W\"\n")).cautions.is_empty());
}

#[test]
fn a_small_change_of_the_variation_is_in_the_error_of_the_heading() {
    let legs = parsed(&by_compass(15, ""));
    assert_eq!(
        legs.cautions,
        [
            "leg 1: the variation goes from 16.4 W where it starts to 15.6 W at 50°00.78'N 046°53.99'W, and \
          is taken as it starts: the change is counted as an error of the heading"
        ]
    );
    // 1.5° of heading, 0.38 of the model and 0.8 of change: 1.74 (by hand; the change as told to 0.1).
    let sigma = legs.model.heading_sigma.degrees();
    assert!((sigma - 1.742).abs() < 0.06, "{sigma}");
    // A quarter of a degree in five minutes is lost beside the model's own error: 1.55.
    let short = parsed(&by_compass(5, ""));
    assert!(short.cautions.is_empty(), "{:?}", short.cautions);
    assert!((short.model.heading_sigma.degrees() - 1.548).abs() < 1e-3);
}

#[test]
fn what_to_steer_for_a_track_made_good_is_told_for_where_it_starts() {
    let text = by_compass(60, "wind = { from_deg = 270.0, speed_kn = 30.0 }\n")
        .replace("heading_deg = 106", "track_deg = 89.62");
    let legs = parsed(&text);
    let [told] = legs.cautions.as_slice() else { panic!("{:?}", legs.cautions) };
    assert!(told.starts_with("leg 1: the variation goes from 16.4 W"), "{told}");
    assert!(told.ends_with(": what to steer is told for where it starts"), "{told}");
    // Track and speed are as stated, whatever is steered.
    assert!(legs.model.heading_sigma.degrees() < 1.6);
}

#[test]
fn a_leg_near_the_pole_or_over_it_is_refused() {
    // 6 kn for ten hours: a degree of latitude, 60 NM.
    let leg = |latitude: &str, track: &str| {
        format!(
            "[start]\ntime = \"2031-03-09T01:00:00Z\"\nposition = \"{latitude},40.0\"\nsigma_nm = 0.5\n\
             craft = \"vessel\"\n[[leg]]\ntrack_deg = {track}\nspeed_kn = 6\nminutes = 600\n"
        )
    };
    let not = "nearer than 72 NM to the pole a held true heading is not reckoned";
    let mend = "keep the legs to latitudes of 88.8° and less".to_owned();
    assert_eq!(
        refused(&leg("88.9", "180")),
        (format!("leg 1: it starts at 88°54.00'N 040°00.00'E: {not}"), mend.clone())
    );
    assert_eq!(
        refused(&leg("-88.9", "90")),
        (format!("leg 1: it starts at 88°54.00'S 040°00.00'E: {not}"), mend.clone())
    );
    // From 88° N to 89° N, but for the ellipsoid.
    let (why, _) = refused(&leg("88.0", "0"));
    assert!(why.starts_with("leg 1: it runs to 88°5") && why.ends_with(not), "{why}");
    // Over the pole: 1440 NM from 70 N.
    let over =
        leg("70.0", "0").replace("speed_kn = 6\nminutes = 600", "speed_kn = 60\nminutes = 1440");
    let (why, _) = refused(&over);
    assert!(why.starts_with("leg 1: it runs to 89°59.94'N") && why.ends_with(not), "{why}");
    parsed(&leg("88.7", "180"));
    parsed(&leg("87.7", "0"));
}
