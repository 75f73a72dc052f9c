//! A little noise, so that sound without any can be judged like all other.
//!
//! A keyed tone splashes over the whole band at every transition. In real sound noise
//! covers that; in a recording without noise the splashes would be all there is between the
//! tones, and every one of them a crash. The judge therefore hears the sound with noise of
//! its own, 67 dB below the sound in 1 Hz: what reaches the output stays as it was.

/// Density of the noise over the mean power of the sound, per Hz. An element of 22 ms has
/// 50 dB of energy over it: far more than any copy needs, and less than splashes show.
const DENSITY: f64 = 2e-7;
/// Share of a step in the mean power: some 0.4 s of steps of 4 ms.
const NEW: f32 = 0.01;

/// Adds noise in proportion to the sound.
pub(super) struct Dither {
    // derived
    /// Variance of the noise over the mean square of the sound.
    share: f32,
    // state
    square: f32,
    /// Of the noise added last.
    variance: f32,
    seed: u64,
}

impl Dither {
    /// For sound of `rate_hz` samples a second.
    pub(super) fn new(rate_hz: f64) -> Self {
        Self {
            share: (DENSITY * rate_hz / 2.0) as f32,
            square: 0.0,
            variance: 0.0,
            seed: 1,
        }
    }

    /// Copies a step of sound into `out`, noise added; digital silence stays silent. `heard`
    /// is the variance of the noise found so far, this noise included: real noise needs none.
    pub(super) fn add(&mut self, sound: &[f32], heard: f32, out: &mut [f32]) {
        let square = sound.iter().map(|x| x * x).sum::<f32>() / sound.len().max(1) as f32;
        if !square.is_finite() || square == 0.0 {
            out.copy_from_slice(sound);
            return;
        }
        let new = if self.square == 0.0 { 1.0 } else { NEW };
        self.square += (square - self.square) * new;
        let real = (heard - self.variance).max(0.0);
        self.variance = (self.share * self.square - real).max(0.0);
        // Uniform noise of that variance; the window's transform makes it Gaussian.
        let reach = (12.0 * self.variance).sqrt();
        for (y, x) in out.iter_mut().zip(sound) {
            *y = x + reach * (self.uniform() - 0.5);
        }
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
        let (sound, mut out) = (vec![0.5f32; 4000], vec![0.0; 4000]);
        dither.add(&sound, 0.0, &mut out);
        let noise = out.iter().map(|y| (y - 0.5).powi(2)).sum::<f32>() / 4000.0;
        let expected = 0.25 * DENSITY as f32 * 4000.0;
        assert!(
            (noise / expected - 1.0).abs() < 0.1,
            "{noise}, not {expected}"
        );
        dither.add(&[0.0; 50], 0.0, &mut out[..50]);
        assert!(out[..50].iter().all(|y| *y == 0.0));
        dither.add(&sound, 0.1, &mut out);
        assert_eq!(sound, out, "noise enough");
    }
}
