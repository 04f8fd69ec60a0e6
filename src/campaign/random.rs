//! Draws that a printed seed makes again.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// The draws of one landfall: its own stream of the campaign's seed.
pub fn stream(seed: u64, number: u64) -> ChaCha8Rng {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(number);
    random
}

/// A draw of mean nothing and spread one.
pub fn normal(random: &mut ChaCha8Rng) -> f64 {
    random.sample(StandardNormal)
}

/// Evenly between two values.
pub fn between(random: &mut ChaCha8Rng, low: f64, high: f64) -> f64 {
    if high > low { random.random_range(low..high) } else { low }
}

/// Whether something of this probability happens.
pub fn happens(random: &mut ChaCha8Rng, probability: f64) -> bool {
    random.random_range(0.0..1.0) < probability
}

/// A normal draw that belongs to a node of a grid: the same whenever it is asked for.
pub fn normal_at(seed: u64, east: i64, north: i64, axis: u64) -> f64 {
    let mixed = [east as u64, north as u64, axis]
        .iter()
        .fold(seed, |so_far, part| scramble(so_far ^ scramble(*part)));
    let (first, second) = (mixed >> 32, mixed & 0xffff_ffff);
    let share = |bits: u64| (bits as f64 + 0.5) / 4_294_967_296.0;
    // Box and Muller 1958.
    (-2.0 * share(first).ln()).sqrt() * (std::f64::consts::TAU * share(second)).cos()
}

/// Splitmix64 (Steele, Lea and Flood 2014; constants from memory).
fn scramble(value: u64) -> u64 {
    let mut z = value.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}
