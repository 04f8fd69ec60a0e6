//! A time entered that is not come yet: a slip of the hour, or a turn typed ahead.

use jiff::{SignedDuration, Timestamp};

use super::Watch;
use super::log::What;
use super::words::minutes;

/// What is for no later than this is for now: a time is typed to the minute.
pub(super) const FOR_NOW: SignedDuration = SignedDuration::from_secs(60);

/// So far ahead a watch runs with the clock; what is farther off is a landfall worked by another clock.
const MOST_AHEAD: SignedDuration = SignedDuration::from_hours(12);

impl Watch {
    /// `50 min ahead of the clock`, of a change for a time that is not come; none on a watch that does not
    /// run with the clock.
    pub(super) fn ahead_of_clock(&self, what: &What, wall: Timestamp) -> Option<String> {
        let time = match what {
            What::Contact(entry) => entry.time,
            What::Reckoning { time, .. } => Some(*time),
            What::Track { time, .. } => *time,
            _ => None,
        };
        let ahead = |time: &Timestamp| {
            let ahead = time.duration_since(wall);
            ahead > FOR_NOW && ahead <= MOST_AHEAD
        };
        let time = time.filter(ahead).filter(|_| self.is_live(wall))?;
        Some(format!("{} ahead of the clock", minutes(wall, time)))
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::chart::Chart;
    use crate::contact::Sightings;
    use crate::watch::entry::understood;

    #[test]
    fn what_is_entered_for_a_time_to_come_is_cautioned() {
        let chart = Chart::sample().unwrap();
        let text = include_str!("../../charts-sample/landfall.toml");
        let sightings = Sightings::parse(text, "landfall", Path::new("")).unwrap();
        let watch = Watch::from_sightings(&sightings);
        let said = |line: &str, wall: &str| {
            let wall: Timestamp = wall.parse().unwrap();
            let what = watch.change(&understood(line).unwrap(), wall, chart.marks()).unwrap();
            watch.say_on(&what, &chart, wall)
        };
        let wall = "2031-03-09T03:54:00Z";
        for line in ["trk 080 165 @0444", "13.8 062 @0444", "dr 38 12.9 S, 21 30.5 W sigma 4 @0444"]
        {
            let said = said(line, wall);
            assert!(said.contains("; CAUTION: 50 min ahead of the clock"), "{said}");
        }
        for line in ["trk 080 165 @0354", "13.8 062 @0355", "trk 080 165", "h 1000"] {
            let said = said(line, wall);
            assert!(!said.contains("CAUTION"), "{said}");
        }
        // By another clock than the wall's nothing is ahead of it.
        let said = said("trk 080 165 @0444", "2026-06-01T12:00:00Z");
        assert!(!said.contains("CAUTION"), "{said}");
    }
}
