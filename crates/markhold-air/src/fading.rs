//! The gain of one ionospheric path: complex Gaussian with a Gaussian Doppler spectrum.
//!
//! ```text
//! white complex noise -> Gaussian filter -> cubic interpolation -> gain at any time
//!   at 32 B per second                       (forward only)
//! ```
//!
//! The spread B is **twice** the standard deviation of the Doppler spectrum (ITU-R F.1487),
//! so the autocorrelation is R(t) = exp(-pi^2 B^2 t^2 / 2). The spectrum is the square of
//! the filter's response, so its impulse response is exp(-pi^2 B^2 t^2).

use crate::random::{Random, cis, complex_normal, uniform};
use num_complex::Complex64;
use std::collections::VecDeque;
use std::f64::consts::{FRAC_1_SQRT_2, PI};
use std::sync::Arc;

/// Values per second for each Hz of spread. The spectrum is down by 87 dB at 1/16 of this,
/// where the cubic interpolation is still right within 1 %.
const VALUES_PER_HZ: f64 = 32.0;

/// Half the length of the filter in units of 1/B; the response is 6e-8 there.
const HALF_LENGTH: f64 = 1.3;

/// One path's gain over time, with a mean power of 1.
#[derive(Clone, Debug)]
pub(crate) struct Fading {
    // Configured.
    values_per_s: f64,
    filter: Arc<[f64]>,
    // State: white noise in the filter, and the four filtered values around the interval
    // that begins at value `interval`.
    random: Random,
    white: VecDeque<Complex64>,
    values: [Complex64; 4],
    cubic: [Complex64; 4],
    interval: u64,
}

impl Fading {
    /// Fading with a spread of `spread_hz`; 0 gives a constant gain of size 1 with a random
    /// phase.
    pub(crate) fn new(spread_hz: f64, mut random: Random) -> Self {
        if spread_hz == 0.0 {
            return Self::constant(random);
        }
        let filter = gaussian_filter();
        let white = filter.iter().map(|_| unit_power(&mut random)).collect();
        let mut fading = Self {
            values_per_s: VALUES_PER_HZ * spread_hz,
            filter,
            random,
            white,
            values: [Complex64::ZERO; 4],
            cubic: [Complex64::ZERO; 4],
            interval: 0,
        };
        for _ in 0..4 {
            fading.push();
        }
        fading.fit();
        fading
    }

    fn constant(mut random: Random) -> Self {
        let gain = cis(uniform(&mut random, 0.0, 1.0));
        Self {
            values_per_s: 0.0,
            filter: Arc::new([]),
            random,
            white: VecDeque::new(),
            values: [gain; 4],
            cubic: [gain, Complex64::ZERO, Complex64::ZERO, Complex64::ZERO],
            interval: 0,
        }
    }

    /// The gain at a time, s; times must not go back by more than one interval.
    pub(crate) fn at(&mut self, time_s: f64) -> Complex64 {
        let place = time_s * self.values_per_s;
        if place >= (self.interval + 1) as f64 {
            while place >= (self.interval + 1) as f64 {
                self.push();
                self.interval += 1;
            }
            self.fit();
        }
        let x = place - self.interval as f64;
        let [c0, c1, c2, c3] = self.cubic;
        c0 + (c1 + (c2 + c3 * x) * x) * x
    }

    /// Takes one more filtered value.
    fn push(&mut self) {
        self.white.pop_front();
        self.white.push_back(unit_power(&mut self.random));
        let value = self
            .white
            .iter()
            .zip(&*self.filter)
            .map(|(w, h)| w * h)
            .sum();
        self.values.rotate_left(1);
        self.values[3] = value;
    }

    /// The cubic through the four values at -1, 0, 1 and 2 (Lagrange).
    fn fit(&mut self) {
        let [a, b, c, d] = self.values;
        self.cubic = [
            b,
            c - a / 3.0 - b / 2.0 - d / 6.0,
            (a + c) / 2.0 - b,
            (d - a) / 6.0 + (b - c) / 2.0,
        ];
    }
}

/// A complex Gaussian number with a mean power of 1.
fn unit_power(random: &mut Random) -> Complex64 {
    complex_normal(random) * FRAC_1_SQRT_2
}

/// The impulse response, scaled so that white noise of power 1 comes out with power 1.
fn gaussian_filter() -> Arc<[f64]> {
    let half = (HALF_LENGTH * VALUES_PER_HZ).ceil() as i32;
    let response = |k: i32| (-(PI * f64::from(k) / VALUES_PER_HZ).powi(2)).exp();
    let norm = (-half..=half)
        .map(|k| response(k).powi(2))
        .sum::<f64>()
        .sqrt();
    (-half..=half).map(|k| response(k) / norm).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Part, random};

    /// Gains of one path, `per_s` values a second.
    fn gains(spread_hz: f64, per_s: f64, count: usize) -> Vec<Complex64> {
        let mut fading = Fading::new(spread_hz, random(5, Part::FirstPath, 0));
        (0..count).map(|n| fading.at(n as f64 / per_s)).collect()
    }

    /// R(t) = exp(-pi^2 B^2 t^2 / 2): 1/e at 0.450/B and 1/2 at 0.375/B (Watterson model,
    /// spread as in ITU-R F.1487 is 2 sigma).
    #[test]
    fn autocorrelation_has_the_spread_of_two_sigma() {
        // About 40,000 independent stretches: the error of a correlation is below 0.02.
        let g = gains(10.0, 200.0, 800_000);
        let at = |lag: usize| {
            let sum: Complex64 = g.windows(lag + 1).map(|w| w[lag] * w[0].conj()).sum();
            sum.re / (g.len() - lag) as f64
        };
        for lag in [0, 2, 4, 6, 8, 9, 10, 12, 16, 20, 40] {
            let t = lag as f64 / 200.0;
            let expected = (-(PI * 10.0 * t).powi(2) / 2.0).exp();
            assert!(
                (at(lag) - expected).abs() < 0.02,
                "R({t}) = {}, not {expected}",
                at(lag)
            );
        }
        assert!(((-(PI * 0.450_f64).powi(2) / 2.0).exp() - (-1.0_f64).exp()).abs() < 1e-3);
        assert!(((-(PI * 0.375_f64).powi(2) / 2.0).exp() - 0.5).abs() < 1e-3);
    }

    /// Rice: upward crossings of rho times rms, sqrt(pi) B rho exp(-rho^2) per second; mean
    /// time below, (1 - exp(-rho^2)) over that. B = 1 Hz: 0.652/s at rms, 0.507/s and
    /// 0.188 s at -10 dB, 0.175/s and 0.057 s at -20 dB.
    #[test]
    fn level_crossings_and_fade_lengths() {
        let spread_hz = 1.0;
        let per_s = 100.0;
        let g = gains(spread_hz, per_s, 3_000_000);
        for (db, rate, fade_s) in [
            (0.0_f64, 0.652, 0.969),
            (-10.0, 0.507, 0.188),
            (-20.0, 0.175, 0.057),
        ] {
            let power = 10f64.powf(db / 10.0);
            let below: Vec<bool> = g.iter().map(|z| z.norm_sqr() < power).collect();
            let ups = below.windows(2).filter(|w| w[0] && !w[1]).count() as f64;
            let seconds = g.len() as f64 / per_s;
            let found = ups / seconds;
            let fade = below.iter().filter(|&&b| b).count() as f64 / per_s / ups;
            // 30,000 s hold 5,000 crossings at -20 dB: 3 sigma is about 5 %.
            assert!(
                (found / rate - 1.0).abs() < 0.05,
                "{db} dB: {found}/s, not {rate}/s"
            );
            assert!(
                (fade / fade_s - 1.0).abs() < 0.07,
                "{db} dB: {fade} s, not {fade_s} s"
            );
        }
    }

    /// The Rayleigh envelope is 10, 20, 30 dB below rms for 9.52, 0.995, 0.09995 % of time.
    #[test]
    fn share_of_time_in_fades() {
        let g = gains(10.0, 100.0, 3_000_000);
        for (db, share, within) in [
            (10.0_f64, 0.0952, 0.003),
            (20.0, 0.00995, 0.0008),
            (30.0, 0.0009995, 0.0002),
        ] {
            let power = 10f64.powf(-db / 10.0);
            let found = g.iter().filter(|z| z.norm_sqr() < power).count() as f64 / g.len() as f64;
            assert!(
                (found - share).abs() < within,
                "{db} dB: {found}, not {share}"
            );
        }
    }

    #[test]
    fn the_gain_at_a_time_is_the_same_at_every_step() {
        let coarse = gains(2.0, 10.0, 200);
        let fine = gains(2.0, 1000.0, 20_000);
        for (k, z) in coarse.iter().enumerate() {
            assert!((z - fine[100 * k]).norm() < 1e-9, "at {k}");
        }
    }

    #[test]
    fn interpolation_leaves_no_kinks() {
        let g = gains(1.0, 1000.0, 100_000);
        // The slope changes by the second derivative: rms pi^2 B^2 per s^2, a millisecond
        // apart, and four times its mean at the worst.
        let worst = g
            .windows(3)
            .map(|w| (w[2] - w[1] * 2.0 + w[0]).norm())
            .fold(0.0, f64::max);
        assert!(worst < 1e-6 * PI * PI * 3f64.sqrt() * 6.0, "{worst}");
    }

    #[test]
    fn no_spread_is_a_constant_gain() {
        let g = gains(0.0, 1.0, 100);
        assert!((g[0].norm() - 1.0).abs() < 1e-12);
        assert!(g.iter().all(|&z| z == g[0]));
    }
}
