//! Which part of a large chart is at hand, and which is being taken in.
//!
//! A large chart is opened about where the craft may be. When that comes near the edge of what was taken in, or
//! leaps beyond it, another part is opened by a worker, and takes the place of the first. What it does not
//! cover is not worked out meanwhile: a fix waits for it. What the chart panel is moved to, far from the
//! craft, is a sheet of its own, which changes nothing else.

use std::sync::Arc;

use jiff::Timestamp;

use super::chart_panel::Port;
use super::state::{Command, State};
use super::work::Answer;
use crate::chart::{Chart, Folders, GeoBox};
use crate::paint::ExpectedMark;
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};
use crate::watch::alarm::GroundAhead;
use crate::watch::area::{Cover, cover, may_try_again, places_of};

/// A sheet reaches so much beyond what the panel shows, in nautical miles.
const BESIDE_NM: f64 = 200.0;

/// What another part of the chart is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Where the craft may be.
    Own,
    /// What the chart panel shows.
    View,
}

/// How it stands with taking in a part.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
enum Taking {
    /// None is wanted.
    #[default]
    Idle,
    /// It was asked for.
    Asked(GeoBox),
    /// It could not be taken in.
    Failed(Timestamp),
}

impl Taking {
    fn may_ask(self, wall: Timestamp) -> bool {
        match self {
            Self::Idle => true,
            Self::Asked(_) => false,
            Self::Failed(at) => may_try_again(at, wall),
        }
    }
}

/// The parts of the chart in use.
#[derive(Debug, Default)]
pub struct Parts {
    /// What other parts are opened from; none where there is nothing to open.
    pub folders: Option<Folders>,
    own: Taking,
    view: Taking,
    /// What the panel shows where it was moved beyond the chart in use.
    sheet: Option<Arc<Chart>>,
    /// A fix waits for a part of the chart.
    owed: bool,
    /// The chart in use lacks some of what is asked about.
    lacking: bool,
    /// How far the taking in has come.
    progress: String,
    /// Why the last part could not be taken in.
    why_not: String,
}

impl Parts {
    /// A fix waits for a part of the chart.
    pub fn owes_a_fix(&self) -> bool {
        self.owed
    }

    /// Why that part cannot be taken in.
    pub fn why_not(&self) -> Option<&str> {
        matches!(self.own, Taking::Failed(_)).then_some(self.why_not.as_str())
    }

    /// What is said in the panel, quietly, while a part is being taken in.
    pub fn said(&self) -> Option<String> {
        let asked = [self.own, self.view].iter().any(|taking| matches!(taking, Taking::Asked(_)));
        let failed = [self.own, self.view].iter().any(|taking| matches!(taking, Taking::Failed(_)));
        match (asked, self.progress.as_str()) {
            (true, "") => Some("taking in more of the coast".to_owned()),
            (true, progress) => Some(format!("taking in the coast: {progress}")),
            (false, _) if failed => Some(format!("coast not taken in: {}", self.why_not)),
            (false, _) => None,
        }
    }

    /// How far it has come.
    pub fn tell(&mut self, progress: String) {
        self.progress = progress;
    }
}

/// Whether a chart has the coast of all that a port shows.
fn shows(chart: &Chart, port: &Port) -> bool {
    chart.coast().taken_in().is_none_or(|area| area.holds(&port.area()))
}

impl State {
    /// The chart that the panel draws.
    pub(super) fn drawn_chart(&self, port: &Port) -> &Arc<Chart> {
        let sheet = self.parts.sheet.as_ref().filter(|sheet| shows(sheet, port));
        sheet.filter(|_| !shows(&self.chart, port)).unwrap_or(&self.chart)
    }

    /// Whether the coast of all that the panel shows is at hand.
    pub(super) fn is_coast_at_hand(&self, port: &Port) -> bool {
        shows(self.drawn_chart(port), port)
    }

    /// Whether the chart in use covers where the sightings may have been made; if not, the fix waits.
    pub(super) fn covers(&mut self, sightings: &crate::contact::Sightings) -> bool {
        let covers = cover(&self.chart, &places_of(sightings, &[])).is_enough();
        self.parts.owed = !covers;
        covers
    }

    /// Whether the chart in use lacks some of what is asked about, so that nothing is worked out by it.
    pub(super) fn is_lacking(&self) -> bool {
        self.parts.lacking
    }

    /// Asks for another part of the chart, where one is wanted and none was asked for.
    pub(super) fn take_in(&mut self) -> Vec<Command> {
        let own = self.take_in_own();
        own.into_iter().chain(self.take_in_view()).collect()
    }

    fn take_in_own(&mut self) -> Option<Command> {
        // An exercise stays where it is.
        if self.practice.is_some() || self.chart.opened_about().is_none() {
            self.parts.lacking = false;
            return None;
        }
        let cover = self.cover_by(&self.chart);
        let was_lacking = std::mem::replace(&mut self.parts.lacking, !cover.is_enough());
        if self.parts.lacking {
            // Nothing is looked for by now, and what was found lay ahead of an earlier place.
            self.ground = Some(GroundAhead::NOT_AT_HAND);
            if !was_lacking {
                // Where the panel was moved to by hand is not where the craft is said to be now.
                self.focus.by_hand = false;
            }
        } else if was_lacking {
            self.look_for_ground_anew();
        }
        let area = cover.wanted();
        if area.is_none() && matches!(self.parts.own, Taking::Failed(_)) {
            self.parts.own = Taking::Idle;
        }
        self.parts.folders.as_ref()?;
        let area = area.filter(|_| self.parts.own.may_ask(self.wall))?;
        self.parts.own = Taking::Asked(area);
        self.parts.progress = String::new();
        Some(Command::TakeIn(Part::Own, area))
    }

    /// The coast is at hand again: until ground has been looked for it is still not known, and is asked for
    /// only where there is a run to look along.
    fn look_for_ground_anew(&mut self) {
        let going = self.watch.reckoning().is_some_and(|r| r.track.is_some() && r.speed.is_some());
        self.ground = going.then_some(GroundAhead::NOT_AT_HAND);
        self.outlook = None;
    }

    fn cover_by(&self, chart: &Chart) -> Cover {
        let now = self.watch.own_time(self.wall);
        cover(chart, &self.watch.asks_about(self.here(now), now))
    }

    fn take_in_view(&mut self) -> Option<Command> {
        let (port, _) = self.shore.as_ref()?;
        if shows(&self.chart, port) {
            self.parts.sheet = None;
            if matches!(self.parts.view, Taking::Failed(_)) {
                self.parts.view = Taking::Idle;
            }
            return None;
        }
        let comes = |taking| matches!(taking, Taking::Asked(area) if area.holds(&port.area()));
        let at_hand = self.parts.sheet.as_ref().is_some_and(|sheet| shows(sheet, port));
        if at_hand || comes(self.parts.own) || !self.parts.view.may_ask(self.wall) {
            return None;
        }
        self.parts.folders.as_ref()?;
        let reach = port.reach().metres() + BESIDE_NM * METRES_PER_NAUTICAL_MILE;
        let area = GeoBox::around(port.centre(), GroundRange::clamped_metres(reach));
        self.parts.view = Taking::Asked(area);
        self.parts.progress = String::new();
        Some(Command::TakeIn(Part::View, area))
    }

    /// A part of the chart is at hand.
    pub(super) fn on_taken_in(&mut self, part: Part, chart: Arc<Chart>) -> Vec<Command> {
        self.shore = None;
        match part {
            Part::View => {
                self.parts.view = Taking::Idle;
                self.parts.sheet = Some(chart);
                Vec::new()
            }
            Part::Own => {
                self.parts.own = Taking::Idle;
                // Where we are may have changed back meanwhile.
                let worse =
                    !self.cover_by(&chart).is_enough() && self.cover_by(&self.chart).is_enough();
                if worse { Vec::new() } else { self.swap(chart).into_iter().collect() }
            }
        }
    }

    /// A part of the chart could not be taken in.
    pub(super) fn on_not_taken_in(&mut self, part: Part, why: String) {
        let taking = match part {
            Part::Own => &mut self.parts.own,
            Part::View => &mut self.parts.view,
        };
        *taking = Taking::Failed(self.wall);
        self.parts.why_not = why;
    }

    /// Puts another part of the chart in the place of the one in use. What was worked out on a part that
    /// covered it stands, and is the same on this one, unless how far coast and heights agree was measured
    /// elsewhere and came out otherwise.
    fn swap(&mut self, chart: Arc<Chart>) -> Option<Command> {
        let before = std::mem::replace(&mut self.chart, chart);
        let is_same_accuracy = before.accuracy() == self.chart.accuracy();
        let (was_lacking, current) = (self.parts.lacking, self.is_current() && is_same_accuracy);
        // What is still being worked out on the part before comes too late.
        self.asked += 1;
        let (number, marks) = (self.asked, self.chart.marks());
        let same = |expected: &mut Vec<ExpectedMark>| {
            expected.retain_mut(|expected| {
                let mark = before.marks().get(expected.mark);
                let here = mark.and_then(|mark| marks.same_as(mark));
                here.map(|here| expected.mark = here).is_some()
            });
        };
        if let Some((asked, answer)) = &mut self.answer {
            let mut moved: Answer = answer.as_ref().clone();
            same(&mut moved.expected.marks);
            same(&mut moved.expected.second_time);
            *answer = Arc::new(moved);
            if current {
                *asked = number;
            }
        }
        if let Some((from, shows)) = &mut self.shows {
            let mut moved = shows.as_ref().clone();
            same(&mut moved.marks);
            same(&mut moved.second_time);
            *shows = Arc::new(moved);
            if current {
                from.asked = number;
            }
        }
        self.outlook = None;
        if was_lacking {
            self.look_for_ground_anew();
            self.run = None;
            self.scope.asked = None;
        }
        if current { None } else { self.question() }
    }
}

#[cfg(test)]
mod tests;
