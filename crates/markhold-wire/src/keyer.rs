//! What every way to a machine's line can do, and what can go wrong on it.

use markhold_code::{Code, Stretch};
use markhold_signal::TonePlan;
use std::time::Duration;

/// A way to a machine's line. Calls block at line speed.
///
/// `send` returns when the last code element has left and the stop element is under way,
/// so a character that came back as an error, and no other, is to be sent again. The
/// line is in mark when a keyer has been opened, between characters and after `finish`
/// and `cancel`. Switching a motor needs a wire that not every way has: without one
/// `motor` does nothing and succeeds. A `hold` cannot be broken off: hold long pauses in
/// short pieces.
pub trait Keyer: Send {
    /// Sends one character and returns when the line can take the next.
    fn send(&mut self, code: Code) -> Result<(), KeyerError>;
    /// Holds the line in mark for this long.
    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError>;
    /// Switches the motor, where the way has a wire for it.
    fn motor(&mut self, on: bool) -> Result<(), KeyerError>;
    /// Waits until everything given has left, then leaves the line in mark.
    fn finish(&mut self) -> Result<(), KeyerError>;
    /// Drops what has not left yet, within one character, and leaves the line in mark.
    fn cancel(&mut self) -> Result<(), KeyerError>;
    /// Sends a line of any stretches, ending in mark, and returns when its last stretch is
    /// under way: distorted characters, for trials. Only a way that makes every edge itself
    /// can; others refuse.
    fn line(&mut self, stretches: &[Stretch]) -> Result<(), KeyerError> {
        let _ = stretches;
        Err(KeyerError::Setting {
            what: "the way",
            found: "one that sends whole characters only".into(),
            expected: "break:, rts:, dtr:, tones or tones-file: for distorted ones".into(),
        })
    }
    /// Makes these tones from now on, while nothing sounds. Only a way that makes tones can.
    fn tones(&mut self, plan: TonePlan) -> Result<(), KeyerError> {
        let _ = plan;
        Err(KeyerError::Setting {
            what: "the way",
            found: "one that makes no tones".into(),
            expected: "tones, for those of a received pair".into(),
        })
    }
}

impl<K: Keyer + ?Sized> Keyer for Box<K> {
    fn send(&mut self, code: Code) -> Result<(), KeyerError> {
        (**self).send(code)
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        (**self).hold(seconds)
    }

    fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
        (**self).motor(on)
    }

    fn finish(&mut self) -> Result<(), KeyerError> {
        (**self).finish()
    }

    fn cancel(&mut self) -> Result<(), KeyerError> {
        (**self).cancel()
    }

    fn line(&mut self, stretches: &[Stretch]) -> Result<(), KeyerError> {
        (**self).line(stretches)
    }

    fn tones(&mut self, plan: TonePlan) -> Result<(), KeyerError> {
        (**self).tones(plan)
    }
}

/// Why a character did not reach the line, sorted by what the person should do. Each
/// message says what was found, what was expected and what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum KeyerError {
    /// Plug it in, switch it on, or name another.
    #[error("{what} is not there; {remedy}")]
    Missing {
        /// The port, device, file or address.
        what: String,
        /// What to do, with what is there instead if that is known.
        remedy: String,
    },
    /// Ask for the permission.
    #[error("{what}: this user may not open it; {remedy}")]
    NoPermission {
        /// The port, device, file or address.
        what: String,
        /// What to do.
        remedy: String,
    },
    /// Close the other program.
    #[error("{what} is in use by another program; close that program, then try again")]
    Busy {
        /// The port, device or address.
        what: String,
    },
    /// Plug it in again; the character in hand is to be sent again.
    #[error(
        "{what} went away in the middle of the line; plug it in or switch it on again: \
         sending goes on with the character that was broken off"
    )]
    PulledOut {
        /// The port, device or address.
        what: String,
    },
    /// Choose another way to the line: this one cannot keep the speed asked for.
    #[error(
        "{what} cannot send at {asked_baud:.2} baud: {found}; \
         key a control line by the clock, or use tones and a terminal unit"
    )]
    CannotSpeed {
        /// The port or device.
        what: String,
        /// Modulation rate asked for, baud.
        asked_baud: f64,
        /// What it offered instead, with its error.
        found: String,
    },
    /// Take load off the computer, or allow real-time priority.
    #[error(
        "an edge was {late_ms:.2} ms late, at most {limit_ms:.2} ms is allowed; the line was \
         put to mark: close busy programs or allow real-time priority, then send again"
    )]
    TooLate {
        /// How late, ms.
        late_ms: f64,
        /// The most that is allowed, ms.
        limit_ms: f64,
    },
    /// Switch on what should take the characters, or choose another.
    #[error("{what} has taken nothing for {seconds:.1} s; check that it is on and not held up")]
    Stalled {
        /// The port, device or address.
        what: String,
        /// For how long, s.
        seconds: f64,
    },
    /// Give the reader of standard output again: it does not come back by itself.
    #[error("nobody reads {what} any more; nothing more can be sent there")]
    Closed {
        /// The output.
        what: String,
    },
    /// See why, then begin again: nothing is keyed that nobody watches over.
    #[error("{what}; the line was put to rest and nothing more is sent: {remedy}")]
    Unguarded {
        /// What became of the watch.
        what: String,
        /// What to do.
        remedy: String,
    },
    /// Switch the transmitter off by hand.
    #[error(
        "{what}: the transmitter is not known to be unkeyed ({why}); switch it off by hand at once"
    )]
    StillKeyed {
        /// What keys it.
        what: String,
        /// Why that is not known.
        why: String,
    },
    /// Begin again, if that is wanted.
    #[error("the transmitter was turned off and is not keyed again; begin again to send more")]
    TurnedOff,
    /// Change a setting.
    #[error("{what} is {found}, expected {expected}; change the setting")]
    Setting {
        /// Which setting.
        what: &'static str,
        /// The value found, with its unit.
        found: String,
        /// Values that work.
        expected: String,
    },
    /// Nothing else fits; the system's own words.
    #[error("{what}: the system says: {source}; try again or choose another way to the line")]
    Io {
        /// The port, device, file or address.
        what: String,
        /// What the system said.
        source: std::io::Error,
    },
}

impl KeyerError {
    /// Whether opening the same way again, after the person has done their part, can go
    /// on with the character that was being sent.
    pub fn may_reopen(&self) -> bool {
        !matches!(
            self,
            KeyerError::CannotSpeed { .. }
                | KeyerError::Setting { .. }
                | KeyerError::Closed { .. }
                | KeyerError::Unguarded { .. }
                | KeyerError::StillKeyed { .. }
                | KeyerError::TurnedOff
        )
    }
}

/// A length of time given as a number of seconds. Errors: not a number, negative, or
/// longer than a day, which no pause of a machine is.
pub(crate) fn duration(seconds: f64) -> Result<Duration, KeyerError> {
    const MOST_S: f64 = 86_400.0;
    if !(0.0..=MOST_S).contains(&seconds) {
        return Err(KeyerError::Setting {
            what: "the time to hold mark",
            found: format!("{seconds} s"),
            expected: format!("0 to {MOST_S} s"),
        });
    }
    Ok(Duration::from_secs_f64(seconds))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_that_are_none_are_refused() {
        assert_eq!(duration(1.5).unwrap(), Duration::from_millis(1500));
        for bad in [-0.1, f64::NAN, f64::INFINITY, 1e9] {
            let text = duration(bad).unwrap_err().to_string();
            assert!(text.contains("expected 0 to 86400 s"), "{text}");
        }
    }

    #[test]
    fn a_setting_does_not_mend_itself() {
        let pulled = KeyerError::PulledOut { what: "p".into() };
        assert!(pulled.may_reopen());
        assert!(!duration(-1.0).unwrap_err().may_reopen());
    }
}
