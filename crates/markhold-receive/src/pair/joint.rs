//! What several receivers read of one window, made into one reading.
//!
//! The characters are those of the elements that were framed together. What each receiver's
//! closer look says of their codes is multiplied; where it saw no character, its elements
//! speak.

use super::window::STEPS;
use crate::characters::reading::{Reading, codes_at};
use crate::elements::Elements;

/// Readings that begin so near, grid points, are of one character.
const NEAR: f64 = 0.5 * STEPS as f64;
/// Characters begin farther apart than this, grid points.
const APART: f64 = 5.0 * STEPS as f64;
/// A character that only closer looks see, each by itself, is one from this probability on.
const SEEN: f32 = 0.9;

/// What one receiver says of a window.
pub struct Witness<'a> {
    /// Its closer look.
    pub closer: &'a [Reading],
    /// Its elements.
    pub elements: &'a Elements,
}

/// All of them together, from the readings of all elements.
pub fn together(framed: &[Reading], witnesses: &[Witness]) -> Vec<Reading> {
    let mut readings = framed.to_vec();
    for seen in witnesses.iter().flat_map(|w| w.closer) {
        let far = |r: &Reading| (r.start - seen.start).abs() > APART;
        if seen.present > SEEN && readings.iter().all(far) {
            readings.push(seen.clone());
        }
    }
    readings.sort_by(|a, b| a.start.total_cmp(&b.start));
    for reading in &mut readings {
        reading.codes = codes(reading, witnesses);
    }
    readings
}

fn codes(reading: &Reading, witnesses: &[Witness]) -> [f32; 32] {
    let mut logs = [0.0f32; 32];
    for witness in witnesses {
        let near = |r: &&Reading| (r.start - reading.start).abs() <= NEAR;
        let says = match witness.closer.iter().find(near) {
            Some(closer) => closer
                .codes
                .map(|p| closer.present * p + (1.0 - closer.present) / 32.0),
            None => codes_at(witness.elements, reading.start.round().max(0.0) as usize),
        };
        for (log, p) in logs.iter_mut().zip(says) {
            *log += p.max(f32::MIN_POSITIVE).ln();
        }
    }
    let most = logs.iter().copied().fold(f32::MIN, f32::max);
    let raw = logs.map(|l| (l - most).exp());
    let sum: f32 = raw.iter().sum();
    raw.map(|r| r / sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(start: f64, present: f32, code: usize, p: f32) -> Reading {
        let mut codes = [(1.0 - p) / 31.0; 32];
        codes[code] = p;
        Reading {
            start,
            spread: 0.0,
            present,
            codes,
        }
    }

    fn silent() -> Elements {
        Elements {
            steps: STEPS,
            mark: vec![0.0; 400],
            space: vec![0.0; 400],
            part: vec![0.0; 400 * STEPS],
        }
    }

    #[test]
    fn two_that_doubt_and_agree_are_sure_and_one_that_heard_nothing_changes_nothing() {
        let elements = silent();
        let framed = [reading(20.0, 0.99, 5, 0.6)];
        let looks = [
            vec![reading(20.5, 1.0, 5, 0.8)],
            vec![reading(19.0, 1.0, 5, 0.8)],
            vec![],
        ];
        let witness = |closer| Witness {
            closer,
            elements: &elements,
        };
        let all: Vec<Witness> = looks.iter().map(|l| witness(l.as_slice())).collect();
        let read = together(&framed, &all);
        assert_eq!((read.len(), read[0].best()), (1, 5));
        // Odds of 0.8 to 0.2/31 for each other code, squared, over 31 of them.
        let odds = (0.8f32 * 31.0 / 0.2).powi(2) / 31.0;
        let expected = odds / (1.0 + odds);
        assert!((read[0].codes[5] - expected).abs() < 1e-4);
        assert_eq!(read[0].present, 0.99);
    }

    #[test]
    fn what_one_sees_surely_is_not_lost() {
        let elements = silent();
        let framed = [reading(20.0, 0.99, 5, 0.9)];
        let closer = [reading(20.0, 1.0, 5, 0.9), reading(150.0, 0.97, 9, 0.9)];
        let witness = Witness {
            closer: &closer,
            elements: &elements,
        };
        let read = together(&framed, &[witness]);
        assert_eq!(read.iter().map(Reading::best).collect::<Vec<_>>(), [5, 9]);
    }
}
