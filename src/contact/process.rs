//! How an error of velocity goes on, and what it does to a position.

/// A first-order Gauss-Markov error of velocity on one axis, and the position error that it makes.
///
/// dv = −v/τ dt + s √(2/τ) dW, integrated exactly over a time (A. Gelb, ed., "Applied optimal
/// estimation", 1974, from memory; agrees with its own fine steps, tested). With T = dt/τ:
/// velocity s²(1 − e^−2T), both s²τ(1 − e^−T)², position s²τ²(2T − 3 + 4e^−T − e^−2T).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaussMarkov {
    /// What is left of the velocity error after the time.
    pub decay: f64,
    /// Metres of position to a metre per second of error at the start.
    pub gain: f64,
    /// New position variance, square metres.
    pub position: f64,
    /// New covariance of position and velocity.
    pub mixed: f64,
    /// New velocity variance.
    pub velocity: f64,
}

/// Below this share of τ the position term is a series: its closed form would cancel.
const SHORT: f64 = 1e-3;

impl GaussMarkov {
    /// Over `seconds`, for a steady spread `s` in metres per second and τ in seconds.
    pub fn over(seconds: f64, s: f64, tau: f64) -> Self {
        let t = seconds / tau;
        let e = (-t).exp();
        let lost = -(-t).exp_m1();
        let shape = if t < SHORT {
            t * t * t * (2.0 / 3.0 - t / 2.0)
        } else {
            2.0 * t - 3.0 + 4.0 * e - e * e
        };
        Self {
            decay: e,
            gain: tau * lost,
            position: s * s * tau * tau * shape,
            mixed: s * s * tau * lost * lost,
            velocity: -s * s * (-2.0 * t).exp_m1(),
        }
    }

    /// The variance of the velocity at the end of `seconds` about its own mean over them, where it has
    /// its steady spread: what two fixes tell is the mean.
    ///
    /// s²(1 − 2(1 − e^−T)/T + 2(T − 1 + e^−T)/T²), for short times s²·2T/3 (computed from the
    /// process's correlation s²e^−|Δ|/τ).
    pub fn since_mean(seconds: f64, s: f64, tau: f64) -> f64 {
        let t = seconds.max(0.0) / tau;
        let share = if t < 0.01 {
            t * (2.0 / 3.0 - t / 4.0)
        } else {
            let lost = -(-t).exp_m1();
            1.0 - 2.0 * lost / t + 2.0 * (t - lost) / (t * t)
        };
        s * s * share
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{KNOT, METRES_PER_NAUTICAL_MILE};

    #[test]
    fn a_wind_of_fifteen_knots_over_twenty_minutes() {
        // s 15 kn, τ 1.5 h, 20 min: √q_pp 1.77 NM (computed: 15 × 1.5 × √(2T − 3 + 4e^−T − e^−2T)).
        let grown = GaussMarkov::over(1200.0, 15.0 * KNOT, 5400.0);
        let miles = grown.position.sqrt() / METRES_PER_NAUTICAL_MILE;
        assert!((miles - 1.77).abs() < 0.02, "{miles}");
    }

    #[test]
    fn what_a_wind_has_changed_since_its_mean() {
        // s 15 kn, τ 1.5 h: after ten minutes 4.0 kn, after a day nearly all of it (computed); and the
        // series meets the closed form.
        let sigma = |seconds: f64| GaussMarkov::since_mean(seconds, 15.0, 5400.0).sqrt();
        assert!((sigma(600.0) - 4.0).abs() < 0.01, "{}", sigma(600.0));
        assert!((sigma(5.4e7) - 15.0).abs() < 0.01);
        let (below, above) = (sigma(53.999), sigma(54.001));
        assert!((below / above - 1.0).abs() < 1e-4);
        // Against the sum itself: the mean of a thousand steps of the correlation e^−|Δ|.
        let (n, t) = (1000, 0.5f64);
        let at = |i: usize| (i as f64 + 0.5) * t / n as f64;
        let ends: f64 = (0..n).map(|i| (at(i) - t).exp()).sum::<f64>() / n as f64;
        let both: f64 = (0..n)
            .map(|i| (0..n).map(|j| (-(at(i) - at(j)).abs()).exp()).sum::<f64>())
            .sum::<f64>()
            / (n * n) as f64;
        assert!((GaussMarkov::since_mean(t, 1.0, 1.0) - (1.0 - 2.0 * ends + both)).abs() < 1e-5);
    }

    #[test]
    fn two_steps_are_one() {
        let (s, tau) = (7.0, 5400.0);
        for (first, second) in [(300.0, 900.0), (1.0, 3.0), (4000.0, 20_000.0)] {
            let (a, b) = (GaussMarkov::over(first, s, tau), GaussMarkov::over(second, s, tau));
            let whole = GaussMarkov::over(first + second, s, tau);
            let position =
                a.position + 2.0 * b.gain * a.mixed + b.gain * b.gain * a.velocity + b.position;
            let mixed = b.decay * (a.mixed + b.gain * a.velocity) + b.mixed;
            let velocity = b.decay * b.decay * a.velocity + b.velocity;
            assert!((position / whole.position - 1.0).abs() < 1e-6, "{first}");
            assert!((mixed / whole.mixed - 1.0).abs() < 1e-9, "{first}");
            assert!((velocity / whole.velocity - 1.0).abs() < 1e-9, "{first}");
        }
    }

    #[test]
    fn short_times_grow_with_the_time_and_long_ones_with_its_root() {
        // From a spread not yet known: σ ~ s·t at first, s·√(2τt) in the end (computed limits).
        let (s, tau) = (1.0, 1000.0);
        let sigma = |t: f64| {
            let grown = GaussMarkov::over(t, s, tau);
            (grown.gain * grown.gain * s * s + grown.position).sqrt()
        };
        assert!((sigma(1.0) / 1.0 - 1.0).abs() < 1e-3);
        let long = 1e7;
        assert!((sigma(long) / (s * (2.0 * tau * long).sqrt()) - 1.0).abs() < 1e-3);
    }
}
