//! `foreland campaign`, run as a user runs it: the same rows on any number of threads and after a
//! stop, what is refused and in which words, and rates that a count of the rows bears out.

#![allow(clippy::unwrap_used)] // a test helper may fail the test

mod program;

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

use program::{program, run};

/// From the project's root: exit status, standard output, standard error.
fn foreland(arguments: &[&str]) -> (i32, String, String) {
    run(program().args(arguments), b"")
}

/// An aircraft that closes the sample's coast from close in, a look each three minutes.
const PLAN: [&str; 19] = [
    "campaign",
    "--chart",
    "charts-sample",
    "--from",
    "38 20 S, 21 45 W",
    "--track-deg",
    "57",
    "--speed-kn",
    "165",
    "--height-ft",
    "2000",
    "--set",
    "patrol",
    "--time",
    "2031-03-09T03:30:00Z",
    "--landfall",
    "38 01.0 S, 21 11.4 W",
    "--every-minutes",
    "3",
];

fn campaign(more: &[&str]) -> (i32, String, String) {
    foreland(&[&PLAN[..], more].concat())
}

fn answer(more: &[&str]) -> Value {
    let (status, out, err) = campaign(&[more, &["--format", "json"]].concat());
    assert_eq!((status, err.as_str()), (0, ""));
    serde_json::from_str(&out).unwrap()
}

/// The message of bad input, its lines joined and its frame left out.
fn refused(more: &[&str]) -> String {
    let (status, out, err) = campaign(more);
    assert_eq!((status, out.as_str()), (2, ""), "{err}");
    let plain: String = err.chars().filter(|c| !"×│╰─▶".contains(*c)).collect();
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn rows(file: &Path) -> Vec<Value> {
    let text = fs::read_to_string(file).unwrap();
    text.lines().skip(1).map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn rows_are_the_same_on_any_number_of_threads_and_after_any_stop() {
    const SEED: u64 = 20_310_701;
    println!("seed {SEED}");
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str| folder.path().join(name);
    let run = |name: &str, threads: &str| {
        let path = file(name);
        let path = path.to_str().unwrap();
        campaign(&["--n", "5", "--seed", "11", "--threads", threads, "--rows", path])
    };
    let (one, two) = (run("one", "1"), run("two", "2"));
    assert_eq!(one.0, 0, "{}", one.2);
    assert_eq!(one, two);
    let whole = fs::read(file("one")).unwrap();
    assert_eq!(whole, fs::read(file("two")).unwrap());
    assert_eq!(rows(&file("one")).len(), 5);
    // Torn anywhere, in the middle of a line for the most part, its head too.
    for again in 0..3 {
        let cut = random.random_range(1..whole.len());
        println!("torn after {cut} bytes of {}", whole.len());
        let torn = file(&format!("torn{again}"));
        fs::write(&torn, &whole[..cut]).unwrap();
        assert_eq!(run(&format!("torn{again}"), "2"), one);
        assert_eq!(fs::read(&torn).unwrap(), whole);
    }
    // All there: nothing is made, and nothing changes.
    let began = Instant::now();
    assert_eq!(run("one", "2"), one);
    println!("read again in {:.1} s", began.elapsed().as_secs_f64());
    assert_eq!(fs::read(file("one")).unwrap(), whole);
}

#[test]
fn the_rates_told_are_those_of_the_rows() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows");
    let answer = answer(&["--n", "16", "--seed", "3", "--rows", file.to_str().unwrap()]);
    assert_eq!(answer["schema"], "foreland.campaign/1");
    assert_eq!((&answer["seed"], &answer["landfalls"]), (&3.into(), &16.into()));
    assert_eq!(answer["stopped"], false);
    // Counted anew from what the file says of each fix.
    let rows = rows(&file);
    let fixes: Vec<&Value> =
        rows.iter().map(|row| &row["fix"]).filter(|fix| !fix.is_null()).collect();
    let is_right =
        |fix: &&&Value| fix["error_m"].as_u64().unwrap() <= 1_852 || fix["in_999"] == true;
    let right = fixes.iter().filter(is_right).count();
    let shares =
        [("right", right), ("wrong", fixes.len() - right), ("none", rows.len() - fixes.len())];
    for (what, count) in shares {
        let told = &answer["fix"][what];
        println!("{what} {told}");
        assert_eq!((&told["hits"], &told["of"]), (&count.into(), &16.into()), "{what}");
        let [percent, low, high] =
            ["percent", "low_percent", "high_percent"].map(|key| told[key].as_f64().unwrap());
        assert!(low <= percent && percent <= high && high - low > 15.0, "{what}");
    }
    // Close in, off a coast with marks enough: most of them are fixed, and hardly one wrongly.
    assert!(right >= 8 && fixes.len() - right <= 2, "{right} of {}", fixes.len());
    // Each landfall ends with its fix or at the end of the run; each look is told once.
    let looks: usize = rows.iter().map(|row| row["looks"].as_array().unwrap().len()).sum();
    let bands = answer["along"].as_array().unwrap();
    let told: u64 = bands.iter().map(|band| band["looks"].as_u64().unwrap()).sum();
    assert_eq!(told, looks as u64);
    let last = bands.last().unwrap();
    assert_eq!(last["right_so_far"]["hits"], right);
    let said = answer["landfall"]["said"].as_array().unwrap();
    let said: u64 = said
        .iter()
        .map(|it| it["there"].as_u64().unwrap() + it["not_there"].as_u64().unwrap())
        .sum();
    assert_eq!(said, rows.iter().filter(|row| row["looks"] != Value::Array(vec![])).count() as u64);
    // Only marks of right fixes are counted in them.
    for mark in answer["marks"].as_array().unwrap() {
        assert_eq!(mark["in_right_fixes"]["of"], right, "{mark}");
        let [hits, measured] =
            [&mark["in_right_fixes"]["hits"], &mark["right_when_measured"]["hits"]];
        assert_eq!(hits, measured, "{mark}");
    }
    assert!(answer["cautions"].to_string().contains("never the sole means"));
}

#[test]
fn a_right_fix_that_is_wider_than_asked_does_not_end_a_landfall() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows");
    let path = file.to_str().unwrap();
    let told = answer(&["--n", "8", "--seed", "3", "--within-nm", "0.7", "--rows", path]);
    assert_eq!(told["within_nm"], 0.7);
    let rows = rows(&file);
    let looks: Vec<&Value> = rows.iter().flat_map(|row| row["looks"].as_array().unwrap()).collect();
    let wide = looks.iter().filter(|look| look["answer"] == "wide").count();
    println!("{wide} wide of {} looks", looks.len());
    assert!(wide >= 2);
    for fix in rows.iter().map(|row| &row["fix"]).filter(|fix| fix["right"] == true) {
        assert!(fix["axis_m"].as_f64().unwrap() <= 0.7 * 1_852.0 + 0.5, "{fix}");
    }
    // Told apart from what is refused, along the run and at its end.
    let of_bands: u64 = told["along"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|band| band["answers"].as_array().unwrap())
        .filter(|it| it["answer"] == "wide")
        .map(|it| it["count"].as_u64().unwrap())
        .sum();
    assert_eq!(of_bands, wide as u64);
}

#[test]
fn what_is_bad_is_refused_in_words() {
    assert!(refused(&["--n", "0"]).contains("give a whole number from 1 to 1000000"));
    assert!(refused(&["--contacts", "1"]).contains("give a whole number from 2 to 8"));
    assert!(refused(&["--within-nm", "0"]).contains("0 is outside 0.1 to 100 NM"));
    assert!(refused(&["--ships", "2"]).contains("2 is outside 0 to 1"));
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows");
    let path = file.to_str().unwrap();
    let begin = ["--n", "1", "--seed", "5", "--rows", path];
    assert_eq!(campaign(&begin).0, 0);
    let text = fs::read_to_string(&file).unwrap();
    let seed = refused(&["--n", "1", "--seed", "6", "--rows", path]);
    assert!(seed.contains("was begun with another seed: 5 there, 6 here"), "{seed}");
    assert!(seed.contains("go on with the plan, the seed and the version"), "{seed}");
    let plan = refused(&[&begin[..], &["--sigma-nm", "3", "--sea-state", "4"]].concat());
    let both = "another sigma_nm: 2 there, 3 here; another sea_state: 2 there, 4 here";
    assert!(plan.contains(both), "{plan}");
    fs::write(&file, text.replace("\"version\",\"", "\"version\",\"9")).unwrap();
    assert!(refused(&begin).contains("was begun with another version: 9"));
    // A bad line is the torn last one, or named.
    let mut lines: Vec<&str> = text.lines().collect();
    lines.insert(1, "{\"landfall\":7}");
    fs::write(&file, lines.join("\n") + "\n").unwrap();
    let bad = refused(&begin);
    assert!(bad.contains("line 2 is no row of a campaign: missing field"), "{bad}");
    fs::write(&file, format!("{text}{}\n", text.lines().nth(1).unwrap()) + "x\n").unwrap();
    assert!(
        refused(&begin).contains("line 3 is no row of a campaign: landfall 1 stands there twice")
    );
    // What is not ours is not touched.
    fs::write(&file, "dear diary\n").unwrap();
    assert!(refused(&begin).contains("is no file of a campaign's rows"));
    assert_eq!(fs::read_to_string(&file).unwrap(), "dear diary\n");
    assert!(refused(&["--n", "1", "--rows", "no/such/folder/rows"]).contains("cannot be opened"));
    let own = refused(&["--n", "1", "--rows", "charts-sample/coast.shp"]);
    assert!(own.contains("a file of the chart folder charts-sample"), "{own}");
    assert!(refused(&["--rows", path, "-o", path]).contains("--rows and -o name the same file"));
    let behind = refused(&["--track-deg", "240"]);
    assert!(behind.contains("cannot be used multiple times"), "{behind}");
}

/// Rows of other sets than patrol and metric were once solved by the errors of one of these.
#[test]
fn rows_that_were_solved_by_another_sets_errors_are_not_gone_on_with() {
    const SOLVED: &str = ",[\"solved_by\",\"the set's own errors\"]";
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows");
    let run = |set: &'static str| {
        let plan = PLAN.map(|it| if it == "patrol" { set } else { it });
        let more = ["--n", "1", "--seed", "5", "--rows", file.to_str().unwrap()];
        foreland(&[&plan[..], &more[..]].concat())
    };
    let (status, _, err) = run("patrol");
    assert_eq!(status, 0, "{err}");
    assert!(!fs::read_to_string(&file).unwrap().contains("solved_by"));
    fs::remove_file(&file).unwrap();
    let (status, _, err) = run("boat");
    assert_eq!(status, 0, "{err}");
    let text = fs::read_to_string(&file).unwrap();
    assert!(text.contains(SOLVED), "{text}");
    fs::write(&file, text.replace(SOLVED, "")).unwrap();
    let (status, out, err) = run("boat");
    assert_eq!((status, out.as_str()), (2, ""), "{err}");
    let plain: String = err.chars().filter(|c| !"×│╰─▶".contains(*c)).collect();
    let told = plain.split_whitespace().collect::<Vec<_>>().join(" ");
    let wanted = "was begun with another solved_by: nothing there, the set's own errors here";
    assert!(told.contains(wanted), "{told}");
}

#[cfg(unix)]
#[test]
fn stopped_by_the_user_it_tells_what_is_done_and_goes_on_later() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows");
    let path = file.to_str().unwrap();
    let child = Command::new(env!("CARGO_BIN_EXE_foreland"))
        .args(PLAN)
        .args(["--n", "100000", "--seed", "7", "--threads", "1", "--rows", path])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let began = Instant::now();
    while fs::read_to_string(&file).map_or(0, |text| text.lines().count()) < 3 {
        assert!(began.elapsed() < Duration::from_mins(5), "no rows come");
        sleep(Duration::from_millis(50));
    }
    let asked = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(asked.success());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    let kept = rows(&file).len();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(text.starts_with(&format!("CAMPAIGN: {kept} landfalls")), "{text}");
    assert!(text.contains("STOPPED: 100000 were asked for"), "{text}");
    // Gone on with to where it stopped: the same figures, and nothing made anew.
    let again = campaign(&["--n", &kept.to_string(), "--seed", "7", "--rows", path]);
    assert_eq!(again.0, 0, "{}", again.2);
    let figures = |text: &str| text.split_once("THE FIRST FIX THAT COUNTS").unwrap().1.to_owned();
    assert_eq!(figures(&again.1), figures(&text));
}
