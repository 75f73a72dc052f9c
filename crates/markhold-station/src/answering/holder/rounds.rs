//! Rounds: a loop of tape is sent again whenever nobody is heard for its pause.

use super::super::draft::Pace;
use super::super::tape::{Tape, Turn};
use super::{Hand, Inner, lock};
use std::time::Duration;

impl Inner {
    /// The first round goes at once, and what waited is not sent.
    ///
    /// # Errors
    ///
    /// It is no loop, or somebody else holds it; in words.
    pub fn begin_loop(&self, hand: Hand, text: &str, pause_s: f64) -> Result<(), String> {
        if !(1.0..=600.0).contains(&pause_s) {
            return Err(format!("a loop pauses for 1 to 600 s, not {pause_s}"));
        }
        if text.trim().is_empty() {
            return Err("there is nothing in the loop".into());
        }
        let gone = lock(&self.shared.draft).gone;
        lock(&self.shared.draft).write(gone, None, text)?;
        let pause = Duration::from_secs_f64(pause_s);
        self.with(hand, |held| {
            held.tape = Some(Tape::new(text, pause));
        })?;
        self.go(hand, Pace::Ends)
    }

    /// Where a loop has come round, it is sent again; not while somebody is there, and not after
    /// an answer.
    pub fn turn_tape(&self) {
        let Some(hand) = self.rests_with_tape() else {
            return;
        };
        let busy = match self.who_is_there(hand) {
            Ok(busy) => busy,
            Err(why) => {
                let words = format!("The loop waits: {why}.");
                *lock(&self.held_up) = Some(words);
                return;
            }
        };
        let looked = self.with(hand, |held| held.tape.as_mut().map(|tape| tape.look(busy)));
        match looked.ok().flatten() {
            None | Some(Turn::Waits) => {}
            Some(Turn::Round) => self.come_round(hand),
            Some(Turn::HeldUp(who)) => {
                let words =
                    format!("The loop waits until nobody is heard: {who} is there just now.");
                *lock(&self.held_up) = Some(words);
            }
            Some(Turn::Answered(who)) => {
                let words = format!("The loop has ended: {who} was heard.");
                // Whoever holds it may have let go meanwhile.
                let _ = self.with(hand, |held| held.tape = None);
                *lock(&self.held_up) = Some(words);
            }
        }
    }

    /// Whose loop it is, where one is between two rounds and can be listened for.
    fn rests_with_tape(&self) -> Option<Hand> {
        let mut held = lock(&self.held);
        let held = held.as_mut()?;
        let keyed = held.is_keyed();
        let tape = held.tape.as_mut()?;
        let runs = keyed || !lock(&self.shared.draft).waiting.is_empty();
        if runs {
            tape.runs();
        }
        (!runs && !self.is_own()).then_some(held.hand)
    }

    fn come_round(&self, hand: Hand) {
        let text = self.with(hand, |held| {
            held.tape.as_ref().map(|tape| tape.text.clone())
        });
        let Some(text) = text.ok().flatten() else {
            return;
        };
        let gone = lock(&self.shared.draft).gone;
        let written = lock(&self.shared.draft).write(gone, None, &text);
        // It was written before, and whoever holds it may have let go meanwhile.
        if written.is_ok() {
            let _ = self.go(hand, Pace::Ends);
        }
    }
}
