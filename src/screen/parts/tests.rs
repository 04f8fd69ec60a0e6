use std::path::{Path, PathBuf};

use jiff::{SignedDuration, Timestamp};
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Size;

use super::*;
use crate::chart::Opening;
use crate::contact::Sightings;
use crate::geodesy::{Position, distance};
use crate::screen::state::{Echo, Keeping, Message};
use crate::screen::theme::{Colours, Theme};
use crate::screen::update::update;
use crate::screen::work::solve;
use crate::watch::area::{about, roomy};
use crate::watch::{Tally, Watch};

const LANDFALL: &str = include_str!("../../../charts-sample/landfall.toml");

/// A place 800 NM north of the sample's coast.
const FAR: &str = "dr 24 50 S, 21 30 W sigma 2";

fn watch() -> Watch {
    Watch::from_sightings(&Sightings::parse(LANDFALL, "landfall", Path::new("")).unwrap())
}

/// The sample as a large chart is opened: about an area alone.
fn part(area: GeoBox) -> Arc<Chart> {
    let folder = vec![PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/charts-sample"))];
    Arc::new(Opening::new(&folder).around(area).whole_up_to(0).open().unwrap())
}

fn wall() -> Timestamp {
    "2026-06-01T12:00:00Z".parse().unwrap()
}

/// A display on a chart, and the part that it asked for on opening.
fn state(chart: Arc<Chart>) -> (State, Vec<Command>) {
    let keeping = Keeping::Ready("watch.log".into());
    let mut state = State::new(chart, watch(), keeping, Theme::new(Colours::None));
    state.parts.folders = Some(Folders::default());
    let mut commands: Vec<Command> = state.first_question().into_iter().collect();
    commands.extend(update(&mut state, Message::Time(wall())));
    commands.extend(update(&mut state, Message::Resized(Size::new(80, 24))));
    (state, commands)
}

/// Answers what is asked of the worker.
fn obey(state: &mut State, commands: Vec<Command>) -> Vec<Command> {
    let mut left = Vec::new();
    for command in commands {
        match command {
            Command::Solve { asked, sightings } => {
                let answer = Box::new(solve(&state.chart, &sightings));
                let commands = update(state, Message::Answered { asked, answer });
                left.extend(obey(state, commands));
            }
            Command::Keep { .. } => {
                let tally = Tally { path: "watch.log".into(), begun: true, kept: 1, unkept: 0 };
                let commands = update(state, Message::Kept(tally));
                left.extend(obey(state, commands));
            }
            other => left.push(other),
        }
    }
    left
}

fn enter(state: &mut State, line: &str) -> Vec<Command> {
    let mut left = Vec::new();
    for code in line.chars().map(KeyCode::Char).chain([KeyCode::Enter]) {
        let commands = update(state, Message::Key(KeyEvent::new(code, KeyModifiers::NONE)));
        left.extend(obey(state, commands));
    }
    left
}

fn wanted(commands: &[Command]) -> Vec<(Part, GeoBox)> {
    let areas = commands.iter().filter_map(|command| match command {
        Command::TakeIn(part, area) => Some((*part, *area)),
        _ => None,
    });
    areas.collect()
}

fn later(state: &mut State, seconds: i64) -> Vec<Command> {
    let wall = state.wall + SignedDuration::from_secs(seconds);
    update(state, Message::Time(wall))
}

fn places(watch: &Watch) -> Vec<(Position, f64)> {
    watch.asks_about(None, watch.own_time(wall()))
}

#[test]
fn well_inside_nothing_is_asked_and_a_small_chart_never_asks() {
    let (mut state, commands) = state(part(roomy(&places(&watch())).unwrap()));
    assert!(wanted(&commands).is_empty());
    assert!(wanted(&obey(&mut state, commands)).is_empty());
    assert!(state.is_current() && state.parts.said().is_none());

    let (mut small, commands) = self::state(Arc::new(Chart::sample().unwrap()));
    assert!(wanted(&obey(&mut small, commands)).is_empty());
    assert!(wanted(&enter(&mut small, FAR)).is_empty());
    assert!(small.is_current() && !small.parts.owes_a_fix());
}

#[test]
fn far_from_what_is_at_hand_the_fix_waits_for_the_part_asked_for_once() {
    let (mut state, commands) = state(part(roomy(&places(&watch())).unwrap()));
    obey(&mut state, commands);
    state.focus.by_hand = true;
    let commands = enter(&mut state, FAR);
    let [(Part::Own, area)] = wanted(&commands)[..] else { panic!("{commands:?}") };
    assert!(matches!(&state.echo, Echo::Kept(_)), "{:?}", state.echo);
    assert!(state.answer.is_none() && state.parts.owes_a_fix() && !state.is_current());
    assert_eq!(state.parts.said().unwrap(), "taking in more of the coast");
    // Neither is ground looked for by the part before, nor a name looked up in it.
    assert_eq!(state.ground, Some(GroundAhead::NOT_AT_HAND));
    enter(&mut state, "17.3 042 Gannet Head");
    assert!(matches!(&state.echo, Echo::Refused(_)), "{:?}", state.echo);
    for _ in 0.."17.3 042 Gannet Head".len() {
        update(&mut state, Message::Key(KeyEvent::new(KeyCode::Backspace, KeyModifiers::NONE)));
    }
    // Not again while it is on its way; and no key waits for it.
    for line in ["17.3 042", "30 120"] {
        let commands = enter(&mut state, line);
        assert!(wanted(&commands).is_empty() && state.answer.is_none(), "{commands:?}");
        assert!(matches!(&state.echo, Echo::Kept(_)), "{:?}", state.echo);
    }
    update(&mut state, Message::Taking("reading coast.shp: 43 %".to_owned()));
    assert_eq!(state.parts.said().unwrap(), "taking in the coast: reading coast.shp: 43 %");
    assert!(wanted(&later(&mut state, 300)).is_empty());
    let commands = update(&mut state, Message::TakenIn(Part::Own, part(area)));
    let solves = |it: &&Command| matches!(it, Command::Solve { .. });
    assert_eq!(commands.iter().filter(solves).count(), 1, "{commands:?}");
    assert!(wanted(&obey(&mut state, commands)).is_empty());
    assert!(state.is_current() && !state.parts.owes_a_fix() && state.parts.said().is_none());
    // At hand, and not looked for yet.
    assert_eq!(state.ground, Some(GroundAhead::NOT_AT_HAND));
    assert!(!state.focus.by_hand);
    let reckoned = state.answer().unwrap().reckoned.0;
    assert!(distance(reckoned, Position::new(-24.8333, -21.5).unwrap()).nautical_miles() < 0.1);
}

#[test]
fn what_cannot_be_taken_in_is_said_and_tried_again_after_a_minute() {
    let (mut state, commands) = state(part(roomy(&places(&watch())).unwrap()));
    obey(&mut state, commands);
    assert_eq!(wanted(&enter(&mut state, FAR)).len(), 1);
    let gone = "charts: cannot be read".to_owned();
    assert!(wanted(&update(&mut state, Message::NotTakenIn(Part::Own, gone))).is_empty());
    assert_eq!(state.parts.why_not(), Some("charts: cannot be read"));
    assert!(state.parts.owes_a_fix() && state.answer.is_none());
    assert!(wanted(&later(&mut state, 59)).is_empty());
    assert_eq!(wanted(&later(&mut state, 1)).len(), 1);
    assert!(wanted(&later(&mut state, 120)).is_empty());
    // Back where the coast is at hand the fix is made at once, and what comes too late is left.
    let commands = enter(&mut state, "undo");
    assert!(state.is_current() && wanted(&commands).is_empty());
    let before = Arc::clone(&state.chart);
    let elsewhere = GeoBox::new(-26.0, -23.0, -24.0, -20.0);
    update(&mut state, Message::TakenIn(Part::Own, part(elsewhere)));
    assert!(Arc::ptr_eq(&before, &state.chart) && state.is_current());
}

#[test]
fn near_the_edge_the_next_part_takes_over_without_a_gap() {
    let (mut state, commands) = state(part(about(&places(&watch())).unwrap()));
    let [(Part::Own, area)] = wanted(&commands)[..] else { panic!("{commands:?}") };
    assert_eq!(wanted(&obey(&mut state, commands)), [(Part::Own, area)], "asked for once");
    assert!(state.is_current(), "the fix is made on what is at hand");
    let told = |state: &State| {
        let answer = state.answer().unwrap();
        let name = |it: &ExpectedMark| state.chart.marks().get(it.mark).unwrap().name.clone();
        let names: Vec<String> = answer.expected.marks.iter().map(name).collect();
        (answer.fix.clone(), names)
    };
    let before = told(&state);
    let whole = Arc::new(Chart::sample().unwrap());
    assert!(whole.opened_about().is_none());
    for chart in [part(area), whole] {
        let commands = update(&mut state, Message::TakenIn(Part::Own, chart));
        assert!(!commands.iter().any(|it| matches!(it, Command::Solve { .. })), "{commands:?}");
        assert!(wanted(&commands).is_empty() && state.is_current());
        assert_eq!(told(&state), before);
    }
    assert!(before.1.len() > 10);
}

#[test]
fn a_part_that_comes_while_a_fix_is_worked_out_has_it_worked_out_anew() {
    let (mut state, commands) = state(part(about(&places(&watch())).unwrap()));
    let asked = commands.iter().find_map(|command| match command {
        Command::Solve { asked, sightings } => Some((*asked, sightings.clone())),
        _ => None,
    });
    let (asked, sightings) = asked.unwrap();
    let late = Box::new(solve(&state.chart, &sightings));
    let [(_, area)] = wanted(&commands)[..] else { panic!("{commands:?}") };
    let commands = update(&mut state, Message::TakenIn(Part::Own, part(area)));
    assert!(matches!(commands[..], [Command::Solve { .. }]), "{commands:?}");
    // Its marks have other numbers there.
    update(&mut state, Message::Answered { asked, answer: late });
    assert!(state.answer.is_none());
    obey(&mut state, commands);
    assert!(state.is_current());
}

#[test]
fn the_panel_moved_beyond_what_is_at_hand_has_a_sheet_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let chart = folder.path().join("chart");
    std::fs::create_dir(&chart).unwrap();
    let coast = include_bytes!("../../../tests/reference/natural-earth-coasts/aegean.shp");
    std::fs::write(chart.join("coast.shp"), coast).unwrap();
    let (folders, indexes) = (vec![chart], vec![folder.path().join("index")]);
    Opening::new(&folders).prepare(&indexes[0]).unwrap();
    let about = |area| {
        let opening = Opening::new(&folders).indexed(&indexes).around(area);
        Arc::new(opening.whole_up_to(0).open().unwrap())
    };
    let far = GeoBox::new(-38.5, -21.5, -38.0, -21.0);
    let (mut state, commands) = state(about(far));
    obey(&mut state, commands);
    state.parts.own = Taking::Idle;
    state.parts.folders = None;
    update(&mut state, Message::TakenIn(Part::Own, about(roomy(&places(&watch())).unwrap())));
    let port = |state: &State| state.shore.as_ref().unwrap().0;
    assert!(state.is_coast_at_hand(&port(&state)));
    state.parts.folders = Some(Folders::default());
    state.focus.centre_on(Position::new(37.2, 25.9).unwrap());
    let commands = later(&mut state, 1);
    let [(Part::View, area)] = wanted(&commands)[..] else { panic!("{commands:?}") };
    assert!(area.holds(&port(&state).area()) && !state.is_coast_at_hand(&port(&state)));
    assert!(wanted(&later(&mut state, 1)).is_empty());
    let (own, current) = (Arc::clone(&state.chart), state.is_current());
    let commands = update(&mut state, Message::TakenIn(Part::View, about(area)));
    assert!(wanted(&commands).is_empty() && state.is_coast_at_hand(&port(&state)));
    // The chart that the fix is made on is the same as before.
    assert!(Arc::ptr_eq(&own, &state.chart) && state.is_current() == current);
    state.focus.by_hand = false;
    later(&mut state, 1);
    assert!(state.parts.sheet.is_none() && state.is_coast_at_hand(&port(&state)));
}
