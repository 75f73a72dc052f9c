//! Seeded noise and sound for tests.

use markhold_signal::{BandPlan, Complex32};

use crate::characters::reading::Reading;
use crate::levelled::Levelled;
use crate::pair::conditions::Conditions;
use crate::pair::follower::Heard;

/// Sampling rate of all sound in tests, Hz.
pub const RATE_HZ: f64 = 8000.0;

/// Seeded random numbers: splitmix64 (Steele, Lea and Flood, OOPSLA 2014).
pub struct Random(u64);

impl Random {
    /// A sequence of its own for every seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Even between 0 and 1.
    pub fn uniform(&mut self) -> f64 {
        ((self.next() >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// Normal with variance 1 (Box and Muller, Ann. Math. Stat. 29(2), 1958).
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (self.uniform(), self.uniform());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    /// Complex normal with this variance, real and imaginary part together.
    pub fn complex(&mut self, variance: f64) -> Complex32 {
        let each = (variance / 2.0).sqrt();
        Complex32::new((self.normal() * each) as f32, (self.normal() * each) as f32)
    }
}

/// Sound of `seconds` with white noise of rms `noise` and whatever `signal` gives at each
/// instant, s.
pub fn sound(seconds: f64, noise: f64, signal: impl Fn(f64) -> f64) -> Vec<f32> {
    let mut random = Random::new(20);
    (0..(seconds * RATE_HZ) as usize)
        .map(|n| (noise * random.normal() + signal(n as f64 / RATE_HZ)) as f32)
        .collect()
}

/// The sound, levelled to its end, all of it kept.
pub fn levelled(sound: &[f32]) -> Levelled {
    let plan = BandPlan::new(RATE_HZ);
    let mut levelled = Levelled::new(plan, sound.len() / plan.hop + 8);
    levelled.push_all(sound);
    levelled.finish_all();
    levelled
}

/// A character heard at `start_s` as code 5 with this probability, the rest shared by all
/// other codes, in clear sound.
pub fn heard(start_s: f64, probability: f32) -> Heard {
    let mut codes = [(1.0 - probability) / 31.0; 32];
    codes[5] = probability;
    heard_as(start_s, codes)
}

/// A character heard at `start_s` with these probabilities of its codes, in clear sound.
pub fn heard_as(start_s: f64, codes: [f32; 32]) -> Heard {
    Heard {
        start_s,
        reading: Reading {
            start: 0.0,
            spread: 0.0,
            present: 1.0,
            codes,
        },
        conditions: Conditions {
            energy: [1.0; 2],
            clear: 1.0,
            ..Conditions::default()
        },
    }
}
