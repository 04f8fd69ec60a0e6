//! What an observer measures, reckoned apart from the program: no code of it is used here.

use std::f64::consts::PI;

use super::land::Ring;

/// WGS84: semi-major axis in metres and the square of the first eccentricity.
const A: f64 = 6_378_137.0;
const E2: f64 = 0.006_694_379_990_14;
pub const MILE: f64 = 1852.0;
const RADIAN: f64 = PI / 180.0;

/// Degrees: latitude, longitude.
pub type Place = (f64, f64);

/// Metres along the geodesic and its direction where it starts, in degrees.
///
/// The mid-latitude method on the ellipsoid (a handbook formula, from memory): some metres off at
/// 30 miles.
pub fn line(from: Place, to: Place) -> (f64, f64) {
    let middle = 0.5 * (from.0 + to.0) * RADIAN;
    let w2 = 1.0 - E2 * middle.sin() * middle.sin();
    let (prime, meridian) = (A / w2.sqrt(), A * (1.0 - E2) / (w2 * w2.sqrt()));
    let north = (to.0 - from.0) * RADIAN * meridian;
    let east = (to.1 - from.1) * RADIAN * prime * middle.cos();
    // The meridians turn by this much between the ends.
    let convergence = (to.1 - from.1) * middle.sin();
    let direction = east.atan2(north) / RADIAN - 0.5 * convergence;
    (east.hypot(north), direction.rem_euclid(360.0))
}

/// The place some metres along a direction, by [`line`] turned about.
pub fn along(from: Place, metres: f64, direction: f64) -> Place {
    let mut to = from;
    for _ in 0..4 {
        let (done, at) = line(from, to);
        let done = if done == 0.0 {
            (0.0, 0.0)
        } else {
            (done * (at * RADIAN).sin(), done * (at * RADIAN).cos())
        };
        let (east, north) = (
            metres * (direction * RADIAN).sin() - done.0,
            metres * (direction * RADIAN).cos() - done.1,
        );
        let w2 = 1.0 - E2 * (to.0 * RADIAN).sin().powi(2);
        to.0 += north / (A * (1.0 - E2) / (w2 * w2.sqrt())) / RADIAN;
        to.1 += east / (A / w2.sqrt() * (to.0 * RADIAN).cos()) / RADIAN;
    }
    to
}

/// Straight through the air between two heights in metres over `ground` metres of a sphere.
pub fn slant(ground: f64, own: f64, other: f64) -> f64 {
    let radius = 6_371_000.0;
    let chord = 2.0 * (ground / radius / 2.0).sin();
    ((own - other).powi(2) + (radius + own) * (radius + other) * chord * chord).sqrt()
}

/// The nearest shore within `reach` miles of a mark: metres and direction.
pub fn nearest_shore(rings: &[Ring], from: Place, mark: Place, reach: f64) -> (f64, f64) {
    rings
        .iter()
        .flatten()
        .map(|shore| {
            let (longitude, latitude) = super::land::degrees(shore.x, shore.y);
            (latitude, longitude)
        })
        .filter(|&place| line(mark, place).0 <= reach * MILE)
        .map(|place| line(from, place))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap()
}

type Piece = ((f64, f64), (f64, f64));

/// Whether two pieces cross.
pub fn cross((a, b): Piece, (c, d): Piece) -> bool {
    let side = |p: (f64, f64), q: (f64, f64), r: (f64, f64)| {
        (q.0 - p.0) * (r.1 - p.1) - (q.1 - p.1) * (r.0 - p.0) > 0.0
    };
    side(a, b, c) != side(a, b, d) && side(c, d, a) != side(c, d, b)
}
