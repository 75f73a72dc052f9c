//! The machine's own printing in its keyboard's line, told from what is typed.
//!
//! In a local loop keyboard and selector are in one round: what is sent to the machine comes back
//! by the keyboard's line. So every code that is sent is noted, and what is heard is held against
//! what was sent lately, in its order. An echo may have one element wrong or be lost whole. While
//! an echo is due the loop is busy, and something else that comes then is two characters on top
//! of each other: it is nobody's text.

use super::line::{Heard, Stroke};
use crate::{Keyer, KeyerError};
use markhold_code::{Code, StartStop, Stretch};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// How long after it was given an echo may come, characters: one that is still being sent, itself,
/// and one more for a port that gathers.
const DUE_CHARACTERS: f64 = 3.0;
/// What ports and programs may hold a character up besides, s: USB adapters wait for 16 ms to
/// gather (common practice), and a busy computer is late.
const DUE_S: f64 = 0.15;

/// What was heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judged {
    /// Somebody typed it.
    Typed,
    /// It was sent from here.
    Echo,
    /// Something came while the machine printed.
    Collided,
}

/// What was sent to the machine lately. Clones are the same one.
#[derive(Clone, Debug, Default)]
pub struct Echo(Arc<Mutex<Expected>>);

#[derive(Debug, Default)]
struct Expected {
    /// Codes whose echo may come, and until when.
    due: VecDeque<(Code, Instant)>,
}

impl PartialEq for Echo {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

impl Echo {
    /// A code is sent to the machine from `at` on.
    pub fn sent(&self, code: Code, speed: StartStop, at: Instant) {
        let due_s = DUE_CHARACTERS * speed.character_s() + DUE_S;
        let due = at + Duration::try_from_secs_f64(due_s).unwrap_or_default();
        let mut expected = self.expected();
        expected.forget(at);
        expected.due.push_back((code, due));
    }

    /// Whose this is.
    pub fn judge(&self, heard: &Heard) -> Judged {
        let mut expected = self.expected();
        expected.forget(heard.at);
        expected.judge(heard.stroke)
    }

    fn expected(&self) -> MutexGuard<'_, Expected> {
        // It is whole after every statement.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Expected {
    fn forget(&mut self, now: Instant) {
        while self.due.front().is_some_and(|(_, due)| *due < now) {
            self.due.pop_front();
        }
    }

    fn judge(&mut self, stroke: Stroke) -> Judged {
        let code = match stroke {
            // Nothing that is sent to a machine is one.
            Stroke::Break => return Judged::Typed,
            _ if self.due.is_empty() => return Judged::Typed,
            Stroke::Misread => {
                self.due.pop_front();
                return Judged::Collided;
            }
            Stroke::Code(code) => code,
        };
        let near = |sent: &Code| sent.distance(code) <= 1;
        if self.due.front().is_some_and(|(sent, _)| near(sent)) {
            self.due.pop_front();
            return Judged::Echo;
        }
        // Those before it were lost.
        match self.due.iter().position(|(sent, _)| *sent == code) {
            Some(place) => {
                self.due.drain(..=place);
                Judged::Echo
            }
            None => {
                self.due.pop_front();
                Judged::Collided
            }
        }
    }
}

/// A way to the machine whose codes are noted as they are sent.
pub struct Echoed<K> {
    keyer: K,
    echo: Echo,
    speed: StartStop,
}

impl<K: Keyer> Echoed<K> {
    /// Notes what goes by this keyer, at this speed.
    pub fn new(keyer: K, echo: Echo, speed: StartStop) -> Self {
        Echoed { keyer, echo, speed }
    }
}

impl<K: Keyer> Keyer for Echoed<K> {
    fn send(&mut self, code: Code) -> Result<(), KeyerError> {
        // Before it: an echo may be back before the line is free again.
        self.echo.sent(code, self.speed, Instant::now());
        self.keyer.send(code)
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        self.keyer.hold(seconds)
    }

    fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
        self.keyer.motor(on)
    }

    fn finish(&mut self) -> Result<(), KeyerError> {
        self.keyer.finish()
    }

    fn cancel(&mut self) -> Result<(), KeyerError> {
        self.keyer.cancel()
    }

    fn line(&mut self, stretches: &[Stretch]) -> Result<(), KeyerError> {
        self.keyer.line(stretches)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SPEED: StartStop = StartStop::new(1.0 / 0.022, 1.5);

    struct Loop {
        echo: Echo,
        begun: Instant,
    }

    impl Loop {
        fn new() -> Self {
            Loop {
                echo: Echo::default(),
                begun: Instant::now(),
            }
        }

        fn at(&self, at_s: f64) -> Instant {
            self.begun + Duration::from_secs_f64(at_s)
        }

        fn sends(&self, at_s: f64, value: u8) {
            let code = Code::new(value).unwrap();
            self.echo.sent(code, SPEED, self.at(at_s));
        }

        fn hears(&self, at_s: f64, stroke: Stroke) -> Judged {
            let at = self.at(at_s);
            self.echo.judge(&Heard { stroke, at })
        }

        fn code(&self, at_s: f64, value: u8) -> Judged {
            self.hears(at_s, Stroke::Code(Code::new(value).unwrap()))
        }
    }

    #[test]
    fn what_was_sent_comes_back_and_what_was_typed_is_typed() {
        let line = Loop::new();
        assert_eq!(line.code(0.0, 3), Judged::Typed);
        for (k, value) in [20, 1, 18].into_iter().enumerate() {
            line.sends(1.0 + 0.165 * k as f64, value);
        }
        assert_eq!(line.code(1.16, 20), Judged::Echo);
        assert_eq!(line.code(1.33, 1), Judged::Echo);
        assert_eq!(line.code(1.49, 18), Judged::Echo);
        // The same character once more was sent by nobody.
        assert_eq!(line.code(1.66, 18), Judged::Typed);
    }

    #[test]
    fn an_echo_with_a_wrong_element_or_none_at_all_is_no_text() {
        let line = Loop::new();
        for (k, value) in [20, 1, 18, 24].into_iter().enumerate() {
            line.sends(0.165 * k as f64, value);
        }
        // 20 with an element too many; 1 is lost; 18 and 24 come as they were sent.
        assert_eq!(line.code(0.16, 21), Judged::Echo);
        assert_eq!(line.code(0.49, 18), Judged::Echo);
        assert_eq!(line.code(0.66, 24), Judged::Echo);
        assert_eq!(line.code(0.8, 20), Judged::Typed);
    }

    #[test]
    fn typing_into_printing_is_nobodys_text_and_an_echo_that_never_came_is_forgotten() {
        let line = Loop::new();
        line.sends(0.0, 31);
        assert_eq!(line.code(0.1, 4), Judged::Collided);
        line.sends(1.0, 31);
        assert_eq!(line.hears(1.1, Stroke::Misread), Judged::Collided);
        line.sends(2.0, 31);
        // Three characters and 0.15 s later nothing is due any more.
        assert_eq!(line.code(2.66, 31), Judged::Typed);
    }

    #[test]
    fn a_break_is_always_meant() {
        let line = Loop::new();
        line.sends(0.0, 0);
        assert_eq!(line.hears(0.2, Stroke::Break), Judged::Typed);
    }
}
