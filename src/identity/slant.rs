use crate::geodesy::MEAN_EARTH_RADIUS_M;

/// A slant range in metres, and how it changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slant {
    pub range: f64,
    /// For each metre along the ground.
    pub by_ground: f64,
    /// For each metre of own height.
    pub by_own: f64,
}

/// The slant range over `ground` metres between two heights.
///
/// The straight chord over a sphere: ρ² = (h₁ - h₂)² + 4 (R + h₁)(R + h₂) sin²(s / 2R). Taking the
/// mean radius for the radius along the line changes it by under a metre within 100 NM, and the
/// bending of the ray by half a metre.
pub(super) fn slant(ground: f64, own: f64, target: f64) -> Slant {
    let r = MEAN_EARTH_RADIUS_M;
    let (a, b) = (r + own, r + target);
    let half = ground / (2.0 * r);
    let half_sine = half.sin();
    let squared = (own - target).powi(2) + 4.0 * a * b * half_sine * half_sine;
    let range = squared.sqrt();
    if range <= 0.0 {
        return Slant { range: 0.0, by_ground: 1.0, by_own: 0.0 };
    }
    Slant {
        range,
        by_ground: a * b * (2.0 * half).sin() / (r * range),
        by_own: (own - target + 2.0 * b * half_sine * half_sine) / range,
    }
}

/// The ground under a slant range of something at sea level, metres, and how much it changes with
/// each metre of that range.
pub(crate) fn ground_under(range: f64, own: f64) -> (f64, f64) {
    let along = ground(range, own, 0.0);
    (along, 1.0 / slant(along.max(1.0), own, 0.0).by_ground.max(0.05))
}

/// The slant range over so many metres of ground between two heights.
pub(crate) fn slant_of(ground: f64, own: f64, target: f64) -> f64 {
    slant(ground, own, target).range
}

/// The ground under a slant range in metres; zero where the range is shorter than the heights'
/// difference.
pub(crate) fn ground(range: f64, own: f64, target: f64) -> f64 {
    let r = MEAN_EARTH_RADIUS_M;
    let squared = range * range - (own - target).powi(2);
    let half = (squared.max(0.0) / (4.0 * (r + own) * (r + target))).sqrt().min(1.0);
    2.0 * r * half.asin()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_aircraft_ranges_longer_than_the_chart() {
        // 6,000 ft, slant 6.0 and 7.0 NM: ground 5.918 and 6.930 NM over a flat Earth (computed).
        for (range, flat) in [(6.0, 5.918), (7.0, 6.930)] {
            let along = ground(range * 1852.0, 6_000.0 * 0.3048, 0.0) / 1852.0;
            assert!((along - flat).abs() < 2e-3, "{along}");
            let here = slant(along * 1852.0, 6_000.0 * 0.3048, 0.0);
            assert!((here.range / 1852.0 - range).abs() < 1e-9);
            let further = slant(along * 1852.0 + 1.0, 6_000.0 * 0.3048, 0.0);
            assert!((further.range - here.range - here.by_ground).abs() < 1e-4);
            let higher = slant(along * 1852.0, 6_000.0 * 0.3048 + 1.0, 0.0);
            assert!((higher.range - here.range - here.by_own).abs() < 1e-4);
        }
        assert!(ground(100.0, 6_000.0, 0.0) <= 0.0);
    }
}
