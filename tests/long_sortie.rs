//! Eight hours of watch, second by second: memory that stands still, a log that stays small, a clock and a
//! reckoning that do not drift.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::path::Path;
use std::sync::Arc;

use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::geodesy::{Position, course, destination, distance};
use foreland::screen::{
    Colours, Command, Echo, Keeping, Message, State, Theme, expected, solve, update, view,
};
use foreland::units::{Bearing, GroundRange};
use foreland::watch::alarm::ground_along;
use foreland::watch::log::{Log, What};
use foreland::watch::{Keeper, Watch, resume, start_record};
use jiff::{SignedDuration, Timestamp};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Size;

const HOURS: i64 = 8;

/// Up and down off the coast: a turn so often, a fix so often, in seconds.
const LEG_S: i64 = 600;
const FIX_S: i64 = 1_200;

/// What is steered by is wrong by so much: knots east and north.
const DRIFT_KN: (f64, f64) = (4.0, -3.0);

const MARKS: [&str; 4] = ["Great Ember", "Gannet Head", "Corbel Point", "Saddle Isle"];

const START: &str = r#"
[reckoning]
time = "2031-03-09T03:40:00Z"
position = "38 12.9 S, 21 30.5 W"
sigma_nm = 1.0
track_deg = 0
speed_kn = 165
track_sigma_deg = 2
speed_sigma_kn = 5
[own]
height_ft = 2000
[radar]
set = "patrol"
"#;

struct Sortie {
    state: State,
    keeper: Keeper,
    truth: Position,
    began: Timestamp,
    seconds: i64,
}

impl Sortie {
    fn begin(log: &Path) -> Self {
        let chart = Arc::new(Chart::sample().unwrap());
        let sightings = Sightings::parse(START, "sortie.toml", Path::new("")).unwrap();
        let opening = vec![start_record("sortie.toml", START, &sightings)];
        let keeper = Keeper::later(log.to_owned(), opening);
        let watch = Watch::from_sightings(&sightings);
        let keeping = Keeping::Ready(log.to_owned());
        let state = State::new(chart, watch, keeping, Theme::new(Colours::Sixteen));
        let reckoning = sightings.reckoning;
        let mut sortie =
            Self { state, keeper, truth: reckoning.position, began: reckoning.time, seconds: 0 };
        sortie.tell(Message::Time(sortie.began));
        sortie.tell(Message::Resized(Size::new(160, 50)));
        let first = sortie.state.first_question();
        sortie.obey(first.into_iter().collect());
        sortie
    }

    fn now(&self) -> Timestamp {
        self.began + SignedDuration::from_secs(self.seconds)
    }

    fn tell(&mut self, message: Message) {
        let commands = update(&mut self.state, message);
        self.obey(commands);
    }

    /// As the program's own threads do, on the spot; what comes on the run ahead is left: it takes seconds.
    fn obey(&mut self, commands: Vec<Command>) {
        for command in commands {
            match command {
                Command::Solve { asked, sightings } => {
                    let answer = Box::new(solve(&self.state.chart, &sightings));
                    self.tell(Message::Answered { asked, answer });
                }
                Command::Keep { time, what, typed } => {
                    self.keeper.keep(time, *what, Some(typed)).unwrap();
                    self.tell(Message::Kept(self.keeper.tally()));
                }
                Command::Record { time, what } if self.keeper.is_open() => {
                    self.keeper.keep(time, *what, None).unwrap();
                    self.tell(Message::Counted(self.keeper.tally()));
                }
                // Every few miles is enough here.
                Command::Expect(from) if self.seconds % 120 == 0 => {
                    let (vantage, set) = (&from.vantage, &from.set);
                    let shows = Box::new(expected(&self.state.chart, vantage, set));
                    let ground = ground_along(&self.state.chart, &from.run, from.least_height);
                    assert!(ground.is_some());
                    self.tell(Message::Shows(from, Some(shows), ground));
                }
                _ => {}
            }
        }
    }

    /// A second on: half the legs north, half south.
    fn second(&mut self) {
        let track = if (self.seconds / LEG_S) % 2 == 0 { 1.0 } else { -1.0 };
        // The stream of air turns each hour, so that the coast stays where it is.
        let turned = if (self.seconds / 3_600) % 2 == 0 { 1.0 } else { -1.0 };
        let (east, north) = (turned * DRIFT_KN.0, 165.0 * track + turned * DRIFT_KN.1);
        let run = GroundRange::from_nautical_miles(east.hypot(north) / 3_600.0).unwrap();
        self.truth = destination(self.truth, Bearing::wrapped(east.atan2(north)), run);
        self.seconds += 1;
        self.tell(Message::Time(self.now()));
    }

    fn enter(&mut self, line: &str) {
        for key in line.chars().map(KeyCode::Char).chain([KeyCode::Enter]) {
            self.tell(Message::Key(KeyEvent::new(key, KeyModifiers::NONE)));
        }
        assert!(matches!(self.state.echo, Echo::Kept(_)), "{line}: {:?}", self.state.echo);
    }

    /// Four marks as they truly lie, to the tenth; gives back how far off the fix is.
    fn fix(&mut self) -> f64 {
        for name in MARKS {
            let marks = self.state.chart.marks();
            let at = marks.get(marks.find(name).unwrap()).unwrap().position;
            let line = course(self.truth, at);
            let range = line.distance.nautical_miles();
            let bearing = line.initial.degrees() % 359.9;
            self.enter(&format!("{range:.1} {bearing:05.1} {name}"));
        }
        let fixed = self.state.answer().unwrap().fix.position.unwrap_or_else(|| {
            panic!("no fix at {}: {:#?}", self.now(), self.state.answer().unwrap().fix.cautions)
        });
        let off = distance(fixed, self.truth).nautical_miles();
        self.enter("accept");
        off
    }

    fn drawn(&self) -> String {
        let mut terminal = Terminal::new(TestBackend::new(160, 50)).unwrap();
        terminal.draw(|frame| view(&self.state, frame)).unwrap();
        terminal.backend().to_string()
    }
}

/// Memory of this process in the machine, bytes.
fn resident() -> u64 {
    let told = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = told.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap();
    line.trim().trim_end_matches(" kB").parse::<u64>().unwrap() * 1_024
}

#[test]
fn eight_hours_leave_memory_log_clock_and_reckoning_as_they_were() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("watch.log");
    let mut sortie = Sortie::begin(&log);
    let (mut worst, mut fixes, mut memory, mut sizes) = (0.0_f64, 0, Vec::new(), Vec::new());
    for second in 1..=HOURS * 3_600 {
        sortie.second();
        if second % LEG_S == 0 {
            let track = if (second / LEG_S) % 2 == 0 { "000" } else { "180" };
            sortie.enter(&format!("trk {track} 165"));
        }
        if second % FIX_S == FIX_S / 4 {
            worst = worst.max(sortie.fix());
            fixes += 1;
        }
        if second % 60 == 0 {
            assert!(sortie.drawn().contains("AID ONLY"));
        }
        if second % 3_600 == 0 {
            memory.push(resident());
            sizes.push(std::fs::metadata(&log).unwrap().len());
        }
    }
    let now = sortie.now();
    assert_eq!(sortie.state.watch.own_time(now), now);
    assert_eq!(now.duration_since(sortie.began), SignedDuration::from_hours(HOURS));
    assert_eq!(fixes, HOURS * 3);
    // Readings are of charted points: where the echoes truly begin is other tests' matter.
    assert!(worst < 1.0, "{worst} NM off");

    // The reckoning went on from the last fix, by track and speed, drift and all that is typed.
    let (reckoned, covariance) = sortie.state.watch.carried(None, now).unwrap();
    let off = foreland::geodesy::LocalPlane::new(reckoned).to_plane(sortie.truth);
    let beyond = covariance.mahalanobis_squared(off.east, off.north);
    assert!(beyond < 9.21, "{off:?} of {covariance:?}");

    let [first, .., last] = memory[..] else { panic!("{memory:?}") };
    println!("memory {memory:?}, log {sizes:?} bytes, worst fix {worst:.2} NM off");
    assert!(last < first + 16_000_000, "{memory:?}");
    let [first, .., last] = sizes[..] else { panic!("{sizes:?}") };
    assert!(last < 10 * first && last < 1_000_000, "{sizes:?}");

    // Taken up again it is the same watch.
    drop(sortie.keeper);
    let (_, replay) = Log::open(&log).unwrap();
    assert!(replay.notices.is_empty(), "{:?}", replay.notices);
    let said = replay.records.iter().filter(|r| matches!(r.what, What::Said(_))).count();
    let blank = Watch::from_sightings(&Sightings::parse(START, "", Path::new("")).unwrap());
    let again = resume(&replay.records, &blank).watch.unwrap();
    let (place, _) = again.carried(None, now).unwrap();
    assert!(distance(place, reckoned).metres() < 1.0, "{said} answers in the log");
}
