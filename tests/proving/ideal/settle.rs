//! What the reader makes of the weighed places: the best, how much it holds, and its ellipse.

use std::collections::BTreeMap;

use foreland::geodesy::{Covariance, Position};

use super::super::case::SHIFT_NM;
use super::super::score::{ELLIPSE_999, NEAR_NM};
use super::search::{Found, Weighed};
use super::world::{World, place};

/// The side of the bins by which the best place is looked for, nautical miles.
const BIN_NM: f64 = 0.5;

/// The bins tried.
const TRIED: usize = 12;

/// The reader's answer.
#[derive(Debug, Clone, Copy)]
pub struct Reader {
    pub position: Position,
    pub covariance: Covariance,
    /// What the places hold that would be right if this one is stated: of all that may be.
    pub probability: f64,
    /// The share of the whole that was dropped unweighed, as far as coarser looks tell.
    pub dropped: f64,
}

/// Mean, variances (east, both, north) and mass of some places.
#[derive(Debug, Clone, Copy)]
struct Heap {
    mass: f64,
    east: f64,
    north: f64,
    ee: f64,
    en: f64,
    nn: f64,
}

impl Heap {
    fn of<'a>(places: &(impl Iterator<Item = &'a Weighed> + Clone)) -> Option<Self> {
        let mass: f64 = places.clone().map(|p| p.mass).sum();
        if mass <= 0.0 {
            return None;
        }
        let mean = |value: &dyn Fn(&Weighed) -> f64| {
            places.clone().map(|p| p.mass * value(p)).sum::<f64>() / mass
        };
        let (east, north) = (mean(&|p| p.east_nm), mean(&|p| p.north_nm));
        let ee = mean(&|p| (p.east_nm - east).powi(2)) + SHIFT_NM * SHIFT_NM;
        let nn = mean(&|p| (p.north_nm - north).powi(2)) + SHIFT_NM * SHIFT_NM;
        let en = mean(&|p| (p.east_nm - east) * (p.north_nm - north));
        Some(Self { mass, east, north, ee, en, nn })
    }

    /// Whether a place would make this one right.
    fn holds(&self, p: &Weighed) -> bool {
        let (east, north) = (p.east_nm - self.east, p.north_nm - self.north);
        let whole = self.ee * self.nn - self.en * self.en;
        let squared = (self.nn * east * east - 2.0 * self.en * east * north
            + self.ee * north * north)
            / whole;
        east.hypot(north) <= NEAR_NM || squared <= ELLIPSE_999
    }
}

/// `None` where nothing was found.
pub fn settle(world: &dyn World, found: &Found) -> Option<Reader> {
    let places = &found.places;
    let total: f64 = places.iter().map(|p| p.mass).sum();
    let best = best(places)?;
    // The place of the lattice that lies nearest, and the rest of the way in miles.
    let near = places.iter().min_by(|a, b| {
        let far = |p: &Weighed| (p.east_nm - best.east).hypot(p.north_nm - best.north);
        far(a).total_cmp(&far(b))
    })?;
    let shifted =
        [near.lattice[0] + best.east - near.east_nm, near.lattice[1] + best.north - near.north_nm];
    Some(Reader {
        position: place(world.origin(), shifted),
        covariance: Covariance::from_square_miles(best.ee, best.en, best.nn).ok()?,
        probability: best.mass / total * (1.0 - found.dropped),
        dropped: found.dropped,
    })
}

/// The best place holds this share of all.
pub fn share_of_best(places: &[Weighed]) -> f64 {
    let total: f64 = places.iter().map(|p| p.mass).sum();
    best(places).map_or(0.0, |best| best.mass / total)
}

/// The places about the best one.
fn best(places: &[Weighed]) -> Option<Heap> {
    starts(places)
        .into_iter()
        .filter_map(|start| about(places, start))
        .max_by(|a, b| a.mass.total_cmp(&b.mass))
}

/// The heaviest place of each of the heaviest bins.
fn starts(places: &[Weighed]) -> Vec<[f64; 2]> {
    let mut bins: BTreeMap<(i32, i32), (f64, &Weighed)> = BTreeMap::new();
    for p in places {
        let bin = |value: f64| (value / BIN_NM).floor() as i32;
        let entry = bins.entry((bin(p.east_nm), bin(p.north_nm))).or_insert((0.0, p));
        entry.0 += p.mass;
        if p.mass > entry.1.mass {
            entry.1 = p;
        }
    }
    let mut heavy: Vec<(f64, &Weighed)> = bins.into_values().collect();
    heavy.sort_by(|a, b| b.0.total_cmp(&a.0));
    heavy.iter().take(TRIED).map(|(_, p)| [p.east_nm, p.north_nm]).collect()
}

/// The places that go with a start: those within a mile, then all that their own ellipse holds.
fn about(places: &[Weighed], start: [f64; 2]) -> Option<Heap> {
    let within = |p: &&Weighed| (p.east_nm - start[0]).hypot(p.north_nm - start[1]) <= NEAR_NM;
    let mut heap = Heap::of(&places.iter().filter(within))?;
    for _ in 0..4 {
        let last = heap;
        heap = Heap::of(&places.iter().filter(|p| last.holds(p)))?;
    }
    let held = places.iter().filter(|p| heap.holds(p)).map(|p| p.mass).sum();
    Some(Heap { mass: held, ..heap })
}
