//! Reckoning and a fix, or a position line, as one: the most probable position.

use crate::fix::Grade;
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position};
use crate::units::{Bearing, GroundRange, True};

/// A fix against the reckoning for the same time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// From the reckoning to the fix.
    pub offset: GroundRange,
    /// The direction of it.
    pub bearing: Bearing<True>,
    /// Squared statistical distance, two degrees of freedom.
    pub chi2: f64,
    /// The chance of so great a distance, or a greater, where nothing is wrong.
    pub chance: f64,
}

impl Agreement {
    /// Of an offset and the covariance of both errors together, square metres.
    pub(super) fn of(off: PlanePoint, both: Covariance) -> Self {
        let (offset, bearing) = off.polar();
        let chi2 = both.mahalanobis_squared(off.east, off.north);
        // χ² of two degrees of freedom in closed form.
        Self { offset, bearing, chi2, chance: (-0.5 * chi2).exp() }
    }

    /// How well the two agree, by the rule of a fix's own verdict.
    pub fn grade(self) -> Grade {
        Grade::of_chance(self.chance)
    }

    /// Whether the two may be taken together, at one chance in a thousand.
    pub fn agrees(self) -> bool {
        self.grade().agrees()
    }
}

/// The weight of what lies so far off, where the reckoning was moved by so much: along the line to it.
/// None where it lies on the reckoning.
pub(super) fn weight_of(off: PlanePoint, moved: PlanePoint) -> Option<f64> {
    let square = off.east * off.east + off.north * off.north;
    let along = moved.east * off.east + moved.north * off.north;
    (square > 0.0).then(|| along / square)
}

/// Whether a fix and a reckoning with independent errors agree.
///
/// The offset against the sum of the two covariances: χ² with two degrees of freedom.
pub fn agreement(reckoned: (Position, Covariance), fixed: (Position, Covariance)) -> Agreement {
    let off = LocalPlane::new(reckoned.0).to_plane(fixed.0);
    Agreement::of(off, reckoned.1.plus(fixed.1))
}

/// A line that a measurement puts us on, and how far to either side it may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PositionLine {
    /// Any place on it.
    pub through: Position,
    /// Square to it.
    pub square: Bearing<True>,
    /// One standard deviation, square to the line.
    pub sigma: GroundRange,
}

/// Two pieces of knowledge as one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Combined {
    /// The most probable position.
    pub position: Position,
    /// Its error.
    pub covariance: Covariance,
    /// What part of the offset it moved from the reckoning toward the other: the weight of the other,
    /// along the offset. The reckoning's is what is left to one.
    pub weight: f64,
    /// Whether the two may be taken together at all.
    pub agreement: Agreement,
}

/// Reckoning and fix weighed by their information; independent errors.
///
/// x = (P₁⁻¹ + P₂⁻¹)⁻¹ (P₁⁻¹ x₁ + P₂⁻¹ x₂), P the same inverse (least squares). `None` where the two are
/// at odds: an average of a right and a wrong position is a third that is wrong.
pub fn most_probable(
    reckoned: (Position, Covariance),
    fixed: (Position, Covariance),
) -> Option<Combined> {
    let agreement = agreement(reckoned, fixed);
    if !agreement.agrees() {
        return None;
    }
    let plane = LocalPlane::new(reckoned.0);
    let off = plane.to_plane(fixed.0);
    let ([a, b, d], [e, f, h]) = (reckoned.1.square_metres(), fixed.1.square_metres());
    let ([sa, sb, sd], [p, q, r]) = ([a + e, b + f, d + h], [a, b, d]);
    let determinant = sa * sd - sb * sb;
    if determinant <= 0.0 {
        return None;
    }
    // K = P₁ (P₁ + P₂)⁻¹
    let k = [
        [(p * sd - q * sb) / determinant, (q * sa - p * sb) / determinant],
        [(q * sd - r * sb) / determinant, (r * sa - q * sb) / determinant],
    ];
    let [[kee, ken], [kne, knn]] = k;
    let moved = PlanePoint {
        east: kee * off.east + ken * off.north,
        north: kne * off.east + knn * off.north,
    };
    let covariance = Covariance::from_square_metres(
        p - kee * p - ken * q,
        q - kee * q - ken * r,
        r - kne * q - knn * r,
    )
    .ok()?;
    let weight = weight_of(off, moved).unwrap_or(0.0);
    Some(Combined { position: plane.to_position(moved), covariance, weight, agreement })
}

/// Reckoning and one position line: moved toward the line by its weight, along it where the reckoning's
/// error is slanted. `None` where the two are at odds.
///
/// Reckoning circular, sigma 3 NM; a line 6 NM off, sigma 1: moved 5.400 NM, 0.949 NM left across the
/// line (computed):
/// ```
/// # use foreland::geodesy::{Covariance, Position, along_track, distance};
/// # use foreland::reckon::{PositionLine, most_probable_with_line};
/// # use foreland::units::{Bearing, GroundRange};
/// let miles = |value| GroundRange::from_nautical_miles(value);
/// let here = Position::new(0.0, 0.0)?;
/// let square = Bearing::from_degrees(90.0)?;
/// let through = along_track(here, square, miles(6.0)?.metres());
/// let line = PositionLine { through, square, sigma: miles(1.0)? };
/// let both = most_probable_with_line((here, Covariance::circular(miles(3.0)?)), line).ok_or("odds")?;
/// assert!((distance(here, both.position).nautical_miles() - 5.400).abs() < 1e-3);
/// assert!((both.covariance.sigma_towards(square) / 1852.0 - 0.949).abs() < 1e-3);
/// assert!((both.weight - 0.9).abs() < 1e-6);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn most_probable_with_line(
    reckoned: (Position, Covariance),
    line: PositionLine,
) -> Option<Combined> {
    let plane = LocalPlane::new(reckoned.0);
    let at = plane.to_plane(line.through);
    let (sin, cos) = line.square.sin_cos();
    let short = at.east * sin + at.north * cos;
    let [ee, en, nn] = reckoned.1.square_metres();
    // P h and h P h.
    let (east, north) = (ee * sin + en * cos, en * sin + nn * cos);
    let across = east * sin + north * cos;
    let total = across + line.sigma.metres().powi(2);
    if total <= 0.0 {
        return None;
    }
    let chi2 = short * short / total;
    let to_line = PlanePoint { east: short * sin, north: short * cos };
    let (offset, bearing) = to_line.polar();
    // One degree of freedom: twice the normal law's tail.
    let chance = statrs::function::erf::erfc((0.5 * chi2).sqrt());
    let agreement = Agreement { offset, bearing, chi2, chance };
    if !agreement.agrees() {
        return None;
    }
    let by = short / total;
    let moved = PlanePoint { east: east * by, north: north * by };
    let covariance = Covariance::from_square_metres(
        ee - east * east / total,
        en - east * north / total,
        nn - north * north / total,
    )
    .ok()?;
    let position = plane.to_position(moved);
    Some(Combined { position, covariance, weight: across / total, agreement })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::distance;

    fn miles(value: f64) -> GroundRange {
        GroundRange::from_nautical_miles(value).unwrap()
    }

    fn line(degrees: f64, off: f64, sigma: f64) -> (Position, PositionLine) {
        let here = Position::new(-38.0, -21.0).unwrap();
        let square = Bearing::wrapped_degrees(degrees);
        let through = LocalPlane::new(here).to_position(PlanePoint::at(miles(off), square));
        (here, PositionLine { through, square, sigma: miles(sigma) })
    }

    #[test]
    fn weights_go_by_the_squares_of_the_errors() {
        // Reckoning sigma, line sigma, apart; moved and new sigma (computed, weights 1/σ²).
        for (reckoned, sigma, apart, moved, left) in [
            (3.0, 1.0, 6.0, 5.400, 0.949),
            (4.0, 2.0, 10.0, 8.000, 1.789),
            (2.0, 2.0, 4.0, 2.0, 1.414),
        ] {
            let (here, line) = line(60.0, apart, sigma);
            let known = Covariance::circular(miles(reckoned));
            let both = most_probable_with_line((here, known), line).unwrap();
            let way = distance(here, both.position).nautical_miles();
            assert!((way - moved).abs() < 1e-3, "{way}");
            let sigma = both.covariance.sigma_towards(line.square) / 1852.0;
            assert!((sigma - left).abs() < 1e-3, "{sigma}");
        }
    }

    #[test]
    fn in_two_dimensions_the_ellipse_lies_along_the_line() {
        // Circular 4 NM, a line 6 NM off toward 060, sigma 1: E 4.890, N 2.824, 5.647 NM; 4.000 by
        // 0.970, long axis 150° (computed).
        let (here, line) = line(60.0, 6.0, 1.0);
        let both = most_probable_with_line((here, Covariance::circular(miles(4.0))), line).unwrap();
        let moved = LocalPlane::new(here).to_plane(both.position);
        assert!((moved.east / 1852.0 - 4.890).abs() < 1e-3);
        assert!((moved.north / 1852.0 - 2.824).abs() < 1e-3);
        let (long, short, axis) = both.covariance.axes();
        assert!((long.sqrt() / 1852.0 - 4.0).abs() < 1e-6);
        assert!((short.sqrt() / 1852.0 - 0.970).abs() < 5e-4);
        assert!((axis.degrees() - 150.0).abs() < 1e-6);
        assert!((both.weight - 16.0 / 17.0).abs() < 1e-9);
        // The same line as a fix that is long the one way says the same.
        let long = Covariance::along_across(miles(300.0), miles(1.0), axis);
        let same =
            most_probable((here, Covariance::circular(miles(4.0))), (line.through, long)).unwrap();
        assert!(distance(same.position, both.position).nautical_miles() < 0.005);
    }

    #[test]
    fn a_rule_by_time_and_distance_is_more_timid() {
        // An older handbook's rule, as a navigator retold it (seen second-hand), shares the offset out by
        // errors and not by their squares; values computed.
        let by_errors = |reckoned: f64, line: f64, apart: f64| apart * reckoned / (reckoned + line);
        for (reckoned, sigma, apart, timid) in [(3.0, 1.0, 6.0, 4.5), (4.0, 2.0, 10.0, 6.667)] {
            assert!((by_errors(reckoned, sigma, apart) - timid).abs() < 5e-4);
            let (here, line) = line(0.0, apart, sigma);
            let known = Covariance::circular(miles(reckoned));
            let both = most_probable_with_line((here, known), line).unwrap();
            assert!(distance(here, both.position).nautical_miles() > timid);
        }
    }

    #[test]
    fn what_is_at_odds_is_not_averaged() {
        let (here, far) = line(60.0, 14.0, 1.0);
        let known = Covariance::circular(miles(4.0));
        // 14 NM over √17: 3.40 sigma, one chance in 1,470 for a line.
        assert_eq!(most_probable_with_line((here, known), far), None);
        let fixed = Covariance::circular(miles(1.0));
        // χ² 11.53 of two degrees of freedom: three chances in a thousand (computed).
        let told = agreement((here, known), (far.through, fixed));
        assert!((told.chi2 - 196.0 / 17.0).abs() < 1e-3);
        assert_eq!(told.grade(), Grade::Unusual);
        assert!((told.chance - 0.003_14).abs() < 2e-5, "{}", told.chance);
        assert!((told.bearing.degrees() - 60.0).abs() < 1e-6);
        let (_, further) = line(60.0, 16.0, 1.0);
        assert_eq!(most_probable((here, known), (further.through, fixed)), None);
    }
}
