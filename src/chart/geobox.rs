use crate::geodesy::{MEAN_EARTH_RADIUS_M, Position};
use crate::units::{Angle, GroundRange};

/// A box of latitudes and longitudes, in degrees.
///
/// `west` is in `[-180, 180)` and `east` is never less than `west`: a box over the date line has an
/// `east` beyond 180. A box of the whole turn has `east = west + 360`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GeoBox {
    /// The southern edge.
    pub south: f64,
    /// The western edge, in `[-180, 180)`.
    pub west: f64,
    /// The northern edge.
    pub north: f64,
    /// The eastern edge; beyond 180 where the box crosses the date line.
    pub east: f64,
}

impl GeoBox {
    /// From edges in any order and turn: latitudes are held to the poles, longitudes brought into
    /// the usual turn, and a box wider than the world becomes the whole turn.
    pub fn new(south: f64, west: f64, north: f64, east: f64) -> Self {
        let (south, north) = (south.min(north).max(-90.0), north.max(south).min(90.0));
        let (west, east) = (west.min(east), east.max(west));
        if east - west >= 360.0 {
            return Self { south, west: -180.0, north, east: 180.0 };
        }
        let shift = turns_to_usual(west) * 360.0;
        Self { south, west: west + shift, north, east: east + shift }
    }

    /// The box that holds every place within `radius` of `centre`, with a margin of 1 % for the
    /// flattening of the Earth. Over a pole it is the whole turn.
    pub fn around(centre: Position, radius: GroundRange) -> Self {
        let reach = Angle::from_radians(
            (radius.metres() * 1.01 / MEAN_EARTH_RADIUS_M).min(std::f64::consts::FRAC_PI_2),
        );
        let (south, north) =
            (centre.latitude() - reach.degrees(), centre.latitude() + reach.degrees());
        if south <= -90.0 || north >= 90.0 {
            return Self::new(south, -180.0, north, 180.0);
        }
        // The meridians that touch a circle of this radius: sin(half) = sin(reach) / cos(latitude).
        let cos = Angle::from_degrees(centre.latitude()).radians().cos();
        let half = Angle::from_radians((reach.radians().sin() / cos).min(1.0).asin()).degrees();
        Self::new(south, centre.longitude() - half, north, centre.longitude() + half)
    }

    /// Grown on all sides by a distance at least; over a pole it is the whole turn.
    #[must_use]
    pub fn grown(&self, by: GroundRange) -> Self {
        let corner = |latitude, longitude| Self::around(Position::wrapped(latitude, longitude), by);
        let (south, north) = (corner(self.south, self.west), corner(self.north, self.west));
        let widest = south.east - south.west;
        let half = 0.5 * widest.max(north.east - north.west);
        Self::new(south.south, self.west - half, north.north, self.east + half)
    }

    /// Whether two boxes have a place in common.
    pub fn touches(&self, other: &Self) -> bool {
        self.south <= other.north
            && other.south <= self.north
            && [-360.0, 0.0, 360.0]
                .into_iter()
                .any(|turn| self.west <= other.east + turn && other.west + turn <= self.east)
    }

    /// Whether another box lies wholly inside, in whatever turn.
    pub fn holds(&self, other: &Self) -> bool {
        let (width, inner) = (self.east - self.west, other.east - other.west);
        let past_west = (other.west - self.west).rem_euclid(360.0);
        // A western edge that is the same may come out a hair under a whole turn.
        let past_west = if past_west > 360.0 - 1e-9 { 0.0 } else { past_west };
        self.south <= other.south
            && other.north <= self.north
            && (width >= 360.0 || past_west + inner <= width + 1e-9)
    }

    /// Whether a position lies inside or on the edge.
    pub fn contains(&self, at: Position) -> bool {
        let past_west = (at.longitude() - self.west).rem_euclid(360.0);
        (self.south..=self.north).contains(&at.latitude())
            && (past_west <= self.east - self.west || past_west >= 360.0 - 1e-12)
    }

    /// The middle of the box.
    pub fn centre(&self) -> Position {
        Position::wrapped(0.5 * (self.south + self.north), 0.5 * (self.west + self.east))
    }

    /// The smallest box over the same turn that holds both.
    #[must_use]
    pub fn joined(&self, other: &Self) -> Self {
        // Either may be moved by a turn; the narrower outcome is the one meant.
        let over = |shift: f64| {
            let (west, east) = (other.west + shift, other.east + shift);
            (self.west.min(west), self.east.max(east))
        };
        let (west, east) = [0.0, 360.0, -360.0]
            .map(over)
            .into_iter()
            .min_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)))
            .unwrap_or((self.west, self.east));
        Self::new(self.south.min(other.south), west, self.north.max(other.north), east)
    }
}

/// How many whole turns to add to a longitude to bring it into `[-180, 180)`.
pub(super) fn turns_to_usual(longitude: f64) -> f64 {
    if (-180.0..180.0).contains(&longitude) { 0.0 } else { -((longitude + 180.0) / 360.0).floor() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_box_over_the_date_line_keeps_going_east() {
        let near = GeoBox::around(
            Position::new(10.0, 179.9).unwrap(),
            GroundRange::from_nautical_miles(30.0).unwrap(),
        );
        assert!(near.west < 180.0 && near.east > 180.0, "{near:?}");
        assert!(near.contains(Position::new(10.0, -179.9).unwrap()));
        assert!(!near.contains(Position::new(10.0, 0.0).unwrap()));
    }

    #[test]
    fn a_box_over_the_pole_is_the_whole_turn() {
        let near = GeoBox::around(
            Position::new(-89.8, 10.0).unwrap(),
            GroundRange::from_nautical_miles(30.0).unwrap(),
        );
        assert!((near.east - near.west - 360.0).abs() < 1e-12);
        assert!((near.south - -90.0).abs() < 1e-12);
    }

    #[test]
    fn a_grown_box_holds_what_lies_within_the_distance() {
        use crate::geodesy::destination;
        use crate::units::Bearing;
        let by = GroundRange::from_nautical_miles(90.0).unwrap();
        for (area, whole) in [
            (GeoBox::new(-3.0, 178.0, 2.0, 183.0), false),
            (GeoBox::new(60.0, 10.0, 71.0, 14.0), false),
            (GeoBox::new(80.0, 10.0, 89.0, 14.0), true),
        ] {
            let grown = area.grown(by);
            assert!(grown.touches(&area));
            assert_eq!((grown.east - grown.west - 360.0).abs() < 1e-9, whole);
            let corners = [(area.south, area.west), (area.north, area.east)];
            for (lat, lon) in corners {
                for degrees in (0..360).step_by(15) {
                    let bearing = Bearing::wrapped_degrees(f64::from(degrees));
                    let place = destination(Position::wrapped(lat, lon), bearing, by);
                    assert!(grown.contains(place), "{area:?} {place}");
                }
            }
        }
    }

    #[test]
    fn a_box_holds_another_in_any_turn() {
        let over = GeoBox::new(-20.0, 170.0, -10.0, 190.0);
        assert!(over.holds(&over));
        assert!(over.holds(&GeoBox::new(-19.0, -179.0, -11.0, -171.0)));
        assert!(over.holds(&GeoBox::new(-19.0, 171.0, -11.0, 172.0)));
        assert!(!over.holds(&GeoBox::new(-19.0, -179.0, -11.0, -169.0)));
        assert!(!over.holds(&GeoBox::new(-19.0, 169.0, -11.0, 171.0)));
        assert!(!over.holds(&GeoBox::new(-21.0, 171.0, -11.0, 172.0)));
        let cap = GeoBox::new(60.0, -180.0, 90.0, 180.0);
        assert!(cap.holds(&GeoBox::new(70.0, 170.0, 80.0, 200.0)) && cap.holds(&cap));
        assert!(!over.holds(&GeoBox::new(-19.0, -180.0, -11.0, 180.0)));
    }

    #[test]
    fn joined_boxes_take_the_short_way() {
        let west = GeoBox::new(0.0, 178.0, 1.0, 179.0);
        let east = GeoBox::new(0.0, -179.5, 1.0, -178.0);
        let both = west.joined(&east);
        assert!((both.west - 178.0).abs() < 1e-12 && (both.east - 182.0).abs() < 1e-12);
    }
}
