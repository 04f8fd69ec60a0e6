//! Measurements in words that are read in two seconds.

use std::fmt;

use super::reading::{Care, foreseen};
use crate::fix::case::Case;
use crate::fix::report::Measure;
use crate::identity::{Quantity, Row, Solution};
use crate::units::{Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, SlantRange, True};

/// The longest line, in letters: a screen of 80 less what stands before it.
const LONGEST: usize = 73;

/// What settles less often than this, in percent, is only a step on the way.
const LEAST_SETTLED: f64 = 5.0;

/// Where on the screen to look.
#[derive(Debug, Clone, Copy)]
pub(super) struct LookedAt {
    pub range: SlantRange,
    pub bearing: Bearing<True>,
}

impl fmt::Display for LookedAt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let miles = self.range.nautical_miles();
        write!(f, "{miles:.1} NM, {}° T", self.bearing.whole_degrees())
    }
}

/// Where what is measured stands on the screen, seen from one place: range and bearing of the part
/// that answers, the bias of all bearings included, as the set would show it.
pub(super) fn looked_at(
    case: &Case<'_>,
    solution: &Solution,
    candidate: usize,
    measure: Measure,
) -> Option<LookedAt> {
    let expected = |measure, wanted: fn(&Row) -> bool| {
        let rows = foreseen(case, solution, candidate, measure, Care::Fine)?;
        rows.iter().find(|row| wanted(row)).map(|row| -row.residual)
    };
    let ranged = match measure {
        Measure::Shore => Measure::Shore,
        _ => Measure::Range,
    };
    let range = expected(ranged, |row| row.quantity == Quantity::Range)?;
    let mark = case.problem.candidates.get(candidate)?;
    let part =
        super::reading::place_of(case, solution, candidate, measure).unwrap_or(mark.position);
    let bearing = crate::geodesy::LocalPlane::new(solution.position).to_plane(part).polar().1;
    Some(LookedAt { range: SlantRange::clamped_metres(range), bearing })
}

/// "range of Saddle Isle (14.2 NM, 063° T): tells the two places apart, 92 %".
///
/// What it brings is said the shorter way where the line would be too long; where to look goes last.
pub(super) fn line(
    measure: Measure,
    name: &str,
    place: Option<LookedAt>,
    brings: &Brings,
) -> String {
    let what = match measure {
        Measure::Shore => format!("range of the {name}"),
        Measure::Left => format!("left edge of {name}"),
        Measure::Right => format!("right edge of {name}"),
        Measure::Range | Measure::Bearing | Measure::RangeAndBearing => {
            format!("{} of {name}", measure.as_str())
        }
    };
    let Brings { long, short } = brings;
    let placed = place.into_iter().flat_map(|place| {
        [format!("{what} ({place}): {long}"), format!("{what} ({place}): {short}")]
    });
    let shortest = format!("{what}: {short}");
    first_that_fits(placed.chain([format!("{what}: {long}")])).unwrap_or(shortest)
}

fn first_that_fits(ways: impl IntoIterator<Item = String>) -> Option<String> {
    ways.into_iter().find(|way| way.chars().count() <= LONGEST)
}

/// What a measurement brings, said at length and in short.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Brings {
    long: String,
    short: String,
}

pub(super) fn checks() -> Brings {
    let words = "checks the fix".to_owned();
    Brings { long: words.clone(), short: words }
}

pub(super) fn shortens(before: GroundRange, after: GroundRange) -> Brings {
    let miles = |length: GroundRange| {
        let miles = length.nautical_miles();
        if miles < 9.995 { format!("{miles:.2}") } else { format!("{miles:.1}") }
    };
    let (before, after) = (miles(before), miles(after));
    Brings { long: format!("long axis {before} to {after} NM"), short: format!("to {after} NM") }
}

/// "tells the two places apart, 92 %": rounded down, and never certain.
pub(super) fn tells_apart(places: usize, settles: f64) -> Brings {
    let percent = (100.0 * settles).floor().clamp(0.0, 99.0);
    if percent < LEAST_SETTLED {
        let (long, short) = ("a step to tell the places apart".into(), "a step".into());
        return Brings { long, short };
    }
    let long = match places {
        0 | 1 => format!("makes sure of the place, {percent:.0} %"),
        2 => format!("tells the two places apart, {percent:.0} %"),
        many => format!("tells the {many} places apart, {percent:.0} %"),
    };
    Brings { long, short: format!("settles it, {percent:.0} %") }
}

/// "look at 245–255°, 22–26 NM: Saddle Isle there means place 1, nothing place 2": that nothing
/// there is a sign too is said of the `other` place.
pub(super) fn question(window: Window, name: &str, shows: usize, other: Option<usize>) -> String {
    let means = |what: &str| format!("look at {window}: {what} there means place {shows}");
    let (named, land) = (means(name), means("land"));
    let both =
        other.map(|other| [&named, &land].map(|way| format!("{way}, nothing place {other}")));
    let ways = both.into_iter().flatten().chain([named]);
    first_that_fits(ways).unwrap_or(land)
}

/// "look for Saddle Isle: at 063°, 14.2 NM place 1; at 250°, 9.0 NM place 2"; none where that is
/// too long.
pub(super) fn either(
    name: &str,
    one: (usize, LookedAt),
    other: (usize, LookedAt),
) -> Option<String> {
    let at = |(number, at): (usize, LookedAt)| {
        format!(
            "at {}°, {:.1} NM place {number}",
            at.bearing.whole_degrees(),
            at.range.nautical_miles()
        )
    };
    let whole = format!("look for {name}: {}; {}", at(one), at(other));
    first_that_fits([whole])
}

/// A part of the screen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Window {
    pub nearest_m: f64,
    pub farthest_m: f64,
    pub left: Bearing<True>,
    pub right: Bearing<True>,
}

impl fmt::Display for Window {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let miles = |metres: f64| metres / METRES_PER_NAUTICAL_MILE;
        let (near, far) = (miles(self.nearest_m), miles(self.farthest_m));
        write!(
            f,
            "{}–{}°, {near:.1}–{far:.1} NM",
            self.left.whole_degrees(),
            self.right.whole_degrees()
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn looked() -> LookedAt {
        LookedAt {
            range: SlantRange::from_nautical_miles(14.2).unwrap(),
            bearing: Bearing::wrapped_degrees(63.0),
        }
    }

    #[test]
    fn a_line_fits_a_small_screen_and_says_the_most_that_does() {
        let apart = tells_apart(2, 0.929);
        let told = |measure, name| line(measure, name, Some(looked()), &apart);
        assert_eq!(
            told(Measure::Range, "Saddle Isle"),
            "range of Saddle Isle (14.2 NM, 063° T): tells the two places apart, 92 %"
        );
        assert_eq!(
            told(Measure::RangeAndBearing, "Corbel Point"),
            "range and bearing of Corbel Point (14.2 NM, 063° T): settles it, 92 %"
        );
        let miles = |miles| GroundRange::from_nautical_miles(miles).unwrap();
        assert_eq!(
            line(
                Measure::Bearing,
                "Ember Light",
                Some(looked()),
                &shortens(miles(0.44), miles(0.31))
            ),
            "bearing of Ember Light (14.2 NM, 063° T): long axis 0.44 to 0.31 NM"
        );
        assert_eq!(tells_apart(2, 0.01).long, "a step to tell the places apart");
        assert_eq!(tells_apart(3, 1.0).long, "tells the 3 places apart, 99 %");
    }

    #[test]
    fn a_question_to_the_screen_is_asked_in_one_line() {
        let window = Window {
            nearest_m: 22.0 * 1_852.0,
            farthest_m: 26.0 * 1_852.0,
            left: Bearing::wrapped_degrees(245.0),
            right: Bearing::wrapped_degrees(255.0),
        };
        assert_eq!(
            question(window, "Saddle Isle", 1, Some(2)),
            "look at 245–255°, 22.0–26.0 NM: land there means place 1, nothing place 2"
        );
        assert_eq!(
            question(window, "Saddle Isle", 1, None),
            "look at 245–255°, 22.0–26.0 NM: Saddle Isle there means place 1"
        );
    }
}
