//! Seeded randomness: every part of a scene draws from a stream of its own.
//!
//! Adding noise to a scene therefore changes neither its typing nor its fading.

use num_complex::Complex64;
use rand::RngExt;
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;

/// The generator used throughout: fast, and the same on every machine.
pub(crate) type Random = Xoshiro256PlusPlus;

/// What a stream of random numbers is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Part {
    Pace = 1,
    Keying,
    Phase,
    FirstPath,
    SecondPath,
    Noise,
    CrashTimes,
    CrashNoise,
    Morse,
    Speech,
    Oscillator,
}

/// The generator of one part; `index` tells senders and carriers of one kind apart.
pub(crate) fn random(seed: u64, part: Part, index: usize) -> Random {
    let stream = ((part as u64) << 32) | index as u64;
    Random::seed_from_u64(mix(seed ^ mix(stream)))
}

/// The finisher of SplitMix64 (Steele, Lea & Flood, OOPSLA 2014): near seeds get far apart.
const fn mix(mut z: u64) -> u64 {
    z = z.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// One standard normal number.
pub(crate) fn normal(random: &mut Random) -> f64 {
    StandardNormal.sample(random)
}

/// One complex Gaussian number with unit variance on each axis.
pub(crate) fn complex_normal(random: &mut Random) -> Complex64 {
    let re = normal(random);
    let im = normal(random);
    Complex64::new(re, im)
}

/// A number uniform in `low..high`, or `low` where the two are equal.
pub(crate) fn uniform(random: &mut Random, low: f64, high: f64) -> f64 {
    low + (high - low) * random.random::<f64>()
}

/// A complex number of size 1 with a phase in cycles.
pub(crate) fn cis(cycles: f64) -> Complex64 {
    Complex64::cis(std::f64::consts::TAU * cycles.fract())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn streams_differ_by_seed_part_and_index() {
        let first = |seed, part, index| random(seed, part, index).random::<u64>();
        let base = first(1, Part::Noise, 0);
        assert_eq!(base, first(1, Part::Noise, 0));
        assert_ne!(base, first(2, Part::Noise, 0));
        assert_ne!(base, first(1, Part::Pace, 0));
        assert_ne!(base, first(1, Part::Noise, 1));
    }
}
