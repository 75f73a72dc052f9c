//! Early characters: first readings, with the shift they fall into and a gate against noise.

use std::collections::VecDeque;

use markhold_code::{Code, ShiftMachine};
use markhold_signal::BandPlan;

use crate::event::CharacterId;
use crate::levelled::Levelled;
use crate::pair::early::EarlyReader;
use crate::pair::follower::{Follower, Heard};

/// A character at least this probable is given out by itself,
const SURE: f32 = 0.6;
/// and those that follow it within this time, s, whatever they are: noise after the end of a
/// signal must not run on.
const PATIENCE_S: f64 = 1.0;

/// First readings of one signal.
pub struct Early {
    // derived
    reader: EarlyReader,
    // state
    /// Codes given out that the decided reading has not reached.
    ahead: VecDeque<(CharacterId, Code)>,
    sure_s: f64,
}

impl Early {
    /// First readings of a signal with a modulation rate in baud.
    pub fn new(plan: BandPlan, rate_baud: f64) -> Self {
        Self {
            reader: EarlyReader::new(plan, rate_baud),
            ahead: VecDeque::new(),
            sure_s: f64::NEG_INFINITY,
        }
    }

    /// Reads up to `until_s` what the follower has not given out.
    pub fn advance(&mut self, follower: &Follower, sound: &Levelled, until_s: f64) -> Vec<Heard> {
        let mut heard = Vec::new();
        self.reader.advance(follower, sound, until_s, &mut heard);
        heard.retain(|h| self.passes(h));
        heard
    }

    fn passes(&mut self, heard: &Heard) -> bool {
        if heard.reading.probability() >= SURE {
            self.sure_s = heard.start_s;
        }
        heard.start_s - self.sure_s <= PATIENCE_S
    }

    /// A character was decided, so all up to it are.
    pub fn decided(&mut self, id: CharacterId) {
        self.ahead.retain(|(ahead, _)| *ahead > id);
    }

    /// The shift machine as it stands before the next early character: that of the decided
    /// ones, taken on through the early characters since.
    pub fn machine(&self, late: &ShiftMachine) -> ShiftMachine {
        let mut machine = late.clone();
        for (_, code) in &self.ahead {
            machine.receive(*code);
        }
        machine
    }

    /// Notes a character that was given out.
    pub fn note(&mut self, id: CharacterId, code: Code) {
        self.ahead.push_back((id, code));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::heard;
    use markhold_code::{FiguresRow, Shift};

    fn early() -> Early {
        Early::new(BandPlan::new(8000.0), 45.45)
    }

    #[test]
    fn doubtful_characters_pass_for_a_while_after_a_sure_one() {
        let mut early = early();
        let list = [
            (1.0, 0.3),
            (1.2, 0.7),
            (1.4, 0.1),
            (2.1, 0.2),
            (2.3, 0.5),
            (2.5, 0.6),
        ];
        let passed: Vec<bool> = list
            .iter()
            .map(|(t, p)| early.passes(&heard(*t, *p)))
            .collect();
        assert_eq!(passed, [false, true, true, true, false, true]);
    }

    #[test]
    fn the_shift_is_the_late_one_taken_on_by_what_came_since() {
        let mut early = early();
        let mut late = ShiftMachine::new(FiguresRow::Ita2, false);
        early.note(CharacterId(100), Code::FIGURES);
        early.note(CharacterId(120), Code::new(5).expect("below 32"));
        assert_eq!(early.machine(&late).shift(), Shift::Figures);
        // The decided reading found no figures shift there.
        early.decided(CharacterId(100));
        assert_eq!(early.machine(&late).shift(), Shift::Letters);
        late.receive(Code::FIGURES);
        early.note(CharacterId(140), Code::LETTERS);
        early.decided(CharacterId(120));
        assert_eq!(early.machine(&late).shift(), Shift::Letters);
        early.decided(CharacterId(140));
        assert_eq!(early.machine(&late).shift(), Shift::Figures);
        assert!(early.ahead.is_empty());
    }
}
