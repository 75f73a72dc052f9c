//! A neighbour: a carrier, steady or keyed in Morse with soft edges.

use crate::crash::Interval;
use crate::drift::Drift;
use crate::error::{SceneError, within};
use crate::morse::{Morse, dot_s};
use crate::oscillator::Oscillator;
use crate::random::{Part, random, uniform};
use crate::sender::Sender;
use num_complex::Complex64;
use std::f64::consts::PI;

/// Where a carrier is heard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Place {
    /// At this frequency, Hz of audio.
    At(f64),
    /// Beside the first sender, Hz from its nearer tone: above 0 counts up from the higher
    /// tone, below 0 counts down from the lower one. Offset and drift of the sender are not
    /// followed.
    Beside(f64),
}

impl Place {
    /// The frequency, Hz; `None` if it is beside a sender and there is none.
    pub(crate) fn hz(self, first: Option<&Sender>) -> Option<f64> {
        match self {
            Place::At(hz) => Some(hz),
            Place::Beside(hz) => first.map(|s| s.centre_hz + hz + (s.shift_hz / 2.0).copysign(hz)),
        }
    }
}

/// What a carrier does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Keying {
    /// It is on all the time.
    Steady,
    /// It is keyed in Morse with made-up groups.
    Morse {
        /// Speed, words of PARIS in one minute.
        wpm: f64,
    },
}

/// A steady or keyed carrier.
#[derive(Clone, Debug, PartialEq)]
pub struct Carrier {
    /// Where it is heard.
    pub place: Place,
    /// What it does.
    pub keying: Keying,
    /// Power with the key down over the reference power, dB.
    pub level_db: f64,
    /// How long it takes to rise and to fall, ms (raised cosine); 5 is usual and 0 clicks
    /// (common practice).
    pub rise_ms: f64,
    /// When it comes on, s.
    pub from_s: f64,
    /// When it goes off at the latest, s; infinite by default.
    pub until_s: f64,
    /// How its frequency moves.
    pub drift: Drift,
}

impl Default for Carrier {
    /// Morse of 20 words a minute, 300 Hz above the higher tone, as strong as the signal.
    fn default() -> Self {
        Self {
            place: Place::Beside(300.0),
            keying: Keying::Morse { wpm: 20.0 },
            level_db: 0.0,
            rise_ms: 5.0,
            from_s: 0.0,
            until_s: f64::INFINITY,
            drift: Drift::default(),
        }
    }
}

impl Carrier {
    pub(crate) fn check(&self, whose: &str) -> Result<(), SceneError> {
        let check = |what: &str, found, range, unit| {
            within(format!("{what} of {whose}"), found, range, unit)
        };
        check("level", self.level_db, (-100.0, 100.0), "dB")?;
        check("beginning", self.from_s, (0.0, 1e7), "s")?;
        check("end", self.until_s, (self.from_s, f64::INFINITY), "s")?;
        let longest_ms = match self.keying {
            Keying::Steady => 1e3,
            Keying::Morse { wpm } => {
                check("speed", wpm, (1.0, 100.0), "words per minute")?;
                // Slower edges would run into each other.
                1e3 * dot_s(wpm) / 2.0
            }
        };
        check("rise time", self.rise_ms, (0.0, longest_ms), "ms")?;
        self.drift.check(whose)
    }

    /// Power with the key down, the reference being 1.
    pub(crate) fn power(&self) -> f64 {
        10f64.powf(self.level_db / 10.0)
    }

    /// Mean power while it is there; in PARIS the key is down for 22 of 50 dots.
    pub(crate) fn mean_power(&self) -> f64 {
        match self.keying {
            Keying::Steady => self.power(),
            Keying::Morse { .. } => self.power() * 22.0 / 50.0,
        }
    }

    pub(crate) fn times(&self, seed: u64, index: usize) -> KeyTimes {
        let source = match self.keying {
            Keying::Steady => None,
            Keying::Morse { wpm } => Some(Morse::new(
                wpm,
                self.from_s,
                random(seed, Part::Morse, index),
            )),
        };
        KeyTimes {
            source,
            from_s: self.from_s,
            until_s: self.until_s,
        }
    }
}

/// The stretches with the key down, in order.
#[derive(Clone, Debug)]
pub(crate) struct KeyTimes {
    source: Option<Morse>,
    from_s: f64,
    until_s: f64,
}

impl Iterator for KeyTimes {
    type Item = Interval;

    fn next(&mut self) -> Option<Interval> {
        let down = match &mut self.source {
            Some(morse) => morse.next(),
            None => Interval {
                start_s: std::mem::replace(&mut self.from_s, f64::INFINITY),
                end_s: f64::INFINITY,
            },
        };
        let end_s = down.end_s.min(self.until_s);
        (down.start_s < end_s).then_some(Interval { end_s, ..down })
    }
}

/// The sound of a carrier.
#[derive(Clone, Debug)]
pub(crate) struct CarrierSound {
    // Configured.
    amplitude: f64,
    rise_s: f64,
    sample_rate: f64,
    // State.
    times: KeyTimes,
    oscillator: Oscillator,
    down: Interval,
    sample: u64,
}

/// A stretch that never comes.
const NEVER: Interval = Interval {
    start_s: f64::INFINITY,
    end_s: f64::INFINITY,
};

impl CarrierSound {
    pub(crate) fn new(
        carrier: &Carrier,
        hz: f64,
        sample_rate: f64,
        (seed, index): (u64, usize),
    ) -> Self {
        // Senders and carriers count apart, so carriers take the upper half of the indices.
        let mut phases = random(seed, Part::Oscillator, index + (1 << 31));
        let phase = uniform(&mut phases, 0.0, 1.0);
        let mut times = carrier.times(seed, index);
        let down = times.next().unwrap_or(NEVER);
        Self {
            amplitude: (2.0 * carrier.power()).sqrt(),
            rise_s: carrier.rise_ms / 1e3,
            sample_rate,
            times,
            oscillator: Oscillator::new(hz, phase, &carrier.drift, sample_rate),
            down,
            sample: 0,
        }
    }

    /// The next sample of the analytic signal.
    pub(crate) fn next(&mut self) -> Complex64 {
        let time_s = self.sample as f64 / self.sample_rate;
        self.sample += 1;
        while time_s >= self.down.end_s + self.rise_s {
            self.down = self.times.next().unwrap_or(NEVER);
        }
        let tone = self.oscillator.next();
        tone * (self.amplitude * self.envelope(time_s))
    }

    /// Rises from the moment the key goes down, falls from the moment it goes up.
    fn envelope(&self, time_s: f64) -> f64 {
        let risen = self.edge(time_s - self.down.start_s);
        risen * (1.0 - self.edge(time_s - self.down.end_s))
    }

    fn edge(&self, since_s: f64) -> f64 {
        if since_s < 0.0 {
            0.0
        } else if since_s >= self.rise_s {
            1.0
        } else {
            0.5 - 0.5 * (PI * since_s / self.rise_s).cos()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sound(carrier: &Carrier, seconds: f64) -> Vec<Complex64> {
        let mut sound = CarrierSound::new(carrier, 1000.0, 8000.0, (1, 0));
        (0..(seconds * 8000.0) as usize)
            .map(|_| sound.next())
            .collect()
    }

    #[test]
    fn power_with_the_key_down_is_the_level() {
        let carrier = Carrier {
            level_db: 30.0,
            ..Carrier::default()
        };
        let all = sound(&carrier, 20.0);
        let most = all.iter().map(|z| z.norm_sqr() / 2.0).fold(0.0, f64::max);
        assert!((10.0 * most.log10() - 30.0).abs() < 1e-6, "{most}");
        assert!(all.iter().any(|z| z.norm() == 0.0), "the key goes up");
    }

    #[test]
    fn edges_take_the_rise_time_and_no_more() {
        for (rise_ms, most) in [(5.0, PI / 2.0 / 40.0), (20.0, PI / 2.0 / 160.0)] {
            let all = sound(
                &Carrier {
                    rise_ms,
                    ..Carrier::default()
                },
                10.0,
            );
            let steepest = all
                .windows(2)
                .map(|w| (w[1].norm() - w[0].norm()).abs() / 2f64.sqrt())
                .fold(0.0, f64::max);
            assert!(
                steepest <= most * 1.001 && steepest > most * 0.9,
                "{steepest}, not {most}"
            );
        }
    }

    #[test]
    fn a_steady_carrier_is_on_from_its_beginning_to_its_end() {
        let carrier = Carrier {
            keying: Keying::Steady,
            rise_ms: 0.0,
            from_s: 1.0,
            until_s: 2.0,
            ..Carrier::default()
        };
        for (n, z) in sound(&carrier, 3.0).iter().enumerate() {
            let on = (8000..16000).contains(&n);
            assert_eq!(z.norm() > 0.5, on, "at sample {n}");
        }
    }

    #[test]
    fn beside_counts_from_the_nearer_tone() {
        let sender = Sender::default();
        assert_eq!(Place::Beside(100.0).hz(Some(&sender)), Some(2395.0));
        assert_eq!(Place::Beside(-100.0).hz(Some(&sender)), Some(2025.0));
        assert_eq!(Place::Beside(100.0).hz(None), None);
        assert_eq!(Place::At(700.0).hz(None), Some(700.0));
    }
}
