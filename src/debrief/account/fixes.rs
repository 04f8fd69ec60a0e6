//! Fixes against the reckoning, and the winds and streams that they found.

use jiff::Timestamp;

use super::super::hindsight::Anew;
use super::super::sitting::{Sitting, Taken};
use super::super::smooth::TrackPoint;
use super::took;
use crate::fix::{Estimate, Grade};
use crate::geodesy::course;
use crate::units::{Bearing, GroundRange, KNOT, Speed, True};
use crate::watch::log::IdentityEntry;

/// How far the reckoning was off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DrError {
    /// From the reckoning to the fix.
    pub distance: GroundRange,
    /// In that direction.
    pub bearing: Bearing<True>,
    /// Metres along the track: the fix ahead of the reckoning is positive. None without a track.
    pub along_m: Option<f64>,
    /// Metres across it: the fix to the right is positive.
    pub across_m: Option<f64>,
    /// How well both agree.
    pub grade: Grade,
}

/// A fix that was accepted, in hindsight.
#[derive(Debug, Clone, PartialEq)]
pub struct FixAccount {
    /// The number of its record.
    pub number: u64,
    /// The time it is for.
    pub time: Timestamp,
    /// When it was accepted, by the watch's own clock.
    pub accepted: Timestamp,
    /// Seconds from its first contact put in to its being accepted, by the watch's own clock.
    pub took_s: Option<f64>,
    /// `fixed`, or `too-few` for a most probable position.
    pub verdict: String,
    /// How sure the place was.
    pub probability: Option<f64>,
    /// Where it was taken to be, by contacts and reckoning together.
    pub place: Estimate,
    /// By the contacts alone.
    pub alone: Option<Estimate>,
    /// Where the reckoning had it.
    pub reckoned: Option<Estimate>,
    /// How far the reckoning was off, against the contacts alone where these fixed it.
    pub dr_error: Option<DrError>,
    /// Known afterwards.
    pub smoothed: Option<Estimate>,
    /// From the fix to the smoothed place.
    pub moved: Option<GroundRange>,
    /// What its contacts were taken for.
    pub identities: Vec<IdentityEntry>,
    /// The verdict on a fix from the same contacts, begun from what all other fixes tell.
    pub anew: Option<String>,
}

/// The wind or stream that a fix found, against what was reckoned with.
#[derive(Debug, Clone, PartialEq)]
pub struct DriftAccount {
    /// The time of the fix.
    pub time: Timestamp,
    /// Track and speed made good that were reckoned with up to then.
    pub used: Option<(Bearing<True>, Speed)>,
    /// The velocity found beside that, toward, knots: east, north.
    pub beside_kn: [f64; 2],
    /// Its error, knots squared: east, covariance, north.
    pub covariance_kn2: [f64; 3],
    /// Track and speed made good with it.
    pub made_good: (Bearing<True>, Speed),
    /// Minutes over which it was found.
    pub minutes: f64,
    /// When it was taken into use, by the watch's own clock.
    pub taken_into_use: Option<Timestamp>,
    /// The same velocity known afterwards: east, north, and its covariance, knots.
    pub smoothed: Option<([f64; 2], [f64; 3])>,
}

pub(super) fn fixes(
    sitting: &Sitting,
    track: &[TrackPoint],
    anew: &[Option<Anew>],
) -> Vec<FixAccount> {
    let each = sitting.fixes.iter().enumerate();
    each.map(|(number, taken)| {
        let point = track.iter().find(|point| point.fix == Some(number));
        let smoothed = point.map(|point| point.place);
        let off = |place: Estimate| course(taken.place.position, place.position).distance;
        FixAccount {
            number: taken.number,
            time: taken.entry.time,
            accepted: taken.at,
            took_s: took(sitting, taken),
            verdict: taken.entry.verdict.clone(),
            probability: taken.entry.probability,
            place: taken.place,
            alone: taken.alone,
            reckoned: taken.reckoned,
            dr_error: taken.reckoned.map(|reckoned| dr_error(taken, &reckoned)),
            smoothed,
            moved: smoothed.map(off),
            identities: taken.entry.identities.clone(),
            anew: anew
                .get(number)
                .and_then(Option::as_ref)
                .map(|a| a.fix.verdict.as_str().to_owned()),
        }
    })
    .collect()
}

fn dr_error(taken: &Taken, reckoned: &Estimate) -> DrError {
    let truth = taken.alone.unwrap_or(taken.place);
    let line = course(reckoned.position, truth.position);
    let metres = line.distance.metres();
    let (sin, cos) = line.initial.sin_cos();
    let both = match taken.alone {
        Some(alone) => reckoned.covariance.plus(alone.covariance),
        None => reckoned.covariance,
    };
    let turned = taken.going.map(|(track, _)| line.initial.minus(track).radians().sin_cos());
    DrError {
        distance: line.distance,
        bearing: line.initial,
        along_m: turned.map(|(_, cos)| metres * cos),
        across_m: turned.map(|(sin, _)| metres * sin),
        grade: Grade::of_distance(both.mahalanobis_squared(metres * sin, metres * cos)),
    }
}

pub(super) fn drift(sitting: &Sitting, track: &[TrackPoint]) -> Vec<DriftAccount> {
    let each = sitting.fixes.iter().enumerate();
    each.filter_map(|(number, taken)| {
        let offer = taken.offer?;
        let point = track.iter().find(|point| point.fix == Some(number));
        Some(DriftAccount {
            time: taken.entry.time,
            used: taken.going,
            beside_kn: offer.beside_kn,
            covariance_kn2: offer.covariance_kn2,
            made_good: offer.made_good(),
            minutes: offer.seconds / 60.0,
            taken_into_use: taken.used,
            smoothed: point.map(|point| {
                let (mean, covariance) = point.flow;
                (mean.map(|v| v / KNOT), covariance.map(|v| v / (KNOT * KNOT)))
            }),
        })
    })
    .collect()
}
