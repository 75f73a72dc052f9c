//! A little noise, so that sound without any can be judged like all other.
//!
//! A keyed tone splashes over the whole band at every transition. In real sound noise
//! covers that; in a recording without noise the splashes would be all there is between the
//! tones, and pass for static crashes. So every sound gets noise of our own, far below what
//! any copy could notice.

/// Density of the noise over the mean power of the sound, per Hz (-73 dB). An element of
/// 22 ms has 56 dB of energy over it.
const DENSITY: f64 = 5e-8;
/// Time constant of the mean power, s.
const MEAN_S: f64 = 1.0;

/// Adds noise in proportion to the sound.
pub struct Dither {
    // derived
    /// Reach of the uniform noise over the root mean square of the sound.
    reach: f32,
    new: f32,
    // state
    square: f32,
    seed: u64,
}

impl Dither {
    /// For sound of `rate_hz` samples a second.
    pub fn new(rate_hz: f64) -> Self {
        // Uniform noise of width w has variance w²/12.
        let share = DENSITY * rate_hz / 2.0;
        Self {
            reach: (12.0 * share).sqrt() as f32,
            new: (1.0 / (MEAN_S * rate_hz)) as f32,
            square: 0.0,
            seed: 1,
        }
    }

    /// The sample with noise; digital silence stays silent until sound begins.
    pub fn add(&mut self, sample: f32) -> f32 {
        self.square += (sample * sample - self.square) * self.new;
        sample + self.reach * self.square.sqrt() * (self.uniform() - 0.5)
    }

    /// A value from 0 to 1, by Knuth's linear congruential generator (MMIX).
    fn uniform(&mut self) -> f32 {
        self.seed = self
            .seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.seed >> 40) as f32 / (1u64 << 24) as f32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_has_its_share_of_the_power_and_silence_none() {
        let mut dither = Dither::new(8000.0);
        assert!((0..100).all(|_| dither.add(0.0) == 0.0));
        let noise: Vec<f32> = (0..80_000).map(|_| dither.add(0.5) - 0.5).collect();
        let late = &noise[40_000..];
        let variance = late.iter().map(|n| n * n).sum::<f32>() / late.len() as f32;
        let expected = 0.25 * DENSITY as f32 * 4000.0;
        assert!(
            (variance / expected - 1.0).abs() < 0.1,
            "{variance}, not {expected}"
        );
    }
}
