use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;

use jiff::{SignedDuration, Timestamp};
use ratatui::crossterm::event::{KeyEvent, MouseEvent};
use ratatui::layout::Size;
use tui_input::Input;

use super::alarms::AlarmsSaid;
use super::chart_panel::{Port, Raster};
use super::cursor::Cursor;
use super::drill::Practice;
use super::focus::Focus;
use super::layout::Layout;
use super::palette::Palette;
use super::parts::{Part, Parts};
use super::scope::{Ask, Drawn, Scope};
use super::theme::Theme;
use super::tour::{Told, Tour};
use super::work::{Answer, Carried, Outlook};
use crate::chart::{Chart, GeoBox};
use crate::contact::Sightings;
use crate::drill::{self, Score};
use crate::geodesy::{Covariance, Position, distance};
use crate::paint::Expectation;
use crate::watch::alarm::{GroundAhead, NEW_LOOK, NEW_LOOK_NM};
use crate::watch::along::{Coming, Due, Run};
use crate::watch::log::{SaidEntry, What};
use crate::watch::{Tally, Watch};

/// A place this long ago is another than the one by now.
const OLD: SignedDuration = SignedDuration::from_secs(60);

/// Everything the display knows.
pub struct State {
    /// The chart in use.
    pub chart: Arc<Chart>,
    /// Which other parts of a large chart are at hand or being taken in.
    pub parts: Parts,
    /// The sitting: only what is kept is in it.
    pub watch: Watch,
    /// The screen.
    pub size: Size,
    /// The wall clock, as the last message told it.
    pub wall: Timestamp,
    /// The entry line.
    pub line: Input,
    /// The line that stands was refused: the next character typed begins a new one.
    pub refused: bool,
    /// What the line under the entry line says.
    pub echo: Echo,
    /// Lines entered, oldest first, and the one shown while going through them.
    pub history: Vec<String>,
    /// Place in `history` while going through it.
    pub recalled: Option<usize>,
    /// The change that the keeper is writing.
    pub keeping_now: Option<Unkept>,
    /// Lines entered that wait for it.
    pub waiting: VecDeque<String>,
    /// Where entries are kept.
    pub keeping: Keeping,
    /// How many questions have been asked of the worker.
    pub asked: u64,
    /// Its latest answer, and the number of the question.
    pub answer: Option<(u64, Arc<Answer>)>,
    /// The question that it failed on last.
    pub failed: Option<u64>,
    /// From where it was asked last what should show by now.
    pub outlook: Option<Outlook>,
    /// What should show from a place carried on.
    pub shows: Option<(Outlook, Arc<Expectation>)>,
    /// Charted ground ahead of there.
    pub ground: Option<GroundAhead>,
    /// Alarms that were said, and of those the ones acknowledged, by what they are of.
    pub alarms: AlarmsSaid,
    /// What part of the world the chart panel shows.
    pub focus: Focus,
    /// Shore and land at that place and scale.
    pub shore: Option<(Port, Arc<Raster>)>,
    /// The picture panel.
    pub scope: Scope,
    /// The cursor on the chart.
    pub cursor: Cursor,
    /// The list of all that can be done, where it is open.
    pub palette: Option<Palette>,
    /// Label of the selected contact.
    pub selected: Option<String>,
    /// The panel shown where there is room for one.
    pub panel: Panel,
    /// The exercise, where this is a drill: what is shown then is none of the sea outside.
    pub practice: Option<Practice>,
    /// The tour, where it is offered or under way.
    pub tour: Tour,
    /// The help page is open, scrolled by so many lines.
    pub help: Option<u16>,
    /// What must be known of the log or the chart, said once at the start.
    pub notices: Vec<String>,
    /// The run that was asked about last, and what should come to paint on it once that is known.
    pub run: Option<Run>,
    /// The run of which was asked what comes to paint on it, by a coast that is at hand.
    run_asked: Option<Run>,
    /// What should come to paint on that run, in order of time.
    pub due: Option<Coming>,
    /// What the program said last, as it is in the log.
    pub said: Option<SaidEntry>,
    /// The look.
    pub theme: Theme,
    /// The operator asked to leave; it is done once nothing is unkept.
    pub leaving: bool,
    /// Leave now.
    pub quit: bool,
}

/// A change on its way to the disk.
#[derive(Debug, Clone, PartialEq)]
pub struct Unkept {
    /// What will change.
    pub what: What,
    /// The line as typed.
    pub typed: String,
    /// It in plain words.
    pub said: String,
}

/// The line under the entry line.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Echo {
    /// What can be typed.
    #[default]
    Hint,
    /// How the line, as it stands, is understood.
    Understood(String),
    /// Why the line is no entry yet: it may be half typed.
    Unfinished(String),
    /// Why a line was refused.
    Refused(String),
    /// A change is being written.
    Writing(String),
    /// A change is on the disk.
    Kept(String),
    /// A change of a drill counts; it is kept nowhere.
    Taken(String),
    /// A change could not be written: it counts, and is in memory only.
    NotKept(String),
}

/// Where entries are kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Keeping {
    /// Nowhere: a drill has no log.
    Nowhere,
    /// Nothing has been entered yet; they will be kept in this file.
    Ready(PathBuf),
    /// In this file, which holds so many entries.
    In(PathBuf, u64),
    /// The last write failed: so many entries are in memory only.
    Failed(PathBuf, u64),
}

impl From<Tally> for Keeping {
    fn from(tally: Tally) -> Self {
        match tally {
            Tally { path, unkept, .. } if unkept > 0 => Self::Failed(path, unkept),
            Tally { path, begun: false, .. } => Self::Ready(path),
            Tally { path, kept, .. } => Self::In(path, kept),
        }
    }
}

/// What the side shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Panel {
    /// What is each echo?
    #[default]
    Contacts,
    /// What should show?
    Expected,
    /// What next?
    Advice,
    /// What comes on the run?
    Along,
}

impl Panel {
    /// The next one round.
    #[must_use]
    pub fn next(self) -> Self {
        match self {
            Self::Contacts => Self::Expected,
            Self::Expected => Self::Advice,
            Self::Advice => Self::Along,
            Self::Along => Self::Contacts,
        }
    }
}

/// What can happen to the display.
#[derive(Debug)]
pub enum Message {
    /// The wall clock.
    Time(Timestamp),
    /// A key.
    Key(KeyEvent),
    /// The mouse.
    Mouse(MouseEvent),
    /// Text pasted.
    Pasted(String),
    /// The screen has a new size.
    Resized(Size),
    /// The keeper has the change on the disk, and those that waited in memory before it.
    Kept(Tally),
    /// The keeper could not write the change, and why: it tries again with the next.
    NotKept(Tally, String),
    /// Entries that waited in memory have reached the disk with a record of the program's own.
    Counted(Tally),
    /// The worker's answer to a question.
    Answered {
        /// The question's number.
        asked: u64,
        /// The answer.
        answer: Box<Answer>,
    },
    /// What should show from a place carried on, where that did not fail, and the ground ahead.
    Shows(Box<Outlook>, Option<Box<Expectation>>, Option<GroundAhead>),
    /// The worker has drawn a picture.
    Drawn(Box<Ask>, Drawn),
    /// What should come to paint on a run.
    Ahead(Box<Run>, Coming),
    /// How far the taking in of a part of the chart has come.
    Taking(String),
    /// A part of the chart is at hand.
    TakenIn(Part, Arc<Chart>),
    /// Why it cannot be taken in.
    NotTakenIn(Part, String),
    /// The shell wants its terminal back; the display sees to it, between two frames.
    Stop,
    /// The terminal is ours again; likewise.
    GoneOn,
    /// The worker failed on a question.
    Failed {
        /// The question's number.
        asked: u64,
    },
    /// What was declared in a drill is worth this.
    Scored(Box<Score>),
    /// The worker failed on it.
    NotScored,
    /// The score is on the disk, or why it is not.
    ScoreKept(Result<(), String>),
    /// A signal to end, or the terminal is gone.
    Quit,
}

/// What the display wants done.
#[derive(Debug)]
pub enum Command {
    /// Write a change to the log and say when it is on the disk.
    Keep {
        /// The watch's own time.
        time: Timestamp,
        /// The change.
        what: Box<What>,
        /// The line as typed.
        typed: String,
    },
    /// Write what the program itself has to say to the log, where one is begun.
    Record {
        /// The watch's own time.
        time: Timestamp,
        /// What it says.
        what: Box<What>,
    },
    /// Begin another sitting in the log, or in place of what it was to begin with.
    Begin {
        /// The watch's own time.
        time: Timestamp,
        /// The record that the sitting starts with.
        what: Box<What>,
    },
    /// Note what came of the tour; nothing depends on it.
    Remember {
        /// The file.
        path: PathBuf,
        /// What came of it.
        told: Told,
    },
    /// Work out fix and expected returns.
    Solve {
        /// The question's number.
        asked: u64,
        /// The sightings as they stand.
        sightings: Box<Sightings>,
    },
    /// Work out what should show from a place carried on.
    Expect(Box<Outlook>),
    /// Draw what the screen of the radar shows.
    Draw(Box<Ask>),
    /// Score what was declared in a drill.
    Score(Box<drill::Answer>),
    /// Keep a score with those of before, and say whether it is on the disk.
    KeepScore(Box<drill::Entry>),
    /// Work out what should come to paint on a run.
    Look(Box<Run>),
    /// Take in the part of a large chart about this area.
    TakeIn(Part, GeoBox),
}

impl State {
    /// A display on a chart and a sitting. Nothing is asked yet: see [`State::first_question`].
    pub fn new(chart: Arc<Chart>, watch: Watch, keeping: Keeping, theme: Theme) -> Self {
        let focus = Focus::of_chart(&chart);
        Self {
            chart,
            parts: Parts::default(),
            watch,
            size: Size::new(80, 24),
            wall: Timestamp::UNIX_EPOCH,
            line: Input::default(),
            refused: false,
            echo: Echo::Hint,
            history: Vec::new(),
            recalled: None,
            keeping_now: None,
            waiting: VecDeque::new(),
            keeping,
            asked: 0,
            answer: None,
            failed: None,
            outlook: None,
            shows: None,
            ground: None,
            alarms: AlarmsSaid::default(),
            focus,
            shore: None,
            scope: Scope::default(),
            cursor: Cursor::default(),
            palette: None,
            selected: None,
            panel: Panel::Contacts,
            practice: None,
            tour: Tour::default(),
            help: None,
            notices: Vec::new(),
            run: None,
            run_asked: None,
            due: None,
            said: None,
            theme,
            leaving: false,
            quit: false,
        }
    }

    /// Where everything stands on a screen of this size; `None` where it is too small.
    pub(super) fn layout(&self, size: Size) -> Option<Layout> {
        let told = 2
            + u16::from(self.watch.landfall().is_some())
            + u16::from(self.tells_carried())
            + u16::from(self.tells_alarm());
        let tour = self.tour_height(size.width);
        Layout::new(size, self.panel, self.scope.open, (told, tour))
    }

    /// The question the display opens with.
    pub fn first_question(&mut self) -> Option<Command> {
        self.question()
    }

    /// The run, where it is another than was asked about last. A drill looks nothing up.
    pub(super) fn look(&mut self) -> Option<Command> {
        if self.practice.is_some() {
            return None;
        }
        let run = self.watch.run(self.watch.own_time(self.wall));
        if run != self.run {
            if Run::is_another(run.as_ref(), self.run.as_ref()) {
                self.due = None;
            }
            self.run.clone_from(&run);
        }
        // What was due stays so meanwhile: an alarm does not go silent because coast is wanting.
        if self.is_lacking() {
            self.run_asked = None;
            return None;
        }
        if run == self.run_asked {
            return None;
        }
        self.run_asked.clone_from(&run);
        run.map(|run| Command::Look(Box::new(run)))
    }

    /// The sightings as they stand, as a numbered question; none in a drill, which works nothing out, and
    /// none while the part of a large chart about them is not at hand.
    pub(super) fn question(&mut self) -> Option<Command> {
        self.asked += 1;
        let sightings = self.watch.sightings().filter(|_| self.practice.is_none());
        let Some(sightings) = sightings else {
            self.answer = None;
            return None;
        };
        if !self.covers(&sightings) {
            // What lay ahead of an earlier place is no news of this one.
            (self.answer, self.ground) = (None, None);
            return None;
        }
        Some(Command::Solve { asked: self.asked, sightings: Box::new(sightings) })
    }

    /// Where we are now, and its error: the fix, or what stands in its place, carried on.
    pub(super) fn here(&self, now: Timestamp) -> Option<(Position, Covariance)> {
        self.watch.carried(self.stands(), now)
    }

    /// The same at its own time, where it cannot be carried to now.
    pub(super) fn left_behind(&self) -> Option<(Timestamp, Position, Covariance)> {
        self.watch.as_it_stood(self.stands())
    }

    fn stands(&self) -> Option<(Timestamp, Position, Covariance)> {
        self.answer().filter(|_| self.is_current()).and_then(Answer::estimate)
    }

    /// Whether a line is kept for the place by now: as long as the watch runs with the clock, so that
    /// nothing moves when a contact is taken.
    pub(super) fn tells_carried(&self) -> bool {
        let going = self.watch.reckoning().is_some_and(|r| r.track.is_some() && r.speed.is_some());
        going && (self.watch.is_live(self.wall) || self.carried().is_some())
    }

    /// The place that stands, carried on to now; none while it is worked out, and none on a watch whose
    /// clock stands at that place's time.
    pub fn carried(&self) -> Option<Carried> {
        let now = self.watch.own_time(self.wall);
        if self.practice.is_some() {
            return Carried::reckoned(&self.watch, now);
        }
        let answer = self.answer().filter(|_| self.is_current())?;
        let carried = answer.carried(&self.watch, now)?;
        (self.watch.is_live(self.wall) || now > answer.fix.time).then_some(carried)
    }

    /// The same where it was carried for long enough to be another place than the one it starts from.
    pub(super) fn carried_off(&self) -> Option<Carried> {
        self.carried().filter(|carried| carried.age() >= OLD)
    }

    /// What should show by now from the place carried on; none while it is that of the answer.
    pub(super) fn shown_from(&self) -> Option<&(Outlook, Arc<Expectation>)> {
        self.carried_off()?;
        self.shows.as_ref().filter(|(from, _)| from.asked == self.asked)
    }

    /// Asks what should show by now, where we have gone on far enough since it was asked last.
    pub(super) fn look_out(&mut self) -> Option<Command> {
        // From the first second on: ground may lie ahead of a fix just made.
        let carried = self.carried().filter(|_| self.practice.is_none() && !self.is_lacking())?;
        let gone_on = |last: &Outlook| {
            let run = distance(last.from.position, carried.position).nautical_miles();
            let wait = carried.time.duration_since(last.from.time).abs();
            // Not before both: a fix never waits for long behind it.
            last.asked != self.asked || (run >= NEW_LOOK_NM && wait >= NEW_LOOK)
        };
        if !self.outlook.as_ref().is_none_or(gone_on) {
            return None;
        }
        let outlook = Outlook::new(carried, &self.watch, self.asked);
        self.outlook = Some(outlook.clone());
        Some(Command::Expect(Box::new(outlook)))
    }

    /// What should come to paint on the run.
    pub(super) fn ahead(&self) -> &[Due] {
        match &self.due {
            Some(Coming::Told(marks)) => marks,
            Some(Coming::Failed) | None => &[],
        }
    }

    /// The latest answer, whether or not it is to the latest question.
    pub fn answer(&self) -> Option<&Answer> {
        self.answer.as_ref().map(|(_, answer)| answer.as_ref())
    }

    /// Whether the worker failed on the sightings as they stand: no answer will come.
    pub(super) fn has_failed(&self) -> bool {
        self.failed == Some(self.asked)
    }

    /// Whether what is shown answers the sightings as they stand.
    pub fn is_current(&self) -> bool {
        self.practice.is_some()
            || self.watch.reckoning().is_none()
            || self.answer.as_ref().is_some_and(|(asked, _)| *asked == self.asked)
    }
}
