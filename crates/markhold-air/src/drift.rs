//! How a frequency moves: slowly, while warming up, in jumps.

use crate::error::{SceneError, within};
use crate::random::cis;
use num_complex::Complex64;

/// A sudden change of frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Jump {
    /// When, s from the first sample.
    pub at_s: f64,
    /// By how much, Hz of audio.
    pub by_hz: f64,
}

/// A change of frequency that comes at even intervals, up and down in turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hops {
    /// Time from one to the next, and before the first, s.
    pub period_s: f64,
    /// By how much, Hz of audio: up by this, then down by this, and so on.
    pub by_hz: f64,
}

/// How a frequency moves over time, as heard in the audio. The default stands still.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Drift {
    /// Steady drift, Hz per second.
    pub linear_hz_per_s: f64,
    /// Drift of an oscillator that warms up: how far it goes in the end, Hz.
    pub warm_up_hz: f64,
    /// Time constant of the warm-up, s: after it 63 % of the way is done.
    pub warm_up_s: f64,
    /// Sudden jumps, in any order.
    pub jumps: Vec<Jump>,
    /// Jumps up and down in turn.
    pub hops: Option<Hops>,
}

impl Drift {
    /// How far the frequency has moved at a time, Hz; 0 at the first sample unless a jump
    /// falls there.
    pub fn hz_at(&self, time_s: f64) -> f64 {
        self.slow_hz(time_s) + self.listed_hz(time_s) + self.hopped_hz(time_s)
    }

    /// All jumps and hops up to a time, in order of time.
    pub fn jumps_until(&self, until_s: f64) -> Vec<Jump> {
        let hops = self.hops.into_iter().flat_map(|hops| {
            let count = (until_s / hops.period_s).max(0.0) as u64;
            (1..=count).map(move |k| Jump {
                at_s: k as f64 * hops.period_s,
                by_hz: if k % 2 == 1 { hops.by_hz } else { -hops.by_hz },
            })
        });
        let mut all: Vec<Jump> = self
            .jumps
            .iter()
            .copied()
            .filter(|j| j.at_s <= until_s)
            .chain(hops)
            .collect();
        all.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        all
    }

    /// Bounds of all movement up to a time, Hz: lowest and highest.
    pub(crate) fn extent_hz(&self, until_s: f64) -> (f64, f64) {
        // Between jumps the slow part has one bend at most; a fine grid and both sides of
        // every listed jump find its ends closely enough for a check of band limits.
        let grid = (0..=200).map(|k| f64::from(k) / 200.0 * until_s);
        let jumps = self.jumps.iter().flat_map(|j| [j.at_s - 1e-9, j.at_s]);
        let times = grid.chain(jumps).filter(|t| (0.0..=until_s).contains(t));
        let (low, high) = times
            .map(|t| self.slow_hz(t) + self.listed_hz(t))
            .fold((0.0_f64, 0.0_f64), |(low, high), hz| {
                (low.min(hz), high.max(hz))
            });
        let hop = self
            .hops
            .filter(|h| h.period_s <= until_s)
            .map_or(0.0, |h| h.by_hz);
        (low + hop.min(0.0), high + hop.max(0.0))
    }

    pub(crate) fn check(&self, whose: &str) -> Result<(), SceneError> {
        let hz = (-1e4, 1e4);
        within(
            format!("linear drift of {whose}"),
            self.linear_hz_per_s,
            hz,
            "Hz/s",
        )?;
        within(
            format!("warm-up drift of {whose}"),
            self.warm_up_hz,
            hz,
            "Hz",
        )?;
        let least = if self.warm_up_hz == 0.0 { 0.0 } else { 1e-3 };
        within(
            format!("warm-up time of {whose}"),
            self.warm_up_s,
            (least, 1e6),
            "s",
        )?;
        for jump in &self.jumps {
            within(
                format!("time of a jump of {whose}"),
                jump.at_s,
                (0.0, 1e7),
                "s",
            )?;
            within(format!("a jump of {whose}"), jump.by_hz, hz, "Hz")?;
        }
        if let Some(hops) = self.hops {
            within(
                format!("period of the hops of {whose}"),
                hops.period_s,
                (0.1, 1e6),
                "s",
            )?;
            within(format!("the hops of {whose}"), hops.by_hz, hz, "Hz")?;
        }
        Ok(())
    }

    fn slow_hz(&self, time_s: f64) -> f64 {
        let warm_up = if self.warm_up_hz == 0.0 {
            0.0
        } else {
            self.warm_up_hz * -(-time_s / self.warm_up_s).exp_m1()
        };
        self.linear_hz_per_s * time_s + warm_up
    }

    fn listed_hz(&self, time_s: f64) -> f64 {
        self.jumps
            .iter()
            .filter(|j| j.at_s <= time_s)
            .map(|j| j.by_hz)
            .sum()
    }

    fn hopped_hz(&self, time_s: f64) -> f64 {
        self.hops.map_or(0.0, |hops| {
            let up = (time_s / hops.period_s).max(0.0) as u64 % 2 == 1;
            if up { hops.by_hz } else { 0.0 }
        })
    }
}

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

    fn restless() -> Drift {
        Drift {
            linear_hz_per_s: 0.5,
            warm_up_hz: -30.0,
            warm_up_s: 2.0,
            jumps: vec![
                Jump {
                    at_s: 4.0,
                    by_hz: 7.0,
                },
                Jump {
                    at_s: 1.2345,
                    by_hz: -11.0,
                },
            ],
            hops: Some(Hops {
                period_s: 2.5,
                by_hz: 20.0,
            }),
        }
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

    #[test]
    fn warm_up_is_63_percent_done_after_its_time_constant() {
        let drift = Drift {
            warm_up_hz: 100.0,
            warm_up_s: 5.0,
            ..Drift::default()
        };
        assert_eq!(drift.hz_at(0.0), 0.0);
        assert!((drift.hz_at(5.0) - 63.212).abs() < 1e-3);
        assert!((drift.hz_at(500.0) - 100.0).abs() < 1e-9);
    }

    #[test]
    fn hops_go_up_and_down_in_turn() {
        let jumps = Drift {
            hops: Some(Hops {
                period_s: 2.0,
                by_hz: 5.0,
            }),
            ..Drift::default()
        }
        .jumps_until(7.0);
        let listed: Vec<(f64, f64)> = jumps.iter().map(|j| (j.at_s, j.by_hz)).collect();
        assert_eq!(listed, [(2.0, 5.0), (4.0, -5.0), (6.0, 5.0)]);
    }

    #[test]
    fn the_extent_holds_every_movement() {
        let drift = restless();
        let (low, high) = drift.extent_hz(8.0);
        for k in 0..8000 {
            let hz = drift.hz_at(f64::from(k) / 1000.0);
            assert!(
                (low - 0.1..=high + 0.1).contains(&hz),
                "{hz} outside {low} to {high}"
            );
        }
    }
}
