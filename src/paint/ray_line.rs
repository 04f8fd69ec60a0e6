//! Places along one ray, without a geodesic for each.

use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::units::{Bearing, True};

/// Metres between the places of a ray that are laid on the ellipsoid; those between them lie on
/// parabolas of latitude and longitude through three of them, at most a metre off.
const NODE_M: f64 = 8000.0;

/// The same within ten degrees or so of a pole, where longitude turns fast.
const POLAR_NODE_M: f64 = 1000.0;

/// The latitude, degrees, from which a place counts as near a pole.
const POLAR_DEG: f64 = 70.0;

/// Places along one ray, quickly.
pub(super) struct RayLine {
    node_m: f64,
    /// Latitudes and longitudes, degrees.
    nodes: Vec<(f64, f64)>,
}

impl RayLine {
    pub fn new(plane: &LocalPlane, bearing: Bearing<True>, reach_m: f64) -> Self {
        let (sin, cos) = bearing.sin_cos();
        let polar = plane.centre().latitude().abs() > POLAR_DEG;
        let node_m = if polar { POLAR_NODE_M } else { NODE_M };
        let count = (reach_m / node_m) as usize + 3;
        let mut nodes: Vec<(f64, f64)> = Vec::with_capacity(count);
        for i in 0..count {
            let along = i as f64 * node_m;
            let at = plane.to_position(PlanePoint { east: along * sin, north: along * cos });
            // Longitudes go on across the date line.
            let near = nodes.last().map_or(at.longitude(), |node| node.1);
            let turns = ((near - at.longitude()) / 360.0).round();
            nodes.push((at.latitude(), at.longitude() + 360.0 * turns));
        }
        Self { node_m, nodes }
    }

    pub fn at(&self, distance_m: f64) -> Position {
        let place = distance_m / self.node_m;
        let first = (place as usize).min(self.nodes.len().saturating_sub(3));
        let Some([a, b, c]) = self.nodes.get(first..first + 3) else {
            return Position::wrapped(0.0, 0.0);
        };
        let t = place - first as f64;
        // Lagrange's parabola through the places at 0, 1 and 2.
        let (of_a, of_b, of_c) = (0.5 * (t - 1.0) * (t - 2.0), t * (2.0 - t), 0.5 * t * (t - 1.0));
        let through = |a: f64, b: f64, c: f64| of_a * a + of_b * b + of_c * c;
        Position::wrapped(through(a.0, b.0, c.0), through(a.1, b.1, c.1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::GroundRange;

    #[test]
    fn places_along_a_ray_are_those_of_the_plane() {
        for latitude in [0.0, 38.0, -60.0, 69.9, 72.0, 80.0, -85.0] {
            let plane = LocalPlane::new(Position::new(latitude, 179.9).unwrap());
            for degrees in [0.0, 33.0, 90.0, 211.0, 300.0] {
                let bearing = Bearing::wrapped_degrees(degrees);
                let line = RayLine::new(&plane, bearing, 185_000.0);
                for hundreds in 1..1_850 {
                    let along = f64::from(hundreds) * 100.0;
                    let at = plane.to_plane(line.at(along));
                    let there = PlanePoint::at(GroundRange::clamped_metres(along), bearing);
                    assert!(at.distance(there) < 1.0, "{latitude} {degrees} {along}");
                }
            }
        }
    }
}
