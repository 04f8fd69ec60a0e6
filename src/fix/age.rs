use jiff::Timestamp;

use crate::contact::Sightings;

/// A contact older than this is said to be, in seconds: at 180 knots it is fifteen miles off.
const OLD_S: f64 = 300.0;
/// One carried by no run is said to be from here on.
const UNCARRIED_S: f64 = 60.0;

/// Contacts that are not of the time everything is carried to.
pub(super) fn cautions(sightings: &Sightings, time: Timestamp) -> Vec<String> {
    let reckoning = &sightings.reckoning;
    let carried = reckoning.track.is_some() && reckoning.speed.is_some();
    let least = if carried { OLD_S } else { UNCARRIED_S };
    let aged: Vec<(&str, f64)> = sightings
        .contacts
        .iter()
        .map(|contact| {
            let age = time.duration_since(contact.time).as_secs_f64();
            (contact.label.as_str(), age)
        })
        .filter(|(_, age)| *age >= least)
        .collect();
    let Some((label, oldest)) = aged.iter().max_by(|a, b| a.1.total_cmp(&b.1)) else {
        return Vec::new();
    };
    let others = aged.len() - 1;
    let more = if others == 0 { String::new() } else { format!(" (and {others} more are old)") };
    let minutes = oldest / 60.0;
    let then = if carried {
        "carried on by track and speed as stated"
    } else {
        "and not carried on: no track and speed are given"
    };
    vec![format!("contact {label} is {minutes:.0} min old{more}, {then}")]
}
