//! What is worked out before a run, for people.

use std::fmt::Write as _;

use super::page::put_wrapped;
use super::planned::{Planned, relative, told_at};
use super::words::{from_nearest_mark, long_axis};
use crate::chart::{HeightSource, MarkId};
use crate::fix::{AimOff, AimOffAdvice, Choice, Denial, Look, Preparation, SideSeen};
use crate::geodesy::Ellipse;
use crate::paint::approach::{Approach, Corridor, HighGround};
use crate::units::{Bearing, METRES_PER_NAUTICAL_MILE, True};

/// What stands beside every height of ground.
pub(super) const NO_SAFE_HEIGHT: &str = "no safe height is given: published minimum altitudes rule";

pub(super) const SQUARE_MILE_M2: f64 = METRES_PER_NAUTICAL_MILE * METRES_PER_NAUTICAL_MILE;

pub(super) fn looks(
    text: &mut String,
    planned: &Planned<'_>,
    prepared: &Preparation,
) -> std::fmt::Result {
    writeln!(text, "BEST MARKS: what the reckoning's 95 % ellipse (half axes, NM) becomes")?;
    if prepared.looks.is_empty() {
        return writeln!(text, "  no two marks surely paint on this run by any one time\n");
    }
    for look in &prepared.looks {
        let before = axes(look.before);
        writeln!(text, "  {}: DR {before}", moment(planned, look))?;
        for choice in [&look.one, &look.two].into_iter().flatten() {
            put_wrapped(text, &format!("  {}", choice_words(planned, choice)));
        }
        if look.one.is_none() {
            writeln!(text, "    nothing that this set reads surely paints")?;
        }
    }
    writeln!(text)
}

/// When a look is taken.
pub(super) fn moment(planned: &Planned<'_>, look: &Look) -> String {
    let time = told_at(planned, look.seconds);
    format!("{time}, {:.0} NM to run", look.to_run.nautical_miles())
}

/// What is taken, and what it leaves.
pub(super) fn choice_words(planned: &Planned<'_>, choice: &Choice) -> String {
    let takes: Vec<String> = choice
        .takes
        .iter()
        .map(|take| {
            let place = format!(
                "{:.1} NM, {}",
                take.range.nautical_miles(),
                both_ways(planned, take.bearing)
            );
            let alike = take.alike.map(|other| format!(", like {}", name(planned, other)));
            let alike = alike.unwrap_or_default();
            format!("{} of {} ({place}{alike})", take.measure.as_str(), name(planned, take.mark))
        })
        .collect();
    format!("{}: {}", takes.join(" + "), axes(choice.after))
}

/// True and off the bow.
fn both_ways(planned: &Planned<'_>, bearing: Bearing<True>) -> String {
    let rel = relative(planned, bearing);
    format!("{}° T, {} rel", bearing.whole_degrees(), rel.whole_degrees())
}

/// Half axes, and the direction of the long one.
pub(super) fn axes(ellipse: Ellipse) -> String {
    let way = long_axis(ellipse)
        .map_or_else(|| "round".to_owned(), |axis| format!("on {}°", axis.whole_degrees()));
    format!(
        "{:.2} by {:.2} {way}",
        ellipse.semi_major.nautical_miles(),
        ellipse.semi_minor.nautical_miles()
    )
}

pub(super) fn aim_off(
    text: &mut String,
    planned: &Planned<'_>,
    prepared: &Preparation,
) -> std::fmt::Result {
    let Some(aim) = &prepared.aim_off else { return Ok(()) };
    writeln!(text, "AIM-OFF (advice)")?;
    put_wrapped(text, &aim_words(planned, aim));
    for seen in &aim.sides {
        put_wrapped(text, &side_words(planned, seen));
    }
    writeln!(text)
}

/// The advice in a sentence or two.
///
/// Where the planned track does not lead to the landfall, that is said first: a track to aim off by is
/// counted from the one straight to it.
pub(super) fn aim_words(planned: &Planned<'_>, aim: &AimOff) -> String {
    let amount = aim.amount.nautical_miles();
    let largest = aim.largest_error.nautical_miles();
    let chosen = aim.sides.iter().find(|seen| Some(seen.side) == aim.side);
    let rule = format!(
        "{amount:.1} NM, a tenth over the {largest:.1} NM that the error across may be (99 %)"
    );
    let advice = match (aim.advice, chosen) {
        (AimOffAdvice::AimOff, Some(seen)) => format!(
            "Aim off to {} of it by {rule}: track {} instead of {}, then turn to {} along the coast. {}.",
            seen.side.as_str(),
            seen.track,
            aim.direct,
            if seen.side == crate::fix::Side::Port { "starboard" } else { "port" },
            capital(&aim.why)
        ),
        (AimOffAdvice::EitherSide, _) => format!(
            "Aim off by {rule}, to whichever side wind, tide and orders make better. {}.",
            capital(&aim.why)
        ),
        (AimOffAdvice::NotNeeded, _) => format!("Not needed: {}.", aim.why),
        _ => format!("It would be well, by {rule}, and cannot be: {}.", aim.why),
    };
    match aim.missed_m {
        None => advice,
        Some(off_m) => format!(
            "The planned track {} leaves the landfall {:.1} NM to {}: straight to it is {}. {advice}",
            planned.plan.track,
            off_m.abs() / METRES_PER_NAUTICAL_MILE,
            if off_m > 0.0 { "starboard" } else { "port" },
            aim.direct
        ),
    }
}

fn side_words(planned: &Planned<'_>, seen: &SideSeen) -> String {
    let marks: Vec<&str> = seen.plain.iter().map(|id| name(planned, *id)).collect();
    let marks = match marks.as_slice() {
        [] => "no plain mark".to_owned(),
        [one] => (*one).to_owned(),
        some => some.iter().take(4).copied().collect::<Vec<_>>().join(", "),
    };
    let shore = if seen.shore { "" } else { "; no shore there" };
    let ground = match &seen.corridor.highest {
        Some(ground) => format!("charted ground {}", reaching(ground)),
        None => "no charted ground above the sea".to_owned(),
    };
    let untold = if seen.corridor.untold_m2 > 0.0 { ", some of it unknown" } else { "" };
    format!("{}: track {}; {marks}; {ground}{untold}{shore}", seen.side.as_str(), seen.track)
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map_or(String::new(), |first| first.to_uppercase().collect::<String>() + letters.as_str())
}

pub(super) fn denials(
    text: &mut String,
    planned: &Planned<'_>,
    prepared: &Preparation,
) -> std::fmt::Result {
    if prepared.denials.is_empty() {
        return Ok(());
    }
    writeln!(text, "WHAT WOULD DENY THE LANDFALL")?;
    for denial in &prepared.denials {
        put_wrapped(text, &denial_words(planned, denial));
    }
    writeln!(text)
}

/// What must not be, in a sentence.
pub(super) fn denial_words(planned: &Planned<'_>, denial: &Denial) -> String {
    let time = told_at(planned, denial.seconds());
    match denial {
        Denial::Late { mark, range, bearing, .. } => format!(
            "{} not seen by {time} (by then {:.1} NM off, {}° T)",
            name(planned, *mark),
            range.nautical_miles(),
            bearing.whole_degrees()
        ),
        Denial::OpenWater { from, to, within, .. } => format!(
            "land within {:.0} NM between {}° and {}° T at {time}: none is charted there",
            within.nautical_miles(),
            from.whole_degrees(),
            to.whole_degrees()
        ),
        Denial::Hidden { mark, range, bearing, .. } => format!(
            "{} seen ({:.1} NM off, {}° T at {time}): it should not paint",
            name(planned, *mark),
            range.nautical_miles(),
            bearing.whole_degrees()
        ),
    }
}

pub(super) fn corridor(
    text: &mut String,
    planned: &Planned<'_>,
    found: &Approach,
) -> std::fmt::Result {
    writeln!(text, "HIGHEST CHARTED GROUND about the track")?;
    put_wrapped(text, &strip_words(&found.corridor, found.landfall.is_some()));
    put_wrapped(text, &ground_words(planned, &found.corridor, found.landfall.is_some()));
    put_wrapped(text, NO_SAFE_HEIGHT);
    for words in gap_words(&found.corridor) {
        put_wrapped(text, &words);
    }
    writeln!(text)
}

/// Where the corridor lies.
pub(super) fn strip_words(corridor: &Corridor, landfall: bool) -> String {
    let miles = |metres: f64| metres / METRES_PER_NAUTICAL_MILE;
    let [first, at, last] = corridor.half_widths_m.map(miles);
    format!(
        "99.9 % corridor by the reckoning as stated: from {:.0} NM before {} to {:.0} NM past it, \
         {first:.1} NM to either side where it begins, {at:.1} NM there, {last:.1} NM where it ends",
        miles(corridor.begins_m),
        place_word(landfall),
        miles(corridor.ends_m)
    )
}

fn place_word(landfall: bool) -> &'static str {
    if landfall { "the landfall" } else { "the end of the run" }
}

/// How high charted ground stands, or by contours what it stays under.
fn reaching(ground: &HighGround) -> String {
    match ground.under {
        Some(under) => format!("under {:.0} ft", under.feet()),
        None => format!("to {:.0} ft", ground.height.feet()),
    }
}

/// The highest charted ground, and where it is.
pub(super) fn ground_words(planned: &Planned<'_>, corridor: &Corridor, landfall: bool) -> String {
    let Some(ground) = &corridor.highest else {
        return "nothing in it is charted above the sea".to_owned();
    };
    let called = ground.mark.map(|id| format!("{}, ", name(planned, id)));
    let called = called
        .or_else(|| from_nearest_mark(planned.chart, ground.position).map(|near| near + ", "))
        .unwrap_or_default();
    let source = match ground.source {
        HeightSource::Grid => "by grid",
        HeightSource::Contour => "by contour",
        HeightSource::Mark | HeightSource::Sea | HeightSource::Assumed => "a mark's own height",
    };
    let under =
        ground.under.map(|under| format!(", so that it stays under {:.0} ft", under.feet()));
    format!(
        "{:.0} ft, {source}{}: {called}{}; {}",
        ground.height.feet(),
        under.unwrap_or_default(),
        ground.position,
        where_words(ground, landfall)
    )
}

/// Along and off the track.
pub(super) fn where_words(ground: &HighGround, landfall: bool) -> String {
    let miles = |metres: f64| metres.abs() / METRES_PER_NAUTICAL_MILE;
    let side = if ground.off_m < 0.0 { "port" } else { "starboard" };
    let along = if ground.before_m < 0.0 { "past" } else { "before" };
    format!(
        "{:.1} NM {along} {}, {:.1} NM to {side} of the track",
        miles(ground.before_m),
        place_word(landfall),
        miles(ground.off_m)
    )
}

/// What is not known of the ground there.
pub(super) fn gap_words(corridor: &Corridor) -> Vec<String> {
    let miles = |metres: f64| metres / METRES_PER_NAUTICAL_MILE;
    let mut told = Vec::new();
    if corridor.untold_m2 > 0.0 {
        let stretches: Vec<String> = corridor
            .gaps
            .iter()
            .map(|gap| format!("{:.0} to {:.0}", miles(gap.from_m), miles(gap.to_m)))
            .collect();
        told.push(format!(
            "GAP: of {:.0} NM² of land in it {:.1} NM² have no height in any grid or contour: \
             higher ground may stand there (NM before, negative past: {})",
            corridor.land_m2 / SQUARE_MILE_M2,
            corridor.untold_m2 / SQUARE_MILE_M2,
            stretches.join("; ")
        ));
    }
    if corridor.voids > 0 {
        told.push(format!(
            "GAP: {} heights of the grids in it are missing and filled from around them: a summit \
             may be lost",
            corridor.voids
        ));
    }
    told
}

pub(super) fn name<'a>(planned: &Planned<'a>, mark: MarkId) -> &'a str {
    planned.chart.marks().get(mark).map_or("a mark", |mark| mark.name.as_str())
}
