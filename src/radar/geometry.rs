//! From what a radar measures to what a chart shows, and back.

use thiserror::Error;

use crate::geodesy::{
    MEAN_EARTH_RADIUS_M, Position, WGS84_ECCENTRICITY_SQUARED, WGS84_EQUATORIAL_RADIUS_M,
};
use crate::units::{
    Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, SlantRange, True,
};

/// The radius of the sphere that fits the Earth along the line between antenna and target.
///
/// The length of a path takes the real Earth: the enlarged one of refraction is for horizon and
/// shadow alone (bending lengthens a path of 100 NM by 0.4 m, computed).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EarthRadius {
    metres: f64,
}

impl EarthRadius {
    /// The mean radius, 6371 km: good to 0.5 % of the *difference* between slant and ground range.
    pub const MEAN: Self = Self { metres: MEAN_EARTH_RADIUS_M };

    /// The ellipsoid's own radius of curvature at `position` in the direction `bearing`.
    ///
    /// Euler: 1/R = cos²A/M + sin²A/N, M and N the radii of the meridian and the prime vertical.
    pub fn towards(position: Position, bearing: Bearing<True>) -> Self {
        let e2 = WGS84_ECCENTRICITY_SQUARED;
        let sin_latitude = Angle::from_degrees(position.latitude()).radians().sin();
        let w2 = 1.0 - e2 * sin_latitude * sin_latitude;
        let prime = WGS84_EQUATORIAL_RADIUS_M / w2.sqrt();
        let meridian = prime * (1.0 - e2) / w2;
        let (sin, cos) = bearing.sin_cos();
        Self { metres: prime * meridian / (prime * cos * cos + meridian * sin * sin) }
    }

    /// In metres.
    pub fn metres(self) -> f64 {
        self.metres
    }
}

/// A slant range that no target can have: shorter than the height between it and the antenna.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error(
    "a slant range of {:.2} NM is shorter than the {:.2} NM of height between antenna and target: \
     nothing can answer from there; check the range, and own height of {:.0} ft",
    slant.nautical_miles(),
    (own.metres() - target.metres()).abs() / METRES_PER_NAUTICAL_MILE,
    own.feet()
)]
pub struct SlantError {
    /// The range as measured.
    pub slant: SlantRange,
    /// The antenna above the sea.
    pub own: Height,
    /// The target above the sea.
    pub target: Height,
}

/// How a slant range changes with what it is reckoned from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlantPartials {
    /// Metres of slant range for a metre along the ground.
    pub along: f64,
    /// Metres of slant range for a metre of own height.
    pub own_height: f64,
}

/// The straight line from the antenna to a target whose foot lies `along` the ground.
///
/// ρ² = (h₁−h₂)² + 4(R+h₁)(R+h₂) sin²(s/2R): the chord, in the form that loses no digits when it
/// is short. Refraction (0.4 m at 100 NM) and the index of air (55 m at 100 NM, part of a set's
/// scale error) are not in it.
///
/// A mark 9.438 NM off along the ground, seen from 20,000 ft (computed):
/// ```
/// # use foreland::{radar::geometry::{EarthRadius, slant_range}, units::{GroundRange, Height}};
/// let own = Height::from_feet(20_000.0)?;
/// let along = GroundRange::from_nautical_miles(9.4379)?;
/// let slant = slant_range(own, Height::SEA_LEVEL, along, EarthRadius::MEAN);
/// assert!((slant.nautical_miles() - 10.0).abs() < 1e-3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn slant_range(
    own: Height,
    target: Height,
    along: GroundRange,
    radius: EarthRadius,
) -> SlantRange {
    SlantRange::clamped_metres(chord(own, target, along, radius))
}

/// The distance along the ground to a target measured at a slant range: [`slant_range`] solved.
///
/// # Errors
/// The slant range is shorter than the difference of the two heights.
pub fn ground_range(
    slant: SlantRange,
    own: Height,
    target: Height,
    radius: EarthRadius,
) -> Result<GroundRange, SlantError> {
    let rise = own.metres() - target.metres();
    let flat2 = slant.metres() * slant.metres() - rise * rise;
    if flat2 < 0.0 {
        return Err(SlantError { slant, own, target });
    }
    let spread = 2.0 * ((radius.metres + own.metres()) * (radius.metres + target.metres())).sqrt();
    let arc = 2.0 * radius.metres * (flat2.sqrt() / spread).min(1.0).asin();
    Ok(GroundRange::clamped_metres(arc))
}

/// How far under the horizontal a ray sets out that meets a target so far along the ground: the
/// drop to it and half the curve of an Earth enlarged by refraction, `k` = 4/3.
///
/// The dip of the sea horizon is the greatest: √(2h/(k·R)), 0.486° from 1,000 ft (closed form):
/// ```
/// # use foreland::{radar::geometry::depression, units::{GroundRange, Height}};
/// let own = Height::from_feet(1_000.0)?;
/// let horizon = GroundRange::from_metres((2.0 * 4.0 / 3.0 * 6_371_000.0 * own.metres()).sqrt())?;
/// let dip = depression(own, Height::SEA_LEVEL, horizon);
/// assert!((dip.degrees() - 0.4856).abs() < 5e-4);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn depression(own: Height, target: Height, along: GroundRange) -> Angle {
    Angle::from_radians(depression_of(own.metres() - target.metres(), along.metres()).0)
}

/// [`depression`] in plain radians for a drop and a distance in metres, and its derivative by the
/// distance.
pub(crate) fn depression_of(drop_m: f64, along_m: f64) -> (f64, f64) {
    let curve = 1.0 / (2.0 * (4.0 / 3.0) * MEAN_EARTH_RADIUS_M);
    let slant2 = (drop_m * drop_m + along_m * along_m).max(1.0);
    (drop_m.atan2(along_m) + along_m * curve, curve - drop_m / slant2)
}

/// The derivatives of [`slant_range`]; straight below the antenna, those of a plumb line.
pub fn slant_partials(
    own: Height,
    target: Height,
    along: GroundRange,
    radius: EarthRadius,
) -> SlantPartials {
    let slant = chord(own, target, along, radius);
    if slant <= 0.0 {
        return SlantPartials { along: 1.0, own_height: 0.0 };
    }
    let (a1, a2) = (radius.metres + own.metres(), radius.metres + target.metres());
    let arc = along.metres() / radius.metres;
    let half = (0.5 * arc).sin();
    SlantPartials {
        along: a1 * a2 * arc.sin() / (radius.metres * slant),
        own_height: (own.metres() - target.metres() + 2.0 * a2 * half * half) / slant,
    }
}

fn chord(own: Height, target: Height, along: GroundRange, radius: EarthRadius) -> f64 {
    let (a1, a2) = (radius.metres + own.metres(), radius.metres + target.metres());
    let half = (0.5 * along.metres() / radius.metres).sin();
    (own.metres() - target.metres()).hypot(2.0 * (a1 * a2).sqrt() * half)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn miles(value: f64) -> SlantRange {
        SlantRange::from_nautical_miles(value).unwrap()
    }

    /// Slant ranges of the two tables below, in NM.
    const SLANTS: [f64; 6] = [2.0, 5.0, 10.0, 20.0, 30.0, 50.0];

    /// Height in feet, then ground range in NM for each of [`SLANTS`] over a flat sea;
    /// `None` where the slant range is shorter than the height.
    ///
    /// Computed from G² = S² − H². The subject is that of USAF AFPAM 11-216 (1 March 2001), para
    /// 7.19, whose own table was not seen.
    const FLAT: [(f64, [Option<f64>; 6]); 6] = [
        (1_000.0, [Some(1.993), Some(4.997), Some(9.999), Some(19.999), Some(30.0), Some(50.0)]),
        (
            5_000.0,
            [Some(1.823), Some(4.932), Some(9.966), Some(19.983), Some(29.989), Some(49.993)],
        ),
        (
            10_000.0,
            [Some(1.136), Some(4.721), Some(9.864), Some(19.932), Some(29.955), Some(49.973)],
        ),
        (20_000.0, [None, Some(3.764), Some(9.443), Some(19.727), Some(29.819), Some(49.892)]),
        (30_000.0, [None, Some(0.789), Some(8.696), Some(19.381), Some(29.591), Some(49.756)]),
        (40_000.0, [None, None, Some(7.527), Some(18.885), Some(29.269), Some(49.565)]),
    ];

    /// The flat table against the round Earth: the sea falls away by up to 0.08 % of the range
    /// under an aircraft at 40,000 ft.
    const FLAT_SHARE: f64 = 1.1e-3;

    #[test]
    fn slant_to_ground_table() {
        for (feet, row) in FLAT {
            let own = Height::from_feet(feet).unwrap();
            for (slant, flat) in SLANTS.into_iter().zip(row) {
                let found = ground_range(miles(slant), own, Height::SEA_LEVEL, EarthRadius::MEAN);
                match flat {
                    None => assert!(found.is_err(), "{feet} ft, {slant} NM: {found:?}"),
                    Some(flat) => {
                        let off = found.unwrap().nautical_miles() - flat;
                        assert!(off.abs() < FLAT_SHARE * slant + 5e-4, "{feet} {slant} {off}");
                    }
                }
            }
        }
    }

    #[test]
    fn slant_to_ground_on_an_enlarged_sphere() {
        // Computed: cos β = (R² + (R+H)² − S²)/(2R(R+H)), G = βR, R = 4/3 of 6371 km.
        let radius = EarthRadius { metres: MEAN_EARTH_RADIUS_M * 4.0 / 3.0 };
        let table = [
            (5_000.0, [9.9652, 19.9813, 49.9890, 99.9896]),
            (20_000.0, [9.4394, 19.7202, 49.8739, 99.9119]),
            (40_000.0, [7.5220, 18.8720, 49.5294, 99.7135]),
        ];
        for (feet, row) in table {
            let own = Height::from_feet(feet).unwrap();
            for (slant, expected) in [10.0, 20.0, 50.0, 100.0].into_iter().zip(row) {
                let found = ground_range(miles(slant), own, Height::SEA_LEVEL, radius).unwrap();
                assert!(
                    (found.nautical_miles() - expected).abs() < 1e-4,
                    "{feet} {slant} {found:?}"
                );
            }
        }
    }

    #[test]
    fn near_an_aircraft_slant_and_ground_part_company() {
        // Computed over a flat sea: 1,000 ft, 1 NM: 0.986; 10,000 ft, 5 NM: 4.721; and so on.
        let table = [
            (1_000.0, 1.0, 0.986),
            (1_500.0, 2.0, 1.985),
            (5_000.0, 3.0, 2.885),
            (10_000.0, 5.0, 4.721),
            (20_000.0, 10.0, 9.443),
        ];
        for (feet, slant, flat) in table {
            let own = Height::from_feet(feet).unwrap();
            let found = ground_range(miles(slant), own, Height::SEA_LEVEL, EarthRadius::MEAN);
            let off = found.unwrap().nautical_miles() - flat;
            assert!(off.abs() < FLAT_SHARE * slant, "{feet} {slant} {off}");
        }
    }

    #[test]
    fn a_slant_range_under_the_height_is_refused_in_words() {
        let own = Height::from_feet(20_000.0).unwrap();
        let refused = ground_range(miles(2.0), own, Height::SEA_LEVEL, EarthRadius::MEAN);
        assert_eq!(
            refused.unwrap_err().to_string(),
            "a slant range of 2.00 NM is shorter than the 3.29 NM of height between antenna and \
             target: nothing can answer from there; check the range, and own height of 20000 ft"
        );
    }

    proptest! {
        #[test]
        fn slant_and_ground_go_there_and_back(
            own in 0.0f64..12_000.0, target in 0.0f64..3_000.0, along in 0.0f64..400_000.0,
            latitude in -90.0f64..90.0, azimuth in 0.0f64..360.0,
        ) {
            let (own, target) =
                (Height::from_metres(own).unwrap(), Height::from_metres(target).unwrap());
            let along = GroundRange::from_metres(along).unwrap();
            let radius = EarthRadius::towards(
                Position::wrapped(latitude, 0.0), Bearing::wrapped_degrees(azimuth));
            let slant = slant_range(own, target, along, radius);
            let back = ground_range(slant, own, target, radius);
            // Straight below, a rounding error in the slant range is a metre on the ground.
            prop_assert!(along.metres() < 10.0 || (back.unwrap() - along).abs() < 0.01);
        }

        #[test]
        fn partials_are_the_slopes_of_the_range(
            own in 100.0f64..12_000.0, target in 0.0f64..3_000.0, along in 2_000.0f64..400_000.0,
        ) {
            let at = |own: f64, along: f64| slant_range(
                Height::from_metres(own).unwrap(), Height::from_metres(target).unwrap(),
                GroundRange::from_metres(along).unwrap(), EarthRadius::MEAN).metres();
            let found = slant_partials(
                Height::from_metres(own).unwrap(), Height::from_metres(target).unwrap(),
                GroundRange::from_metres(along).unwrap(), EarthRadius::MEAN);
            prop_assert!((found.along - 0.5 * (at(own, along + 1.0) - at(own, along - 1.0))).abs() < 1e-5);
            prop_assert!(
                (found.own_height - 0.5 * (at(own + 1.0, along) - at(own - 1.0, along))).abs() < 1e-5);
        }
    }
}
