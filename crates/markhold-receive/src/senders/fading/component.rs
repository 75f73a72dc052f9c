//! Components: what one path knows of the gains of both tones, and how likely it is.
//!
//! Gains are in units of their standard deviation, so nothing at all is known where every
//! covariance is 1. The tones are independent: no sound depends on both.

use markhold_signal::Complex32;

use super::motion::Step;
use crate::sums::log_sum::ln_fast;

/// Sound of a stretch of one tone, in units of the gain's standard deviation.
#[derive(Clone, Copy, Debug)]
pub struct Stretch {
    /// Integral of the tone over the stretch; an element of gain 1 gives 1.
    pub sum: Complex32,
    /// Length in elements, less what was blanked.
    pub span: f32,
    /// Variance of the noise in one element.
    pub noise: f32,
}

/// Shortest stretch that says anything, elements.
pub const LEAST_SPAN: f32 = 0.02;
/// Least determinant of a covariance: what single precision leaves of it.
const LEAST_DETERMINANT: f32 = 1e-20;

/// A weighted Gaussian over gain and slope of both tones.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Component {
    /// Its weight among others.
    pub weight: f32,
    /// Mean of gain and slope, by tone.
    pub mean: [[Complex32; 2]; 2],
    /// Covariance of the gain, of gain and slope, of the slope, by tone.
    pub spread: [[f32; 3]; 2],
}

/// The same Gaussian by its precision, for products: weight, precision, and precision times
/// mean.
#[derive(Clone, Copy, Debug, Default)]
pub struct Precise {
    ln: f32,
    precision: [[f32; 3]; 2],
    pull: [[Complex32; 2]; 2],
}

impl Component {
    /// Nothing is known.
    pub fn unknown() -> Self {
        Self {
            weight: 1.0,
            mean: Default::default(),
            spread: [[1.0, 0.0, 1.0]; 2],
        }
    }

    /// Moves both gains by a step.
    #[inline]
    pub fn shift(&mut self, step: &Step) {
        let k = &step.keep;
        for (tone, (mean, spread)) in self.mean.iter_mut().zip(&mut self.spread).enumerate() {
            let ([h, u], [a, b, c], t) = (*mean, *spread, step.turn[tone]);
            *mean = [0, 1].map(|i| (h * k[i][0] + u * k[i][1]) * t);
            let moved = |i: usize, j: usize| {
                k[i][0] * (a * k[j][0] + b * k[j][1]) + k[i][1] * (b * k[j][0] + c * k[j][1])
            };
            let [s, t, v] = step.stray;
            *spread = [moved(0, 0) + s, moved(0, 1) + t, moved(1, 1) + v];
        }
        if step.sure < 1.0 {
            self.blur(Step::OPEN, step.sure);
        }
    }

    /// Takes a phase for known only so well: `sure` is the mean of `exp(i error)`.
    pub fn blur(&mut self, tone: usize, sure: f32) {
        let lost = 1.0 - sure * sure;
        let outer = outer(&self.mean[tone]);
        for (s, o) in self.spread[tone].iter_mut().zip(outer) {
            *s += lost * o;
        }
        self.mean[tone] = self.mean[tone].map(|m| m * sure);
    }

    /// Turns both tones.
    #[inline]
    pub fn turn(&mut self, turns: &[Complex32; 2]) {
        for (mean, turn) in self.mean.iter_mut().zip(turns) {
            *mean = mean.map(|m| m * turn);
        }
    }

    /// Learns from a stretch during which `tone` was sent; gives the log likelihood ratio of
    /// the stretch against noise alone, less what the sound alone gives.
    #[inline]
    pub fn hear(&mut self, tone: usize, heard: &Stretch) -> f32 {
        let ([h, u], [a, b, c]) = (self.mean[tone], self.spread[tone]);
        let (span, noise) = (heard.span, heard.noise);
        let all = noise + span * a;
        let off = heard.sum - h * span;
        self.mean[tone] = [h + off * (a / all), u + off * (b / all)];
        self.spread[tone] = [a * noise / all, b * noise / all, c - b * b * span / all];
        ln_fast(noise / all) - off.norm_sqr() / (span * all)
    }

    /// By precision; seen from the other side of time, slopes have the other `sign`.
    #[inline]
    pub fn precise(&self, sign: f32) -> Precise {
        let mut out = Precise {
            ln: ln_fast(self.weight.max(f32::MIN_POSITIVE)),
            ..Precise::default()
        };
        for tone in 0..2 {
            let [a, b, c] = self.spread[tone];
            let [h, u] = [self.mean[tone][0], self.mean[tone][1] * sign];
            let d = 1.0 / determinant(&self.spread[tone]);
            let [p, q, r] = [c * d, -b * sign * d, a * d];
            let pull = [h * p + u * q, h * q + u * r];
            out.ln += ln_fast(d) - inner(&h, &pull[0]) - inner(&u, &pull[1]);
            out.precision[tone] = [p, q, r];
            out.pull[tone] = pull;
        }
        out
    }

    /// Natural logarithm of the determinants of both covariances.
    #[inline]
    pub fn ln_determinant(&self) -> f32 {
        let product = determinant(&self.spread[0]) * determinant(&self.spread[1]);
        ln_fast(product.max(f32::MIN_POSITIVE))
    }

    /// One Gaussian for two, with the same mean and covariance.
    #[inline]
    pub fn merged(&self, other: &Self) -> Self {
        let weight = self.weight + other.weight;
        let (x, y) = (self.weight / weight, other.weight / weight);
        let mut out = Self { weight, ..*self };
        for tone in 0..2 {
            let apart = [0, 1].map(|i| self.mean[tone][i] - other.mean[tone][i]);
            let between = outer(&apart);
            for (i, m) in out.mean[tone].iter_mut().enumerate() {
                *m = self.mean[tone][i] * x + other.mean[tone][i] * y;
            }
            for (i, s) in out.spread[tone].iter_mut().enumerate() {
                *s = self.spread[tone][i] * x + other.spread[tone][i] * y + between[i] * x * y;
            }
        }
        out
    }
}

impl Precise {
    /// Log weight with which what came before (`self`) and what comes after agree: both know
    /// that gains are 1 on average, which counts once.
    #[inline]
    pub fn agree(&self, after: &Self) -> f32 {
        let mut ln = self.ln + after.ln;
        let mut product = 1.0;
        for tone in 0..2 {
            let ([p, q, r], [h, u]) = self.joined(after, tone);
            let d = 1.0 / determinant(&[p, q, r]);
            ln += (h.norm_sqr() * r - 2.0 * inner(&h, &u) * q + u.norm_sqr() * p) * d;
            product *= d;
        }
        ln + ln_fast(product.max(f32::MIN_POSITIVE))
    }

    /// Mean gain of a tone and its variance, by all that is known.
    pub fn gain(&self, after: &Self, tone: usize) -> (Complex32, f32) {
        let ([p, q, r], [h, u]) = self.joined(after, tone);
        let d = 1.0 / determinant(&[p, q, r]);
        ((h * r - u * q) * d, r * d)
    }

    #[inline]
    fn joined(&self, after: &Self, tone: usize) -> ([f32; 3], [Complex32; 2]) {
        let (a, b) = (&self.precision[tone], &after.precision[tone]);
        let (x, y) = (&self.pull[tone], &after.pull[tone]);
        let precision = [a[0] + b[0] - 1.0, a[1] + b[1], a[2] + b[2] - 1.0];
        (precision, [x[0] + y[0], x[1] + y[1]])
    }
}

#[inline]
fn determinant(s: &[f32; 3]) -> f32 {
    (s[0] * s[2] - s[1] * s[1]).max(LEAST_DETERMINANT)
}

#[inline]
fn inner(a: &Complex32, b: &Complex32) -> f32 {
    a.re * b.re + a.im * b.im
}

#[inline]
fn outer(v: &[Complex32; 2]) -> [f32; 3] {
    [v[0].norm_sqr(), inner(&v[0], &v[1]), v[1].norm_sqr()]
}

#[cfg(test)]
mod tests {
    use super::super::motion::Fading;
    use super::*;
    use crate::pair::testing::Random;
    use crate::senders::model::Tuning;
    use crate::senders::sound::{MARK, SPACE};
    use crate::senders::testing;

    const TUNING: Tuning = Tuning {
        offset_hz: [0.5, -0.2],
        ..testing::TUNING
    };

    fn stretches(count: usize) -> Vec<(usize, Stretch)> {
        let mut random = Random::new(3);
        (0..count)
            .map(|i| {
                let tone = if random.uniform() < 0.5 { MARK } else { SPACE };
                let heard = Stretch {
                    sum: random.complex(1.0),
                    span: if i % 3 == 0 { 0.6 } else { 1.0 },
                    noise: 0.1,
                };
                (tone, heard)
            })
            .collect()
    }

    /// Whatever the place at which past and future meet, they say the same.
    #[test]
    fn before_and_after_agree_alike_at_every_place() {
        for rate in [0.01, 0.1, 0.5] {
            let fading = Fading {
                rate,
                kick: 0.0,
                start: 0.0,
            };
            let step = |tone| fading.step(&TUNING, tone, 1.0);
            let all = stretches(20);
            let total = |cut: usize| {
                let (mut before, mut after) = (Component::unknown(), Component::unknown());
                let mut ln = 0.0;
                for (tone, heard) in &all[..cut] {
                    ln += before.hear(*tone, heard);
                    before.shift(&step(*tone));
                }
                for (tone, heard) in all[cut..].iter().rev() {
                    after.shift(&step(*tone).back());
                    ln += after.hear(*tone, heard);
                }
                ln + before.precise(1.0).agree(&after.precise(-1.0))
            };
            let expected = total(0);
            for cut in 1..=all.len() {
                let got = total(cut);
                assert!((got - expected).abs() < 5e-3, "{rate} {cut}: {got}");
            }
        }
    }

    #[test]
    fn nothing_known_stays_nothing_known() {
        let fading = Fading {
            rate: 0.2,
            kick: 0.0,
            start: 0.4,
        };
        let mut component = Component::unknown();
        for _ in 0..1000 {
            component.shift(&fading.begin(fading.step(&TUNING, MARK, 1.0)));
        }
        let unknown = Component::unknown();
        for (s, e) in component
            .spread
            .as_flattened()
            .iter()
            .zip(unknown.spread.as_flattened())
        {
            assert!((s - e).abs() < 1e-3, "{component:?}");
        }
        let agreed = component.precise(1.0).agree(&unknown.precise(-1.0));
        assert!(agreed.abs() < 1e-2, "{agreed}");
    }

    #[test]
    fn merging_keeps_mean_and_covariance() {
        let at = |weight, re: f32| Component {
            weight,
            mean: [[Complex32::new(re, 0.0), Complex32::default()]; 2],
            spread: [[0.1, 0.0, 0.5]; 2],
        };
        let merged = at(0.25, 1.0).merged(&at(0.75, -1.0));
        assert!((merged.weight - 1.0).abs() < 1e-6);
        assert!((merged.mean[0][0].re + 0.5).abs() < 1e-6);
        assert!((merged.spread[0][0] - 0.85).abs() < 1e-6);
        assert!((merged.spread[1][2] - 0.5).abs() < 1e-6);
    }

    #[test]
    fn a_start_not_known_keeps_the_power_and_loses_the_phase() {
        let mut component = Component {
            mean: [[Complex32::new(2.0, 0.0), Complex32::default()]; 2],
            spread: [[0.1, 0.0, 0.5]; 2],
            ..Component::unknown()
        };
        component.blur(SPACE, 0.5);
        let [mark, space] =
            [MARK, SPACE].map(|k| (component.mean[k][0].re, component.spread[k][0]));
        assert_eq!(mark, (2.0, 0.1));
        assert!(
            (space.0 - 1.0).abs() < 1e-6 && (space.1 - 3.1).abs() < 1e-6,
            "{space:?}"
        );
    }
}
