use std::fmt::Write as _;

use super::page::{columns, put_wrapped};
use super::percent;
use super::reckon_text::{ellipse_words, flow_words};
use crate::reckon::{
    Craft, Crossing, FLAT_DEG, LineTold, Reckoned, RunningFixTold, Seen, Standing,
};
use crate::units::Clock;

/// The position lines and what they cross at; nothing where there are none.
pub(super) fn crossed_rows(
    text: &mut String,
    craft: Craft,
    found: &Reckoned,
    times: Clock,
) -> std::fmt::Result {
    if found.lines.is_empty() {
        return Ok(());
    }
    writeln!(text, "POSITION LINES   beside the reckoning")?;
    let head = ["line", "time", "mark", "measured", "sigma", "reckoned"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    for (index, line) in found.lines.iter().enumerate() {
        rows.extend(line.line.seen.iter().map(|seen| row(index + 1, line, *seen, times)));
    }
    for line in columns(&rows) {
        writeln!(text, "  {line}")?;
    }
    for (index, line) in found.lines.iter().enumerate() {
        if let Some(words) = &line.line.conversion {
            put_wrapped(text, &format!("line {}: {words}", index + 1));
        }
    }
    writeln!(text)?;
    writeln!(text, "RUNNING FIX   the lines so far, each carried forward with its growing error")?;
    for fix in &found.running_fixes {
        one(text, craft, fix, times)?;
    }
    writeln!(text)
}

fn row(number: usize, told: &LineTold, seen: Seen, times: Clock) -> Vec<String> {
    let (measured, sigma, reckoned) = match seen {
        Seen::Range { range, sigma } => (
            format!("{:.2} NM", range.nautical_miles()),
            format!("{:.2} NM", sigma.nautical_miles()),
            format!("{:.2} NM", told.reckoned_range.nautical_miles()),
        ),
        Seen::Bearing { bearing, sigma, .. } => (
            format!("{bearing} T"),
            format!("{:.1}°", sigma.degrees()),
            format!("{} T", told.reckoned_bearing),
        ),
    };
    let line = &told.line;
    let mark =
        if line.mark.is_empty() { line.charted.position.to_string() } else { line.mark.clone() };
    vec![number.to_string(), times.tell(line.time), mark, measured, sigma, reckoned]
}

fn one(text: &mut String, craft: Craft, fix: &RunningFixTold, times: Clock) -> std::fmt::Result {
    writeln!(text, "  {}  {}: {}", times.tell(fix.time), of_lines(fix), verdict(fix))?;
    match fix.place() {
        Some(place) => stated(text, fix, place),
        None => {
            for place in &fix.places {
                put_wrapped(text, &format!("{}: {}", percent(place.probability), at(place)));
            }
        }
    }
    if let Some(best) = fix.places.first() {
        put_wrapped(
            text,
            &format!(
                "lines against reckoning: chi-square {:.1} of {}, chance {}",
                best.chi2,
                fix.crossed,
                percent(best.chance)
            ),
        );
    }
    put_wrapped(
        text,
        match (fix.went_on, fix.asked) {
            (true, _) => "the reckoning goes on from it",
            (false, true) => "go_on is asked, and the reckoning does not go on from it",
            (false, false) => "the reckoning goes on as it was: go_on is not asked",
        },
    );
    if let Some(flow) = &fix.flow {
        put_wrapped(text, &flow_words(craft, flow));
    }
    Ok(())
}

/// `lines 1, 2 and 3`.
fn of_lines(fix: &RunningFixTold) -> String {
    let numbers: Vec<String> = fix.lines.iter().map(usize::to_string).collect();
    match numbers.split_last() {
        Some((last, [])) => format!("line {last}"),
        Some((last, others)) => format!("lines {} and {last}", others.join(", ")),
        None => "no line".to_owned(),
    }
}

fn verdict(fix: &RunningFixTold) -> &'static str {
    match fix.standing {
        Standing::Fixed => "a running fix",
        Standing::MostProbable => "no fix, a direction is left free: most probable position",
        Standing::Ambiguous => "NO FIX, more than one place fits",
        Standing::AtOdds => "AT ODDS with the reckoning, nothing is averaged",
        Standing::Nothing => "they come to no place",
    }
}

fn at(place: &Crossing) -> String {
    let reckoner = &place.reckoner;
    format!("{}, {}", reckoner.position(), ellipse_words(reckoner.covariance()))
}

fn stated(text: &mut String, fix: &RunningFixTold, place: &Crossing) {
    put_wrapped(text, &at(place));
    if place.is_observed() {
        put_wrapped(text, &format!("by lines and run alone {}", ellipse_words(place.lines_only)));
    }
    if let Some(cut) = place.cut {
        let cut = cut.degrees();
        let words = if place.is_flat() {
            format!(
                "lines cross TOO FLAT, at {cut:.0}°: under {FLAT_DEG:.0}° a small error is a large one along them"
            )
        } else {
            format!("lines cross at {cut:.0}°")
        };
        put_wrapped(text, &words);
    }
    if let Some((offset, way)) = fix.off() {
        put_wrapped(
            text,
            &format!("{:.2} NM {}° from DR", offset.nautical_miles(), way.whole_degrees()),
        );
    }
}
