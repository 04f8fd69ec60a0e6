//! The invented coast: where it turns, how rough it is and how high it stands.
//!
//! A plane in nautical miles, `x` east and `y` north of 38° S 21° W. Each stretch between two turns
//! is broken at its middle again and again, by a share of its length, in its own stream of draws.

use super::draw::Draws;

/// Degrees of longitude to a mile of the plane. One figure for the whole chart.
const LONGITUDE_PER_MILE: f64 = 1.0 / 47.3;
/// No piece of shore is longer than this, in miles.
const LONGEST_PIECE: f64 = 0.16;

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shore {
    pub x: f64,
    pub y: f64,
    /// Metres at the edge.
    pub cliff: f64,
    /// Metres of rise in the next mile inland.
    pub slope: f64,
}

/// A turn of the coast, and what the stretch from it to the next is like.
struct Turn {
    shore: Shore,
    rough: f64,
    stream: u64,
}

pub type Ring = Vec<Shore>;

/// Longitude and latitude of a point of the plane, to a millionth of a degree.
pub fn degrees(x: f64, y: f64) -> (f64, f64) {
    let round = |v: f64| (v * 1e6).round() / 1e6;
    (round(-21.0 + x * LONGITUDE_PER_MILE), round(-38.0 + y / 60.0))
}

/// The point of the plane at a longitude and latitude.
pub fn plane(longitude: f64, latitude: f64) -> (f64, f64) {
    ((longitude + 21.0) / LONGITUDE_PER_MILE, (latitude + 38.0) * 60.0)
}

/// North of the bay: the same head and ness twice over, `PERIOD` miles apart, in the same draws.
pub const PERIOD: f64 = 9.0;
pub const FALLOW_HEAD: (f64, f64) = (-8.0, 31.0);
pub const FALLOW_NESS: (f64, f64) = (-6.2, 27.4);
pub const TERN_POINT: (f64, f64) = (0.6, 40.0);
pub const GANNET_HEAD: (f64, f64) = (-9.0, -1.0);
pub const CORBEL_POINT: (f64, f64) = (-6.8, -8.6);
pub const LANTERN_POINT: (f64, f64) = (-7.4, -28.4);
pub const CAPE_HARROW: (f64, f64) = (-2.6, -40.4);
pub const MARLHAVEN: (f64, f64) = (6.0, 7.6);
pub const GREAT_EMBER: (f64, f64) = (-14.4, -12.8);
pub const LITTLE_EMBER: (f64, f64) = (-13.0, -18.0);
pub const SADDLE_ISLE: (f64, f64) = (-12.4, 9.6);

/// Every ring of the chart: the mainland first, then islands, then skerries.
pub fn rings() -> Vec<Ring> {
    let mut rings = vec![break_up(&mainland())];
    rings.push(break_up(&island(GREAT_EMBER, (1.15, 1.55), 105.0, 300)));
    rings.push(break_up(&island(LITTLE_EMBER, (0.55, 0.5), 58.0, 310)));
    rings.push(break_up(&island(SADDLE_ISLE, (0.6, 0.95), 70.0, 320)));
    rings.extend(skerries());
    rings
}

fn mainland() -> Vec<Turn> {
    let mut turns = Vec::new();
    add(&mut turns, 20, &[(TERN_POINT.0, TERN_POINT.1, 85.0, 30.0, 0.14)]);
    add(&mut turns, 21, &[(-1.2, 38.2, 60.0, 40.0, 0.17)]);
    for twin in 0..2 {
        let down = PERIOD * f64::from(twin);
        let shifted: Vec<_> = TWIN
            .iter()
            .map(|&(x, y, cliff, slope, rough)| (x, y - down, cliff, slope, rough))
            .collect();
        add(&mut turns, 100, &shifted); // the same streams for both
    }
    add(&mut turns, 200, WEST_AND_SOUTH);
    add(&mut turns, 240, EAST);
    turns
}

/// x, y, cliff, slope, roughness.
type Row = (f64, f64, f64, f64, f64);

const TWIN: &[Row] = &[
    (-3.2, 35.0, 35.0, 45.0, 0.16),
    (-4.2, 33.0, 60.0, 40.0, 0.17),
    (-6.7, 32.0, 90.0, 20.0, 0.15),
    (FALLOW_HEAD.0, FALLOW_HEAD.1, 96.0, 20.0, 0.14),
    (-7.3, 30.0, 90.0, 20.0, 0.16),
    (-4.9, 29.4, 55.0, 40.0, 0.17),
    (-4.0, 28.5, 40.0, 40.0, 0.16),
    (-5.3, 28.0, 50.0, 30.0, 0.14),
    (FALLOW_NESS.0, FALLOW_NESS.1, 52.0, 30.0, 0.14),
    (-5.6, 26.8, 48.0, 30.0, 0.16),
];

const WEST_AND_SOUTH: &[Row] = &[
    // Marl Bay, the harbour town at its head.
    (-3.2, 17.0, 35.0, 45.0, 0.14),
    (-0.8, 14.4, 30.0, 35.0, 0.12),
    (3.4, 11.6, 12.0, 25.0, 0.10),
    (5.6, 9.0, 5.0, 20.0, 0.08),
    (MARLHAVEN.0, MARLHAVEN.1, 4.0, 20.0, 0.06),
    (5.0, 5.6, 6.0, 22.0, 0.09),
    (2.2, 3.2, 25.0, 40.0, 0.13),
    (-2.4, 1.6, 80.0, 60.0, 0.13),
    (-6.2, 0.9, 120.0, 60.0, 0.14),
    (-8.2, 0.1, 150.0, 40.0, 0.14),
    // Cliffs.
    (GANNET_HEAD.0, GANNET_HEAD.1, 155.0, 30.0, 0.13),
    (-8.2, -2.4, 150.0, 30.0, 0.16),
    (-5.4, -3.2, 110.0, 50.0, 0.17),
    (-4.4, -6.4, 90.0, 50.0, 0.17),
    (-6.0, -7.9, 80.0, 30.0, 0.14),
    (CORBEL_POINT.0, CORBEL_POINT.1, 74.0, 30.0, 0.14),
    (-5.4, -9.9, 40.0, 25.0, 0.12),
    // Long Strand: low sand.
    (-2.8, -11.4, 2.0, 3.0, 0.035),
    (-1.4, -15.0, 2.0, 2.5, 0.03),
    (-1.2, -19.0, 2.0, 2.5, 0.03),
    (-2.2, -23.0, 2.0, 3.0, 0.04),
    (-3.6, -25.4, 6.0, 20.0, 0.10),
    (-5.0, -26.9, 40.0, 40.0, 0.15),
    (-6.8, -27.6, 60.0, 20.0, 0.13),
    (LANTERN_POINT.0, LANTERN_POINT.1, 62.0, 20.0, 0.10),
    (-6.6, -29.5, 55.0, 30.0, 0.16),
    (-3.0, -31.2, 40.0, 40.0, 0.15),
    (-2.4, -35.0, 45.0, 50.0, 0.15),
    (-3.4, -38.2, 70.0, 50.0, 0.12),
    (CAPE_HARROW.0, CAPE_HARROW.1, 110.0, 40.0, 0.10),
    (-0.6, -40.8, 100.0, 50.0, 0.14),
];

const EAST: &[Row] = &[
    (5.0, -39.2, 60.0, 50.0, 0.16),
    (11.2, -37.0, 30.0, 40.0, 0.16),
    (15.6, -31.0, 20.0, 40.0, 0.16),
    (17.4, -24.0, 25.0, 40.0, 0.15),
    (16.6, -15.0, 15.0, 35.0, 0.15),
    (18.6, -7.0, 20.0, 30.0, 0.16),
    (16.4, 1.0, 12.0, 25.0, 0.14),
    (17.0, 9.0, 10.0, 25.0, 0.15),
    (19.4, 16.0, 25.0, 30.0, 0.16),
    (15.2, 23.0, 20.0, 30.0, 0.15),
    (14.4, 30.0, 30.0, 30.0, 0.16),
    (9.4, 36.4, 40.0, 40.0, 0.15),
    (4.6, 39.6, 70.0, 40.0, 0.13),
];

fn add(turns: &mut Vec<Turn>, first_stream: u64, rows: &[Row]) {
    for (stream, &(x, y, cliff, slope, rough)) in (first_stream..).zip(rows) {
        turns.push(Turn { shore: Shore { x, y, cliff, slope }, rough, stream });
    }
}

/// Sine and cosine of the eighths of a turn.
const H: f64 = std::f64::consts::FRAC_1_SQRT_2;
const EIGHTHS: [(f64, f64); 8] =
    [(0.0, 1.0), (H, H), (1.0, 0.0), (H, -H), (0.0, -1.0), (-H, -H), (-1.0, 0.0), (-H, H)];

fn island(centre: (f64, f64), half: (f64, f64), cliff: f64, stream: u64) -> Vec<Turn> {
    let mut draws = Draws::stream(stream);
    (stream + 1..)
        .zip(EIGHTHS)
        .map(|(stream, (sin, cos))| {
            let stretch = 1.0 + 0.16 * draws.signed();
            let (x, y) = (centre.0 + half.0 * stretch * sin, centre.1 + half.1 * stretch * cos);
            let cliff = cliff * (0.8 + 0.2 * draws.unit());
            Turn { shore: Shore { x, y, cliff, slope: 40.0 }, rough: 0.12, stream }
        })
        .collect()
}

/// The Cinders: rocks awash and a few that dry, off Lantern Point.
fn skerries() -> Vec<Ring> {
    let mut draws = Draws::stream(400);
    let line = [
        (-9.6, -31.2),
        (-10.1, -31.7),
        (-9.9, -32.3),
        (-10.7, -32.6),
        (-10.4, -33.3),
        (-11.1, -33.5),
    ];
    line.iter()
        .map(|&(x, y)| {
            let half = 0.05 + 0.07 * draws.unit();
            EIGHTHS
                .iter()
                .map(|(sin, cos)| {
                    let stretch = half * (1.0 + 0.3 * draws.signed());
                    let (x, y) = (x + stretch * sin, y + stretch * cos);
                    Shore { x, y, cliff: 4.0, slope: 0.0 }
                })
                .collect()
        })
        .collect()
}

fn break_up(turns: &[Turn]) -> Ring {
    let mut ring = Ring::new();
    for (turn, next) in turns.iter().zip(turns.iter().cycle().skip(1)) {
        ring.push(turn.shore);
        break_piece(&mut ring, turn.shore, next.shore, turn.rough, &mut Draws::stream(turn.stream));
    }
    ring
}

/// Adds what lies between two points of shore, ends left out.
fn break_piece(ring: &mut Ring, from: Shore, to: Shore, rough: f64, draws: &mut Draws) {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    if dx * dx + dy * dy <= LONGEST_PIECE * LONGEST_PIECE {
        return;
    }
    let aside = rough * draws.signed();
    let middle = Shore {
        x: 0.5 * (from.x + to.x) - aside * dy,
        y: 0.5 * (from.y + to.y) + aside * dx,
        cliff: 0.5 * (from.cliff + to.cliff),
        slope: 0.5 * (from.slope + to.slope),
    };
    break_piece(ring, from, middle, rough, draws);
    ring.push(middle);
    break_piece(ring, middle, to, rough, draws);
}
