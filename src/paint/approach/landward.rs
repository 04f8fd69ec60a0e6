use super::glance::{Glance, LandEcho};
use super::traps::called;
use crate::chart::{Chart, MarkId};
use crate::geodesy::{Position, destination};
use crate::paint::Conditions;
use crate::radar::Set;
use crate::units::{Bearing, Height, METRES_PER_NAUTICAL_MILE, True};

/// Ground that far behind the shore misleads when it shows and the shore does not, in metres: two
/// nautical miles.
pub(super) const MISLEADS_M: f64 = 2.0 * METRES_PER_NAUTICAL_MILE;

/// Looks at one place of the land at a time, from wherever one may be: a landfall looked for.
///
/// The same rays, ground and budget as [`crate::paint::expect`], for a few directions only.
pub struct Landward<'a> {
    glance: Glance<'a>,
}

/// Ground inland that shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inland {
    /// Its echo: how far off, and how far behind the shore.
    pub echo: LandEcho,
    /// The mark it is called after, where one is near.
    pub mark: Option<MarkId>,
}

impl<'a> Landward<'a> {
    /// With a set at a height; `heading` where it is known, else the set looks `towards` the land.
    pub fn new(
        chart: &'a Chart,
        height: Height,
        heading: Option<Bearing<True>>,
        towards: Bearing<True>,
        set: &Set,
        conditions: &Conditions,
    ) -> Self {
        let looks = Some(heading.unwrap_or(towards));
        Self { glance: Glance::from_height(chart, (height, looks), set, conditions) }
    }

    /// The chance that a mark paints from a place; nothing for a mark of another chart.
    pub fn mark(&self, from: Position, id: MarkId) -> f64 {
        let mark = self.glance.chart.marks().get(id);
        mark.map_or(0.0, |mark| self.glance.mark(from, id, mark).paint_probability)
    }

    /// The chance that the shore itself paints at a place of it.
    pub fn shore(&self, from: Position, at: Position) -> f64 {
        self.glance.shore(from, at).shore.map_or(0.0, |echo| echo.chance)
    }

    /// Ground two miles and more behind a place of the shore that shows from here, where the shore
    /// before it does not.
    pub fn inland(&self, from: Position, at: Position) -> Option<Inland> {
        let seen = self.glance.shore(from, at);
        let echo = seen.land.filter(|echo| echo.behind.metres() >= MISLEADS_M)?;
        let place = destination(from, echo.bearing, echo.ground_range);
        Some(Inland { echo, mark: called(&self.glance, place) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::course;
    use crate::units::GroundRange;

    #[test]
    fn a_head_of_the_sample_paints_near_by_and_not_from_afar() {
        let chart = Chart::sample().unwrap();
        let set = Set::builtin("boat").unwrap();
        let id = chart.marks().find("Gannet Head").unwrap();
        let head = chart.marks().get(id).unwrap().position;
        let own = Height::from_feet(50.0).unwrap();
        let from = |miles: f64| {
            let run = GroundRange::from_nautical_miles(miles).unwrap();
            destination(head, Bearing::wrapped_degrees(250.0), run)
        };
        let towards = course(from(10.0), head).initial;
        let landward = Landward::new(&chart, own, None, towards, &set, &Conditions::default());
        assert!(landward.mark(from(8.0), id) > 0.9);
        assert!(landward.mark(from(60.0), id) < 0.1);
    }
}
