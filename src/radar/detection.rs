use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use statrs::function::gamma::gamma_lr;

/// False alarms allowed in one resolution cell: the condition of IMO MSC.192(79) 5.3.1.1 (seen).
const FALSE_ALARM: f64 = 1e-4;

/// How well the echo of charted ground is known: 6 dB of γ and 3 dB of losses, one standard
/// deviation each, log-normal (our own figures, typical of the scatter between sites).
const SPREAD_DB: f64 = 6.708;

/// Gauss–Hermite nodes and weights for seven points, in standard deviations of a normal variable
/// (Abramowitz and Stegun, table 25.10, from memory; the sum and the second moment are tested).
const HERMITE: [(f64, f64); 7] = [
    (-3.750_439_717_725_742, 5.482_688_559_722_178e-4),
    (-2.366_759_410_734_541, 0.030_757_123_967_586_5),
    (-1.154_405_394_739_968, 0.240_123_178_605_012_7),
    (0.0, 0.457_142_857_142_857_1),
    (1.154_405_394_739_968, 0.240_123_178_605_012_7),
    (2.366_759_410_734_541, 0.030_757_123_967_586_5),
    (3.750_439_717_725_742, 5.482_688_559_722_178e-4),
];

/// Span and step of the tables in decibels.
const LEAST_DB: f64 = -40.0;
const MOST_DB: f64 = 60.0;
const STEP_DB: f64 = 0.25;

/// The chance that an echo shows, from its signal over noise.
///
/// Land fluctuates from look to look and not within one (Swerling's first case): its echo from N
/// pulses, added after a square-law detector, crosses the threshold with a probability that is exact
/// (N = 1: P = Pfa^(1/(1+S/N)); N > 1: J. V. Di Franco and W. L. Rubin, *Radar Detection*, from
/// memory, held to N = 1 and to trials by number below). [`Detector::chance`] is its mean over what
/// is not known of the ground and the losses. Both come from tables made once for a number of
/// pulses, and kept.
#[derive(Debug, Clone)]
pub struct Detector {
    /// For an echo whose mean strength is known.
    known: Arc<[f64]>,
    mean: Arc<[f64]>,
    gain_db: f64,
    threshold_db: f64,
}

impl Detector {
    /// For echoes of `pulses` pulses each.
    pub fn new(pulses: u32) -> Self {
        static MADE: Mutex<BTreeMap<u32, Detector>> = Mutex::new(BTreeMap::new());
        // A thread that came to grief while it held the lock left whole tables behind.
        let mut made = MADE.lock().unwrap_or_else(PoisonError::into_inner);
        made.entry(pulses).or_insert_with(|| Self::made(pulses)).clone()
    }

    fn made(pulses: u32) -> Self {
        let law = Law::new(pulses, FALSE_ALARM);
        let count = ((MOST_DB - LEAST_DB) / STEP_DB) as usize + 1;
        let levels = || (0..count).map(|i| LEAST_DB + i as f64 * STEP_DB);
        let known: Arc<[f64]> = levels().map(|db| law.chance(10f64.powf(db / 10.0))).collect();
        let mean = levels().map(|db| {
            HERMITE.iter().map(|(x, weight)| weight * look_up(&known, db + x * SPREAD_DB)).sum()
        });
        let mean = mean.collect();
        let even = |table: &[f64]| LEAST_DB + STEP_DB * first_above(table, 0.5);
        let single = Law::new(1, FALSE_ALARM);
        let one: Vec<f64> = levels().map(|db| single.chance(10f64.powf(db / 10.0))).collect();
        let gain_db = even(&one) - even(&known);
        let threshold_db = 10.0 * (law.threshold / law.pulses).log10();
        Self { known, mean, gain_db, threshold_db }
    }

    /// Mean over what is not known of the ground and the losses: 0 to 1, smooth and rising.
    pub fn chance(&self, signal_to_noise_db: f64) -> f64 {
        look_up(&self.mean, signal_to_noise_db)
    }

    /// The chance that at least one of several cells shows: they fluctuate each by itself, but
    /// what is not known of the ground and the losses is common to them.
    pub fn chance_of_any(&self, signal_to_noise_db: &[f64]) -> f64 {
        let missed = |shift: f64| {
            let each = signal_to_noise_db.iter();
            each.map(|db| 1.0 - look_up(&self.known, db + shift)).product::<f64>()
        };
        HERMITE.iter().map(|(x, weight)| weight * (1.0 - missed(x * SPREAD_DB))).sum()
    }

    /// The signal over noise at which [`Detector::chance`] passes a level, decibels.
    pub fn level_for(&self, chance: f64) -> f64 {
        LEAST_DB + STEP_DB * first_above(&self.mean, chance)
    }

    /// Mean power of the pulses added up that noise alone passes with the rate of false alarms,
    /// decibels over the mean noise.
    pub fn threshold_db(&self) -> f64 {
        self.threshold_db
    }

    /// What adding up the pulses is worth at even chances, decibels. Clutter that does not change
    /// from pulse to pulse is not beaten down by it.
    pub fn integration_gain_db(&self) -> f64 {
        self.gain_db
    }
}

/// Where a rising table passes a level, in steps from its start.
fn first_above(table: &[f64], level: f64) -> f64 {
    let after = table.partition_point(|value| *value < level);
    let (Some(before), Some(value)) =
        (after.checked_sub(1).and_then(|i| table.get(i)), table.get(after))
    else {
        return after as f64;
    };
    after as f64 - (value - level) / (value - before)
}

fn look_up(table: &[f64], db: f64) -> f64 {
    let steps = (db - LEAST_DB) / STEP_DB;
    let (Some(first), Some(last)) = (table.first(), table.last()) else { return 0.0 };
    if steps.is_nan() || steps <= 0.0 {
        return *first;
    }
    let below = steps as usize;
    match (table.get(below), table.get(below + 1)) {
        (Some(a), Some(b)) => a + (b - a) * steps.fract(),
        _ => *last,
    }
}

/// The exact law for one number of pulses.
struct Law {
    pulses: f64,
    threshold: f64,
    false_alarm: f64,
}

impl Law {
    fn new(pulses: u32, false_alarm: f64) -> Self {
        let pulses = f64::from(pulses.max(1));
        // The sum of N squared noise samples passes the threshold with the false-alarm rate.
        let (mut low, mut high) = (0.0, 40.0 + 4.0 * pulses);
        for _ in 0..80 {
            let middle = 0.5 * (low + high);
            if 1.0 - gamma_lr(pulses, middle) > false_alarm { low = middle } else { high = middle }
        }
        Self { pulses, threshold: 0.5 * (low + high), false_alarm }
    }

    fn chance(&self, signal_to_noise: f64) -> f64 {
        let total = self.pulses * signal_to_noise;
        if self.pulses < 1.5 {
            return self.false_alarm.powf(1.0 / (1.0 + signal_to_noise));
        }
        let shape = self.pulses - 1.0;
        let share = 1.0 + 1.0 / total;
        let missed = gamma_lr(shape, self.threshold);
        // In logarithms: a weak signal raises a large share to a high power.
        let log = shape * share.ln() - self.threshold / (1.0 + total);
        let tail = gamma_lr(shape, self.threshold / share);
        let found = 1.0 - missed + if tail > 0.0 { (log + tail.ln()).exp() } else { 0.0 };
        if found.is_finite() { found.clamp(self.false_alarm, 1.0) } else { self.false_alarm }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Exp1};

    fn ratio(db: f64) -> f64 {
        10f64.powf(db / 10.0)
    }

    #[test]
    fn the_level_for_a_chance_has_that_chance() {
        let detector = Detector::new(12);
        for chance in [0.2, 0.5, 0.8] {
            let found = detector.chance(detector.level_for(chance));
            assert!((found - chance).abs() < 1e-9, "{chance} {found}");
        }
    }

    #[test]
    fn the_threshold_of_one_pulse_is_in_closed_form() {
        // exp(-T) = 1e-4: T = 9.2103, 9.643 dB (computed).
        assert!((Detector::new(1).threshold_db() - 9.643).abs() < 1e-3);
        assert!(Detector::new(20).threshold_db() < Detector::new(5).threshold_db());
    }

    #[test]
    fn one_pulse_is_exact() {
        // Exact: S/N = ln Pfa / ln Pd - 1 (computed). 0.8 at 1e-4 is IMO's condition: 16.050 dB.
        for (chance, db) in [(0.8, 16.050), (0.9, 19.366)] {
            assert!((Law::new(1, FALSE_ALARM).chance(ratio(db)) - chance).abs() < 1e-4);
            assert!((look_up(&Detector::new(1).known, db) - chance).abs() < 1e-3);
        }
        for (chance, db) in [(0.5, 12.772), (0.8, 17.847), (0.9, 21.144)] {
            assert!((Law::new(1, 1e-6).chance(ratio(db)) - chance).abs() < 1e-4);
        }
    }

    #[test]
    fn many_pulses_agree_with_trials_by_number() {
        // The outside here is the definition: noise and a fluctuating signal drawn, squared, added
        // and held against the threshold. Seed 11; 40,000 trials are good to 0.0075 (3 sigma).
        let mut draw = ChaCha8Rng::seed_from_u64(11);
        for (pulses, db) in [(2u32, 10.0), (10, 3.0), (10, 8.0), (30, 0.0)] {
            let law = Law::new(pulses, FALSE_ALARM);
            let mut over = 0u32;
            for _ in 0..40_000 {
                let level: f64 = Exp1.sample(&mut draw);
                let amplitude = (ratio(db) * level).sqrt();
                let sum: f64 = (0..pulses)
                    .map(|_| {
                        let (u, v): (f64, f64) = (
                            rand_distr::StandardNormal.sample(&mut draw),
                            rand_distr::StandardNormal.sample(&mut draw),
                        );
                        let half = std::f64::consts::FRAC_1_SQRT_2;
                        (amplitude + u * half).powi(2) + (v * half).powi(2)
                    })
                    .sum();
                over += u32::from(sum > law.threshold);
            }
            let share = f64::from(over) / 40_000.0;
            let found = law.chance(ratio(db));
            assert!((share - found).abs() < 0.0075, "{pulses} {db}: {share} {found}");
        }
    }

    #[test]
    fn a_fluctuating_echo_needs_more_than_a_steady_one() {
        // Ten pulses, Pd 0.8 at Pfa 1e-4: a steady echo takes 3.531 dB (exact, reproduced with an
        // independent library); a fluctuating one more, and less than the 16.050 dB of one pulse.
        let needed = LEAST_DB + STEP_DB * first_above(&Detector::new(10).known, 0.8);
        assert!((3.531 + 2.0..16.05 - 5.0).contains(&needed), "{needed}");
        let gain = Detector::new(10).integration_gain_db();
        // Adding N pulses without their phase gains between the square root of N and N.
        assert!((5.0..10.0).contains(&gain), "{gain}");
    }

    #[test]
    fn several_cells_show_rather_than_one_and_are_not_independent() {
        let detector = Detector::new(5);
        let one = detector.chance(6.0);
        let any = detector.chance_of_any(&[6.0; 4]);
        assert!((detector.chance_of_any(&[6.0]) - one).abs() < 1e-12);
        assert!(any > one && any < 1.0 - (1.0 - one).powi(4), "{one} {any}");
    }

    #[test]
    fn chances_rise_with_the_signal_and_end_at_one() {
        for pulses in [1, 5, 40, 256] {
            let detector = Detector::new(pulses);
            for table in [&detector.known, &detector.mean] {
                assert!(table.windows(2).all(|pair| pair[1] >= pair[0] - 1e-12), "{pulses}");
                assert!(table.first().unwrap() < &2e-3, "{pulses} {:?}", table.first());
                assert!(table.last().unwrap() > &0.999, "{pulses}");
            }
        }
    }

    #[test]
    fn nodes_are_those_of_a_normal_variable() {
        let moment = |power: i32| HERMITE.iter().map(|(x, w)| w * x.powi(power)).sum::<f64>();
        assert!((moment(0) - 1.0).abs() < 1e-9);
        assert!((moment(2) - 1.0).abs() < 1e-9);
        assert!((moment(4) - 3.0).abs() < 1e-8);
        assert!((moment(12) - 10_395.0).abs() < 1e-3);
    }
}
