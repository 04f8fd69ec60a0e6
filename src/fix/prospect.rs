use crate::geodesy::Position;
use crate::identity::{Answer, RatioReading};

/// What a measurement on some mark would be worth, and of what part of it it would be.
///
/// What is not said otherwise holds for marks that are points, read by a turning beam.
pub(super) trait Prospect: Sync {
    /// Error of a range of so many metres, in metres.
    fn range_sigma(&self, metres: f64) -> f64;
    /// Error of a bearing, in radians.
    fn bearing_sigma(&self) -> f64;
    /// The greatest range that can be read, in metres.
    fn reach(&self) -> f64;

    /// Nearer than this nothing shows, in metres.
    fn blind(&self) -> f64 {
        0.0
    }

    /// What tells directions in place of a bearing: two lobes, on the heading now steered. None
    /// for a turning beam.
    fn ratio(&self) -> Option<RatioReading> {
        None
    }

    /// Whether directions can be read at all.
    fn tells_directions(&self) -> bool {
        true
    }

    /// Error of the bearing of a mark's edge, in radians.
    fn edge_sigma(&self) -> f64 {
        self.bearing_sigma()
    }

    /// Whether the left and the right edge of a mark both show from a place.
    fn shows_edges(&self, _candidate: usize, _from: Position) -> bool {
        false
    }

    /// The part of a mark that would answer; none where it is the charted point.
    fn part(&self, _part: Asked, _candidate: usize, _from: Position, _bias: f64) -> Option<Answer> {
        None
    }

    /// The ground that may have answered in a mark's place, or that a mark is.
    fn behind(&self, _candidate: usize, _from: Position) -> Option<Behind> {
        None
    }

    /// Whether a mark, or the nearest shore of all, more likely shows from a place than not, by the
    /// whole budget that is told of it.
    fn shows(&self, _candidate: usize, _from: Position) -> bool {
        true
    }

    /// Whether the chart names a mark: of two that are worth as much, the one that a navigator knows by its
    /// name is told first.
    fn is_named(&self, _candidate: usize) -> bool {
        true
    }

    /// Whether the chart has land within so many metres of a place.
    fn has_land(&self, _at: Position, _within: f64) -> bool {
        false
    }
}

/// The part of a mark that a measurement would be of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Asked {
    /// Its leading edge, borne by its charted point.
    Near,
    /// Its left edge.
    Left,
    /// Its right edge.
    Right,
    /// The nearest shore of all.
    Shore,
}

/// Ground behind the shore, where a contact is or may be of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Behind {
    /// The mark is a summit, so many metres from the nearest shore.
    Summit { inland: f64 },
    /// The mark hardly paints, and this candidate does, so many metres farther in the same beam.
    Higher { candidate: usize, farther: f64 },
}
