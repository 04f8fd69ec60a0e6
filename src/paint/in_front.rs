//! What lies between the antenna and a thing so far along a ray.

use super::budget::Budget;
use super::fan::Fan;
use super::mask::Mask;
use super::relief::LandSpan;

/// What lies on the way to a mark.
pub(super) struct InFront<'a> {
    pub mask: Mask<'a>,
    /// The mark stands well behind the shore.
    pub inland: bool,
    /// The highest ground about it.
    pub highest_m: f64,
}

/// What is passed on the way to a thing whose own ground begins `own_m` before it.
pub(super) fn in_front<'a>(
    spans: &[LandSpan],
    fan: &Fan,
    budget: &'a Budget,
    along_m: f64,
    own_m: f64,
) -> InFront<'a> {
    let mut mask = Mask::new(budget);
    let (mut inland, mut highest_m) = (false, 0.0_f64);
    let (nearer, farther) = (along_m - own_m, along_m + own_m);
    let mut passed_m = 0.0;
    for span in spans.iter().filter(|span| span.start_m < farther) {
        if span.start_m > fan.step_m {
            mask.sea_to(span.start_m.min(nearer).max(1.0));
        }
        let from_m = if span.from_cut { along_m } else { along_m - 1_000.0 };
        inland |= span.start_m < from_m && span.end_m > along_m;
        for (i, &height) in span.heights.iter().enumerate() {
            let ground_m = fan.distance_m(span.first + i);
            if ground_m > farther {
                break;
            }
            if ground_m < nearer {
                mask.land(ground_m, f64::from(height));
            } else {
                highest_m = highest_m.max(f64::from(height));
            }
        }
        passed_m = span.end_m;
    }
    if passed_m < nearer {
        mask.sea_to(nearer);
    }
    InFront { mask, inland, highest_m }
}
