//! Something like speech, for making sure that nobody's talk is taken for radioteletype.
//!
//! Harmonics of a wandering pitch, weighted by three formants that move from syllable to
//! syllable, with pauses between syllables and phrases. No words, no person's voice.

use crate::error::{SceneError, within};
use crate::random::{Part, Random, cis, random, uniform};
use num_complex::Complex64;

/// A voice over the whole scene.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Speech {
    /// Power at the loudest part of a syllable over the reference power, dB.
    pub level_db: f64,
    /// Middle of the voice's pitch, Hz: about 120 for a low and 210 for a high voice.
    pub pitch_hz: f64,
    /// How far the receiver's dial is off, Hz: moves all harmonics alike.
    pub offset_hz: f64,
}

impl Default for Speech {
    fn default() -> Self {
        Self {
            level_db: 0.0,
            pitch_hz: 120.0,
            offset_hz: 0.0,
        }
    }
}

impl Speech {
    pub(crate) fn check(&self, whose: &str) -> Result<(), SceneError> {
        within(
            format!("level of {whose}"),
            self.level_db,
            (-100.0, 100.0),
            "dB",
        )?;
        within(
            format!("pitch of {whose}"),
            self.pitch_hz,
            (50.0, 500.0),
            "Hz",
        )?;
        within(
            format!("offset of {whose}"),
            self.offset_hz,
            (-1000.0, 1000.0),
            "Hz",
        )
    }

    /// Mean power, the reference being 1: syllables are on for about half the time, at
    /// three eighths of their peak power on average.
    pub(crate) fn power(&self) -> f64 {
        10f64.powf(self.level_db / 10.0) * 0.2
    }
}

/// Amplitudes are set anew this often and move in straight lines between, s.
const FRAME_S: f64 = 0.005;
/// The voice holds no harmonics above this, Hz: what a voice channel carries.
const TOP_HZ: f64 = 3000.0;
/// Most harmonics: those of the lowest pitch.
const HARMONICS: usize = 80;

/// One syllable and the pause after it.
#[derive(Clone, Copy, Debug)]
struct Syllable {
    start_s: f64,
    end_s: f64,
    pitch_hz: [f64; 2],
    /// Middle of each formant, Hz, at the beginning and at the end.
    formants_hz: [[f64; 2]; 3],
    loudness: f64,
    next_s: f64,
}

/// The sound of a voice.
#[derive(Clone, Debug)]
pub(crate) struct Voice {
    // Configured.
    speech: Speech,
    sample_rate: f64,
    amplitude: f64,
    // State.
    random: Random,
    syllable: Syllable,
    syllables_left: u32,
    frame: u64,
    sample: u64,
    until: u64,
    phase: f64,
    pitch_hz: f64,
    offset_phase: f64,
    weights: Vec<f64>,
    slopes: Vec<f64>,
}

impl Voice {
    pub(crate) fn new(speech: Speech, sample_rate: f64, seed: u64, index: usize) -> Self {
        let mut random = random(seed, Part::Speech, index);
        let syllable = syllable(&mut random, &speech, 0.0, true);
        Self {
            speech,
            sample_rate,
            amplitude: (2.0 * 10f64.powf(speech.level_db / 10.0)).sqrt(),
            random,
            syllable,
            syllables_left: 5,
            frame: 0,
            sample: 0,
            until: 0,
            phase: 0.0,
            pitch_hz: speech.pitch_hz,
            offset_phase: 0.0,
            weights: vec![0.0; HARMONICS],
            slopes: vec![0.0; HARMONICS],
        }
    }

    /// The next sample of the analytic signal.
    pub(crate) fn next(&mut self) -> Complex64 {
        if self.sample >= self.until {
            self.next_frame();
        }
        self.sample += 1;
        self.phase = (self.phase + self.pitch_hz / self.sample_rate).fract();
        self.offset_phase = (self.offset_phase + self.speech.offset_hz / self.sample_rate).fract();
        let turn = cis(self.phase);
        let mut harmonic = cis(self.offset_phase) * self.amplitude;
        let mut sum = Complex64::ZERO;
        for (weight, slope) in self.weights.iter_mut().zip(&self.slopes) {
            harmonic *= turn;
            sum += harmonic * *weight;
            *weight += slope;
        }
        sum
    }

    fn next_frame(&mut self) {
        self.frame += 1;
        self.until = (self.frame as f64 * FRAME_S * self.sample_rate).ceil() as u64;
        let time_s = self.frame as f64 * FRAME_S;
        while time_s >= self.syllable.next_s {
            let last = self.syllables_left == 0;
            self.syllables_left = if last {
                uniform(&mut self.random, 4.0, 12.0) as u32
            } else {
                self.syllables_left - 1
            };
            self.syllable = syllable(&mut self.random, &self.speech, self.syllable.next_s, last);
        }
        let count = (self.until - self.sample).max(1) as f64;
        let wanted = self.wanted(time_s);
        for ((slope, weight), wanted) in self.slopes.iter_mut().zip(&self.weights).zip(wanted) {
            *slope = (wanted - weight) / count;
        }
    }

    /// Weights of the harmonics at a time; their power adds up to that of the syllable.
    fn wanted(&mut self, time_s: f64) -> [f64; HARMONICS] {
        let mut weights = [0.0; HARMONICS];
        let s = &self.syllable;
        if !(s.start_s..s.end_s).contains(&time_s) {
            return weights;
        }
        let x = (time_s - s.start_s) / (s.end_s - s.start_s);
        self.pitch_hz = between(s.pitch_hz, x);
        let formants = s.formants_hz.map(|formant| between(formant, x));
        let top_hz = TOP_HZ.min(0.45 * self.sample_rate - self.speech.offset_hz);
        for (k, weight) in weights.iter_mut().enumerate() {
            let hz = (k + 1) as f64 * self.pitch_hz;
            if hz < top_hz {
                *weight = formant_weight(hz, formants);
            }
        }
        let power: f64 = weights.iter().map(|w| w * w).sum();
        let loudness = s.loudness * (std::f64::consts::PI * x).sin() / power.sqrt();
        weights.map(|w| w * loudness)
    }
}

fn between([from, to]: [f64; 2], x: f64) -> f64 {
    from + (to - from) * x
}

/// Three resonances 90, 110 and 170 Hz wide, the upper ones weaker (plain sense).
fn formant_weight(hz: f64, formants: [f64; 3]) -> f64 {
    let resonance =
        |middle: f64, width: f64, size: f64| size / (1.0 + ((hz - middle) / width).powi(2));
    0.01 + resonance(formants[0], 90.0, 1.0)
        + resonance(formants[1], 110.0, 0.5)
        + resonance(formants[2], 170.0, 0.25)
}

fn syllable(random: &mut Random, speech: &Speech, start_s: f64, after_pause: bool) -> Syllable {
    let mut draw = |low: f64, high: f64| uniform(random, low, high);
    let start_s = if after_pause {
        start_s + draw(0.2, 0.9)
    } else {
        start_s
    };
    let end_s = start_s + draw(0.08, 0.32);
    let pitch = speech.pitch_hz * draw(0.8, 1.25);
    let mut moving = |low: f64, high: f64| {
        let from = draw(low, high);
        [from, from * draw(0.85, 1.15)]
    };
    let formants_hz = [
        moving(280.0, 800.0),
        moving(900.0, 2100.0),
        moving(2300.0, 2700.0),
    ];
    Syllable {
        start_s,
        end_s,
        pitch_hz: [pitch, pitch * draw(0.85, 1.1)],
        formants_hz,
        loudness: draw(0.5, 1.0),
        next_s: end_s + draw(0.02, 0.14),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn voice(speech: Speech, rate: f64, seconds: f64) -> Vec<Complex64> {
        let mut voice = Voice::new(speech, rate, 1, 0);
        (0..(seconds * rate) as usize)
            .map(|_| voice.next())
            .collect()
    }

    #[test]
    fn it_talks_and_pauses_at_its_level() {
        let power: Vec<f64> = voice(Speech::default(), 8000.0, 60.0)
            .chunks(400)
            .map(|c| c.iter().map(|z| z.norm_sqr() / 2.0).sum::<f64>() / 400.0)
            .collect();
        let silent = power.iter().filter(|&&p| p < 1e-3).count() as f64 / power.len() as f64;
        let loudest = power.iter().copied().fold(0.0, f64::max);
        assert!(
            (0.1..0.6).contains(&silent),
            "silent for {silent} of the time"
        );
        assert!((0.7..1.2).contains(&loudest), "loudest {loudest}");
        let mean = power.iter().sum::<f64>() / power.len() as f64;
        assert!(
            (0.7..1.4).contains(&(mean / Speech::default().power())),
            "mean {mean}"
        );
    }

    #[test]
    fn it_makes_no_clicks() {
        // A step between samples is at most 2 pi times the top frequency over the rate.
        let all = voice(Speech::default(), 48000.0, 10.0);
        let most = all
            .windows(2)
            .map(|w| (w[1] - w[0]).norm())
            .fold(0.0, f64::max);
        let loudest = all.iter().map(|z| z.norm()).fold(0.0, f64::max);
        assert!(
            most < loudest * std::f64::consts::TAU * TOP_HZ / 48000.0,
            "{most}"
        );
    }
}
