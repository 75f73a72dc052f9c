//! What the receiver beside a transmitter hears.

use super::OWN;
use markhold_code::Tones;
use markhold_sound::Sideband;
use std::time::Duration;

/// Somebody who is heard where an over would go.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Busy {
    /// Who, in words.
    pub who: String,
    /// A signal on the very tones of the over: most likely an answer to the one before.
    pub is_answer: bool,
}

/// A pair that is received.
#[derive(Clone, Debug, PartialEq)]
pub struct ReceivedPair {
    /// Its tones, Hz of audio.
    pub tones: Tones,
    /// The receiver's sideband; `None` = nobody has said so.
    pub sideband: Option<Sideband>,
    /// Its modulation rate, baud.
    pub rate_baud: f64,
}

/// Why there is no pair whose tones could be taken, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoPair {
    /// Nobody was copied of late.
    Nobody(String),
    /// It is not sure which pair, or where.
    NotSure(String),
}

/// A receiver that is asked before each over.
pub trait Ears: Send + Sync {
    /// Whoever is heard on these tones or beside them; `None` = nobody.
    fn busy(&self, tones: Tones) -> Option<Busy>;

    /// The pair that is copied.
    ///
    /// # Errors
    ///
    /// There is none, or it is not sure.
    fn pair(&self) -> Result<ReceivedPair, NoPair>;

    /// An over of its own begins, or has ended.
    fn sends(&self, on: bool) {
        let _ = on;
    }

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

    fn pair(&self) -> Result<ReceivedPair, NoPair> {
        Err(NoPair::NotSure("there is no receiver here".into()))
    }

    fn settles(&self) -> Duration {
        Duration::ZERO
    }
}
