//! The screens shown in the documents are those that the program draws.
//!
//! A screen stands between `<!-- screen: NAME -->` and `<!-- end of screen -->`. With
//! `FORELAND_WRITE_CAPTURES=1 cargo test --test captures` all are written anew; without, a document that
//! shows another screen than is drawn now fails the test.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod show;

use std::fmt::Write;
use std::path::{Path, PathBuf};

use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::screen::{Colours, Drawing, Lead, Tour};
use ratatui::crossterm::event::KeyCode;

use show::{LANDFALL, LOOKALIKE, Show};

const OPEN: &str = "<!-- screen: ";
const CLOSE: &str = "<!-- end of screen -->";

/// What stands under a name.
fn screen(name: &str) -> String {
    match name {
        "landfall 110x34" => on(LANDFALL, (110, 34), |_| ()),
        "landfall 80x24" => on(LANDFALL, (80, 24), |_| ()),
        "landfall, the verdict" => lines(&on(LANDFALL, (110, 34), |_| ()), 0, 3),
        "landfall, what next 80x24" => on(LANDFALL, (80, 24), |show| {
            show.press(KeyCode::Char(' '));
            show.press(KeyCode::Char(' '));
        }),
        "landfall, the radar's picture 80x24" => {
            on(LANDFALL, (80, 24), |show| show.press(KeyCode::Char('/')))
        }
        "an entry typed" => lines(&on(LANDFALL, (80, 24), |show| show.typed("24.1 141")), 20, 24),
        "an entry half typed" => {
            lines(&on(LANDFALL, (80, 24), |show| show.typed("24.1 41")), 20, 24)
        }
        "an entry refused" => {
            let told = on(LANDFALL, (80, 24), |show| {
                show.typed("24.1 361");
                show.press(KeyCode::Enter);
            });
            lines(&told, 20, 24)
        }
        "landfall, what should show 80x24" => {
            on(LANDFALL, (80, 24), |show| show.press(KeyCode::Char(' ')))
        }
        "landfall on a tall screen 80x70" => on(LANDFALL, (80, 70), |_| ()),
        "landfall by signs of ASCII 80x24" => on(LANDFALL, (80, 24), |show| {
            show.state.theme = show.state.theme.drawn(Drawing::Ascii);
        }),
        "the list of all 80x24" => on(LANDFALL, (80, 24), |show| {
            show.press(KeyCode::Char(':'));
            show.typed("con");
        }),
        "a lesson's task 80x24" => Show::of_lesson(1, 5, (80, 24), Colours::None).drawn(),
        "a lesson under way 120x40" => lesson((120, 40)).drawn(),
        "a lesson, the score 80x24" => declared((80, 24)).drawn(),
        "a lesson over 120x40" => {
            let mut show = declared((120, 40));
            show.press(KeyCode::Esc);
            show.drawn()
        }
        "the tour 80x24" => tour(),
        "look-alikes 80x24" => on(LOOKALIKE, (80, 24), |_| ()),
        _ => panic!("no screen is called \"{name}\""),
    }
}

/// Lesson 1, its page closed a minute ago, two contacts taken.
fn lesson(size: (u16, u16)) -> Show {
    let mut show = Show::of_lesson(1, 5, size, Colours::None);
    show.press(KeyCode::Enter);
    show.wait(65);
    for line in ["12.1 038 Gannet Head", "9.6 089 Corbel Point"] {
        show.typed(line);
        show.press(KeyCode::Enter);
    }
    show
}

/// The same, declared.
fn declared(size: (u16, u16)) -> Show {
    let mut show = lesson(size);
    show.typed("declare 38 8.9 S, 21 19.6 W sigma 0.5 confirmed");
    show.press(KeyCode::Enter);
    show
}

/// A screen of the sample without colour, after some keys.
fn on(sightings: &str, size: (u16, u16), keys: impl FnOnce(&mut Show)) -> String {
    let mut show = Show::of_sample(sightings, size, Colours::None);
    keys(&mut show);
    show.drawn()
}

/// The tour where it asks for what would settle it, as the engine has it.
fn tour() -> String {
    let text = include_str!("../charts-sample/tour.toml");
    let lead = Lead::new("tour", text, &Sightings::parse(text, "tour", Path::new("")).unwrap());
    let watch = lead.start.clone();
    let mut show = Show::new(Chart::sample().unwrap(), watch, (80, 24), Colours::None);
    for echo in lead.readings.iter().take(2) {
        show.typed(&echo.typed());
        show.press(KeyCode::Enter);
    }
    show.state.tour = Tour::begun(lead, None);
    show.resize((80, 24));
    show.press(KeyCode::Char(' '));
    show.press(KeyCode::Char(' '));
    show.drawn()
}

fn lines(text: &str, first: usize, end: usize) -> String {
    text.lines().take(end).skip(first).fold(String::new(), |all, line| all + line + "\n")
}

/// The document with every screen as it is drawn now, and how many there are.
fn redrawn(text: &str) -> (String, usize) {
    let (mut done, mut rest, mut count) = (String::new(), text, 0);
    while let Some((before, after)) = rest.split_once(OPEN) {
        let (name, after) = after.split_once(" -->").unwrap();
        let (_, after) = after.split_once(CLOSE).unwrap_or_else(|| panic!("{name} has no end"));
        write!(done, "{before}{OPEN}{name} -->\n```text\n{}```\n{CLOSE}", screen(name)).unwrap();
        rest = after;
        count += 1;
    }
    (done + rest, count)
}

fn documents(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            documents(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "md") {
            found.push(path);
        }
    }
}

#[test]
fn every_screen_in_the_documents_is_as_drawn() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = vec![root.join("README.md")];
    documents(&root.join("docs"), &mut found);
    let write = std::env::var_os("FORELAND_WRITE_CAPTURES").is_some();
    let (mut stale, mut screens) = (Vec::new(), 0);
    for path in found {
        let text = std::fs::read_to_string(&path).unwrap();
        let (now, count) = redrawn(&text);
        screens += count;
        if now != text {
            if write {
                std::fs::write(&path, now).unwrap();
            } else {
                stale.push(path);
            }
        }
    }
    assert!(screens >= 3, "{screens} screens found");
    assert!(
        stale.is_empty(),
        "{stale:?} show another screen than is drawn now: look at it, then run\n\
         FORELAND_WRITE_CAPTURES=1 cargo test --test captures"
    );
}

/// A document that went stale is found, and mended to what is drawn.
#[test]
fn a_stale_screen_is_found_and_mended() {
    let text = "Before.\n<!-- screen: an entry typed -->\n```text\nold\n```\n<!-- end of screen -->\nAfter.\n";
    let (now, count) = redrawn(text);
    assert_eq!(count, 1);
    assert!(now.starts_with("Before.\n<!-- screen: an entry typed -->\n```text\nENTRY 24.1 141 "));
    assert!(now.ends_with("```\n<!-- end of screen -->\nAfter.\n") && !now.contains("old"));
    assert_eq!(redrawn(&now), (now.clone(), 1));
}
