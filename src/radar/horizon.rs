use thiserror::Error;

use crate::geodesy::MEAN_EARTH_RADIUS_M;
use crate::units::{GroundRange, Height};

/// A refraction that no enlarged Earth stands for.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum RefractionError {
    /// A factor that is none.
    #[error("k factor {k} is not above 0: 1.333 is the standard atmosphere, 1 a straight ray")]
    Factor {
        /// The factor given.
        k: f64,
    },
    /// A gradient at which rays follow the Earth, or no number.
    #[error(
        "a gradient of {gradient} N/km makes a duct: rays follow the Earth from -157 N/km on, and \
         no k factor stands for that; the standard is -39"
    )]
    Duct {
        /// N units for each kilometre up.
        gradient: f64,
    },
}

/// The Earth enlarged by `k`, over which a refracted ray is straight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EffectiveEarth {
    k: f64,
}

impl EffectiveEarth {
    /// The greatest factor kept apart from a flat Earth.
    const FLATTEST: f64 = 1e6;

    /// `k` = 4/3: the standard atmosphere of radar work.
    pub fn standard() -> Self {
        Self { k: 4.0 / 3.0 }
    }

    /// # Errors
    /// `k` is not a number above 0.
    pub fn with_k(k: f64) -> Result<Self, RefractionError> {
        if k > 0.0 && k.is_finite() {
            Ok(Self { k: k.min(Self::FLATTEST) })
        } else {
            Err(RefractionError::Factor { k })
        }
    }

    /// From the gradient of refractivity: k = 1/(1 + a·dN/dh·10⁻⁶) (ITU-R P.453 for N; the form
    /// from memory).
    ///
    /// # Errors
    /// At -156.96 N/km a ray follows the Earth; there and below it is ducted.
    pub fn with_gradient(n_per_km: f64) -> Result<Self, RefractionError> {
        let inverse = 1.0 + MEAN_EARTH_RADIUS_M * 1e-9 * n_per_km;
        if inverse > 1.0 / Self::FLATTEST && inverse.is_finite() {
            Ok(Self { k: 1.0 / inverse })
        } else {
            Err(RefractionError::Duct { gradient: n_per_km })
        }
    }

    /// The factor.
    pub fn k(self) -> f64 {
        self.k
    }

    /// Its radius in metres: `k` times the mean radius.
    pub fn radius_m(self) -> f64 {
        self.k * MEAN_EARTH_RADIUS_M
    }

    /// Greatest range at which a radar and a target of these heights see each other over a smooth
    /// sea.
    ///
    /// Each height has its own horizon, and the two add: `R·acos(R/(R+h))`, `R = k·a`, the path
    /// being straight over an Earth enlarged by refraction (effective radius: ITU-R P.834, from
    /// memory). Terrain between the two, diffraction and ducting are not in it: see
    /// [`crate::paint`].
    ///
    /// - `antenna`, `target`: above mean sea level; below it counts as at it.
    /// - returns: along the ground.
    ///
    /// 1,000 ft and a 100 ft cliff at `k` = 4/3 (computed; the handbooks' 1.23·√h gives 51.2 NM):
    /// ```
    /// # use foreland::{radar::EffectiveEarth, units::Height};
    /// let earth = EffectiveEarth::standard();
    /// let reach = earth.horizon(Height::from_feet(1_000.0)?, Height::from_feet(100.0)?);
    /// assert!((reach.nautical_miles() - 51.142).abs() < 0.005);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn horizon(self, antenna: Height, target: Height) -> GroundRange {
        self.horizon_of(antenna) + self.horizon_of(target)
    }

    /// How far the sea is in sight from a height.
    pub fn horizon_of(self, height: Height) -> GroundRange {
        let (radius, height) = (self.radius_m(), height.metres().max(0.0));
        // By atan2: acos loses its digits near the sea.
        let arc = (height * (2.0 * radius + height)).sqrt().atan2(radius);
        GroundRange::clamped_metres(radius * arc)
    }

    /// How far the sea has fallen away below the tangent plane at a distance, in metres.
    pub fn drop_m(self, along: GroundRange) -> f64 {
        along.metres() * along.metres() / (2.0 * self.radius_m())
    }
}

impl Default for EffectiveEarth {
    fn default() -> Self {
        Self::standard()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_horizons_at_four_thirds() {
        // Computed: R·acos(R/(R+h)), R = 4/3 of 6371 km, in NM.
        let feet = [
            (50.0, 8.688),
            (100.0, 12.287),
            (1_000.0, 38.855),
            (5_000.0, 86.877),
            (10_000.0, 122.854),
            (20_000.0, 173.716),
        ];
        let metres = [(15.0, 8.620), (100.0, 22.256), (300.0, 38.548), (1_000.0, 70.376)];
        let earth = EffectiveEarth::standard();
        for (height, expected) in feet {
            let found = earth.horizon_of(Height::from_feet(height).unwrap()).nautical_miles();
            assert!((found - expected).abs() < 6e-4, "{height} ft: {found}");
        }
        for (height, expected) in metres {
            let found = earth.horizon_of(Height::from_metres(height).unwrap()).nautical_miles();
            assert!((found - expected).abs() < 6e-4, "{height} m: {found}");
        }
    }

    #[test]
    fn handbook_rules_agree_within_three_quarters_of_a_percent() {
        // 1.22·√h (feet) and 2.21·√h (metres): Bowditch and the Radar Navigation Manual, seen
        // second-hand. 1.23 and 2.23: in many marine manuals, seen.
        let earth = EffectiveEarth::standard();
        for height in [50.0, 100.0, 1_000.0, 5_000.0, 10_000.0, 20_000.0_f64] {
            let exact = earth.horizon_of(Height::from_feet(height).unwrap()).nautical_miles();
            for coefficient in [1.22, 1.23] {
                assert!((coefficient * height.sqrt() / exact - 1.0).abs() < 0.0075);
            }
        }
        for height in [15.0, 100.0, 300.0, 1_000.0_f64] {
            let exact = earth.horizon_of(Height::from_metres(height).unwrap()).nautical_miles();
            for coefficient in [2.21, 2.22, 2.23] {
                assert!((coefficient * height.sqrt() / exact - 1.0).abs() < 0.0075);
            }
        }
    }

    #[test]
    fn other_atmospheres_scale_by_the_root_of_k() {
        // Computed: √(2ka) in NM per √ft.
        for (k, expected) in [(1.0, 1.0641), (7.0 / 6.0, 1.1494), (6.0 / 5.0, 1.1657)] {
            let earth = EffectiveEarth::with_k(k).unwrap();
            let found = earth.horizon_of(Height::from_feet(1.0).unwrap()).nautical_miles();
            assert!((found - expected).abs() < 6e-5, "{k}: {found}");
        }
    }

    #[test]
    fn both_ends_count() {
        // Computed with 1.23·(√h + √H), feet and NM: within 0.75 % of the exact value.
        let table = [
            (50.0, 200.0, 26.09),
            (500.0, 200.0, 44.90),
            (1_000.0, 100.0, 51.20),
            (2_000.0, 50.0, 63.70),
            (1_000.0, 1_000.0, 77.79),
            (5_000.0, 300.0, 108.28),
        ];
        for (own, target, rule) in table {
            let found = EffectiveEarth::standard()
                .horizon(Height::from_feet(own).unwrap(), Height::from_feet(target).unwrap());
            assert!((found.nautical_miles() / rule - 1.0).abs() < 0.0075, "{own} {target}");
        }
    }

    #[test]
    fn k_from_the_gradient_of_refractivity() {
        // Computed: k = 1/(1 + a·dN/dh·1e-6), a = 6371 km.
        let table = [
            (79.0, 0.6652),
            (0.0, 1.0),
            (-39.0, 1.3306),
            (-40.0, 1.3420),
            (-39.24, 1.3333),
            (-79.0, 2.0133),
            (-100.0, 2.7556),
        ];
        for (gradient, k) in table {
            let found = EffectiveEarth::with_gradient(gradient).unwrap().k();
            assert!((found - k).abs() < 6e-5, "{gradient}: {found}");
        }
        for duct in [-157.0, -200.0, f64::NAN, f64::NEG_INFINITY] {
            assert!(EffectiveEarth::with_gradient(duct).is_err(), "{duct}");
        }
    }

    #[test]
    fn a_factor_is_above_nothing() {
        assert!(EffectiveEarth::with_k(0.0).is_err());
        assert!(EffectiveEarth::with_k(-1.3).is_err());
        assert!(EffectiveEarth::with_k(f64::NAN).is_err());
        assert!(EffectiveEarth::with_k(0.5).is_ok());
    }
}
