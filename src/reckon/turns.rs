//! What is left out where turns are taken as made on the spot.

use super::growth::Craft;
use super::legs::Leg;
use crate::units::Angle;

/// A standard-rate turn: 180° in a minute, three degrees a second (common practice in instrument flight;
/// the figure from memory).
const DEGREES_A_SECOND: f64 = 3.0;

/// A lesser change of heading is steering, and no turn, in degrees.
pub(super) const LEAST_TURN_DEG: f64 = 2.0;

/// How far a turn begun at the end of a leg sets the next one off, against one made on the spot, in
/// nautical miles.
///
/// With radius *r* and turn *θ* the arc ends *r sin θ* ahead and *r (1 − cos θ)* to the side, and took as
/// long as a run of *rθ* along the new heading: plane geometry, in the air, so that the wind is the same
/// for both. A quarter turn at 250 kn: *r* 1.326 NM, 1.527 NM off (computed).
fn set_off_nm(knots: f64, turn: f64) -> f64 {
    let radius = knots / 3600.0 / Angle::from_degrees(DEGREES_A_SECOND).radians();
    let (sin, cos) = turn.sin_cos();
    radius * (sin - turn * cos).hypot(1.0 - cos - turn * sin)
}

/// What the operator must know of the turns; none where there are none.
pub(super) fn caution(legs: &[Leg], craft: Craft) -> Option<String> {
    let turns =
        legs.iter().zip(legs.iter().skip(1)).enumerate().filter_map(|(index, (from, to))| {
            let turn =
                to.made.heading.or(to.made.track)?.minus(from.made.heading.or(from.made.track)?);
            (turn.degrees().abs() >= LEAST_TURN_DEG).then_some((
                index + 2,
                to,
                turn.radians().abs(),
            ))
        });
    let turns: Vec<_> = turns.collect();
    if turns.is_empty() {
        return None;
    }
    let plain = "turns are taken as made on the spot";
    let Craft::Aircraft = craft else {
        return Some(format!("{plain}: advance and transfer are not in it, nor the way lost"));
    };
    let widest = turns
        .iter()
        .filter_map(|(leg, to, turn)| {
            let knots = to.made.through?.knots();
            Some((*leg, knots, set_off_nm(knots, *turn)))
        })
        .max_by(|a, b| a.2.total_cmp(&b.2));
    Some(match widest {
        None => format!("{plain}: the arc that is flown is not in it"),
        Some((leg, knots, miles)) => format!(
            "{plain}. At three degrees a second, begun where the leg before ends, the widest, onto leg \
             {leg} at {knots:.0} kn, sets that leg {miles:.2} NM off: begin it early, or allow for it"
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_arc_in_small_steps_ends_where_the_formula_says() {
        // The turn flown in steps of a millisecond against the same time on the new heading.
        for (knots, degrees) in [(250.0, 90.0_f64), (120.0, 30.0), (165.0, 180.0)] {
            let turn = Angle::from_degrees(degrees).radians();
            let (mut east, mut north) = (0.0, 0.0);
            let seconds = degrees / DEGREES_A_SECOND;
            let steps = (seconds * 1000.0) as usize;
            for step in 0..steps {
                let way = turn * (step as f64 + 0.5) / steps as f64;
                let miles = knots / 3600.0 * seconds / steps as f64;
                east += miles * way.sin();
                north += miles * way.cos();
            }
            let straight = knots / 3600.0 * seconds;
            let off = (east - straight * turn.sin()).hypot(north - straight * turn.cos());
            assert!((off - set_off_nm(knots, turn)).abs() < 1e-4, "{off}");
        }
        let quarter = set_off_nm(250.0, core::f64::consts::FRAC_PI_2);
        assert!((quarter - 1.527).abs() < 1e-3, "{quarter}");
    }
}
