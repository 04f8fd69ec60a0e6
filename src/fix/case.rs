use jiff::Timestamp;

use super::prospect::Prospect;
use super::slips::Slip;
use crate::geodesy::{Covariance, Position, course};
use crate::identity::{Answering, Level, Problem, Sighting, Solution, solve};
use crate::units::{Bearing, GroundRange};

/// No islet reaches farther than this from its middle, in degrees of latitude.
const MOST_ISLET_DEG: f64 = 0.1;

/// A problem with the words that go with its numbers.
pub(super) struct Case<'a> {
    pub problem: Problem,
    /// One for each sight.
    pub labels: Vec<String>,
    /// One for each candidate.
    pub names: Vec<String>,
    pub answering: &'a dyn Answering,
    pub sighting: &'a dyn Sighting,
    pub prospect: &'a dyn Prospect,
    pub time: Timestamp,
    /// What is known to be wrong before anything is solved.
    pub cautions: Vec<String>,
    /// Slips that may have been made.
    pub slips: Vec<Slip>,
}

impl Case<'_> {
    pub fn label(&self, sight: usize) -> &str {
        self.labels.get(sight).map_or("?", String::as_str)
    }

    pub fn name(&self, candidate: usize) -> &str {
        self.names.get(candidate).map_or("?", String::as_str)
    }

    /// The reckoning's error at the common time.
    pub fn reckoned(&self) -> Covariance {
        let prior = &self.problem.prior;
        let length = |sigma: f64| GroundRange::clamped_metres((sigma * prior.elapsed_s).abs());
        prior.covariance.plus(Covariance::along_across(
            length(prior.along_sigma),
            length(prior.across_sigma),
            Bearing::wrapped(prior.track),
        ))
    }

    /// Where these identities put us without the reckoning, from a place near the answer.
    pub fn alone(&self, targets: &[Option<usize>], near: &Solution) -> Option<Solution> {
        let bias = near.bearing_bias().0;
        solve(&self.problem, self.answering, targets, near.position, bias, false)
    }

    /// Where these identities and the reckoning put us together.
    pub fn together(&self, targets: &[Option<usize>], near: &Solution) -> Option<Solution> {
        let bias = near.bearing_bias().0;
        solve(&self.problem, self.answering, targets, near.position, bias, true)
    }

    /// How likely a candidate paints from a place at own height now.
    pub fn chance_now(&self, from: Position, candidate: usize) -> f64 {
        self.sighting.chance(Level::NOW, from, candidate)
    }

    /// The same from where own craft was, and as high, when a sight was measured; `now` is own place at the common
    /// time.
    pub fn chance_then(&self, sight: usize, now: Position, candidate: usize) -> f64 {
        let level = self.problem.sights.get(sight).map_or(Level::NOW, |sight| sight.level);
        self.sighting.chance(level, now, candidate)
    }

    /// The operator's name for a sight, where he is more sure of it than not.
    pub fn stated(&self, sight: usize) -> Option<usize> {
        let belief = self.problem.sights.get(sight)?.belief?;
        (belief.confidence >= 0.5).then_some(belief.candidate)
    }

    /// Whether a sight is of the shore itself, which is no mark: nearest, or traced.
    pub fn is_of_no_mark(&self, sight: usize) -> bool {
        self.problem.sights.get(sight).is_some_and(|s| s.surely.is_some() || s.traced.is_some())
    }

    /// Whether a candidate is shore that is no mark.
    pub fn is_any_shore(&self, candidate: usize) -> bool {
        self.problem.any_shore == Some(candidate)
    }

    /// Where what a sight saw lies: the charted point, or of shore that is no mark the place that
    /// answered; none where that cannot be told.
    pub fn place_of(&self, sight: usize, candidate: usize, from: &Solution) -> Option<Position> {
        if !self.is_any_shore(candidate) {
            return self.problem.candidates.get(candidate).map(|mark| mark.position);
        }
        let from_then = self.problem.sights.get(sight)?.place_then(from.position);
        let bias = from.bearing_bias().0;
        self.answering.point(sight, candidate, from_then, bias).map(|answer| answer.position)
    }

    /// What a sight is told as: shore without a name that is an islet's own is that islet.
    pub fn told_as(&self, sight: usize, candidate: usize, from: &Solution) -> usize {
        if !self.is_any_shore(candidate) {
            return candidate;
        }
        let Some(place) = self.place_of(sight, candidate, from) else { return candidate };
        let near = self.problem.candidates.iter().enumerate().filter(|(_, mark)| {
            (mark.position.latitude() - place.latitude()).abs() < MOST_ISLET_DEG
        });
        near.map(|(islet, _)| islet)
            .find(|islet| self.answering.is_shore_of(*islet, place))
            .unwrap_or(candidate)
    }

    /// Whether a sight saw an islet by its own shore, where that is taken for shore without a name.
    pub fn is_on_shore_of(&self, sight: usize, islet: usize, from: &Solution) -> bool {
        let any_shore = self.problem.any_shore;
        let place = any_shore.and_then(|shore| self.place_of(sight, shore, from));
        place.is_some_and(|place| self.answering.is_shore_of(islet, place))
    }

    /// The name of what a sight saw; shore without one is told by the nearest mark.
    pub fn name_of(&self, candidate: usize, at: Position) -> String {
        if !self.is_any_shore(candidate) {
            return self.name(candidate).to_owned();
        }
        let nearest = self
            .problem
            .candidates
            .iter()
            .zip(&self.names)
            .filter(|(mark, _)| mark.weight > 0.0)
            .map(|(mark, name)| (course(mark.position, at), name))
            .min_by(|a, b| a.0.distance.metres().total_cmp(&b.0.distance.metres()));
        match nearest {
            Some((line, name)) => format!(
                "shore {:.1} NM {}° from {name}",
                line.distance.nautical_miles(),
                line.initial.whole_degrees()
            ),
            None => format!("shore at {at}"),
        }
    }

    /// Each sight's stated name, where it has one; else what `targets` make of it.
    pub fn as_stated(&self, targets: &[Option<usize>]) -> Vec<Option<usize>> {
        targets.iter().enumerate().map(|(i, t)| self.stated(i).or(*t)).collect()
    }

    /// The sights whose stated name a set of identities does not bear out.
    pub fn rejected(&self, targets: &[Option<usize>]) -> Vec<usize> {
        targets
            .iter()
            .enumerate()
            .filter(|(i, target)| self.stated(*i).is_some_and(|name| **target != Some(name)))
            .map(|(i, _)| i)
            .collect()
    }
}
