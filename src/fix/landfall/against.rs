//! A contact held against the landfall.

use super::super::case::Case;
use super::target::Target;
use super::{Asked, when_measured};
use crate::geodesy::{Covariance, Position, course};
use crate::identity::{Posterior, Row, Solution, rows};
use crate::radar::geometry::{EarthRadius, slant_range};
use crate::units::{Angle, Bearing, Height, METRES_PER_NAUTICAL_MILE, True};

/// χ² at 95 % of one and of two degrees of freedom (table).
const GATE_95: [f64; 2] = [3.841, 5.991];
/// Headlands of one coast stand no nearer to each other than this as a rule, in nautical miles
/// (common practice, no published source): a contact so near to where the landfall should stand is
/// the one that will be taken for it.
const NEAR_MISS_NM: f64 = 5.0;

/// What a contact measured against what was to be expected.
#[derive(Debug, Clone, Copy)]
pub(super) struct Miss {
    /// Squared, in standard deviations.
    pub squared: f64,
    /// How many numbers it is made of.
    pub numbers: usize,
    /// Over the ground.
    pub metres: f64,
}

impl Miss {
    pub fn is_within_gate(self) -> bool {
        let gate = GATE_95.get(self.numbers.saturating_sub(1)).copied();
        self.numbers > 0 && self.squared <= gate.unwrap_or(0.0)
    }
}

/// A contact against what all other contacts and the reckoning foretell of the mark it is taken for.
pub(super) fn own_residual(
    case: &Case<'_>,
    targets: &[Option<usize>],
    sight: usize,
    near: &Solution,
) -> Option<Miss> {
    let only = |keep: bool| -> Vec<Option<usize>> {
        let kept = |(at, target): (usize, &Option<usize>)| target.filter(|_| (at == sight) == keep);
        targets.iter().enumerate().map(kept).collect()
    };
    let rest = case.together(&only(false), near)?;
    let told = rows(&case.problem, case.answering, &only(true), rest.position, &rest.state);
    Some(Miss { squared: squared(&told, &rest)?, numbers: told.len(), metres: 0.0 })
}

/// The squared residual of one or two rows by their own errors and those of what foretells them.
fn squared(told: &[Row], rest: &Solution) -> Option<f64> {
    let shared = |a: &Row, b: &Row| (a.slope.transpose() * rest.covariance * b.slope)[(0, 0)];
    match told {
        [only] => Some(only.residual.powi(2) / (only.variance + shared(only, only))),
        [a, b] => {
            let (aa, bb) = (a.variance + shared(a, a), b.variance + shared(b, b));
            let ab = shared(a, b);
            let determinant = aa * bb - ab * ab;
            let (x, y) = (a.residual, b.residual);
            (determinant > 0.0).then(|| (bb * x * x - 2.0 * ab * x * y + aa * y * y) / determinant)
        }
        _ => None,
    }
}

/// Where something on the land lies, and how high.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    pub place: Position,
    pub height: Height,
}

/// How far a contact lies from where something should show, seen from a place that is known so well.
pub(super) fn miss(
    case: &Case<'_>,
    sight: usize,
    spot: Spot,
    from: Position,
    error: Covariance,
) -> Option<Miss> {
    let measured = case.problem.sights.get(sight)?;
    let line = course(when_measured(case, sight, from), spot.place);
    let along = line.distance.metres();
    let own = Height::from_metres(measured.own_height_m).ok()?;
    let slant = slant_range(own, spot.height, line.distance, EarthRadius::MEAN).metres();
    let mut miss = Miss { squared: 0.0, numbers: 0, metres: 0.0 };
    let mut take = |off_m: f64, sigma_m: f64| {
        miss.squared += (off_m / sigma_m.max(1.0)).powi(2);
        miss.numbers += 1;
        miss.metres = miss.metres.hypot(off_m);
    };
    if let Some(range) = measured.range {
        take(range.value - slant, range.sigma.hypot(error.sigma_towards(line.initial)));
    }
    let told = match &measured.ratio {
        Some(ratio) => ratio.bearings(measured.own_height_m, along),
        None => measured.bearing.into_iter().collect(),
    };
    let aside = |value: f64| Angle::from_radians(value - line.initial.radians()).radians();
    let nearest =
        told.into_iter().min_by(|a, b| aside(a.value).abs().total_cmp(&aside(b.value).abs()));
    if let Some(bearing) = nearest {
        let bias = case.problem.shared.bearing_bias_sigma;
        let across = line.initial.turned(Angle::from_degrees(90.0));
        let sigma_m = (along * bearing.sigma.hypot(bias)).hypot(error.sigma_towards(across));
        take(along * aside(bearing.value), sigma_m);
    }
    (miss.numbers > 0).then_some(miss)
}

/// The contacts that may be taken for the landfall, the likeliest mistake first: what the operator
/// named as it, what stands near to where the reckoning has it, and what fits it by the reckoning
/// better than the mark that it is.
pub(super) fn concerned(asked: &Asked<'_>, target: &Target, posterior: &Posterior) -> Vec<usize> {
    let case = asked.case;
    let (from, error) = (case.problem.prior.position, case.reckoned());
    let spot = Spot { place: target.place, height: target.height };
    let all: Vec<usize> = (0..posterior.hypotheses.len()).collect();
    let of = |sight: usize, spot: Spot| miss(case, sight, spot, from, error);
    let mut found: Vec<(bool, f64, usize)> = (0..case.labels.len())
        .filter_map(|sight| {
            let named = case.stated(sight).is_some_and(|candidate| target.is(candidate));
            let here = of(sight, spot)?;
            let near = here.metres <= NEAR_MISS_NM * METRES_PER_NAUTICAL_MILE;
            let likelier = || {
                let marks = posterior.marginals(sight, &all);
                let own = marks.first().and_then(|(c, _)| case.problem.candidates.get(*c))?;
                let height = Height::from_metres(own.height_m).ok()?;
                let there = of(sight, Spot { place: own.position, height })?;
                Some(here.squared <= there.squared)
            };
            let fits = here.is_within_gate() && likelier().unwrap_or(true);
            (named || near || fits).then_some((named, here.squared, sight))
        })
        .collect();
    found.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
    found.into_iter().map(|(.., sight)| sight).collect()
}

/// The true bearing of a contact as read, or towards a place where it has none, from where we stand.
pub(super) fn bearing_of(
    case: &Case<'_>,
    sight: usize,
    else_towards: Bearing<True>,
) -> Bearing<True> {
    let read = case.problem.sights.get(sight).and_then(|sight| sight.bearing);
    read.map_or(else_towards, |read| Bearing::wrapped(read.value))
}
