//! A picture for scripts: `foreland.picture/1`.

use serde::Serialize;

use crate::command::failure::Failure;
use crate::command::report::{Asked, rounded};
use crate::paint::{Frame, Picture, Plan, Trace, TraceSide};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// The picture as JSON.
///
/// # Errors
/// A fault of the program: it does not make JSON.
pub fn write(asked: &Asked<'_>, picture: &Picture) -> Result<String, Failure> {
    let text = match picture {
        Picture::Plan(plan) => serde_json::to_string(&of_plan(asked, plan)),
        Picture::Trace(trace) => serde_json::to_string(&of_trace(asked, trace)),
    };
    text.map(|text| text + "\n").map_err(|error| Failure::Fault(error.to_string()))
}

/// What both kinds have.
#[derive(Serialize)]
struct Head<'a> {
    schema: &'static str,
    kind: &'static str,
    own: Own,
    set: &'a str,
    sea_state: u8,
    rain_mm_h: f64,
    k: f64,
    scale_nm: f64,
    bins: usize,
    bin_nm: f64,
    seed: u64,
    threshold_db: f64,
    caution: &'static str,
}

#[derive(Serialize)]
#[allow(clippy::struct_field_names, reason = "the schema's own keys")]
struct Own {
    lat_deg: f64,
    lon_deg: f64,
    height_ft: f64,
    heading_deg: Option<f64>,
}

impl<'a> Head<'a> {
    fn of(asked: &Asked<'a>, kind: &'static str, frame: &Frame, threshold_db: f64) -> Self {
        let (vantage, conditions) = (asked.vantage, asked.conditions);
        let scale_nm = frame.scale.nautical_miles();
        Self {
            schema: "foreland.picture/1",
            kind,
            own: Own {
                lat_deg: rounded(vantage.position.latitude(), 6),
                lon_deg: rounded(vantage.position.longitude(), 6),
                height_ft: rounded(vantage.height.feet(), 1),
                heading_deg: vantage.heading.map(|heading| rounded(heading.degrees(), 3)),
            },
            set: &asked.set.name,
            sea_state: conditions.sea_state,
            rain_mm_h: conditions.rain.mm_h,
            k: rounded(conditions.earth.k(), 6),
            scale_nm: rounded(scale_nm, 6),
            bins: frame.bins,
            bin_nm: rounded(frame.bin_m() / METRES_PER_NAUTICAL_MILE, 9),
            seed: frame.seed,
            threshold_db: rounded(threshold_db, 3),
            caution: crate::command::CAUTION,
        }
    }
}

/// Levels of a row of cells to a tenth of a decibel; null where the receiver is shut.
type Row = Vec<Option<f32>>;

fn row(levels: &[f32]) -> Row {
    levels.iter().map(|db| db.is_finite().then_some((db * 10.0).round() / 10.0)).collect()
}

#[derive(Serialize)]
struct OfPlan<'a> {
    #[serde(flatten)]
    head: Head<'a>,
    bearings: usize,
    bearing_step_deg: f64,
    level_db: Vec<Row>,
    mean_db: Vec<Row>,
}

fn of_plan<'a>(asked: &Asked<'a>, plan: &Plan) -> OfPlan<'a> {
    let frame = plan.frame();
    OfPlan {
        head: Head::of(asked, "plan", frame, plan.threshold_db()),
        bearings: frame.bearings,
        bearing_step_deg: rounded(360.0 / frame.bearings as f64, 9),
        level_db: (0..frame.bearings).map(|cell| row(plan.shown_db(cell))).collect(),
        mean_db: (0..frame.bearings).map(|cell| row(plan.mean_db(cell))).collect(),
    }
}

#[derive(Serialize)]
struct OfTrace<'a> {
    #[serde(flatten)]
    head: Head<'a>,
    bank_deg: f64,
    port: OfSide,
    starboard: OfSide,
}

#[derive(Serialize)]
struct OfSide {
    level_db: Row,
    mean_db: Row,
    deflection: Vec<f32>,
}

impl OfSide {
    fn of(side: &TraceSide) -> Self {
        let out = |bin: usize| (side.deflection(bin) * 1e3).round() / 1e3;
        Self {
            level_db: row(&side.shown_db),
            mean_db: row(&side.mean_db),
            deflection: (0..side.shown_db.len()).map(out).collect(),
        }
    }
}

fn of_trace<'a>(asked: &Asked<'a>, trace: &Trace) -> OfTrace<'a> {
    let frame = trace.frame();
    OfTrace {
        head: Head::of(asked, "trace", frame, trace.threshold_db()),
        bank_deg: rounded(frame.bank.degrees(), 3),
        port: OfSide::of(trace.port()),
        starboard: OfSide::of(trace.starboard()),
    }
}
