//! When something first happens along a track: steps, then halving.

use crate::units::METRES_PER_NAUTICAL_MILE;

/// Metres between the places that are tried along the planned track: a mile.
pub(super) const STEP_M: f64 = METRES_PER_NAUTICAL_MILE;

/// The same along displaced tracks.
pub(super) const COARSE_STEP_M: f64 = 3.0 * METRES_PER_NAUTICAL_MILE;

/// How far before the planned track's event one is looked for on displaced tracks, in metres.
pub(super) const CLOSE_M: f64 = 9.0 * METRES_PER_NAUTICAL_MILE;

/// The first place is found to this, in seconds of the run.
const WITHIN_S: f64 = 2.0;

/// The same along displaced tracks.
const COARSE_WITHIN_S: f64 = 10.0;

/// What is looked at along a track, by run in metres.
pub(super) struct Search<T, F: Fn(f64) -> T> {
    look: F,
    within_m: f64,
    step_m: f64,
    from_m: f64,
    to_m: f64,
    seen: Vec<(f64, T)>,
}

impl<T: Copy, F: Fn(f64) -> T> Search<T, F> {
    /// - `speed`: metres per second, for the fineness.
    /// - `planned`: along the planned track, in finer steps.
    pub fn new(look: F, speed: f64, span_m: (f64, f64), planned: bool) -> Self {
        let (step_m, within_s) =
            if planned { (STEP_M, WITHIN_S) } else { (COARSE_STEP_M, COARSE_WITHIN_S) };
        Self {
            look,
            within_m: within_s * speed,
            step_m,
            from_m: span_m.0,
            to_m: span_m.1,
            seen: Vec::new(),
        }
    }

    /// With what was seen already at its first steps.
    pub fn having(self, seen: Vec<(f64, T)>) -> Self {
        Self { seen, ..self }
    }

    fn at(&mut self, step: usize) -> Option<(f64, T)> {
        let run_m = (self.from_m + step as f64 * self.step_m).min(self.to_m);
        if step > 0 && self.from_m + (step as f64 - 1.0) * self.step_m >= self.to_m {
            return None;
        }
        if self.seen.len() == step {
            let seen = (self.look)(run_m);
            self.seen.push((run_m, seen));
        }
        self.seen.get(step).copied()
    }

    /// The first run at which `holds`, and what is seen there; what holds at the outset holds there.
    ///
    /// A spell shorter than a step may be passed over.
    pub fn first(&mut self, holds: impl Fn(&T) -> bool) -> Option<(f64, T)> {
        let mut step = 0;
        let mut before: Option<f64> = None;
        while let Some((run_m, seen)) = self.at(step) {
            if holds(&seen) {
                return Some(match before {
                    Some(low_m) => self.halve(low_m, (run_m, seen), holds),
                    None => (run_m, seen),
                });
            }
            before = Some(run_m);
            step += 1;
        }
        None
    }

    fn halve(&self, mut low_m: f64, mut high: (f64, T), holds: impl Fn(&T) -> bool) -> (f64, T) {
        while high.0 - low_m > self.within_m {
            let middle_m = 0.5 * (low_m + high.0);
            let seen = (self.look)(middle_m);
            if holds(&seen) { high = (middle_m, seen) } else { low_m = middle_m }
        }
        high
    }

    /// All steps tried so far.
    pub fn seen(&self) -> &[(f64, T)] {
        &self.seen
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_place_is_found_to_two_seconds() {
        let mut search = Search::new(|run_m| run_m, 85.0, (-1e4, 1e5), true);
        let (run_m, _) = search.first(|seen| *seen >= 43_210.0).unwrap();
        assert!((43_210.0..43_210.0 + 170.0).contains(&run_m), "{run_m}");
        assert!(search.first(|seen| *seen >= 2e5).is_none());
        // The end itself is tried.
        assert!(search.first(|seen| *seen >= 99_999.0).is_some());
        let (at, _) = search.first(|seen| *seen >= -2e4).unwrap();
        assert!((at + 1e4).abs() < 1e-9);
    }
}
