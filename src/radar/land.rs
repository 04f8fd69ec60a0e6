use crate::chart::Terrain;
use crate::units::Angle;

/// γ of a class of ground in decibels: what it sends back for each square metre across the line of
/// sight.
///
/// Of tables made for some 10 GHz, and used at every frequency: how γ goes with frequency differs from
/// ground to ground, and no figure for it was found. Real ground scatters by 6 dB about these.
///
/// - flat land −20: published (documentation of a general radar library, read);
/// - farmland, desert −15, rolling hills −12, wooded hills −10, mountains and towns −5, rugged
///   mountains and the heart of a great city 0: from memory, of Barton's table;
/// - woods −15: from memory, of another table;
/// - very smooth ground (sand, a road) −25: from memory. Mud and marsh are counted to it: common
///   practice, no published source.
pub fn terrain_gamma_db(terrain: Terrain) -> f64 {
    match terrain {
        Terrain::VerySmooth => -25.0,
        Terrain::Flat => -20.0,
        Terrain::Farmland | Terrain::Desert | Terrain::Woods => -15.0,
        Terrain::RollingHills => -12.0,
        Terrain::WoodedHills => -10.0,
        Terrain::Mountains | Terrain::Urban => -5.0,
        Terrain::RuggedMountains | Terrain::Metropolitan => 0.0,
    }
}

/// Echo of ground for each square metre of it, σ⁰ in decibels: `γ + 10 log₁₀ sin α`.
///
/// The constant-γ model: ground answers for its area across the line of sight.
///
/// - `gamma_db`: as [`terrain_gamma_db`] gives it; `grazing`: between the ray and the ground.
///
/// Farmland at 1° (computed):
/// ```
/// # use foreland::{chart::Terrain, radar::{land_clutter_db, terrain_gamma_db}, units::Angle};
/// let gamma = terrain_gamma_db(Terrain::Farmland);
/// assert!((land_clutter_db(gamma, Angle::from_degrees(1.0)) - -32.58).abs() < 0.005);
/// ```
pub fn land_clutter_db(gamma_db: f64, grazing: Angle) -> f64 {
    gamma_db + 10.0 * grazing.radians().sin().max(f64::MIN_POSITIVE).log10()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::radar::{Polarisation, sea_clutter_db};

    /// γ and σ⁰ at these grazing angles, decibels (computed from the formula).
    const ANGLES: [f64; 6] = [0.1, 0.3, 1.0, 3.0, 10.0, 30.0];
    const TABLE: [(f64, [f64; 6]); 5] = [
        (-20.0, [-47.58, -42.81, -37.58, -32.81, -27.60, -23.01]),
        (-15.0, [-42.58, -37.81, -32.58, -27.81, -22.60, -18.01]),
        (-10.0, [-37.58, -32.81, -27.58, -22.81, -17.60, -13.01]),
        (-5.0, [-32.58, -27.81, -22.58, -17.81, -12.60, -8.01]),
        (0.0, [-27.58, -22.81, -17.58, -12.81, -7.60, -3.01]),
    ];

    /// Half the last digit printed.
    const PRINTED_DB: f64 = 0.0051;

    #[test]
    fn the_formula_gives_its_table() {
        for (gamma, row) in TABLE {
            for (angle, expected) in ANGLES.into_iter().zip(row) {
                let found = land_clutter_db(gamma, Angle::from_degrees(angle));
                assert!((found - expected).abs() < PRINTED_DB, "{gamma} {angle}: {found}");
            }
        }
    }

    #[test]
    fn land_stands_over_the_sea_as_computed() {
        // At 1°, 9.4 GHz, level (computed from this formula and the sea's): flat land, farmland and
        // mountains over sea states 1, 3 and 5.
        let over = |terrain: Terrain, state: u8| {
            let grazing = Angle::from_degrees(1.0);
            land_clutter_db(terrain_gamma_db(terrain), grazing)
                - sea_clutter_db(grazing, 9_400.0, Polarisation::Horizontal, state)
        };
        for (terrain, row) in [
            (Terrain::Flat, [18.98, 6.17, -2.32]),
            (Terrain::Farmland, [23.98, 11.17, 2.68]),
            (Terrain::Mountains, [33.98, 21.17, 12.68]),
        ] {
            for (state, expected) in [1, 3, 5].into_iter().zip(row) {
                let found = over(terrain, state);
                assert!((found - expected).abs() < 0.01, "{terrain:?} {state}: {found}");
            }
        }
        // A beach is no brighter than that sea.
        assert!(over(Terrain::VerySmooth, 5) < 0.0);
    }

    #[test]
    fn rougher_classes_send_back_no_less() {
        let gammas = Terrain::ALL.map(terrain_gamma_db);
        assert!(gammas.windows(2).all(|pair| pair[0] <= pair[1]), "{gammas:?}");
    }
}
