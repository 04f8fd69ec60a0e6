//! What must not be overlooked: said until it is acknowledged, and kept in the log with that.

use jiff::{SignedDuration, Timestamp};

use super::along::{Due, Standing};
use super::words;
use crate::chart::{Chart, GeoBox, HighPlace};
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position};
use crate::units::{Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, Speed, True};

/// The half long axis of the 95 % ellipse, by now, that raises an alarm, nautical miles; and again each
/// time that it has doubled. The program's own figure: as far as the landfalls of a coast lie apart.
const WIDE_NM: f64 = 5.0;

/// What the reckoning began with is no news: it must have grown to so many times that.
const GROWN: f64 = 1.25;

/// How far ahead ground is looked for: so many minutes of the run, no less than so many miles.
const AHEAD_MIN: f64 = 6.0;
const LEAST_AHEAD_NM: f64 = 2.0;

/// What lies ahead is looked for anew so many nautical miles on.
pub const NEW_LOOK_NM: f64 = 0.5;
/// Nor does what was found stand for longer than this.
pub const NEW_LOOK: SignedDuration = SignedDuration::from_secs(10);

/// Ground is told anew when it is as near as this, nautical miles.
const NEAR_NM: f64 = 5.0;

/// Land without heights is looked for at so many places along the way, and across it.
const BLIND_STEPS: usize = 20;

/// What the alarm of land without heights is of.
const NO_HEIGHTS: &str = "no heights ahead";

/// What the alarm of coast that is not at hand is of.
const NOT_AT_HAND: &str = "coast ahead not at hand";

/// What the alarm of ground that the program failed on is of.
const NOT_WORKED_OUT: &str = "ground not worked out";

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

/// Charted ground in the way, as high as we are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InTheWay {
    /// How far along the track the first of it begins; nought where the error of our own place holds it.
    pub ahead: GroundRange,
    /// Where the highest of that first ground stands.
    pub first: Position,
    /// The highest of all in the way, however far.
    pub top: Height,
    /// At what speed we come to it.
    pub speed: Speed,
}

impl Alarm {
    /// Of high ground, or of ground that is not known.
    pub fn is_ground(&self) -> bool {
        is_of_ground(&self.of)
    }
}

/// Whether what an alarm is of is ground.
pub fn is_of_ground(of: &str) -> bool {
    of.starts_with("ground ") || of == NO_HEIGHTS || of == NOT_AT_HAND
}

/// What the chart says of the ground ahead.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct GroundAhead {
    /// Ground as high as we are; none where none is charted.
    pub in_the_way: Option<InTheWay>,
    /// Land lies ahead whose height the chart does not know: there nothing is looked for.
    pub blind: bool,
    /// Not all of what lies ahead is at hand of a large chart: there nothing is looked for either.
    pub not_at_hand: bool,
    /// The program failed on it: nothing is known of what lies ahead.
    pub failed: bool,
}

impl GroundAhead {
    /// Nothing of what lies ahead is at hand.
    pub const NOT_AT_HAND: Self = Self { not_at_hand: true, ..Self::NOTHING };

    /// The program failed on it.
    pub const FAILED: Self = Self { failed: true, ..Self::NOTHING };

    const NOTHING: Self =
        Self { in_the_way: None, blind: false, not_at_hand: false, failed: false };
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
    /// Charted ground ahead.
    pub ground: Option<GroundAhead>,
    /// Own antenna.
    pub height: Height,
    /// An aircraft: a vessel meets ground at sea level, and charted depths are not known here.
    pub flies: bool,
}

/// Everything that must not be overlooked, the gravest first.
pub fn alarms(seen: &Seen<'_>) -> Vec<Alarm> {
    let found = [at_odds(seen), wide(seen)];
    ground(seen).into_iter().chain(found.into_iter().flatten()).chain(late(seen)).collect()
}

fn ground(seen: &Seen<'_>) -> Vec<Alarm> {
    let Some(ahead) = seen.ground.filter(|_| seen.flies) else { return Vec::new() };
    let own = seen.height.feet();
    let high = ahead.in_the_way.map(|way| Alarm { of: same_ground(&way), words: told(&way, own) });
    let blind = ahead.blind.then(|| Alarm {
        of: NO_HEIGHTS.to_owned(),
        words: "LAND AHEAD WITHOUT HEIGHTS: ground is NOT looked for".to_owned(),
    });
    let beyond = ahead.not_at_hand.then(|| Alarm {
        of: NOT_AT_HAND.to_owned(),
        words: "COAST AHEAD NOT TAKEN IN: ground is NOT looked for".to_owned(),
    });
    let failed = ahead.failed.then(|| Alarm {
        of: NOT_WORKED_OUT.to_owned(),
        words: "GROUND AHEAD NOT WORKED OUT: it is NOT looked for".to_owned(),
    });
    high.into_iter().chain(blind).chain(beyond).chain(failed).collect()
}

fn told(way: &InTheWay, own_ft: f64) -> String {
    let (nm, feet) = (way.ahead.nautical_miles(), way.top.feet());
    let heights = format!("to {feet:.0} ft, own {own_ft:.0} ft");
    if nm <= 0.0 {
        return format!("CHARTED GROUND within own error; {heights}");
    }
    let minutes = nm / way.speed.knots().max(1.0) * 60.0;
    let places = usize::from(nm < 9.95);
    format!("CHARTED GROUND {nm:.places$} NM, {minutes:.1} min; {heights}")
}

/// The same for ground that begins in the same ten minutes of latitude and longitude, far or near: as the
/// run goes on a little more of it comes up with every mile, and is no news.
fn same_ground(way: &InTheWay) -> String {
    let cell = |degrees: f64| (degrees * 6.0).floor();
    let (lat, lon) = (cell(way.first.latitude()), cell(way.first.longitude()));
    let near = if way.ahead.nautical_miles() <= NEAR_NM { "near" } else { "far" };
    format!("ground at {lat} {lon} {near}")
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

/// Each charted name that should have painted by now and was not reported, once another was.
fn late<'a>(seen: &'a Seen<'_>) -> impl Iterator<Item = Alarm> + 'a {
    // Before anything was reported nothing is late: nobody may be at the set. What the chart does not name
    // is not waited for.
    let late = |due: &&Due| {
        due.named
            && !seen.reported.is_empty()
            && due.standing(seen.now, seen.reported) == Standing::Overdue
    };
    seen.due.iter().filter(late).map(|due| {
        let by = due
            .latest
            .map_or_else(String::new, |latest| format!(", due by {}", words::clock(latest)));
        Alarm { of: format!("late {}", due.mark), words: format!("{} LATE TO PAINT{by}", due.mark) }
    })
}

/// What the chart says of the ground in the next minutes of a run, within the error of the place, for an
/// aircraft at `own` height or, by what its altimeter errs, less.
pub fn ground_ahead(
    chart: &Chart,
    (position, covariance): (Position, Covariance),
    (track, speed): (Bearing<True>, Speed),
    own: Height,
) -> GroundAhead {
    let error_m = ACROSS * covariance.sigma_towards(track);
    let run_m = speed.metres_per_second() * AHEAD_MIN * 60.0;
    let way = Way {
        chart,
        plane: LocalPlane::new(position),
        track,
        behind_m: error_m,
        ahead_m: run_m.max(LEAST_AHEAD_NM * METRES_PER_NAUTICAL_MILE) + error_m,
        across_m: ACROSS * covariance.sigma_towards(track.turned(Angle::from_degrees(90.0))),
    };
    let top = way.highest_to(way.ahead_m).filter(|top| top.height >= own);
    let in_the_way = top.and_then(|top| {
        let (ahead, first) = way.first(own)?;
        Some(InTheWay { ahead, first: first.position, top: top.height, speed })
    });
    let not_at_hand =
        chart.opened_about().is_some_and(|opened| !opened.holds(&way.area(way.ahead_m)));
    GroundAhead { in_the_way, blind: way.is_blind(), not_at_hand, failed: false }
}

/// What lies ahead: along the track and to both sides, by the error of the place.
struct Way<'a> {
    chart: &'a Chart,
    plane: LocalPlane,
    track: Bearing<True>,
    behind_m: f64,
    ahead_m: f64,
    across_m: f64,
}

impl Way<'_> {
    /// The highest charted ground no farther ahead than this.
    fn highest_to(&self, ahead_m: f64) -> Option<HighPlace> {
        let (sin, cos) = self.track.sin_cos();
        let inside = |at: Position| {
            let point = self.plane.to_plane(at);
            let ahead = point.east * sin + point.north * cos;
            let aside = point.east * cos - point.north * sin;
            ahead >= -self.behind_m && ahead <= ahead_m && aside.abs() <= self.across_m
        };
        self.chart.ground().highest(&self.area(ahead_m), &inside).top
    }

    /// What holds all of it so far ahead.
    fn area(&self, ahead_m: f64) -> GeoBox {
        let reach = ahead_m.hypot(self.across_m).max(self.behind_m.hypot(self.across_m));
        GeoBox::around(self.plane.centre(), GroundRange::clamped_metres(reach))
    }

    /// Where ground of this height begins, to half a mile, and its top there.
    fn first(&self, own: Height) -> Option<(GroundRange, HighPlace)> {
        let high_to = |ahead_m: f64| self.highest_to(ahead_m).filter(|top| top.height >= own);
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

    /// Whether land lies there of which the chart knows no height.
    fn is_blind(&self) -> bool {
        let (sin, cos) = self.track.sin_cos();
        let (ground, coast) = (self.chart.ground(), self.chart.coast());
        let share = |step: usize, low: f64, high: f64| {
            low + (high - low) * (step as f64 + 0.5) / BLIND_STEPS as f64
        };
        (0..BLIND_STEPS * BLIND_STEPS).any(|number| {
            let ahead = share(number / BLIND_STEPS, -self.behind_m, self.ahead_m);
            let aside = share(number % BLIND_STEPS, -self.across_m, self.across_m);
            let at = self.plane.to_position(PlanePoint {
                east: ahead * sin + aside * cos,
                north: ahead * cos - aside * sin,
            });
            ground.charted(at).is_none() && coast.is_land(at) == Some(true)
        })
    }
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
            flies: true,
        }
    }

    #[test]
    fn what_is_late_and_not_reported_is_told() {
        let due = |mark: &str, latest: &str| Due {
            mark: mark.to_owned(),
            named: mark != "Head 1.6 NM NE of Fallow Head",
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
            due("Head 1.6 NM NE of Fallow Head", "2031-03-09T03:46:00Z"),
        ];
        let told = alarms(&seen(&all, None));
        let told: Vec<&str> = told.iter().map(|alarm| alarm.words.as_str()).collect();
        assert_eq!(told, ["Gannet Head LATE TO PAINT, due by 03:46:00"]);
        assert_eq!(alarms(&Seen { reported: &[], ..seen(&all, None) }), []);
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
    fn coast_that_is_not_at_hand_is_an_alarm_and_no_open_sea() {
        let folder = [std::path::PathBuf::from("charts-sample")];
        let here = Position::new(-38.3, -20.97).unwrap();
        let near = GeoBox::around(here, GroundRange::from_nautical_miles(100.0).unwrap());
        let part = crate::chart::Opening::new(&folder).around(near).whole_up_to(0).open().unwrap();
        assert!(part.opened_about().is_some());
        let (speed, small) = (Speed::from_knots(165.0).unwrap(), Covariance::circular(miles(0.3)));
        let over = (Bearing::wrapped_degrees(0.0), speed);
        let ahead = |chart: &Chart, lat: f64| {
            let own = Height::from_feet(1_000.0).unwrap();
            ground_ahead(chart, (Position::new(lat, -20.97).unwrap(), small), over, own)
        };
        assert!(!ahead(&part, -38.3).not_at_hand);
        let beyond = ahead(&part, -36.7);
        assert!(beyond.not_at_hand, "{beyond:?}");
        assert!(!ahead(&Chart::sample().unwrap(), -36.7).not_at_hand);
        let raised = alarms(&Seen { ground: Some(beyond), flies: true, ..seen(&[], None) });
        assert!(raised.iter().any(|alarm| alarm.of == NOT_AT_HAND), "{raised:?}");
    }

    #[test]
    fn ground_that_the_program_failed_on_is_an_alarm_and_no_open_sea() {
        let told = alarms(&Seen { ground: Some(GroundAhead::FAILED), ..seen(&[], None) });
        assert!(told[0].words.ends_with("it is NOT looked for") && told[0].is_ground(), "{told:?}");
        assert_eq!(alarms(&Seen { ground: Some(GroundAhead::default()), ..seen(&[], None) }), []);
    }

    #[test]
    fn ground_ahead_counts_and_ground_behind_does_not() {
        let chart = Chart::sample().unwrap();
        // Eight miles west of Varrow Hill, 2,218 ft by its mark.
        let here = Position::new(-38.3, -20.97).unwrap();
        let (speed, small) = (Speed::from_knots(165.0).unwrap(), Covariance::circular(miles(0.3)));
        let of = |degrees: f64, feet: f64| {
            let track = Bearing::wrapped_degrees(degrees);
            let own = Height::from_feet(feet).unwrap();
            ground_ahead(&chart, (here, small), (track, speed), own)
        };
        let low = of(90.0, 1_000.0);
        let way = low.in_the_way.unwrap();
        assert!(way.top.feet() > 1_500.0 && !low.blind, "{low:?}");
        // A thousand feet stand well before the hill's top, and higher ground begins farther on.
        let ahead = way.ahead.nautical_miles();
        assert!((3.0..8.0).contains(&ahead), "{way:?}");
        let higher = of(90.0, 1_500.0).in_the_way.unwrap();
        assert!(higher.ahead.nautical_miles() > ahead && higher.top == way.top, "{higher:?}");
        assert_eq!(of(90.0, 3_000.0).in_the_way, None);
        assert_eq!(of(270.0, 400.0).in_the_way, None);
        let seen = Seen { ground: Some(low), ..seen(&[], None) };
        assert!(alarms(&seen)[0].words.starts_with("CHARTED GROUND "), "{low:?}");
        assert_eq!(alarms(&Seen { flies: false, ..seen }), []);
    }

    #[test]
    fn ground_is_told_by_where_it_begins_and_again_when_that_is_near_or_elsewhere() {
        let way = |nm: f64, lon: f64| InTheWay {
            ahead: miles(nm),
            first: Position::new(-38.31, lon).unwrap(),
            top: Height::from_feet(5_180.0).unwrap(),
            speed: Speed::from_knots(165.0).unwrap(),
        };
        let first = same_ground(&way(16.6, -20.97));
        for (nm, lon, is_new) in
            [(16.2, -20.96, false), (5.1, -20.99, false), (4.9, -20.97, true), (16.6, -20.7, true)]
        {
            assert_eq!(same_ground(&way(nm, lon)) != first, is_new, "{nm} {lon}");
        }
        for (nm, words) in [
            (10.0, "CHARTED GROUND 10 NM, 3.6 min; to 5180 ft, own 2000 ft"),
            (4.94, "CHARTED GROUND 4.9 NM, 1.8 min; to 5180 ft, own 2000 ft"),
            (0.0, "CHARTED GROUND within own error; to 5180 ft, own 2000 ft"),
        ] {
            assert_eq!(told(&way(nm, -20.97), 2_000.0), words);
            // Beside the band and the key that acknowledges, on 80 columns.
            assert!(words.len() <= 56, "{words}");
        }
    }

    /// The shore of Natural Earth has no heights at all.
    #[test]
    fn land_ahead_without_heights_is_told() {
        let shp = include_bytes!("../../tests/reference/natural-earth-coasts/aegean.shp");
        let chart = Chart::from_files("Aegean", &[("coast.shp", shp)]).unwrap();
        let (speed, small) = (Speed::from_knots(165.0).unwrap(), Covariance::circular(miles(0.3)));
        let own = Height::from_feet(1_000.0).unwrap();
        let ahead = |lat: f64, lon: f64, track: f64| {
            let here = Position::new(lat, lon).unwrap();
            ground_ahead(&chart, (here, small), (Bearing::wrapped_degrees(track), speed), own)
        };
        // Toward Skyros from the east; and out to sea.
        let (landward, seaward) = (ahead(38.85, 24.8, 270.0), ahead(38.85, 24.8, 90.0));
        assert!(landward.blind && landward.in_the_way.is_none(), "{landward:?}");
        assert!(!seaward.blind, "{seaward:?}");
        let told = alarms(&Seen { ground: Some(landward), ..seen(&[], None) });
        assert!(told[0].words.starts_with("LAND AHEAD WITHOUT HEIGHTS"), "{told:?}");
    }
}
