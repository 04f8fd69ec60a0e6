//! The whole screen, drawn without a terminal, for each verdict and state an operator meets.
//!
//! The answers are made here by hand, so that these pictures tell of the drawing alone.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::path::Path;
use std::sync::{Arc, LazyLock};

use foreland::chart::{Chart, MarkId};
use foreland::contact::Sightings;
use foreland::fix::{
    Comparison, Consistency, Estimate, Fix, Identity, Landfall, LandfallVerdict, Measure,
    NextMeasurement, Protection, Purpose, Residual, Rival, Unmatched, Verdict,
};
use foreland::geodesy::{Covariance, LocalPlane, Position, course};
use foreland::paint::{Conditions, Expectation, ExpectedCoast, ExpectedMark, Outcome, picture};
use foreland::screen::{Answer, Colours, Command, Keeping, Message, State, Theme, update, view};
use foreland::units::{Angle, Bearing, GroundRange, SlantRange};
use foreland::watch::Watch;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Size;

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

fn place() -> Position {
    "38 15.1 S, 21 24.1 W".parse().unwrap()
}

fn error() -> Covariance {
    Covariance::along_across(miles(0.18), miles(0.15), Bearing::wrapped_degrees(154.0))
}

/// A fix that is none: what all verdicts share.
fn nothing(verdict: Verdict, sightings: &Sightings) -> Fix {
    Fix {
        verdict,
        probability: None,
        none_of_these: 0.001,
        time: sightings.latest(),
        position: None,
        covariance: None,
        ellipse: None,
        contacts_only: None,
        bearing_bias: None,
        identities: Vec::new(),
        unmatched: Vec::new(),
        residuals: Vec::new(),
        outlines: Vec::new(),
        most_probable: None,
        rivals: Vec::new(),
        consistency: None,
        reckoning: Comparison::default(),
        protection: Protection { risk: 1e-3, radius: None, assured: false, why: None },
        next: Vec::new(),
        landfall: None,
        cautions: Vec::new(),
    }
}

fn identity(contact: &str, mark: &str, probability: f64) -> Identity {
    let id = CHART.marks().find(mark).unwrap();
    let mark_position = CHART.marks().get(id).unwrap().position;
    Identity { contact: contact.into(), mark: mark.into(), mark_position, probability }
}

fn residual(contact: &str, range_m: f64, bearing: f64, standardised: [f64; 2]) -> Residual {
    Residual {
        contact: contact.into(),
        range_m: Some(range_m),
        bearing: Some(Angle::from_degrees(bearing)),
        ratio_db: None,
        standardised: standardised.to_vec(),
        used: true,
    }
}

/// What came of the landfall, its mark told last.
#[allow(clippy::unnecessary_wraps)] // it goes into a fix as it is
fn landfall(verdict: LandfallVerdict, odds: Option<f64>, why: &str, by: &str) -> Option<Landfall> {
    let why = format!("{why}; landfall: Gannet Head, at the place planned");
    let settle_by = (!by.is_empty()).then(|| by.to_owned());
    Some(Landfall { verdict, odds, why, settle_by })
}

fn fixed(sightings: &Sightings) -> Fix {
    Fix {
        probability: Some(0.9992),
        position: Some(place()),
        covariance: Some(error()),
        ellipse: Some(error().ellipse(0.95)),
        identities: vec![
            identity("A", "Great Ember", 0.62),
            identity("B", "Gannet Head", 0.996),
            identity("C", "Lantern Point", 0.84),
            identity("D", "Little Ember", 0.998),
            identity("E", "Saddle Isle", 0.964),
        ],
        residuals: vec![
            residual("A", 200.0, 0.6, [0.7, 0.5]),
            residual("B", 40.0, -0.5, [0.1, -0.4]),
            residual("C", 240.0, 0.7, [0.8, 0.6]),
            residual("D", -1700.0, 0.1, [-4.2, 0.1]),
            residual("E", 240.0, 0.6, [0.8, 0.5]),
        ],
        consistency: Some(Consistency { chi2: 3.1, dof: 9, p: 0.96 }),
        reckoning: Comparison {
            offset: Some(miles(5.2)),
            bearing: Some(Bearing::wrapped_degrees(211.0)),
            chi2: Some(1.7),
            agrees: Some(true),
        },
        protection: Protection { risk: 1e-3, radius: Some(miles(0.9)), assured: true, why: None },
        next: vec![NextMeasurement {
            mark: "Corbel Point".into(),
            measure: Measure::RangeAndBearing,
            major_axis_after: miles(0.31),
            purpose: Purpose::Shorten,
            settles: None,
            range: SlantRange::from_nautical_miles(11.8).ok(),
            bearing: Some(Bearing::wrapped_degrees(63.0)),
            words: "range and bearing of Corbel Point (11.8 NM, 063° T): to 0.31 NM".into(),
        }],
        landfall: landfall(
            LandfallVerdict::Confirmed,
            Some(22.5),
            "B is Gannet Head, odds 22 : 1",
            "",
        ),
        cautions: vec!["contact A may be Great Ember or Ember Light".into()],
        ..nothing(Verdict::Fixed, sightings)
    }
}

fn ambiguous(sightings: &Sightings) -> Fix {
    let rival = |position: &str, probability, mark| Rival {
        estimate: Estimate { position: position.parse().unwrap(), covariance: error() },
        probability,
        identities: vec![identity("A", mark, 0.9)],
    };
    Fix {
        rivals: vec![
            rival("38 15.1 S, 21 24.1 W", 0.62, "Great Ember"),
            rival("38 09.0 S, 21 30.0 W", 0.37, "Saddle Isle"),
        ],
        none_of_these: 0.01,
        unmatched: vec![Unmatched {
            contact: "E".into(),
            why: "no charted mark within the gate".into(),
            places: Vec::new(),
        }],
        next: vec![NextMeasurement {
            mark: "Corbel Point".into(),
            measure: Measure::Bearing,
            major_axis_after: miles(0.4),
            purpose: Purpose::Settle,
            settles: Some(0.92),
            range: SlantRange::from_nautical_miles(11.8).ok(),
            bearing: Some(Bearing::wrapped_degrees(63.0)),
            words: "bearing of Corbel Point (11.8 NM, 063° T): settles it, 92 %".into(),
        }],
        landfall: landfall(
            LandfallVerdict::NotUnique,
            Some(7.6),
            "Saddle Isle fits A as well: odds 7.6 : 1",
            "range and bearing of Corbel Point: 14.2 NM, 063° T",
        ),
        ..nothing(Verdict::Ambiguous, sightings)
    }
}

fn too_few(sightings: &Sightings) -> Fix {
    let long = Covariance::along_across(miles(3.0), miles(0.2), Bearing::wrapped_degrees(30.0));
    Fix {
        most_probable: Some(Estimate { position: place(), covariance: long }),
        identities: vec![identity("A", "Great Ember", 0.7)],
        next: vec![NextMeasurement {
            mark: "Corbel Point".into(),
            measure: Measure::Range,
            major_axis_after: miles(0.5),
            purpose: Purpose::Shorten,
            settles: None,
            range: SlantRange::from_nautical_miles(11.8).ok(),
            bearing: Some(Bearing::wrapped_degrees(63.0)),
            words: "range of Corbel Point (11.8 NM, 063° T): long axis 3.00 to 0.50 NM".into(),
        }],
        landfall: landfall(
            LandfallVerdict::Denied,
            None,
            "A at 42.2 NM is inland high ground, not the coast: Gannet Head paints only from \
             15.2 NM on, and lies 12.2 NM nearer than the echo",
            "",
        ),
        ..nothing(Verdict::TooFew, sightings)
    }
}

fn at_odds(sightings: &Sightings) -> Fix {
    Fix {
        residuals: vec![residual("D", -1700.0, 6.1, [-4.2, 5.1])],
        landfall: landfall(
            LandfallVerdict::CannotSay,
            None,
            "the contacts are at odds: contact D does not agree with the other four by 0.9 NM",
            "D once more: it fits worst",
        ),
        cautions: vec!["contact D does not agree with the other four by 0.9 NM".into()],
        ..nothing(Verdict::AtOdds, sightings)
    }
}

/// What a few named marks would look like: range and bearing are those of the chart.
fn expected() -> Expectation {
    let looks = [
        ("Great Ember", Outcome::Paints, 0.999),
        ("Gannet Head", Outcome::Paints, 0.99),
        ("Lantern Light", Outcome::Doubtful, 0.53),
        ("Marlhaven", Outcome::Shadowed, 0.0),
        ("Sallow Head", Outcome::BelowHorizon, 0.0),
    ];
    let marks = looks.iter().map(|(name, outcome, chance)| {
        let mark: MarkId = CHART.marks().find(name).unwrap();
        let line = course(place(), CHART.marks().get(mark).unwrap().position);
        ExpectedMark {
            mark,
            range: SlantRange::from_metres(line.distance.metres()).unwrap(),
            ground_range: line.distance,
            bearing: line.initial,
            relative: None,
            signal_to_noise_db: Some(20.0),
            signal_to_clutter_db: None,
            paint_probability: *chance,
            outcome: *outcome,
            second_time: None,
        }
    });
    Expectation {
        horizon: miles(55.0),
        marks: marks.collect(),
        coast: vec![ExpectedCoast {
            bearing: Bearing::wrapped_degrees(75.0),
            range: SlantRange::from_nautical_miles(3.8).unwrap(),
            depth: miles(1.0),
            signal_to_noise_db: 30.0,
            paint_probability: 0.99,
        }],
        second_time: Vec::new(),
        cautions: Vec::new(),
    }
}

fn answer(fix: Fix, sightings: &Sightings) -> Answer {
    let reckoned = sightings.reckoning.carried_to(fix.time).unwrap();
    Answer { fix, reckoned, expected: expected() }
}

const SMALL: (u16, u16) = (80, 24);
const LARGE: (u16, u16) = (160, 50);

#[test]
fn fixed_on_a_small_and_a_large_screen() {
    let sightings = sightings();
    for (name, size) in [("fixed_80x24", SMALL), ("fixed_160x50", LARGE)] {
        let state = answered(display(&sightings, size), answer(fixed(&sightings), &sightings));
        insta::assert_snapshot!(name, drawn(&state));
    }
}

/// Seven minutes after the fix, by a clock that runs.
fn later(mut state: State) -> State {
    let commands = update(&mut state, Message::Time("2031-03-09T03:49:55Z".parse().unwrap()));
    let Some(Command::Expect(from)) =
        commands.into_iter().find(|c| matches!(c, Command::Expect(_)))
    else {
        panic!("not asked what should show from there")
    };
    update(&mut state, Message::Shows(from, Box::new(expected())));
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
