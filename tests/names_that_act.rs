//! Text from files is shown and never acts: names and notes with what a terminal would obey, through
//! every command as it is run, and on the display.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

#[allow(dead_code, reason = "the targets of the readers are used elsewhere")]
mod hostile;

use std::fmt::Write as _;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;

use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::screen::{Colours, Drawing, Keeping, Message, State, Theme, update, view};
use foreland::watch::Watch;
use foreland::watch::log::{FIRST_LINE, Record};
use hostile::made::{WGS84, dbf_of, island_shp, marks_shp};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::layout::Size;

/// Escape, the one-byte control sequence, bell, backspace, tab, return, overrides and isolates of
/// direction, nothing of width, a tag letter, and markup.
const ACTS: &str = "\u{1b}[2J\u{9b}31m\u{7}\u{8}\t\r\u{202a}\u{202e}\u{2066}\u{2069}\u{200b}\u{feff}\u{e0041}<script>alert(1)</script>";

/// As TOML and JSON both write it.
fn escaped() -> String {
    let mut text = String::new();
    for unit in ACTS.chars().flat_map(|c| if c > '\u{ffff}' { vec![] } else { vec![c] }) {
        write!(text, "\\u{:04x}", u32::from(unit)).unwrap();
    }
    text
}

/// What a terminal would act on in some bytes, the ends of lines apart; and whether they are text.
fn acting(bytes: &[u8]) -> Vec<char> {
    let text = std::str::from_utf8(bytes).unwrap();
    let acts = |c: &char| {
        let code = u32::from(*c);
        (code < 0x20 && code != 0x0a)
            || (0x7f..0xa0).contains(&code)
            || (0x200b..=0x200f).contains(&code)
            || (0x2028..=0x202e).contains(&code)
            || (0x2060..=0x2069).contains(&code)
            || (0xe0000..=0xe007f).contains(&code)
            || code == 0xfeff
    };
    text.chars().filter(acts).collect()
}

struct Scene {
    root: tempfile::TempDir,
    chart: PathBuf,
}

/// A chart whose folder, layers, table and own name act, and files that go with it.
fn scene() -> Scene {
    let root = tempfile::tempdir().unwrap();
    let folder = ACTS.replace(['/', '\t', '\r'], "");
    let chart = root.path().join(format!("coast {folder}"));
    fs::create_dir(&chart).unwrap();
    fs::write(chart.join("coast.shp"), island_shp()).unwrap();
    fs::write(chart.join("coast.prj"), WGS84.replace("GCS_WGS_1984", ACTS)).unwrap();
    fs::write(chart.join("marks.shp"), marks_shp()).unwrap();
    let name = "Gannet\u{1b}[2J\u{202e}".as_bytes();
    let rows: [(&[u8], &[u8], &[u8]); 3] = [
        (name, b"\x1b\x07<b>", b"120.5"),
        (b"L\xc2\x9b<script>x</script>", b"islet", b"30"),
        ("\u{2066}\u{200b}Rock".as_bytes(), b"", b""),
    ];
    fs::write(chart.join("marks.dbf"), dbf_of(&rows)).unwrap();
    fs::write(chart.join("marks.cpg"), "UTF-8").unwrap();
    fs::write(chart.join(format!("{folder}.shp")), marks_shp()).unwrap();
    fs::write(chart.join("chart.toml"), format!("name = \"{}\"\n", escaped())).unwrap();
    let write = |name: &str, text: &str| fs::write(root.path().join(name), text).unwrap();
    let set = fs::read_to_string(sources().join("src/radar/sets/boat.toml")).unwrap();
    write("set.toml", &set.replace("name = \"boat\"", &format!("name = \"{}\"", escaped())));
    write("sightings.toml", SIGHTINGS);
    write("named.toml", &SIGHTINGS.replace("label = \"A\"", &format!("label = \"{}\"", escaped())));
    write(
        "marked.toml",
        &SIGHTINGS.replace("part =", &format!("mark = \"{}\"\npart =", escaped())),
    );
    write("keys.toml", &format!("\"{}\" = 1\n[own]\nheight_ft = \"{}\"\n", escaped(), escaped()));
    write("raw.toml", &format!("[own]\nheight_ft = {ACTS}\n"));
    write(
        "legs.toml",
        &format!("[start]\nposition = \"{}\"\n[[leg]]\ncraft = \"{}\"\n", escaped(), escaped()),
    );
    write("watch.log", &log());
    Scene { root, chart }
}

fn sources() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

const SIGHTINGS: &str = r#"[reckoning]
time = "2031-03-09T03:40:00Z"
position = "38 05 S, 21 10 W"
sigma_nm = 2.0
track_deg = 60.0
speed_kn = 20.0
[own]
height_ft = 100
heading_deg = 60.0
heading_kind = "true"
[radar]
set = "set.toml"
[[contact]]
label = "A"
range_nm = 16.0
bearing_deg = 50.0
part = "centre"
[[contact]]
label = "B"
range_nm = 19.0
bearing_deg = 48.0
part = "centre"
"#;

/// A log in which every word that can be said acts; its lines are sound.
fn log() -> String {
    let act = escaped();
    let body = SIGHTINGS.replace("set.toml", "boat").replace('\n', "\\n").replace('"', "\\\"");
    let set = fs::read_to_string(sources().join("src/radar/sets/boat.toml")).unwrap();
    let set = serde_json::to_string(&set).unwrap();
    let records = [
        format!("open {{\"chart\":\"{act}\",\"program\":\"{act}\"}}"),
        format!("start {{\"name\":\"{act}\",\"set\":{set},\"sightings\":\"{body}\"}}"),
        format!("note {{\"text\":\"{act}\",\"typed\":\"{act}\"}}"),
        format!(
            "contact {{\"label\":\"{act}\",\"range_nm\":16.0,\"bearing_deg\":50.0,\"mark\":\"{act}\"}}"
        ),
        format!(
            "contact {{\"label\":\"C\",\"range_nm\":16.0,\"bearing_deg\":50.0,\"mark\":\"{act}\"}}"
        ),
        format!("call {{\"label\":\"C\",\"name\":\"{act}\"}}"),
        format!("alarm {{\"words\":\"{act}\"}}"),
        format!("acknowledged {{\"alarms\":[\"{act}\"]}}"),
        format!(
            "said {{\"time\":\"2031-03-09T03:45:00Z\",\"verdict\":\"{act}\",\"landfall\":\"{act}\",\
             \"lines\":[\"{act}\"],\"identities\":[{{\"contact\":\"{act}\",\"mark\":\"{act}\",\
             \"lat_deg\":-38.0,\"lon_deg\":-21.0,\"probability\":0.5}}]}}"
        ),
        format!("delete {{\"label\":\"{act}\"}}"),
        format!("heading {{\"degrees\":60.0,\"kind\":\"{act}\"}}"),
        format!("{act} {{\"x\":\"{act}\"}}").replace("\\u", "u"),
    ];
    let mut text = FIRST_LINE.to_owned();
    for (number, record) in records.iter().enumerate() {
        let rest = format!("{} 2031-03-09T03:4{}:00Z {record}", number + 1, number % 10);
        writeln!(text, "{:08x} {rest}", crc32fast::hash(rest.as_bytes())).unwrap();
    }
    write!(text, "{}\n{}", ACTS.replace('\r', ""), ACTS).unwrap();
    text
}

#[test]
fn the_log_of_this_test_is_sound() {
    let sound =
        log().lines().skip(1).filter(|line| Record::from_line(line.as_bytes()).is_ok()).count();
    assert!(sound >= 10, "{sound}");
}

/// Runs a command and looks at all that it says.
fn run(scene: &Scene, arguments: &[&str], input: &str) -> (Option<i32>, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_foreland"))
        .args(arguments)
        .current_dir(scene.root.path())
        .env("XDG_STATE_HOME", scene.root.path())
        .env("XDG_DATA_HOME", scene.root.path())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A command that reads nothing may be gone by now.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    let done = child.wait_with_output().unwrap();
    for (what, bytes) in [("output", &done.stdout), ("error", &done.stderr)] {
        let found = acting(bytes);
        let text = String::from_utf8_lossy(bytes);
        assert!(
            found.is_empty(),
            "{arguments:?}: {found:?} in its {what}:\n{}",
            text.escape_debug()
        );
    }
    let said = [done.stdout, done.stderr].concat();
    (done.status.code(), String::from_utf8(said).unwrap())
}

#[test]
fn nothing_that_is_read_acts_on_a_terminal() {
    let scene = scene();
    let chart = scene.chart.to_str().unwrap();
    let at = ["--at", "38 05 S, 21 10 W", "--height-ft", "100"];
    let plan = [
        "approach",
        "--from",
        "38 05 S, 21 30 W",
        "--track-deg",
        "80",
        "--speed-kn",
        "20",
        "--height-ft",
        "100",
        "--set",
        "set.toml",
        "--time",
        "2031-03-09T03:10:00Z",
        "--landfall",
        "37 55 S, 21 0 W",
    ];
    let expect = [&["expect", "--set", "set.toml"][..], &at].concat();
    let answered: Vec<Vec<&str>> = vec![
        vec!["chart", "check"],
        vec!["chart", "marks"],
        vec!["chart", "marks", "--format", "geojson"],
        expect.clone(),
        [&expect[..], &["--picture", "plan.svg"]].concat(),
        [&expect[..], &["--picture", "plan.json"]].concat(),
        plan.to_vec(),
        [&plan[..], &["--card", "card.html"]].concat(),
        [&plan[..], &["--card", "card.txt"]].concat(),
        vec!["fix", "sightings.toml"],
        vec![
            "debrief",
            "watch.log",
            "--gpx",
            "d.gpx",
            "--geojson",
            "d.geojson",
            "--csv",
            "d.csv",
            "--html",
            "d.html",
            "--markdown",
            "d.md",
        ],
    ];
    for command in &answered {
        for format in ["text", "json"] {
            let mut arguments = [&command[..], &["--chart", chart]].concat();
            if command.contains(&"--format") {
                if format == "json" {
                    continue;
                }
            } else {
                arguments.extend(["--format", format]);
            }
            let (status, said) = run(&scene, &arguments, "");
            let fixes = command[0] == "fix" && matches!(status, Some(3..=5));
            assert!(status == Some(0) || fixes, "{arguments:?}: {status:?}: {said}");
        }
    }
    written(&scene);
    let odd = ACTS.replace('\0', "");
    let refused: Vec<Vec<&str>> = vec![
        vec!["fix", "named.toml"],
        vec!["fix", "marked.toml"],
        vec!["fix", "keys.toml"],
        vec!["fix", "raw.toml"],
        vec!["fix", &odd],
        vec!["reckon", "legs.toml"],
        vec!["reckon", &odd],
        vec!["debrief", &odd],
        vec!["debrief", "sightings.toml"],
        vec!["set", "check", "keys.toml"],
        vec!["set", "check", "raw.toml"],
        vec!["set", "show", &odd],
        vec![&odd],
        vec!["fix", "--unknown\u{1b}[2J\u{202e}"],
        vec!["drill", "--headless", "--answer", "raw.toml"],
        [&["expect", "--set", &odd][..], &at].concat(),
        [&expect[..], &["--explain", &odd]].concat(),
        [&expect[..], &["--picture", &odd]].concat(),
        [&expect[..], &["--output", "/nowhere/\u{1b}[2J"]].concat(),
    ];
    for command in &refused {
        let with_chart = ["fix", "expect", "approach"].contains(&command[0]);
        let arguments =
            if with_chart { [&command[..], &["--chart", chart]].concat() } else { command.clone() };
        let (status, said) = run(&scene, &arguments, "");
        assert!(matches!(status, Some(2)), "{arguments:?}: {status:?}: {said}");
    }
    let (status, said) = run(&scene, &["set", "show", "set.toml"], "");
    assert_eq!(status, Some(0), "{said}");
    let (status, said) =
        run(&scene, &["chart", "check", "--chart", "/nowhere/\u{1b}[2J\u{202e}"], "");
    assert_eq!(status, Some(2), "{said}");
}

/// What the commands have written into files, in which tabs and markup of their own may stand.
fn written(scene: &Scene) {
    for name in [
        "plan.svg",
        "plan.json",
        "card.html",
        "card.txt",
        "d.gpx",
        "d.geojson",
        "d.csv",
        "d.html",
        "d.md",
    ] {
        let bytes = fs::read(scene.root.path().join(name)).unwrap();
        let mut found = acting(&bytes);
        // The ends of lines of a table are those of RFC 4180.
        found.retain(|c| !(*c == '\r' && name == "d.csv"));
        assert!(found.is_empty(), "{name}: {found:?}");
        let text = String::from_utf8(bytes).unwrap().to_lowercase();
        let markup = [".svg", ".html", ".gpx", ".md"].iter().any(|ending| name.ends_with(ending));
        assert!(!(markup && text.contains("<script")), "{name} has markup that was a name");
    }
}

#[test]
fn the_watch_without_a_screen_says_nothing_that_acts() {
    let scene = scene();
    let chart = scene.chart.to_str().unwrap();
    let entries = "9 050 \"Gan\u{1b}[2J\"\n9 050 Gannet\u{202e}\nA= \u{200b}x\nnote \u{1b}]0;x\u{7}\n\
                   call A \u{9b}31m\n9 050\nnote plain\n";
    for arguments in [
        vec!["watch", "--plain", "--chart", chart, "--log", "watch.log"],
        vec!["watch", "--plain", "--chart", chart, "--set", "set.toml", "--at=-38.1,-21.1"],
        vec!["watch", "--plain", "--chart", chart, "sightings.toml"],
    ] {
        for format in ["text", "json"] {
            let arguments = [&arguments[..], &["--format", format]].concat();
            let (status, said) = run(&scene, &arguments, entries);
            assert_eq!(status, Some(0), "{arguments:?}: {said}");
            assert!(said.contains("plain"), "{said}");
        }
    }
}

#[test]
fn the_display_draws_nothing_that_acts() {
    let scene = scene();
    let chart = Arc::new(Chart::open(std::slice::from_ref(&scene.chart)).unwrap());
    let sightings = Sightings::parse(SIGHTINGS, ACTS, scene.root.path()).unwrap();
    for (size, drawing) in
        [((160, 50), Drawing::default()), ((80, 24), Drawing::Ascii), ((20, 5), Drawing::default())]
    {
        let watch = Watch::from_sightings(&sightings);
        let keeping = Keeping::In(format!("{ACTS}.log").into(), 3);
        let theme = Theme::new(Colours::None).drawn(drawing);
        let mut state = State::new(Arc::clone(&chart), watch, keeping, theme);
        state.notices = vec![ACTS.to_owned(), format!("cut {ACTS} here")];
        update(&mut state, Message::Time("2031-03-09T03:45:00Z".parse().unwrap()));
        update(&mut state, Message::Resized(Size::new(size.0, size.1)));
        update(&mut state, Message::Pasted(format!("9 050 {ACTS}")));
        let mut terminal = Terminal::new(TestBackend::new(size.0, size.1)).unwrap();
        terminal.draw(|frame| view(&state, frame)).unwrap();
        let drawn: String =
            terminal.backend().buffer().content.iter().map(ratatui::buffer::Cell::symbol).collect();
        assert!(acting(drawn.as_bytes()).is_empty(), "{}", drawn.escape_debug());
        assert!(drawing != Drawing::Ascii || drawn.is_ascii());
    }
}
