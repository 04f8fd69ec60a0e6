use std::collections::BTreeSet;

use jiff::Timestamp;

use super::state::State;
use super::work::Answer;
use crate::fix::Verdict;
use crate::reckon::Craft;
use crate::watch::Watch;
use crate::watch::alarm::{Alarm, GroundAhead, Seen, alarms};
use crate::watch::along::Due;

/// What a sitting knows when it looks for what must not be overlooked.
#[derive(Debug, Clone, Copy)]
pub struct Scene<'a> {
    /// The sitting.
    pub watch: &'a Watch,
    /// The last answer: it stands until the next one comes, so that nothing lapses meanwhile.
    pub answer: Option<&'a Answer>,
    /// What comes to paint on the run.
    pub due: &'a [Due],
    /// The highest charted ground ahead.
    pub ground: Option<GroundAhead>,
    /// The wall clock.
    pub wall: Timestamp,
}

impl Scene<'_> {
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
            began: watch.reckoning().map(|reckoning| reckoning.covariance),
            ground: self.ground.filter(|_| watch.is_live(self.wall)),
            height: watch.own().height,
            height_sigma: watch.own().height_sigma(),
            flies: watch.craft() == Craft::Aircraft,
        })
    }

    /// Names of the marks that a contact was taken for, by the operator or by the answer.
    pub fn reported(&self) -> Vec<String> {
        let named = self.answer.into_iter().flat_map(|answer| &answer.fix.identities);
        self.watch.reported().chain(named.map(|i| i.mark.clone())).collect()
    }
}

/// What was said of alarms so far, each by what it is of.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Said {
    raised: BTreeSet<String>,
    acknowledged: BTreeSet<String>,
}

impl Said {
    /// Of everything that must not be overlooked now, what is new. What has passed may be raised again.
    pub fn raise(&mut self, all: Vec<Alarm>) -> Vec<Alarm> {
        let lasts = |of: &String| all.iter().any(|alarm| alarm.of == *of);
        self.raised.retain(lasts);
        self.acknowledged.retain(lasts);
        all.into_iter().filter(|alarm| self.raised.insert(alarm.of.clone())).collect()
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

    fn scene(&self) -> Scene<'_> {
        Scene {
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

    /// Those that are not acknowledged, the gravest first.
    pub(super) fn alarming(&self) -> Vec<Alarm> {
        let mut all = self.all_alarms();
        all.retain(|alarm| !self.alarms.is_acknowledged(alarm));
        all
    }
}
