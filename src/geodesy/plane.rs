use super::position::Position;
use super::{
    MEAN_EARTH_RADIUS_M, WGS84_ECCENTRICITY_SQUARED as E2, WGS84_EQUATORIAL_RADIUS_M,
    WGS84_FLATTENING,
};
use crate::units::{Angle, Bearing, GroundRange, True};

/// A point of a local plane: metres east and north of its centre.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PlanePoint {
    /// Metres east.
    pub east: f64,
    /// Metres north.
    pub north: f64,
}

impl PlanePoint {
    /// Distance and direction from the plane's centre.
    pub fn polar(self) -> (GroundRange, Bearing<True>) {
        (
            GroundRange::clamped_metres(self.east.hypot(self.north)),
            Bearing::wrapped(self.east.atan2(self.north)),
        )
    }

    /// The point at a distance and direction from the centre.
    pub fn at(range: GroundRange, bearing: Bearing<True>) -> Self {
        let (sin, cos) = bearing.sin_cos();
        Self { east: range.metres() * sin, north: range.metres() * cos }
    }

    /// Metres to another point of the same plane.
    pub fn distance(self, other: Self) -> f64 {
        length(self.east - other.east, self.north - other.north)
    }
}

/// The surroundings of one place laid flat: distance and direction from the centre are kept.
///
/// An azimuthal equidistant picture of the ellipsoid, made in closed form so that a coast of a
/// hundred thousand vertices is laid out in milliseconds: the chord to the point in the centre's
/// east-north-up frame gives the direction, and the arc over it on a sphere of the ellipsoid's own
/// curvature half way along gives the length. Within 60 NM it differs from the geodesic by under
/// 1 m (tested against it); beyond 300 NM it should not be used. Distances between two points
/// neither of which is the centre are stretched by up to one part in 20,000 at 60 NM, so that an
/// estimator makes a new plane at each new estimate.
#[derive(Debug, Clone, Copy)]
pub struct LocalPlane {
    centre: Position,
    origin: [f64; 3],
    sin_lat: f64,
    cos_lat: f64,
    sin_lon: f64,
    cos_lon: f64,
}

impl LocalPlane {
    /// The plane around `centre`.
    pub fn new(centre: Position) -> Self {
        let (sin_lat, cos_lat) = sin_cos_degrees(centre.latitude());
        let (sin_lon, cos_lon) = sin_cos_degrees(centre.longitude());
        let origin = geocentric((sin_lat, cos_lat), (sin_lon, cos_lon));
        Self { centre, origin, sin_lat, cos_lat, sin_lon, cos_lon }
    }

    /// The place that lies at the plane's zero.
    pub fn centre(&self) -> Position {
        self.centre
    }

    /// Where a position lies in the plane.
    pub fn to_plane(&self, position: Position) -> PlanePoint {
        let there = sin_cos_degrees(position.latitude());
        let point = geocentric(there, sin_cos_degrees(position.longitude()));
        let [dx, dy, dz] = [0, 1, 2].map(|i| point[i] - self.origin[i]);
        let outward = self.cos_lon * dx + self.sin_lon * dy;
        let east = self.cos_lon * dy - self.sin_lon * dx;
        let north = self.cos_lat * dz - self.sin_lat * outward;
        let chord = (dx * dx + dy * dy + dz * dz).sqrt();
        let flat = length(east, north);
        if flat <= 0.0 {
            return PlanePoint::default();
        }
        let radius = radius_towards(north / flat, self.half_way(there));
        let arc = 2.0 * radius * (chord / (2.0 * radius)).min(1.0).asin();
        PlanePoint { east: east * arc / flat, north: north * arc / flat }
    }

    /// The position of a point of the plane.
    pub fn to_position(&self, point: PlanePoint) -> Position {
        let arc = length(point.east, point.north);
        if arc <= 0.0 {
            return self.centre;
        }
        // The latitude half way sets the curvature: that of the sphere is near enough, a kilometre
        // of it changing the answer by a millionth of the way.
        let there = self.latitude_on_sphere(point.north / arc, arc / MEAN_EARTH_RADIUS_M);
        self.step(point, arc, radius_towards(point.north / arc, self.half_way(there)))
    }

    /// Sine and cosine of it, an arc in radians away along a direction of cosine `cos_azimuth`.
    fn latitude_on_sphere(&self, cos_azimuth: f64, arc: f64) -> (f64, f64) {
        let (sin, cos) = arc.sin_cos();
        let sine = (self.sin_lat * cos + self.cos_lat * sin * cos_azimuth).clamp(-1.0, 1.0);
        (sine, (1.0 - sine * sine).sqrt())
    }

    fn step(&self, point: PlanePoint, arc: f64, radius: f64) -> Position {
        let half = arc / (2.0 * radius);
        let chord = 2.0 * radius * half.sin();
        let direction = point.north / arc;
        // The chord dips below the horizon by half the arc of the curvature at the centre's end.
        let dip = chord / (2.0 * radius_towards(direction, self.sin_lat * self.sin_lat));
        let flat = chord * (1.0 - dip * dip).max(0.0).sqrt();
        let (east, north, up) = (flat * point.east / arc, flat * direction, -chord * dip);
        let outward = self.cos_lat * up - self.sin_lat * north;
        geodetic([
            self.origin[0] + self.cos_lon * outward - self.sin_lon * east,
            self.origin[1] + self.sin_lon * outward + self.cos_lon * east,
            self.origin[2] + self.sin_lat * up + self.cos_lat * north,
        ])
    }

    /// The sine, squared, of the latitude half way to another given by its sine and cosine: from the
    /// cosine of their sum, which takes no angle.
    fn half_way(&self, (sin, cos): (f64, f64)) -> f64 {
        0.5 * (1.0 - (self.cos_lat * cos - self.sin_lat * sin))
    }
}

/// Radius of curvature (Euler) along a direction of cosine `cos_azimuth`, at a latitude given by the
/// square of its sine.
fn radius_towards(cos_azimuth: f64, sine_squared: f64) -> f64 {
    let w2 = 1.0 - E2 * sine_squared;
    let prime = WGS84_EQUATORIAL_RADIUS_M / w2.sqrt();
    let meridian = prime * (1.0 - E2) / w2;
    let c2 = cos_azimuth * cos_azimuth;
    prime * meridian / (prime * c2 + meridian * (1.0 - c2))
}

/// Metres in a degree of longitude and in one of latitude, at a latitude: the radii of curvature of the
/// ellipsoid there.
pub(crate) fn degree_m(latitude: f64) -> (f64, f64) {
    let (sin, cos) = sin_cos_degrees(latitude);
    let w2 = 1.0 - E2 * sin * sin;
    let prime = WGS84_EQUATORIAL_RADIUS_M / w2.sqrt();
    let degree = Angle::from_degrees(1.0).radians();
    (prime * cos * degree, prime * (1.0 - E2) / w2 * degree)
}

/// `hypot` without its care for numbers that no distance on the Earth comes near: it is asked for
/// millions of times.
fn length(east: f64, north: f64) -> f64 {
    (east * east + north * north).sqrt()
}

fn sin_cos_degrees(degrees: f64) -> (f64, f64) {
    Angle::from_degrees(degrees).radians().sin_cos()
}

/// Earth-centred coordinates in metres of a position on the ellipsoid, by sine and cosine of its
/// latitude and longitude.
fn geocentric((sin_lat, cos_lat): (f64, f64), (sin_lon, cos_lon): (f64, f64)) -> [f64; 3] {
    let prime = WGS84_EQUATORIAL_RADIUS_M / (1.0 - E2 * sin_lat * sin_lat).sqrt();
    [prime * cos_lat * cos_lon, prime * cos_lat * sin_lon, prime * (1.0 - E2) * sin_lat]
}

/// The position under Earth-centred coordinates near the surface.
///
/// Bowring, "Transformation from spatial to geographical coordinates", Survey Review 23 (1976)
/// (from memory): one step is exact to a micrometre at these heights.
fn geodetic([x, y, z]: [f64; 3]) -> Position {
    let axis_ratio = 1.0 - WGS84_FLATTENING;
    let from_axis = length(x, y);
    // Sine and cosine of the reduced latitude, whose tangent is z over this.
    let below = from_axis * axis_ratio;
    let (sin, cos) = (z / length(z, below), below / length(z, below));
    let second = E2 / (1.0 - E2);
    let latitude = (z + second * axis_ratio * WGS84_EQUATORIAL_RADIUS_M * sin * sin * sin)
        .atan2(from_axis - E2 * WGS84_EQUATORIAL_RADIUS_M * cos * cos * cos);
    Position::wrapped(
        Angle::from_radians(latitude).degrees(),
        Angle::from_radians(y.atan2(x)).degrees(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::{course, destination, distance};
    use crate::units::METRES_PER_NAUTICAL_MILE;
    use proptest::prelude::*;

    /// The figure the plane has to keep within 60 NM.
    const PLANE_ERROR_M: f64 = 1.0;

    /// Lengths of a degree on the ellipsoid, as navigators' tables have them (NGA, "Length of a degree of
    /// latitude and longitude", WGS84; from memory, to a metre).
    #[test]
    fn a_degree_is_as_long_as_in_the_tables() {
        for (latitude, east, north) in
            [(0.0, 111_320.0, 110_574.0), (45.0, 78_847.0, 111_132.0), (-60.0, 55_800.0, 111_412.0)]
        {
            let (longitude_m, latitude_m) = degree_m(latitude);
            assert!((longitude_m - east).abs() < 1.0, "{latitude}: {longitude_m}");
            assert!((latitude_m - north).abs() < 1.0, "{latitude}: {latitude_m}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn the_plane_keeps_geodesics_within_a_metre(
            latitude in -89.5f64..89.5,
            longitude in -180.0f64..180.0,
            azimuth in 0.0f64..360.0,
            miles in 0.0f64..60.0,
        ) {
            let centre = Position::wrapped(latitude, longitude);
            let run = GroundRange::from_nautical_miles(miles).unwrap();
            let bearing = Bearing::wrapped_degrees(azimuth);
            let there = destination(centre, bearing, run);
            let plane = LocalPlane::new(centre);
            let exact = PlanePoint::at(run, bearing);
            prop_assert!(plane.to_plane(there).distance(exact) < PLANE_ERROR_M);
            prop_assert!(distance(plane.to_position(exact), there).metres() < PLANE_ERROR_M);
        }

        #[test]
        fn points_go_there_and_back(
            latitude in -89.5f64..89.5,
            longitude in -180.0f64..180.0,
            east in -200_000.0f64..200_000.0,
            north in -200_000.0f64..200_000.0,
        ) {
            let plane = LocalPlane::new(Position::wrapped(latitude, longitude));
            let point = PlanePoint { east, north };
            prop_assert!(plane.to_plane(plane.to_position(point)).distance(point) < 2.0);
        }
    }

    #[test]
    fn the_plane_reaches_over_the_date_line_and_the_pole() {
        for (centre, there) in [((10.0, 179.9), (10.0, -179.9)), ((89.9, 0.0), (89.9, 180.0))] {
            let centre = Position::new(centre.0, centre.1).unwrap();
            let there = Position::new(there.0, there.1).unwrap();
            let (range, bearing) = LocalPlane::new(centre).to_plane(there).polar();
            let line = course(centre, there);
            assert!((range - line.distance).abs() < PLANE_ERROR_M);
            let across = bearing.minus(line.initial).radians() * range.metres();
            assert!(across.abs() < 0.001 * METRES_PER_NAUTICAL_MILE);
        }
    }
}
