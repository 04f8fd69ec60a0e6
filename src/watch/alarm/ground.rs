//! Charted ground along the run of the next minutes: by grids, contours and the heights of marks.

use jiff::Timestamp;

use super::{GroundAhead, InTheWay};
use crate::chart::{Chart, GeoBox, HighPlace};
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position};
use crate::paint::approach::highest_mark;
use crate::units::{Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, Speed, True};
use crate::watch::{Stretch, Watch};

/// How far ahead ground is looked for: so many seconds of the run, no less than so many miles.
const AHEAD_S: f64 = 360.0;
const LEAST_AHEAD_NM: f64 = 2.0;

/// Land without heights is looked for at so many places along the way, and across it.
const BLIND_STEPS: usize = 20;

/// Half the width of what is looked at, in standard deviations across the track: 99.9 %.
const ACROSS: f64 = 3.291;

impl Watch {
    /// The run of the next minutes from a place by now, along which ground is looked for: on the leg in
    /// force, whatever is altered for later, and on each that begins meanwhile.
    pub fn run_for_ground(&self, here: (Position, Covariance), now: Timestamp) -> Vec<Stretch> {
        self.stretches(here, now, AHEAD_S)
    }
}

/// What the chart says of the ground in the next minutes of a run, within the error of the place, for an
/// aircraft at `own` height or, by what its altimeter errs, less. None where there is no run.
pub fn ground_along(chart: &Chart, run: &[Stretch], own: Height) -> Option<GroundAhead> {
    let fastest = run.iter().map(|it| it.over.1.metres_per_second()).fold(0.0, f64::max);
    let on = |stretch: &Stretch| {
        let ahead = ground_ahead(chart, stretch, own);
        let in_the_way = ahead.in_the_way.map(|way| InTheWay {
            ahead: stretch.before + way.ahead,
            // Told no later than it is, where one leg is faster than another.
            speed: Speed::clamped_metres_per_second(fastest),
            ..way
        });
        GroundAhead { in_the_way, ..ahead }
    };
    run.iter().map(on).reduce(GroundAhead::or)
}

fn ground_ahead(chart: &Chart, stretch: &Stretch, own: Height) -> GroundAhead {
    let Stretch { place: (position, covariance), over: (track, speed), wait_s, .. } = *stretch;
    let accuracy = chart.accuracy();
    let chart_m = accuracy.point_sigma.metres().hypot(accuracy.shift_sigma.metres());
    let error_m = |towards| ACROSS * covariance.sigma_towards(towards).hypot(chart_m);
    let along_m = error_m(track);
    let run_m = speed.metres_per_second() * (AHEAD_S - wait_s).max(0.0);
    let mut way = Way {
        chart,
        plane: LocalPlane::new(position),
        track,
        behind_m: along_m,
        ahead_m: run_m.max(LEAST_AHEAD_NM * METRES_PER_NAUTICAL_MILE) + along_m,
        across_m: error_m(track.turned(Angle::from_degrees(90.0))),
        cell_m: 0.0,
    };
    way.cell_m = chart.ground().widest_cell_m(&way.area(way.ahead_m)).unwrap_or(0.0);
    let (top, voids) = way.highest_to(way.ahead_m);
    let top = top.filter(|top| top.at_most() >= own);
    let in_the_way = top.and_then(|top| {
        let (ahead, first) = way.first(own)?;
        let (top, is_bound) = (top.at_most(), top.under.is_some());
        Some(InTheWay { ahead, first, top, is_bound, speed })
    });
    let not_at_hand =
        chart.opened_about().is_some_and(|opened| !opened.holds(&way.area(way.ahead_m)));
    let (blind, ends) = way.untold();
    // What is not at hand is told as that.
    let (blind, ends) = (blind || voids > 0, ends && !not_at_hand);
    GroundAhead { in_the_way, blind, ends, not_at_hand, failed: false }
}

/// What lies ahead: along the track and to both sides, by the error of the place and of the chart.
struct Way<'a> {
    chart: &'a Chart,
    plane: LocalPlane,
    track: Bearing<True>,
    behind_m: f64,
    ahead_m: f64,
    across_m: f64,
    /// One cell of the coarsest grid in it: ground between two heights is as high as the higher of them.
    cell_m: f64,
}

impl Way<'_> {
    /// The charted ground no farther ahead than this that may stand highest; and how many heights are missing
    /// from the grids there: what they were filled with tells of no summit.
    fn highest_to(&self, ahead_m: f64) -> (Option<HighPlace>, usize) {
        let (sin, cos) = self.track.sin_cos();
        let inside = |at: Position| {
            let point = self.plane.to_plane(at);
            let ahead = point.east * sin + point.north * cos;
            let aside = point.east * cos - point.north * sin;
            ahead >= -(self.behind_m + self.cell_m)
                && ahead <= ahead_m + self.cell_m
                && aside.abs() <= self.across_m + self.cell_m
        };
        let found = self.chart.ground().highest(&self.area(ahead_m), &inside);
        let about = (self.plane.centre(), self.reach(ahead_m));
        let mark = highest_mark(self.chart.marks(), about, &inside);
        let both =
            [found.top, mark.map(|(_, mark)| HighPlace::of_mark(mark))].into_iter().flatten();
        (both.reduce(|a, b| if b.at_most() > a.at_most() { b } else { a }), found.voids)
    }

    /// What holds all of it so far ahead.
    fn area(&self, ahead_m: f64) -> GeoBox {
        GeoBox::around(self.plane.centre(), self.reach(ahead_m))
    }

    /// No place of it so far ahead is farther off.
    fn reach(&self, ahead_m: f64) -> GroundRange {
        let (along_m, cell_m) = (ahead_m.max(self.behind_m), self.cell_m);
        GroundRange::clamped_metres((along_m + cell_m).hypot(self.across_m + cell_m))
    }

    /// Where ground of this height begins, to half a mile, and where its top stands there.
    fn first(&self, own: Height) -> Option<(GroundRange, Position)> {
        let high_to = |ahead_m: f64| {
            let top = self.highest_to(ahead_m).0.filter(|top| top.at_most() >= own);
            top.map(|top| top.position)
        };
        if let Some(top) = high_to(0.0) {
            return Some((GroundRange::ZERO, top));
        }
        let (mut free_m, mut high_m) = (0.0, self.ahead_m);
        let mut top = high_to(high_m)?;
        while high_m - free_m > 0.5 * METRES_PER_NAUTICAL_MILE {
            let middle = f64::midpoint(free_m, high_m);
            match high_to(middle) {
                Some(found) => (high_m, top) = (middle, found),
                None => free_m = middle,
            }
        }
        // The nearer end of what is left: what lies ahead is never told farther than it is.
        Some((GroundRange::clamped_metres(free_m.max(1.0)), top))
    }

    /// Whether land lies there of which the chart knows no height; and whether the chart, which tells of our
    /// own place, ends on the way.
    ///
    /// Where it does not tell of our own place it ends nowhere ahead: that we have left it, or not come to it
    /// yet, is no news.
    fn untold(&self) -> (bool, bool) {
        let (sin, cos) = self.track.sin_cos();
        let share = |step: usize, low: f64, high: f64| {
            low + (high - low) * (step as f64 + 0.5) / BLIND_STEPS as f64
        };
        let tells_here = self.tells(self.plane.centre()) != Tells::Nothing;
        let (mut blind, mut ends) = (false, false);
        for number in 0..BLIND_STEPS * BLIND_STEPS {
            let ahead = share(number / BLIND_STEPS, -self.behind_m, self.ahead_m);
            let aside = share(number % BLIND_STEPS, -self.across_m, self.across_m);
            let at = self.plane.to_position(PlanePoint {
                east: ahead * sin + aside * cos,
                north: ahead * cos - aside * sin,
            });
            match self.tells(at) {
                Tells::LandAlone => blind = true,
                Tells::Nothing => ends |= tells_here && ahead > 0.0,
                Tells::HeightOrSea => {}
            }
        }
        (blind, ends)
    }

    fn tells(&self, at: Position) -> Tells {
        if self.chart.ground().charted(at).is_some() {
            return Tells::HeightOrSea;
        }
        match self.chart.coast().is_land(at) {
            Some(true) => Tells::LandAlone,
            Some(false) => Tells::HeightOrSea,
            None => Tells::Nothing,
        }
    }
}

/// What the chart tells of the ground at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Tells {
    HeightOrSea,
    /// That it is land, of no known height.
    LandAlone,
    /// Neither a height nor whether it is land.
    Nothing,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The marks of the sample: from 38°41' to 37°20' S.
    const MARKS: &[(&str, &[u8])] = &[
        ("marks.cpg", include_bytes!("../../../charts-sample/marks.cpg")),
        ("marks.dbf", include_bytes!("../../../charts-sample/marks.dbf")),
        ("marks.prj", include_bytes!("../../../charts-sample/marks.prj")),
        ("marks.shp", include_bytes!("../../../charts-sample/marks.shp")),
    ];

    /// Its coast and contours alone.
    const LINES: &[(&str, &[u8])] = &[
        ("coast.prj", include_bytes!("../../../charts-sample/coast.prj")),
        ("coast.shp", include_bytes!("../../../charts-sample/coast.shp")),
        ("contours.dbf", include_bytes!("../../../charts-sample/contours.dbf")),
        ("contours.prj", include_bytes!("../../../charts-sample/contours.prj")),
        ("contours.shp", include_bytes!("../../../charts-sample/contours.shp")),
    ];

    /// What is told at 300 ft on the way due east from half a degree north, 6.2 E, own place known within
    /// 0.3 NM; the tile N00E006 is flat at 20 m but for one height, so many rows north and columns east.
    fn over_a_tile(rows: usize, columns: usize, height: i16) -> GroundAhead {
        from((0.5, 6.2), 90.0, &tile(rows, columns, height))
    }

    fn tile(rows: usize, columns: usize, height: i16) -> Chart {
        let mut heights = vec![20_i16; 1201 * 1201];
        heights[(600 - rows) * 1201 + 240 + columns] = height;
        let bytes: Vec<u8> = heights.iter().flat_map(|height| height.to_be_bytes()).collect();
        let files = [MARKS, &[("N00E006.hgt", bytes.as_slice())]].concat();
        Chart::from_files("tile", &files).unwrap()
    }

    /// What is told at 300 ft from a place, known within 0.3 NM, on a track.
    fn from((lat, lon): (f64, f64), track: f64, chart: &Chart) -> GroundAhead {
        let here = Position::new(lat, lon).unwrap();
        let place = (here, Covariance::circular(GroundRange::from_nautical_miles(0.3).unwrap()));
        let over = (Bearing::wrapped_degrees(track), Speed::from_knots(165.0).unwrap());
        let run = [Stretch { place, over, wait_s: 0.0, before: GroundRange::ZERO }];
        ground_along(chart, &run, Height::from_feet(300.0).unwrap()).unwrap()
    }

    #[test]
    fn the_end_of_the_chart_ahead_is_told_from_on_it_alone() {
        // The tile's grid is all that tells of ground here, from 6 to 7 E. Its end is six miles ahead, or
        // thirty, or behind; from off it nothing is told, towards it or away.
        let chart = tile(0, 100, 20);
        for (lon, track, ends) in [
            (6.9, 90.0, true),
            (6.5, 90.0, false),
            (6.9, 270.0, false),
            (7.1, 90.0, false),
            (5.9, 90.0, false),
        ] {
            let ahead = from((0.5, lon), track, &chart);
            assert_eq!((ahead.ends, ahead.blind), (ends, false), "{lon} E on {track}: {ahead:?}");
        }
        // The coast of the sample was cut nowhere: beyond its box is open sea.
        assert!(!from((-38.3, -21.3), 270.0, &Chart::sample().unwrap()).ends);
    }

    #[test]
    fn a_missing_height_ahead_is_land_without_heights() {
        // A column is 0.05 NM: five miles ahead, and five beyond the next six minutes of the run.
        let ahead = over_a_tile(0, 100, i16::MIN);
        assert!(ahead.blind && ahead.in_the_way.is_none(), "{ahead:?}");
        assert!(!over_a_tile(0, 450, i16::MIN).blind);
        assert!(!over_a_tile(0, 100, 20).blind);
    }

    #[test]
    fn what_the_chart_errs_and_a_cell_of_it_widen_the_way() {
        // By hand: 0.3 NM of own place with 0.10 and 0.05 NM of the chart make 0.3202 NM; times 3.291 is
        // 1.0537 NM, and a cell of three seconds more, 0.0500 NM, is 1.1037 NM. A row is 0.04975 NM (WGS84).
        let summit = |rows| over_a_tile(rows, 100, 900).in_the_way;
        assert!(summit(22).is_some_and(|way| way.top.metres() > 899.0), "1.094 NM aside");
        assert_eq!(summit(23), None, "1.144 NM aside");
    }

    #[test]
    fn ground_is_looked_for_on_the_leg_to_come_too() {
        let chart = Chart::sample().unwrap();
        // Eight miles west of Varrow Hill, on the way out to sea.
        let here = Position::new(-38.3, -20.97).unwrap();
        let miles = |nm: f64| GroundRange::from_nautical_miles(nm).unwrap();
        let place = (here, Covariance::circular(miles(0.3)));
        let over =
            |degrees, knots| (Bearing::wrapped_degrees(degrees), Speed::from_knots(knots).unwrap());
        let own = Height::from_feet(1_000.0).unwrap();
        let out =
            Stretch { place, over: over(270.0, 165.0), wait_s: 0.0, before: GroundRange::ZERO };
        let back = Stretch { over: over(90.0, 150.0), wait_s: 60.0, before: miles(2.75), ..out };
        let along = |run: &[Stretch]| ground_along(&chart, run, own);
        assert_eq!(along(&[]), None);
        assert_eq!(along(&[out]).unwrap().in_the_way, None);
        let alone = Stretch { wait_s: 0.0, before: GroundRange::ZERO, ..back };
        let alone = along(&[alone]).unwrap().in_the_way.unwrap();
        let after = along(&[out, back]).unwrap().in_the_way.unwrap();
        // So much farther as the run to the turn is, to the half mile that it is found to, and at the
        // greater speed.
        let farther = after.ahead.nautical_miles() - alone.ahead.nautical_miles();
        assert!((farther - 2.75).abs() < 0.6, "{after:?} {alone:?}");
        assert!((after.speed.knots() - 165.0).abs() < 1e-9);
        // Beyond the next minutes it is not looked for, but within the least that always is.
        let far = Position::new(-38.3, -21.1).unwrap();
        let place = (far, Covariance::circular(miles(0.3)));
        let late = Stretch { place, wait_s: 360.0, before: miles(16.5), ..back };
        assert_eq!(along(&[out, late]).unwrap().in_the_way, None);
    }

    /// Of Varrow Hill, 2,218 ft, its lines alone: the last of them is that of 600 m, 1,969 ft.
    #[test]
    fn ground_by_contours_alone_may_stand_as_high_as_the_next_line() {
        let chart = Chart::from_files("lines", LINES).unwrap();
        let here = Position::new(-38.3, -20.97).unwrap();
        let place = (here, Covariance::circular(GroundRange::from_nautical_miles(0.3).unwrap()));
        let over = (Bearing::wrapped_degrees(90.0), Speed::from_knots(165.0).unwrap());
        let run = [Stretch { place, over, wait_s: 0.0, before: GroundRange::ZERO }];
        let from = |chart: &Chart, feet: f64| {
            ground_along(chart, &run, Height::from_feet(feet).unwrap()).unwrap().in_the_way
        };
        let way = from(&chart, 2_200.0).unwrap();
        assert!(way.is_bound && (way.top.metres() - 700.0).abs() < 1e-6, "{way:?}");
        assert_eq!(from(&chart, 2_300.0), None);
        // The grid and the mark of the whole chart tell more.
        let sample = Chart::sample().unwrap();
        let way = from(&sample, 2_200.0).unwrap();
        assert!(!way.is_bound && (way.top.feet() - 2_218.0).abs() < 1.0, "{way:?}");
        assert_eq!(from(&sample, 2_250.0), None);
    }

    #[test]
    fn the_height_of_a_mark_counts_where_nothing_else_tells_it() {
        let chart = Chart::from_files("marks", MARKS).unwrap();
        // By their places Varrow Hill, 2,218 ft, is 8.20 NM to the east of here, 0.08 NM off the track
        // (computed, WGS84).
        let here = Position::new(-38.3, -20.97).unwrap();
        let place = (here, Covariance::circular(GroundRange::from_nautical_miles(0.3).unwrap()));
        let ahead = |track: f64, feet: f64| {
            let over = (Bearing::wrapped_degrees(track), Speed::from_knots(165.0).unwrap());
            let run = [Stretch { place, over, wait_s: 0.0, before: GroundRange::ZERO }];
            ground_along(&chart, &run, Height::from_feet(feet).unwrap()).unwrap().in_the_way
        };
        let way = ahead(90.0, 2_200.0).unwrap();
        assert!((way.top.feet() - 2_218.0).abs() < 1.0, "{way:?}");
        // To half a mile on the near side.
        assert!((7.7..8.21).contains(&way.ahead.nautical_miles()), "{way:?}");
        assert_eq!(ahead(90.0, 2_230.0), None);
        assert_eq!(ahead(270.0, 500.0), None);
    }
}
