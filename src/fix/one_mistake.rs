//! Several names that may all come of one mistake.
//!
//! Weighed one by one, wrong names fall anywhere on the list of marks, and two that go together are right
//! beyond doubt. But the mistake of the trade is one: a stretch of coast taken for the next one along,
//! and each head on it named for its neighbour. So the contacts are weighed without any name as well.

use std::collections::BTreeSet;

use super::case::Case;
use super::setting::OFF_CHART;
use crate::geodesy::{LocalPlane, Position, distance};
use crate::identity::{Belief, Hypothesis, Mode, Posterior, identify};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// All names of a set come of one mistake this often, or as often as the surest of them is wrong where that is less:
/// our own figure, no published source. It makes a fix that rests on names alone one of 98 in 100.
const MOST_OFTEN: f64 = 0.02;
/// The contacts speak against the names where without them another place is likelier than not.
const RATHER: f64 = 0.5;
/// Names carry a fix by themselves down to this chance that they are right.
const LEAST: f64 = 0.95;
/// A mode is the place found with the names where it lies this near (our own figure), or its error allows it: χ² of
/// two degrees of freedom at 99 % (published table).
const NEAR_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;
const ALLOWED: f64 = 9.21;

/// What the contacts come to without any of the names.
#[derive(Debug)]
pub(super) struct OneMistake {
    /// How often.
    chance: f64,
    /// All that they could be then.
    nameless: Posterior,
    /// How likely the place found with the names is then.
    here: f64,
    /// The likeliest other place, and its chance.
    elsewhere: Option<(Position, f64)>,
}

impl OneMistake {
    /// None where the answer rests on fewer than two names.
    pub fn of(case: &Case<'_>, mode: &Mode, best: &Hypothesis) -> Option<Self> {
        let sights = case.problem.sights.iter().zip(&best.targets);
        let right: Vec<Belief> = sights
            .filter_map(|(sight, target)| {
                sight.belief.filter(|belief| Some(belief.candidate) == *target)
            })
            .collect();
        let named: BTreeSet<usize> = right.iter().map(|belief| belief.candidate).collect();
        if named.len() < 2 {
            return None;
        }
        let surest = right.iter().map(|belief| belief.confidence).fold(0.0, f64::max);
        let chance = MOST_OFTEN.min(1.0 - surest);
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
        Some(Self { chance, nameless, here, elsewhere })
    }

    /// The chance of a place that has this one by the names: that they are right of it, or that it is where
    /// the contacts would have us without them.
    pub fn chance(&self, named: f64) -> f64 {
        (1.0 - self.chance) * named + self.chance * self.here
    }

    /// Where the contacts would have us without the names, so much rather that these are not believed: the odds of
    /// one mistake come to more than names may leave.
    pub fn speaks_against(&self) -> Option<(Position, f64)> {
        let is_against =
            |chance: f64| chance > RATHER && self.chance * chance > (1.0 - LEAST) * self.here;
        self.elsewhere.filter(|(_, chance)| is_against(*chance))
    }

    /// Each place that the names may be mistaken from, by the chance of the mistake.
    pub fn rivals<'m>(&'m self, mode: &'m Mode) -> impl Iterator<Item = (&'m Mode, f64)> {
        let elsewhere = self.nameless.modes.iter().filter(|other| !is_one_place(mode, other));
        elsewhere.map(|other| (other, self.chance * other.probability))
    }

    /// The chance of the mistake, and that none of the places without names is right.
    pub fn none(&self) -> f64 {
        self.chance * self.nameless.none
    }
}

fn is_one_place(one: &Mode, other: &Mode) -> bool {
    let off = LocalPlane::new(one.position).to_plane(other.position);
    let sum = one.covariance.plus(other.covariance);
    distance(one.position, other.position).metres() < NEAR_M
        || sum.mahalanobis_squared(off.east, off.north) < ALLOWED
}
