//! The worked landfalls of the sample chart, solved.

use std::path::{Path, PathBuf};

use foreland::chart::Chart;
use foreland::contact::Sightings;
use foreland::fix::{Fix, Options, Verdict, fix};
use foreland::geodesy::{LocalPlane, Position, distance};

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
    assert_eq!(fix.reckoning.agrees, Some(true));
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
fn the_same_sightings_give_the_same_answer() {
    assert_eq!(solved("landfall.toml"), solved("landfall.toml"));
}
