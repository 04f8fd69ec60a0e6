//! Legs that are not taken: one file for each, and the exact words that it is refused with.
//!
//! `SNAPSHOTS=overwrite cargo test --test bad_legs` writes the words anew; read them then.

#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod refusal;

use std::fs;
use std::path::{Path, PathBuf};

use foreland::chart::Chart;
use foreland::reckon::{Legs, reckon};
use proptest::prelude::*;
use snapbox::{Assert, Data};

use refusal::rendered;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad_legs")
}

fn files() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    files
}

#[test]
fn each_bad_file_is_refused_in_its_own_words() {
    let files = files();
    assert!(files.len() > 25, "{}", files.len());
    let assert = Assert::new().action_env("SNAPSHOTS").normalize_paths(false);
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
    let chart = Chart::open(&[sample]).unwrap();
    for file in files {
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        let text = fs::read_to_string(&file).unwrap();
        // A file that says so is read without a chart.
        let chart = (!text.starts_with("# no chart")).then_some(&chart);
        let Err(error) = Legs::parse_on(&text, &name, chart) else { panic!("{name} is taken") };
        let data = Data::read_from(&folder().join(format!("{name}.txt")), None).raw();
        assert.eq(rendered(&error), data);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn no_text_panics(text in ".{0,200}") {
        let _ = Legs::parse(&text, "any.toml");
    }

    #[test]
    fn no_number_panics(
        values in prop::collection::vec(prop_oneof![
            any::<f64>(), -10.0f64..400.0, Just(0.0), Just(360.0), Just(1e-9),
        ], 8),
        track in any::<bool>(),
        good in any::<bool>(),
        miles in any::<bool>(),
        current in any::<bool>(),
        // Just short of the latitude from which no leg is reckoned, and beyond it.
        latitude in prop::sample::select(vec![88.7, 89.9]),
    ) {
        let flow = if current {
            format!("current = {{ set_deg = {:?}, drift_kn = {:?} }}", values[3], values[4])
        } else {
            format!("wind = {{ from_deg = {:?}, speed_kn = {:?} }}", values[3], values[4])
        };
        let text = format!(
            "[start]\ntime = \"2031-03-09T01:10:00Z\"\nposition = \"{latitude:?},{:?}\"\nsigma_nm = {:?}\n\
             [[leg]]\n{} = {:?}\n{} = {:?}\n{} = {:?}\n{flow}\n",
            values[5], values[6],
            if track { "track_deg" } else { "heading_deg" }, values[0],
            if good { "speed_kn" } else { "tas_kn" }, values[1],
            if miles { "distance_nm" } else { "minutes" }, values[2],
        );
        if let Ok(legs) = Legs::parse(&text, "any.toml") {
            let found = reckon(&legs, Some(600.0));
            for passed in &found.passed {
                prop_assert!(passed.covariance.square_metres().iter().all(|v| v.is_finite()));
                prop_assert!(passed.covariance.axes().0 >= 0.0);
            }
        }
    }

    #[test]
    fn no_position_line_panics(
        values in prop::collection::vec(prop_oneof![
            any::<f64>(), -10.0f64..400.0, 0.1f64..20.0, Just(0.0), Just(1e-4),
        ], 6),
        minutes in prop::collection::vec(0u32..16, 2),
        kind in prop::sample::select(vec!["true", "relative", "gyro"]),
        go_on in any::<bool>(),
    ) {
        let line = |minute: u32, measured: String| format!(
            "[[line]]\ntime = \"2031-03-09T01:{:02}:00Z\"\nposition = \"-38.0,{:?}\"\n{measured}\ngo_on = {go_on}\n",
            10 + minute, values[5],
        );
        let text = format!(
            "[start]\ntime = \"2031-03-09T01:10:00Z\"\nposition = \"-38.1,-21.2\"\nsigma_nm = {:?}\n\
             [[leg]]\nheading_deg = 40\ntas_kn = 150\nminutes = 15\n{}{}",
            values[0],
            line(minutes[0], format!("range_nm = {:?}\nrange_sigma_nm = {:?}", values[1], values[2])),
            line(minutes[1], format!(
                "bearing_deg = {:?}\nbearing_kind = \"{kind}\"\nbearing_sigma_deg = {:?}",
                values[3], values[4],
            )),
        );
        if let Ok(legs) = Legs::parse(&text, "any.toml") {
            let found = reckon(&legs, None);
            prop_assert_eq!(found.running_fixes.len(), 2);
            for fix in &found.running_fixes {
                prop_assert!(!fix.went_on || fix.asked && fix.place().is_some());
                for place in &fix.places {
                    let covariance = place.reckoner.covariance();
                    prop_assert!(covariance.square_metres().iter().all(|v| v.is_finite()));
                }
            }
        }
    }
}
