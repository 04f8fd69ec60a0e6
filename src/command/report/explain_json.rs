use serde::Serialize;

use super::expect_json::{Mark as Row, Own};
use super::expect_text::Asked;
use super::pretty::pretty;
use super::rounding::rounded;
use super::words::and_standing;
use crate::chart::HeightSource;
use crate::command::Failure;
use crate::paint::{ClutterHeard, Confidence, Explanation, Hides};
use crate::radar::terrain_gamma_db;

/// Why a mark paints or does not, for scripts: `foreland.explain/1`.
///
/// # Errors
/// A fault of the program: the answer does not make JSON.
pub fn explain_json(asked: &Asked<'_>, found: &Explanation) -> Result<String, Failure> {
    let ground = found.ground;
    let (own, of_mark) = found.horizons;
    let kind = found.answered_by.and_then(|by| by.kind);
    let answer = Answer {
        schema: "foreland.explain/1",
        own: Own::of(asked),
        mark: Row::of(asked, &found.seen),
        ground: Ground {
            height_ft: rounded(ground.height.feet(), 1),
            source: source_word(ground.source),
            confidence: Confidence::in_heights(ground.source).as_str(),
        },
        k: rounded(asked.conditions.earth.k(), 6),
        horizon_nm: rounded(own.nautical_miles(), 3),
        mark_horizon_nm: rounded(of_mark.nautical_miles(), 3),
        edge: found.hides.as_ref().map(Edge::of),
        in_sight_ft: rounded(found.in_sight.feet(), 2),
        answered_by: found.answered_by.map(|by| if by.ground { "ground" } else { "mark" }),
        cell_nm: found.answered_by.map(|by| rounded(by.at.nautical_miles(), 4)),
        cells: found.answered_by.map_or(0, |by| by.cells),
        terrain: kind.map(|kind| kind.terrain.as_str()),
        terrain_by: kind.map(|kind| kind.by.as_str()),
        gamma_db: kind.map(|kind| terrain_gamma_db(kind.terrain)),
        terms: found
            .terms
            .iter()
            .map(|term| Term { term: term.name, db: rounded(term.db, 4), from: &term.from })
            .collect(),
        sea: found.sea.map(Clutter::of),
        rain: found.rain.map(Clutter::of),
        pulses: found.integration.0,
        integration_db: rounded(found.integration.1, 2),
        even_db: rounded(found.even_db, 4),
        margin_db: found.margin_db.map(|db| rounded(db, 4)),
        cautions: and_standing(&found.cautions),
    };
    pretty(&answer)
}

/// As scripts read where a height comes from.
pub(super) fn source_word(source: HeightSource) -> &'static str {
    match source {
        HeightSource::Sea => "sea",
        HeightSource::Grid => "grid",
        HeightSource::Contour => "contour",
        HeightSource::Mark => "mark",
        HeightSource::Assumed => "assumed",
    }
}

#[derive(Serialize)]
struct Answer<'a> {
    schema: &'static str,
    own: Own,
    mark: Option<Row<'a>>,
    ground: Ground,
    k: f64,
    horizon_nm: f64,
    mark_horizon_nm: f64,
    edge: Option<Edge>,
    in_sight_ft: f64,
    answered_by: Option<&'static str>,
    cell_nm: Option<f64>,
    cells: usize,
    terrain: Option<&'static str>,
    terrain_by: Option<&'static str>,
    gamma_db: Option<f64>,
    terms: Vec<Term<'a>>,
    sea: Option<Clutter>,
    rain: Option<Clutter>,
    pulses: u32,
    integration_db: f64,
    even_db: f64,
    margin_db: Option<f64>,
    cautions: Vec<&'a str>,
}

#[derive(Serialize)]
struct Ground {
    height_ft: f64,
    source: &'static str,
    confidence: &'static str,
}

#[derive(Serialize)]
struct Edge {
    kind: &'static str,
    ground_range_nm: f64,
    height_ft: f64,
    over_line_m: f64,
    v: f64,
    one_way_db: f64,
}

impl Edge {
    fn of(hides: &Hides) -> Self {
        Self {
            kind: if hides.sea { "sea" } else { "land" },
            ground_range_nm: rounded(hides.at.nautical_miles(), 4),
            height_ft: rounded(hides.height.feet(), 1),
            over_line_m: rounded(hides.over_line_m, 2),
            v: rounded(hides.v, 3),
            one_way_db: rounded(hides.loss_db, 2),
        }
    }
}

#[derive(Serialize)]
#[allow(clippy::struct_field_names, reason = "the schema's own keys")]
struct Term<'a> {
    term: &'static str,
    db: f64,
    from: &'a str,
}

#[derive(Serialize)]
struct Clutter {
    m2: f64,
    over_noise_db: f64,
    takes_db: f64,
}

impl Clutter {
    fn of(heard: ClutterHeard) -> Self {
        Self {
            m2: rounded(heard.m2, 4),
            over_noise_db: rounded(heard.over_noise_db, 2),
            takes_db: rounded(heard.takes_db, 4),
        }
    }
}
