use std::collections::{BTreeMap, BTreeSet};

use jiff::{SignedDuration, Timestamp};

use super::state::State;
use super::work::Answer;
use crate::fix::Verdict;
use crate::reckon::Craft;
use crate::watch::Watch;
use crate::watch::alarm::{Alarm, GroundAhead, Seen, alarms, is_of_ground};
use crate::watch::along::Due;

/// What a sitting knows when it looks for what must not be overlooked.
#[derive(Debug, Clone, Copy)]
pub struct AlarmScene<'a> {
    /// The sitting.
    pub watch: &'a Watch,
    /// The last answer: it stands until the next one comes, so that nothing lapses meanwhile.
    pub answer: Option<&'a Answer>,
    /// What comes to paint on the run.
    pub due: &'a [Due],
    /// Charted ground ahead.
    pub ground: Option<GroundAhead>,
    /// The wall clock.
    pub wall: Timestamp,
}

impl AlarmScene<'_> {
    /// Everything that must not be overlooked now, the gravest first.
    pub fn alarms(&self) -> Vec<Alarm> {
        let watch = self.watch;
        let now = watch.own_time(self.wall);
        let reported = self.reported();
        let reported: Vec<&str> = reported.iter().map(String::as_str).collect();
        let here = watch.carried(self.answer.and_then(Answer::estimate), now);
        alarms(&Seen {
            now,
            due: self.due,
            reported: &reported,
            at_odds: self.answer.is_some_and(|answer| answer.fix.verdict == Verdict::AtOdds),
            spread: here.filter(|_| watch.is_live(self.wall)).map(|(_, covariance)| covariance),
            began: watch.known_within(now),
            ground: self.ground.filter(|_| watch.is_live(self.wall)),
            height: watch.own().height,
            flies: watch.craft() == Craft::Aircraft,
        })
    }

    /// Names of the marks that a contact was taken for, by the operator or by the answer.
    pub fn reported(&self) -> Vec<String> {
        let named = self.answer.into_iter().flat_map(|answer| &answer.fix.identities);
        self.watch.reported().chain(named.map(|i| i.mark.clone())).collect()
    }
}

/// Ground that has passed for so long may be raised again: figures that hop over a limit and back are no
/// news. Everything else may at once.
const PASSED: SignedDuration = SignedDuration::from_secs(60);

/// What was said of alarms so far, each by what it is of.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct AlarmsSaid {
    /// When each last stood.
    raised: BTreeMap<String, Timestamp>,
    acknowledged: BTreeSet<String>,
}

impl AlarmsSaid {
    /// Of everything that must not be overlooked now, what is new.
    pub fn raise(&mut self, all: Vec<Alarm>, wall: Timestamp) -> Vec<Alarm> {
        let known = |of: &str, raised: &BTreeMap<String, Timestamp>| raised.contains_key(of);
        let new: Vec<Alarm> =
            all.iter().filter(|alarm| !known(&alarm.of, &self.raised)).cloned().collect();
        let standing: BTreeSet<String> = all.into_iter().map(|alarm| alarm.of).collect();
        self.raised.extend(standing.iter().map(|of| (of.clone(), wall)));
        let hops = |of: &str, stood: Timestamp| {
            is_of_ground(of) && wall.duration_since(stood).abs() < PASSED
        };
        self.raised.retain(|of, stood| standing.contains(of) || hops(of, *stood));
        let raised = &self.raised;
        self.acknowledged.retain(|of| known(of, raised));
        new
    }

    /// Whether the operator has acknowledged it.
    pub fn is_acknowledged(&self, alarm: &Alarm) -> bool {
        self.acknowledged.contains(&alarm.of)
    }

    /// The operator has seen it.
    pub fn acknowledge(&mut self, alarm: &Alarm) {
        self.acknowledged.insert(alarm.of.clone());
    }
}

impl State {
    /// Everything that must not be overlooked now.
    pub(super) fn all_alarms(&self) -> Vec<Alarm> {
        // A drill is read off the picture alone.
        if self.practice.is_some() {
            return Vec::new();
        }
        self.scene().alarms()
    }

    fn scene(&self) -> AlarmScene<'_> {
        AlarmScene {
            watch: &self.watch,
            answer: self.answer(),
            due: self.ahead(),
            ground: self.ground,
            wall: self.wall,
        }
    }

    /// Names of the marks that a contact was taken for, by the operator or by the answer.
    pub(super) fn reported(&self) -> Vec<String> {
        self.scene().reported()
    }

    /// High ground acknowledged that still lies ahead: it is no longer an alarm, and must not be forgotten.
    pub(super) fn ground_acknowledged(&self) -> Option<Alarm> {
        let seen = |alarm: &Alarm| alarm.is_ground() && self.alarms.is_acknowledged(alarm);
        self.all_alarms().into_iter().find(seen)
    }

    /// Whether a line over the verdict is taken.
    pub(super) fn tells_alarm(&self) -> bool {
        !self.alarming().is_empty() || self.ground_acknowledged().is_some()
    }

    /// Those that are not acknowledged, the gravest first.
    pub(super) fn alarming(&self) -> Vec<Alarm> {
        let mut all = self.all_alarms();
        all.retain(|alarm| !self.alarms.is_acknowledged(alarm));
        all
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
    fn a_turn_neither_clears_nor_raises_the_alarm_of_a_grown_ellipse() {
        let chart = Chart::sample().unwrap();
        let text = include_str!("../../charts-sample/landfall.toml");
        let sightings = Sightings::parse(text, "landfall", Path::new("")).unwrap();
        let raised = |watch: &Watch, wall: Timestamp| -> Vec<String> {
            let scene = AlarmScene { watch, answer: None, due: &[], ground: None, wall };
            scene.alarms().into_iter().map(|alarm| alarm.of).collect()
        };
        // Begun with 4 NM, half a 95 % axis of 9.8; after an hour at 165 kn, sigma 3°, 23.3 (computed).
        let grown = vec!["ellipse past 12 NM".to_owned()];
        for (wall, stands) in [("2031-03-09T03:45:00Z", vec![]), ("2031-03-09T04:40:00Z", grown)] {
            let wall: Timestamp = wall.parse().unwrap();
            for line in ["trk 080 165", "trk 080 165 @0500"] {
                let mut watch = Watch::from_sightings(&sightings);
                assert_eq!(raised(&watch, wall), stands, "{line}");
                let entry = understood(line).unwrap();
                let what = watch.change(&entry, wall, chart.marks()).unwrap();
                watch.apply(&what).unwrap();
                assert_eq!(raised(&watch, wall), stands, "{line}");
            }
        }
    }
}
