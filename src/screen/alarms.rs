use std::collections::BTreeSet;

use super::state::State;
use super::work::Answer;
use crate::fix::Verdict;
use crate::reckon::Craft;
use crate::watch::alarm::{Alarm, Seen, alarms};

/// What was said of alarms so far, each by what it is of.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Said {
    /// Those that were raised.
    pub raised: BTreeSet<String>,
    /// Those that were acknowledged, as long as they last.
    pub acknowledged: BTreeSet<String>,
}

impl State {
    /// Everything that must not be overlooked now.
    pub(super) fn all_alarms(&self) -> Vec<Alarm> {
        // A drill is read off the picture alone.
        if self.practice.is_some() {
            return Vec::new();
        }
        let now = self.watch.own_time(self.wall);
        let reported = self.reported();
        let reported: Vec<&str> = reported.iter().map(String::as_str).collect();
        // The last answer stands until the next one comes: nothing lapses while that is worked out.
        let answer = self.answer();
        let here = self.watch.carried(answer.and_then(Answer::estimate), now);
        let here = here.filter(|_| self.watch.is_live(self.wall));
        alarms(&Seen {
            now,
            due: self.ahead(),
            reported: &reported,
            at_odds: answer.is_some_and(|answer| answer.fix.verdict == Verdict::AtOdds),
            spread: here.map(|(_, covariance)| covariance),
            began: self.watch.reckoning().map(|reckoning| reckoning.covariance),
            ground: self.ground.filter(|_| self.watch.is_live(self.wall)),
            height: self.watch.own().height,
            height_sigma: self.watch.own().height_sigma(),
            flies: self.watch.craft() == Craft::Aircraft,
        })
    }

    /// Those that are not acknowledged, the gravest first.
    pub(super) fn alarming(&self) -> Vec<Alarm> {
        let mut all = self.all_alarms();
        all.retain(|alarm| !self.alarms.acknowledged.contains(&alarm.of));
        all
    }
}
