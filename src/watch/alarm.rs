//! What must not be overlooked: said until it is acknowledged, and kept in the log with that.

use jiff::Timestamp;

use super::along::{Due, Standing};
use super::entry::spoken_bearing;
use super::words;
use crate::chart::{Chart, GeoBox};
use crate::geodesy::{Covariance, LocalPlane, Position, course};
use crate::units::{Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, Speed, True};

/// The half long axis of the 95 % ellipse, by now, that raises an alarm, nautical miles; and again each
/// time that it has doubled. The program's own figure: as far as the landfalls of a coast lie apart.
const WIDE_NM: f64 = 5.0;

/// What the reckoning began with is no news: it must have grown to so many times that.
const GROWN: f64 = 1.25;

/// How far ahead ground is looked for: so many minutes of the run, no less than so many miles.
const AHEAD_MIN: f64 = 6.0;
const LEAST_AHEAD_NM: f64 = 2.0;

/// Ground is told anew when it is higher by such a step, feet, and when it is as near as this.
const GROUND_STEP_FT: f64 = 1_000.0;
const NEAR_NM: f64 = 5.0;

/// Half the width of what is looked at, in standard deviations across the track: 99.9 %.
const ACROSS: f64 = 3.291;

/// Something that must not be overlooked.
#[derive(Debug, Clone, PartialEq)]
pub struct Alarm {
    /// The same for as long as it is the same thing: by it an alarm acknowledged is known again.
    pub of: String,
    /// In plain words.
    pub words: String,
}

/// Charted ground ahead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundAhead {
    /// Where the highest of it stands.
    pub position: Position,
    /// How high.
    pub height: Height,
    /// How far from us, and in which direction.
    pub distance: GroundRange,
    /// True.
    pub bearing: Bearing<True>,
}

/// What alarms are raised from.
#[derive(Debug, Clone, Copy)]
pub struct Seen<'a> {
    /// The watch's own time.
    pub now: Timestamp,
    /// What comes to paint on the run.
    pub due: &'a [Due],
    /// Names of the marks reported.
    pub reported: &'a [&'a str],
    /// Contacts, or a fix and the reckoning, are at odds.
    pub at_odds: bool,
    /// The error of the place by now.
    pub spread: Option<Covariance>,
    /// The error that the reckoning began with.
    pub began: Option<Covariance>,
    /// The highest charted ground ahead.
    pub ground: Option<GroundAhead>,
    /// Own antenna, and one standard deviation of that.
    pub height: Height,
    /// Of what the altimeter tells.
    pub height_sigma: Height,
    /// An aircraft: a vessel meets ground at sea level, and charted depths are not known here.
    pub flies: bool,
}

/// Everything that must not be overlooked, the gravest first.
pub fn alarms(seen: &Seen<'_>) -> Vec<Alarm> {
    let found = [ground(seen), at_odds(seen), wide(seen)];
    found.into_iter().flatten().chain(late(seen)).collect()
}

fn ground(seen: &Seen<'_>) -> Option<Alarm> {
    // Own height may be less than is told by what the altimeter errs.
    let least_m = seen.height.metres() - seen.height_sigma.metres();
    let ahead = seen.ground.filter(|ahead| seen.flies && ahead.height.metres() >= least_m)?;
    let (feet, own) = (ahead.height.feet(), seen.height.feet());
    Some(Alarm {
        of: same_ground(&ahead),
        words: format!(
            "CHARTED GROUND {feet:.0} ft AHEAD {:.1} NM {}; own {own:.0} ft",
            ahead.distance.nautical_miles(),
            spoken_bearing(ahead.bearing.degrees())
        ),
    })
}

/// The same for ground of the same thousand feet in the same ten minutes of latitude and longitude, far or
/// near: as the run goes on a little higher ground comes up with every mile, and is no news.
fn same_ground(ahead: &GroundAhead) -> String {
    let steps = (ahead.height.feet() / GROUND_STEP_FT).floor();
    let cell = |degrees: f64| (degrees * 6.0).floor();
    let (lat, lon) = (cell(ahead.position.latitude()), cell(ahead.position.longitude()));
    let near = if ahead.distance.nautical_miles() <= NEAR_NM { "near" } else { "far" };
    format!("ground {steps} at {lat} {lon} {near}")
}

fn at_odds(seen: &Seen<'_>) -> Option<Alarm> {
    seen.at_odds.then(|| Alarm {
        of: "at odds".to_owned(),
        words: "contacts, chart and reckoning are AT ODDS".to_owned(),
    })
}

fn wide(seen: &Seen<'_>) -> Option<Alarm> {
    let half_nm = |covariance: Covariance| covariance.ellipse(0.95).semi_major.nautical_miles();
    let limit = seen.began.map_or(WIDE_NM, |began| WIDE_NM.max(GROWN * half_nm(began)));
    let doubled = (half_nm(seen.spread?) / limit).log2().floor();
    (doubled >= 0.0).then(|| {
        let passed = limit * 2f64.powf(doubled);
        Alarm {
            of: format!("ellipse past {passed:.0} NM"),
            words: format!("the 95 % ellipse has grown past {passed:.0} NM: take a fix"),
        }
    })
}

/// Each mark that should have painted by now and was not reported.
fn late<'a>(seen: &'a Seen<'_>) -> impl Iterator<Item = Alarm> + 'a {
    let late = |due: &&Due| due.standing(seen.now, seen.reported) == Standing::Overdue;
    seen.due.iter().filter(late).map(|due| {
        let by = due
            .latest
            .map_or_else(String::new, |latest| format!(", due by {}", words::clock(latest)));
        Alarm { of: format!("late {}", due.mark), words: format!("{} LATE TO PAINT{by}", due.mark) }
    })
}

/// The highest charted ground in the next minutes of a run, within the error of the place: none where
/// nothing there stands above the sea.
pub fn ground_ahead(
    chart: &Chart,
    (position, covariance): (Position, Covariance),
    track: Bearing<True>,
    speed: Speed,
) -> Option<GroundAhead> {
    let run_m = speed.metres_per_second() * AHEAD_MIN * 60.0;
    let along_m = run_m.max(LEAST_AHEAD_NM * METRES_PER_NAUTICAL_MILE)
        + ACROSS * covariance.sigma_towards(track);
    let behind_m = ACROSS * covariance.sigma_towards(track);
    let across_m = ACROSS * covariance.sigma_towards(track.turned(Angle::from_degrees(90.0)));
    let plane = LocalPlane::new(position);
    let (sin, cos) = track.sin_cos();
    let inside = |at: Position| {
        let point = plane.to_plane(at);
        let ahead = point.east * sin + point.north * cos;
        let aside = point.east * cos - point.north * sin;
        ahead >= -behind_m && ahead <= along_m && aside.abs() <= across_m
    };
    let reach = GroundRange::clamped_metres(along_m.hypot(across_m).max(behind_m.hypot(across_m)));
    let area = GeoBox::around(position, reach);
    let top = chart.ground().highest(&area, &inside).top?;
    let line = course(position, top.position);
    Some(GroundAhead {
        position: top.position,
        height: top.height,
        distance: line.distance,
        bearing: line.initial,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn miles(nm: f64) -> GroundRange {
        GroundRange::from_nautical_miles(nm).unwrap()
    }

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    fn seen(due: &[Due], spread: Option<Covariance>) -> Seen<'_> {
        Seen {
            now: at("2031-03-09T03:50:00Z"),
            due,
            reported: &["Great Ember"],
            at_odds: false,
            spread,
            began: None,
            ground: None,
            height: Height::from_feet(2000.0).unwrap(),
            height_sigma: Height::from_feet(50.0).unwrap(),
            flies: true,
        }
    }

    #[test]
    fn what_is_late_and_not_reported_is_told() {
        let due = |mark: &str, latest: &str| Due {
            mark: mark.to_owned(),
            earliest: at("2031-03-09T03:41:00Z"),
            expected: at("2031-03-09T03:43:00Z"),
            latest: Some(at(latest)),
            range: GroundRange::ZERO,
            bearing: Bearing::ZERO,
        };
        let all = [
            due("Gannet Head", "2031-03-09T03:46:00Z"),
            due("Great Ember", "2031-03-09T03:46:00Z"),
            due("Saddle Isle", "2031-03-09T03:59:00Z"),
        ];
        let told = alarms(&seen(&all, None));
        let told: Vec<&str> = told.iter().map(|alarm| alarm.words.as_str()).collect();
        assert_eq!(told, ["Gannet Head LATE TO PAINT, due by 03:46:00"]);
    }

    #[test]
    fn an_ellipse_is_told_once_for_each_doubling() {
        let of = |sigma: f64| {
            let told = alarms(&seen(&[], Some(Covariance::circular(miles(sigma)))));
            told.first().map(|alarm| alarm.of.clone())
        };
        // A circle's 95 % radius is 2.448 standard deviations (published table).
        assert_eq!(of(2.0), None);
        assert_eq!(of(2.1).as_deref(), Some("ellipse past 5 NM"));
        assert_eq!(of(3.9), of(2.1));
        assert_eq!(of(4.2).as_deref(), Some("ellipse past 10 NM"));
        // Begun with 9.8 NM, it is told from 12.2 NM on.
        let began = Some(Covariance::circular(miles(4.0)));
        let told = |sigma: f64| {
            let spread = Some(Covariance::circular(miles(sigma)));
            alarms(&Seen { began, ..seen(&[], spread) })
        };
        assert_eq!(told(4.9), []);
        assert_eq!(told(5.1).first().map(|alarm| alarm.of.as_str()), Some("ellipse past 12 NM"));
    }

    #[test]
    fn ground_ahead_counts_and_ground_behind_does_not() {
        let chart = Chart::sample().unwrap();
        // Eight miles west of Varrow Hill, 2,218 ft by its mark.
        let here = Position::new(-38.3, -20.97).unwrap();
        let (speed, small) = (Speed::from_knots(165.0).unwrap(), Covariance::circular(miles(0.3)));
        let of = |degrees: f64| {
            ground_ahead(&chart, (here, small), Bearing::wrapped_degrees(degrees), speed)
        };
        let hill = of(90.0).unwrap();
        assert!(hill.height.feet() > 1_500.0, "{hill:?}");
        assert!((hill.bearing.degrees() - 90.0).abs() < 20.0, "{hill:?}");
        assert!(of(270.0).is_none_or(|west| west.height.feet() < 400.0));
        let above = Seen { ground: Some(hill), ..seen(&[], None) };
        let low = Seen { height: Height::from_feet(1_000.0).unwrap(), ..above };
        assert_eq!(alarms(&Seen { height: Height::from_feet(3_000.0).unwrap(), ..above }), []);
        assert!(alarms(&low)[0].words.starts_with("CHARTED GROUND"), "{low:?}");
        assert_eq!(alarms(&Seen { flies: false, ..low }), []);
    }

    #[test]
    fn ground_is_told_again_when_it_is_much_higher_nearer_or_other() {
        let ground = |feet: f64, nm: f64, lon: f64| GroundAhead {
            position: Position::new(-38.31, lon).unwrap(),
            height: Height::from_feet(feet).unwrap(),
            distance: miles(nm),
            bearing: Bearing::ZERO,
        };
        let first = same_ground(&ground(4_396.0, 16.6, -20.97));
        for (feet, nm, lon, is_new) in [
            (4_593.0, 16.2, -20.96, false),
            (4_999.0, 5.1, -20.99, false),
            (5_036.0, 16.2, -20.97, true),
            (4_396.0, 4.9, -20.97, true),
            (4_396.0, 16.6, -20.70, true),
        ] {
            let other = same_ground(&ground(feet, nm, lon)) != first;
            assert_eq!(other, is_new, "{feet} {nm} {lon}");
        }
    }
}
