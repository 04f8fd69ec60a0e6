//! Sightings on a large chart: it is opened about the place that they tell, in whatever way they come.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod pty;
mod rough_coast;

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use foreland::chart::{GeoBox, Opening};
use foreland::command::report::fix_json;
use foreland::contact::Sightings;
use foreland::fix::{Options, fix};
use pty::Terminal;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

/// Printed, so that a failure can be run again.
const SEED: u64 = 20_261_127;

/// Two coasts, one 360 NM north of the other.
const COASTS: [(f64, f64, f64); 2] = [(50.0, -12.0, 0.6), (56.0, -12.0, 0.6)];

/// Points of each ring.
const PLACES: usize = 2_000;

/// Told of a name that no mark has, where no more than a part of the chart was opened.
const NOT_IN_THE_PART: &str =
    "no mark named \"Nowhere Head\" in the part of this chart that is open";

/// Islands far from both, which make the chart a large one.
fn islands() -> impl Iterator<Item = (f64, f64, f64)> {
    (0..110).map(|i| (-50.0 + 4.0 * f64::from(i / 11), 60.0 + 10.0 * f64::from(i % 11), 0.3))
}

/// A folder with a chart of more than 200,000 points.
fn large() -> tempfile::TempDir {
    println!("seed {SEED}");
    let folder = tempfile::tempdir().unwrap();
    let chart = folder.path().join("large");
    fs::create_dir(&chart).unwrap();
    let middles: Vec<(f64, f64, f64)> = COASTS.into_iter().chain(islands()).collect();
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    fs::write(chart.join("coast.shp"), rough_coast::coast(&mut rng, &middles, PLACES)).unwrap();
    folder
}

/// Two echoes off the southern coast, the first of them named where there is a name.
fn sightings(name: Option<&str>) -> String {
    let mark = name.map_or_else(String::new, |name| format!("mark = \"{name}\"\n"));
    format!(
        "[reckoning]\ntime = \"2031-03-09T03:40:00Z\"\nposition = \"50.0,-12.95\"\nsigma_nm = 2.0\n\
         [own]\nheight_ft = 2000\n[radar]\nset = \"patrol\"\n\
         [[contact]]\nlabel = \"A\"\nrange_nm = 18.0\nbearing_deg = 80.0\n{mark}\
         [[contact]]\nlabel = \"B\"\nrange_nm = 20.0\nbearing_deg = 105.0\n"
    )
}

/// A line of the shell, in which `$0` is the program: exit status, standard output, standard error.
fn shell(folder: &Path, line: &str) -> (Option<i32>, String, String) {
    let done = Command::new("sh")
        .args(["-c", line, env!("CARGO_BIN_EXE_foreland")])
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .env("XDG_CACHE_HOME", folder.join("cache"))
        .env("XDG_STATE_HOME", folder.join("state"))
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (done.status.code(), text(done.stdout), text(done.stderr))
}

/// The same sightings by each of two lines, which find them in `sightings.toml`.
fn both(folder: &Path, lines: [&str; 2], name: Option<&str>) -> [(Option<i32>, String, String); 2] {
    fs::write(folder.join("sightings.toml"), sightings(name)).unwrap();
    lines.map(|line| shell(folder, line))
}

#[test]
fn a_fix_of_piped_sightings_opens_the_part_that_one_of_a_file_opens() {
    let folder = large();
    let lines = [
        "\"$0\" fix --chart large sightings.toml",
        "cat sightings.toml | \"$0\" fix --chart large -",
    ];
    let [of_file, of_pipe] = both(folder.path(), lines, None);
    assert!(of_file.0 != Some(2) && of_file.1.len() > 500, "{of_file:?}");
    assert_eq!(of_pipe, of_file);
    for (status, out, error) in both(folder.path(), lines, Some("Nowhere Head")) {
        assert_eq!((status, out.as_str()), (Some(2), ""));
        assert!(error.contains(NOT_IN_THE_PART), "{error}");
    }
}

#[test]
fn a_sitting_from_piped_sightings_opens_the_part_that_one_from_a_file_opens() {
    let folder = large();
    // Standard input is for the entries: there are none.
    let lines = [
        "\"$0\" watch --plain --chart large sightings.toml",
        "cat sightings.toml | \"$0\" watch --plain --chart large /dev/fd/3 3<&0 </dev/null",
    ];
    let begun = both(folder.path(), lines, None).map(|(status, out, error)| {
        assert_eq!((status, error.as_str()), (Some(0), ""), "{out}");
        assert!(!out.contains("taking in"), "{out}");
        // The rest may tell of the moment.
        let lasting = ["chart: ", "caution: ", "contact: "];
        let lines = out.lines().filter(|line| lasting.iter().any(|what| line.starts_with(what)));
        lines.map(str::to_owned).collect::<Vec<String>>()
    });
    assert_eq!(begun[0], begun[1]);
    assert!(begun[0].iter().any(|line| line.starts_with("contact: A: ")), "{begun:?}");
    for (status, _, error) in both(folder.path(), lines, Some("Nowhere Head")) {
        assert_eq!(status, Some(2));
        assert!(error.contains(NOT_IN_THE_PART), "{error}");
    }
}

#[test]
fn the_display_opens_the_part_about_sightings_from_standard_input() {
    let folder = large();
    let mut terminal = Terminal::start(&["watch", "-", "--chart", "large"], folder.path());
    terminal.press(&sightings(Some("Nowhere Head")));
    // The end of what is typed.
    terminal.press("\x04");
    terminal.wait_for("no mark named \"Nowhere Head\" in the part");
    assert_eq!(terminal.ended(), 2);
}

/// The answer to a fix without its cautions: the command tells those of the chart, too.
fn answer(json: &str) -> Value {
    let mut answer: Value = serde_json::from_str(json).unwrap();
    answer["cautions"] = Value::Null;
    answer
}

#[test]
fn a_mark_named_by_its_place_is_at_hand_where_the_reckoning_does_not_lead() {
    let folder = large();
    let fixed = |name: &str| {
        fs::write(folder.path().join("sightings.toml"), sightings(Some(name))).unwrap();
        shell(folder.path(), "\"$0\" fix --chart large --format json sightings.toml")
    };
    // Both coasts, and more than may be asked about them.
    let charts = [folder.path().join("large")];
    let both = GeoBox::new(40.0, -40.0, 68.0, 16.0);
    let wide = Opening::new(&charts).around(both).open().unwrap();
    let mut marks = wide.marks().iter().map(|(_, mark)| mark);
    let far = marks.find(|mark| mark.position.latitude() > 55.0).unwrap();
    assert!(!far.named && wide.opened_about() == Some(both));
    let (status, out, error) = fixed(&far.name);
    assert!(status != Some(2) && error.is_empty(), "{}: {error}", far.name);
    let text = sightings(Some(&far.name));
    let given = Sightings::parse(&text, "sightings.toml", Path::new("")).unwrap();
    assert_eq!(answer(&out), answer(&fix_json(&fix(&wide, &given, &Options::default()))));
    // What would take in another ocean is told as what is not at hand.
    let (status, out, error) = fixed("Head 30°00.00'S 100°00.00'E");
    assert_eq!((status, out.as_str()), (Some(2), ""));
    assert!(error.contains("in the part of this chart"), "{error}");
}
