use super::*;
use crate::chart::Chart;
use crate::geodesy::Position;
use crate::paint::Conditions;
use crate::paint::relief::{Relief, ways};
use crate::paint::sweep::{Glint, glints_along, glints_from};
use crate::radar::Set;
use crate::units::Height;

#[test]
fn land_narrower_than_a_step_is_still_there() {
    let (fan, land) = (Fan::all_round(360, 100.0, 20_000.0), Land::new(1_010.0, 1_050.0, false));
    assert_eq!(land.samples(&fan), (10, 11));
    assert!((land.place_m(10, &fan) - 1_030.0).abs() < 1e-9);
}

#[test]
fn samples_lie_on_the_land_they_are_counted_to() {
    let (fan, land) = (Fan::all_round(360, 100.0, 20_000.0), Land::new(1_010.0, 1_450.0, false));
    assert_eq!(land.samples(&fan), (10, 14));
    let places: Vec<f64> = (10..14).map(|sample| land.place_m(sample, &fan)).collect();
    assert_eq!(places, [1_100.0, 1_200.0, 1_300.0, 1_400.0]);
}

#[test]
fn samples_nearer_than_a_distance_are_counted() {
    let fan = Fan::all_round(360, 66.7, 20_000.0);
    for from_m in [0.0, 10.0, 66.7, 66.8, 133.4, 4_002.0, 10_000.0] {
        let counted = (0..200).filter(|i| fan.distance_m(*i) < from_m).count();
        assert_eq!(nearer(from_m, &fan), counted, "{from_m}");
    }
}

/// What is passed over changes nothing that is lit: against every height looked up in its order.
#[test]
fn what_is_passed_over_would_have_sent_nothing_back() {
    let chart = Chart::sample().unwrap();
    let centre: Position = "38 12.9 S, 21 30.5 W".parse().unwrap();
    for (set, feet) in [("patrol", 2_000.0), ("metric", 300.0), ("boat", 50.0)] {
        let (set, own) = (Set::builtin(set).unwrap(), Height::from_feet(feet).unwrap());
        let budget = Budget::new(&set, &Conditions::default(), own);
        let fan = Fan::all_round(90, 150.0, 80_000.0);
        let relief = Relief::of_chart(&chart, centre, &fan);
        let mut compared = 0;
        for towards in 0..90 {
            let bearing = fan.bearing(towards);
            let ways = ways(&chart, centre, &fan, (bearing, 0.01)).unwrap();
            for from_m in [0.0, 15_000.0, 40_000.0] {
                let lit = |glints: Vec<Glint>| -> Vec<Glint> {
                    glints.into_iter().filter(|glint| glint.m2_per_rad > 0.0).collect()
                };
                let all = glints_from(from_m, &relief.rays[towards], &fan, &budget);
                let some = glints_along(from_m, &ways[towards], &fan, &budget);
                assert_eq!(lit(some), lit(all.clone()), "{bearing} {from_m}");
                compared += lit(all).len();
            }
        }
        assert!(compared > 1_000, "{compared}");
    }
}

/// Far inland one height is told of many samples: that of each alone.
#[test]
fn heights_told_together_are_those_of_each_alone() {
    // Natural Earth (public domain): see `SOURCE.md` beside it.
    let south = include_bytes!("../../../tests/reference/natural-earth-coasts/south-island.shp");
    let south = Chart::from_files("South", &[("coast.shp", south)]).unwrap();
    let centre: Position = "44 00 S, 168 00 E".parse().unwrap();
    let fan = Fan::all_round(90, 100.0, 150_000.0);
    let mut together = 0;
    for ray in 0..90 {
        let ways = ways(&south, centre, &fan, (fan.bearing(ray), 0.01)).unwrap();
        let way = &ways[ray];
        for (land, span) in way.land.iter().zip(way.spans(&fan)) {
            let (first, after) = land.samples(&fan);
            let alone: Vec<f32> = (first..after).map(|i| way.looked_up_m(land, i, &fan)).collect();
            assert_eq!(span.heights, alone, "{ray}");
            let few = (first..after).step_by(FEW).map(|few| few..(few + FEW).min(after));
            together += few.filter(|few| way.level_m(land, few, &fan).is_some()).count();
        }
    }
    assert!(together > 100, "{together}");
}
