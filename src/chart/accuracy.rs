use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// How far the chart itself may be wrong, one standard deviation on each axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Accuracy {
    /// Each charted point or stretch of shore, by itself.
    pub point_sigma: GroundRange,
    /// The whole chart, one error for all.
    pub shift_sigma: GroundRange,
}

impl Default for Accuracy {
    /// 0.10 and 0.05 NM.
    fn default() -> Self {
        let miles = |miles: f64| GroundRange::clamped_metres(miles * METRES_PER_NAUTICAL_MILE);
        Self { point_sigma: miles(0.10), shift_sigma: miles(0.05) }
    }
}

impl Accuracy {
    /// The worse of two on each count: for charts used together.
    #[must_use]
    pub fn worse(self, other: Self) -> Self {
        let more = |a: GroundRange, b: GroundRange| if a < b { b } else { a };
        Self {
            point_sigma: more(self.point_sigma, other.point_sigma),
            shift_sigma: more(self.shift_sigma, other.shift_sigma),
        }
    }
}
