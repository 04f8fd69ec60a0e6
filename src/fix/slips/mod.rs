//! Which single slip would explain why contacts and reckoning, or a contact and its named mark, do
//! not agree.
//!
//! Slips known to the trade, each tried by itself: the variation applied the wrong way, a heading
//! read ten degrees out, a reciprocal bearing; ranges taken along the ground where the slant is
//! asked, or made slant twice; a neighbour taken for the mark. One is told where the contacts,
//! mended by it, agree among themselves and with the reckoning, and no more than two of them would
//! do. Where they agree unmended there is nothing to explain.

mod names;
mod ranges;

use super::case::Case;
use super::geometry::leaves_a_direction_free;
use super::residuals::{consistency, tail};
use crate::contact::{BearingKind, Contact, Sightings};
use crate::geodesy::LocalPlane;
use crate::identity::{Problem, Solution, solve};
use crate::units::Angle;

/// What is mended must agree at this chance or better.
const AGREES: f64 = 0.05;
/// A variation of less than this explains nothing, in degrees.
const LEAST_VARIATION_DEG: f64 = 2.0;
/// A heading misread by one figure of its second place.
const MISREAD_DEG: f64 = 10.0;
/// More explanations than this are none.
const MOST_TOLD: usize = 2;

/// One slip, and what takes it back.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Slip {
    /// What would explain it, in plain words.
    pub words: String,
    /// What each bearing is turned by, in radians, in the order of the sights.
    pub turns: Vec<f64>,
}

/// The slips that these sightings may hold.
pub(super) fn possible(sightings: &Sightings) -> Vec<Slip> {
    let contacts = &sightings.contacts;
    let read_as = |contact: &Contact, kinds: &[BearingKind]| {
        contact.as_read.is_some_and(|read| kinds.contains(&read.kind))
    };
    let all = |words: String, kinds: &[BearingKind], degrees: f64| Slip {
        words,
        turns: contacts
            .iter()
            .map(|contact| if read_as(contact, kinds) { degrees } else { 0.0 })
            .map(|degrees| Angle::from_degrees(degrees).radians())
            .collect(),
    };
    let mut slips = Vec::new();
    let variation = sightings.own.variation.map_or(0.0, |v| v.east().degrees());
    if variation.abs() >= LEAST_VARIATION_DEG {
        let words = "the variation applied the wrong way".to_owned();
        let kinds = [BearingKind::Magnetic, BearingKind::Compass];
        slips.push(all(words, &kinds, -2.0 * variation));
    }
    for (more, word) in [(MISREAD_DEG, "low"), (-MISREAD_DEG, "high")] {
        slips.push(all(format!("a heading 10° too {word}"), &[BearingKind::Relative], more));
    }
    for (index, contact) in contacts.iter().enumerate() {
        let mut turns = vec![0.0; contacts.len()];
        if let Some(turn) = turns.get_mut(index) {
            *turn = std::f64::consts::PI;
        }
        let words = format!("the reciprocal of contact {}'s bearing", contact.label);
        slips.push(Slip { words, turns });
    }
    slips.retain(|slip| {
        slip.turns.iter().zip(contacts).any(|(turn, c)| *turn != 0.0 && c.bearing.is_some())
    });
    slips
}

impl Slip {
    /// The measurements with this slip taken back.
    fn taken_back(&self, problem: &Problem) -> Problem {
        let mut mended = problem.clone();
        for (sight, turn) in mended.sights.iter_mut().zip(&self.turns) {
            if let Some(bearing) = &mut sight.bearing {
                bearing.value = (bearing.value + turn).rem_euclid(std::f64::consts::TAU);
            }
        }
        mended
    }
}

/// The slips that would put the contacts, so identified, where the reckoning has us.
pub(super) fn explaining(case: &Case<'_>, targets: &[Option<usize>]) -> Option<String> {
    let mut told = Vec::new();
    if agreeing(case, &case.problem, targets).is_none() {
        let mended = |slip: &&Slip| agreeing(case, &slip.taken_back(&case.problem), targets);
        let turned = case.slips.iter().filter(|slip| mended(slip).is_some());
        told.extend(turned.map(|slip| slip.words.clone()));
        told.extend(ranges::explaining(case, targets));
    }
    told.extend(names::explaining(case, targets));
    if told.is_empty() || told.len() > MOST_TOLD {
        return None;
    }
    Some(format!("{} would explain it: check that first", told.join(", or ")))
}

/// The place that measurements come to without the reckoning, where they agree among themselves and
/// with it.
fn agreeing(case: &Case<'_>, problem: &Problem, targets: &[Option<usize>]) -> Option<Solution> {
    let from = case.problem.prior.position;
    let found = solve(problem, case.answering, targets, from, 0.0, false)?;
    let agrees = !leaves_a_direction_free(problem, Some(&found))
        && consistency(&found).p >= AGREES
        && with_the_reckoning(case, &found);
    agrees.then_some(found)
}

fn with_the_reckoning(case: &Case<'_>, found: &Solution) -> bool {
    let off = LocalPlane::new(found.position).to_plane(case.problem.prior.position);
    let sum = found.position_covariance().plus(case.reckoned());
    tail(sum.mahalanobis_squared(off.east, off.north), 2) >= AGREES
}
