//! Contacts read on the way down: each counts from the height that it was read from.
//!
//! Where the marks really are, how high the aircraft was and what was read are worked out here, by a chord of
//! its own over a sphere of 6371 km: nothing of the estimator's geometry is used.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod towers;

use std::path::Path;
use std::process::Command;

use foreland::chart::Chart;
use foreland::contact::{Belief, Contact, Own, Part, Radar, Reckoning, Sightings};
use foreland::geodesy::{Covariance, Position, course};
use foreland::radar::Set;
use foreland::units::{Angle, Bearing, Height, SlantRange, Speed};
use jiff::Timestamp;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use towers::{centre, chart_of, distance_squared, miles, moved, name, normal};

const SEED: u64 = 20_310_309;
const TRIALS: u64 = 1_000;
const RANGE_NM: f64 = 0.05;
const RANGE_BIAS_NM: f64 = 0.05;
/// From the first contact to the last.
const HEIGHTS_FT: [f64; 4] = [12_000.0, 9_000.0, 6_000.0, 3_000.0];

/// Four towers about the middle, 3 to 5 miles off, a quarter of the horizon apart, where they are said to be.
fn chart(folder: &Path) -> (Chart, Vec<Position>) {
    let told = "[accuracy]\npoint_sigma_nm = 0.001\nshift_sigma_nm = 0.0\n";
    std::fs::write(folder.join("chart.toml"), told).unwrap();
    let places = [(0.0, 4.0), (5.0, 1.0), (-1.0, -4.5), (-3.5, 1.0)]
        .map(|(east, north)| moved(centre(), east, north));
    (chart_of(folder, &places), places.to_vec())
}

/// The chord between own height and the sea over `ground` metres of a sphere of 6371 km.
fn chord(ground: f64, own: f64) -> f64 {
    let radius = 6_371_000.0;
    let (a, angle) = (radius + own, ground / radius);
    (a * a + radius * radius - 2.0 * a * radius * angle.cos()).sqrt()
}

fn feet(feet: f64) -> Height {
    Height::from_feet(feet).unwrap()
}

/// Four ranges of named marks read on the way down, with time standing still.
fn trial(places: &[Position], index: u64) -> (Sightings, Position) {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    random.set_stream(index + 1);
    let truth = moved(centre(), random.random_range(-1.0..1.0), random.random_range(-1.0..1.0));
    let mut own = Own::at_height(feet(HEIGHTS_FT[3]));
    // One altimeter, whose error is stated, told all the heights.
    own.stated_height_sigma = Some(feet(100.0));
    let off_m = feet(100.0).metres() * normal(&mut random);
    let bias = RANGE_BIAS_NM * normal(&mut random);
    let start: Timestamp = "2031-03-09T03:40:00Z".parse().unwrap();
    let contacts = HEIGHTS_FT.iter().zip(places).enumerate().map(|(number, (from_ft, place))| {
        let ground = course(truth, *place).distance.metres();
        let slant = chord(ground, feet(*from_ft).metres() + off_m) / 1852.0;
        let range = slant + bias + RANGE_NM * normal(&mut random);
        Contact {
            label: format!("{number}"),
            time: start,
            own_height: feet(*from_ft),
            range: Some(SlantRange::from_nautical_miles(range).unwrap()),
            range_sigma: miles(RANGE_NM),
            bearing: None::<Bearing<_>>,
            as_read: None,
            heading_as_read: None,
            lobes: None,
            bearing_sigma: Angle::ZERO,
            part: Part::Centre,
            belief: Some(Belief { mark: name(number), confidence: 0.99 }),
        }
    });
    let contacts = contacts.collect();
    let reckoning = Reckoning {
        time: start,
        position: moved(truth, 2.0 * normal(&mut random), 2.0 * normal(&mut random)),
        covariance: Covariance::circular(miles(2.0)),
        track: None,
        speed: None,
        track_sigma: Angle::from_degrees(3.0),
        speed_sigma: Speed::ZERO,
        earlier: Vec::new(),
        flow: None,
    };
    let radar = Radar {
        set: Set::builtin("patrol").unwrap(),
        set_name: "patrol".to_owned(),
        range_sigma_nm: Some(RANGE_NM),
        bearing_sigma_deg: None,
    };
    (Sightings::new(reckoning, own, radar).with_contacts(contacts), truth)
}

/// How many of a hundred fixes hold the truth in their 95 % ellipse; what is not fixed does not.
fn held(
    chart: &Chart,
    places: &[Position],
    as_given: impl Fn(Sightings) -> Sightings + Sync,
) -> f64 {
    let inside = |index: u64| {
        let (sightings, truth) = trial(places, index);
        distance_squared(chart, &as_given(sightings), truth).is_some_and(|squared| squared <= 5.991)
    };
    let count = (0..TRIALS).into_par_iter().filter(|index| inside(*index)).count();
    100.0 * count as f64 / TRIALS as f64
}

/// From the 12,000 ft of the first contact a tower four miles off lies half a mile farther by slant range than
/// along the ground; from the 3,000 ft of the last, 0.03.
#[test]
fn an_ellipse_holds_the_truth_where_each_contact_has_its_own_height() {
    println!("seed {SEED}");
    let folder = tempfile::tempdir().unwrap();
    let (chart, places) = chart(folder.path());
    let each = held(&chart, &places, |sightings| sightings);
    let from_the_last = held(&chart, &places, |mut sightings| {
        let now = sightings.own.height;
        sightings.contacts.iter_mut().for_each(|contact| contact.own_height = now);
        sightings
    });
    println!("held by the height of each {each:.1} %, by that of the last {from_the_last:.1} %");
    // Three binomial sigmas of 0.7 points about 95 %.
    assert!((92.9..=97.1).contains(&each), "{each}");
    assert!(from_the_last < 5.0, "{from_the_last}");
}

/// Five echoes of heads and islands some fifty miles off, as `expect` has them from 6,000 ft, and a
/// reckoning two miles out; read from one height, own height another since.
fn far_off(own_ft: u32, read_from: Option<u32>) -> String {
    let read_from = read_from.map_or_else(String::new, |feet| format!("own_height_ft = {feet}\n"));
    let echoes = [(41.3, 80.3), (42.2, 87.6), (48.4, 100.3), (50.0, 68.0), (52.1, 55.7)];
    let contacts = echoes.map(|(range, bearing)| {
        format!("[[contact]]\nrange_nm = {range}\nbearing_deg = {bearing:.1}\n{read_from}")
    });
    format!(
        "[reckoning]\ntime = \"2031-03-09T03:40:00Z\"\nposition = \"38 21.5 S, 22 08.5 W\"\nsigma_nm = 2.0\n\
         [own]\nheight_ft = {own_ft}\n[radar]\nset = \"patrol\"\n{}",
        contacts.concat()
    )
}

/// Exit status, and what was said on either stream.
fn fixed(sightings: &str) -> (i32, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("s.toml");
    std::fs::write(&path, sightings).unwrap();
    let chart = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
    let mut command = Command::new(env!("CARGO_BIN_EXE_foreland"));
    let output = command.arg("fix").arg(&path).arg("--chart").arg(chart).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

/// From 100 ft the horizon lies 12 NM off: of shore 41 to 52 NM away what is under 500 to 1,000 ft cannot
/// paint. It painted from 6,000 ft, whose horizon lies 95 NM off (1.23 NM times the root of the feet).
#[test]
fn what_painted_from_high_up_stands_once_we_are_low_down() {
    let until = |said: &str, block: &str| said.split(block).next().unwrap().to_owned();
    let (status, high, _) = fixed(&far_off(6_000, None));
    assert_eq!(status, 0, "{high}");
    let (status, low, _) = fixed(&far_off(100, Some(6_000)));
    assert_eq!(status, 0, "{low}");
    assert_eq!(until(&high, "NEXT"), until(&low, "CAUTIONS"));
    let told = "HEIGHTS\n  read from 6000 ft: A, B, C, D, E\n  own height at the end: 100 ft\n";
    assert!(low.contains(told), "{low}");
    assert!(!high.contains("HEIGHTS"), "{high}");
    // Nothing more can be measured of it from here.
    assert!(high.contains("NEXT\n") && !low.contains("NEXT\n"), "{low}");
    let (status, out, _) = fixed(&far_off(100, None));
    assert_eq!(status, 5, "{out}");
    assert!(out.contains("which should not paint from there"), "{out}");
}

/// 300,000 ft would be 49 NM up, and no height: 60,000 ft is 9.87 NM.
#[test]
fn a_height_that_cannot_be_is_refused_by_contact_and_key() {
    let near = far_off(100, Some(60_000)).replace("range_nm = 41.3", "range_nm = 9.0");
    let (status, _, said) = fixed(&near);
    assert_eq!(status, 2, "{said}");
    assert!(said.contains("contact A: range 9 NM is less than own height of 60000 ft"), "{said}");
    let (status, _, said) = fixed(&far_off(100, Some(300_000)));
    assert_eq!(status, 2, "{said}");
    assert!(said.contains("own_height_ft") && said.contains("contact A"), "{said}");
}
