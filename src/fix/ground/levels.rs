//! From where contacts were measured: how high, and how far back along the run, those alike taken together.
//!
//! What is in sight depends on both, and is dear to work out: in a descent with a height and a place for each
//! contact it is worked out for a few of them. Only chances of sight may go by levels: those of many heights lie
//! miles of horizon apart, and what a range was read to is asked of the contact's own height.

use crate::geodesy::PlanePoint;
use crate::identity::Level;
use crate::radar::EffectiveEarth;
use crate::units::{Height, METRES_PER_NAUTICAL_MILE};

/// Heights whose radar horizons lie no farther apart than this are alike, in metres.
const ALIKE_M: f64 = METRES_PER_NAUTICAL_MILE;

/// Places of the run no farther apart than this are alike, in metres: over so much of it a mark fades in as heights
/// are known (our own figure).
const ALONG_M: f64 = 3.0 * METRES_PER_NAUTICAL_MILE;

/// There are no more levels than this: with more, those farther apart are one as well.
const MOST: usize = 8;

/// Own height, and own run from there to the common time, in metres on true axes.
type From = (Height, PlanePoint);

/// Own height and place at the common time, and the levels that contacts were measured from.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::fix) struct Levels {
    now: Height,
    others: Vec<From>,
}

impl Levels {
    pub fn of(now: Height, measured_from: impl IntoIterator<Item = From>) -> Self {
        let mut all: Vec<From> = measured_from.into_iter().collect();
        let run_m = |(_, run): &From| run.east.hypot(run.north);
        all.sort_by(|a, b| {
            a.0.metres().total_cmp(&b.0.metres()).then(run_m(a).total_cmp(&run_m(b)))
        });
        let mut alike = 1.0;
        loop {
            let mut levels = Self { now, others: Vec::new() };
            for from in &all {
                if levels.nearest(*from).1 > alike {
                    levels.others.push(*from);
                }
            }
            if levels.count() <= MOST {
                return levels;
            }
            alike *= 2.0;
        }
    }

    pub fn count(&self) -> usize {
        1 + self.others.len()
    }

    /// The level of a height, and of a run from there to the common time.
    pub fn level(&self, height: Height, run: PlanePoint) -> Level {
        self.nearest((height, run)).0
    }

    /// The height that a level stands for.
    pub fn height(&self, level: Level) -> Height {
        self.from(level).0
    }

    /// The run from where a level stands for to the common time.
    pub fn run(&self, level: Level) -> PlanePoint {
        self.from(level).1
    }

    /// The first level of the same height.
    pub fn first_of_height(&self, level: Level) -> Level {
        let height = self.height(level);
        (0..level.0).map(Level).find(|first| self.height(*first) == height).unwrap_or(level)
    }

    /// The longest of the runs, in metres.
    pub fn longest_run_m(&self) -> f64 {
        self.others.iter().map(|(_, run)| run.east.hypot(run.north)).fold(0.0, f64::max)
    }

    fn from(&self, level: Level) -> From {
        let other = level.0.checked_sub(1).and_then(|other| self.others.get(other));
        other.copied().unwrap_or((self.now, PlanePoint::default()))
    }

    /// The level most like a height and a run, and how unlike: one where it is just alike.
    fn nearest(&self, from: From) -> (Level, f64) {
        let apart = |level: usize| (Level(level), unlike(self.from(Level(level)), from));
        (1..self.count()).map(apart).fold(
            apart(0),
            |best, next| {
                if next.1 < best.1 { next } else { best }
            },
        )
    }
}

fn unlike((height, run): From, (other, other_run): From) -> f64 {
    let by_horizon = (horizon_m(height) - horizon_m(other)).abs() / ALIKE_M;
    by_horizon.max(run.distance(other_run) / ALONG_M)
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

    fn miles(east: f64) -> PlanePoint {
        PlanePoint { east: east * METRES_PER_NAUTICAL_MILE, north: 0.0 }
    }

    const HERE: PlanePoint = PlanePoint { east: 0.0, north: 0.0 };

    /// By hand, 1.23 NM times the root of the feet: 55.0 NM from 2,000 ft, 55.8 from 2,060, 38.9 from 1,000.
    #[test]
    fn heights_with_one_horizon_are_one_level() {
        let from = [1_000.0, 2_060.0, 2_000.0, 1_030.0].map(|height| (feet(height), HERE));
        let levels = Levels::of(feet(2_000.0), from);
        assert_eq!(levels.count(), 2);
        let level = |height: f64| levels.level(feet(height), HERE);
        assert_eq!(level(2_060.0), Level::NOW);
        assert_eq!(level(1_030.0), level(1_000.0));
        assert_eq!(levels.height(Level::NOW), feet(2_000.0));
        assert_eq!(levels.height(level(1_030.0)), feet(1_000.0));
    }

    #[test]
    fn a_height_for_each_contact_is_a_few_levels() {
        let all = || (0..200).map(|contact| feet(300.0 * f64::from(contact)));
        let levels = Levels::of(feet(500.0), all().map(|height| (height, HERE)));
        assert!((2..=MOST).contains(&levels.count()), "{levels:?}");
        // No farther off than so many levels over 300 NM of horizons must be.
        for height in all() {
            let level = levels.level(height, HERE);
            let apart_m = horizon_m(levels.height(level)) - horizon_m(height);
            assert!(apart_m.abs() <= 64.0 * METRES_PER_NAUTICAL_MILE, "{height:?}");
        }
    }

    #[test]
    fn places_a_minute_apart_are_one_level_and_a_long_run_is_a_few() {
        let own = feet(2_000.0);
        let levels = Levels::of(own, [0.0, 2.75, 8.0, 9.0].map(|run| (own, miles(run))));
        assert_eq!(levels.count(), 2);
        assert_eq!(levels.level(own, miles(2.75)), Level::NOW);
        assert_eq!(levels.level(own, miles(9.0)), levels.level(own, miles(8.0)));
        assert!((levels.longest_run_m() - 8.0 * METRES_PER_NAUTICAL_MILE).abs() < 1e-6);
        let long = Levels::of(own, (0..200).map(|minute| (own, miles(f64::from(minute)))));
        assert!((2..=MOST).contains(&long.count()), "{long:?}");
    }
}
