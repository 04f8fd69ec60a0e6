//! The watch without a screen: entries from standard input, each change a line.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod program;
mod pty;

use std::path::Path;
use std::process::{Command, Stdio};

use program::{program, run};

struct Said {
    lines: Vec<String>,
    error: String,
    status: i32,
}

fn plain(arguments: &[&str], entries: &str, folder: &Path) -> Said {
    let mut command = program();
    command.args(["watch", "--plain"]).args(arguments);
    command.env("XDG_STATE_HOME", folder).current_dir(folder);
    let (status, out, error) = run(&mut command, entries.as_bytes());
    Said { lines: out.lines().map(str::to_owned).collect(), error, status }
}

fn chart() -> &'static str {
    concat!(env!("CARGO_MANIFEST_DIR"), "/charts-sample")
}

#[test]
fn deflections_are_heard_kept_and_taken_up_again() {
    let folder = tempfile::tempdir().unwrap();
    let arguments =
        ["--chart", chart(), "--log", "trace.log", "--set", "metric", "--at=-38.0,-21.45"];
    let entries = "14.9 d 3.6/5\nhdg 078\n14.9 d 3.6/5 Gannet Head\n14.8 042 K\nK d 5/1.3\n\
                   9 d 3/0\n9 d 30/1\n9 042 d 3/2\n";
    let said = plain(&arguments, entries, folder.path());
    assert_eq!((said.status, said.error.as_str()), (0, ""));
    let begin = |start: &str| -> Vec<&String> {
        said.lines.iter().filter(|line| line.starts_with(start)).collect()
    };
    let kept = begin("kept: ");
    let told = "contact A: 14.9 NM, deflections 3.6/5, Gannet Head \
                (2.9 dB starboard, 009.7 or 093.6 relative)";
    assert_eq!(kept.len(), 4, "{:?}", said.lines);
    assert!(kept[1].starts_with(&format!("kept: {told}")), "{}", kept[1]);
    let corrected = "kept: K corrected: 14.8 NM, deflections 5/1.3 (11.7 dB port";
    assert!(kept[3].starts_with(corrected), "{}", kept[3]);
    let refused = begin("refused: ");
    for (line, why) in refused.iter().zip([
        "two deflections need own heading: first \"hdg 070\"",
        "its starboard deflection is 0, and must be above 0: where a side shows nothing",
        "its deflections are 29.5 dB apart",
        "the direction given twice: \"042\" and \"3/2\"",
    ]) {
        assert!(line.contains(why), "{line}");
    }
    assert_eq!(refused.len(), 4, "{:?}", said.lines);
    // Bank tilts what is entered after it: 14.9 NM from 2,000 ft is 1.36° down; times tan 30°, 0.78°.
    let banked =
        plain(&["--chart", chart(), "--log", "trace.log"], "bank 30r\n14.9 d 2/2\n", folder.path());
    let line =
        |start: &str| banked.lines.iter().any(|line| line.starts_with(&format!("kept: {start}")));
    assert!(line("bank 30° right wing down, for contacts from now on"), "{:?}", banked.lines);
    assert!(
        line("contact B: 14.9 NM, deflections 2/2 (equal, 359.2 relative)"),
        "{:?}",
        banked.lines
    );
    // Taken up again, the log gives the same contacts in the same words.
    let log = std::fs::read_to_string(folder.path().join("trace.log")).unwrap();
    assert!(log.contains(r#""deflection":{"port":3.6,"starboard":5.0}"#), "{log}");
    let again = plain(
        &["--chart", chart(), "--log", "trace.log"],
        "undo\nundo\nundo\nredo\n",
        folder.path(),
    );
    let line = again.lines.iter().find(|line| line.contains("redo: contact K")).unwrap();
    assert!(line.contains("14.8 NM, deflections 5/1.3"), "{line}");
}

#[test]
fn entries_are_repeated_once_kept_and_the_log_is_taken_up() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--chart", chart(), "--log", "watch.log", "--at=-38.215,-21.508"];
    let entries = "11.6 076\n17 42\nmark A Great Ember\n# haze\n\u{1b}[2J 9 101\ndel A\nundo\n";
    let said = plain(&arguments, entries, folder.path());
    assert_eq!((said.status, said.error.as_str()), (0, ""));
    let kept: Vec<&String> = said.lines.iter().filter(|l| l.starts_with("kept: ")).collect();
    let told: Vec<&str> =
        ["contact A: 11.6", "A corrected", "note: haze", "out: contact A", "taken back"]
            .into_iter()
            .collect();
    assert_eq!(kept.len(), told.len(), "{:?}", said.lines);
    for (kept, told) in kept.iter().zip(told) {
        assert!(kept.starts_with(&format!("kept: {told}")), "{kept}");
    }
    let refused = said.lines.iter().filter(|l| l.starts_with("refused: ")).count();
    assert_eq!(refused, 2);
    assert!(said.lines.iter().any(|l| l.starts_with("no contact: ")), "{:?}", said.lines);
    assert!(said.lines.iter().all(|l| !l.contains(char::is_control)));
    let again = plain(&["--chart", chart(), "--log", "watch.log"], "", folder.path());
    assert_eq!(again.status, 0);
    assert!(again.lines.iter().any(|l| l == "contact: A: 11.6 NM, 076° true, Great Ember"));
}

#[test]
fn the_place_that_a_watch_is_begun_at_is_not_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--chart", chart(), "--log", "watch.log", "--at=38 12.9 S, 21 30.5 W"];
    let said = plain(&arguments, "undo\n9 101\nundo\nundo\n", folder.path());
    let again =
        plain(&["--chart", chart(), "--log", "watch.log"], "redo\nundo\nundo\n", folder.path());
    for (said, refused) in [(said, 2), (again, 1)] {
        let told = said.lines.iter().filter(|line| *line == "refused: nothing to undo");
        assert_eq!(told.count(), refused, "{:?}", said.lines);
        assert!(
            !said.lines.iter().any(|line| line.starts_with("no reckoning")),
            "{:?}",
            said.lines
        );
    }
}

#[test]
fn the_landfall_is_said_when_it_changes_and_kept_in_the_log() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = [
        "--chart",
        chart(),
        "--log",
        "watch.log",
        "--at=38 12.9 S, 21 30.5 W",
        "--landfall",
        "38 01.0 S, 21 11.4 W",
    ];
    let said = plain(&arguments, "# haze\n21.5 047\n11.6 076\n", folder.path());
    assert_eq!((said.status, said.error.as_str()), (0, ""));
    let told: Vec<&String> = said.lines.iter().filter(|l| l.starts_with("landfall: ")).collect();
    // Once at the start, once for each contact; the note changes nothing.
    assert_eq!(told.len(), 3, "{told:?}");
    let start = "landfall: cannot-say: nothing is measured yet; by the reckoning it lies 19.2 NM, \
                 052° T, and should paint; landfall: Gannet Head, at the place planned; settle it by \
                 range and bearing of Gannet Head: 19.2 NM, 052° T";
    assert_eq!(told[0], start);
    let again = plain(&["--chart", chart(), "--log", "watch.log"], "", folder.path());
    let last = again.lines.iter().find(|line| line.starts_with("landfall: ")).unwrap();
    assert_eq!(last, told[2]);
}

#[test]
fn a_fix_accepted_keeps_what_was_said_of_the_landfall_and_when() {
    let folder = tempfile::tempdir().unwrap();
    let sightings = format!("{}/landfall.toml", chart());
    let arguments = [&sightings, "--chart", chart(), "--log", "watch.log"];
    let landfall = |said: &Said| -> Vec<String> {
        let told = said.lines.iter().filter(|line| line.starts_with("landfall: "));
        told.cloned().collect()
    };
    let kept = "landfall: confirmed at 03:42, with the fix accepted; nothing is measured since";
    let said = landfall(&plain(&arguments, "accept\n", folder.path()));
    assert_eq!(said.len(), 2, "{said:?}");
    assert!(said[0].starts_with("landfall: confirmed: B is Gannet Head"), "{said:?}");
    assert_eq!(said[1], kept);
    // Taken up again it is said again; the acceptance taken back, the fix speaks for itself.
    let again =
        landfall(&plain(&["--chart", chart(), "--log", "watch.log"], "undo\n", folder.path()));
    assert_eq!(again, [kept.to_owned(), said[0].clone()]);
}

#[test]
fn a_contact_of_the_time_that_is_held_is_said_to_be() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--chart", chart(), "--log", "watch.log", "--at=38 12.9 S, 21 30.5 W"];
    let entries = "21.5 047\nA 21.6\n11.6 076\ntrk 074 165\n8 108\n";
    let said = plain(&arguments, entries, folder.path());
    let kept: Vec<&String> = said.lines.iter().filter(|l| l.starts_with("kept: ")).collect();
    let held: Vec<bool> =
        kept.iter().map(|line| line.ends_with(" (time held: no track and speed)")).collect();
    assert_eq!(held, [true, false, true, false, false], "{kept:?}");
}

/// Cosine of 74°.
const COS_74: f64 = 0.275_637;

#[test]
fn the_place_is_carried_to_now_on_asking_and_never_called_a_fix() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--chart", chart(), "--log", "watch.log", "--at=38 12.9 S, 21 30.5 W"];
    let said = plain(&arguments, "now\ntrk 074 165\n11.6 076\nnow\nhdg 370\n", folder.path());
    assert_eq!((said.status, said.error.as_str()), (0, ""));
    let now: Vec<&String> = said.lines.iter().filter(|l| l.starts_with("now: ")).collect();
    assert!(now[0].contains("no track and speed to carry it by"), "{now:?}");
    // As far north as the run of so many seconds has come, however fast this machine is.
    let between = |from: &str, to: &str| -> f64 {
        let (_, rest) = now[1].split_once(from).unwrap();
        rest.split(to).next().unwrap().parse().unwrap()
    };
    let (minutes, seconds) =
        (between("now: DR now 38°", "'S"), between("track and speed, ", " s "));
    let north = 165.0 * seconds / 3_600.0 * COS_74;
    assert!((minutes - (12.9 - north)).abs() < 0.011, "{now:?}");
    assert!(
        now[1].contains("; by track and speed, ") && now[1].contains(" from the reckoning of "),
        "{now:?}"
    );
    assert!(said.lines.iter().any(|l| l.starts_with("shows: Great Ember, ")), "{:?}", said.lines);
    let refused = "refused: heading 370: headings run from 000 to 360";
    assert!(said.lines.iter().any(|l| l == refused), "{:?}", said.lines);
    assert!(said.lines.iter().any(|l| l.starts_with("end: 2 entries kept in")), "{:?}", said.lines);
    // Taken up again, the log is said to hold what it holds.
    let again = plain(&["--chart", chart(), "--log", "watch.log"], "# haze\n", folder.path());
    let end = "end: 3 entries kept in watch.log";
    assert!(again.lines.iter().any(|l| l == end), "{:?}", again.lines);
}

#[test]
#[expect(clippy::disallowed_methods, reason = "the program under test runs with the clock")]
fn until_a_turn_typed_ahead_ground_is_looked_for_on_the_leg_in_force() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--chart", chart(), "--log", "watch.log", "--at=38 18.0 S, 20 58.2 W"];
    let turn = jiff::Timestamp::now() + jiff::SignedDuration::from_mins(4);
    // Toward Varrow Hill, above it first; the turn leads back out to sea.
    let entries = format!(
        "h 3000\ndr 38 18.0 S, 20 58.2 W sigma 0.3\ntrk 090 165\ntrk 270 165 @{}\nh 1000\nnow\n",
        turn.strftime("%H%M%S")
    );
    let said = plain(&arguments, &entries, folder.path());
    assert_eq!((said.status, said.error.as_str()), (0, ""));
    let place = |start: &str| said.lines.iter().position(|line| line.starts_with(start));
    let ahead = place("kept: track 270° true, 165 kn made good from ");
    let caution = "Z on; CAUTION: 4 min ahead of the clock";
    assert!(said.lines[ahead.unwrap()].contains(caution), "{:?}", said.lines);
    let alarm = place("alarm: CHARTED GROUND ");
    assert!(alarm > ahead && place("now: DR now 38°") > alarm, "{:?}", said.lines);
}

#[test]
fn a_contact_that_moves_is_said_to_be_out_of_the_fix() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--chart", chart(), "--log", "watch.log", "--at=38 12.9 S, 21 30.5 W"];
    let entries = "trk 074 165 @-10m\n20.0 190 @-8m\nagain A 20.0 190 @-2m\n";
    let said = plain(&arguments, entries, folder.path());
    assert_eq!((said.status, said.error.as_str()), (0, ""));
    let kept =
        |l: &&String| l.starts_with("kept: contact A2") && l.ends_with("; A again: feeds no fix");
    assert!(said.lines.iter().any(|l| kept(&l)), "{:?}", said.lines);
    let told = "left out: contact A moves: feeds no fix";
    assert!(said.lines.iter().any(|l| l == told), "{:?}", said.lines);
    let again = plain(&["--chart", chart(), "--log", "watch.log"], "undo\n", folder.path());
    let listed = "contact: A: 20 NM, 190° true; moves: feeds no fix";
    assert!(again.lines.iter().any(|l| l == listed), "{:?}", again.lines);
    let back = "taken in: contact A is not known to move: it may feed the fix";
    assert!(again.lines.iter().any(|l| l == back), "{:?}", again.lines);
}

#[test]
fn without_a_log_named_one_is_begun_with_the_first_entry() {
    let folder = tempfile::tempdir().unwrap();
    let said = plain(&[], "13.8 062\n", folder.path());
    assert_eq!(said.status, 0);
    let logs: Vec<_> = std::fs::read_dir(folder.path().join("foreland")).unwrap().collect();
    assert_eq!(logs.len(), 1);
    let path = logs[0].as_ref().unwrap().path().display().to_string();
    let again = plain(&["--log", &path], "", folder.path());
    assert!(again.lines.iter().any(|l| l == "contact: F: 13.8 NM, 062° true"), "{:?}", again.lines);
}

#[test]
fn what_is_given_wrong_is_exit_two() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("letter.txt"), "Dear all,\n").unwrap();
    for (arguments, told) in [
        (vec!["--log", "letter.txt"], "is no watch log"),
        (vec!["--chart", "nowhere"], "nowhere"),
        (vec!["--chart", chart(), "--set", "nothing"], "--set"),
        (vec!["--chart", chart(), "-"], "standard input holds the entries"),
        (vec!["missing.toml", "--chart", chart()], "missing.toml"),
        (vec!["missing.toml"], "--chart DIR"),
        (vec!["--at=38 12.9 S, 21 30.5 W"], "--chart charts-sample"),
    ] {
        let said = plain(&arguments, "", folder.path());
        assert_eq!(said.status, 2, "{arguments:?}");
        assert!(said.error.contains(told), "{arguments:?}: {}", said.error);
    }
    assert_eq!(std::fs::read_to_string(folder.path().join("letter.txt")).unwrap(), "Dear all,\n");
}

#[test]
fn nothing_is_written_over_the_sightings_or_the_set() {
    let folder = tempfile::tempdir().unwrap();
    let sightings = folder.path().join("sightings.toml");
    std::fs::write(&sightings, "kept").unwrap();
    for (options, told) in [
        (["-o", "sightings.toml"], "-o and SIGHTINGS name the same file, sightings.toml"),
        (["--log", "./sightings.toml"], "--log and SIGHTINGS name the same file, ./sightings"),
    ] {
        let arguments = [&["sightings.toml", "--chart", chart()][..], &options].concat();
        let said = plain(&arguments, "", folder.path());
        assert_eq!((said.status, said.lines.len()), (2, 0), "{options:?}");
        assert!(said.error.contains(told), "{options:?}: {}", said.error);
    }
    let set = ["--chart", chart(), "--set", "sightings.toml", "-o", "sightings.toml"];
    let said = plain(&set, "", folder.path());
    assert!(said.status == 2 && said.error.contains("-o and --set name the same file"));
    assert_eq!(std::fs::read_to_string(&sightings).unwrap(), "kept");
}

#[test]
fn without_a_terminal_the_display_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let done = Command::new(env!("CARGO_BIN_EXE_foreland"))
        .args(["watch", "--chart", chart()])
        .current_dir(folder.path())
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert_eq!(done.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&done.stderr).contains("--plain"));
}

#[test]
fn what_each_echo_is_is_said_and_what_name_does_not_fit() {
    let folder = tempfile::tempdir().unwrap();
    // The sample's own landfall, with an echo where nothing is charted and a name given wrong.
    let entries = "9 250\nmark D Saddle Isle\n# haze\n";
    let said = plain(&["--log", "watch.log"], entries, folder.path());
    assert_eq!((said.status, said.error.as_str()), (0, ""));
    let count = |start: &str| said.lines.iter().filter(|line| line.starts_with(start)).count();
    assert_eq!(count("identity: A is Great Ember, >99 %"), 1, "{:?}", said.lines);
    assert_eq!(count("identity: D is Little Ember, "), 1, "{:?}", said.lines);
    let wrong = "identity: D: the name you gave, Saddle Isle, does not fit; it is Little Ember, ";
    assert_eq!(count(wrong), 1, "{:?}", said.lines);
    let unmatched = "unmatched: F: no charted mark within the gate: a ship, rain, or land the chart does \
                     not mark; it would lie at 38°18.";
    assert_eq!(count(unmatched), 1, "{:?}", said.lines);
    let arguments = ["--log", "other.log", "--format", "json"];
    let json = plain(&arguments, entries, folder.path());
    let objects: Vec<serde_json::Value> =
        json.lines.iter().map(|line| serde_json::from_str(line).unwrap()).collect();
    let told = |contact: &str| {
        objects.iter().rfind(|object| object["contact"] == contact).cloned().unwrap_or_default()
    };
    let wrong = told("D");
    assert_eq!(wrong["event"], "identity");
    assert_eq!((&wrong["mark"], &wrong["given"]), (&"Little Ember".into(), &"Saddle Isle".into()));
    assert_eq!(wrong["given_fits"], false);
    assert!(wrong["probability"].as_f64().unwrap() > 0.99);
    let echo = told("F");
    assert_eq!((&echo["event"], &echo["mark"]), (&"unmatched".into(), &serde_json::Value::Null));
    let lat = echo["places"][0]["position"]["lat_deg"].as_f64().unwrap();
    assert!((lat + 38.306).abs() < 0.01, "{echo}");
}

#[test]
fn places_that_still_fit_are_said_with_their_positions() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--chart", chart(), "--log", "watch.log", "--at=38 12.9 S, 21 30.5 W"];
    let said = plain(&arguments, "11.6 076\n", folder.path());
    let begins = |start: &str| said.lines.iter().any(|line| line.starts_with(start));
    assert!(begins("no contact: DR 38°12.90'S 021°30.50'W at "), "{:?}", said.lines);
    assert!(begins("place: 1, ") && begins("place: 2, "), "{:?}", said.lines);
    assert!(!begins("too-few: likeliest 38°12.90'S"), "{:?}", said.lines);
}

#[test]
fn a_reckoning_in_the_wrong_hemisphere_is_taken_with_a_caution() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--chart", chart(), "--log", "watch.log"];
    let entries = "dr 38 12.9 N, 21 30.5 W\ndr 38 12.9 S, 21 30.5 W\n";
    let said = plain(&arguments, entries, folder.path());
    let kept: Vec<&String> = said.lines.iter().filter(|l| l.starts_with("kept: ")).collect();
    assert!(kept[0].contains("; CAUTION: 4,") && kept[0].ends_with(" NM off this chart: S?"));
    assert!(!kept[1].contains("CAUTION"), "{kept:?}");
    let off = |l: &&String| l.starts_with("no contact: CAUTION: the reckoning is 4,");
    assert_eq!(said.lines.iter().filter(off).count(), 1, "{:?}", said.lines);
}

/// On a teletype, where the same line is typed and each answer is a line: to a fix, with an alarm and a
/// mistake on the way.
#[test]
fn on_a_terminal_each_line_is_answered_by_lines() {
    let folder = tempfile::tempdir().unwrap();
    let (chart, sightings) = pty::start(folder.path());
    let log = folder.path().join("watch.log").display().to_string();
    let arguments = ["watch", &sightings, "--plain", "--chart", &chart, "--log", &log];
    let mut terminal = pty::Terminal::start(&arguments, folder.path());
    terminal.wait_for("no contact: DR");
    assert!(!terminal.screen().screen().alternate_screen());
    for (line, answer) in [
        ("11.6 76", "refused: two ranges, 11.6 and 76"),
        ("11.6 076 @03:40:10", "kept: contact A: 11.6 NM, 076"),
        ("21.5 337rel @03:40:55", "kept: contact B: 21.5 NM, 337"),
        ("129/19.4 @03:41:40", "kept: contact C: 19.4 NM, 129"),
        ("r8.0 b108 centre @03:42:15", "kept: contact D: 8 NM, 108"),
        ("!", "acknowledged: no alarm stands"),
        ("25.7 016.5 centre @03:42:55", "kept: contact E: 25.7 NM, 016.5"),
    ] {
        terminal.press(&format!("{line}\r"));
        terminal.wait_for(answer);
    }
    terminal.wait_for("fixed: ");
    terminal.press("q\r");
    terminal.wait_for("end: 5 entries kept in");
    assert_eq!(terminal.ended(), 0);
}

#[test]
fn capitals_say_the_same_as_small_letters() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--chart", chart(), "--log", "watch.log", "--at=-38.2,-21.5"];
    let entries = "DR 38 12.9 S, 21 30.5 W SIGMA 2 NM\nNOW\nHELP\nQ\n9 101\n";
    let said = plain(&arguments, entries, folder.path());
    assert!(!said.lines.iter().any(|line| line.starts_with("refused: ")), "{:?}", said.lines);
    let told = |start: &str| said.lines.iter().any(|line| line.starts_with(start));
    assert!(told("now: ") && told("help: "), "{:?}", said.lines);
    // It was left before the contact.
    let end = "end: 1 entry kept in watch.log";
    assert!(said.lines.iter().any(|line| line == end), "{:?}", said.lines);
}

/// A bearing read on the wrong side of the bow: at odds with all the others, which must not be overlooked.
#[test]
fn an_alarm_is_said_acknowledged_and_logged() {
    let folder = tempfile::tempdir().unwrap();
    let entries = "13.8 124\n17.3 064 Gannet Head\n8.0 180 Great Ember\n!\n!\n";
    let arguments = ["--chart", chart(), "--log", "watch.log", "--at=-38.2,-21.5"];
    let said = plain(&arguments, entries, folder.path());
    let words = "contacts, chart and reckoning are AT ODDS";
    let place = |line: &str| said.lines.iter().position(|told| told == line);
    let raised = place(&format!("alarm: {words}; ! acknowledges it"));
    let seen = place(&format!("acknowledged: {words}"));
    let again = place(&format!("acknowledged: before, still so: {words}"));
    assert!(raised.is_some() && raised < seen && seen < again, "{:#?}", said.lines);
    let log = std::fs::read_to_string(folder.path().join("watch.log")).unwrap();
    let records = |kind: &str| log.lines().filter(|line| line.contains(kind)).count();
    assert_eq!((records(" alarm {"), records(" acknowledged {")), (1, 1), "{log}");
}
