use std::fmt::Write as _;

use super::page::columns;
use super::sectors::sectors;
use super::words::{height_source, rain};
use crate::chart::{Chart, HeightSource, Mark};
use crate::command::CAUTION;
use crate::paint::{
    Conditions, Confidence, Expectation, ExpectedMark, Outcome, Vantage, heights_of,
};
use crate::radar::Set;
use crate::units::GroundRange;

/// How many sectors of coast are told.
const SECTORS_SHOWN: usize = 40;

/// What was asked of [`crate::paint::expect`].
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// The chart it was asked on.
    pub chart: &'a Chart,
    /// From where.
    pub vantage: &'a Vantage,
    /// With which set.
    pub set: &'a Set,
    /// In what weather.
    pub conditions: &'a Conditions,
    /// How far.
    pub reach: GroundRange,
    /// Between rows of coast.
    pub step_deg: f64,
}

/// What should paint, for people: each mark with what becomes of it and why, then the coast by
/// sectors.
pub fn expect_text(asked: &Asked<'_>, found: &Expectation) -> String {
    let mut text = String::new();
    heading(&mut text, asked, found);
    marks(&mut text, asked, found);
    coast(&mut text, asked, found);
    second_time(&mut text, asked, found);
    put_cautions(&mut text, &found.cautions);
    text.push_str(CAUTION);
    text.push('\n');
    text
}

/// The cautions, where there are any.
pub(super) fn put_cautions(text: &mut String, cautions: &[String]) {
    if cautions.is_empty() {
        return;
    }
    text.push_str("CAUTIONS\n");
    for caution in cautions {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "  {caution}");
    }
    text.push('\n');
}

fn heading(text: &mut String, asked: &Asked<'_>, found: &Expectation) {
    let Asked { vantage, set, conditions, .. } = asked;
    let _ = writeln!(text, "EXPECTED ON {}", asked.chart.name());
    let _ = write!(text, "  from {}, antenna {:.0} ft", vantage.position, vantage.height.feet());
    if let Some(heading) = vantage.heading {
        let _ = write!(text, ", heading {heading} true");
    }
    let _ = writeln!(text);
    let _ = writeln!(
        text,
        "  set {}, sea state {}, {}, k {:.3}; out to {:.1} NM",
        set.name,
        conditions.sea_state,
        rain(conditions.rain),
        conditions.earth.k(),
        asked.reach.nautical_miles()
    );
    let _ = writeln!(text, "  sea horizon {:.1} NM\n", found.horizon.nautical_miles());
}

fn marks(text: &mut String, asked: &Asked<'_>, found: &Expectation) {
    let rows: Vec<(&Mark, &ExpectedMark)> = found
        .marks
        .iter()
        .filter_map(|seen| asked.chart.marks().get(seen.mark).map(|mark| (mark, seen)))
        .collect();
    if rows.is_empty() {
        text.push_str("MARKS\n  none charted within reach\n\n");
        return;
    }
    let relative = asked.vantage.heading.is_some();
    let head = ["mark", "kind", "ft", "NM", "true", "rel", "chance", "dB", "sea", "outcome"];
    let mut table = vec![head.map(str::to_owned).to_vec()];
    table.extend(rows.into_iter().map(|(mark, seen)| {
        vec![
            mark.name.clone(),
            mark.kind.as_str().to_owned(),
            format!("{:.0}", mark.height.feet()),
            format!("{:.1}", seen.range.nautical_miles()),
            seen.bearing.to_string(),
            seen.relative.map_or(String::new(), |bearing| bearing.to_string()),
            format!("{:.2}", seen.paint_probability),
            decibels(seen.signal_to_noise_db),
            decibels(seen.signal_to_clutter_db),
            outcome(asked, mark, seen),
        ]
    }));
    if !relative {
        for row in &mut table {
            row.remove(5);
        }
    }
    put(text, "MARKS (dB: echo over noise; sea: over the return of sea and rain)", &table);
    heights(text, asked, found);
}

/// Where the heights of the marks are from, how many each, and how far they can be trusted.
fn heights(text: &mut String, asked: &Asked<'_>, found: &Expectation) {
    let sources: Vec<HeightSource> = found
        .marks
        .iter()
        .filter_map(|seen| heights_of(asked.chart, asked.vantage.position, seen))
        .map(|ground| ground.source)
        .collect();
    let all =
        [HeightSource::Grid, HeightSource::Contour, HeightSource::Mark, HeightSource::Assumed];
    let told: Vec<String> = all
        .into_iter()
        .filter_map(|source| {
            let count = sources.iter().filter(|other| **other == source).count();
            let confidence = Confidence::in_heights(source).as_str();
            (count > 0).then(|| format!("{count} {} ({confidence})", height_source(source)))
        })
        .collect();
    let _ =
        writeln!(text, "HEIGHTS of these marks, and confidence in them\n  {}\n", told.join("; "));
}

fn decibels(level: Option<f64>) -> String {
    level.map_or_else(String::new, |db| format!("{db:.0}"))
}

/// A titled table, set in.
fn put(text: &mut String, title: &str, rows: &[Vec<String>]) {
    let _ = writeln!(text, "{title}");
    for line in columns(rows) {
        let _ = writeln!(text, "  {line}");
    }
    text.push('\n');
}

/// The outcome of a mark, and where its figures do not tell the reason, that.
fn outcome(asked: &Asked<'_>, mark: &Mark, seen: &ExpectedMark) -> String {
    let word = seen.outcome.as_str();
    match seen.outcome {
        Outcome::BelowHorizon => {
            let horizon = asked.conditions.earth.horizon(asked.vantage.height, mark.height);
            format!("{word}: its top rises at {:.1} NM", horizon.nautical_miles())
        }
        Outcome::OutOfRange => format!("{word}: {}", off_the_screen(asked.set, seen)),
        _ if assumed(asked, seen) => format!("{word}: its ground's height is assumed"),
        _ => word.to_owned(),
    }
}

/// Whether nothing tells how high the ground about a mark is.
fn assumed(asked: &Asked<'_>, seen: &ExpectedMark) -> bool {
    heights_of(asked.chart, asked.vantage.position, seen)
        .is_some_and(|ground| ground.source == HeightSource::Assumed)
}

pub(super) fn off_the_screen(set: &Set, seen: &ExpectedMark) -> String {
    if seen.range < set.blind_range() {
        format!("nearer than {:.2} NM nothing shows", set.blind_range().nautical_miles())
    } else if seen.range > set.greatest_scale() {
        format!("the largest scale is {} NM", set.greatest_scale().nautical_miles())
    } else {
        format!("past {:.1} NM the next pulse is out", set.unambiguous_range().nautical_miles())
    }
}

/// Marks that stand at a false range, where there are any.
fn second_time(text: &mut String, asked: &Asked<'_>, found: &Expectation) {
    let rows: Vec<Vec<String>> = found
        .second_time
        .iter()
        .filter_map(|seen| {
            let (mark, late) = (asked.chart.marks().get(seen.mark)?, seen.second_time?);
            Some(vec![
                mark.name.clone(),
                format!("{:.1}", seen.range.nautical_miles()),
                seen.bearing.to_string(),
                format!("{:.1}", late.appears.nautical_miles()),
                format!("{:.2}", late.paint_probability),
            ])
        })
        .collect();
    if !rows.is_empty() {
        let head = ["mark", "NM", "true", "shown at NM", "chance"];
        let mut table = vec![head.map(str::to_owned).to_vec()];
        table.extend(rows);
        put(text, "SECOND-TIME ECHOES: they come after the next pulse, at a false range", &table);
    }
}

fn coast(text: &mut String, asked: &Asked<'_>, found: &Expectation) {
    let sectors = sectors(&found.coast, asked.step_deg);
    if sectors.is_empty() {
        text.push_str("COAST\n  none paints within reach\n\n");
        return;
    }
    let head = ["from", "to", "nearest NM", "on", "deep NM", "chance", "NM at from", "NM at to"];
    let mut table = vec![head.map(str::to_owned).to_vec()];
    table.extend(sectors.iter().take(SECTORS_SHOWN).map(|sector| {
        let nearest = &sector.nearest;
        vec![
            sector.from.to_string(),
            sector.to.to_string(),
            format!("{:.1}", nearest.range.nautical_miles()),
            nearest.bearing.to_string(),
            format!("{:.1}", nearest.depth.nautical_miles()),
            format!("{:.2}", nearest.paint_probability),
            format!("{:.1}", sector.at_from.nautical_miles()),
            format!("{:.1}", sector.at_to.nautical_miles()),
        ]
    }));
    put(text, "COAST that paints, by bearing", &table);
    if sectors.len() > SECTORS_SHOWN {
        let left = sectors.len() - SECTORS_SHOWN;
        let _ = writeln!(text, "  and {left} more: --format json has every bearing\n");
    }
}
