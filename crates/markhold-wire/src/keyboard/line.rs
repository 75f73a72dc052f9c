//! Where strokes come from.

use crate::KeyerError;
use markhold_code::Code;
use std::time::{Duration, Instant};

/// What came by a keyboard's line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stroke {
    /// A character.
    Code(Code),
    /// Something that has a start element and is no character: its stop element was space, or
    /// nobody looked at the line in time.
    Misread,
    /// The line was in space for longer than any character: whoever types wants it to stop.
    Break,
}

/// A stroke and when it was complete.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heard {
    /// What it was.
    pub stroke: Stroke,
    /// When it was known.
    pub at: Instant,
}

impl Heard {
    /// Just now.
    pub(super) fn now(stroke: Stroke) -> Self {
        Heard {
            stroke,
            at: Instant::now(),
        }
    }
}

/// A keyboard's line.
pub trait KeyboardLine: Send {
    /// The next stroke, waited for not much longer than `patience`.
    ///
    /// # Errors
    ///
    /// It went away, or nothing more can come.
    fn next(&mut self, patience: Duration) -> Result<Option<Heard>, KeyerError>;

    /// Whether the line has been in space ever since a break: an open loop looks like that.
    fn is_open(&self) -> bool {
        false
    }
}

/// What went wrong with a keyboard's line, for whoever types on it: the words of the error are
/// those of whoever sends.
pub fn told(error: &KeyerError) -> String {
    match error {
        KeyerError::PulledOut { what } => {
            format!("{what} went away; plug it in or start it again, and typing is heard again")
        }
        KeyerError::Closed { what } => format!("{what} was read to its end"),
        KeyerError::CannotSpeed {
            what,
            asked_baud,
            found,
        } => format!(
            "{what} cannot read at {asked_baud:.2} baud: {found}; use a status wire (cts:PORT), \
             which is read by the clock"
        ),
        other => other.to_string(),
    }
}
