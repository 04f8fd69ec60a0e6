use super::super::expectation::ExpectedMark;
use super::super::vantage::Conditions;
use super::glance::Glance;
use crate::chart::{Chart, MarkId};
use crate::geodesy::Position;
use crate::radar::Set;
use crate::units::{Bearing, Height, True};

/// One mark at a time as [`crate::paint::expect`] has it, from any number of places at one height.
///
/// Made once, then asked for a place and a mark: the rays toward the mark alone, some hundredths of
/// the work of all round.
pub struct Look<'a>(Glance<'a>);

impl<'a> Look<'a> {
    /// - `own`: the antenna above mean sea level, and the heading where it is known.
    pub fn new(
        chart: &'a Chart,
        own: (Height, Option<Bearing<True>>),
        set: &Set,
        conditions: &Conditions,
    ) -> Self {
        Self(Glance::from_height(chart, own, set, conditions))
    }

    /// The chance that a stretch of shore shows from a place.
    pub fn shore_probability(&self, from: Position, at: Position) -> f64 {
        self.0.shore(from, at).shore.map_or(0.0, |echo| echo.chance)
    }

    /// The mark from a place; none where the chart has no such mark.
    pub fn mark(&self, from: Position, id: MarkId) -> Option<ExpectedMark> {
        self.0.chart.marks().get(id).map(|mark| self.0.mark(from, id, mark))
    }
}
