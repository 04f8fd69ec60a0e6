//! The display under ill use: what it cannot take, a screen that changes size under the hand, a sudden
//! end. The real program in a pseudo-terminal.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod pty;

use std::process::Command;

use pty::{Terminal, start};

/// What is typed, and what is said to it.
const REFUSED: [(&str, &str); 13] = [
    ("17.3 42", "two ranges, 17.3 and 42"),
    ("042 137", "two bearings, 042 and 137"),
    ("13.4 361", "bearing 361: bearings run from 000 to 360"),
    ("999.9nm 042", "range 999.9: ranges run from above 0 to"),
    ("13.4 064 Corbel Poind", "Corbel Point"),
    ("13.4 064 @2561", "is no time: write @0341"),
    ("h 99999", "height 99999: heights are taken from 0 to"),
    ("hdg 370", "heading 370: headings run from 000 to 360"),
    ("trk 074", "write track and speed made good like"),
    ("tas 9999", "speeds are taken from"),
    ("dr 98 12.9 S, 21 30.5 W", "reckoning:"),
    ("del Q", "no contact Q"),
    ("blarney", "has no range and no bearing"),
];

#[test]
fn each_entry_that_cannot_be_taken_is_answered_and_stays_to_be_mended() {
    let folder = tempfile::tempdir().unwrap();
    let (chart, sightings) = start(folder.path());
    let log = folder.path().join("watch.log");
    let path = log.display().to_string();
    let arguments = ["watch", &sightings, "--chart", &chart, "--log", &path];
    let mut terminal = Terminal::start(&arguments, folder.path());
    terminal.wait_for("NO CONTACT");
    for (line, why) in REFUSED {
        terminal.press(line);
        terminal.press("\r");
        terminal.wait(&format!("NO to {line}"), |screen| foot(screen, 3).starts_with("   NO "));
        let told = terminal.text();
        // It may run on over the line below.
        let words = told.lines().skip(21).take(2).flat_map(str::split_whitespace);
        let said = words.collect::<Vec<_>>().join(" ");
        assert!(said.contains(why), "{line}: {told}");
        assert!(told.contains(&format!("ENTRY {line} ")), "{line} is gone: {told}");
        terminal.press("\x1b");
        terminal.wait_for("type a contact: range and bearing");
    }
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
    let kept = std::fs::read_to_string(&log).unwrap();
    assert!(REFUSED.iter().all(|(line, _)| !kept.contains(line)), "{kept}");
}

/// A line of the screen, counted from the lowest.
fn foot(screen: &vt100::Screen, above: u16) -> String {
    let (rows, columns) = screen.size();
    let row = rows.get() - above;
    screen.contents_between(row, 0, row, columns.get())
}

#[test]
fn fifty_sizes_while_a_contact_is_typed_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let (chart, sightings) = start(folder.path());
    let log = folder.path().join("watch.log").display().to_string();
    let arguments = ["watch", &sightings, "--chart", &chart, "--log", &log];
    let mut terminal = Terminal::start(&arguments, folder.path());
    terminal.wait_for("NO CONTACT");
    // Each entry ends with the storm still on; sizes from one cell to two hundred by sixty.
    let entries = "11.6 076\r19.4 129\r8.0 108 centre\rnote in the thick of it\r";
    let mut keys = entries.chars();
    for step in 0..50_u16 {
        let (columns, rows) = match step % 5 {
            0 => (1, 1),
            1 => (200, 60),
            2 => (80, 24),
            3 => (1 + step * 4, 1 + step),
            _ => (71 + step % 3, 19 + step % 2),
        };
        terminal.resize(columns, rows);
        keys.next().into_iter().for_each(|key| terminal.press(key.encode_utf8(&mut [0; 4])));
    }
    keys.for_each(|key| terminal.press(key.encode_utf8(&mut [0; 4])));
    terminal.resize(80, 24);
    terminal.wait_for("4 kept in watch.log");
    terminal.wait("three contacts", |screen| {
        let told = screen.contents();
        ["11.6    076°", "19.4    129°", "8    108°"].iter().all(|contact| told.contains(contact))
    });
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
}

#[test]
fn killed_under_the_hand_it_takes_up_again_with_every_entry_it_called_kept() {
    let folder = tempfile::tempdir().unwrap();
    let (chart, sightings) = start(folder.path());
    let log = folder.path().join("watch.log").display().to_string();
    let mut kept = 0;
    for sitting in 0..3_u32 {
        let begin = ["watch", &sightings, "--chart", &chart, "--log", &log];
        let again = ["watch", "--chart", &chart, "--log", &log];
        let arguments: &[&str] = if sitting == 0 { &begin } else { &again };
        let mut terminal = Terminal::start(arguments, folder.path());
        if sitting > 0 {
            terminal.wait("every entry kept before", |screen| told_kept(screen) >= Some(kept));
        }
        terminal.wait_for("ENTRY");
        for note in 0..4 {
            terminal.press(&format!("note sitting {sitting}, {note}\r"));
        }
        // Killed somewhere in the midst of them, as soon as more is called kept.
        terminal.wait("one more kept", |screen| told_kept(screen) > Some(kept));
        terminal.press("13.4 06");
        let told = told_kept(terminal.screen().screen()).unwrap();
        let id = terminal.child.process_id().unwrap().to_string();
        assert!(Command::new("kill").args(["-KILL", &id]).status().unwrap().success());
        terminal.child.wait().unwrap();
        assert!(told > kept, "{told} after {kept}");
        kept = told;
    }
    let mut terminal = Terminal::start(&["watch", "--chart", &chart, "--log", &log], folder.path());
    terminal.wait("every entry kept before", |screen| told_kept(screen) >= Some(kept));
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
    let text = std::fs::read_to_string(&log).unwrap();
    let notes = text.lines().filter(|line| line.contains("note sitting")).count() as u64;
    assert!(notes >= kept, "{notes} of {kept} entries called kept are in the log");
}

/// How many entries the screen says are kept.
fn told_kept(screen: &vt100::Screen) -> Option<u64> {
    let told = screen.contents();
    let (before, _) = told.split_once(" kept in watch.log")?;
    before.rsplit(' ').next()?.parse().ok()
}
