//! What the fixes of a sitting have in common, and so does not average out.

use std::collections::HashSet;

use super::FixAccount;
use crate::chart::{Accuracy, Chart};
use crate::contact::{Own, Sightings};
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::units::{Angle, METRES_PER_NAUTICAL_MILE};
use crate::watch::log::IdentityEntry;

/// One standard deviation of what they share, by cause, in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Shared {
    /// The chart's shift, and the error of the marks that more than one fix rests on.
    chart_m: f64,
    /// A bias of the heading, by the distance that it acts over.
    heading_m: f64,
    heading_sigma: Angle,
    over_m: f64,
}

/// What an operator must know of it, with a figure.
///
/// Not taken into the smoother: its fixes are stated with their errors whole, and a log does not tell
/// which part of each is the shared one.
pub(super) fn words(
    fixes: &[FixAccount],
    sightings: Option<&Sightings>,
    chart: Option<&Chart>,
) -> String {
    let accuracy = chart.map_or_else(Accuracy::default, Chart::accuracy);
    let accuracy = sightings.map_or(accuracy, |sightings| sightings.accuracy.over(accuracy));
    let heading_sigma = sightings.map_or_else(
        || Angle::from_degrees(Own::HEADING_SIGMA_DEG),
        |sightings| sightings.own.heading_sigma,
    );
    let shared = shared(fixes, accuracy, heading_sigma);
    let miles = |metres: f64| metres / METRES_PER_NAUTICAL_MILE;
    format!(
        "fixes are taken for independent: what they share does not average out, and may come to {:.2} NM \
         on one axis, one standard deviation (the chart {:.2} NM, a heading bias of {:.1}° over {:.0} NM \
         {:.2} NM). No error of the track is to be believed below that",
        miles(shared.chart_m.hypot(shared.heading_m)),
        miles(shared.chart_m),
        shared.heading_sigma.degrees(),
        miles(shared.over_m),
        miles(shared.heading_m)
    )
}

/// A bias of the heading turns a fix by bearings about the middle of its marks, by no more than the
/// distance to it: plane geometry.
fn shared(fixes: &[FixAccount], accuracy: Accuracy, heading_sigma: Angle) -> Shared {
    let again = rest_on_one_mark(fixes.iter().map(|fix| fix.identities.as_slice()));
    let point_m = if again { accuracy.point_sigma.metres() } else { 0.0 };
    let over_m = fixes.iter().filter_map(to_middle_m).fold(0.0, f64::max);
    Shared {
        chart_m: accuracy.shift_sigma.metres().hypot(point_m),
        heading_m: heading_sigma.radians() * over_m,
        heading_sigma,
        over_m,
    }
}

/// Whether two fixes rest on one mark. Two contacts of one fix on it are one fix that does.
fn rest_on_one_mark<'a>(fixes: impl Iterator<Item = &'a [IdentityEntry]>) -> bool {
    let mut before: HashSet<&str> = HashSet::new();
    for identities in fixes {
        let marks: HashSet<&str> = identities.iter().map(|it| it.mark.as_str()).collect();
        if !marks.is_disjoint(&before) {
            return true;
        }
        before.extend(marks);
    }
    false
}

/// From a fix to the middle of its marks, metres.
fn to_middle_m(fix: &FixAccount) -> Option<f64> {
    let plane = LocalPlane::new(fix.place.position);
    let places: Vec<PlanePoint> = fix
        .identities
        .iter()
        .filter_map(|identity| Position::new(identity.lat_deg, identity.lon_deg).ok())
        .map(|mark| plane.to_plane(mark))
        .collect();
    let count = places.len() as f64;
    let sum = |of: fn(&PlanePoint) -> f64| places.iter().map(of).sum::<f64>() / count;
    (!places.is_empty()).then(|| sum(|at| at.east).hypot(sum(|at| at.north)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(marks: &[&str]) -> Vec<IdentityEntry> {
        marks
            .iter()
            .map(|mark| IdentityEntry {
                contact: "A".to_owned(),
                mark: (*mark).to_owned(),
                lat_deg: -38.0,
                lon_deg: -21.0,
                probability: 1.0,
            })
            .collect()
    }

    #[test]
    fn two_contacts_of_one_fix_on_one_mark_share_nothing_with_another_fix() {
        let rest = |fixes: &[Vec<IdentityEntry>]| rest_on_one_mark(fixes.iter().map(Vec::as_slice));
        let twice = of(&["Gannet Head", "Gannet Head"]);
        assert!(!rest(std::slice::from_ref(&twice)));
        assert!(!rest(&[twice.clone(), of(&["Saddle Isle"])]));
        assert!(rest(&[of(&["Saddle Isle"]), twice, of(&["Gannet Head", "Saddle Isle"])]));
    }
}
