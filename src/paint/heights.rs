use super::expectation::ExpectedMark;
use super::mark_echo::own_ground_m;
use crate::chart::{Chart, GroundHeight, HeightSource};
use crate::geodesy::{Position, destination};
use crate::units::GroundRange;

/// How far heights can be trusted to tell what shows (our own grading).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Confidence {
    /// From an elevation grid.
    Good,
    /// From contours, or from the charted height of a mark alone.
    Fair,
    /// Assumed: nothing tells.
    Poor,
}

impl Confidence {
    /// In heights from such a source.
    pub fn in_heights(source: HeightSource) -> Self {
        match source {
            HeightSource::Grid => Self::Good,
            HeightSource::Contour | HeightSource::Mark | HeightSource::Sea => Self::Fair,
            HeightSource::Assumed => Self::Poor,
        }
    }

    /// As reports write it.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Fair => "fair",
            Self::Poor => "poor",
        }
    }
}

/// The ground that stands for a mark: the highest of the chart's about it on its bearing, and where
/// that height is from. Where all about it is sea, the mark's own height stands for it.
///
/// A mark made up from the shore alone, on a chart without a grid, counts as assumed: the least that
/// can be said of it.
///
/// - `from`: own position, as asked of [`super::expect`].
pub fn heights_of(chart: &Chart, from: Position, seen: &ExpectedMark) -> Option<GroundHeight> {
    /// Places asked for, before and behind.
    const PLACES: u32 = 8;
    let mark = chart.marks().get(seen.mark)?;
    let (before_m, behind_m) = own_ground_m(mark);
    let along_m = seen.ground_range.metres();
    let about = |i: u32| {
        let share = f64::from(i) / f64::from(PLACES);
        let place_m = (along_m - before_m + (before_m + behind_m) * share).max(0.0);
        let at = destination(from, seen.bearing, GroundRange::clamped_metres(place_m));
        chart.ground().at(at)
    };
    let highest = (0..=PLACES)
        .map(about)
        .filter(|ground| ground.source != HeightSource::Sea)
        .max_by(|a, b| a.height.metres().total_cmp(&b.height.metres()));
    // The chart's own mark has the chart's height; one found on the shore has what is known there.
    let source = match (mark.named, chart.ground().has_grid()) {
        (true, _) => HeightSource::Mark,
        (false, true) => HeightSource::Grid,
        (false, false) => HeightSource::Assumed,
    };
    Some(highest.unwrap_or(GroundHeight { height: mark.height, source }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paint::{Conditions, Vantage, expect};
    use crate::radar::Set;
    use crate::units::Height;

    #[test]
    fn every_mark_of_the_sample_says_where_its_height_is_from() {
        let chart = Chart::sample().unwrap();
        let from: Position = "38 12.9 S, 21 30.5 W".parse().unwrap();
        let height = Height::from_feet(2_000.0).unwrap();
        let vantage = Vantage { position: from, height, heading: None };
        let set = Set::builtin("patrol").unwrap();
        let reach = GroundRange::from_nautical_miles(60.0).unwrap();
        let found = expect(&chart, &vantage, &set, &Conditions::default(), reach, 10.0);
        let sources: Vec<HeightSource> =
            found.marks.iter().map(|seen| heights_of(&chart, from, seen).unwrap().source).collect();
        // The sample has a grid; what is too small for it stands by its own height.
        let grid = sources.iter().filter(|source| **source == HeightSource::Grid).count();
        assert!(2 * grid > sources.len(), "{sources:?}");
        assert!(!sources.contains(&HeightSource::Sea), "{sources:?}");
    }

    #[test]
    fn what_is_assumed_is_trusted_least() {
        assert_eq!(Confidence::in_heights(HeightSource::Assumed).as_str(), "poor");
        assert_eq!(Confidence::in_heights(HeightSource::Contour).as_str(), "fair");
        assert_eq!(Confidence::in_heights(HeightSource::Grid).as_str(), "good");
    }
}
