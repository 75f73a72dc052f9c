//! Chance: everything that a draw decides about a recording.

use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// A source of chance. The same name and seed give the same recording on any machine.
pub struct Draw(Xoshiro256PlusPlus);

impl Draw {
    /// The draw of a seed; `name` keeps kinds with the same seed apart.
    pub fn new(name: &str, seed: u64) -> Self {
        // FNV-1a, 64 bit (Fowler, Noll and Vo): any good mixing of the name would do.
        let mixed = name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        Self(Xoshiro256PlusPlus::seed_from_u64(
            mixed ^ seed.wrapping_mul(0x9e37_79b9_7f4a_7c15),
        ))
    }

    /// A draw of its own: what it is asked for does not move what this one gives next.
    pub fn branch(&mut self) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(self.0.random()))
    }

    /// Evenly from `low` to `high`.
    pub fn range(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// Evenly by ratio from `low` to `high`, both above zero.
    pub fn ratio(&mut self, low: f64, high: f64) -> f64 {
        self.range(low.ln(), high.ln()).exp()
    }

    /// A whole number from 0 to `count - 1`.
    pub fn below(&mut self, count: usize) -> usize {
        self.0.random_range(0..count)
    }

    /// True so often.
    pub fn chance(&mut self, share: f64) -> bool {
        self.0.random::<f64>() < share
    }

    /// 1 or -1.
    pub fn sign(&mut self) -> f64 {
        if self.chance(0.5) { 1.0 } else { -1.0 }
    }

    /// One of several.
    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    /// Gaussian, mean 0, variance 1, two at a time (G. E. P. Box and M. E. Muller, 1958).
    pub fn gauss(&mut self) -> [f64; 2] {
        let radius = (-2.0 * (1.0 - self.0.random::<f64>()).ln()).sqrt();
        let (sine, cosine) = self.range(0.0, std::f64::consts::TAU).sin_cos();
        [radius * cosine, radius * sine]
    }

    /// Exponential with this mean.
    pub fn waiting(&mut self, mean: f64) -> f64 {
        -mean * (1.0 - self.0.random::<f64>()).ln()
    }
}
