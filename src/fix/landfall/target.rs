use crate::chart::{Chart, Mark, MarkId, MarkKind};
use crate::geodesy::{LocalPlane, PlanePoint, Position, distance};
use crate::units::{GroundRange, Height, METRES_PER_NAUTICAL_MILE};

/// A mark so near to the place planned stands for it.
const MARK_WITHIN_M: f64 = METRES_PER_NAUTICAL_MILE;
/// Else the shore does, so near.
const SHORE_WITHIN_M: f64 = 3.0 * METRES_PER_NAUTICAL_MILE;
/// Marks so near to the one that stands for the landfall are the same land to a radar that sees
/// them from afar: the light on the head, the rock at its foot.
const SAME_LAND_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;

/// What stands for a landfall planned at a place.
#[derive(Debug, Clone, PartialEq)]
pub struct StandsFor {
    /// Where it is charted.
    pub place: Position,
    /// The mark; none where it is the shore.
    pub mark: Option<MarkId>,
    /// Its name, or "the shore".
    pub name: String,
    /// Above mean sea level.
    pub height: Height,
    /// How far it lies from the place planned.
    pub off: GroundRange,
}

impl StandsFor {
    /// The nearest mark of weight within a mile of a place, else the nearest shore within three; none
    /// where nothing is charted there.
    pub fn at(chart: &Chart, planned: Position) -> Option<Self> {
        near(chart, planned, MARK_WITHIN_M)
            .filter(|(_, mark)| mark.is_of_weight())
            .map(|(id, mark)| (id, mark, distance(planned, mark.position)))
            .min_by(|a, b| a.2.metres().total_cmp(&b.2.metres()).then(a.0.cmp(&b.0)))
            .map(|(id, mark, off)| Self {
                place: mark.position,
                mark: Some(id),
                name: mark.name.clone(),
                height: mark.height,
                off,
            })
            .or_else(|| Self::shore(chart, planned))
    }

    fn shore(chart: &Chart, planned: Position) -> Option<Self> {
        let within = GroundRange::clamped_metres(SHORE_WITHIN_M);
        let (off, bearing) = chart.coast().nearest(planned, within)?;
        Some(Self {
            place: LocalPlane::new(planned).to_position(PlanePoint::at(off, bearing)),
            mark: None,
            name: "the shore".to_owned(),
            height: Height::SEA_LEVEL,
            off,
        })
    }
}

/// The marks within so many metres of a place.
fn near(chart: &Chart, at: Position, metres: f64) -> impl Iterator<Item = (MarkId, &Mark)> {
    let marks = chart.marks();
    let found = marks.within(at, GroundRange::clamped_metres(metres)).into_iter();
    found.filter_map(|id| marks.get(id).map(|mark| (id, mark)))
}

/// What stands for the planned landfall, among what the contacts may be.
pub(in crate::fix) struct Target {
    pub place: Position,
    pub mark: Option<MarkId>,
    pub name: String,
    pub height: Height,
    pub off: GroundRange,
    /// The candidates that are it, its companions on the same land included.
    candidates: Vec<usize>,
}

impl Target {
    /// None where nothing is charted at the place planned.
    ///
    /// `candidates`: the marks that the contacts may be, in their order.
    pub fn at(chart: &Chart, candidates: &[MarkId], planned: Position) -> Option<Self> {
        let StandsFor { place, mark, name, height, off } = StandsFor::at(chart, planned)?;
        let candidates = near(chart, place, SAME_LAND_M)
            .filter(|(_, mark)| mark.kind != MarkKind::Buoy)
            .filter_map(|(id, _)| candidates.binary_search(&id).ok())
            .collect();
        Some(Self { place, mark, name, height, off, candidates })
    }

    /// Whether some candidate is it.
    pub fn is_marked(&self) -> bool {
        !self.candidates.is_empty()
    }

    /// Whether a candidate is the landfall.
    pub fn is(&self, candidate: usize) -> bool {
        self.candidates.contains(&candidate)
    }
}
