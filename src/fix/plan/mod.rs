//! Before the run: what to measure and what it will bring, where to aim, what would deny the
//! landfall.
//!
//! Comes in: a planned track and what [`crate::paint::approach`] says of it. Goes out: a
//! [`Preparation`]. `best` foresees what the ellipse becomes once the best marks are measured, with
//! the rows and errors that a fix is made of; `aim_off` weighs whether to aim to one side; `deny`
//! lists what must not be, if the landfall is right.

mod aim_off;
mod best;
mod deny;
#[cfg(test)]
mod tests;

use jiff::Timestamp;

pub use aim_off::{AimOff, AimOffAdvice, Side, SideSeen};
pub use best::{Choice, Look, Take};
pub use deny::Denial;

use crate::chart::{Chart, Mark, MarkId, MarkKind};
use crate::paint::Conditions;
use crate::paint::approach::{Approach, Event, EventKind, Plan};
use crate::radar::Set;

/// What is worked out before a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Preparation {
    /// What to measure at a few moments of the run, in order of time.
    pub looks: Vec<Look>,
    /// Whether to aim off; none where no landfall is planned.
    pub aim_off: Option<AimOff>,
    /// What would deny the landfall, in order of time; empty where none is planned.
    pub denials: Vec<Denial>,
}

/// What was asked, and what the approach came to.
struct Asked<'a> {
    chart: &'a Chart,
    plan: &'a Plan,
    set: &'a Set,
    conditions: &'a Conditions,
    start: Timestamp,
    found: &'a Approach,
}

/// Prepares a landfall.
///
/// - `found`: what [`crate::paint::approach::approach`] says of the same plan.
pub fn prepare(
    chart: &Chart,
    plan: &Plan,
    set: &Set,
    conditions: &Conditions,
    start: Timestamp,
    found: &Approach,
) -> Preparation {
    let asked = Asked { chart, plan, set, conditions, start, found };
    Preparation {
        looks: best::looks(&asked),
        aim_off: aim_off::aim_off(&asked),
        denials: deny::denials(&asked),
    }
}

impl<'a> Asked<'a> {
    /// The run to the landfall, or to the end where none is planned, metres.
    fn end_m(&self) -> f64 {
        self.found.landfall.map_or(self.found.run.length, |landfall| landfall.run).metres()
    }

    /// Marks that all but surely paint from some time on.
    fn sure(&self) -> impl Iterator<Item = (&'a Event, &'a Mark)> + use<'a> {
        let marks = self.chart.marks();
        let events = self.found.events.iter();
        events
            .filter(|event| event.kind == EventKind::FirstPaint90)
            .filter_map(|event| marks.get(event.seen.mark).map(|mark| (event, mark)))
            .filter(|(_, mark)| mark.kind != MarkKind::Buoy)
    }

    /// The marks that a mark may be taken for.
    fn alike(&self, mark: MarkId) -> impl Iterator<Item = MarkId> + use<'a> {
        self.found.alike.iter().filter_map(move |pair| match (pair.one, pair.other) {
            (one, other) if one == mark => Some(other),
            (one, other) if other == mark => Some(one),
            _ => None,
        })
    }
}
