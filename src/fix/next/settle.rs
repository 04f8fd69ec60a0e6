use std::collections::BTreeSet;

use rayon::prelude::*;

use super::TOLD;
use super::gain::{major_after, major_m};
use super::reading::{Care, foreseen};
use super::trial::{Place, Places, Trial, Worth};
use super::view::{InSight, LEAST_CHANCE};
use super::words::{self, LookedAt, Window};
use crate::fix::case::Case;
use crate::fix::finding::Finding;
use crate::fix::report::{Measure, NextMeasurement, Purpose};
use crate::geodesy::LocalPlane;
use crate::identity::Sight;
use crate::units::{Angle, Bearing, GroundRange};

/// Marks glanced at from each place, nearest first; the most promising of all are tried, and the best
/// of those gone into.
const GLANCED: usize = 80;
const TRIED: usize = 20;
const GONE_INTO: usize = 8;
/// A measurement that is not expected to make the likeliest place surer than this is not told.
const LEAST_HOPE: f64 = 0.01;
/// A mark is known on the screen where no other that paints this often stands within so many
/// squared standard deviations of where it is looked for, from whichever place.
const PAINTS: f64 = 0.1;
const KNOWN: f64 = 25.0;
/// One reading of it is asked for where a second would settle no more than this.
const SECOND_WORTH: f64 = 0.05;
/// Where places agree on where to look, in metres and radians.
const SAME_RANGE_M: f64 = 1_852.0;
const SAME_BEARING_RAD: f64 = 0.09;
/// What does not show is only taken for a sign where it would show this surely.
const SURELY_SHOWS: f64 = 0.8;
/// How wide a part of the screen is asked about, in standard deviations to each side.
const WINDOW_SIGMAS: f64 = 2.0;

struct Weighed {
    candidate: usize,
    measure: Measure,
    worth: Worth,
}

/// The measurements that most likely leave one place with the asked assurance, best first, one for
/// each mark.
///
/// Every listed place is taken for the right one in turn, at its probability. From there the mark
/// paints, or not; its reading is drawn from the normal law about what is expected there, own
/// error and the reading's both in it; and the places are weighed again by that reading, other
/// marks that stand there and echoes of nothing charted both allowed for.
///
/// Marks are glanced at first, those that promise most tried by their charted points, and the best
/// of these by the chart's shore.
pub(super) fn settle(case: &Case<'_>, finding: &Finding<'_>) -> Vec<NextMeasurement> {
    let places = Places::new(case, finding);
    let mut glanced: Vec<(f64, usize)> = candidates(&places)
        .into_iter()
        .map(|mark| (places.most_hoped(mark), mark))
        .filter(|(hoped, _)| *hoped > places.best() + LEAST_HOPE)
        .collect();
    glanced.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    glanced.truncate(TRIED);
    let mut rough: Vec<Weighed> =
        glanced.par_iter().filter_map(|(_, mark)| best_of(&places, *mark)).collect();
    rough.sort_by(|a, b| b.worth.hoped.total_cmp(&a.worth.hoped));
    rough.truncate(GONE_INTO);
    let mut fine: Vec<Weighed> = rough
        .par_iter()
        .filter_map(|found| weighed(&places, found.candidate, found.measure, Care::Fine))
        .filter(|found| found.worth.hoped > places.best() + LEAST_HOPE)
        .collect();
    let named = |w: &Weighed| places.case.prospect.is_named(w.candidate);
    fine.sort_by(|a, b| {
        let by = |w: &Weighed| (100.0 * w.worth.settles).round();
        let told = by(b).total_cmp(&by(a)).then(named(b).cmp(&named(a)));
        told.then(b.worth.hoped.total_cmp(&a.worth.hoped))
    });
    // Chances so far are coarse: what is told is looked at as the budget of one mark has it.
    let shown = fine.iter().filter(|found| shows(&places, found.candidate));
    shown.take(TOLD).map(|found| told(&places, finding, found)).collect()
}

fn weighed(places: &Places<'_>, candidate: usize, measure: Measure, care: Care) -> Option<Weighed> {
    let worth = Trial::new(places, candidate, measure, care)?.worth();
    Some(Weighed { candidate, measure, worth })
}

/// Every mark that is likely to paint from some place.
fn candidates(places: &Places<'_>) -> BTreeSet<usize> {
    let likely = |place: &Place<'_>| -> Vec<usize> {
        let seen = place.view.seen.iter().filter(|mark| mark.chance >= LEAST_CHANCE);
        seen.map(|mark| mark.candidate).take(GLANCED).collect()
    };
    places.all.iter().flat_map(likely).collect()
}

/// Whether a mark shows from a place that is likely enough to say where to look.
fn shows(places: &Places<'_>, candidate: usize) -> bool {
    let likely = |place: &&Place<'_>| {
        let seen = place.view.find(candidate);
        place.is_telling() && seen.is_some_and(|mark| mark.chance >= LEAST_CHANCE)
    };
    let mut from = places.all.iter().filter(likely).map(|place| place.view.solution.position);
    from.any(|from| places.case.prospect.shows(candidate, from))
}

/// What is measured of a mark already: by the same contact from every place, or by none, or it is
/// not to be asked for.
enum Before {
    Nothing,
    Readings { range: bool, direction: bool },
    Differs,
}

fn before(places: &Places<'_>, candidate: usize) -> Before {
    let sights = |place: &Place<'_>| -> Vec<usize> {
        let all = place.targets.iter().enumerate();
        all.filter(|(_, target)| **target == Some(candidate)).map(|(sight, _)| sight).collect()
    };
    let mut of_each = places.all.iter().filter(|place| place.is_telling()).map(sights);
    let first = of_each.next().unwrap_or_default();
    if of_each.any(|other| other != first) {
        return Before::Differs;
    }
    let read = |of: fn(&Sight) -> bool| {
        first.iter().filter_map(|&s| places.case.problem.sights.get(s)).any(of)
    };
    if first.is_empty() {
        return Before::Nothing;
    }
    Before::Readings { range: read(|s| s.range.is_some()), direction: read(Sight::is_borne) }
}

/// What to measure of one mark, and what that is worth, by charted points.
fn best_of(places: &Places<'_>, candidate: usize) -> Option<Weighed> {
    let weigh = |measure| weighed(places, candidate, measure, Care::Rough);
    let (singles, both) = match before(places, candidate) {
        Before::Differs | Before::Readings { range: true, direction: true } => return None,
        Before::Readings { range, .. } => {
            (vec![if range { Measure::Bearing } else { Measure::Range }], None)
        }
        Before::Nothing => {
            let singles = if is_known(places, candidate) {
                vec![Measure::Range, Measure::Bearing]
            } else {
                Vec::new()
            };
            (singles, weigh(Measure::RangeAndBearing))
        }
    };
    let single = singles
        .into_iter()
        .filter_map(weigh)
        .max_by(|a, b| a.worth.hoped.total_cmp(&b.worth.hoped));
    match (single, both) {
        (Some(single), Some(both)) => {
            let enough = single.worth.settles + SECOND_WORTH >= both.worth.settles
                && single.worth.hoped + SECOND_WORTH >= both.worth.hoped;
            Some(if enough { single } else { both })
        }
        (single, both) => single.or(both),
    }
}

/// Whether an operator can tell the echo of a mark on the screen, whichever place is right.
fn is_known(places: &Places<'_>, candidate: usize) -> bool {
    let telling: Vec<&Place<'_>> = places.all.iter().filter(|place| place.is_telling()).collect();
    let seen: Option<Vec<&InSight>> =
        telling.iter().map(|place| place.view.find(candidate)).collect();
    let Some(seen) = seen.filter(|seen| seen.iter().all(|m| m.chance >= LEAST_CHANCE)) else {
        return false;
    };
    seen.iter().all(|mark| {
        telling.iter().all(|from| {
            let mut near = from.view.about(mark.at, mark.plotted.plus(from.view.error), KNOWN);
            near.all(|(other, _)| other.candidate == candidate || other.chance < PAINTS)
        })
    })
}

fn told(places: &Places<'_>, finding: &Finding<'_>, found: &Weighed) -> NextMeasurement {
    let case = places.case;
    let name = case.name(found.candidate);
    let look = |place: &Place<'_>| {
        let mark = place.view.find(found.candidate)?;
        let at = words::looked_at(case, place.view.solution, found.candidate, found.measure)?;
        Some((place.number, *mark, at))
    };
    let count = places.all.iter().filter(|place| place.is_telling()).count();
    let shown: Vec<(usize, InSight, LookedAt)> =
        places.all.iter().filter(|place| place.is_telling()).filter_map(look).collect();
    let same = agreed(&shown).filter(|_| shown.len() == count);
    let brings = words::tells_apart(count, found.worth.settles);
    let plain = |at| words::line(found.measure, name, at, &brings);
    let words = match (same, shown.as_slice()) {
        (Some(at), _) => plain(Some(at)),
        (None, [(number, mark, _)]) if count > 1 && is_bare(places, *number, mark) => {
            let window = window(places, mark);
            // What does not show is a sign only where it surely would, and of one place only.
            let surely = mark.chance >= SURELY_SHOWS && count == 2;
            let other = places.all.iter().filter(|place| place.is_telling() && surely);
            let other = other.map(|place| place.number).find(|other| other != number);
            words::question(window, name, *number, other)
        }
        (None, [(one, here, at), (other, there, far), ..])
            if found.measure == Measure::RangeAndBearing
                && is_bare(places, *one, here)
                && is_bare(places, *other, there) =>
        {
            words::either(name, (*one, *at), (*other, *far)).unwrap_or_else(|| plain(None))
        }
        _ => plain(None),
    };
    let after = axis_after(case, finding, found);
    NextMeasurement {
        mark: name.to_owned(),
        measure: found.measure,
        major_axis_after: after,
        purpose: Purpose::Settle,
        settles: Some(found.worth.settles.clamp(0.0, 1.0)),
        range: same.map(|at| at.range),
        bearing: same.map(|at| at.bearing),
        words,
    }
}

/// The one place to look, where all agree on it.
fn agreed(shown: &[(usize, InSight, LookedAt)]) -> Option<LookedAt> {
    let (_, _, first) = shown.first()?;
    let same = shown.iter().all(|(_, _, at)| {
        (at.range.metres() - first.range.metres()).abs() <= SAME_RANGE_M
            && at.bearing.minus(first.bearing).radians().abs() <= SAME_BEARING_RAD
    });
    same.then_some(*first)
}

/// The part of the screen in which a mark stands, seen from one place.
fn window(places: &Places<'_>, mark: &InSight) -> Window {
    let error = mark.plotted;
    let towards = Bearing::wrapped(mark.at.east.atan2(mark.at.north));
    let metres = mark.metres;
    let along = WINDOW_SIGMAS * error.sigma_towards(towards);
    let quarter = Angle::from_degrees(90.0);
    let across = WINDOW_SIGMAS * error.sigma_towards(towards.turned(quarter)) / metres.max(1.0);
    let slant = metres.hypot(places.case.problem.own_height_m);
    Window {
        nearest_m: (slant - along).max(0.0),
        farthest_m: slant + along,
        left: towards.turned(Angle::from_radians(-across.min(1.5))),
        right: towards.turned(Angle::from_radians(across.min(1.5))),
    }
}

/// Whether no other place would show land where a mark is looked for from this one: only then is an
/// echo there a sign of this place.
fn is_bare(places: &Places<'_>, number: usize, mark: &InSight) -> bool {
    places.all.iter().filter(|other| other.number != number).all(|other| {
        let error = mark.plotted.plus(other.view.error);
        let (long, _, _) = error.axes();
        let at = LocalPlane::new(other.view.solution.position).to_position(mark.at);
        let mut near = other.view.about(mark.at, error, KNOWN);
        near.all(|(seen, _)| seen.chance < PAINTS)
            && !places.case.prospect.has_land(at, WINDOW_SIGMAS * long.sqrt())
    })
}

/// Half the long axis at the likeliest place, were it the right one.
fn axis_after(case: &Case<'_>, finding: &Finding<'_>, found: &Weighed) -> GroundRange {
    let now = major_m(finding.mode.covariance);
    let rows = foreseen(case, &finding.best.solution, found.candidate, found.measure, Care::Fine);
    let after = rows.and_then(|rows| major_after(case, finding, found.candidate, &rows));
    let after = after.unwrap_or(now);
    GroundRange::clamped_metres(after.min(now))
}
