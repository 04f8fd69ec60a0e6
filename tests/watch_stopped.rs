//! The display stopped and gone on with, on screens of no size and of every size, and told that its
//! terminal closes. The real program in a pseudo-terminal.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod pty;

use std::process::Command;

use foreland::watch::log::Log;
use pty::{Terminal, start};

fn signal(terminal: &Terminal, name: &str) {
    let id = terminal.child.process_id().unwrap().to_string();
    assert!(Command::new("kill").args([name, &id]).status().unwrap().success());
}

/// Waits until the kernel says that the program stands still.
fn wait_stopped(terminal: &Terminal) {
    let id = terminal.child.process_id().unwrap();
    let stands = move || {
        let told = std::fs::read_to_string(format!("/proc/{id}/stat")).unwrap();
        told.rsplit(") ").next().unwrap().starts_with('T')
    };
    terminal.wait("the program stopped", |_| stands());
}

fn sitting(folder: &std::path::Path) -> (Terminal, std::path::PathBuf) {
    let (chart, sightings) = start(folder);
    let log = folder.join("watch.log");
    let path = log.display().to_string();
    let arguments = ["watch", &sightings, "--chart", &chart, "--log", &path];
    (Terminal::start(&arguments, folder), log)
}

#[test]
fn stopped_it_gives_the_terminal_back_and_gone_on_with_it_draws_all_anew() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, _) = sitting(folder.path());
    terminal.wait_for("NO CONTACT");
    terminal.press("11.6 07");
    terminal.wait_for("ENTRY 11.6 07");
    for (stop, is_told) in [("-TSTP", true), ("-STOP", false)] {
        signal(&terminal, stop);
        wait_stopped(&terminal);
        if is_told {
            terminal.wait("the shell's screen", |screen| {
                !screen.alternate_screen() && !screen.hide_cursor() && !screen.bracketed_paste()
            });
        }
        // Whoever had the terminal meanwhile wrote over it.
        terminal.write_over("\x1b[2J\x1b[Hsomething else");
        signal(&terminal, "-CONT");
        terminal.wait("the display again", |screen| {
            let told = screen.contents();
            screen.alternate_screen()
                && told.contains("NO CONTACT")
                && told.contains("ENTRY 11.6 07")
                && told.contains("AID ONLY")
                && !told.contains("something else")
        });
    }
    terminal.press("6\r");
    terminal.wait_for("KEPT contact A: 11.6 NM, 076° true");
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
}

#[test]
fn no_size_of_screen_stops_it_or_loses_an_entry() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, _) = sitting(folder.path());
    terminal.wait_for("NO CONTACT");
    for (columns, rows) in [(1, 1), (500, 200), (2, 300), (500, 1), (80, 24)] {
        terminal.resize(columns, rows);
        terminal.press(&format!("note on {columns} by {rows}\r"));
    }
    terminal.wait_for("5 kept in");
    terminal.resize(500, 200);
    terminal.wait_for("ALONG THE RUN");
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
}

#[test]
fn told_that_its_terminal_closes_it_ends_and_what_was_kept_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let (mut terminal, log) = sitting(folder.path());
    terminal.wait_for("NO CONTACT");
    terminal.press("11.6 076\r");
    terminal.wait_for("KEPT contact A");
    assert_eq!(terminal.hang_up(), 0);
    let (_, replay) = Log::open(&log).unwrap();
    let typed: Vec<&str> =
        replay.records.iter().filter_map(|record| record.typed.as_deref()).collect();
    assert_eq!((typed, replay.notices), (vec!["11.6 076"], Vec::<String>::new()));
}
