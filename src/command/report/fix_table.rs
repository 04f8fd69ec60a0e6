use super::words::percent;
use crate::contact::{Contact, Sightings};
use crate::fix::{Fix, Residual};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// What was measured, what it is taken for, and what is left of it: a row for each contact.
pub(super) fn contact_rows(sightings: &Sightings, fix: &Fix) -> Vec<Vec<String>> {
    let head = ["contact", "range NM", "bearing", "part", "left over", "w", "mark", "sure"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    rows.extend(sightings.contacts.iter().map(|contact| row(contact, fix)));
    rows
}

fn row(contact: &Contact, fix: &Fix) -> Vec<String> {
    let residual = fix.residuals.iter().find(|residual| residual.contact == contact.label);
    let identity = fix.identities.iter().find(|identity| identity.contact == contact.label);
    let range = contact.range.map_or_else(|| "-".into(), |r| format!("{:.2}", r.nautical_miles()));
    let told = || contact.lobes.as_ref().map(|read| format!("{} T", read.true_words()));
    let read = contact.bearing.map(|bearing| format!("{bearing} T"));
    let bearing = read.or_else(told).unwrap_or_else(|| "-".to_owned());
    let believed = || {
        contact.belief.as_ref().map_or_else(|| "-".into(), |belief| format!("({})", belief.mark))
    };
    vec![
        contact.label.clone(),
        range,
        bearing,
        contact.part.as_str().to_owned(),
        residual.map_or_else(|| "-".into(), left_over),
        residual.map_or_else(|| "-".into(), standardised),
        identity.map_or_else(believed, |identity| identity.mark.clone()),
        identity.map_or_else(|| "-".into(), |identity| percent(identity.probability)),
    ]
}

fn left_over(residual: &Residual) -> String {
    let range = residual.range_m.map(|m| format!("{:+.2} NM", m / METRES_PER_NAUTICAL_MILE));
    let bearing = residual.bearing.map(|turn| format!("{:+.1}°", turn.degrees()));
    let ratio = residual.ratio_db.map(|db| format!("{db:+.1} dB"));
    let both: Vec<String> = range.into_iter().chain(ratio.or(bearing)).collect();
    let unused = if residual.used { "" } else { " (not used)" };
    if both.is_empty() { format!("-{unused}") } else { format!("{}{unused}", both.join(" ")) }
}

fn standardised(residual: &Residual) -> String {
    let each: Vec<String> = residual.standardised.iter().map(|w| format!("{w:+.1}")).collect();
    if each.is_empty() { "-".to_owned() } else { each.join(" ") }
}
