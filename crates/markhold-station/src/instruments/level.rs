//! The level meter, with what to do about the level.

use super::{Level, LevelState};

/// A sample from here on is at full scale: the largest 16-bit value is 0.99997.
const FULL: f32 = 0.9999;
/// Samples at full scale in a second that are no chance, per second.
const CLIPS: f64 = 3.0;
/// However many there were, they are forgotten within a second once they stop: no more than so
/// many count, three times what is said.
const MOST_CLIPS: f64 = 9.0;
/// Below this there is too little, dB over full scale: ten bits of sixteen lie idle.
const LITTLE_DB: f32 = -60.0;
/// How long it must be so before it is said, s: longer than the gap between two overs.
const PATIENCE_S: f64 = 2.0;

/// Measures level between reports.
pub struct LevelMeter {
    // configured
    rate: f64,
    // state: since the report before
    peak: f32,
    squares: f64,
    samples: u64,
    clipped: u32,
    // state: of late
    /// Clipped samples, forgotten within a second or so.
    clips: f64,
    /// For how long there was too little, s.
    little_s: f64,
    /// For how long there was nothing but zeros, s.
    silent_s: f64,
}

impl LevelMeter {
    /// A meter for sound of `rate` Hz.
    pub fn new(rate: u32) -> Self {
        LevelMeter {
            rate: f64::from(rate),
            peak: 0.0,
            squares: 0.0,
            samples: 0,
            clipped: 0,
            clips: 0.0,
            little_s: 0.0,
            silent_s: 0.0,
        }
    }

    /// Takes samples.
    pub fn process(&mut self, samples: &[f32]) {
        for &sample in samples {
            let size = sample.abs();
            self.peak = self.peak.max(size);
            self.squares += f64::from(size) * f64::from(size);
            self.clipped += u32::from(size >= FULL);
        }
        self.samples += samples.len() as u64;
    }

    /// The level since the last call.
    pub fn take(&mut self) -> Level {
        let span_s = self.samples as f64 / self.rate;
        let mean = self.squares / self.samples.max(1) as f64;
        let rms_db = 10.0 * mean.max(1e-13).log10() as f32;
        let clips = self.clips * (-span_s).exp() + f64::from(self.clipped);
        self.clips = clips.min(MOST_CLIPS);
        let longer = |s: f64, so: bool| if so { s + span_s } else { 0.0 };
        self.little_s = longer(self.little_s, rms_db < LITTLE_DB);
        self.silent_s = longer(self.silent_s, self.peak == 0.0);
        let level = Level {
            peak_db: 20.0 * self.peak.max(1e-6).log10(),
            rms_db,
            clipped: self.clipped,
            state: self.state(),
        };
        (self.peak, self.squares, self.samples, self.clipped) = (0.0, 0.0, 0, 0);
        level
    }

    fn state(&self) -> LevelState {
        if self.clips > CLIPS {
            LevelState::Clipping
        } else if self.silent_s >= PATIENCE_S {
            LevelState::Silent
        } else if self.little_s >= PATIENCE_S {
            LevelState::TooLittle
        } else {
            LevelState::Good
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tone of this amplitude for so many seconds, read 25 times a second.
    fn hear(amplitude: f32, seconds: u32) -> Level {
        let mut meter = LevelMeter::new(8000);
        let mut level = Level::default();
        for block in 0..25 * seconds {
            let tone = |n: u32| amplitude * (0.8 * (block * 320 + n) as f32).sin();
            let sound: Vec<f32> = (0..320).map(|n| tone(n).clamp(-1.0, 1.0)).collect();
            meter.process(&sound);
            level = meter.take();
        }
        level
    }

    #[test]
    fn a_sine_has_3_db_less_than_its_peak() {
        let level = hear(0.5, 1);
        assert!((level.peak_db + 6.02).abs() < 0.1, "{level:?}");
        assert!((level.rms_db + 9.03).abs() < 0.1, "{level:?}");
        assert_eq!(level.state, LevelState::Good);
    }

    #[test]
    fn it_says_what_is_wrong() {
        let state = |amplitude, seconds| hear(amplitude, seconds).state;
        assert_eq!(state(2.0, 1), LevelState::Clipping);
        assert_eq!(state(0.0005, 3), LevelState::TooLittle);
        assert_eq!(state(0.0, 3), LevelState::Silent);
        // Not after a pause of a second.
        assert_eq!(state(0.0, 1), LevelState::Good);
        assert_eq!(state(0.005, 3), LevelState::Good);
    }
}
