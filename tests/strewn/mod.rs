//! Marks strewn thickly over a wide area, and contacts of some of them with no names.

use foreland::contact::{Contact, Own, Part, Radar, Reckoning, Sightings};
use foreland::geodesy::{Covariance, Position, course};
use foreland::radar::Set;
use foreland::units::{Angle, Bearing, Height, SlantRange, Speed};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::towers::{centre, miles, moved, normal};

pub const RANGE_NM: f64 = 0.2;
pub const BEARING_DEG: f64 = 1.0;
pub const BIAS_DEG: f64 = 1.5;
/// Contacts are plotted to here.
pub const REACH_NM: f64 = 60.0;
/// How often a contact is nothing on the chart.
pub const OFF_CHART: f64 = 0.15;
const HALF_SIDE_NM: f64 = 160.0;
const HEIGHT_FT: f64 = 9_000.0;

/// So many places, evenly strewn over 320 by 320 miles.
pub fn places(count: usize, seed: u64) -> Vec<Position> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut along = || random.random_range(-HALF_SIDE_NM..HALF_SIDE_NM);
    (0..count).map(|_| moved(centre(), along(), along())).collect()
}

/// Contacts of marks drawn from those within reach, and where they were really taken.
pub fn landfall(
    places: &[Position],
    count: usize,
    sigma_nm: f64,
    seed: u64,
) -> (Sightings, Position) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(1 + count as u64);
    let truth = moved(centre(), random.random_range(-40.0..40.0), random.random_range(-40.0..40.0));
    let mut own = Own::at_height(Height::from_feet(HEIGHT_FT).unwrap());
    own.heading_sigma = Angle::from_degrees(BIAS_DEG);
    let own_m = own.height.metres() + own.height_sigma().metres() * normal(&mut random);
    let bias = BIAS_DEG * normal(&mut random);
    let mut near: Vec<Position> = places
        .iter()
        .copied()
        .filter(|place| course(truth, *place).distance.nautical_miles() < REACH_NM)
        .collect();
    let off_chart = (count as f64 * OFF_CHART).round() as usize;
    let contacts = (0..count)
        .map(|number| {
            let place = if number < off_chart {
                let far = REACH_NM * random.random_range(0.0f64..1.0).sqrt();
                let towards = Angle::from_degrees(random.random_range(0.0..360.0));
                let (sin, cos) = towards.radians().sin_cos();
                moved(truth, far * sin, far * cos)
            } else {
                near.swap_remove(random.random_range(0..near.len()))
            };
            let line = course(truth, place);
            let slant = line.distance.metres().hypot(own_m) / 1852.0;
            let range = slant + RANGE_NM * normal(&mut random);
            let bearing = line.initial.degrees() + bias + BEARING_DEG * normal(&mut random);
            contact(number, range, bearing)
        })
        .collect();
    let reckoned = moved(truth, sigma_nm * normal(&mut random), sigma_nm * normal(&mut random));
    (Sightings::new(reckoning(reckoned, sigma_nm), own, radar()).with_contacts(contacts), truth)
}

fn contact(number: usize, range_nm: f64, bearing_deg: f64) -> Contact {
    Contact {
        label: format!("{number}"),
        time: reckoning(centre(), 1.0).time,
        own_height: Height::from_feet(HEIGHT_FT).unwrap(),
        range: SlantRange::from_nautical_miles(range_nm.clamp(1.6, REACH_NM)).ok(),
        range_sigma: miles(RANGE_NM),
        bearing: Some(Bearing::wrapped_degrees(bearing_deg)),
        as_read: None,
        heading_as_read: None,
        lobes: None,
        bearing_sigma: Angle::from_degrees(BEARING_DEG),
        part: Part::Centre,
        belief: None,
    }
}

fn radar() -> Radar {
    Radar {
        set: Set::builtin("patrol").unwrap(),
        set_name: "patrol".to_owned(),
        range_sigma_nm: Some(RANGE_NM),
        bearing_sigma_deg: Some(BEARING_DEG),
    }
}

fn reckoning(position: Position, sigma_nm: f64) -> Reckoning {
    Reckoning {
        time: "2031-03-09T03:40:00Z".parse().unwrap(),
        position,
        covariance: Covariance::circular(miles(sigma_nm)),
        track: None,
        speed: None,
        track_sigma: Angle::ZERO,
        speed_sigma: Speed::ZERO,
        earlier: Vec::new(),
        flow: None,
    }
}
