//! When each character is sent: the codes of a message laid out in time.
//!
//! ```text
//! silence | lead-in: mark | character | gap: mark | character | ... | tail: mark | silence
//!         begin_s                                                        end
//! ```

use crate::pace::{Gaps, Pace};
use crate::random::{Part, Random, normal, random, uniform};
use crate::sender::Sender;
use markhold_code::{Code, StartStop};
use std::sync::Arc;

/// One character as it was sent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SentCharacter {
    /// The code.
    pub code: Code,
    /// Where its start element begins, s from the first sample, before jitter, bias and
    /// path delay.
    pub start_s: f64,
}

/// The characters of one sender in order of time.
#[derive(Clone, Debug)]
pub(crate) struct Characters {
    // Configured.
    codes: Arc<[Code]>,
    repeat: bool,
    speed: StartStop,
    pace: Pace,
    until_s: f64,
    // State.
    random: Random,
    next: usize,
    start_s: f64,
}

impl Characters {
    /// The characters of `sender`; a repeating one stops where the next character would
    /// not be complete by `until_s`.
    pub(crate) fn new(sender: &Sender, until_s: f64, seed: u64, index: usize) -> Self {
        Self {
            codes: sender.codes.as_slice().into(),
            repeat: sender.repeat,
            speed: sender.speed,
            pace: sender.pace,
            until_s: if sender.repeat {
                until_s
            } else {
                f64::INFINITY
            },
            random: random(seed, Part::Pace, index),
            next: 0,
            start_s: sender.begin_s + sender.lead_in_s,
        }
    }

    fn gap_s(&mut self) -> f64 {
        let Pace::Keyboard {
            characters_per_second,
            gaps,
        } = self.pace
        else {
            return 0.0;
        };
        let mean = 1.0 / characters_per_second - self.speed.character_s();
        match gaps {
            Gaps::Exponential => -mean * (1.0 - uniform(&mut self.random, 0.0, 1.0)).ln(),
            // The mean of a log-normal number is exp(mu + sigma^2 / 2).
            Gaps::LogNormal { sigma } => {
                mean * (sigma * normal(&mut self.random) - sigma * sigma / 2.0).exp()
            }
        }
    }
}

impl Iterator for Characters {
    type Item = SentCharacter;

    fn next(&mut self) -> Option<SentCharacter> {
        if self.repeat && self.next == self.codes.len() {
            self.next = 0;
        }
        let code = *self.codes.get(self.next)?;
        let start_s = self.start_s;
        let end_s = start_s + self.speed.character_s();
        if end_s > self.until_s {
            return None;
        }
        self.next += 1;
        self.start_s = end_s + self.gap_s();
        Some(SentCharacter { code, start_s })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sender(pace: Pace) -> Sender {
        Sender {
            codes: vec![Code::LETTERS; 4000],
            pace,
            begin_s: 1.0,
            lead_in_s: 2.0,
            ..Sender::default()
        }
    }

    #[test]
    fn continuous_characters_follow_without_a_gap() {
        let sender = sender(Pace::Continuous);
        let character_s = sender.speed.character_s();
        for (k, c) in Characters::new(&sender, 0.0, 1, 0).enumerate() {
            assert!((c.start_s - (3.0 + k as f64 * character_s)).abs() < 1e-9);
        }
    }

    #[test]
    fn ten_hours_on_nothing_has_accumulated() {
        let mut sender = sender(Pace::Continuous);
        sender.repeat = true;
        let character_s = sender.speed.character_s();
        let (k, last) = Characters::new(&sender, 36_000.0, 1, 0)
            .enumerate()
            .last()
            .expect("some");
        assert!(k > 220_000);
        assert!((last.start_s - (3.0 + k as f64 * character_s)).abs() < 1e-6);
    }

    #[test]
    fn typing_keeps_its_mean_pace_and_never_overlaps() {
        for gaps in [Gaps::Exponential, Gaps::LogNormal { sigma: 0.7 }] {
            let sender = sender(Pace::Keyboard {
                characters_per_second: 3.0,
                gaps,
            });
            let starts: Vec<f64> = Characters::new(&sender, 0.0, 1, 0)
                .map(|c| c.start_s)
                .collect();
            for pair in starts.windows(2) {
                assert!(pair[1] - pair[0] >= sender.speed.character_s() - 1e-9);
            }
            let mean = (starts[3999] - starts[0]) / 3999.0;
            // The gap has a mean of 0.17 s and about as much scatter: 3 sigma of the mean
            // of 4000 gaps is 0.009 s.
            assert!(
                (mean - 1.0 / 3.0).abs() < 0.009,
                "{gaps:?}: one each {mean} s"
            );
        }
    }

    #[test]
    fn a_repeating_sender_sends_whole_characters_only() {
        let mut sender = sender(Pace::Continuous);
        sender.codes.truncate(3);
        sender.repeat = true;
        let last = Characters::new(&sender, 60.0, 1, 0).last().expect("some");
        let end_s = last.start_s + sender.speed.character_s();
        assert!(end_s <= 60.0 && end_s > 60.0 - sender.speed.character_s());
        sender.codes.clear();
        assert_eq!(Characters::new(&sender, 60.0, 1, 0).next(), None);
    }
}
