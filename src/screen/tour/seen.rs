use super::{Course, Lead, Reading, play};
use crate::contact::BearingKind;
use crate::fix::{Fix, Verdict};
use crate::screen::layout::Layout;
use crate::screen::state::{Echo, Panel, State};
use crate::watch::Held;
use crate::watch::entry::{Entry, Measured, understood};

/// The most lines of verdict, alarm and place by now, and of the tour itself.
const MOST_LINES: (u16, u16) = (5, 2);

/// What the tour goes by: the display as it stands.
#[derive(Clone, Copy)]
pub(super) struct Seen<'a> {
    pub state: &'a State,
    pub lead: &'a Lead,
    pub course: Course,
}

/// What stands in the entry line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Line {
    /// Nothing.
    Empty,
    /// Something half typed, or no contact: the display says what it makes of it.
    Typing,
    /// A contact with range and bearing: one of the echoes, or one that the tour cannot tell.
    Good,
    /// A contact with range and bearing that the radar does not show.
    Other,
    /// It was refused.
    Refused,
}

impl<'a> Seen<'a> {
    /// Contacts that are echoes of the radar.
    pub(super) fn true_ones(&self) -> usize {
        self.contacts().filter(|held| self.lead.of(held).is_some()).count()
    }

    /// The first contact that is none.
    pub(super) fn stray(&self) -> Option<&'a Held> {
        self.contacts().find(|held| self.lead.of(held).is_none())
    }

    fn contacts(&self) -> impl Iterator<Item = &'a Held> {
        self.state.watch.contacts().iter()
    }

    /// Echoes that no contact was taken of.
    pub(super) fn untaken(&self) -> impl Iterator<Item = &'a Reading> {
        let taken: Vec<&Reading> = self.contacts().filter_map(|held| self.lead.of(held)).collect();
        self.lead.readings.iter().filter(move |reading| !taken.contains(reading))
    }

    /// The answer to the contacts as they stand.
    pub(super) fn fix(&self) -> Option<&'a Fix> {
        let stands = self.state.is_current() && self.state.watch.has_measured();
        self.state.answer().filter(|_| stands).map(|answer| &answer.fix)
    }

    /// What it comes to.
    pub(super) fn verdict(&self) -> Option<Verdict> {
        self.fix().map(|fix| fix.verdict)
    }

    /// A fix stands, of nothing but echoes of the radar.
    pub(super) fn is_fixed(&self) -> bool {
        self.verdict() == Some(Verdict::Fixed) && self.stray().is_none()
    }

    /// Something was taken back that can be put back.
    pub(super) fn has_taken_back(&self) -> bool {
        self.state.watch.next_redo().is_some()
    }

    /// The echo to take next: the first that is asked for, and whether it is; else the next one.
    pub(super) fn wanted(&self) -> Option<(&'a Reading, bool)> {
        // One echo alone has too much asked for: the second is told in its turn.
        let asks = self.true_ones() > 1;
        let next = self.fix().filter(|_| asks).map_or(&[][..], |fix| &fix.next);
        let asked = next.iter().find_map(|next| self.untaken().find(|it| it.mark == next.mark));
        asked.map(|reading| (reading, true)).or_else(|| Some((self.untaken().next()?, false)))
    }

    /// What stands in the entry line.
    pub(super) fn line(&self) -> Line {
        let line = self.state.line.value().trim();
        if line.is_empty() || play::is_word(line) {
            return Line::Empty;
        }
        match (&self.state.echo, understood(line)) {
            (Echo::Refused(_), _) => Line::Refused,
            (Echo::Understood(_), Ok(Entry::Measured(measured))) => self.measured(&measured),
            _ => Line::Typing,
        }
    }

    fn measured(&self, measured: &Measured) -> Line {
        match (measured.range_nm, measured.bearing) {
            (Some(range), Some((degrees, None | Some(BearingKind::True)))) => {
                let told = self.lead.find(range, degrees).is_some();
                if told { Line::Good } else { Line::Other }
            }
            (Some(_), Some(_)) => Line::Good,
            _ => Line::Typing,
        }
    }

    /// A line entered in this step corrected a contact.
    pub(super) fn has_corrected(&self) -> bool {
        let entered = self.state.history.get(self.course.lines..).unwrap_or_default();
        let label = entered.last().and_then(|line| match understood(line) {
            Ok(Entry::Measured(measured)) => measured.label,
            _ => None,
        });
        label.is_some_and(|label| self.state.watch.find(&label).is_some())
    }

    /// Whether each panel has a place of its own beside the chart.
    pub(super) fn shows_all_panels(&self) -> bool {
        let state = self.state;
        // With the most lines over and under it: how many the tour has hangs on what it says.
        let layout = Layout::new(state.size, state.panel, false, MOST_LINES);
        layout.is_some_and(|layout| layout.panels.len() > 2)
    }

    /// Whether the panel that tells what to measure next was brought up in this step.
    pub(super) fn looks_at_advice(&self) -> bool {
        let up = self.state.panel == Panel::Advice && self.course.panel != Panel::Advice;
        up && !self.shows_all_panels()
    }

    /// An entry is on its way to the disk, or a fix is being worked out: nothing is said of what follows.
    pub(super) fn waits(&self) -> bool {
        self.state.keeping_now.is_some()
            || !self.state.waiting.is_empty()
            || (!self.state.is_current() && !self.state.has_failed())
    }
}
