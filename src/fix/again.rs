//! Contacts that are one echo, read more than once.
//!
//! A second look at an echo tells no more of which headland it is: whatever marks could be taken for it
//! could be before. Counted as a contact of its own it would: each look multiplies the odds of a place
//! by the share that its marks have there, and twin headlands, looked at long enough, come out certain,
//! at the wrong one as often as not. One look of each echo counts, the latest.

use jiff::Timestamp;
use nalgebra::{Matrix2, Vector2};

use super::report::Fix;
use crate::contact::{Contact, LobeReading, Sightings};
use crate::geodesy::PlanePoint;
use crate::units::METRES_PER_NAUTICAL_MILE;

/// Readings nearer in time are of one look: echoes of it are two where they are this far apart, in
/// metres.
const ONE_LOOK_S: f64 = 60.0;
const PARTED_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;
/// Readings of one echo agree within this squared statistical distance in 999 cases of 1,000: χ² of
/// two degrees of freedom (published table).
const AGREE: f64 = 13.82;
/// Where an echo begins moves about so much from look to look, in metres.
const SLIDES_M: f64 = 0.15 * METRES_PER_NAUTICAL_MILE;
/// Echoes farther apart than this are two, however poorly the run between them is known, and the run
/// counts for no more than this share of it, in metres.
const APART_M: f64 = METRES_PER_NAUTICAL_MILE;
const RUN_SHARE: f64 = 0.3;
/// A look that another of the same echo counts for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Again {
    /// The contact left out.
    pub earlier: String,
    /// The one that counts.
    pub counts: String,
}

/// The sightings with one look of each echo, and the looks left out.
pub(super) fn one_look_each(sightings: &Sightings) -> (Sightings, Vec<Again>) {
    let mut echoes: Vec<Vec<&Contact>> = Vec::new();
    for contact in &sightings.contacts {
        let is_of = |looks: &&mut Vec<&Contact>| {
            looks.iter().any(|before| is_one_echo(sightings, before, contact))
        };
        match echoes.iter_mut().find(is_of) {
            Some(looks) => looks.push(contact),
            None => echoes.push(vec![contact]),
        }
    }
    let mut again = Vec::new();
    let kept =
        echoes.iter().filter_map(|looks| {
            // Of looks at one time the one entered last.
            let latest = looks.iter().max_by_key(|contact| contact.time)?;
            let others = looks.iter().filter(|contact| contact.label != latest.label);
            again.extend(others.map(|contact| Again {
                earlier: contact.label.clone(),
                counts: latest.label.clone(),
            }));
            // A name given at one of them is a name of all.
            let belief = looks.iter().rev().find_map(|contact| contact.belief.clone());
            Some(Contact { belief, ..(*latest).clone() })
        });
    let kept: Vec<Contact> = kept.collect();
    (sightings.with_contacts(kept), again)
}

/// In words, where there is anything to say.
pub(super) fn caution(again: &[Again]) -> Option<String> {
    let first = again.first()?;
    let said = |pair: &Again| format!("{} as {}", pair.earlier, pair.counts);
    let others: Vec<String> = again.iter().skip(1).take(3).map(said).collect();
    let more = again.len().saturating_sub(4);
    let more = if more > 0 { format!(", and {more} more") } else { String::new() };
    let list = std::iter::once(said(first)).chain(others).collect::<Vec<_>>().join(", ");
    Some(format!(
        "the same echo read again counts once: {list}{more}. Looking again does not tell which headland \
         it is; another echo does"
    ))
}

/// What is told of a contact that counts is told of the looks that it counts for.
pub(super) fn tell_of_all(fix: &mut Fix, again: &[Again]) {
    for Again { earlier, counts } in again {
        let same = |contact: &String| contact == counts;
        let identity = fix.identities.iter().find(|it| same(&it.contact)).cloned();
        fix.identities
            .extend(identity.map(|it| super::Identity { contact: earlier.clone(), ..it }));
        let left_out = fix.unmatched.iter().find(|it| same(&it.contact)).cloned();
        fix.unmatched
            .extend(left_out.map(|it| super::Unmatched { contact: earlier.clone(), ..it }));
    }
}

fn is_one_echo(sightings: &Sightings, one: &Contact, other: &Contact) -> bool {
    let names = [one, other].map(|contact| contact.belief.as_ref().map(|belief| &belief.mark));
    if let [Some(a), Some(b)] = names
        && a != b
    {
        return false;
    }
    if one.part != other.part {
        return false;
    }
    let one_look = seconds_between(one.time, other.time) < ONE_LOOK_S;
    is_one_place(sightings, one, other, one_look)
}

fn seconds_between(one: Timestamp, other: Timestamp) -> f64 {
    other.duration_since(one).as_secs_f64().abs()
}

/// Whether two readings, the run between them taken off, are of one place.
///
/// As well as they were read, and no farther apart than two echoes of one look are; in two looks, also
/// where they are that near by less than they were read, for a reading worse than its stated error is
/// no other echo.
fn is_one_place(sightings: &Sightings, one: &Contact, other: &Contact, one_look: bool) -> bool {
    let (early, late) = if one.time <= other.time { (one, other) } else { (other, one) };
    let run = sightings.reckoning.displacement(early.time, late.time);
    let doubt = SLIDES_M.hypot((RUN_SHARE * run.polar().0.metres()).min(RUN_SHARE * APART_M));
    let (early, late) = (plotted(sightings, early), plotted(sightings, late));
    early.iter().any(|before| {
        late.iter().any(|after| {
            let off = Vector2::new(
                after.at.east + run.east - before.at.east,
                after.at.north + run.north - before.at.north,
            );
            let spread = before.spread + after.spread + Matrix2::identity() * (doubt * doubt);
            let agrees =
                spread.try_inverse().is_some_and(|inverse| off.dot(&(inverse * off)) < AGREE);
            let apart_m = off.norm();
            if one_look {
                agrees && apart_m < PARTED_M
            } else {
                apart_m < PARTED_M || agrees && apart_m < APART_M
            }
        })
    })
}

/// Where an echo is plotted from own place, and how well it was read.
struct Plotted {
    at: PlanePoint,
    spread: Matrix2<f64>,
}

/// Each place that a contact may be plotted at; none of a lone range or bearing.
fn plotted(sightings: &Sightings, contact: &Contact) -> Vec<Plotted> {
    let Some(range) = contact.range else { return Vec::new() };
    let height = sightings.own.height.metres();
    let slant = range.metres();
    // What height the echo has is small beside what it is read to.
    let ground = (slant * slant - height * height).max(0.0).sqrt();
    let read = contact.bearing.map(|bearing| (bearing, contact.bearing_sigma));
    let told = contact.lobes.iter().flat_map(LobeReading::true_bearings);
    read.into_iter()
        .chain(told)
        .map(|(bearing, sigma)| {
            let (sin, cos) = bearing.sin_cos();
            let along = Vector2::new(sin, cos);
            let across = Vector2::new(cos, -sin);
            let (range_m, aside_m) = (contact.range_sigma.metres(), ground * sigma.radians().abs());
            Plotted {
                at: PlanePoint { east: ground * sin, north: ground * cos },
                spread: along * along.transpose() * (range_m * range_m)
                    + across * across.transpose() * (aside_m * aside_m),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests;
