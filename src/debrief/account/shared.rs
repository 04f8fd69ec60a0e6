//! What the fixes of a sitting have in common, and so does not average out.

use std::collections::HashSet;

use super::super::sitting::Sitting;
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
    /// A bias of all bearings, by the distance that it acts over.
    heading_m: f64,
    bias: Angle,
    over_m: f64,
}

/// What an operator must know of it, with a figure.
///
/// Not taken into the smoother: its fixes are stated with their errors whole, and a log does not tell
/// which part of each is the shared one.
pub(super) fn words(fixes: &[FixAccount], sitting: &Sitting, chart: Option<&Chart>) -> String {
    let accuracy = chart.map_or_else(Accuracy::default, Chart::accuracy);
    let sightings = sitting.watch.sightings();
    let accuracy = sightings.map_or(accuracy, |sightings| sightings.accuracy.over(accuracy));
    let shared = shared(fixes, accuracy, bearing_bias_sigma(sitting));
    let miles = |metres: f64| metres / METRES_PER_NAUTICAL_MILE;
    format!(
        "fixes are taken for independent: what they share does not average out, and may come to {:.2} NM \
         on one axis, one standard deviation (the chart {:.2} NM, a heading bias of {:.1}° over {:.0} NM \
         {:.2} NM). No error of the track is to be believed below that",
        miles(shared.chart_m.hypot(shared.heading_m)),
        miles(shared.chart_m),
        shared.bias.degrees(),
        miles(shared.over_m),
        miles(shared.heading_m)
    )
}

/// The greatest that the bearings of any one fix have in common: one whose bearings went by the
/// magnetic model has its error too.
fn bearing_bias_sigma(sitting: &Sitting) -> Angle {
    let of_fixes = sitting.fixes.iter().filter_map(|fix| fix.sightings.as_ref());
    of_fixes
        .map(Sightings::bearing_bias_sigma)
        .max_by(|a, b| a.radians().total_cmp(&b.radians()))
        .unwrap_or_else(|| Angle::from_degrees(Own::HEADING_SIGMA_DEG))
}

/// A bias of the heading turns a fix by bearings about the middle of its marks, by no more than the
/// distance to it: plane geometry.
fn shared(fixes: &[FixAccount], accuracy: Accuracy, bias: Angle) -> Shared {
    let again = rest_on_one_mark(fixes.iter().map(|fix| fix.identities.as_slice()));
    let point_m = if again { accuracy.point_sigma.metres() } else { 0.0 };
    let over_m = fixes.iter().filter_map(to_middle_m).fold(0.0, f64::max);
    Shared {
        chart_m: accuracy.shift_sigma.metres().hypot(point_m),
        heading_m: bias.radians() * over_m,
        bias,
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
    use super::super::super::sitting::played;
    use super::*;
    use crate::radar::Set;
    use crate::watch::log::{AcceptEntry, ContactEntry, PlaceEntry, Record, What};

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

    /// A sitting of two fixes by one bearing each, read so.
    fn sitting_by(kinds: [&str; 2]) -> Sitting {
        let covariance_nm2 = [[1.0, 0.0], [0.0, 1.0]];
        let (lat_deg, lon_deg) = (-38.2, -21.5);
        let time = "2026-03-09T03:40:00Z".parse().unwrap();
        let set = Set::builtin("patrol").unwrap().to_toml();
        let mut all = vec![
            What::Blank { set, height_ft: 2000.0 },
            What::Reckoning { time, lat_deg, lon_deg, covariance_nm2 },
        ];
        for (label, kind) in ["A", "B"].into_iter().zip(kinds) {
            all.push(What::Contact(ContactEntry {
                label: label.to_owned(),
                range_nm: Some(17.0),
                bearing_deg: Some(42.0),
                bearing_kind: Some(kind.to_owned()),
                ..ContactEntry::default()
            }));
            all.push(What::Accept(AcceptEntry {
                time,
                place: PlaceEntry { lat_deg, lon_deg, covariance_nm2 },
                alone: None,
                verdict: "fixed".to_owned(),
                probability: None,
                landfall: None,
                identities: Vec::new(),
                echoes: Vec::new(),
            }));
        }
        let record = |(at, what)| Record { number: at as u64 + 1, time, what, typed: None };
        let records: Vec<Record> = all.into_iter().enumerate().map(record).collect();
        played(&records).unwrap()
    }

    #[test]
    fn one_fix_by_the_magnetic_model_brings_its_error_in() {
        let bias = |kinds| bearing_bias_sigma(&sitting_by(kinds)).degrees();
        let plain = Own::HEADING_SIGMA_DEG;
        assert!((bias(["true", "true"]) - plain).abs() < 1e-9);
        let sitting = sitting_by(["magnetic", "true"]);
        assert_eq!(sitting.fixes.len(), 2);
        // By now nothing is measured that goes by it.
        let now = sitting.watch.sightings().unwrap().bearing_bias_sigma().degrees();
        assert!((now - plain).abs() < 1e-9);
        let model = sitting.watch.own().modelled.as_ref().unwrap().sigma.degrees();
        let both = plain.hypot(model);
        assert!(both > plain + 0.01);
        for kinds in [["magnetic", "true"], ["true", "magnetic"], ["magnetic", "compass"]] {
            assert!((bias(kinds) - both).abs() < 1e-9, "{kinds:?}");
        }
    }
}
