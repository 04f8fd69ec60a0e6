//! From coarse cells to fine ones: what the coarse ones do not bear out is not looked at again.

use foreland::geodesy::Position;

use super::weigh::{Model, Reading, Stand, likelihood};
use super::world::{Cell, STEPS_NM, Sea, World, lattice, squeeze};

/// How far out the reckoning is believed, in its deviations: beyond lies one place in a thousand.
const OUT: f64 = 3.7;

/// Places weighed along one side of a cell of each level: a quarter of a mile apart, then an eighth.
const ALONG: [i32; 3] = [8, 4, 4];

/// What shows from the middle of a cell is taken to be off by so much elsewhere in it, nautical miles.
const SLACK_NM: [f64; 3] = [0.35, 0.2, 0.0];

/// The share of the whole, as far as its level tells, that is dropped at each.
const DROPPED: [f64; 2] = [3e-4, 1e-3];

/// A coarsest cell that in its middle, everything allowed to be off by half its size, is less likely
/// than the likeliest by this is not weighed at all.
const FAR_BELOW: f64 = 1e-6;

/// Where the cells of one mile give no place more than this share, no finer look will fix it.
const HOPELESS: f64 = 0.4;

/// Where the reckoning says we are.
#[derive(Debug, Clone, Copy)]
pub struct Reckoned {
    pub position: Position,
    pub sigma_nm: f64,
}

/// A place weighed.
#[derive(Debug, Clone, Copy)]
pub struct Weighed {
    /// True miles east and north of the reckoning, as good as flat.
    pub east_nm: f64,
    pub north_nm: f64,
    /// Lattice miles.
    pub lattice: [f64; 2],
    pub mass: f64,
}

/// What the search found.
pub struct Found {
    pub places: Vec<Weighed>,
    /// The share that was dropped on the way, as far as the coarser levels tell.
    pub dropped: f64,
}

/// A cell and its places.
struct Looked {
    cell: Cell,
    mass: f64,
    places: Vec<Weighed>,
}

struct Search<'a> {
    world: &'a dyn World,
    reckoned: Reckoned,
    /// The reckoning in the lattice.
    at: [f64; 2],
    readings: &'a [Reading],
    model: &'a Model,
}

/// Weighs all places; finest cells are left out where `share_of_best` of the coarser tells that
/// no place will hold enough.
pub fn search(
    world: &dyn World,
    reckoned: Reckoned,
    readings: &[Reading],
    model: &Model,
    share_of_best: impl Fn(&[Weighed]) -> f64,
) -> Found {
    let at = lattice(world.origin(), reckoned.position);
    let search = Search { world, reckoned, at, readings, model };
    let mut cells = search.likely(search.first());
    let mut dropped = 0.0;
    for (level, share) in DROPPED.into_iter().enumerate() {
        let (kept, lost) = keep(search.looked(&cells), share);
        dropped += lost;
        // By the sea some are finer than the rest already.
        let finer =
            |cell: Cell| if cell.level > level { vec![cell] } else { cell.children().into() };
        cells = kept.iter().flat_map(|looked| finer(looked.cell)).collect();
        if level + 1 == DROPPED.len() {
            let places: Vec<Weighed> = kept.into_iter().flat_map(|looked| looked.places).collect();
            if share_of_best(&places) < HOPELESS {
                return Found { places, dropped };
            }
        }
    }
    let places = search.looked(&cells).into_iter().flat_map(|looked| looked.places).collect();
    Found { places, dropped }
}

/// The heaviest cells that together hold all but a share, and the share that is lost.
fn keep(mut looked: Vec<Looked>, share: f64) -> (Vec<Looked>, f64) {
    let total: f64 = looked.iter().map(|looked| looked.mass).sum();
    looked.sort_by(|a, b| b.mass.total_cmp(&a.mass));
    let mut left = total;
    let count = looked
        .iter()
        .take_while(|looked| {
            let wanted = left > share * total;
            left -= looked.mass;
            wanted
        })
        .count();
    looked.truncate(count);
    let held: f64 = looked.iter().map(|looked| looked.mass).sum();
    (looked, if total > 0.0 { (1.0 - held / total).max(0.0) } else { 0.0 })
}

impl Search<'_> {
    /// Coarsest cells in reach, and the children of those whose middle is land by the sea.
    fn first(&self) -> Vec<Cell> {
        let step = STEPS_NM[0];
        let out = OUT * self.reckoned.sigma_nm + step;
        let wide = out / squeeze(self.world.origin(), self.at[1]).max(0.01);
        let numbers = |middle: f64, half: f64| {
            ((middle - half) / step).floor() as i32..=((middle + half) / step).floor() as i32
        };
        numbers(self.at[1], out)
            .flat_map(|north| numbers(self.at[0], wide).map(move |east| (east, north)))
            .map(|(east, north)| Cell { level: 0, east, north })
            .filter(|cell| {
                let off = self.off_reckoning(cell.middle());
                self.prior((off[0].hypot(off[1]) - step).max(0.0)) > 0.0
            })
            .collect()
    }

    /// Those that are not far below the likeliest in their middle.
    fn likely(&self, cells: Vec<Cell>) -> Vec<Cell> {
        let weighed: Vec<(f64, Cell)> =
            cells.into_iter().map(|cell| (self.about(cell), cell)).collect();
        // Those of which nothing can be told are all kept.
        let known = weighed.iter().map(|(likely, _)| *likely).filter(|likely| likely.is_finite());
        let least = FAR_BELOW * known.fold(0.0, f64::max);
        weighed.into_iter().filter(|(likely, _)| *likely > least).map(|(_, cell)| cell).collect()
    }

    /// How likely the middle of a cell is, everything off by half the cell; infinite by the sea.
    fn about(&self, cell: Cell) -> f64 {
        let step = STEPS_NM[cell.level];
        let off = self.off_reckoning(cell.middle());
        match self.world.look(cell) {
            Sea::Land => 0.0,
            Sea::Shore => f64::INFINITY,
            Sea::Open(view) => {
                let stand = Stand { east_nm: 0.0, north_nm: 0.0, slack_nm: 0.5 * step };
                self.prior((off[0].hypot(off[1]) - step).max(0.0))
                    * likelihood(&view, stand, self.readings, self.model)
            }
        }
    }

    /// True miles from the reckoning.
    fn off_reckoning(&self, place: [f64; 2]) -> [f64; 2] {
        let narrow = squeeze(self.world.origin(), place[1]);
        [(place[0] - self.at[0]) * narrow, place[1] - self.at[1]]
    }

    fn prior(&self, off_nm: f64) -> f64 {
        let sigmas = off_nm / self.reckoned.sigma_nm;
        if sigmas > OUT { 0.0 } else { (-0.5 * sigmas * sigmas).exp() }
    }

    fn looked(&self, cells: &[Cell]) -> Vec<Looked> {
        cells.iter().flat_map(|cell| self.weighed(*cell)).collect()
    }

    /// A cell with its places, or its children where its middle is land by the sea.
    fn weighed(&self, cell: Cell) -> Vec<Looked> {
        let view = match self.world.look(cell) {
            Sea::Land => return Vec::new(),
            Sea::Shore => {
                return cell.children().into_iter().flat_map(|c| self.weighed(c)).collect();
            }
            Sea::Open(view) => view,
        };
        let middle = cell.middle();
        let narrow = squeeze(self.world.origin(), middle[1]);
        let along = ALONG[cell.level];
        let step = STEPS_NM[cell.level] / f64::from(along);
        let off = |number: i32| (f64::from(number) - 0.5 * f64::from(along - 1)) * step;
        let places: Vec<Weighed> = (0..along * along)
            .filter_map(|number| {
                let (east, north) = (off(number % along), off(number / along));
                let place = [middle[0] + east, middle[1] + north];
                let from = self.off_reckoning(place);
                let prior = self.prior(from[0].hypot(from[1])) * step * step * narrow;
                let slack_nm = SLACK_NM[cell.level];
                let stand = Stand { east_nm: east * narrow, north_nm: north, slack_nm };
                let mass = if prior > 0.0 {
                    prior * likelihood(&view, stand, self.readings, self.model)
                } else {
                    0.0
                };
                let place = Weighed { east_nm: from[0], north_nm: from[1], lattice: place, mass };
                (mass > 0.0).then_some(place)
            })
            .collect();
        let mass = places.iter().map(|place| place.mass).sum();
        vec![Looked { cell, mass, places }]
    }
}
