//! A sitting that leads from one end of a large prepared chart to the other: each fix is the one that the whole
//! chart gives.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

mod rough_coast;

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command as Process, Stdio};
use std::sync::Arc;

use foreland::chart::{Chart, Folders, GeoBox, Opening};
use foreland::contact::Radar;
use foreland::geodesy::{Position, distance};
use foreland::paint::{Outcome, Vantage};
use foreland::radar::Set;
use foreland::screen::{
    Colours, Command, Keeping, Message, State, Theme, expected, solve, update, verdict_lines,
};
use foreland::units::{Height, METRES_PER_NAUTICAL_MILE};
use foreland::watch::{Tally, Watch};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Size;

/// Printed, so that a failure can be run again.
const SEED: u64 = 20_261_126;

/// Two coasts 830 NM apart, and a place off each.
const COASTS: [(f64, f64, f64); 2] = [(50.0, -12.0, 0.6), (50.0, 9.5, 0.6)];
const OFF: [(f64, f64); 2] = [(50.0, -12.95), (50.0, 8.55)];

/// Points of each ring.
const PLACES: usize = 2_000;

/// Islands far from both, which make the chart a large one.
fn islands() -> impl Iterator<Item = (f64, f64, f64)> {
    (0..110).map(|i| (-50.0 + 4.0 * f64::from(i / 11), 60.0 + 10.0 * f64::from(i % 11), 0.3))
}

struct Large {
    folder: tempfile::TempDir,
    folders: Folders,
    whole: Chart,
}

impl Large {
    /// Prepared by the program, its index in a cache folder of its own.
    fn new() -> Self {
        println!("seed {SEED}");
        let folder = tempfile::tempdir().unwrap();
        let chart = folder.path().join("large");
        fs::create_dir(&chart).unwrap();
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        let middles: Vec<(f64, f64, f64)> = COASTS.into_iter().chain(islands()).collect();
        fs::write(chart.join("coast.shp"), rough_coast::coast(&mut rng, &middles, PLACES)).unwrap();
        let (_, status) = foreland(folder.path(), &["chart", "prepare", "large"], "");
        assert_eq!(status, Some(0));
        let cache = fs::read_dir(folder.path().join("cache/foreland")).unwrap();
        let indexes: Vec<PathBuf> = cache.map(|entry| entry.unwrap().path()).collect();
        assert_eq!(indexes.len(), 1);
        let folders = Folders { folders: vec![chart], indexes };
        let opening = Opening::new(&folders.folders).indexed(&folders.indexes);
        let whole = opening.open().unwrap();
        assert!(whole.opened_about().is_none() && whole.coast().point_count() > 200_000);
        Self { folder, folders, whole }
    }

    /// Contacts of what should paint from a place, as they are typed.
    fn contacts(&self, (lat, lon): (f64, f64)) -> Vec<String> {
        let (position, height) = (place(lat, lon), Height::from_feet(2_000.0).unwrap());
        let vantage = Vantage { position, height, heading: None };
        let shown = expected(&self.whole, &vantage, &Set::builtin("patrol").unwrap());
        let mut contacts: Vec<(f64, f64)> = Vec::new();
        for it in shown.marks.iter().filter(|it| it.outcome == Outcome::Paints) {
            let apart = |(_, other): &(f64, f64)| (it.bearing.degrees() - other).abs() > 12.0;
            if contacts.iter().all(apart) && contacts.len() < 4 {
                contacts.push((it.range.nautical_miles(), it.bearing.degrees()));
            }
        }
        assert!(contacts.len() >= 3, "{contacts:?}");
        contacts.iter().map(|(range, bearing)| format!("{range:.1} {bearing:03.0}")).collect()
    }
}

fn place(lat: f64, lon: f64) -> Position {
    Position::new(lat, lon).unwrap()
}

fn dr((lat, lon): (f64, f64)) -> String {
    let text = |value: f64, signs: [char; 2]| {
        let sign = if value < 0.0 { signs[1] } else { signs[0] };
        format!("{} {:.1} {sign}", value.abs().floor(), value.abs().fract() * 60.0)
    };
    format!("dr {}, {} sigma 2", text(lat, ['N', 'S']), text(lon, ['E', 'W']))
}

fn foreland(folder: &Path, arguments: &[&str], typed: &str) -> (String, Option<i32>) {
    let mut child = Process::new(env!("CARGO_BIN_EXE_foreland"))
        .args(arguments)
        .current_dir(folder)
        .env("XDG_CACHE_HOME", folder.join("cache"))
        .env("XDG_STATE_HOME", folder.join("state"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(typed.as_bytes()).unwrap();
    let done = child.wait_with_output().unwrap();
    (String::from_utf8(done.stdout).unwrap(), done.status.code())
}

/// The display without a terminal; parts of the chart are taken in when the test says so.
struct Sitting<'a> {
    state: State,
    large: &'a Large,
    wanted: Vec<Command>,
    taken_in: usize,
}

impl<'a> Sitting<'a> {
    fn begin(large: &'a Large) -> Self {
        let nowhere = GeoBox::new(0.0, 0.0, 0.0, 0.0);
        let chart = large.folders.open_about(nowhere, &|_| {}).unwrap();
        let radar = Radar {
            set: Set::builtin("patrol").unwrap(),
            set_name: "patrol".to_owned(),
            range_sigma_nm: None,
            bearing_sigma_deg: None,
        };
        let watch = Watch::blank(radar, Height::from_feet(2_000.0).unwrap());
        let keeping = Keeping::Ready("watch.log".into());
        let mut state = State::new(Arc::new(chart), watch, keeping, Theme::new(Colours::None));
        state.parts.folders = Some(large.folders.clone());
        let mut sitting = Self { state, large, wanted: Vec::new(), taken_in: 0 };
        sitting.tell(Message::Time("2026-06-01T12:00:00Z".parse().unwrap()));
        sitting.tell(Message::Resized(Size::new(80, 24)));
        sitting
    }

    fn tell(&mut self, message: Message) {
        for command in update(&mut self.state, message) {
            match command {
                Command::Solve { asked, sightings } => {
                    let answer = Box::new(solve(&self.state.chart, &sightings));
                    self.tell(Message::Answered { asked, answer });
                }
                Command::Keep { .. } => {
                    let tally = Tally { path: "watch.log".into(), begun: true, kept: 1, unkept: 0 };
                    self.tell(Message::Kept(tally));
                }
                Command::TakeIn(..) => self.wanted.push(command),
                _ => {}
            }
        }
    }

    fn enter(&mut self, line: &str) {
        for code in line.chars().map(KeyCode::Char).chain([KeyCode::Enter]) {
            self.tell(Message::Key(KeyEvent::new(code, KeyModifiers::NONE)));
        }
    }

    /// Takes in all that was asked for.
    fn take_in(&mut self) {
        while let Some(Command::TakeIn(part, area)) = self.wanted.pop() {
            let chart = self.large.folders.open_about(area, &|_| {}).unwrap();
            assert!(chart.opened_about().is_some());
            self.taken_in += 1;
            self.tell(Message::TakenIn(part, Arc::new(chart)));
        }
    }
}

#[test]
fn a_fix_at_either_end_of_a_large_chart_is_that_of_the_whole() {
    let large = Large::new();
    let apart = distance(place(OFF[0].0, OFF[0].1), place(OFF[1].0, OFF[1].1));
    assert!(apart.metres() > 800.0 * METRES_PER_NAUTICAL_MILE, "{apart:?}");

    let mut sitting = Sitting::begin(&large);
    sitting.take_in();
    let mut told = Vec::new();
    for off in OFF {
        sitting.enter(&dr(off));
        // Nothing is worked out on a chart that lacks the coast there.
        assert!(sitting.state.answer().is_none() && sitting.state.parts.owes_a_fix());
        for contact in large.contacts(off) {
            sitting.enter(&contact);
        }
        assert!(sitting.state.answer().is_none());
        let before = sitting.taken_in;
        sitting.take_in();
        assert_eq!(sitting.taken_in, before + 1);
        let sightings = sitting.state.watch.sightings().unwrap();
        let (here, whole) = (sitting.state.answer().unwrap(), solve(&large.whole, &sightings));
        assert_eq!(here.fix, whole.fix);
        assert_eq!(here.expected.coast, whole.expected.coast);
        assert_eq!(here.expected.marks.len(), whole.expected.marks.len());
        told.push(verdict_lines(&whole));
        for held in sitting.state.watch.contacts().to_vec() {
            sitting.enter(&format!("del {}", held.contact.label));
        }
    }
    assert_ne!(told[0], told[1]);

    // The same through the program.
    let mut lines = Vec::new();
    for off in OFF {
        let contacts = large.contacts(off);
        let undone = vec!["undo".to_owned(); contacts.len()];
        lines.extend(std::iter::once(dr(off)).chain(contacts).chain(undone));
    }
    let arguments = ["watch", "--plain", "--chart", "large", "--log", "sitting.log"];
    let (out, status) = foreland(large.folder.path(), &arguments, &(lines.join("\n") + "\n"));
    assert_eq!(status, Some(0), "{out}");
    assert_eq!(out.matches("chart: taking in the coast about ").count(), 2, "{out}");
    for [first, _] in &told {
        // The time is that of the clock on the wall.
        let (at, ellipse) =
            (first.split(" at ").next().unwrap(), first.split("Z  ").nth(1).unwrap());
        let line = out.lines().find(|line| line.contains(at) && line.contains(ellipse));
        assert!(line.is_some(), "{first}: {out}");
    }
    // Taken up again it is opened where it was left.
    let (out, _) = foreland(large.folder.path(), &arguments, "");
    assert!(!out.contains("taking in"), "{out}");
    let (out, status) =
        foreland(large.folder.path(), &["debrief", "sitting.log", "--chart", "large"], "");
    assert!(status == Some(0) && out.len() > 200, "{out}");
    let drill = ["drill", "--chart", "large", "--headless", "--seed"];
    let drills = ["3", "4"].map(|seed| {
        let arguments: Vec<&str> = drill.iter().copied().chain([seed]).collect();
        let (out, status) = foreland(large.folder.path(), &arguments, "");
        assert_eq!(status, Some(0), "{out}");
        assert_eq!(foreland(large.folder.path(), &arguments, "").0, out);
        out
    });
    assert_ne!(drills[0], drills[1]);
}
