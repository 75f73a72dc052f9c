//! Tally: what the characters of a signal came to, whatever they say.

use std::collections::VecDeque;

use crate::pair::follower::Heard;

/// Time constant, in characters, of the mean probability.
const MEAN_CHARACTERS: f32 = 40.0;
/// So many characters of one code, or of two by turns, are a row: text has none of that length.
const ROW: usize = 8;
/// Mean probability of characters below which they are garble, and after how many
/// characters it counts.
const GARBLE: (f32, usize) = (0.30, 40);

/// How sure the characters of a signal were, how strong, and whether they vary.
pub struct Tally {
    characters: usize,
    mean_probability: f32,
    /// The latest codes, at most [`ROW`].
    latest: VecDeque<usize>,
    /// Sum over characters of the energy of an element over noise density, linear.
    energy_sum: f64,
}

impl Default for Tally {
    fn default() -> Self {
        Self {
            characters: 0,
            mean_probability: 1.0,
            latest: VecDeque::new(),
            energy_sum: 0.0,
        }
    }
}

impl Tally {
    /// Counts the next character as the evidence claims it.
    pub fn take(&mut self, heard: &Heard) {
        let claimed = heard.reading.probability();
        self.mean_probability += (claimed - self.mean_probability) / MEAN_CHARACTERS;
        if self.latest.len() == ROW {
            self.latest.pop_front();
        }
        self.latest.push_back(heard.reading.best());
        let [mark, space] = heard.conditions.energy;
        self.energy_sum += f64::from(mark + space) / 2.0;
        self.characters += 1;
    }

    /// How many there were.
    pub fn characters(&self) -> usize {
        self.characters
    }

    /// Mean probability of the latest characters, before language.
    pub fn mean_probability(&self) -> f32 {
        self.mean_probability
    }

    /// Mean energy of an element over noise density, linear; `None` before any character.
    pub fn energy(&self) -> Option<f64> {
        (self.characters > 0).then(|| self.energy_sum / self.characters as f64)
    }

    /// Whether they are what a receiver makes of something that is no text.
    pub fn is_garble(&self) -> bool {
        self.characters > GARBLE.1 && self.mean_probability < GARBLE.0
    }

    /// Whether the latest characters are a row of one code or of two by turns, in whatever sense.
    pub fn is_row(&self) -> bool {
        let by_turns = |i: usize| self.latest[i] == self.latest[i - 2];
        self.latest.len() == ROW && (2..ROW).all(by_turns)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::heard_as;

    const Q: usize = 0b10111;

    fn tally(codes: &[usize], probability: f32) -> Tally {
        let mut tally = Tally::default();
        for (at, code) in codes.iter().enumerate() {
            let mut all = [0.0; 32];
            all[*code] = probability;
            tally.take(&heard_as(0.165 * at as f64, all));
        }
        tally
    }

    #[test]
    fn a_row_is_one_code_or_two_by_turns() {
        let is_row = |codes: &[usize]| tally(codes, 0.99).is_row();
        let by_turns = |k: usize| [0b01010, 0b10101][k % 2];
        let row: Vec<usize> = (0..ROW).map(by_turns).collect();
        assert!(is_row(&row) && is_row(&[Q; ROW]));
        assert!(!is_row(&row[1..]), "too short to tell");
        assert!(is_row(&[&[Q], &row[..]].concat()), "of late");
        assert!(!is_row(&[&row[1..], &[Q]].concat()));
    }

    #[test]
    fn garble_shows_after_a_while() {
        assert!(!tally(&[Q; 40], 0.0).is_garble());
        // Forty characters take the mean to 1/e, some more below the limit.
        assert!(!tally(&[Q; 41], 0.0).is_garble());
        assert!(tally(&[Q; 60], 0.0).is_garble());
        assert!(!tally(&[Q; 200], 0.5).is_garble());
    }
}
