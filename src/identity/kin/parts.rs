//! The parts of one small echo, read in one look: its near edge, its left and its right, its middle.
//!
//! They lie where they do because the echo does, whatever it is. Once its near edge is read, a ship's left
//! edge is foretold as well as a headland's: a part more tells nothing of which of the two it is, and is
//! no other mark's witness. An echo too wide for a ship tells by its width, and its parts count.

use std::f64::consts::{SQRT_2, TAU};

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

/// Contacts that are parts of one small echo, two or more of each, the most telling first, the lead; and how
/// much likelier each reads beside that one than anywhere within reach, in nats.
pub(super) fn echoes_of_parts(problem: &Problem) -> Vec<(Vec<usize>, Vec<f64>)> {
    let mut echoes: Vec<Vec<usize>> = Vec::new();
    // Mostly near edges alone are read, and nothing is to be sought.
    if problem.sights.iter().all(|sight| sight.part == Part::Near) {
        return Vec::new();
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
    echoes.into_iter().map(|echo| led(problem, echo)).collect()
}

/// An echo with its lead first, a near edge with range and bearing where there is one.
fn led(problem: &Problem, mut echo: Vec<usize>) -> (Vec<usize>, Vec<f64>) {
    let sight = |index: &usize| problem.sights.get(*index);
    echo.sort_by_key(|index| {
        let told = sight(index).map(|sight| (sight.is_full(), sight.part == Part::Near));
        (std::cmp::Reverse(told), *index)
    });
    let lead = echo.first().and_then(sight);
    let beside = echo
        .iter()
        .map(|index| {
            let both = lead.zip(sight(index));
            both.map_or(0.0, |(lead, part)| log_beside(lead, part, problem.reach_m))
        })
        .collect();
    (echo, beside)
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

/// Whether two parts lie so near each other, as far as both were read; not where nothing of the same kind was.
fn lies_beside(one: &Sight, other: &Sight) -> bool {
    let (deep, wide) =
        (beyond_a_ship(off_in_range(one, other)), beyond_a_ship(off_in_bearing(one, other)));
    let is_near = |beyond: Option<f64>| beyond.is_none_or(|beyond| beyond <= ALLOWED);
    (deep.is_some() || wide.is_some()) && is_near(deep) && is_near(wide)
}

/// How far two parts are apart, what of it a ship's may be, and one standard deviation of it.
type Off = (f64, f64, f64);

/// In metres; none where not both were ranged.
fn off_in_range(one: &Sight, other: &Sight) -> Option<Off> {
    let (a, b) = one.range.zip(other.range)?;
    Some(((a.value - b.value).abs(), DEPTH_M, a.sigma.hypot(b.sigma)))
}

/// In radians, the least that their directions allow; none where not both were borne.
fn off_in_bearing(one: &Sight, other: &Sight) -> Option<Off> {
    let half_width = Angle::from_degrees(HALF_WIDTH_DEG).radians();
    let off = |a: Reading, b: Reading| {
        let off = Angle::from_radians(a.value - b.value).radians().abs();
        (off, half_width, a.sigma.hypot(b.sigma))
    };
    let others = other.directions().iter();
    let pairs = others.flat_map(|b| one.directions().iter().map(move |a| off(*a, *b)));
    pairs.min_by(|a, b| a.0.total_cmp(&b.0))
}

/// How many standard deviations that is more than a ship's parts are apart.
fn beyond_a_ship(off: Option<Off>) -> Option<f64> {
    off.map(|(off, own, sigma)| ((off - own) / sigma.max(f64::MIN_POSITIVE)).max(0.0))
}

/// How much likelier a part reads as it does beside the lead of its echo than anywhere within reach, in nats.
///
/// Of each reading that the lead has too, the density of the normal law of the difference as it is on the mean,
/// half a nat under its peak, which falls off where they are farther apart than a ship's.
fn log_beside(lead: &Sight, part: &Sight, reach_m: f64) -> f64 {
    let density = |off: Option<Off>, sigma: f64| {
        let beyond = beyond_a_ship(off)?;
        Some(
            -(TAU.sqrt() * SQRT_2 * sigma).max(f64::MIN_POSITIVE).ln()
                - 0.5
                - 0.5 * beyond * beyond,
        )
    };
    let by_range = part.range.and_then(|range| density(off_in_range(lead, part), range.sigma));
    let own = part.bearing.map(|bearing| bearing.sigma);
    let own = own.or_else(|| part.ratio.map(|ratio| ratio.lobes.ratio_sigma_db));
    let by_bearing = own.and_then(|sigma| density(off_in_bearing(lead, part), sigma));
    // What the lead does not tell of may be anywhere.
    let ranged = part.range.filter(|_| by_range.is_some());
    let (bearing, ratio) = match by_bearing {
        Some(_) => (part.bearing, part.ratio),
        None => (None, None),
    };
    let told = Sight { range: ranged, bearing, ratio, ..part.clone() };
    let anywhere = log_anywhere(&told, reach_m) + log_plotted(&told);
    by_range.unwrap_or(0.0) + by_bearing.unwrap_or(0.0) - anywhere
}

/// What the parts of an echo weigh together over what they weigh one by one: in nats.
///
/// One mark is picked once for all of its parts that bear no name, and what is nothing on the chart is so
/// once. Where the lead is nothing on the chart, or shore of no name, so are those with it that are nothing, and lie
/// where that one has them.
pub(super) fn log_together(any_shore: Option<usize>, members: &[Member]) -> f64 {
    let picked = |one: &&Member| one.target.is_some() && !one.is_named();
    let picked: Vec<Member> = members
        .iter()
        .filter(picked)
        .map(|one| Member { share: one.share * (1.0 - one.off_chart), ..*one })
        .collect();
    let marks = log_each_once(any_shore, &picked.iter().collect::<Vec<_>>());
    let left_out: Vec<&Member> = members.iter().filter(|one| one.target.is_none()).collect();
    let unnamed: Vec<&Member> = left_out.iter().copied().filter(|one| !one.is_named()).collect();
    let lead = members.iter().find(|one| one.beside.is_none());
    let beside: f64 = left_out.iter().filter_map(|one| one.beside).sum();
    let off_chart = match lead.map(|lead| lead.target) {
        Some(None) => log_each_once(any_shore, &unnamed) + beside,
        Some(shore) if shore == any_shore => {
            beside - unnamed.iter().map(|one| one.share.max(f64::MIN_POSITIVE).ln()).sum::<f64>()
        }
        _ => log_each_once(any_shore, &unnamed),
    };
    marks + off_chart
}

/// What all contacts weigh more as nothing on the chart for lying beside one another: in nats.
pub(in crate::identity) fn log_all_off_chart(problem: &Problem) -> f64 {
    let echoes = echoes_of_parts(problem);
    echoes.iter().map(|(_, beside)| beside.iter().skip(1).sum::<f64>()).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    const MARK: Option<usize> = Some(1);
    const OTHER: Option<usize> = Some(2);
    const SHORE: Option<usize> = Some(9);
    const SHARE: f64 = 0.04;
    const OFF: f64 = 0.15;

    fn part(target: Option<usize>, beside: Option<f64>) -> Member {
        let share = if target.is_none() { OFF } else { SHARE };
        Member { confidence: 0.0, target, share, off_chart: OFF, beside }
    }

    fn is(members: &[Member], expected: f64) {
        let found = log_together(SHORE, members);
        assert!((found - expected).abs() < 1e-9, "{members:?}: {found}, not {expected}");
    }

    #[test]
    fn one_echo_is_picked_once_and_one_ship_is_one() {
        let three = |target| [part(target, None), part(target, Some(6.0)), part(target, Some(7.0))];
        // Picked, and charted at all, once for thrice.
        is(&three(MARK), -2.0 * (SHARE * (1.0 - OFF)).ln());
        // 0.15 for 0.15³, its edges read where its near edge has them.
        is(&three(None), 13.0 - 2.0 * OFF.ln());
        // Two marks are two, and shore of no name is no one thing.
        is(&[part(MARK, None), part(OTHER, Some(6.0))], 0.0);
        is(&[part(SHORE, None), part(SHORE, Some(6.0))], 0.0);
        // The edges of shore of no name are of that shore.
        is(&[part(SHORE, None), part(None, Some(6.0))], 6.0 - OFF.ln());
        // A mark whose edge is something else keeps the chance of that by itself.
        is(&[part(MARK, None), part(None, Some(6.0))], 0.0);
        is(&[part(None, None), part(MARK, Some(6.0))], 0.0);
    }
}
