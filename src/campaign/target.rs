use super::shore::MILE;
use crate::chart::Chart;
use crate::fix::StandsFor;
use crate::geodesy::{Position, distance};

/// An echo whose land is charted so near to the landfall is the landfall's, metres.
const OF_IT_M: f64 = MILE;

/// What stands for the planned landfall, as the program itself takes it: what is asked for, and no answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// Where it is charted.
    pub place: Position,
    /// Its name, or "the shore".
    pub name: String,
}

impl Target {
    /// `None` where nothing is charted there.
    pub fn at(chart: &Chart, planned: Position) -> Option<Self> {
        StandsFor::at(chart, planned).map(|StandsFor { place, name, .. }| Self { place, name })
    }

    /// Whether land charted at a place is the landfall's.
    pub fn is_at(&self, charted: Position) -> bool {
        distance(self.place, charted).metres() <= OF_IT_M
    }
}
