use crate::geodesy::{Position, WGS84_ECCENTRICITY_SQUARED as E2, WGS84_EQUATORIAL_RADIUS_M};
use crate::units::{Angle, Bearing, True};

/// A point on the ellipsoid in metres from the Earth's centre: there, no date line and no pole is
/// anything special.
pub(super) type Space = [f64; 3];

/// From degrees; the longitude may be of any turn.
pub(super) fn space(lon: f64, lat: f64) -> Space {
    let (sin, cos) = Angle::from_degrees(lat.clamp(-90.0, 90.0)).radians().sin_cos();
    let (sin_lon, cos_lon) = Angle::from_degrees(lon).radians().sin_cos();
    let prime = WGS84_EQUATORIAL_RADIUS_M / (1.0 - E2 * sin * sin).sqrt();
    [prime * cos * cos_lon, prime * cos * sin_lon, prime * (1.0 - E2) * sin]
}

/// The position of a point on or near the ellipsoid, to some centimetres.
pub(super) fn position([x, y, z]: Space) -> Position {
    // Exact for a point on the ellipsoid; chords dip below it by less than a metre here.
    let latitude = z.atan2((1.0 - E2) * x.hypot(y));
    Position::wrapped(
        Angle::from_radians(latitude).degrees(),
        Angle::from_radians(y.atan2(x)).degrees(),
    )
}

pub(super) fn between(a: Space, b: Space, share: f64) -> Space {
    [0, 1, 2].map(|i| part(a, i) + share * (part(b, i) - part(a, i)))
}

pub(super) fn apart(a: Space, b: Space) -> f64 {
    [0, 1, 2].iter().map(|&i| (part(a, i) - part(b, i)).powi(2)).sum::<f64>().sqrt()
}

fn part(point: Space, i: usize) -> f64 {
    point.get(i).copied().unwrap_or_default()
}

/// The surroundings of a point seen from above: metres east and north of it, by projection
/// straight down. Within 6 NM lengths are true to two parts in a million.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    centre: Space,
    east: [f64; 2],
    north: Space,
}

impl Frame {
    pub(super) fn at(centre: Space) -> Self {
        let [x, y, z] = centre;
        let (flat, radius) = (x.hypot(y), (x * x + y * y + z * z).sqrt());
        // At the pole itself any direction will do for east.
        let (cos, sin) = if flat > 1e-6 { (x / flat, y / flat) } else { (1.0, 0.0) };
        let (up_flat, up_z) = (flat / radius, z / radius);
        Self { centre, east: [-sin, cos], north: [-up_z * cos, -up_z * sin, up_flat] }
    }

    /// East and north of the centre.
    pub(super) fn lay(&self, point: Space) -> [f64; 2] {
        let [dx, dy, dz] =
            [point[0] - self.centre[0], point[1] - self.centre[1], point[2] - self.centre[2]];
        [
            self.east[0] * dx + self.east[1] * dy,
            self.north[0] * dx + self.north[1] * dy + self.north[2] * dz,
        ]
    }

    /// The point that lies at these metres east and north; near enough on the ellipsoid.
    pub(super) fn raise(&self, [east, north]: [f64; 2]) -> Space {
        [
            self.centre[0] + self.east[0] * east + self.north[0] * north,
            self.centre[1] + self.east[1] * east + self.north[1] * north,
            self.centre[2] + self.north[2] * north,
        ]
    }
}

/// Two places of these latitudes are no nearer to each other than this, in metres: the first degree of a
/// meridian is the shortest (computed). Far cheaper than a geodesic.
pub(super) fn north_at_least_m(a: f64, b: f64) -> f64 {
    const SHORTEST_DEGREE_M: f64 = 110_574.0;
    SHORTEST_DEGREE_M * (a - b).abs()
}

/// The direction of a vector of a frame.
pub(super) fn bearing([east, north]: [f64; 2]) -> Bearing<True> {
    Bearing::wrapped(east.atan2(north))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::{destination, distance};
    use crate::units::GroundRange;

    #[test]
    fn a_frame_keeps_lengths_and_directions_everywhere() {
        let six_miles = GroundRange::from_nautical_miles(6.0).unwrap();
        for (lat, lon) in [(0.0, 0.0), (-38.0, -21.0), (60.0, 179.99), (-89.5, 40.0)] {
            let here = Position::new(lat, lon).unwrap();
            for degrees in [0.0, 77.0, 200.0, 311.0] {
                let there = destination(here, Bearing::wrapped_degrees(degrees), six_miles);
                let frame = Frame::at(space(lon, lat));
                let flat = frame.lay(space(there.longitude(), there.latitude()));
                // Up is taken from the Earth's centre, at most 0.2° from the true one.
                assert!((flat[0].hypot(flat[1]) - six_miles.metres()).abs() < 0.2);
                let turn = bearing(flat).minus(Bearing::wrapped_degrees(degrees));
                assert!(turn.degrees().abs() < 0.15, "{lat} {degrees} {}", turn.degrees());
                assert!(distance(position(frame.raise(flat)), there).metres() < 0.2);
            }
        }
    }
}
