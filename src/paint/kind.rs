//! What a piece of ground is taken as: by the chart's cover where it has one, else by its slope.

use std::fmt;

use crate::chart::Terrain;
use crate::radar::terrain_gamma_db;

/// Ground that nothing classes.
pub(super) const LAND: Terrain = Terrain::Farmland;

/// The same where it is a hill, and any steep face.
pub(super) const HILL: Terrain = Terrain::WoodedHills;

/// Rise over run from which ground that nothing classes counts as a hill: 4°.
const HILL_RISE: f64 = 0.07;

/// Rise over run from which ground counts as a face: 20°.
pub(super) const STEEP_RISE: f64 = 0.364;

/// What a piece of ground is taken as, and why.
///
/// A class of the chart's cover gives the γ of its ground, whatever its slope, but that a face of
/// 20° and more sends back no less than a hill: no beach or field stands so steep, and cover and
/// heights may lie some hundred metres apart. Ground that nothing classes is farmland, from 4° of
/// slope wooded hills.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Kind {
    /// As what.
    pub terrain: Terrain,
    /// Why.
    pub by: KindBy,
}

/// Why ground is taken as what it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KindBy {
    /// A polygon of the chart's cover says so.
    Cover,
    /// The chart says so of all ground that nothing classes.
    Stated,
    /// Nothing classes it: by its slope.
    Slope,
    /// It is a steep face, whatever it is classed as.
    Face,
}

impl KindBy {
    /// As scripts read it.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Cover => "cover",
            Self::Stated => "stated",
            Self::Slope => "slope",
            Self::Face => "face",
        }
    }
}

impl Kind {
    /// From what the chart says of a place (a class, and whether a polygon gives it), and its slope
    /// as rise over run.
    pub(super) fn of(class: Option<(Terrain, bool)>, rise: f64) -> Self {
        match class {
            None if rise > HILL_RISE => Self { terrain: HILL, by: KindBy::Slope },
            None => Self { terrain: LAND, by: KindBy::Slope },
            Some((class, _))
                if rise > STEEP_RISE && terrain_gamma_db(class) < terrain_gamma_db(HILL) =>
            {
                Self { terrain: HILL, by: KindBy::Face }
            }
            Some((terrain, true)) => Self { terrain, by: KindBy::Cover },
            Some((terrain, false)) => Self { terrain, by: KindBy::Stated },
        }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let why = match (self.by, self.terrain == HILL) {
            (KindBy::Cover, _) => "by the chart's cover",
            (KindBy::Stated, _) => "as the chart states for unclassed ground",
            (KindBy::Slope, true) => "not classed, slope over 4 deg",
            (KindBy::Slope, false) => "not classed, slope under 4 deg",
            (KindBy::Face, _) => "a face over 20 deg, whatever its class",
        };
        write!(f, "{} {} dB: {why}", self.terrain.as_str(), terrain_gamma_db(self.terrain))
    }
}

/// γ of every class as a factor, worked out once.
pub(super) struct Gammas([f64; Terrain::ALL.len()]);

impl Gammas {
    pub fn new() -> Self {
        Self(Terrain::ALL.map(|class| 10f64.powf(terrain_gamma_db(class) / 10.0)))
    }

    pub fn of(&self, terrain: Terrain) -> f64 {
        // The classes are listed in the order of their numbers.
        self.0.get(terrain as usize).copied().unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cover_gives_its_ground_and_slope_the_rest() {
        let of = |class, rise| Kind::of(class, rise).terrain;
        assert_eq!(of(None, 0.05), Terrain::Farmland);
        assert_eq!(of(None, 0.10), Terrain::WoodedHills);
        for rise in [0.0, 0.10, 0.30] {
            let marsh = Kind::of(Some((Terrain::VerySmooth, true)), rise);
            assert_eq!(marsh, Kind { terrain: Terrain::VerySmooth, by: KindBy::Cover });
        }
        let stated = Kind::of(Some((Terrain::Desert, false)), 0.2);
        assert_eq!(stated, Kind { terrain: Terrain::Desert, by: KindBy::Stated });
    }

    #[test]
    fn a_face_is_no_beach_but_stays_a_town() {
        let face = Kind::of(Some((Terrain::VerySmooth, true)), 0.5);
        assert_eq!(face, Kind { terrain: Terrain::WoodedHills, by: KindBy::Face });
        let town = Kind::of(Some((Terrain::Urban, true)), 0.5);
        assert_eq!(town, Kind { terrain: Terrain::Urban, by: KindBy::Cover });
    }

    #[test]
    fn factors_are_those_of_their_class() {
        for class in Terrain::ALL {
            let db = 10.0 * Gammas::new().of(class).log10();
            assert!((db - terrain_gamma_db(class)).abs() < 1e-9, "{class:?} {db}");
        }
    }
}
