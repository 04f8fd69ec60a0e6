use super::shore::Outline;
use super::space::{Frame, Space};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// An island of this diameter may be one mark, in metres: where no headland stands out on it, or
/// where the chart names it.
const WIDEST_M: f64 = 6.0 * METRES_PER_NAUTICAL_MILE;

/// A ring of shore with land inside, small enough to be one mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Island {
    /// Number of its line.
    pub(super) line: usize,
    /// The middle of its area.
    pub(super) middle: Space,
    /// Radius of the circle of the same area, in metres.
    pub(super) radius: f64,
    /// Twice the distance from the middle to the farthest vertex, in metres.
    pub(super) diameter: f64,
}

/// The island that a line bounds, if it is one and is small enough. Lakes are none.
pub(super) fn island(number: usize, line: &Outline) -> Option<Island> {
    if !line.ring || line.cuts.iter().any(|cut| *cut) {
        return None;
    }
    let frame = Frame::at(*line.points.first()?);
    let flat: Vec<[f64; 2]> = line.points.iter().map(|point| frame.lay(*point)).collect();
    if flat.iter().any(|point| point[0].hypot(point[1]) > WIDEST_M) {
        return None;
    }
    let (mut twice, mut moment) = (0.0, [0.0; 2]);
    for (a, b) in flat.iter().zip(flat.iter().skip(1)) {
        let cross = a[0] * b[1] - a[1] * b[0];
        twice += cross;
        moment = [moment[0] + cross * (a[0] + b[0]), moment[1] + cross * (a[1] + b[1])];
    }
    // Land lies to the left, so that an island's area is positive and a lake's negative.
    if twice <= 0.0 {
        return None;
    }
    let middle = moment.map(|m| m / (3.0 * twice));
    let farthest =
        flat.iter().map(|p| (p[0] - middle[0]).hypot(p[1] - middle[1])).fold(0.0, f64::max);
    let radius = (0.5 * twice / std::f64::consts::PI).sqrt();
    (2.0 * farthest <= WIDEST_M).then(|| Island {
        line: number,
        middle: frame.raise(middle),
        radius,
        diameter: 2.0 * farthest,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::headlands::space::{apart, space};
    use crate::units::Angle;

    fn circle(lon: f64, lat: f64, miles: f64, clockwise: bool) -> Outline {
        let stretch = 60.0 * Angle::from_degrees(lat).radians().cos();
        let mut points: Vec<(f64, f64)> = (0..72)
            .map(|i| {
                let (sin, cos) = Angle::from_degrees(5.0 * f64::from(i)).radians().sin_cos();
                (lon + miles * cos / stretch, lat + miles * sin / 60.0)
            })
            .collect();
        points.push(points[0]);
        Outline::new(&points, |_| false, true, !clockwise)
    }

    #[test]
    fn a_round_island_is_its_middle_and_radius() {
        for lon in [0.0, 179.999] {
            let found = island(3, &circle(lon, 40.0, 0.5, false)).unwrap();
            assert!(apart(found.middle, space(lon, 40.0)) < 2.0);
            assert!((found.radius / 926.0 - 1.0).abs() < 0.005);
            assert!((found.diameter / 1852.0 - 1.0).abs() < 0.005);
        }
    }

    #[test]
    fn lakes_and_wide_islands_are_no_islets() {
        assert_eq!(island(0, &circle(0.0, 40.0, 0.5, true)), None);
        assert_eq!(island(0, &circle(0.0, 40.0, 3.5, false)), None);
    }
}
