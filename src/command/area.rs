//! What part of the world a command asks about: where it may be, and as far as its radar may reach.

use crate::chart::GeoBox;
use crate::contact::Sightings;
use crate::geodesy::Position;
use crate::radar::Set;
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// What is asked about lies within reach; this much more is taken in, in nautical miles: for what
/// is looked at beside or beyond it.
const MARGIN_NM: f64 = 120.0;

/// Standard deviations of a place that are taken in.
const SIGMAS: f64 = 8.0;

/// About places, each as far as told, in metres.
pub(super) fn about(places: &[(Position, f64)]) -> Option<GeoBox> {
    let margin = MARGIN_NM * METRES_PER_NAUTICAL_MILE;
    let areas = places
        .iter()
        .map(|(at, reach)| GeoBox::around(*at, GroundRange::clamped_metres(reach + margin)));
    areas.reduce(|all, area| all.joined(&area))
}

/// Where sightings may have been made from, and as far as their radar reaches.
pub(super) fn of_sightings(sightings: &Sightings, times: &[jiff::Timestamp]) -> Option<GeoBox> {
    let reckoning = &sightings.reckoning;
    let reach = sightings.radar.set.greatest_scale().metres();
    let ranges = sightings.contacts.iter().filter_map(|contact| contact.range);
    let reach = ranges.map(|range| 1.1 * range.metres()).fold(reach, f64::max);
    let carried =
        [sightings.latest()].into_iter().chain(times.iter().copied()).filter_map(|time| {
            let (position, covariance) = reckoning.carried_to(time).ok()?;
            Some((position, reach + SIGMAS * covariance.axes().0.sqrt()))
        });
    let start = (reckoning.position, reach + SIGMAS * reckoning.covariance.axes().0.sqrt());
    let landfall = sightings.landfall.map(|place| (place, reach));
    let places: Vec<(Position, f64)> =
        std::iter::once(start).chain(carried).chain(landfall).collect();
    about(&places)
}

/// As far as a set's largest scale, in metres.
pub(super) fn scale_of(set: &Set) -> f64 {
    set.greatest_scale().metres()
}
