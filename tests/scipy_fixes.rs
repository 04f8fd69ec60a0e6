//! Fifty fixes against `SciPy`'s least squares: `tests/reference/scipy-fixes/` has the cases and the
//! script that made them, which works from the Earth's centre and shares nothing with the estimator.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

mod scipy_cases;
#[allow(dead_code)] // each test uses its own part of it
mod towers;

use foreland::fix::{Options, Verdict, fix};
use foreland::geodesy::distance;
use scipy_cases::{number, places, position, sightings};
use towers::chart_of;

/// Metres. The local plane is good to under a metre at 40 NM; a set of identities that leaves a
/// contact out has a share of up to some hundredths of a per cent in the position.
const POSITION_M: f64 = 3.0;
/// Of a covariance, as a share of the geometric mean of the variances concerned.
const COVARIANCE: f64 = 0.01;
/// Degrees.
const BIAS_DEG: f64 = 0.003;

#[test]
fn the_fix_is_that_of_another_least_squares() {
    let cases = scipy_cases::all();
    assert_eq!(cases.len(), 50);
    let (mut farthest, mut widest, mut most_bias) = (0.0f64, 0.0f64, 0.0f64);
    for (index, case) in cases.iter().enumerate() {
        let folder = tempfile::tempdir().unwrap();
        let chart = chart_of(folder.path(), &places(case));
        let found = fix(&chart, &sightings(case), &Options::default());
        assert_eq!(found.verdict, Verdict::Fixed, "case {index}: {found:#?}");
        let solved = &case["solved"];
        let apart = distance(found.position.unwrap(), position(&solved["position"])).metres();
        let [[ee, en], [_, nn]] = found.covariance.unwrap().square_miles();
        let tabled: Vec<f64> =
            solved["covariance_nm2"].as_array().unwrap().iter().map(number).collect();
        // Where residuals speak against the errors stated, the stated covariance is widened: by
        // (6 + χ²) over 6 and the most that is let pass.
        let told = found.consistency.unwrap();
        let values = told.dof as f64;
        let allowed = 6.0 + values + 2.0 * (2.0 * values).sqrt();
        let widened = if told.dof > 2 { ((6.0 + told.chi2) / allowed).max(1.0) } else { 1.0 };
        let [east, both, north] = tabled[..] else { panic!("{tabled:?}") };
        let [east, both, north] = [east, both, north].map(|value| value * widened);
        let wide = [(ee - east) / east, (nn - north) / north, (en - both) / (east * north).sqrt()]
            .into_iter()
            .fold(0.0f64, |most, off| most.max(off.abs()));
        let (bias, sigma) = found.bearing_bias.unwrap();
        let off = (bias.degrees() - number(&solved["bias_deg"])).abs();
        let loose = (sigma.degrees() / number(&solved["bias_sigma_deg"]) - 1.0).abs();
        (farthest, widest) = (farthest.max(apart), widest.max(wide));
        most_bias = most_bias.max(off);
        assert!(apart < POSITION_M, "case {index}: {apart} m");
        assert!(wide < COVARIANCE, "case {index}: {wide}");
        assert!(off < BIAS_DEG && loose < COVARIANCE, "case {index}: {off}° {loose}");
        let chi2 = found.consistency.unwrap().chi2;
        assert!((chi2 - number(&solved["chi2"])).abs() < 0.01 * chi2.max(1.0), "{index}: {chi2}");
    }
    println!("at most {farthest:.2} m, {:.2} % of covariance, {most_bias:.4}°", 100.0 * widest);
}
