//! How likely the readings are from a place, for every bearing bias.

use std::sync::LazyLock;

use super::super::case::{BEARING_DEG, BIAS_DEG, Case, Measured, POINT_NM, RANGE_NM};
use super::super::features::Kind;
use super::super::landfall::scope_of;
use super::super::operator::{CENTRED, SHIP_M, TANGENTS};
use super::super::shore::{MILE, RADIAN};
use super::world::{CLEAR_NM, NEAREST_SHIP, View};

/// Biases weighed: from −6 to 6 degrees, four deviations, by half a degree.
pub const BIASES: usize = 25;
const BIAS_STEP_DEG: f64 = 0.5;

/// Biases of a coarse look: each third of those, a degree and a half apart.
const COARSE_STEP: usize = 3;

/// The share of contacts that may lie anywhere on the painted edge.
const ELSEWHERE: f64 = 0.02;

/// Beyond so many deviations nothing is weighed.
const FAR: f64 = 6.0;

/// A reading is held to the painted edge within so much of it, degrees.
const WIDE_DEG: f64 = 6.0;

/// Sine and cosine of each degree.
static DIRECTIONS: LazyLock<Vec<(f64, f64)>> =
    LazyLock::new(|| (0..360).map(|degree| (f64::from(degree) * RADIAN).sin_cos()).collect());

/// What part of an echo was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    Near,
    Centre,
    Left,
    Right,
    /// The nearest shore, whatever it is.
    Shore,
}

/// What was read of one contact.
#[derive(Debug, Clone, Copy)]
pub struct Reading {
    pub range_nm: Option<f64>,
    pub bearing_deg: Option<f64>,
    pub part: Part,
}

/// What the reader knows of the errors, the set and the sea.
#[derive(Debug, Clone, Copy)]
pub struct Model {
    pub range_nm: f64,
    pub bearing_deg: f64,
    pub bias_deg: f64,
    pub point_nm: f64,
    pub ships: f64,
    pub tangents: f64,
    pub beam_deg: f64,
    /// Own height over what echoes.
    pub height_nm: f64,
    pub ship_reach_nm: f64,
}

impl Model {
    pub fn of(case: &Case) -> Self {
        let scope = scope_of(case).unwrap();
        let cell_nm = scope.cell_m / MILE;
        Self {
            range_nm: RANGE_NM.hypot(cell_nm / 12.0_f64.sqrt()),
            bearing_deg: BEARING_DEG,
            bias_deg: BIAS_DEG,
            point_nm: POINT_NM,
            ships: case.ships,
            tangents: if case.measured == Measured::Mixed { TANGENTS } else { 0.0 },
            beam_deg: scope.beam_deg,
            height_nm: scope.height_m / MILE,
            ship_reach_nm: scope.reach_m.min(scope.horizon_m(SHIP_M)) / MILE,
        }
    }

    /// The chance of a bias, of those weighed.
    fn bias_chances(&self) -> [f64; BIASES] {
        let chances: [f64; BIASES] =
            std::array::from_fn(|number| (-0.5 * (bias(number) / self.bias_deg).powi(2)).exp());
        let total: f64 = chances.iter().sum();
        chances.map(|chance: f64| chance / total)
    }

    /// The chance that this part is read of such an echo.
    fn part(&self, kind: Kind, part: Part) -> f64 {
        match (kind, part) {
            (Kind::Islet, Part::Centre) => CENTRED,
            (Kind::Islet, Part::Near) => 1.0 - CENTRED,
            (Kind::LeftEnd, Part::Left) | (Kind::RightEnd, Part::Right) => self.tangents,
            (Kind::LeftEnd | Kind::RightEnd, Part::Near) => 1.0 - self.tangents,
            (Kind::Point, Part::Near) => 1.0,
            _ => 0.0,
        }
    }

    fn ship_part(&self, part: Part) -> f64 {
        match part {
            Part::Centre => self.ships * CENTRED,
            Part::Near => self.ships * (1.0 - CENTRED),
            Part::Left | Part::Right | Part::Shore => 0.0,
        }
    }

    fn slant(&self, ground_nm: f64) -> f64 {
        ground_nm.hypot(self.height_nm)
    }
}

/// A place near a node, what shows from the node taken to be off by `slack_nm` at most.
#[derive(Debug, Clone, Copy)]
#[allow(clippy::struct_field_names, reason = "the unit belongs to each")]
pub struct Stand {
    pub east_nm: f64,
    pub north_nm: f64,
    pub slack_nm: f64,
}

/// Degrees of a bias.
fn bias(number: usize) -> f64 {
    (number as f64 - 0.5 * (BIASES - 1) as f64) * BIAS_STEP_DEG
}

fn normal(off: f64, sigma: f64) -> f64 {
    if off.abs() > FAR * sigma {
        return 0.0;
    }
    (-0.5 * (off / sigma).powi(2)).exp() / (sigma * std::f64::consts::TAU.sqrt())
}

/// Degrees between −180 and 180.
fn turn(degrees: f64) -> f64 {
    degrees - 360.0 * (degrees / 360.0).round()
}

/// How likely the readings are from a place near a node; more than that from a slack stand.
pub fn likelihood(view: &View, stand: Stand, readings: &[Reading], model: &Model) -> f64 {
    let slack = stand.slack_nm > 0.0;
    let step = if slack { COARSE_STEP } else { 1 };
    let mut together = model.bias_chances();
    if slack {
        // The likeliest of three stands for all of them: the middle one of each is weighed.
        let chances = together;
        together = [0.0; BIASES];
        for (number, chance) in chances.iter().enumerate() {
            together[(number / step * step + step / 2).min(BIASES - 1)] += chance;
        }
    }
    for reading in readings {
        let of_one = densities(view, stand, reading, model, step);
        together.iter_mut().zip(of_one).for_each(|(all, one)| *all *= one);
    }
    together.iter().sum()
}

/// The density of one reading for every `step`th bias, per mile and degree of what was read.
fn densities(
    view: &View,
    stand: Stand,
    reading: &Reading,
    model: &Model,
    step: usize,
) -> [f64; BIASES] {
    let mut sum = [0.0; BIASES];
    let numbers: Vec<usize> = (step / 2..BIASES).step_by(step).chain(last_of(step)).collect();
    if reading.part == Part::Shore {
        let density = (1.0 - model.ships) * nearest_shore(view, stand, reading, model);
        for number in &numbers {
            sum[*number] += density;
        }
        return sum;
    }
    let real = (1.0 - model.ships) * (1.0 - ELSEWHERE);
    for sight in &view.sights {
        let part = model.part(sight.kind, reading.part);
        if part <= 0.0 {
            continue;
        }
        let (east, north) = (sight.east_nm - stand.east_nm, sight.north_nm - stand.north_nm);
        let ground = east.hypot(north);
        let behind = if reading.part == Part::Centre { sight.behind_nm } else { 0.0 };
        let sigma = model.range_nm.hypot(model.point_nm);
        let ranged = reading.range_nm.map_or(1.0, |range| {
            let off = (range - model.slant(ground + behind)).abs() - stand.slack_nm;
            normal(off.max(0.0), sigma)
        });
        if ranged <= 0.0 {
            continue;
        }
        let weight = real * part * sight.share * ranged;
        let Some(bearing) = reading.bearing_deg else {
            for number in &numbers {
                sum[*number] += weight;
            }
            continue;
        };
        let half = match reading.part {
            Part::Left => -0.5 * model.beam_deg,
            Part::Right => 0.5 * model.beam_deg,
            _ => 0.0,
        };
        let near = (ground - stand.slack_nm).max(0.1);
        let sigma = model.bearing_deg.hypot(model.point_nm / near / RADIAN);
        let loose = slack_deg(stand, ground);
        let off = turn(bearing - half - east.atan2(north) / RADIAN);
        for number in &numbers {
            let off = (turn(off - bias(*number)).abs() - loose).max(0.0);
            sum[*number] += weight * normal(off, sigma);
        }
    }
    let floor =
        (1.0 - model.ships) * ELSEWHERE * if reading.part == Part::Centre { 0.1 } else { 1.0 };
    let ship = model.ship_part(reading.part);
    let edges = Edges::of(view, stand, reading, model);
    for number in &numbers {
        sum[*number] += floor * edges.elsewhere(stand, reading, model, bias(*number))
            + ship * aboard(view, stand, reading, model, bias(*number));
    }
    sum
}

/// The last bias, where the steps leave it over.
fn last_of(step: usize) -> Option<usize> {
    (step > 1 && (BIASES - 1) / step * step + step / 2 > BIASES - 1).then_some(BIASES - 1)
}

/// How far a bearing may change within a slack stand and its biases, degrees.
fn slack_deg(stand: Stand, ground_nm: f64) -> f64 {
    if stand.slack_nm <= 0.0 {
        return 0.0;
    }
    let turned = (stand.slack_nm / ground_nm.max(1e-6)).min(1.0).asin() / RADIAN;
    turned + BIAS_STEP_DEG
}

/// The edge on a bearing, from the stand.
fn edge(view: &View, stand: Stand, degrees: f64) -> f64 {
    let degree = degrees.round().rem_euclid(360.0) as usize % 360;
    let (sin, cos) = DIRECTIONS[degree];
    f64::from(view.edge_nm[degree]) - stand.east_nm * sin - stand.north_nm * cos
}

/// How well a reading fits the painted edge on each bearing that a bias may turn it to.
struct Edges {
    /// The first of the degrees.
    from: f64,
    fits: Vec<f64>,
}

impl Edges {
    fn of(view: &View, stand: Stand, reading: &Reading, model: &Model) -> Self {
        // The edge is of a chart that is wrong in another way.
        let sigma = model.range_nm.hypot(2.0 * model.point_nm);
        let at = |degrees: f64| match reading.range_nm {
            Some(range) => {
                let off = (range - model.slant(edge(view, stand, degrees))).abs() - stand.slack_nm;
                normal(off.max(0.0), sigma)
            }
            None => f64::from(u8::from(edge(view, stand, degrees).is_finite())),
        };
        let (from, count) = reading.bearing_deg.map_or((0.0, 360), |bearing| {
            let wide = (bias(BIASES - 1) + WIDE_DEG).ceil();
            (bearing.round() - wide, 2 * wide as i32 + 1)
        });
        Self { from, fits: (0..count).map(|degree| at(from + f64::from(degree))).collect() }
    }

    /// A reading of any point of the painted edge.
    fn elsewhere(&self, stand: Stand, reading: &Reading, model: &Model, bias: f64) -> f64 {
        let Some(bearing) = reading.bearing_deg else {
            return self.fits.iter().sum::<f64>() / 360.0;
        };
        let own = bearing - bias;
        let wide = (3.0 * model.bearing_deg + slack_deg(stand, reading.range_nm.unwrap_or(10.0)))
            .min(WIDE_DEG);
        let first = (own - wide - self.from).max(0.0).ceil() as usize;
        let about = self.fits.iter().enumerate().skip(first).take(2 * wide as usize + 1);
        if stand.slack_nm > 0.0 {
            return about.map(|(_, fit)| *fit).fold(0.0, f64::max) / 360.0;
        }
        let weighed: f64 = about
            .filter(|(_, fit)| **fit > 0.0)
            .map(|(at, fit)| fit * normal(own - self.from - at as f64, model.bearing_deg))
            .sum();
        weighed / 360.0
    }
}

/// A reading of a ship.
fn aboard(view: &View, stand: Stand, reading: &Reading, model: &Model, bias: f64) -> f64 {
    let reach = model.ship_reach_nm;
    let slack = stand.slack_nm;
    let clear = |range: f64, degrees: f64| {
        let over = edge(view, stand, degrees) - CLEAR_NM - range;
        (0.5 + over / (4.0 * model.range_nm)).clamp(0.0, 1.0)
    };
    let area = view.ship_nm2;
    match (reading.range_nm, reading.bearing_deg) {
        (Some(range), _) if range > reach + 0.5 || range < NEAREST_SHIP * reach - 0.5 => 0.0,
        (Some(range), Some(bearing)) if slack > 0.0 => {
            let about = [-5.0, -2.5, 0.0, 2.5, 5.0];
            let free = about.map(|off| clear(range - slack, bearing - bias + off));
            range * RADIAN / area * free.into_iter().fold(0.0, f64::max)
        }
        (Some(range), None) if slack > 0.0 => range * std::f64::consts::TAU / area,
        (Some(range), Some(bearing)) => {
            let about = [-1.0, 0.0, 1.0].map(|off| clear(range, bearing - bias + off));
            range * RADIAN / area * about.iter().sum::<f64>() / 3.0
        }
        (Some(range), None) => {
            let open: f64 = (0..360).map(|degree| clear(range, f64::from(degree))).sum();
            range * RADIAN * open / area
        }
        (None, Some(bearing)) => {
            let far = (edge(view, stand, bearing - bias) - CLEAR_NM).clamp(0.0, reach);
            let far = if slack > 0.0 { reach } else { far };
            0.5 * far * far * RADIAN / area
        }
        (None, None) => 0.0,
    }
}

/// A range of the nearest shore.
fn nearest_shore(view: &View, stand: Stand, reading: &Reading, model: &Model) -> f64 {
    let nearest =
        (0..360).map(|degree| edge(view, stand, f64::from(degree))).fold(f64::INFINITY, f64::min);
    let off = (reading.range_nm.unwrap_or(nearest) - model.slant(nearest)).abs() - stand.slack_nm;
    let sigma = model.range_nm.hypot(2.0 * model.point_nm);
    normal(off.max(0.0), sigma).max(1e-6)
}
