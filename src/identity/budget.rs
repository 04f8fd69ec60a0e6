//! How much work a search may do, and what it left undone.

/// Work counted in steps, never by a clock: the same input gives the same bytes on any machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Budget {
    /// Places held against partial sets, over all contacts together.
    pub tried: usize,
    /// Partial sets carried on, over all contacts together.
    pub kept: usize,
    /// Partial sets carried on from one contact to the next: half as many again as there are places
    /// that the contact allows, but no fewer and no more than this.
    pub kept_each: (usize, usize),
    /// Whole sets solved roughly.
    pub rough: usize,
    /// Whole sets solved in full.
    pub full: usize,
}

impl Budget {
    /// For a look far beyond the reckoning: what agrees there well enough to be told stands out.
    pub const WIDE: Self =
        Self { tried: 1_000_000, kept: 40_000, kept_each: (1_000, 1_500), rough: 250, full: 60 };
}

impl Default for Budget {
    /// Some tenths of a second of one core at the most, and some 20 MB.
    fn default() -> Self {
        Self {
            tried: 4_000_000,
            kept: 150_000,
            kept_each: (2_000, 12_000),
            rough: 1_000,
            full: 1_000,
        }
    }
}

/// A sum of weights that are known by their logarithms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LogSum {
    top: f64,
    /// In shares of the greatest.
    sum: f64,
}

impl Default for LogSum {
    fn default() -> Self {
        Self { top: f64::NEG_INFINITY, sum: 0.0 }
    }
}

impl LogSum {
    /// One weight more; what is no number is no weight.
    pub fn add(&mut self, log: f64) {
        if log.is_nan() || log <= f64::NEG_INFINITY {
            return;
        }
        if log > self.top {
            self.sum = self.sum * (self.top - log).exp() + 1.0;
            self.top = log;
        } else {
            self.sum += (log - self.top).exp();
        }
    }

    /// All of another sum more.
    pub fn join(&mut self, other: Self) {
        if other.sum <= 0.0 {
            return;
        }
        if other.top > self.top {
            self.sum = self.sum * (self.top - other.top).exp() + other.sum;
            self.top = other.top;
        } else {
            self.sum += other.sum * (other.top - self.top).exp();
        }
    }

    /// The sum, each of it so many nats heavier.
    #[must_use]
    pub fn heavier(self, nats: f64) -> Self {
        Self { top: self.top + nats, sum: self.sum }
    }

    /// Logarithm of the sum; minus infinity for nothing.
    pub fn log(self) -> f64 {
        if self.sum > 0.0 { self.top + self.sum.ln() } else { f64::NEG_INFINITY }
    }

    /// The part of this and another sum together that this one is; all, where both are nothing.
    pub fn share_beside(self, other: Self) -> f64 {
        let off = other.log() - self.log();
        if off.is_nan() { 1.0 } else { 1.0 / (1.0 + off.exp()) }
    }
}

impl FromIterator<f64> for LogSum {
    fn from_iter<I: IntoIterator<Item = f64>>(logs: I) -> Self {
        let mut sum = Self::default();
        logs.into_iter().for_each(|log| sum.add(log));
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_too_small_for_a_number_are_added() {
        let sum: LogSum = [-2_000.0, -2_001.0, f64::NEG_INFINITY, f64::NAN].into_iter().collect();
        assert!((sum.log() - (-2_000.0 + 1.0f64.exp().recip().ln_1p())).abs() < 1e-12);
        let other: LogSum = [-2_000.0 + 3.0f64.ln()].into_iter().collect();
        let one: LogSum = [-2_000.0].into_iter().collect();
        let mut joined = LogSum::default();
        joined.join(LogSum::default());
        joined.join(one.heavier(-7.0));
        joined.join(other);
        let added: LogSum = [one.log() - 7.0, other.log()].into_iter().collect();
        assert!((joined.log() - added.log()).abs() < 1e-12);
        assert!((one.share_beside(other) - 0.25).abs() < 1e-12);
        assert!((one.share_beside(LogSum::default()) - 1.0).abs() < 1e-12);
        assert!((LogSum::default().share_beside(one)).abs() < 1e-12);
        assert!((LogSum::default().share_beside(LogSum::default()) - 1.0).abs() < 1e-12);
    }
}
