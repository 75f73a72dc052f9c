//! Made-up Morse: which stretches the key is down.
//!
//! Code and spacing are those of ITU-R M.1677: a dash is three dots, elements of a letter
//! are one dot apart, letters three, words seven. N words a minute of the word PARIS
//! (50 dots) make a dot of 1.2/N seconds (common practice).

use crate::crash::Interval;
use crate::random::{Random, uniform};

/// Letters A to Z, then figures 0 to 9.
const CODE: [&str; 36] = [
    ".-", "-...", "-.-.", "-..", ".", "..-.", "--.", "....", "..", ".---", "-.-", ".-..", "--",
    "-.", "---", ".--.", "--.-", ".-.", "...", "-", "..-", "...-", ".--", "-..-", "-.--", "--..",
    "-----", ".----", "..---", "...--", "....-", ".....", "-....", "--...", "---..", "----.",
];

/// An endless run of random groups, mostly letters.
#[derive(Clone, Debug)]
pub(crate) struct Morse {
    // Configured.
    dot_s: f64,
    // State.
    random: Random,
    /// What is left of the current letter.
    letter: &'static [u8],
    letters_left: u32,
    time_s: f64,
}

impl Morse {
    /// Morse of `wpm` words a minute, from `start_s` on.
    pub(crate) fn new(wpm: f64, start_s: f64, random: Random) -> Self {
        Self {
            dot_s: dot_s(wpm),
            random,
            letter: b"",
            letters_left: 0,
            time_s: start_s,
        }
    }

    /// The next stretch with the key down.
    pub(crate) fn next(&mut self) -> Interval {
        while self.letter.is_empty() {
            self.next_letter();
        }
        let dots = if self.letter[0] == b'-' { 3.0 } else { 1.0 };
        self.letter = &self.letter[1..];
        let start_s = self.time_s;
        let end_s = start_s + dots * self.dot_s;
        let pause = match (self.letter.is_empty(), self.letters_left) {
            (false, _) => 1.0,
            (true, 0) => 7.0,
            (true, _) => 3.0,
        };
        self.time_s = end_s + pause * self.dot_s;
        Interval { start_s, end_s }
    }

    fn next_letter(&mut self) {
        if self.letters_left == 0 {
            self.letters_left = uniform(&mut self.random, 2.0, 8.0) as u32;
        }
        self.letters_left -= 1;
        let figure = uniform(&mut self.random, 0.0, 1.0) < 0.15;
        let (low, high) = if figure { (26.0, 36.0) } else { (0.0, 26.0) };
        let place = uniform(&mut self.random, low, high) as usize;
        self.letter = CODE[place.min(CODE.len() - 1)].as_bytes();
    }
}

/// Duration of a dot, s.
pub(crate) fn dot_s(wpm: f64) -> f64 {
    1.2 / wpm
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Part, random};

    fn dots(letter: u8) -> usize {
        let code = CODE[usize::from(letter - b'A')];
        code.bytes()
            .map(|c| if c == b'-' { 4 } else { 2 })
            .sum::<usize>()
            - 1
    }

    /// PARIS with its word space is 50 dots (common practice).
    #[test]
    fn paris_is_50_dots() {
        let word: usize = b"PARIS".iter().map(|&c| dots(c)).sum();
        assert_eq!(word + 4 * 3 + 7, 50);
        let down = |c: u8| {
            let code = CODE[usize::from(c - b'A')];
            code.bytes()
                .map(|d| if d == b'-' { 3 } else { 1 })
                .sum::<usize>()
        };
        assert_eq!(b"PARIS".iter().map(|&c| down(c)).sum::<usize>(), 22);
    }

    #[test]
    fn codes_are_all_different() {
        let mut all = CODE.to_vec();
        all.sort_unstable();
        all.dedup();
        assert_eq!(all.len(), 36);
    }

    #[test]
    fn stretches_and_pauses_are_whole_dots() {
        let mut morse = Morse::new(24.0, 0.0, random(1, Part::Morse, 0));
        let all: Vec<Interval> = (0..500).map(|_| morse.next()).collect();
        for (now, then) in all.iter().zip(&all[1..]) {
            let down = (now.end_s - now.start_s) / 0.05;
            let up = (then.start_s - now.end_s) / 0.05;
            assert!(
                [1.0, 3.0].iter().any(|d| (down - d).abs() < 1e-6),
                "{down} dots down"
            );
            assert!(
                [1.0, 3.0, 7.0].iter().any(|d| (up - d).abs() < 1e-6),
                "{up} dots up"
            );
        }
    }
}
