//! What one name says that several contacts bear.
//!
//! Near, left and right of one echo, or its range now and its bearing a minute later, are given one name
//! in one breath: the operator is right of all of them or wrong of all of them. Weighed contact by
//! contact, one slip would have the odds of as many.

use std::collections::BTreeMap;

use super::Member;
use crate::identity::problem::Problem;

/// The names that several contacts bear, by their marks, each with those contacts.
pub(super) fn shared_names(problem: &Problem) -> Vec<(usize, Vec<usize>)> {
    let mut names: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (index, sight) in problem.sights.iter().enumerate() {
        if let Some(belief) = sight.belief.filter(|_| sight.surely.is_none()) {
            names.entry(belief.candidate).or_default().push(index);
        }
    }
    names.into_iter().filter(|(_, bearers)| bearers.len() > 1).collect()
}

/// Logarithm of the chance that every name is wrong, each name counted once.
pub(in crate::identity) fn log_all_wrong(problem: &Problem) -> f64 {
    let mut surest: BTreeMap<usize, f64> = BTreeMap::new();
    for belief in problem.sights.iter().filter_map(|sight| sight.belief) {
        let known = surest.entry(belief.candidate).or_insert(0.0);
        *known = known.max(belief.confidence);
    }
    surest.into_values().map(|confidence| (1.0 - confidence).max(1e-3).ln()).sum()
}

/// What the bearers of a name weigh together over what they weigh one by one: in nats.
///
/// By itself a contact weighs c + (1 - c)·s as the mark named, and (1 - c)·s as anything else: c its
/// confidence, s the share of what it is. Together they have the surest of their confidences, and:
///
/// - all are the mark named: once c + (1 - c)·s;
/// - none of them is: one slip, 1 - c; and those that are one other mark, or nothing on the chart, are so
///   by one chance, s;
/// - some are and some are not: those that are count once; each that is not is a slip of its own, and all
///   of these come no cheaper than one.
pub(super) fn log_together(name: usize, any_shore: Option<usize>, bearers: &[Member]) -> f64 {
    if bearers.len() < 2 {
        return 0.0;
    }
    let (right, wrong): (Vec<&Member>, Vec<&Member>) =
        bearers.iter().partition(|one| one.target == Some(name));
    let by_each: f64 = wrong.iter().map(|one| log_slip(one.confidence)).sum();
    let by_one = log_slip(surest(bearers.iter()));
    if right.is_empty() {
        by_one - by_each + log_each_once(any_shore, &wrong)
    } else if wrong.is_empty() {
        log_named_once(&right)
    } else {
        log_named_once(&right) + by_one.min(by_each) - by_each
    }
}

fn surest<'n>(some: impl Iterator<Item = &'n Member>) -> f64 {
    some.map(|one| one.confidence).fold(0.0, f64::max)
}

fn log_slip(confidence: f64) -> f64 {
    (1.0 - confidence).max(f64::MIN_POSITIVE).ln()
}

/// Of contacts that are the mark named.
fn log_named_once(right: &[&Member]) -> f64 {
    let log = |confidence: f64, share: f64| {
        (confidence + (1.0 - confidence) * share).max(f64::MIN_POSITIVE).ln()
    };
    let most = right.iter().map(|one| one.share).fold(0.0, f64::max);
    let by_each: f64 = right.iter().map(|one| log(one.confidence, one.share)).sum();
    log(surest(right.iter().copied()), most) - by_each
}

/// Of contacts that are not: the greatest share of each thing that they are, in place of all of them.
pub(super) fn log_each_once(any_shore: Option<usize>, wrong: &[&Member]) -> f64 {
    let mut things: BTreeMap<Option<usize>, (f64, f64)> = BTreeMap::new();
    for one in wrong.iter().filter(|one| one.target.is_none() || one.target != any_shore) {
        let log = one.share.max(f64::MIN_POSITIVE).ln();
        let (most, sum) = things.entry(one.target).or_insert((f64::NEG_INFINITY, 0.0));
        (*most, *sum) = (most.max(log), *sum + log);
    }
    things.into_values().map(|(most, sum)| most - sum).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::identity::kin::{By, Kin, SoFar};

    /// The mark named, another, a third, and shore of no name.
    const NAMED: usize = 0;
    const OTHER: Option<usize> = Some(1);
    const THIRD: Option<usize> = Some(2);
    const SHORE: Option<usize> = Some(9);
    const SHARE: f64 = 0.04;
    /// Nothing on the chart, of a contact without a name.
    const OFF: f64 = 0.15;

    fn one(confidence: f64, target: Option<usize>) -> Member {
        let share = if target.is_none() { OFF } else { SHARE };
        Member { confidence, target, share, off_chart: 0.15, beside: None }
    }

    /// What they weigh together: one by one, and what is gained by sharing a name.
    fn weight(bearers: &[Member]) -> f64 {
        let alone = |one: &Member| {
            let named = if one.target == Some(NAMED) { one.confidence } else { 0.0 };
            named + (1.0 - one.confidence) * one.share
        };
        let alone: f64 = bearers.iter().map(alone).product();
        alone * log_together(NAMED, SHORE, bearers).exp()
    }

    fn is(bearers: &[Member], expected: f64) {
        let found = weight(bearers);
        assert!((found / expected - 1.0).abs() < 1e-9, "{bearers:?}: {found}, not {expected}");
    }

    #[test]
    fn a_name_by_itself_is_as_it_was() {
        is(&[one(0.95, Some(NAMED))], 0.95 + 0.05 * SHARE);
        is(&[one(0.95, OTHER)], 0.05 * SHARE);
    }

    #[test]
    fn parts_of_one_echo_are_right_together_or_wrong_together() {
        let three = |target| [one(0.95, target), one(0.95, target), one(0.95, target)];
        // 0.95 + 0.05 × 0.04, and one slip and one share of the other mark: odds of 476 to 1, as of one
        // contact, and not of a hundred million (worked by hand).
        is(&three(Some(NAMED)), 0.952);
        is(&three(OTHER), 0.002);
        // A ship of which three parts were read.
        is(&three(None), 0.05 * 0.15);
        // The surest of them counts.
        is(&[one(0.6, Some(NAMED)), one(0.95, Some(NAMED))], 0.952);
        is(&[one(0.6, OTHER), one(0.95, OTHER)], 0.002);
    }

    #[test]
    fn two_other_things_are_two() {
        is(&[one(0.95, OTHER), one(0.95, OTHER), one(0.95, THIRD)], 0.05 * SHARE * SHARE);
        is(&[one(0.95, OTHER), one(0.95, None)], 0.05 * SHARE * OFF);
        // Shore of no name is no one thing.
        is(&[one(0.95, SHORE), one(0.95, SHORE)], 0.05 * SHARE * SHARE);
    }

    #[test]
    fn each_that_is_not_the_mark_beside_one_that_is_slips_by_itself() {
        let right = one(0.95, Some(NAMED));
        is(&[right, one(0.95, OTHER)], 0.952 * 0.05 * SHARE);
        is(&[right, one(0.95, OTHER), one(0.95, OTHER)], 0.952 * (0.05 * SHARE).powi(2));
        is(&[right, right, one(0.95, OTHER)], 0.952 * 0.05 * SHARE);
        // A name half believed of it is no half of a slip.
        is(&[right, one(0.5, OTHER)], 0.952 * 0.05 * SHARE);
        // But two of them are two.
        is(&[right, one(0.8, OTHER), one(0.8, OTHER)], 0.952 * (0.2 * SHARE).powi(2));
    }

    #[test]
    fn one_after_the_other_comes_to_the_same_in_any_order() {
        let kin = Kin { by: By::Name(NAMED), contacts: vec![0, 1, 2, 3], beside: Vec::new() };
        let all = [one(0.95, OTHER), one(0.7, Some(NAMED)), one(0.8, None), one(0.95, OTHER)];
        let whole = log_together(NAMED, SHORE, &all);
        for first in 0..all.len() {
            let mut turned = all.to_vec();
            turned.rotate_left(first);
            let mut sum = 0.0;
            for (count, another) in turned.iter().enumerate() {
                let before = turned.get(..count).unwrap_or_default();
                sum += SoFar::of(&kin, SHORE, before.to_vec()).gained_by(*another);
            }
            assert!((sum - whole).abs() < 1e-9, "{sum} {whole}");
        }
    }
}
