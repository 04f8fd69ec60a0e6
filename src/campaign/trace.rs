//! A set with two fixed lobes and a range trace: which echoes stand alone on it, and their deflections.
//!
//! The two patterns are worked out here by a spherical triangle. An echo is measured where no other
//! land in front lies at its range: two at one range run into each other on the trace. Nor is there
//! an echo where the same land comes nearer to one side: it begins at its nearest shore.

#![expect(clippy::cast_possible_wrap, reason = "rays are counted in thousands")]

use rand_chacha::ChaCha8Rng;

use super::features::Feature;
use super::picture::{Picture, RAYS, azimuth, ray};
use super::random::normal;
use super::shore::{MILE, RADIAN, turn};
use crate::radar::Lobes;
use crate::units::Angle;

/// Echoes are measured within so much of the bow, degrees; land within the next shows on the trace.
const MEASURED_DEG: f64 = 70.0;
const SHOWN_DEG: f64 = 100.0;

/// Land nearer than this in range, and farther than that in bearing, runs into an echo.
const APART_M: f64 = 0.5 * MILE;
const ASIDE_DEG: f64 = 8.0;

/// Two steps of the trace this near to each other are one: the length of a pulse of 2 µs.
const ONE_STEP_M: f64 = 300.0;

/// The greater deflection, on a scale of its own.
const FULL: f64 = 5.0;

/// What the eye tells apart in bearing before two echoes count as two, degrees: as good as nothing.
pub const NO_BEAM_DEG: f64 = 0.4;

/// Whether a bearing is near enough the bow for its echo to be measured.
pub fn is_ahead(bearing_deg: f64, heading_deg: f64) -> bool {
    turn(bearing_deg - heading_deg).abs() <= MEASURED_DEG
}

/// Whether a feature is in front, and alone at its range.
pub fn stands_alone(picture: &Picture, feature: &Feature, heading_deg: f64) -> bool {
    let degrees = |ray: i64| azimuth(ray as f64) / RADIAN;
    let own = degrees(feature.ray as i64);
    let shown = (SHOWN_DEG * RAYS as f64 / 360.0) as i64;
    let bow = (heading_deg * RAYS as f64 / 360.0) as i64;
    is_ahead(own, heading_deg)
        && (bow - shown..=bow + shown).all(|other| {
            let behind = picture.edge[ray(other)] - feature.near_m;
            let is_aside = turn(degrees(other) - own).abs() <= ASIDE_DEG;
            behind.abs() > APART_M || is_aside && behind > -ONE_STEP_M
        })
}

/// The power of port over starboard lobe, decibels, so far off the bow and under the horizon.
pub fn ratio_db(lobes: Lobes, relative_deg: f64, down_deg: f64) -> f64 {
    let gain = |side: f64| {
        let (squint, azimuth, down) =
            (lobes.squint_deg * RADIAN, relative_deg * RADIAN, down_deg * RADIAN);
        let cosine = squint.cos() * down.cos() * azimuth.cos()
            + side * squint.sin() * down.cos() * azimuth.sin();
        let off = Angle::from_radians(cosine.clamp(-1.0, 1.0).acos()).degrees();
        // Gaussian: half power, 3.0103 dB, at half the width.
        (-12.0412 * (off / lobes.width_deg).powi(2)).max(lobes.back_db)
    };
    gain(-1.0) - gain(1.0)
}

/// Both deflections as read, port and starboard.
pub fn deflections(
    random: &mut ChaCha8Rng,
    lobes: Lobes,
    relative_deg: f64,
    ground_m: f64,
    height_m: f64,
    times: f64,
) -> [f64; 2] {
    let bent = 2.0 * 4.0 / 3.0 * 6_371_000.0;
    let down = ((height_m / ground_m).atan() + ground_m / bent) / RADIAN;
    let ratio = ratio_db(lobes, relative_deg, down) + lobes.ratio_sigma_db * times * normal(random);
    // A deflection is as the voltage.
    let lesser = FULL * 10_f64.powf(-ratio.abs() / 20.0);
    if ratio > 0.0 { [FULL, lesser] } else { [lesser, FULL] }
}
