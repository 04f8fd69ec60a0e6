//! The worked landfalls of the sample chart, solved.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::path::{Path, PathBuf};

use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::fix::{Fix, Options, Verdict, fix};
use foreland::geodesy::{LocalPlane, Position, course, distance};
use foreland::units::{Angle, GroundRange};

fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample")
}

fn solved(name: &str) -> Fix {
    let chart = Chart::open(&[sample()]).unwrap();
    let sightings = Sightings::read(&sample().join(name)).unwrap();
    fix(&chart, &sightings, &Options::default())
}

fn mark_of<'a>(fix: &'a Fix, contact: &str) -> &'a str {
    fix.identities.iter().find(|i| i.contact == contact).map_or("", |i| i.mark.as_str())
}

#[test]
fn a_clean_landfall_is_fixed() {
    let fix = solved("landfall.toml");
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    // The truth is the generator's, told in the sample's own README.
    let truth: Position = "38 15.1 S, 21 24.5 W".parse().unwrap();
    let found = fix.position.unwrap();
    let off = LocalPlane::new(found).to_plane(truth);
    assert!(fix.covariance.unwrap().mahalanobis_squared(off.east, off.north) < 13.8);
    assert!(distance(found, truth).nautical_miles() < 0.6);
    for (contact, mark) in [("B", "Gannet Head"), ("D", "Little Ember"), ("E", "Saddle Isle")] {
        assert_eq!(mark_of(&fix, contact), mark, "{:#?}", fix.identities);
    }
    let sum = fix.probability.unwrap()
        + fix.none_of_these
        + fix.rivals.iter().map(|r| r.probability).sum::<f64>();
    assert!((sum - 1.0).abs() < 1e-9);
    assert_eq!(fix.reckoning.agrees(), Some(true));
    assert!(!fix.next.is_empty());
}

#[test]
fn two_places_that_look_alike_are_both_told() {
    let fix = solved("lookalike.toml");
    assert_eq!(fix.verdict, Verdict::Ambiguous, "{fix:#?}");
    assert!(fix.position.is_none() && fix.probability.is_none());
    let names = |rival: &foreland::fix::Rival| {
        rival.identities.iter().map(|i| i.mark.clone()).collect::<Vec<_>>()
    };
    let two: Vec<_> = fix.rivals.iter().take(2).map(names).collect();
    assert!(two.contains(&vec!["Fallow Head".to_owned(), "Fallow Ness".to_owned()]), "{two:?}");
    assert!(two.contains(&vec!["Sallow Head".to_owned(), "Sallow Ness".to_owned()]), "{two:?}");
    let sum = fix.none_of_these + fix.rivals.iter().map(|r| r.probability).sum::<f64>();
    assert!((sum - 1.0).abs() < 1e-9);
}

#[test]
fn a_landfall_on_the_range_trace_is_fixed_by_its_ranges() {
    let fix = solved("trace.toml");
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    // The truth is the generator's, told in the sample's own README.
    let truth: Position = "38 00.3 S, 21 25.2 W".parse().unwrap();
    let found = fix.position.unwrap();
    let off = LocalPlane::new(found).to_plane(truth);
    assert!(fix.covariance.unwrap().mahalanobis_squared(off.east, off.north) < 13.8);
    assert!(distance(found, truth).nautical_miles() < 0.6);
    for (contact, mark) in [("A", "Great Ember"), ("B", "Gannet Head"), ("D", "Saddle Isle")] {
        assert_eq!(mark_of(&fix, contact), mark, "{:#?}", fix.identities);
    }
    // Two deflections leave decibels, and the bearing that these are worth: of a mark. Of shore that
    // is none they chose it, and say no more.
    for residual in &fix.residuals {
        let of_shore = mark_of(&fix, &residual.contact).starts_with("shore ");
        assert_eq!(residual.ratio_db.is_none(), of_shore, "{residual:#?}");
    }
}

#[test]
fn the_same_sightings_give_the_same_answer() {
    assert_eq!(solved("landfall.toml"), solved("landfall.toml"));
}

/// Sightings at one time from 2,000 ft, 20 NM from anywhere known: what follows is the contacts.
fn written(sigma_nm: f64, contacts: &str) -> Fix {
    let text = format!(
        "[reckoning]\ntime = \"2031-03-09T03:40:00Z\"\nposition = \"38 13.0 S, 21 22.0 W\"\n\
         sigma_nm = {sigma_nm}\n[own]\nheight_ft = 2000\n[radar]\nset = \"patrol\"\n{contacts}"
    );
    let chart = Chart::sample().unwrap();
    let sightings = Sightings::parse(&text, "written.toml", Path::new(".")).unwrap();
    fix(&chart, &sightings, &Options::default())
}

/// The range of the nearest shore from a place, and the range and bearing of a mark.
fn readings(from: Position, mark: &str) -> (f64, f64, f64) {
    let chart = Chart::sample().unwrap();
    let far = GroundRange::from_nautical_miles(60.0).unwrap();
    let (shore, _) = chart.coast().nearest(from, far).unwrap();
    let id = chart.marks().find(mark).unwrap();
    let line = course(from, chart.marks().get(id).unwrap().position);
    (shore.nautical_miles(), line.distance.nautical_miles(), line.initial.degrees())
}

#[test]
fn the_nearest_shore_is_a_line_and_with_a_mark_a_check() {
    let truth: Position = "38 15.1 S, 21 24.5 W".parse().unwrap();
    let (shore, range, bearing) = readings(truth, "Little Ember");
    let nearest = format!("[[contact]]\nlabel = \"S\"\nrange_nm = {shore:.2}\npart = \"shore\"\n");
    let alone = written(4.0, &nearest);
    assert_eq!(alone.verdict, Verdict::TooFew, "{alone:#?}");
    let ellipse = alone.most_probable.unwrap().ellipse();
    assert!(ellipse.semi_major > ellipse.semi_minor + ellipse.semi_minor);
    let both = written(
        4.0,
        &format!(
            "{nearest}[[contact]]\nlabel = \"L\"\nrange_nm = {range:.2}\nbearing_deg = \
             {bearing:.1}\npart = \"centre\"\nmark = \"Little Ember\"\n"
        ),
    );
    assert_eq!(both.verdict, Verdict::Fixed, "{both:#?}");
    assert!(distance(both.position.unwrap(), truth).nautical_miles() < 0.3);
    assert!(both.residuals.iter().any(|r| r.contact == "S" && r.used));
}

#[test]
fn edges_of_an_island_are_tangents() {
    let truth: Position = "38 15.1 S, 21 24.5 W".parse().unwrap();
    let (_, range, bearing) = readings(truth, "Saddle Isle");
    let contact = |label: &str, what: &str, part: &str| {
        format!(
            "[[contact]]\nlabel = \"{label}\"\n{what}part = \"{part}\"\nmark = \"Saddle \
             Isle\"\n"
        )
    };
    // Half of a beam of 2.4° and the island's own half width outside its middle, either side.
    let chart = Chart::sample().unwrap();
    let isle = chart.marks().get(chart.marks().find("Saddle Isle").unwrap()).unwrap();
    let half_width =
        Angle::from_radians((isle.extent.nautical_miles() / range).atan()).degrees() + 1.2;
    let text = contact("R", &format!("range_nm = {range:.2}\n"), "centre")
        + &contact("A", &format!("bearing_deg = {:.1}\n", bearing - half_width), "left")
        + &contact("B", &format!("bearing_deg = {:.1}\n", bearing + half_width), "right");
    let fix = written(4.0, &text);
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    let off = LocalPlane::new(fix.position.unwrap()).to_plane(truth);
    assert!(fix.covariance.unwrap().mahalanobis_squared(off.east, off.north) < 6.0);
}
