use super::super::Planned;
use super::super::approach_text::{clock_at, hour, relative, span, when};
use super::super::approach_traps::trap_words;
use super::super::plan_text::{
    NO_SAFE_HEIGHT, aim_words, axes, choice_words, denial_words, gap_words, ground_words, moment,
    name, strip_words,
};
use super::super::words::{clock, rain, whole_degrees};
use crate::command::CAUTION;
use crate::fix::Preparation;
use crate::paint::approach::{Approach, Event, EventKind};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// First paints on a card: the marks that stand out most.
const MOST_FIRST: usize = 9;

/// Moments of the run on a card.
const MOST_LOOKS: usize = 3;

/// Pairs that look alike, and false friends.
const MOST_PAIRS: usize = 5;

/// What is on a card.
#[derive(Debug)]
pub(super) struct Card {
    pub title: String,
    /// Where, when and how sure.
    pub head: Vec<String>,
    /// Heads of the table of first paints, then its rows.
    pub first: Vec<Vec<String>>,
    pub parts: Vec<Part>,
    /// The caution of every report.
    pub caution: &'static str,
}

/// One head of a card and what stands under it.
#[derive(Debug)]
pub(super) struct Part {
    pub head: String,
    pub items: Vec<String>,
    /// The most lines of text that it may take.
    pub most_lines: usize,
}

impl Card {
    pub fn new(planned: &Planned<'_>, found: &Approach, prepared: &Preparation) -> Self {
        let title = if found.landfall.is_some() { "LANDFALL CARD" } else { "APPROACH CARD" };
        Self {
            title: format!("{title}: {}", planned.chart.name()),
            head: head(planned, found),
            first: first_paints(planned, found),
            parts: parts(planned, found, prepared),
            caution: CAUTION,
        }
    }
}

fn head(planned: &Planned<'_>, found: &Approach) -> Vec<String> {
    let (plan, conditions) = (planned.plan, planned.conditions);
    let miles = |metres: f64| metres / METRES_PER_NAUTICAL_MILE;
    let at = |seconds: f64| hour(clock_at(planned.start, seconds));
    let run_m = found.landfall.map_or(found.run.length, |landfall| landfall.run).metres();
    let (earliest, latest) = plan.due_s(run_m);
    let place = match &found.landfall {
        Some(landfall) => format!("Landfall {}", landfall.planned),
        None => format!("No landfall planned; the run ends at {}", plan.at(run_m)),
    };
    let place = std::iter::once(place).chain(found.landfall.as_ref().and_then(|landfall| {
        missed(miles(landfall.cross_track_m), miles(plan.sigma_across_m(run_m)))
    }));
    place
        .chain([
            format!(
                "Due {} (95 %: {} to {}), {:.1} NM to run",
                at(plan.seconds(run_m)),
                at(earliest),
                at(latest),
                miles(run_m)
            ),
            format!(
                "DR error then, one sigma: {:.1} NM along, {:.1} NM across the track",
                miles(plan.sigma_along_m(run_m)),
                miles(plan.sigma_across_m(run_m))
            ),
            format!(
                "From {} at {}; track {} T, {:.0} kn",
                plan.from,
                clock(planned.start),
                plan.track,
                plan.speed.knots()
            ),
            format!(
                "Antenna {:.0} ft, set {}, sea state {}, {}",
                plan.height.feet(),
                planned.set.name,
                conditions.sea_state,
                rain(conditions.rain)
            ),
        ])
        .collect()
}

/// What the track leaves between itself and the landfall, where that is worth a line: the time due is
/// then that of the place nearest to it.
fn missed(off_nm: f64, sigma_nm: f64) -> Option<String> {
    let side = if off_nm > 0.0 { "right" } else { "left" };
    let off = off_nm.abs();
    if off > 3.0 * sigma_nm.max(1.0) {
        Some(format!(
            "THE TRACK MISSES IT BY {off:.1} NM: it lies to the {side}; due at the nearest"
        ))
    } else if off > 0.5 {
        Some(format!("{off:.1} NM {side} of the track: due is when it is nearest"))
    } else {
        None
    }
}

/// The marks that stand out most, in order of time.
fn first_paints(planned: &Planned<'_>, found: &Approach) -> Vec<Vec<String>> {
    let marks = planned.chart.marks();
    let mut first: Vec<(&Event, &crate::chart::Mark)> = found
        .events
        .iter()
        .filter(|event| event.kind == EventKind::FirstPaint)
        .filter_map(|event| marks.get(event.seen.mark).map(|mark| (event, mark)))
        .collect();
    // Those that the reckoning may keep from showing are built on last; stable, so by time.
    first.sort_by(|a, b| {
        let unsure = |event: &Event| event.spread.latest_s.is_none();
        (unsure(a.0), !a.1.named)
            .cmp(&(unsure(b.0), !b.1.named))
            .then(b.1.salience.total_cmp(&a.1.salience))
    });
    first.truncate(MOST_FIRST);
    first.sort_by(|a, b| a.0.seconds.total_cmp(&b.0.seconds));
    let heads = ["time Z", "NM", "true", "rel", "95 %", "mark"].map(str::to_owned).to_vec();
    let row = |(event, mark): &(&Event, &crate::chart::Mark)| {
        vec![
            when(planned, event.at_start, event.seconds),
            format!("{:.1}", event.seen.range.nautical_miles()),
            whole_degrees(event.seen.bearing.degrees()),
            whole_degrees(relative(planned, event.seen.bearing).degrees()),
            span(planned, &event.spread),
            mark.name.clone(),
        ]
    };
    std::iter::once(heads).chain(first.iter().map(row)).collect()
}

/// Said before any height, where heights are missing.
const GAP: &str = "GAP: heights are missing here, higher ground may stand there";

fn parts(planned: &Planned<'_>, found: &Approach, prepared: &Preparation) -> Vec<Part> {
    let part = |head: &str, items: Vec<String>, most_lines| Part {
        head: head.to_owned(),
        items,
        most_lines,
    };
    let or_none = |items: Vec<String>, none: &str| {
        if items.is_empty() { vec![none.to_owned()] } else { items }
    };
    let alike = found.alike.iter().take(MOST_PAIRS).map(|pair| {
        format!(
            "{} and {}, {:.1} NM apart",
            name(planned, pair.one),
            name(planned, pair.other),
            pair.apart.nautical_miles()
        )
    });
    let friends = found.traps.iter().take(MOST_PAIRS).map(|trap| trap_words(planned, trap));
    let deny = prepared.denials.iter().map(|denial| denial_words(planned, denial));
    let aim = prepared.aim_off.iter().map(|aim| aim_words(planned, aim));
    let landfall = found.landfall.is_some();
    let mut ground =
        vec![NO_SAFE_HEIGHT.to_owned(), ground_words(planned, &found.corridor, landfall)];
    let gaps = gap_words(&found.corridor);
    if !gaps.is_empty() {
        // First and short, so that no page is too short for it.
        ground.insert(1, GAP.to_owned());
    }
    ground.extend(gaps);
    ground.push(strip_words(&found.corridor, landfall));
    let best = or_none(looks(planned, prepared), "no two marks surely paint by any one time");
    // The gravest first: what the page cannot hold is lost from its end.
    vec![
        part("CAUTIONS", or_none(found.cautions.clone(), "none but these words"), 9),
        part("HIGHEST CHARTED GROUND about the track", ground, 7),
        part("BEST MARKS (95 % half axes, NM)", best, 7),
        part("WOULD DENY THE LANDFALL", or_none(deny.collect(), "nothing certain enough"), 5),
        part("AIM-OFF (advice)", or_none(aim.collect(), "no landfall is planned"), 5),
        part(
            "FALSE FRIENDS: ground inland, low shores",
            or_none(friends.collect(), "none found"),
            5,
        ),
        part("LOOK-ALIKES within the reckoning's error", or_none(alike.collect(), "none found"), 3),
    ]
}

/// The moments that bring most, each with the best that it has.
fn looks(planned: &Planned<'_>, prepared: &Preparation) -> Vec<String> {
    let looks = prepared.looks.iter().filter_map(|look| {
        let choice = look.two.as_ref().or(look.one.as_ref())?;
        let (when, before) = (moment(planned, look), axes(look.before));
        Some(format!("{when}: {} (DR {before})", choice_words(planned, choice)))
    });
    looks.take(MOST_LOOKS).collect()
}
