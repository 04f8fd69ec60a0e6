//! What a mark sends back by itself, where the ground about it does not tell.

use super::budget::Budget;
use super::kind::{HILL, LAND};
use crate::chart::{Mark, MarkKind};
use crate::radar::terrain_gamma_db;

/// A mark's face is taken to rise one in two where nothing tells, so that a pulse strikes half its
/// own length of it at once.
const FACE_RISE: f64 = 0.5;

/// The least breadth of anything that is charted as ground, in metres.
const LEAST_BREADTH_M: f64 = 50.0;

/// Cross-section in square metres of what a mark shows.
///
/// Built things have one figure of their kind, all typical, in proportion to the part in sight: a
/// town front 5,000, a tower 200, a light and its rock 100, a buoy 10 (with reflector, as IMO
/// MSC.192(79) has it, from memory), other things 100. Ground is γ times its face, as wide as the
/// mark or the beam and as high as what is in sight of it.
///
/// - `visible_m`: metres of it in sight, from the top down; its whole height at most counts.
///
/// As of the sea below it: what is in sight counts by so much more as the upright beam has gain at its
/// height.
pub(super) fn own_m2(mark: &Mark, visible_m: f64, ground_m: f64, budget: &Budget) -> f64 {
    let top_m = mark.height.metres().max(1.0);
    let middle_m = top_m - 0.5 * visible_m.clamp(0.0, top_m);
    level_m2(mark, visible_m, ground_m, budget) * budget.rise_gain(ground_m, middle_m)
}

/// The same by itself, whatever the upright beam has there.
pub(super) fn level_m2(mark: &Mark, visible_m: f64, ground_m: f64, budget: &Budget) -> f64 {
    let height_m = mark.height.metres().max(1.0);
    let visible_m = visible_m.clamp(0.0, height_m);
    let built = |m2: f64| m2 * visible_m / height_m;
    match mark.kind {
        MarkKind::Town => built(5_000.0),
        MarkKind::Tower => built(200.0),
        MarkKind::Light | MarkKind::Other => built(100.0),
        MarkKind::Buoy => built(10.0),
        MarkKind::Headland | MarkKind::Islet => {
            face_m2(mark, visible_m, ground_m, budget, terrain_gamma_db(HILL))
        }
        MarkKind::Peak => face_m2(mark, visible_m, ground_m, budget, terrain_gamma_db(LAND)),
    }
}

fn face_m2(mark: &Mark, visible_m: f64, ground_m: f64, budget: &Budget, gamma_db: f64) -> f64 {
    let breadth = match mark.kind {
        // A summit one in ten about itself.
        MarkKind::Peak => 10.0 * visible_m,
        _ => 2.0 * mark.extent.metres(),
    };
    let breadth = breadth.max(LEAST_BREADTH_M).min(budget.across_m(ground_m));
    let at_once = visible_m.min(FACE_RISE * budget.set().pulse_length_m());
    10f64.powf(gamma_db / 10.0) * breadth * at_once
}

/// How far before and behind its position a mark's own ground lies, in metres.
pub(super) fn own_ground_m(mark: &Mark) -> (f64, f64) {
    let extent = mark.extent.metres();
    match mark.kind {
        // The slope toward the observer.
        MarkKind::Peak => (2_500.0, 300.0),
        MarkKind::Headland => {
            // The part that answers moves with the observer, and chart and grid may disagree.
            let about = (0.5 * extent).clamp(600.0, 1_500.0);
            (about, about)
        }
        MarkKind::Islet => (extent.max(150.0), extent.max(150.0)),
        MarkKind::Town => (300.0, 600.0),
        MarkKind::Light | MarkKind::Tower | MarkKind::Buoy | MarkKind::Other => (0.0, 0.0),
    }
}
