mod headings;

use std::fmt::Write;

use super::*;
use crate::reckon::{When, reckon};

/// Every key of a leg that goes with the others.
const WHOLE: &str = r#"
[start]
time = "2031-03-09T01:10:00Z"
position = "36 40.0 S, 28 05.0 W"
sigma_nm = 0.5
heading_sigma_deg = 1.0
speed_sigma_percent = 2.5
flow_hours = 2.0
wander_nm = 0.2
variation = "10.3 E"
deviation = "2.0 W"
gyro_error = "1.0 W"

[[leg]]
heading_deg = 52.0
heading_kind = "true"
tas_kn = 250
minutes = 15
wind = { from_deg = 92.0, speed_kn = 41.0, sigma_kn = 10.0 }

[[leg]]
time = "2031-03-09T01:25:00Z"
track_deg = 63.0
heading_kind = "compass"
tas_kn = 250
distance_nm = 66.5
wind = { from_deg = 92.0, speed_kn = 41.0 }

[[leg]]
heading_deg = 286.1
heading_kind = "compass"
speed_kn = 200
minutes = 6
wind = { from_deg = 92.0, speed_kn = 41.0 }

[[fix]]
time = "2031-03-09T01:25:00Z"
position = "35 59 S, 27 18 W"
sigma_nm = 1.0
"#;

fn parsed(text: &str) -> Legs {
    Legs::parse(text, "legs.toml").unwrap_or_else(|error| {
        panic!("{:?}", error.faults().iter().map(|f| f.wrong.to_string()).collect::<Vec<_>>())
    })
}

#[test]
fn every_key_is_taken() {
    let legs = parsed(WHOLE);
    let [first, second, third] = legs.legs.as_slice() else { panic!("three legs") };
    assert!((first.made.speed.knots() - 220.18).abs() < 0.01);
    assert!((first.made.drift().unwrap().degrees() - -6.9).abs() < 0.1);
    assert_eq!(second.start.to_string(), "2031-03-09T01:25:00Z");
    assert!((second.distance_nm() - 66.5).abs() < 1e-6);
    let steer = second.steer.as_ref().unwrap();
    // T less 10.3 E is M, less 2.0 W is C: 8.3° less in all.
    let truly = second.made.heading.unwrap().degrees();
    assert!((steer.degrees - (truly - 8.3)).abs() < 1e-9);
    assert!(second.conversion[0].starts_with("to steer: T "), "{:?}", second.conversion);
    assert_eq!(third.conversion, ["heading: C 286.1, dev 2.0 W, M 284.1, var 10.3 E, T 294.4"]);
    assert!((third.made.heading.unwrap().degrees() - 294.4).abs() < 1e-9);
    assert!((third.made.speed.knots() - 200.0).abs() < 1e-9);
    assert_eq!(legs.defaults, ["flow_sigma_kn"]);
    assert_eq!(legs.fixes.len(), 1);
    // 161.5 kn at 3° a second is a radius of 0.857 NM; 133.2° of arc end 1.99 NM off (computed).
    let [turns] = legs.cautions.as_slice() else { panic!("{:?}", legs.cautions) };
    assert!(turns.contains("onto leg 3 at 161 kn, sets that leg 1.99 NM off"), "{turns}");
    assert!((legs.model.heading_sigma.degrees() - 1.0).abs() < 1e-9);
}

#[test]
fn json_has_the_same_keys() {
    let table: toml::Table = WHOLE.parse().unwrap();
    let json = parsed(&serde_json::to_string(&table).unwrap());
    assert_eq!(json, parsed(WHOLE));
}

#[test]
fn positions_are_told_at_the_ends_and_between() {
    let found = reckon(&parsed(WHOLE), Some(600.0));
    let told: Vec<(usize, When)> = found.passed.iter().map(|p| (p.leg, p.when)).collect();
    assert_eq!(
        told,
        [
            (1, When::Start),
            (1, When::OnTheWay),
            (1, When::LegEnd),
            (2, When::Fix),
            (2, When::OnTheWay),
            (2, When::OnTheWay),
            (2, When::LegEnd),
            (3, When::LegEnd),
        ]
    );
    let plain = reckon(&parsed(WHOLE), None);
    assert_eq!(plain.passed.len(), 5);
    // Asked for between or not, it comes to the same end but for the rounding of the steps.
    let (a, b) = (plain.end.position(), found.end.position());
    assert!(crate::geodesy::distance(a, b).metres() < 1.0);
    assert_eq!(plain.end.time(), found.end.time());
    let times: Vec<_> = found.passed.iter().map(|p| p.time).collect();
    assert!(times.is_sorted());
}

#[test]
fn a_fix_weighs_as_much_as_it_moves_the_reckoning_toward_itself() {
    // Reckoning 8 NM along 045 and 1 NM across, a fix good to 1 NM due east: halves of 64/65 and of 1/2
    // along the line between them, 0.742 (by hand). The reckoning moves farther than that, aside.
    let legs = parsed(
        "[start]\ntime = \"2031-03-09T01:10:00Z\"\nposition = \"0.0,-28.0\"\nsigma_along_nm = 8.0\n\
         sigma_across_nm = 1.0\ntrack_deg = 45.0\n[[leg]]\ntas_kn = 0\nminutes = 1\n[[fix]]\n\
         time = \"2031-03-09T01:11:00Z\"\nposition = \"0.0,-27.933333\"\nsigma_nm = 1.0\n",
    );
    let found = reckon(&legs, None);
    let [fix] = found.fixes.as_slice() else { panic!("one fix") };
    assert!(fix.taken && (fix.weight - 0.742).abs() < 2e-3, "{}", fix.weight);
}

const HEAD: &str = "[start]\ntime = \"2027-07-02T12:00:00Z\"\nposition = \"-80.0,-120.0\"\n\
                    sigma_nm = 0.5\n";

#[test]
fn variation_comes_from_the_magnetic_model_by_place_and_date() {
    // 80° S 120° W, 2027.5, at sea level: 68.49 E in the table of the World Magnetic Model 2025 report,
    // 68.4861 by an independent library.
    let legs = parsed(&format!(
        "{HEAD}[[leg]]\nheading_deg = 90\nheading_kind = \"magnetic\"\ntas_kn = 10\nminutes = 30\n"
    ));
    let heading = legs.legs[0].made.heading.unwrap().degrees();
    assert!((heading - 158.4861).abs() < 0.01, "{heading}");
    let [model, chain] = legs.legs[0].conversion.as_slice() else { panic!("two lines") };
    assert!(model.starts_with("variation 68.5 E by the World Magnetic Model"), "{model}");
    assert_eq!(chain, "heading: M 090.0, var 68.5 E, T 158.5");
    // The model's own error is in the heading's.
    assert!(legs.model.heading_sigma.degrees() > 1.0);
}

#[test]
fn a_deviation_table_serves_headings_by_compass() {
    let mut text = format!(
        "{HEAD}variation = \"10.0 E\"\n[[leg]]\nheading_deg = 22.5\nheading_kind = \"compass\"\n\
         tas_kn = 10\nminutes = 30\n"
    );
    for (heading, deviation) in (0..8).zip(["2 W", "1 W", "1 E", "3 E", "2 E", "0 E", "2 W", "4 W"])
    {
        writeln!(
            text,
            "[[deviation]]\nheading_deg = {}\ndeviation = \"{deviation}\"",
            45 * heading
        )
        .unwrap();
    }
    let legs = parsed(&text);
    assert_eq!(
        legs.legs[0].conversion,
        ["heading: C 022.5, dev 1.5 W, M 021.0, var 10.0 E, T 031.0"]
    );
}

#[test]
fn the_craft_follows_from_what_carries_it() {
    let leg =
        |rest: &str| parsed(&format!("{HEAD}[[leg]]\nheading_deg = 90\nminutes = 30\n{rest}\n"));
    let craft = |rest: &str| leg(rest).model.craft;
    assert_eq!(craft("tas_kn = 10\nwind = { from_deg = 0, speed_kn = 5 }"), Craft::Aircraft);
    assert_eq!(craft("tas_kn = 100\ncurrent = { set_deg = 0, drift_kn = 1 }"), Craft::Vessel);
    assert_eq!(craft("tas_kn = 100"), Craft::Aircraft);
    assert_eq!(craft("speed_kn = 10"), Craft::Vessel);
    let told = leg("tas_kn = 100");
    assert_eq!(told.cautions.len(), 2, "{:?}", told.cautions);
    assert!((told.legs[0].course.spread().knots() - 25.0).abs() < 1e-9);
    let vessel = leg("tas_kn = 10\ncurrent = { set_deg = 0, drift_kn = 1, sigma_kn = 0.4 }");
    // Leeway, 3 % of 10 kn, besides the current's 0.4.
    assert!((vessel.legs[0].course.spread().knots() - 0.5).abs() < 1e-9);
}

#[test]
fn a_stop_drifts_and_one_made_fast_does_not() {
    let leg = |rest: &str| parsed(&format!("{HEAD}[[leg]]\nminutes = 60\n{rest}\n"));
    let adrift = leg("tas_kn = 0\ncurrent = { set_deg = 127, drift_kn = 2.5 }");
    assert!((adrift.legs[0].distance_nm() - 2.5).abs() < 1e-9);
    assert!((adrift.legs[0].made.track.unwrap().degrees() - 127.0).abs() < 1e-9);
    let fast = leg("speed_kn = 0");
    let found = reckon(&fast, None);
    assert_eq!(found.passed[0].position, found.passed[1].position);
    assert_eq!(fast.legs[0].made.track, None);
    // On the ground under a wind it lies as fast.
    assert_eq!(
        leg("speed_kn = 0\nwind = { from_deg = 0, speed_kn = 30 }").legs[0].made.track,
        None
    );
}

#[test]
fn times_are_those_of_the_plotting_exercises() {
    // 275 NM at 171 kn: 1 h 37 min, so 1245 makes 1422 (exactly 96.49 min); 375 NM at 473 kn: 47.5 min
    // (exactly 47.57). Licence exercises, seen second-hand. 36 min at 20 kn: 12 NM; 15 min: 5 NM.
    let minutes = |miles: f64, knots: f64| {
        let text =
            format!("{HEAD}[[leg]]\ntrack_deg = 90\nspeed_kn = {knots}\ndistance_nm = {miles}\n");
        parsed(&text).legs[0].seconds / 60.0
    };
    assert!((minutes(275.0, 171.0) - 96.49).abs() < 6e-3);
    assert!((minutes(275.0, 171.0) - 97.0).abs() < 1.0);
    assert!((minutes(375.0, 473.0) - 47.57).abs() < 6e-3);
    assert!((minutes(12.0, 20.0) - 36.0).abs() < 1e-9);
    assert!((minutes(5.0, 20.0) - 15.0).abs() < 1e-9);
}

#[test]
fn a_fix_where_a_leg_ends_tells_of_the_wind_on_that_leg() {
    // The wind found must not go by how well the next leg's forecast is stated: 38.5 kn, 8.8 (with the
    // same sigma on both legs; computed by the joint filter). What goes on from there is weighed with it.
    let legs = |sigma: f64| {
        parsed(&format!(
            "[start]\ntime = \"2031-03-09T01:00:00Z\"\nposition = \"0 0.0 N, 30 0.0 W\"\nsigma_nm = 0.1\n\
             craft = \"aircraft\"\nheading_sigma_deg = 0.01\nspeed_sigma_percent = 0.01\nwander_nm = 0.0\n\
             [[leg]]\nheading_deg = 90.0\ntas_kn = 200\nminutes = 60\n\
             wind = {{ from_deg = 270.0, speed_kn = 30.0, sigma_kn = 15.0 }}\n\
             [[fix]]\ntime = \"2031-03-09T02:00:00Z\"\nposition = \"0 0.0 N, 26 1.0 W\"\nsigma_nm = 0.5\n\
             [[leg]]\nheading_deg = 90.0\ntas_kn = 200\nminutes = 60\n\
             wind = {{ from_deg = 270.0, speed_kn = 30.0, sigma_kn = {sigma:.1} }}\n"
        ))
    };
    for sigma in [15.0, 5.0, 25.0] {
        let found = reckon(&legs(sigma), None);
        let flow = found.fixes[0].flow.unwrap();
        assert!((flow.velocity.knots() - 38.5).abs() < 0.06, "{sigma}: {flow:?}");
        assert!((flow.speed_sigma().knots() - 8.8).abs() < 0.06, "{sigma}: {flow:?}");
        let after = found.passed.iter().find(|passed| passed.when == When::Fix).unwrap();
        assert_eq!(after.leg, 2);
        let wind = after.made.speed.knots() - 200.0;
        // 8.5 over by 8.8 against 5 kn: 2.3 over.
        let expected = if sigma < 15.0 { 32.3 } else { 38.5 };
        assert!((wind - expected).abs() < 0.15, "{sigma}: {wind}");
    }
}

#[test]
fn a_flow_that_does_not_carry_the_craft_is_refused() {
    let leg = |craft: &str, flow: &str| {
        format!(
            "{HEAD}craft = \"{craft}\"\n[[leg]]\nheading_deg = 90\ntas_kn = 10\nminutes = 30\n{flow}\n"
        )
    };
    let told = |text: &str| {
        let error = Legs::parse(text, "legs.toml").expect_err(text);
        let of = error.faults().iter().map(|fault| (fault.wrong.to_string(), fault.mend.clone()));
        of.collect::<Vec<_>>()
    };
    let wind = "wind = { from_deg = 0, speed_kn = 25 }";
    let current = "current = { set_deg = 0, drift_kn = 1 }";
    let by_wind = "a wind does not carry a vessel at its own speed";
    let leave = "leave it out (leeway is in the sigma), or give the current".to_owned();
    assert_eq!(told(&leg("vessel", wind)), [(format!("leg 1: {by_wind}"), leave.clone())]);
    assert_eq!(
        told(&leg("aircraft", current)),
        [("leg 1: a current does not carry an aircraft".to_owned(), "give the wind".to_owned())]
    );
    // One for every leg is refused where it stands.
    let common = leg("vessel", "").replace("[[leg]]", &format!("{wind}\n[[leg]]"));
    assert_eq!(told(&common), [(format!("[start]: {by_wind}"), leave)]);
    assert_eq!(parsed(&leg("vessel", current)).model.craft, Craft::Vessel);
    assert_eq!(parsed(&leg("aircraft", wind)).model.craft, Craft::Aircraft);
}

#[test]
fn something_slow_with_a_wind_is_said_to_be_taken_for_an_aircraft() {
    let cautions = |craft: &str, knots: u32| {
        let legs = parsed(&format!(
            "{HEAD}{craft}[[leg]]\nheading_deg = 90\ntas_kn = {knots}\nminutes = 30\n\
             wind = {{ from_deg = 0, speed_kn = 5 }}\n"
        ));
        assert_eq!(legs.model.craft, Craft::Aircraft);
        legs.cautions
    };
    assert_eq!(
        cautions("", 10),
        [
            "a wind is stated, and nothing over 60 kn: an aircraft is taken, carried at the whole speed of the \
          wind; a vessel is not, and states none"
        ]
    );
    assert!(cautions("craft = \"aircraft\"\n", 10).is_empty());
    assert!(cautions("", 100).is_empty());
}
