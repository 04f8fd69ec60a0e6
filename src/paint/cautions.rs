//! What an operator must know of what is foretold from a place.

use super::vantage::{Conditions, Vantage};
use crate::chart::Chart;
use crate::radar::{Set, SetKind};
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// No ray meets any land.
pub(super) const NOTHING_CHARTED: &str =
    "no charted land lies within reach: that is open sea, or the chart does not come this far";

/// The antenna lies under the ground of its own position.
fn within_the_ground(chart: &Chart, vantage: &Vantage) -> Option<String> {
    let ground = chart.ground().at(vantage.position).height;
    let under = chart.coast().is_land(vantage.position) == Some(true) && vantage.height < ground;
    under.then(|| {
        format!(
            "own position is on charted land of {:.0} ft and the antenna at {:.0} ft is under it: \
             check position and height",
            ground.feet(),
            vantage.height.feet()
        )
    })
}

/// What to know of an edge at which the chart was cut, where it lies within reach.
fn beyond_the_chart(chart: &Chart, vantage: &Vantage, reach: GroundRange) -> Option<String> {
    let coast = chart.coast();
    let (range, bearing) = coast.nearest_clip(vantage.position, reach)?;
    let miles = range.nautical_miles();
    Some(if coast.is_beyond_clips(vantage.position) {
        format!(
            "own position lies beyond the edge at which the chart was cut, {miles:.1} NM off \
             (bearing {bearing} true): land on this side of it is not known, and no coast is \
             expected across it"
        )
    } else {
        format!(
            "the chart was cut through land {miles:.1} NM off (bearing {bearing} true), within \
             reach: what lies beyond that edge is not known, and nothing is expected of it"
        )
    })
}

/// All of it: of the chart, the place, the set and the air.
pub(super) fn cautions(
    chart: &Chart,
    vantage: &Vantage,
    set: &Set,
    conditions: &Conditions,
    reach: GroundRange,
) -> Vec<String> {
    let mut cautions: Vec<String> = chart.cautions().to_vec();
    cautions.extend(chart.late_cautions());
    let unambiguous = set.unambiguous_range().nautical_miles();
    cautions.extend(beyond_the_chart(chart, vantage, reach));
    if !chart.ground().has_grid() {
        cautions.push(
            "the chart has no elevation grid: ground between its heights is assumed".to_owned(),
        );
    }
    if set.kind == SetKind::Lobes && vantage.heading.is_none() {
        cautions.push(
            "no heading is given: the fixed lobes are taken to look at each bearing in turn"
                .to_owned(),
        );
    }
    cautions.extend(within_the_ground(chart, vantage));
    let feet = vantage.height.feet();
    if let Some((least, most)) = set.usable_height_ft.filter(|(l, m)| !(*l..=*m).contains(&feet)) {
        cautions.push(format!(
            "own height of {feet:.0} ft is outside the {least} to {most} ft that the set is meant for"
        ));
    }
    if let Some(refraction) = conditions.earth.refraction().caution() {
        cautions.push(refraction.to_owned());
    }
    if set.frequency_mhz < 500.0 && conditions.sea_state > 0 {
        cautions.push(
            "the sea's return on metre waves goes beyond the data of its model (0.5 to 35 GHz)"
                .to_owned(),
        );
    }
    if unambiguous * METRES_PER_NAUTICAL_MILE < reach.metres() {
        cautions.push(format!(
            "echoes from beyond {unambiguous:.1} NM come back after the next pulse, at a false range"
        ));
    }
    cautions
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paint::expect;
    use crate::units::Height;

    #[test]
    fn a_place_that_cannot_be_is_told() {
        let chart = Chart::sample().unwrap();
        let told = |at: &str, feet: f64| {
            let height = Height::from_feet(feet).unwrap();
            let vantage = Vantage { position: at.parse().unwrap(), height, heading: None };
            let set = Set::builtin("boat").unwrap();
            let reach = GroundRange::from_nautical_miles(24.0).unwrap();
            expect(&chart, &vantage, &set, &Conditions::default(), reach, 5.0).cautions.join("\n")
        };
        let inland = "37 50 S, 20 50 W";
        assert!(told(inland, 3.0).contains("own position is on charted land of "));
        assert!(!told(inland, 9_000.0).contains("own position"));
        assert!(!told("38 12.9 S, 21 30.5 W", 3.0).contains("own position"));
        assert!(told("45 N, 170 E", 3.0).contains(NOTHING_CHARTED));
        assert!(!told("38 12.9 S, 21 30.5 W", 3.0).contains(NOTHING_CHARTED));
    }
}
