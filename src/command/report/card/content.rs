use super::super::approach_text::{span, when};
use super::super::approach_traps::trap_words;
use super::super::plan_text::{
    NO_SAFE_HEIGHT, aim_words, axes, choice_words, denial_words, gap_words, ground_words, moment,
    name, strip_words,
};
use super::super::planned::{Planned, relative, told_at};
use super::super::words::{clock, from_nearest_mark, rain};
use crate::chart::{Mark, MarkId};
use crate::command::CAUTION;
use crate::fix::Preparation;
use crate::geodesy::{Course, Position, course};
use crate::paint::ExpectedMark;
use crate::paint::approach::{Approach, Event, EventKind};
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// First paints on a card: the landfall's own, and the marks that stand out most.
const MOST_FIRST: usize = 7;

/// The mark nearest to the landfall within this is its own, metres.
const OWN_WITHIN_M: f64 = 5.0 * METRES_PER_NAUTICAL_MILE;

/// What the landfall's own mark has before its name in the table.
const OWN: &str = "* ";

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
    /// How many marks more first paint on the run.
    pub more_first: usize,
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
        let first = first_paints(planned, found);
        let all = found.events.iter().filter(|event| event.kind == EventKind::FirstPaint).count();
        Self {
            title: format!("{title}: {}", planned.chart.name()),
            head: head(planned, found),
            more_first: all.saturating_sub(MOST_FIRST),
            first,
            parts: parts(planned, found, prepared),
            caution: CAUTION,
        }
    }
}

fn head(planned: &Planned<'_>, found: &Approach) -> Vec<String> {
    let (plan, conditions) = (planned.plan, planned.conditions);
    let miles = |metres: f64| metres / METRES_PER_NAUTICAL_MILE;
    let at = |seconds: f64| told_at(planned, seconds);
    let run_m = found.landfall.map_or(found.run.length, |landfall| landfall.run).metres();
    let (earliest, latest) = plan.due_s(run_m);
    let place = match &found.landfall {
        Some(landfall) => match from_nearest_mark(planned.chart, landfall.planned) {
            Some(near) => format!("Landfall {}, {near}", landfall.planned),
            None => format!("Landfall {}", landfall.planned),
        },
        None => format!("No landfall planned; the run ends at {}", plan.at(run_m)),
    };
    let own = found.landfall.map(|landfall| own_words(planned, landfall.planned));
    let place =
        std::iter::once(place).chain(own).chain(found.landfall.as_ref().and_then(|landfall| {
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

/// The mark nearest to the landfall, and how it lies from there; none close by.
fn own_mark(planned: &Planned<'_>, landfall: Position) -> Option<(MarkId, Course)> {
    let marks = planned.chart.marks();
    marks
        .within(landfall, GroundRange::clamped_metres(OWN_WITHIN_M))
        .into_iter()
        .filter_map(|id| marks.get(id).map(|mark| (id, course(landfall, mark.position))))
        .min_by(|a, b| a.1.distance.metres().total_cmp(&b.1.distance.metres()))
}

fn own_words(planned: &Planned<'_>, landfall: Position) -> String {
    let Some((mark, line)) = own_mark(planned, landfall) else {
        let miles = OWN_WITHIN_M / METRES_PER_NAUTICAL_MILE;
        return format!("No mark lies within {miles:.0} NM of it: see the shore");
    };
    format!(
        "{OWN}{}: {:.1} NM {}° from it, the mark nearest to it",
        name(planned, mark),
        line.distance.nautical_miles(),
        line.initial.whole_degrees()
    )
}

/// The marks to look for, in order of time: the landfall's own whatever becomes of it, then those that
/// stand out most, whether the chart names them or not.
fn first_paints(planned: &Planned<'_>, found: &Approach) -> Vec<Vec<String>> {
    let marks = planned.chart.marks();
    let own = found.landfall.and_then(|it| own_mark(planned, it.planned)).map(|(mark, _)| mark);
    let mut first: Vec<(&Event, &Mark)> = found
        .events
        .iter()
        .filter(|event| event.kind == EventKind::FirstPaint)
        .filter_map(|event| marks.get(event.seen.mark).map(|mark| (event, mark)))
        .collect();
    // Those that the reckoning may keep from showing are built on last; stable, so by time.
    first.sort_by(|a, b| {
        let after = |event: &Event| (own != Some(event.seen.mark), event.spread.latest_s.is_none());
        let order = after(a.0).cmp(&after(b.0));
        order.then(b.1.salience.total_cmp(&a.1.salience)).then(b.1.named.cmp(&a.1.named))
    });
    first.truncate(MOST_FIRST);
    first.sort_by(|a, b| a.0.seconds.total_cmp(&b.0.seconds));
    let heads = ["time Z", "NM", "true", "rel", "95 %", "mark"].map(str::to_owned).to_vec();
    let row = |when: String, seen: &ExpectedMark, span: String| {
        let star = if own == Some(seen.mark) { OWN } else { "" };
        vec![
            when,
            format!("{:.1}", seen.range.nautical_miles()),
            seen.bearing.whole_degrees(),
            relative(planned, seen.bearing).whole_degrees(),
            span,
            format!("{star}{}", name(planned, seen.mark)),
        ]
    };
    let paints = first.iter().map(|(event, _)| {
        let when = when(planned, event.at_start, event.seconds);
        row(when, &event.seen, span(planned, event))
    });
    // Where the track comes closest to it.
    let never = found.never.iter().filter(|never| own == Some(never.closest.mark));
    let never = never.map(|it| row("never".to_owned(), &it.closest, "closest".to_owned()));
    std::iter::once(heads).chain(paints).chain(never).collect()
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
