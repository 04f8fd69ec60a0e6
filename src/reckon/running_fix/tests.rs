use super::*;
use crate::geodesy::{along_track, distance};
use crate::reckon::{Craft, Current, ErrorModel, Flow, TakenFix};
use crate::units::Speed;

fn bearing(degrees: f64) -> Bearing<True> {
    Bearing::wrapped_degrees(degrees)
}

fn knots(value: f64) -> Speed {
    Speed::from_knots(value).unwrap()
}

fn miles(value: f64) -> GroundRange {
    GroundRange::from_nautical_miles(value).unwrap()
}

/// Own motion exact: what the tables of bearings on the bow suppose.
fn exact() -> ErrorModel {
    ErrorModel {
        heading_sigma: Angle::from_degrees(1e-4),
        speed_share: 1e-6,
        flow_stated: Speed::ZERO,
        flow_unstated: Speed::ZERO,
        leeway_share: 0.0,
        wander: 0.0,
        ..ErrorModel::of(Craft::Vessel)
    }
}

fn from(position: Position, sigma: f64, model: ErrorModel) -> RunningFix {
    let time = "2031-03-09T03:40:00Z".parse().unwrap();
    RunningFix::new(Reckoner::new(time, position, Covariance::circular(miles(sigma)), model))
}

fn seen(degrees: f64) -> Seen {
    let sigma = Angle::from_degrees(0.02);
    Seen::Bearing { bearing: bearing(degrees), sigma, by_heading: false }
}

/// How far off the mark at the second bearing, and the position then.
fn two_bearings(track: f64, speed: f64, minutes: f64, first: f64, second: f64) -> (f64, f64) {
    let mark = Position::new(0.0, 0.0).unwrap();
    // Reckoned well off the truth, on the side that the bearing is taken from.
    let start = destination(mark, bearing(first + 180.0 + 5.0), miles(9.0));
    let mut run = from(start, 30.0, exact());
    let course = Course::through(bearing(track), knots(speed), Flow::Still, None, &exact());
    assert!(run.take(Charted::exactly(mark), seen(first)));
    run.advance(&course, 60.0 * minutes);
    assert!(run.take(Charted::exactly(mark), seen(second)));
    let (standing, places) = run.cross();
    assert_eq!(standing, Standing::Fixed, "{places:?}");
    let off = distance(places[0].reckoner.position(), mark).nautical_miles();
    let abeam = off * Angle::from_degrees(second - track).radians().sin().abs();
    (off, abeam)
}

#[test]
fn special_bearings_on_the_bow() {
    // Course, speed, minutes, two bearings; distance off at the second, and abeam. Data of
    // exercises seen second-hand, the 30° and 26½° of our own; D₂ = run sin a₁ / sin(a₂ − a₁) computed, to 0.001.
    for (track, speed, minutes, first, second, off, abeam) in [
        // a₁ 25°, a₂ 45°, 6 NM (handbook factors by averaging 1.245, 0.8775; 1.2357, 0.8737 exactly).
        (315.0, 12.0, 30.0, 340.0, 0.0, 7.414, 5.242),
        // Doubling the angle on the bow, 36° to 72°: the run.
        (193.0, 20.0, 36.0, 157.0, 121.0, 12.0, 11.413),
        // Four points to the beam, 45° to 90°: the run.
        (193.0, 20.0, 15.0, 238.0, 283.0, 5.0, 5.0),
        // 22½° to 45°, run 6.667 NM: the 0.7 rule says 4.67 abeam.
        (90.0, 10.0, 40.0, 67.5, 45.0, 6.667, 4.714),
        // 30° to 60°: seven eighths of the run abeam by the rule, 0.866 exactly.
        (0.0, 10.0, 60.0, 30.0, 60.0, 10.0, 8.660),
        // 26½° to 45°: the run abeam.
        (0.0, 10.0, 60.0, 26.565, 45.0, 14.142, 10.0),
        // Course 070, 6 kn; bearing 051 magnetic, variation 13 W, so 038; then 351 after 30 min.
        (70.0, 6.0, 30.0, 38.0, 351.0, 2.174, 2.135),
    ] {
        let (found, beam) = two_bearings(track, speed, minutes, first, second);
        assert!((found - off).abs() < 0.01, "{track} {first}: {found} for {off}");
        assert!((beam - abeam).abs() < 0.01, "{track} {first}: {beam} for {abeam}");
    }
}

#[test]
fn factors_of_the_table_of_bearings_on_the_bow() {
    // Four entries of a handbook's table of two bearings, as printed (seen second-hand): by how much the
    // run between them is multiplied for the distance at the second, and abeam. A run of 10 NM.
    for (first, second, off, abeam) in [
        (24.0, 44.0, 1.19, 0.83),
        (24.0, 46.0, 1.09, 0.78),
        (26.0, 44.0, 1.42, 0.98),
        (26.0, 46.0, 1.28, 0.92),
    ] {
        let (found, beam) = two_bearings(0.0, 10.0, 60.0, first, second);
        assert!((0.1 * found - off).abs() < 7e-3, "{first} {second}: {found}");
        assert!((0.1 * beam - abeam).abs() < 7e-3, "{first} {second}: {beam}");
    }
}

/// Minutes north and east of nought as a position.
fn minutes(north: f64, east: f64) -> Position {
    Position::new(north / 60.0, east / 60.0).unwrap()
}

#[test]
fn a_current_left_out_is_wrong_on_the_unsafe_side() {
    // Light at 0°20.0'N 0°17.0'E; course 000, 6 kn; fixes 2130 10.5'N 10.0'E and 2230 15.0'N 12.0'E:
    // set 126.9, drift 2.50. The light bears 060 at 2300 and 100 at 2330. With the current 20.39'N
    // 14.78'E, 2.25 NM off; without it 20.70'N 13.02'E, 4.04 NM off. Data of a published exercise, seen
    // second-hand; answers computed on the plane, where the ellipsoid has 0.6 % at the equator.
    let light = minutes(20.0, 17.0);
    let stream = Current { set: bearing(126.87), drift: knots(2.5) };
    for (flow, north, east, off) in
        [(Flow::from(stream), 20.39, 14.78, 2.25), (Flow::Still, 20.70, 13.02, 4.04)]
    {
        let mut run = from(minutes(15.0, 12.0), 20.0, exact());
        let held = Course::through(bearing(0.0), knots(6.0), flow, None, &exact());
        run.advance(&held, 1800.0);
        run.take(Charted::exactly(light), seen(60.0));
        run.advance(&held, 1800.0);
        run.take(Charted::exactly(light), seen(100.0));
        let (standing, places) = run.cross();
        assert_eq!(standing, Standing::Fixed);
        let place = places[0].reckoner.position();
        assert!(distance(place, minutes(north, east)).nautical_miles() < 0.04, "{place}");
        assert!((distance(place, light).nautical_miles() - off).abs() < 0.04);
    }
}

#[test]
fn a_current_found_by_the_fixes_goes_into_the_running_fix() {
    // The same sitting with the current not known: the first two fixes find it, and it is steady.
    let light = minutes(20.0, 17.0);
    let steady = 240.0 * 3600.0;
    let model = ErrorModel {
        flow_unstated: knots(3.0),
        flow_seconds: steady,
        ..ErrorModel::of(Craft::Vessel)
    };
    let time = "2031-03-09T21:30:00Z".parse().unwrap();
    let close = Covariance::circular(miles(0.1));
    let mut reckoner = Reckoner::new(time, minutes(10.5, 10.0), close, model);
    let held = Course::through(bearing(0.0), knots(6.0), Flow::Still, None, &model);
    reckoner.advance(&held, 3600.0);
    let fix =
        TakenFix { position: minutes(15.0, 12.0), covariance: close, heading_share: [0.0, 0.0] };
    reckoner.take_fix(&fix).unwrap();
    let found = reckoner.flow(&held).current();
    assert!((found.drift.knots() - 2.5).abs() < 0.2, "{found:?}");
    let mut run = RunningFix::new(reckoner);
    let by_compass = |degrees: f64| Seen::Bearing {
        bearing: bearing(degrees),
        sigma: Angle::from_degrees(0.5),
        by_heading: true,
    };
    run.advance(&held, 1800.0);
    run.take(Charted::exactly(light), by_compass(60.0));
    run.advance(&held, 1800.0);
    run.take(Charted::exactly(light), by_compass(100.0));
    let (standing, places) = run.cross();
    assert_eq!(standing, Standing::Fixed);
    let off = distance(places[0].reckoner.position(), light).nautical_miles();
    // The fixes alone, run on, put her 3.04 NM off; the bearings alone with that current 2.25; without
    // it 4.04 (computed). Taken together she lies between the first two.
    let sigma = places[0].reckoner.covariance().axes().0.sqrt() / 1852.0;
    assert!(off > 2.25 && off < 3.04 && sigma < 0.4, "{off} {sigma}");
    assert!(places[0].condition() > 1.0 && places[0].condition() < 20.0);
}

#[test]
fn one_line_is_most_probable_and_no_fix() {
    let mark = Position::new(-38.0, -21.0).unwrap();
    let start = destination(mark, bearing(270.0), miles(20.0));
    let mut run = from(start, 4.0, ErrorModel::of(Craft::Aircraft));
    run.take(Charted::exactly(mark), Seen::Range { range: miles(17.0), sigma: miles(0.2) });
    let (standing, places) = run.cross();
    assert_eq!(standing, Standing::MostProbable);
    let best = &places[0];
    assert!(!best.is_observed());
    let off = distance(best.reckoner.position(), mark).nautical_miles();
    assert!((off - 17.0).abs() < 0.02, "{off}");
    let (long, short, axis) = best.reckoner.covariance().axes();
    assert!((short.sqrt() / 1852.0 - 0.2).abs() < 0.01);
    assert!((long.sqrt() / 1852.0 - 4.0).abs() < 0.1);
    assert!(axis.degrees() < 1.0 || axis.degrees() > 179.0, "{axis}");
    assert_eq!(from(start, 4.0, exact()).cross().0, Standing::Nothing);
}

/// Three ranges of one mark, flown past it at 10 NM on the left.
fn ranged(across: f64) -> (RunningFix, Position, Position) {
    let model = exact();
    let mark = Position::new(-38.0, -21.0).unwrap();
    let abeam = destination(mark, bearing(90.0), miles(10.0));
    let start = along_track(abeam, bearing(0.0), -12.0 * 1852.0);
    let known = Covariance::along_across(miles(3.0), miles(across), bearing(0.0));
    let time = "2031-03-09T03:40:00Z".parse().unwrap();
    let off = along_track(start, bearing(90.0), -2.0 * 1852.0);
    let mut run = RunningFix::new(Reckoner::new(time, off, known, model));
    let held = Course::through(bearing(0.0), knots(180.0), Flow::Still, None, &model);
    let mut truth = start;
    for _ in 0..3 {
        let range = distance(truth, mark);
        run.take(Charted::exactly(mark), Seen::Range { range, sigma: miles(0.1) });
        run.advance(&held, 240.0);
        truth = along_track(truth, bearing(0.0), 12.0 * 1852.0);
    }
    (run, truth, mark)
}

#[test]
fn ranges_of_one_mark_cross_on_either_side_of_it() {
    // With the reckoning 3 NM across, the other side of the mark, 20 NM off, is out of the question.
    let (run, truth, _) = ranged(3.0);
    let (standing, places) = run.cross();
    assert_eq!(standing, Standing::Fixed);
    assert!(distance(places[0].reckoner.position(), truth).nautical_miles() < 0.1);
    // With 20 NM across it is not: both are told, and neither is stated.
    let (run, truth, mark) = ranged(20.0);
    let (standing, places) = run.cross();
    assert_eq!(standing, Standing::Ambiguous);
    assert_eq!(places.len(), 2);
    assert!((places.iter().map(|place| place.probability).sum::<f64>() - 1.0).abs() < 1e-9);
    let apart = distance(places[0].reckoner.position(), places[1].reckoner.position());
    assert!((apart.nautical_miles() - 20.0).abs() < 0.5);
    assert!(places.iter().any(|p| distance(p.reckoner.position(), truth).nautical_miles() < 0.1));
    let _ = mark;
}

#[test]
fn lines_that_do_not_go_with_the_reckoning_are_at_odds() {
    let mark = Position::new(-38.0, -21.0).unwrap();
    let start = destination(mark, bearing(270.0), miles(20.0));
    let mut run = from(start, 0.5, exact());
    run.take(Charted::exactly(mark), Seen::Range { range: miles(10.0), sigma: miles(0.2) });
    assert_eq!(run.cross().0, Standing::AtOdds);
}

#[test]
fn the_error_of_the_mark_moves_the_fix_bodily() {
    // A range and a bearing at once, both of one mark charted to 0.3 NM: the lines' own ellipse widened
    // by 0.3 NM on each axis, whatever the cut. Taken apart, a bearing after a run, the same.
    let mark = Position::new(-38.0, -21.0).unwrap();
    let charted = |point: f64, shift: f64| Charted {
        position: mark,
        point_sigma: miles(point),
        shift_sigma: miles(shift),
    };
    let square = |charted: Charted, minutes: f64| {
        let mut run = from(destination(mark, bearing(270.0), miles(10.0)), 30.0, exact());
        let held = Course::through(bearing(0.0), knots(60.0), Flow::Still, None, &exact());
        run.take(charted, seen(90.0));
        run.advance(&held, 60.0 * minutes);
        let off = 60.0 * minutes / 60.0;
        run.take(charted, seen(Angle::from_radians((10.0_f64).atan2(-off)).degrees()));
        run.take(charted, Seen::Range { range: miles(10.0_f64.hypot(off)), sigma: miles(0.05) });
        run.cross().1[0].lines_only.square_miles()
    };
    for minutes in [0.0, 3.0] {
        let exact = square(charted(0.0, 0.0), minutes);
        for (point, shift) in [(0.3, 0.0), (0.0, 0.3), (0.18, 0.24)] {
            let wider = square(charted(point, shift), minutes);
            for axis in [0, 1] {
                let more = wider[axis][axis] - exact[axis][axis];
                assert!((more - 0.09).abs() < 0.002, "{minutes} {point} {shift}: {more}");
            }
        }
    }
}

#[test]
fn lines_nearly_along_each_other_cross_flat() {
    let cut = |second: f64| {
        let mark = Position::new(-38.0, -21.0).unwrap();
        let here = destination(mark, bearing(270.0), miles(10.0));
        let mut run = from(here, 4.0, exact());
        run.take(Charted::exactly(mark), seen(90.0));
        let beyond = destination(here, bearing(second), miles(12.0));
        run.take(Charted::exactly(beyond), seen(second));
        let (standing, places) = run.cross();
        assert_eq!(standing, Standing::Fixed);
        (places[0].cut.unwrap().degrees(), places[0].is_flat())
    };
    for (second, wide, flat) in
        [(75.0, 15.0, true), (65.0, 25.0, true), (50.0, 40.0, false), (280.0, 10.0, true)]
    {
        let (found, told) = cut(second);
        assert!((found - wide).abs() < 0.3 && told == flat, "{second}: {found}");
    }
}

#[test]
fn no_more_than_a_dozen_lines() {
    let mark = Position::new(-38.0, -21.0).unwrap();
    let mut run = from(destination(mark, bearing(270.0), miles(20.0)), 1.0, exact());
    for _ in 0..MOST_LINES {
        assert!(run.take(Charted::exactly(mark), seen(90.0)));
    }
    assert!(!run.take(Charted::exactly(mark), seen(90.0)));
    assert_eq!(run.cross().0, Standing::MostProbable);
}
