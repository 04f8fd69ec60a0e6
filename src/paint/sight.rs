use super::budget::Budget;
use super::fan::Fan;
use super::in_front::in_front;
use super::relief::Relief;
use super::vantage::{Conditions, Vantage};
use crate::chart::Chart;
use crate::radar::Set;
use crate::units::{Bearing, GroundRange, Height, True};

/// What is in plain sight from one place: by rays alone, over an Earth enlarged by refraction, with
/// sharp shadows.
///
/// Ground is laid out and hides by the very rays, profile and mask that [`super::expect`] predicts
/// with; the waves' bending, the beam and the echo are left out. For holding shadows against another
/// program's, and for telling shadow from weakness.
pub struct Sight {
    budget: Budget,
    fan: Fan,
    relief: Relief,
}

impl Sight {
    /// The ground all round as far as `reach`, with a ray every `step_deg` (0.01 to 10).
    ///
    /// - `set`: the reckoning goes through it; of its figures none changes what is in plain sight.
    pub fn all_round(
        chart: &Chart,
        vantage: &Vantage,
        set: &Set,
        conditions: &Conditions,
        reach: GroundRange,
        step_deg: f64,
    ) -> Self {
        let budget = Budget::new(set, conditions, vantage.height);
        let step_m = Fan::step_over(chart.ground());
        let count = (360.0 / step_deg.clamp(0.01, 10.0)).ceil() as usize;
        let fan = Fan::all_round(count, step_m, reach.metres().max(step_m));
        let relief = Relief::of_chart(chart, vantage.position, &fan);
        Self { budget, fan, relief }
    }

    /// Between two samples of a ray.
    pub fn step(&self) -> GroundRange {
        GroundRange::clamped_metres(self.fan.step_m)
    }

    /// Whether the top of a thing so far along a bearing, so high above the sea, is in plain sight
    /// over what lies on the nearest ray before it. Ground within half a step of it is its own.
    pub fn of_top(&self, bearing: Bearing<True>, along: GroundRange, height: Height) -> bool {
        let along_m = along.metres();
        let Some(spans) = self.relief.rays.get(self.fan.nearest(bearing)) else { return false };
        let own_m = 0.5 * self.fan.step_m;
        let before = in_front(spans, &self.fan, &self.budget, along_m, own_m);
        before.mask.visible_m(along_m, height.metres()) > 0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::Position;
    use std::path::Path;

    #[test]
    fn from_higher_up_no_less_is_in_plain_sight() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
        let chart = Chart::open(&[folder]).unwrap();
        let position: Position = "38 12.9 S, 21 30.5 W".parse().unwrap();
        let reach = GroundRange::from_nautical_miles(40.0).unwrap();
        let seen = |feet: f64, set: &str| {
            let height = Height::from_feet(feet).unwrap();
            let vantage = Vantage { position, height, heading: None };
            let set = Set::builtin(set).unwrap();
            let conditions = Conditions::default();
            let sight = Sight::all_round(&chart, &vantage, &set, &conditions, reach, 5.0);
            (0..72)
                .flat_map(|ray| (1..150).map(move |step| (f64::from(ray), f64::from(step))))
                .map(|(ray, step)| {
                    let along = GroundRange::clamped_metres(step * 450.0);
                    let top = Height::from_metres(20.0).unwrap();
                    sight.of_top(Bearing::wrapped_degrees(5.0 * ray), along, top)
                })
                .collect::<Vec<_>>()
        };
        let (low, high) = (seen(50.0, "patrol"), seen(5_000.0, "patrol"));
        let count = |seen: &[bool]| seen.iter().filter(|seen| **seen).count();
        assert!(count(&low) > 100 && count(&low) < count(&high), "{}", count(&low));
        for (low, high) in low.iter().zip(&high) {
            assert!(*high || !*low);
        }
        // The set plays no part.
        assert_eq!(low, seen(50.0, "metric"));
    }
}
