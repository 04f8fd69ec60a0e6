use std::env;
use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;

use super::common::{CAUTION, Common, Format, read_text, resolve_set, set_file};
use super::failure::{Done, Failure};
use super::look::Look;
use super::report::{drill_json, drill_text, score_json, score_text};
use crate::chart::{Chart, GeoBox};
use crate::drill::{
    Answer, Entry, Exercise, LESSONS, Lesson, MadeError, Progress, landfall, places_over, reach,
    score,
};
use crate::radar::Set;
use crate::screen::{self, Outcome, Practice, State, now};
use crate::text::{plain_json, plain_lines};
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// Places of a large chart that are tried.
const MOST_PLACES: usize = 200;

/// A coast must lie so near to one, metres.
const NEAR_M: f64 = 60.0 * METRES_PER_NAUTICAL_MILE;

/// Columns of the plot of scores.
const COLUMNS: usize = 76;

/// Training: an unseen landfall to solve, then a score.
#[derive(Debug, Clone, Args)]
#[expect(clippy::struct_excessive_bools, reason = "each is a flag of the command line")]
pub struct DrillArgs {
    #[command(flatten)]
    common: Common,
    /// One of the twelve lessons, on the sample chart; without it a landfall made from the seed
    #[arg(long, value_name = "N")]
    lesson: Option<usize>,
    /// Everything of chance comes from it: the same seed makes the same exercise
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    /// The radar of a landfall made from the seed: metric, patrol, boat, or a set file
    #[arg(long, value_name = "NAME", default_value = "patrol", conflicts_with = "lesson")]
    set: String,
    /// Without a screen: say what may be known, write the pictures, score an answer
    #[arg(long)]
    headless: bool,
    /// Write what the trainee may know to this file, the pictures with it, as JSON
    #[arg(long, value_name = "FILE", requires = "headless")]
    emit: Option<PathBuf>,
    /// Score these sightings with [declare], TOML or JSON; - reads standard input
    #[arg(long, value_name = "FILE", requires = "headless")]
    answer: Option<PathBuf>,
    /// Keep the score with those of before
    #[arg(long, requires = "answer")]
    keep: bool,
    #[command(flatten)]
    look: Look,
    /// List the lessons
    #[arg(long, conflicts_with_all = ["lesson", "headless"])]
    lessons: bool,
    /// Scores so far, and how they went
    #[arg(long, conflicts_with_all = ["lesson", "headless", "lessons"])]
    progress: bool,
}

/// Makes an exercise, and shows it or scores an answer to it.
///
/// # Errors
/// Bad input: a chart, a lesson, a set, an answer; a file that cannot be written.
pub fn run(args: &DrillArgs) -> Result<Done, Failure> {
    check_apart(args)?;
    if args.lessons {
        args.common.deliver(&list())?;
        return Ok(Done::OK);
    }
    if args.progress {
        let progress = Progress::read(&progress_file()).map_err(|error| {
            Failure::input(error.to_string()).with_help("it is a plain text file, one score a line")
        })?;
        let told = format!("{}\n{CAUTION}\n", progress.report(COLUMNS));
        args.common.deliver(&told)?;
        return Ok(Done::OK);
    }
    let (chart, exercise) = exercise(args)?;
    if !args.headless {
        return play(args, chart, exercise);
    }
    if let Some(file) = &args.emit {
        emit(&chart, &exercise, file)?;
    }
    let told = match &args.answer {
        Some(file) => scored(args, &chart, &exercise, file)?,
        None => match args.common.format {
            Format::Text => drill_text(&chart, &exercise),
            Format::Json => drill_json(&chart, &exercise, &[])?,
        },
    };
    args.common.deliver(&told)?;
    Ok(Done::OK)
}

/// That nothing is written over the answer, the set or the scores of before.
fn check_apart(args: &DrillArgs) -> Result<(), Failure> {
    let scores = progress_file();
    let emit = args.emit.as_deref().map(|file| ("--emit", file));
    let answer = args.answer.as_deref().map(|file| ("--answer", file));
    let mut read = vec![("the file of scores", scores.as_path())];
    read.extend(answer);
    read.extend(set_file("--set", &args.set));
    args.common.check_apart(emit.as_slice(), &read)
}

/// Opens the display on an exercise.
fn play(args: &DrillArgs, chart: Chart, exercise: Exercise) -> Result<Done, Failure> {
    if !io::stdout().is_terminal() {
        return Err(Failure::input("a drill needs a terminal, and standard output is none").with_help(
            "--headless does without one: foreland drill --headless --lesson 1 --emit picture.json",
        ));
    }
    let theme = args.look.theme();
    let mut state = State::practising(Arc::new(chart), exercise, progress_file(), theme);
    state.parts.folders = Some(args.common.folders()).filter(|it| !it.folders.is_empty());
    let left = screen::run_drill(state)
        .map_err(|error| Failure::input(format!("the display cannot go on: {error}")))?;
    println!("{}", plain_lines(&left.practice.as_ref().map_or_else(String::new, parting)));
    Ok(Done::OK)
}

/// What an exercise came to, said on leaving.
fn parting(practice: &Practice) -> String {
    let title = practice.title();
    let score = match (&practice.outcome, practice.ended) {
        (Outcome::Scored(score), _) => score,
        (Outcome::Failed, _) => return format!("Drill, {title}: the program failed, no score."),
        (Outcome::None, Some(_)) => return format!("Drill, {title}: left before it was scored."),
        (Outcome::None, None) => return format!("Drill, {title}: nothing was declared, no score."),
    };
    let path = practice.scores.display();
    let kept = match &practice.kept {
        Some(Ok(())) => format!("kept in {path}"),
        Some(Err(why)) => format!("NOT kept: {why}"),
        None => "left before it was kept".to_owned(),
    };
    format!("Drill, {title}: {:.0} of 100, {kept}", score.score)
}

fn exercise(args: &DrillArgs) -> Result<(Chart, Exercise), Failure> {
    let Some(number) = args.lesson else {
        let chart = if args.common.chart.is_empty() {
            Chart::sample()?
        } else {
            // Of a large chart nothing yet: a place on it is drawn first.
            args.common.open_chart_about(Some(GeoBox::new(0.0, 0.0, 0.0, 0.0)))?
        };
        let set = resolve_set(&args.set)?;
        let told = |chart: &Chart, error: MadeError| {
            Failure::input(format!("{}: {error}", chart.name())).with_help(
                "take a chart of a coast with open sea off it, or the sample: leave --chart out",
            )
        };
        if chart.opened_about().is_some() {
            return somewhere(args, &chart, &set)?.map_err(|error| told(&chart, error));
        }
        let made = landfall(&chart, &set, &args.set, args.seed);
        return made.map_err(|error| told(&chart, error)).map(|made| (chart, made));
    };
    let Some(lesson) = Lesson::of_number(number) else {
        let told = format!("--lesson {number}: there are lessons 1 to {}", LESSONS.len());
        return Err(Failure::input(told).with_help("foreland drill --lessons lists them"));
    };
    if !args.common.chart.is_empty() {
        return Err(Failure::input("--lesson: the lessons are on the sample chart")
            .with_help("leave --chart out; without --lesson a landfall is made on any chart"));
    }
    let made = lesson.exercise(args.seed).map_err(|error| Failure::Fault(error.to_string()))?;
    Ok((Chart::sample()?, made))
}

/// A landfall somewhere on a large chart: places are drawn over its box, evenly over the Earth, until a coast
/// lies about one on which a landfall can be made.
fn somewhere(
    args: &DrillArgs,
    chart: &Chart,
    set: &Set,
) -> Result<Result<(Chart, Exercise), MadeError>, Failure> {
    let Some(extent) = chart.coast().extent() else { return Ok(Err(MadeError::NoMarks)) };
    let whole = chart.coast().taken_in().is_none();
    let mut why = MadeError::NoMarks;
    for at in places_over(&extent, args.seed).take(MOST_PLACES) {
        let area = GeoBox::around(at, reach(set));
        // Where all of the coast is at hand, only the marks of a coast there have to be sought.
        let near = GeoBox::around(at, GroundRange::clamped_metres(NEAR_M));
        if whole && chart.coast().runs_in(&near).next().is_none() {
            continue;
        }
        let part = args.common.open_chart_about(Some(area))?;
        match landfall(&part, set, &args.set, args.seed) {
            Ok(made) => return Ok(Ok((part, made))),
            Err(error) => why = error,
        }
    }
    Ok(Err(why))
}

fn emit(chart: &Chart, exercise: &Exercise, file: &Path) -> Result<(), Failure> {
    let scans: Result<Vec<_>, _> =
        (0..exercise.scans).map(|number| exercise.scan(chart, number)).collect();
    let scans = scans.map_err(|error| Failure::Fault(error.to_string()))?;
    let text = drill_json(chart, exercise, &scans)?;
    std::fs::write(file, plain_json(&text)).map_err(|error| {
        Failure::input(format!("{}: cannot be written: {error}", file.display()))
            .with_help("name a file in a folder that exists and may be written to")
    })
}

fn scored(
    args: &DrillArgs,
    chart: &Chart,
    exercise: &Exercise,
    file: &Path,
) -> Result<String, Failure> {
    let (text, name) = read_text(file)?;
    let base = file.parent().unwrap_or(Path::new(""));
    let answer = Answer::parse(&text, &name, base)?;
    answer.sightings.check_marks(chart)?;
    let found = score(chart, exercise, &answer);
    if args.keep {
        let entry = Entry::of(exercise, &found, now());
        Progress::keep(&progress_file(), &entry).map_err(|error| {
            Failure::input(error.to_string()).with_help("leave --keep out to score without keeping")
        })?;
    }
    match args.common.format {
        Format::Text => Ok(score_text(exercise, &found)),
        Format::Json => score_json(&found),
    }
}

fn list() -> String {
    let rows = LESSONS.iter().map(|lesson| format!("{:>2}  {}\n", lesson.number, lesson.title));
    rows.collect()
}

/// Where scores are kept: the user's data folder.
pub(super) fn progress_file() -> PathBuf {
    let set = |name: &str| env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let data = set("XDG_DATA_HOME")
        .or_else(|| set("HOME").map(|home| home.join(".local").join("share")))
        .unwrap_or_else(env::temp_dir);
    data.join("foreland").join("drill.txt")
}
