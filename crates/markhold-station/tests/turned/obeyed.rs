//! A person who knows nothing but the sentence: reads it, does what it says, reads it again.

use crate::practice::Evening;
use markhold_station::live::tuning::{Instruction, Tuning};

/// A sentence is read when it has stood for so long, s.
const READ_S: f64 = 1.0;
/// How long a hand takes to turn, s.
const HAND_S: f64 = 1.0;
/// How often the person looks, s.
const LOOK_S: f64 = 0.2;

/// What came of an evening at the dial.
#[derive(Clone, Copy, Debug, Default)]
pub struct Outcome {
    /// Turns of the dial.
    pub turns: u32,
    /// When "in tune" was said for good, s from the begin.
    pub in_tune_s: Option<f64>,
    /// Whether a turn was asked for that moved a signal away which was read well.
    pub was_sent_away: bool,
    /// Sentences that were said after that.
    pub changes: u32,
}

/// Obeys for so long, s.
pub fn obey(evening: &mut Evening, seconds: f64) -> Outcome {
    let begin_s = evening.now_s();
    let mut outcome = Outcome::default();
    while evening.now_s() - begin_s < seconds {
        evening.listen(LOOK_S);
        let now_s = evening.now_s();
        match standing(&evening.told) {
            Some(Instruction::Turn { dial_hz, .. }) => {
                outcome.was_sent_away |= evening.is_read();
                outcome.turns += 1;
                evening.turn_by_hand(dial_hz, HAND_S);
                outcome.in_tune_s = None;
            }
            Some(Instruction::OneTone {
                turn: Some(dial_hz),
            }) => {
                outcome.turns += 1;
                evening.turn_by_hand(dial_hz, HAND_S);
                outcome.in_tune_s = None;
            }
            Some(Instruction::InTune { .. } | Instruction::OtherSideband) => {
                outcome.in_tune_s.get_or_insert(now_s - begin_s);
            }
            _ => {}
        }
    }
    if let Some(since_s) = outcome.in_tune_s {
        // Spectra count time from the first sound that was heard.
        let first_s = evening.told.first().map_or(0.0, |t| t.at_s);
        let after = evening.told.iter().filter(|t| t.at_s > first_s + since_s);
        let words: Vec<&String> = after.map(|t| &t.words).collect();
        outcome.changes = words.windows(2).filter(|w| w[0] != w[1]).count() as u32;
    }
    outcome
}

/// The instruction that has stood long enough to be read.
fn standing(told: &[Tuning]) -> Option<Instruction> {
    let last = told.last()?;
    let of_late = told
        .iter()
        .rev()
        .take_while(|t| last.at_s - t.at_s < READ_S);
    let stands = of_late.clone().count() > 20 && of_late.clone().all(|t| t.words == last.words);
    stands.then_some(last.instruction)
}
