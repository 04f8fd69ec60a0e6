use super::raster::{DOTS_ACROSS, DOTS_DOWN, Dot};
use crate::chart::GeoBox;
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::units::{Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, True};

/// The part of the world that the chart panel shows: to scale in every direction, one of them up.
#[derive(Debug, Clone, Copy)]
pub struct Port {
    plane: LocalPlane,
    metres_per_dot: f64,
    columns: usize,
    rows: usize,
    /// What lies at the top.
    up: Bearing<True>,
}

/// The most ground shown from the centre to a corner: beyond it the flat picture no longer holds.
const MOST_REACH_NM: f64 = 300.0;

/// The least and the most nautical miles that the shorter side of the panel can show.
pub const SPAN_NM: (f64, f64) = (0.5, 400.0);

impl Port {
    /// A panel of so many character cells around `centre`, its shorter side `span_nm` long.
    pub fn new(centre: Position, span_nm: f64, columns: usize, rows: usize) -> Self {
        let (width, height) = ((columns * DOTS_ACROSS) as f64, (rows * DOTS_DOWN) as f64);
        let (short, diagonal) = (width.min(height).max(1.0), width.hypot(height).max(1.0));
        let span = span_nm.clamp(SPAN_NM.0, SPAN_NM.1).min(MOST_REACH_NM * 2.0 * short / diagonal);
        Self {
            plane: LocalPlane::new(centre),
            metres_per_dot: span * METRES_PER_NAUTICAL_MILE / short,
            columns,
            rows,
            up: Bearing::ZERO,
        }
    }

    /// The same part of the world turned, so that this direction lies at the top.
    #[must_use]
    pub fn turned(self, up: Bearing<True>) -> Self {
        Self { up, ..self }
    }

    /// The place in the middle.
    pub fn centre(&self) -> Position {
        self.plane.centre()
    }

    /// What lies at the top.
    pub fn up(&self) -> Bearing<True> {
        self.up
    }

    /// A true direction as an angle of the picture: radians clockwise from up.
    pub fn angle(&self, direction: Bearing<True>) -> f64 {
        direction.minus(self.up).radians()
    }

    /// Character cells across.
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// Character cells down.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Metres from one dot to the next.
    pub fn metres_per_dot(&self) -> f64 {
        self.metres_per_dot
    }

    /// Nautical miles along the panel's shorter side.
    pub fn span_nm(&self) -> f64 {
        let short = (self.columns * DOTS_ACROSS).min(self.rows * DOTS_DOWN) as f64;
        short * self.metres_per_dot / METRES_PER_NAUTICAL_MILE
    }

    /// Where a position stands in the panel; it may lie outside.
    pub fn dot(&self, position: Position) -> Dot {
        self.of_plane(self.plane.to_plane(position))
    }

    fn of_plane(&self, point: PlanePoint) -> Dot {
        let (width, height) = ((self.columns * DOTS_ACROSS) as f64, (self.rows * DOTS_DOWN) as f64);
        let (sin, cos) = self.up.sin_cos();
        let (right, above) =
            (point.east * cos - point.north * sin, point.east * sin + point.north * cos);
        Dot {
            x: width / 2.0 + right / self.metres_per_dot,
            y: height / 2.0 - above / self.metres_per_dot,
        }
    }

    /// The position under a dot.
    pub fn position(&self, dot: Dot) -> Position {
        let (width, height) = ((self.columns * DOTS_ACROSS) as f64, (self.rows * DOTS_DOWN) as f64);
        let right = (dot.x - width / 2.0) * self.metres_per_dot;
        let above = (height / 2.0 - dot.y) * self.metres_per_dot;
        let (sin, cos) = self.up.sin_cos();
        self.plane.to_position(PlanePoint {
            east: right * cos + above * sin,
            north: above * cos - right * sin,
        })
    }

    /// A distance in dots.
    pub fn dots(&self, range: GroundRange) -> f64 {
        range.metres() / self.metres_per_dot
    }

    /// Half the panel's diagonal on the ground.
    pub fn reach(&self) -> GroundRange {
        let (width, height) = ((self.columns * DOTS_ACROSS) as f64, (self.rows * DOTS_DOWN) as f64);
        GroundRange::clamped_metres(width.hypot(height) / 2.0 * self.metres_per_dot)
    }

    /// A box that holds all that is shown.
    pub fn area(&self) -> GeoBox {
        GeoBox::around(self.plane.centre(), self.reach())
    }

    /// Whether two ports show the same.
    pub fn same_as(&self, other: &Self) -> bool {
        self.plane.centre() == other.plane.centre()
            && self.metres_per_dot.to_bits() == other.metres_per_dot.to_bits()
            && (self.columns, self.rows) == (other.columns, other.rows)
            && self.up == other.up
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::destination;
    use crate::units::Bearing;

    #[test]
    fn the_picture_is_to_scale_and_north_up() {
        let centre = Position::new(-38.0, -21.5).unwrap();
        let port = Port::new(centre, 40.0, 50, 20);
        assert!((port.span_nm() - 40.0).abs() < 1e-9);
        let at = |degrees: f64| {
            let run = GroundRange::from_nautical_miles(10.0).unwrap();
            port.dot(destination(centre, Bearing::wrapped_degrees(degrees), run))
        };
        let (north, east) = (at(0.0), at(90.0));
        // 40 NM over 80 dots: 10 NM are 20 dots.
        assert!((north.x - 50.0).abs() < 0.01 && (north.y - 20.0).abs() < 0.01, "{north:?}");
        assert!((east.x - 70.0).abs() < 0.01 && (east.y - 40.0).abs() < 0.05, "{east:?}");
        let back = port.position(east);
        assert!((back.longitude() - port.position(at(90.0)).longitude()).abs() < 1e-9);
    }

    #[test]
    fn turned_what_is_ahead_is_up_and_the_cursor_reads_the_same_place() {
        let centre = Position::new(-38.0, -21.5).unwrap();
        let port = Port::new(centre, 40.0, 50, 20).turned(Bearing::wrapped_degrees(70.0));
        let run = GroundRange::from_nautical_miles(10.0).unwrap();
        let ahead = destination(centre, Bearing::wrapped_degrees(70.0), run);
        let dot = port.dot(ahead);
        assert!((dot.x - 50.0).abs() < 0.05 && (dot.y - 20.0).abs() < 0.05, "{dot:?}");
        let back = port.position(dot);
        assert!((back.latitude() - ahead.latitude()).abs() < 1e-9);
        assert!((back.longitude() - ahead.longitude()).abs() < 1e-9);
    }

    #[test]
    fn no_zoom_leaves_the_flat_picture() {
        let port = Port::new(Position::new(0.0, 0.0).unwrap(), 1e9, 300, 10);
        assert!(port.reach().nautical_miles() <= MOST_REACH_NM + 1e-6);
        assert!(Port::new(Position::new(0.0, 0.0).unwrap(), f64::NAN, 0, 0).metres_per_dot() > 0.0);
    }
}
