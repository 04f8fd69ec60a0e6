//! The display without a terminal: what it asks of its workers is answered by the engine on the spot.

use std::fmt::Write;
use std::path::Path;
use std::sync::Arc;

use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::drill::{Lesson, score};
use foreland::paint::{Conditions, picture};
use foreland::screen::{
    Colours, Command, Keeping, Message, State, Theme, expected, solve, update, view,
};
use foreland::watch::{Tally, Watch};
use jiff::{SignedDuration, Timestamp};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Size;

/// Wall clock of every display here: years before the sample's landfall, so that its watch stands still.
const WALL: &str = "2026-06-01T12:00:00Z";

/// A display and what was kept on it.
pub struct Show {
    pub state: State,
    kept: u64,
    /// What the clock on the wall says: an exercise has a time of its own.
    wall: Timestamp,
}

impl Show {
    /// The sample chart with sightings of it, worked out.
    pub fn of_sample(sightings: &str, size: (u16, u16), colours: Colours) -> Self {
        let sightings = Sightings::parse(sightings, "sightings.toml", Path::new("")).unwrap();
        let watch = Watch::from_sightings(&sightings);
        Self::new(Chart::sample().unwrap(), watch, size, colours)
    }

    /// A display on a chart, with all that it asks at first answered.
    pub fn new(chart: Chart, watch: Watch, size: (u16, u16), colours: Colours) -> Self {
        let keeping = Keeping::In("evening.log".into(), 0);
        let state = State::new(Arc::new(chart), watch, keeping, Theme::new(colours));
        let mut show = Self { state, kept: 0, wall: WALL.parse().unwrap() };
        show.tell(Message::Time(WALL.parse().unwrap()));
        show.resize(size);
        let first = show.state.first_question();
        show.obey(first.into_iter().collect());
        show
    }

    /// A lesson, its first page open.
    pub fn of_lesson(number: usize, seed: u64, size: (u16, u16), colours: Colours) -> Self {
        let exercise = Lesson::of_number(number).unwrap().exercise(seed).unwrap();
        let chart = Arc::new(Chart::sample().unwrap());
        let state = State::practising(chart, exercise, "drill.txt".into(), Theme::new(colours));
        let mut show = Self { state, kept: 0, wall: WALL.parse().unwrap() };
        show.tell(Message::Time(WALL.parse().unwrap()));
        show.resize(size);
        show
    }

    /// So many seconds later.
    pub fn wait(&mut self, seconds: i64) {
        self.wall += SignedDuration::from_secs(seconds);
        self.tell(Message::Time(self.wall));
    }

    /// A message, and the answers to all that it leads to.
    pub fn tell(&mut self, message: Message) {
        let commands = update(&mut self.state, message);
        self.obey(commands);
    }

    fn obey(&mut self, commands: Vec<Command>) {
        for command in commands {
            let chart = Arc::clone(&self.state.chart);
            match command {
                Command::Solve { asked, sightings } => {
                    let answer = Box::new(solve(&chart, &sightings));
                    self.tell(Message::Answered { asked, answer });
                }
                Command::Expect(from) => {
                    let shows = Box::new(expected(&chart, &from.vantage, &from.set));
                    self.tell(Message::Shows(from, Some(shows), None));
                }
                Command::Draw(ask) if ask.look.is_some() => {
                    let exercise = Arc::clone(&self.state.practice.as_ref().unwrap().exercise);
                    let (look, scale) = (ask.look.unwrap(), ask.frame.scale.nautical_miles());
                    let scan = exercise.look(&chart, look.time, scale, look.number);
                    self.tell(Message::Drawn(ask, scan.map(|scan| Arc::new(scan.picture))));
                }
                Command::Score(answer) => {
                    let exercise = Arc::clone(&self.state.practice.as_ref().unwrap().exercise);
                    let score = score(&chart, &exercise, &answer);
                    self.tell(Message::Scored(Box::new(score)));
                }
                Command::KeepScore(_) => self.tell(Message::ScoreKept(Ok(()))),
                Command::Draw(ask) => {
                    let weather = Conditions::default();
                    let drawn = picture(&chart, &ask.vantage, &ask.set, &weather, &ask.frame);
                    self.tell(Message::Drawn(ask, drawn.map(Arc::new)));
                }
                Command::Keep { .. } => {
                    self.kept += 1;
                    let path = "evening.log".into();
                    let tally = Tally { path, begun: true, kept: self.kept, unkept: 0 };
                    self.tell(Message::Kept(tally));
                }
                Command::Record { .. }
                | Command::Begin { .. }
                | Command::Remember { .. }
                | Command::Look(_)
                | Command::TakeIn(..) => {}
            }
        }
    }

    pub fn resize(&mut self, (columns, rows): (u16, u16)) {
        self.tell(Message::Resized(Size::new(columns, rows)));
    }

    pub fn press(&mut self, code: KeyCode) {
        self.tell(Message::Key(KeyEvent::new(code, KeyModifiers::NONE)));
    }

    pub fn typed(&mut self, text: &str) {
        text.chars().for_each(|c| self.press(KeyCode::Char(c)));
    }

    /// The screen as lines of text, without the blanks at their ends.
    pub fn drawn(&self) -> String {
        let Size { width, height } = self.state.size;
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal.draw(|frame| view(&self.state, frame)).unwrap();
        let buffer = terminal.backend().buffer();
        let mut text = String::new();
        for y in 0..height {
            let line: String = (0..width).map(|x| buffer[(x, y)].symbol()).collect();
            writeln!(text, "{}", line.trim_end()).unwrap();
        }
        text
    }
}

/// The landfall that the sample comes with.
pub const LANDFALL: &str = include_str!("../../charts-sample/landfall.toml");

/// Two places of the sample that fit the same contacts.
pub const LOOKALIKE: &str = include_str!("../../charts-sample/lookalike.toml");
