//! What must not be overlooked: said until it is acknowledged, and kept in the log with that.

mod ground;

use jiff::{SignedDuration, Timestamp};

use super::along::{Due, Standing};
use super::words;
use crate::geodesy::{Covariance, Position};
use crate::units::{GroundRange, Height, Speed};

pub use ground::ground_along;

/// The half long axis of the 95 % ellipse, by now, that raises an alarm, nautical miles; and again each
/// time that it has doubled. The program's own figure: as far as the landfalls of a coast lie apart.
const WIDE_NM: f64 = 5.0;

/// What the reckoning began with is no news: it must have grown to so many times that.
const GROWN: f64 = 1.25;

/// What lies ahead is looked for anew so many nautical miles on.
pub const NEW_LOOK_NM: f64 = 0.5;
/// Nor does what was found stand for longer than this.
pub const NEW_LOOK: SignedDuration = SignedDuration::from_secs(10);

/// Ground is told anew when it is as near as this, nautical miles.
const NEAR_NM: f64 = 5.0;

/// Ground is told anew from another own height, by steps of so many feet.
const HEIGHT_STEP_FT: f64 = 500.0;

/// What the alarm of land without heights is of.
const NO_HEIGHTS: &str = "no heights ahead";

/// What the alarm of the end of the chart is of.
const CHART_ENDS: &str = "chart ends ahead";

/// What the alarm of coast that is not at hand is of.
const NOT_AT_HAND: &str = "coast ahead not at hand";

/// What the alarm of ground that the program failed on is of.
const NOT_WORKED_OUT: &str = "ground not worked out";

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
    /// The ground stays under that: it is the next contour, where no grid tells more.
    pub is_bound: bool,
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
    of.starts_with("ground ") || [NO_HEIGHTS, CHART_ENDS, NOT_AT_HAND].contains(&of)
}

/// What the chart says of the ground ahead.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[expect(clippy::struct_excessive_bools, reason = "any of them may be so beside the others")]
pub struct GroundAhead {
    /// Ground as high as we are; none where none is charted.
    pub in_the_way: Option<InTheWay>,
    /// Land lies ahead whose height the chart does not know: there nothing is looked for.
    pub blind: bool,
    /// The chart tells of our own place, and of somewhere ahead neither a height nor whether it is land: there
    /// nothing is looked for either.
    pub ends: bool,
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
        Self { in_the_way: None, blind: false, ends: false, not_at_hand: false, failed: false };

    /// What lies ahead on either of two stretches of a run: of ground the nearer, and the highest of both.
    fn or(self, other: Self) -> Self {
        let in_the_way = match (self.in_the_way, other.in_the_way) {
            (Some(one), Some(two)) => {
                let nearer = if two.ahead < one.ahead { two } else { one };
                let InTheWay { top, is_bound, .. } = if two.top > one.top { two } else { one };
                Some(InTheWay { top, is_bound, ..nearer })
            }
            (one, two) => one.or(two),
        };
        Self {
            in_the_way,
            blind: self.blind || other.blind,
            ends: self.ends || other.ends,
            not_at_hand: self.not_at_hand || other.not_at_hand,
            failed: self.failed || other.failed,
        }
    }
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
    /// The error that own place was last known with.
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
    let high =
        ahead.in_the_way.map(|way| Alarm { of: same_ground(&way, own), words: told(&way, own) });
    let blind = ahead.blind.then(|| Alarm {
        of: NO_HEIGHTS.to_owned(),
        words: "LAND AHEAD WITHOUT HEIGHTS: ground is NOT looked for".to_owned(),
    });
    let ends = ahead.ends.then(|| Alarm {
        of: CHART_ENDS.to_owned(),
        words: "CHART ENDS AHEAD: ground is NOT looked for".to_owned(),
    });
    let beyond = ahead.not_at_hand.then(|| Alarm {
        of: NOT_AT_HAND.to_owned(),
        words: "COAST AHEAD NOT TAKEN IN: ground is NOT looked for".to_owned(),
    });
    let failed = ahead.failed.then(|| Alarm {
        of: NOT_WORKED_OUT.to_owned(),
        words: "GROUND AHEAD NOT WORKED OUT: it is NOT looked for".to_owned(),
    });
    high.into_iter().chain(blind).chain(ends).chain(beyond).chain(failed).collect()
}

fn told(way: &InTheWay, own_ft: f64) -> String {
    let (nm, feet) = (way.ahead.nautical_miles(), way.top.feet());
    let to = if way.is_bound { "<" } else { "to " };
    let heights = format!("{to}{feet:.0} ft, own {own_ft:.0} ft");
    if nm <= 0.0 {
        return format!("CHARTED GROUND within own error; {heights}");
    }
    let minutes = nm / way.speed.knots().max(1.0) * 60.0;
    let places = usize::from(nm < 9.95);
    format!("CHARTED GROUND {nm:.places$} NM, {minutes:.1} min; {heights}")
}

/// The same for ground that begins in the same ten minutes of latitude and longitude, far or near: as the
/// run goes on a little more of it comes up with every mile, and is no news. From another own height it is.
fn same_ground(way: &InTheWay, own_ft: f64) -> String {
    let cell = |degrees: f64| (degrees * 6.0).floor();
    let (lat, lon) = (cell(way.first.latitude()), cell(way.first.longitude()));
    let near = if way.ahead.nautical_miles() <= NEAR_NM { "near" } else { "far" };
    let step = (own_ft / HEIGHT_STEP_FT).floor();
    format!("ground at {lat} {lon} {near} step {step}")
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::{Chart, GeoBox};
    use crate::units::{Bearing, True};
    use crate::watch::Stretch;

    fn miles(nm: f64) -> GroundRange {
        GroundRange::from_nautical_miles(nm).unwrap()
    }

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    fn from_now(place: (Position, Covariance), over: (Bearing<True>, Speed)) -> Stretch {
        Stretch { place, over, wait_s: 0.0, before: GroundRange::ZERO }
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
            let place = (Position::new(lat, -20.97).unwrap(), small);
            ground_along(chart, &[from_now(place, over)], own).unwrap()
        };
        assert!(!ahead(&part, -38.3).not_at_hand);
        let beyond = ahead(&part, -36.7);
        assert!(beyond.not_at_hand, "{beyond:?}");
        assert!(!ahead(&Chart::sample().unwrap(), -36.7).not_at_hand);
        let raised = alarms(&Seen { ground: Some(beyond), flies: true, ..seen(&[], None) });
        assert!(raised.iter().any(|alarm| alarm.of == NOT_AT_HAND), "{raised:?}");
    }

    #[test]
    fn the_end_of_the_chart_ahead_is_an_alarm_of_ground() {
        let ends = GroundAhead { ends: true, ..GroundAhead::default() };
        let told =
            alarms(&Seen { ground: Some(GroundAhead::default().or(ends)), ..seen(&[], None) });
        assert_eq!(told[0].words, "CHART ENDS AHEAD: ground is NOT looked for");
        assert!(told.len() == 1 && told[0].is_ground(), "{told:?}");
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
            ground_along(&chart, &[from_now((here, small), (track, speed))], own).unwrap()
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
    fn ground_is_told_again_when_near_or_elsewhere_or_from_another_height() {
        let way = |nm: f64, lon: f64| InTheWay {
            ahead: miles(nm),
            first: Position::new(-38.31, lon).unwrap(),
            top: Height::from_feet(5_180.0).unwrap(),
            is_bound: false,
            speed: Speed::from_knots(165.0).unwrap(),
        };
        let first = same_ground(&way(16.6, -20.97), 2_150.0);
        for (own_ft, is_new) in [(2_100.0, false), (2_000.0, false), (1_990.0, true), (500.0, true)]
        {
            assert_eq!(same_ground(&way(16.6, -20.97), own_ft) != first, is_new, "{own_ft} ft");
        }
        for (nm, lon, is_new) in
            [(16.2, -20.96, false), (5.1, -20.99, false), (4.9, -20.97, true), (16.6, -20.7, true)]
        {
            assert_eq!(same_ground(&way(nm, lon), 2_150.0) != first, is_new, "{nm} {lon}");
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
        assert_eq!(
            told(&InTheWay { is_bound: true, ..way(10.0, -20.97) }, 2_000.0),
            "CHARTED GROUND 10 NM, 3.6 min; <5180 ft, own 2000 ft"
        );
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
            let over = (Bearing::wrapped_degrees(track), speed);
            ground_along(&chart, &[from_now((here, small), over)], own).unwrap()
        };
        // Toward Skyros from the east; and out to sea.
        let (landward, seaward) = (ahead(38.85, 24.8, 270.0), ahead(38.85, 24.8, 90.0));
        assert!(landward.blind && landward.in_the_way.is_none(), "{landward:?}");
        assert!(!seaward.blind, "{seaward:?}");
        let told = alarms(&Seen { ground: Some(landward), ..seen(&[], None) });
        assert!(told[0].words.starts_with("LAND AHEAD WITHOUT HEIGHTS"), "{told:?}");
    }
}
