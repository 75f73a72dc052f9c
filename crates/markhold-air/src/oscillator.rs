//! An oscillator that drifts, without ever breaking its phase.

use crate::drift::{Drift, Jump};
use crate::random::cis;
use num_complex::Complex64;

/// The frequency is held for at most this many samples: far shorter than any drift.
const HOLD_SAMPLES: u64 = 64;

/// An oscillator of unit amplitude that drifts.
#[derive(Clone, Debug)]
pub(crate) struct Oscillator {
    // Configured.
    hz: f64,
    drift: Drift,
    sample_rate: f64,
    // State: the jumps listed and not yet made, how many hops were made, and where all of
    // them led.
    jumps: std::iter::Peekable<std::vec::IntoIter<Jump>>,
    hops: u64,
    jumped_hz: f64,
    /// Phase at sample `held_from`, cycles, and the frequency held since.
    phase: f64,
    held_from: u64,
    held_hz: f64,
    sample: u64,
    until: u64,
    phasor: Complex64,
    step: Complex64,
}

impl Oscillator {
    /// An oscillator that begins at `hz` with a phase in cycles, and drifts.
    pub(crate) fn new(hz: f64, phase: f64, drift: &Drift, sample_rate: f64) -> Self {
        let mut jumps = drift.jumps.clone();
        jumps.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        Self {
            hz,
            drift: drift.clone(),
            sample_rate,
            jumps: jumps.into_iter().peekable(),
            hops: 0,
            jumped_hz: 0.0,
            phase,
            held_from: 0,
            held_hz: 0.0,
            sample: 0,
            until: 0,
            phasor: Complex64::ONE,
            step: Complex64::ONE,
        }
    }

    /// The next sample.
    pub(crate) fn next(&mut self) -> Complex64 {
        if self.sample >= self.until {
            self.renew();
        }
        let value = self.phasor;
        self.phasor *= self.step;
        self.sample += 1;
        value
    }

    fn renew(&mut self) {
        let held = (self.sample - self.held_from) as f64 / self.sample_rate;
        self.phase = (self.phase + self.held_hz * held).fract();
        self.held_from = self.sample;
        self.until = self.sample + HOLD_SAMPLES - self.sample % HOLD_SAMPLES;
        let next = self.jump();
        self.until = self.until.min(next);
        let middle_s = (self.sample + self.until) as f64 / 2.0 / self.sample_rate;
        self.held_hz = self.hz + self.drift.slow_hz(middle_s) + self.jumped_hz;
        self.phasor = cis(self.phase);
        self.step = cis(self.held_hz / self.sample_rate);
    }

    /// Makes all jumps that are due and returns the sample of the next one.
    fn jump(&mut self) -> u64 {
        while let Some(jump) = self.next_jump() {
            let place = jump.at_s * self.sample_rate;
            if place.ceil() as u64 > self.sample {
                return place.ceil() as u64;
            }
            self.jumped_hz += jump.by_hz;
            // The jump came a little before this sample.
            self.phase += jump.by_hz * (self.sample as f64 - place) / self.sample_rate;
            if self.jumps.next_if_eq(&jump).is_none() {
                self.hops += 1;
            }
        }
        u64::MAX
    }

    /// The next jump, listed or hop.
    fn next_jump(&mut self) -> Option<Jump> {
        let hop = self.drift.hops.map(|hops| Jump {
            at_s: (self.hops + 1) as f64 * hops.period_s,
            by_hz: if self.hops.is_multiple_of(2) {
                hops.by_hz
            } else {
                -hops.by_hz
            },
        });
        let listed = self.jumps.peek().copied();
        listed
            .into_iter()
            .chain(hop)
            .min_by(|a, b| a.at_s.total_cmp(&b.at_s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drift::tests::restless;

    /// Frequency between two samples, Hz.
    fn measured(samples: &[Complex64], n: usize, rate: f64) -> f64 {
        (samples[n + 1] * samples[n].conj()).arg() / std::f64::consts::TAU * rate
    }

    fn run(hz: f64, drift: &Drift, rate: f64, seconds: f64) -> Vec<Complex64> {
        let mut oscillator = Oscillator::new(hz, 0.0, drift, rate);
        (0..(seconds * rate) as usize)
            .map(|_| oscillator.next())
            .collect()
    }

    #[test]
    fn linear_drift_has_the_phase_of_its_integral() {
        let drift = Drift {
            linear_hz_per_s: 2.0,
            ..Drift::default()
        };
        let samples = run(1000.0, &drift, 8000.0, 10.0);
        for n in (0..80000).step_by(64) {
            let t = n as f64 / 8000.0;
            let expected = cis(1000.0 * t + t * t);
            assert!((samples[n] - expected).norm() < 1e-6, "at {t} s");
        }
    }

    #[test]
    fn the_frequency_heard_is_the_frequency_told() {
        let drift = restless();
        let samples = run(500.0, &drift, 8000.0, 8.0);
        for n in (0..63000).step_by(37) {
            let told = 500.0 + drift.hz_at(n as f64 / 8000.0);
            let heard = measured(&samples, n, 8000.0);
            assert!(
                (heard - told).abs() < 0.1,
                "sample {n}: {heard} Hz heard, {told} Hz told"
            );
        }
    }

    #[test]
    fn jumps_do_not_break_the_phase() {
        let samples = run(0.0, &restless(), 48000.0, 6.0);
        let step = samples
            .windows(2)
            .map(|w| (w[1] - w[0]).norm())
            .fold(0.0, f64::max);
        assert!(
            step < 60.0 * std::f64::consts::TAU / 48000.0,
            "a step of {step}"
        );
    }
}
