//! The filter forward and the smoother backward, on numbers alone.

use nalgebra::{Cholesky, Matrix2, Matrix4, SMatrix, Vector2, Vector4};

/// Place east and north in metres, then velocity east and north in metres per second: each the truth
/// less what was reckoned.
pub type Vector = Vector4<f64>;

/// What is known of place and velocity, and how well.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// The mean.
    pub mean: Vector,
    /// Its covariance.
    pub covariance: Matrix4<f64>,
}

/// A place measured: its weight (the inverse of its covariance, which may leave a direction free)
/// and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// East and north, per square metre.
    pub weight: Matrix2<f64>,
    /// The weight times the place, per metre: the place itself is not told where a direction is free.
    pub weighted: Vector2<f64>,
}

/// From one instant to the next: x → `carry` x + `shift`, with new error `noise`; then what was
/// measured there, if anything.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// How the state carries over.
    pub carry: Matrix4<f64>,
    /// What is reckoned from is moved, and the state with it.
    pub shift: Vector,
    /// The error that comes in on the way.
    pub noise: Matrix4<f64>,
    /// What was measured at the end of the step.
    pub measured: Option<Measured>,
}

/// What is known at each instant by all that was measured before it and after it.
///
/// A Kalman filter forward, its update in the form that keeps the covariance positive (Joseph), then
/// the backward pass of H. E. Rauch, F. Tung and C. T. Striebel, "Maximum likelihood estimates of
/// linear dynamic systems", AIAA Journal 3 (1965), from memory:
///
/// G = P Φᵀ (P⁻)⁻¹, x ← x + G (x′ − x⁻), P ← P + G (P′ − P⁻) Gᵀ
///
/// with x′, P′ the answer at the next instant and x⁻, P⁻ what the filter expected there. Held to the
/// full joint posterior by dense linear algebra in `tests/smoother.rs`.
///
/// - `start`: before anything was measured.
/// - returns: one answer for each step, at its end.
pub fn smoothed(start: Known, steps: &[Step]) -> Vec<Known> {
    let mut expected = Vec::with_capacity(steps.len());
    let mut filtered: Vec<Known> = Vec::with_capacity(steps.len());
    let mut now = start;
    for step in steps {
        let before = carried(&now, step);
        now = step.measured.as_ref().map_or(before, |measured| updated(&before, measured));
        expected.push(before);
        filtered.push(now);
    }
    let mut answers = filtered;
    for at in (1..answers.len()).rev() {
        let (Some(here), Some(next)) = (answers.get(at - 1), answers.get(at)) else { continue };
        let (Some(before), Some(step)) = (expected.get(at), steps.get(at)) else { continue };
        let better = backward(here, step, before, next);
        if let Some(place) = answers.get_mut(at - 1) {
            *place = better;
        }
    }
    answers
}

fn carried(from: &Known, step: &Step) -> Known {
    Known {
        mean: step.carry * from.mean + step.shift,
        covariance: even(step.carry * from.covariance * step.carry.transpose() + step.noise),
    }
}

/// With a place measured. The gain is P Hᵀ (I + W H P Hᵀ)⁻¹ W, which needs no inverse of W.
fn updated(before: &Known, measured: &Measured) -> Known {
    let place = before.covariance.fixed_view::<2, 2>(0, 0).into_owned();
    let columns: SMatrix<f64, 4, 2> = before.covariance.fixed_view::<4, 2>(0, 0).into_owned();
    let Some(inverse) = (Matrix2::identity() + measured.weight * place).try_inverse() else {
        return *before;
    };
    // What is left over, weighted; a gain for weighted things.
    let gain = columns * inverse;
    let at = before.mean.fixed_view::<2, 1>(0, 0).into_owned();
    let left = measured.weighted - measured.weight * at;
    let mut keep = Matrix4::<f64>::identity();
    let taken = gain * measured.weight;
    for row in 0..4 {
        for column in 0..2 {
            keep[(row, column)] -= taken[(row, column)];
        }
    }
    let covariance =
        keep * before.covariance * keep.transpose() + gain * measured.weight * gain.transpose();
    Known { mean: before.mean + gain * left, covariance: even(covariance) }
}

fn backward(here: &Known, step: &Step, before: &Known, next: &Known) -> Known {
    // Without an inverse nothing is learnt from what came later: the filter's answer stands.
    let Some(solver) = Cholesky::new(before.covariance) else { return *here };
    let gain = solver.solve(&(step.carry * here.covariance)).transpose();
    let mean = here.mean + gain * (next.mean - before.mean);
    let covariance =
        here.covariance + gain * (next.covariance - before.covariance) * gain.transpose();
    let answer = Known { mean, covariance: even(covariance) };
    let sound = answer.mean.iter().chain(answer.covariance.iter()).all(|v| v.is_finite());
    if sound { answer } else { *here }
}

/// Rounding leaves a covariance a hair uneven.
fn even(matrix: Matrix4<f64>) -> Matrix4<f64> {
    0.5 * (matrix + matrix.transpose())
}

impl Measured {
    /// Of a place and its covariance in square metres: ee, en, nn. None for a covariance that is flat.
    pub fn of_place(east: f64, north: f64, [ee, en, nn]: [f64; 3]) -> Option<Self> {
        let weight = Matrix2::new(ee, en, en, nn).try_inverse()?;
        Some(Self { weight, weighted: weight * Vector2::new(east, north) })
    }

    /// What was measured alone, of a place by the measurement and a reckoning together: the
    /// reckoning's weight is taken out again.
    ///
    /// Exact for normal errors. A direction in which the two leave nothing, or less (rounding, or a
    /// place that several hypotheses share), was not measured. None where nothing is left.
    pub fn without(together: &Self, reckoning: &Self) -> Option<Self> {
        let weight = together.weight - reckoning.weight;
        let weighted = together.weighted - reckoning.weighted;
        let parts = (0.5 * (weight + weight.transpose())).symmetric_eigen();
        let least = 1e-6 * together.weight.norm();
        let mut kept = Self { weight: Matrix2::zeros(), weighted: Vector2::zeros() };
        for axis in 0..2 {
            let value = parts.eigenvalues[axis];
            if value > least {
                let direction = parts.eigenvectors.column(axis).into_owned();
                kept.weight += value * direction * direction.transpose();
                kept.weighted += direction * direction.dot(&weighted);
            }
        }
        (kept.weight.norm() > 0.0).then_some(kept)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reckoning_taken_out_leaves_what_was_measured() {
        let reckoning = Measured::of_place(300.0, -200.0, [9e6, 1e6, 4e6]).unwrap();
        let contacts = Measured::of_place(1000.0, 500.0, [4e4, -1e4, 9e4]).unwrap();
        let together = Measured {
            weight: reckoning.weight + contacts.weight,
            weighted: reckoning.weighted + contacts.weighted,
        };
        let alone = Measured::without(&together, &reckoning).unwrap();
        assert!((alone.weight - contacts.weight).norm() < 1e-9 * contacts.weight.norm());
        assert!((alone.weighted - contacts.weighted).norm() < 1e-9 * contacts.weighted.norm());
        assert_eq!(Measured::without(&reckoning, &reckoning), None);
        // One line of position: the other direction stays free.
        let line = Measured {
            weight: Matrix2::new(1e-4, 0.0, 0.0, 0.0),
            weighted: Vector2::new(0.1, 0.0),
        };
        let together = Measured {
            weight: reckoning.weight + line.weight,
            weighted: reckoning.weighted + line.weighted,
        };
        let alone = Measured::without(&together, &reckoning).unwrap();
        assert!((alone.weight - line.weight).norm() < 1e-9, "{alone:?}");
    }
}
