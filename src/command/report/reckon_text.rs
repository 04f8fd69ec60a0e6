use std::fmt::Write as _;

use jiff::{SignedDuration, Timestamp};

use super::page::{columns, put_wrapped};
use super::reckon_crossed_text::crossed_rows;
use super::reckon_json::circle_nm;
use super::words::{clock, from_nearest_mark};
use crate::chart::Chart;
use crate::command::CAUTION;
use crate::contact::BearingKind;
use crate::fix::Grade;
use crate::geodesy::Covariance;
use crate::reckon::{
    Craft, ErrorModel, FixTold, Flow, FlowFound, Leg, Legs, MadeGood, Passed, Reckoned, When,
};
use crate::units::Clock;

/// Legs as reckoned, for people.
pub fn reckon_text(legs: &Legs, found: &Reckoned, chart: Option<&Chart>) -> String {
    let mut text = String::new();
    let times = Clock::from_first(Some(legs.time));
    // Writing to a string cannot fail.
    let _ = heading(&mut text, legs, chart)
        .and_then(|()| leg_rows(&mut text, legs, found, times))
        .and_then(|()| positions(&mut text, found, chart, times))
        .and_then(|()| fixes(&mut text, legs.model.craft, found, times))
        .and_then(|()| crossed_rows(&mut text, legs.model.craft, found, times))
        .and_then(|()| errors(&mut text, legs));
    let cautions: Vec<&String> = legs.cautions.iter().chain(&found.cautions).collect();
    if !cautions.is_empty() {
        text.push_str("CAUTIONS\n");
        for caution in cautions {
            put_wrapped(&mut text, caution);
        }
        text.push('\n');
    }
    text.push_str(CAUTION);
    text.push('\n');
    text
}

fn heading(text: &mut String, legs: &Legs, chart: Option<&Chart>) -> std::fmt::Result {
    writeln!(text, "DR     from {}", clock(legs.time))?;
    writeln!(text, "  {}, {}", legs.position, ellipse_words(legs.covariance))?;
    if let Some(words) = chart.and_then(|chart| from_nearest_mark(chart, legs.position)) {
        writeln!(text, "  {words}")?;
    }
    writeln!(text)
}

pub(super) fn ellipse_words(covariance: Covariance) -> String {
    format!("95 % ellipse {}", ellipse_cells(covariance).join(" "))
}

/// Axes and the long one's direction.
pub(super) fn ellipse_cells(covariance: Covariance) -> [String; 2] {
    let ellipse = covariance.ellipse(0.95);
    let (long, short) = (ellipse.semi_major.nautical_miles(), ellipse.semi_minor.nautical_miles());
    let axes = format!("{long:.2} by {short:.2} NM");
    // A circle has no long axis.
    let round = short > 0.98 * long;
    let axis = ellipse.major_axis.degrees().round() % 180.0;
    let way =
        if round { "round".to_owned() } else { format!("{axis:03.0}°/{:03.0}°", axis + 180.0) };
    [axes, way]
}

fn leg_rows(text: &mut String, legs: &Legs, found: &Reckoned, times: Clock) -> std::fmt::Result {
    writeln!(text, "LEGS   as stated; held as rhumb lines, turned on the spot")?;
    for (index, leg) in legs.legs.iter().enumerate() {
        let end = leg
            .start
            .checked_add(SignedDuration::try_from_secs_f64(leg.seconds).unwrap_or_default())
            .unwrap_or(leg.start);
        writeln!(text, "  {}  {}", index + 1, held(leg, legs.model.craft))?;
        writeln!(text, "     {}", made_good(&leg.made))?;
        writeln!(
            text,
            "     {:.1} min from {} to {}, {:.2} NM",
            leg.seconds / 60.0,
            times.tell(nearest_second(leg.start)),
            times.tell(nearest_second(end)),
            leg.distance_nm()
        )?;
        for line in &leg.conversion {
            writeln!(text, "     {line}")?;
        }
        if let Some(passed) = found.after_fix(index + 1) {
            writeln!(text, "     after the fix, as reckoned below: {}", made_good(&passed.made))?;
        }
    }
    writeln!(text)
}

/// A time to the second, rounded and not cut off.
fn nearest_second(time: Timestamp) -> Timestamp {
    time.round(jiff::Unit::Second).unwrap_or(time)
}

/// Heading, speed and what carries it.
fn held(leg: &Leg, craft: Craft) -> String {
    let through = match craft {
        Craft::Aircraft => "through the air",
        Craft::Vessel => "through the water",
    };
    let steer = leg.steer.as_ref().filter(|steer| steer.kind != BearingKind::True);
    let steer =
        steer.map_or_else(String::new, |s| format!(" ({:05.1} {})", s.degrees, s.kind.letter()));
    let own = match (leg.made.heading, leg.made.through) {
        (Some(heading), Some(speed)) => {
            format!("heading {heading} T{steer}, {:.1} kn {through}", speed.knots())
        }
        (None, Some(_)) => "stopped, adrift".to_owned(),
        (_, None) if leg.made.track.is_none() => "stopped, made fast".to_owned(),
        (_, None) => "heading not known: track and speed are stated".to_owned(),
    };
    let flow = match leg.flow {
        Flow::Still if leg.course.is_over_ground() || !leg.course.is_carried() => String::new(),
        Flow::Still => ", in still air or water".to_owned(),
        Flow::Wind(wind) => format!(", wind from {}, {:.1} kn", wind.from, wind.speed.knots()),
        Flow::Current(c) => format!(", current setting {}, {:.1} kn", c.set, c.drift.knots()),
    };
    let spread = if leg.course.is_carried() {
        format!(" (sigma {:.1} kn)", leg.course.spread().knots())
    } else {
        String::new()
    };
    format!("{own}{flow}{spread}")
}

/// Track, speed and drift.
fn made_good(made: &MadeGood) -> String {
    let MadeGood { track, speed, .. } = made;
    let Some(track) = track else { return "makes good no way".to_owned() };
    let drift = made.drift().map_or_else(String::new, |drift| {
        let degrees = drift.degrees();
        let side = if degrees < 0.0 { "left" } else { "right" };
        if degrees.abs() < 0.05 {
            ", no drift".to_owned()
        } else {
            format!(", drift {:.1}° {side}", degrees.abs())
        }
    });
    format!("track {track} T, {:.1} kn over the ground{drift}", speed.knots())
}

fn positions(
    text: &mut String,
    found: &Reckoned,
    chart: Option<&Chart>,
    times: Clock,
) -> std::fmt::Result {
    writeln!(text, "POSITIONS   as reckoned, fixes taken in")?;
    let mut head =
        ["time", "leg", "position", "95 % ellipse", "long axis", "circle", "track", "kn", ""]
            .map(str::to_owned)
            .to_vec();
    if chart.is_some() {
        head.push("from".to_owned());
    }
    let mut rows = vec![head];
    rows.extend(found.passed.iter().map(|passed| row(passed, chart, times)));
    for line in columns(&rows) {
        writeln!(text, "  {line}")?;
    }
    writeln!(text)
}

fn row(passed: &Passed, chart: Option<&Chart>, times: Clock) -> Vec<String> {
    let [axes, way] = ellipse_cells(passed.covariance);
    let told = match passed.when {
        When::Start => "start",
        When::OnTheWay => "",
        When::Fix => "after the fix",
        When::RunningFix | When::AfterLines => "after the lines",
        When::LegEnd => "leg ends",
    };
    let mut row = vec![
        times.tell(nearest_second(passed.time)),
        passed.leg.to_string(),
        passed.position.to_string(),
        axes,
        way,
        format!("{:.2} NM", circle_nm(passed.covariance)),
        passed.made.track.map_or_else(|| "-".to_owned(), |track| track.to_string()),
        format!("{:.1}", passed.made.speed.knots()),
        told.to_owned(),
    ];
    if let Some(chart) = chart {
        row.push(from_nearest_mark(chart, passed.position).unwrap_or_default());
    }
    row
}

fn fixes(text: &mut String, craft: Craft, found: &Reckoned, times: Clock) -> std::fmt::Result {
    if found.fixes.is_empty() {
        return Ok(());
    }
    writeln!(text, "FIXES  against the reckoning")?;
    for fix in &found.fixes {
        one_fix(text, craft, fix, times)?;
    }
    writeln!(text)
}

fn one_fix(text: &mut String, craft: Craft, fix: &FixTold, times: Clock) -> std::fmt::Result {
    let agreement = fix.agreement;
    let how = match agreement.grade() {
        Grade::AtOdds => "AT ODDS",
        Grade::Unusual => "unusual for their errors",
        Grade::Allowed => "within their errors",
    };
    writeln!(text, "  {}  {}", times.tell(fix.time), fix.position)?;
    put_wrapped(
        text,
        &format!(
            "{:.2} NM {}° from DR, {how}: chi-square {:.1} of 2, chance {}",
            agreement.offset.nautical_miles(),
            agreement.bearing.whole_degrees(),
            agreement.chi2,
            super::percent(agreement.chance)
        ),
    );
    if !fix.taken {
        put_wrapped(
            text,
            "not taken, and not averaged: one of the two is wrong. Find the slip (variation the wrong \
             way, a heading read 10° out, a neighbour taken for the mark, the wind from where it goes); \
             then mend the leg, or start again from the fix",
        );
        return Ok(());
    }
    let percent = (100.0 * fix.weight).clamp(0.0, 100.0);
    put_wrapped(
        text,
        &format!("taken: fix weighs {percent:.0} %, reckoning {:.0} %", 100.0 - percent),
    );
    if let Some(flow) = &fix.flow {
        put_wrapped(text, &flow_words(craft, flow));
    }
    Ok(())
}

/// The wind or current that a fix leaves.
pub(super) fn flow_words(craft: Craft, flow: &FlowFound) -> String {
    let direction = flow.direction_sigma().map_or_else(
        || "direction not known".to_owned(),
        |sigma| format!("{:.0}°", sigma.degrees()),
    );
    format!(
        "{} found: {} (sigma {:.1} kn, {direction})",
        craft.flow_word(),
        flow.words(craft).trim_start_matches(craft.flow_word()).trim_start(),
        flow.speed_sigma().knots()
    )
}

fn errors(text: &mut String, legs: &Legs) -> std::fmt::Result {
    let model = &legs.model;
    writeln!(
        text,
        "ERRORS COUNTED, one sigma, for {}",
        match model.craft {
            Craft::Aircraft => "an aircraft",
            Craft::Vessel => "a vessel",
        }
    )?;
    for (key, words) in error_words(model) {
        writeln!(text, "  {words}{}", default_words(legs, key))?;
    }
    if model.leeway_share > 0.0 {
        let percent = 100.0 * model.leeway_share;
        writeln!(
            text,
            "  leeway {percent:.0} % of the speed, in the sigma of the current (default)"
        )?;
    }
    writeln!(text)
}

/// Each error that can be stated, by its key.
fn error_words(model: &ErrorModel) -> [(&'static str, String); 5] {
    let flow = model.craft.flow_word();
    let (heading, speed) = (model.heading_sigma.degrees(), 100.0 * model.speed_share);
    let (hours, wander) = (model.flow_seconds / 3600.0, model.wander_miles());
    [
        ("heading_sigma_deg", format!("heading {heading:.1}°, one bias on every leg")),
        ("speed_sigma_percent", format!("speed {speed:.1} %, one scale on every leg")),
        ("flow_sigma_kn", format!("{flow}: the sigma beside each leg")),
        ("flow_hours", format!("{flow} error changes over {hours:.1} h")),
        ("wander_nm", format!("helm and gusts {wander:.2} NM in the root of an hour")),
    ]
}

/// Whether the error of this key was taken for want of a statement.
fn default_words(legs: &Legs, key: &str) -> &'static str {
    if !legs.defaults.contains(&key) {
        ""
    } else if key == "flow_sigma_kn" {
        " (default where none is stated)"
    } else {
        " (default)"
    }
}
