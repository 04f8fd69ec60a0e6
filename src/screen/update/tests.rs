use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use jiff::SignedDuration;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::layout::Size;

use super::*;
use crate::chart::Chart;
use crate::contact::Sightings;
use crate::screen::state::Keeping;
use crate::screen::theme::{Colours, Theme};
use crate::watch::Watch;
use crate::watch::along::Coming;

static CHART: LazyLock<Arc<Chart>> = LazyLock::new(|| Arc::new(Chart::sample().unwrap()));

fn state() -> State {
    let text = include_str!("../../../charts-sample/landfall.toml");
    let sightings = Sightings::parse(text, "landfall", Path::new("")).unwrap();
    let watch = Watch::from_sightings(&sightings);
    let keeping = Keeping::Ready(path());
    let mut state = State::new(Arc::clone(&CHART), watch, keeping, Theme::new(Colours::None));
    update(&mut state, Message::Time("2026-06-01T12:00:00Z".parse().unwrap()));
    update(&mut state, Message::Resized(Size::new(80, 24)));
    state
}

fn path() -> PathBuf {
    PathBuf::from("watch.log")
}

fn tally(kept: u64, unkept: u64) -> Tally {
    Tally { path: path(), begun: true, kept, unkept }
}

fn kept(count: u64) -> Message {
    Message::Kept(tally(count, 0))
}

fn not_kept(count: u64) -> Message {
    Message::NotKept(tally(0, count), "disk full".to_owned())
}

fn key(state: &mut State, code: KeyCode) -> Vec<Command> {
    update(state, Message::Key(KeyEvent::new(code, KeyModifiers::NONE)))
}

fn control(state: &mut State, c: char) -> Vec<Command> {
    update(state, Message::Key(KeyEvent::new(KeyCode::Char(c), KeyModifiers::CONTROL)))
}

fn enter_line(state: &mut State, line: &str) -> Vec<Command> {
    for c in line.chars() {
        assert!(key(state, KeyCode::Char(c)).is_empty());
    }
    key(state, KeyCode::Enter)
}

fn labels(state: &State) -> String {
    state.watch.contacts().iter().map(|h| h.contact.label.as_str()).collect()
}

#[test]
fn nothing_counts_as_kept_before_the_keeper_says_so() {
    let mut state = state();
    let asked = state.asked;
    let commands = enter_line(&mut state, "13.8 062");
    let [Command::Keep { typed, .. }] = commands.as_slice() else { panic!("{commands:?}") };
    assert_eq!(typed, "13.8 062");
    assert!(matches!(&state.echo, Echo::Writing(said) if said.starts_with("contact F")));
    assert_eq!((labels(&state).as_str(), state.asked), ("ABCDE", asked));
    let commands = update(&mut state, kept(1));
    assert!(matches!(commands.as_slice(), [Command::Solve { asked: 1, .. }]));
    assert_eq!(labels(&state), "ABCDEF");
    assert!(matches!(&state.echo, Echo::Kept(said) if said.starts_with("contact F")));
    assert_eq!(state.keeping, Keeping::In(path(), 1));
}

#[test]
fn lines_entered_while_one_is_written_wait_their_turn() {
    let mut state = state();
    enter_line(&mut state, "13.8 062");
    assert!(enter_line(&mut state, "F 13.9").is_empty());
    assert!(enter_line(&mut state, "17 42").is_empty());
    assert!(enter_line(&mut state, "del F").is_empty());
    let mut count = 0;
    while state.keeping_now.is_some() {
        update(&mut state, kept(1));
        count += 1;
    }
    // The third is refused when its turn comes, and stands in the line to be mended.
    assert_eq!((count, labels(&state).as_str()), (3, "ABCDE"));
    assert_eq!(state.line.value(), "17 42");
}

#[test]
fn a_failed_write_counts_in_memory_and_is_never_called_kept() {
    let mut state = state();
    enter_line(&mut state, "13.8 062");
    enter_line(&mut state, "9 101");
    let commands = update(&mut state, not_kept(1));
    // The first counts, in memory only; the second is on its way.
    assert_eq!(labels(&state), "ABCDEF");
    assert_eq!(state.keeping, Keeping::Failed(path(), 1));
    assert!(commands.iter().any(|c| matches!(c, Command::Keep { typed, .. } if typed == "9 101")));
    update(&mut state, not_kept(2));
    assert_eq!(state.keeping, Keeping::Failed(path(), 2));
    let Echo::NotKept(told) = &state.echo else { panic!("{:?}", state.echo) };
    assert!(told.contains("IN MEMORY ONLY") && told.contains("disk full"), "{told}");
    // The disk takes the next, and with it those that waited.
    enter_line(&mut state, "12 110");
    update(&mut state, kept(3));
    assert_eq!(labels(&state), "ABCDEFGH");
    assert_eq!(state.keeping, Keeping::In(path(), 3));
    // Or a record of the program's own takes them along.
    enter_line(&mut state, "12.5 112");
    update(&mut state, not_kept(1));
    assert_eq!(state.keeping, Keeping::Failed(path(), 1));
    assert!(update(&mut state, Message::Counted(tally(4, 0))).is_empty());
    assert_eq!(state.keeping, Keeping::In(path(), 4));
}

#[test]
fn a_clock_that_goes_back_is_told_and_noted() {
    let mut state = state();
    let at = |text: &str| text.parse().unwrap();
    update(&mut state, Message::Time(at("2031-03-09T03:50:00Z")));
    assert!(update(&mut state, Message::Time(at("2031-03-09T03:50:01Z"))).is_empty());
    let told = update(&mut state, Message::Time(at("2031-03-09T02:50:01Z")));
    let Some(Command::Record { what, .. }) = told.first() else { panic!("{told:?}") };
    assert!(matches!(**what, What::Clock { .. }));
    assert_eq!(state.notices, ["the clock went back from 03:50:01Z to 02:50:01Z"]);
}

#[test]
fn nothing_is_accepted_while_no_fix_stands() {
    let mut state = state();
    enter_line(&mut state, "accept");
    assert!(matches!(&state.echo, Echo::Refused(why) if why.contains("no fix stands")));
}

#[test]
fn q_leaves_only_on_an_empty_line_and_only_once_all_is_kept() {
    let mut state = state();
    enter_line(&mut state, "13.8 062");
    key(&mut state, KeyCode::Char('q'));
    assert!(!state.quit);
    update(&mut state, kept(1));
    assert!(state.quit);
    let mut typing = self::state();
    key(&mut typing, KeyCode::Char('9'));
    key(&mut typing, KeyCode::Char('q'));
    assert!(!typing.quit && typing.line.value() == "9q");
    control(&mut typing, 'c');
    assert!(typing.quit);
}

#[test]
fn an_answer_to_an_older_question_is_passed_over() {
    let mut state = state();
    state.first_question();
    state.first_question();
    update(&mut state, Message::Failed { asked: 1 });
    assert_eq!(state.echo, Echo::Hint);
    update(&mut state, Message::Failed { asked: 2 });
    assert!(matches!(state.echo, Echo::Refused(_)));
}

#[test]
fn keys_select_correct_and_take_out_a_contact() {
    let mut state = state();
    key(&mut state, KeyCode::Tab);
    key(&mut state, KeyCode::Tab);
    assert_eq!(state.selected.as_deref(), Some("B"));
    key(&mut state, KeyCode::Enter);
    assert_eq!(state.line.value(), "B r21.5 337rel");
    key(&mut state, KeyCode::Esc);
    assert_eq!((state.line.value(), state.selected.as_deref()), ("", None));
    key(&mut state, KeyCode::BackTab);
    let commands = key(&mut state, KeyCode::Delete);
    assert!(matches!(commands.as_slice(), [Command::Keep { typed, .. }] if typed == "del E"));
    update(&mut state, kept(1));
    assert_eq!(labels(&state), "ABCD");
    control(&mut state, 'z');
    update(&mut state, kept(1));
    assert_eq!(labels(&state), "ABCDE");
    control(&mut state, 'y');
    update(&mut state, kept(1));
    assert_eq!(labels(&state), "ABCD");
}

#[test]
fn the_picture_moves_by_keys_and_comes_back() {
    let mut state = state();
    let fitted = state.focus;
    key(&mut state, KeyCode::Right);
    key(&mut state, KeyCode::Char('+'));
    assert!(state.focus.span_nm < fitted.span_nm && state.focus.by_hand);
    assert!(state.focus.centre.longitude() > fitted.centre.longitude());
    key(&mut state, KeyCode::Char('.'));
    assert_eq!(state.focus, fitted);
}

#[test]
fn typing_starts_anywhere_and_is_understood_at_once() {
    let mut state = state();
    for (c, opens) in [('1', true), ('r', true), ('b', true), ('A', true), ('+', false)] {
        key(&mut state, KeyCode::Char(c));
        assert_eq!(!state.line.value().is_empty(), opens, "{c}");
        key(&mut state, KeyCode::Esc);
    }
    for c in "b 318 rel".chars() {
        key(&mut state, KeyCode::Char(c));
    }
    let Echo::Understood(said) = &state.echo else { panic!("{:?}", state.echo) };
    assert!(said.starts_with("contact F: 318° relative (= 028° true: R 318.0"), "{said}");
    update(&mut state, Message::Pasted("\u{1b}[31m\nmore".to_owned()));
    assert_eq!(state.line.value(), "b 318 rel[31m");
}

#[test]
fn earlier_lines_come_back() {
    let mut state = state();
    for line in ["13.8 062", "9.1 101"] {
        enter_line(&mut state, line);
        update(&mut state, kept(1));
    }
    key(&mut state, KeyCode::Char('9'));
    key(&mut state, KeyCode::Up);
    assert_eq!(state.line.value(), "9.1 101");
    key(&mut state, KeyCode::Up);
    assert_eq!(state.line.value(), "13.8 062");
    key(&mut state, KeyCode::Down);
    key(&mut state, KeyCode::Down);
    assert_eq!(state.line.value(), "");
}

#[test]
fn a_picture_is_asked_for_once_and_again_when_its_scale_changes() {
    let mut state = state();
    let Some(Command::Solve { asked, sightings }) = state.first_question() else { panic!() };
    let press = |state: &mut State, c: char| match key(state, KeyCode::Char(c)).as_slice() {
        [Command::Draw(ask)] => Some((ask.frame.scale.nautical_miles(), ask.stand)),
        [] => None,
        other => panic!("{other:?}"),
    };
    // Nothing is drawn of a place that may be another as soon as the fix is known.
    assert_eq!(press(&mut state, '/'), None);
    let answer = Box::new(crate::screen::solve(&CHART, &sightings));
    let commands = update(&mut state, Message::Answered { asked, answer });
    let [Command::Record { .. }, Command::Draw(ask)] = commands.as_slice() else {
        panic!("{commands:?}")
    };
    // The smallest scale of the set that holds the farthest contact, at 25.7 NM.
    assert!((ask.frame.scale.nautical_miles() - 50.0).abs() < 1e-9);
    assert!(update(&mut state, Message::Resized(Size::new(90, 30))).is_empty());
    assert_eq!(press(&mut state, '<').map(|(miles, _)| miles.round()), Some(25.0));
    // In the chart's place, so do the keys of its zoom.
    assert_eq!(press(&mut state, '-').map(|(miles, _)| miles.round()), Some(50.0));
    assert_eq!(press(&mut state, '^'), None, "only the drawing of it turns");
    assert_eq!(press(&mut state, '/'), None);
    assert!(!state.scope.open);
}

/// With nothing measured and own place as given: the scale of the first picture, nautical miles.
fn first_scale(place: &str, landfall: Option<&str>) -> (State, f64) {
    let mut sightings = state().watch.sightings().unwrap().with_contacts(Vec::new());
    sightings.reckoning.position = place.parse().unwrap();
    sightings.landfall = landfall.map(|place| place.parse().unwrap());
    let mut state = state();
    state.watch = Watch::from_sightings(&sightings);
    let Some(Command::Solve { asked, sightings }) = state.first_question() else { panic!() };
    let answer = crate::screen::solve(&CHART, &sightings);
    update(&mut state, Message::Answered { asked, answer: Box::new(answer) });
    let commands = key(&mut state, KeyCode::Char('/'));
    let [Command::Draw(ask)] = commands.as_slice() else { panic!("{commands:?}") };
    let scale = ask.frame.scale.nautical_miles();
    (state, scale)
}

#[test]
fn the_first_picture_is_on_the_scale_of_the_land_that_should_show() {
    let place = "38 12.9 S, 21 30.5 W";
    let (mut state, scale) = first_scale(place, None);
    let land = state.answer().unwrap().expected.nearest_land().unwrap().range.nautical_miles();
    let scales = state.watch.radar().set.scales_nm.clone();
    let holds = scales.iter().copied().find(|scale| *scale >= land).unwrap();
    assert!(land < 12.0 && (scale - holds).abs() < 1e-9, "{land} {scale}");
    // The keys go on from there.
    let commands = key(&mut state, KeyCode::Char('>'));
    let [Command::Draw(ask)] = commands.as_slice() else { panic!("{commands:?}") };
    let next = scales.iter().copied().find(|scale| *scale > holds).unwrap();
    assert!((ask.frame.scale.nautical_miles() - next).abs() < 1e-9);
    // The planned landfall, 19.2 NM off, is held too; one out of sight is not.
    let (_, scale) = first_scale(place, Some("38 01.0 S, 21 11.4 W"));
    assert!((scale - 25.0).abs() < 1e-9, "{scale}");
    let (_, scale) = first_scale(place, Some("37 00 S, 21 11.4 W"));
    assert!((scale - holds).abs() < 1e-9, "{scale}");
    // Where no land should show, the largest shows most.
    let (_, scale) = first_scale("30 00 S, 30 00 W", None);
    assert!((scale - state.watch.radar().set.greatest_scale().nautical_miles()).abs() < 1e-9);
}

#[test]
fn with_nothing_measured_what_is_shown_is_shown_from_the_reckoning() {
    let sightings = state().watch.sightings().unwrap().with_contacts(Vec::new());
    let answer = crate::screen::solve(&CHART, &sightings);
    assert!(answer.fix.most_probable.is_some());
    assert_eq!(answer.stand().1, crate::screen::work::Stand::Reckoning);
}

/// A display by the clock, minutes after its fix, and the answer to its question.
fn live(minutes: i64) -> State {
    let mut state = state();
    let Some(Command::Solve { asked, sightings }) = state.first_question() else { panic!() };
    let answer = crate::screen::solve(&CHART, &sightings);
    let time = answer.fix.time + SignedDuration::from_mins(minutes);
    update(&mut state, Message::Answered { asked, answer: Box::new(answer) });
    update(&mut state, Message::Time(time));
    state
}

#[test]
fn more_is_looked_along_as_the_run_goes_on_and_what_was_told_stands_meanwhile() {
    let mut state = live(1);
    let run = state.run.clone().unwrap();
    assert!((run.length.nautical_miles() - 60.0).abs() < 1e-9);
    update(&mut state, Message::Ahead(Box::new(run.clone()), Coming::Told(Arc::default())));
    // At 165 kn 20 NM are run in seven minutes and a quarter.
    let later = state.wall + SignedDuration::from_mins(8);
    let asked = update(&mut state, Message::Time(later))
        .into_iter()
        .find_map(|command| if let Command::Look(run) = command { Some(run) } else { None });
    let asked = asked.unwrap();
    assert!((asked.length.nautical_miles() - 80.0).abs() < 1e-9);
    assert_eq!((asked.time, asked.plan.from), (run.time, run.plan.from));
    assert!(matches!(state.due, Some(Coming::Told(_))));
    update(&mut state, Message::Ahead(asked, Coming::Failed));
    assert!(matches!(state.due, Some(Coming::Failed)));
}

#[test]
fn the_fix_is_carried_on_and_what_should_show_is_asked_from_there() {
    use crate::screen::work::Stand;
    let mut state = live(7);
    let fix = state.answer().unwrap().fix.clone();
    let carried = state.carried().unwrap();
    assert_eq!((carried.stand, carried.from), (Stand::Fix, fix.time));
    // Seven minutes at 165 kn: 19.25 NM; the fix stays where it was, and is surer.
    let run = crate::geodesy::distance(fix.position.unwrap(), carried.position);
    assert!((run.nautical_miles() - 19.25).abs() < 0.01, "{run:?}");
    assert!(
        carried.covariance.axes().0 > fix.covariance.unwrap().axes().0
            && carried.covariance.axes().1 > fix.covariance.unwrap().axes().1
    );
    let [full, short, least] = wording::carried_lines(&carried);
    assert!(full.contains("by track and speed, 7 min from the fix of"), "{full}");
    assert!(short.starts_with("EP now ") && short.ends_with("; 7 min from fix"), "{short}");
    assert!(short.chars().count() < 80 && least.starts_with("EP now "), "{short}");
    // Asked once, and again when it has gone on far enough.
    let asked = |state: &mut State, seconds: i64| {
        let time = state.wall + SignedDuration::from_secs(seconds);
        let commands = update(state, Message::Time(time));
        commands.into_iter().find_map(|command| match command {
            Command::Expect(outlook) => Some(outlook),
            _ => None,
        })
    };
    assert!(state.outlook.is_some());
    assert!(asked(&mut state, 1).is_none());
    let outlook = asked(&mut state, 20).unwrap();
    assert_eq!(outlook.vantage.position, state.carried().unwrap().position);
    let shows = crate::screen::expected(&CHART, &outlook.vantage, &outlook.set);
    assert!(state.shown_from().is_none());
    // Where that failed the ground ahead is told all the same.
    let ahead = Some(crate::watch::alarm::GroundAhead::FAILED);
    update(&mut state, Message::Shows(outlook.clone(), None, ahead));
    assert!(state.shown_from().is_none() && state.ground == ahead);
    update(&mut state, Message::Shows(outlook, Some(Box::new(shows)), None));
    assert!(state.shown_from().is_some() && state.ground.is_none());
    // What answers an older set of contacts is shown no more.
    enter_line(&mut state, "13.8 062");
    update(&mut state, kept(1));
    assert!(state.shown_from().is_none() && state.carried().is_none());
}

#[test]
fn a_place_that_is_not_carried_is_told_as_it_stood_and_why() {
    let text = include_str!("../../../charts-sample/landfall.toml");
    // Without a track every contact is of the reckoning's time.
    let start = text.lines().find(|line| line.starts_with("time"));
    let gone = ["track_deg", "speed_kn", "time"];
    let still: Vec<&str> = text
        .lines()
        .filter(|line| Some(*line) == start || !gone.iter().any(|key| line.starts_with(key)))
        .collect();
    let sightings = Sightings::parse(&still.join("\n"), "landfall", Path::new("")).unwrap();
    let watch = Watch::from_sightings(&sightings);
    assert!(watch.reckoning().unwrap().track.is_none());
    let answer = crate::screen::solve(&CHART, &sightings);
    let now = answer.fix.time + SignedDuration::from_mins(7);
    assert!(answer.carried(&watch, now).is_none());
    assert_eq!(
        answer.why_not_carried(&watch, now),
        "no track and speed to carry it by: type them, like trk 074 165"
    );
    let keeping = Keeping::Ready(path());
    let mut state = State::new(Arc::clone(&CHART), watch, keeping, Theme::new(Colours::None));
    update(&mut state, Message::Time(now));
    update(&mut state, Message::Resized(Size::new(80, 24)));
    assert!(state.here(now).is_none());
    let (time, position, _) = state.left_behind().unwrap();
    assert_eq!((time, position), (sightings.reckoning.time, sightings.reckoning.position));
    // With track and speed: a clock before the place, and one of the day after.
    let moving = live(7);
    let (answer, watch) = (moving.answer().unwrap(), &moving.watch);
    let told = |hours| {
        let now = answer.fix.time + SignedDuration::from_hours(hours);
        answer.why_not_carried(watch, now)
    };
    assert!(told(-1).ends_with("it is carried on, never back"), "{}", told(-1));
    assert!(told(30).contains("more than 24 h ago: type where you think you are"), "{}", told(30));
}

#[test]
fn a_clock_that_is_held_carries_nothing() {
    let mut state = state();
    let Some(Command::Solve { asked, sightings }) = state.first_question() else { panic!() };
    let answer = Box::new(crate::screen::solve(&CHART, &sightings));
    update(&mut state, Message::Answered { asked, answer });
    assert!(state.carried().is_none() && !state.tells_carried());
}

#[test]
fn a_question_that_the_worker_failed_on_is_not_said_to_be_worked_out() {
    let mut state = state();
    let first = |state: &State| {
        let mut terminal = Terminal::new(TestBackend::new(80, 24)).unwrap();
        terminal.draw(|frame| crate::screen::view(state, frame)).unwrap();
        let buffer = terminal.backend().buffer();
        (0..80).map(|x| buffer[(x, 0)].symbol()).collect::<String>()
    };
    state.first_question();
    assert!(first(&state).starts_with(" WORKING "), "{}", first(&state));
    let asked = state.asked;
    update(&mut state, Message::Failed { asked });
    // Also once the line below says something else.
    key(&mut state, KeyCode::Char('9'));
    let told = first(&state);
    assert!(told.starts_with(" FAILED  the program failed on these contacts"), "{told}");
    state.first_question();
    assert!(first(&state).starts_with(" WORKING "), "{}", first(&state));
}

mod refused;
mod tools;
mod turned;
