use nalgebra::{Cholesky, Matrix4, SymmetricEigen, Vector4};

use super::fit::{Fitted, Fitting, Pose, Window};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// A place known no better than this along its longest axis, metres, is walked along it: so far a
/// shore is no straight line.
const WALKED_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;
/// Slices are so far apart, in standard deviations of the place, and in metres.
const STEP_SIGMAS: f64 = 0.4;
const STEPS_M: [f64; 2] = [0.3 * METRES_PER_NAUTICAL_MILE, 1.5 * METRES_PER_NAUTICAL_MILE];
/// A slice's window in steps: windows of this width add up to a level sum.
const WIDTH: f64 = 0.8;
/// The walk ends this many nats below the highest slice, or after so many slices.
const ENDS_NATS: f64 = 8.0;
const MOST_SLICES: usize = 40;
/// A valley this deep on both sides parts two places.
const VALLEY_NATS: f64 = 5.0;

/// A place walked along: the parts it falls into, and the slices it was told by.
pub(super) struct Walked {
    pub parts: Vec<Fitted>,
    pub slices: Vec<Fitted>,
}

/// Walks along a place that is long, slice by slice, and gathers what each slice comes to; none
/// where the place is short, or cannot be followed.
///
/// The trace's likelihood is taken apart by windows along the axis that add up to a level sum, so
/// that mean and spread of the whole are those of the mixture of the slices: no straight line is
/// laid over more of the shore than one slice.
pub(super) fn walk(fitting: &Fitting<'_, '_>, from: &Fitted) -> Option<Walked> {
    let position = from.covariance.fixed_view::<2, 2>(0, 0).into_owned();
    let axes = SymmetricEigen::new(position);
    let index = axes.eigenvalues.imax();
    let long = axes.eigenvalues.get(index).copied()?.max(0.0).sqrt();
    if long < WALKED_M {
        return None;
    }
    let axis = axes.eigenvectors.column(index);
    let axis = [axis[0], axis[1]];
    let step = (STEP_SIGMAS * long).clamp(STEPS_M[0], STEPS_M[1]);
    let start = slice(fitting, &from.pose, axis, 0.0, step)?;
    let mut top = start.log_evidence;
    let mut slices = vec![start.clone()];
    for way in [1.0, -1.0] {
        let mut last = start.clone();
        let mut before = from.pose;
        for number in 1..=MOST_SLICES {
            // On from the last slice as it lay to the one before.
            let guess = last.pose + (last.pose - before) * if number == 1 { 0.0 } else { 1.0 };
            let along = way * step * number as f64 + dot(axis, &from.pose);
            let short = along - dot(axis, &guess);
            let guess = guess + Pose::new(axis[0] * short, axis[1] * short, 0.0, 0.0);
            let Some(found) = slice(fitting, &guess, axis, 0.0, step) else { break };
            top = top.max(found.log_evidence);
            let over = found.log_evidence < top - ENDS_NATS;
            before = last.pose;
            last = found.clone();
            if way > 0.0 {
                slices.push(found);
            } else {
                slices.insert(0, found);
            }
            if over {
                break;
            }
        }
    }
    let parts = valleys(&slices).filter_map(|group| gathered(fitting, group)).collect();
    Some(Walked { parts, slices })
}

fn dot(axis: [f64; 2], pose: &Pose) -> f64 {
    axis[0] * pose[0] + axis[1] * pose[1]
}

/// What a window about a pose comes to.
fn slice(
    fitting: &Fitting<'_, '_>,
    pose: &Pose,
    axis: [f64; 2],
    off: f64,
    step: f64,
) -> Option<Fitted> {
    let window = Window { axis, middle: dot(axis, pose) + off, sigma: WIDTH * step };
    let mut found = fitting.within(window, pose)?;
    // The window as a share of the level sum: its density by a step.
    found.log_evidence += step.ln() - (std::f64::consts::TAU.sqrt() * window.sigma).ln();
    Some(found)
}

/// Runs of slices without a deep valley in them.
fn valleys(slices: &[Fitted]) -> impl Iterator<Item = &[Fitted]> {
    let height: Vec<f64> = slices.iter().map(|s| s.log_evidence).collect();
    let highest = |range: &[f64]| range.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut cuts = vec![0];
    for at in 1..slices.len().saturating_sub(1) {
        let from = cuts.last().copied().unwrap_or(0);
        let (Some(before), Some(&here), Some(after)) =
            (height.get(from..at), height.get(at), height.get(at + 1..))
        else {
            continue;
        };
        let lowest = height.get(at + 1).is_none_or(|next| here <= *next)
            && before.last().is_none_or(|last| here <= *last);
        if lowest && highest(before) - here > VALLEY_NATS && highest(after) - here > VALLEY_NATS {
            cuts.push(at);
        }
    }
    cuts.push(slices.len());
    let ends: Vec<(usize, usize)> =
        cuts.iter().zip(cuts.iter().skip(1)).map(|(a, b)| (*a, *b)).collect();
    ends.into_iter().filter_map(|(a, b)| slices.get(a..b))
}

/// Mean and spread of a run of slices, as a place of its own.
fn gathered(fitting: &Fitting<'_, '_>, slices: &[Fitted]) -> Option<Fitted> {
    let top = slices.iter().map(|s| s.log_evidence).fold(f64::NEG_INFINITY, f64::max);
    let best = slices.iter().max_by(|a, b| a.log_evidence.total_cmp(&b.log_evidence))?;
    let weights: Vec<f64> = slices.iter().map(|s| (s.log_evidence - top).exp()).collect();
    let total: f64 = weights.iter().sum();
    let each = || slices.iter().zip(&weights);
    let mean = each().fold(Pose::zeros(), |sum, (s, w)| sum + s.pose * (w / total));
    let covariance = each().fold(Matrix4::zeros(), |sum: Matrix4<f64>, (s, w)| {
        let off = s.pose - mean;
        sum + (s.covariance + off * off.transpose()) * (w / total)
    });
    let (prior, back) = fitting.prior(&mean);
    let told = Cholesky::new(covariance)?.inverse() - prior;
    let mut whole = Fitted {
        pose: mean,
        covariance,
        information: nowhere_less(told, fitting.trace.mean_range()),
        pull: -back,
        log_density: 0.0,
        log_evidence: top + total.ln(),
        rms: best.rms,
    };
    whole.log_density = fitting.levelled(&whole, &prior);
    Some(whole)
}

/// The nearest information that is nowhere negative.
fn nowhere_less(information: Matrix4<f64>, range: f64) -> Matrix4<f64> {
    let scale = Vector4::new(1.0, 1.0, 1.0 / range.max(1.0), 1.0);
    let scaled = Matrix4::from_diagonal(&scale);
    let back = Matrix4::from_diagonal(&scale.map(|s| 1.0 / s));
    let whole = scaled * information * scaled;
    let mut eigen = SymmetricEigen::new(0.5 * (whole + whole.transpose()));
    eigen.eigenvalues.apply(|value| *value = value.max(0.0));
    back * eigen.recompose() * back
}
