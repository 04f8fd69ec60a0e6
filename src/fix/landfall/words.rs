//! The words of the landfall's verdict: short, the reason first, for a tired operator.

use super::Asked;
use super::LEAST_ODDS;
use super::outlook::{EVEN, Seen, Trap, View};
use super::readings::{Readings, Which};
use super::target::Target;
use crate::fix::Fix;
use crate::fix::case::Case;
use crate::geodesy::{Position, course};
use crate::radar::geometry::{EarthRadius, slant_range};
use crate::units::{Height, METRES_PER_NAUTICAL_MILE};

/// A shift of less than this between the place planned and what stands for it is not worth a word.
const AT_IT_M: f64 = 0.05 * METRES_PER_NAUTICAL_MILE;

pub(super) fn nothing_charted() -> String {
    "no charted land within 3 NM of the landfall planned: check its position".to_owned()
}

/// What the verdict is about: `landfall: Gannet Head, 0.3 NM from the place planned`.
pub(super) fn stands_for(target: &Target) -> String {
    let off = target.off;
    let far = if off.metres() < AT_IT_M {
        "at the place planned".to_owned()
    } else {
        format!("{:.1} NM from the place planned", off.nautical_miles())
    };
    match target.mark {
        Some(_) => format!("landfall: {}, {far}", target.name),
        None => format!("landfall: {}, {far}, no mark within 1 NM of it", target.name),
    }
}

/// Odds against one: `7.6 : 1`, `115 : 1`, `over 10000 : 1`.
pub(super) fn odds(odds: f64) -> String {
    if odds >= 9_999.5 {
        "over 10000 : 1".to_owned()
    } else if odds < 9.95 {
        format!("{odds:.1} : 1")
    } else {
        format!("{odds:.0} : 1")
    }
}

/// The likeliest reading has it that this contact is the landfall, but others are left:
/// `Saddle Isle fits A as well: odds 7.6 : 1`.
pub(super) fn others_fit(
    asked: &Asked<'_>,
    readings: &Readings,
    sight: usize,
    target: &Target,
) -> String {
    let label = asked.case.label(sight);
    let name = &target.name;
    let told = readings.odds().unwrap_or(1.0);
    let rival = rival(asked, readings, sight);
    if told < LEAST_ODDS {
        format!("{} as well: odds {}", rival.fits(label, name), odds(told))
    } else {
        format!(
            "{label} fits {name}, but not as surely as asked ({} %): odds {} over {}",
            percent(asked.assurance),
            odds(told),
            rival.name()
        )
    }
}

/// A contact may be the landfall, but something else is likelier.
pub(super) fn others_fit_better(
    asked: &Asked<'_>,
    readings: &Readings,
    sight: usize,
    target: &Target,
) -> String {
    let label = asked.case.label(sight);
    let over = match (readings.best(), readings.of_contact()) {
        (Some(best), Some((it, _))) if it.weight > 0.0 => best.weight / it.weight,
        _ => 1.0,
    };
    let fits = rival(asked, readings, sight).fits(label, &target.name);
    format!("{fits} better than {}: odds {}", target.name, odds(over))
}

/// What stands against a contact's being the landfall.
enum Rival<'a> {
    /// It is another mark.
    Mark(&'a str),
    /// Another contact is the landfall.
    Contact(&'a str),
    /// It is nothing on the chart.
    Nothing,
}

impl Rival<'_> {
    fn fits(&self, label: &str, landfall: &str) -> String {
        match self {
            Self::Mark(name) => format!("{name} fits {label}"),
            Self::Contact(other) => format!("contact {other} fits {landfall}"),
            Self::Nothing => format!("a ship or rain fits {label}"),
        }
    }

    fn name(&self) -> String {
        match self {
            Self::Mark(name) => (*name).to_owned(),
            Self::Contact(other) => format!("contact {other}"),
            Self::Nothing => "a ship or rain".to_owned(),
        }
    }
}

/// What the best reading without this contact as the landfall makes of it.
fn rival<'a>(asked: &'a Asked<'_>, readings: &Readings, sight: usize) -> Rival<'a> {
    match readings.rival(sight).map(|rival| rival.which) {
        Some(Which::Contact(other)) => Rival::Contact(asked.case.label(other)),
        Some(Which::NoContact) => match readings.rival_of(sight) {
            Some((mark, _)) => Rival::Mark(asked.case.name(mark)),
            None => Rival::Nothing,
        },
        Some(Which::NoneOfThese) | None => Rival::Nothing,
    }
}

/// `by the fix it lies 17.5 NM, 036° T, 326° R, and should paint`.
pub(super) fn whereabouts(view: &View<'_>, from: Position, by: &str) -> String {
    let seen = view.seen(from);
    let lies = format!("{by} it lies {}", place(view, seen));
    let chance = view.chance(from);
    if chance >= EVEN {
        return format!("{lies}, and should paint");
    }
    let begins = match view.paints_from(from) {
        Some(range) => format!("should paint from {:.1} NM on", range.nautical_miles()),
        None => "should not paint".to_owned(),
    };
    match view.inland(from) {
        Some(ground) => format!(
            "{lies}, and {begins}; what shows before it is inland high ground, {:.1} NM behind",
            ground.echo.behind.nautical_miles()
        ),
        None => format!("{lies}, and {begins}"),
    }
}

fn place(view: &View<'_>, seen: Seen) -> String {
    let bearing = seen.line.initial;
    let relative = view.asked().sightings.own.heading.map_or_else(String::new, |heading| {
        format!(", {}° R", bearing.to_relative(heading).whole_degrees())
    });
    format!("{:.1} NM, {}° T{relative}", seen.range.nautical_miles(), bearing.whole_degrees())
}

/// A contact is inland ground, not the coast.
pub(super) fn inland(asked: &Asked<'_>, view: &View<'_>, trap: &Trap) -> String {
    let label = asked.case.label(trap.sight);
    let behind = trap.ground.echo.behind.nautical_miles();
    let mark = trap.ground.mark.and_then(|id| asked.chart.marks().get(id));
    let called = mark.map_or_else(String::new, |mark| format!(" ({})", mark.name));
    let begins = match view.paints_from(view.stand.position) {
        Some(range) => format!("paints only from {:.1} NM on", range.nautical_miles()),
        None => "does not paint".to_owned(),
    };
    format!(
        "{label} at {:.1} NM is inland high ground{called}, not the coast: {} {begins}, and lies \
         {behind:.1} NM nearer than the echo",
        trap.range.nautical_miles(),
        view.target().name
    )
}

/// A contact would be the landfall, which should not paint from there.
pub(super) fn should_not_paint(view: &View<'_>, label: &str, name: &str, from: Position) -> String {
    let range = view.seen(from).range.nautical_miles();
    match view.paints_from(from) {
        Some(begins) => format!(
            "{label} would be {name}, which should not paint at {range:.1} NM but from {:.1} NM on",
            begins.nautical_miles()
        ),
        None => format!("{label} would be {name}, which should not paint at {range:.1} NM"),
    }
}

/// `range and bearing of Saddle Isle: 14.2 NM, 063° T`.
pub(super) fn measurement(measure: &str, name: &str, seen: Seen) -> String {
    let (range, bearing) = (seen.range.nautical_miles(), seen.line.initial.whole_degrees());
    format!("{measure} of {name}: {range:.1} NM, {bearing}° T")
}

/// The first of the measurements that the fix would have next, among marks that serve.
pub(super) fn next(
    asked: &Asked<'_>,
    from: Position,
    serves: impl Fn(&str) -> bool,
) -> Option<String> {
    let next = asked.fix.next.iter().find(|next| serves(&next.mark))?;
    let at = asked.case.names.iter().position(|name| *name == next.mark)?;
    of_candidate(asked, from, at, next.measure.as_str())
}

/// A measurement of a candidate, and where it should be from a place.
pub(super) fn of_candidate(
    asked: &Asked<'_>,
    from: Position,
    candidate: usize,
    measure: &str,
) -> Option<String> {
    let mark = asked.case.problem.candidates.get(candidate)?;
    let line = course(from, mark.position);
    let own = asked.sightings.own.height;
    let height = Height::from_metres(mark.height_m).ok()?;
    let range = slant_range(own, height, line.distance, EarthRadius::MEAN);
    Some(measurement(measure, asked.case.name(candidate), Seen { range, line }))
}

/// What was measured of a contact.
pub(super) fn measured(case: &Case<'_>, sight: usize) -> &'static str {
    let sight = case.problem.sights.get(sight);
    match sight.map(|s| (s.range.is_some(), s.is_borne())) {
        Some((true, false)) => "a range",
        Some((false, true)) => "a bearing",
        _ => "range and bearing",
    }
}

/// The contact that fits worst, where one stands out.
pub(super) fn worst(fix: &Fix) -> Option<&str> {
    let most = |w: &[f64]| w.iter().fold(0.0f64, |most, w| most.max(w.abs()));
    let worst = fix
        .residuals
        .iter()
        .max_by(|a, b| most(&a.standardised).total_cmp(&most(&b.standardised)))?;
    (most(&worst.standardised) > 3.0).then_some(worst.contact.as_str())
}

/// A share in per cent, no more digits than it has: `99`, `99.99`.
fn percent(share: f64) -> String {
    let told = format!("{:.2}", 100.0 * share);
    told.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odds_are_told_as_far_as_they_go() {
        assert_eq!(odds(7.58), "7.6 : 1");
        assert_eq!(odds(9.96), "10 : 1");
        assert_eq!(odds(114.6), "115 : 1");
        assert_eq!(odds(1e4), "over 10000 : 1");
        assert_eq!((percent(0.99), percent(0.9999)), ("99".to_owned(), "99.99".to_owned()));
    }
}
