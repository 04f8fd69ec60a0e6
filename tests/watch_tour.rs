//! The tour as somebody new meets it: offered once in the display of the sample, gone through by keys
//! alone to a fix, in a pseudo-terminal.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod pty;

use std::path::Path;

use pty::Terminal;

const OFFER: &str = "new here? tour:";

/// The echoes of the tour's landfall, as they are typed.
fn echoes() -> Vec<String> {
    let text = include_str!("../charts-sample/tour.toml");
    let value = |contact: &str, key: &str| -> f64 {
        let line = contact.lines().find_map(|line| line.strip_prefix(key)).unwrap();
        line.trim_start_matches(" = ").parse().unwrap()
    };
    let typed = |contact: &str| {
        let (range, bearing) = (value(contact, "range_nm"), value(contact, "bearing_deg"));
        let bearing = format!("{bearing:05.1}");
        format!("{range:.1} {}", bearing.trim_end_matches(".0"))
    };
    text.split("[[contact]]").skip(1).map(typed).collect()
}

fn remembered(folder: &Path) -> String {
    std::fs::read_to_string(folder.join("foreland/tour.txt")).unwrap_or_default()
}

#[test]
fn it_is_gone_through_by_keys_alone_to_a_fix() {
    let folder = tempfile::tempdir().unwrap();
    let echoes = echoes();
    let mut terminal = Terminal::start(&["watch", "--tour"], folder.path());
    terminal.wait_for("TOUR 1/9");
    terminal.wait_for(" NO CONTACT ");
    terminal.press("\x0e");
    terminal.wait_for("TOUR 2/9");
    terminal.wait_for(&echoes[0]);
    // A slip: the display answers, the tour stays.
    terminal.press("12.0 75\r");
    terminal.wait_for("two ranges, 12.0 and 75");
    terminal.wait_for("TOUR 2/9");
    terminal.press("\x1b");
    terminal.press(&echoes[0]);
    terminal.wait_for("TOUR 3/9");
    terminal.wait_for("= contact A: 12 NM, 075° true");
    terminal.press("\r");
    terminal.wait_for("TOUR 4/9");
    terminal.wait_for(" AMBIGUOUS ");
    terminal.wait_for(&echoes[1]);
    terminal.press(&echoes[1]);
    terminal.press("\r");
    terminal.wait_for("TOUR 5/9");
    terminal.press("  ");
    terminal.wait_for("WHAT NEXT, WHAT TO KNOW");
    terminal.wait_for("TOUR 6/9");
    terminal.wait_for("It asks for ");
    let told =
        |text: &str| echoes.iter().skip(2).find(|echo| text.contains(echo.as_str())).cloned();
    terminal.wait("an echo to take", |screen| told(&screen.contents()).is_some());
    let asked = told(&terminal.text()).unwrap();
    terminal.press(&asked);
    terminal.press("\r");
    terminal.wait_for("TOUR 7/9");
    terminal.wait_for(" FIXED  38°16");
    // The usual lines stand all the while.
    terminal.wait_for("AID ONLY");
    terminal.press("\x0e");
    terminal.wait_for("TOUR 8/9");
    terminal.press("\x1a");
    terminal.wait_for("Taken back");
    terminal.press("\x19");
    terminal.wait_for("TOUR 9/9");
    terminal.wait_for(" FIXED  38°16");
    terminal.press("?");
    terminal.wait_for("TYPE A CONTACT");
    terminal.wait_for("TOUR 9/9");
    terminal.press("\x1b");
    terminal.wait_for("WHAT NEXT, WHAT TO KNOW");
    terminal.press("\x0e");
    terminal.wait("the tour gone", |screen| !screen.contents().contains("TOUR 9/9"));
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
    // Three contacts, one taken back and put back: all in the log of the watch.
    terminal.wait_for("5 entries kept in");
    let told = remembered(folder.path());
    assert!(told.contains(" begun\n") && told.contains(" done\n"), "{told}");

    // The log is taken up again as any other; it offers no tour.
    let logs = std::fs::read_dir(folder.path().join("foreland")).unwrap();
    let mut logs = logs.map(|entry| entry.unwrap().path());
    let log = logs.find(|path| path.extension().is_some_and(|it| it == "log")).unwrap();
    let log = log.display().to_string();
    let mut terminal = Terminal::start(&["watch", "--log", &log], folder.path());
    terminal.wait_for(" FIXED  38°16");
    terminal.wait_for("3 in");
    assert!(!terminal.text().contains("TOUR") && !terminal.text().contains(OFFER));
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
    let mut terminal = Terminal::start(&["watch", "--tour", "--log", &log], folder.path());
    terminal.wait_for("the tour begins a log");
    assert_eq!(terminal.ended(), 2);
}

#[test]
fn it_is_offered_once_and_begins_by_its_word_with_nothing_measured() {
    let folder = tempfile::tempdir().unwrap();
    let mut terminal = Terminal::start(&[], folder.path());
    terminal.wait_for(" FIXED  38°15");
    terminal.wait_for(OFFER);
    terminal.press("tour\r");
    terminal.wait_for("TOUR 1/9");
    terminal.wait_for(" NO CONTACT ");
    terminal.press("\x18");
    terminal.wait("the tour gone", |screen| !screen.contents().contains("TOUR 1/9"));
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
    terminal.wait_for("Nothing was entered; no log was begun.");
    let mut terminal = Terminal::start(&["watch"], folder.path());
    terminal.wait_for(" FIXED  38°15");
    terminal.wait_for("type a contact: range and bearing");
    assert!(!terminal.text().contains(OFFER), "{}", terminal.text());
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
}

#[test]
fn refused_it_stays_refused_and_can_be_had_all_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let mut terminal = Terminal::start(&["watch"], folder.path());
    terminal.wait_for(OFFER);
    terminal.press("no tour\r");
    terminal.wait_for("not offered again");
    terminal.press("\x1b");
    terminal.wait_for("type a contact: range and bearing");
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
    assert!(remembered(folder.path()).contains(" refused\n"));
    let mut terminal = Terminal::start(&[], folder.path());
    terminal.wait_for(" FIXED  38°15");
    terminal.wait_for("type a contact: range and bearing");
    assert!(!terminal.text().contains(OFFER), "{}", terminal.text());
    terminal.press(":tour\r");
    terminal.wait_for("TOUR 1/9");
    terminal.press("\x03");
    assert_eq!(terminal.ended(), 0);
}

#[test]
fn where_nothing_can_be_remembered_it_is_offered_and_no_error() {
    let folder = tempfile::tempdir().unwrap();
    // A file stands where the folder would be made.
    std::fs::write(folder.path().join("foreland"), "in the way").unwrap();
    let mut terminal = Terminal::start(&[], folder.path());
    terminal.wait_for(OFFER);
    terminal.press("no tour\r");
    terminal.wait_for("not offered again");
    terminal.press("q");
    assert_eq!(terminal.ended(), 0);
}
