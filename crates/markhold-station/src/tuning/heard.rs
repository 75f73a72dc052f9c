//! Which tones have been heard of late: a signal that is followed may have left the air, or
//! the dial may have been turned away from it, and the receiver takes some seconds to be sure.

use super::humps::Hump;
use crate::instruments::spectra::PER_SECOND;
use std::collections::VecDeque;

/// Spectra that are remembered: 2 s, longer than a pause between words.
const MEMORY: usize = 2 * PER_SECOND as usize;
/// A tone is heard if it stood out in this share of them: keyed tones do in most.
const SHARE: f64 = 0.3;
/// How far a tone may seem to be from its place, Hz: keying and drift.
const SAME_HZ: f64 = 30.0;

/// Remembers tones.
#[derive(Clone, Debug, Default)]
pub struct Heard {
    latest: VecDeque<Vec<f64>>,
}

impl Heard {
    /// Takes the tones of a moment.
    pub fn take(&mut self, humps: &[Hump]) {
        self.latest.push_back(humps.iter().map(|h| h.hz).collect());
        let over = self.latest.len().saturating_sub(MEMORY);
        self.latest.drain(..over);
    }

    /// The dial was turned: what was heard before says nothing.
    pub fn forget(&mut self) {
        self.latest.clear();
    }

    /// Whether there is a tone here, Hz.
    pub fn is_heard(&self, hz: f64) -> bool {
        let near = |tones: &&Vec<f64>| tones.iter().any(|t| (t - hz).abs() < SAME_HZ);
        let count = self.latest.iter().filter(near).count();
        count as f64 >= SHARE * MEMORY as f64
    }

    /// Whether both tones of a pair are.
    pub fn is_pair_heard(&self, pair: [f64; 2]) -> bool {
        pair.into_iter().all(|hz| self.is_heard(hz))
    }

    /// Whether a pair is heard that is another than `first`: one of its tones is, and is none
    /// of the first's.
    pub fn is_another(&self, pair: [f64; 2], first: [f64; 2]) -> bool {
        let own = |hz: &f64| first.iter().all(|f| (f - hz).abs() > SAME_HZ);
        pair.iter()
            .filter(|hz| own(hz))
            .any(|hz| self.is_heard(*hz))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(tones: &[f64], spectra: usize) -> Heard {
        let humps: Vec<Hump> = tones
            .iter()
            .map(|hz| Hump {
                hz: *hz,
                power: 1.0,
            })
            .collect();
        let mut heard = Heard::default();
        (0..spectra).for_each(|_| heard.take(&humps));
        heard
    }

    #[test]
    fn a_tone_is_heard_when_it_stands_out_and_forgotten_when_it_goes() {
        let mut heard = heard(&[1000.0, 1170.0], MEMORY);
        assert!(heard.is_heard(1020.0) && heard.is_heard(1170.0));
        assert!(!heard.is_heard(1085.0));
        for _ in 0..MEMORY {
            heard.take(&[]);
        }
        assert!(!heard.is_heard(1000.0));
        assert_eq!(heard.latest.len(), MEMORY);
    }

    #[test]
    fn another_signal_has_a_tone_of_its_own_that_is_heard() {
        let first = [1000.0, 1170.0];
        let alone = heard(&first, MEMORY);
        assert!(!alone.is_another([1085.0, 1255.0], first), "it has gone");
        assert!(!alone.is_another([1170.0, 1340.0], first), "a shift away");
        assert!(!alone.is_another(first, first));
        let two = heard(&[1000.0, 1085.0, 1170.0, 1255.0], MEMORY);
        assert!(two.is_another([1085.0, 1255.0], first));
    }
}
