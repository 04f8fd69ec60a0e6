//! What one look at the set comes to: the sightings, and what the program makes of them.

use std::fmt::Write;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use jiff::Timestamp;

use super::case::BIAS_DEG;
use super::landfall::{SimulatorError, write_readings};
use super::operator::{Hand, Taken};
use crate::chart::Chart;
use crate::contact::Sightings;
use crate::fix::{Fix, Options, fix};
use crate::geodesy::Position;
use crate::paint::approach::Plan;
use crate::radar::Set;

/// The reckoning is never told to be better than this, nautical miles.
const LEAST_SIGMA_NM: f64 = 0.01;

/// Where the reckoning is at a look.
pub(super) struct Reckoned {
    pub time: Timestamp,
    pub position: Position,
    pub along_nm: f64,
    pub across_nm: f64,
}

/// What was measured, as a file of sightings would tell it.
///
/// # Errors
/// The file cannot be read: a fault of the simulator.
pub(super) fn sightings(
    plan: &Plan,
    set: &Set,
    reckoned: &Reckoned,
    hand: Hand<'_>,
    taken: &[Taken],
    landfall: Option<Position>,
) -> Result<Sightings, SimulatorError> {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = head(&mut text, plan, reckoned, hand, landfall);
    for (number, contact) in taken.iter().enumerate() {
        let part = contact.part;
        let _ = writeln!(text, "[[contact]]\nlabel = \"{}\"\npart = \"{part}\"", number + 1);
        write_readings(&mut text, contact);
    }
    let mut sightings = Sightings::parse(&text, "landfall.toml", Path::new(""))?;
    // A set of the user's own has no name that a file could give.
    (sightings.radar.set, sightings.radar.set_name) = (set.clone(), set.name.clone());
    Ok(sightings)
}

fn head(
    text: &mut String,
    plan: &Plan,
    reckoned: &Reckoned,
    hand: Hand<'_>,
    landfall: Option<Position>,
) -> std::fmt::Result {
    let place = |at: Position| format!("\"{:.6},{:.6}\"", at.latitude(), at.longitude());
    writeln!(
        text,
        "[reckoning]\ntime = \"{}\"\nposition = {}\nsigma_along_nm = {:.3}\nsigma_across_nm = \
         {:.3}\ntrack_deg = {:.2}\nspeed_kn = {:.2}\ntrack_sigma_deg = {:.2}\nspeed_sigma_kn = {:.2}",
        reckoned.time,
        place(reckoned.position),
        reckoned.along_nm.max(LEAST_SIGMA_NM),
        reckoned.across_nm.max(LEAST_SIGMA_NM),
        plan.track.degrees(),
        plan.speed.knots(),
        plan.track_sigma.degrees(),
        plan.speed_sigma.knots(),
    )?;
    writeln!(
        text,
        "[own]\nheight_ft = {:.2}\nheading_sigma_deg = {BIAS_DEG:.1}",
        plan.height.feet()
    )?;
    if let Some(heading) = hand.heading() {
        let shown = (heading + hand.bias_deg).rem_euclid(360.0).min(359.99);
        writeln!(text, "heading_deg = {shown:.2}\nheading_kind = \"true\"")?;
    }
    let like = if hand.lobes.is_some() { "metric" } else { "patrol" };
    writeln!(text, "[radar]\nset = \"{like}\"")?;
    landfall.map_or(Ok(()), |at| writeln!(text, "[landfall]\nposition = {}", place(at)))
}

/// What the program makes of it; `None` where it broke down.
pub(super) fn solve(chart: &Chart, sightings: &Sightings) -> Option<Fix> {
    let solving = || fix(chart, sightings, &Options::default());
    catch_unwind(AssertUnwindSafe(solving)).ok()
}
