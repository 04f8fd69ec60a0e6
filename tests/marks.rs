//! The marks found on the sample chart, and how long a large coast takes.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::path::Path;

use foreland::chart::{Chart, Mark, MarkKind};

fn sample() -> Chart {
    Chart::open(&[Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample")]).unwrap()
}

fn mark<'a>(chart: &'a Chart, name: &str) -> &'a Mark {
    chart.marks().get(chart.marks().find(name).unwrap()).unwrap()
}

#[test]
fn named_points_lend_their_names_to_what_was_found() {
    let chart = sample();
    for name in [
        "Tern Point",
        "Fallow Head",
        "Fallow Ness",
        "Sallow Head",
        "Sallow Ness",
        "Gannet Head",
        "Corbel Point",
        "Lantern Point",
        "Cape Harrow",
    ] {
        let head = mark(&chart, name);
        assert!(head.named && head.kind == MarkKind::Headland, "{head:?}");
        assert!(head.extent.nautical_miles() >= 0.75, "{name} sits on no headland found");
    }
    for name in ["Great Ember", "Little Ember", "Saddle Isle"] {
        let islet = mark(&chart, name);
        assert!(islet.kind == MarkKind::Islet && islet.extent.nautical_miles() > 0.4, "{islet:?}");
        assert!(islet.height.metres() > 50.0);
    }
    for name in ["Varrow Hill", "North Varrow", "South Varrow"] {
        let peak = mark(&chart, name);
        assert!(peak.kind == MarkKind::Peak && peak.height.metres() > 400.0, "{peak:?}");
    }
    // A light stays a light, beside the point that it stands on.
    assert_eq!(mark(&chart, "Lantern Light").kind, MarkKind::Light);
    // Each name once.
    let mut names: Vec<&str> = chart.marks().iter().map(|(_, mark)| mark.name.as_str()).collect();
    let all = names.len();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), all);
}

#[test]
fn the_skerries_are_islets_and_the_strand_has_no_heads() {
    let chart = sample();
    let skerries = chart
        .marks()
        .iter()
        .filter(|(_, mark)| mark.kind == MarkKind::Islet && mark.extent.nautical_miles() < 0.2);
    assert_eq!(skerries.count(), 6);
    // Long Strand, from 38° 11.5′ to 38° 25′ S on the west side.
    let on_strand = chart.marks().iter().filter(|(_, mark)| {
        let at = mark.position;
        mark.kind == MarkKind::Headland
            && (-38.40..-38.20).contains(&at.latitude())
            && (-21.10..-20.95).contains(&at.longitude())
    });
    assert_eq!(on_strand.count(), 0);
}

#[test]
fn the_same_chart_gives_the_same_marks_on_any_number_of_threads() {
    let all = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let chart = pool.install(sample);
        chart.marks().iter().map(|(_, mark)| mark.clone()).collect::<Vec<Mark>>()
    };
    assert_eq!(all(1), all(2));
}
