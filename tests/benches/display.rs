//! How long a screen takes, and what it sends: `cargo bench --bench display`.
#![allow(clippy::unwrap_used)] // a bench that cannot start has nothing to measure

#[path = "../great_coast/mod.rs"]
mod great_coast;
#[path = "../show/mod.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod show;
#[path = "../wire/mod.rs"]
mod wire;

use divan::Bencher;
use foreland::contact::Radar;
use foreland::radar::Set;
use foreland::screen::{Colours, State, view};
use foreland::units::Height;
use foreland::watch::Watch;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::crossterm::event::KeyCode;

use show::Show;
use wire::Wired;

const SMALL: (u16, u16) = (80, 24);
const LARGE: (u16, u16) = (160, 50);

/// Vertices of shore in view.
const VERTICES: usize = 100_000;

fn main() {
    bytes_sent();
    divan::main();
}

/// What each key sends, as a table.
fn bytes_sent() {
    println!("bytes sent to the terminal, the sample's landfall with 16 colours");
    for size in [SMALL, LARGE] {
        let show = Show::of_sample(show::LANDFALL, size, Colours::Sixteen);
        let mut wired = Wired::new(show);
        let typed = wired.typed("13.4 064 @0");
        let entered = wired.sent(|show| show.press(KeyCode::Enter));
        let (columns, rows) = size;
        println!("{columns}x{rows}: characters of 13.4 064 @0: {typed:?}; refused: {entered}");
        wired.sent(|show| show.press(KeyCode::Esc));
        wired.typed("13.4 064");
        let answered = wired.sent(|show| show.press(KeyCode::Enter));
        let tab = wired.sent(|show| show.press(KeyCode::Tab));
        let zoom = wired.sent(|show| show.press(KeyCode::Char('-')));
        let pan = wired.sent(|show| show.press(KeyCode::Left));
        let resized = wired.sent(|show| show.resize((columns - 1, rows)));
        println!(
            "{columns}x{rows}: contact answered {answered}, Tab {tab}, zoom {zoom}, pan {pan}, resize {resized}"
        );
    }
}

fn great(size: (u16, u16)) -> Show {
    great_of(VERTICES, size)
}

fn great_of(vertices: usize, size: (u16, u16)) -> Show {
    let radar = Radar {
        set: Set::builtin("patrol").unwrap(),
        set_name: "patrol".to_owned(),
        range_sigma_nm: None,
        bearing_sigma_deg: None,
    };
    let watch = Watch::blank(radar, Height::from_feet(2000.0).unwrap());
    let show = Show::new(great_coast::chart(vertices), watch, size, Colours::Sixteen);
    assert_eq!(in_view(&show.state), vertices, "the whole shore is in view");
    show
}

/// Vertices in view, the first one of a ring counted once.
fn in_view(state: &State) -> usize {
    let area = state.shore.as_ref().unwrap().0.area();
    state.chart.coast().runs_in(&area).map(|run| run.points().len() - 1).sum()
}

fn terminal((columns, rows): (u16, u16)) -> Terminal<TestBackend> {
    Terminal::new(TestBackend::new(columns, rows)).unwrap()
}

#[divan::bench(args = [SMALL, LARGE])]
fn redraw_of_100_000_vertices(bencher: Bencher, size: (u16, u16)) {
    let (show, mut terminal) = (great(size), terminal(size));
    bencher.bench_local(|| terminal.draw(|frame| view(&show.state, frame)).unwrap().count);
}

/// The picture is moved over and back, so that nearly all of the shore stays in view.
#[divan::bench(args = [SMALL, LARGE])]
fn pan_over_100_000_vertices(bencher: Bencher, size: (u16, u16)) {
    let (mut show, mut terminal) = (great(size), terminal(size));
    let mut keys = [KeyCode::Left, KeyCode::Right].into_iter().cycle();
    bencher.bench_local(|| {
        show.press(keys.next().unwrap());
        terminal.draw(|frame| view(&show.state, frame)).unwrap().count
    });
}

/// The same over ever more of it.
#[divan::bench(args = [100_000, 1_000_000, 10_000_000], sample_count = 20)]
fn pan_over_vertices(bencher: Bencher, vertices: usize) {
    let (mut show, mut terminal) = (great_of(vertices, SMALL), terminal(SMALL));
    let mut keys = [KeyCode::Left, KeyCode::Right].into_iter().cycle();
    bencher.bench_local(|| {
        show.press(keys.next().unwrap());
        terminal.draw(|frame| view(&show.state, frame)).unwrap().count
    });
}

#[divan::bench(args = [SMALL, LARGE])]
fn zoom_out_and_in_over_100_000_vertices(bencher: Bencher, size: (u16, u16)) {
    let (mut show, mut terminal) = (great(size), terminal(size));
    let mut keys = [KeyCode::Char('-'), KeyCode::Char('+')].into_iter().cycle();
    bencher.bench_local(|| {
        show.press(keys.next().unwrap());
        terminal.draw(|frame| view(&show.state, frame)).unwrap().count
    });
}

/// One character typed at the end of a contact, and taken out again.
#[divan::bench(args = [SMALL, LARGE])]
fn typed_character_to_screen(bencher: Bencher, size: (u16, u16)) {
    let mut show = Show::of_sample(show::LANDFALL, size, Colours::Sixteen);
    let mut terminal = terminal(size);
    show.typed("13.4 064");
    let mut keys = [KeyCode::Char('m'), KeyCode::Backspace].into_iter().cycle();
    bencher.bench_local(|| {
        show.press(keys.next().unwrap());
        terminal.draw(|frame| view(&show.state, frame)).unwrap().count
    });
}
