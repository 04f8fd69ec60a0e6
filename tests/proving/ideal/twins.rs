//! The reader on marks so few that the answer is known by hand.

#![allow(unused_imports, reason = "the campaign has no harness to run these")]

use std::sync::Arc;

use foreland::geodesy::Position;

use super::super::features::Kind;
use super::search::search;
use super::weigh::{Model, Part, Reading};
use super::world::{Cell, STEPS_NM, Sea, Sight, View, World, lattice, place, ship_nm2};
use super::{Reckoned, read};

/// Marks on an endless sea about 0° N 30° W, all in sight from everywhere.
/// Marks that are none of them an islet but the last, where that is said.
struct Marks(Vec<[f64; 2]>, Kind);

impl World for Marks {
    fn look(&self, cell: Cell) -> Sea {
        let [east, north] = cell.middle();
        let edge_nm = vec![f32::INFINITY; 360];
        let sights = self.0.iter().enumerate().map(|(number, mark)| Sight {
            east_nm: mark[0] - east,
            north_nm: mark[1] - north,
            behind_nm: 0.0,
            kind: if number + 1 == self.0.len() { self.1 } else { Kind::Point },
            share: 1.0 / self.0.len() as f64,
        });
        let sights = sights.collect();
        Sea::Open(Arc::new(View { sights, ship_nm2: ship_nm2(&edge_nm, 40.0), edge_nm }))
    }

    fn origin(&self) -> Position {
        Position::wrapped(0.0, -30.0)
    }
}

fn model() -> Model {
    Model {
        range_nm: 0.2,
        bearing_deg: 1.0,
        bias_deg: 1.5,
        point_nm: 0.1,
        ships: 0.0,
        tangents: 0.0,
        beam_deg: 2.4,
        height_nm: 0.0,
        ship_reach_nm: 40.0,
    }
}

fn range(range_nm: f64) -> Reading {
    Reading { range_nm: Some(range_nm), bearing_deg: None, part: Part::Near }
}

fn reckoned(world: &Marks, at: [f64; 2], sigma_nm: f64) -> Reckoned {
    Reckoned { position: place(world.origin(), at), sigma_nm }
}

/// Two marks ten miles either side, 15 and 12 miles off: four places, over and under the line of
/// the marks, one mark the nearer or the other.
#[test]
fn twin_places_have_even_odds_and_are_refused() {
    let world = Marks(vec![[-10.0, 0.0], [10.0, 0.0]], Kind::Point);
    let from = reckoned(&world, [0.0, 0.0], 10.0);
    let found = search(&world, from, &[range(15.0), range(12.0)], &model(), |_| 1.0);
    let total: f64 = found.places.iter().map(|p| p.mass).sum();
    for (east, north) in [(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)] {
        let there: f64 = found
            .places
            .iter()
            .filter(|p| p.east_nm * east > 0.0 && p.north_nm * north > 0.0)
            .map(|p| p.mass)
            .sum();
        approx::assert_abs_diff_eq!(there / total, 0.25, epsilon = 0.002);
    }
    let reader = read(&world, from, &[range(15.0), range(12.0)], &model()).unwrap();
    assert!(reader.probability < 0.26, "{reader:?}");
}

/// A point ten miles to the west 15 miles off and an islet ten miles to the east 12 miles off, by
/// its middle: at (2.03, ±8.97). Reckoned 2 miles to the north of their middle with 5 miles of
/// sigma, the odds are exp((10.97² − 6.97²) / 50) = exp(1.435): 0.808 to 0.192.
#[test]
fn the_reckoning_sets_the_odds_of_twins() {
    let world = Marks(vec![[-10.0, 0.0], [10.0, 0.0]], Kind::Islet);
    let from = reckoned(&world, [0.0, 2.0], 5.0);
    let middle = Reading { part: Part::Centre, ..range(12.0) };
    let reader = read(&world, from, &[range(15.0), middle], &model()).unwrap();
    approx::assert_abs_diff_eq!(reader.probability, 0.808, epsilon = 0.005);
    let [east, north] = lattice(world.origin(), reader.position);
    approx::assert_abs_diff_eq!(east, 2.03, epsilon = 0.04);
    approx::assert_abs_diff_eq!(north, 8.97, epsilon = 0.04);
}

/// Two bearings, at right angles but for the bias, and two ranges: one place.
#[test]
fn what_has_one_answer_is_fixed_with_the_errors_that_were_put_in() {
    let world = Marks(vec![[-12.0, 0.0], [0.0, 16.0]], Kind::Point);
    let from = reckoned(&world, [1.0, -1.0], 2.0);
    let of = |range_nm: f64, bearing: f64| Reading {
        range_nm: Some(range_nm),
        bearing_deg: Some(bearing),
        part: Part::Near,
    };
    let reader = read(&world, from, &[of(12.0, 270.0), of(16.0, 0.0)], &model()).unwrap();
    assert!(reader.probability > 0.995, "{reader:?}");
    let [east, north] = lattice(world.origin(), reader.position);
    assert!(east.hypot(north) < 0.06, "{east} {north}");
    // Each range, 0.224 NM with the chart's error, is a line of position: the bearings, some 0.4
    // NM at least across, and the reckoning add little; the chart's shift is 0.05 NM.
    let [ee, _, nn] = reader.covariance.square_metres();
    for variance in [ee, nn] {
        let sigma = variance.sqrt() / 1852.0;
        assert!((0.17..0.235).contains(&sigma), "{sigma}");
    }
}

#[test]
fn a_cell_is_made_of_its_children() {
    let cell = Cell { level: 0, east: -3, north: 5 };
    let [east, north] = cell.middle();
    for child in cell.children() {
        let [x, y] = child.middle();
        approx::assert_abs_diff_eq!((x - east).abs(), 0.25 * STEPS_NM[0], epsilon = 1e-12);
        approx::assert_abs_diff_eq!((y - north).abs(), 0.25 * STEPS_NM[0], epsilon = 1e-12);
    }
}

#[test]
fn nothing_of_the_estimator_is_used() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/proving/ideal");
    let files: Vec<_> = std::fs::read_dir(folder).unwrap().map(Result::unwrap).collect();
    assert!(files.len() >= 6);
    for file in files {
        let text = std::fs::read_to_string(file.path()).unwrap();
        for module in ["fix", "identity", "contact", "paint"] {
            assert!(!text.contains(&format!("foreland::{module}")), "{}", file.path().display());
        }
    }
}
