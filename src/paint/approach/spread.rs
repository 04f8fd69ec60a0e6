use statrs::distribution::{Continuous, ContinuousCDF, Normal};

use super::plan::Plan;

/// The displaced tracks that are tried: standard deviations of the reckoning's error across,
/// evenly spaced, the planned track in the middle.
pub(super) const ACROSS: [f64; 5] = [-2.0, -1.0, 0.0, 1.0, 2.0];

/// What lies outside the span told, at each end.
const TAIL: f64 = 0.025;

/// When something happens, as far as the reckoning tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Seconds from the start before which it happens in one case of forty; zero where it may have
    /// happened before the start.
    pub earliest_s: f64,
    /// Seconds from the start after which it happens in one case of forty; `None` where in more
    /// than one of forty it never does.
    pub latest_s: Option<f64>,
    /// The chance that it happens by the end of the run, from the reckoning's error alone.
    pub by_the_end: f64,
}

/// The spread of the time of an event over the reckoning's error.
///
/// Three errors, independent and normal, steady over the run: where the run starts, the track made
/// good, the speed made good. Across the track the first two add to one displacement; along each of
/// the displaced tracks of [`ACROSS`] the event lies at a run of its own, and between them it is
/// taken on straight lines. Along the track the start's error a and the speed's error d remain: the
/// event at a run s has happened by the time t where a + (v + d)·t is s or more, so that
///
/// P(by t) = ∫ Φ((v·t − s(u)) / √(σ² + σᵥ²·t²)) φ(u) du
///
/// exactly, whose 2.5 and 97.5 % are solved for. What is left out: that a track turned by its error
/// sees everything under a bearing turned as much.
///
/// - `runs_m`: the event's run on each displaced track, `None` where it does not happen there.
pub(super) fn spread(plan: &Plan, runs_m: &[Option<f64>; 5], end_m: f64) -> Spread {
    let normal = Normal::standard();
    let v = plan.speed.metres_per_second();
    let (sigma, speed_sigma) = (plan.sigma.metres(), plan.speed_sigma.metres_per_second());
    // Across displacements of up to four standard deviations, with their weights.
    let nodes: Vec<(f64, f64)> = (-40..=40)
        .map(|i| f64::from(i) * 0.1)
        .filter_map(|u| at(runs_m, u).map(|run_m| (run_m, 0.1 * normal.pdf(u))))
        .collect();
    let by = |t: f64| -> f64 {
        let width = sigma.hypot(speed_sigma * t).max(1e-3);
        nodes.iter().map(|(run_m, weight)| weight * normal.cdf((v * t - run_m) / width)).sum()
    };
    let end_s = plan.seconds(end_m);
    let last_s = 4.0 * end_s + 8.0 * plan.seconds(sigma) + 3_600.0;
    let solve = |share: f64| -> Option<f64> {
        if by(0.0) >= share {
            return Some(0.0);
        }
        let (mut low, mut high) = (0.0, last_s);
        if by(high) < share {
            return None;
        }
        while high - low > 0.25 {
            let middle = 0.5 * (low + high);
            if by(middle) < share { low = middle } else { high = middle }
        }
        Some(high)
    };
    Spread {
        earliest_s: solve(TAIL).unwrap_or(0.0),
        latest_s: solve(1.0 - TAIL),
        by_the_end: by(end_s).clamp(0.0, 1.0),
    }
}

/// The event's run at a displacement: between tracks that see it, and beyond the outermost, on a
/// straight line; where only one of two neighbours sees it, up to half way.
fn at(runs_m: &[Option<f64>; 5], across: f64) -> Option<f64> {
    let place = across - ACROSS[0];
    let below = (place.max(0.0) as usize).min(3);
    let share = place - below as f64;
    match (runs_m[below], runs_m[below + 1]) {
        (Some(a), Some(b)) => Some(a + (b - a) * share),
        (Some(a), None) if share < 0.5 => Some(a),
        (None, Some(b)) if share >= 0.5 => Some(b),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::Position;
    use crate::units::{Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, Speed};

    fn plan(sigma_nm: f64, track_sigma_deg: f64, speed_sigma_kn: f64) -> Plan {
        Plan {
            from: Position::new(-38.0, -22.0).unwrap(),
            track: Bearing::from_degrees(74.0).unwrap(),
            speed: Speed::from_knots(180.0).unwrap(),
            height: Height::from_feet(2_000.0).unwrap(),
            sigma: GroundRange::from_nautical_miles(sigma_nm).unwrap(),
            track_sigma: Angle::from_degrees(track_sigma_deg),
            speed_sigma: Speed::from_knots(speed_sigma_kn).unwrap(),
        }
    }

    const MILE: f64 = METRES_PER_NAUTICAL_MILE;

    #[test]
    fn straight_in_the_time_is_out_by_the_error_along_over_the_speed() {
        // Closed form: at 180 kn, 3 NM a minute, an error along of 2 NM is 40 s; the same on every
        // displaced track. 1.959964 standard deviations either side (normal table).
        let found = spread(&plan(2.0, 0.0, 0.0), &[Some(60.0 * MILE); 5], 90.0 * MILE);
        assert!((found.earliest_s - (1_200.0 - 78.4)).abs() < 0.6, "{found:?}");
        assert!((found.latest_s.unwrap() - (1_200.0 + 78.4)).abs() < 0.6, "{found:?}");
        // With a speed out by 3 %, 1.8 NM more after 60: hypot(2, 1.8) / 3 min = 53.8 s to first
        // order; the exact ends, from v·t − s = ±1.959964·√(σ² + σᵥ²·t²), lie at 1,101.5 and
        // 1,313.2 s (computed).
        let found = spread(&plan(2.0, 0.0, 5.4), &[Some(60.0 * MILE); 5], 90.0 * MILE);
        let ends = |sign: f64| {
            let (mut low, mut high) = (0.0_f64, 3_000.0_f64);
            for _ in 0..60 {
                let t = 0.5 * (low + high);
                let off = 0.05 * t - 60.0 - sign * 1.959_964 * 2.0_f64.hypot(0.001_5 * t);
                if off < 0.0 { low = t } else { high = t }
            }
            low
        };
        assert!((found.earliest_s - ends(-1.0)).abs() < 0.6, "{found:?} {}", ends(-1.0));
        assert!((found.latest_s.unwrap() - ends(1.0)).abs() < 0.6, "{found:?} {}", ends(1.0));
        let half = 0.5 * (found.latest_s.unwrap() - found.earliest_s) / 1.959_964;
        assert!((half - 53.8).abs() < 1.0, "{half}");
    }

    #[test]
    fn a_slanting_coast_adds_the_error_across() {
        // Closed form: a coast at 45°, so that each mile across is a mile along: hypot(2, 2) NM.
        let runs = ACROSS.map(|u| Some((60.0 + 2.0 * u) * MILE));
        let found = spread(&plan(2.0, 0.0, 0.0), &runs, 90.0 * MILE);
        let half = 0.5 * (found.latest_s.unwrap() - found.earliest_s);
        let exact = 1.959_964 * 8.0_f64.sqrt() * 20.0;
        assert!((half - exact).abs() < 1.0, "{half} {exact}");
    }

    #[test]
    fn what_half_the_tracks_never_see_has_no_latest_time() {
        let runs = [None, None, Some(60.0 * MILE), Some(60.0 * MILE), Some(60.0 * MILE)];
        let found = spread(&plan(2.0, 0.0, 0.0), &runs, 90.0 * MILE);
        assert!(found.latest_s.is_none());
        // The half above, and half a standard deviation below: Φ(0.5) = 0.6915 (normal table).
        assert!((found.by_the_end - 0.6915).abs() < 0.02, "{found:?}");
    }

    #[test]
    fn what_may_have_happened_already_is_told_from_the_start() {
        let found = spread(&plan(2.0, 0.0, 0.0), &[Some(MILE); 5], 90.0 * MILE);
        assert!(found.earliest_s.abs() < 1e-9, "{found:?}");
        assert!((found.latest_s.unwrap() - (20.0 + 78.4)).abs() < 0.6, "{found:?}");
    }
}
