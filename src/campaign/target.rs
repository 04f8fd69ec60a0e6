use super::shore::MILE;
use crate::chart::Chart;
use crate::geodesy::{LocalPlane, PlanePoint, Position, distance};
use crate::units::GroundRange;

/// A mark so near to the place planned stands for it, else the shore does, so near; metres.
const MARK_WITHIN_M: f64 = MILE;
const SHORE_WITHIN_M: f64 = 3.0 * MILE;

/// An echo whose land is charted so near to the landfall is the landfall's, metres.
const OF_IT_M: f64 = MILE;

/// What stands for the planned landfall: the nearest mark of weight within a mile of the place
/// planned, else the nearest shore within three.
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
        let marks = chart.marks();
        let near = marks.within(planned, GroundRange::clamped_metres(MARK_WITHIN_M));
        let mark = near
            .into_iter()
            .filter_map(|id| marks.get(id))
            .filter(|mark| mark.is_of_weight())
            .map(|mark| (distance(planned, mark.position).metres(), mark))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, mark)) = mark {
            return Some(Self { place: mark.position, name: mark.name.clone() });
        }
        let within = GroundRange::clamped_metres(SHORE_WITHIN_M);
        let (off, bearing) = chart.coast().nearest(planned, within)?;
        let place = LocalPlane::new(planned).to_position(PlanePoint::at(off, bearing));
        Some(Self { place, name: "the shore".to_owned() })
    }

    /// Whether land charted at a place is the landfall's.
    pub fn is_at(&self, charted: Position) -> bool {
        distance(self.place, charted).metres() <= OF_IT_M
    }
}
