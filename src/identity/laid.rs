use rayon::prelude::*;

use super::problem::Problem;
use crate::geodesy::{LocalPlane, PlanePoint};

/// The candidates laid out about the reckoning.
pub(super) struct Laid {
    pub plane: LocalPlane,
    /// In the candidates' order.
    pub points: Vec<PlanePoint>,
}

impl Laid {
    pub fn of(problem: &Problem) -> Self {
        let plane = LocalPlane::new(problem.prior.position);
        let points = problem.candidates.par_iter().map(|c| plane.to_plane(c.position)).collect();
        Self { plane, points }
    }
}
