//! The parts of one small echo, read in one look: its near edge, its left and its right, its middle.
//!
//! They lie where they do because the echo does, whatever it is. Once its near edge is read, a ship's left
//! edge is foretold as well as a headland's: a part more tells nothing of which of the two it is, and is
//! no other mark's witness. An echo too wide for a ship tells by its width, and its parts count.

use std::f64::consts::PI;

use super::Member;
use super::names::log_each_once;
use crate::contact::Part;
use crate::identity::prior::{SAME_LOOK_S, log_anywhere, log_plotted};
use crate::identity::problem::{Problem, Reading, Sight};
use crate::units::{Angle, METRES_PER_NAUTICAL_MILE};

/// Parts of a ship are no farther apart than this and their errors allow: what half a beam and a pulse make of
/// a point (our own figures).
const HALF_WIDTH_DEG: f64 = 2.0;
const DEPTH_M: f64 = 0.3 * METRES_PER_NAUTICAL_MILE;
/// So many standard deviations the errors allow.
const ALLOWED: f64 = 3.0;

/// Contacts that are parts of one small echo, two or more of each.
pub(super) fn echoes_of_parts(problem: &Problem) -> Vec<Vec<usize>> {
    let mut echoes: Vec<Vec<usize>> = Vec::new();
    // Mostly near edges alone are read, and nothing is to be sought.
    if problem.sights.iter().all(|sight| sight.part == Part::Near) {
        return echoes;
    }
    for (index, sight) in problem.sights.iter().enumerate() {
        let joins = |echo: &&mut Vec<usize>| {
            echo.iter().all(|other| {
                problem.sights.get(*other).is_some_and(|other| are_parts_of_one(other, sight))
            })
        };
        match echoes.iter_mut().find(joins) {
            Some(echo) => echo.push(index),
            None => echoes.push(vec![index]),
        }
    }
    echoes.retain(|echo| echo.len() > 1);
    echoes
}

fn are_parts_of_one(one: &Sight, other: &Sight) -> bool {
    let is_plain = |sight: &Sight| sight.surely.is_none() && sight.traced.is_none();
    let one_look = (one.elapsed_s - other.elapsed_s).abs() < SAME_LOOK_S;
    let two_names =
        one.belief.is_some_and(|a| other.belief.is_some_and(|b| a.candidate != b.candidate));
    is_plain(one)
        && is_plain(other)
        && one_look
        && one.part != other.part
        && !two_names
        && lies_beside(one, other)
}

/// Whether two parts lie so near each other, as far as both were read; none where nothing of the same kind was.
fn lies_beside(one: &Sight, other: &Sight) -> bool {
    let most = |a: Reading, b: Reading, own: f64| own + ALLOWED * a.sigma.hypot(b.sigma);
    let ranges = one.range.zip(other.range);
    let deep = ranges.is_none_or(|(a, b)| (a.value - b.value).abs() <= most(a, b, DEPTH_M));
    let off = |a: f64, b: f64| Angle::from_radians(a - b).radians().abs();
    let half_width = Angle::from_degrees(HALF_WIDTH_DEG).radians();
    let pairs = || {
        let others = other.directions().iter();
        others.flat_map(|b| one.directions().iter().map(move |a| (*a, *b)))
    };
    let borne = pairs().next().is_some();
    let wide = !borne || pairs().any(|(a, b)| off(a.value, b.value) <= most(a, b, half_width));
    (ranges.is_some() || borne) && deep && wide
}

/// How much likelier a part reads as it does beside another of its echo than anywhere within reach, in nats: as
/// likely as may be, for what is beside it was sought there.
pub(super) fn log_beside(sight: &Sight, reach_m: f64) -> f64 {
    if sight.traced.is_some() || sight.surely.is_some() {
        return 0.0;
    }
    // Of the difference of two such readings.
    let peak = |sigma: f64| -(2.0 * PI.sqrt() * sigma).max(f64::MIN_POSITIVE).ln();
    let by_range = sight.range.map_or(0.0, |range| peak(range.sigma));
    let borne = sight.bearing.map(|bearing| bearing.sigma);
    let borne = borne.or_else(|| sight.ratio.map(|ratio| ratio.lobes.ratio_sigma_db));
    let by_bearing = borne.map_or(0.0, peak);
    (by_range + by_bearing - log_anywhere(sight, reach_m) - log_plotted(sight)).max(0.0)
}

/// What the parts of an echo weigh together over what they weigh one by one: in nats.
///
/// One mark is picked once for all of its parts that bear no name, and what is nothing on the chart is so
/// once; of its parts all but the most telling lie beside that one.
pub(super) fn log_together(any_shore: Option<usize>, members: &[Member]) -> f64 {
    let unnamed: Vec<&Member> = members.iter().filter(|one| !one.is_named()).collect();
    let left_out = members.iter().filter(|one| one.target.is_none());
    log_each_once(any_shore, &unnamed) + all_but_the_most(left_out.map(|one| one.beside))
}

fn all_but_the_most(beside: impl Iterator<Item = f64>) -> f64 {
    let (sum, most) = beside.fold((0.0, 0.0f64), |(sum, most), one| (sum + one, most.max(one)));
    sum - most
}

/// What all contacts weigh more as nothing on the chart for lying beside one another: in nats.
pub(in crate::identity) fn log_all_off_chart(problem: &Problem) -> f64 {
    echoes_of_parts(problem)
        .iter()
        .map(|echo| {
            let sights = echo.iter().filter_map(|index| problem.sights.get(*index));
            all_but_the_most(sights.map(|sight| log_beside(sight, problem.reach_m)))
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    const MARK: Option<usize> = Some(1);
    const OTHER: Option<usize> = Some(2);
    const SHORE: Option<usize> = Some(9);
    const SHARE: f64 = 0.04;
    const OFF: f64 = 0.15;

    fn part(target: Option<usize>, beside: f64) -> Member {
        let share = if target.is_none() { OFF } else { SHARE };
        Member { confidence: 0.0, target, share, beside }
    }

    #[test]
    fn one_echo_is_picked_once_and_one_ship_is_one() {
        let near = |target| [part(target, 17.0), part(target, 6.0), part(target, 7.0)];
        // 0.04 for 0.04³; and 0.15 for 0.15³, its edges read where its near edge has them.
        let (as_mark, as_ship) =
            (log_together(SHORE, &near(MARK)), log_together(SHORE, &near(None)));
        assert!((as_mark + 2.0 * SHARE.ln()).abs() < 1e-9, "{as_mark}");
        assert!((as_ship - (13.0 - 2.0 * OFF.ln())).abs() < 1e-9, "{as_ship}");
        // Two marks are two, and shore of no name is no one thing.
        let two = [part(MARK, 17.0), part(OTHER, 6.0)];
        assert!(log_together(SHORE, &two).abs() < 1e-9);
        let shore = [part(SHORE, 17.0), part(SHORE, 6.0)];
        assert!(log_together(SHORE, &shore).abs() < 1e-9);
        // A mark whose edge is something else keeps the chance of that by itself.
        let mixed = [part(MARK, 17.0), part(None, 6.0)];
        assert!(log_together(SHORE, &mixed).abs() < 1e-9);
    }
}
