//! What an over is made of, and where its text comes from.

use markhold_code::{Code, Stretch};

/// A piece of an over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Piece {
    /// A character.
    Code(Code),
    /// Mark for so many seconds: there is nothing to send.
    Mark(f64),
    /// Stretches of a line that ends in mark: a dot or dash.
    Line([Stretch; 2]),
    /// The over ends.
    End,
}

/// What gives the pieces of an over, one after the other.
pub trait Script {
    /// The next piece, `at_s` after the first one began; what it gives is sent.
    fn next(&mut self, at_s: f64) -> Piece;
}

/// A character of text that is to be sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Given {
    /// This character; it counts as sent from here on.
    Char(char),
    /// Nothing yet.
    NotYet,
    /// Nothing more.
    End,
}

/// Where text comes from.
pub trait TextGiven {
    /// The next character, `at_s` after the over's first piece began.
    fn next(&mut self, at_s: f64) -> Given;
}

/// A text that is there as a whole, or as it would be typed at an even pace.
#[derive(Clone, Debug)]
pub struct Typed {
    // Configured.
    text: Vec<char>,
    character_s: f64,
    // State.
    taken: usize,
}

impl Typed {
    /// A text that is there at once.
    pub fn at_once(text: &str) -> Self {
        Self::paced(text, 0.0)
    }

    /// A text of which so many words a minute are typed, a word being six strokes.
    pub fn at_words_per_minute(text: &str, wpm: f64) -> Self {
        Self::paced(text, 10.0 / wpm)
    }

    fn paced(text: &str, character_s: f64) -> Self {
        Typed {
            text: text.chars().collect(),
            character_s,
            taken: 0,
        }
    }
}

impl TextGiven for Typed {
    fn next(&mut self, at_s: f64) -> Given {
        let Some(c) = self.text.get(self.taken) else {
            return Given::End;
        };
        if at_s < self.taken as f64 * self.character_s {
            return Given::NotYet;
        }
        self.taken += 1;
        Given::Char(*c)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typed_at_a_pace_and_at_once() {
        let mut typed = Typed::at_words_per_minute("AB", 60.0);
        assert_eq!(typed.next(0.0), Given::Char('A'));
        assert_eq!(typed.next(0.16), Given::NotYet);
        assert_eq!(typed.next(0.17), Given::Char('B'));
        assert_eq!(typed.next(0.17), Given::End);
        let mut once = Typed::at_once("AB");
        assert_eq!(
            [0; 3].map(|_| once.next(0.0)),
            [Given::Char('A'), Given::Char('B'), Given::End]
        );
    }
}
