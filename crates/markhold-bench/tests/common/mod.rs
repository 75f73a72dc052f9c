//! Sound of a keyed line, made in closed form: the phase at each sample is computed from the
//! stretches, nothing accumulates.
#![allow(
    missing_docs,
    dead_code,
    reason = "each test file uses its own part of it"
)]

use markhold_bench::{Distortion, Pattern, Sending};
use markhold_code::{StartStop, Stretch};
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::f64::consts::TAU;

pub const AMPLITUDE: f64 = 0.25;

#[derive(Clone, Copy, Debug)]
pub struct Case {
    pub rate_hz: f64,
    pub baud: f64,
    pub speed_error: f64,
    pub shift_hz: f64,
    pub middle_hz: f64,
    pub distortion: Distortion,
    /// Energy of an element over noise density, dB; `None` without noise.
    pub es_n0_db: Option<f64>,
    pub count: usize,
}

impl Default for Case {
    fn default() -> Self {
        Self {
            rate_hz: 8000.0,
            baud: 1.0 / 0.022,
            speed_error: 0.0,
            shift_hz: 170.0,
            middle_hz: 2210.0,
            distortion: Distortion::default(),
            es_n0_db: None,
            count: 100,
        }
    }
}

impl Case {
    pub fn line(&self) -> Vec<Stretch> {
        let sending = Sending {
            distortion: self.distortion,
            // Edges then fall anywhere between samples.
            lead_s: 0.500_123,
            ..Sending::new(StartStop::new(self.baud * (1.0 + self.speed_error), 1.5))
        };
        sending
            .line(&Pattern::Combinations.at_least(self.count))
            .expect("in range")
    }

    /// Phase-continuous tones, mark the lower one.
    pub fn tones(&self) -> Vec<f32> {
        let half = self.shift_hz / 2.0;
        let hz = |mark: bool| self.middle_hz + if mark { -half } else { half };
        self.noisy(keyed(&self.line(), self.rate_hz, |mark| (hz(mark), 1.0)))
    }

    /// One tone, on for mark.
    pub fn carrier(&self) -> Vec<f32> {
        let level = |mark: bool| if mark { 1.0 } else { 0.0 };
        self.noisy(keyed(&self.line(), self.rate_hz, |mark| {
            (self.middle_hz, level(mark))
        }))
    }

    /// The contact's voltage through a high-pass of first order, corner 10 Hz, made at 16
    /// times the rate and averaged down as a recorder does.
    pub fn contact(&self) -> Vec<f32> {
        const FINER: usize = 16;
        let fine_hz = self.rate_hz * FINER as f64;
        let line = keyed(&self.line(), fine_hz, |mark| {
            (0.0, if mark { 1.0 } else { -1.0 })
        });
        let keep = (-TAU * 10.0 / fine_hz).exp();
        let (mut out, mut before) = (0.0, line[0]);
        let passed: Vec<f64> = line
            .into_iter()
            .map(|x| {
                out = keep * (out + x - before);
                before = x;
                out
            })
            .collect();
        // The mean of a sample's fine ones stands in its middle: all later by the same.
        let mean = |part: &[f64]| part.iter().sum::<f64>() / FINER as f64;
        self.noisy(passed.chunks(FINER).map(mean).collect())
    }

    fn noisy(&self, clean: Vec<f64>) -> Vec<f32> {
        let sigma = self.es_n0_db.map_or(0.0, |db| {
            let es = AMPLITUDE * AMPLITUDE / 2.0 / self.baud;
            let n0 = es / 10f64.powf(db / 10.0);
            (n0 * self.rate_hz / 2.0).sqrt()
        });
        let mut random = Xoshiro256PlusPlus::seed_from_u64(11);
        clean
            .into_iter()
            .map(|x| (x + sigma * normal(&mut random)) as f32)
            .collect()
    }
}

fn keyed(line: &[Stretch], rate_hz: f64, tone: impl Fn(bool) -> (f64, f64)) -> Vec<f64> {
    let (mut begin_s, mut cycles) = (0.0, 0.0);
    let mut out = Vec::new();
    for stretch in line {
        let end_s = begin_s + stretch.length_s;
        let (hz, level) = tone(stretch.mark);
        while (out.len() as f64) < end_s * rate_hz {
            let at_s = out.len() as f64 / rate_hz;
            let phase: f64 = cycles + hz * (at_s - begin_s);
            out.push(AMPLITUDE * level * (TAU * phase.fract()).cos());
        }
        cycles = (cycles + hz * stretch.length_s).fract();
        begin_s = end_s;
    }
    out
}

/// Box & Muller.
fn normal(random: &mut Xoshiro256PlusPlus) -> f64 {
    let (u, v): (f64, f64) = (random.random(), random.random());
    (-2.0 * (1.0 - u).ln()).sqrt() * (TAU * v).cos()
}
