use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

use super::*;
use crate::chart::Chart;
use crate::fix::{Options, Verdict, fix};

const TWINS: &str = include_str!("../../../charts-sample/lookalike.toml");

fn contact(label: &str, time: &str, range: f64, bearing: f64) -> String {
    format!(
        "[[contact]]\nlabel = \"{label}\"\ntime = \"2031-03-11T{time}Z\"\nrange_nm = {range:.2}\n\
         bearing_deg = {bearing:.1}\npart = \"near\"\n"
    )
}

fn head() -> &'static str {
    TWINS.split("[[contact]]").next().unwrap()
}

fn read(contacts: &str) -> Sightings {
    Sightings::parse(&format!("{}{contacts}", head()), "looks.toml", std::path::Path::new("."))
        .unwrap()
}

#[test]
fn twin_heads_looked_at_again_and_again_stay_two() {
    // At nine knots along 085, both echoes read every half minute for fifteen minutes, from the place
    // that the file's own two readings are of. Nothing in them tells one pair of heads from the other.
    let chart = Chart::sample().unwrap();
    for seed in [20_310_401, 20_310_402, 20_310_403] {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let mut off = |sigma: f64| sigma * random.sample::<f64, _>(StandardNormal);
        let mut contacts = String::new();
        for look in 0..30_u32 {
            let run = 9.0 / 120.0 * f64::from(look);
            let (minutes, seconds) = (5 + look / 2, 30 * (look % 2));
            for (name, range, bearing) in [("A", 10.2, 64.5), ("B", 11.1, 86.5_f64)] {
                let (towards, along) =
                    (crate::units::Bearing::<crate::units::True>::wrapped_degrees(bearing), 85.0);
                let track = crate::units::Bearing::<crate::units::True>::wrapped_degrees(along);
                let ((se, sn), (te, tn)) = (towards.sin_cos(), track.sin_cos());
                let (east, north) = (range * se - run * te, range * sn - run * tn);
                let to = crate::units::Bearing::<crate::units::True>::wrapped(east.atan2(north));
                contacts += &contact(
                    &format!("{name}{look}"),
                    &format!("17:{minutes:02}:{seconds:02}"),
                    east.hypot(north) + off(0.08),
                    (to.degrees() + off(0.8)).rem_euclid(360.0),
                );
            }
        }
        let found = fix(&chart, &read(&contacts), &Options::default());
        assert_eq!(found.verdict, Verdict::Ambiguous, "seed {seed}: {:?}", found.probability);
        assert!(found.cautions.iter().any(|c| c.contains("counts once")), "{:?}", found.cautions);
        let (once, _) = one_look_each(&read(&contacts));
        assert_eq!(once.contacts.len(), 2, "seed {seed}");
        // Every look is told of, whichever mark it is.
        let told = found.identities.len() + found.unmatched.len();
        assert!(told == 60 || found.identities.is_empty(), "{told}");
    }
}

#[test]
fn one_echo_typed_twice_at_once_counts_once_and_two_echoes_are_two() {
    let twice = read(
        &[
            contact("A", "17:05:20", 10.2, 64.5),
            contact("B", "17:05:25", 10.2, 64.5),
            contact("C", "17:05:30", 11.2, 64.5),
            contact("D", "17:05:30", 10.2, 68.5),
        ]
        .concat(),
    );
    let (once, again) = one_look_each(&twice);
    let labels: Vec<&str> = once.contacts.iter().map(|c| c.label.as_str()).collect();
    assert_eq!(labels, ["B", "C", "D"]);
    assert_eq!(again, [Again { earlier: "A".into(), counts: "B".into() }]);
}

#[test]
fn the_latest_look_counts_for_all_before_it() {
    let looks = [
        contact("A", "17:05:20", 10.2, 64.5),
        contact("B", "17:07:20", 10.0, 64.0),
        contact("C", "17:09:20", 9.7, 63.5),
        contact("E", "17:09:20", 11.0, 120.0),
    ];
    let (once, again) = one_look_each(&read(&looks.concat()));
    let labels: Vec<&str> = once.contacts.iter().map(|c| c.label.as_str()).collect();
    assert_eq!(labels, ["C", "E"]);
    assert!(again.iter().all(|pair| pair.counts == "C") && again.len() == 2, "{again:?}");
}

#[test]
fn a_name_stays_with_its_reading_and_parts_what_bears_another() {
    let named = |label: &str, time: &str, range: f64, bearing: f64, mark: &str| {
        contact(label, time, range, bearing) + &format!("mark = \"{mark}\"\n")
    };
    let labels = |contacts: &[String]| -> Vec<String> {
        let (once, _) = one_look_each(&read(&contacts.concat()));
        once.contacts.into_iter().map(|c| c.label).collect()
    };
    // The named look counts, not the later one.
    let one = named("A", "17:05:20", 10.2, 64.5, "Fallow Head");
    assert_eq!(labels(&[one.clone(), contact("B", "17:07:20", 9.9, 64.0)]), ["A"]);
    // An echo eight cables off does not take its name, whatever the run between them allows.
    assert_eq!(labels(&[one.clone(), contact("B", "17:07:20", 9.9, 68.7)]), ["A", "B"]);
    // Another name is another echo, also with a look of no name between the two.
    let other = named("C", "17:07:20", 9.9, 64.2, "Fallow Ness");
    assert_eq!(labels(&[one.clone(), other.clone()]), ["A", "C"]);
    let between = contact("B", "17:05:50", 10.15, 64.4);
    assert_eq!(labels(&[one, between, other]), ["A", "C"]);
}

#[test]
fn each_look_of_two_neighbours_joins_its_own() {
    // Two echoes eight cables apart, both read twice, two minutes apart.
    let looks = [
        contact("G", "17:05:00", 10.2, 64.5),
        contact("L", "17:05:00", 10.2, 69.0),
        contact("M", "17:07:00", 9.95, 68.7),
        contact("H", "17:07:00", 9.95, 64.0),
    ];
    let (_, again) = one_look_each(&read(&looks.concat()));
    let pairs: Vec<(&str, &str)> =
        again.iter().map(|pair| (pair.earlier.as_str(), pair.counts.as_str())).collect();
    assert_eq!(pairs, [("G", "H"), ("L", "M")]);
}
