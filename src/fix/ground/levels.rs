//! The heights that contacts were measured from, those alike taken together.
//!
//! What is in sight depends on own height, and is dear to work out: in a descent with a height for each
//! contact it is worked out for a few of them.

use crate::identity::Level;
use crate::radar::EffectiveEarth;
use crate::units::{Height, METRES_PER_NAUTICAL_MILE};

/// Heights whose radar horizons lie no farther apart than this are one level, in metres.
const ALIKE_M: f64 = METRES_PER_NAUTICAL_MILE;

/// There are no more levels than this: with more, those farther apart are one as well.
const MOST: usize = 8;

/// Own height now, and the levels that contacts were measured from.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::fix) struct Levels {
    now: Height,
    others: Vec<Height>,
}

impl Levels {
    pub fn of(now: Height, measured_from: impl IntoIterator<Item = Height>) -> Self {
        let mut heights: Vec<Height> = measured_from.into_iter().collect();
        heights.sort_by(|a, b| a.metres().total_cmp(&b.metres()));
        let mut alike_m = ALIKE_M;
        loop {
            let mut levels = Self { now, others: Vec::new() };
            for height in &heights {
                let (_, apart_m) = levels.nearest(*height);
                if apart_m > alike_m {
                    levels.others.push(*height);
                }
            }
            if levels.count() <= MOST {
                return levels;
            }
            alike_m *= 2.0;
        }
    }

    pub fn count(&self) -> usize {
        1 + self.others.len()
    }

    /// The level of a height.
    pub fn level(&self, height: Height) -> Level {
        self.nearest(height).0
    }

    /// The height that a level stands for.
    pub fn height(&self, level: Level) -> Height {
        let other = level.0.checked_sub(1).and_then(|other| self.others.get(other));
        other.copied().unwrap_or(self.now)
    }

    /// The level whose horizon lies nearest to that of a height, and how far from it, in metres.
    fn nearest(&self, height: Height) -> (Level, f64) {
        let apart = |level: usize| {
            let level = Level(level);
            (level, (horizon_m(self.height(level)) - horizon_m(height)).abs())
        };
        (1..self.count()).map(apart).fold(
            apart(0),
            |best, next| {
                if next.1 < best.1 { next } else { best }
            },
        )
    }
}

fn horizon_m(height: Height) -> f64 {
    EffectiveEarth::standard().horizon_of(height).metres()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn feet(feet: f64) -> Height {
        Height::from_feet(feet).unwrap()
    }

    /// By hand, 1.23 NM times the root of the feet: 55.0 NM from 2,000 ft, 55.8 from 2,060, 38.9 from 1,000.
    #[test]
    fn heights_with_one_horizon_are_one_level() {
        let levels = Levels::of(feet(2_000.0), [1_000.0, 2_060.0, 2_000.0, 1_030.0].map(feet));
        assert_eq!(levels.count(), 2);
        assert_eq!(levels.level(feet(2_060.0)), Level::NOW);
        assert_eq!(levels.level(feet(1_030.0)), levels.level(feet(1_000.0)));
        assert_eq!(levels.height(Level::NOW), feet(2_000.0));
        assert_eq!(levels.height(levels.level(feet(1_030.0))), feet(1_000.0));
    }

    #[test]
    fn a_height_for_each_contact_is_a_few_levels() {
        let all = || (0..200).map(|contact| feet(300.0 * f64::from(contact)));
        let levels = Levels::of(feet(500.0), all());
        assert!((2..=MOST).contains(&levels.count()), "{levels:?}");
        // No farther off than so many levels over 300 NM of horizons must be.
        for height in all() {
            let apart_m = horizon_m(levels.height(levels.level(height))) - horizon_m(height);
            assert!(apart_m.abs() <= 64.0 * METRES_PER_NAUTICAL_MILE, "{height:?}");
        }
    }
}
