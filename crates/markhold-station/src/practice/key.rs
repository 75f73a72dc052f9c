//! The practice transmitter's line: what is keyed goes by the samples of the band, not by a clock.

use super::over_there::Sent;
use markhold_code::Code;
use markhold_wire::{Keyer, KeyerError};
use std::collections::VecDeque;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Nothing was keyed for so long: the over has ended, s. A busy computer that is late with a
/// character does not end it.
const UNKEYED_S: f64 = 1.0;
/// The band must take what is keyed within this, or its receiver is not on: where it passes faster
/// than the clock it waits for the copy.
const PATIENCE: Duration = Duration::from_secs(60);

/// What waits on the line.
#[derive(Clone, Copy, Debug)]
enum Item {
    Code(Code),
    Mark,
}

#[derive(Debug, Default)]
struct State {
    /// With how long it lasts, s.
    waiting: VecDeque<(Item, f64)>,
    /// How the transmitter stands.
    sent: Sent,
    /// Of this over.
    codes: Vec<Code>,
    /// Since when the line is still, s of the band; `None` = unkeyed.
    still_s: Option<f64>,
}

/// The line. Clones are the same one.
#[derive(Clone, Debug, Default)]
pub struct PracticeLine(Arc<(Mutex<State>, Condvar)>);

/// What happened on the line while the band went on.
#[derive(Clone, Debug, PartialEq)]
pub enum Keyed {
    /// Nothing is sent.
    No,
    /// Something is.
    Yes,
    /// An over has ended.
    Ended {
        /// What was sent.
        codes: Vec<Code>,
        /// How.
        sent: Sent,
    },
}

impl PracticeLine {
    fn state(&self) -> MutexGuard<'_, State> {
        self.0.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The band goes on by so many seconds.
    pub fn pass(&self, seconds: f64) -> Keyed {
        let mut state = self.state();
        let mut left_s = seconds;
        while left_s > 0.0 {
            let Some((item, lasts_s)) = state.waiting.front_mut() else {
                break;
            };
            let now_s = lasts_s.min(left_s);
            *lasts_s -= now_s;
            left_s -= now_s;
            let (item, is_done) = (*item, *lasts_s <= 0.0);
            state.still_s = Some(0.0);
            if is_done {
                state.waiting.pop_front();
                if let Item::Code(code) = item {
                    state.codes.push(code);
                }
            }
        }
        self.0.1.notify_all();
        let Some(still_s) = &mut state.still_s else {
            return Keyed::No;
        };
        *still_s += left_s;
        if *still_s < UNKEYED_S {
            return Keyed::Yes;
        }
        state.still_s = None;
        Keyed::Ended {
            codes: std::mem::take(&mut state.codes),
            sent: state.sent,
        }
    }

    /// The transmitter stands so from the next over on.
    pub fn stand(&self, sent: Sent) {
        self.state().sent = sent;
    }

    /// Its keyer, as a transmitter that stands so.
    pub fn keyer(&self, sent: Sent) -> Box<dyn Keyer> {
        self.stand(sent);
        Box::new(PracticeKeyer {
            line: self.clone(),
            character_s: sent.speed.character_s(),
        })
    }

    /// How the transmitter stands.
    pub fn sent(&self) -> Sent {
        self.state().sent
    }

    /// Gives something and waits until no more than so many wait.
    fn give(&self, item: Option<(Item, f64)>, most: usize) -> Result<(), KeyerError> {
        let mut state = self.state();
        state.waiting.extend(item);
        let wait = |state: &mut State| state.waiting.len() > most;
        let waited = self.0.1.wait_timeout_while(state, PATIENCE, wait);
        let (_state, late) = waited.unwrap_or_else(PoisonError::into_inner);
        match late.timed_out() {
            true => Err(KeyerError::PulledOut {
                what: "practice receiver".into(),
            }),
            false => Ok(()),
        }
    }
}

struct PracticeKeyer {
    line: PracticeLine,
    character_s: f64,
}

impl Keyer for PracticeKeyer {
    fn send(&mut self, code: Code) -> Result<(), KeyerError> {
        self.line
            .give(Some((Item::Code(code), self.character_s)), 1)
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        self.line.give(Some((Item::Mark, seconds)), 1)
    }

    fn motor(&mut self, _on: bool) -> Result<(), KeyerError> {
        Ok(())
    }

    fn finish(&mut self) -> Result<(), KeyerError> {
        self.line.give(None, 0)
    }

    fn cancel(&mut self) -> Result<(), KeyerError> {
        self.line.state().waiting.clear();
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_over_goes_by_the_samples_of_the_band() {
        let line = PracticeLine::default();
        assert_eq!(line.pass(1.0), Keyed::No);
        let mut keyer = line.keyer(Sent::default());
        let sends = std::thread::spawn(move || {
            keyer.hold(0.1)?;
            for _ in 0..10 {
                keyer.send(Code::SPACE)?;
            }
            keyer.finish()
        });
        let mut keyed_s = 0.0;
        let codes = loop {
            // As fast as the other thread gives.
            std::thread::sleep(Duration::from_millis(1));
            match line.pass(0.02) {
                Keyed::No => {}
                Keyed::Yes => keyed_s += 0.02,
                Keyed::Ended { codes, .. } => break codes,
            }
        };
        sends.join().unwrap().unwrap();
        assert_eq!(codes, [Code::SPACE; 10]);
        assert!((1.7..4.0).contains(&keyed_s), "{keyed_s}");
        assert_eq!(line.pass(1.0), Keyed::No);
    }

    #[test]
    fn what_is_cancelled_does_not_go_out() {
        let line = PracticeLine::default();
        let mut keyer = line.keyer(Sent::default());
        keyer.send(Code::SPACE).unwrap();
        keyer.cancel().unwrap();
        assert_eq!(line.pass(1.0), Keyed::No);
    }
}
