//! One character of copy, and what else it may have been.

use crate::{CharacterId, Codes, Doubt, SignalId};
use markhold_code::{Code, Shift, Symbol};

/// One other way to read a character.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alternative {
    /// The five-unit code.
    pub code: Code,
    /// What it would mean in the same shift.
    pub symbol: Symbol,
    /// Its probability, 0 to 1.
    pub probability: f32,
}

/// What the signal alone says of a character, and what signal and language say together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Witnesses {
    /// The likeliest reading by the signal alone.
    pub signal: Alternative,
    /// The likeliest reading by both.
    pub both: Alternative,
    /// Probability of the code of `both` by the signal alone: how much of its certainty does
    /// not come from language.
    pub from_signal: f32,
    /// Probability that the text around it is prose, not groups or rows of letters; of those
    /// language says nothing.
    pub prose: f32,
}

impl Witnesses {
    /// Whether language makes it another character than the signal alone.
    pub fn differ(&self) -> bool {
        self.signal.code != self.both.code || self.signal.symbol != self.both.symbol
    }
}

/// One character of copy.
#[derive(Clone, Debug, PartialEq)]
pub struct Character {
    /// Whose character it is.
    pub signal: SignalId,
    /// Its name among the signal's characters, the same in all its readings.
    pub id: CharacterId,
    /// Where its start element begins, s.
    pub start_s: f64,
    /// The five-unit code most likely sent.
    pub code: Code,
    /// The shift in force when it was received.
    pub shift: Shift,
    /// What it means: the character, a control, or nothing.
    pub symbol: Symbol,
    /// Probability that a character with this code was sent here, 0 to 1.
    pub probability: f32,
    /// Probability that any character was sent here, 0 to 1; 1 where the characters around it
    /// vouch for it, as they do for every decided one.
    pub present: f32,
    /// How likely each code is by the signal alone, given that one was sent; `None` where
    /// that was not kept.
    pub codes: Option<Codes>,
    /// The next best two readings.
    pub alternatives: [Alternative; 2],
    /// Why it is doubtful; `None` where it is not.
    pub doubt: Option<Doubt>,
    /// What the signal and language each say; `None` where language was not asked.
    pub witnesses: Option<Witnesses>,
}

impl Character {
    /// The character as the signal alone has it. What it means stays in the shift in force.
    pub fn by_signal(&self) -> Self {
        let Some(Witnesses { signal, .. }) = self.witnesses else {
            return self.clone();
        };
        Self {
            code: signal.code,
            symbol: signal.symbol,
            probability: signal.probability,
            witnesses: None,
            ..self.clone()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ITU-T S.1: combination 5 is E, combination 20 is T.
    #[test]
    fn what_the_signal_alone_has_is_taken_back() {
        let reading = |code: u8, letter: char, probability: f32| Alternative {
            code: Code::new(code).expect("five units"),
            symbol: Symbol::Print(letter),
            probability,
        };
        let (e, t) = (reading(0b00001, 'E', 0.9), reading(0b10000, 'T', 0.55));
        let changed = Character {
            signal: SignalId(1),
            id: CharacterId(200),
            start_s: 2.0,
            code: e.code,
            shift: Shift::Letters,
            symbol: e.symbol,
            probability: 0.9,
            present: 1.0,
            codes: None,
            alternatives: [t, t],
            doubt: None,
            witnesses: Some(Witnesses {
                signal: t,
                both: e,
                from_signal: 0.4,
                prose: 1.0,
            }),
        };
        let heard = changed.by_signal();
        assert_eq!((heard.code, heard.symbol), (t.code, t.symbol));
        assert_eq!((heard.probability, heard.witnesses), (0.55, None));
        assert_eq!(heard.by_signal(), heard, "nothing is left to take back");
    }
}
