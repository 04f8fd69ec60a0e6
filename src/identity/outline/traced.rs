use nalgebra::{Matrix2, Vector2};

use super::{Registered, Trace};

/// Information this small, in each square metre, stands for none: a thousand miles.
const NOTHING: f64 = 3e-13;

/// A traced outline as a measurement: the places it fits stand for the marks that a contact may be.
#[derive(Debug, Clone, PartialEq)]
pub struct Traced {
    /// The candidate that stands for the first place; the others follow it.
    pub first: usize,
    /// The places that it fits.
    pub places: Vec<Registered>,
    /// How many points were traced.
    pub points: usize,
    /// How many of them count for themselves.
    pub effective: f64,
    /// Mean range of the trace, metres.
    pub range: f64,
    /// Logarithm of its density where it is the edge of nothing charted.
    pub log_nothing: f64,
}

/// A place as the search over sets of identities takes it: own place in a plane, at no bias.
pub(crate) struct Line {
    /// From the registered place, metres east and north.
    pub at: Vector2<f64>,
    /// How that moves with the bearing bias, metres a radian.
    pub by_bias: Vector2<f64>,
    pub noise: Matrix2<f64>,
    /// Logarithm of the density that the noise stands for.
    pub log_density: f64,
}

impl Traced {
    /// A trace and the places it fits, the first of which is candidate `first`.
    pub fn new(trace: &Trace, places: Vec<Registered>, first: usize, reach: f64) -> Self {
        Self {
            first,
            places,
            points: trace.points.len(),
            effective: trace.effective(),
            range: trace.mean_range(),
            log_nothing: trace.log_nothing(reach),
        }
    }

    /// The place that a candidate stands for.
    pub fn place(&self, candidate: usize) -> Option<&Registered> {
        self.places.get(candidate.checked_sub(self.first)?)
    }
}

impl Registered {
    /// What it tells of own place, given the bias of bearings.
    pub(crate) fn line(&self) -> Line {
        let (mut information, mut with_bias) = (Matrix2::zeros(), Vector2::zeros());
        let mut pull = Vector2::zeros();
        for told in &self.told {
            let [east, north, bias, _] = told.slope;
            let slope = Vector2::new(east, north);
            information += slope * slope.transpose() / told.variance;
            with_bias += slope * (bias / told.variance);
            pull += slope * (told.offset / told.variance);
        }
        information += Matrix2::identity() * NOTHING;
        let noise = information.try_inverse().unwrap_or_else(|| Matrix2::identity() / NOTHING);
        let by_bias = noise * with_bias;
        let normalisers: f64 =
            self.told.iter().map(|t| 0.5 * (std::f64::consts::TAU * t.variance).ln()).sum();
        // The integral over own place of what is told, the biases held.
        let over = std::f64::consts::TAU.ln() + 0.5 * noise.determinant().max(1e-12).ln();
        Line {
            at: noise * pull + by_bias * self.bias,
            by_bias,
            noise,
            log_density: self.log_density - normalisers + over,
        }
    }
}
