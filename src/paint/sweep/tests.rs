use super::*;
use crate::chart::Terrain;
use crate::paint::Conditions;
use crate::radar::Set;
use crate::units::{GroundRange, METRES_PER_FOOT, METRES_PER_NAUTICAL_MILE};

/// Ground as a rule gives it around an antenna, and what a set shows of it to the north.
fn north(
    set: &str,
    own_m: f64,
    conditions: &Conditions,
    rule: impl Fn(GroundRange, Bearing<True>) -> Option<f64> + Sync,
) -> Vec<Echo> {
    let set = Set::builtin(set).unwrap();
    let budget = Budget::new(&set, conditions, Height::from_metres(own_m).unwrap());
    let fan = Fan::all_round(1_800, 60.0, 80.0 * METRES_PER_NAUTICAL_MILE);
    let relief = Relief::of_rule(&fan, rule);
    Sweep::new(fan, &relief, &budget).echoes(0, 0.0)
}

/// Land from `miles` on that rises one in two to `height_m`.
fn shore(miles: f64, height_m: f64) -> impl Fn(GroundRange, Bearing<True>) -> Option<f64> {
    move |range, bearing| {
        let beyond = range.metres() / bearing.sin_cos().1 - miles * METRES_PER_NAUTICAL_MILE;
        let ahead = bearing.sin_cos().1 > 0.5;
        (ahead && beyond >= 0.0).then(|| (0.5 * beyond).clamp(1.0, height_m))
    }
}

fn calm() -> Conditions {
    Conditions { sea_state: 0, ..Conditions::default() }
}

#[test]
fn a_small_vessel_s_set_sees_the_shores_that_imo_asks_for() {
    // IMO resolution MSC.192(79), 6 December 2004, table 2 (read): antenna 15 m, no clutter,
    // seen in 8 of 10 scans at a false alarm rate of 1e-4. A lower bound.
    for (height_m, miles) in [(60.0, 20.0), (6.0, 8.0), (3.0, 6.0)] {
        let echoes = north("boat", 15.0, &calm(), shore(miles, height_m));
        let first = echoes.first().unwrap_or_else(|| panic!("{height_m} m"));
        assert!((first.start_m / METRES_PER_NAUTICAL_MILE - miles).abs() < 0.1, "{first:?}");
        assert!(first.chance >= 0.8, "{height_m} m at {miles} NM: {first:?}");
    }
    // Past the two horizons, 25.9 NM (computed), the highest of them is gone.
    assert!(north("boat", 15.0, &calm(), shore(27.0, 60.0)).is_empty());
}

#[test]
fn a_hill_shows_before_the_beach_in_front_of_it() {
    // Trade practice, distances computed with 1.23·(√h + √H): a 1,500 ft hill 12 NM behind a
    // beach with 30 ft dunes, antenna 50 ft. The beach can paint only from 15.4 NM; at 30 NM
    // the hill must show and no beach.
    let trap = |off: f64| {
        move |range: GroundRange, bearing: Bearing<True>| {
            let miles = range.nautical_miles() - off;
            let hill = (1.0 - ((miles - 12.0).abs() / 3.0)).max(0.0) * 1_500.0;
            let ahead = bearing.sin_cos().1 > 0.9;
            (ahead && miles >= 0.0).then(|| hill.max(30.0) * METRES_PER_FOOT)
        }
    };
    let own_m = 50.0 * METRES_PER_FOOT;
    let far = north("boat", own_m, &calm(), trap(30.0));
    assert!(far.iter().all(|echo| echo.start_m > 38.0 * METRES_PER_NAUTICAL_MILE), "{far:?}");
    assert!(!far.is_empty());
    let near = north("boat", own_m, &calm(), trap(10.0));
    assert!((near[0].start_m / METRES_PER_NAUTICAL_MILE - 10.0).abs() < 0.1, "{near:?}");
}

#[test]
fn a_hill_behind_a_cliff_is_hidden_from_low_and_shows_from_high() {
    let ground = |range: GroundRange, bearing: Bearing<True>| {
        let miles = range.nautical_miles();
        let ahead = bearing.sin_cos().1 > 0.9;
        // A 200 m cliff at 8 NM, a 250 m hill at 14 NM, low ground between.
        let height = match miles {
            8.0..8.2 => 200.0,
            13.0..15.0 => 250.0 * (1.0 - (miles - 14.0).abs()),
            _ => 5.0,
        };
        (ahead && (8.0..16.0).contains(&miles)).then_some(height)
    };
    let hill =
        |echoes: &[Echo]| echoes.iter().any(|echo| echo.end_m > 13.0 * METRES_PER_NAUTICAL_MILE);
    let low = north("boat", 15.0, &calm(), ground);
    assert!(!low.is_empty() && !hill(&low), "{low:?}");
    assert!(hill(&north("patrol", 1_500.0, &calm(), ground)));
}

#[test]
fn a_beach_drowns_in_a_rough_sea_and_a_cliff_does_not() {
    // After the figures at 1° of grazing (computed from the sea model and constant γ): flat
    // land is under sea state 5, a cliff well over it.
    let rough = Conditions { sea_state: 5, ..Conditions::default() };
    let own_m = 60.0;
    let at = |height| shore(2.0, height);
    let chance = |conditions: &Conditions, height: f64| {
        let echoes = north("boat", own_m, conditions, at(height));
        echoes.first().filter(|echo| echo.start_m < 3_900.0).map_or(0.0, |echo| echo.chance)
    };
    assert!(chance(&calm(), 1.0) > 0.5);
    assert!(chance(&rough, 1.0) < 0.5);
    assert!(chance(&rough, 60.0) > 0.8);
}

#[test]
fn a_sand_beach_drowns_in_a_rough_sea_and_the_cliff_behind_it_does_not() {
    // Sand (γ -25 dB, from memory) and a rough sea at about 1° of grazing (computed: the sand
    // stands 7 dB under sea state 5); the cliff is over it though the chart calls it sand too.
    let set = Set::builtin("boat").unwrap();
    let rough = Conditions { sea_state: 5, ..Conditions::default() };
    let chance = |conditions: &Conditions, height_m: f64, class: Option<Terrain>| {
        let budget = Budget::new(&set, conditions, Height::from_metres(60.0).unwrap());
        let fan = Fan::all_round(1_800, 60.0, 20.0 * METRES_PER_NAUTICAL_MILE);
        let mut relief = Relief::of_rule(&fan, shore(2.0, height_m));
        for span in relief.rays.iter_mut().flatten() {
            span.terrain = vec![class.map(|class| (class, true)); span.heights.len()];
        }
        let echoes = Sweep::new(fan, &relief, &budget).echoes(0, 0.0);
        echoes.first().filter(|echo| echo.start_m < 3_900.0).map_or(0.0, |echo| echo.chance)
    };
    let sand = Some(Terrain::VerySmooth);
    assert!(chance(&calm(), 1.0, sand) > 0.5);
    let moderate = Conditions { sea_state: 3, ..Conditions::default() };
    assert!(chance(&moderate, 1.0, sand) < chance(&moderate, 1.0, None));
    assert!(chance(&rough, 1.0, sand) < 0.2);
    assert!(chance(&rough, 60.0, sand) > 0.8);
    assert!(chance(&rough, 60.0, None) > 0.8);
}

#[test]
fn a_wide_beam_smears_the_coast_over_it() {
    // An island 2° across, dead ahead at 20 NM: a 3 cm beam sees it within its own width, a
    // metre-wave one over tens of degrees.
    let spread = |name: &str| {
        let set = Set::builtin(name).unwrap();
        let budget = Budget::new(&set, &calm(), Height::from_metres(600.0).unwrap());
        let fan = Fan::all_round(720, 100.0, 30.0 * METRES_PER_NAUTICAL_MILE);
        let relief = Relief::of_rule(&fan, |range, bearing| {
            let off = bearing.minus(Bearing::ZERO).degrees().abs();
            (off < 1.0 && (20.0..21.0).contains(&range.nautical_miles())).then_some(300.0)
        });
        let sweep = Sweep::new(fan, &relief, &budget);
        (0..720).filter(|ray| !sweep.echoes(*ray, 0.0).is_empty()).count()
    };
    assert!((4..24).contains(&spread("patrol")), "{}", spread("patrol"));
    assert!(spread("metric") > 60, "{}", spread("metric"));
}
