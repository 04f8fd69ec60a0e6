use std::fmt::Write as _;

use super::expect_text::{Asked, off_the_screen, put_cautions};
use super::page::columns;
use super::words::{height_source, rain};
use crate::chart::Mark;
use crate::command::CAUTION;
use crate::paint::{Confidence, Explanation, Hides, Outcome};
use crate::units::METRES_PER_FOOT;

/// Why a mark paints or does not, for people: the way, the heights, the edge, the budget, the
/// chance, in the order in which they would be checked by hand.
pub fn explain_text(asked: &Asked<'_>, mark: &Mark, found: &Explanation) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = heading(&mut text, asked, mark, found)
        .and_then(|()| way(&mut text, asked, mark, found))
        .and_then(|()| budget(&mut text, found))
        .and_then(|()| chance(&mut text, asked, found));
    put_cautions(&mut text, &found.cautions);
    text.push_str(CAUTION);
    text.push('\n');
    text
}

fn heading(
    text: &mut String,
    asked: &Asked<'_>,
    mark: &Mark,
    found: &Explanation,
) -> std::fmt::Result {
    let Asked { vantage, set, conditions, .. } = asked;
    writeln!(
        text,
        "{} ({}): {}, chance {:.2}",
        mark.name,
        mark.kind.as_str(),
        found.seen.outcome.as_str(),
        found.seen.paint_probability
    )?;
    writeln!(
        text,
        "  from {}, antenna {:.0} ft, set {}, sea state {}, {}, k {:.3}\n",
        vantage.position,
        vantage.height.feet(),
        set.name,
        conditions.sea_state,
        rain(conditions.rain),
        conditions.earth.k()
    )
}

fn way(text: &mut String, asked: &Asked<'_>, mark: &Mark, found: &Explanation) -> std::fmt::Result {
    let seen = &found.seen;
    write!(text, "WAY\n  bearing {} true", seen.bearing)?;
    if let Some(relative) = seen.relative {
        write!(text, ", {relative} relative")?;
    }
    writeln!(
        text,
        "\n  slant range {:.2} NM, {:.2} NM along the ground\n",
        seen.range.nautical_miles(),
        seen.ground_range.nautical_miles()
    )?;
    let ground = found.ground;
    writeln!(
        text,
        "HEIGHTS\n  antenna {:.0} ft, mark {:.0} ft; ground about it to {:.0} ft, {} (confidence {})",
        asked.vantage.height.feet(),
        mark.height.feet(),
        ground.height.feet(),
        height_source(ground.source),
        Confidence::in_heights(ground.source).as_str()
    )?;
    let (own, of_mark) = found.horizons;
    writeln!(
        text,
        "  horizons {:.1} NM and {:.1} NM, together {:.1} NM\n",
        own.nautical_miles(),
        of_mark.nautical_miles(),
        own.nautical_miles() + of_mark.nautical_miles()
    )?;
    writeln!(text, "EDGE")?;
    match found.hides {
        None => writeln!(text, "  nothing lies before it")?,
        Some(hides) => edge(text, &hides)?,
    }
    let (shown, height) = (found.in_sight.feet(), mark.height.feet().max(1.0 / METRES_PER_FOOT));
    writeln!(text, "  {shown:.0} of its {height:.0} ft are in plain sight\n")
}

fn edge(text: &mut String, hides: &Hides) -> std::fmt::Result {
    let what = if hides.sea {
        "the sea".to_owned()
    } else {
        format!("ground of {:.0} ft", hides.height.feet())
    };
    let feet = hides.over_line_m / METRES_PER_FOOT;
    let stands = if feet > 0.0 { "over" } else { "under" };
    writeln!(
        text,
        "  {what} {:.2} NM off is seen steepest: {:.1} ft {stands} the line to the mark's top",
        hides.at.nautical_miles(),
        feet.abs()
    )?;
    if hides.loss_db < 0.05 {
        writeln!(text, "  it takes nothing from a ray to the top")
    } else if hides.sea {
        writeln!(text, "  its curve takes {:.1} dB from a ray to the top, one way", hides.loss_db)
    } else {
        writeln!(
            text,
            "  a knife edge: v {:.2}, which takes {:.1} dB from a ray to the top, one way",
            hides.v, hides.loss_db
        )
    }
}

fn budget(text: &mut String, found: &Explanation) -> std::fmt::Result {
    writeln!(text, "BUDGET, decibels")?;
    let Some(by) = found.answered_by else {
        return writeln!(text, "  nothing of it answers\n");
    };
    let mut table: Vec<Vec<String>> = found
        .terms
        .iter()
        .map(|term| vec![term.name.to_owned(), format!("{:.2}", term.db), term.from.clone()])
        .collect();
    let sum: f64 = found.terms.iter().map(|term| term.db).sum();
    let what = if by.ground { "the ground about it" } else { "the mark itself" };
    table.push(vec![
        "sum".to_owned(),
        format!("{sum:.2}"),
        format!("one pulse over noise, of {what} in the cell at {:.2} NM", by.at.nautical_miles()),
    ]);
    for line in columns(&table) {
        writeln!(text, "  {line}")?;
    }
    text.push('\n');
    Ok(())
}

fn chance(text: &mut String, asked: &Asked<'_>, found: &Explanation) -> std::fmt::Result {
    let seen = &found.seen;
    writeln!(text, "CHANCE")?;
    if let Some(margin_db) = found.margin_db {
        match found.sea {
            None => writeln!(text, "  no return of the sea in the cell")?,
            Some(sea) => writeln!(
                text,
                "  sea in the cell {:.2} m2, {:.1} dB over noise: takes {:.2} dB",
                sea.m2, sea.over_noise_db, sea.takes_db
            )?,
        }
        if let Some(rain) = found.rain {
            writeln!(
                text,
                "  rain in the cell {:.2} m2, {:.1} dB over noise: takes {:.2} dB",
                rain.m2, rain.over_noise_db, rain.takes_db
            )?;
        }
        let (pulses, gain_db) = found.integration;
        writeln!(
            text,
            "  {pulses} pulses added up, worth {gain_db:.1} dB: even chances at {:.2} dB",
            found.even_db
        )?;
        writeln!(text, "  margin {margin_db:.2} dB against even chances")?;
    }
    let cells = found.answered_by.map_or(1, |by| by.cells);
    if cells > 1 {
        writeln!(text, "  {cells} cells of it may show, this one the strongest")?;
    }
    if let Some(late) = seen.second_time {
        writeln!(
            text,
            "  after the next pulse, at a false range of {:.1} NM: chance {:.2} there",
            late.appears.nautical_miles(),
            late.paint_probability
        )?;
    }
    if seen.outcome == Outcome::OutOfRange {
        writeln!(text, "  but {}", off_the_screen(asked.set, seen))?;
    }
    writeln!(text, "  chance {:.4}: {}\n", seen.paint_probability, seen.outcome.as_str())
}
