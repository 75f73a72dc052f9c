//! What the receiver beside a transmitter hears.

use super::OWN;
use markhold_code::Tones;
use std::time::Duration;

/// Somebody who is heard where an over would go.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Busy {
    /// Who, in words.
    pub who: String,
    /// A signal on the very tones of the over: most likely an answer to the one before.
    pub is_answer: bool,
}

/// A receiver that is asked before each over.
pub trait Ears: Send + Sync {
    /// Whoever is heard on these tones or beside them; `None` = nobody.
    fn busy(&self, tones: Tones) -> Option<Busy>;

    /// For so long after an over of its own it may still hear that one.
    fn settles(&self) -> Duration {
        OWN
    }
}

/// There is no receiver: nobody is heard.
pub struct NoEars;

impl Ears for NoEars {
    fn busy(&self, _tones: Tones) -> Option<Busy> {
        None
    }

    fn settles(&self) -> Duration {
        Duration::ZERO
    }
}
