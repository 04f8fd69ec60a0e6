//! The sample's worked landfall as a plain report: what the program shows when nobody is watching.

use std::path::Path;

use super::common::print;
use super::failure::{Done, Failure};
use super::fix::solved;
use super::report::{Asked, expect_text, fix_text};
use crate::chart::Chart;
use crate::contact::Sightings;
use crate::fix::Options;
use crate::paint::{Conditions, Vantage, expect};
use crate::units::{GroundRange, SlantRange};

/// The sightings of the worked landfall, built in with the sample chart.
pub(super) const SIGHTINGS: &str = include_str!("../../charts-sample/landfall.toml");

/// Spacing of the coast's bearings in the report.
const STEP_DEG: f64 = 0.5;

/// Prints the worked landfall: what should have painted from the reckoning, then the fix.
///
/// # Errors
/// Standard output cannot be written to.
pub fn run() -> Result<Done, Failure> {
    print(&report()?)?;
    Ok(Done::OK)
}

fn report() -> Result<String, Failure> {
    let chart = Chart::sample()?;
    let sightings = Sightings::parse(SIGHTINGS, "landfall.toml", Path::new(""))?;
    let set = &sightings.radar.set;
    let vantage = Vantage {
        position: sightings.reckoning.position,
        height: sightings.own.height,
        heading: sightings.own.heading,
    };
    let conditions = Conditions::default();
    // The scale that the contacts were read on: what stands beyond it is another question.
    let farthest = sightings.contacts.iter().filter_map(|contact| contact.range);
    let farthest = farthest.fold(SlantRange::ZERO, |a, b| if b > a { b } else { a });
    let reach = GroundRange::from_nautical_miles(set.smallest_scale_holding(farthest))
        .map_err(|error| Failure::Fault(error.to_string()))?;
    let asked = Asked {
        chart: &chart,
        vantage: &vantage,
        set,
        conditions: &conditions,
        reach,
        step_deg: STEP_DEG,
    };
    let expected = expect(&chart, &vantage, set, &conditions, reach, STEP_DEG);
    let found = solved(&chart, &sightings, &Options::default());
    Ok(format!(
        "A worked landfall on the built-in sample coast, which is invented.\n\n\
         FROM THE RECKONING, BEFORE ANY CONTACT\n\n{}\n\
         WITH THE CONTACTS\n\n{}",
        expect_text(&asked, &expected),
        fix_text(&chart, &sightings, &found)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worked_landfall_is_a_fix_where_the_sample_says() {
        let report = report().unwrap();
        // The sample's own account: truth 38 15.1 S, 21 24.5 W at the last contact.
        assert!(report.contains("FIX    2031-03-09 03:42:55Z"), "{report}");
        assert!(report.contains("38°15.") && report.contains("Gannet Head"), "{report}");
        assert!(report.contains("An aid only"));
    }
}
