//! Levels: how strong both tones are, of late and in the long run, and the noise under them.
//!
//! Every span of the line shows something of both tones: what was sent, its power; what
//! was not, its noise. Showings are kept for some seconds. From them come the power of each
//! tone around every point of a window ([`super::gains`]), and slowly the long-term levels.

use markhold_signal::bessel::LnI0;

use super::curve::Showing;
use super::gains::follow_power;
use super::tones::Grid;

/// For how long showings are kept for the gains of later windows, s.
const MEMORY_S: f64 = 4.0;
/// A tone sent with less than this probability shows noise.
const QUIET: f32 = 0.1;
/// Weight, in elements, of the long-term levels against what is remembered.
const NOISE_WEIGHT: f32 = 20.0;
const POWER_WEIGHT: f32 = 40.0;

/// How probable it is that a tone is sent where the line seems off, and for how many elements that
/// must be so to tell of noise.
const UNKNOWN: std::ops::RangeInclusive<f32> = 0.4..=0.6;
const UNKNOWN_ELEMENTS: f32 = 20.0;
/// Noise under one tone is at most so many times that under the other: the edge of a filter.
const APART: f32 = 4.0;

/// Instant of a span's middle, s, and what it showed of mark and of space.
pub type Shown = (f64, [Showing; 2]);

/// Levels of mark and of space, in units of the narrow streams.
#[derive(Clone)]
pub struct Levels {
    memory: Vec<Shown>,
    mean_power: [f32; 2],
    noise: [f32; 2],
}

impl Levels {
    /// Begins with the power of each tone while sent, and with the noise in one element.
    pub fn new(power: [f32; 2], noise: [f32; 2]) -> Self {
        Self {
            memory: Vec::new(),
            mean_power: power,
            noise,
        }
    }

    /// Noise power in one element.
    pub fn noise(&self) -> [f32; 2] {
        self.noise
    }

    /// Mean power while sent.
    pub fn mean_power(&self) -> [f32; 2] {
        self.mean_power
    }

    /// Energy of an element over noise density, linear, mean of both tones.
    pub fn energy(&self) -> f32 {
        (self.mean_power[0] + self.mean_power[1]) / (self.noise[0] + self.noise[1])
    }

    /// Power of tone `k` around every grid point and one more.
    pub fn power_on_grid(&self, k: usize, grid: &Grid, ln_i0: &LnI0) -> Vec<f32> {
        let on_grid = |(t, s): &Shown| Showing {
            at: (t - grid.begin_s) / grid.step_s,
            ..s[k]
        };
        let showings: Vec<Showing> = self.memory.iter().map(on_grid).collect();
        let pooled = 0.5 * (self.mean_power[0] + self.mean_power[1]);
        let prior = 0.5 * (self.mean_power[k] + pooled);
        let (noise, points) = (self.noise[k], grid.points + 1);
        follow_power(&showings, noise, prior, points, grid.steps, ln_i0)
    }

    /// Keeps what a window's spans showed.
    pub fn remember(&mut self, shown: Vec<Shown>) {
        self.memory.extend(shown);
    }

    /// Drops what was shown from `from_s` on: it was only looked ahead at.
    pub fn forget_from(&mut self, from_s: f64) {
        self.memory.retain(|(t, _)| *t < from_s);
    }

    /// Long-term noise, and power if a signal `is_on`, from all that is remembered; then drops
    /// what is too old at the commit point `commit_s`.
    pub fn learn(&mut self, commit_s: f64, is_on: bool) {
        for k in 0..2 {
            self.learn_tone(k, is_on);
        }
        self.bound_noise();
        let keep_from = commit_s - MEMORY_S;
        self.memory.retain(|(t, _)| *t >= keep_from);
    }

    /// While the line seems off, at most one of its tones is there all the same, unnoticed because
    /// noise is thought to be stronger than it is: the weaker one shows no more than noise. What
    /// slid across the tones and is gone would be taken for noise without end otherwise.
    fn bound_noise(&mut self) {
        let off = self.memory.iter().map(|m| &m.1);
        let off = off.filter(|s| s.iter().all(|s| UNKNOWN.contains(&s.sent)));
        let (mut sum, mut weight) = (0.0, 0.0);
        for [mark, space] in off {
            sum += mark.span * mark.span * mark.power.min(space.power);
            weight += mark.span;
        }
        if weight > UNKNOWN_ELEMENTS {
            // The weaker of two that are alike is half of either.
            let most = APART * 2.0 * sum / weight;
            self.noise.iter_mut().for_each(|n| *n = n.min(most));
        }
    }

    fn learn_tone(&mut self, k: usize, is_on: bool) {
        let (mut noise, mut weight) = (self.noise[k] * NOISE_WEIGHT, NOISE_WEIGHT);
        let (mut power, mut sent) = (self.mean_power[k] * POWER_WEIGHT, POWER_WEIGHT);
        for (_, s) in &self.memory {
            let s = &s[k];
            if s.sent < QUIET {
                let quiet = s.span * (1.0 - s.sent);
                noise += quiet * s.power * s.span;
                weight += quiet;
            }
            power += s.sent * s.span * (s.power - self.noise[k] / s.span);
            sent += s.sent * s.span;
        }
        self.noise[k] = noise / weight;
        if !is_on {
            return;
        }
        self.mean_power[k] = (power / sent).max(self.noise[k] * 0.1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::Random;

    /// A second of elements, each with mark or space of this power in noise.
    fn memory(power: [f32; 2], noise: f32, seed: u64) -> Vec<Shown> {
        let mut random = Random::new(seed);
        (0..50)
            .map(|i| {
                let mark = random.uniform() < 0.5;
                let showing = [0, 1].map(|k| {
                    let sent = f32::from(u8::from(mark == (k == 0)));
                    let sum = random.complex(noise.into()) + (power[k] * sent).sqrt();
                    Showing {
                        at: 0.0,
                        span: 1.0,
                        power: sum.norm_sqr(),
                        sent,
                    }
                });
                (0.02 * f64::from(i), showing)
            })
            .collect()
    }

    #[test]
    fn levels_are_learnt_from_what_was_sent_and_what_was_not() {
        let mut levels = Levels::new([1.0; 2], [1.0; 2]);
        for second in 0..40 {
            levels.memory = memory([20.0, 5.0], 0.5, second);
            levels.learn(1.0, true);
        }
        for (got, expected) in levels.mean_power().iter().zip([20.0, 5.0]) {
            assert!((got / expected - 1.0).abs() < 0.2, "{got} for {expected}");
        }
        for got in levels.noise() {
            assert!((got / 0.5 - 1.0).abs() < 0.25, "{got} for 0.5");
        }
        assert!((levels.energy() - 25.0).abs() < 6.0, "{}", levels.energy());
    }

    #[test]
    fn silence_takes_no_level_below_nothing() {
        let mut levels = Levels::new([1.0; 2], [1.0; 2]);
        for _ in 0..500 {
            levels.memory = memory([0.0; 2], 0.0, 1);
            levels.learn(1.0, true);
        }
        for level in levels.noise().into_iter().chain(levels.mean_power()) {
            assert!(level.is_finite() && (0.0..1e-3).contains(&level), "{level}");
        }
    }

    #[test]
    fn memory_is_bounded_and_what_was_looked_ahead_at_is_dropped() {
        let instants = |levels: &Levels| levels.memory.iter().map(|m| m.0).collect::<Vec<_>>();
        let mut levels = Levels::new([1.0; 2], [1.0; 2]);
        let showing = memory([1.0; 2], 1.0, 1)[0].1;
        levels.memory = (0..10).map(|k| (f64::from(k), showing)).collect();
        levels.forget_from(8.0);
        assert_eq!(instants(&levels), [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]);
        levels.learn(8.0, true);
        assert_eq!(instants(&levels), [4.0, 5.0, 6.0, 7.0]);
    }

    /// What slid across both tones was taken for noise, and the line for off ever since.
    #[test]
    fn noise_is_no_more_than_the_weaker_tone_while_the_line_seems_off() {
        let mut levels = Levels::new([20.0; 2], [50.0; 2]);
        let mut seen = memory([20.0; 2], 1.0, 3);
        seen.iter_mut()
            .flat_map(|m| &mut m.1)
            .for_each(|s| s.sent = 0.5);
        levels.memory = seen;
        levels.learn(1.0, false);
        let bound = APART * 2.0;
        assert!(
            levels.noise().iter().all(|n| *n < 2.0 * bound),
            "{:?}",
            levels.noise()
        );
        // What is known of both tones says nothing of that.
        let mut levels = Levels::new([20.0; 2], [50.0; 2]);
        levels.memory = memory([20.0; 2], 1.0, 3);
        levels.bound_noise();
        assert_eq!(levels.noise(), [50.0; 2]);
    }
}
