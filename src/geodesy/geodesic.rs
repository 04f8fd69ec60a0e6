use std::sync::LazyLock;

use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};

use super::position::Position;
use crate::units::{Bearing, GroundRange, True};

static WGS84: LazyLock<Geodesic> = LazyLock::new(Geodesic::wgs84);

/// The shortest line from one position to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// Its length over the ellipsoid.
    pub distance: GroundRange,
    /// Its direction where it starts.
    pub initial: Bearing<True>,
    /// Its direction where it ends, still going forward.
    pub arrival: Bearing<True>,
}

/// The geodesic from `from` to `to`. Between one place and itself the direction is 000.
///
/// Source: Karney 2013, by geographiclib; good to 15 nanometres.
///
/// Flinders Peak to Buninyong (value reproduced with an independent library):
/// ```
/// # use foreland::geodesy::{Position, course};
/// let flinders = Position::new(-37.951_033_417, 144.424_867_889)?;
/// let buninyong = Position::new(-37.652_821_139, 143.926_495_528)?;
/// let line = course(flinders, buninyong);
/// assert!((line.distance.metres() - 54_972.271).abs() < 0.001);
/// assert!((line.initial.degrees() - 306.868_159).abs() < 1e-5);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn course(from: Position, to: Position) -> Course {
    let (metres, initial, arrival, _) = InverseGeodesic::<(f64, f64, f64, f64)>::inverse(
        &*WGS84,
        from.latitude(),
        from.longitude(),
        to.latitude(),
        to.longitude(),
    );
    Course {
        distance: GroundRange::clamped_metres(metres),
        initial: Bearing::wrapped_degrees(initial),
        arrival: Bearing::wrapped_degrees(arrival),
    }
}

/// The length of the geodesic between two positions.
pub fn distance(from: Position, to: Position) -> GroundRange {
    course(from, to).distance
}

/// The position reached along the geodesic that leaves `from` in direction `initial`.
pub fn destination(from: Position, initial: Bearing<True>, run: GroundRange) -> Position {
    let (latitude, longitude) = DirectGeodesic::<(f64, f64)>::direct(
        &*WGS84,
        from.latitude(),
        from.longitude(),
        initial.degrees(),
        run.metres(),
    );
    Position::wrapped(latitude, longitude)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One record of the outside table: from, to, distance, both directions.
    type Line = (f64, f64, f64, f64, f64, f64, f64);

    /// Sources: Karney's GeodTest.dat (Zenodo record 32156, CC0), line seen quoted and reproduced
    /// with geographiclib; two cases of the PROJ geodtest suite, likewise; three lines of Karney
    /// 2013 (choice of case from memory, values reproduced with an independent library).
    const LINES: [Line; 6] = [
        (
            36.530_042_355_041,
            0.0,
            -48.164_270_779_097_77,
            5.762_344_694_676_51,
            9_398_502.043_468_7,
            176.125_875_162_171,
            175.334_308_316_285_4,
        ),
        (
            35.607_77,
            -139.448_15,
            -11.174_91,
            -69.959_21,
            8_935_244.560_481_83,
            111.098_748_429_560_33,
            129.289_270_889_708_76,
        ),
        (
            55.524_54,
            106.050_87,
            77.031_96,
            197.182_34,
            4_105_086.171_392_441,
            22.020_059_880_982_8,
            109.112_041_110_671_52,
        ),
        (40.0, 0.0, 41.793_310_205_06, 137.844_900_043_77, 10_000_000.0, 30.0, 149.090_169_318_07),
        (-30.123_45, 0.0, -30.123_44, 0.000_05, 4.944_208_284, 77.043_533_54, 77.043_508_45),
        (-30.0, 0.0, 29.9, 179.8, 19_989_832.827_61, 161.890_524_736_33, 18.090_737_245_74),
    ];

    /// The inputs above are printed to eleven digits: a millimetre on the ground.
    const METRES: f64 = 2e-3;
    const DEGREES: f64 = 1e-6;

    #[test]
    fn published_lines_come_out() {
        for (lat1, lon1, lat2, lon2, metres, azi1, azi2) in LINES {
            let from = Position::new(lat1, lon1).unwrap();
            let to = Position::new(lat2, lon2).unwrap();
            let line = course(from, to);
            assert!((line.distance.metres() - metres).abs() < METRES, "{line:?}");
            assert!((line.initial.degrees() - azi1).abs() < DEGREES, "{line:?}");
            assert!((line.arrival.degrees() - azi2).abs() < DEGREES, "{line:?}");
            let reached = destination(from, line.initial, line.distance);
            assert!(distance(reached, to).metres() < METRES, "{reached:?}");
        }
    }

    #[test]
    fn one_degree_on_the_ellipsoid() {
        // Reproduced with geographiclib in another language.
        let arc = |a, b, c, d| {
            distance(Position::new(a, b).unwrap(), Position::new(c, d).unwrap()).metres()
        };
        assert!((arc(0.0, 0.0, 0.0, 1.0) - 111_319.490_79).abs() < 1e-4);
        assert!((arc(0.0, 0.0, 1.0, 0.0) - 110_574.388_56).abs() < 1e-4);
        assert!((arc(50.0, 0.0, 51.0, 0.0) - 111_238.680_86).abs() < 1e-4);
        assert!((arc(50.0, 0.0, 50.0, 1.0) - 71_695.219_61).abs() < 1e-4);
    }

    #[test]
    fn lines_cross_the_date_line() {
        let west = Position::new(10.0, 179.5).unwrap();
        let east = Position::new(10.0, -179.5).unwrap();
        assert!((distance(west, east).nautical_miles() - 59.2).abs() < 0.1);
    }
}
