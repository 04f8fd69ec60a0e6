//! Contacts that are one echo, read more than once.
//!
//! A second look at an echo tells no more of which headland it is: whatever marks could be taken for it
//! could be before. Counted as a contact of its own it would: each look multiplies the odds of a place
//! by the share that its marks have there, and twin headlands, looked at long enough, come out certain,
//! at the wrong one as often as not. One look of each echo counts.
//!
//! Ranges alone and bearings alone are not known again: each of them counts.

use super::report::Fix;
use crate::contact::{Contact, LobeReading, Sightings, plot};
use crate::geodesy::{Covariance, PlanePoint};
use crate::identity::SAME_LOOK_S;
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// Echoes of one look are two where they are this far apart, in metres.
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
///
/// A look joins the echo that it lies nearest to, but none that bears another name, and none of which
/// another reading of the same look is another echo. Where looks of an echo were given a name, the
/// latest of those counts; a name is no other reading's.
pub(super) fn one_look_each(sightings: &Sightings) -> (Sightings, Vec<Again>) {
    let mut echoes: Vec<Vec<&Contact>> = Vec::new();
    for contact in &sightings.contacts {
        let nearest = echoes
            .iter()
            .enumerate()
            .filter_map(|(index, looks)| Some((nearness(sightings, looks, contact)?, index)))
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, index)| index);
        match nearest.and_then(|index| echoes.get_mut(index)) {
            Some(looks) => looks.push(contact),
            None => echoes.push(vec![contact]),
        }
    }
    let mut again = Vec::new();
    let mut kept = Vec::new();
    for looks in &echoes {
        // Of looks at one time the one entered last.
        let key = |contact: &&&Contact| (contact.belief.is_some(), contact.time);
        let Some(counts) = looks.iter().max_by_key(key) else { continue };
        let others = looks.iter().filter(|contact| contact.label != counts.label);
        again.extend(
            others.map(|contact| Again {
                earlier: contact.label.clone(),
                counts: counts.label.clone(),
            }),
        );
        kept.push((*counts).clone());
    }
    (sightings.with_contacts(kept), again)
}

/// The least squared statistical distance of a reading from the looks of an echo; none where it is not
/// of that echo.
///
/// It is as far as both were read, and no farther from one than two echoes of one look are. Between two
/// looks also where they are that near by less than they were read, for a reading worse than its stated
/// error is no other echo, and farther apart where their errors allow it: but where one bears a name and
/// the other none, only as in one look.
fn nearness(sightings: &Sightings, looks: &[&Contact], contact: &Contact) -> Option<f64> {
    let is_barred = looks.iter().any(|look| {
        let names = (name_of(look), name_of(contact));
        let is_other_name = matches!(names, (Some(a), Some(b)) if a != b);
        let off = apart(sightings, look, contact);
        let is_parted = off.is_some_and(|(squared, metres)| metres >= PARTED_M && squared >= AGREE);
        is_other_name || is_one_look(look, contact) && is_parted
    });
    if is_barred {
        return None;
    }
    looks
        .iter()
        .filter_map(|look| {
            let (squared, metres) = apart(sightings, look, contact)?;
            let (near, agree) = (metres < PARTED_M, squared < AGREE);
            let is_strict =
                is_one_look(look, contact) || name_of(look).is_some() != name_of(contact).is_some();
            let one = if is_strict { near && agree } else { near || agree && metres < APART_M };
            one.then_some(squared)
        })
        .min_by(f64::total_cmp)
}

fn name_of(contact: &Contact) -> Option<&str> {
    contact.belief.as_ref().map(|belief| belief.mark.as_str())
}

fn is_one_look(one: &Contact, other: &Contact) -> bool {
    other.time.duration_since(one.time).as_secs_f64().abs() < SAME_LOOK_S
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

/// How far apart two readings are, the run between them taken off: squared in their standard
/// deviations, and in metres. None of a lone range or bearing, or of two parts of an echo.
fn apart(sightings: &Sightings, one: &Contact, other: &Contact) -> Option<(f64, f64)> {
    if one.part != other.part {
        return None;
    }
    let (early, late) = if one.time <= other.time { (one, other) } else { (other, one) };
    let run = sightings.reckoning.displacement(early.time, late.time);
    let doubt = SLIDES_M.hypot((RUN_SHARE * run.polar().0.metres()).min(RUN_SHARE * APART_M));
    let doubt = Covariance::circular(GroundRange::clamped_metres(doubt));
    let before = plotted(early);
    let after = plotted(late);
    let pairs = before.iter().flat_map(|a| after.iter().map(move |b| (a, b)));
    pairs
        .map(|((from, of_from), (to, of_to))| {
            let (east, north) = (to.east + run.east - from.east, to.north + run.north - from.north);
            let squared = of_from.plus(*of_to).plus(doubt).mahalanobis_squared(east, north);
            (squared, PlanePoint { east, north }.distance(PlanePoint::default()))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

/// Each place from own that a contact may be plotted at, with its error; none of a lone range or bearing.
fn plotted(contact: &Contact) -> Vec<(PlanePoint, Covariance)> {
    let Some(range) = contact.range else { return Vec::new() };
    let range = (range, contact.range_sigma);
    let read = contact.bearing.map(|bearing| (bearing, contact.bearing_sigma));
    let told = contact.lobes.iter().flat_map(LobeReading::true_bearings);
    read.into_iter().chain(told).map(|borne| plot(range, borne, contact.own_height)).collect()
}

#[cfg(test)]
mod tests;
