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
    /// A gradient that is no number.
    #[error("a gradient of {gradient} N/km is no number: -39 is the standard, 0 a straight ray")]
    Gradient {
        /// N units for each kilometre up.
        gradient: f64,
    },
}

/// What the air does to a ray, against the standard atmosphere.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refraction {
    /// The ray bends away from the sea: dN/dh above 0, k below 1.
    Sub,
    /// Near the standard.
    Normal,
    /// It bends much more than the standard: dN/dh at or below -79 N/km, k 2.013 (threshold from
    /// memory).
    Super,
    /// It follows the sea: dN/dh at or beyond -157 N/km (threshold from memory, of ITU-R P.834).
    Duct,
}

impl Refraction {
    /// What an operator must know of ranges reckoned in such air; `None` where it is the usual.
    pub fn caution(self) -> Option<&'static str> {
        match self {
            Self::Normal => None,
            Self::Sub => Some(
                "sub-refraction: rays bend away from the sea, and land shows later and nearer than \
                 usual; such air is seldom the same over the whole path",
            ),
            Self::Super => Some(
                "super-refraction: rays bend more than usual, and land shows from farther off, \
                 second-time echoes too; such air is seldom the same over the whole path",
            ),
            Self::Duct => Some(
                "ducting: rays follow the sea, which no enlarged Earth stands for; the curve of the \
                 Earth is all but taken away here, and ranges past the usual horizon are beyond \
                 the model",
            ),
        }
    }
}

/// The Earth enlarged by `k`, over which a refracted ray is straight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EffectiveEarth {
    k: f64,
}

impl EffectiveEarth {
    /// The greatest factor: a ray that all but follows the sea. From 1 ft up the horizon is then
    /// 34 NM off, from 1,000 ft 1,064 NM (computed). Air that ducts counts as this.
    pub const FLATTEST: f64 = 1000.0;

    /// Where super-refraction begins, N/km (from memory).
    const SUPER_N_PER_KM: f64 = -79.0;

    /// `k` = 4/3: the standard atmosphere of radar work.
    pub fn standard() -> Self {
        Self { k: 4.0 / 3.0 }
    }

    /// Any factor above [`EffectiveEarth::FLATTEST`] counts as that.
    ///
    /// # Errors
    /// `k` is not a number above 0.
    pub fn with_k(k: f64) -> Result<Self, RefractionError> {
        if k > 0.0 && k.is_finite() {
            Ok(Self { k: k.min(Self::FLATTEST) })
        } else {
            Err(RefractionError::Factor { k })
        }
    }

    /// From the gradient of refractivity, in N units for each kilometre up: k = 1/(1 + a·dN/dh·10⁻⁶)
    /// (ITU-R P.453 for N; the form from memory).
    ///
    /// At -156.96 N/km the ray follows the sea and the form divides by nothing; beyond, k would be
    /// negative. There, and where k would pass it, [`EffectiveEarth::FLATTEST`] stands, and
    /// [`EffectiveEarth::refraction`] tells of a duct.
    ///
    /// # Errors
    /// The gradient is no finite number.
    ///
    /// ```
    /// # use foreland::radar::{EffectiveEarth, Refraction};
    /// let usual = EffectiveEarth::with_gradient(-39.24)?;
    /// assert!((usual.k() - 4.0 / 3.0).abs() < 1e-4);
    /// assert_eq!(EffectiveEarth::with_gradient(-157.0)?.refraction(), Refraction::Duct);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn with_gradient(n_per_km: f64) -> Result<Self, RefractionError> {
        if !n_per_km.is_finite() {
            return Err(RefractionError::Gradient { gradient: n_per_km });
        }
        let inverse = 1.0 + MEAN_EARTH_RADIUS_M * 1e-9 * n_per_km;
        Ok(Self { k: 1.0 / inverse.max(1.0 / Self::FLATTEST) })
    }

    /// The gradient of refractivity that its factor stands for, N/km.
    pub fn gradient_n_per_km(self) -> f64 {
        (1.0 / self.k - 1.0) / (MEAN_EARTH_RADIUS_M * 1e-9)
    }

    /// How this air stands to the usual.
    pub fn refraction(self) -> Refraction {
        // A thousandth of a unit for the way there and back through k.
        let gradient = self.gradient_n_per_km();
        if self.k >= Self::FLATTEST * (1.0 - 1e-9) {
            Refraction::Duct
        } else if gradient > 1e-3 {
            Refraction::Sub
        } else if gradient <= Self::SUPER_N_PER_KM + 1e-3 {
            Refraction::Super
        } else {
            Refraction::Normal
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
        // Computed: k = 1/(1 + a·dN/dh·1e-6), a = 6371 km. The regimes' thresholds (0, -79, -157)
        // from memory, of ITU-R P.310 and P.834.
        use Refraction::{Normal, Sub, Super};
        let table = [
            (79.0, 0.6652, Sub),
            (0.0, 1.0, Normal),
            (-39.0, 1.3306, Normal),
            (-40.0, 1.3420, Normal),
            (-39.24, 1.3333, Normal),
            (-79.0, 2.0133, Super),
            (-100.0, 2.7556, Super),
        ];
        for (gradient, k, refraction) in table {
            let earth = EffectiveEarth::with_gradient(gradient).unwrap();
            assert!((earth.k() - k).abs() < 6e-5, "{gradient}: {}", earth.k());
            assert_eq!(earth.refraction(), refraction, "{gradient}");
            assert!((earth.gradient_n_per_km() - gradient).abs() < 1e-9, "{gradient}");
        }
        // ITU's other form, k = 157/(157 - ΔN) (from memory): 1.33051 at ΔN = 39 (computed).
        assert!((EffectiveEarth::with_gradient(-39.0).unwrap().k() - 1.330_51).abs() < 2e-4);
        for none in [f64::NAN, f64::NEG_INFINITY] {
            assert!(EffectiveEarth::with_gradient(none).is_err(), "{none}");
        }
    }

    #[test]
    fn a_duct_is_a_long_horizon_and_a_caution_never_a_division_by_nothing() {
        // Computed: the ray follows the sea at -1e6/6371 = -156.961 N/km; the first form gives
        // k = -4049 at -157, the other divides by zero there.
        for gradient in [-156.96, -1e6 / 6371.0, -156.961, -157.0, -200.0, -1e6, f64::MIN] {
            let earth = EffectiveEarth::with_gradient(gradient).unwrap();
            assert_eq!(earth.refraction(), Refraction::Duct, "{gradient}");
            assert!((earth.k() - EffectiveEarth::FLATTEST).abs() < 1e-6, "{gradient}");
            let reach = earth.horizon_of(Height::from_feet(1_000.0).unwrap());
            assert!((reach.nautical_miles() - 1_064.1).abs() < 1.0, "{reach:?}");
        }
        assert!(Refraction::Duct.caution().unwrap().contains("beyond the model"));
        assert!(Refraction::Normal.caution().is_none());
        // More bending, never less sight.
        let own = Height::from_feet(100.0).unwrap();
        let reach = |gradient: f64| {
            EffectiveEarth::with_gradient(gradient).unwrap().horizon_of(own).nautical_miles()
        };
        let all: Vec<f64> = (-300..300).rev().map(|gradient| reach(f64::from(gradient))).collect();
        assert!(all.windows(2).all(|pair| pair[0] <= pair[1]));
    }

    #[test]
    fn a_factor_is_above_nothing() {
        assert!(EffectiveEarth::with_k(0.0).is_err());
        assert!(EffectiveEarth::with_k(-1.3).is_err());
        assert!(EffectiveEarth::with_k(f64::NAN).is_err());
        assert!(EffectiveEarth::with_k(0.5).is_ok());
    }
}
