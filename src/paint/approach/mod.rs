//! How a coast appears along a planned track: what first paints, when, and how sure that is.
//!
//! Comes in: a chart, a [`Plan`], a set, the weather. Goes out: [`approach`], each mark with the run at
//! which it first shows and the span of times that the reckoning's error allows, each stretch of
//! shore likewise, and what will mislead. Times are seconds from the start of the run: the clock is
//! the caller's.
//!
//! A mark shows where [`crate::paint::expect`] would say so: the same rays, ground and budget, looked
//! at in one direction at a time. The track is tried in steps of a mile, the first place is then
//! found by halving, to two seconds of the run. On the tracks that the reckoning's error displaces it is found to
//! ten seconds: from each mile near to where a thing first shows on the planned track, from each third mile elsewhere.

mod corridor;
mod displaced;
mod facing;
mod glance;
mod landward;
mod look;
mod marks;
mod passage;
mod plan;
mod shores;
mod spread;
mod traps;

use super::cautions::cautions;
use super::vantage::Conditions;
use crate::chart::Chart;
use crate::geodesy::Position;
use crate::radar::Set;
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

pub use corridor::{Corridor, Gap, HELD, HighGround, SIGMAS, corridor, highest_mark};
pub use glance::LandEcho;
pub use landward::{Inland, Landward};
pub use look::Look;
pub use marks::{Event, EventKind, Never};
pub use plan::{LandfallPlan, MOST_RUN_NM, Plan, PlanError, Run, RunEnd};
pub use shores::{LandShows, Stretch};
pub use spread::Spread;
pub use traps::{Alike, Trap};

use glance::Glance;

/// How a coast appears along a planned track.
#[derive(Debug, Clone, PartialEq)]
pub struct Approach {
    /// How far the run goes, and why so far.
    pub run: Run,
    /// How far the sea itself is in sight.
    pub horizon: GroundRange,
    /// Marks that begin to show, in order of time.
    pub events: Vec<Event>,
    /// Marks within the set's reach that do not show on the run, nearest first.
    pub never: Vec<Never>,
    /// The shore that faces the run, in the order in which land first shows.
    pub coast: Vec<Stretch>,
    /// What will mislead, in order of time.
    pub traps: Vec<Trap>,
    /// Pairs of marks of which one may be taken for the other.
    pub alike: Vec<Alike>,
    /// The planned landfall, where there is one.
    pub landfall: Option<LandfallPlan>,
    /// The strip of the last miles in which the track made good lies, and its highest ground.
    pub corridor: Corridor,
    /// What an operator must know of these figures.
    pub cautions: Vec<String>,
}

/// How a coast appears along a planned track.
///
/// - `asked`: the length of the run; where not given, see [`Plan::run`].
/// - `landfall`: where it is planned to make the coast.
///
/// # Errors
/// A landfall that does not lie ahead.
pub fn approach(
    chart: &Chart,
    plan: &Plan,
    set: &Set,
    conditions: &Conditions,
    asked: Option<GroundRange>,
    landfall: Option<Position>,
) -> Result<Approach, PlanError> {
    let landfall = landfall.map(|place| plan.landfall(place)).transpose()?;
    let run = plan.run(chart, set, asked, landfall.as_ref());
    let glance = Glance::new(chart, plan, set, conditions);
    // Either passes along the track place by place, and waits for the place before.
    let ((events, never), (coast, left_out)) = rayon::join(
        || marks::marks(&glance, plan, run.length.metres()),
        || shores::shores(&glance, plan, run.length.metres()),
    );
    let reach = GroundRange::clamped_metres(set.greatest_scale().metres());
    let traps = traps::traps(&glance, &coast);
    let corridor = corridor(chart, plan, landfall.map_or(run.length, |it| it.run).metres());
    // Last: heights that cannot be read are known only when they have been asked for.
    let mut cautions = cautions(chart, &glance.vantage(plan.from), set, conditions, reach);
    cautions.extend(of_landfall(landfall.as_ref(), plan));
    cautions.extend(of_shore(left_out));
    Ok(Approach {
        run,
        horizon: conditions.earth.horizon_of(plan.height),
        traps,
        alike: traps::alike(&glance, plan, &events),
        events,
        never,
        coast,
        corridor,
        landfall,
        cautions,
    })
}

/// When marks first show on a run that do not show where it starts, in order of time: a part of
/// [`approach`], and far quicker.
pub fn first_paints(
    chart: &Chart,
    plan: &Plan,
    set: &Set,
    conditions: &Conditions,
    length: GroundRange,
) -> Vec<Event> {
    marks::coming(&Glance::new(chart, plan, set, conditions), plan, length.metres())
}

/// What an operator must know of shore that is not followed.
fn of_shore(left_out: usize) -> Option<String> {
    let more = match left_out {
        0 => return None,
        1 => "1 more place".to_owned(),
        _ => format!("{left_out} more places"),
    };
    Some(format!(
        "{more} of the shore within reach of the run, beside the {} that are followed, may face it: when \
         land shows there, and what misleads there, is not told. Ask for a shorter run",
        facing::MOST_PLACES
    ))
}

fn of_landfall(landfall: Option<&LandfallPlan>, plan: &Plan) -> Option<String> {
    let landfall = landfall?;
    let off_nm = landfall.cross_track_m / METRES_PER_NAUTICAL_MILE;
    let sigma_nm = plan.sigma_across_m(landfall.run.metres()) / METRES_PER_NAUTICAL_MILE;
    (off_nm.abs() > 0.1).then(|| {
        let side = if off_nm > 0.0 { "right" } else { "left" };
        format!(
            "the planned landfall lies {:.1} NM {side} of the track, whose own error there is \
             {sigma_nm:.1} NM (one standard deviation)",
            off_nm.abs()
        )
    })
}
