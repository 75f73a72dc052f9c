//! A copy beside a text that is known: which slot is which character of it.

use markhold_code::Code;

use crate::columns::Prepared;
use crate::rounds::first_time;
use crate::shares::{Copied, Shares, frequencies};
use crate::sides::Place;

/// Share of codes other than those expected: printed texts differ from what was sent.
const OTHERWISE: f32 = 0.002;
/// Probability that a character of the text was sent.
const SENT: f32 = 0.98;

/// A character of the text.
#[derive(Clone, Debug, PartialEq)]
pub struct Expected {
    /// The codes that may stand for it; what parts words may be a space or a line's end.
    pub codes: Vec<Code>,
    /// Whether it is sent in figures.
    pub figures: bool,
}

/// Lays a copy beside a text: stretches in which both say the same but for errors, each as pairs
/// of slot and character, both rising; in order of the slots. What is in no stretch has nothing
/// to do with the other.
pub fn beside(copied: &Copied, text: &[Expected]) -> Vec<Vec<(usize, usize)>> {
    let frequencies = frequencies(copied.slots.iter());
    let prepared = Prepared::new(&copied.slots, &frequencies);
    let places: Vec<Place> = text.iter().map(place).collect();
    let passages = first_time(&prepared, &places, &frequencies);
    let pairs = |p: &crate::columns::Passage| p.way.iter().map(|c| (c.row, c.column)).collect();
    passages.iter().map(pairs).collect()
}

fn place(expected: &Expected) -> Place {
    let mut codes: Shares = [OTHERWISE / Code::COUNT as f32; Code::COUNT];
    for code in &expected.codes {
        codes[usize::from(code.value())] += (1.0 - OTHERWISE) / expected.codes.len() as f32;
    }
    Place {
        codes,
        present: SENT,
        figures: f32::from(u8::from(expected.figures)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Slot;

    fn slot(code: Code) -> Slot {
        let mut codes = [0.0; Code::COUNT];
        codes[usize::from(code.value())] = 1.0;
        Slot {
            codes,
            present: 0.98,
            figures: 0.0,
        }
    }

    #[test]
    fn what_was_lost_and_what_is_not_of_the_text_stand_alone() {
        let text: Vec<Code> = (0..60).map(|k| Code::ALL[k * 7 % 26 + 1]).collect();
        let mut sent = text.clone();
        sent.remove(30);
        let head = [Code::ALL[29]; 10];
        let slots = head.iter().chain(&sent).map(|c| slot(*c)).collect();
        let expected = |code: &Code| Expected {
            codes: vec![*code],
            figures: false,
        };
        let expected: Vec<Expected> = text.iter().map(expected).collect();
        let found = beside(&Copied { slots }, &expected);
        let pairs: Vec<(usize, usize)> = (0..30)
            .map(|k| (k + 10, k))
            .chain((31..60).map(|k| (k + 9, k)))
            .collect();
        assert_eq!(found, [pairs]);
        assert!(beside(&Copied::default(), &expected).is_empty());
    }
}
