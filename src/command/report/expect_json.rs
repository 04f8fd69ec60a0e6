use serde::Serialize;

use super::expect_text::Asked;
use super::explain_json::source_word;
use super::pretty::pretty;
use super::rounding::{in_turn, rounded};
use super::words::and_standing;
use crate::command::Failure;
use crate::paint::{Confidence, Expectation, ExpectedCoast, ExpectedMark, heights_of};

/// What should paint, for scripts: `foreland.expect/1`.
///
/// # Errors
/// A fault of the program: the answer does not make JSON.
pub fn expect_json(asked: &Asked<'_>, found: &Expectation) -> Result<String, Failure> {
    let answer = Answer {
        schema: "foreland.expect/1",
        own: Own::of(asked),
        horizon_nm: rounded(found.horizon.nautical_miles(), 3),
        marks: found.marks.iter().filter_map(|mark| Mark::of(asked, mark)).collect(),
        coast: found.coast.iter().map(Coast::of).collect(),
        second_time: found.second_time.iter().filter_map(|mark| Mark::of(asked, mark)).collect(),
        cautions: and_standing(&found.cautions),
    };
    pretty(&answer)
}

#[derive(Serialize)]
struct Answer<'a> {
    schema: &'static str,
    own: Own,
    horizon_nm: f64,
    marks: Vec<Mark<'a>>,
    coast: Vec<Coast>,
    second_time: Vec<Mark<'a>>,
    cautions: Vec<&'a str>,
}

#[derive(Serialize)]
pub(super) struct Own {
    lat_deg: f64,
    lon_deg: f64,
    height_ft: f64,
}

impl Own {
    pub fn of(asked: &Asked<'_>) -> Self {
        let own = asked.vantage;
        Self {
            lat_deg: rounded(own.position.latitude(), 6),
            lon_deg: rounded(own.position.longitude(), 6),
            height_ft: rounded(own.height.feet(), 1),
        }
    }
}

#[derive(Serialize)]
#[allow(clippy::struct_field_names, reason = "the schema's own keys")]
pub(super) struct Mark<'a> {
    mark: &'a str,
    kind: &'static str,
    lat_deg: f64,
    lon_deg: f64,
    height_ft: f64,
    range_nm: f64,
    ground_range_nm: f64,
    bearing_deg: f64,
    relative_deg: Option<f64>,
    signal_to_noise_db: Option<f64>,
    signal_to_clutter_db: Option<f64>,
    paint_probability: f64,
    outcome: &'static str,
    heights_from: Option<&'static str>,
    heights_confidence: Option<&'static str>,
    second_time_range_nm: Option<f64>,
    second_time_probability: Option<f64>,
}

impl<'a> Mark<'a> {
    pub fn of(asked: &Asked<'a>, seen: &ExpectedMark) -> Option<Self> {
        let mark = asked.chart.marks().get(seen.mark)?;
        let source = heights_of(asked.chart, asked.vantage.position, seen).map(|it| it.source);
        Some(Self {
            mark: &mark.name,
            kind: mark.kind.as_str(),
            lat_deg: rounded(mark.position.latitude(), 6),
            lon_deg: rounded(mark.position.longitude(), 6),
            height_ft: rounded(mark.height.feet(), 1),
            range_nm: rounded(seen.range.nautical_miles(), 4),
            ground_range_nm: rounded(seen.ground_range.nautical_miles(), 4),
            bearing_deg: in_turn(seen.bearing),
            relative_deg: seen.relative.map(in_turn),
            signal_to_noise_db: seen.signal_to_noise_db.map(|db| rounded(db, 2)),
            signal_to_clutter_db: seen.signal_to_clutter_db.map(|db| rounded(db, 2)),
            paint_probability: rounded(seen.paint_probability, 4),
            outcome: seen.outcome.as_str(),
            heights_from: source.map(source_word),
            heights_confidence: source.map(|source| Confidence::in_heights(source).as_str()),
            second_time_range_nm: seen
                .second_time
                .map(|it| rounded(it.appears.nautical_miles(), 4)),
            second_time_probability: seen.second_time.map(|it| rounded(it.paint_probability, 4)),
        })
    }
}

#[derive(Serialize)]
struct Coast {
    bearing_deg: f64,
    range_nm: f64,
    depth_nm: f64,
    signal_to_noise_db: f64,
    paint_probability: f64,
}

impl Coast {
    fn of(row: &ExpectedCoast) -> Self {
        Self {
            bearing_deg: in_turn(row.bearing),
            range_nm: rounded(row.range.nautical_miles(), 4),
            depth_nm: rounded(row.depth.nautical_miles(), 4),
            signal_to_noise_db: rounded(row.signal_to_noise_db, 2),
            paint_probability: rounded(row.paint_probability, 4),
        }
    }
}
