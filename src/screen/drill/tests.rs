use std::sync::LazyLock;

use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Size;

use super::*;
use crate::drill::{Declaration, score};
use crate::screen::state::{Command, Echo, Message};
use crate::screen::theme::Colours;
use crate::screen::{update, view};

static CHART: LazyLock<Arc<Chart>> = LazyLock::new(|| Arc::new(Chart::sample().unwrap()));

const SEED: u64 = 3;

/// The machine's clock as the display opens.
fn real(seconds: i64) -> Timestamp {
    "2026-06-01T12:00:00Z".parse::<Timestamp>().unwrap() + SignedDuration::from_secs(seconds)
}

/// Lesson 3, its first page read through and closed.
fn begun() -> State {
    let mut state = opened(3);
    key(&mut state, KeyCode::Enter);
    state
}

fn opened(lesson: usize) -> State {
    let exercise = Lesson::of_number(lesson).unwrap().exercise(SEED).unwrap();
    let theme = Theme::new(Colours::None);
    let mut state = State::practising(Arc::clone(&CHART), exercise, "drill.txt".into(), theme);
    update(&mut state, Message::Time(real(0)));
    update(&mut state, Message::Resized(Size::new(80, 24)));
    state
}

fn key(state: &mut State, code: KeyCode) -> Vec<Command> {
    update(state, Message::Key(KeyEvent::new(code, KeyModifiers::NONE)))
}

fn typed(state: &mut State, line: &str) {
    line.chars().for_each(|c| assert!(key(state, KeyCode::Char(c)).is_empty()));
}

fn enter_line(state: &mut State, line: &str) -> Vec<Command> {
    typed(state, line);
    key(state, KeyCode::Enter)
}

fn practice(state: &State) -> &Practice {
    state.practice.as_ref().unwrap()
}

fn shown(state: &State) -> String {
    let size = state.size;
    let mut terminal = Terminal::new(TestBackend::new(size.width, size.height)).unwrap();
    terminal.draw(|frame| view(state, frame)).unwrap();
    let buffer = terminal.backend().buffer();
    let line = |y| (0..size.width).map(|x| buffer[(x, y)].symbol()).collect::<String>() + "\n";
    (0..size.height).map(line).collect()
}

/// Declares, and has it scored.
fn scored(state: &mut State, line: &str) -> Vec<Command> {
    let commands = enter_line(state, line);
    let answer = commands.into_iter().find_map(|command| match command {
        Command::Score(answer) => Some(answer),
        _ => None,
    });
    let score = score(&CHART, &practice(state).exercise, &answer.unwrap());
    update(state, Message::Scored(Box::new(score)))
}

#[test]
fn the_clock_stands_until_the_task_is_read_and_then_runs_with_the_machines() {
    let mut state = opened(3);
    let first = practice(&state).exercise.first;
    assert!(shown(&state).contains("more than forty miles out"));
    update(&mut state, Message::Time(real(40)));
    assert_eq!(state.wall, first);
    key(&mut state, KeyCode::Enter);
    update(&mut state, Message::Time(real(65)));
    assert_eq!(state.wall, first + SignedDuration::from_secs(25));
    assert!(!shown(&state).contains("more than forty miles out"));
}

#[test]
fn every_ten_seconds_the_picture_of_the_truth_is_asked_for_and_nothing_else() {
    let mut state = opened(3);
    let first = practice(&state).exercise.first;
    let mut looks = Vec::new();
    let mut commands = key(&mut state, KeyCode::Enter);
    for seconds in 0..30 {
        commands.extend(update(&mut state, Message::Time(real(seconds))));
    }
    commands.extend(enter_line(&mut state, "44.1 080 Gannet Head"));
    assert!(state.first_question().is_none() && state.answer().is_none());
    for command in commands {
        let Command::Draw(ask) = command else { panic!("{command:?}") };
        looks.push(ask.look.unwrap());
        assert_eq!(ask.vantage.position, practice(&state).exercise.reckoning.position);
    }
    // The first was asked for as the display opened.
    let at = |number: u64| Look {
        time: first + SignedDuration::from_secs(10 * number.cast_signed()),
        number,
    };
    assert_eq!(looks, [at(1), at(2)]);
    let told = shown(&state);
    assert!(told.starts_with(" DRILL  lesson 3: Inland ground shows first"), "{told}");
    assert!(!told.contains("PREDICTED") && !told.contains("TRUE"), "{told}");
    assert!(state.keeping == Keeping::Nowhere && told.contains("a drill: no log"), "{told}");
}

#[test]
fn a_contact_without_a_time_was_read_off_the_picture_that_shows() {
    let mut state = begun();
    update(&mut state, Message::Time(real(12)));
    let ask = state.scope.asked.clone().unwrap();
    let look = ask.look.unwrap();
    let exercise = Arc::clone(&practice(&state).exercise);
    let scan = exercise.look(&CHART, look.time, 5.0, look.number).unwrap();
    update(&mut state, Message::Drawn(Box::new(ask), Ok(Arc::new(scan.picture))));
    update(&mut state, Message::Time(real(19)));
    assert!(
        shown(&state)
            .contains(&format!("SCOPE {} north up", crate::watch::words::clock(look.time)))
    );
    enter_line(&mut state, "44.1 080");
    enter_line(&mut state, "45 090 @0340");
    let times: Vec<_> = state.watch.contacts().iter().map(|held| held.contact.time).collect();
    assert_eq!(times, [look.time, "2031-03-09T03:40:00Z".parse().unwrap()]);
    assert!(matches!(&state.echo, Echo::Taken(said) if said.starts_with("contact B")));
    enter_line(&mut state, "undo");
    assert_eq!(state.watch.contacts().len(), 1);
}

#[test]
fn hints_come_one_by_one_and_each_is_counted() {
    let mut state = begun();
    let hints = practice(&state).lesson().unwrap().text.hints;
    for (number, hint) in hints.iter().enumerate() {
        typed(&mut state, "hint");
        let Echo::Understood(said) = &state.echo else { panic!("{:?}", state.echo) };
        assert_eq!(*said, format!("hint {} of 3: 5 points off the score", number + 1));
        assert_eq!(practice(&state).hints, number);
        key(&mut state, KeyCode::Enter);
        assert_eq!(practice(&state).hints, number + 1);
        let start: String = hint.split(' ').take(6).collect::<Vec<_>>().join(" ");
        assert!(shown(&state).contains(&start), "{}", shown(&state));
        key(&mut state, KeyCode::Esc);
    }
    enter_line(&mut state, "hint");
    assert!(matches!(&state.echo, Echo::Refused(why) if why.contains("task reads them again")));
    assert_eq!(practice(&state).hints, 3);
    let commands = enter_line(&mut state, "declare cannot-say");
    let Some(Command::Score(answer)) = commands.first() else { panic!("{commands:?}") };
    assert_eq!(answer.hints, 3);
    let score = score(&CHART, &practice(&state).exercise, answer);
    let part = score.parts.iter().find(|part| part.what == "3 hints").unwrap();
    assert!((part.points + 15.0).abs() < 1e-9);
}

#[test]
fn a_declaration_is_told_before_enter_and_ends_the_exercise() {
    let mut state = begun();
    enter_line(&mut state, "score");
    assert!(matches!(&state.echo, Echo::Refused(why) if why.contains("nothing is declared yet")));
    typed(&mut state, "declare 38 12.9 S, 21 30.5 W sigma 0.5");
    assert!(
        matches!(&state.echo, Echo::Unfinished(why) if why.contains("no word on the landfall"))
    );
    assert!(key(&mut state, KeyCode::Enter).is_empty());
    assert!(matches!(state.echo, Echo::Refused(_)) && practice(&state).ended.is_none());
    key(&mut state, KeyCode::Esc);
    update(&mut state, Message::Time(real(33)));
    typed(&mut state, "declare 38 12.9 S, 21 30.5 W sigma 0.5 denied");
    let Echo::Understood(said) = state.echo.clone() else { panic!("{:?}", state.echo) };
    assert_eq!(
        said,
        "declares 38°12.90'S 021°30.50'W, sigma 0.5 NM, landfall denied; Enter ends the exercise"
    );
    let before = state.wall;
    let commands = scored(&mut state, "");
    assert!(commands.iter().any(|it| matches!(it, Command::KeepScore(kept) if kept.seed == SEED)));
    let ended = practice(&state).ended.unwrap();
    assert_eq!((ended.time, ended.landfall), (Some(before), Declaration::Denied));
    let score = practice(&state).score().unwrap().clone();
    let told = shown(&state);
    assert!(told.contains(&format!("SCORE {:.0} of 100", score.score)), "{told}");
    // The clock stands, and nothing more is taken.
    update(&mut state, Message::Time(real(90)));
    assert_eq!(state.wall, before);
    key(&mut state, KeyCode::Esc);
    enter_line(&mut state, "17.3 042");
    assert!(matches!(&state.echo, Echo::Refused(why) if why.contains("the exercise is over")));
    assert!(state.watch.contacts().is_empty());
    key(&mut state, KeyCode::Esc);
    let told = shown(&state);
    assert!(told.contains("LANDFALL  you declared denied"), "{told}");
    assert!(told.contains("TRUE") && told.contains("YOURS"), "{told}");
    assert_eq!(stand(&state), Some(score.truth));
}

#[test]
fn a_disk_that_refuses_loses_nothing_from_the_screen() {
    let mut state = begun();
    state.size = Size::new(120, 50);
    scored(&mut state, "declare cannot-say");
    key(&mut state, KeyCode::Esc);
    key(&mut state, KeyCode::Char('q'));
    assert!(!state.quit, "the score is on its way to the disk");
    update(&mut state, Message::ScoreKept(Err("drill.txt: disk full".to_owned())));
    assert!(state.quit);
    enter_line(&mut state, "score");
    let told = shown(&state);
    assert!(told.contains("NOT kept: drill.txt: disk full") && told.contains("SCORE"), "{told}");
}

#[test]
fn a_landfall_of_its_own_has_no_hints_and_says_so() {
    let mut state = begun();
    let mut exercise = practice(&state).exercise.as_ref().clone();
    exercise.lesson = None;
    state.practice = Some(Practice::new(exercise, "drill.txt".into()));
    assert!(shown(&state).contains("You come in from the sea"));
    key(&mut state, KeyCode::Enter);
    enter_line(&mut state, "hint");
    assert!(matches!(&state.echo, Echo::Refused(why) if why.contains("no hints")));
}

#[test]
fn after_the_score_any_key_shows_the_chart_and_the_ring_is_put_away() {
    let mut state = begun();
    update(&mut state, Message::Resized(Size::new(120, 50)));
    let look = state.scope.asked.clone().unwrap();
    let exercise = Arc::clone(&practice(&state).exercise);
    let scan = exercise.look(&CHART, look.look.unwrap().time, 5.0, 1).unwrap();
    update(&mut state, Message::Drawn(Box::new(look), Ok(Arc::new(scan.picture))));
    key(&mut state, KeyCode::Char(']'));
    assert!(state.scope.open && shown(&state).contains("Enter takes it"), "{}", shown(&state));
    scored(&mut state, "declare cannot-say");
    assert!(shown(&state).contains("Any key: the chart, with TRUE"), "{}", shown(&state));
    key(&mut state, KeyCode::Enter);
    let told = shown(&state);
    assert!(told.contains("TRUE") && !told.contains("SCOPE"), "{told}");
    // The picture is there to be looked at again, and nothing to be taken off it.
    key(&mut state, KeyCode::Char('/'));
    assert!(!state.scope.marker.is_out() && !shown(&state).contains("Enter takes it"));
    key(&mut state, KeyCode::Char(']'));
    assert!(!shown(&state).contains("Enter takes it"), "{}", shown(&state));
}
