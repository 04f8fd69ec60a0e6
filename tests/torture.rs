//! Places, heights and contacts at the edge of what can be: every answer is finite, says what it is, and
//! no fix is stated away from where it was made.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use std::fmt::Write;
use std::io::Cursor;
use std::path::Path;

use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::fix::{Fix, Options, Verdict, fix};
use foreland::geodesy::{Covariance, LocalPlane, PlanePoint, Position, course};
use foreland::paint::{Conditions, Vantage, expect};
use foreland::radar::Set;
use foreland::units::{Bearing, GroundRange, Height};
use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

/// Islets of half a mile about a centre, miles east and north. The first four lie in line.
const ISLETS: [(f64, f64); 8] = [
    (0.0, 6.0),
    (0.0, 11.0),
    (0.0, 17.0),
    (0.0, 24.0),
    (9.0, 2.0),
    (-7.0, 13.0),
    (14.0, 15.0),
    (3.0, -8.0),
];
const HALF_NM: f64 = 0.25;

/// Mid latitudes, the equator on the date line, and about both poles.
const CENTRES: [(f64, f64); 6] =
    [(-38.2, -21.5), (0.0, 179.97), (66.5, -180.0), (88.5, 40.0), (-89.6, -170.0), (89.95, 0.0)];

const HEIGHTS_FT: [f64; 4] = [-50.0, 0.0, 2_000.0, 60_000.0];
const SIGMAS_NM: [f64; 4] = [0.001, 4.0, 300.0, 500.0];

/// An antenna under the sea and a reckoning known to nothing are no sightings: a file that says so is
/// refused, with what would be right.
fn is_refused(height_ft: f64, sigma_nm: f64) -> bool {
    height_ft < 0.0 || sigma_nm > 300.0
}

fn moved(centre: Position, (east, north): (f64, f64)) -> Position {
    const MILE_M: f64 = 1_852.0;
    LocalPlane::new(centre).to_position(PlanePoint { east: east * MILE_M, north: north * MILE_M })
}

fn archipelago(centre: Position) -> Chart {
    let mut shp = Cursor::new(Vec::new());
    {
        let mut writer = ShapeWriter::new(&mut shp);
        for (east, north) in ISLETS {
            let corners = [(0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0)];
            let ring = corners.map(|(x, y)| {
                let at = moved(centre, (east + HALF_NM * x, north + HALF_NM * y));
                Point::new(at.longitude(), at.latitude())
            });
            writer.write_shape(&Polygon::new(PolygonRing::Outer(ring.to_vec()))).unwrap();
        }
        writer.finalize().unwrap();
    }
    Chart::from_files("islets", &[("coast.shp", &shp.into_inner())]).unwrap()
}

/// What is measured, by the numbers of the islets, from a place off the centre.
struct Case {
    name: &'static str,
    islets: &'static [usize],
    from: (f64, f64),
}

const CASES: [Case; 7] = [
    Case { name: "in line", islets: &[0, 1, 2, 3], from: (0.0, 0.0) },
    Case { name: "one", islets: &[4], from: (0.0, 0.0) },
    Case { name: "the same twice and again", islets: &[5, 5, 5], from: (0.0, 0.0) },
    Case { name: "all round", islets: &[1, 4, 5, 7], from: (1.0, 5.0) },
    Case { name: "one under the aircraft", islets: &[0, 4, 6], from: (0.0, 6.0) },
    Case { name: "on land", islets: &[2, 5, 6], from: (0.0, 11.0) },
    Case { name: "none", islets: &[], from: (0.0, 0.0) },
];

/// The sightings as a file: exact readings, rounded as an operator's are.
fn written(case: &Case, centre: Position, height_ft: f64, sigma_nm: f64) -> (String, Position) {
    let truth = moved(centre, case.from);
    let off = if sigma_nm < 1.0 { 0.0 } else { (0.3 * sigma_nm).min(3.0) };
    let reckoned = moved(truth, (off, -off));
    let mut text = format!(
        "[reckoning]\ntime = \"2031-03-09T03:40:00Z\"\nposition = \"{:.6}, {:.6}\"\n\
         sigma_nm = {sigma_nm}\n[own]\nheight_ft = {height_ft}\n[radar]\nset = \"patrol\"\n",
        reckoned.latitude(),
        reckoned.longitude(),
    );
    for (number, islet) in case.islets.iter().enumerate() {
        let line = course(truth, moved(centre, ISLETS[*islet]));
        let up_nm = height_ft * 0.3048 / 1_852.0;
        // Rounded up: less than own height is no range.
        let range = (line.distance.nautical_miles().hypot(up_nm) * 100.0).ceil() / 100.0;
        let bearing = line.initial.degrees() % 359.995;
        writeln!(
            text,
            "[[contact]]\nlabel = \"C{number}\"\nrange_nm = {range:.2}\nbearing_deg = {bearing:.1}\n\
             part = \"centre\"",
        )
        .unwrap();
    }
    (text, truth)
}

fn is_sound(covariance: Covariance) -> bool {
    let (long, short, _) = covariance.axes();
    long.is_finite() && short.is_finite() && short >= 0.0 && long >= short
}

fn chance(value: f64) -> bool {
    (-1e-9..=1.0 + 1e-9).contains(&value)
}

/// What is wrong with an answer in itself.
fn unsound(answer: &Fix) -> Option<&'static str> {
    let estimates = [answer.contacts_only, answer.most_probable];
    let rivals = answer.rivals.iter().map(|rival| rival.estimate);
    let covariances = estimates.into_iter().flatten().chain(rivals).map(|e| e.covariance);
    let shares: f64 = answer.rivals.iter().map(|rival| rival.probability).sum();
    let checks = [
        (covariances.chain(answer.covariance).all(is_sound), "an ellipse that is none"),
        (chance(answer.none_of_these), "the chance of none"),
        (answer.probability.is_none_or(chance), "the chance of the fix"),
        (chance(shares), "the chances of the places"),
        (answer.identities.iter().all(|i| chance(i.probability)), "the chance of a name"),
        ((answer.verdict == Verdict::Fixed) == answer.position.is_some(), "position and verdict"),
        (answer.verdict != Verdict::Fixed || answer.covariance.is_some(), "no error"),
    ];
    checks.into_iter().find_map(|(holds, what)| (!holds).then_some(what))
}

#[test]
fn no_place_height_or_contact_breaks_a_fix_or_makes_a_false_one() {
    let (mut fixed, mut refused, mut asked) = (0, 0, 0);
    for (lat, lon) in CENTRES {
        let centre = Position::new(lat, lon).unwrap();
        let chart = archipelago(centre);
        for case in &CASES {
            for (height_ft, sigma_nm) in
                HEIGHTS_FT.iter().flat_map(|h| SIGMAS_NM.iter().map(move |s| (*h, *s)))
            {
                let told = format!("{lat} {lon}, {}, {height_ft} ft, {sigma_nm} NM", case.name);
                let (text, truth) = written(case, centre, height_ft, sigma_nm);
                asked += 1;
                let sightings = Sightings::parse(&text, "torture.toml", Path::new(""));
                if let Err(error) = &sightings {
                    let why = error.to_string();
                    assert!(is_refused(height_ft, sigma_nm) && why.len() > 20, "{told}: {why}");
                    refused += 1;
                    continue;
                }
                assert!(!is_refused(height_ft, sigma_nm), "{told}");
                let sightings = sightings.unwrap();
                let answer = fix(&chart, &sightings, &Options::default());
                assert_eq!(unsound(&answer), None, "{told}: {answer:#?}");
                let Some((position, covariance)) = answer.position.zip(answer.covariance) else {
                    continue;
                };
                fixed += 1;
                let error = LocalPlane::new(position).to_plane(truth);
                // Exact but for rounding: well inside, or within what rounding a bearing comes to.
                let (east, north) = (error.east, error.north);
                let near = covariance.mahalanobis_squared(east, north) < 9.21;
                assert!(near || east.hypot(north) < 250.0, "{told}: {error:?} {answer:#?}");
            }
        }
    }
    println!("{asked} asked, {refused} files refused, {fixed} fixed");
    assert!(fixed > 100, "{fixed} fixed, {refused} refused of {asked}");
}

#[test]
fn what_should_show_is_finite_from_any_height_anywhere() {
    let set = Set::builtin("patrol").unwrap();
    let reach = GroundRange::from_nautical_miles(60.0).unwrap();
    for (lat, lon) in CENTRES {
        let centre = Position::new(lat, lon).unwrap();
        let chart = archipelago(centre);
        for height_ft in HEIGHTS_FT {
            for from in [(0.0, 0.0), (0.0, 6.0), (300.0, 300.0)] {
                let vantage = Vantage {
                    position: moved(centre, from),
                    height: Height::from_feet(height_ft).unwrap(),
                    heading: Some(Bearing::ZERO),
                };
                let shown = expect(&chart, &vantage, &set, &Conditions::default(), reach, 1.0);
                for mark in &shown.marks {
                    assert!(chance(mark.paint_probability), "{lat} {height_ft}: {mark:?}");
                    assert!(mark.range.metres().is_finite() && mark.bearing.degrees() < 360.0);
                    assert!(mark.signal_to_noise_db.is_none_or(f64::is_finite), "{mark:?}");
                }
                assert!(shown.coast.iter().all(|coast| chance(coast.paint_probability)));
            }
        }
    }
}
