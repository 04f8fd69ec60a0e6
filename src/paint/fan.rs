use std::f64::consts::TAU;
use std::sync::Arc;

use crate::chart::Ground;
use crate::units::{Bearing, True};

/// Rays from one place: their directions, and the samples along each of them.
#[derive(Debug, Clone)]
pub(super) struct Fan {
    azimuths: Arc<[f64]>,
    /// Metres between samples.
    pub step_m: f64,
    /// Samples on each ray; sample `i` lies at `(i + 1) · step_m`.
    pub samples: usize,
}

impl Fan {
    /// Rays all round, evenly, the first of them north.
    pub fn all_round(count: usize, step_m: f64, reach_m: f64) -> Self {
        let azimuths = (0..count).map(|i| i as f64 * TAU / count as f64).collect();
        Self { azimuths, step_m, samples: (reach_m / step_m).ceil() as usize }
    }

    /// Rays in these directions, which are sorted; several may be alike.
    pub fn towards(mut azimuths: Vec<f64>, step_m: f64, reach_m: f64) -> Self {
        azimuths.sort_by(f64::total_cmp);
        Self { azimuths: azimuths.into(), step_m, samples: (reach_m / step_m).ceil() as usize }
    }

    /// The same rays, followed as far as `reach_m`.
    pub fn reaching(&self, reach_m: f64) -> Self {
        let samples = (reach_m / self.step_m).ceil() as usize;
        Self { azimuths: Arc::clone(&self.azimuths), step_m: self.step_m, samples }
    }

    /// Metres between samples that lose nothing of a ground.
    pub fn step_over(ground: &Ground) -> f64 {
        ground.shorter_cell_m().unwrap_or(100.0).clamp(60.0, 150.0)
    }

    pub fn len(&self) -> usize {
        self.azimuths.len()
    }

    pub fn azimuths(&self) -> &[f64] {
        &self.azimuths
    }

    pub fn bearing(&self, ray: usize) -> Bearing<True> {
        Bearing::wrapped(self.azimuths.get(ray).copied().unwrap_or_default())
    }

    /// Distance of a sample along the ground.
    pub fn distance_m(&self, sample: usize) -> f64 {
        (sample as f64 + 1.0) * self.step_m
    }

    pub fn reach_m(&self) -> f64 {
        self.samples as f64 * self.step_m
    }

    /// The ray of an even fan nearest to a direction.
    pub fn nearest(&self, bearing: Bearing<True>) -> usize {
        let count = self.azimuths.len().max(1);
        (bearing.radians() / TAU * count as f64).round() as usize % count
    }

    /// The first ray at or after a direction in `[0, 2π]`, and so on: a partition of the circle
    /// that is the same for both segments that meet in a vertex.
    pub fn first_from(&self, azimuth: f64) -> usize {
        self.azimuths.partition_point(|ray| *ray < azimuth)
    }

    /// The same, tried first at that of a direction close by.
    pub fn first_from_near(&self, azimuth: f64, near: usize) -> usize {
        let before = |ray: usize| self.azimuths.get(ray).is_some_and(|ray| *ray < azimuth);
        let is_it = (near == 0 || before(near - 1)) && !before(near);
        if is_it { near } else { self.first_from(azimuth) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_ray_is_the_same_from_wherever_it_is_sought() {
        // Some rays alike, one north, one a whole turn round.
        let some = vec![0.0, 0.4, 0.4, 0.4, 1.5, 3.0, 3.1, 6.2, TAU];
        for fan in [Fan::towards(some, 100.0, 1e4), Fan::towards(Vec::new(), 100.0, 1e4)] {
            let between = (0..=630).map(|i| 0.01 * f64::from(i));
            for azimuth in between.chain(fan.azimuths().to_vec()) {
                for near in 0..12 {
                    let found = fan.first_from_near(azimuth, near);
                    assert_eq!(found, fan.first_from(azimuth), "{azimuth} {near}");
                }
            }
        }
    }
}
