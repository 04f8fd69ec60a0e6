use crate::chart::coast::{Coast, CoastBuilder, FlatPatch, LonLat};
use crate::chart::geobox::GeoBox;
use crate::geodesy::{Position, distance};
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// Takes in contours and makes [`Contours`] of them.
#[derive(Default)]
pub(in crate::chart) struct ContourBuilder {
    lines: CoastBuilder,
    heights: Vec<f64>,
}

impl ContourBuilder {
    /// Takes in one line and its height in metres.
    pub(in crate::chart) fn line(&mut self, points: &[LonLat], metres: f64) {
        if self.lines.plain_line(points) {
            self.heights.push(metres);
        }
    }

    /// Indexes them.
    pub(in crate::chart) fn finish(self) -> Contours {
        Contours { lines: self.lines.finish(&|_| None), heights: self.heights }
    }
}

/// Metres to a contour, and its height in metres.
type Near = (f64, f64);

/// The nearest of some contours, and the nearest of another height than its own; of two as near the lower.
#[derive(Default)]
struct TwoNearest {
    nearest: Option<Near>,
    other: Option<Near>,
}

impl TwoNearest {
    fn take(&mut self, near: Near) {
        let before = |a: Near, b: Near| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).is_lt();
        match self.nearest {
            Some(nearest) if nearest.1.total_cmp(&near.1).is_eq() => {
                self.nearest = Some(if before(near, nearest) { near } else { nearest });
            }
            Some(nearest) if before(near, nearest) => {
                (self.nearest, self.other) = (Some(near), Some(nearest));
            }
            Some(_) if self.other.is_none_or(|other| before(near, other)) => {
                self.other = Some(near);
            }
            Some(_) => {}
            None => self.nearest = Some(near),
        }
    }
}

/// Lines of equal height.
#[derive(Debug, Default)]
pub(in crate::chart) struct Contours {
    lines: Coast,
    /// Of each line, in metres.
    heights: Vec<f64>,
}

impl Contours {
    /// Contours further off than this say nothing, in metres.
    pub(in crate::chart) const REACH_M: f64 = 10_000.0;

    /// Whether there are none.
    pub(in crate::chart) fn is_empty(&self) -> bool {
        self.heights.is_empty()
    }

    /// Of each line, in metres.
    pub(super) fn heights(&self) -> impl Iterator<Item = f64> {
        self.heights.iter().copied()
    }

    /// What ground stays under that is inside lines of this height and of no greater one, in metres: the next
    /// height of any line; above the last as far again as from the line below it, or from the sea.
    pub(super) fn next_above(&self, metres: f64) -> f64 {
        let above = self.heights().filter(|height| *height > metres).fold(f64::INFINITY, f64::min);
        let below = self.heights().filter(|height| *height < metres).fold(0.0, f64::max);
        if above.is_finite() { above } else { metres + (metres - below).max(0.0) }
    }

    /// The height of the lowest lines about which ground may stand higher than `metres`.
    pub(super) fn least_to_pass(&self, metres: f64) -> f64 {
        self.heights().filter(|height| *height <= metres).fold(f64::NEG_INFINITY, f64::max)
    }

    /// The height of the highest closed line about a place, in metres.
    pub(super) fn highest_about(&self, at: Position) -> Option<f64> {
        let about = self.lines.enclosing(at).into_iter();
        about.filter_map(|line| self.heights.get(line as usize).copied()).max_by(f64::total_cmp)
    }

    /// The highest place of the lines themselves that is `inside`, and its height in metres.
    ///
    /// Long segments are tried every `step_m` metres, so that none crosses a narrow area unseen.
    ///
    /// - `least`: lines lower than this are not looked at, metres.
    pub(super) fn highest(
        &self,
        area: &GeoBox,
        step_m: f64,
        least: f64,
        inside: &dyn Fn(Position) -> bool,
    ) -> Option<(Position, f64)> {
        let mut best: Option<(Position, f64)> = None;
        for run in self.lines.runs_in(area) {
            let Some(&height) = self.heights.get(run.line as usize) else { continue };
            if height < least || best.is_some_and(|(_, most)| most >= height) {
                continue;
            }
            let points: Vec<LonLat> = run.points().collect();
            let found =
                points.windows(2).find_map(|ends| places_on(ends, step_m).find(|p| inside(*p)));
            best = found.map(|at| (at, height)).or(best);
        }
        best
    }

    /// The height of a place in metres; `None` where no contour is near.
    ///
    /// Between the nearest contour and the nearest of another height it goes straight from one to
    /// the other by the distances to both; the shore counts as a contour of height `shore_m`, at
    /// the distance `to_shore` tells. Inside a closed contour it is never lower than that contour:
    /// a summit that no further line encloses is at least as high as its last line. A simple rule
    /// without overshoot, which keeps cliffs where contours crowd.
    pub(in crate::chart) fn height(
        &self,
        at: Position,
        shore_m: f64,
        to_shore: impl FnOnce() -> Option<f64>,
    ) -> Option<f64> {
        if self.is_empty() {
            return None;
        }
        let (nearest, other) = self.two_nearest(at)?;
        let shore = to_shore().map(|metres| (metres, shore_m));
        // The shore takes the place of whichever it is nearer than.
        let (nearest, other) = match shore {
            Some(shore) if shore.0 < nearest.0 => (shore, Some(nearest)),
            Some(shore) if other.is_none_or(|other| shore.0 < other.0) => (nearest, Some(shore)),
            _ => (nearest, other),
        };
        let between = match other {
            Some(other) if nearest.0 + other.0 > 0.0 => {
                (nearest.1 * other.0 + other.1 * nearest.0) / (nearest.0 + other.0)
            }
            _ => nearest.1,
        };
        Some(self.highest_about(at).map_or(between, |floor| between.max(floor)))
    }

    /// Distance in metres and height of the nearest contour, and of the nearest of another height.
    fn two_nearest(&self, at: Position) -> Option<(Near, Option<Near>)> {
        let patch = FlatPatch::new(at);
        let mut reach = (0.25 * METRES_PER_NAUTICAL_MILE).min(Self::REACH_M);
        loop {
            let area = GeoBox::around(at, GroundRange::clamped_metres(reach));
            let mut found = TwoNearest::default();
            for run in self.lines.runs_in(&area) {
                let Some(height) = self.heights.get(run.line as usize) else { continue };
                found.take((patch.distance_to(&run), *height));
            }
            let sure = |near: &Near| near.0 <= reach;
            match (found.nearest.filter(sure), found.other.filter(sure)) {
                (Some(nearest), Some(other)) => return Some((nearest, Some(other))),
                (nearest, _) if reach >= Self::REACH_M => return nearest.map(|n| (n, None)),
                _ => reach = (reach * 3.0).min(Self::REACH_M),
            }
        }
    }
}

/// Places along a segment, both ends among them, no farther apart than so many metres.
fn places_on(ends: &[LonLat], step_m: f64) -> impl Iterator<Item = Position> {
    let (a, b) = match ends {
        [a, b] => (*a, *b),
        _ => (LonLat { lon: 0.0, lat: 0.0 }, LonLat { lon: 0.0, lat: 0.0 }),
    };
    let steps = (distance(a.position(), b.position()).metres() / step_m.max(1.0)).ceil().max(1.0);
    (0..=steps as usize).map(move |step| {
        let share = step as f64 / steps;
        let (lat, lon) = (a.lat + share * (b.lat - a.lat), a.lon + share * (b.lon - a.lon));
        Position::wrapped(lat, lon)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Square contours about 0, 0: half a side in degrees, and height.
    fn hill() -> Contours {
        let mut builder = ContourBuilder::default();
        for (half, metres) in [(0.03, 50.0), (0.02, 100.0), (0.01, 150.0)] {
            let corner = |x: f64, y: f64| LonLat { lon: x * half, lat: y * half };
            let square = [(-1.0, -1.0), (-1.0, 1.0), (1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)];
            builder.line(&square.map(|(x, y)| corner(x, y)), metres);
        }
        builder.finish()
    }

    #[test]
    fn heights_go_straight_from_line_to_line() {
        let hill = hill();
        let at = |lon: f64| hill.height(Position::new(0.0, lon).unwrap(), 3.0, || None).unwrap();
        assert!((at(0.025) - 75.0).abs() < 0.1, "{}", at(0.025));
        assert!((at(0.0175) - 112.5).abs() < 0.1, "{}", at(0.0175));
        assert!((at(0.02) - 100.0).abs() < 0.1);
    }

    #[test]
    fn a_summit_is_at_least_as_high_as_its_last_line() {
        let top = hill().height(Position::new(0.0, 0.0).unwrap(), 3.0, || None).unwrap();
        assert!((top - 150.0).abs() < 1e-9, "{top}");
    }

    #[test]
    fn ground_stays_under_the_next_line() {
        let hill = hill();
        let under = [0.0, 50.0, 99.0, 150.0].map(|metres| hill.next_above(metres) as i64);
        assert_eq!(under, [50, 100, 100, 200]);
        let least = [20.0, 50.0, 99.0, 400.0].map(|metres| hill.least_to_pass(metres) as i64);
        // Below all lines nothing is passed over.
        assert_eq!(least, [i64::MIN, 50, 50, 150]);
        let about = |lon: f64| hill.highest_about(Position::new(0.0, lon).unwrap());
        assert_eq!([0.0, 0.015, 0.04].map(about), [Some(150.0), Some(100.0), None]);
    }

    #[test]
    fn below_the_lowest_line_ground_falls_to_the_shore() {
        let at = Position::new(0.0, 0.035).unwrap();
        // 557 m outside the line of 50 m, as far again from the shore: half way from 50 m to 3 m.
        let metres = hill().height(at, 3.0, || Some(556.6)).unwrap();
        assert!((metres - 26.5).abs() < 0.2, "{metres}");
    }

    #[test]
    fn of_many_contours_the_nearest_two_of_unlike_height_count() {
        let near = [(9.0, 10.0), (4.0, 20.0), (3.0, 20.0), (5.0, 30.0), (2.0, 40.0), (3.0, 40.0)];
        // In whatever order they come: 2 m off stands 40, and 3 m off 20.
        for first in 0..near.len() {
            let mut found = TwoNearest::default();
            (0..near.len()).for_each(|i| found.take(near[(first + i) % near.len()]));
            assert_eq!((found.nearest, found.other), (Some((2.0, 40.0)), Some((3.0, 20.0))));
        }
    }

    #[test]
    fn far_contours_say_nothing() {
        assert_eq!(hill().height(Position::new(1.0, 1.0).unwrap(), 3.0, || None), None);
    }
}
