use std::collections::HashMap;

use statrs::distribution::{ContinuousCDF, Normal};

use crate::fix::case::Case;
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position};
use crate::identity::Solution;
use crate::units::{Angle, Bearing, GroundRange};

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
/// A sphere for finding what is near, and by how much it may put it too far off.
const ROUND_EARTH_M: f64 = 6_371_000.0;
const OUT_OF_ROUND: f64 = 1.01;

/// A mark that may show from a place.
#[derive(Debug, Clone, Copy)]
pub(super) struct InSight {
    pub candidate: usize,
    /// Where it lies from own place, in metres.
    pub at: PlanePoint,
    pub metres: f64,
    /// The chance that it paints.
    pub chance: f64,
    /// Salience times that chance: how likely an operator is to pick it.
    pub weight: f64,
    /// Where its echo is looked for on the screen: own error, that of its bearing and of its range.
    pub plotted: Covariance,
}

/// Every mark as a direction from the middle of the Earth: what is near a place is found without
/// laying out a whole chart about it.
pub(super) struct Field(Vec<(usize, [f64; 3])>);

impl Field {
    pub fn new(case: &Case<'_>) -> Self {
        let marks = case.problem.candidates.iter().enumerate();
        Self(
            marks
                .filter(|(_, mark)| mark.weight > 0.0)
                .map(|(candidate, mark)| (candidate, outward(mark.position)))
                .collect(),
        )
    }

    /// The nearest marks within so many metres, in no order, and all that are within them.
    fn near(&self, from: Position, within: f64) -> (Vec<usize>, Vec<usize>) {
        let here = outward(from);
        let most = (within * OUT_OF_ROUND / ROUND_EARTH_M).powi(2);
        let chord = |there: &[f64; 3]| -> f64 {
            here.iter().zip(there).map(|(a, b)| (a - b) * (a - b)).sum()
        };
        let mut found: Vec<(f64, usize)> = self
            .0
            .iter()
            .map(|(candidate, there)| (chord(there), *candidate))
            .filter(|(chord, _)| *chord <= most)
            .collect();
        if found.len() > MOST_LOOKED_AT {
            found.select_nth_unstable_by(MOST_LOOKED_AT, |a, b| {
                a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))
            });
        }
        let all: Vec<usize> = found.into_iter().map(|(_, candidate)| candidate).collect();
        (all.iter().copied().take(MOST_LOOKED_AT).collect(), all)
    }
}

fn outward(position: Position) -> [f64; 3] {
    let sin_cos = |degrees| Angle::from_degrees(degrees).radians().sin_cos();
    let ((sin_lat, cos_lat), (sin_lon, cos_lon)) =
        (sin_cos(position.latitude()), sin_cos(position.longitude()));
    [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat]
}

/// What shows from one place that fits, nearest first.
pub(super) struct View<'a> {
    pub solution: &'a Solution,
    /// The error of the place: that of the solution, or of all identities that lead to it.
    pub error: Covariance,
    pub seen: Vec<InSight>,
    /// All weight in sight.
    pub total: f64,
    /// Where each candidate stands in `seen`.
    order: HashMap<usize, usize>,
}

impl<'a> View<'a> {
    pub fn new(case: &Case<'_>, field: &Field, solution: &'a Solution, error: Covariance) -> Self {
        let plane = LocalPlane::new(solution.position);
        let (blind, reach) = (case.prospect.blind().max(NEAREST_M), case.prospect.reach());
        let (nearest, all) = field.near(solution.position, reach);
        let mark_of = |candidate: usize| case.problem.candidates.get(candidate);
        let plot = Plot { case, error, bias_sigma: solution.bearing_bias().1 };
        let mut seen: Vec<InSight> = nearest
            .iter()
            .filter_map(|&candidate| {
                let mark = mark_of(candidate)?;
                let at = plane.to_plane(mark.position);
                let metres = at.east.hypot(at.north);
                if !(blind..=reach).contains(&metres) {
                    return None;
                }
                let chance = case.chance_now(solution.position, candidate);
                let own = mark.sigma_m.hypot(mark.slack_m);
                let plotted = plot.of(at, metres, own);
                let weight = mark.weight * chance;
                Some(InSight { candidate, at, metres, chance, weight, plotted })
            })
            .collect();
        // Those farther off show about as often as those looked at.
        let salience = |of: &[usize]| -> f64 {
            of.iter().filter_map(|&c| mark_of(c)).map(|mark| mark.weight).sum()
        };
        let more = salience(&all) / salience(&nearest).max(1e-12);
        let total = seen.iter().map(|mark| mark.weight).sum::<f64>() * more;
        seen.retain(|mark| mark.chance >= LEAST_SEEN);
        seen.sort_by(|a, b| a.metres.total_cmp(&b.metres).then(a.candidate.cmp(&b.candidate)));
        let order = seen.iter().enumerate().map(|(i, mark)| (mark.candidate, i)).collect();
        Self { solution, error, seen, total, order }
    }

    pub fn find(&self, candidate: usize) -> Option<&InSight> {
        self.seen.get(*self.order.get(&candidate)?)
    }

    /// What stands within so many squared standard deviations of a point of the screen.
    pub fn about(
        &self,
        at: PlanePoint,
        error: Covariance,
        squared: f64,
    ) -> impl Iterator<Item = (&InSight, f64)> {
        let metres = at.east.hypot(at.north);
        let within = (squared * error.axes().0).sqrt();
        let first = self.seen.partition_point(|mark| mark.metres < metres - within);
        let near = self.seen.get(first..).unwrap_or_default().iter();
        near.take_while(move |mark| mark.metres <= metres + within)
            .map(move |mark| {
                let (east, north) = (mark.at.east - at.east, mark.at.north - at.north);
                (mark, error.mahalanobis_squared(east, north))
            })
            .filter(move |(_, apart)| *apart < squared)
    }

    /// The chance that the echo taken for a mark is that mark's, and not a neighbour's.
    ///
    /// Two marks whose plots are d standard deviations apart are confused with a chance of Φ(-d/2),
    /// where the chart is shifted against the screen by the error of both alike; a neighbour counts
    /// as far as it paints.
    pub fn sureness(&self, mark: &InSight) -> f64 {
        let normal = Normal::standard();
        self.about(mark.at, mark.plotted, ALIKE_SIGMAS * ALIKE_SIGMAS)
            .filter(|(other, _)| other.candidate != mark.candidate)
            .map(|(other, apart)| 1.0 - other.chance * normal.cdf(-apart.sqrt() / 2.0))
            .product()
    }
}

/// How well echoes are plotted from one place.
struct Plot<'a> {
    case: &'a Case<'a>,
    error: Covariance,
    bias_sigma: f64,
}

impl Plot<'_> {
    /// `own` is how well the mark's own place is known, in metres.
    fn of(&self, at: PlanePoint, metres: f64, own: f64) -> Covariance {
        let prospect = self.case.prospect;
        let across = metres * self.bias_sigma.hypot(prospect.bearing_sigma());
        let read = Covariance::along_across(
            GroundRange::clamped_metres(prospect.range_sigma(metres)),
            GroundRange::clamped_metres(across),
            Bearing::wrapped(at.east.atan2(at.north)),
        );
        self.error.plus(read).plus(Covariance::circular(GroundRange::clamped_metres(own)))
    }
}
