//! The display as an operator meets it: the real program in a pseudo-terminal, its screen read
//! back. Texts are waited for; nothing sleeps for a fixed time.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod pty;

use pty::{Terminal, start};

/// The sample's contacts, typed: ranges and bearings of its landfall file.
const LANDFALL: [(&str, &str); 5] = [
    ("11.6 076 @03:40:10", "contact A: 11.6 NM, 076° true"),
    ("21.5 337rel @03:40:55", "contact B: 21.5 NM, 337° relative (= 047° true"),
    ("129/19.4 @03:41:40", "contact C: 19.4 NM, 129° true"),
    ("r8.0 b108 centre @03:42:15", "contact D: 8 NM, 108° true, centre"),
    ("25.7 016.5 centre @03:42:55", "contact E: 25.7 NM, 016.5° true, centre"),
];

#[test]
fn a_landfall_is_typed_to_a_fix_resized_left_and_taken_up_again() {
    let folder = tempfile::tempdir().unwrap();
    let (chart, sightings) = start(folder.path());
    let log = folder.path().join("watch.log").display().to_string();

    let mut terminal =
        Terminal::start(&["watch", &sightings, "--chart", &chart, "--log", &log], folder.path());
    terminal.wait_for("NO CONTACT");
    terminal.wait("the alternate screen", vt100::Screen::alternate_screen);
    terminal.press("17.3 42");
    terminal.wait_for("two ranges, 17.3 and 42");
    terminal.press("\x1b");
    terminal.wait_for("type a contact: range and bearing");
    for (line, kept) in LANDFALL {
        terminal.enter(line, kept);
    }
    terminal.wait_for(" FIXED  38°15");
    terminal.wait_for("from DR");
    terminal.resize(160, 50);
    terminal.wait_for("WHAT NEXT, WHAT TO KNOW");
    terminal.wait_for("WHAT SHOULD SHOW");
    terminal.resize(60, 10);
    terminal.wait_for("too small");
    terminal.resize(80, 24);
    terminal.wait_for(" FIXED  38°15");
    terminal.press("?");
    terminal.wait_for("TYPE A CONTACT");
    terminal.press("\x1b");
    terminal.wait_for("WHAT EACH ECHO IS");
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
    terminal.wait_for("5 entries kept in");

    // Nothing is lost, and what was undone before stays undone.
    let again = ["watch", "--chart", &chart, "--log", &log];
    let mut terminal = Terminal::start(&again, folder.path());
    terminal.wait_for(" FIXED  38°15");
    terminal.wait_for("5 in");
    terminal.press("\x1a");
    terminal.wait_for("KEPT taken back: contact E");
    terminal.press("\x03");
    assert_eq!(terminal.ended(), 0);
    let mut terminal = Terminal::start(&again, folder.path());
    terminal.wait_for("4 in");
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
}

#[test]
fn the_sample_opens_with_its_landfall_worked_and_a_signal_gives_the_screen_back() {
    let folder = tempfile::tempdir().unwrap();
    let mut terminal = Terminal::start(&[], folder.path());
    terminal.wait_for(" FIXED  38°15");
    terminal.wait_for("5 in");
    let id = terminal.child.process_id().unwrap();
    let told = std::process::Command::new("kill").args(["-TERM", &id.to_string()]).status();
    assert!(told.unwrap().success());
    assert_eq!(terminal.ended(), 0);
    // A look leaves no log behind, but for the word that the tour was offered no file.
    let left = std::fs::read_dir(folder.path().join("foreland")).unwrap();
    let left: Vec<_> = left.map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left, ["tour.txt"]);
}

#[test]
fn a_second_watch_on_the_same_log_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let (chart, sightings) = start(folder.path());
    let log = folder.path().join("watch.log").display().to_string();
    let arguments = ["watch", &sightings, "--chart", &chart, "--log", &log];
    let mut first = Terminal::start(&arguments, folder.path());
    first.wait_for("NO CONTACT");
    let mut second = Terminal::start(&arguments, folder.path());
    second.wait_for("another watch is writing this log");
    assert_eq!(second.ended(), 2);
    first.press("q");
    assert_eq!(first.ended(), 0);
}

#[test]
fn a_lesson_is_played_to_its_score() {
    let folder = tempfile::tempdir().unwrap();
    let mut terminal = Terminal::start(&["drill", "--lesson", "1"], folder.path());
    terminal.wait_for("DRILL  lesson 1: Slant range");
    terminal.wait_for("Any key: the clock starts.");
    terminal.press("\r");
    terminal.wait_for("SCOPE 0");
    assert!(!terminal.text().contains("PREDICTED"), "{}", terminal.text());
    terminal.press("17.3 042\r");
    terminal.wait_for("IN contact A: 17.3 NM, 042° true");
    terminal.press("hint\r");
    terminal.wait_for("Hint 1 of 3");
    // Gone before the next key: an escape and a letter read together are another key.
    terminal.press("\x1b");
    terminal.wait("the hint gone", |screen| !screen.contents().contains("Hint 1 of 3"));
    terminal.press("declare 38 12.9 S, 21 30.5 W sigma 5 cannot-say");
    terminal.wait_for("ends the exercise");
    assert!(!terminal.text().contains("SCORE"), "{}", terminal.text());
    terminal.press("\r");
    terminal.wait_for("SCORE");
    terminal.wait_for("-5.0 a hint");
    // On the page's end: that it is kept.
    terminal.press("\x1b[6~\x1b[6~\x1b[6~");
    terminal.wait_for("Kept in");
    terminal.press("\x1b");
    terminal.wait("the page gone", |screen| !screen.contents().contains("Kept in"));
    terminal.wait_for("WHAT EACH ECHO IS");
    terminal.press("/");
    terminal.wait_for("echoes from TRUE");
    terminal.wait_for("YOURS");
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
    terminal.wait_for("of 100, kept in");
    let kept = std::fs::read_to_string(folder.path().join("foreland/drill.txt")).unwrap();
    assert!(kept.lines().count() == 1 && kept.contains("lesson=1 seed=1 score="), "{kept}");
    // No log: contacts of a sea that is not there.
    assert_eq!(std::fs::read_dir(folder.path().join("foreland")).unwrap().count(), 1);
}
