//! Tables of the trade, by the fix: how accurate two lines, a range and a bearing, a reckoning and a
//! line are. Each table stands in `tests/reference/` with its source and status.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

#[allow(dead_code)] // each test uses its own part of it
mod towers;

use std::path::Path;

use foreland::chart::Chart;
use foreland::contact::{Belief, Contact, Own, Part, Radar, Reckoning, Sightings, StatedAccuracy};
use foreland::fix::{Fix, Options, Verdict, fix};
use foreland::geodesy::{Covariance, Position, course};
use foreland::radar::Set;
use foreland::units::{Angle, Bearing, GroundRange, Height, SlantRange};
use jiff::Timestamp;
use towers::{centre, chart_of, miles, moved, name};

const NM: f64 = 1852.0;
/// The program's prior of an error common to all ranges, in miles.
const RANGE_BIAS_NM: f64 = 0.05;
/// Tables give three or four digits.
const PRINTED: f64 = 1e-3;
/// A chord of a hundred miles is so much shorter than its arc, in miles, and a little over.
const CHORD_NM: f64 = 0.004;
/// By the fix: the range error in common, the curves of ranges and the sphere move it by less.
const SOLVED: f64 = 0.01;

/// The rows of a table, its notes and its heading left out.
fn rows(table: &str) -> Vec<Vec<f64>> {
    table
        .lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect()
}

fn close(found: f64, tabled: f64, share: f64, what: &str) {
    assert!((found - tabled).abs() <= share * tabled.abs(), "{what}: {found}, tabled {tabled}");
}

/// A chart whose marks are where they are said to be.
fn exact_chart(folder: &Path, places: &[Position]) -> Chart {
    let told = "[accuracy]\npoint_sigma_nm = 0.001\nshift_sigma_nm = 0.0\n";
    std::fs::write(folder.join("chart.toml"), told).unwrap();
    chart_of(folder, places)
}

/// A contact on a named mark; errors in miles and degrees.
fn contact(mark: usize, range: Option<(f64, f64)>, bearing: Option<(f64, f64)>) -> Contact {
    Contact {
        label: format!("{mark}"),
        time: start(),
        own_height: Height::SEA_LEVEL,
        range: range.map(|(nm, _)| SlantRange::from_nautical_miles(nm).unwrap()),
        range_sigma: miles(range.map_or(0.0, |(_, sigma)| sigma)),
        bearing: bearing.map(|(degrees, _)| Bearing::wrapped_degrees(degrees)),
        as_read: None,
        heading_as_read: None,
        lobes: None,
        bearing_sigma: Angle::from_degrees(bearing.map_or(0.0, |(_, sigma)| sigma)),
        part: Part::Centre,
        belief: Some(Belief { mark: name(mark), confidence: 0.999 }),
    }
}

fn start() -> Timestamp {
    "2031-03-09T03:40:00Z".parse().unwrap()
}

/// From sea level, no error in the bearings but their own.
fn solved(chart: &Chart, reckoned: Position, sigma: f64, contacts: Vec<Contact>) -> Fix {
    let reckoning = Reckoning {
        time: start(),
        position: reckoned,
        covariance: Covariance::circular(miles(sigma)),
        track: None,
        speed: None,
        track_sigma: Angle::from_degrees(0.0),
        speed_sigma: foreland::units::Speed::from_knots(0.0).unwrap(),
        earlier: Vec::new(),
        flow: None,
    };
    let mut own = Own::at_height(Height::SEA_LEVEL);
    own.heading_sigma = Angle::from_degrees(0.0);
    let radar = Radar {
        set: Set::builtin("patrol").unwrap(),
        set_name: "patrol".to_owned(),
        range_sigma_nm: None,
        bearing_sigma_deg: None,
    };
    let mut sightings = Sightings::new(reckoning, own, radar).with_contacts(contacts);
    sightings.accuracy =
        StatedAccuracy { point_sigma: Some(miles(0.001)), shift_sigma: Some(GroundRange::ZERO) };
    fix(chart, &sightings, &Options::default())
}

/// What is left of a range's error once the one in common is out of it.
fn own_error(sigma: f64) -> f64 {
    (sigma * sigma - RANGE_BIAS_NM * RANGE_BIAS_NM).sqrt()
}

#[test]
fn circles_hold_elliptical_errors_as_tabled() {
    for row in rows(include_str!("reference/circle-of-ellipse.csv")) {
        let [short, radii @ .., held_by_one, held_by_two] = row.as_slice() else {
            panic!("{row:?}")
        };
        let errors = Covariance::from_square_miles(1.0, 0.0, short * short).unwrap();
        for (probability, radius) in [0.5, 0.75, 0.9, 0.95, 0.99].into_iter().zip(radii) {
            let found = errors.circle(probability).nautical_miles();
            assert!((found - radius).abs() < 2e-4, "{short}, {probability}: {found}");
        }
        let drms = NM * 1f64.hypot(*short);
        for (radius, held) in [(drms, held_by_one), (2.0 * drms, held_by_two)] {
            let found = 1.0 - errors.chance_beyond(radius, [0.0; 2]);
            assert!((found - held).abs() < 1e-4, "{short}: {found}");
        }
    }
}

#[test]
fn two_lines_are_as_accurate_as_tabled() {
    for row in rows(include_str!("reference/two-lines.csv")) {
        let [one, other, angle, long, short, drms, cep, r95] = row[..] else { panic!("{row:?}") };
        let stated = Covariance::from_square_miles(long * long, 0.0, short * short).unwrap();
        // The table against itself and the circles.
        close(long.hypot(short), drms, PRINTED, "drms");
        close(stated.circle(0.5).nautical_miles(), cep, PRINTED, "CEP");
        close(stated.circle(0.95).nautical_miles(), r95, PRINTED, "R95");
        // Ranges of two marks a hundred miles off, the larger sigma a mile.
        let unit = 1.0 / one.max(other);
        let (sin, cos) = Bearing::<foreland::units::True>::wrapped_degrees(angle).sin_cos();
        let places = [moved(centre(), 0.0, 100.0), moved(centre(), 100.0 * sin, 100.0 * cos)];
        let folder = tempfile::tempdir().unwrap();
        let chart = exact_chart(folder.path(), &places);
        let ranged = |mark: usize, sigma: f64| {
            let far = course(centre(), places[mark]).distance.nautical_miles();
            contact(mark, Some((far, own_error(sigma * unit))), None)
        };
        let fix = solved(&chart, centre(), 30.0, vec![ranged(0, one), ranged(1, other)]);
        if angle < 20.0 {
            assert_eq!(fix.verdict, Verdict::TooFew, "{angle}: {fix:#?}");
            continue;
        }
        assert_eq!(fix.verdict, Verdict::Fixed, "{angle}: {fix:#?}");
        let found = fix.contacts_only.unwrap().covariance;
        let (major, minor, _) = found.axes();
        let shown = |metres: f64| metres / NM / unit;
        close(shown(major.sqrt()), long, SOLVED, "long");
        close(shown(minor.sqrt()), short, SOLVED, "short");
        close(shown(found.circle(0.5).metres()), cep, SOLVED, "CEP of the fix");
        close(shown(found.circle(0.95).metres()), r95, SOLVED, "R95 of the fix");
    }
}

#[test]
fn a_range_and_a_bearing_are_as_accurate_as_tabled() {
    for row in rows(include_str!("reference/range-and-bearing.csv")) {
        let [range, degrees, sigma, across, drms, two_drms, cep, r95] = row[..] else {
            panic!("{row:?}")
        };
        let mark = moved(centre(), 0.0, range);
        let folder = tempfile::tempdir().unwrap();
        let chart = exact_chart(folder.path(), &[mark]);
        let line = course(centre(), mark);
        let (far, towards) = (line.distance.nautical_miles(), line.initial.degrees());
        let measured = contact(0, Some((far, own_error(sigma))), Some((towards, degrees)));
        let fix = solved(&chart, centre(), 5.0, vec![measured]);
        assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
        let found = fix.contacts_only.unwrap().covariance;
        let [[ee, _], [_, nn]] = found.square_miles();
        // Three digits are tabled.
        let tabled = |found: f64, figure: f64, what: &str| {
            assert!((found - figure).abs() < 1.1e-3, "{what} at {range}: {found}, tabled {figure}");
        };
        tabled(nn.sqrt(), sigma, "along");
        tabled(ee.sqrt(), across, "across");
        tabled((ee + nn).sqrt(), drms, "drms");
        tabled(2.0 * (ee + nn).sqrt(), two_drms, "2drms");
        tabled(found.circle(0.5).nautical_miles(), cep, "CEP");
        tabled(found.circle(0.95).nautical_miles(), r95, "R95");
    }
}

#[test]
fn reckoning_and_a_line_make_the_tabled_most_probable_position() {
    for row in rows(include_str!("reference/most-probable.csv")) {
        let [sigma, line, apart, along, after, squared] = row[..] else { panic!("{row:?}") };
        // The range of a mark a hundred miles to the north says that the reckoning is that far south
        // of the line.
        let mark = moved(centre(), 0.0, 100.0);
        let folder = tempfile::tempdir().unwrap();
        let chart = exact_chart(folder.path(), &[mark]);
        let far = course(centre(), mark).distance.nautical_miles();
        let ranged = contact(0, Some((far - apart, own_error(line))), None);
        let fix = solved(&chart, centre(), sigma, vec![ranged]);
        assert_eq!(fix.verdict, Verdict::TooFew, "{fix:#?}");
        let found = fix.most_probable.unwrap();
        let gone = course(centre(), found.position);
        let north = gone.distance.nautical_miles() * gone.initial.sin_cos().1;
        assert!((north - along).abs() < CHORD_NM, "{north}, tabled {along}");
        let [_, [_, nn]] = found.covariance.square_miles();
        assert!((nn.sqrt() - after).abs() < 2e-3, "{}, tabled {after}", nn.sqrt());
        assert!((fix.reckoning.chi2.unwrap() - squared).abs() < 5e-3, "{:?}", fix.reckoning);
    }
}

#[test]
fn nearest_neighbours_one_by_one_can_be_wrong_together() {
    // The behaviour that J. Neira and J. D. Tardós describe, "Data association in stochastic mapping
    // using the joint compatibility test", IEEE Transactions on Robotics and Automation 17 (2001)
    // (second-hand; the numbers are ours): contacts matched one by one with the nearest mark each
    // pass their gate, and cannot all be right; judged together, the wrong one is refused.
    //
    // The reckoning is three miles east of the truth. One contact is of Mark 00; Mark 04 stands where
    // the reckoning would have it.
    let at = |(east, north): (f64, f64)| moved(centre(), east, north);
    let marks =
        [(10.0, 10.0), (-12.0, 9.0), (11.0, -8.0), (-7.0, -13.0), (13.2, 10.3), (2.0, 19.0)];
    let places = marks.map(at);
    let folder = tempfile::tempdir().unwrap();
    let chart = exact_chart(folder.path(), &places);
    let (reckoned, sigma) = ((3.0, 0.0), 3.0);
    let seen = [0usize, 1, 2, 3, 5];
    for (number, mark) in seen.into_iter().enumerate() {
        // One by one: plotted from the reckoning, whose error is the contact's.
        let (east, north) = (marks[mark].0 + reckoned.0, marks[mark].1 + reckoned.1);
        let squared =
            |(e, n): (f64, f64)| ((e - east).powi(2) + (n - north).powi(2)) / (sigma * sigma);
        let nearest = (0..marks.len())
            .min_by(|a, b| squared(marks[*a]).total_cmp(&squared(marks[*b])))
            .unwrap();
        assert_eq!(nearest, if number == 0 { 4 } else { mark });
        assert!(squared(marks[nearest]) < 5.991);
    }
    let contacts = seen
        .map(|mark| {
            let line = course(centre(), places[mark]);
            let (far, towards) = (line.distance.nautical_miles(), line.initial.degrees());
            let read = contact(mark, Some((far, 0.15)), Some((towards, 1.0)));
            Contact { belief: None, ..read }
        })
        .to_vec();
    let fix = solved(&chart, at(reckoned), sigma, contacts);
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    assert!(course(fix.position.unwrap(), centre()).distance.nautical_miles() < 0.2);
    for (row, mark) in fix.identities.iter().zip(seen) {
        assert_eq!(row.mark, name(mark), "{:#?}", fix.identities);
    }
}
