//! What a contact should have read: the geometry from an assumed own position to a mark.

use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::radar::geometry::{EarthRadius, slant_partials, slant_range};
use crate::units::{Angle, Bearing, GroundRange, Height, SlantRange, True};

/// What a contact on a mark should read, and how that changes with own position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Predicted {
    /// Slant range.
    pub range: SlantRange,
    /// True bearing at own position.
    pub bearing: Bearing<True>,
    /// Metres of range for each metre that own position goes east and north.
    pub range_by: [f64; 2],
    /// Radians of bearing for each metre that own position goes east and north.
    pub bearing_by: [f64; 2],
    /// Metres of range for each metre of own height.
    pub range_by_height: f64,
}

/// Slant range and true bearing of `target` from `own`, with their derivatives.
///
/// Range: the chord between the two heights over a sphere that fits the Earth in that direction
/// ([`slant_range`]). Bearing: the direction in the plane, turned by the convergence of the
/// meridians at `own` ([`convergence`]), so that it is the azimuth at the observer and not its
/// reciprocal at the mark. Away from the plane's centre both lose a little: within 20 NM of it, and
/// of a target within 60 NM, under 10 m of range and 0.01° of bearing (tested against geodesics);
/// bearings off an aircraft plotted from the mark instead would be wrong by 0.1 to 1.3 NM.
///
/// - `own`, `target`: in `plane`; heights above mean sea level.
/// - derivatives: by own position; straight over the target the bearing's are zero.
pub fn predicted(
    plane: &LocalPlane,
    own: PlanePoint,
    own_height: Height,
    target: PlanePoint,
    target_height: Height,
) -> Predicted {
    let (east, north) = (target.east - own.east, target.north - own.north);
    let ground = east.hypot(north);
    let along = GroundRange::clamped_metres(ground);
    let flat = Bearing::<True>::wrapped(east.atan2(north));
    let turn = convergence(plane, own);
    let bearing = flat.turned(turn);
    let radius = EarthRadius::towards(plane.centre(), bearing);
    let partials = slant_partials(own_height, target_height, along, radius);
    let (u_east, u_north) = if ground > 0.0 { (east / ground, north / ground) } else { (0.0, 0.0) };
    // Convergence grows eastward by the tangent of the latitude over the radius.
    let latitude = Angle::from_degrees(plane.centre().latitude()).radians();
    let turn_by_east = if latitude.cos() > 1e-3 { latitude.tan() / radius.metres() } else { 0.0 };
    let by = |part: f64| if ground > 0.0 { part / ground } else { 0.0 };
    Predicted {
        range: slant_range(own_height, target_height, along, radius),
        bearing,
        range_by: [-partials.along * u_east, -partials.along * u_north],
        bearing_by: [by(-u_north) + turn_by_east, by(u_east)],
        range_by_height: partials.own_height,
    }
}

/// The turn from the plane's north at a point to true north there: added to a direction of the
/// plane it gives the true one.
///
/// Every line through the centre is straight in the plane, and its azimuth turns along it by the
/// convergence of the meridians, `tan(γ/2) = tan(Δλ/2) sin φm / cos(Δφ/2)` on the sphere (Napier's
/// analogies; the ellipsoid adds under 0.01° within 60 NM, tested).
pub fn convergence(plane: &LocalPlane, at: PlanePoint) -> Angle {
    convergence_between(plane.centre(), plane.to_position(at))
}

/// The same, between the plane's centre and a position of it.
pub(crate) fn convergence_between(centre: Position, at: Position) -> Angle {
    let radians = |degrees: f64| Angle::from_degrees(degrees).radians();
    let half_east = radians(at.longitude() - centre.longitude()) / 2.0;
    let middle = radians(f64::midpoint(at.latitude(), centre.latitude()));
    let half_north = radians(at.latitude() - centre.latitude()) / 2.0;
    let (sin, cos) = half_east.sin_cos();
    Angle::from_radians(2.0 * (sin * middle.sin()).atan2(cos * half_north.cos()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::{course, destination, distance};
    use proptest::prelude::*;

    fn miles(value: f64) -> GroundRange {
        GroundRange::from_nautical_miles(value).unwrap()
    }

    fn feet(value: f64) -> Height {
        Height::from_feet(value).unwrap()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(1000))]

        #[test]
        fn it_is_the_geodesic_from_the_observer(
            latitude in -72.0f64..72.0, longitude in -180.0f64..180.0,
            off in 0.0f64..20.0, off_towards in 0.0f64..360.0,
            far in 1.0f64..60.0, towards in 0.0f64..360.0,
        ) {
            // Outside reference: geographiclib.
            let centre = Position::wrapped(latitude, longitude);
            let own = destination(centre, Bearing::wrapped_degrees(off_towards), miles(off));
            let mark = destination(own, Bearing::wrapped_degrees(towards), miles(far));
            let plane = LocalPlane::new(centre);
            let told = predicted(
                &plane, plane.to_plane(own), Height::SEA_LEVEL,
                plane.to_plane(mark), Height::SEA_LEVEL,
            );
            let line = course(own, mark);
            let bearing = told.bearing.minus(line.initial).degrees();
            prop_assert!(bearing.abs() < 0.01, "bearing off by {}°", bearing);
            let range = told.range.metres() - line.distance.metres();
            prop_assert!(range.abs() < 10.0, "range off by {} m", range);
        }

        #[test]
        fn derivatives_are_the_slopes(
            latitude in -70.0f64..70.0,
            own_east in -20_000.0f64..20_000.0, own_north in -20_000.0f64..20_000.0,
            far in 2_000.0f64..100_000.0, towards in 0.0f64..360.0,
            own_feet in 0.0f64..30_000.0, mark_feet in 0.0f64..3_000.0,
        ) {
            // Central differences over 2 m.
            let plane = LocalPlane::new(Position::wrapped(latitude, 12.0));
            let own = PlanePoint { east: own_east, north: own_north };
            let (sin, cos) = Bearing::<True>::wrapped_degrees(towards).sin_cos();
            let mark = PlanePoint { east: own_east + far * sin, north: own_north + far * cos };
            let at = |east: f64, north: f64, up_m: f64| {
                let own = PlanePoint { east: own.east + east, north: own.north + north };
                let height = Height::from_metres(feet(own_feet).metres() + up_m).unwrap();
                predicted(&plane, own, height, mark, feet(mark_feet))
            };
            let told = at(0.0, 0.0, 0.0);
            for (axis, (east, north)) in [(1.0, 0.0), (0.0, 1.0)].into_iter().enumerate() {
                let (ahead, behind) = (at(east, north, 0.0), at(-east, -north, 0.0));
                let range = (ahead.range - behind.range) / 2.0;
                prop_assert!((range - told.range_by[axis]).abs() < 2e-4, "{range} {told:?}");
                let bearing = ahead.bearing.minus(behind.bearing).radians() / 2.0;
                let scale = 1.0 / far;
                prop_assert!((bearing - told.bearing_by[axis]).abs() < 1e-3 * scale + 2e-9);
            }
            let height = (at(0.0, 0.0, 1.0).range - at(0.0, 0.0, -1.0).range) / 2.0;
            prop_assert!((height - told.range_by_height).abs() < 1e-4 || own_feet < 10.0);
        }
    }

    #[test]
    fn a_bearing_is_at_the_aircraft_not_at_the_mark() {
        // An aircraft measures 045 to a headland. Where it is, and what plotting 225 from the
        // headland would cost: computed on a sphere of 6371 km; 0.005 NM are for the ellipsoid.
        const TOLERANCE_NM: f64 = 0.005;
        for (mark, range, aircraft, cost) in [
            ((50.0, 0.0), 20.0, (49.765_03, -0.366_44), 0.098),
            ((50.0, 0.0), 60.0, (49.298_53, -1.099_33), 0.877),
            ((60.0, 0.0), 20.0, (59.765_29, -0.471_09), 0.142),
            ((60.0, 0.0), 60.0, (59.300_88, -1.413_33), 1.276),
        ] {
            let mark = Position::new(mark.0, mark.1).unwrap();
            let aircraft = Position::new(aircraft.0, aircraft.1).unwrap();
            let plane = LocalPlane::new(mark);
            let told = predicted(
                &plane,
                plane.to_plane(aircraft),
                Height::SEA_LEVEL,
                plane.to_plane(mark),
                Height::SEA_LEVEL,
            );
            let across = told.bearing.minus(Bearing::wrapped_degrees(45.0)).radians() * range;
            // Sphere and ellipsoid differ by up to 0.2 % of the range and 0.1° of direction.
            assert!(across.abs() < 0.002 * range + TOLERANCE_NM, "{across}");
            let plotted = destination(mark, Bearing::wrapped_degrees(225.0), miles(range));
            let line = course(aircraft, mark);
            let back = told.bearing.reciprocal().turned(line.arrival.minus(line.initial));
            let truly = destination(mark, back, miles(range));
            let told_cost = distance(plotted, truly).nautical_miles();
            assert!((told_cost - cost).abs() < 0.002 * range + TOLERANCE_NM, "{told_cost} {cost}");
        }
    }

    #[test]
    fn right_overhead_nothing_blows_up() {
        let plane = LocalPlane::new(Position::new(-38.0, -21.0).unwrap());
        let here = PlanePoint::default();
        let told = predicted(&plane, here, feet(2000.0), here, Height::SEA_LEVEL);
        assert!((told.range.metres() - 609.6).abs() < 1e-6);
        assert!(told.bearing_by.iter().chain(&told.range_by).all(|slope| slope.is_finite()));
    }
}
