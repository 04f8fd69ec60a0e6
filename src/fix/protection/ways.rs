use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};

use super::echoes::{Echo, echoes};
use crate::geodesy::Covariance;
use crate::identity::{Factor, Solution, Square, State};
use crate::units::Bearing;

/// Ways whose chances come to less than this share of the risk are not followed: they are taken off
/// it.
const TOO_SMALL: f64 = 3e-3;
/// And no more than so many are followed, for any one set of identities and for all.
const MOST_OF_ONE: f64 = 6_000.0;
const MOST: usize = 20_000;
/// No error is taken to be smaller than this on either axis, in metres.
const LEAST_SIGMA_M: f64 = 1e-3;
/// Ways that one thread sums at a time.
const AT_ONCE: usize = 32;

/// What is wrong, where a way is the true one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cause {
    /// Nothing: the stated errors.
    Errors,
    /// Another place of the list.
    Elsewhere,
    /// One echo, by its first sight.
    One(usize),
    /// Several echoes.
    Several,
    /// Every listed place.
    NoneListed,
    /// The reckoning.
    Reckoning,
}

/// One way in which the position may be wrong.
#[derive(Debug, Clone, Copy)]
pub(super) struct Way {
    pub chance: f64,
    /// East and north of the stated position, metres.
    pub off: [f64; 2],
    pub covariance: Covariance,
    pub cause: Cause,
}

impl Way {
    /// The chance that this is the truth and the error more than `radius` metres.
    pub fn beyond(&self, radius: f64) -> f64 {
        self.chance * self.covariance.chance_beyond(radius, self.off)
    }

    /// The same; a bound where that is as good to within `small`, never less.
    fn beyond_or_bound(&self, radius: f64, small: f64) -> f64 {
        let clear = radius - self.off[0].hypot(self.off[1]);
        let farther = self.chance * farther(clear, self.covariance.axes().0);
        match (farther <= small, clear > 0.0) {
            (true, true) => farther,
            (true, false) => self.chance,
            (false, _) => self.beyond(radius),
        }
    }

    /// What [`Way::beyond`] is no less than, and no more than: at a glance.
    ///
    /// An error beyond the circle's tangent is beyond the circle: that at right angles to the long
    /// axis, on both sides, and that at right angles to the way to the mean.
    fn about(&self, radius: f64) -> (f64, f64) {
        let [east, north] = self.off;
        let away = east.hypot(north);
        let (long, _, axis) = self.covariance.axes();
        let sigma = long.sqrt().max(LEAST_SIGMA_M);
        let (sin, cos) = axis.sin_cos();
        let along = east * sin + north * cos;
        let tail = |metres: f64, sigma: f64| Normal::standard().sf(metres / sigma);
        let ends = tail(radius - along, sigma) + tail(radius + along, sigma);
        let towards = self.covariance.sigma_towards(Bearing::wrapped(east.atan2(north)));
        let outward = tail(radius - away, towards.max(LEAST_SIGMA_M));
        let most = if away < radius { farther(radius - away, long) } else { 1.0 };
        (self.chance * ends.max(outward), self.chance * most)
    }
}

/// How often a normal error of this long axis, squared, ends farther than `clear` from its mean, at
/// most: as a circular one of that axis does, `exp(-d²/2σ²)`.
fn farther(clear: f64, long: f64) -> f64 {
    (-0.5 * clear * clear / long.max(f64::MIN_POSITIVE)).exp()
}

/// A sum over ways, by parts of a fixed size: the same on any number of cores.
pub(super) fn summed(ways: &[Way], of: impl Fn(&Way) -> f64 + Sync) -> f64 {
    let parts: Vec<f64> = ways.par_chunks(AT_ONCE).map(|ways| ways.iter().map(&of).sum()).collect();
    parts.iter().sum()
}

/// Where a set of identities puts us.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    /// East and north of the stated position, metres.
    pub off: [f64; 2],
    pub chance: f64,
    /// Whether it belongs to the stated place.
    pub here: bool,
}

/// All the ways that were looked at, and the chance of those that were not.
#[derive(Debug, Clone)]
pub(super) struct Ways {
    list: Vec<Way>,
    left_out: f64,
    too_small: f64,
    /// The candidate that is shore of no mark.
    any_shore: Option<usize>,
}

impl Ways {
    pub fn new(risk: f64, any_shore: Option<usize>) -> Self {
        Self { list: Vec::new(), left_out: 0.0, too_small: TOO_SMALL * risk, any_shore }
    }

    pub fn list(&self) -> &[Way] {
        &self.list
    }

    /// The chance of ways that are not looked at.
    pub fn left_out(&self) -> f64 {
        self.left_out
    }

    pub fn leave_out(&mut self, chance: f64) {
        self.left_out += chance;
    }

    pub fn push(&mut self, way: Way) {
        self.list.push(way);
    }

    /// Whether the chances, all ways together, of an error of more than `radius` metres come to more
    /// than `chance`: by no more than [`TOO_SMALL`] of the risk too often, never too seldom.
    pub fn is_over(&self, chance: f64, radius: f64) -> bool {
        // Most circles are plainly too small or plainly large enough.
        let about = self.list.iter().map(|way| way.about(radius));
        let (least, most) = about.fold((0.0, 0.0), |sum, way| (sum.0 + way.0, sum.1 + way.1));
        if least > chance || most <= chance {
            return least > chance;
        }
        let small = self.too_small / self.list.len().max(1) as f64;
        let mut sum = 0.0;
        // The likeliest sets come first, and settle most of it.
        self.list.iter().any(|way| {
            sum += way.beyond_or_bound(radius, small);
            sum > chance
        })
    }

    /// What tells one radius beyond `least` from another: all ways but those whose chances of an
    /// error beyond `least` come to [`TOO_SMALL`] of the risk at most, and the sum of those.
    pub fn telling_beyond(&self, least: f64) -> (Vec<Way>, f64) {
        let mut ranked: Vec<(f64, Way)> =
            self.list.par_iter().map(|way| (way.beyond(least), *way)).collect();
        ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut sum = 0.0;
        let small = ranked
            .iter()
            .take_while(|(chance, _)| {
                sum += chance;
                sum <= self.too_small
            })
            .count();
        let passed: f64 = ranked.iter().take(small).map(|(chance, _)| chance).sum();
        (ranked.into_iter().skip(small).map(|(_, way)| way).collect(), passed)
    }

    /// Sets of identities, and each again without one, two, three … of its echoes.
    pub fn take(&mut self, sets: &[(&Solution, &[Option<usize>], Place)]) {
        let any_shore = self.any_shore;
        let echoes: Vec<Vec<Echo>> = sets
            .par_iter()
            .map(|(solution, targets, _)| echoes(solution, targets, any_shore))
            .collect();
        for ((solution, _, place), echoes) in sets.iter().zip(&echoes) {
            let cause = if place.here { Cause::Errors } else { Cause::Elsewhere };
            self.follow(solution, echoes, *place, cause);
        }
    }

    /// The same where the solution leaves out the reckoning.
    pub fn take_without_reckoning(
        &mut self,
        alone: &Solution,
        targets: &[Option<usize>],
        place: Place,
    ) {
        self.follow(alone, &echoes(alone, targets, self.any_shore), place, Cause::Reckoning);
    }

    fn follow(&mut self, solution: &Solution, echoes: &[Echo], place: Place, cause: Cause) {
        self.list.push(Way {
            chance: place.chance,
            off: place.off,
            covariance: solution.position_covariance(),
            cause,
        });
        let room = MOST.saturating_sub(self.list.len()) as f64;
        let (deepest, rest) = depth(echoes, self.too_small / place.chance, room.min(MOST_OF_ONE));
        self.left_out += place.chance * rest;
        let whole = Without {
            information: solution.information,
            pull: State::zeros(),
            chance: place.chance,
            gone: 0,
        };
        self.remove(&whole, echoes, deepest, place.off, cause);
    }

    /// Each echo of the rest gone as well, and so on down.
    fn remove(
        &mut self,
        from: &Without,
        rest: &[Echo],
        deepest: usize,
        off: [f64; 2],
        cause: Cause,
    ) {
        if from.gone >= deepest {
            return;
        }
        for (index, echo) in rest.iter().enumerate() {
            let less = from.without(echo);
            let named = match (cause, less.gone) {
                (Cause::Errors, 1) => Cause::One(echo.sight),
                (Cause::Errors, _) => Cause::Several,
                _ => cause,
            };
            match less.way(off, named) {
                Some(way) => self.list.push(way),
                // Nothing holds the position then.
                None => self.left_out += less.chance,
            }
            self.remove(&less, rest.get(index + 1..).unwrap_or_default(), deepest, off, cause);
        }
    }
}

/// A solution less some of its echoes.
struct Without {
    information: Square,
    pull: State,
    chance: f64,
    gone: usize,
}

impl Without {
    fn without(&self, echo: &Echo) -> Self {
        Self {
            information: self.information - echo.information,
            pull: self.pull - echo.pull,
            chance: self.chance * echo.chance,
            gone: self.gone + 1,
        }
    }

    fn way(&self, off: [f64; 2], cause: Cause) -> Option<Way> {
        let (step, covariance) = Factor::of(&self.information)?.own_place(&self.pull);
        let off = [off[0] + step[0], off[1] + step[1]];
        Some(Way { chance: self.chance, off, covariance, cause })
    }
}

/// How many echoes at once to follow, and the chance that more are wrong.
///
/// As many as make the rest less likely than `small`, or as give no more than `most` ways.
fn depth(echoes: &[Echo], small: f64, most: f64) -> (usize, f64) {
    // Elementary symmetric sums of the chances, by order.
    let mut sums = vec![0.0; echoes.len() + 1];
    if let Some(first) = sums.first_mut() {
        *first = 1.0;
    }
    for echo in echoes {
        let before = sums.clone();
        for (sum, lower) in sums.iter_mut().skip(1).zip(before) {
            *sum += echo.chance * lower;
        }
    }
    let (mut ways, mut subsets) = (0.0, 1.0);
    for order in 0..=echoes.len() {
        let rest: f64 = sums.iter().skip(order + 1).sum();
        subsets *= (echoes.len() - order) as f64 / (order + 1) as f64;
        ways += subsets;
        if rest <= small || ways > most {
            return (order, rest);
        }
    }
    (echoes.len(), 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_followed_is_counted() {
        let echo =
            Echo { sight: 0, chance: 0.02, information: Square::zeros(), pull: State::zeros() };
        let three = vec![echo; 3];
        // All three wrong 8 in a million; two or more that and 3 × 4e-4.
        let (deepest, rest) = depth(&three, 1e-5, 1e9);
        assert_eq!(deepest, 2);
        assert!((rest - 8e-6).abs() < 1e-15);
        assert_eq!(depth(&three, 1e-9, 1e9), (3, 0.0));
        let (deepest, rest) = depth(&three, 1e-9, 3.0);
        assert_eq!(deepest, 1);
        assert!((rest - 12e-4 - 8e-6).abs() < 1e-15);
    }
}
