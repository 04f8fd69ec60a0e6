use std::fmt::Write as _;

use super::approach_traps::trap_words;
use super::page::{put_named, put_wrapped};
use super::plan_text;
use super::planned::{Planned, clock_at, relative, told_at};
use super::words::{clock, from_nearest_mark, rain};
use crate::command::CAUTION;
use crate::fix::Preparation;
use crate::paint::approach::{Approach, Event, EventKind, LandShows, RunEnd};
use crate::units::{Clock, METRES_PER_NAUTICAL_MILE};

/// The most rows of marks that do not paint, of shore, and of marks alike.
const MOST_NEVER: usize = 12;
const MOST_SHORE: usize = 16;
const MOST_TRAPS: usize = 8;
const MOST_ALIKE: usize = 10;

/// How a coast appears along a track, for people: a card of eighty columns.
pub fn approach_text(planned: &Planned<'_>, found: &Approach, prepared: &Preparation) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = heading(&mut text, planned, found)
        .and_then(|()| landfall(&mut text, planned, found))
        .and_then(|()| plan_text::aim_off(&mut text, planned, prepared))
        .and_then(|()| events(&mut text, planned, found))
        .and_then(|()| plan_text::looks(&mut text, planned, prepared))
        .and_then(|()| shore(&mut text, planned, found))
        .and_then(|()| traps(&mut text, planned, found))
        .and_then(|()| alike(&mut text, planned, found))
        .and_then(|()| plan_text::denials(&mut text, planned, prepared))
        .and_then(|()| plan_text::corridor(&mut text, planned, found))
        .and_then(|()| never(&mut text, planned, found));
    if !found.cautions.is_empty() {
        text.push_str("CAUTIONS\n");
        for caution in &found.cautions {
            put_wrapped(&mut text, caution);
        }
        text.push('\n');
    }
    text.push_str(CAUTION);
    text.push('\n');
    text
}

fn heading(text: &mut String, planned: &Planned<'_>, found: &Approach) -> std::fmt::Result {
    let Planned { plan, set, conditions, .. } = planned;
    let end = told_at(planned, plan.seconds(found.run.length.metres()));
    let why = match found.run.ends {
        RunEnd::Asked => "as asked",
        RunEnd::Landfall => "to the planned landfall",
        RunEnd::Land => "until the track meets land",
        RunEnd::Scale => "one and a half times the largest scale",
    };
    writeln!(text, "APPROACH TO {}", planned.chart.name())?;
    writeln!(text, "  from {} at {}", plan.from, clock(planned.start))?;
    writeln!(
        text,
        "  track {} true (rhumb line), {:.0} kn over the ground, antenna {:.0} ft",
        plan.track,
        plan.speed.knots(),
        plan.height.feet()
    )?;
    writeln!(text, "  run {:.1} NM to {end}, {why}", found.run.length.nautical_miles())?;
    writeln!(
        text,
        "  set {}, sea state {}, {}, k {:.3}; sea horizon {:.1} NM",
        set.name,
        conditions.sea_state,
        rain(conditions.rain),
        conditions.earth.k(),
        found.horizon.nautical_miles()
    )?;
    writeln!(
        text,
        "  one sigma: start {:.1} NM, track {:.1}°, speed {:.1} kn\n",
        plan.sigma.nautical_miles(),
        plan.track_sigma.degrees(),
        plan.speed_sigma.knots()
    )
}

fn landfall(text: &mut String, planned: &Planned<'_>, found: &Approach) -> std::fmt::Result {
    let Some(landfall) = &found.landfall else { return Ok(()) };
    let (plan, run_m) = (planned.plan, landfall.run.metres());
    let miles = |metres: f64| metres / METRES_PER_NAUTICAL_MILE;
    let at = |seconds: f64| told_at(planned, seconds);
    let (earliest, latest) = plan.due_s(run_m);
    let off_nm = miles(landfall.cross_track_m);
    writeln!(text, "LANDFALL {}", landfall.planned)?;
    if off_nm.abs() >= 0.05 {
        let side = if off_nm > 0.0 { "right" } else { "left" };
        let ends = if found.run.ends == RunEnd::Landfall { ", where the run ends" } else { "" };
        let off = format!("{:.1} NM to the {side} of the track", off_nm.abs());
        put_wrapped(text, &format!("{off}, which is nearest to it at {}{ends}", landfall.nearest));
    }
    let due = format!(
        "due {} (95 %: {} to {}), {:.1} NM to run",
        at(plan.seconds(run_m)),
        at(earliest),
        at(latest),
        miles(run_m)
    );
    put_wrapped(text, &due);
    writeln!(
        text,
        "  one sigma then {:.1} NM along, {:.1} NM across the track",
        miles(plan.sigma_along_m(run_m)),
        miles(plan.sigma_across_m(run_m))
    )?;
    writeln!(text)
}

fn events(text: &mut String, planned: &Planned<'_>, found: &Approach) -> std::fmt::Result {
    writeln!(text, "FIRST PAINTS at 50 %  (rel: off the track; 95 %: by the reckoning's error,")?;
    writeln!(text, "whole minutes; 90 %: how much later it is all but sure)")?;
    let first = || found.events.iter().filter(|event| event.kind == EventKind::FirstPaint);
    if first().next().is_none() {
        return writeln!(text, "  no mark paints on this run\n");
    }
    let head = ["time Z", "NM", "true", "rel", "95 %", "90 %", "mark"];
    let mut table = vec![head.map(str::to_owned).to_vec()];
    for event in first() {
        let Some(mark) = planned.chart.marks().get(event.seen.mark) else { continue };
        let sure = found.events.iter().find(|other| {
            other.kind == EventKind::FirstPaint90 && other.seen.mark == event.seen.mark
        });
        table.push(vec![
            when(planned, event.at_start, event.seconds),
            format!("{:.1}", event.seen.range.nautical_miles()),
            event.seen.bearing.whole_degrees(),
            relative(planned, event.seen.bearing).whole_degrees(),
            span(planned, event),
            later(event, sure),
            mark.name.clone(),
        ]);
    }
    put_named(text, &table, 29)
}

/// The time of an event; what shows from the start is only known to show by then.
pub(super) fn when(planned: &Planned<'_>, at_start: bool, seconds: f64) -> String {
    if at_start {
        return "at start".to_owned();
    }
    planned.times().seconds(clock_at(planned.start, seconds))
}

/// Earliest and latest, outward to whole minutes; the day is told where it is not the event's own.
pub(super) fn span(planned: &Planned<'_>, event: &Event) -> String {
    let (start, spread) = (planned.start, &event.spread);
    let clock = Clock::from_first(Some(clock_at(start, event.seconds)));
    let minute = |seconds: f64| clock.minutes(clock_at(start, seconds));
    let to_minute = start.as_second().rem_euclid(60) as f64;
    let down = |seconds: f64| ((seconds + to_minute) / 60.0).floor() * 60.0 - to_minute;
    let earliest =
        if spread.earliest_s <= 0.0 { "start".to_owned() } else { minute(down(spread.earliest_s)) };
    let latest =
        spread.latest_s.map_or("never".to_owned(), |seconds| minute(down(seconds + 59.999)));
    // A day has a hyphen of its own.
    let to = if [&earliest, &latest].iter().any(|end| end.contains(' ')) { " to " } else { "-" };
    format!("{earliest}{to}{latest}")
}

fn later(event: &Event, sure: Option<&Event>) -> String {
    let Some(sure) = sure else { return "no".to_owned() };
    let seconds = (sure.seconds - event.seconds).max(0.0).round() as i64;
    format!("+{}:{:02}", seconds / 60, seconds % 60)
}

fn shore(text: &mut String, planned: &Planned<'_>, found: &Approach) -> std::fmt::Result {
    writeln!(
        text,
        "SHORE that faces the track: when land on its bearing first paints, and when the"
    )?;
    writeln!(text, "shore itself does (behind: how far inland the first echo lies, NM)")?;
    let shown: Vec<_> = found.coast.iter().filter(|stretch| stretch.land.is_some()).collect();
    if shown.is_empty() {
        return writeln!(text, "  none paints on this run\n");
    }
    let head = ["land Z", "NM", "true", "behind", "shore Z", "NM", "shore at"];
    let mut table = vec![head.map(str::to_owned).to_vec()];
    for stretch in shown.iter().take(MOST_SHORE) {
        let Some(land) = &stretch.land else { continue };
        let cells = |shows: Option<&LandShows>| match shows {
            Some(shows) => (
                when(planned, shows.at_start, shows.seconds),
                format!("{:.1}", shows.echo.range.nautical_miles()),
            ),
            None => ("never".to_owned(), String::new()),
        };
        let (land_at, land_nm) = cells(Some(land));
        let (shore_at, shore_nm) = cells(stretch.shore.as_ref());
        let behind = land.echo.behind.nautical_miles();
        let near =
            from_nearest_mark(planned.chart, stretch.at).unwrap_or_else(|| stretch.at.to_string());
        table.push(vec![
            land_at,
            land_nm,
            land.echo.bearing.whole_degrees(),
            if behind > 0.0 { format!("{behind:.1}") } else { "shore".to_owned() },
            shore_at,
            shore_nm,
            near,
        ]);
    }
    put_named(text, &table, 31)?;
    more(text, shown.len(), MOST_SHORE)
}

fn traps(text: &mut String, planned: &Planned<'_>, found: &Approach) -> std::fmt::Result {
    if found.traps.is_empty() {
        return Ok(());
    }
    writeln!(text, "TRAPS")?;
    for trap in found.traps.iter().take(MOST_TRAPS) {
        put_wrapped(text, &trap_words(planned, trap));
    }
    writeln!(text)?;
    more(text, found.traps.len(), MOST_TRAPS)
}

fn alike(text: &mut String, planned: &Planned<'_>, found: &Approach) -> std::fmt::Result {
    if found.alike.is_empty() {
        return Ok(());
    }
    writeln!(text, "ALIKE: a reckoning out by what parts them, as it may be, would swap them")?;
    for pair in found.alike.iter().take(MOST_ALIKE) {
        let name = |mark| planned.chart.marks().get(mark).map_or("", |mark| mark.name.as_str());
        let told = format!(
            "{} and {}, {:.1} NM apart",
            name(pair.one),
            name(pair.other),
            pair.apart.nautical_miles()
        );
        put_wrapped(text, &told);
    }
    writeln!(text)?;
    more(text, found.alike.len(), MOST_ALIKE)
}

fn never(text: &mut String, planned: &Planned<'_>, found: &Approach) -> std::fmt::Result {
    if found.never.is_empty() {
        return Ok(());
    }
    writeln!(text, "NOT PAINTING on this run, as they are where the track comes closest")?;
    let head = ["time Z", "NM", "true", "why", "mark"];
    let mut table = vec![head.map(str::to_owned).to_vec()];
    for never in found.never.iter().take(MOST_NEVER) {
        let Some(mark) = planned.chart.marks().get(never.closest.mark) else { continue };
        table.push(vec![
            when(planned, false, planned.plan.seconds(never.run.metres())),
            format!("{:.1}", never.closest.range.nautical_miles()),
            never.closest.bearing.whole_degrees(),
            never.closest.outcome.as_str().to_owned(),
            mark.name.clone(),
        ]);
    }
    put_named(text, &table, 38)?;
    more(text, found.never.len(), MOST_NEVER)
}

fn more(text: &mut String, all: usize, shown: usize) -> std::fmt::Result {
    if all > shown {
        writeln!(text, "  and {} more: --format json has them all\n", all - shown)?;
    }
    Ok(())
}
