//! A text that is sent again and again, as a loop of tape.

use super::ears::Busy;
use std::time::{Duration, Instant};

/// What became of a loop while it was looked at.
#[derive(Debug, PartialEq)]
pub(super) enum Turn {
    /// Its time has not come.
    Waits,
    /// Somebody is there, in words: it waits anew.
    HeldUp(String),
    /// Somebody answers, in words: it is at its end.
    Answered(String),
    /// It comes round.
    Round,
}

/// A loop of tape.
#[derive(Debug)]
pub(super) struct Tape {
    // Configured.
    pub text: String,
    pause: Duration,
    // State.
    /// Since when nothing is sent and nobody is heard.
    since: Instant,
}

impl Tape {
    pub fn new(text: &str, pause: Duration) -> Self {
        Tape {
            text: text.into(),
            pause,
            since: Instant::now(),
        }
    }

    /// It is being sent.
    pub fn runs(&mut self) {
        self.since = Instant::now();
    }

    /// Looks, between two rounds, at who is there. The whole pause is listened to, so that an
    /// answer that came and went in it is not sent over.
    pub fn look(&mut self, busy: Option<Busy>) -> Turn {
        match busy {
            Some(busy) if busy.is_answer => Turn::Answered(busy.who),
            Some(busy) => {
                self.since = Instant::now();
                Turn::HeldUp(busy.who)
            }
            None if self.since.elapsed() < self.pause => Turn::Waits,
            None => {
                self.since = Instant::now();
                Turn::Round
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn busy(is_answer: bool) -> Option<Busy> {
        Some(Busy {
            who: "somebody".into(),
            is_answer,
        })
    }

    #[test]
    fn it_comes_round_after_a_pause_in_which_nobody_is_heard() {
        let mut tape = Tape::new("CQ", Duration::from_millis(40));
        assert_eq!(tape.look(None), Turn::Waits);
        std::thread::sleep(Duration::from_millis(50));
        assert_eq!(tape.look(busy(false)), Turn::HeldUp("somebody".into()));
        // The pause begins anew.
        assert_eq!(tape.look(None), Turn::Waits);
        std::thread::sleep(Duration::from_millis(50));
        assert_eq!(tape.look(None), Turn::Round);
        assert_eq!(tape.look(None), Turn::Waits);
    }

    #[test]
    fn an_answer_ends_it() {
        let mut tape = Tape::new("CQ", Duration::ZERO);
        assert_eq!(tape.look(busy(true)), Turn::Answered("somebody".into()));
    }
}
