//! What one look at the set comes to: the sightings, and what the program makes of them.

use std::fmt::Write;
use std::panic::{AssertUnwindSafe, catch_unwind};

use jiff::Timestamp;

use super::case::BIAS_DEG;
use super::landfall::SimulatorError;
use super::operator::{Hand, Taken};
use crate::chart::Chart;
use crate::contact::{BearingKind, Contact, Deflections, Part, Reading, ReadingError, Sightings};
use crate::fix::{Fix, Options, fix};
use crate::geodesy::Position;
use crate::paint::approach::Plan;
use crate::radar::Set;

/// The reckoning is never told to be better than this, nautical miles.
const LEAST_SIGMA_NM: f64 = 0.01;

/// Where the reckoning is at a look.
pub(super) struct Reckoned {
    pub time: Timestamp,
    pub position: Position,
    pub along_nm: f64,
    pub across_nm: f64,
}

/// What was measured, as a file of sightings would tell it: each contact with the errors of the set that
/// is carried, the user's own too. Deflections farther apart than its lobes ever are, or too small to be
/// read, are refused when they are entered: the operator then gives the range alone.
///
/// # Errors
/// The file cannot be read, or what was measured is no contact: a fault of the simulator.
pub(super) fn sightings(
    plan: &Plan,
    set: &Set,
    reckoned: &Reckoned,
    hand: Hand<'_>,
    taken: &[Taken],
    landfall: Option<Position>,
) -> Result<Sightings, SimulatorError> {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = head(&mut text, plan, set, reckoned, hand, landfall);
    let sightings = Sightings::parse_by(&text, "landfall.toml", set)?;
    let Sightings { reckoning, own, radar, .. } = &sightings;
    let contacts = taken.iter().enumerate().map(|(number, taken)| {
        let made = |reading: &Reading| {
            Contact::from_reading(reading, (number + 1).to_string(), reckoning, own, radar)
        };
        let reading = reading(taken);
        match made(&reading) {
            Err(ReadingError::TooFarApart { .. } | ReadingError::NoDeflection { .. }) => {
                made(&Reading { deflections: None, ..reading })
            }
            other => other,
        }
    });
    let contacts = contacts.collect::<Result<Vec<_>, _>>()?;
    Ok(sightings.with_contacts(contacts))
}

/// A contact as a file of sightings gives it, to as many places as are written there.
fn reading(taken: &Taken) -> Reading {
    let bearing = taken.bearing_deg.map(|degrees| written(degrees.min(359.9), 1));
    Reading {
        range_nm: taken.range_nm.map(|range| written(range, 2)),
        bearing: bearing.map(|degrees| (degrees, BearingKind::True)),
        deflections: taken.deflection.map(|sides| {
            let [port, starboard] = sides.map(|side| written(side, 2));
            Deflections { port, starboard }
        }),
        part: Part::parse(taken.part).unwrap_or_default(),
        ..Reading::default()
    }
}

/// A figure as it reads back once it is written with so many places.
fn written(value: f64, places: usize) -> f64 {
    format!("{value:.places$}").parse().unwrap_or(value)
}

fn head(
    text: &mut String,
    plan: &Plan,
    set: &Set,
    reckoned: &Reckoned,
    hand: Hand<'_>,
    landfall: Option<Position>,
) -> std::fmt::Result {
    let place = |at: Position| format!("\"{:.6},{:.6}\"", at.latitude(), at.longitude());
    writeln!(
        text,
        "[reckoning]\ntime = \"{}\"\nposition = {}\nsigma_along_nm = {:.3}\nsigma_across_nm = \
         {:.3}\ntrack_deg = {:.2}\nspeed_kn = {:.2}\ntrack_sigma_deg = {:.2}\nspeed_sigma_kn = {:.2}",
        reckoned.time,
        place(reckoned.position),
        reckoned.along_nm.max(LEAST_SIGMA_NM),
        reckoned.across_nm.max(LEAST_SIGMA_NM),
        plan.track.degrees(),
        plan.speed.knots(),
        plan.track_sigma.degrees(),
        plan.speed_sigma.knots(),
    )?;
    writeln!(
        text,
        "[own]\nheight_ft = {:.2}\nheading_sigma_deg = {BIAS_DEG:.1}",
        plan.height.feet()
    )?;
    if let Some(heading) = hand.heading() {
        let shown = (heading + hand.bias_deg).rem_euclid(360.0).min(359.99);
        writeln!(text, "heading_deg = {shown:.2}\nheading_kind = \"true\"")?;
    }
    writeln!(text, "[radar]\nset = {}", toml::Value::String(set.name.clone()))?;
    landfall.map_or(Ok(()), |at| writeln!(text, "[landfall]\nposition = {}", place(at)))
}

/// What the program makes of it; `None` where it broke down.
pub(super) fn solve(chart: &Chart, sightings: &Sightings) -> Option<Fix> {
    let solving = || fix(chart, sightings, &Options::default());
    catch_unwind(AssertUnwindSafe(solving)).ok()
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::campaign::case::Measured;
    use crate::campaign::operator::{Errors, Manner};
    use crate::radar::Lobes;
    use crate::units::{Angle, Bearing, GroundRange, Height, Speed};

    const TRACK_DEG: f64 = 64.0;

    fn plan() -> Plan {
        Plan {
            from: "38 50 S, 23 10 W".parse().unwrap(),
            track: Bearing::from_degrees(TRACK_DEG).unwrap(),
            speed: Speed::from_knots(165.0).unwrap(),
            height: Height::from_feet(2_000.0).unwrap(),
            sigma: GroundRange::from_nautical_miles(2.0).unwrap(),
            track_sigma: Angle::from_degrees(2.0),
            speed_sigma: Speed::from_knots(5.0).unwrap(),
        }
    }

    fn reckoned() -> Reckoned {
        let time = "2031-03-09T03:40:00Z".parse().unwrap();
        Reckoned { time, position: plan().from, along_nm: 3.0, across_nm: 4.0 }
    }

    fn hand(set: &Set) -> Hand<'_> {
        Hand {
            manner: Manner { measured: Measured::Edges, least_out_nm: 0.4 },
            errors: Errors::Of(set),
            lobes: set.lobes.map(|lobes| (lobes, TRACK_DEG)),
            bias_deg: 0.0,
            times: 1.0,
        }
    }

    fn taken(range_nm: f64, bearing_deg: Option<f64>, deflection: Option<[f64; 2]>) -> Taken {
        Taken {
            range_nm: Some(range_nm),
            bearing_deg,
            deflection,
            part: "near",
            place: plan().from,
            what: "point",
            ship: false,
            weight: 1.0,
        }
    }

    fn told(set: &Set, taken: &[Taken]) -> Sightings {
        sightings(&plan(), set, &reckoned(), hand(set), taken, None).unwrap()
    }

    fn close(found: f64, wanted: f64, within: f64) {
        assert!((found - wanted).abs() < within, "{found}, not {wanted}");
    }

    /// Of the boat's set, by hand: at 20 NM, on its 24 NM scale, 0.05 and 0.005 × 24 NM make 0.13 NM; the
    /// bearing is read to 0.7°.
    #[test]
    fn a_contact_has_the_errors_of_the_set_that_is_carried() {
        let boat = Set::builtin("boat").unwrap();
        let found = told(&boat, &[taken(20.0, Some(42.0), None)]);
        assert_eq!((&found.radar.set, found.radar.set_name.as_str()), (&boat, "boat"));
        let contact = &found.contacts[0];
        close(contact.range_sigma.nautical_miles(), 0.13, 1e-9);
        close(contact.bearing_sigma.degrees(), 0.7, 1e-9);
        let patrol = Set::builtin("patrol").unwrap();
        let own = Set {
            name: "a \"wide\" one".to_owned(),
            range_sigma_nm: 0.6,
            range_sigma_share: 0.0,
            bearing_sigma_deg: 3.0,
            ..patrol
        };
        let found = told(&own, &[taken(20.0, Some(42.0), None)]);
        let contact = &found.contacts[0];
        close(contact.range_sigma.nautical_miles(), 0.6, 1e-9);
        close(contact.bearing_sigma.degrees(), 3.0, 1e-9);
    }

    /// By the closed form of two gaussian lobes, 12.041 × 4 × squint / width² decibels a degree: 0.4515
    /// for 15° and 40°, so that 5 over 3, 4.437 dB, is 9.83° to port, read to 2 dB over that slope, 4.43°.
    /// A depression of some 1° changes it by less than 0.01°.
    #[test]
    fn deflections_are_read_by_the_lobes_of_the_set_that_is_carried() {
        let metric = Set::builtin("metric").unwrap();
        let lobes = metric.lobes.unwrap();
        let lobes = Lobes { squint_deg: 15.0, width_deg: 40.0, ratio_sigma_db: 2.0, ..lobes };
        let own =
            Set { name: "narrow".to_owned(), range_sigma_nm: 0.4, lobes: Some(lobes), ..metric };
        let found = told(&own, &[taken(20.0, None, Some([5.0, 3.0]))]);
        let contact = &found.contacts[0];
        // On the 30 NM scale: 0.4 and 0.01 × 30 NM.
        close(contact.range_sigma.nautical_miles(), 0.5, 1e-9);
        assert_eq!(contact.lobes.as_ref().unwrap().lobes, lobes);
        let (bearing, sigma) = contact.bearings()[0];
        close(bearing.degrees(), TRACK_DEG - 9.83, 0.05);
        close(sigma.degrees(), 4.43, 0.1);
    }

    /// Metric's lobes are never 17 dB apart, read to 1 dB; 5 over 0.3 are 24.4 dB.
    #[test]
    fn deflections_that_are_refused_leave_the_range_alone() {
        let metric = Set::builtin("metric").unwrap();
        for sides in [[5.0, 0.3], [0.3, 5.0], [5.0, 0.004]] {
            let found = told(&metric, &[taken(20.0, None, Some(sides))]);
            let contact = &found.contacts[0];
            assert_eq!((&contact.lobes, contact.bearing), (&None, None), "{sides:?}");
            close(contact.range.unwrap().nautical_miles(), 20.0, 1e-9);
        }
        let found = told(&metric, &[taken(20.0, None, Some([5.0, 3.0]))]);
        assert!(found.contacts[0].lobes.is_some());
    }

    #[test]
    fn contacts_are_what_a_file_of_sightings_makes_of_them() {
        for (name, measured) in [
            (
                "patrol",
                "range_nm = 17.35\nbearing_deg = 42.6\n[[contact]]\nlabel = \"2\"\npart = \
                 \"centre\"\nrange_nm = 31.00\nbearing_deg = 359.9\n",
            ),
            (
                "metric",
                "range_nm = 17.35\ndeflection = { port = 5.00, starboard = 3.16 \
                 }\n[[contact]]\nlabel = \"2\"\npart = \"centre\"\nrange_nm = 31.00\n\
                 deflection = { port = 2.02, starboard = 5.00 }\n",
            ),
        ] {
            let set = Set::builtin(name).unwrap();
            let turns = set.lobes.is_none();
            let one = |range_nm, bearing: f64, sides: [f64; 2]| {
                taken(range_nm, turns.then_some(bearing), (!turns).then_some(sides))
            };
            let first = one(17.349, 42.561, [5.0, 3.158]);
            let second = Taken { part: "centre", ..one(30.998, 359.97, [2.017, 5.0]) };
            let found = told(&set, &[first, second]);
            let mut text = String::new();
            head(&mut text, &plan(), &set, &reckoned(), hand(&set), None).unwrap();
            text += "[[contact]]\nlabel = \"1\"\npart = \"near\"\n";
            text += measured;
            let read = Sightings::parse(&text, "landfall.toml", Path::new("")).unwrap();
            assert_eq!(found.contacts, read.contacts, "{name}");
            assert_eq!((found.own, found.reckoning), (read.own, read.reckoning), "{name}");
        }
    }
}
