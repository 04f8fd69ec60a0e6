//! Several names that may all come of one mistake.
//!
//! Weighed one by one, wrong names fall anywhere on the list of marks, and two that go together are right
//! beyond doubt. But the mistake of the trade is one: a stretch of coast taken for the next one along,
//! and each head on it named for its neighbour. So the contacts are weighed without any name as well.

use std::collections::BTreeSet;

use super::case::Case;
use super::setting::OFF_CHART;
use crate::geodesy::{LocalPlane, Position, distance};
use crate::identity::{Hypothesis, Mode, Posterior, identify};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// All names of a set come of one mistake this often: our own figure, no published source. It makes a fix that
/// rests on names alone one of 98 in 100.
const CHANCE: f64 = 0.02;
/// Names carry a fix by themselves down to this chance that they are right.
const LEAST: f64 = 0.95;
/// A mode is the place found with the names where it lies this near, or its error allows it.
const NEAR_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;
const ALLOWED: f64 = 9.21;

/// What the contacts come to without any of the names.
#[derive(Debug)]
pub(super) struct OneMistake {
    /// All that they could be then.
    pub nameless: Posterior,
    /// How likely the place found with the names is then.
    pub here: f64,
    /// The likeliest other place, and its chance.
    pub elsewhere: Option<(Position, f64)>,
}

impl OneMistake {
    /// None where the answer rests on fewer than two names.
    pub fn of(case: &Case<'_>, mode: &Mode, best: &Hypothesis) -> Option<Self> {
        let sights = case.problem.sights.iter().zip(&best.targets);
        let named: BTreeSet<usize> = sights
            .filter_map(|(sight, target)| {
                let belief = sight.belief?;
                (Some(belief.candidate) == *target).then_some(belief.candidate)
            })
            .collect();
        if named.len() < 2 {
            return None;
        }
        let mut problem = case.problem.clone();
        for sight in &mut problem.sights {
            if sight.belief.take().is_some() {
                sight.off_chart = OFF_CHART;
            }
        }
        let nameless = identify(&problem, case.answering, case.sighting);
        let (here, elsewhere): (Vec<&Mode>, Vec<&Mode>) =
            nameless.modes.iter().partition(|other| is_one_place(mode, other));
        let here = here.iter().map(|mode| mode.probability).sum();
        let elsewhere = elsewhere.first().map(|mode| (mode.position, mode.probability));
        Some(Self { nameless, here, elsewhere })
    }

    /// The chance of a place that has this one by the names: that they are right of it, or that it is where
    /// the contacts would have us without them.
    pub fn chance(&self, named: f64) -> f64 {
        (1.0 - CHANCE) * named + CHANCE * self.here
    }

    /// Where the contacts would have us without the names, so much rather that these are not believed: the odds of
    /// one mistake come to more than names may leave.
    pub fn speaks_against(&self) -> Option<(Position, f64)> {
        let most = (1.0 - LEAST) / CHANCE * self.here;
        self.elsewhere.filter(|(_, chance)| *chance > most && *chance > 0.0)
    }

    /// Each place that the names may be mistaken from, by the chance of the mistake.
    pub fn rivals<'m>(&'m self, mode: &'m Mode) -> impl Iterator<Item = (&'m Mode, f64)> {
        let elsewhere = self.nameless.modes.iter().filter(|other| !is_one_place(mode, other));
        elsewhere.map(|other| (other, CHANCE * other.probability))
    }

    /// The chance of the mistake, and that none of the places without names is right.
    pub fn none(&self) -> f64 {
        CHANCE * self.nameless.none
    }
}

fn is_one_place(one: &Mode, other: &Mode) -> bool {
    let off = LocalPlane::new(one.position).to_plane(other.position);
    let sum = one.covariance.plus(other.covariance);
    distance(one.position, other.position).metres() < NEAR_M
        || sum.mahalanobis_squared(off.east, off.north) < ALLOWED
}
