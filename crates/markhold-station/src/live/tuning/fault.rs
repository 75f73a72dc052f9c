//! What must be seen to before the dial: without sound nothing that is said of tones is true.

use crate::live::instruments::LevelState;
use serde::Serialize;

/// What is wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fault {
    /// There is no sound input, or it is gone.
    NoInput,
    /// Nothing but zeros comes.
    Silence,
    /// Hardly anything comes.
    TooQuiet,
    /// Samples stand at full scale.
    TooLoud,
    /// The copying cannot keep up with the sound.
    Behind,
    /// The source has ended.
    Ended,
}

impl Fault {
    /// What the level says is wrong, if anything.
    pub fn of(level: LevelState) -> Option<Self> {
        match level {
            LevelState::Good => None,
            LevelState::Clipping => Some(Fault::TooLoud),
            LevelState::TooLittle => Some(Fault::TooQuiet),
            LevelState::Silent => Some(Fault::Silence),
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Fault::NoInput => "no sound input: waiting for it",
            Fault::Silence => "no sound: is the cable in, and the right input chosen?",
            Fault::TooQuiet => "too quiet: turn the level up",
            Fault::TooLoud => "too loud: turn the level down",
            Fault::Behind => "this computer is too slow for the copy; the sound is kept",
            Fault::Ended => "the sound has ended",
        }
    }
}
