//! What to know of the place itself that is looked from.

use super::vantage::Vantage;
use crate::chart::Chart;

/// No ray meets any land.
pub(super) const NOTHING_CHARTED: &str =
    "no charted land lies within reach: that is open sea, or the chart does not come this far";

/// The antenna lies under the ground of its own position.
pub(super) fn within_the_ground(chart: &Chart, vantage: &Vantage) -> Option<String> {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paint::{Conditions, expect};
    use crate::radar::Set;
    use crate::units::{GroundRange, Height};

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
