//! What shows from where: the simulator's own pictures on a lattice of places.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use foreland::geodesy::Position;

use super::super::case::{Case, POINT_NM};
use super::super::coasts::Coast;
use super::super::features::{Kind, features};
use super::super::landfall::scope_of;
use super::super::picture::{Picture, RAYS, Scope, azimuth};
use super::super::shore::{ChartError, METRES_A_DEGREE, MILE, RADIAN, Shore};

/// From one node of the lattice to the next, nautical miles, the coarsest first.
pub const STEPS_NM: [f64; 3] = [2.0, 1.0, 0.5];

/// Charts, each wrong in its own way, that what shows is drawn for at the finest nodes.
const DRAWS: u64 = 2;

/// What stands out less by so much than what is measured still counts in a coarse look.
const NEARLY: f64 = 0.6;

/// Places on land so near the sea may have sea in their cell, metres.
const BY_THE_SEA_M: f64 = 1.5 * MILE;

/// A ship nearer the coast than this runs into its echo, nautical miles.
pub const CLEAR_NM: f64 = 0.5;

/// Where there is less sea than this, square nautical miles, none is looked for on it.
const LEAST_SEA_NM2: f64 = 5.0;

/// The nearest ship, as a share of the farthest.
pub const NEAREST_SHIP: f64 = 0.05;

/// Something that may be measured from a node.
#[derive(Debug, Clone, Copy)]
pub struct Sight {
    /// The cursor on its leading edge, nautical miles from the node.
    pub east_nm: f64,
    pub north_nm: f64,
    /// Its middle lies so much farther, nautical miles.
    pub behind_nm: f64,
    pub kind: Kind,
    /// The chance that it is the one taken.
    pub share: f64,
}

/// What shows from a node.
#[derive(Debug, Clone)]
pub struct View {
    pub sights: Vec<Sight>,
    /// To the leading edge, each degree, nautical miles; infinite where there is none.
    pub edge_nm: Vec<f32>,
    /// The sea that a ship may be on, square nautical miles.
    pub ship_nm2: f64,
}

/// A node of the lattice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Cell {
    pub level: usize,
    pub east: i32,
    pub north: i32,
}

/// What is known of a node.
#[derive(Clone)]
pub enum Sea {
    Open(Arc<View>),
    /// On land, but perhaps not all of its cell.
    Shore,
    Land,
}

/// Where the reader may be.
pub trait World: Sync {
    fn look(&self, cell: Cell) -> Sea;

    /// The zero of the lattice.
    fn origin(&self) -> Position;
}

impl Cell {
    /// Lattice miles east and north of the origin.
    pub fn middle(self) -> [f64; 2] {
        let step = STEPS_NM[self.level];
        [self.east, self.north].map(|number| (f64::from(number) + 0.5) * step)
    }

    pub fn children(self) -> [Self; 4] {
        [(0, 0), (1, 0), (0, 1), (1, 1)].map(|(east, north)| Self {
            level: self.level + 1,
            east: 2 * self.east + east,
            north: 2 * self.north + north,
        })
    }
}

/// A place of the lattice: a mile is a minute of latitude, and that of the origin's parallel.
pub fn place(origin: Position, [east, north]: [f64; 2]) -> Position {
    let wide = 60.0 * (origin.latitude() * RADIAN).cos();
    Position::wrapped(origin.latitude() + north / 60.0, origin.longitude() + east / wide)
}

/// Where a position is in the lattice.
pub fn lattice(origin: Position, at: Position) -> [f64; 2] {
    let east = at.longitude() - origin.longitude();
    let wide = 60.0 * (origin.latitude() * RADIAN).cos();
    let turned = east - 360.0 * (east / 360.0).round();
    [turned * wide, 60.0 * (at.latitude() - origin.latitude())]
}

/// True miles in a lattice mile east.
pub fn squeeze(origin: Position, north_nm: f64) -> f64 {
    let here = (origin.latitude() + north_nm / 60.0) * RADIAN;
    here.cos() / (origin.latitude() * RADIAN).cos()
}

/// A coast seen with one set, every node kept once it has been looked from.
pub struct Looks<'a> {
    coast: &'a Coast,
    scope: Scope,
    least_out_m: f64,
    origin: Position,
    plain: Shore,
    wrong: Vec<(ChartError, Shore)>,
    seen: Mutex<HashMap<Cell, Sea>>,
}

impl<'a> Looks<'a> {
    pub fn new(coast: &'a Coast, case: &Case) -> Option<Self> {
        let area = coast.chart.coast().extent()?;
        let origin =
            Position::wrapped(0.5 * (area.south + area.north), 0.5 * (area.west + area.east));
        let error = |seed: u64, sigma: f64| ChartError {
            seed,
            shift_m: [0.0, 0.0],
            point_sigma_m: sigma * MILE,
            degree_east_m: METRES_A_DEGREE * (origin.latitude() * RADIAN).cos().max(1e-3),
        };
        let wrong = (0..DRAWS)
            .map(|draw| error(0x5eed_0000 + draw, POINT_NM))
            .map(|error| (error, coast.shore.laid(&error)))
            .collect();
        Some(Self {
            coast,
            scope: scope_of(case).unwrap(),
            least_out_m: case.least_out_nm * MILE,
            origin,
            plain: coast.shore.laid(&error(0, 0.0)),
            wrong,
            seen: Mutex::default(),
        })
    }

    fn look_anew(&self, cell: Cell) -> Sea {
        let own = place(self.origin, cell.middle());
        if self.coast.chart.coast().is_land(own) == Some(true) {
            let within = foreland::units::GroundRange::clamped_metres(BY_THE_SEA_M);
            let near = cell.level == 0 && self.coast.chart.coast().nearest(own, within).is_some();
            return if near { Sea::Shore } else { Sea::Land };
        }
        if cell.level + 1 < STEPS_NM.len() {
            let picture = self.picture(own, &self.plain);
            let mut view = View::empty(&picture);
            view.add(&picture, NEARLY * self.least_out_m, None, 1.0);
            return Sea::Open(Arc::new(view));
        }
        let mut view: Option<View> = None;
        for (error, shore) in &self.wrong {
            let picture = self.picture(own, shore);
            let view = view.get_or_insert_with(|| View::empty(&picture));
            view.add(&picture, self.least_out_m, Some(error), 1.0 / DRAWS as f64);
        }
        view.map_or(Sea::Land, |view| Sea::Open(Arc::new(view)))
    }

    fn picture(&self, own: Position, shore: &Shore) -> Picture {
        let near = shore.near(own, self.scope.reach_m);
        Picture::new(own, &near, self.coast.relief.as_ref(), self.scope)
    }
}

impl World for Looks<'_> {
    fn look(&self, cell: Cell) -> Sea {
        if let Some(known) = self.seen.lock().unwrap().get(&cell) {
            return known.clone();
        }
        // Outside the lock: two may look at once, and see the same.
        let sea = self.look_anew(cell);
        self.seen.lock().unwrap().insert(cell, sea.clone());
        sea
    }

    fn origin(&self) -> Position {
        self.origin
    }
}

impl View {
    /// The edge and the sea of a picture, nothing standing out of it yet.
    fn empty(picture: &Picture) -> Self {
        let step = RAYS / 360;
        let edge_nm: Vec<f32> =
            (0..360).map(|degree| (picture.edge[degree * step] / MILE) as f32).collect();
        let reach = ship_reach_nm(picture.scope, picture);
        Self { sights: Vec::new(), ship_nm2: ship_nm2(&edge_nm, reach), edge_nm }
    }

    /// Adds what stands out of a picture, all of it taken with this chance.
    fn add(&mut self, picture: &Picture, least_m: f64, error: Option<&ChartError>, chance: f64) {
        let all = features(picture, least_m);
        let total: f64 = all.iter().map(|feature| feature.weight).sum();
        self.sights.extend(all.iter().map(|feature| {
            let (sin, cos) = azimuth(feature.ray as f64).sin_cos();
            let moved = error.map_or([0.0, 0.0], |error| error.at(feature.place));
            Sight {
                east_nm: (feature.near_m * sin - moved[0]) / MILE,
                north_nm: (feature.near_m * cos - moved[1]) / MILE,
                behind_nm: (feature.middle_m - feature.near_m) / MILE,
                kind: feature.kind,
                share: chance * feature.weight / total,
            }
        }));
    }
}

/// How far off a ship shows, nautical miles.
fn ship_reach_nm(scope: Scope, picture: &Picture) -> f64 {
    scope.reach_m.min(picture.horizon_m(super::super::operator::SHIP_M)) / MILE
}

/// The sea on which a ship may be, square nautical miles.
pub fn ship_nm2(edge_nm: &[f32], reach_nm: f64) -> f64 {
    let nearest = NEAREST_SHIP * reach_nm;
    let sector = |edge: &f32| {
        let far = (f64::from(*edge) - CLEAR_NM).clamp(nearest, reach_nm);
        0.5 * (far * far - nearest * nearest) * RADIAN
    };
    edge_nm.iter().map(sector).sum::<f64>().max(LEAST_SEA_NM2)
}
