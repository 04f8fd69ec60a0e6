//! Seeded draws and lattice noise, by additions, products and square roots alone, so that every
//! machine makes the same bits.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// The one seed of the sample chart.
pub const SEED: u64 = 3_812_921_305;

/// One stream of draws, apart from every other.
pub struct Draws(ChaCha8Rng);

impl Draws {
    pub fn stream(number: u64) -> Self {
        let mut source = ChaCha8Rng::seed_from_u64(SEED);
        source.set_stream(number);
        Self(source)
    }

    /// Even over `[0, 1)`.
    pub fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Even over `[-1, 1)`.
    pub fn signed(&mut self) -> f64 {
        2.0 * self.unit() - 1.0
    }

    /// Near enough normal, variance one: twelve even draws summed.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

/// A value in `[0, 1)` for each lattice point, by an integer hash.
fn lattice(x: i64, y: i64, layer: u64) -> f64 {
    let mut h = (x as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15)
        ^ (y as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F)
        ^ layer.wrapping_add(SEED).wrapping_mul(0x1656_67B1_9E37_79F9);
    h = (h ^ (h >> 31)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    h = (h ^ (h >> 29)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((h ^ (h >> 32)) >> 11) as f64 / (1u64 << 53) as f64
}

fn ease(t: f64) -> f64 {
    t * t * (3.0 - 2.0 * t)
}

fn smooth_lattice(x: f64, y: f64, layer: u64) -> f64 {
    let (fx, fy) = (x.floor(), y.floor());
    let (ix, iy) = (fx as i64, fy as i64);
    let (tx, ty) = (ease(x - fx), ease(y - fy));
    let low = lattice(ix, iy, layer) * (1.0 - tx) + lattice(ix + 1, iy, layer) * tx;
    let high = lattice(ix, iy + 1, layer) * (1.0 - tx) + lattice(ix + 1, iy + 1, layer) * tx;
    low * (1.0 - ty) + high * ty
}

/// Rough ground in `[-1, 1]`: four octaves, the longest `wave` long.
pub fn rough(x: f64, y: f64, wave: f64) -> f64 {
    let (mut sum, mut share, mut frequency) = (0.0, 0.5, 1.0 / wave);
    for layer in 0..4 {
        sum += share * (2.0 * smooth_lattice(x * frequency, y * frequency, layer) - 1.0);
        share *= 0.5;
        frequency *= 2.0;
    }
    sum
}
