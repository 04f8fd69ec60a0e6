use statrs::distribution::{ContinuousCDF, Normal};

use crate::fix::case::Case;
use crate::geodesy::{Covariance, LocalPlane, PlanePoint};
use crate::identity::Solution;
use crate::units::{Bearing, GroundRange};

/// A mark less likely than this to paint is not worth looking for.
pub(super) const LEAST_CHANCE: f64 = 0.5;
/// Marks looked at, nearest first: what is far off helps no one.
const MOST_LOOKED_AT: usize = 300;
/// A mark that hardly ever paints is taken for no other.
const LEAST_SEEN: f64 = 0.05;
/// Nearer than this a mark has no direction, in metres.
const NEAREST_M: f64 = 200.0;
/// Marks farther apart on the screen than so many standard deviations are not taken for each other.
const ALIKE_SIGMAS: f64 = 6.0;

/// A mark that may show from a place.
#[derive(Debug, Clone, Copy)]
pub(super) struct InSight {
    pub candidate: usize,
    /// Where it lies from own place, in metres.
    pub at: PlanePoint,
    /// The chance that it paints.
    pub chance: f64,
    /// Salience times that chance: how likely an operator is to pick it.
    pub weight: f64,
}

impl InSight {
    pub fn metres(&self) -> f64 {
        self.at.east.hypot(self.at.north)
    }
}

/// What shows from one place that fits, nearest first.
pub(super) struct View<'a> {
    pub solution: &'a Solution,
    /// The error of the place: that of the solution, or of all identities that lead to it.
    pub error: Covariance,
    pub seen: Vec<InSight>,
    /// All weight in sight.
    pub total: f64,
}

impl<'a> View<'a> {
    pub fn new(case: &Case<'_>, solution: &'a Solution, error: Covariance) -> Self {
        let plane = LocalPlane::new(solution.position);
        let (nearest, reach) = (case.prospect.blind().max(NEAREST_M), case.prospect.reach());
        let mut seen: Vec<InSight> = case
            .problem
            .candidates
            .iter()
            .enumerate()
            .filter(|(_, mark)| mark.weight > 0.0)
            .map(|(candidate, mark)| {
                let at = plane.to_plane(mark.position);
                InSight { candidate, at, chance: 0.0, weight: mark.weight }
            })
            .filter(|mark| (nearest..=reach).contains(&mark.metres()))
            .collect();
        seen.sort_by(|a, b| a.metres().total_cmp(&b.metres()).then(a.candidate.cmp(&b.candidate)));
        seen.truncate(MOST_LOOKED_AT);
        for mark in &mut seen {
            mark.chance = case.sighting.chance(solution.position, mark.candidate);
            mark.weight *= mark.chance;
        }
        seen.retain(|mark| mark.chance >= LEAST_SEEN);
        let total = seen.iter().map(|mark| mark.weight).sum();
        Self { solution, error, seen, total }
    }

    pub fn find(&self, candidate: usize) -> Option<&InSight> {
        self.seen.iter().find(|mark| mark.candidate == candidate)
    }

    /// Where the echo of a mark is looked for on the screen: own error, that of its bearing and of
    /// its range.
    pub fn plotted(&self, case: &Case<'_>, mark: &InSight) -> Covariance {
        let metres = mark.metres();
        let candidate = case.problem.candidates.get(mark.candidate);
        let own = candidate.map_or(0.0, |c| c.sigma_m.hypot(c.slack_m));
        let (_, bias) = self.solution.bearing_bias();
        let across = metres * bias.hypot(case.prospect.bearing_sigma());
        let along = case.prospect.range_sigma(metres);
        let read = Covariance::along_across(
            GroundRange::clamped_metres(along),
            GroundRange::clamped_metres(across),
            Bearing::wrapped(mark.at.east.atan2(mark.at.north)),
        );
        self.error.plus(read).plus(Covariance::circular(GroundRange::clamped_metres(own)))
    }

    /// The chance that the echo taken for a mark is that mark's, and not a neighbour's.
    ///
    /// Two marks whose plots are d standard deviations apart are confused with a chance of Φ(-d/2),
    /// where the chart is shifted against the screen by the error of both alike; a neighbour counts
    /// as far as it paints.
    pub fn sureness(&self, case: &Case<'_>, mark: &InSight) -> f64 {
        let error = self.plotted(case, mark);
        let normal = Normal::standard();
        self.seen
            .iter()
            .filter(|other| other.candidate != mark.candidate)
            .map(|other| {
                let (east, north) = (other.at.east - mark.at.east, other.at.north - mark.at.north);
                let apart = error.mahalanobis_squared(east, north).sqrt();
                if apart > ALIKE_SIGMAS {
                    1.0
                } else {
                    1.0 - other.chance * normal.cdf(-apart / 2.0)
                }
            })
            .product()
    }
}
