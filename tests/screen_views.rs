//! The whole screen, drawn without a terminal, for each verdict and state an operator meets.
//!
//! The answers are made here by hand, so that these pictures tell of the drawing alone.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod screen_answers;

use std::path::Path;
use std::sync::{Arc, LazyLock};

use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::drill::{Lesson, score};
use foreland::geodesy::LocalPlane;
use foreland::paint::{Conditions, picture};
use foreland::screen::{
    Answer, Colours, Command, Drawing, Echo, Keeping, Lead, Message, State, Theme, Tour, update,
    view,
};
use foreland::units::GroundRange;
use foreland::watch::Watch;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Size;

use screen_answers::{ambiguous, answer, at_odds, expected, fixed, place, too_few};

static CHART: LazyLock<Arc<Chart>> = LazyLock::new(|| Arc::new(Chart::sample().unwrap()));

fn sightings() -> Sightings {
    let text = include_str!("../charts-sample/landfall.toml");
    Sightings::parse(text, "landfall.toml", Path::new("")).unwrap()
}

fn miles(value: f64) -> GroundRange {
    GroundRange::from_nautical_miles(value).unwrap()
}

fn display(sightings: &Sightings, size: (u16, u16)) -> State {
    let watch = Watch::from_sightings(sightings);
    let keeping = Keeping::In("watch.log".into(), 3);
    let mut state = State::new(Arc::clone(&CHART), watch, keeping, Theme::new(Colours::None));
    let now = "2026-06-01T12:00:00Z".parse().unwrap();
    update(&mut state, Message::Time(now));
    update(&mut state, Message::Resized(Size::new(size.0, size.1)));
    state
}

fn answered(mut state: State, answer: Answer) -> State {
    let asked = state.asked;
    update(&mut state, Message::Answered { asked, answer: Box::new(answer) });
    state
}

fn press(state: &mut State, code: KeyCode) {
    update(state, Message::Key(KeyEvent::new(code, KeyModifiers::NONE)));
}

fn typed(state: &mut State, text: &str) {
    text.chars().for_each(|c| press(state, KeyCode::Char(c)));
}

fn drawn(state: &State) -> String {
    let mut terminal =
        Terminal::new(TestBackend::new(state.size.width, state.size.height)).unwrap();
    terminal.draw(|frame| view(state, frame)).unwrap();
    let buffer = terminal.backend().buffer().clone();
    let lines = (0..state.size.height).map(|y| {
        let line: String = (0..state.size.width).map(|x| buffer[(x, y)].symbol()).collect();
        line.trim_end().to_owned()
    });
    lines.collect::<Vec<_>>().join("\n")
}

const SMALL: (u16, u16) = (80, 24);
const LARGE: (u16, u16) = (160, 50);

#[test]
fn in_ascii_nothing_else_is_drawn() {
    let sightings = sightings();
    for (name, size) in [("ascii_80x24", SMALL), ("ascii_120x40", (120, 40))] {
        let mut state = answered(display(&sightings, size), answer(fixed(&sightings), &sightings));
        state.theme = state.theme.drawn(Drawing::Ascii);
        for open in [KeyCode::Char('?'), KeyCode::Esc, KeyCode::Char(':'), KeyCode::Esc] {
            assert!(drawn(&state).is_ascii());
            press(&mut state, open);
        }
        insta::assert_snapshot!(name, drawn(&state));
    }
}

#[test]
fn own_track_up_and_the_list_of_all() {
    let sightings = sightings();
    let mut state = answered(display(&sightings, SMALL), answer(fixed(&sightings), &sightings));
    press(&mut state, KeyCode::Char('^'));
    insta::assert_snapshot!("track_up_80x24", drawn(&state));
    press(&mut state, KeyCode::Char(':'));
    typed(&mut state, "own");
    insta::assert_snapshot!("all_80x24", drawn(&state));
}

#[test]
fn fixed_on_a_small_and_a_large_screen() {
    let sightings = sightings();
    for (name, size) in [
        ("fixed_80x24", SMALL),
        ("fixed_160x50", LARGE),
        ("fixed_200x60", (200, 60)),
        ("fixed_80x70", (80, 70)),
    ] {
        let state = answered(display(&sightings, size), answer(fixed(&sightings), &sightings));
        insta::assert_snapshot!(name, drawn(&state));
    }
}

/// Close up, the 50 % ellipse lies within the 95 % one.
#[test]
fn both_ellipses_close_up() {
    let sightings = sightings();
    let mut state = answered(display(&sightings, (120, 40)), answer(fixed(&sightings), &sightings));
    state.focus.centre_on(fixed(&sightings).position.unwrap());
    (0..12).for_each(|_| press(&mut state, KeyCode::Char('+')));
    insta::assert_snapshot!("ellipses_120x40", drawn(&state));
}

/// Seven minutes after the fix, by a clock that runs.
fn later(mut state: State) -> State {
    let commands = update(&mut state, Message::Time("2031-03-09T03:49:55Z".parse().unwrap()));
    let Some(Command::Expect(from)) =
        commands.into_iter().find(|c| matches!(c, Command::Expect(_)))
    else {
        panic!("not asked what should show from there")
    };
    update(&mut state, Message::Shows(from, Some(Box::new(expected())), None));
    state
}

#[test]
fn a_fix_carried_on_is_no_fix_on_a_small_and_a_large_screen() {
    let sightings = sightings();
    for (name, size) in [("carried_80x24", SMALL), ("carried_160x50", LARGE)] {
        let mut state =
            later(answered(display(&sightings, size), answer(fixed(&sightings), &sightings)));
        press(&mut state, KeyCode::Char(' '));
        let told = drawn(&state);
        // The fix is said for its own time; what is by now is called nowhere a fix.
        assert!(told.lines().next().unwrap().starts_with(" FIXED  38°15.10'S 021°24.10'W at"));
        assert!(told.lines().nth(1).unwrap().trim_start().starts_with("EP now"), "{told}");
        assert!(told.contains("from EP 0349") && told.contains("FIX 0342"), "{told}");
        insta::assert_snapshot!(name, told);
    }
}

#[test]
fn the_table_says_what_feeds_no_fix() {
    use foreland::watch::log::{ContactEntry, What};
    let sightings = sightings();
    let sight = |label: &str, time: &str, again: Option<&str>| {
        What::Contact(ContactEntry {
            label: label.to_owned(),
            time: time.parse().ok(),
            range_nm: Some(20.0),
            bearing_deg: Some(190.0),
            again: again.map(str::to_owned),
            ..ContactEntry::default()
        })
    };
    for size in [SMALL, LARGE] {
        let mut state = display(&sightings, size);
        state.watch.apply(&sight("F", "2031-03-09T03:41:00Z", None)).unwrap();
        state.watch.apply(&sight("F2", "2031-03-09T03:47:00Z", Some("F"))).unwrap();
        let told = drawn(&answered(state, answer(fixed(&sightings), &sightings)));
        assert!(told.contains("moves: feeds no fix"), "{told}");
        assert!(told.contains("F again: feeds no fix"), "{told}");
    }
}

#[test]
fn a_bearing_off_the_heading_of_before_a_turn_is_pointed_at() {
    use foreland::watch::log::{ContactEntry, What};
    let sightings = sightings();
    let time = "2031-03-09T03:45:00Z".parse().ok();
    let contact = ContactEntry {
        label: "F".to_owned(),
        time,
        range_nm: Some(9.0),
        bearing_deg: Some(318.0),
        bearing_kind: Some("relative".to_owned()),
        ..ContactEntry::default()
    };
    for turned in [false, true] {
        let mut state = display(&sightings, LARGE);
        if turned {
            state.watch.apply(&What::Track { track_deg: 110.0, speed_kn: 165.0, time }).unwrap();
        }
        state.watch.apply(&What::Contact(contact.clone())).unwrap();
        let told = drawn(&answered(state, answer(fixed(&sightings), &sightings)));
        assert_eq!(told.contains("318°R!"), turned, "{told}");
        assert_eq!(told.contains("! F is laid on a heading of before the turn"), turned, "{told}");
    }
}

#[test]
fn ambiguous_on_a_small_and_a_large_screen() {
    let sightings = sightings();
    for (name, size) in [("ambiguous_80x24", SMALL), ("ambiguous_160x50", LARGE)] {
        let mut state =
            answered(display(&sightings, size), answer(ambiguous(&sightings), &sightings));
        press(&mut state, KeyCode::Char(' '));
        press(&mut state, KeyCode::Char(' '));
        insta::assert_snapshot!(name, drawn(&state));
    }
}

#[test]
fn too_few_on_a_small_and_a_large_screen() {
    let mut sightings = sightings();
    sightings.contacts.truncate(1);
    for (name, size) in [("too_few_80x24", SMALL), ("too_few_160x50", LARGE)] {
        let mut state =
            answered(display(&sightings, size), answer(too_few(&sightings), &sightings));
        press(&mut state, KeyCode::Char(' '));
        insta::assert_snapshot!(name, drawn(&state));
    }
}

#[test]
fn at_odds_on_a_small_screen() {
    let sightings = sightings();
    let state = answered(display(&sightings, SMALL), answer(at_odds(&sightings), &sightings));
    insta::assert_snapshot!("at_odds_80x24", drawn(&state));
}

#[test]
fn nothing_entered_yet() {
    let watch = Watch::blank(sightings().radar, sightings().own.height);
    let keeping = Keeping::Ready("watch.log".into());
    let theme = Theme::new(Colours::None);
    for (name, size) in [("empty_80x24", SMALL), ("empty_160x50", LARGE)] {
        let mut state = State::new(Arc::clone(&CHART), watch.clone(), keeping.clone(), theme);
        let now = "2026-06-01T12:00:00Z".parse().unwrap();
        update(&mut state, Message::Time(now));
        update(&mut state, Message::Resized(Size::new(size.0, size.1)));
        insta::assert_snapshot!(name, drawn(&state));
    }
}

#[test]
fn an_entry_being_typed() {
    let sightings = sightings();
    let mut state = answered(display(&sightings, SMALL), answer(fixed(&sightings), &sightings));
    typed(&mut state, "13.8 062m Corb");
    insta::assert_snapshot!("typing_80x24", drawn(&state));
    press(&mut state, KeyCode::Esc);
    typed(&mut state, "13.8 62");
    let told = drawn(&state);
    let foot: Vec<&str> = told.lines().rev().take(4).collect();
    insta::assert_snapshot!(
        "typing_unfinished",
        foot.into_iter().rev().collect::<Vec<_>>().join("\n")
    );
}

#[test]
fn the_tour_over_the_entry_line() {
    let text = include_str!("../charts-sample/tour.toml");
    let lead = Lead::new("tour", text, &Sightings::parse(text, "tour", Path::new("")).unwrap());
    let sightings = lead.start.sightings().unwrap();
    let mut state = answered(display(&sightings, SMALL), answer(too_few(&sightings), &sightings));
    state.tour = Tour::begun(lead, None);
    insta::assert_snapshot!("tour_first_80x24", drawn(&state));
    update(&mut state, Message::Key(KeyEvent::new(KeyCode::Char('n'), KeyModifiers::CONTROL)));
    typed(&mut state, "12.0 057");
    let told = drawn(&state);
    // Verdict, entry line with its echo and caution stand as they do without it.
    assert!(told.starts_with(" NO CONTACT "), "{told}");
    assert!(told.contains("ENTRY 12.0 057") && told.contains("= contact A: 12 NM, 057° true"));
    assert!(told.ends_with("safety altitudes rule."));
    insta::assert_snapshot!("tour_slip_80x24", told);
}

#[test]
fn help_over_the_display() {
    let sightings = sightings();
    for (name, size) in [("help_80x24", SMALL), ("help_160x50", LARGE)] {
        let mut state = answered(display(&sightings, size), answer(fixed(&sightings), &sightings));
        press(&mut state, KeyCode::Char('?'));
        insta::assert_snapshot!(name, drawn(&state));
    }
}

#[test]
fn a_screen_too_small_says_so() {
    let sightings = sightings();
    let state = answered(display(&sightings, (60, 12)), answer(fixed(&sightings), &sightings));
    insta::assert_snapshot!("too_small_60x12", drawn(&state));
}

#[test]
fn no_size_and_no_zoom_panics_and_the_verdict_always_stands() {
    let sightings = sightings();
    let mut state = answered(display(&sightings, SMALL), answer(fixed(&sightings), &sightings));
    for (width, height) in [(1, 1), (72, 20), (80, 44), (99, 60), (120, 40), (200, 60), (300, 90)] {
        update(&mut state, Message::Resized(Size::new(width, height)));
        for code in [KeyCode::PageUp, KeyCode::PageDown, KeyCode::Left, KeyCode::Up] {
            for _ in 0..12 {
                press(&mut state, code);
            }
            let told = drawn(&state);
            assert!(width < 72 || told.starts_with(" FIXED  38°15.10'S"), "{width}x{height}");
        }
        press(&mut state, KeyCode::Home);
    }
}

/// Land is where the chart says it is: stipple stands on land only, whatever the zoom.
#[test]
fn stipple_stands_on_land_only() {
    let sightings = sightings();
    let mut state = display(&sightings, LARGE);
    for zoom in 0..5 {
        let (port, raster) = state.shore.clone().unwrap();
        let mut land = 0;
        for row in 0..raster.rows() {
            for column in 0..raster.columns() {
                let Some(dot) = raster.land_dot(column, row) else { continue };
                land += 1;
                let at = port.position(dot);
                assert_eq!(CHART.coast().is_land(at), Some(true), "zoom {zoom} at {at}");
            }
        }
        assert!(land > 50, "zoom {zoom}: {land}");
        press(&mut state, KeyCode::PageDown);
    }
    let plane = LocalPlane::new(place());
    assert!(plane.to_plane(state.focus.centre).polar().0.nautical_miles() < 100.0);
}

/// A name made from where a mark lies can be typed only if it is shown whole.
#[test]
fn a_mark_without_a_name_is_shown_by_all_of_what_it_is_called() {
    let sightings = sightings();
    let marks = CHART.marks().iter();
    let (id, mark) = marks.max_by_key(|(_, mark)| mark.name.chars().count()).unwrap();
    assert!(!mark.named && mark.name.chars().count() > 20, "{}", mark.name);
    let mut answer = answer(fixed(&sightings), &sightings);
    answer.expected.marks.truncate(2);
    answer.expected.marks[1].mark = id;
    let mut state = answered(display(&sightings, SMALL), answer);
    press(&mut state, KeyCode::Char(' '));
    let told = drawn(&state);
    let at = told.lines().position(|line| line.contains(&mark.name)).unwrap();
    let figures = told.lines().nth(at + 1).unwrap();
    assert!(figures.ends_with(" %") && !told.contains("more,"), "{told}");
    typed(&mut state, &format!("17.3 042 {}", mark.name));
    let Echo::Understood(said) = &state.echo else { panic!("{:?}", state.echo) };
    assert!(said.contains(&mark.name), "{said}");
}

/// Opens the radar's picture and draws it as the worker does.
fn opened(mut state: State) -> State {
    let key = KeyEvent::new(KeyCode::Char('/'), KeyModifiers::NONE);
    let commands = update(&mut state, Message::Key(key));
    let Some(Command::Draw(ask)) = commands.into_iter().next() else { panic!("no picture asked") };
    let conditions = Conditions::default();
    let drawn = picture(&CHART, &ask.vantage, &ask.set, &conditions, &ask.frame).map(Arc::new);
    update(&mut state, Message::Drawn(ask, drawn));
    state
}

#[test]
fn the_radar_s_picture_in_the_chart_s_place_and_beside_it() {
    let sightings = sightings();
    for size in [(80, 24), (160, 50)] {
        let state =
            opened(answered(display(&sightings, size), answer(fixed(&sightings), &sightings)));
        insta::assert_snapshot!(format!("picture_{}x{}", size.0, size.1), drawn(&state));
    }
}

#[test]
fn the_range_trace_of_two_lobes() {
    let text = include_str!("../charts-sample/landfall.toml").replace("\"patrol\"", "\"metric\"");
    let sightings = Sightings::parse(&text, "landfall.toml", Path::new("")).unwrap();
    let state =
        opened(answered(display(&sightings, (80, 30)), answer(fixed(&sightings), &sightings)));
    insta::assert_snapshot!("trace_80x30", drawn(&state));
    // Without a heading it says what is wanting.
    let told = |line: &&str| !line.starts_with("heading");
    let text = text.lines().filter(told).collect::<Vec<_>>().join("\n");
    let text = text.replace("bearing_kind = \"relative\"", "bearing_kind = \"true\"");
    let sightings = Sightings::parse(&text, "landfall.toml", Path::new("")).unwrap();
    let state =
        opened(answered(display(&sightings, (80, 24)), answer(fixed(&sightings), &sightings)));
    assert!(drawn(&state).contains("own heading is not known: type hdg 070"), "{}", drawn(&state));
}

/// Lesson 1 of a seed, a minute after its first page was closed, two contacts taken.
fn drill(size: (u16, u16)) -> State {
    let exercise = Lesson::of_number(1).unwrap().exercise(5).unwrap();
    let theme = Theme::new(Colours::None);
    let mut state = State::practising(Arc::clone(&CHART), exercise, "drill.txt".into(), theme);
    let real = |text: &str| Message::Time(text.parse().unwrap());
    update(&mut state, real("2026-06-01T12:00:00Z"));
    update(&mut state, Message::Resized(Size::new(size.0, size.1)));
    press(&mut state, KeyCode::Enter);
    update(&mut state, real("2026-06-01T12:01:05Z"));
    let ask = state.scope.asked.clone().unwrap();
    let (look, scale_nm) = (ask.look.unwrap(), ask.frame.scale.nautical_miles());
    let exercise = Arc::clone(&state.practice.as_ref().unwrap().exercise);
    let scan = exercise.look(&CHART, look.time, scale_nm, look.number).unwrap();
    update(&mut state, Message::Drawn(Box::new(ask), Ok(Arc::new(scan.picture))));
    for line in ["12.1 038 Saddle Isle", "9.4 105"] {
        typed(&mut state, line);
        press(&mut state, KeyCode::Enter);
    }
    state
}

#[test]
fn a_drill_under_way_shows_what_the_set_shows_and_no_answer() {
    let told = drawn(&drill(SMALL));
    assert!(told.starts_with(" DRILL  lesson 1: Slant range"), "{told}");
    assert!(told.contains("SCOPE ") && !told.contains("PREDICTED"), "{told}");
    assert!(!told.contains("TRUE") && !told.contains("FIX"), "{told}");
    insta::assert_snapshot!("drill_80x24", told);
}

#[test]
fn a_drill_that_is_over_shows_the_truth_on_the_chart() {
    let mut state = drill((120, 40));
    typed(&mut state, "declare 38 12.9 S, 21 30.5 W sigma 0.5 confirmed");
    let at = KeyEvent::new(KeyCode::Enter, KeyModifiers::NONE);
    let commands = update(&mut state, Message::Key(at));
    let Some(Command::Score(answer)) = commands.into_iter().next() else { panic!("not scored") };
    let exercise = Arc::clone(&state.practice.as_ref().unwrap().exercise);
    let score = score(&CHART, &exercise, &answer);
    update(&mut state, Message::Scored(Box::new(score)));
    update(&mut state, Message::ScoreKept(Ok(())));
    insta::assert_snapshot!("drill_score_120x40", drawn(&state));
    press(&mut state, KeyCode::Esc);
    let told = drawn(&state);
    assert!(told.starts_with(" DRILL  over, "), "{told}");
    assert!(told.contains("TRUE") && told.contains("YOURS"), "{told}");
    insta::assert_snapshot!("drill_over_120x40", told);
}

#[test]
fn the_name_of_a_log_that_does_not_fit_ends_in_a_sign() {
    let mut state = display(&sightings(), SMALL);
    state.keeping = Keeping::In("watch-20310309T033000Z-30976.log".into(), 3);
    let screen = drawn(&state);
    assert!(screen.contains("3 kept in watch-20310309T033000Z-…  "), "{screen}");
}
