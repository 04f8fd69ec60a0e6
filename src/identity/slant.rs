use crate::geodesy::MEAN_EARTH_RADIUS_M;

/// Slant range in metres over `ground` metres between two heights, and its derivative by `ground`.
///
/// The straight chord over a sphere: ρ² = (h₁ - h₂)² + 4 (R + h₁)(R + h₂) sin²(s / 2R). Taking the
/// mean radius for the radius along the line changes it by under a metre within 100 NM, and the
/// bending of the ray by half a metre.
pub(super) fn slant(ground: f64, own: f64, target: f64) -> (f64, f64) {
    let r = MEAN_EARTH_RADIUS_M;
    let (a, b) = (r + own, r + target);
    let half = ground / (2.0 * r);
    let squared = (own - target).powi(2) + 4.0 * a * b * half.sin().powi(2);
    let range = squared.sqrt();
    if range <= 0.0 {
        return (0.0, 1.0);
    }
    (range, a * b * (2.0 * half).sin() / (r * range))
}

/// The ground under a slant range in metres; zero where the range is shorter than the heights'
/// difference.
pub(super) fn ground(range: f64, own: f64, target: f64) -> f64 {
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
            let (back, slope) = slant(along * 1852.0, 6_000.0 * 0.3048, 0.0);
            assert!((back / 1852.0 - range).abs() < 1e-9);
            let (further, _) = slant(along * 1852.0 + 1.0, 6_000.0 * 0.3048, 0.0);
            assert!((further - back - slope).abs() < 1e-4);
        }
        assert!(ground(100.0, 6_000.0, 0.0) <= 0.0);
    }
}
