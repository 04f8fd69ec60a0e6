//! Marks found from the shape of the coast and the ground.

use super::{Accuracy, Coast, Ground, Mark};

/// The headlands, islets and peaks that a chart shows and does not name.
pub(super) fn found_marks(
    _coast: &Coast,
    _ground: &Ground,
    _accuracy: &Accuracy,
    _charted: &[Mark],
) -> Vec<Mark> {
    Vec::new()
}
