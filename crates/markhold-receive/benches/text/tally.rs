//! What is counted: glyphs, words, and whether probabilities come true.

use crate::sent::{Read, Sent};

/// Counts of one kind.
#[derive(Default)]
pub struct Tally {
    sent: usize,
    wrong: usize,
    words: usize,
    words_sure: usize,
    sure_wrong: usize,
    /// For each tenth of probability: characters, those right, sum of probabilities.
    tenths: [(usize, usize, f64); 10],
}

/// Fewer characters in a tenth of probability say nothing.
const FEW: usize = 150;

impl Tally {
    pub fn add(&mut self, sent: &[Sent], read: &[Read]) {
        assert_eq!(sent.len(), read.len(), "every character is given once");
        let (mut word, mut sure, mut right) = (false, true, true);
        for ((_, truth), (glyph, p, is_sure)) in sent.iter().zip(read) {
            let good = truth == glyph;
            // A glyph lost, changed or printed for a shift: each is one that the reader sees.
            self.sent += usize::from(truth.is_some());
            self.wrong += usize::from(!good);
            let tenth = &mut self.tenths[((p * 10.0) as usize).min(9)];
            tenth.0 += 1;
            tenth.1 += usize::from(good);
            tenth.2 += f64::from(*p);
            sure &= is_sure;
            right &= good;
            word |= truth.is_some_and(|c| !c.is_whitespace());
            if truth.is_some_and(char::is_whitespace) {
                self.end_word(word, sure, right);
                (word, sure, right) = (false, true, true);
            }
        }
        self.end_word(word, sure, right);
    }

    fn end_word(&mut self, word: bool, sure: bool, right: bool) {
        self.words += usize::from(word);
        self.words_sure += usize::from(word && sure);
        self.sure_wrong += usize::from(word && sure && !right);
    }

    pub fn wrong(&self) -> f64 {
        100.0 * self.wrong as f64 / self.sent as f64
    }

    pub fn words_sure(&self) -> f64 {
        100.0 * self.words_sure as f64 / self.words.max(1) as f64
    }

    pub fn sure_words_wrong(&self) -> f64 {
        100.0 * self.sure_wrong as f64 / self.words_sure.max(1) as f64
    }

    /// Greatest distance, in points, of what was claimed in a tenth from what came true.
    pub fn off_by(&self) -> f64 {
        let many = self.tenths.iter().filter(|t| t.0 >= FEW);
        let off = many.map(|(n, right, sum)| 100.0 * (sum - *right as f64).abs() / *n as f64);
        off.fold(0.0, f64::max)
    }
}
