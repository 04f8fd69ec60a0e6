//! What is thought of a contact before its measurements are held against any mark.

use std::f64::consts::TAU;

use super::problem::{Problem, Sight};

/// Contacts closer in time than this are not the same mark twice.
pub(crate) const SAME_LOOK_S: f64 = 60.0;

/// Logarithm of the prior that a contact is a mark, `share` being the mark's part of all that an
/// operator might have picked; of a traced outline, with the density of the trace that its place
/// does not tell as a measurement.
pub(crate) fn log_prior(sight: &Sight, candidate: usize, share: f64) -> f64 {
    if let Some(traced) = &sight.traced {
        let density = traced.place(candidate).map_or(f64::MIN, |place| place.log_density);
        return (1.0 - sight.off_chart).ln() + density;
    }
    let believed = match sight.belief {
        Some(belief) if belief.candidate == candidate => {
            belief.confidence + (1.0 - belief.confidence) * share
        }
        Some(belief) => (1.0 - belief.confidence) * share,
        None => share,
    };
    ((1.0 - sight.off_chart) * believed).max(f64::MIN_POSITIVE).ln()
}

/// Logarithm of the prior and density of a contact that is nothing on the chart, in the units of
/// [`log_anywhere`].
pub(crate) fn log_off_chart(sight: &Sight, reach: f64) -> f64 {
    if let Some(traced) = &sight.traced {
        return sight.off_chart.max(f64::MIN_POSITIVE).ln() + traced.log_nothing;
    }
    (sight.off_chart * density_anywhere(sight, reach)).max(f64::MIN_POSITIVE).ln()
}

/// Logarithm of the density of a contact of which nothing is known, anywhere within reach: by square
/// metre for a range and bearing, by metre for a range, by radian for a bearing; of a ratio, by
/// decibel where a bearing has a radian.
pub(crate) fn log_anywhere(sight: &Sight, reach: f64) -> f64 {
    if let Some(traced) = &sight.traced {
        return traced.log_nothing;
    }
    density_anywhere(sight, reach).max(f64::MIN_POSITIVE).ln()
}

fn density_anywhere(sight: &Sight, reach: f64) -> f64 {
    // A bearing is anywhere on the circle; a ratio is what the lobes make of that.
    let borne = match (sight.bearing, sight.ratio) {
        (Some(_), _) => Some(1.0 / TAU),
        (None, ratio) => ratio.map(|ratio| ratio.density),
    };
    match (sight.range, borne) {
        (Some(_), Some(borne)) => 2.0 * borne / (reach * reach),
        (Some(range), None) => 2.0 * range.value.clamp(1.0, reach) / (reach * reach),
        (None, Some(borne)) => borne,
        (None, None) => 1.0,
    }
}

/// What turns a density by square metre into one by metre and radian, in nats.
pub(crate) fn log_plotted(sight: &Sight) -> f64 {
    match (sight.range, sight.is_borne()) {
        (Some(range), true) => range.value.max(1.0).ln(),
        _ => 0.0,
    }
}

/// Whether two contacts cannot be one mark: the same part of an echo measured in one look, by the same
/// quantity, and not so named by the operator.
pub(crate) fn excludes(problem: &Problem, one: usize, other: usize) -> bool {
    let (Some(a), Some(b)) = (problem.sights.get(one), problem.sights.get(other)) else {
        return false;
    };
    let same_quantity = a.range.is_some() && b.range.is_some() || a.is_borne() && b.is_borne();
    let same_name = a.belief.is_some_and(|x| b.belief.is_some_and(|y| x.candidate == y.candidate));
    a.part == b.part
        && same_quantity
        && !same_name
        && (a.elapsed_s - b.elapsed_s).abs() < SAME_LOOK_S
}
