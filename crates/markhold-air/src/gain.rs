//! The receiver's gain: fixed, or set by its AGC, and the limits of the sound card.

use crate::error::{SceneError, within};
use num_complex::Complex64;

/// Automatic gain control, acting on everything that passes the receiver's filter.
///
/// The detector follows the envelope: upwards with the attack time constant, downwards with
/// the decay time constant, and the gain is the inverse of what it holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Agc {
    /// Time constant of the detector when the envelope rises, ms.
    pub attack_ms: f64,
    /// Time constant of the detector when the envelope falls, s.
    pub decay_s: f64,
    /// How far below the expected level the gain still rises, dB.
    pub range_db: f64,
}

impl Default for Agc {
    /// 5 ms attack, 0.5 s decay, 60 dB range: between the fast and the slow setting of a
    /// communications receiver (common practice).
    fn default() -> Self {
        Self {
            attack_ms: 5.0,
            decay_s: 0.5,
            range_db: 60.0,
        }
    }
}

impl Agc {
    pub(crate) fn check(self) -> Result<(), SceneError> {
        within("attack of the AGC", self.attack_ms, (0.01, 1e4), "ms")?;
        within("decay of the AGC", self.decay_s, (1e-4, 100.0), "s")?;
        within("range of the AGC", self.range_db, (0.0, 200.0), "dB")
    }
}

/// Gain with or without AGC, then clipping.
#[derive(Clone, Debug)]
pub(crate) struct Gain {
    // Derived. `target` is the envelope wanted at the output; rises and falls are the share
    // of the way to go in one sample.
    target: f64,
    rise: f64,
    fall: f64,
    least: f64,
    automatic: bool,
    // State: the envelope that the gain is set for.
    held: f64,
}

impl Gain {
    /// `expected_power` is the mean power at the input, `level_dbfs` the rms wanted at the
    /// output, 0 dBFS being an rms of 1.
    pub(crate) fn new(
        agc: Option<Agc>,
        expected_power: f64,
        level_dbfs: f64,
        sample_rate: f64,
    ) -> Self {
        // Envelope of the analytic signal: sqrt(2) times the rms of its real part.
        let envelope = (2.0 * expected_power).sqrt();
        let share = |time_s: f64| -(-1.0 / (time_s * sample_rate)).exp_m1();
        Self {
            target: 2f64.sqrt() * 10f64.powf(level_dbfs / 20.0),
            rise: agc.map_or(0.0, |agc| share(agc.attack_ms / 1e3)),
            fall: agc.map_or(0.0, |agc| share(agc.decay_s)),
            least: agc.map_or(envelope, |agc| envelope * 10f64.powf(-agc.range_db / 20.0)),
            automatic: agc.is_some(),
            held: envelope,
        }
    }

    /// One sample: real part, amplified and clipped to -1..=1.
    pub(crate) fn process(&mut self, z: Complex64) -> f32 {
        if self.automatic {
            let envelope = z.norm();
            let share = if envelope > self.held {
                self.rise
            } else {
                self.fall
            };
            self.held = (self.held + (envelope - self.held) * share).max(self.least);
        }
        ((z.re * self.target / self.held) as f32).clamp(-1.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::cis;

    const RATE: f64 = 8000.0;

    /// Detector level after each sample for a tone that steps by `step_db` after 1 s.
    fn step(agc: Agc, step_db: f64, seconds: f64) -> Vec<f64> {
        let mut gain = Gain::new(Some(agc), 1.0, -15.0, RATE);
        (0..((1.0 + seconds) * RATE) as usize)
            .map(|n| {
                let db = if n < 8000 { 0.0 } else { step_db };
                let amplitude = 2f64.sqrt() * 10f64.powf(db / 20.0);
                gain.process(cis(0.1 * n as f64) * amplitude);
                gain.held / 2f64.sqrt()
            })
            .collect()
    }

    #[test]
    fn attack_is_the_time_to_63_percent_of_a_rise() {
        for attack_ms in [2.0, 10.0, 50.0] {
            let held = step(
                Agc {
                    attack_ms,
                    ..Agc::default()
                },
                20.0,
                1.0,
            );
            let reached = held[8000..]
                .iter()
                .position(|&h| h >= 1.0 + 9.0 * 0.632)
                .expect("it rises");
            assert!(
                (reached as f64 / 8.0 - attack_ms).abs() < 0.3,
                "{attack_ms} ms: {reached}"
            );
        }
    }

    #[test]
    fn decay_is_the_time_to_63_percent_of_a_fall() {
        for decay_s in [0.1, 0.5, 2.0] {
            let held = step(
                Agc {
                    decay_s,
                    ..Agc::default()
                },
                -20.0,
                5.0,
            );
            let reached = held[8000..]
                .iter()
                .position(|&h| h <= 1.0 - 0.9 * 0.632)
                .expect("it falls");
            assert!(
                (reached as f64 / RATE / decay_s - 1.0).abs() < 0.01,
                "{decay_s} s: {reached}"
            );
        }
    }

    #[test]
    fn tones_of_any_strength_come_out_at_the_level() {
        for db in [-40.0_f64, 0.0, 40.0] {
            let mut gain = Gain::new(Some(Agc::default()), 1.0, -15.0, RATE);
            let amplitude = 2f64.sqrt() * 10f64.powf(db / 20.0);
            let out: Vec<f32> = (0..80_000)
                .map(|n| gain.process(cis(0.0123 * f64::from(n)) * amplitude))
                .collect();
            let power = out[64_000..].iter().map(|x| f64::from(x * x)).sum::<f64>() / 16_000.0;
            assert!(
                (10.0 * power.log10() + 15.0).abs() < 0.1,
                "{db} dB in: {power}"
            );
        }
    }

    #[test]
    fn the_gain_stops_rising_at_the_end_of_its_range() {
        let agc = Agc {
            range_db: 20.0,
            decay_s: 0.05,
            ..Agc::default()
        };
        let held = step(agc, -200.0, 2.0);
        assert!((held[held.len() - 1] - 0.1).abs() < 1e-9);
    }

    #[test]
    fn what_is_too_loud_is_clipped() {
        let mut gain = Gain::new(None, 1.0, -15.0, RATE);
        assert_eq!(gain.process(Complex64::new(1e6, 0.0)), 1.0);
        assert_eq!(gain.process(Complex64::new(-1e6, 0.0)), -1.0);
    }
}
