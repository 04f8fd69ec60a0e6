//! What was asked of a planned run, for each of its reports.

use jiff::{SignedDuration, Timestamp};

use crate::chart::Chart;
use crate::paint::Conditions;
use crate::paint::approach::Plan;
use crate::radar::Set;
use crate::units::{Bearing, Clock, Relative, True};

/// What was asked of [`crate::paint::approach::approach`].
#[derive(Debug, Clone, Copy)]
pub struct Planned<'a> {
    /// The chart it was asked on.
    pub chart: &'a Chart,
    /// The track.
    pub plan: &'a Plan,
    /// With which set.
    pub set: &'a Set,
    /// In what weather.
    pub conditions: &'a Conditions,
    /// When the run starts.
    pub start: Timestamp,
}

impl Planned<'_> {
    /// How times of the run are told.
    pub(super) fn times(&self) -> Clock {
        Clock::from_first(Some(self.start))
    }
}

/// The time so many seconds after the start.
pub(super) fn clock_at(start: Timestamp, seconds: f64) -> Timestamp {
    let later = SignedDuration::from_secs(seconds.round() as i64);
    start.checked_add(later).unwrap_or(Timestamp::MAX)
}

/// The time so many seconds after the start, with its day where that is not the start's.
pub(super) fn told_at(planned: &Planned<'_>, seconds: f64) -> String {
    planned.times().tell(clock_at(planned.start, seconds))
}

/// Off the bow, heading along the track.
pub(super) fn relative(planned: &Planned<'_>, bearing: Bearing<True>) -> Bearing<Relative> {
    bearing.to_relative(planned.plan.track)
}
