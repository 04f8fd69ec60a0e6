//! An exercise and its score, as text and for scripts: `foreland.drill/1`, `foreland.score/1`.

use std::fmt::Write;

use serde::Serialize;

use super::pretty::pretty;
use super::rounding::{Place, rounded};
use crate::chart::Chart;
use crate::command::CAUTION;
use crate::command::failure::Failure;
use crate::drill::{Exercise, Lesson, Scan, Score, words};
use crate::paint::{Picture, Plan, Trace};
use crate::units::{Bearing, GroundRange, METRES_PER_NAUTICAL_MILE};

/// What the trainee may know.
#[derive(Serialize)]
struct Told<'a> {
    schema: &'static str,
    lesson: Option<usize>,
    title: Option<&'static str>,
    seed: u64,
    chart: &'a str,
    set: &'a str,
    set_toml: String,
    own: Own,
    reckoning: Reckoning,
    landfall: Place,
    weather: &'a str,
    first: String,
    every_s: i64,
    scans: Vec<ScanJson>,
    caution: &'static str,
}

#[derive(Serialize)]
#[allow(clippy::struct_field_names, reason = "the keys of a sightings file")]
struct Own {
    height_ft: f64,
    heading_deg: Option<f64>,
    heading_kind: &'static str,
    heading_sigma_deg: f64,
}

#[derive(Serialize)]
struct Reckoning {
    time: String,
    position: String,
    sigma_nm: f64,
    track_deg: Option<f64>,
    speed_kn: Option<f64>,
    track_sigma_deg: f64,
    speed_sigma_kn: f64,
}

#[derive(Serialize)]
struct ScanJson {
    time: String,
    heading_deg: f64,
    bank_deg: f64,
    scale_nm: f64,
    bins: usize,
    bin_nm: f64,
    threshold_db: f64,
    #[serde(flatten)]
    picture: PictureJson,
}

#[derive(Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
enum PictureJson {
    Plan { bearings: usize, bearing_step_deg: f64, level_db: Vec<Row> },
    Trace { port: Vec<f32>, starboard: Vec<f32> },
}

/// Levels to half a decibel; null where the receiver is shut.
type Row = Vec<Option<f32>>;

impl ScanJson {
    fn of(scan: &Scan) -> Self {
        let (frame, threshold_db, picture) = match &scan.picture {
            Picture::Plan(plan) => (plan.frame(), plan.threshold_db(), of_plan(plan)),
            Picture::Trace(trace) => (trace.frame(), trace.threshold_db(), of_trace(trace)),
        };
        Self {
            time: scan.time.to_string(),
            heading_deg: rounded(scan.heading.degrees(), 1),
            bank_deg: rounded(scan.bank.degrees(), 1),
            scale_nm: rounded(frame.scale.nautical_miles(), 6),
            bins: frame.bins,
            bin_nm: rounded(frame.bin_m() / METRES_PER_NAUTICAL_MILE, 9),
            threshold_db: rounded(threshold_db, 3),
            picture,
        }
    }
}

fn of_plan(plan: &Plan) -> PictureJson {
    let bearings = plan.frame().bearings;
    let row = |cell: usize| {
        let levels = plan.shown_db(cell).iter();
        levels.map(|db| db.is_finite().then_some((db * 2.0).round() / 2.0)).collect()
    };
    PictureJson::Plan {
        bearings,
        bearing_step_deg: rounded(360.0 / bearings as f64, 9),
        level_db: (0..bearings).map(row).collect(),
    }
}

fn of_trace(trace: &Trace) -> PictureJson {
    let out = |side: &crate::paint::TraceSide| {
        (0..trace.frame().bins).map(|bin| (side.deflection(bin) * 1e3).round() / 1e3).collect()
    };
    PictureJson::Trace { port: out(trace.port()), starboard: out(trace.starboard()) }
}

/// What may be known of an exercise, with the looks given; never its truth.
///
/// # Errors
/// A fault of the program: it does not make JSON.
pub fn drill_json(chart: &Chart, exercise: &Exercise, scans: &[Scan]) -> Result<String, Failure> {
    let reckoning = &exercise.reckoning;
    let position = reckoning.position;
    let told = Told {
        schema: "foreland.drill/1",
        lesson: exercise.lesson,
        title: exercise.lesson.and_then(Lesson::of_number).map(|lesson| lesson.title),
        seed: exercise.seed,
        chart: chart.name(),
        set: &exercise.set_name,
        set_toml: exercise.set.to_toml(),
        own: Own {
            height_ft: rounded(exercise.own.height.feet(), 1),
            heading_deg: exercise.own.heading.map(|heading| rounded(heading.degrees(), 1)),
            heading_kind: "true",
            heading_sigma_deg: rounded(exercise.own.heading_sigma.degrees(), 2),
        },
        reckoning: Reckoning {
            time: reckoning.time.to_string(),
            position: format!("{:.6},{:.6}", position.latitude(), position.longitude()),
            sigma_nm: rounded(
                reckoning.covariance.sigma_towards(Bearing::ZERO) / METRES_PER_NAUTICAL_MILE,
                3,
            ),
            track_deg: reckoning.track.map(|track| rounded(track.degrees(), 1)),
            speed_kn: reckoning.speed.map(|speed| rounded(speed.knots(), 1)),
            track_sigma_deg: rounded(reckoning.track_sigma.degrees(), 2),
            speed_sigma_kn: rounded(reckoning.speed_sigma.knots(), 2),
        },
        landfall: Place::of(exercise.landfall),
        weather: &exercise.weather,
        first: exercise.first.to_string(),
        every_s: exercise.every_s,
        scans: scans.iter().map(ScanJson::of).collect(),
        caution: CAUTION,
    };
    serde_json::to_string(&told)
        .map(|text| text + "\n")
        .map_err(|error| Failure::Fault(error.to_string()))
}

/// What may be known of an exercise, as text: a sightings file to be filled in.
pub fn drill_text(chart: &Chart, exercise: &Exercise) -> String {
    let mut text = String::new();
    let title = exercise.lesson.and_then(Lesson::of_number);
    let name = title.map_or_else(
        || "A landfall".to_owned(),
        |lesson| format!("Lesson {}: {}", lesson.number, lesson.title),
    );
    let _ = writeln!(text, "# {name}, seed {}, on {}", exercise.seed, chart.name());
    let _ = writeln!(text, "# weather: {}", exercise.weather);
    let _ = writeln!(
        text,
        "# {} looks from {}, one every {} s, on the {} NM scale: --emit FILE writes them",
        exercise.scans, exercise.first, exercise.every_s, exercise.scale_nm
    );
    let _ = writeln!(text, "# contacts and [declare] go below; --answer FILE scores them\n");
    text.push_str(&exercise.as_file());
    text.push_str("\n# [[contact]]\n# label = \"A\"\n# time = \"…\"\n# range_nm = 0.0\n# bearing_deg = 0.0\n\n");
    text.push_str(
        "# [declare]\n# position = \"…\"\n# sigma_nm = 0.5\n# landfall = \"cannot-say\"\n",
    );
    let _ = writeln!(text, "\n# {CAUTION}");
    text
}

#[derive(Serialize)]
struct ScoreJson<'a> {
    schema: &'static str,
    score: f64,
    hints: usize,
    error_nm: Option<f64>,
    possible_nm: f64,
    identities_right: usize,
    identities: usize,
    identities_wrong: Vec<Wrong<'a>>,
    inside_stated: Option<bool>,
    landfall_right: bool,
    truth: Truth,
    parts: Vec<PartJson<'a>>,
    caution: &'static str,
}

#[derive(Serialize)]
struct Truth {
    position: Place,
    time: String,
}

#[derive(Serialize)]
struct Wrong<'a> {
    contact: &'a str,
    given: &'a str,
    truly: Option<&'a str>,
}

#[derive(Serialize)]
struct PartJson<'a> {
    what: &'a str,
    points: f64,
}

fn miles(range: GroundRange) -> f64 {
    rounded(range.nautical_miles(), 4)
}

/// A score for scripts.
///
/// # Errors
/// A fault of the program: it does not make JSON.
pub fn score_json(score: &Score) -> Result<String, Failure> {
    let told = ScoreJson {
        schema: "foreland.score/1",
        score: score.score,
        hints: score.hints,
        error_nm: score.error.map(miles),
        possible_nm: miles(score.possible),
        identities_right: score.names_right,
        identities: score.names,
        identities_wrong: score
            .names_wrong
            .iter()
            .map(|it| Wrong { contact: &it.contact, given: &it.given, truly: it.truly.as_deref() })
            .collect(),
        inside_stated: score.inside_stated,
        landfall_right: score.landfall_right,
        truth: Truth { position: Place::of(score.truth), time: score.time.to_string() },
        parts: score
            .parts
            .iter()
            .map(|part| PartJson { what: &part.what, points: rounded(part.points, 1) })
            .collect(),
        caution: CAUTION,
    };
    pretty(&told)
}

/// A score, as text.
pub fn score_text(exercise: &Exercise, score: &Score) -> String {
    let mut text = words::points(score).join("\n");
    text.push_str("\n\n");
    for line in words::truth(exercise, score) {
        let _ = writeln!(text, "{line}");
    }
    let _ = writeln!(text, "\n{CAUTION}");
    text
}
