use std::fmt::Write;
use std::path::Path;

use super::*;
use crate::fix::setting::{Setting, setting};

/// Of the sample, with ground that rises slowly behind it.
const HEAD: &str = "Head 37°55.58'S 020°39.96'W";

/// Their horizons lie 6.8 NM apart, by hand 1.23 NM times the root of the feet: 27.5 NM, 34.3, 41.1 and so on.
const FEET: [f64; 11] =
    [500.0, 778.0, 1_117.0, 1_517.0, 1_978.0, 2_500.0, 3_083.0, 3_728.0, 4_434.0, 5_200.0, 6_028.0];

/// Contacts of the head, 46.3 NM off, one from each height; own height now is 500 ft.
fn seen_from(heights: &[f64]) -> Sightings {
    let mut text =
        "[reckoning]\ntime = \"2031-03-09T03:40:00Z\"\nposition = \"-37.98968, -19.69364\"\n\
                    sigma_nm = 5.0\n[own]\nheight_ft = 500\n[radar]\nset = \"patrol\"\n"
            .to_owned();
    for (number, feet) in heights.iter().enumerate() {
        write!(
            text,
            "[[contact]]\nlabel = \"C{number}\"\npart = \"near\"\nown_height_ft = {feet}\n\
             range_nm = 46.3\nbearing_deg = 274.4\nmark = \"{HEAD}\"\n"
        )
        .unwrap();
    }
    Sightings::parse(&text, "test", Path::new("")).unwrap()
}

/// What a contact was read to, where the reckoning has own place.
fn answer(about: &Setting<'_>, sight: usize) -> Answer {
    let head = about.names.iter().position(|name| name == HEAD).unwrap();
    about.ground.point(sight, head, about.problem.prior.position, 0.0).unwrap()
}

/// With more than eight levels heights whose horizons lie 8 NM apart count as one for chances of sight: 778 ft as
/// 500 or 1,117, from where the echo begins 0.7 NM farther off, or 1 NM nearer.
#[test]
fn a_range_answers_from_its_own_height_however_many_others_there_are() {
    let chart = Chart::sample().unwrap();
    let alone = FEET.map(|feet| answer(&setting(&chart, &seen_from(&[feet]), None), 0));
    let miles = |sight: usize| alone[sight].late_m / METRES_PER_NAUTICAL_MILE;
    // By hand for 4/3 of the Earth's radius: 1 NM behind a head 46.3 NM off, 778 ft see nothing under 34 m (13 NM
    // squared over 16,990 km), 1,117 ft all above 8 m, and 500 ft at 1.7 NM nothing under 85 m.
    assert!((miles(0) - 1.7).abs() < 0.15, "{}", miles(0));
    assert!((miles(1) - 1.0).abs() < 0.15, "{}", miles(1));
    assert!(miles(2) < 0.2, "{}", miles(2));
    let sightings = seen_from(&FEET);
    let many = setting(&chart, &sightings, None);
    let level = many.problem.sights[1].level;
    assert_ne!(many.ground.levels.height(level), sightings.contacts[1].own_height);
    for (sight, expected) in alone.iter().enumerate() {
        assert_eq!(answer(&many, sight), *expected, "from {} ft", FEET[sight]);
    }
}
