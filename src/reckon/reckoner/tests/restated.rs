//! What another spread does to a wind or current that a fix has found.

use super::*;

/// Long, so that what is found hardly fades: hours.
const HOLDS_H: f64 = 100.0;

/// Eastward at a speed, a flow found: over the stated, and one standard deviation, knots.
fn found(model: ErrorModel, course: &Course, east_kn: f64, sigma_kn: f64) -> Reckoner {
    let mut reckoner = start(0.0001, model);
    reckoner.advance(course, 0.0);
    reckoner.flow_error = Velocity { east: east_kn * KNOT, north: 0.0 };
    for axis in [FLOW, FLOW + 1] {
        reckoner.covariance[(axis, axis)] = (sigma_kn * KNOT).powi(2);
    }
    reckoner.found = true;
    reckoner
}

fn slow_wind() -> ErrorModel {
    ErrorModel { flow_seconds: HOLDS_H * 3600.0, ..no_wind_error(0.0, 0.0) }
}

/// Heading 090 at 200 kn with a wind from 270, 30 kn.
fn west_wind(sigma_kn: f64, model: &ErrorModel) -> Course {
    let wind = Wind { from: bearing(270.0), speed: knots(30.0) };
    Course::through(bearing(90.0), knots(200.0), wind, Some(knots(sigma_kn)), model)
}

/// What an error of velocity comes to in an hour: miles to a knot of it, and the variance that its
/// change adds, of a steady spread in knots.
fn in_an_hour(spread_kn: f64) -> (f64, f64) {
    let t = 1.0 / HOLDS_H;
    let gain = HOLDS_H * (1.0 - (-t).exp());
    let shape = 2.0 * t - 3.0 + 4.0 * (-t).exp() - (-2.0 * t).exp();
    (gain, (spread_kn * HOLDS_H).powi(2) * shape)
}

#[test]
fn a_narrower_forecast_weighs_as_much_as_it_adds() {
    // Found 10.4 kn over the forecast, good to 1.2; forecast good to 15 and then to 5 kn. Weights
    // 1/1.44 and 1/25 − 1/225: 9.894 and 1.170 kn (computed).
    let model = slow_wind();
    let wide = west_wind(15.0, &model);
    let narrow = west_wind(5.0, &model);
    let (was, more) = (1.0_f64 / 1.44, 1.0 / 25.0 - 1.0 / 225.0);
    let (mean, variance) = (10.4 * was / (was + more), 1.0 / (was + more));
    assert!((mean - 9.894).abs() < 1e-3 && (variance.sqrt() - 1.170).abs() < 1e-3);
    let mut reckoner = found(model, &wide, 10.4, 1.2);
    reckoner.advance(&narrow, 0.0);
    let flow = reckoner.flow(&narrow);
    assert!((flow.velocity.knots() - 30.0 - mean).abs() < 1e-6, "{flow:?}");
    assert!((worst_sigma_kn(&flow) - variance.sqrt()).abs() < 1e-6, "{flow:?}");
    // An hour on: half a mile behind a run with the forecast as it was, and hardly a smaller ellipse.
    let mut on = found(model, &wide, 10.4, 1.2);
    on.advance(&wide, 3600.0);
    reckoner.advance(&narrow, 3600.0);
    for (run, mean, variance, spread) in [(&on, 10.4, 1.44, 15.0), (&reckoner, mean, variance, 5.0)]
    {
        let (gain, added) = in_an_hour(spread);
        let made = distance(start(0.0001, model).position(), run.position()).nautical_miles();
        assert!((made - (230.0 + gain * mean)).abs() < 0.02, "{made}");
        let sigma = (gain * gain * variance + added).sqrt();
        let (along, across) = sigmas(run, 90.0);
        assert!((along - sigma).abs() < 2e-3, "{along} {sigma}");
        assert!((across - sigma).abs() < 2e-3, "{across} {sigma}");
    }
    let behind = distance(on.position(), reckoner.position()).nautical_miles();
    assert!((behind - 0.504).abs() < 0.01, "{behind}");
}

#[test]
fn what_was_hardly_found_goes_by_the_forecast() {
    // 8.5 kn over it, good to 8.8 with the forecast's own 15: by the fix alone 12.96 over and 10.87.
    // With 5 kn: 2.26 kn and 4.54 (computed, weights by the inverse of the variance).
    let model = slow_wind();
    let narrow = west_wind(5.0, &model);
    let by_fix = 1.0_f64 / 77.44 - 1.0 / 225.0;
    let alone = 8.5 / 77.44 / by_fix;
    assert!((alone - 12.96).abs() < 0.01 && (1.0 / by_fix.sqrt() - 10.87).abs() < 0.01);
    let mut reckoner = found(model, &west_wind(15.0, &model), 8.5, 8.8);
    reckoner.advance(&narrow, 0.0);
    let flow = reckoner.flow(&narrow);
    let sum = by_fix + 1.0 / 25.0;
    assert!((flow.velocity.knots() - 30.0 - alone * by_fix / sum).abs() < 1e-6, "{flow:?}");
    assert!((worst_sigma_kn(&flow) - 1.0 / sum.sqrt()).abs() < 1e-6, "{flow:?}");
    // A fix that told nothing of it leaves all to the new forecast.
    let mut untold = found(model, &west_wind(15.0, &model), 0.0, 15.0);
    untold.advance(&narrow, 0.0);
    assert!((worst_sigma_kn(&untold.flow(&narrow)) - 5.0).abs() < 1e-6);
}

#[test]
fn a_forecast_of_another_value_keeps_what_the_old_was_out_by() {
    // Out by 10.4 kn eastward, as above; the next forecasts no wind, good to 5 kn.
    let model = slow_wind();
    let calm = Wind { from: bearing(0.0), speed: Speed::ZERO };
    let next = Course::through(bearing(0.0), knots(200.0), calm, Some(knots(5.0)), &model);
    let mut reckoner = found(model, &west_wind(15.0, &model), 10.4, 1.2);
    reckoner.advance(&next, 0.0);
    let flow = reckoner.flow(&next).velocity;
    assert!((flow.east / KNOT - 9.894).abs() < 1e-3 && flow.north.abs() < 1e-9, "{flow:?}");
}

#[test]
fn where_nothing_is_stated_any_more_the_wind_found_goes_on_as_it_is() {
    // No spread at all where no wind is stated, narrower than 15 kn: it is no forecast, and tells nothing.
    let model = slow_wind();
    let silent = Course::through(bearing(90.0), knots(200.0), Flow::Still, None, &model);
    let mut reckoner = found(model, &west_wind(15.0, &model), 10.4, 1.2);
    reckoner.advance(&silent, 0.0);
    let flow = reckoner.flow(&silent);
    assert!((flow.velocity.knots() - 40.4).abs() < 1e-6, "{flow:?}");
    assert!((worst_sigma_kn(&flow) - 1.2).abs() < 1e-6, "{flow:?}");
}

#[test]
fn a_wider_forecast_adds_an_error_and_never_more_than_its_own() {
    let model = slow_wind();
    let mut reckoner = found(model, &west_wind(15.0, &model), 10.4, 1.2);
    let wider = west_wind(25.0, &model);
    reckoner.advance(&wider, 0.0);
    // 1.2² and 25² − 15² (closed form).
    let flow = reckoner.flow(&wider);
    assert!((flow.velocity.knots() - 40.4).abs() < 1e-6);
    assert!((worst_sigma_kn(&flow) - 401.44_f64.sqrt()).abs() < 1e-6, "{flow:?}");
    // There and back again and again: never past what is stated, and never under what was found.
    for _ in 0..10 {
        for sigma in [15.0, 25.0] {
            let course = west_wind(sigma, &model);
            reckoner.advance(&course, 0.0);
            let told = worst_sigma_kn(&reckoner.flow(&course));
            assert!(told > 1.2 && told <= sigma + 1e-6, "{told} of {sigma}");
        }
    }
}

#[test]
fn a_vessel_that_stops_keeps_the_current_that_she_found() {
    // 2.5 kn found to 0.1 at 20 kn. Her leeway, 0.6 kn of it at most, goes: √(0.1² + 0.6²) (closed form).
    let model = ErrorModel {
        flow_seconds: HOLDS_H * 3600.0,
        heading_sigma: Angle::from_degrees(0.0),
        speed_share: 0.0,
        wander: 0.0,
        ..ErrorModel::of(Craft::Vessel)
    };
    let at = |speed: f64| Course::through(bearing(0.0), knots(speed), Flow::Still, None, &model);
    let stopped = at(0.0);
    let mut reckoner = found(model, &at(20.0), 2.5, 0.1);
    let from = reckoner.position();
    reckoner.advance(&stopped, 0.0);
    let flow = reckoner.flow(&stopped);
    assert!((flow.velocity.knots() - 2.5).abs() < 1e-6, "{flow:?}");
    assert!((worst_sigma_kn(&flow) - 0.37_f64.sqrt()).abs() < 1e-6, "{flow:?}");
    reckoner.advance(&stopped, 3600.0);
    let (gain, added) = in_an_hour(1.0);
    let drifted = distance(from, reckoner.position()).nautical_miles();
    assert!((drifted - gain * 2.5).abs() < 2e-3, "{drifted}");
    let sigma = (gain * gain * 0.37 + added).sqrt();
    assert!((sigmas(&reckoner, 90.0).0 - sigma).abs() < 1e-3, "{sigma}");
    // Made fast and under way again at the same speed she has lost nothing.
    let mut moored = found(model, &at(20.0), 2.5, 0.1);
    moored.advance(&Course::made_fast(&model), 0.0);
    moored.advance(&at(20.0), 0.0);
    let flow = moored.flow(&at(20.0));
    assert!((flow.velocity.knots() - 2.5).abs() < 1e-6, "{flow:?}");
    assert!((worst_sigma_kn(&flow) - 0.1).abs() < 1e-6, "{flow:?}");
}
